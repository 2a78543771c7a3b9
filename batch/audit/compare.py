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
    # Both are read before either is studied, so that a file that is none is told at once.
    first, second = (_studied(*read) for read in [_read(one), _read(other)])
    return Comparison(first, second, input_changes(first.inputs, second.inputs),
                      differences(first.standing, second.standing), bridge(first, second))


def bridge(one: Side, other: Side) -> list[Step]:
    """Totals from the first side to the second, one cause after the other, each computed anew:
    program, then inputs, prices and rates, rules, then program again where the second side was
    written by another one. What a cause adds depends on the order, which is always this one."""
    a, b = one.inputs, other.inputs
    # What is alike on both sides needs no study of its own.
    by_rules = other.computed if a.rules == b.rules else _computed(replace(b, rules=a.rules))
    steps = [Step("as it stands", totals(one.standing)), Step(one.own_cause, totals(one.computed))]
    rates_taken = b.candidates.loc[~b.has_error, "rate_id"].dropna()
    if set(rates_taken) <= set(a.rates["rate_id"]):
        has_same_prices = a.unit_costs.equals(b.unit_costs) and a.rates.equals(b.rates)
        by_inputs = by_rules if has_same_prices else _computed(
            replace(b, rules=a.rules, unit_costs=a.unit_costs, rates=a.rates))
        steps.append(Step(INPUTS, totals(by_inputs)))
        steps.append(Step(PRICES, totals(by_rules)))
    else:  # the farms of the second side take service under rates that the first does not list
        steps.append(Step(f"{INPUTS}, {PRICES}", totals(by_rules)))
    return [*steps, Step(RULES, totals(other.computed)),
            Step(other.own_cause, totals(other.standing))]


def _read(path: str | Path):
    """Path, inputs, the results that stand there or None, and what is odd about them."""
    path = Path(path)
    source = path if path.is_dir() else check_file(path)
    if not path.is_dir() and not holds_results(source):
        return path, validate(source), None, []
    found = gather(source)
    return path, found.inputs, found.results, found.changes


def _studied(path, inputs, standing, changes) -> Side:
    computed = _computed(inputs)
    return Side(path, inputs, computed if standing is None else standing, computed, changes)


def _computed(inputs: Inputs) -> pd.DataFrame:
    """Results in canonical text; the inputs' own findings stay as they are."""
    fresh = replace(inputs, findings=Findings(list(inputs.findings.rows)))
    return canonical_frame(run_study(fresh).results, RESULTS.columns)
