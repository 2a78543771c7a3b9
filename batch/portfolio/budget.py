"""The exact best set of farms within budgets, feeders and shared lines, and the plain ranking.

Farms that are taken all or none form a block; a farm on its own is a block of one. Money is
counted in whole cents and load in whole watts, so that no limit is missed or passed by rounding.
"""

from dataclasses import dataclass, replace
from itertools import count

import numpy as np

from batch.portfolio.zero_one import minimise

CENTS, WATTS = 100, 1000  # in a dollar, in a kilowatt
NEVER = -1
MOST_CUTS = 100


@dataclass(frozen=True)
class Selection:
    """`year` (n,): the 0-based program year in which each farm is funded, -1 not; `bound` is the
    best goal that could still exist, `goal_value` itself where that is proven. An impossible
    question has no goal value; where that is not proven, none was found."""

    year: np.ndarray
    goal_value: float
    bound: float
    is_proven: bool
    is_feasible: bool


@dataclass(frozen=True)
class Gain:
    """What lifting a limit would add to the goal: equal bounds where both sets are proven."""

    at_least: float
    at_most: float


def best_set(*, goal, cost_usd, budget_usd, load_kw=None, capacity_kw=None, group_code=None,
             must_fund=None, must_not_fund=None, year_weight=None) -> Selection:
    """The set of farms, and the year of each, with the largest total goal within all limits.

    Exact where `is_proven`; for thousands of farms the search may end at its limit of nodes with
    a set whose goal is below `bound` by a small part. Of several best sets it gives one, always
    the same for the same farms in the same order. Leaves out what farms do to one another beyond
    the limits given.

    Parameters
    ----------
    goal : array (n,) in any unit, may be negative
    cost_usd : array (n,) [USD], not negative, counted in whole cents
    budget_usd : array (y,) [USD] of each program year; infinite: no limit
    load_kw : array (n, m) [kW] on each of m limited things, not negative, counted in whole watts
    capacity_kw : array (m,) [kW] over all years together; NaN or infinite: no limit
    group_code : array (n,) of int; farms with one code are taken all or none, -1 alone
    must_fund, must_not_fund : masks (n,); a block is bound by any of its farms
    year_weight : array (y,) what a unit of goal is worth in each year; 1 if not given

    Returns
    -------
    Selection

    Equation: maximise sum goal_b w_y x_by, x_by 0 or 1, with sum_y x_by <= 1 for each block b
    (= 1 if it must be funded), sum_b cost_b x_by <= budget_y, sum_by load_bk x_by <= capacity_k
    Errors: ValueError for a goal, cost or load that is not known or a negative cost or load;
    RuntimeError if the solver's answer passes a limit.
    Sources: 0-1 multiple and multi-constraint knapsack; solver HiGHS through SciPy. Tested by:
    the collection KNAPSACK_01, an instance of Petersen (1967), and all subsets of small cases.
    """
    p = _Problem.of(goal, cost_usd, budget_usd, load_kw, capacity_kw, group_code, must_fund,
                    must_not_fund)
    goal, years = np.asarray(goal, float), len(p.budget)
    weight = np.ones(years) if year_weight is None else np.asarray(year_weight, float)
    if (p.must & p.must_not).any():
        return _impossible(p, True)
    worth = np.outer(weight, p.block_goal).ravel()
    if not worth.size:
        return _impossible(p, True) if p.must.any() else _selection(p, goal, weight, None)
    # Scaled by a power of two, so that the solver's absolute gap of 1e-6 is small beside a goal.
    scale = 2.0 ** (12 - np.ceil(np.log2(np.abs(worth).max() or 1.0)))
    answer = _within_limits(p, -worth * scale)
    if answer.x is None:
        return _impossible(p, answer.is_proven)
    found = _selection(p, goal, weight, answer.x.reshape(years, -1) > 0)
    if answer.is_proven:
        return found
    return replace(found, bound=max(-answer.bound / scale, found.goal_value), is_proven=False)


