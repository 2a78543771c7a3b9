"""Where each farm stands in the program: its rank, whether it is funded, with whom it builds there,
and why not."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from batch.program.best_set import goal_key
from batch.program.budgeting import BEST_WITHIN
from batch.program.choosing import INCOMPLETE, NOT_QUALIFIED
from batch.program.knowledge import is_closed_out, may_be_funded
from batch.program.season import has_left, is_standing
from batch.program.set_groups import counted_by_budget
from batch.program.set_limits import ACCOUNT_CAP, CEILING, FLOORS, told_limit
from batch.step import step

MADE = ("rank", "ranking_usd_per_kw", "running_incentive_cost_usd", "in_budget", "in_best_set",
        "best_set_year", "may_be_funded", "funded", "funded_with", "net_cost_if_one_leaves_usd",
        "added_cost_usd", "added_usd_per_kw", "why_not")


@dataclass(frozen=True)
class Place:
    """`numbers` has the number of each farm's row among those with whom its figures count, by the
    farm's own row; `table` what each farm's standing is, by row."""

    numbers: dict[int, int]
    table: pd.DataFrame


def _number(funding, farm) -> int:
    """The farm's row among those with whom its figures count: a funded farm with the funded ones,
    another ranked farm with those that had entered the ranking by then, and any other as if it
    were added to the funded set."""
    is_behind = farm in funding.entered and farm not in funding.funded
    among = funding.entered[farm].rows if is_behind else funding.funded
    sets = funding.asked.sets if is_behind else funding.funded_sets
    return sets.number_of[farm, sets.builders_in(farm, among)]


def of(funding, inputs) -> Place:
    """The standing of every farm that is assessed."""
    sets = funding.funded_sets
    numbers = {farm: _number(funding, farm) for farm in sets.first_rows}
    table = sets.chosen.loc[list(numbers.values())].set_axis(list(numbers))
    table = table.assign(**_of_ranking(table, funding), **_of_sets(table, funding, inputs))
    is_funded = table.index.isin(funding.funded)
    table["may_be_funded"] = (is_funded | table["rank"].notna() & may_be_funded(
        table, inputs.rules)).astype(float)
    table["funded"] = is_funded.astype(float)
    table["funded_with"] = [sets.partners(farm, funding.funded) if farm in funding.funded else None
                            for farm in table.index]
    table["net_cost_if_one_leaves_usd"] = [_if_one_leaves(sets, funding, farm)
                                           for farm in table.index]
    added = pd.DataFrame([_added(sets, funding, farm, inputs.rules) for farm in table.index],
                         table.index, columns=["added_cost_usd", "added_kw", "added_goal",
                                               "added_to_budget"])
    table["added_cost_usd"] = added["added_cost_usd"]
    table["added_usd_per_kw"] = added["added_cost_usd"] / added["added_kw"].where(
        added["added_kw"] > 0)
    table["why_not"] = _why_not(table, funding, added, inputs)
    return Place(numbers, table[list(MADE)])


@step(makes=" ".join(MADE))
def stand_in_program(results: pd.DataFrame, place) -> pd.DataFrame:
    """Rank, running total and budget line, the best set, who is funded with whom, and why not."""
    return place.table.reindex(results.index).astype(
        {key: object for key in ("funded_with", "why_not")}).where(
        lambda frame: frame.notna(), None).astype(
        {key: float for key in MADE if key not in ("funded_with", "why_not")})


def _of_ranking(table, funding):
    entered = pd.DataFrame.from_dict(
        {farm: entry[:3] for farm, entry in funding.entered.items()}, orient="index",
        columns=["rank", "ranking_usd_per_kw", "running_incentive_cost_usd"]).reindex(table.index)
    within = pd.Series(table.index.isin(funding.in_line), table.index).astype(float)
    return {**entered.astype(float), "in_budget": within.where(
        entered["rank"].notna() & funding.asked.has_budget)}


def _of_sets(table, funding, inputs):
    years = pd.Series(funding.year_by.get(BEST_WITHIN, {}), dtype=float).reindex(table.index)
    asked = table[goal_key(inputs.rules)].notna() & pd.Series(
        [farm in funding.entered and funding.entered[farm].may_be_funded for farm in table.index],
        table.index)
    known = (asked | years.notna()) & funding.best_is_known
    return {"best_set_year": years + 1,
            "in_best_set": years.notna().astype(float).where(known)}


def _if_one_leaves(sets, funding, farm):
    """The most that a funded farm's member would pay if one of its line mates withdrew."""
    mates = sets.mates(farm, funding.funded) if farm in funding.funded else []
    stay = [{farm, *mates} - {mate} for mate in mates]
    return max((sets.rows_of(sorted(rows), ["member_net_cost_usd"]).at[
        farm, "member_net_cost_usd"] for rows in stay), default=np.nan)


