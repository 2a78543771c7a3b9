"""From a workbook to typed tables and findings: the reading half of a study on one page."""

from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import pandas as pd

from batch.columns import (
    CANDIDATES,
    DELIVERED,
    FEEDERS,
    INPUT_SHEETS,
    LIMITS,
    PROGRAM,
    RATES,
    SHARED_LINES,
    UNIT_COSTS,
)
from batch.columns.column import Column, Sheet
from batch.findings import ERROR, Findings, Stops, StudyError
from batch.price_list import PriceList
from batch.reading.cells import WorkbookCells, read_sheets
from batch.reading.check_rows import (
    check_candidate_rows,
    check_quotations,
    check_references,
    repeated_names,
)
from batch.reading.check_season import check_delivered, check_season
from batch.reading.column_cells import ColumnCells
from batch.reading.defaults import Defaults
from batch.reading.guard import WorkbookFile, check_file
from batch.reading.header import closest_by_words, closest_header, plain_name
from batch.reading.key_values import read_program, read_study
from batch.reading.laying import Laid
from batch.reading.limit_rows import usable_limits
from batch.reading.scenario import Scenario, apply, scenario_of_result
from batch.reading.sheet_cells import MOST_COLUMNS, SheetCells
from batch.reading.skipped_rows import listed_rows, priced_rows, ranges, without_examples
from batch.reading.typing_cells import is_unknown, typed
from batch.rules import WORKBOOK, Rules

GAS = "natural gas engine"
# Sheets that the blank workbook, or one with an own list, holds beside those that are read.
ADOPTED_SHEETS = ("Adopted headings", "Own list", "Questions")
HOUSE_SHEETS = ("Read me", "Lists", *ADOPTED_SHEETS)


@dataclass
class Inputs:
    """A validated workbook.

    Tables have the Excel row as index (named `excel_row`) and every key of the dictionary as a
    column: float64 with NaN for unknown (yes/no as 1.0 and 0.0), or object with None for unknown
    text; dates are ISO text. `has_error` tells the candidates that carry an error. `cells` are the
    engineer's own cells. The ids of rates, feeders and shared lines are unique; of `limits` only
    rows without a fault are there. `file_sha256` is the hash of the file as it was read, whatever
    became of it since. `scenario` is the one that lies over the workbook, where there is one, and
    `laid` what it put over cells and values. `workbook` is what was read.
    """

    path: Path
    file_sha256: str
    study: dict[str, object]
    rules: Rules
    candidates: pd.DataFrame
    has_error: pd.Series
    rates: pd.DataFrame
    unit_costs: pd.DataFrame
    feeders: pd.DataFrame
    shared_lines: pd.DataFrame
    limits: pd.DataFrame
    delivered: pd.DataFrame
    cells: dict[str, SheetCells]
    findings: Findings
    scenario: Scenario | None = None
    workbook: WorkbookCells | None = None
    laid: Laid | None = None

    def read_with(self, laid: Laid) -> "Inputs":
        """The same workbook, read as if other values stood in its cells."""
        stops = Stops()
        inputs = _read(self.workbook, self.path, Findings(), stops, laid)
        stops.stop()
        return inputs

    @cached_property
    def price_list(self) -> PriceList:
        """The Unit costs sheet as it is asked for prices."""
        return PriceList(self.unit_costs)


@dataclass
class Examined:
    """What could be read of a workbook, and all that keeps it from being studied. `inputs` is None
    where it holds no candidate."""

    inputs: Inputs | None
    findings: Findings
    stops: Stops


def validate(path: str | Path | WorkbookFile) -> Inputs:
    """Read a workbook, type every cell, fill the defaults and collect every fault. A result
    workbook of a scenario run is read with its scenario.

    Errors: StudyError where the workbook cannot be studied at all: an unreadable file, missing
    sheets or columns, no candidate or rate, faults on the Study, Program or Unit costs sheet.
    """
    found = examine(path)
    found.stops.stop()
    return found.inputs


def validate_cells(workbook: WorkbookCells, path: Path) -> Inputs:
    """The same for cells that were read from that path; the re-run puts other prices into them."""
    stops = Stops()
    inputs = _inputs_of(workbook, path, Findings(), stops, Laid())
    stops.stop()
    return inputs


