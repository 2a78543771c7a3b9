"""Tables about sets of farms: every set farm by farm, the best beside the ranking's, other budgets,
and what a withdrawal does. Every figure is that of exactly the set."""

import numpy as np
import pandas as pd

from batch.columns.portfolio import (
    BUDGET_STEPS,
    EXCHANGED,
    OF_A_SET,
    SET_EXCHANGE,
    SET_FARMS,
    WITHDRAWALS,
)
from batch.portfolio.settled_ranking import CENTS
from batch.program.best_set import Asked, best_set, goal_key
from batch.program.budgeting import BEST_WITHIN, STOPS
from batch.program.set_groups import qualifies

ALL_RANKED = "all ranked farms"
STEPS_PCT = (50, 75, 90, 100, 110, 125, 150)
TOGETHER = "all together"


def _table(rows, sheet) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=list(sheet.by_key))


def all_of(funding, inputs) -> tuple:
    """The four tables."""
    return (set_farms(funding), set_exchange(funding, inputs), budget_steps(funding.searched),
            withdrawals(funding, inputs))


def set_farms(funding) -> pd.DataFrame:
    """A row for each way to choose and farm that it funds, and for all farms that are ranked."""
    years = funding.year_by | {ALL_RANKED: dict.fromkeys(funding.entered, 0)}
    parts = []
    for method, by_row in years.items():
        rows, sets = sorted(by_row), funding.sets_of(method)
        farms = sets.rows_of(rows)
        parts.append(farms[["candidate_id", *OF_A_SET]].assign(
            method=method, year=[by_row[row] + 1.0 for row in rows],
            builds_with=[sets.partners(row, rows) for row in rows]))
    return _table(pd.concat(parts, ignore_index=True), SET_FARMS)


def set_exchange(funding, inputs) -> pd.DataFrame:
    """The farms of which the best set and the ranking's set differ, then all together."""
    if not funding.best_is_known:
        return _table([], SET_EXCHANGE)
    of = goal_key(inputs.rules)
    ranking, best = (funding.sets_of(name).rows_of(sorted(funding.year_by[name]))
                     for name in (STOPS, BEST_WITHIN))
    rows = []
    for row in sorted(set(ranking.index) | set(best.index)):
        was, will = row in ranking.index, row in best.index
        figures = {key: (best.at[row, key] if will else 0.0) - (
            ranking.at[row, key] if was else 0.0) for key in EXCHANGED}
        if was and will and all(abs(change) < 0.005 for change in figures.values()):
            continue
        change = "enters" if will else "leaves"
        if was and will:
            is_same = ranking.at[row, "builders"] == best.at[row, "builders"]
            change = "other option" if is_same else "other builders"
        mine = (best if will else ranking).loc[row]
        cost = mine["incentive_cost_usd"] if was != will else 0.0
        rows.append({"candidate_id": mine["candidate_id"], "change": change, **figures,
                     "goal_per_usd": mine[of] / cost if cost > 0 else np.nan})
    if rows:
        rows.append({"candidate_id": TOGETHER, "change": "", "goal_per_usd": np.nan,
                     **{key: best[key].sum() - ranking[key].sum() for key in EXCHANGED}})
    return _table(rows, SET_EXCHANGE)


def budget_steps(asked: Asked) -> pd.DataFrame:
    """What other budgets of the first year would buy, each solved anew."""
    if not asked.has_budget:
        return _table([], BUDGET_STEPS)
    rows, before, names = [], set(), asked.sets.name_of_farm
    for pct in STEPS_PCT:
        cents = asked.budget_cents.copy()
        cents[0] = np.floor(cents[0] * pct / 100)
        found, taken = best_set(asked, budget_cents=cents)
        if not found.is_feasible:
            continue
        farms = set(asked.chosen(taken))
        spent = sum(asked.lines[k].added_budget_cents(0, number)
                    for k, (_, number) in taken.items())
        row = {"budget_usd": cents[0] / CENTS, "spent_usd": spent / CENTS, "farms": len(farms),
               "goal_value": found.value, "goal_per_usd": np.nan,
               "is_proven": float(found.is_proven), "enters": None, "leaves": None}
        if rows:
            more = row["spent_usd"] - rows[-1]["spent_usd"]
            row["goal_per_usd"] = ((found.value - rows[-1]["goal_value"]) / more
                                   if more else np.nan)
            row["enters"], row["leaves"] = (
                ", ".join(sorted(names[farm] for farm in some)) or None
                for some in (farms - before, before - farms))
        rows.append(row)
        before = farms
    return _table(rows, BUDGET_STEPS)


def withdrawals(funding, inputs) -> pd.DataFrame:
    """A row for each funded farm: what changes if it withdraws and the others stay."""
    of, sets = goal_key(inputs.rules), funding.funded_sets
    keys = dict.fromkeys(("candidate_id", "verdict", "funding_choice", "status",
                          "incentive_cost_usd", "cooperative_npv_usd", "line_cost_usd",
                          "member_npv_usd", of))
    rows = []
    for farm in funding.funded:
        mates = sets.mates(farm, funding.funded)
        before = sets.rows_of([*mates, farm], keys)
        after = sets.rows_of(mates, keys) if mates else None
        gone = before.loc[farm]
        row = {"candidate_id": gone["candidate_id"], "line_mates": None,
               "goal_change": -gone[of],
               "incentive_cost_change_usd": -gone["incentive_cost_usd"],
               "cooperative_npv_change_usd": -gone["cooperative_npv_usd"], "line_left_usd": 0.0,
               "worst_member_change_usd": 0.0, "no_longer_qualify": None}
        if mates:
            stay = before.loc[mates]
            row["line_mates"] = sets.partners(farm, funding.funded)
            for key, figure in (("goal_change", of),
                                ("incentive_cost_change_usd", "incentive_cost_usd"),
                                ("cooperative_npv_change_usd", "cooperative_npv_usd")):
                row[key] += (after[figure] - stay[figure]).sum(skipna=False)
            row["line_left_usd"] = (after["line_cost_usd"] - stay["line_cost_usd"]).sum()
            row["worst_member_change_usd"] = min(
                (after["member_npv_usd"] - stay["member_npv_usd"]).min(), 0.0)
            row["no_longer_qualify"] = ", ".join(
                after.loc[~qualifies(after), "candidate_id"]) or None
        rows.append(row)
    return _table(rows, WITHDRAWALS)
