"""Raw cells: what stands in the workbook, read once, nothing decided about it yet.

Only `batch.workbook` uses openpyxl. A sheet is read in one pass in the formula view; where a
formula is found, its stored value is taken from the value view in a second pass.
"""

import math
import re
import warnings
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import chain, count
from pathlib import Path

import openpyxl
from openpyxl.utils.exceptions import InvalidFileException

from batch import units
from batch.canonical import digest
from batch.columns import CANDIDATES, INPUT_SHEETS, STUDY
from batch.columns.column import Sheet
from batch.findings import StudyError
from batch.workbook import input_formulas
from batch.workbook.guard import OPEN_AND_SAVE, ZIP_FAULTS, check_file
from batch.workbook.header import (
    HEADER_ROWS_SEARCHED,
    HeaderCell,
    columns_by_name,
    find_header,
    header_columns,
    header_faults,
    known_headers,
    plain_name,
    read_headers,
)
from batch.workbook.strict import as_transitional, is_strict

MOST_ROWS = 50_000
MOST_COLUMNS = 256
LAST_EXCEL_ROW = 1_048_576
PARSE_FAULTS = (*ZIP_FAULTS, InvalidFileException, LookupError, TypeError, AttributeError,
                ArithmeticError, SyntaxError)  # SyntaxError: malformed XML is a ParseError
# What a result workbook puts behind the engineer's own columns of its Candidates sheet.
ADDED_HEADERS = ("Verdict", "Reason", "Marked cells")
# The list of keys and values with which a result workbook carries the scenario of its run.
SCENARIO = Sheet("Scenario", (), "What the scenario of this run changed.", is_table=False,
                 required=False)
LITERAL = re.compile(r'"[^"]*"|\\.')


@dataclass
class SheetCells:
    """The cells of one sheet.

    `rows` holds (Excel row, values) of every row that is not blank; the values of a row are as
    many as the headers. A formula's place holds its stored value: None where none is stored.
    `formulas` and `percent_cells` are keyed by (Excel row, column index).
    """

    sheet: str
    header_row: int | None
    headers: list[HeaderCell]
    rows: list[tuple[int, tuple]]
    formulas: dict[tuple[int, int], str] = field(default_factory=dict)
    percent_cells: set[tuple[int, int]] = field(default_factory=set)
    repeated_header_rows: list[int] = field(default_factory=list)
    unit_row: int | None = None
    has_more_columns: bool = False  # values stand in columns beyond the last that is read

    def blank_ranges(self) -> list[tuple[int, int]]:
        """First and last Excel row of each run of blank rows between filled ones."""
        header_rows = [row for row in (self.header_row, self.unit_row) if row]
        filled = sorted([*header_rows, *self.repeated_header_rows, *(r for r, _ in self.rows)])
        return [(one + 1, other - 1) for one, other in zip(filled, filled[1:]) if other > one + 1]


@dataclass
class WorkbookCells:
    """The sheets that the study knows, by the dictionary's name, and the names of the others.
    `scenario` is that of a result workbook, where its run had one; `file_sha256` the hash of the
    file as it was read."""

    by_sheet: dict[str, SheetCells]
    unknown_sheets: list[str]
    file_sha256: str
    scenario: SheetCells | None = None


def is_blank(value) -> bool:
    """True for an empty cell and for text of blanks only."""
    return value is None or (type(value) is str and not value.strip())


def read_cells(path: str | Path) -> dict[str, SheetCells]:
    """The cells of every known sheet of a workbook, by the dictionary's sheet name."""
    return read_workbook(path).by_sheet