def examine(path: str | Path | WorkbookFile) -> Examined:
    """Whatever can be read of a workbook, with every fault; nothing but an unreadable file stops
    it. Errors: StudyError for that."""
    file, stops, findings = check_file(path), Stops(), Findings()
    inputs = _inputs_of(read_sheets(file, stops), file.path, findings, stops, Laid())
    return Examined(inputs, findings if inputs is None else inputs.findings, stops)


def _inputs_of(workbook: WorkbookCells, path: Path, findings: Findings, stops: Stops,
               laid: Laid) -> Inputs | None:
    """What was read, with values of a scenario over it, and what stops its study; None without a
    candidate."""
    inputs = _read(workbook, path, findings, stops, laid)
    if inputs is None or workbook.scenario is None or stops.faults:
        return inputs
    return apply(inputs, scenario_of_result(workbook.scenario))


def _read(workbook: WorkbookCells, path: Path, findings: Findings, stops: Stops,
          laid: Laid) -> Inputs | None:
    """The same without the scenario that a result workbook holds."""
    cells = workbook.by_sheet
    _note_layout(workbook, findings)
    study = read_study(cells.get("Study"), findings, stops) | laid.study
    rules = read_program(cells.get("Program"), study["rules_year"], findings, stops)
    _note_hidden_rules(cells.get("Program"), rules, findings)
    rates = _named_table(RATES, cells, findings, laid)
    unit_costs = _table(UNIT_COSTS, priced_rows(cells, laid, findings), findings, laid)
    feeders = _named_table(FEEDERS, cells, findings, laid)
    shared_lines = _named_table(SHARED_LINES, cells, findings, laid)
    delivered = _table(DELIVERED, cells, findings, laid)
    limits = usable_limits(_named_table(LIMITS, cells, findings, laid), unit_costs,
                           cells.get(LIMITS.name), findings)
    _must_have_prices(rates, unit_costs, findings, stops)
    found = CANDIDATES.name in cells and stops.attempt(
        CANDIDATES.name, _candidates, cells[CANDIDATES.name], findings, laid)
    if not found:
        return None
    candidates, defaults = found
    candidates = check_references(candidates, rates, feeders, shared_lines, cells, findings,
                                  defaults, stops.sheets)
    defaults.tell(CANDIDATES.name, candidates["candidate_id"].to_dict(), findings)
    check_candidate_rows(candidates, cells[CANDIDATES.name], findings)
    check_season(candidates, study | {"rules_year": rules.year}, cells[CANDIDATES.name], findings)
    if not laid.left_out:
        check_quotations(unit_costs, candidates, cells.get(UNIT_COSTS.name), findings)
    faulty = findings.rows_with_errors(CANDIDATES.name)
    has_error = pd.Series(candidates.index.isin(faulty), index=candidates.index, name="has_error")
    return Inputs(path, workbook.file_sha256, study, rules, candidates, has_error,
                  _first_of_each(rates, "rate_id"), unit_costs,
                  _first_of_each(feeders, "feeder_id"),
                  _first_of_each(shared_lines, "shared_line_id"), limits,
                  check_delivered(delivered, candidates, cells.get(DELIVERED.name), findings),
                  cells, findings,
                  workbook=workbook)


def read_table(sheet: Sheet, cells: SheetCells | None, findings: Findings,
               defaults: Defaults, laid: Laid) -> pd.DataFrame:
    """The typed table of a sheet, with what is laid over it and defaults filled in; without rows
    where it is missing."""
    cells = cells or SheetCells(sheet.name, None, [], [])
    rows = [row for row, _ in cells.rows]
    header_of = {header.key: header for header in cells.headers
                 if header.column and header.has_known_unit}
    formulas, percent_rows = _by_column(cells)
    table, ids, is_gas = {}, None, None
    for column in _in_typing_order(sheet):
        header = header_of.get(column.key)
        column_cells = _column_cells(sheet, column, header, cells, findings)
        if header:
            column_cells.formulas = formulas.get(header.index, {})
            column_cells.percent_rows = percent_rows.get(header.index, set())
        column_cells.ids = ids if sheet is CANDIDATES else None
        column_cells.is_gas = is_gas
        over = laid.over(sheet.name, column_cells)
        values = typed(column_cells)
        for i, value in over.items():
            values[i] = value
        if column is sheet.columns[0]:
            ids = list(values)
            column_cells.ids = ids if sheet is CANDIDATES else None
        if column.key == "present_power":
            is_gas = values == GAS
        _fill(column_cells, values, defaults)
        table[column.key] = values
    index = pd.Index(rows, name="excel_row", dtype="int64")
    # Text stays Python text with None for unknown, whatever pandas would infer.
    return pd.DataFrame({
        column.key: pd.Series(table[column.key], index, dtype=table[column.key].dtype)
        for column in sheet.columns})


