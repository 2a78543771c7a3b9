"""The figures of one farm or of one of its designs, each with what it is made of.

What a figure is made of stands in the dictionary: its arithmetic, or the columns and rules that it
is found from. Where neither names them, it is what the figure's step declares that it needs.
"""

from functools import cache, cached_property

import numpy as np
import pandas as pd

from batch.columns import (
    CANDIDATES,
    EVERY_SHEET,
    PROGRAM,
    RATES,
    RESULTS,
    SHARED_LINES,
    STUDY,
    WORKING,
)
from batch.columns.candidates import ROTARY, SINGLE_PHASE_DRIVE
from batch.columns.program import COST_ITEMS, item_key
from batch.columns.unit_costs import LINE, LINE_FIXED, MOTOR_LEAD, PIVOT_LEAD
from batch.columns.worked_by_rule import allowance_key
from batch.columns.working import COST_SHARES, TYPED_NAMES
from batch.money.prices import SHARED_PART, cost_lines, in_words
from batch.program.best_set import goal_key
from batch.program.season import by_rules, rules_year_of
from batch.study import FLOW
from batch.trail.ends import value_text
from batch.trail.limit_figures import BUDGET_ADDS, budget_cells, of_set_cells, of_set_rules
from batch.trail.lines import CELL, FIGURE, RATE, RULE, Line, sum_of
from batch.trail.look_ups import table_rows
from batch.trail.shared_line import (
    line_mates,
    line_prices,
    load_of_builders,
    price_ids,
    shared_part,
)
from batch.trail.table_figures import DRAWN_RULES, drawn_in_words, of_draws
from batch.trail.worked import names_in, worked_line

TYPED_AS = {working: typed for typed, working in TYPED_NAMES.items()}
BASE_OF = {f"base_{item_key(item)}_usd": item for item in COST_ITEMS}
ALLOWANCES = {allowance_key(item): item for item in COST_ITEMS}
# Prices that stand in other keys than the base of an item: as what they are on the price list.
PRICED = {"own_line_usd": (LINE, LINE_FIXED), "motor_lead_usd_ft": (MOTOR_LEAD,),
          "pivot_lead_usd_ft": (PIVOT_LEAD,)}
# Of these what a line of the farm's kind costs, built by the farm or not.
OF_ANY_LINE = {"line_job_usd": (LINE_FIXED,), "trunk_alone_usd": (LINE, LINE_FIXED),
               "trunk_part_usd": (LINE, LINE_FIXED)}
ADDED_UP = "own_line_usd"  # of these the one that is the sum of its lines
VERDICT, FUTURES = (RESULTS.by_key[key].group for key in ("verdict", "rank_p10"))
# What the price list says of a machine beside its price, and the item that lists it.
LISTED = ("size", "single_phase_hp", "inrush_kva")
LISTED_ITEM = {SINGLE_PHASE_DRIVE: "drive", ROTARY: "converter"}
# Columns that steps carry over from where they are typed: they are ends, not figures.
CARRIED = ("losses_pct", "shared_single_phase_ft", "shared_three_phase_ft", "excel_row")
# Drawn figures in which a farm stands against all others.
OF_ALL = ("rank_p10", "rank_p90", "budget_chance_pct")
ALWAYS_ZERO = ("administrator_benefits_usd",)
MAKERS = {key: step for stage in FLOW for step in stage.steps for key in step.makes}


@cache
def column_of(key: str):
    """A key of a farm's row in the dictionary."""
    for sheet in (RESULTS, WORKING, *EVERY_SHEET):
        if key in sheet.by_key:
            return sheet.by_key[key]
    raise LookupError(f"{key} is no figure of a farm")


