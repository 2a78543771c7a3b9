"""The cells of a result workbook as they were written: how a changed cell is found and named.

Each row of each sheet has one line on the sheet `Cells as written`, with a word for each cell from
column A on: a number as it is, a short text behind a ' with _ for blanks, any other content as the
first signs of its hash, a blank cell as a dash. The first line is the hash of all others. Numbers
are compared to ten digits, since spreadsheet programs keep fifteen to seventeen when they save.
"""

import math
from dataclasses import dataclass
from weakref import WeakKeyDictionary

from batch.canonical import digest, raw_text
from batch.workbook.cells import is_percent
from batch.workbook.header import column_letter

NAME = "Cells as written"
BLANK, TEXT, HASHED, SIGNS = "-", "'", "#", 8
LONGEST_TEXT, CLOSE = 24, 1e-10

_written = WeakKeyDictionary()  # workbook -> {sheet name: its lines, first row first}


@dataclass(frozen=True)
class ChangedCell:
    """A cell that is not as it was written. `was` is blank where only a hash is known. A sheet
    that was added or deleted as a whole has no cell."""

    sheet: str
    row: int
    letter: str
    was: str
    value: str

    @property
    def place(self) -> str:
        """As in 'Candidates!H12'."""
        return f"{self.sheet}!{self.letter}{self.row}" if self.row else self.sheet

    def __str__(self):
        if not self.row:
            return f"{self.sheet}: {self.value}"
        was = {BLANK: "was blank", "": "was another text"}.get(self.was, f"was {self.was}")
        return f"{self.place} {was}, now {self.value or 'blank'}"


def line_of(cells) -> str:
    """The line of one row, for cells with value and number format; None is a blank cell."""
    words = [_word(cell) for cell in cells]
    while words and words[-1] == BLANK:
        words.pop()
    return " ".join(words)


def _word(cell) -> str:
    value = None if cell is None else cell.value
    if value is None or value == "":
        return BLANK
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return f"{float(value):.12g}" + ("%" if is_percent(cell) else "")
    text = raw_text(value)
    is_short = len(text) <= LONGEST_TEXT and not any(sign in text for sign in "_\n\t\xa0")
    return TEXT + text.replace(" ", "_") if is_short else HASHED + digest(text)[:SIGNS]


def keep(workbook, sheet: str, cells):
    """Remember a row of a sheet as it is written."""
    _written.setdefault(workbook, {}).setdefault(sheet, []).append(line_of(cells))


def kept_lines(workbook) -> list[tuple[str, int, str]]:
    """(sheet, row, line) of every row that was written and is not blank, the list's own hash
    first."""
    lines = [(sheet, row, line) for sheet, lines in _written.get(workbook, {}).items()
             for row, line in enumerate(lines, start=1) if line]
    return [(NAME, 0, digest(lines)), *lines]


def find_changes(book, kept: list[tuple[str, int, str]]) -> list[ChangedCell]:
    """The cells of an opened workbook that are not as the kept lines say; [] when none is.

    Where the kept lines were changed themselves, that sheet is named first, and cells behind it
    may be named wrongly.
    """
    own = next((line for sheet, _, line in kept if sheet == NAME), "")
    rows = [(sheet, row, line) for sheet, row, line in kept if sheet != NAME]
    changes = [] if own == digest(rows) else [_whole(NAME, "this sheet itself was changed")]
    lines: dict[str, dict[int, str]] = {}
    for sheet, row, line in rows:
        lines.setdefault(sheet, {})[row] = line
    present = [name for name in book.sheetnames if name != NAME]
    changes += [_whole(name, "the sheet is missing") for name in lines if name not in present]
    for name in present:
        if name in lines:
            changes += _changes_of_sheet(book[name], lines[name])
        else:
            changes.append(_whole(name, "the sheet was added"))
    return changes


def _whole(sheet, text):
    return ChangedCell(sheet, 0, "", "", text)


def _changes_of_sheet(worksheet, lines: dict[int, str]) -> list[ChangedCell]:
    changes, row = [], 0
    worksheet.reset_dimensions()
    for row, cells in enumerate(worksheet.iter_rows(), start=1):
        changes += _changes_of_row(worksheet.title, row, cells, lines.get(row, ""))
    for missing in sorted(lines):
        if missing > row:
            changes += _changes_of_row(worksheet.title, missing, (), lines[missing])
    return changes


def _changes_of_row(sheet, row, cells, line) -> list[ChangedCell]:
    now_line = line_of(cells)
    if now_line == line:
        return []
    was, now = line.split(), now_line.split()
    width = max(len(was), len(now))
    was += [BLANK] * (width - len(was))
    now += [BLANK] * (width - len(now))
    return [ChangedCell(sheet, row, column_letter(place),
                        _shown(was[place]),
                        raw_text(cells[place].value) if place < len(cells) else "")
            for place in range(width) if not _is_same(was[place], now[place])]


def _shown(word: str) -> str:
    """What the cell held, where the word tells it."""
    if word.startswith(TEXT):
        return word.removeprefix(TEXT).replace("_", " ")
    return "" if word.startswith(HASHED) else word


def _is_same(one: str, other: str) -> bool:
    if one == other:
        return True
    signs = {one[0], other[0]}
    is_number = not signs & {TEXT, HASHED} and BLANK not in (one, other)
    if not is_number or one.endswith("%") != other.endswith("%"):
        return False
    return math.isclose(float(one.rstrip("%")), float(other.rstrip("%")), rel_tol=CLOSE)