def in_order(*, order, cost_usd, budget_usd, skips_misfits, load_kw=None, capacity_kw=None,
             group_code=None, must_fund=None, must_not_fund=None) -> np.ndarray:
    """The program year of each farm if farms are taken down a ranking; -1 where not.

    A block stands at the place of its first farm, those that must be funded before all others.
    What does not fit into a year waits for the next. With `skips_misfits` smaller blocks behind a
    misfit are taken; without, a year's spending stops at the first block that costs more than is
    left. A block without room on its feeder is passed over either way, as no year makes room.

    Parameters
    ----------
    order : array (n,) rank numbers, least first; equal ones in the order given
    skips_misfits : bool
    others : as for `best_set`

    Returns
    -------
    array (n,) of int; blocks that must be funded and do not fit have -1

    Sources: the program's own rule. Tested by: published knapsacks worked in order of ratio.
    """
    p = _Problem.of(order, cost_usd, budget_usd, load_kw, capacity_kw, group_code, must_fund,
                    must_not_fund)
    first = np.full(p.must.shape, np.inf)
    np.minimum.at(first, p.block, np.asarray(order, float))
    place = np.full(p.must.shape, len(p.block))
    np.minimum.at(place, p.block, np.arange(len(p.block)))
    waiting = np.lexsort((place, first, ~p.must))
    waiting = waiting[~p.must_not[waiting]]
    year, room = np.full(p.must.shape, NEVER), p.capacity.copy()
    for y, budget in enumerate(p.budget):
        taken = _down_the_list(waiting, p, np.append(room, budget), skips_misfits)
        year[taken] = y
        room -= p.load[taken].sum(axis=0)
        waiting = waiting[year[waiting] == NEVER]
    return year[p.block]


def value_of_lifting(*, now, families, **question) -> dict[str, Gain]:
    """What the best set would gain if each family of limits were lifted, one at a time.

    Parameters
    ----------
    now : Selection, the best set with all limits
    families : dict of name -> keywords of `best_set` without that limit, for example
        {"feeders": {"capacity_kw": None}, "budget": {"budget_usd": [inf]}}
    question : all keywords of `best_set`

    Returns
    -------
    dict of name -> Gain in the goal's unit; unknown (NaN) where either set is impossible

    Sources: comparison of two exact optima, not the solver's marginal prices, which whole farms
    do not have.
    """
    gains = {}
    for name, without in families.items():
        lifted = best_set(**{**question, **without})
        gains[name] = Gain(float(np.maximum(lifted.goal_value - now.bound, 0.0)),
                           float(np.maximum(lifted.bound - now.goal_value, 0.0)))
    return gains


@dataclass(frozen=True)
class _Problem:
    """Blocks and limits in whole cents and watts. `block` (n,) is each farm's block."""

    block: np.ndarray
    block_goal: np.ndarray
    cost: np.ndarray
    budget: np.ndarray
    load: np.ndarray
    capacity: np.ndarray
    must: np.ndarray
    must_not: np.ndarray

    @classmethod
    def of(cls, goal, cost_usd, budget_usd, load_kw, capacity_kw, group_code, must, must_not):
        goal, cost_usd = np.asarray(goal, float), np.asarray(cost_usd, float)
        farms = len(goal)
        if load_kw is None or capacity_kw is None:
            load_kw, capacity_kw = np.zeros((farms, 0)), np.zeros(0)
        load_kw = np.asarray(load_kw, float).reshape(farms, np.size(capacity_kw))
        budget_usd = np.asarray(budget_usd, float)
        _refuse_unknown(goal, cost_usd, load_kw, budget_usd)
        block, blocks = _blocks(group_code, farms)

        def total(values):
            out = np.zeros((blocks, *values.shape[1:]))
            np.add.at(out, block, values)
            return out

        def either(mask):
            return total(np.zeros(farms) if mask is None else np.asarray(mask, float)) > 0

        # Limits are floored to whole units; what is short of one by rounding noise counts as one.
        return cls(block, total(goal), total(np.round(cost_usd * CENTS)),
                   np.floor(np.maximum(budget_usd, 0.0) * CENTS + 1e-3),
                   total(np.round(load_kw * WATTS)),
                   np.floor(np.nan_to_num(np.maximum(np.asarray(capacity_kw, float), 0.0),
                                          nan=np.inf, posinf=np.inf) * WATTS + 1e-3),
                   either(must), either(must_not))


