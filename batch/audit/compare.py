"""Two runs or workbooks side by side, and the bridge of their totals by cause."""

from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from batch.audit.answers import GRAVE, Difference, differences
from batch.audit.cell_changes import CellChange, input_changes
from batch.audit.evidence import TAMPERING, Change, gather
from batch.audit.stored import holds_results
from batch.audit.totals import totals
from batch.canonical import canonical_frame
from batch.columns import RESULTS
from batch.findings import Findings
from batch.reading.guard import check_file
from batch.reading.validate import Inputs, validate
from batch.study import run_study

PROGRAM, INPUTS, PRICES, RULES = "program", "inputs", "prices and rates", "rules"
TAMPERED = "program, and what was changed since it was written"


@dataclass
class Side:
    """One of the two: its inputs, its results as they stand and as this program computes them."""

    path: Path
    inputs: Inputs
    standing: pd.DataFrame
    computed: pd.DataFrame
    changes: list[Change]

    @property
    def tampering(self) -> list[Change]:
        """What was changed in it since it was written."""
        return [change for change in self.changes if change.kind in TAMPERING]

    @property
    def own_cause(self) -> str:
        """Why it stands otherwise than this program computes it."""
        return TAMPERED if self.tampering else PROGRAM


@dataclass(frozen=True)
class Step:
    """The totals after one cause has been taken from the second side."""

    cause: str
    totals: dict[str, float]


@dataclass
class Comparison:
    """All that differs from the first side to the second."""

    one: Side
    other: Side
    cells: list[CellChange]
    differences: list[Difference]
    bridge: list[Step]

    @property
    def is_same(self) -> bool:
        """Neither an input nor a decision or value differs."""
        return not self.cells and not any(d.answer in GRAVE for d in self.differences)


def compare(one: str | Path, other: str | Path) -> Comparison:
    """Compare two input workbooks, result workbooks or run folders, in any pairing.

    Errors: StudyError where one of them cannot be studied.
    """
    first, second = _side(one), _side(other)
    return Comparison(first, second, input_changes(first.inputs, second.inputs),
                      differences(first.standing, second.standing), bridge(first, second))


def bridge(one: Side, other: Side) -> list[Step]:
    """Totals from the first side to the second, one cause after the other, each computed anew:
    program, then inputs, prices and rates, rules, then program again where the second side was
    written by another one. What a cause adds depends on the order, which is always this one."""
    a, b = one.inputs, other.inputs
    mixed = replace(b, rules=a.rules, unit_costs=a.unit_costs, rates=a.rates)
    steps = [Step("as it stands", totals(one.standing)), Step(one.own_cause, totals(one.computed))]
    # What does not differ between the sides needs no study of its own.
    with_rules = other.computed if a.rules == b.rules else _computed(replace(b, rules=a.rules))
    rates_taken = b.candidates.loc[~b.has_error, "rate_id"].dropna()
    if set(rates_taken) <= set(a.rates["rate_id"]):
        is_alike = a.unit_costs.equals(b.unit_costs) and a.rates.equals(b.rates)
        steps.append(Step(INPUTS, totals(with_rules if is_alike else _computed(mixed))))
        steps.append(Step(PRICES, totals(with_rules)))
    else:  # the farms of the second side take service under rates that the first does not list
        steps.append(Step(f"{INPUTS}, {PRICES}", totals(with_rules)))
    return [*steps, Step(RULES, totals(other.computed)),
            Step(other.own_cause, totals(other.standing))]


def _side(path: str | Path) -> Side:
    path = Path(path)
    source = path if path.is_dir() else check_file(path)
    if not path.is_dir() and not holds_results(source):
        inputs = validate(source)
        computed = _computed(inputs)
        return Side(path, inputs, computed, computed, [])
    found = gather(source)
    return Side(path, found.inputs, found.results, _computed(found.inputs), found.changes)


def _computed(inputs: Inputs) -> pd.DataFrame:
    """Results in canonical text; the inputs' own findings stay as they are."""
    fresh = replace(inputs, findings=Findings(list(inputs.findings.rows)))
    return canonical_frame(run_study(fresh).results, RESULTS.columns)
