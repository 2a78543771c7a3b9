"""Why no set keeps all limits: the smallest conflict of farms that must be funded, in words."""

from dataclasses import replace

import numpy as np

from batch.portfolio.exact_set import best_selection
from batch.portfolio.settled_ranking import CENTS
from batch.program.best_set import Asked, best_set
from batch.program.set_limits import ACCOUNT_CAP, CEILING, FEEDERS, STOCK, told_limit

BUDGET = "budget"


def conflict(asked: Asked) -> str:
    """The least farms that must be funded and do not fit together, what they take, and what is
    missing: a deletion filter leaves out one limit after the other, then one farm, where the rest
    does not fit either.

    Sources: Chinneck, "Feasibility and Infeasibility in Optimization" (cited from memory).
    """
    needed = [row for k in asked.must_lines for row in asked.farms_of(k, asked.must_of(k))]
    # Budgets are left out last, so that money is named where it is enough to name it.
    limits = [limit.row.name for limit in asked.limits] + [BUDGET]
    for name in list(limits):
        rest = [other for other in limits if other != name]
        if not _fits(asked, needed, rest):
            limits = rest
    for row in list(needed):
        rest = [other for other in needed if other != row]
        if not _fits(asked, rest, limits):
            needed = rest
    names = sorted(asked.names_of(needed))
    is_one = len(names) == 1
    told = f"The must-fund {'farm' if is_one else 'farms'} " + (
        names[0] if is_one else f"{', '.join(names[:-1])} and {names[-1]}")
    if not limits:
        return (f"{told} {'does' if is_one else 'do'} not qualify in one set, whatever the limits, "
                f"or the goal is not known of {'it' if is_one else 'them'}. Mend the "
                f"{'farm' if is_one else 'farms'}, or release {'it' if is_one else 'one'}.")
    least = _with_must(asked, needed)
    missing = limits[-1]
    taken = _least(least, missing, limits[:-1])
    if len(limits) > 1:
        return _of_several(least, taken, f"{told} keep{'s' if is_one else ''}", limits)
    if missing == BUDGET:
        return _of_money(least, taken, told, "it" if is_one else "one")
    [limit] = [limit for limit in least.limits if limit.row.name == missing]
    return _of_limit(limit, taken, told, "it" if is_one else "one")


def _with_must(asked, rows) -> Asked:
    """The same question with fewer farms that must be funded."""
    return replace(asked, must=frozenset(rows))


def _fits(asked, rows, limits) -> bool:
    """Whether some set holds these farms within these limits."""
    budget_cents = (asked.budget_cents if BUDGET in limits
                    else np.full(len(asked.budget_cents), np.inf))
    others = {limit.row.name for limit in asked.limits} - set(limits)
    return best_set(_with_must(asked, rows), budget_cents=budget_cents,
                    without=others)[0].is_feasible


def _least(asked, missing, limits) -> np.ndarray:
    """Of the sets that hold all farms that must be funded and keep the other limits, the
    configurations of the one that takes least of what is missing (k,)."""
    every = asked.configurations
    uses = {BUDGET: every["budget_cents"].to_numpy(float),
            **{limit.row.name: limit.row.uses for limit in asked.limits}}
    must = asked.must_lines
    may = (every["has_must"] | ~every["line"].isin(must)).to_numpy(bool) & asked.is_known
    found = best_selection(
        value=-uses[missing][may], line=every["line"][may], must=must,
        limits=[replace(limit.row, uses=limit.row.uses[may]) for limit in asked.limits
                if limit.row.name in limits])
    return np.flatnonzero(may)[found.year >= 0]


def _of_money(asked, taken, farms, one):
    cost = asked.configurations["budget_cents"].to_numpy(float)[taken].sum() / CENTS
    budget = asked.budget_cents.sum() / CENTS
    takes = "costs" if one == "it" else "cost"
    together = "" if one == "it" else " together"
    what = "budget is" if len(asked.budget_cents) == 1 else "budgets of all years are"
    if cost <= budget:
        return (f"{farms} {takes} {cost:,.2f} USD{together}, which no order of years fits into the "
                f"budgets of {budget:,.2f} USD. Shift a budget, or release {one}.")
    return (f"{farms} {takes} {cost:,.2f} USD{together}; the {what} {budget:,.2f} USD. Add "
            f"{cost - budget:,.2f} USD, or release {one}.")


def _of_limit(limit, taken, farms, one):
    has, short = limit.used(taken), _short(limit, taken)
    together = "" if one == "it" else " together"
    if limit.family == FEEDERS:
        put = "puts" if one == "it" else "together put"
        return (f"{farms} {put} {has:,.1f} kW on {limit.row.name}; {limit.allowed:,.1f} kW are "
                f"spare. Free {short:,.1f} kW, or release {one}.")
    if limit.family == STOCK:
        takes = "takes" if one == "it" else "together take"
        return (f"{farms} {takes} {has:,.7g} {limit.unit} of {limit.row.name}; "
                f"{limit.allowed:,.7g} {limit.unit} are available. Provide for {short:,.7g} "
                f"{limit.unit} more, or release {one}.")
    if limit.family == ACCOUNT_CAP:
        takes = "costs" if one == "it" else "cost"
        return (f"{farms} {takes} {has:,.2f} USD{together}, all of {limit.row.name}; the cap of an "
                f"account is {limit.allowed:,.2f} USD. Raise it by {short:,.2f} USD, or release "
                f"{one}.")
    if limit.family == CEILING:
        return (f"{farms} and whatever others stay above {limit.allowed:,.2f} USD/kW: the nearest "
                f"set, at {has:,.2f} USD/kW, costs {short:,.2f} USD too much. Raise the rule "
                f"{limit.family}, or release {one}.")
    return (f"{farms} and whatever others stay below {told_limit(limit)}: the nearest set, at "
            f"{has:.4f}, lacks {short:,.2f} USD of benefits. Lower the rule {limit.family}, or "
            f"release {one}.")


def _short(limit, taken) -> float:
    """What is missing [USD, kW or the unit of a stock]."""
    return float((limit.row.uses[taken].sum() - limit.row.at_most) / limit.row.unit)


def _of_several(asked, taken, farms, limits):
    """Where only several limits together are too narrow: what the last of them lacks."""
    names = [name if name == BUDGET else name.replace(",", "") for name in limits]
    if limits[-1] == BUDGET:
        spent = asked.configurations["budget_cents"].to_numpy(float)[taken].sum()
        short, unit = (spent - asked.budget_cents.sum()) / CENTS, "USD"
    else:
        [limit] = [limit for limit in asked.limits if limit.row.name == limits[-1]]
        unit = limit.unit if limit.family in (FEEDERS, STOCK) else "USD"
        short = _short(limit, taken)
    lacks = (f"Where the others hold, {short:,.2f} {unit} are missing of the last. "
             if short > 0 else "")
    return (f"{farms} each of these, and not all at once: {'; '.join(names)}. {lacks}Widen "
            "one, or release a farm.")
