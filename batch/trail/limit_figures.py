"""The figures of limits that the rules set to a set of farms as a whole, and of what budgets count.
"""

import numpy as np

from batch.columns import CANDIDATES, FEEDERS, LIMITS, STUDY
from batch.columns.study import BUDGETS
from batch.program.budgeting import BEST_WITHIN
from batch.program.season import committed_usd, given_away_usd, paid_usd
from batch.program.set_limits import ACCOUNT_CAP, CEILING, FLOORS, IN_WORDS, RULES, accounts_of
from batch.trail.lines import CELL, FIGURE, RULE
from batch.trail.stock_figures import StockFigures
from batch.trail.table_figures import COINCIDENCE, of_farms

BUDGET_ADDS = ("budget_adds_administration", "budget_adds_refunds")
APPROVED = ("approved_incentive_usd", "approved_cooperative_usd")
RULE_OF_LIMIT = {IN_WORDS[rule]: rule for rule in (*FLOORS, CEILING)}


def cells_of(rows, *keys):
    """Ids of cells of the Candidates sheet."""
    return tuple((CELL, CANDIDATES.name, int(row), key) for key in keys for row in rows)


def budget_cells(study, year=0) -> tuple:
    """Ids of the cells that a year's money for new farms comes of."""
    first = ((CELL, STUDY.name, 0, BUDGETS[year]),)
    if year or not (study.inputs.study["carried_in_usd"] or given_away_usd(study.inputs)):
        return first
    candidates = study.inputs.candidates
    rows = candidates.index[(committed_usd(candidates) + paid_usd(study.inputs)) > 0]
    return (*first, (CELL, STUDY.name, 0, "carried_in_usd"),
            *cells_of(rows, "status", *APPROVED))


def of_set_rules() -> tuple:
    """Ids of the rules by which the best set is sought."""
    return tuple((RULE, rule) for rule in (
        "set_goal", "set_chooses", "feeder_coincidence_pct", *RULES, *BUDGET_ADDS))


def of_set_cells(inputs) -> tuple:
    """Ids of the cells that limit the best set beside its budgets."""
    return (*((CELL, FEEDERS.name, int(row), "spare_capacity_kw") for row in inputs.feeders.index),
            *((CELL, LIMITS.name, int(row), key) for row in inputs.limits.index
              for key in ("available", "counts")))


def rule_of(name: str) -> str | None:
    """The rule of a limit, by its name in the table; None for a budget or feeder."""
    return RULE_OF_LIMIT.get(name, ACCOUNT_CAP if name.startswith("account ") else None)


def counted_by_budget(farms, members, rules) -> tuple:
    """What a budget counts beside the incentive cost of some farms, where the rules add any."""
    adds = [(RULE, rule) for rule in BUDGET_ADDS if rules[rule]]
    if not adds:
        return ()
    return (*farms.sum_over(members, "refund_credit_usd")[0], *adds, (RULE, "administration_usd"))


def limit_of_rule(study, farms, best, name, key) -> tuple:
    """Parts, arithmetic and words of what such a limit allows, or of what the best set's farms
    `best` have of it: a sum, or one over another."""
    rule = rule_of(name)
    if key == "limit":
        return ((RULE, rule),), None, ""
    if rule == ACCOUNT_CAP:
        accounts = accounts_of(study.inputs.candidates)
        mine = best[[f"account {accounts[row]}" == name for row in best.index]]
        parts, added = farms.sum_over(mine, "incentive_cost_usd")
        told_by = [one for row in mine.index for one in (
            (CELL, CANDIDATES.name, int(row), "member_account"),
            (FIGURE, "farm", int(row), "in_best_set"))]
        return (*parts, *told_by), added, ""
    over, under = ("incentive_cost_usd", "counted_load_kw") if rule == CEILING else (
        f"{FLOORS[rule]}_{side}_usd" for side in ("benefits", "costs"))
    (gains, gained), (costs, cost) = (farms.sum_over(best, of) for of in (over, under))
    return (*gains, *costs), lambda marked: f"({gained(marked)}) / ({cost(marked)})", ""


class LimitFigures:
    """Parts, arithmetic and words of the figures of the budget's limits."""

    def __init__(self, study, farms):
        """`farms` are the figures of the farms."""
        self.study, self.farms, self.rules = study, farms, study.inputs.rules
        self.stock = StockFigures(study, farms)

    def limit(self, name, key, row):
        """What a limit allows, what the best set uses of it, or what was found by search."""
        sets = self.study.portfolio.sets["method"]
        years = self.study.funding.year_by.get(BEST_WITHIN, {})
        best = self.study.funding.best_sets.rows_of(sorted(years))
        kind, _, feeder = name.partition(" ")
        rule = rule_of(name)
        if key in ("limit", "used") and rule and not np.isnan(row["limit"]):
            return limit_of_rule(self.study, self.farms, best, name, key)
        if kind == "limit" and key in ("limit", "used"):
            return self.stock.limit(best, name, key)
        if key == "gain_if_lifted" or kind not in ("budget,", "feeder") or np.isnan(row["limit"]):
            parts = ((FIGURE, "budget_sets", sets.iloc[-1], "goal_bound"),) if len(sets) else ()
            return parts, None, "the best set sought once more without this limit, less the best "\
                                "set: batch/portfolio/exact_set.py"
        if kind == "feeder":
            if key == "limit":
                mine = of_farms([row for row in sorted(self.study.sets.standing)
                                 if self.study.results.at[row, "feeder_id"] == feeder],
                                "added_load_kw")
                words = "less what farms that were approved put on it" if mine else ""
                return (self._spare(feeder), *mine, *((COINCIDENCE,) if mine else ())), None, words
            mine = best[best["feeder_id"] == feeder]
            parts, added = self.farms.sum_over(mine, "added_load_kw")
            share = self.rules[COINCIDENCE[1]]
            return (*parts, COINCIDENCE, *of_farms(mine.index, "in_best_set")), lambda marked: (
                f"({added(marked)}) x {share:g} %{marked(COINCIDENCE)} / 100"), ""
        number = int(name.rpartition(" ")[2])
        if key == "limit":
            cells = budget_cells(self.study, number - 1)
            return cells, None, "less what is paid and committed" if len(cells) > 1 else ""
        year = best[[years[row] == number - 1 for row in best.index]]
        parts, used = self.farms.sum_over(year, "incentive_cost_usd")
        if more := counted_by_budget(self.farms, year, self.rules):
            return (*parts, *more, *of_farms(year.index, "best_set_year")), None, (
                "incentive cost, and what the rules add to it")
        return (*parts, *of_farms(year.index, "best_set_year")), used, ""

    def _spare(self, name):
        feeders = self.study.inputs.feeders
        at = feeders.index[feeders["feeder_id"] == name][0]
        return CELL, FEEDERS.name, int(at), "spare_capacity_kw"
