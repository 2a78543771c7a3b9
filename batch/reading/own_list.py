"""Sheets of any workbook or CSV file as they stand: every cell with its value, nothing decided.

A workbook passes the guard, the counted reading and the balance like one of ours.
"""

import csv
import io
from dataclasses import dataclass
from pathlib import Path
from statistics import median

from batch.columns.column import Sheet
from batch.findings import StudyError
from batch.reading import balance
from batch.reading.cell_text import is_blank
from batch.reading.guard import LARGEST_FILE_BYTES, WorkbookFile, check_file
from batch.reading.header import column_letter, read_headers
from batch.reading.opening import opened, part_of
from batch.reading.sheet_cells import (
    MOST_COLUMNS,
    MOST_ROWS,
    SheetCells,
    is_percent,
    rows_of,
    values_of,
)

DELIMITERS = ",;\t"
ENCODINGS = ("utf-8-sig", "cp1252")
UTF_16_MARKS = (b"\xff\xfe", b"\xfe\xff")
NO_VALUE = "#NO VALUE!"  # a formula whose result the file does not hold; looks like an error


@dataclass(frozen=True)
class OwnSheet:
    """The filled rows of a sheet: (row, values), the first column first; None is an empty cell.
    `name` is how a place in it begins: the sheet's name, or a CSV file's."""

    name: str
    rows: list[tuple[int, tuple]]

    def place(self, row: int, index: int) -> str:
        """A cell as its owner finds it: 'Sheet1!C7'."""
        return f"{self.name}!{column_letter(index)}{row}"

    @property
    def cell_count(self) -> int:
        """How many cells hold a value."""
        return sum(balance.filled(values) for _, values in self.rows)


def own_sheets(path: str | Path) -> list[OwnSheet]:
    """The sheets of a workbook (.xlsx) or CSV file.

    Errors: StudyError for a file that cannot be read, or not whole.
    """
    path = Path(path)
    return [_csv_sheet(path)] if path.suffix.lower() in (".csv", ".txt") else workbook_sheets(path)


def workbook_sheets(path: str | Path | WorkbookFile) -> list[OwnSheet]:
    """The sheets of a workbook, hidden ones too, formulas by their stored values."""
    file = check_file(path)
    with opened(file, is_value_view=False) as book, opened(file, is_value_view=True) as stored:
        return [_sheet(worksheet, stored_sheet, file)
                for worksheet, stored_sheet in zip(book.worksheets, stored.worksheets)]


def _sheet(worksheet, stored_sheet, file: WorkbookFile) -> OwnSheet:
    counted = file.count_of(part_of(worksheet))
    balance.must_be_in_order(worksheet.title, counted)
    cells = SheetCells(worksheet.title, None, [], [])
    kept = []
    for (row, cells_of_row), (_, stored) in zip(rows_of(worksheet), rows_of(stored_sheet)):
        if len(cells_of_row) > MOST_COLUMNS:
            if any(cell.value is not None for cell in cells_of_row[MOST_COLUMNS:]):
                raise StudyError(f"The sheet '{worksheet.title}' has values beyond its first "
                                 f"{MOST_COLUMNS} columns, in row {row}.",
                                 "Move the list to the left, or delete what stands there.")
        values = values_of(cells_of_row)
        if balance.filled(values) == 0:
            continue
        if len(kept) == MOST_ROWS:
            raise StudyError(f"The sheet '{worksheet.title}' has more than {MOST_ROWS:,} rows.",
                             "Split the list.")
        kept.append((row, tuple(values)))
        cells.rows.append((row, _shown(values, cells_of_row, values_of(stored))))
    whole = SheetCells(worksheet.title, None, read_headers(
        [None] * max((len(values) for _, values in kept), default=0), Sheet("", (), "")), kept)
    balance.reading_of(whole, counted, lambda row: file.letters_of_row(part_of(worksheet), row))
    return OwnSheet(worksheet.title, cells.rows)


def _shown(values: list, cells, stored: list) -> tuple:
    """The values of a row as they are shown: results of formulas, percents with their sign."""
    shown = list(values)
    for index, cell in enumerate(cells[:MOST_COLUMNS]):
        if cell.data_type == "f":
            value = stored[index] if index < len(stored) else None
            shown[index] = NO_VALUE if value is None else value
        if type(shown[index]) in (int, float) and is_percent(cell):
            shown[index] = f"{shown[index] * 100:.10g} %"
    return tuple(shown)


def _csv_sheet(path: Path) -> OwnSheet:
    text = _text_of(path)
    rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text)))
    return OwnSheet(path.name, [(number, tuple(None if is_blank(value) else value for value in row))
                                for number, row in enumerate(rows, start=1)
                                if not all(map(is_blank, row))])


def _text_of(path: Path) -> str:
    try:
        if path.exists() and not path.is_file():
            raise StudyError(f"'{path}' is not a regular file.", "Name a list (.csv or .xlsx).")
        if path.is_file() and path.stat().st_size > LARGEST_FILE_BYTES:
            raise StudyError(f"The file '{path}' is too large.", "Split the list.")
        content = path.read_bytes()
    except FileNotFoundError:
        raise StudyError(f"There is no file '{path}'.", "Check its name and folder.") from None
    except OSError as fault:
        raise StudyError(f"The file '{path}' cannot be read: {fault.strerror or fault}.",
                         "Check its name, its folder and your permissions.") from fault
    if not content.strip():
        raise StudyError(f"The file '{path}' is empty.", "Take the list from where it was saved.")
    encodings = ("utf-16",) if content.startswith(UTF_16_MARKS) else ENCODINGS
    for encoding in encodings:
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
    raise StudyError(f"The file '{path}' is no text.",
                     "Save the list as CSV (UTF-8) or as an Excel workbook (.xlsx).")


def _delimiter(text: str) -> str:
    """The sign that parts most rows into the most cells."""
    def width(sign):
        widths = [len(row) for row in csv.reader(io.StringIO(text, newline=""), delimiter=sign)]
        return median(widths), max(widths)

    try:
        return max(DELIMITERS, key=width)
    except csv.Error as fault:
        raise StudyError(f"The list is no CSV file: {fault}.",
                         "Save it as CSV (UTF-8) or as an Excel workbook (.xlsx).") from fault
