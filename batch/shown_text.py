"""Text on its way to a terminal or a page: what would move the cursor, colour a line or turn its
direction is shown as an escape, whoever typed it into a cell, a name or a file's path."""

import re

# C0 but tab and line end, DEL, C1; bidirectional marks, embeddings, overrides and isolates (UAX 9);
# lone surrogates, as which Python reads bytes of a file's name that are no text.
CONTROLS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"
                      "\ud800-\udfff]")
LINE_ENDS = re.compile("[\t\n\u2028\u2029]+")


def cleaned(text: str) -> str:
    """The text with each such sign as \\uXXXX. JSON stays the same JSON by it."""
    return CONTROLS.sub(lambda match: f"\\u{ord(match[0]):04x}", text)


def in_one_line(text) -> str:
    """The same in one line: a text of a cell or a file's name begins no line of its own."""
    return cleaned(LINE_ENDS.sub(" ", str(text)))
