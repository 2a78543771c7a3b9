"""What limits a set of farms as a whole beside the budget: feeders, crews and stock, and what the
rules ask of it.

Money is held in whole cents, load in whole watts, a ratio and what there is of crews and stock to
the fourth decimal, so that no limit is missed or passed by rounding.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from batch.portfolio.exact_set import Limit
from batch.portfolio.settled_ranking import CENTS, WATTS, whole_cents, whole_watts
from batch.reading.cell_text import looks_of_name

RATIO = 10_000  # in a ratio of 1
OF_STOCK = 10_000  # in a unit of crews and stock
FEEDERS, CEILING, ACCOUNT_CAP = "feeders", "usd_per_kw_ceiling", "member_account_cap_usd"
STOCK = "stock"
FLOORS = {"ratepayer_ratio_floor": "ratepayer", "total_resource_ratio_floor": "total_resource"}
RULES = (*FLOORS, CEILING, ACCOUNT_CAP)  # each is off at 0
IN_WORDS = {FEEDERS: "capacity of feeders", "ratepayer_ratio_floor": "ratepayer ratio, at least",
            "total_resource_ratio_floor": "total resource ratio, at least",
            CEILING: "incentive cost per kW, at most", ACCOUNT_CAP: "cap of member accounts",
            STOCK: "crews and stock"}


@dataclass(frozen=True)
class SetLimit:
    """A limit with what a reader is told of it: `family` is FEEDERS, STOCK or the rule's key,
    `allowed` as it was given; what a set has is the sum of `over` (k,), by that of `under` where
    given."""

    row: Limit
    family: str
    allowed: float
    unit: str
    over: np.ndarray
    under: np.ndarray | None = None

    def used(self, taken) -> float:
        """What the taken configurations have of it together."""
        over = self.over[taken].sum()
        if self.under is None:
            return float(over)
        under = self.under[taken].sum()
        return float(over / under) if under > 0 else np.nan


def told_limit(limit: SetLimit) -> str:
    """A ratio or cost per kW that the rules ask of a set, in words."""
    if limit.family == CEILING:
        return f"at most {limit.allowed:,.2f} USD/kW"
    return f"a {limit.row.name.partition(',')[0]} of {limit.allowed:g}"


def rules_in_force(rules) -> dict:
    """The rules of a set as a whole that are not off."""
    return {key: rules[key] for key in RULES if rules[key] > 0}


def accounts_of(candidates: pd.DataFrame) -> pd.Series:
    """The account of each farm, by row; a farm whose cell is blank is an account of its own. Names
    that only look different are one."""
    own = "of " + candidates["candidate_id"].astype(str)
    named = candidates["member_account"].dropna()
    first = named.groupby(named.map(looks_of_name)).transform("first")
    return first.reindex(candidates.index).fillna(own)


def limits_of(asked, every: pd.DataFrame) -> list[SetLimit]:
    """The limits of a question beside its budgets, on the configurations `every`."""
    flat, at = asked.farms_behind(every)
    rows = asked.sets.chosen.loc[flat]

    def total(values):
        return np.bincount(at, weights=values, minlength=len(every))

    return [*_feeders(asked, rows, total), *_stock(asked, flat, total),
            *_floors(asked, rows, total), *_ceiling(asked, every),
            *_account_caps(asked, rows, at, every)]


def _feeders(asked, rows, total):
    watts = whole_watts(rows["added_load_kw"].to_numpy(float) * asked.coincidence)
    for feeder, spare, room in zip(asked.feeders["feeder_id"], asked.feeders["spare_capacity_kw"],
                                   asked.feeder_room):
        uses = total(np.where(rows["feeder_id"] == feeder, watts, 0.0))
        yield SetLimit(Limit(f"feeder {feeder}", uses, room, WATTS), FEEDERS, spare, "kW",
                       uses / WATTS)


def _stock(asked, flat, total):
    """What a set takes of each row of the Limits sheet."""
    if not asked.stock or not asked.stock.rows:
        return
    at = asked.sets.chosen.index.get_indexer(flat)
    for row, taken in zip(asked.stock.rows, asked.stock.amounts(asked.sets.chosen)):
        uses = np.round(total(taken[at]) * OF_STOCK)
        room = np.floor(row.available * OF_STOCK + 1e-3)
        yield SetLimit(Limit(name_of_stock(row.name), uses, room, OF_STOCK), STOCK, row.available,
                       row.unit, uses / OF_STOCK)


def name_of_stock(name: str) -> str:
    """What the limit of a row of the Limits sheet is called among the limits."""
    return f"limit {name}"


def _floors(asked, rows, total):
    """Benefits over costs of a set are at least the floor: floor x costs - benefits <= 0."""
    for rule, test in FLOORS.items():
        if rule not in asked.rules:
            continue
        benefits, costs = (total(whole_cents(rows[f"{test}_{side}_usd"]))
                           for side in ("benefits", "costs"))
        uses = np.round(asked.rules[rule] * RATIO) * costs - RATIO * benefits
        yield SetLimit(Limit(IN_WORDS[rule], uses, 0.0, CENTS * RATIO), rule, asked.rules[rule],
                       "", benefits, costs)


def _ceiling(asked, every):
    """Cost over counted load of a set is at most the ceiling: cost - ceiling x load <= 0."""
    if CEILING in asked.rules:
        cents, watts = every["cents"].to_numpy(float), every["watts"].to_numpy(float)
        uses = WATTS * cents - np.round(asked.rules[CEILING] * CENTS) * watts
        yield SetLimit(Limit(IN_WORDS[CEILING], uses, 0.0, WATTS * CENTS), CEILING,
                       asked.rules[CEILING], "USD/kW", cents / CENTS, watts / WATTS)


def _account_caps(asked, rows, at, every):
    """The caps that farms of an account could exceed together."""
    if ACCOUNT_CAP not in asked.rules:
        return
    cap = asked.rules[ACCOUNT_CAP]
    cents = pd.DataFrame({
        "account": asked.accounts.reindex(rows["farm_row"]).to_numpy(object), "at": at,
        "cents": whole_cents(rows["incentive_cost_usd"])})
    cents = cents.groupby(["account", "at"], as_index=False)["cents"].sum()
    cents["line"] = every["line"].to_numpy()[cents["at"]]
    most = cents.groupby(["account", "line"])["cents"].max().groupby("account").sum()
    for account in most.index[most > cap * CENTS]:
        mine = cents[cents["account"] == account]
        uses = np.zeros(len(every))
        uses[mine["at"]] = mine["cents"]
        yield SetLimit(Limit(f"account {account}", uses, np.floor(cap * CENTS + 1e-3), CENTS),
                       ACCOUNT_CAP, cap, "USD", uses / CENTS)
