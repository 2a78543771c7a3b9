"""The figures of the program's tables: sums over farms, ways to give out the budget, and the rows
of a farm in the long files. Each is made of figures of farms, of others here, or of ends."""

from decimal import ROUND_HALF_UP, Decimal

from batch.columns import PROGRAM
from batch.columns.portfolio import COST_LINES, SUMS
from batch.columns.program import item_key
from batch.columns.results import TEST_LABELS
from batch.columns.worked_by_rule import allowance_key
from batch.columns.working import CASH_FLOWS, CHECKS, COST_SHARES
from batch.money.prices import in_words
from batch.program.best_set import goal_key
from batch.program.budgeting import SUMMED
from batch.program.choosing import COOPERATIVE_PAYBACK, MEMBER_NPV, MEMBER_PAYBACK
from batch.program.season import rules_for
from batch.program.totals import ALL_RANKED, BEST_SET, groups_of
from batch.supply.checks import CHECKS as LIMITS
from batch.trail.ends import value_text
from batch.trail.farm_figures import MAKERS
from batch.trail.limit_figures import (
    LimitFigures,
    budget_cells,
    of_set_cells,
    of_set_rules,
)
from batch.trail.lines import FIGURE, PRICE, RULE, Line, row_names, sum_of
from batch.trail.season_figures import SeasonFigures
from batch.trail.set_figures import SetFigures
from batch.trail.table_figures import BOTH, TableFigures, of_farms

TESTS = tuple(test for test, _ in TEST_LABELS)
# Files whose rows are of one farm, and what tells its row there from the others.
OF_A_FARM = {"checks": (CHECKS, "check"), "cost_shares": (COST_SHARES, "item"),
             "cost_lines": (COST_LINES, "line_number"), "cash_flows": (CASH_FLOWS, "year")}
SHARES = {"item_cost_usd": "cost_{}_usd", "member_usd": "member_{}_usd"}
# What each check judges, and its limit: keys of results or rules.
JUDGED = {check.name: (check.value, check.limit) for check in LIMITS} | {
    COOPERATIVE_PAYBACK: ("cooperative_payback_yr", "maximum_cooperative_payback_yr"),
    MEMBER_PAYBACK: ("member_payback_yr", "maximum_member_payback_yr"),
    MEMBER_NPV: ("member_npv_usd", "member_npv_floor_usd")}


