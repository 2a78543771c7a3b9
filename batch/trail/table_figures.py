"""The figures of feeders, shared lines, drawn futures and rules: each with
its arithmetic, or in words with numbers what it was found from.

A method gives the parts of a figure, its arithmetic or None, and words for what is not arithmetic.
"""

import numpy as np

from batch.columns import CANDIDATES, FEEDERS, RESULTS, STUDY, WORKING
from batch.columns.candidates import SINGLE_PHASE_DRIVE, THREE_PHASE_LINE
from batch.farm.list_spread import QUANTITIES, SURVEY_TABLE
from batch.portfolio.uncertainty import LEAST_FACTOR
from batch.program.feeders import PHASES
from batch.program.futures import RULE_OF, TEN_PERCENT_POINT, effective_spreads
from batch.tables import table
from batch.trail.lines import CELL, FIGURE, RULE, TABLE, sum_of

DRAWN_BY = ("uncertainty_draws", "uncertainty_seed", "fuel_price_spread_pct", "hours_spread_pct",
            "construction_spread_pct", "wholesale_spread_pct", "farm_correlation_pct",
            "yearly_correlation_pct")
DRAWN_RULES = tuple((RULE, name) for name in DRAWN_BY)
BOTH = ("member_npv_usd", "cooperative_npv_usd")
OPTION_OF = {"single_phase": SINGLE_PHASE_DRIVE, "three_phase": THREE_PHASE_LINE}
COINCIDENCE, OVERHEAD = (RULE, "feeder_coincidence_pct"), (RULE, "overhead_adder_pct")


def of_farms(rows, *keys):
    """Ids of keys of farms: figures, or cells of the Candidates sheet."""
    return tuple((FIGURE, "farm", int(row), key)
                 if key in RESULTS.by_key or key in WORKING.by_key
                 else (CELL, CANDIDATES.name, int(row), key) for key in keys for row in rows)


def counted(parts):
    """The parts of a number of farms, each counted once."""
    return sum_of(parts, [1] * len(parts))


def drawn_in_words(study) -> str:
    """How many futures were drawn, with what seed, of what, and how to have them again."""
    rules = study.inputs.rules
    spreads = ", ".join(f"{driver} {rules[f'{rule}_spread_pct']:g} %"
                        for driver, rule in RULE_OF.items())
    return (f"{study.portfolio.draws} futures drawn with seed {rules['uncertainty_seed']:g}; "
            f"spreads of {spreads}; every run draws the same again: batch/program/futures.py")


def of_draws(study, pct):
    """The arithmetic of a chance: in how many futures, of how many."""
    draws = study.portfolio.draws
    if not draws or np.isnan(pct):
        return None
    return lambda marked: f"100 x {round(pct * draws / 100)} futures / {draws}"


