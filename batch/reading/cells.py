"""Raw cells: what stands in the workbook, read once, nothing decided about it yet.

Only this room and `batch.writing.workbook` use openpyxl. A sheet is read in one pass in the formula
view; where a formula is found, its stored value is taken from the value view in a second pass.
"""

from dataclasses import dataclass
from pathlib import Path

from batch.columns import CANDIDATES, INPUT_SHEETS, STUDY
from batch.columns.column import Sheet
from batch.columns.scenarios import SCENARIO, SCENARIOS
from batch.findings import Stops, StudyError
from batch.reading import balance, input_formulas
from batch.reading.cell_text import is_blank
from batch.reading.guard import WorkbookFile, check_file
from batch.reading.header import header_faults, plain_name
from batch.reading.opening import opened, part_of
from batch.reading.sheet_cells import SheetCells, rows_of, sheet_cells, values_of


@dataclass
class WorkbookCells:
    """The sheets that the study knows, by the dictionary's name, and the names of the others.
    `scenario` is that of a result workbook, where its run had one, `scenarios` the sheet of those
    that an input workbook holds; `file_sha256` the hash of the file as it was read."""

    by_sheet: dict[str, SheetCells]
    unknown_sheets: list[str]
    file_sha256: str
    scenario: SheetCells | None = None
    scenarios: SheetCells | None = None


def read_workbook(path: str | Path | WorkbookFile) -> WorkbookCells:
    """The cells of a workbook.

    Errors: StudyError for a file that the guard refuses or that cannot be parsed, for missing
    required sheets and columns (all of them at once), for more rows than are read, and where a
    sheet holds a cell that would be lost.
    """
    stops = Stops()
    workbook = read_sheets(check_file(path), stops)
    stops.stop()
    return workbook


def read_sheets(file: WorkbookFile, stops: Stops) -> WorkbookCells:
    """The same, of every sheet that can be read; what stops a study is gathered.

    Errors: StudyError for a file that cannot be parsed.
    """
    with opened(file, is_value_view=False) as book:
        worksheets, unknown = _known_sheets(book)
        for name, fault in _sheet_faults(book, worksheets, file.path):
            stops.add(fault, name)
        by_sheet = {}
        parts = {name: part_of(worksheet) for name, worksheet in worksheets.items()}
        for sheet in (*INPUT_SHEETS, SCENARIO, SCENARIOS):
            if sheet.name in worksheets:
                cells = stops.attempt(sheet.name, _cells_of, worksheets[sheet.name], sheet, file,
                                      is_result(book.sheetnames))
                if cells:
                    by_sheet[sheet.name] = cells
                    _note_header_faults(cells, sheet, stops)
        formulas = input_formulas.read(book) if is_result(book.sheetnames) else {}
    _fill_formula_values(file, by_sheet)
    for name, cells in by_sheet.items():
        stops.attempt(name, _balance, cells, file, parts[name])
    for name in formulas.keys() & by_sheet.keys():
        by_sheet[name].formulas.update(formulas[name])
    scenario = by_sheet.pop(SCENARIO.name, None)
    scenarios = by_sheet.pop(SCENARIOS.name, None)
    return WorkbookCells(by_sheet, unknown, file.sha256, scenario, scenarios)


def _cells_of(worksheet, sheet: Sheet, file: WorkbookFile, of_result: bool) -> SheetCells:
    balance.must_be_in_order(sheet.name, file.count_of(part_of(worksheet)))
    cells = sheet_cells(worksheet, sheet)
    # In a result workbook it is this program that hides the copies.
    cells.is_hidden = worksheet.sheet_state != "visible" and not of_result
    return cells


def _note_header_faults(cells: SheetCells, sheet: Sheet, stops: Stops):
    """Keep each fault of a table's headers."""
    if not cells.header_row or not sheet.is_table:
        return
    for fault in header_faults(cells.headers, sheet, cells.header_row):
        stops.add(StudyError(f"{fault[0].upper()}{fault[1:]}.",
                             "Mend the headers; the blank workbook shows each of them."),
                  sheet.name)


def _balance(cells: SheetCells, file: WorkbookFile, part: str):
    counted = file.count_of(part)
    cells.reading = balance.reading_of(cells, counted,
                                       lambda row: file.letters_of_row(part, row))
    cells.hidden_rows = [row for row, _ in cells.rows if row in counted.hidden]


def copy_name(sheet_name: str) -> str:
    """The name under which a result workbook holds a copy of an input sheet."""
    return sheet_name if sheet_name == CANDIDATES.name else f"Input {sheet_name}"


def is_result(sheet_names) -> bool:
    """True for a result workbook: it is read by the copies of the input sheets in it."""
    return copy_name(STUDY.name) in sheet_names and "Record" in sheet_names


def _known_sheets(book):
    """Worksheets by the dictionary's name (whatever case and spacing), and the unknown ones."""
    names = {plain_name(sheet.name): sheet.name for sheet in (*INPUT_SHEETS, SCENARIOS)}
    if is_result(book.sheetnames):
        names = {plain_name(copy_name(sheet.name)): sheet.name for sheet in INPUT_SHEETS}
        names[plain_name(SCENARIO.name)] = SCENARIO.name
    found, unknown = {}, []
    for worksheet in book.worksheets:
        name = names.get(plain_name(worksheet.title))
        if name is None:
            if worksheet.sheet_state == "visible":
                unknown.append(worksheet.title)
        else:
            found.setdefault(name, worksheet)
    if is_result(book.sheetnames):
        unknown = []  # the sheets of results are no fault of the engineer's
    return found, unknown


def _sheet_faults(book, found, path: Path):
    """(sheet, fault) of sheets that are there twice or not at all."""
    of_result = is_result(book.sheetnames)
    for sheet in INPUT_SHEETS:
        name = plain_name(copy_name(sheet.name) if of_result else sheet.name)
        if sum(plain_name(worksheet.title) == name for worksheet in book.worksheets) > 1:
            yield sheet.name, StudyError(f"Two sheets are called '{sheet.name}'.",
                                         "Delete or rename one of them.")
    missing = [sheet.name for sheet in INPUT_SHEETS if sheet.required and sheet.name not in found]
    if missing:
        listed = ", ".join(f"'{name}'" for name in missing)
        word = "sheets" if len(missing) > 1 else "sheet"
        yield missing[0], StudyError(f"The workbook '{path}' has no {word} {listed}.",
                                     "Add what is missing; the blank workbook holds every sheet.")


def _fill_formula_values(file: WorkbookFile, by_sheet: dict[str, SheetCells]):
    """Put the stored values of formulas in their places, and drop rows that thereby are blank.

    A formula whose stored result is empty text counts as blank; one without a stored result keeps
    its row, so that the cell can be reported.
    """
    if not any(cells.formulas for cells in by_sheet.values()):
        return
    with opened(file, is_value_view=True) as book:
        worksheets, _ = _known_sheets(book)
        for name, cells in by_sheet.items():
            if cells.formulas:
                _fill_sheet(cells, worksheets[name])


def _fill_sheet(cells: SheetCells, worksheet):
    by_row: dict[int, list[int]] = {}
    for excel_row, index in cells.formulas:
        by_row.setdefault(excel_row, []).append(index)
    last = max(by_row)
    stored = {}
    for excel_row, row in rows_of(worksheet):
        for index in by_row.get(excel_row, ()):
            if index < len(row):
                [value] = values_of(row[index:index + 1])
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
                cells.set_aside(excel_row, [True if index in indices else value
                                            for index, value in enumerate(values)])
                continue
        kept.append((excel_row, tuple(values)))
    cells.rows = kept