class ProgramFigures:
    """Lines of figures with the ids (FIGURE, file, name of the row, key)."""

    def __init__(self, study, portfolio_frames, farms):
        """`portfolio_frames` has the portfolio's tables by the name of their file, `farms` the
        figures of the farms."""
        self.study, self.frames, self.farms = study, portfolio_frames, farms
        self.tables = TableFigures(study, portfolio_frames, farms)
        self.sets = SetFigures(study, farms)
        self.limits = LimitFigures(study, farms)
        self.season = SeasonFigures(study, farms)

    def line(self, figure: tuple) -> Line:
        """The line of a figure's id. Errors: LookupError where no file has such a figure."""
        _, file, name, key = figure
        if file == "record":
            return self._count(figure)
        if file in OF_A_FARM:
            return self._of_a_farm(figure)
        sheet, frame = self.frames[file]
        column = sheet.by_key[key]
        rows = frame[[one == name for one in row_names(sheet, frame)]]
        if rows.empty:
            raise LookupError(f"{file}.csv has no row '{name}'")
        parts, arithmetic, *words = self._made_of(file, name, key, rows.iloc[0])
        source = "".join(words) or column.source or ("" if arithmetic else column.help)
        return Line(figure, FIGURE, f"{file}.csv, {name}, {key}", f"{column.label} ({name})",
                    value_text(column, rows.iloc[0][key]), source,
                    tuple(dict.fromkeys(parts)), arithmetic)

    def _made_of(self, file, name, key, row):
        tables, sets, season = self.tables, self.sets, self.season
        return {"totals": self._total, "budget_sets": self._set, "budget_limits": self.limits.limit,
                "feeders": tables.feeder, "line_crossover": tables.crossover,
                "line_answers": tables.answer, "drivers": tables.driver,
                "benefit_by_year": tables.year, "dearest_rules": tables.rule,
                "list_spread": tables.spread, "budget": season.budget,
                "waiting_list": season.waiting, "approved_farms": season.approved,
                "delivered": season.delivered, "realization": season.realization,
                "shared_lines": self._of_row, "approvals": self._of_row,
                "set_farms": sets.farm, "set_exchange": sets.exchange, "budget_steps": sets.step,
                "withdrawals": sets.withdrawal, "set_futures": sets.futures,
                "buying_list": self.limits.stock.bought}[file](name, key, row)

    def _of_row(self, name, key, row):
        """A figure of a table with a row for a farm."""
        farm = self.farms.row_of[name]
        return (self.tables.approval if "approved_usd" in row else self.tables.shared)(
            name, key, row, farm)

    # --- sums ------------------------------------------------------------------------------------

    def _total(self, name, key, row):
        study = self.study
        farms = groups_of(study.funding, study.results)[name]
        if key == "together_npv_usd":
            return sum_of([(FIGURE, "totals", name, part) for part in BOTH],
                         [_whole(row[part]) for part in BOTH])
        if key in SUMS:
            return self._sum(farms, key, of=(FIGURE, "totals", name, "farms"))
        if key == "gaining_load_kw":
            return self._sum(farms[farms["member_npv_usd"] > 0], "added_load_kw", "member_npv_usd",
                             of=(FIGURE, "totals", name, "farms"))
        for test in TESTS:
            if key in (f"{test}_npv_usd", f"{test}_ratio"):
                parts, arithmetic = self._test(farms, test, "-" if key.endswith("npv_usd") else "/")
                return (*parts, (FIGURE, "totals", name, "farms")), arithmetic
        if key == "rate_impact_usd_mwh":
            return ((FIGURE, "totals", name, "ratepayer_npv_usd"), *((RULE, rule) for rule in (
                "system_sales_mwh_yr", "study_years", "test_timing",
                "discount_rate_cooperative_pct"))), None
        told_by = {ALL_RANKED: "rank", BEST_SET: "in_best_set"}.get(
            name, "feeder_id" if name.startswith("feeder ") else "in_budget")
        return of_farms(farms.index, told_by), None

    def _sum(self, farms, key, *told_by, of=None):
        """A sum over the farms of a set; `of` is the figure that tells which farms they are."""
        parts, arithmetic = self.farms.sum_over(farms, key)
        told = [one for by in told_by for one in self.farms.in_set(farms, by)]
        return (*parts, *told, *((of,) if of else ())), arithmetic

    def _test(self, farms, test, sign):
        sides = [f"{test}_benefits_usd", f"{test}_costs_usd"]
        known = farms[farms[sides].notna().all(axis=1)]
        (gains, gained), (costs, cost) = (self.farms.sum_over(known, side) for side in sides)
        return (*gains, *costs), lambda marked: f"({gained(marked)}) {sign} ({cost(marked)})"

    def _set(self, name, key, row):
        given = self.study.funding
        funded = given.sets_of(name).rows_of(sorted(given.year_by[name]))
        goal, of = goal_key(self.study.inputs.rules), (FIGURE, "budget_sets", name, "farms")
        first = self.study.portfolio.sets["method"].iloc[0]
        if key == "together_npv_usd":
            both = funded[list(BOTH)].dropna()
            (member, one), (cooperative, other) = (
                self.farms.sum_over(funded.loc[both.index], part) for part in BOTH)
            return (*member, *cooperative, of), lambda marked: (
                f"({one(marked)}) + ({other(marked)})")
        if key in SUMMED:
            return self._sum(funded, key, of=of)
        if key == "goal_value":
            parts, arithmetic = self._sum(funded, goal, of=of)
            return (*parts, (RULE, "set_goal")), arithmetic
        if key == "goal_gain":
            sets = self.frames["budget_sets"][1].set_index("method")["goal_value"]
            parts = [(FIGURE, "budget_sets", way, "goal_value") for way in (name, first)]
            return tuple(parts), lambda marked: " - ".join(
                f"{sets[way]:.10g}{marked(part)}" for way, part in zip((name, first), parts))
        cells = [*budget_cells(self.study), *of_set_cells(self.study.inputs)]
        ranked = self.study.results.index[self.study.results["rank"].notna()]
        return (*of_farms(ranked, "incentive_cost_usd", goal, "may_be_funded", "rank"), *cells,
                *of_set_rules()), None

    # --- rows of a farm in the long files --------------------------------------------------------

    def _count(self, figure):
        _, file, _, key = figure
        counts = {"read": None, "assessed": False, "not_assessed": True}
        results = self.study.results
        rows = results.index if counts[key] is None else results.index[
            (results["verdict"] == "incomplete") == counts[key]]
        parts = tuple((FIGURE, "farm", int(row), "verdict") for row in rows)
        return Line(figure, FIGURE, f"record.json, counts, {key}", f"Farms {key.replace('_', ' ')}",
                    str(self.study.counts[key]), "counted by their verdicts", parts)

    def _of_a_farm(self, figure):
        _, file, name, key = figure
        candidate, *option, part = name.split("|")
        if candidate not in self.farms.row_of:
            raise LookupError(f"{file}.csv has no row '{name}'")
        (sheet, of), row = OF_A_FARM[file], self.farms.row_of[candidate]
        column = sheet.by_key[key]
        if file == "cash_flows":
            return self._flow(figure, column, row, part)
        frame = {"checks": self.study.checks, "cost_shares": self.study.ledger,
                 "cost_lines": self.study.cost_lines}[file]
        chosen = self.study.results.at[row, "supply_option"]
        mine = frame[(frame["candidate_id"] == candidate) & (frame[of].astype(str) == part)
                     & (frame["supply_option"] == (option[0] if option else chosen))]
        if mine.empty:
            raise LookupError(f"{file}.csv has no row '{name}'")
        one = mine.iloc[0]
        of_what = ("farm", row) if one["supply_option"] == chosen else ("design", one["design"])
        parts, arithmetic = {"checks": self._check, "cost_shares": self._share,
                             "cost_lines": self._cost_line}[file]((FIGURE, *of_what), key, one)
        source = one["source"] if file == "checks" else column.source
        return Line(figure, FIGURE, f"{file}.csv, {name}, {key}", f"{part}: {column.label}",
                    value_text(column, one[key]), source, parts, arithmetic, candidate)

    def _flow(self, figure, column, row, year):
        party = column.key.partition("_")[0]
        part = (FIGURE, "farm", row, f"{party}_flow_usd")
        has_flows = row in self.farms.chosen
        flows = self.farms.row("farm", row)[part[3]] if has_flows else ()
        if not year.isdecimal() or int(year) >= len(flows):
            raise LookupError(f"cash_flows.csv has no row '{figure[2]}'")
        key, inputs = f"discount_rate_{party}_pct", self.study.inputs
        rules = rules_for(inputs, row)
        rate = (RULE, key) if rules.year == inputs.rules.year else (RULE, key, rules.year)
        discount = 1 + rules[key] / 100
        is_sum = "discounted" in column.key
        so_far = flows[:int(year) + 1]
        usd = sum(usd / discount ** t for t, usd in enumerate(so_far)) if is_sum else so_far[-1]
        return Line(figure, FIGURE, f"cash_flows.csv, {figure[2]}, {column.key}",
                    f"{figure[2]}: {column.label}", value_text(column, usd),
                    "flows by year, each over (1 + rate) to the year, added up" if is_sum else
                    "the year's amount", (part, rate) if is_sum else (part,))

    def _check(self, mine, key, one):
        value, limit = JUDGED[one["check"]]
        names = {"value": [value], "limit": [limit]}.get(key, [value, limit])
        parts = []
        for name in names:
            if name in PROGRAM.by_key and name not in MAKERS:
                parts.append((RULE, name))
            elif name in MAKERS:
                parts.append((*mine, name))
        return tuple(parts), None

    def _share(self, mine, key, one):
        item = item_key(one["item"])
        cost, member = ((*mine, f"{side}_{item}_usd") for side in ("cost", "member"))
        if key == "cooperative_usd":
            return (cost, member), lambda marked: (
                f"{one['item_cost_usd']:.2f} USD{marked(cost)} - "
                f"{one['member_usd']:.2f} USD{marked(member)}")
        if key in SHARES:
            return ((*mine, SHARES[key].format(item)),), None
        if key == "allowance_usd":
            return ((*mine, allowance_key(one["item"])),), None
        return ((*mine, f"base_{item}_usd"), (RULE, "overhead_adder_pct")), None

    def _cost_line(self, mine, key, one):
        price = () if one["price_row"] != one["price_row"] else ((PRICE, int(one["price_row"])),)
        base = (*mine, f"base_{item_key(one['item'])}_usd")
        if key == "amount_usd" and price:
            return price, lambda marked: in_words(one, lambda _: marked(price[0]))
        return (*price, base), None


def _whole(usd):
    return float(Decimal(repr(float(usd))).quantize(Decimal(1), ROUND_HALF_UP))