def read_workbook(path: str | Path) -> WorkbookCells:
    """The cells of a workbook.

    Errors: StudyError for a file that the guard refuses or that cannot be parsed, for missing
    required sheets and columns (all of them at once), and for more rows than are read.
    """
    path = check_file(path)
    file_sha256 = digest(path.read_bytes())
    with opened(path, is_value_view=False) as book:
        worksheets, unknown = _known_sheets(book, path)
        by_sheet, faults = {}, []
        for sheet in (*INPUT_SHEETS, SCENARIO):
            if sheet.name in worksheets:
                cells = _sheet_cells(worksheets[sheet.name], sheet)
                by_sheet[sheet.name] = cells
                if cells.header_row and sheet.is_table:
                    faults += header_faults(cells.headers, sheet, cells.header_row)
        formulas = input_formulas.read(book) if is_result(book.sheetnames) else {}
    if faults:
        text = "; ".join(faults)
        raise StudyError(f"The workbook cannot be read: {text}.",
                         "Mend the headers; the blank workbook shows each of them.")
    _fill_formula_values(path, by_sheet)
    for name in formulas.keys() & by_sheet.keys():
        by_sheet[name].formulas.update(formulas[name])
    scenario = by_sheet.pop(SCENARIO.name, None)
    return WorkbookCells(by_sheet, unknown, file_sha256, scenario)


@contextmanager
def opened(path: Path, is_value_view: bool):
    """A workbook that the guard let pass, in read-only mode."""
    if not openpyxl.DEFUSEDXML:
        raise RuntimeError("openpyxl does not use defusedxml; unset OPENPYXL_DEFUSEDXML")
    with _stream(path) as stream, warnings.catch_warnings():
        warnings.simplefilter("ignore")  # openpyxl warns of what it leaves out: we only read cells
        try:
            book = openpyxl.load_workbook(stream, read_only=True, data_only=is_value_view,
                                          keep_links=False)
        except PARSE_FAULTS as fault:
            raise _damaged(path.name, fault) from fault
        try:
            yield book
        finally:
            book.close()


def _stream(path: Path):
    """The file, or a strict workbook under the names that openpyxl knows."""
    try:
        return as_transitional(path) if is_strict(path) else path.open("rb")
    except ZIP_FAULTS as fault:
        raise _damaged(path.name, fault) from fault


def _damaged(where: str, fault: Exception) -> StudyError:
    reason = " ".join(str(fault).split())[:200] or type(fault).__name__
    return StudyError(f"The workbook is damaged at '{where}': {reason}.", OPEN_AND_SAVE)


def copy_name(sheet_name: str) -> str:
    """The name under which a result workbook holds a copy of an input sheet."""
    return sheet_name if sheet_name == CANDIDATES.name else f"Input {sheet_name}"


def is_result(sheet_names) -> bool:
    """True for a result workbook: it is read by the copies of the input sheets in it."""
    return copy_name(STUDY.name) in sheet_names and "Record" in sheet_names


def _known_sheets(book, path: Path):
    """Worksheets by the dictionary's name (whatever case and spacing), and the unknown ones."""
    names = {plain_name(sheet.name): sheet.name for sheet in INPUT_SHEETS}
    if is_result(book.sheetnames):
        names = {plain_name(copy_name(sheet.name)): sheet.name for sheet in INPUT_SHEETS}
        names[plain_name(SCENARIO.name)] = SCENARIO.name
    found, unknown = {}, []
    for worksheet in book.worksheets:
        name = names.get(plain_name(worksheet.title))
        if name is None:
            if worksheet.sheet_state == "visible":
                unknown.append(worksheet.title)
        elif name in found:
            raise StudyError(f"Two sheets are called '{name}'.", "Delete or rename one of them.")
        else:
            found[name] = worksheet
    if is_result(book.sheetnames):
        unknown = []  # the sheets of results are no fault of the engineer's
    missing = [sheet.name for sheet in INPUT_SHEETS if sheet.required and sheet.name not in found]
    if missing:
        listed = ", ".join(f"'{name}'" for name in missing)
        word = "sheets" if len(missing) > 1 else "sheet"
        raise StudyError(f"The workbook '{path}' has no {word} {listed}.",
                         "Add what is missing; the blank workbook holds every sheet.")
    return found, unknown


