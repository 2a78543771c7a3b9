"""What stops a command: one clear sentence, and the next step.

It stands by itself, so that a command which only prints its help loads no table library.
"""


class StudyError(Exception):
    """The workbook cannot be studied: one clear sentence, and the next step."""

    def __init__(self, what: str, next_step: str):
        super().__init__(f"{what} {next_step}")
        self.what, self.next_step = what, next_step


def closest_in_words(name: str, known) -> str:
    """What stands behind a sentence that a name is not known: the nearest, or '' for none."""
    from difflib import get_close_matches

    near = get_close_matches(name, known, n=1, cutoff=0.5)
    return f" Closest is '{near[0]}'." if near else ""
