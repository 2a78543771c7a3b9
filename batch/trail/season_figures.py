"""The figures of the season's tables: the budget to the cent, the waiting list, and the farms that
were approved. Each method gives the parts of a figure, its arithmetic or None, and words."""

import numpy as np

from batch.columns import CANDIDATES, DELIVERED, STUDY
from batch.columns.delivered import APPROVED_KEYS, DELIVERED_FARMS
from batch.columns.study import BUDGETS
from batch.program.delivered import EQUAL, MEASURES, amount_of
from batch.program.season import approved_usd, committed_usd, paid_usd
from batch.trail.limit_figures import APPROVED, budget_cells, cells_of, counted_by_budget
from batch.trail.lines import CELL, FIGURE, row_names, sum_of

OF_BUDGET = ("budget_usd", "carried_in_usd", "paid_usd", "committed_usd", "funded_now_usd")
TOLD_BY = ("metered_kw", "metered_kwh", "hours_run", "water_acre_ft", "planned_hours",
           "planned_acre_ft", "final_project_cost_usd", "approved_project_cost_usd")
LESS = {"change_usd": ("today_usd", "promised_usd"),
        "load_change_kw": ("added_load_kw", "approved_added_load_kw"),
        "cost_change_usd": ("project_cost_usd", "approved_project_cost_usd")}
TODAY = {"today_usd": "incentive_cost_usd", "added_load_kw": "added_load_kw",
         "project_cost_usd": "project_cost_usd", "verdict": "verdict"}


