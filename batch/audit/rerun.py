"""The re-run: compute a result again from what it carries, and trace every difference."""

from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from batch import rules
from batch.audit import evidence
from batch.audit.answers import GRAVE, Difference, answers_by_candidate, differences, keys_apart
from batch.audit.evidence import Evidence, gather
from batch.audit.totals import totals
from batch.canonical import canonical_frame
from batch.columns import RATES, RESULTS, UNIT_COSTS
from batch.findings import StudyError
from batch.reading.cells import read_workbook
from batch.reading.validate import validate_cells
from batch.study import run_study

UNTRACED = "not traced: nothing that is recorded has changed"


@dataclass
class Rerun:
    """A stored result against the same study computed now.

    `under` names the other rules or prices, blank where the result's own were used. `old` and
    `new` are results in canonical text; `answers` hold the gravest answer by candidate.
    """

    evidence: Evidence
    under: str
    old: pd.DataFrame
    new: pd.DataFrame
    differences: list[Difference]
    answers: dict[str, str]

    @property
    def is_same(self) -> bool:
        """No decision or value differs, and nothing was changed since the result was written."""
        is_clean = bool(self.under) or not self.evidence.is_tampered
        return is_clean and not any(answer in GRAVE for answer in self.answers.values())

    @property
    def keys_apart(self) -> tuple[list[str], list[str]]:
        """Keys that only the stored results have, and keys that only the new ones have."""
        return keys_apart(self.old, self.new)

    @property
    def totals(self) -> dict[str, tuple[float, float]]:
        """Each total as stored and as computed now."""
        old, new = totals(self.old), totals(self.new)
        return {name: (old[name], new[name]) for name in old}


def rerun(path: str | Path, rules_year: int | None = None,
          prices: str | Path | None = None) -> Rerun:
    """Compute a run folder or result workbook again, on request under the rules of another year
    or with the Unit costs and Rates of another workbook.

    Errors: StudyError where it cannot be computed again, with what is missing.
    """
    found = gather(path)
    inputs, under = found.inputs, []
    if prices is not None:
        inputs = replace(with_prices(inputs, prices), rules=inputs.rules)
        under.append(f"the prices and rates of {Path(prices).name}")
    if rules_year is not None:
        changed = sum(rule.origin != rules.YEAR for rule in inputs.rules.by_key.values())
        inputs = replace(inputs, rules=rules.load(rules_year))
        under.append(f"the rules of {rules_year}" + (
            f", without the {changed} that its own workbook or scenario changed" if changed
            else ""))
    new = canonical_frame(run_study(inputs).results, RESULTS.columns)
    old, under = found.results, " and ".join(under)
    traced = [replace(d, reason=under or _reason(d, found)) for d in differences(old, new)]
    return Rerun(found, under, old, new, traced, answers_by_candidate(new, traced))


def with_prices(inputs, prices: str | Path):
    """The same study with the Unit costs and Rates of another workbook. A candidate whose rate is
    not among the other rates is not assessed.

    Errors: StudyError where one of the workbooks cannot be read.
    """
    by_sheet, other = dict(inputs.workbook.by_sheet), read_workbook(prices)
    for sheet in (UNIT_COSTS, RATES):
        if sheet.name not in other.by_sheet:
            raise StudyError(f"The workbook '{prices}' has no sheet '{sheet.name}'.",
                             "Name a workbook with Unit costs and Rates.")
        by_sheet[sheet.name] = other.by_sheet[sheet.name]
    return validate_cells(replace(inputs.workbook, by_sheet=by_sheet), inputs.path)


def _reason(difference: Difference, found: Evidence) -> str:
    """The recorded change that is nearest to a difference: the result's own cell, the farm's row,
    a rule, another input, then what belongs to the program."""
    stored, row = found.stored, difference.old_row
    if row in stored.results.index and difference.key in stored.results:
        own_cell = stored.result_place(row, difference.key)
        for change in found.of_kind(evidence.RESULT_CELL):
            if change.place == own_cell:
                return f"changed result: {change.text}"
        excel_row = stored.results.loc[row].get("excel_row", "")
        mine = [c for c in found.of_kind(evidence.INPUT)
                if c.place.startswith("Candidates!")
                and "".join(filter(str.isdigit, c.place)) == excel_row]
        if mine:
            return f"changed input: {_texts(mine)}"
    for kind, words in ((evidence.RULE, "changed rule"), (evidence.INPUT, "changed input"),
                        (evidence.RESULT_CELL, "changed result"),
                        (evidence.FILE, "changed file"), (evidence.TABLE, "changed table"),
                        (evidence.DICTIONARY, "changed dictionary"),
                        (evidence.PROGRAM, "changed program version"),
                        (evidence.LIBRARY, "changed library version")):
        changes = found.of_kind(kind)
        if changes:
            return f"{words}: {_texts(changes)}"
    return UNTRACED


def _texts(changes) -> str:
    more = f" and {len(changes) - 3} more" if len(changes) > 3 else ""
    return "; ".join(change.text for change in changes[:3]) + more
