"""What differs between the inputs of two studies: candidates, cells, prices, rules."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from batch import rules
from batch.columns import (
    CANDIDATES,
    DELIVERED,
    FEEDERS,
    LIMITS,
    RATES,
    SHARED_LINES,
    STUDY,
    UNIT_COSTS,
)
from batch.columns.column import Sheet
from batch.reading.column_cells import quoted
from batch.reading.sheet_cells import letters_of

CLOSE = 1e-9  # unit conversions leave a tail of that size
NAMED_BY = ((CANDIDATES, "candidates", ("candidate_id",)), (RATES, "rates", ("rate_id",)),
            (UNIT_COSTS, "unit_costs", ("item", "line_build", "phases", "size", "candidate_id")),
            (FEEDERS, "feeders", ("feeder_id",)),
            (SHARED_LINES, "shared_lines", ("shared_line_id",)), (LIMITS, "limits", ("name",)),
            (DELIVERED, "delivered", ("candidate_id", "season")))
ROW, RULES_SHEET = "(row)", "Rules in force"


@dataclass(frozen=True)
class CellChange:
    """One value that differs; `places` are its cells on both sides, blank where there is none.
    For a row that only one side has, the key is '(row)'."""

    sheet: str
    row_name: str
    key: str
    old: str
    new: str
    places: tuple[str, str]


def input_changes(one, other) -> list[CellChange]:
    """Every value that differs between two validated workbooks, rules in force included."""
    found = _changed_keys(STUDY.name, one.study, other.study)
    found += _changed_keys(RULES_SHEET, _rule_values(one.rules), _rule_values(other.rules))
    for sheet, table, names in NAMED_BY:
        found += _changed_rows(sheet, names, (one, getattr(one, table)),
                               (other, getattr(other, table)))
    return found


def _rule_values(in_force) -> dict[str, object]:
    return {key: rules.value_text(rule.value) if isinstance(rule.value, bool) else rule.value
            for key, rule in in_force.by_key.items()}


def _changed_keys(sheet: str, old: dict, new: dict) -> list[CellChange]:
    return [CellChange(sheet, "", key, quoted(old.get(key)), quoted(new.get(key)), ("", ""))
            for key in dict.fromkeys([*old, *new]) if old.get(key) != new.get(key)]


def _changed_rows(sheet: Sheet, names, one, other) -> list[CellChange]:
    (inputs, old), (other_inputs, new) = one, other
    before, after = _by_name(old, names), _by_name(new, names)
    letters = tuple(letters_of(side.cells.get(sheet.name)) for side in (inputs, other_inputs))
    found = []
    for name in [*before, *(name for name in after if name not in before)]:
        rows = before.get(name), after.get(name)
        if None in rows:
            texts = ["" if row is None else f"row {row}" for row in rows]
            found.append(CellChange(sheet.name, _shown_name(name), ROW, *texts, ("", "")))
            continue
        for key in sheet.by_key:
            values = old.at[rows[0], key], new.at[rows[1], key]
            if not _is_same(*values):
                places = tuple(f"{sheet.name}!{of[key]}{row}" if key in of else ""
                               for of, row in zip(letters, rows))
                found.append(CellChange(sheet.name, _shown_name(name), key,
                                        *(_text(value) for value in values), places))
    return found


def _by_name(table: pd.DataFrame, names) -> dict[tuple, int]:
    """Name with the number of its occurrence -> Excel row."""
    rows, seen = {}, {}
    for row, name in zip(table.index, table[list(names)].itertuples(index=False, name=None)):
        name = tuple(_text(part) for part in name)
        seen[name] = seen.get(name, 0) + 1
        rows[*name, seen[name]] = row
    return rows


def _shown_name(name) -> str:
    return " ".join(part for part in name[:-1] if part)


def _is_same(one, other) -> bool:
    if _is_unknown(one) or _is_unknown(other):
        return _is_unknown(one) and _is_unknown(other)
    if isinstance(one, (int, float)) and isinstance(other, (int, float)):
        return bool(np.isclose(one, other, rtol=CLOSE, atol=0))
    return one == other


def _is_unknown(value) -> bool:
    return value is None or value != value


def _text(value) -> str:
    if _is_unknown(value):
        return ""
    return f"{value:.12g}" if isinstance(value, (int, float)) else str(value)
