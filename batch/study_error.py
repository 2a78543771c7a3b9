"""What stops a command: one clear sentence, and the next step.

It stands by itself, so that a command which only prints its help loads no table library.
"""


class StudyError(Exception):
    """The workbook cannot be studied: one clear sentence, and the next step."""

    def __init__(self, what: str, next_step: str):
        super().__init__(f"{what} {next_step}")
        self.what, self.next_step = what, next_step


class Stops:
    """What keeps a workbook from being studied, gathered so that all of it is told at once.
    `sheets` are the sheets that could not be read whole."""

    def __init__(self):
        self.faults: list[StudyError] = []
        self.sheets: set[str] = set()

    def add(self, fault: StudyError, sheet: str):
        """Keep a fault of a sheet."""
        self.faults.append(fault)
        self.sheets.add(sheet)

    def attempt(self, sheet: str, read, *args):
        """What a reading of a sheet returns; None where a fault stops it, which is kept."""
        try:
            return read(*args)
        except StudyError as fault:
            self.add(fault, sheet)
            return None

    def stop(self):
        """Errors: StudyError with all that was gathered; each next step once."""
        if not self.faults:
            return
        told = []
        for one, other in zip(self.faults, [*self.faults[1:], None]):
            told.append(one.what)
            if other and other.next_step != one.next_step:
                told.append(one.next_step)
        raise StudyError(" ".join(told), self.faults[-1].next_step)


def closest_in_words(name: str, known) -> str:
    """What stands behind a sentence that a name is not known: the nearest, or '' for none."""
    from difflib import get_close_matches

    near = get_close_matches(name, known, n=1, cutoff=0.5)
    return f" Closest is '{near[0]}'." if near else ""
