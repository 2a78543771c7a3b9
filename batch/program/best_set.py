"""The question of the best set: every set of every line's farms as a configuration, the budgets,
feeders and farms that must be funded, and its exact answer."""

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import pandas as pd

from batch.columns.candidates import MUST_FUND
from batch.columns.program import FARMS_SERVED, GOALS
from batch.columns.results import RESULTS
from batch.portfolio.exact_set import Limit, best_selection
from batch.portfolio.settled_ranking import CENTS, WATTS, Entry, Line, settled_ranking
from batch.program.season import budgets_usd
from batch.program.set_limits import SetLimit, accounts_of, limits_of, rules_in_force
from batch.program.stock import Stock

ALL = "all"  # limits


def goal_key(rules) -> str:
    """The result that the best set has most of."""
    return GOALS[rules["set_goal"]]


def goal_unit(rules) -> str:
    """The unit of what the best set has most of."""
    return "farms" if rules["set_goal"] == FARMS_SERVED else RESULTS.by_key[goal_key(rules)].unit


@dataclass
class Asked:
    """What the ways to give out the budget go by: the groups of farms with all their sets, the
    goal's sum over each of these, the budgets of the years (none: no budget), the rows of the
    farms that must be funded, the rules of a set as a whole that are in force, each farm's
    account by row, and what there is of crews and stock."""

    sets: object
    lines: list[Line]
    values: list[np.ndarray]
    entries: list[Entry]
    budgets_usd: np.ndarray
    feeders: pd.DataFrame
    coincidence: float
    must: frozenset
    rules: dict = field(default_factory=dict)
    accounts: pd.Series | None = None
    stock: Stock | None = None

    @classmethod
    def of(cls, sets, inputs):
        """The question of one study."""
        lines, values = sets.lines(goal_key(inputs.rules))
        choice = inputs.candidates["funding_choice"]
        return cls(sets, lines, values, settled_ranking(lines),
                   budgets_usd(inputs),
                   _with_room(sets, inputs),
                   inputs.rules["feeder_coincidence_pct"] / 100,
                   frozenset(choice.index[choice == MUST_FUND]), rules_in_force(inputs.rules),
                   accounts_of(inputs.candidates), Stock.of(inputs))

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

    def farms_behind(self, every: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
        """The numbers of the farms' rows of all configurations, and of which each is."""
        numbers = [self.sets.groups[line][2][number]
                   for line, number in zip(every["line"], every["number"])]
        at = np.repeat(np.arange(len(numbers)), [len(some) for some in numbers])
        return (np.concatenate(numbers) if numbers else np.empty(0, int)), at

    @cached_property
    def limits(self) -> list[SetLimit]:
        """All limits beside the budgets, on all configurations."""
        return limits_of(self, self.configurations)

    @cached_property
    def room(self) -> np.ndarray:
        """What there is of each limit, in its whole units."""
        return np.array([limit.row.at_most for limit in self.limits])

    def uses(self, line: int, number: int) -> np.ndarray:
        """What a set takes of each limit, in its whole units; without end where it is unknown."""
        if not number:
            return np.zeros(len(self.limits))
        at = self._place.get((line, number))
        if at is None:  # it may not be funded
            return np.full(len(self.limits), np.inf)
        return self._uses[at]

    @cached_property
    def _uses(self) -> np.ndarray:
        uses = np.array([limit.row.uses for limit in self.limits]).T
        return np.nan_to_num(uses.reshape(len(self.configurations), -1), nan=np.inf)

    @cached_property
    def _place(self) -> dict:
        every = self.configurations
        return {pair: k for k, pair in enumerate(zip(every["line"], every["number"]))}

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
        """Every set of every group that may be funded: line, number, value, cents, what budgets
        count of it in cents, watts, whether it holds all of its group's farms that must be funded,
        and how many farms."""
        columns: dict = {key: [] for key in (
            "line", "number", "value", "cents", "budget_cents", "watts", "has_must")}
        for k, line in enumerate(self.lines):
            must = self.must_of(k)
            at = np.flatnonzero(line.may_be & (line.sets != 0))
            number = line.sets[at]
            has_must = (number & must == must).astype(bool)
            for key, of_line in zip(columns, (
                    np.full(len(at), k), number, self.values[k][at], line.cents[at],
                    line.counted_cents[at], line.watts[at], has_must)):
                columns[key].append(of_line)
        every = pd.DataFrame({key: np.concatenate(parts) if parts else []
                              for key, parts in columns.items()})
        return every.assign(farms=[len(self.farms_of(line, number)) for line, number in zip(
            every["line"], every["number"])])

    @cached_property
    def is_known(self) -> np.ndarray:
        """Of which configurations the goal and all that the limits ask is known."""
        return np.all([np.isfinite(self.configurations["value"].to_numpy(float)),
                       *(np.isfinite(limit.row.uses) for limit in self.limits)], axis=0)


def _with_room(sets, inputs) -> pd.DataFrame:
    """The feeders of which the spare capacity is known, less what farms that build for sure put on
    them at one time."""
    feeders = inputs.feeders.dropna(subset="spare_capacity_kw")
    if not sets.standing or feeders.empty:
        return feeders
    farms = sets.rows_of(sorted(sets.standing), ["feeder_id", "added_load_kw"])
    load = farms.groupby("feeder_id")["added_load_kw"].sum() * (
        inputs.rules["feeder_coincidence_pct"] / 100)
    left = feeders["spare_capacity_kw"] - feeders["feeder_id"].map(load).fillna(0.0)
    return feeders.assign(spare_capacity_kw=left)


def best_set(asked: Asked, *, budget_cents, without=(), must=None) -> tuple:
    """The selection of the configurations within the budgets and all limits, and what is taken:
    line -> (year, set). `without`: families or names of limits that are left out, ALL for all of
    them; `must`: the lines of which the farms that must be funded are; all where not given."""
    every, must = asked.configurations, asked.must_lines if must is None else must
    may = (every["has_must"] | ~every["line"].isin(must)).to_numpy(bool) & asked.is_known
    every = every[may]
    limits = [Limit(f"budget of year {y + 1}", every["budget_cents"].to_numpy(float), usd, CENTS, y)
              for y, usd in enumerate(budget_cents)]
    limits += [replace(limit.row, uses=limit.row.uses[may]) for limit in asked.limits
               if without != ALL and not {limit.family, limit.row.name} & set(without)]
    found = best_selection(
        value=every["value"], line=every["line"], limits=limits, years=len(budget_cents),
        must=must, ties=(every["cents"] / CENTS, every["farms"], np.arange(len(every)) + 1.0))
    if asked.sets.limited:  # a set that was not studied may be better
        found = replace(found, is_proven=False, bound=np.nan if found.is_feasible else found.bound)
    taken = {int(line): (int(year), int(number)) for line, number, year in zip(
        every["line"], every["number"], found.year) if year >= 0}
    return found, taken