def _added(sets, funding, farm, rules):
    """What a farm that is not funded would add to cost, load and goal of the funded set alone, and
    to what budgets count."""
    if farm in funding.funded:
        return (np.nan,) * 4
    others, goal_of = sets.mates(farm, funding.funded), goal_key(rules)
    keys = dict.fromkeys(("incentive_cost_usd", "refund_credit_usd", "counted_load_kw", goal_of))

    def sums(members):
        rows = sets.rows_of(members, keys)
        counted = counted_by_budget(rows, rules)
        return np.array([rows[key].sum(skipna=False) for key in (
            "incentive_cost_usd", "counted_load_kw", goal_of)] + [counted.sum(skipna=False)])

    cost, load, goal, counted = sums([*others, farm]) - (sums(others) if others else 0.0)
    return round(cost, 2), load, goal, round(counted, 2)


def _why_not(table, funding, added, inputs):
    """A sentence for each farm that is not funded."""
    budget = funding.asked.budgets_usd[0] if funding.asked.has_budget else np.nan
    barred, stands, left = is_closed_out(table), is_standing(table), has_left(table)
    narrow = _narrow_limits(funding) if funding.by == BEST_WITHIN else None
    texts = []
    for farm in table.itertuples():
        if farm.funded:
            texts.append(None)
        elif stands[farm.Index]:
            texts.append(f"It is {farm.status} already: see Approved farms.")
        elif left[farm.Index]:
            texts.append(f"It is {farm.status}.")
        elif farm.verdict == INCOMPLETE:
            texts.append("It is not assessed.")
        elif barred[farm.Index]:
            texts.append("The board has decided not to fund it.")
        elif farm.verdict == NOT_QUALIFIED:
            texts.append("It does not qualify.")
        elif np.isnan(farm.rank):
            texts.append("It qualifies only with farms on its line that do not qualify themselves.")
        elif not farm.may_be_funded:
            texts.append(f"Not yet enough is known of it: {farm.next_cells}.")
        elif funding.by == BEST_WITHIN:
            texts.append(_beside_best(
                added.loc[farm.Index], table, funding, inputs, narrow(farm.Index)))
        else:
            texts.append(f"The budget ends before it: with it the running total is "
                         f"{funding.entered[farm.Index].counted_usd:,.2f} USD of "
                         f"{budget:,.2f} USD.")
    return texts


def _narrow_limits(funding):
    """A function of a farm that the best set leaves out: the limits beside the budget that have no
    room for it as well, each with what it would take and what is left, in the limit's unit."""
    asked, funded = funding.asked, set(funding.funded)
    place, now = {}, []
    for line, (rows, _, _) in enumerate(asked.sets.groups):
        place |= {row: (line, 1 << k) for k, row in enumerate(rows)}
        now.append(sum(1 << k for k, row in enumerate(rows) if row in funded))
    left = asked.room - sum(asked.uses(line, number) for line, number in enumerate(now))

    def of(farm):
        line, digit = place[farm]
        more = asked.uses(line, now[line] | digit) - asked.uses(line, now[line])
        if np.isinf(more).any():  # with it not all on its line may be funded
            return []
        return [(limit, *(some[k] / limit.row.unit for some in (more, left)))
                for k, limit in enumerate(asked.limits) if more[k] > max(left[k], 0.0)]
    return of


def _beside_best(added, table, funding, inputs, narrow):
    goal = inputs.rules["set_goal"]
    if np.isnan(added["added_goal"]):
        return f"What it adds to the goal ({goal}) is not known."
    if added["added_goal"] <= 0:
        return f"It would add nothing to the goal ({goal})."
    left = funding.asked.budgets_usd.sum() - counted_by_budget(
        table.loc[list(funding.funded)], inputs.rules).sum()
    if added["added_to_budget"] > left:
        return (f"It would add {added['added_to_budget']:,.2f} USD; {max(left, 0):,.2f} USD of the "
                "budget are left, and no exchange for it reaches more of the goal.")
    if len(narrow) != 1:
        return "A limit beside the budget leaves it out: see Budget limits."
    (limit, more, rest), = narrow
    if limit.family in (*FLOORS, CEILING):
        return f"With it the set would not keep {told_limit(limit)}, and no exchange for it would."
    what = f"the cap of {limit.row.name}" if limit.family == ACCOUNT_CAP else limit.row.name
    return (f"It would take {more:,.7g} {limit.unit} of {what}; {max(rest, 0):,.7g} {limit.unit} "
            "are left, and no exchange for it reaches more of the goal.")