class SeasonFigures:
    """Parts, arithmetic and words of a figure by the name of its row, its key and the row."""

    def __init__(self, study, farms):
        """`farms` are the figures of the farms."""
        self.study, self.farms = study, farms

    def budget(self, name, key, row):
        """A year's money: given, promised, funded now, and left."""
        inputs, figure = self.study.inputs, (FIGURE, "budget", name)
        first = inputs.study["rules_year"]
        if key == "left_usd":
            parts = [(*figure, of) for of in OF_BUDGET]
            terms = [row[of] for of in OF_BUDGET]
            return parts, lambda marked: " ".join(
                f"{sign}{value:.10g}{marked(part)}" for sign, value, part in zip(
                    ("", "+ ", "- ", "- ", "- "), terms, parts)), ""
        if key == "budget_usd":
            return ((CELL, STUDY.name, 0, BUDGETS[int(row["program_year"]) - first]),), None, ""
        if key == "carried_in_usd":
            return ((CELL, STUDY.name, 0, key),), None, ""
        if key in ("paid_usd", "committed_usd"):
            usd = (committed_usd(inputs.candidates) if key == "committed_usd"
                   else paid_usd(inputs))
            rows = usd.index[usd > 0] if row["program_year"] == first else usd.index[:0]
            parts, added = self._promised(rows)
            by = ("status", "in_service_date") if key == "paid_usd" else ("status",)
            return (*parts, *cells_of(rows, *by)), added, ""
        if key == "funded_now_usd":
            years = self.study.funding.year_by.get(self.study.funding.by, {})
            mine = [farm for farm in self.study.funding.funded
                    if years.get(farm, 0) == row["program_year"] - first]
            funded = self.study.funding.funded_sets.rows_of(mine)
            parts, added = self.farms.sum_over(funded, "incentive_cost_usd")
            more = counted_by_budget(self.farms, funded, inputs.rules)
            told = tuple((FIGURE, "farm", farm, "funded") for farm in mine)
            return (*parts, *more, *told), None if more else added, (
                "incentive cost, and what the rules add to it" if more else "")
        if key == "waiting_usd" and not np.isnan(row[key]):
            waiting = self.study.season.waiting
            return (*sum_of([(FIGURE, "waiting_list", farms, "asks_usd")
                             for farms in waiting["farms"]], waiting["asks_usd"]), "")
        return (), None, ""

    def _promised(self, rows):
        candidates = self.study.inputs.candidates
        given = [(row, key) for row in rows for key in APPROVED
                 if candidates.at[row, key] == candidates.at[row, key]]
        return sum_of([cell for row, key in given for cell in cells_of([row], key)],
                      [candidates.at[row, key] for row, key in given])

    def waiting(self, name, key, row):
        """What a group asks, with all before it, and what is missing."""
        table, place = self.study.season.waiting, int(row["place"])
        figures = [(FIGURE, "waiting_list", farms, "asks_usd") for farms in table["farms"][:place]]
        if key == "so_far_usd":
            return (*sum_of(figures, table["asks_usd"][:place]), "")
        so_far = (FIGURE, "waiting_list", name, "so_far_usd")
        if key == "must_be_free_usd":
            free = budget_cells(self.study)
            funded = tuple((FIGURE, "farm", farm, "incentive_cost_usd")
                           for farm in self.study.funding.funded)
            return (so_far, *free, *funded), None, "asked so far less what is left, not below 0"
        ranked = tuple((FIGURE, "farm", row, key) for row in self.study.funding.entered
                       for key in ("incentive_cost_usd", "rank"))
        return ranked, None, "cost of the funded set with it less without it, settled"

    def approved(self, name, key, row):
        """What was promised to a farm, what today gives, and the difference."""
        farm = self.farms.row_of[name]
        if key in LESS:
            parts = [(FIGURE, "approved_farms", name, one) for one in LESS[key]]
            if np.isnan(row[key]):
                return parts, None, ""
            values = [row[one] for one in LESS[key]]
            return parts, lambda marked: " - ".join(
                f"{value:.10g}{marked(part)}" for value, part in zip(values, parts)), ""
        if key == "promised_usd":
            return (*self._promised([farm]), "") if not np.isnan(
                approved_usd(self.study.inputs.candidates)[farm]) else (
                cells_of([farm], *APPROVED), None, "")
        if key in TODAY:
            return ((FIGURE, "farm", farm, TODAY[key]),), None, ""
        if key == "partners_left_usd":
            on_line = self.study.sets.on_line.get(self.study.sets.line_of.get(farm), ())
            return ((FIGURE, "farm", farm, "project_cost_usd"), *cells_of(on_line, "status")), (
                None), "less the cost if the farms that left still built"
        if key in CANDIDATES.by_key:
            return cells_of([farm], key), None, ""
        return (), None, ""

    def delivered(self, name, key, row):
        """A farm's season: cells of the Delivered sheet, else of its row on Candidates, and what is
        worked of them."""
        column, farm = DELIVERED_FARMS.by_key[key], self.farms.row_of[row["candidate_id"]]
        if column.worked and not np.isnan(row[key]):
            ids = {one: (FIGURE, "delivered", name, one) for one in DELIVERED_FARMS.by_key
                   if one in column.worked.split()}
            return tuple(ids.values()), lambda marked: " ".join(
                f"{row[word]:.10g}{marked(ids[word])}" if word in ids else word
                for word in column.worked.split()), ""
        if key in ("planned_hours", "planned_acre_ft"):
            hours = (FIGURE, "farm", farm, "season_hours")
            more = cells_of([farm], "flow_gpm") if key == "planned_acre_ft" else ()
            return (hours, *more), None, "flow times hours" if more else ""
        place = self._row_of(name)
        if key in ("promised_usd", "paid_usd"):
            paid = ("paid_incentive_usd", "paid_cooperative_usd") if key == "paid_usd" else ()
            parts = [*((CELL, DELIVERED.name, place, one) for one in paid),
                     *(part for one in APPROVED for part in self._given(place, farm, one))]
            return parts, None, "the sum of both"
        if key in DELIVERED.by_key:
            return self._given(place, farm, key), None, ""
        return [(FIGURE, "delivered", name, one) for one in TOLD_BY], None, ""

    def _row_of(self, name) -> int:
        """The row of the Delivered sheet of a farm's season."""
        farms = self.study.season.delivered
        return int(farms.index[row_names(DELIVERED_FARMS, farms).index(name)])

    def _given(self, place, farm, key):
        """The cell that a value comes of: of the row itself, or of the farm's."""
        value = self.study.inputs.delivered.at[place, key]
        if key in APPROVED_KEYS and value != value:
            return cells_of([farm], key)
        return ((CELL, DELIVERED.name, place, key),)

    def realization(self, name, key, row):
        """The sums of what is known of both, and their ratio."""
        promised, has = MEASURES[name]
        farms = self.study.season.delivered
        known = farms[farms[promised].notna() & amount_of(farms, has).notna()]
        names = row_names(DELIVERED_FARMS, known)

        def figures(of):
            return [(FIGURE, "delivered", one, of) for one in names]
        if key == "promised":
            return (*sum_of(figures(promised), known[promised]), "")
        if key == "delivered":
            if has in EQUAL:
                parts = [*figures(has), *figures(promised)]
                return parts, None, "their shares of what was promised"
            return (*sum_of(figures(has), known[has]), "")
        both = [(FIGURE, "realization", name, one) for one in ("promised", "delivered")]
        if key == "ratio" and not np.isnan(row["ratio"]):
            return both, lambda marked: " / ".join(
                f"{row[one]:.10g}{marked(part)}" for one, part in zip(
                    ("delivered", "promised"), reversed(both))), ""
        return [*figures(promised), *figures(has)], None, "batch/portfolio/realization.py"
