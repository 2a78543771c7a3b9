"""The cells of one sheet: its header, and the rows below it as they stand."""

import math
import re
import sys
from dataclasses import dataclass, field, replace
from itertools import chain

from openpyxl.worksheet.formula import DataTableFormula

from batch import units
from batch.columns.column import Sheet
from batch.columns.scenarios import SCENARIOS
from batch.findings import StudyError
from batch.reading import balance
from batch.reading.cell_text import UNKNOWN_ERROR, is_blank, is_error, unescaped
from batch.reading.header import (
    HEADER_ROWS_SEARCHED,
    HeaderCell,
    columns_by_name,
    faults_above,
    find_header,
    header_columns,
    known_headers,
    plain_name,
    read_headers,
    says_the_same,
    two_headers,
)
from batch.reading.opening import damaged
from batch.reading.sheet_count import LAST_EXCEL_ROW

MOST_ROWS = 50_000
MOST_COLUMNS = 256
# What a result workbook puts behind the engineer's own columns of its Candidates sheet.
ADDED_HEADERS = ("Verdict", "Reason", "Marked cells")
# What of a number format is no code: quoted texts, the sign behind \\, _ (a gap of its width) and *
# (repeated to fill the cell). Source: ECMA-376, 5th edition, part 1, 18.8.31 numFmts.
LITERAL = re.compile(r'"[^"]*"|[\\_*].')
LARGEST_INTEGER = int(sys.float_info.max)


def letters_of(cells: "SheetCells | None") -> dict[str, str]:
    """The column letter of each key that a sheet has; none where there is no sheet."""
    return {header.key: header.letter for header in cells.headers if header.key} if cells else {}


@dataclass
class SheetCells:
    """The cells of one sheet.

    `rows` holds (Excel row, values) of every row that is not blank; the values of a row are as
    many as the headers. A formula's place holds its stored value: None where none is stored.
    `formulas` and `percent_cells` are keyed by (Excel row, column index). `aside` counts, by Excel
    row, the cells with a value that are not handed on: titles, headers, blanks as text, what stands
    beyond the columns that are read. `reading` is the balance of all that with the count of the
    file; `hidden_rows` are those of `rows` that a spreadsheet program does not show.
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
    aside: dict[int, int] = field(default_factory=dict)
    reading: dict = field(default_factory=dict)
    hidden_rows: list[int] = field(default_factory=list)
    is_hidden: bool = False

    def set_aside(self, excel_row: int, values):
        """Count what a row holds that is not handed on."""
        number = balance.filled(values)
        if number:
            self.aside[excel_row] = self.aside.get(excel_row, 0) + number

    def blank_ranges(self) -> list[tuple[int, int]]:
        """First and last Excel row of each run of blank rows between filled ones."""
        header_rows = [row for row in (self.header_row, self.unit_row) if row]
        filled = sorted([*header_rows, *self.repeated_header_rows, *(r for r, _ in self.rows)])
        return [(one + 1, other - 1) for one, other in zip(filled, filled[1:]) if other > one + 1]


def rows_of(worksheet):
    """(Excel row, cells) of a worksheet; the stated dimension of the sheet is not believed."""
    worksheet.reset_dimensions()
    for excel_row, row in enumerate(worksheet.iter_rows(), start=1):
        if excel_row > LAST_EXCEL_ROW:
            raise damaged(worksheet.title, ValueError("a row number is beyond the last row"))
        yield excel_row, row


def sheet_cells(worksheet, sheet: Sheet) -> SheetCells:
    rows = rows_of(worksheet)
    top = []
    for excel_row, row in rows:
        top.append((excel_row, row))
        if excel_row == HEADER_ROWS_SEARCHED:
            break
    top_values = [(excel_row, values_of(row)) for excel_row, row in top]
    header_row = find_header(top_values, sheet)
    if header_row is None and sheet.is_table:
        return _without_header(chain(top, rows), sheet)
    header_texts = top_values[header_row - 1][1] if header_row else []
    own_width = _width_without_added(header_texts)
    headers = read_headers(header_texts[:own_width], sheet)
    cells = SheetCells(sheet.name, header_row, headers, [])
    if header_row:
        _set_top_aside(top, top_values, cells, sheet)
    _take_rows(chain(top[header_row or 0:], rows), cells, sheet, own_width)
    _square_up(cells)
    return cells


def _without_header(rows, sheet: Sheet) -> SheetCells:
    """An optional table that is empty. Errors: StudyError for any other without a header."""
    cells = SheetCells(sheet.name, None, [], [])
    is_empty = True
    for excel_row, row in rows:
        values = [cell.value for cell in row]
        cells.set_aside(excel_row, values)
        is_empty = is_empty and all(map(is_blank, values))
    if is_empty and not sheet.required:
        return cells
    what = "is empty" if is_empty else ("has no header row among its first "
                                        f"{HEADER_ROWS_SEARCHED} rows")
    raise StudyError(f"The {sheet.name} sheet {what}.",
                     "Take the headers of the blank workbook and fill the rows below them.")


def _set_top_aside(top, top_values, cells: SheetCells, sheet: Sheet):
    """Titles and the header. Errors: StudyError for rows above the header that would be lost."""
    faults = faults_above(top_values[:cells.header_row - 1], cells.headers, cells.header_row, sheet)
    if faults:
        raise StudyError(f"Rows above a header are not read: {'; '.join(faults)}.",
                         "Move these rows below the header or delete them; a title is one text in "
                         "its row.")
    for excel_row, row in top[:cells.header_row]:
        cells.set_aside(excel_row, [cell.value for cell in row])


def _width_without_added(header_texts) -> int | None:
    """How many columns are the engineer's own, where a result workbook put some behind them."""
    width = len(header_texts)
    while width and is_blank(header_texts[width - 1]):
        width -= 1
    own = width - len(ADDED_HEADERS)
    return own if tuple(header_texts[max(own, 0):width]) == ADDED_HEADERS else None


