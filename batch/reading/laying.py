"""What the changes of a scenario mean in a workbook: its cells are found and typed as if the values
stood in them, with the place where the scenario says so in every message."""

from dataclasses import dataclass, field, replace

import numpy as np

from batch.columns import CANDIDATES, PROGRAM
from batch.columns.column import Column
from batch.columns.scenarios import OUT
from batch.findings import ERROR, Findings, StudyError
from batch.reading.change_places import TABLES, Place, place_of
from batch.reading.changes import Change, factor_of
from batch.reading.column_cells import ColumnCells, quoted
from batch.reading.header import is_convertible, is_native_unit, plain_name
from batch.reading.key_values import rule_text
from batch.reading.typing_cells import is_unknown, typed
from batch.rules import Rule

LARGEST_FACTOR = 100.0
GAS, FUEL = "natural gas engine", "present power"  # the fuel sets units of other cells
MEND = "Mend the scenario and run again."


@dataclass
class Laid:
    """Typed values that lie over a workbook's own: of the Study sheet, of rules, and of cells by
    (sheet, key) and Excel row; and the candidates' rows that are left out. `changes` are what was
    said, each with the sheet, row, key and value that it means; `remarks` the findings about it,
    and `places` where each cell of a table is said, by (sheet, row, key)."""

    study: dict[str, object] = field(default_factory=dict)
    rules: dict[str, Rule] = field(default_factory=dict)
    cells: dict[tuple[str, str], dict[int, object]] = field(default_factory=dict)
    left_out: set[int] = field(default_factory=set)
    changes: list[Change] = field(default_factory=list)
    remarks: list[dict] = field(default_factory=list)
    places: dict[tuple[str, int, str], str] = field(default_factory=dict)

    @property
    def needs_reading(self) -> bool:
        """True where more than rules and plain Study values is changed."""
        return bool(self.cells or self.left_out or "rules_year" in self.study)

    def over(self, sheet: str, cells: ColumnCells) -> dict[int, object]:
        """Place in the column -> typed value that takes the place of the cell; the cells' own
        values are taken out, so that nothing is said about them."""
        changed = self.cells.get((sheet, cells.column.key), {})
        places = {i: changed[row] for i, row in enumerate(cells.rows) if row in changed}
        for i in places:
            cells.values[i] = None
            cells.formulas.pop(cells.rows[i], None)
        return places


@dataclass
class ChangeCells(ColumnCells):
    """One value of a scenario as a cell of its column, named by where the scenario says it."""

    said: str = ""

    def place(self, i: int) -> str:
        return f"{self.said} ({self.column.label})"


def lay(changes, name: str, inputs) -> Laid:
    """The changes of the scenario of that name over a validated workbook.

    Errors: StudyError naming every change that cannot be made, with its place.
    """
    laid, said, faults = Laid(), {}, []
    for change in sorted(changes, key=lambda c: plain_name(c.key) != FUEL):
        try:
            _lay_one(change, name, inputs, laid, said)
        except StudyError as stop:
            faults.append(f"{stop.what} {stop.next_step}".strip())
    if faults:
        raise StudyError(" ".join(faults), MEND)
    return laid


def _lay_one(change: Change, name: str, inputs, laid: Laid, said: dict):
    place = place_of(change, inputs)
    for row in place.rows:
        first = said.setdefault((place.sheet.name, row, place.key), change.place)
        if first is not change.place:
            raise StudyError(f"{change.place}: changes what {first} changes.", "Keep one of them.")
    if place.column is None:
        laid.left_out |= set(place.rows)
        laid.changes.append(_meant(change, place, OUT))
        laid.remarks.append(_note(change, place, name, f"{place.name} is left out."))
    elif place.sheet.is_table:
        _lay_cells(change, place, name, inputs, laid)
    else:
        _lay_value(change, place, name, inputs, laid)


def _lay_value(change: Change, place: Place, name: str, inputs, laid: Laid):
    """A value of the Study or the Program sheet."""
    column, is_rule = place.column, place.sheet is PROGRAM
    old = inputs.rules[column.key] if is_rule else inputs.study[column.key]
    factor = _factor(change, column)
    value = change.value
    if factor is not None:
        if old is None:
            raise StudyError(f"{change.place}: {column.label} has no value to multiply.",
                             "Give a value instead.")
        value = fifteen_digits(old * factor)
    [typed_value] = _typed(change, place, column, [value], [None], laid)
    if column.kind == "yes/no":
        typed_value = bool(typed_value)
    elif column.is_numeric:
        typed_value = fifteen_digits(typed_value)
    meant = _meant(change, place, _said_again(typed_value, column, factor))
    if not is_rule:
        whole = column.kind == "integer"
        laid.study[column.key] = int(typed_value) if whole else typed_value
    else:
        source = change.source or f"scenario {name}, no source given"
        laid.rules[column.key] = Rule(typed_value, source, f"scenario {name}")
        meant = replace(meant, source=source)
    laid.changes.append(meant)
    was = "blank" if old is None else rule_text(old, column)
    source = f"; source: {laid.rules[column.key].source}" if is_rule else ""
    laid.remarks.append(_note(change, place, name, f"{column.label} is "
                              f"{rule_text(typed_value, column)} in place of {was}{source}."))