def _in_typing_order(sheet: Sheet) -> list[Column]:
    """The name first, for the findings; then the fuel, which sets units of other columns."""
    early = ("present_power",)
    return sorted(sheet.columns, key=lambda c: (c is not sheet.columns[0], c.key not in early))


def _column_cells(sheet, column, header, cells: SheetCells, findings) -> ColumnCells:
    rows = [row for row, _ in cells.rows]
    if header is None:
        return ColumnCells(sheet.name, column, "", rows, [None] * len(rows), findings)
    index = header.index
    return ColumnCells(sheet.name, column, header.letter, rows,
                       [values[index] for _, values in cells.rows], findings, unit=header.unit)


def _by_column(cells: SheetCells):
    """Formulas as {column index: {row: formula}}, percent cells as {column index: rows}."""
    formulas, percent_rows = defaultdict(dict), defaultdict(set)
    for (row, index), formula in cells.formulas.items():
        formulas[index][row] = formula
    for row, index in cells.percent_cells:
        percent_rows[index].add(row)
    return formulas, percent_rows


def _fill(cells: ColumnCells, values: np.ndarray, defaults: Defaults):
    """Fill blanks with the default; report blanks of a required column."""
    column = cells.column
    if column.default is None and not column.required:
        return
    faulty = {f["row"] for f in cells.findings.rows
              if f["sheet"] == cells.sheet and f["key"] == column.key and f["severity"] == ERROR}
    blank = [i for i in np.flatnonzero(is_unknown(values)) if cells.rows[i] not in faulty]
    if column.required:
        for i in blank if cells.letter else ():  # a column that is missing is told once
            cells.add("value-missing", i, "is blank.")
    else:
        for i in blank:
            values[i] = column.default
            defaults.take(cells.rows[i], column, column.default)


def _candidates(cells: SheetCells, findings: Findings,
                laid: Laid) -> tuple[pd.DataFrame, Defaults]:
    """The candidates' table without the blank workbook's example rows and without the farms that a
    scenario leaves out, and the defaults in it."""
    id_column = CANDIDATES.columns[0]
    header = next((h for h in cells.headers if h.key == id_column.key), None)
    rows = [(row, values) for row, values in cells.rows if row not in laid.left_out]
    kept = without_examples(rows, header, findings) if header else rows
    if not kept:
        raise StudyError("The Candidates sheet holds no candidate below its headers.",
                         "Fill one row per candidate farm.")
    studied = SheetCells(cells.sheet, cells.header_row, cells.headers, kept, cells.formulas,
                         cells.percent_cells)
    defaults = Defaults()
    table = read_table(CANDIDATES, studied, findings, defaults, laid)
    repeated_names(table[id_column.key], CANDIDATES, header, findings)
    return table, defaults


def _named_table(sheet: Sheet, cells: dict[str, SheetCells], findings: Findings,
                 laid: Laid) -> pd.DataFrame:
    table = _table(sheet, cells, findings, laid)
    if len(table):
        key = sheet.columns[0].key
        header = next((h for h in cells[sheet.name].headers if h.key == key), None)
        repeated_names(table[key], sheet, header, findings)
    return table


def _table(sheet: Sheet, cells: dict[str, SheetCells], findings: Findings,
           laid: Laid) -> pd.DataFrame:
    defaults = Defaults()
    table = read_table(sheet, cells.get(sheet.name), findings, defaults, laid)
    defaults.tell(sheet.name, {}, findings)
    return table


def _first_of_each(table: pd.DataFrame, key: str) -> pd.DataFrame:
    """Only the first row of each name; the others carry an error."""
    return table[table[key].notna() & ~table[key].duplicated()]