class TableFigures:
    """Parts, arithmetic and words of the figures of the portfolio's smaller tables."""

    def __init__(self, study, frames, farms):
        """`frames` has the portfolio's tables by the name of their file, `farms` the figures of the
        farms."""
        self.study, self.frames, self.rules = study, frames, study.inputs.rules
        self.farms = farms
        results = study.results
        self.ranked = results[results["rank"].notna()]
        self.funded, self.funds_by = results["funded"] == 1, "funded"

    # --- feeders ---------------------------------------------------------------------------------

    def feeder(self, name, key, row):
        """A figure of a feeder: sums of the farms' loads, and what the Feeders sheet says."""
        on_feeder = self.ranked[self.ranked["feeder_id"] == name]
        funded = on_feeder[self.funded[on_feeder.index]]
        single = on_feeder[on_feeder["service_phases"] == 1]
        if key == "candidates":
            return (*counted(of_farms(on_feeder.index, "rank")), "1 for each ranked farm")
        if key in ("added_kw", "added_single_phase_kw"):
            farms = on_feeder if key == "added_kw" else single
            return (*sum_of(of_farms(farms.index, "added_load_kw"), farms["added_load_kw"]), "")
        if key in ("diversified_kw", "funded_kw"):
            if key == "diversified_kw":
                return self._at_one_time(on_feeder)
            parts, *told = self._at_one_time(funded)
            return (*parts, *of_farms(funded.index, self.funds_by)), *told
        if not (self.study.inputs.feeders["feeder_id"] == name).any():
            return of_farms(on_feeder.index, "added_load_kw"), None, (
                "the Feeders sheet does not list this feeder")
        if key in ("left_kw", "funded_left_kw"):
            load = "diversified_kw" if key == "left_kw" else "funded_kw"
            return self._less(self._cell_of(name, "spare_capacity_kw"), row["spare_capacity_kw"],
                              (FIGURE, "feeders", name, load), row[load])
        if key == "weakest_fault_a":
            cells = of_farms(funded.index, "source_fault_a")
            amperes = funded["source_fault_a"]
            parts = (*cells, *of_farms(funded.index, self.funds_by))
            if amperes.isna().any() or not len(cells):
                return parts, None, ""
            least = "min({})" if len(cells) > 1 else "{}"
            return parts, lambda marked: least.format(", ".join(
                f"{a:g}{marked(cell)}" for a, cell in zip(amperes, cells))), ""
        if key.startswith("phase_") and key.endswith("_after_kw"):
            return self._phase(name, key.split("_")[1], funded, row[key])
        if "unbalance" in key:
            return self._unbalance(name, key, row)
        if key in FEEDERS.by_key:
            return (self._cell_of(name, key),), None, ""
        return of_farms(funded.index, "assigned_phase"), None, ""

    def _cell_of(self, name, key):
        feeders = self.study.inputs.feeders
        mine = feeders.index[feeders["feeder_id"] == name]
        return (CELL, FEEDERS.name, int(mine[0]), key)

    def _given(self, name, key):
        feeders = self.study.inputs.feeders
        return float(feeders.loc[feeders["feeder_id"] == name, key].iloc[0])

    def _less(self, whole, whole_value, part, part_value):
        if np.isnan(whole_value):
            return (part,), None, ""
        return (whole, part), lambda marked: (
            f"{whole_value:.10g} kW{marked(whole)} - {part_value:.10g} kW{marked(part)}"), ""

    def _at_one_time(self, farms):
        """The farms' loads, times what of them stands at one time."""
        parts, added = sum_of(of_farms(farms.index, "added_load_kw"), farms["added_load_kw"])
        share = self.rules[COINCIDENCE[1]]
        return (*parts, COINCIDENCE), lambda marked: (
            f"({added(marked)}) x {share:g} %{marked(COINCIDENCE)} / 100"), ""

    def _phase(self, name, letter, funded, kw):
        """The load of a phase: its present peak, the single-phase farms that stand on it, and a
        third of each three-phase farm."""
        if np.isnan(kw):
            return of_farms(funded.index, "added_load_kw"), None, ""
        phase = funded["assigned_phase"].astype(str)
        on_it, on_all = (funded[phase == mark] for mark in (letter.upper(), "ABC"))
        one, added = sum_of(of_farms(on_it.index, "added_load_kw"), on_it["added_load_kw"])
        all_, thirds = sum_of(of_farms(on_all.index, "added_load_kw"), on_all["added_load_kw"])
        cell, share = self._cell_of(name, f"phase_{letter}_kw"), self.rules[COINCIDENCE[1]]
        present_kw = self._given(name, f"phase_{letter}_kw")
        placed = of_farms(funded.index, "assigned_phase", self.funds_by)
        return (cell, *one, *all_, COINCIDENCE, *placed), lambda marked: (
            f"{present_kw:g} kW{marked(cell)} + ({added(marked)} + ({thirds(marked)}) / 3)"
            f" x {share:g} %{marked(COINCIDENCE)} / 100"), ""

    def _unbalance(self, name, key, row):
        """The largest deviation of a phase from the mean of the three."""
        is_before = key == "unbalance_before_pct"
        parts = [self._cell_of(name, f"phase_{p}_kw") if is_before
                 else (FIGURE, "feeders", name, f"phase_{p}_after_kw") for p in PHASES]
        if np.isnan(row[key]):
            return tuple(parts), None, ""
        kw = [self._given(name, f"phase_{p}_kw") if is_before else row[f"phase_{p}_after_kw"]
              for p in PHASES]
        worst = int(np.abs(np.array(kw) - np.mean(kw)).argmax())

        def largest(marked):
            mean = " + ".join(f"{one:.10g} kW{marked(part)}" for one, part in zip(kw, parts))
            two = [f"{kw[worst]:.10g} kW{marked(parts[worst])}", f"({mean}) / 3"]
            return " - ".join(two if kw[worst] >= np.mean(kw) else reversed(two)), f"({mean}) / 3"

        if key != "voltage_unbalance_pct":
            return tuple(parts), lambda marked: "100 x ({}) / ({})".format(*largest(marked)), ""
        kv, weakest = self._cell_of(name, "nominal_kv"), (FIGURE, "feeders", name,
                                                          "weakest_fault_a")
        nominal_kv, fault_a = self._given(name, "nominal_kv"), row["weakest_fault_a"]
        return (*parts, kv, weakest), lambda marked: (
            f"100 x ({largest(marked)[0]}) x 1000 / ({nominal_kv:g} kV{marked(kv)} x 1000 / 3^0.5"
            f" x {fault_a:g} A{marked(weakest)})"), (
                "drop of the phase that is farthest from the mean, over the voltage to ground")

    # --- shared lines ----------------------------------------------------------------------------

    def _first_farms(self, line, count):
        """The first farms of a shared line whose two options are priced: their designs by phases,
        in the order of their names."""
        options = self.study.options
        mine = options[(options["shared_line_id"] == line) & options["project_cost_usd"].notna()
                       & options["counted_load_kw"].notna()]
        of = {phases: mine[mine["supply_option"] == option].set_index("candidate_id", drop=False)
              for phases, option in OPTION_OF.items()}
        both = sorted(set(of["single_phase"].index) & set(of["three_phase"].index))[:int(count)]
        numbers = options.reset_index(names="design").set_index(["candidate_id", "supply_option"])
        return {phases: (numbers.loc[[(one, option) for one in both], "design"].tolist(),
                         of[phases].loc[both]) for phases, option in OPTION_OF.items()}

    def crossover(self, name, key, row):
        """The cost of the first farms of a shared line by either service: what each farm pays of
        its own, and the line as far as the farthest of them uses it."""
        farms = self._first_farms(row["shared_line_id"], row["farms"])
        phases = "three_phase" if key.startswith("three") else "single_phase"
        designs, rows = farms[phases]

        def ids(of):
            return [(FIGURE, "design", design, of) for design in designs]
        if key == "farms":
            return (*counted(ids("project_cost_usd")), "")
        if key.endswith("_failing"):
            failing = [one for one, fails in zip(ids("fails_count"), rows["fails_count"])
                       if fails > 0]
            return (*counted(failing), "1 for each option that fails a check")
        cost = (FIGURE, "line_crossover", name, f"{phases}_cost_usd")
        if key.endswith("_usd_per_kw"):
            parts, load = sum_of(ids("counted_load_kw"), rows["counted_load_kw"])
            usd = row[f"{phases}_cost_usd"]
            return (cost, *parts), lambda marked: (
                f"{usd:.2f} USD{marked(cost)} / ({load(marked)})"), ""
        return self._line_cost(ids, rows)

    def _line_cost(self, ids, rows):
        project, part, alone = (ids(key) for key in (
            "project_cost_usd", "trunk_part_usd", "trunk_alone_usd"))
        adder = self.rules[OVERHEAD[1]]

        def arithmetic(marked):
            overhead = f"(1 + {adder:g} %{marked(OVERHEAD)} / 100)"
            own = " + ".join(f"{usd:.10g}{marked(one)}"
                             for usd, one in zip(rows["project_cost_usd"], project))
            parts = " + ".join(f"{usd:.10g}{marked(one)}"
                               for usd, one in zip(rows["trunk_part_usd"], part))
            line = ", ".join(f"{usd:.10g}{marked(one)}"
                             for usd, one in zip(rows["trunk_alone_usd"], alone))
            return f"{own} + (max({line}, 0) - ({parts})) x {overhead}"
        return (*project, *part, *alone, OVERHEAD), arithmetic, ""

    def answer(self, name, key, row):
        """From how many farms on three phases cost less, from the costs of the first farms."""
        table = self.frames["line_crossover"][1]
        mine = table[table["shared_line_id"] == name]
        rows = [f"{name}|{count:g}" for count in mine["farms"]]
        if key == "farms":
            return ((FIGURE, "line_crossover", rows[-1], "farms"),), None, ""
        if key in ("single_phase_cost_usd", "three_phase_cost_usd"):
            return ((FIGURE, "line_crossover", rows[-1], key),), None, ""
        costs = tuple((FIGURE, "line_crossover", one, f"{phases}_cost_usd")
                      for one in (rows if key == "crossover_farms" else rows[::len(rows) - 1])
                      for phases in OPTION_OF)
        ahead = (mine["single_phase_cost_usd"] - mine["three_phase_cost_usd"]).to_numpy()
        if key == "crossover_farms":
            last = int(max([0, *mine["farms"][ahead <= 0]]))
            return costs, None, (
                f"with {last} farms three phases cost no less, with every number from {last + 1} on"
                " they do" if last < len(mine) else "with all farms three phases cost no less")
        nearer = (ahead[-1] - ahead[0]) / (len(mine) - 1)
        if ahead[0] > 0:
            return costs, None, f"with the first farm three phases cost {ahead[0]:.2f} USD less"
        return costs, None, (
            f"with the first farm three phases cost {-ahead[0]:.2f} USD more, and each further one "
            f"takes {nearer:.2f} USD off: " + (
                f"the first whole number above 1 + {-ahead[0]:.2f} / {nearer:.2f}"
                if nearer > 0 else "never"))

    def shared(self, name, key, row, farm):
        """What a farm, by its Excel row, pays for its shared line."""
        farm = (FIGURE, "farm", farm)
        figure = {"members": "shared_line_members",
                  "with_others_usd": "line_cost_usd"}.get(key, key)
        if key == "saved_usd":
            two = [(FIGURE, "shared_lines", name, one) for one in ("alone_usd", "with_others_usd")]
            return tuple(two), lambda marked: " - ".join(
                f"{row[one[3]]:.2f} USD{marked(one)}" for one in two), ""
        if key == "alone_usd":
            parts = [(*farm, one) for one in ("own_line_usd", "trunk_alone_usd")]
            return (*parts, OVERHEAD), None, "own line and all of the shared line, with overhead"
        return ((*farm, figure), *((OVERHEAD,) if key == "trunk_part_usd" else ())), None, ""

    def approval(self, name, key, row, farm):
        """What was approved for a farm, by its Excel row, against what the rules give."""
        both = {"approved_usd": (CELL, CANDIDATES.name, farm, "approved_incentive_usd"),
                "computed_usd": (FIGURE, "farm", farm, "incentive_usd")}
        if key in both:
            return (both[key],), None, ""
        return tuple(both.values()), None if np.isnan(row[key]) else lambda marked: " - ".join(
            f"{row[of]:.2f} USD{marked(one)}" for of, one in both.items()), ""

    # --- drawn futures ---------------------------------------------------------------------------

    def driver(self, name, key, row):
        """A driver alone at its 10 and 90 percent points."""
        rule = (RULE, f"{RULE_OF[name]}_spread_pct")
        if key == "spread_pct":
            return (rule,), None, ""
        if key == "swing_usd":
            ends = sorted((row[f"together_npv_{side}_usd"], (FIGURE, "drivers", name,
                                                             f"together_npv_{side}_usd"))
                          for side in ("high", "low"))
            return tuple(one for _, one in ends), lambda marked: " - ".join(
                f"{usd:.2f} USD{marked(one)}" for usd, one in reversed(ends)), ""
        if key in ("low_pct", "high_pct"):
            spread, sign = effective_spreads(self.rules)[name], "-" if key == "low_pct" else ""
            return (rule, (RULE, "yearly_correlation_pct"), (RULE, "study_years")), (
                lambda marked: f"max({sign}{TEN_PERCENT_POINT} x {spread:.10g} %{marked(rule)}, "
                               f"{100 * (LEAST_FACTOR - 1):g})"), (
                "the 10 and 90 percent points of a normal distribution; the spread is that of the "
                "whole study, by the correlation between years")
        farms = of_farms(self.study.results.index[self.funded], *BOTH, self.funds_by)
        side = "low_pct" if "_low_" in key else "high_pct"
        return ((FIGURE, "drivers", name, side), *farms), None, (
            f"the funded farms' NPV worked again with the {name} {row[side]:+.1f} %, all else as "
            "studied: batch/program/futures.py")

    def year(self, name, key, row):
        """The benefit up to a year: as studied the funded farms' discounted sums."""
        farms = self.study.results[self.funded]
        known = farms[farms[list(BOTH)].notna().all(axis=1)]
        if key == "year":
            return (), None, ""
        if key != "base_usd":
            return (*DRAWN_RULES, *of_farms(known.index, *BOTH, self.funds_by)), None, (
                f"the {key[1:3]} percent point of {drawn_in_words(self.study)}")
        parts = [(FIGURE, "cash_flows", f"{one}|{name}", f"{party}_discounted_sum_usd")
                 for one in known["candidate_id"] for party in ("member", "cooperative")]
        told = of_farms(known.index, self.funds_by)
        return (*parts, *told), lambda marked: " + ".join(
            f"{self._flow_sum(part):.2f}{marked(part)}" for part in parts) or "0", ""

    def _flow_sum(self, part):
        """A party's discounted sum up to a year, as cash_flows.csv has it."""
        candidate, _, year = part[2].rpartition("|")
        party = part[3].partition("_")[0]
        chosen = self.study.options[self.study.options["is_chosen"]]
        flow = chosen.loc[chosen["candidate_id"] == candidate, f"{party}_flow_usd"].iloc[0]
        growth = 1 + self.rules[f"discount_rate_{party}_pct"] / 100
        return sum(usd / growth ** t for t, usd in enumerate(flow[:int(year) + 1]))

    # --- the list beside the survey --------------------------------------------------------------

    def spread(self, name, key, row):
        """A figure of the list, of its farms' cells; or the survey's, of the state's row."""
        quantity, state = QUANTITIES[name], self.study.inputs.study["state"]
        if key == "survey":
            place = table(SURVEY_TABLE)["state"].tolist().index(state)
            return ((CELL, STUDY.name, 0, "state"), *(
                (TABLE, SURVEY_TABLE, place, "state", taken, "") for taken in quantity.taken)), (
                    None), f"{quantity.survey_is}, {quantity.source}"
        inputs = self.study.inputs
        faulty = inputs.findings.rows_with_errors(CANDIDATES.name)
        rows = [one for one in inputs.candidates.index[~inputs.has_error] if one not in faulty]
        return of_farms(rows, *quantity.cells), None, (
            "share of the farms with an engine, or percent points of the farms' own figures: "
            "batch/farm/list_spread.py")

    # --- rules -----------------------------------------------------------------------------------

    def rule(self, name, key, row):
        """What a rule costs: the farms that choose anew without it, with their designs before and
        after."""
        moved = self.study.portfolio.rule_farms
        moved = moved[moved["key"] == name]
        before, after = moved["design_before"], moved["design_after"]
        rule = (RULE, name)
        if key in ("farms", "farms_changed"):
            is_other = after.notna() & (before.isna() if key == "farms" else before != after)
            parts = [(FIGURE, "design", int(one), "project_cost_usd")
                     for one in after[is_other & (before.isna() == (key == "farms"))]]
            if len(parts) != row[key]:  # some no longer qualify
                return (rule, *parts), None, ""
            made, arithmetic = counted(parts)
            return (rule, *made), arithmetic, "1 for each such farm, by what it would choose"
        # What a design is worth without the rule, in no file, is found from its cost and load.
        known = {"+": "project_cost_usd" if key == "together_npv_usd" else key, "-": key}
        sides = [(sign, (FIGURE, "design", int(one), known[sign]), usd)
                 for sign, side, designs in (("+", "after", after), ("-", "before", before))
                 for one, usd in zip(designs, moved[f"{key}_{side}"]) if one == one and usd == usd]
        return (rule, *(one for _, one, _ in sides)), lambda marked: " ".join(
            f"{sign} {usd:.10g}{marked(one) if one[3] == key else ''}"
            for sign, one, usd in sides).removeprefix("+ ") or "0", (
            "farm by farm what it would choose without the rule, less what it has")
