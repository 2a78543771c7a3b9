"""What a wider choice would bring the best set: each farm's supply option free among those that
meet every limit, instead of the one that its own rule chooses."""

from dataclasses import dataclass, replace
from itertools import product
from math import prod

import pandas as pd

from batch.program.best_set import Asked, goal_key
from batch.program.choosing import may_be_chosen, meets_limits, verdicts
from batch.program.knowledge import knowledge_of, may_be_funded
from batch.program.set_groups import SetGroups, qualifies
from batch.step import run

MOST_WAYS = 64  # to give the farms of one set their options; of more, one farm's at a time


@dataclass
class FreeOptions(SetGroups):
    """Every set of farms with every way to give them their options."""

    groups: list
    chosen: pd.DataFrame
    rules: object
    limited: dict


def with_free_options(asked: Asked, inputs) -> Asked | None:
    """The question with every farm's other options, too; None where no farm has any.

    On a shared line a farm keeps its number of phases, so that everybody's part of the line stays
    as it was priced. What a search finds is therefore a set that can be had, if not always the
    best of all options.
    """
    others = _other_options(asked.sets, inputs)
    if others.empty:
        return None
    by_row: dict = {}
    for number, row in zip(others.index, others["excel_row"]):
        by_row.setdefault(row, []).append(number)
    chosen = pd.concat([asked.sets.chosen, others])
    groups = [(rows, names, _ways(sets, by_row, len(rows)))
              for rows, names, sets in asked.sets.groups]
    sets = FreeOptions(groups, chosen, inputs.rules, asked.sets.limited)
    lines, values = sets.lines(goal_key(inputs.rules))
    return replace(asked, sets=sets, lines=lines, values=values)


def _other_options(sets, inputs) -> pd.DataFrame:
    """The options that a farm could have instead, with their verdicts, by numbers of their own."""
    options, chosen = sets.options, sets.chosen
    phases = options["excel_row"].map(chosen["service_phases"])
    keeps_phases = phases.notna() & (options["builders"].isna()
                                     | (options["service_phases"] == phases))
    others = options[~options["is_chosen"] & meets_limits(options) & may_be_chosen(options)
                     & keeps_phases]
    if others.empty:
        return others
    others = run((verdicts, knowledge_of), others, {
        "checks": sets.checks, "rules": inputs.rules, "inputs": inputs})
    may = qualifies(others) & may_be_funded(others, inputs.rules)
    others = others.assign(may_be_funded=may.astype(float))[may]
    first = int(chosen.index.max()) + 1
    return others.set_axis(range(first, first + len(others)))


def _ways(sets, by_row, members) -> dict:
    """Every set with every way to give its farms their options; the digits beyond the farms' count
    the ways."""
    out = {}
    for number, rows in sets.items():
        open_to = [(row, *by_row.get(row, ())) for row in rows]
        if prod(map(len, open_to)) <= MOST_WAYS:
            ways = list(product(*open_to))
        else:
            ways = [tuple(rows)] + [
                tuple(other if row == mine[0] else row for row in rows)
                for mine in open_to for other in mine[1:]]
        for k, way in enumerate(ways):
            out[number | k << members] = list(way)
    return out
