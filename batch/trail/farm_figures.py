"""The figures of one farm or of one of its designs, each with what it is made of.

What a figure is made of stands in the dictionary: its arithmetic, or the columns and rules that it
is found from. Where neither names them, it is what the figure's step declares that it needs.
"""

from functools import cached_property

import numpy as np

from batch.columns import (
    CANDIDATES,
    EVERY_SHEET,
    FEEDERS,
    PROGRAM,
    RATES,
    RESULTS,
    SHARED_LINES,
    STUDY,
    WORKING,
)
from batch.columns.program import COST_ITEMS, GOALS, item_key
from batch.columns.working import TYPED_NAMES
from batch.money.prices import SHARED_PART, cost_lines
from batch.study import FLOW
from batch.trail.ends import value_text
from batch.trail.lines import CELL, FIGURE, PRICE, RATE, RULE, Line
from batch.trail.worked import names_in, worked_line

TYPED_AS = {working: typed for typed, working in TYPED_NAMES.items()}
BASE_OF = {f"base_{item_key(item)}_usd": item for item in COST_ITEMS}
# Prices that stand in other keys than the base of an item: key, and the item whose lines they are.
PRICED = {"own_line_usd": "line", "line_job_usd": "line", "trunk_alone_usd": "line",
          "trunk_part_usd": "line", "motor_lead_usd_ft": "leads", "pivot_lead_usd_ft": "leads"}
VERDICT, FUTURES = (RESULTS.by_key[key].group for key in ("verdict", "rank_p10"))
DRAWN_BY = ("uncertainty_draws", "uncertainty_seed", "fuel_price_spread_pct", "hours_spread_pct",
            "construction_spread_pct", "wholesale_spread_pct", "farm_correlation_pct",
            "yearly_correlation_pct")
MAKERS = {key: step for stage in FLOW for step in stage.steps for key in step.makes}


def column_of(key: str):
    """A key of a farm's row in the dictionary."""
    for sheet in (RESULTS, WORKING, *EVERY_SHEET):
        if key in sheet.by_key:
            return sheet.by_key[key]
    raise LookupError(f"{key} is no figure of a farm")