def _lay_cells(change: Change, place: Place, name: str, inputs, laid: Laid):
    """The cells of a column: of one row, of all, or of the rows of an item."""
    column, table = place.column, getattr(inputs, TABLES[place.sheet])
    old, rows, factor = table[column.key], list(place.rows), _factor(change, column)
    if factor is None:
        values = [change.value] * len(rows)
    else:
        rows = [row for row in rows if not is_unknown(old[[row]].to_numpy())[0]]
        values = [fifteen_digits(old[row] * factor) for row in rows]
        if not any(old[row] for row in rows):
            laid.remarks.append(_note(
                change, place, name, f"the factor on '{place.name}' of the {place.sheet.name} "
                f"sheet changes nothing, as it has {'only zeros' if rows else 'no number'}.",
                "scenario-without-effect"))
    answers = _typed(change, place, column, values, rows, laid, inputs) if rows else []
    put = laid.cells.setdefault((place.sheet.name, column.key), {})
    for row, answer in zip(rows, answers):
        put[row] = fifteen_digits(answer) if column.is_numeric else answer
        laid.places[place.sheet.name, row, column.key] = change.place
    shown = answers[0] if rows and factor is None else None
    laid.changes.append(_meant(change, place, _said_again(shown, column, factor)))
    if rows:
        laid.remarks.append(_note(change, place, name, _told(place, column, old, put, factor,
                                                             rows)))


def _told(place: Place, column: Column, old, put, factor, rows) -> str:
    if factor is not None:
        many = "" if len(rows) == 1 else f", {len(rows):,} rows"
        return f"{place.name} ({column.label}) times {factor:g}{many}."
    many = "" if len(rows) == 1 else f" in {len(rows):,} rows"
    was = {_shown(old[row], column) for row in rows}
    return (f"{place.name} ({column.label}) is {_shown(put[rows[0]], column)}{many} in place of "
            f"{was.pop() if len(was) == 1 else 'several values'}.")


def _shown(value, column: Column) -> str:
    if value is None or value != value:
        return "blank"
    return rule_text(bool(value) if column.kind == "yes/no" else value, column)


def _factor(change: Change, column: Column) -> float | None:
    """The factor of a change of numbers; None where it gives a value."""
    factor = factor_of(change.value) if column.is_numeric else None
    if factor is not None and factor > LARGEST_FACTOR:
        raise StudyError(f"{change.place}: {quoted(change.value)} is beyond x0 to "
                         f"x{LARGEST_FACTOR:g}.", "Give another factor.")
    return factor


def _typed(change: Change, place: Place, column: Column, values, rows, laid: Laid, inputs=None):
    """The values as cells of their column: units, bounds, choices, lists.

    Errors: StudyError with the messages that the cells would get."""
    unit, own = place.unit, Findings()
    if not is_native_unit(column, unit) and not is_convertible(unit, column.unit):
        raise StudyError(f"{change.place}: '{unit}' is no unit of {column.label}.",
                         f"It is given in {column.unit or 'no unit'}.")
    is_factor = factor_of(change.value) is not None and column.is_numeric
    ids, is_gas = [], None
    if place.sheet is CANDIDATES:
        ids = [inputs.candidates.at[row, "candidate_id"] for row in rows]
        power = laid.cells.get((CANDIDATES.name, "present_power"), {})
        is_gas = np.array([power.get(row, inputs.candidates.at[row, "present_power"]) == GAS
                           for row in rows])
    cells = ChangeCells(place.sheet.name, column, "", rows, values, own, said=change.place,
                        unit="" if is_factor else unit, ids=ids, is_gas=is_gas,
                        percent_rows=set(rows) if change.is_percent and not is_factor else set())
    answers = typed(cells)
    faults = [f["message"] for f in own.rows if f["severity"] == ERROR]
    if not faults and is_unknown(answers).any():
        cells.add("value-missing", 0, "has no value.")
        faults = [own.rows[-1]["message"]]
    if faults:
        raise StudyError(faults[0], "")
    laid.remarks += own.rows
    return list(answers)


def _meant(change: Change, place: Place, value) -> Change:
    """The change as it is found again whatever else the workbook holds."""
    return replace(change, sheet=place.sheet.name, row=place.row, key=place.key, value=value,
                   is_percent=False)


def _said_again(value, column: Column, factor):
    if factor is not None:
        return f"x{factor:.15g}"
    if column.kind == "yes/no":
        return "yes" if value else "no"
    return fifteen_digits(value) if column.is_numeric else value


def _note(change: Change, place: Place, name: str, text: str, slug="scenario-changed") -> dict:
    own = Findings()
    only = len(place.rows) == 1 and place.sheet is CANDIDATES
    own.add(slug, f"Scenario '{name}': {text}", sheet=place.sheet.name, key=place.key,
            row=place.rows[0] if only else None, value=quoted(change.value),
            candidate_id=place.row if only else "")
    return own.rows[0]


def fifteen_digits(value) -> float:
    """As many digits as a workbook keeps, so that a scenario read back is the same one."""
    return float(f"{value:.15g}")