def _refuse_unknown(goal, cost_usd, load_kw, budget_usd):
    for name, values in (("goal or order", goal), ("cost", cost_usd), ("load", load_kw)):
        if not np.isfinite(values).all():
            raise ValueError(f"a farm's {name} is not known: leave such farms out")
    if (cost_usd < 0).any() or (load_kw < 0).any():
        raise ValueError("a cost or load below zero")
    if np.isnan(budget_usd).any():
        raise ValueError("a year's budget is not known")


def _blocks(group_code, farms):
    """Each farm's block, and how many blocks there are."""
    code = np.full(farms, NEVER) if group_code is None else np.asarray(group_code, int)
    own = code.max(initial=0) + 1 + np.arange(farms)
    names, block = np.unique(np.where(code == NEVER, own, code), return_inverse=True)
    return block.reshape(farms), names.size


def _selection(p, goal, weight, is_taken):
    """The selection that `is_taken` (years, blocks) stands for; proven."""
    year = np.full(p.must.shape, NEVER)
    if is_taken is not None:
        year = np.where(is_taken.any(axis=0), is_taken.argmax(axis=0), NEVER)
    year = year[p.block]
    funded = year != NEVER
    value = float(goal[funded] @ weight[year[funded]])
    return Selection(year, value, value, True, True)


def _impossible(p, is_proven):
    return Selection(np.full(p.block.shape, NEVER), np.nan, np.nan, is_proven, False)


def _within_limits(p, objective):
    """The solver's answer (years x blocks), each limit held exactly.

    The solver may take a block 0.999999 times to make it fit. Where its rounded answer passes a
    limit, those blocks cannot stand together there: that is added to the question, again asked.
    """
    from scipy.sparse import csr_array, eye_array, hstack, kron, vstack

    years, blocks = len(p.budget), p.must.size
    spending = kron(eye_array(years), p.cost[np.newaxis])
    loading = hstack([csr_array(p.load.T)] * years)
    limits = vstack([spending, loading], format="csr")
    upper = np.append(p.budget, p.capacity)
    limits, upper = limits[np.isfinite(upper)], upper[np.isfinite(upper)]
    unit = np.append(np.full(years, CENTS), np.full(len(p.capacity), WATTS))[
        np.isfinite(np.append(p.budget, p.capacity))]
    once = hstack([eye_array(blocks)] * years)
    rows = vstack([once, limits.multiply(1.0 / unit[:, np.newaxis])], format="csr")
    row_lower = np.append(p.must.astype(float), np.full(upper.shape, -np.inf))
    row_upper = np.append((~p.must_not).astype(float), upper / unit)
    for _ in range(MOST_CUTS):
        answer = minimise(objective=objective, rows=rows, row_lower=row_lower,
                          row_upper=row_upper, upper=1.0)
        if answer.x is None:
            return answer
        passed = limits @ answer.x > upper
        if not passed.any():
            break
        cut = csr_array((limits[passed] > 0).multiply(answer.x[np.newaxis]))
        rows = vstack([rows, cut], format="csr")
        row_lower = np.append(row_lower, np.full(passed.sum(), -np.inf))
        row_upper = np.append(row_upper, cut.sum(axis=1) - 1.0)
    times = answer.x.reshape(years, blocks).sum(axis=0)
    if passed.any() or (times < p.must).any() or (times > ~p.must_not).any():
        raise RuntimeError("the solver's set passes a limit")
    return answer


def _down_the_list(waiting, p, room, skips_misfits):
    """The blocks that are taken from a list in order; `room` has the capacities, then the money."""
    need = np.column_stack([p.load, p.cost])[waiting]
    taken = [waiting[:0]]
    for _ in count():  # ends at the latest when each block is taken or a misfit
        fits = need <= room
        stands = fits.all(axis=1) if skips_misfits else fits[:, :-1].all(axis=1)
        waiting, need = waiting[stands], need[stands]
        is_over = (np.cumsum(need, axis=0) > room).any(axis=1)
        ahead = int(is_over.argmax()) if is_over.any() else is_over.size
        taken.append(waiting[:ahead])
        room = room - need[:ahead].sum(axis=0)
        waiting, need = waiting[ahead:], need[ahead:]
        if not waiting.size or not skips_misfits and (need[0] > room)[-1] and (
                need[0] <= room)[:-1].all():
            return np.concatenate(taken)
