"""The figures of the tables about sets of farms: each leads to its farms as exactly the set makes
them, which are the farms' own figures or, of a line with other builders, those of that case."""

import numpy as np

from batch.columns import RESULTS
from batch.columns.portfolio import OF_A_SET
from batch.program.best_set import goal_key
from batch.program.budgeting import BEST_WITHIN, STOPS
from batch.program.set_tables import ALL_RANKED, TOGETHER
from batch.trail.limit_figures import budget_cells, of_set_cells, of_set_rules
from batch.trail.lines import FIGURE
from batch.trail.table_figures import DRAWN_RULES


class SetFigures:
    """Parts and arithmetic of a figure by the name of its row, its key and the row."""

    def __init__(self, study, farms):
        """`farms` are the figures of the farms."""
        self.study, self.farms = study, farms

    def _rows_of(self, method):
        funding = self.study.funding
        return funding.sets_of(method).rows_of(sorted(
            funding.entered if method == ALL_RANKED else funding.year_by[method]))

    def farm(self, name, key, row):
        """A farm as exactly its set makes it."""
        method, _, candidate = name.rpartition("|")
        farms = self._rows_of(method)
        mine = farms[farms["candidate_id"] == candidate]
        if key not in OF_A_SET or not RESULTS.by_key[key].is_numeric:
            return tuple(self.farms.in_set(mine, "verdict")), None
        return self.farms.sum_over(mine, key)

    def exchange(self, name, key, row):
        """The best set's figure less the ranking's, of a farm or of all together."""
        if key == "goal_per_usd":
            farm, funding = self.farms.row_of.get(name), self.study.funding
            method = BEST_WITHIN if farm in funding.year_by[BEST_WITHIN] else STOPS
            farms = self._rows_of(method)
            mine = farms[farms["candidate_id"] == name]
            (brings, one), (costs, other) = (self.farms.sum_over(mine, of) for of in (
                goal_key(self.study.inputs.rules), "incentive_cost_usd"))
            return (*brings, *costs), None if np.isnan(row[key]) else (
                lambda marked: f"({one(marked)}) / ({other(marked)})")
        sums = []
        for method in (BEST_WITHIN, STOPS):
            farms = self._rows_of(method)
            farms = farms if name == TOGETHER else farms[farms["candidate_id"] == name]
            sums.append(self.farms.sum_over(farms, key) if len(farms) else ((), lambda _: "0"))
        (best, one), (ranking, other) = sums
        return (*best, *ranking), lambda marked: f"({one(marked)}) - ({other(marked)})"

    def step(self, name, key, row):
        """Found by a search over all ranked farms with another budget."""
        ranked, goal = self._rows_of(ALL_RANKED), goal_key(self.study.inputs.rules)
        return (*budget_cells(self.study), *of_set_cells(self.study.inputs), *of_set_rules(),
                *self.farms.in_set(ranked, "incentive_cost_usd"),
                *self.farms.in_set(ranked, goal)), None

    def futures(self, name, key, row):
        """Drawn anew for exactly the farms of the set."""
        study, is_best = self.study, name == BEST_WITHIN
        funding = study.funding
        farms = (funding.best_sets if is_best else funding.funded_sets).rows_of(sorted(
            funding.year_by[BEST_WITHIN] if is_best else funding.funded))
        years = range(len(funding.asked.budgets_usd) if is_best or funding.funds_best_set else 1)
        cells = [cell for year in years for cell in budget_cells(study, year)]
        marks = [(FIGURE, "farm", int(row), "in_best_set" if is_best else "funded")
                 for row in farms.index]
        if key == "budget_usd":
            return cells, None
        if key == "farms":
            return marks, None
        return [*self.farms.in_set(farms, "incentive_cost_usd"), *marks,
                *(cells if key == "budget_chance_pct" else ()), *DRAWN_RULES], None

    def withdrawal(self, name, key, row):
        """The funded farms of a line with and without the farm that withdraws."""
        study, farm = self.study, self.farms.row_of[name]
        rest = study.sets.mates(farm, study.funding.funded)
        together = sorted([*rest, farm])
        keys = ("incentive_cost_usd", "cooperative_npv_usd", "line_cost_usd", "member_npv_usd",
                goal_key(study.inputs.rules))
        cases = [study.sets.rows_of(some) for some in (together, rest) if some]
        return tuple(dict.fromkeys(one for rows in cases for of in keys
                                   for one in self.farms.in_set(rows, of))), None
