"""A figure of a run traced to the cells, rules, prices, rates and tables that it rests on."""

import re
from pathlib import Path

from batch.audit.stored import sheet_rows
from batch.columns import CANDIDATES, INPUT_SHEETS, PROGRAM, RESULTS, WORKING
from batch.columns.portfolio import row_keys
from batch.columns.working import APPROVALS, CHECKS, COST_SHARES
from batch.findings import StudyError
from batch.program.approvals import approvals
from batch.reading.cell_text import unescaped
from batch.reading.cells import copy_name
from batch.reading.header import column_letter
from batch.reading.validate import validate
from batch.study import run_study
from batch.study_error import closest_in_words
from batch.trail.ends import Ends
from batch.trail.farm_figures import MAKERS, FarmFigures
from batch.trail.lines import CELL, FIGURE, RULE, Trail, row_names, trail_of
from batch.trail.program_figures import OF_A_FARM, ProgramFigures
from batch.writing.portfolio_tables import portfolio_tables, with_columns
from batch.writing.workbook.contents import PROGRAM_NAME, RULES_CHANGED, WHAT_FAILS, WHO_PAYS
from batch.writing.workbook.what_fails import MISSES_BY

ADDRESS = re.compile(r"(?P<sheet>.+)!\$?(?P<letter>[A-Za-z]{1,3})\$?(?P<row>[0-9]+)")
OF_FARMS = ("results", "ranking")
CANDIDATE, RULE_KEY = RESULTS.by_key["candidate_id"].header, "Key"
# Sheets of the result workbook: file, headers that name the row there, and their dictionary.
SHEETS = {"Ranking": ("results", (CANDIDATE,), RESULTS),
          "Economics": ("results", (CANDIDATE,), RESULTS),
          "Results": ("results", ("candidate_id",), RESULTS),
          "Options": ("options", (CANDIDATE, "Supply option"), RESULTS),
          "Mitigations": ("mitigations", (CANDIDATE, "Variant"), RESULTS),
          WHAT_FAILS: ("checks", (CANDIDATE, "Supply option", "Check"), CHECKS),
          WHO_PAYS: ("cost_shares", (CANDIDATE, "Item"), COST_SHARES)}


