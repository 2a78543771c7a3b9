"""Futures of a set: in each drawn future the money and the verdicts of exactly its farms again."""

import numpy as np
import pandas as pd

from batch.columns.portfolio import SET_FUTURES
from batch.portfolio import uncertainty
from batch.portfolio.uncertainty import BINARY_TAIL_USD, CONSTRUCTION, PERCENTILES
from batch.program import futures
from batch.program.budgeting import BEST_WITHIN
from batch.program.choosing import asks_for_member_npv
from batch.program.futures import COOPERATIVE, COST_FACTORS, MEMBER, SECOND
from batch.program.set_groups import counted_by_budget

FUNDED = "funded farms"
CENT = 0.01


def of_sets(funding, inputs, draws: int) -> tuple[pd.DataFrame, pd.Series]:
    """A row for the funded farms, and for the best set where that is another one; and by the
    funded farms' rows the chance that each still qualifies [%]."""
    wanted = {FUNDED: (funding.funded_sets, funding.funded)}
    best = tuple(sorted(funding.year_by.get(BEST_WITHIN, {})))
    if best and best != funding.funded:
        wanted[BEST_WITHIN] = funding.best_sets, best
    rows, chance = [], pd.Series(dtype=float)
    for name, (sets, members) in wanted.items() if draws else ():
        if not members:
            continue
        farms = sets.rows_of(list(members)).sort_values("candidate_id", kind="stable")
        cost, worth, still = drawn(farms, inputs, draws)
        way = funding.by if name == FUNDED else name
        rows.append(_row(name, farms, cost, worth, still, funding.held_to_usd(way)))
        if name == FUNDED:
            chance = pd.Series(100.0 * still.mean(axis=1), farms.index)
    return pd.DataFrame(rows, columns=list(SET_FUTURES.by_key)), chance


def drawn(farms: pd.DataFrame, inputs, draws: int):
    """What the budget counts of each farm of a set in each future, what member and cooperative
    together are worth [USD], and whether the farm still qualifies: arrays (farms, draws).

    The farms are as exactly their set makes them, in the order of their names. Costs are shared
    and granted anew in each future; what hangs on sizes stays. Of a shared line each farm's part
    goes with its own draw of construction cost.
    """
    rules, nobody = inputs.rules, np.zeros(len(farms), bool)
    by_hours, by_cost = futures.worth_by_drivers(farms, nobody, inputs)
    factors = futures.draws_of(farms, rules, draws)
    cost = futures.flat(COST_FACTORS, by_cost.incentive_cost).at(
        factors.of(CONSTRUCTION, slice(None)))
    counted = cost + (counted_by_budget(farms, rules) - farms["incentive_cost_usd"]).to_numpy()[
        :, np.newaxis]
    npv = {party: uncertainty.values_of(
        futures.npv_responses(by_hours, by_cost, party), SECOND[party][0], factors)
        for party in (MEMBER, COOPERATIVE)}
    still, _ = uncertainty.holds(spare=futures.spare_of(by_hours, by_cost, COOPERATIVE),
                                 second=SECOND[COOPERATIVE][0], draws=factors)
    if asks_for_member_npv(rules):
        still &= ~(npv[MEMBER] < rules["member_npv_floor_usd"] - BINARY_TAIL_USD)
    return counted, npv[MEMBER] + npv[COOPERATIVE], still


def _row(name, farms, cost, worth, still, budget):
    spent, gone = cost.sum(axis=0), (~still).sum(axis=0)
    row = {"set": name, "farms": float(len(farms)), "futures": float(cost.shape[1]),
           "budget_usd": budget,
           "budget_chance_pct": np.nan if np.isnan(budget) or np.isnan(spent).any() else
           100.0 * (np.round(spent, 2) <= budget + CENT / 2).mean(),
           "all_qualify_chance_pct": 100.0 * (gone == 0).mean(),
           "farms_lost_p90": float(np.percentile(gone, 90, method="higher"))}
    for key, values in (("incentive_cost", spent), ("together_npv", worth.sum(axis=0))):
        points = np.percentile(values, PERCENTILES)
        row |= {f"{key}_p{point}_usd": usd for point, usd in zip(PERCENTILES, points)}
    return row
