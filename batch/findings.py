"""Findings: what is wrong, or worth saying, about one cell, row or study. Data, never loose text.

The catalogue in `finding_kinds.py` fixes what each slug means. `judge` is the only place where a
computed value is held against a limit.
"""

from collections import Counter
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from batch.finding_kinds import CATALOGUE, ERROR, NOTE, WATCH
from batch.study_error import Stops as Stops
from batch.study_error import StudyError as StudyError

MEETS, FAILS, NOT_ASSESSED = "meets", "fails", "not assessed"
COLUMNS = ("sheet", "row", "column", "slug", "severity", "value", "limit", "message",
           "candidate_id", "key")
# The order in which findings are listed, wherever they are: errors, watches, notes; of each those
# first that decide most. An error on another sheet than Candidates may keep many farms out of the
# study, so that it stands before those of single farms.
DECIDES = {
    "which farms are assessed": (
        "price-missing", "beyond-table", "waveform-unsettled", "scenario-changed", "rule-changed"),
    "which farms get money": (
        "budget-set-impossible", "set-limit-unmet", "must-fund-unranked", "account-blank",
        "budget-overcommitted", "approval-without-amount", "approval-expired",
        "history-impossible", "rules-year-unused", "delivered-unknown-farm", "delivered-twice",
        "delivered-without-service", "meter-unlikely",
        "known-too-little", "nothing-meets", "asked-option-fails", "no-added-load",
        "no-useful-load", "line-sets-limited", "limit-exceeded", "feeder-over-capacity"),
    "who pays how much": (
        "incentive-differs", "share-above-farm-cap", "shared-line-incomplete",
        "line-counted-twice", "fuel-price-missing", "comparison-unknown", "cost-year-old",
        "price-step-ignored", "quotation-unused", "engine-life-missing", "lead-unknown",
        "lead-length-assumed", "key-unknown", "scenario-unusable", "scenario-without-effect"),
    "how large the supply is": (
        "motor-below-shaft-power", "motor-oversized", "nameplate-current", "nameplate-above-table",
        "pivot-nameplate-current", "present-demand-unlikely", "present-demand-ignored",
        "list-unlike-survey", "hours-against-depth", "month-hours", "fuel-against-criteria",
        "fuel-use-against-rate",
        "generator-below-load", "fraction-for-percent", "unusual-value", "flow-per-acre",
        "pipe-velocity", "towers-against-length", "defaults-taken"),
    "what remains to be studied": (
        "feeder-unbalanced", "feeder-unknown", "date-in-text-cell", "several-rates-of-return"),
}
SEVERITIES = (ERROR, WATCH, NOTE)
PLACE = {slug: place for place, slug in enumerate(
    slug for slugs in DECIDES.values() for slug in slugs)}


def place_of(finding: dict) -> tuple:
    """Where a finding stands in a list: by severity, then by what its kind decides; kinds that
    decide nothing last, those of one kind as they were made."""
    severity = finding["severity"]
    if severity == ERROR:
        return SEVERITIES.index(severity), finding["sheet"] == "Candidates"
    return SEVERITIES.index(severity), PLACE.get(finding["slug"], len(PLACE))


@dataclass
class Findings:
    """The findings of one study, in the order in which they were made."""

    rows: list[dict] = field(default_factory=list)

    def add(self, slug, message, *, sheet="", row=None, column="", key="", value="", limit="",
            candidate_id=""):
        """Add one finding; the remedy of its kind is put behind the message."""
        kind = CATALOGUE[slug]
        self.rows.append({
            "sheet": sheet, "row": row, "column": column, "slug": slug,
            "severity": kind.severity, "value": "" if value is None else str(value),
            "limit": "" if limit is None else str(limit),
            "message": f"{message} {kind.remedy}", "candidate_id": candidate_id, "key": key})

    def frame(self) -> pd.DataFrame:
        """All findings as a table, those first that decide most."""
        return pd.DataFrame(self.listed(), columns=list(COLUMNS), dtype=object)

    def listed(self) -> list[dict]:
        """All findings in the order in which they are listed."""
        return sorted(self.rows, key=place_of)

    def rows_with_errors(self, sheet: str) -> set[int]:
        """Excel rows of a sheet that carry an error."""
        return {f["row"] for f in self.rows
                if f["sheet"] == sheet and f["severity"] == ERROR and f["row"] is not None}

    def counts(self) -> dict[str, int]:
        """How many findings there are of each severity."""
        found = Counter(f["severity"] for f in self.rows)
        return {severity: found[severity] for severity in SEVERITIES}


def judge(value, *, at_most=None, at_least=None, watch_beyond=None, watch_value=None,
          strictest=None, loosest=None, unsure_by=0.0):
    """Hold values against a limit; an unknown value or limit is `not assessed`, never a pass.

    Parameters
    ----------
    value : array (n,) [any unit]
    at_most, at_least : array (n,) or scalar [same unit]; exactly one is given. A value equal to
        the limit meets it.
    watch_beyond : array (n,) or scalar [same unit]; beyond it, towards the limit, the answer is
        `watch`; None gives no such band.
    watch_value : array (n,) [same unit], a second value of the same thing: beyond the limit it
        makes a pass a `watch`.
    strictest, loosest : scalar [same unit], the bounds within which a row's own limit lies: where
        that is unknown, a value within the strictest meets it, and one beyond the loosest fails.
    unsure_by : array (n,) or scalar [same unit], how much better than a value that is a bound the
        truth may be: an excess that this explains is `not assessed`.

    Returns
    -------
    array (n,) of `meets`, `watch`, `fails`, `not assessed`
    """
    if (at_most is None) == (at_least is None):
        raise ValueError("give one of at_most and at_least")
    sign = 1.0 if at_least is None else -1.0
    value = np.asarray(value, dtype=float)
    limit = np.broadcast_to(np.asarray(at_most if at_least is None else at_least, float),
                            value.shape)
    advised = limit if watch_beyond is None else np.asarray(watch_beyond, float)
    second = value if watch_value is None else np.asarray(watch_value, float)
    with np.errstate(invalid="ignore"):
        for bound, holds in ((strictest, np.less_equal), (loosest, np.greater)):
            if bound is not None:
                is_sure = np.isnan(limit) & holds(sign * value, sign * bound)
                limit = np.where(is_sure, bound, limit)
                advised = np.where(is_sure & np.isnan(advised), bound, advised)
        beyond = sign * value > sign * limit
        unknown = np.isnan(value) | np.isnan(limit) | np.isnan(advised) | np.isnan(second)
        unknown |= beyond & ~(sign * value - unsure_by > sign * limit)
        is_close = (sign * value > sign * advised) | (sign * second > sign * limit)
        return np.select([unknown, beyond, is_close],
                         [NOT_ASSESSED, FAILS, WATCH], MEETS)
