"""Rows of the Limits sheet that can be held: what is wrong with another is told, and the study goes
on without it."""

import pandas as pd

from batch.columns import LIMITS
from batch.columns.limits import EACH, FOOT, Counted, counted, in_words, unit_of
from batch.columns.unit_costs import SIZE_UNITS
from batch.findings import Findings
from batch.reading.sheet_cells import SheetCells, letters_of

SAID_AS = {"feet": FOOT, "foot": FOOT, "piece": EACH, "pieces": EACH}


def usable_limits(limits: pd.DataFrame, unit_costs: pd.DataFrame, cells: SheetCells | None,
                  findings: Findings) -> pd.DataFrame:
    """The rows without a fault, their units as the ledger writes them."""
    letters = letters_of(cells)
    good = limits[~limits.index.isin(findings.rows_with_errors(LIMITS.name))]
    good = good.dropna(subset=list(LIMITS.by_key))  # a column that is missing is told by itself
    first: dict = {}
    kept = []
    for row, limit in good.iterrows():
        parts = counted(limit["counts"])
        fault = (_unit_fault(limit["unit"], parts) or _size_fault(parts, unit_costs)
                 or _repeat(parts, row, first))
        if fault:
            key, text = fault
            findings.add("limit-unusable", f"{LIMITS.name}!{letters.get(key, '')}{row}: {text}",
                         sheet=LIMITS.name, row=int(row), column=letters.get(key, ""), key=key,
                         value=limit[key])
        else:
            kept.append(row)
    kept = good.loc[kept]
    return kept.assign(unit=[_said(unit, counted(text))
                             for unit, text in zip(kept["unit"], kept["counts"])])


def _said(unit, parts):
    word = " ".join(unit.split()).casefold()
    return unit if not unit_of(parts) else SAID_AS.get(word, word)


def _unit_fault(unit, parts):
    """Why the parts are not counted in a unit; None where they are."""
    try:
        needed = unit_of(parts)
    except ValueError as fault:
        return "counts", f"{fault}."
    if needed and _said(unit, parts) != needed:
        return "unit", f"Unit is '{unit}', and what the row counts is counted in {needed}."
    return None


def _size_fault(parts, unit_costs):
    """A size that the price list has not, of an item whose every row has one."""
    for part in parts:
        sizes = unit_costs.loc[unit_costs["item"] == part.item, "size"]
        is_listed = sizes.isna().any() or (sizes == part.size).any()
        if part.size is not None and len(sizes) and not is_listed:
            listed = ", ".join(f"{size:g}" for size in sorted(sizes.unique()))
            return "counts", (f"Counts names {in_words(part.item, part.size)}; the price list has "
                              f"it of {listed} {SIZE_UNITS.get(part.item, 'hp')}.")
    return None


def _repeat(parts: tuple[Counted, ...], row, first):
    """An earlier row that counts the same."""
    earlier = first.setdefault(frozenset(parts), row)
    return None if earlier == row else (
        "counts", f"Counts names what row {earlier} already limits.")
