"""The question of the best set: every set of every line's farms as a configuration, the budgets,
feeders and farms that must be funded, and its exact answer."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import pandas as pd

from batch.columns.candidates import MUST_FUND
from batch.columns.program import GOALS
from batch.portfolio.exact_set import Limit, best_selection
from batch.portfolio.settled_ranking import (
    CENTS,
    WATTS,
    Entry,
    Line,
    settled_ranking,
    whole_watts,
)

BUDGETS = ("program_budget_usd", "program_budget_year_2_usd", "program_budget_year_3_usd")


def goal_key(rules) -> str:
    """The result that the best set has most of."""
    return GOALS[rules["budget_goal"]]


@dataclass
class Asked:
    """What the ways to give out the budget go by: the groups of farms with all their sets, the
    goal's sum over each of these, what each puts on every feeder at one time (whole watts), the
    budgets of the years (none: no budget), and the rows of the farms that must be funded."""

    sets: object
    lines: list[Line]
    values: list[np.ndarray]
    watts: list[np.ndarray]
    entries: list[Entry]
    budgets_usd: np.ndarray
    feeders: pd.DataFrame
    must: frozenset

    @classmethod
    def of(cls, sets, inputs):
        """The question of one study."""
        lines, values = sets.lines(goal_key(inputs.rules))
        given = [inputs.study[key] for key in BUDGETS]
        years = 1 + max((k for k, usd in enumerate(given) if usd is not None), default=-1)
        choice = inputs.candidates["funding_choice"]
        feeders = inputs.feeders.dropna(subset="spare_capacity_kw")
        coincidence = inputs.rules["feeder_coincidence_pct"] / 100
        watts = sets.sums(whole_watts(sets.chosen["added_load_kw"] * coincidence),
                          of=feeders["feeder_id"])
        return cls(sets, lines, values, watts, settled_ranking(lines),
                   np.array([usd or 0.0 for usd in given[:years]])
                   if given[0] is not None else np.empty(0),
                   feeders, frozenset(choice.index[choice == MUST_FUND]))

    @property
    def has_budget(self) -> bool:
        """Whether the study gives a budget."""
        return len(self.budgets_usd) > 0

    @property
    def budget_cents(self) -> np.ndarray:
        """The years' budgets in whole cents; what is short of one by rounding noise counts as
        one."""
        return np.floor(np.maximum(self.budgets_usd, 0) * CENTS + 1e-3)

    @cached_property
    def must_lines(self) -> list[int]:
        """The lines with farms that must be funded."""
        return [k for k in range(len(self.lines)) if self.must_of(k)]

    @property
    def feeder_room(self) -> np.ndarray:
        """The feeders' spare capacities in whole watts."""
        spare = self.feeders["spare_capacity_kw"].to_numpy(float)
        return np.floor(np.maximum(spare, 0) * WATTS + 1e-3)

    def farms_of(self, line: int, number: int) -> list[int]:
        """The rows of a set of a group."""
        rows = self.sets.groups[line][0]
        return [row for k, row in enumerate(rows) if number >> k & 1]

    def names_of(self, rows) -> list[str]:
        """The candidates' names of some rows."""
        return [name for (mine, names, _) in self.sets.groups for row, name in zip(mine, names)
                if row in rows]

    def feeder_watts(self, line: int, number: int) -> np.ndarray:
        """What a set puts on each feeder at one time, in whole watts."""
        return self.watts[line][self.lines[line].place[number]]

    def must_of(self, line: int) -> int:
        """The farms of a group that must be funded and that some set of it could fund."""
        must = sum(1 << k for k, row in enumerate(self.sets.groups[line][0])
                   if row in self.must)
        mine = self.lines[line]
        return must and must & int(np.bitwise_or.reduce(mine.sets[mine.may_be]))

    def chosen(self, taken: dict) -> dict[int, int]:
        """Year (0-based) by farm's row of line -> (year, set)."""
        return {row: year for line, (year, number) in taken.items()
                for row in self.farms_of(line, number)}

    @cached_property
    def configurations(self) -> pd.DataFrame:
        """Every set of every group that may be funded and whose goal is known: line, number, its
        place among the line's sets, value, cents, whether it holds all of its group's farms that
        must be funded, and how many farms."""
        columns = {key: [] for key in ("line", "number", "at", "value", "cents", "has_must")}
        for k, line in enumerate(self.lines):
            must = self.must_of(k)
            at = np.flatnonzero(line.may_be & (line.sets != 0) & np.isfinite(self.values[k]))
            number = line.sets[at]
            has_must = (number & must == must).astype(bool)
            for key, of_line in zip(columns, (np.full(len(at), k), number, at, self.values[k][at],
                                              line.cents[at], has_must)):
                columns[key].append(of_line)
        every = pd.DataFrame({key: np.concatenate(parts) if parts else []
                              for key, parts in columns.items()})
        return every.assign(farms=[int(number).bit_count() for number in every["number"]])

    @cached_property
    def loads(self) -> np.ndarray:
        """What each configuration puts on each feeder at one time, in whole watts."""
        every = self.configurations
        return np.array([self.watts[line][at] for line, at in zip(
            every["line"], every["at"])]).reshape(len(every), len(self.feeders))


def best_set(asked: Asked, *, budget_cents, with_feeders=True, must=None) -> tuple:
    """The selection of the configurations within the budgets, and what is taken: line -> (year,
    set). `must` are the lines of which the farms that must be funded are; all where not given."""
    every, must = asked.configurations, asked.must_lines if must is None else must
    may = every["has_must"] | ~every["line"].isin(must)
    every, loads = every[may], asked.loads[may]
    limits = [Limit(f"budget of year {y + 1}", every["cents"].to_numpy(), usd, CENTS, y)
              for y, usd in enumerate(budget_cents)]
    if with_feeders and len(asked.feeders):
        limits += [Limit(name, loads[:, k], room, WATTS) for k, (name, room) in enumerate(
            zip(asked.feeders["feeder_id"], asked.feeder_room))]
    found = best_selection(
        value=every["value"], line=every["line"], limits=limits, years=len(budget_cents),
        must=must, ties=(every["cents"] / CENTS, every["farms"], np.arange(len(every)) + 1.0))
    if asked.sets.limited:  # a set that was not studied may be better
        found = replace(found, is_proven=False, bound=np.nan if found.is_feasible else found.bound)
    taken = {int(line): (int(year), int(number)) for line, number, year in zip(
        every["line"], every["number"], found.year) if year >= 0}
    return found, taken