def _rows(worksheet):
    """(Excel row, cells) of a worksheet; the stated dimension of the sheet is not believed."""
    worksheet.reset_dimensions()
    rows = iter(worksheet.iter_rows())
    for excel_row in count(1):
        try:
            row = next(rows)
        except StopIteration:
            return
        except PARSE_FAULTS as fault:
            raise _damaged(worksheet.title, fault) from fault
        if excel_row > LAST_EXCEL_ROW:
            raise _damaged(worksheet.title, ValueError("a row number is beyond the last row"))
        yield excel_row, row


def _sheet_cells(worksheet, sheet: Sheet) -> SheetCells:
    rows = _rows(worksheet)
    top = []
    for excel_row, row in rows:
        top.append((excel_row, row))
        if excel_row == HEADER_ROWS_SEARCHED:
            break
    top_values = [(excel_row, _values(row)) for excel_row, row in top]
    header_row = find_header(top_values, sheet)
    if header_row is None and sheet.is_table:
        values = chain((v for _, v in top_values), (_values(row) for _, row in rows))
        is_empty = all(is_blank(value) for row_values in values for value in row_values)
        if is_empty and not sheet.required:
            return SheetCells(sheet.name, None, [], [])
        what = "is empty" if is_empty else ("has no header row among its first "
                                            f"{HEADER_ROWS_SEARCHED} rows")
        raise StudyError(f"The {sheet.name} sheet {what}.",
                         "Take the headers of the blank workbook and fill the rows below them.")
    header_texts = top_values[header_row - 1][1] if header_row else []
    own_width = _width_without_added(header_texts)
    headers = read_headers(header_texts[:own_width], sheet)
    cells = SheetCells(sheet.name, header_row, headers, [])
    rows = ((excel_row, row[:own_width]) for excel_row, row in chain(top[header_row or 0:], rows))
    _take_rows(rows, cells, sheet)
    _square_up(cells)
    return cells


def _width_without_added(header_texts) -> int | None:
    """How many columns are the engineer's own, where a result workbook put some behind them."""
    width = len(header_texts)
    while width and is_blank(header_texts[width - 1]):
        width -= 1
    own = width - len(ADDED_HEADERS)
    return own if tuple(header_texts[max(own, 0):width]) == ADDED_HEADERS else None


def _values(row) -> list:
    """The values of a row. An infinite number, as a file may hold it in 1e999, becomes text: no
    output can hold it, and no column takes it for a number."""
    values = [cell.value for cell in row[:MOST_COLUMNS]]
    if math.inf in values or -math.inf in values:
        values = [str(value) if value in (math.inf, -math.inf) else value for value in values]
    return values


def _take_rows(rows, cells: SheetCells, sheet: Sheet):
    """Fill the rows below the header, and what is worth knowing of single cells."""
    by_name = columns_by_name(header_columns(sheet))
    percent_columns = _percent_columns(cells.headers, sheet)
    first_known = next((h.index for h in cells.headers if h.column), 0)
    for excel_row, row in rows:
        if len(row) > MOST_COLUMNS:
            cells.has_more_columns |= row[-1].value is not None
            row = row[:MOST_COLUMNS]
        values = _values(row)
        if all(map(is_blank, values)):
            continue
        if not cells.rows and _take_units(values, cells, excel_row):
            continue
        if cells.header_row and _is_header_again(values, first_known, by_name):
            cells.repeated_header_rows.append(excel_row)
            continue
        if len(cells.rows) == MOST_ROWS:
            raise StudyError(f"The {sheet.name} sheet has more than {MOST_ROWS:,} rows.",
                             "Split the workbook into several studies.")
        if "f" in [cell.data_type for cell in row]:
            for index, cell in enumerate(row):
                if cell.data_type == "f":
                    cells.formulas[excel_row, index] = str(getattr(cell.value, "text", cell.value))
                    values[index] = None
        for index in percent_columns:
            if index < len(row) and row[index].value is not None and is_percent(row[index]):
                cells.percent_cells.add((excel_row, index))
        cells.rows.append((excel_row, tuple(values)))