def values_of(row) -> list:
    """The values of a row, escaped characters as themselves. A number beyond all that outputs can
    hold, as a file may have it in 1e999, becomes text: no column takes it for a number. An error
    without the looks of one becomes the error that is not known."""
    values = [cell.value for cell in row[:MOST_COLUMNS]]
    for index, value in enumerate(values):
        kind = type(value)
        if kind is str:
            if "_x" in value:
                values[index] = unescaped(value)
            if row[index].data_type == "e" and not is_error(value):
                values[index] = UNKNOWN_ERROR
        elif kind is int and abs(value) > LARGEST_INTEGER or kind is float and math.isinf(value):
            values[index] = str(value)
    return values


def _take_rows(rows, cells: SheetCells, sheet: Sheet, own_width: int | None):
    """Fill the rows below the header, and what is worth knowing of single cells."""
    by_name = columns_by_name(header_columns(sheet))
    percent_columns = _percent_columns(cells.headers, sheet)
    first_known = next((h.index for h in cells.headers if h.column), 0)
    width = MOST_COLUMNS if own_width is None else min(own_width, MOST_COLUMNS)
    for excel_row, row in rows:
        if len(row) > width:
            beyond = [cell.value for cell in row[width:]]
            cells.set_aside(excel_row, beyond)
            cells.has_more_columns |= own_width is None and beyond.count(None) < len(beyond)
            row = row[:width]
        values = values_of(row)
        if (all(map(is_blank, values)) or not cells.rows and _take_units(values, cells, excel_row)
                or _take_header_again(values, cells, excel_row, first_known, by_name, sheet)):
            cells.set_aside(excel_row, values)
            continue
        if len(cells.rows) == MOST_ROWS:
            raise StudyError(f"The {sheet.name} sheet has more than {MOST_ROWS:,} rows.",
                             "Split the workbook into several studies.")
        if "f" in [cell.data_type for cell in row]:
            for index, cell in enumerate(row):
                if cell.data_type == "f":
                    cells.formulas[excel_row, index] = _formula_text(cell.value)
                    values[index] = None
        for index in percent_columns:
            if index < len(row) and row[index].value is not None and is_percent(row[index]):
                cells.percent_cells.add((excel_row, index))
        cells.rows.append((excel_row, tuple(values)))


def _formula_text(formula) -> str:
    """A formula as it is printed; one of a data table names its input cells."""
    if isinstance(formula, DataTableFormula):
        inputs = [cell for cell in (formula.r1, formula.r2) if cell]
        return f"=TABLE({','.join(inputs)})"
    return str(getattr(formula, "text", formula))


def _percent_columns(headers: list[HeaderCell], sheet: Sheet) -> list[int]:
    if sheet is SCENARIOS:
        return [h.index for h in headers if not h.column]
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


def _take_header_again(values, cells: SheetCells, excel_row: int, first_known: int, by_name,
                       sheet: Sheet) -> bool:
    """Note a second header row: of keys below labels, or repeated at a page's top.

    Errors: StudyError where it names other columns: rows below it would be misread.
    """
    if not cells.header_row or first_known >= len(values):
        return False
    if not isinstance(values[first_known], str) or plain_name(values[first_known]) not in by_name:
        return False
    filled = sum(not is_blank(value) for value in values)
    if known_headers(values, by_name) < max(2, 0.7 * filled):
        return False
    if not says_the_same(values, cells.headers, by_name):
        raise StudyError(f"The workbook cannot be read: "
                         f"{two_headers(sheet, cells.header_row, excel_row)}.",
                         "Put all rows under one header, or split them into several workbooks.")
    cells.repeated_header_rows.append(excel_row)
    return True


def _take_units(values, cells: SheetCells, excel_row: int) -> bool:
    """Read a row of units right below the header, where it is one, into the headers: nothing but
    units, in most of the columns that take one, or of those whose header has none."""
    filled = {index for index, value in enumerate(values) if not is_blank(value)}
    if len(filled) < 2 or not cells.header_row or cells.unit_row:
        return False
    if not all(isinstance(values[index], str) and units.is_unit(_unit_word(values[index]))
               for index in filled):
        return False
    takes = {h.index for h in cells.headers if h.column and h.column.unit}
    lacks = {h.index for h in cells.headers if h.index in takes and not h.unit}
    if not any(some and 2 * len(some & filled) > len(some) for some in (takes, lacks)):
        return False
    for index in filled:
        if index < len(cells.headers) and not cells.headers[index].unit:
            cells.headers[index] = replace(cells.headers[index], unit=_unit_word(values[index]))
    cells.unit_row = excel_row
    return True


def _unit_word(text: str) -> str:
    return text.strip().strip("[]()")


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
    for row, values in cells.rows:
        if len(values) > width:
            cells.set_aside(row, values[width:])  # blanks as text
    cells.rows = [(row, values[:width] + (None,) * (width - len(values)))
                  for row, values in cells.rows]