class FarmFigures:
    """Lines of figures with the ids (FIGURE, "farm", Excel row, key), of a farm as it would be
    served, and (FIGURE, "design", number of the design, key), of another option or variant."""

    def __init__(self, study, *, owner: str | None = None):
        """`owner` is the candidate whose name its own figures go without."""
        self.study, self.owner = study, owner
        self._rows, self._lines = {}, {}

    def line(self, figure: tuple) -> Line:
        """The line of a figure's id."""
        _, of, place, key = figure
        row, column = self._row(of, place), column_of(key)
        name = "" if row["candidate_id"] == self.owner else f"{row['candidate_id']}: "
        parts, arithmetic = self._made_of(figure, row)
        source = column.source or ("" if arithmetic else self._step_words(key))
        return Line(figure, FIGURE, self._place(of, row, key), name + column.label,
                    _value_text(column, row.get(key)), source,
                    tuple(dict.fromkeys(parts)), arithmetic)

    def _row(self, of, place):
        """Everything that is known of a farm or design, by key."""
        if (of, place) not in self._rows:
            study = self.study
            if of == "farm":
                chosen = self.chosen.get(place)
                design = {} if chosen is None else study.options.loc[chosen].to_dict()
                row = design | study.results.loc[place].to_dict()
            else:
                frame = study.options if place in study.options.index else study.variants
                row = frame.loc[place].to_dict()
            self._rows[of, place] = row
        return self._rows[of, place]

    @cached_property
    def chosen(self) -> dict:
        """The design that each farm gets, by Excel row."""
        options = self.study.options[self.study.options["is_chosen"]]
        return dict(zip(options["excel_row"], options.index))

    def _place(self, of, row, key):
        if of == "farm":
            file = "results.csv" if key in RESULTS.by_key else "in between, in no file"
            return f"{file}, {row['candidate_id']}, {key}"
        return f"options.csv, {row['candidate_id']}, {row['supply_option']}, {key}"

    def _step_words(self, key):
        return MAKERS[key].does if key in MAKERS else ""

    def _made_of(self, figure, row):
        """Ids of the parts, and the arithmetic where it is one line."""
        _, of, place, key = figure
        if key in BASE_OF or key in PRICED:
            return self._priced(figure, row)
        if of == "farm" and (own := self._among_farms(place, key, row)):
            return own
        rules = self.study.inputs.rules
        if names := names_in(key, row, rules):
            ids = {name: self._id(figure, row, name) for name in names}

            def arithmetic(marked):
                return worked_line(key, row, rules, lambda name: marked(ids[name])).arithmetic
            return [part for part in ids.values() if part], arithmetic
        return [part for name in self._named(key)
                for part in self._ids(figure, row, name) if part], None

    def _named(self, key):
        """The keys that a figure without arithmetic is found from."""
        made_of = getattr(column_of(key), "made_of", "")
        if made_of or key not in MAKERS:
            return made_of.split()
        step = MAKERS[key]
        rates = tuple(RATES.by_key) if "rates" in step.takes else ()
        return (*step.needs, *step.rules, *rates)

    def _ids(self, figure, row, name):
        if name in SHARED_LINES.by_key and name not in MAKERS and name not in row:
            return []
        return [self._id(figure, row, name)]

    def _id(self, figure, row, name):
        """The id of a part by its name; None where the row has no such thing."""
        _, of, place, _ = figure
        excel_row = row["excel_row"]
        if name in MAKERS and name in row:
            return (FIGURE, of, place, name)
        typed = TYPED_AS.get(name, name)
        if typed in CANDIDATES.by_key and (name in row or name not in PROGRAM.by_key):
            return (CELL, CANDIDATES.name, excel_row, typed)
        if name in PROGRAM.by_key:
            return (RULE, name)
        if name in RATES.by_key:
            return self._rate(excel_row, name)
        return None

    def _rate(self, excel_row, key):
        row, given = self._rates.get(self.study.inputs.candidates.at[excel_row, "rate_id"],
                                     (None, ()))
        return (RATE, row, key) if key in given else None

    @cached_property
    def _rates(self):
        """The row of each rate and the keys that it fills, by its name."""
        rates = self.study.inputs.rates
        known = rates.notna()
        return {name: (int(row), {key for key in rates if known.at[row, key]})
                for row, name in rates["rate_id"].items()}

    # --- prices ----------------------------------------------------------------------------------

    def _priced(self, figure, row):
        """The lines of the price list behind the cost of an item, and what gives its sizes."""
        _, of, place, key = figure
        item = BASE_OF.get(key) or PRICED[key]
        lines = [line for line in self._lines_of(of, place) if line["item"] == item]
        parts = [(PRICE, int(line["price_row"])) for line in lines
                 if not np.isnan(line["price_row"])]
        shared = (FIGURE, of, place, "trunk_part_usd")
        found = [part for name in self._named(key) for part in self._ids(figure, row, name) if part]
        if key == "trunk_part_usd":
            return [*self._line_mates(row), *parts, *found], None
        if key in PRICED:
            return [*parts, *found], None

        def arithmetic(marked):
            terms = []
            for line in lines:
                if line["priced_as"] == SHARED_PART:
                    terms.append(f"{line['amount_usd']:.2f} USD{marked(shared)}")
                elif np.isnan(line["price_row"]):
                    terms.append(f"{line['priced_as']} without a price or size")
                else:
                    terms.append(f"{line['quantity']:.7g} {line['quantity_unit']} x "
                                 f"{line['unit_price_usd']:.7g} USD"
                                 f"{marked((PRICE, int(line['price_row'])))}")
            return " + ".join(terms) or "0"
        return [*parts, *found], arithmetic

    def _lines_of(self, of, place):
        """The cost lines of a farm's or design's items."""
        if (of, place) not in self._lines:
            design = self.chosen.get(place) if of == "farm" else place
            frame = (self.study.options if design in self.study.options.index
                     else self.study.variants).loc[[design]]
            lines = cost_lines(frame, self.study.inputs.price_list)
            self._lines[of, place] = lines.to_dict("records")
        return self._lines[of, place]

    def _line_mates(self, row):
        """The shared line's own cells, and the farms that pay for it together."""
        inputs, results = self.study.inputs, self.study.results
        lines = inputs.shared_lines
        mine = lines.index[lines["shared_line_id"] == row["shared_line_id"]]
        cells = [(CELL, SHARED_LINES.name, int(mine[0]), key) for key in SHARED_LINES.by_key
                 if len(mine) and lines.at[mine[0], key] == lines.at[mine[0], key]]
        mates = results.index[(inputs.candidates["shared_line_id"] == row["shared_line_id"])
                              & (results.index != row["excel_row"])] if len(mine) else []
        keys = ("trunk_ft", "supply_option", "verdict")
        return cells + [(FIGURE, "farm", int(mate), key) for mate in mates for key in keys
                        if key in self._row("farm", mate)]

    # --- among the farms -------------------------------------------------------------------------

    @cached_property
    def _ranked(self):
        """The ranked farms' rows, best first."""
        ranked = self.study.results[self.study.results["rank"].notna()]
        return [int(farm) for farm in ranked.sort_values("rank").index]

    def _among_farms(self, place, key, row):
        """What hangs on the other farms: rank, budget line, best set, phase and futures."""
        if column_of(key).group not in (FUTURES, VERDICT):
            return None
        farms = self._ranked

        def of_farms(*keys, among=farms):
            return [(FIGURE, "farm", farm, one) for one in keys for farm in among]

        budget = (CELL, STUDY.name, 0, "program_budget_usd")
        own_verdict = (FIGURE, "farm", place, "verdict")
        if key == "rank":
            return [own_verdict, *of_farms("incentive_usd_per_kw")], None
        if key == "running_incentive_cost_usd" and place in farms:
            ahead = farms[:farms.index(place) + 1]
            return _sum_of(of_farms("incentive_cost_usd", among=ahead),
                           [self._row("farm", farm)["incentive_cost_usd"] for farm in ahead])
        if key == "in_budget":
            return [(FIGURE, "farm", place, "running_incentive_cost_usd"), budget], None
        if key in ("in_best_set", "best_set_year"):
            goal = GOALS[self.study.inputs.rules["budget_goal"]]
            feeders = [(CELL, FEEDERS.name, int(feeder), "spare_capacity_kw")
                       for feeder in self.study.inputs.feeders.index]
            return [*of_farms("incentive_cost_usd", goal), budget, *feeders,
                    (RULE, "budget_goal"), (RULE, "feeder_coincidence_pct")], None
        if column_of(key).group == FUTURES:
            return [*((FIGURE, "farm", place, one) for one in (
                "member_npv_usd", "cooperative_npv_usd", "rank")),
                *((RULE, name) for name in DRAWN_BY)], None
        return None


def _sum_of(parts, values):
    """A sum of figures, as arithmetic."""
    def arithmetic(marked):
        return " + ".join(f"{value:,.10g}{marked(part)}" for part, value in zip(parts, values))
    return parts, arithmetic


def _value_text(column, value):
    """The value; a list of amounts by year is written out."""
    if isinstance(value, np.ndarray):
        return "by year " + ", ".join(f"{usd:,.2f}" for usd in value) + f" {column.unit}"
    return value_text(column, value)