def _percent_columns(headers: list[HeaderCell], sheet: Sheet) -> list[int]:
    if sheet.is_table:
        return [h.index for h in headers if h.column and h.column.unit == "%"]
    return [h.index for h in headers if h.key == "value"] or [1]


def is_percent(cell) -> bool:
    """True where a cell's number is shown as percent."""
    try:
        shown_as = cell.number_format or ""
        return "%" in shown_as and "%" in LITERAL.sub("", shown_as)
    except LookupError:  # a style that the workbook does not define
        return False


def _is_header_again(values, first_known: int, by_name) -> bool:
    """True for a second header row: of keys below labels, or repeated at a page's top."""
    if first_known >= len(values) or not isinstance(values[first_known], str):
        return False
    if plain_name(values[first_known]) not in by_name:
        return False
    filled = sum(not is_blank(value) for value in values)
    return known_headers(values, by_name) >= max(2, 0.7 * filled)


def _take_units(values, cells: SheetCells, excel_row: int) -> bool:
    """Read a row of units right below the header, where it is one, into the headers."""
    filled = [value for value in values if not is_blank(value)]
    if len(filled) < 2 or not cells.header_row or cells.unit_row:
        return False
    if not all(isinstance(v, str) and units.is_unit(v.strip().strip("[]()")) for v in filled):
        return False
    for index, value in enumerate(values):
        if not is_blank(value) and index < len(cells.headers) and not cells.headers[index].unit:
            old = cells.headers[index]
            cells.headers[index] = HeaderCell(index, old.letter, old.text, old.column,
                                              value.strip().strip("[]()"))
    cells.unit_row = excel_row
    return True


def _square_up(cells: SheetCells):
    """Give every row as many values as there are headers; columns of values alone get one."""
    while cells.headers and not cells.headers[-1].text and not cells.headers[-1].unit:
        cells.headers.pop()
    width = len(cells.headers)
    for _, values in cells.rows:
        if len(values) > width:
            filled = [i for i in range(width, len(values)) if not is_blank(values[i])]
            width = filled[-1] + 1 if filled else width
    width = max([width, *(index + 1 for _, index in cells.formulas)])
    unnamed = read_headers([None] * width, Sheet("", (), ""))
    cells.headers += unnamed[len(cells.headers):]
    cells.rows = [(row, values[:width] + (None,) * (width - len(values)))
                  for row, values in cells.rows]


def _fill_formula_values(path: Path, by_sheet: dict[str, SheetCells]):
    """Put the stored values of formulas in their places, and drop rows that thereby are blank.

    A formula whose stored result is empty text counts as blank; one without a stored result keeps
    its row, so that the cell can be reported.
    """
    if not any(cells.formulas for cells in by_sheet.values()):
        return
    with opened(path, is_value_view=True) as book:
        worksheets, _ = _known_sheets(book, path)
        for name, cells in by_sheet.items():
            if cells.formulas:
                _fill_sheet(cells, worksheets[name])


def _fill_sheet(cells: SheetCells, worksheet):
    by_row: dict[int, list[int]] = {}
    for excel_row, index in cells.formulas:
        by_row.setdefault(excel_row, []).append(index)
    last = max(by_row)
    stored = {}
    for excel_row, row in _rows(worksheet):
        for index in by_row.get(excel_row, ()):
            if index < len(row):
                [value] = _values(row[index:index + 1])
                is_empty_text = value is None and row[index].data_type == "str"
                stored[excel_row, index] = "" if is_empty_text else value
        if excel_row >= last:
            break
    kept = []
    for excel_row, values in cells.rows:
        indices = by_row.get(excel_row, ())
        if indices:
            values = list(values)
            for index in indices:
                if index < len(values):
                    values[index] = stored.get((excel_row, index))
            is_unknown = any(stored.get((excel_row, index)) is None for index in indices)
            if all(map(is_blank, values)) and not is_unknown:
                continue
        kept.append((excel_row, tuple(values)))
    cells.rows = kept
