"""The cells of a result workbook as they were written: how a changed cell is found and named.

Each row of each sheet has a line, with a word for each cell from column A on: a number as it is, a
short text behind a ' with _ for blanks, any other content as the first signs of its hash, a blank
cell as a dash. Numbers are compared to ten digits, since spreadsheet programs keep fifteen to
seventeen when they save. The sheet `Cells as written` holds the lines, as many in a cell as it
takes with | between them, and before them the hash of them all.
"""

import hashlib
import math
import tempfile
from dataclasses import dataclass

from batch.canonical import digest, raw_text
from batch.reading.cell_text import unescaped
from batch.reading.header import column_letter
from batch.reading.sheet_cells import is_percent

NAME = "Cells as written"
BLANK, TEXT, HASHED, SIGNS = "-", "'", "#", 8
LONGEST_TEXT, CLOSE = 24, 1e-10
LINE_END = " | "  # a text that is | stands behind its ' and is no line's end
LONGEST_WORD, LONGEST_CELL = LONGEST_TEXT + 2, 32_767  # a word with the blank behind it


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
    """The line of one row, for cells with value and number format."""
    return line([word_of(unescaped(cell.value), is_percent(cell)) for cell in cells])


def line(words) -> str:
    """The line of a row's words; blank cells at its end are left out."""
    text = " ".join(words)
    while text.endswith(" " + BLANK):
        text = text[:-2]
    return "" if text == BLANK else text


def word_of(value, is_shown_as_percent: bool) -> str:
    """The word of one cell."""
    if value is None or value == "":
        return BLANK
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return exact_text(value) + ("%" if is_shown_as_percent else "")
    text = raw_text(value)
    is_short = len(text) <= LONGEST_TEXT and not any(sign in text for sign in "_\n\t\xa0")
    return TEXT + text.replace(" ", "_") if is_short else HASHED + digest(text)[:SIGNS]


def exact_text(value: float) -> str:
    """The shortest text that reads as the same number; whole numbers without a point."""
    return repr(float(value)).removesuffix(".0")


class KeptLines:
    """The lines of a workbook while it is written, kept in a file without a name.

    `plan` tells (sheet, rows, columns) of all sheets beforehand, so that the number of cells that
    hold the lines is known before the first is written. Iterates over their records.
    """

    def __init__(self, plan, folder):
        self._rows_in_cell = {sheet: max(1, LONGEST_CELL // (LONGEST_WORD * columns + 3))
                              for sheet, _, columns in plan}
        self._count = 1 + sum(math.ceil(rows / self._rows_in_cell[sheet])
                              for sheet, rows, _ in plan)
        self._file = tempfile.TemporaryFile("w+", dir=folder, encoding="utf-8", newline="\n")
        self._hash = hashlib.sha256()

    def keep(self, sheet: str, lines):
        """Keep the lines of all rows of a sheet, from the first row on."""
        together, first = [], 1
        for row, text in enumerate(lines, start=1):
            together.append(text or BLANK)
            if len(together) == self._rows_in_cell[sheet]:
                self._keep_cell(sheet, first, together)
                together, first = [], row + 1
        if together:
            self._keep_cell(sheet, first, together)

    def _keep_cell(self, sheet, first, together):
        record = _record(sheet, first, LINE_END.join(together))
        self._hash.update(record)
        self._file.write(record.decode("utf-8"))

    def __len__(self):
        return self._count

    def __iter__(self):
        yield {"sheet": NAME, "row": 0, "line": self._hash.hexdigest()}
        self._file.seek(0)
        for record in self._file:
            sheet, row, text = record.rstrip("\n").split("\t")
            yield {"sheet": sheet, "row": int(row), "line": text}

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self._file.close()


def _record(sheet, row, text) -> bytes:
    return f"{sheet}\t{row}\t{text}\n".encode()


def hash_of(kept) -> str:
    """The hash of all kept lines but the first, which holds it."""
    return hashlib.sha256(b"".join(_record(*each) for each in kept)).hexdigest()


def find_changes(book, kept: list[tuple[str, int, str]]) -> list[ChangedCell]:
    """The cells of an opened workbook that are not as the kept lines say; [] when none is. `kept`
    holds (sheet, first row, lines) as they stand on the sheet.

    Where the kept lines were changed themselves, that sheet is named first, and cells behind it
    may be named wrongly.
    """
    own = next((text for sheet, _, text in kept if sheet == NAME), "")
    rows = [(sheet, row, line) for sheet, row, line in kept if sheet != NAME]
    changes = [] if own == hash_of(rows) else [_whole(NAME, "this sheet itself was changed")]
    lines: dict[str, dict[int, str]] = {}
    for sheet, first, together in rows:
        for row, line in enumerate(together.split(LINE_END), start=first):
            lines.setdefault(sheet, {})[row] = "" if line == BLANK else line
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
                        raw_text(unescaped(cells[place].value)) if place < len(cells) else "")
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
