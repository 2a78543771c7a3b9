"""The hashes of a result workbook's cells: how a changed cell is found and named.

Each row of each sheet has one line on the `Cell hashes` sheet: eight signs for each cell, a dash
for a blank one. The line of that sheet itself holds the hash of all others.
"""

from dataclasses import dataclass
from weakref import WeakKeyDictionary

from batch.canonical import digest, raw_text
from batch.workbook.cells import is_percent
from batch.workbook.header import column_letter

NAME = "Cell hashes"
SIGNS, BLANK = 8, "-"

_written = WeakKeyDictionary()  # workbook -> {sheet name: its rows' hashes, first row first}


@dataclass(frozen=True)
class ChangedCell:
    """A cell that is not as it was written; `place` as in 'Candidates!H12', `value` as it is now.
    A whole sheet that was added or deleted has no cell."""

    sheet: str
    row: int
    letter: str
    value: str

    @property
    def place(self) -> str:
        return f"{self.sheet}!{self.letter}{self.row}" if self.row else self.sheet


def row_hashes(cells) -> str:
    """The line of one row, for cells with value and number format; None is a blank cell."""
    signs = [_signs(cell) for cell in cells]
    while signs and signs[-1] == BLANK:
        signs.pop()
    return " ".join(signs)


def cell_raw_text(cell) -> str:
    """What a cell holds, as it is hashed."""
    if cell is None or cell.value is None:
        return ""
    return raw_text(cell.value, is_percent(cell))


def _signs(cell) -> str:
    text = cell_raw_text(cell)
    return digest(text)[:SIGNS] if text else BLANK


def keep(workbook, sheet: str, cells):
    """Remember a row of a sheet as it is written."""
    _written.setdefault(workbook, {}).setdefault(sheet, []).append(row_hashes(cells))


def hash_rows(workbook) -> list[tuple[str, int, str]]:
    """(sheet, row, line) of every row that was written and is not blank; the list's own hash
    stands first."""
    rows = [(sheet, row, line) for sheet, lines in _written.get(workbook, {}).items()
            for row, line in enumerate(lines, start=1) if line]
    return [(NAME, 0, digest(rows)), *rows]


def find_changes(book, kept: list[tuple[str, int, str]]) -> list[ChangedCell]:
    """The cells of an opened workbook that are not as the kept lines say; [] when none is.

    `kept` are the rows of the Cell hashes sheet. Where these were changed themselves, that sheet
    is named first, and the cells below it may be named wrongly.
    """
    own = next((line for sheet, _, line in kept if sheet == NAME), "")
    rows = [(sheet, row, line) for sheet, row, line in kept if sheet != NAME]
    changes = [] if own == digest(rows) else [ChangedCell(NAME, 0, "", "the list was changed")]
    lines: dict[str, dict[int, str]] = {}
    for sheet, row, line in rows:
        lines.setdefault(sheet, {})[row] = line
    present = [name for name in book.sheetnames if name != NAME]
    changes += [ChangedCell(name, 0, "", "the sheet is missing")
                for name in lines if name not in present]
    changes += [ChangedCell(name, 0, "", "the sheet was added")
                for name in present if name not in lines]
    for name in present:
        if name in lines:
            changes += _changes_of_sheet(book[name], lines[name])
    return changes


def _changes_of_sheet(worksheet, lines: dict[int, str]) -> list[ChangedCell]:
    changes, last = [], max(lines)
    worksheet.reset_dimensions()
    row = 0
    for row, cells in enumerate(worksheet.iter_rows(), start=1):
        if row_hashes(cells) != lines.get(row, ""):
            changes += _changes_of_row(worksheet.title, row, cells, lines.get(row, ""))
    for missing in range(row + 1, last + 1):
        if missing in lines:
            changes += _changes_of_row(worksheet.title, missing, (), lines[missing])
    return changes


def _changes_of_row(sheet, row, cells, line) -> list[ChangedCell]:
    was, now = line.split(), row_hashes(cells).split()
    width = max(len(was), len(now))
    was += [BLANK] * (width - len(was))
    now += [BLANK] * (width - len(now))
    return [ChangedCell(sheet, row, column_letter(place),
                        cell_raw_text(cells[place]) if place < len(cells) else "")
            for place in range(width) if was[place] != now[place]]
