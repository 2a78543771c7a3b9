"""What figures rest on: cells, rules, prices, rates and published tables, as lines of a trail."""

from functools import cached_property

import numpy as np
import pandas as pd

from batch import rules, tables
from batch.columns import (
    CANDIDATES,
    DELIVERED,
    FEEDERS,
    LIMITS,
    PROGRAM,
    RATES,
    SHARED_LINES,
    STUDY,
    UNIT_COSTS,
)
from batch.columns.unit_costs import SIZE_UNITS
from batch.reading.cell_text import is_blank
from batch.reading.key_values import places_of, rule_text
from batch.trail.lines import CELL, PRICE, RATE, RULE, TABLE, Line

NOT_KNOWN = "not known"
PRICED_BY = ("line_build", "phases", "size", "from_ft", "candidate_id")


def value_text(column, value) -> str:
    """A value with its unit, as a trail prints it; a list of amounts by year is written out."""
    if isinstance(value, np.ndarray):
        amounts = ", ".join(NOT_KNOWN if np.isnan(usd) else f"{usd:,.2f}" for usd in value)
        return f"{amounts} {column.unit}"
    if _is_unknown(value):
        return NOT_KNOWN
    if column.kind == "yes/no":
        return "yes" if value else "no"
    if column.is_numeric:
        return f"{value:,.{column.decimals}f} {column.unit}".strip()
    return str(value)


class Ends:
    """The ends of one study, each made into a line when it is asked for by its id."""

    def __init__(self, inputs):
        self.inputs, self._made = inputs, {}
        self.tables = {sheet.name: (sheet, frame) for sheet, frame in (
            (CANDIDATES, inputs.candidates), (RATES, inputs.rates),
            (UNIT_COSTS, inputs.unit_costs), (FEEDERS, inputs.feeders),
            (SHARED_LINES, inputs.shared_lines), (LIMITS, inputs.limits),
            (DELIVERED, inputs.delivered))}

    def line(self, end: tuple) -> Line:
        """The line of an end's id."""
        if end not in self._made:
            kind, *of = end
            self._made[end] = {CELL: self._cell, RULE: self._rule, PRICE: self._price,
                               RATE: self._rate, TABLE: self._table}[kind](end, *of)
        return self._made[end]

    @cached_property
    def _key_places(self):
        cells = self.inputs.cells
        year_rules = rules.load(self.inputs.study["rules_year"])
        return {PROGRAM.name: places_of(PROGRAM, cells.get(PROGRAM.name), year_rules),
                STUDY.name: places_of(STUDY, cells.get(STUDY.name))}

    @cached_property
    def _headers(self):
        return {name: {header.key: header for header in cells.headers if header.column}
                for name, cells in self.inputs.cells.items()}

    @cached_property
    def _rows(self):
        return {name: dict(cells.rows) for name, cells in self.inputs.cells.items()}

    def _cell(self, end, sheet_name, row, key):
        if sheet_name == STUDY.name:
            place = self._key_places[STUDY.name].get(key, f"{STUDY.name} (blank)")
            column = STUDY.by_key[key]
            value = value_text(column, self.inputs.study[key])
            return Line(end, CELL, place, column.label, value, self._of_scenario(STUDY, None, key))
        sheet, frame = self.tables[sheet_name]
        column, header = sheet.by_key[key], self._headers[sheet_name].get(key)
        value = value_text(column, frame.at[row, key])
        if header is None:
            place = f"{sheet_name}, no column '{column.label}', row {row}"
        else:
            place = f"{sheet_name}!{header.letter}{row}"
        of_scenario = self._of_scenario(sheet, row, key)
        if of_scenario:
            return Line(end, CELL, place, column.label, value, of_scenario)
        if header is None or is_blank(self._rows[sheet_name][row][header.index]):
            source = f"blank; {column.source}" if column.source else "blank"
            return Line(end, CELL, place, column.label, value, source)
        raw = self._rows[sheet_name][row][header.index]
        if header.unit and header.unit != column.unit:
            return Line(end, CELL, place, column.label, value, f"the cell says {raw} {header.unit}")
        return Line(end, CELL, place, column.label, value)

    def _rule(self, end, key, year=None):
        """A rule of the study, or of another year."""
        of = self.inputs.rules if year is None else rules.load(year)
        rule, column = of.by_key[key], PROGRAM.by_key[key]
        place = None if year else self._key_places[PROGRAM.name].get(key)
        if place is None:
            place = f"rules of {of.year}, {key}"
        return Line(end, RULE, place, column.label, rule_text(rule.value, column), rule.source)

    def _price(self, end, row):
        sheet, priced = UNIT_COSTS.by_key, self.inputs.unit_costs.loc[row]
        units = {"size": f" {SIZE_UNITS.get(priced['item'], 'hp')}"}
        by = [f"{sheet[key].label.lower()} {priced[key]:g}{units.get(key, '')}"
              if sheet[key].is_numeric else str(priced[key])
              for key in PRICED_BY if not _is_unknown(priced[key])]
        letter = self._headers[UNIT_COSTS.name]["price_usd"].letter
        source = priced["price_source"]
        return Line(end, PRICE, f"{UNIT_COSTS.name}!{letter}{row}",
                    ", ".join([priced["item"], *by]),
                    value_text(sheet["price_usd"], priced["price_usd"]),
                    self._of_scenario(UNIT_COSTS, row, "price_usd")
                    or ("" if _is_unknown(source) else str(source)))

    def _rate(self, end, row, key):
        column, value = RATES.by_key[key], self.inputs.rates.at[row, key]
        header = self._headers[RATES.name].get(key)
        place = f"{RATES.name}!{header.letter}{row}" if header else f"{RATES.name}, row {row}"
        return Line(end, RATE, place, f"{self.inputs.rates.at[row, 'rate_id']}: {column.label}",
                    value_text(column, value), self._of_scenario(RATES, row, key))

    def _of_scenario(self, sheet, row, key) -> str:
        """What puts a value in place of the cell's own: a change of the scenario; blank for
        none."""
        laid = self.inputs.laid
        if laid is None:
            return ""
        said = (row in laid.cells.get((sheet.name, key), {}) if sheet.is_table
                else key in laid.study)
        return f"scenario {self.inputs.scenario.name}, in place of the cell's own" if said else ""

    def _table(self, end, name, place, by, take, unit):
        """A row of a published table as it is printed there; a whole table as a list."""
        file, title = f"batch/data/tables/{name}.csv", name.replace("_", " ")
        source = tables.text(name).partition("\n")[0].lstrip("# ")
        rows, taken = tables.printed_rows(name), take.split()
        if place is None:
            value = ", ".join(f"{by} {cells[by]}: {cells[take]}" for _, cells in rows)
            return Line(end, TABLE, file, f"{title}, {take}", f"{value} {unit}".strip(), source)
        number, cells = rows[place]
        found = ", ".join(f"{key.replace('_', ' ')}: {cells[key]}" for key in by.split())
        of = f", {take}" if len(taken) == 1 else ""
        value = ", ".join(f"{cells[key] or 'blank'}" if of else f"{key} {cells[key] or 'blank'}"
                          for key in taken)
        return Line(end, TABLE, f"{file}, line {number}", f"{title}, {found}{of}",
                    f"{value} {unit}".strip(), source)


def _is_unknown(value):
    return value is None or (not isinstance(value, str) and pd.isna(value))
