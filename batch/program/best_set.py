"""The question of the best set: every set of every line's farms as a configuration, the budgets,
feeders and farms that must be funded, and its exact answer."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from batch.columns.candidates import MUST_FUND
from batch.columns.program import FARMS_SERVED, GOALS
from batch.columns.results import RESULTS
from batch.portfolio.exact_set import Limit, best_selection
from batch.portfolio.settled_ranking import Entry, Line, settled_ranking

BUDGETS = ("program_budget_usd", "program_budget_year_2_usd", "program_budget_year_3_usd")
CENTS, WATTS = 100, 1000  # in a dollar, in a kilowatt


def goal_key(rules) -> str:
    """The result that the best set has most of."""
    return GOALS[rules["set_goal"]]


def goal_unit(rules) -> str:
    """The unit of what the best set has most of."""
    return "farms" if rules["set_goal"] == FARMS_SERVED else RESULTS.by_key[goal_key(rules)].unit


@dataclass
class Asked:
    """What the ways to give out the budget go by: the groups of farms with all their sets, the
    goal's sum over each of these, the budgets of the years (none: no budget), and the rows of the
    farms that must be funded."""

    sets: object
    lines: list[Line]
    values: list[np.ndarray]
    entries: list[Entry]
    budgets_usd: np.ndarray
    feeders: pd.DataFrame
    coincidence: float
    must: frozenset

    @classmethod
    def of(cls, sets, inputs):
        """The question of one study."""
        lines, values = sets.lines(goal_key(inputs.rules))
        given = [inputs.study[key] for key in BUDGETS]
        years = 1 + max((k for k, usd in enumerate(given) if usd is not None), default=-1)
        choice = inputs.candidates["funding_choice"]
        return cls(sets, lines, values, settled_ranking(lines),
                   np.array([usd or 0.0 for usd in given[:years]])
                   if given[0] is not None else np.empty(0),
                   inputs.feeders.dropna(subset="spare_capacity_kw"),
                   inputs.rules["feeder_coincidence_pct"] / 100,
                   frozenset(choice.index[choice == MUST_FUND]))

    @property
    def has_budget(self) -> bool:
        """Whether the study gives a budget."""
        return len(self.budgets_usd) > 0

    @property
    def budget_cents(self) -> np.ndarray:
        """The years' budgets in whole cents; what is short of one by rounding noise counts as
        one."""
        return np.floor(np.maximum(self.budgets_usd, 0) * CENTS + 1e-3)

    @property
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
        if not number:
            return np.zeros(len(self.feeders))
        rows = self.sets.chosen.loc[self.sets.groups[line][2][number]]
        on = rows["feeder_id"].to_numpy()[:, np.newaxis] == self.feeders["feeder_id"].to_numpy()
        load = rows["added_load_kw"].to_numpy(float)[:, np.newaxis] * self.coincidence
        return (on * np.round(load * WATTS)).sum(axis=0)

    def must_of(self, line: int) -> int:
        """The farms of a group that must be funded and that some set of it could fund."""
        must = sum(1 << k for k, row in enumerate(self.sets.groups[line][0])
                   if row in self.must)
        possible = 0
        for number in map(int, self.lines[line].sets):
            if self.lines[line].may_fund(number):
                possible |= number
        return must & possible

    def chosen(self, taken: dict) -> dict[int, int]:
        """Year (0-based) by farm's row of line -> (year, set)."""
        return {row: year for line, (year, number) in taken.items()
                for row in self.farms_of(line, number)}

    def configurations(self) -> pd.DataFrame:
        """Every set of every group that may be funded and whose goal is known: line, number, value,
        cents, and the watts on each feeder."""
        rows = []
        for k, line in enumerate(self.lines):
            must = self.must_of(k)
            for at, number in enumerate(map(int, line.sets)):
                if number and line.may_fund(number) and np.isfinite(self.values[k][at]):
                    rows.append({"line": k, "number": number, "value": self.values[k][at],
                                 "cents": line.cents[at], "has_must": number & must == must,
                                 "farms": number.bit_count()})
        return pd.DataFrame(rows, columns=["line", "number", "value", "cents", "has_must",
                                           "farms"])


def best_set(asked: Asked, *, budget_cents, with_feeders=True, must=None) -> tuple:
    """The selection of the configurations within the budgets, and what is taken: line -> (year,
    set). `must` are the lines of which the farms that must be funded are; all where not given."""
    every = asked.configurations()
    must = asked.must_lines if must is None else must
    if must:
        every = every[every["has_must"] | ~every["line"].isin(must)]
    limits = [Limit(f"budget of year {y + 1}", every["cents"].to_numpy(), usd, CENTS, y)
              for y, usd in enumerate(budget_cents)]
    if with_feeders and len(asked.feeders):
        loads = np.array([asked.feeder_watts(line, number)
                          for line, number in zip(every["line"], every["number"])])
        loads = loads.reshape(len(every), len(asked.feeders))
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