def _must_have_prices(rates: pd.DataFrame, unit_costs: pd.DataFrame, findings: Findings,
                      stops: Stops):
    """Without a rate or with a wrong price no farm can be studied."""
    for table, name, what in ((rates, RATES.name, "row"),
                              (unit_costs, UNIT_COSTS.name, "row with a price")):
        if table.empty and name not in stops.sheets:
            stops.add(StudyError(f"The {name} sheet holds no {what} below its headers.",
                                 "Fill it; the blank workbook shows how."), name)
    faults = [f["message"] for f in findings.rows
              if f["sheet"] == UNIT_COSTS.name and f["severity"] == ERROR]
    if faults:
        stops.add(StudyError("The Unit costs sheet has faults, and every farm is priced with it: "
                             + " ".join(faults), "Mend these cells and run again."),
                  UNIT_COSTS.name)


def _note_layout(workbook: WorkbookCells, findings: Findings):
    """Notes about sheets, columns and rows that the study does not use."""
    house = [plain_name(name) for name in HOUSE_SHEETS]
    for name in workbook.unknown_sheets:
        if plain_name(name) not in house:
            near = closest_by_words(name, {sheet.name: sheet.name for sheet in INPUT_SHEETS})
            findings.add("sheet-unknown", f"The sheet '{name}' is not used."
                         + (f" Closest is '{near}'." if near else ""), sheet=name, value=name)
    for sheet in INPUT_SHEETS:
        cells = workbook.by_sheet.get(sheet.name)
        if cells:
            _note_unknown_columns(sheet, cells, findings)
            _note_skipped_rows(sheet, cells, findings)
            _note_hidden(sheet, cells, findings)


def _note_unknown_columns(sheet: Sheet, cells: SheetCells, findings: Findings):
    for header in cells.headers:
        is_used = header.column or not sheet.is_table and cells.header_row is None
        if is_used:
            continue
        if header.text:
            near = closest_header(header.text, sheet)
            text = (f"{sheet.name}!{header.letter}{cells.header_row}: the column '{header.text}' "
                    "is not used." + (f" Closest is '{near}'." if near else ""))
        elif any(values[header.index] is not None for _, values in cells.rows):
            near, text = "", (f"{sheet.name}!{header.letter}{cells.header_row}: the column has "
                              "values but no header.")
        else:
            continue
        findings.add("column-unknown", text, sheet=sheet.name, row=cells.header_row,
                     column=header.letter, value=header.text, limit=near)
    if cells.has_more_columns:
        findings.add("column-unknown", f"{sheet.name}: only the first {MOST_COLUMNS} columns are "
                     "read, and values stand beyond them.", sheet=sheet.name)


def _note_hidden(sheet: Sheet, cells: SheetCells, findings: Findings):
    """What a spreadsheet program does not show is read all the same. Of Program, which the blank
    workbook hides, only changes matter."""
    if sheet is PROGRAM:
        return
    if cells.is_hidden and cells.rows:
        _add_hidden(sheet, findings)
    if cells.hidden_rows:
        listed = listed_rows(ranges(cells.hidden_rows))
        findings.add("hidden-rows-read", f"{sheet.name}: rows that are hidden or filtered out were "
                     f"read: {listed}.", sheet=sheet.name, value=listed)


def _note_hidden_rules(cells: SheetCells | None, rules: Rules, findings: Findings):
    """A hidden Program sheet is told of where it changes the year's rules."""
    if cells and cells.is_hidden and any(rule.origin == WORKBOOK for rule in rules.by_key.values()):
        _add_hidden(PROGRAM, findings)


def _add_hidden(sheet: Sheet, findings: Findings):
    findings.add("hidden-sheet-read", f"The sheet '{sheet.name}' is hidden; it was read.",
                 sheet=sheet.name)


def _note_skipped_rows(sheet: Sheet, cells: SheetCells, findings: Findings):
    blank = cells.blank_ranges() if sheet.is_table else []
    if blank:
        findings.add("blank-row-skipped", f"{sheet.name}: blank rows between filled ones: "
                     f"{listed_rows(blank)}.", sheet=sheet.name, value=listed_rows(blank))
    if cells.unit_row:
        findings.add("header-row-skipped", f"{sheet.name}, row {cells.unit_row}: read as the "
                     "units of the headers above it.", sheet=sheet.name, row=cells.unit_row)
    for row in cells.repeated_header_rows:
        findings.add("header-row-skipped", f"{sheet.name}, row {row}: repeats the headers.",
                     sheet=sheet.name, row=row)
