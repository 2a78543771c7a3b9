"""Sets that also choose how their farms are supplied: every set of farms with every way to give
them their supply options, or the designs of these, beside the one that each farm's own rule takes.
"""

from dataclasses import dataclass, replace
from itertools import combinations, product
from math import prod

import numpy as np
import pandas as pd

from batch.columns.program import DESIGNS
from batch.program.best_set import Asked, goal_key
from batch.program.choosing import may_be_chosen, verdicts
from batch.program.farm_results import checks_of
from batch.program.knowledge import knowledge_of, may_be_funded
from batch.program.options import CHOOSE
from batch.program.set_groups import SetGroups, qualifies
from batch.program.sets import StudiedSets
from batch.step import run

MOST_WAYS = 1024  # to give the farms of one set their options; of more, one farm's at a time
MOST_PHASED = 729  # sets of a line's farms, each set once for every choice of their phases


@dataclass
class WaysOfSets(SetGroups):
    """Every set of farms with every way to supply them. `limited` has the farms of the lines of
    which not every set and way is there, by the line's name."""

    groups: list
    chosen: pd.DataFrame
    rules: object
    limited: dict
    name_of_farm: dict


def that_chooses(asked: Asked, farms, inputs, study) -> Asked:
    """The question of a set that chooses what the rule `set_chooses` leaves to it. `study` is what
    studies some farms with some sets of theirs."""
    sets, is_every = asked.sets, inputs.rules["set_chooses"] == DESIGNS
    if sets.chosen.empty:
        return asked
    phased = with_phases(sets, farms, inputs, study)
    others = pd.concat([open_designs(some, inputs, every=is_every)
                        for some in (sets, phased) if some is not None])
    return with_ways(asked, others, phased, is_whole=True)


def phases_of(sets: StudiedSets) -> dict:
    """By how many phases each farm of a shared line may be supplied, by its row."""
    designs = _open(sets.designs[sets.designs["builders"].notna()])
    own = sets.chosen[sets.chosen["builders"].notna()]
    pairs = pd.concat([some[["farm_row", "service_phases"]] for some in (designs, own)])
    return pairs.drop_duplicates().groupby("farm_row")["service_phases"].agg(sorted).to_dict()


def phased_lines(sets: StudiedSets) -> tuple[set, set]:
    """The lines some of whose farms may take one phase or three: those of which every set is
    studied with every choice of phases, and those with too many."""
    phases = phases_of(sets)
    ways = {line: [len(phases.get(farm, ())) for farm in farms]
            for line, farms in sets.on_line.items()}
    open_lines = {line for line, counts in ways.items() if max(counts) > 1}
    many = {line for line in open_lines
            if prod(1 + count for count in ways[line]) - 1 > MOST_PHASED}
    return open_lines - many, many


def with_phases(sets: StudiedSets, farms, inputs, study) -> StudiedSets | None:
    """Every set of the farms of a line with every choice of their phases, studied; None where no
    line has any."""
    lines, _ = phased_lines(sets)
    rows = [farm for farm, line in sets.line_of.items() if line in lines]
    if not rows:
        return None
    phases = phases_of(sets)

    def every(members):
        some = [farm for farm in members if farm in phases]
        return [dict(zip(together, chosen)) for size in range(1, len(some) + 1)
                for together in combinations(some, size)
                for chosen in product(*(phases[farm] for farm in together))]

    return study(farms.loc[sorted(rows)], inputs, every, int(sets.farms.index.max()) + 1)


def _open(designs: pd.DataFrame) -> pd.DataFrame:
    """The designs that the workbook leaves open, are priced and fail no check of the supply."""
    is_priced = designs["project_cost_usd"].notna() & designs["added_load_kw"].notna()
    return designs[is_priced & (designs["fails_count"] == 0) & may_be_chosen(designs)]


def open_designs(sets: StudiedSets, inputs, *, every: bool) -> pd.DataFrame:
    """What the farms of these sets could have, with money and verdicts: every design, or the one of
    each supply option that its farm's rule takes.

    On a shared line a farm keeps the number of phases that it has in the set, so that everybody's
    part of the line stays as it was priced.
    """
    designs = _open(sets.designs)
    phases = designs["excel_row"].map(sets.chosen["service_phases"])
    designs = designs[(designs["builders"].isna() & phases.notna())
                      | (designs["service_phases"] == phases)]
    if not every:
        designs = designs[designs.index.isin(sets.options.index)]
    if designs.empty:
        return designs.assign(may_be_funded=0.0)
    at_hand = {"rules": inputs.rules, "price_list": inputs.price_list, "inputs": inputs}
    # Each design as if it were a farm of its own, so that none stands behind another.
    options = run(CHOOSE, designs.assign(excel_row=np.arange(len(designs))), at_hand)
    checks = checks_of(options, at_hand["criteria"], inputs.rules)
    options = options.assign(excel_row=designs["excel_row"].reindex(options.index))
    options = run((verdicts, knowledge_of), options, at_hand | {"checks": checks})
    may = qualifies(options) & may_be_funded(options, inputs.rules)
    return options.assign(may_be_funded=may.astype(float))


