"""Why no set keeps all limits: the smallest conflict of farms that must be funded, in words."""

from dataclasses import replace

import numpy as np
import pandas as pd

from batch.portfolio.exact_set import best_selection
from batch.portfolio.settled_ranking import CENTS, WATTS
from batch.program.best_set import Asked, best_set


def conflict(asked: Asked) -> str:
    """The least farms that must be funded and do not fit together, what they take, and what is
    missing: a deletion filter drops one after the other where the rest do not fit either.

    Sources: Chinneck, "Feasibility and Infeasibility in Optimization" (cited from memory).
    """
    def fits(rows, **more):
        return best_set(_with_must(asked, rows), budget_cents=asked.budget_cents,
                        **more)[0].is_feasible

    needed = [row for k in asked.must_lines for row in asked.farms_of(k, asked.must_of(k))]
    is_money = not fits(needed, with_feeders=False)
    for row in list(needed):
        rest = [other for other in needed if other != row]
        if not fits(rest, with_feeders=not is_money):
            needed = rest
    least = _with_must(asked, needed)
    names = sorted(least.names_of(needed))
    is_one = len(names) == 1
    told = f"The must-fund {'farm' if is_one else 'farms'} " + (
        names[0] if is_one else f"{', '.join(names[:-1])} and {names[-1]}")
    return (_of_money if is_money else _of_feeders)(
        asked, _least_cost(least), told, "it" if is_one else "one")


def _with_must(asked, rows) -> Asked:
    """The same question with fewer farms that must be funded."""
    return replace(asked, must=frozenset(rows))


def _least_cost(asked) -> pd.DataFrame:
    """The cheapest sets that hold all farms that must be funded."""
    every = asked.configurations
    every = every[every["has_must"] & every["line"].isin(asked.must_lines)]
    found = best_selection(value=-every["cents"], line=every["line"], limits=[],
                           must=asked.must_lines)
    return every[found.year >= 0]


def _of_money(asked, taken, farms, one):
    cost, budget = taken["cents"].sum() / CENTS, asked.budget_cents.sum() / CENTS
    takes = "costs" if one == "it" else "cost"
    together = "" if one == "it" else " together"
    what = "budget is" if len(asked.budget_cents) == 1 else "budgets of all years are"
    if cost <= budget:
        return (f"{farms} {takes} {cost:,.2f} USD{together}, which no order of years fits into the "
                f"budgets of {budget:,.2f} USD. Shift a budget, or release {one}.")
    return (f"{farms} {takes} {cost:,.2f} USD{together}; the {what} {budget:,.2f} USD. Add "
            f"{cost - budget:,.2f} USD, or release {one}.")


def _of_feeders(asked, taken, farms, one):
    loads = asked.loads[taken.index].sum(axis=0)
    over = loads - asked.feeder_room
    k = int(np.argmax(over))
    name, room = asked.feeders["feeder_id"].iloc[k], asked.feeder_room[k] / WATTS
    put = "puts" if one == "it" else "together put"
    return (f"{farms} {put} {loads[k] / WATTS:,.1f} kW on feeder {name}; {room:,.1f} kW are spare. "
            f"Free {max(over[k], 0) / WATTS:,.1f} kW, or release {one}.")