class Tracer:
    """The trails of one run's figures; a figure is named by file, row and key, or by its cell."""

    def __init__(self, study, path: Path):
        """`path` is the run's result workbook."""
        self.study, self.path = study, path
        self._rows = {}
        self.tables = {name.removesuffix(".csv"): (sheet, with_columns(frame, sheet))
                       for sheet, name, frame in portfolio_tables(self.study)}
        self.tables["approvals"] = (APPROVALS, with_columns(approvals(self.study), APPROVALS))
        self.ends, self.farms = Ends(self.study.inputs), FarmFigures(self.study)
        self.program = ProgramFigures(self.study, self.tables, self.farms)

    def trail(self, asked: tuple) -> Trail:
        """The trail of a figure's or end's id."""
        return trail_of([asked], self._line)

    def _line(self, one):
        if one[0] != FIGURE:
            return self.ends.line(one)
        return (self.farms if one[1] in ("farm", "design") else self.program).line(one)

    def of_file(self, file: str, row: str, key: str) -> tuple:
        """The id of the figure of a key in a row of a CSV file, both as the pages name them.

        Errors: StudyError for a file, row or key that the run has not.
        """
        file = file.removesuffix(".csv")
        if file in OF_FARMS:
            return self._of_farm(row, key)
        if file in ("options", "mitigations"):
            return self._of_design(file, row, key)
        known = {*self.tables, *OF_A_FARM, "record"}
        if file not in known:
            raise _unknown("file", file, [*OF_FARMS, "options", *known])
        if file in OF_A_FARM:
            _must_be_in("key", key, list(OF_A_FARM[file][0].by_key))
        elif file == "record":
            _must_be_in("key", key, list(self.study.counts))
        else:
            sheet, frame = self.tables[file]
            _must_be_in("row", row, row_names(sheet, frame))
            _must_be_in("key", key, list(sheet.by_key))
        return (FIGURE, file, row, key)

    def _of_farm(self, candidate, key):
        _must_be_in("candidate", candidate, list(self.farms.row_of))
        if key not in {*RESULTS.by_key, *WORKING.by_key, *MAKERS}:
            raise _unknown("key", key, list(RESULTS.by_key))
        return (FIGURE, "farm", self.farms.row_of[candidate], key)

    def _of_design(self, file, row, key):
        candidate, _, part = row.rpartition("|")
        frame, of = ((self.study.options, "supply_option") if file == "options"
                     else (self.study.variants, "variant"))
        mine = frame.index[(frame["candidate_id"] == candidate) & (frame[of] == part)]
        if not len(mine):
            raise _unknown("row", row, [f"{c}|{p}" for c, p in zip(frame["candidate_id"],
                                                                   frame[of])])
        return (FIGURE, "design", mine[0], key)

    def of_cell(self, address: str) -> tuple:
        """The id of what stands in a cell of the run's result workbook, as 'Ranking!H12'.

        Errors: StudyError for a cell that holds no figure.
        """
        found = ADDRESS.fullmatch(address)
        if found is None:
            raise StudyError(f"'{address}' is no cell.", "Name it as in: Ranking!H12")
        name, row = found["sheet"].strip("'"), int(found["row"])
        letter = found["letter"].upper()
        for sheet in INPUT_SHEETS:
            if name == copy_name(sheet.name) or name == sheet.name == CANDIDATES.name:
                return self._typed(sheet, row, letter, address)
        by_title = {sheet.name: (file, tuple(sheet.by_key[key].header for key in row_keys(sheet)),
                                 sheet) for file, (sheet, _) in self.tables.items()}
        by_title["Feeders"] = by_title.pop("Feeder loads")
        by_title["Cost lines"] = ("cost_lines", (CANDIDATE, "Line"), self.tables["cost_lines"][0])
        if name in (PROGRAM_NAME, RULES_CHANGED):
            said = self._row_of_cell(name, row, (RULE_KEY,))
            if said is None or said[1].get(RULE_KEY) not in PROGRAM.by_key:
                raise _no_figure(address)
            return (RULE, said[1][RULE_KEY])
        if name not in {**SHEETS, **by_title}:
            raise _unknown("sheet with figures", name, [*SHEETS, *by_title])
        file, id_headers, sheet = {**by_title, **SHEETS}[name]
        said = self._row_of_cell(name, row, id_headers)
        key_of = {MISSES_BY: "value"} if name == WHAT_FAILS else {}
        key_of |= {name: column.key for column in sheet.columns
                   for name in (column.header, column.key)}
        header = said and said[0].get(letter)
        is_blank = said and name == WHAT_FAILS and said[1].get(header) is None
        if is_blank or header not in key_of or not sheet.by_key[key_of[header]].is_numeric:
            raise _no_figure(address)
        return self.of_file(file, "|".join(str(said[1][h]) for h in id_headers), key_of[header])

    def rows_of(self, name: str) -> list[tuple]:
        """The values of all rows of a sheet of the result workbook."""
        if name not in self._rows:
            self.read((name,))
        return self._rows[name]

    def read(self, names) -> None:
        """Have some sheets at hand, which takes hardly longer than one."""
        self._rows |= sheet_rows(self.path, names)

    def _row_of_cell(self, name, row, id_headers):
        """What stands in a row below the header that has all of `id_headers`: headers by column
        letter, and values by header; None for any other row."""
        rows = self.rows_of(name)
        header = next((place for place, values in enumerate(rows)
                       if set(id_headers) <= set(values)), len(rows))
        if not header + 1 < row <= len(rows):
            return None
        return ({column_letter(place): text for place, text in enumerate(rows[header])},
                dict(zip(rows[header], map(unescaped, rows[row - 1]))))

    def _typed(self, sheet, row, letter, address):
        headers = {header.letter: header for header in self.study.inputs.cells[sheet.name].headers}
        header = headers.get(letter)
        is_typed = sheet.is_table and header is not None and header.column is not None
        if not is_typed or row not in self.ends.tables[sheet.name][1].index:
            raise _no_figure(address)
        return (CELL, sheet.name, row, header.key)


def traced(asked: str, run: Path, row: tuple[str, str] | None) -> Trail:
    """The trail of a key in a row, given as (file, name of the row), or of a cell's address."""
    path = run / "result.xlsx" if run.is_dir() else run
    tracer = Tracer(run_study(validate(path)), path)
    if row is None:
        return tracer.trail(tracer.of_cell(asked))
    try:
        return tracer.trail(tracer.of_file(*row, asked))
    except LookupError as fault:
        raise StudyError(f"The run has no figure '{asked}' in {row[0]}, '{row[1]}': {fault}.",
                         "data-file, data-id and data-key in a page's text name them.") from fault


def _must_be_in(what, name, known):
    if name not in known:
        raise _unknown(what, name, known)


def _unknown(what, name, known):
    return StudyError(f"The run has no {what} '{name}'.{closest_in_words(name, known)}",
                      "Take names from the run's files.")


def _no_figure(address):
    return StudyError(f"{address} holds no figure.", "Name a cell with a number below a header.")