def with_ways(asked: Asked, others: pd.DataFrame, phased: StudiedSets | None = None,
              is_whole=False) -> Asked:
    """The question with every way to supply the farms of each set, those of `others` included.
    Where `is_whole`, the lines are said that lack some ways."""
    sets, first = asked.sets, int(asked.sets.chosen.index.max()) + 1
    others = others.assign(number=others["excel_row"])
    chosen = pd.concat([sets.chosen.assign(number=sets.chosen.index),
                        others.set_axis(range(first, first + len(others)))])
    ways = WaysOfSets([], chosen, sets.rules, dict(sets.limited), sets.name_of_farm)
    to_have, cases, limited = _worth_having(asked, ways), _cases(phased), set()
    for rows, names, of_group in sets.groups:
        mine = {}
        for number, own in of_group.items():
            found, is_all = _ways(own, [sets.chosen.at[one, "farm_row"] for one in own],
                                  cases, to_have)
            mine |= {number | k << len(rows): list(way) for k, way in enumerate(found)}
            if not is_all:
                limited.add(sets.line_of.get(rows[0]))
        ways.groups.append((rows, names, mine))
    if is_whole:
        some, many = phased_lines(sets)
        limited |= many if phased is not None else many | some
        ways.limited |= {line: sets.on_line[line] for line in limited if line in sets.on_line}
    lines, values = ways.lines(goal_key(sets.rules))
    return replace(asked, sets=ways, lines=lines, values=values)


def _cases(phased) -> dict:
    """The numbers of the rows of each farm of a set, once for each choice of phases."""
    cases: dict = {}
    if phased is not None:
        there = phased.farms[phased.farms.index.isin(phased.chosen.index)]
        for builders, together in there.groupby("builders", sort=False):
            if len(together) == len(builders.split()):
                mine = together[~together["farm_row"].isin(phased.standing)]
                cases.setdefault(frozenset(mine["farm_row"]), []).append(
                    dict(zip(mine["farm_row"], mine.index)))
    return cases


def _ways(own, farms, cases, to_have) -> tuple[list, bool]:
    """The ways to supply a set, its own first, and whether these are all that are worth having."""
    every = [[case[farm] for farm in farms] for case in cases.get(frozenset(farms), ())] or [own]
    open_to = [[to_have.get(row, ()) for row in rows] for rows in every]
    is_all = sum(prod(map(len, some)) for some in open_to) <= MOST_WAYS
    ways = [way for some in open_to for way in product(*some)] if is_all else [
        tuple(other if row == mine else row for row in own)
        for mine in own for other in to_have.get(mine, ())]
    return list(dict.fromkeys([tuple(own), *ways])), is_all


def _worth_having(asked, ways) -> dict:
    """What each row could have, by its number: of what may be funded all but what another one of
    the row is no worse than in goal, cost and every limit, since no set is better for it.

    All that a set is held to is a sum over its farms, so that this leaves no best set out.
    """
    chosen = ways.chosen
    single = replace(ways, groups=[((row,), (name,), {1: [at]}) for at, row, name in zip(
        chosen.index, chosen["farm_row"], chosen["candidate_id"])])
    lines, values = single.lines(goal_key(ways.rules))
    alone = replace(asked, sets=single, lines=lines, values=values, must=frozenset())
    every, is_known = alone.configurations, alone.is_known
    figures = np.column_stack([-every["value"], every["cents"], every["budget_cents"],
                               *(limit.row.uses for limit in alone.limits)])[is_known]
    number = chosen["number"].to_numpy()[every["line"].to_numpy(int)[is_known]]
    at = chosen.index.to_numpy()[every["line"].to_numpy(int)[is_known]]
    return {row: [int(at[k]) for k in some if not _is_beaten(figures, k, some)]
            for row, some in pd.Series(np.arange(len(at))).groupby(number).groups.items()}


def _is_beaten(figures, k, others) -> bool:
    """Whether another one is nowhere worse, and better somewhere or named before."""
    no_worse = (figures[others] <= figures[k]).all(axis=1)
    better = (figures[others] < figures[k]).any(axis=1) | (np.asarray(others) < k)
    return bool((no_worse & better).any())


def settled(sets: StudiedSets, taken: dict, farms, inputs, study) -> StudiedSets:
    """The sets, and beside each farm's own choice the ways of `taken`: name -> the chosen options
    of its farms. Of each way its set is studied with these options typed into its rows, and so is
    every set of a line that has a farm more or fewer."""
    parts, first = {}, sets.farms.index.max() + 1
    for way, chosen in taken.items():
        if chosen.empty:
            continue
        typed = {"wanted_option": chosen["supply_option"]}
        if inputs.rules["set_chooses"] == DESIGNS:
            typed["supply_design"] = chosen["variant"]
        lines = {sets.line_of[farm] for farm in chosen.index if farm in sets.line_of}
        rows = sorted(set(chosen.index).union(*(sets.on_line[line] for line in lines)))
        some = farms.loc[rows]
        some = some.assign(**{key: values.reindex(rows).where(
            some.index.isin(chosen.index), some[key]) for key, values in typed.items()})
        parts[way] = study(some, inputs, lambda members, now=set(chosen.index): _near(members, now),
                           int(first))
        first += len(parts[way].farms)
    return sets.with_ways(parts)


def _near(members, now) -> list[tuple]:
    """The farms of a line that a set builds it with, and these with one farm more or fewer."""
    built = [farm for farm in members if farm in now]
    near = [built, *([one for one in members if (one in now) != (one == farm)]
                     for farm in members)]
    return list(dict.fromkeys(tuple(some) for some in near if some))