class FarmFigures:
    """Lines of figures with the ids (FIGURE, "farm", Excel row, key), of a farm as it would be
    served, and (FIGURE, "design", number of the design, key), of another option or variant."""

    def __init__(self, study):
        self.study = study
        self._rows, self._lines, self._made = {}, {}, {}
        self._under, self._year_of = by_rules(study.inputs), rules_year_of(study.inputs)

    def line(self, figure: tuple) -> Line:
        """The line of a figure's id."""
        if figure not in self._made:
            self._made[figure] = self._line(figure)
        return self._made[figure]

    def _line(self, figure):
        _, of, place, key = figure
        row = self.row(of, place)
        if key in ALLOWANCES:
            return self._allowance(figure, row)
        column = column_of(key)
        if of == "farm" and place not in self.chosen:
            return Line(figure, FIGURE, self._place(of, row, key), column.label,
                        value_text(column, row.get(key)), str(row["verdict_reason"]),
                        ((CELL, CANDIDATES.name, place, "candidate_id"),),
                        farm=str(row["candidate_id"]))
        parts, arithmetic = self._by_its_rules(row, *self._made_of(figure, row))
        tables = table_rows(key, row, self._rules_of(row))
        source = column.source or ("" if arithmetic or parts or tables else column.help)
        if column.group == FUTURES:
            source = drawn_in_words(self.study)
        if key == "incentive_usd":
            source = f"decided by: {row['incentive_decided_by']}; {source}"
        return Line(figure, FIGURE, self._place(of, row, key), column.label,
                    value_text(column, row.get(key)), source,
                    tuple(dict.fromkeys([*parts, *tables])), arithmetic, str(row["candidate_id"]))

    def _rules_of(self, row):
        """The rules by which a farm is judged."""
        return self._under[self._year_of[row["excel_row"]]].rules

    def _by_its_rules(self, row, parts, arithmetic):
        """Parts and arithmetic with the rules of the farm's own year, where it is another."""
        year = int(self._year_of[row["excel_row"]])
        if year == self.study.inputs.rules.year:
            return parts, arithmetic

        def own(part):
            return (*part, year) if part[0] == RULE and len(part) == 2 else part
        return [own(part) for part in parts], arithmetic and (
            lambda marked: arithmetic(lambda part: marked(own(part))))

    def row(self, of, place):
        """Everything that is known of a farm or design, by key."""
        if (of, place) not in self._rows:
            study = self.study
            if of == "farm":
                chosen = self.chosen.get(place)
                design = {} if chosen is None else study.options.loc[chosen].to_dict()
                row = design | study.results.loc[place].to_dict() | self._allowances.get(chosen, {})
            else:
                row = self._of_design(place) | self._allowances.get(place, {})
            self._rows[of, place] = row
        return self._rows[of, place]

    def _of_design(self, place):
        """A design of the study as it is shown, or of a farm among other builders of its line."""
        study = self.study
        options, designs = study.sets.options, study.sets.designs
        for frame in (study.options, study.variants):
            if place in frame.index and (frame is study.options or place not in options.index):
                return frame.loc[place].to_dict()
        row = (options if place in options.index else designs).loc[place].to_dict()
        judged = study.sets.judged
        row |= judged.loc[place].to_dict() if place in judged.index else {}
        return row | {"excel_row": int(row["farm_row"])}

    @cached_property
    def chosen(self) -> dict:
        """The design that each farm gets, by Excel row."""
        options = self.study.options[self.study.options["is_chosen"]]
        return dict(zip(options["excel_row"], options.index))

    @cached_property
    def row_of(self) -> dict:
        """The Excel row of each candidate; of a name that is typed twice, the one with a supply."""
        results = self.study.results
        rows = dict(zip(results["candidate_id"], map(int, results.index)))
        return rows | {results.at[row, "candidate_id"]: row for row in self.chosen}

    def _place(self, of, row, key):
        if of == "farm":
            file = "results.csv" if key in RESULTS.by_key else "in between, in no file"
            return f"{file}, {row['candidate_id']}, {key}"
        if not isinstance(row.get("builders"), str):
            return f"options.csv, {row['candidate_id']}, {row['supply_option']}, {key}"
        names = self.study.sets.name_of_farm
        among = ", ".join(sorted(names[int(one)] for one in row["builders"].split()))
        return f"{row['candidate_id']} where {among} build, {row['supply_option']}, {key}"

    def _made_of(self, figure, row):
        """Ids of the parts, and the arithmetic where it is one line."""
        _, of, place, key = figure
        if key in BASE_OF or key in PRICED or key in OF_ANY_LINE:
            return self._priced(figure, row)
        if of == "farm" and (own := self._among_farms(place, key)):
            return own
        if key == "trunk_load_ratio" and isinstance(row["builders"], str):
            design = self.chosen.get(place) if of == "farm" else place
            return load_of_builders(self.study, figure, row, design)
        rules = self._rules_of(row)
        if names := names_in(key, row, rules):
            ids = {name: self._id(figure, row, name) for name in names}

            def arithmetic(marked):
                return worked_line(key, row, rules, lambda name: marked(ids[name])).arithmetic
            return [part for part in ids.values() if part], arithmetic
        return [part for name in self._named(key)
                for part in self._ids(figure, row, name) if part], None

    def _named(self, key):
        """The keys that a figure without arithmetic is found from."""
        made_of = column_of(key).made_of
        if made_of or key in ALWAYS_ZERO or key not in MAKERS:
            return made_of.split()
        step = MAKERS[key]
        rates = tuple(RATES.by_key) if "rates" in step.takes else ()
        return (*step.needs, *step.rules, *rates)

    def _ids(self, figure, row, name):
        """The ids of a part by its name: both for a cell that a rule stands in for, the rows that
        list the machine for its ratings."""
        if name in LISTED and name not in row:
            return self._price_rows(figure, LISTED_ITEM.get(row["supply_option"]))
        own = self._id(figure, row, name)
        return [own, (RULE, name)] if own and own[0] == CELL and name in PROGRAM.by_key else [own]

    def _id(self, figure, row, name):
        """The id of a part by its name; None where the row has no such thing."""
        _, of, place, _ = figure
        excel_row = row["excel_row"]
        if name in CARRIED:
            return self._carried(row, name)
        if (name in MAKERS or name in ALLOWANCES) and name in row:
            return (FIGURE, of, place, name)
        if name in STUDY.by_key:
            return (CELL, STUDY.name, 0, name)
        typed = TYPED_AS.get(name, name)
        if typed in CANDIDATES.by_key and (name in row or name not in PROGRAM.by_key):
            return (CELL, CANDIDATES.name, excel_row, typed)
        if name in PROGRAM.by_key:
            return (RULE, name)
        if name in RATES.by_key:
            return self._rate(excel_row, name)
        return None

    def _carried(self, row, name):
        if name in RATES.by_key:
            return self._rate(row["excel_row"], name)
        lines = self.study.inputs.shared_lines
        mine = lines.index[lines["shared_line_id"] == row["shared_line_id"]]
        if name in SHARED_LINES.by_key and len(mine):
            return (CELL, SHARED_LINES.name, int(mine[0]), name)
        return (CELL, CANDIDATES.name, row["excel_row"],
                "shared_line_id" if name in SHARED_LINES.by_key else "candidate_id")

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
        if key in OF_ANY_LINE:
            lines = [line for line in line_prices(self.study, row)
                     if line["priced_as"] in OF_ANY_LINE[key]]
        else:
            lines = [line for line in self._lines_of(of, place)
                     if (line["item"] == BASE_OF[key] if key in BASE_OF
                         else line["priced_as"] in PRICED[key])]
        found = [part for name in self._named(key) for part in self._ids(figure, row, name) if part]
        parts = [*price_ids(lines), *found]
        if key == "trunk_part_usd":
            return [*line_mates(self.study, self, row), *parts], shared_part(self.study, row, lines)
        if key not in BASE_OF and key != ADDED_UP:
            return parts, None
        shared = (FIGURE, of, place, "trunk_part_usd")

        def arithmetic(marked):
            return " + ".join(in_words(line, lambda one: marked(
                shared if one["priced_as"] == SHARED_PART else price_ids([one])[0]))
                for line in lines) or "0"
        return parts, arithmetic

    def _price_rows(self, figure, item):
        return price_ids([line for line in self._lines_of(*figure[1:3])
                           if line["item"] == item])

    def _lines_of(self, of, place):
        """The cost lines of a farm's or design's items."""
        if of == "farm":
            return self._lines_by_farm.get(self.row(of, place)["candidate_id"], [])
        if place not in self._lines:
            frame = next(frame for frame in (self.study.options, self.study.variants,
                                             self.study.sets.designs)
                         if place in frame.index).loc[[place]]
            lines = cost_lines(frame, self.study.inputs.price_list)
            self._lines[place] = lines.to_dict("records")
        return self._lines[place]

    @cached_property
    def _lines_by_farm(self):
        by_farm = {}
        for line in self.study.cost_lines.to_dict("records"):
            by_farm.setdefault(line["candidate_id"], []).append(line)
        return by_farm

    def _allowance(self, figure, row):
        """What is free of an item of the farm or design, as the ledger has it."""
        item, name = ALLOWANCES[figure[3]], str(row["candidate_id"])
        share = f"member_{item_key(item)}_usd"
        parts = [part for one in self._named(share)
                 for part in self._ids((*figure[:3], share), row, one) if part]
        column = COST_SHARES.by_key["allowance_usd"]
        return Line(figure, FIGURE, f"cost_shares.csv, {name}|{item}, allowance_usd",
                    f"{item}: {column.label}", value_text(column, row[figure[3]]), column.help,
                    tuple(dict.fromkeys(parts)), farm=name)

    @cached_property
    def _allowances(self):
        """What the cooperative gives first towards each item of each design."""
        ledgers = pd.concat([self.study.sets.ledger, self.study.ledger])
        by_design = {}
        for design, item, usd in zip(ledgers["design"], ledgers["item"], ledgers["allowance_usd"]):
            by_design.setdefault(design, {})[allowance_key(item)] = usd
        return by_design

    # --- sets of farms ---------------------------------------------------------------------------

    def in_set(self, farms, key) -> list[tuple]:
        """The ids of a figure of the farms of a set: those that are shown themselves, or as they
        are among the other builders of their line."""
        shown = {option["excel_row"]: _case(option)
                 for _, option in self.study.options.drop_duplicates("excel_row").iterrows()}
        # Among others whether a farm may be funded is its verdict there.
        there = "verdict" if key == "may_be_funded" else key
        return [(FIGURE, "farm", int(row), key)
                if shown[row] == _case(farm)
                else (FIGURE, "design", int(farm["design"]), there)
                for row, farm in farms.iterrows()]

    def sum_over(self, farms, key):
        """The sum of a figure over the farms of a set that have it."""
        known = farms[farms[key].notna()]
        return sum_of(self.in_set(known, key), known[key])

    # --- among the farms -------------------------------------------------------------------------

    @cached_property
    def _ranked(self):
        """The ranked farms' rows, best first."""
        ranked = self.study.results[self.study.results["rank"].notna()]
        return [int(farm) for farm in ranked.sort_values("rank").index]

    def _among_farms(self, place, key):
        """What hangs on the other farms: rank, budget line, best set, phase and futures."""
        if column_of(key).group not in (FUTURES, VERDICT):
            return None
        farms = self._ranked

        def of_farms(*keys, among=farms):
            return [(FIGURE, "farm", farm, one) for one in keys for farm in among]

        budget = budget_cells(self.study)
        if key == "rank":
            return [(FIGURE, "farm", place, "verdict"),
                    *of_farms("incentive_cost_usd", "counted_load_kw")], None
        if key == "running_incentive_cost_usd" and place in farms:
            funding = self.study.funding
            ranked = funding.asked.sets.rows_of(funding.entered[place].rows)
            parts, arithmetic = self.sum_over(ranked, "incentive_cost_usd")
            return [*parts, (FIGURE, "farm", place, "rank")], arithmetic
        if key == "in_budget":
            return [*((FIGURE, "farm", place, one) for one in (
                "running_incentive_cost_usd", "may_be_funded")), *budget,
                    *((RULE, rule) for rule in BUDGET_ADDS)], None
        if key in ("in_best_set", "best_set_year"):
            goal = goal_key(self.study.inputs.rules)
            return [*of_farms("incentive_cost_usd", goal, "added_load_kw", "may_be_funded"),
                    *budget, *of_set_cells(self.study.inputs), *of_set_rules()], None
        if column_of(key).group == FUTURES:
            return self._of_futures(place, key, of_farms, budget)
        return None

    def _of_futures(self, place, key, of_farms, budget):
        """A band or a chance: in how many of the drawn futures; where farms stand against each
        other, all of them are drawn."""
        own = ("member_npv_usd", "cooperative_npv_usd", "member_payback_yr",
               "cooperative_payback_yr", "rank")
        among = of_farms("incentive_cost_usd", "counted_load_kw", "may_be_funded",
                         "cooperative_payback_yr") if key in OF_ALL else []
        limits = [(RULE, f"maximum_{party}_payback_yr") for party in ("member", "cooperative")]
        chance = self.row("farm", place)[key] if key.endswith("_chance_pct") else np.nan
        return [*((FIGURE, "farm", place, one) for one in own), *among, *budget, *limits,
                *DRAWN_RULES], of_draws(self.study, chance)


def _case(farm) -> tuple:
    """The builders of a farm's shared line, and the way whose set chose its option; None of none.
    """
    return tuple(one if isinstance(one, str) else None
                 for one in (farm["builders"], farm.get("way")))
