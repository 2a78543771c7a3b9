"""Where applications stand: who builds for sure, who has left, and what of the budget is given
away.

What a status means for money, ranking, shared lines and feeders stands in
`batch/columns/candidates.py` (`STATUS_MEANS`).
"""

from dataclasses import replace

import numpy as np
import pandas as pd

from batch import rules

from batch.columns.candidates import APPROVED, BUILDING, GIVEN_UP, IN_SERVICE, STANDING
from batch.columns.study import BUDGETS
from batch.money.valuation import cash_flows

COMMITTED_WHILE = (APPROVED, BUILDING)


def is_standing(candidates: pd.DataFrame) -> pd.Series:
    """Farms that were approved and have not left: they build, whoever else does."""
    return candidates["status"].isin(STANDING)


def has_left(candidates: pd.DataFrame) -> pd.Series:
    """Farms that have withdrawn or were declined: they build with nobody."""
    return candidates["status"].isin(GIVEN_UP)


def rules_year_of(inputs, rows=slice(None)) -> pd.Series:
    """The program year by whose rules each candidate is judged, or some by their rows: an approved
    farm's own."""
    candidates = inputs.candidates.loc[rows]
    own = candidates["rules_year"].where(is_standing(candidates) & ~inputs.has_error.loc[rows])
    return own.fillna(inputs.rules.year).astype(int)


def by_rules(inputs) -> dict:
    """The inputs under the rules of each year that a candidate is judged by, the study's own last.
    What the Program sheet says is for the study's own year alone."""
    others = sorted(set(rules_year_of(inputs)) - {inputs.rules.year})
    return {year: replace(inputs, rules=rules.load(year)) for year in others} | {
        inputs.rules.year: inputs}


def rules_for(inputs, row: int):
    """The rules by which one candidate is judged, by its row."""
    year = int(rules_year_of(inputs, [row]).iloc[0])
    return inputs.rules if year == inputs.rules.year else rules.load(year)


def flows_of(options: pd.DataFrame, inputs) -> pd.DataFrame:
    """The yearly flows of options, each by its farm's rules, in the options' order."""
    year_of, parts = rules_year_of(inputs)[options["excel_row"]].to_numpy(), []
    for year, under in by_rules(inputs).items():
        place = np.flatnonzero(year_of == year)
        flows = cash_flows(options.iloc[place], under.rules)
        parts.append(flows.assign(place=np.repeat(place, len(flows) // max(len(place), 1))))
    return pd.concat(parts).sort_values(["place", "year"], kind="stable", ignore_index=True).drop(
        columns="place")


def approved_usd(candidates: pd.DataFrame) -> pd.Series:
    """What the budget was to pay for each farm when it was approved [USD]; NaN where neither the
    incentive nor the cooperative's cost is given."""
    given = candidates[["approved_incentive_usd", "approved_cooperative_usd"]]
    return given.sum(axis=1, min_count=1)


def committed_usd(candidates: pd.DataFrame) -> pd.Series:
    """What is promised to each farm and not yet paid [USD]; 0 where nothing is."""
    return approved_usd(candidates).where(candidates["status"].isin(COMMITTED_WHILE), 0.0).fillna(0)


def paid_usd(inputs) -> pd.Series:
    """What this program year has paid for each farm [USD]: what the Delivered sheet says of the
    year; else, of farms in service since then or at a date that is not given, what was approved."""
    candidates, delivered = inputs.candidates, inputs.delivered
    program_year = inputs.study["rules_year"]
    began = pd.to_numeric(candidates["in_service_date"].str[:4], errors="coerce")
    of_year = (candidates["status"] == IN_SERVICE) & (began.isna() | (began == program_year))
    parts = {}
    for of in ("incentive", "cooperative"):
        given = delivered.loc[delivered["program_year"] == program_year].groupby("candidate_id")[
            f"paid_{of}_usd"].sum(min_count=1)
        approved = candidates[f"approved_{of}_usd"].where(of_year)
        parts[of] = candidates["candidate_id"].map(given).astype(float).fillna(approved)
    return pd.DataFrame(parts).sum(axis=1)


def given_away_usd(inputs) -> float:
    """What is committed or paid of the first year's budget [USD]."""
    candidates = inputs.candidates
    return float((committed_usd(candidates) + paid_usd(inputs)).sum())


def budgets_usd(inputs) -> np.ndarray:
    """What the budget of each year has for farms that are funded now [USD]; none without a budget.
    The first year's is with what is carried in, and without what is given away."""
    given = [inputs.study[key] for key in BUDGETS]
    if given[0] is None:
        return np.empty(0)
    years = 1 + max(k for k, usd in enumerate(given) if usd is not None)
    out = np.array([usd or 0.0 for usd in given[:years]])
    carried_in = inputs.study["carried_in_usd"] or 0.0
    out[0] = max(round(out[0] + carried_in - given_away_usd(inputs), 2), 0.0)
    return out


def first_budget_usd(inputs) -> float | None:
    """The same of the first year alone; None without a budget."""
    return next(iter(budgets_usd(inputs)), None)
