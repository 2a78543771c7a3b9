"""What the board's page shows: the funded program in figures, tables and charts."""


import numpy as np
import pandas as pd

from batch.canonical import canonical_frame
from batch.columns import PROGRAM, RESULTS
from batch.columns import portfolio as columns
from batch.columns.candidates import IN_SERVICE, MUST_FUND, MUST_NOT_FUND
from batch.columns.program import BY_BEST_SET, COST_ITEMS, GOALS, item_key
from batch.economics.benefit_tests import END_OF_YEAR
from batch.findings import FAILS, MEETS, NOT_ASSESSED, WATCH
from batch.portfolio.settled_ranking import order_statement
from batch.program.best_set import goal_unit
from batch.program.choosing import CONDITIONS, QUALIFIES
from batch.program.season import budgets_usd, has_left
from batch.program.totals import ALL_RANKED, BEST_SET, IN_BUDGET
from batch.rules import YEAR
from batch.writing.cautions import conventions
from batch.writing.pages.board_charts import board_charts
from batch.writing.pages.figures import Row, rows_of, table, words_table
from batch.writing.portfolio_tables import portfolio_tables, with_columns
from batch.writing.record import WHAT_IT_PROVES

MOST_ROWS, MOST_NAMED, MOST_OF_LINES = 500, 4, 40
EVEN_CHANCE_PCT = 50
RANKING_KEYS = ("rank", "candidate_id", "farm_label", "verdict", "supply_option", "added_load_kw",
                "useful_load_kw", "incentive_cost_usd", "incentive_usd_per_kw", "in_budget",
                "in_best_set", "verdict_reason")
UNRANKED_KEYS = ("candidate_id", "farm_label", "verdict", "verdict_reason")
SET_KEYS = ("method", "farms", "incentive_cost_usd", "added_load_kw", "cooperative_npv_usd",
            "together_npv_usd", "total_resource_npv_usd", "member_saving_usd_yr", "goal_gain",
            "is_proven")
APPROVED_KEYS = ("candidate_id", "status", "promised_usd", "today_usd", "partners_left_usd", "told")
DELIVERED_KEYS = ("candidate_id", "season", "realization_kw_pct", "realization_kwh_pct",
                  "realization_kwh_equal_hours_pct", "realization_cost_pct",
                  "promised_usd_per_kw", "paid_usd_per_kw", "told")
FEEDER_KEYS = ("feeder_id", "candidates", "funded_kw", "diversified_kw", "spare_capacity_kw",
               "answer", "breaking_candidate", "unbalance_before_pct", "unbalance_after_pct",
               "unbalance_answer")
DRIVER_KEYS = ("driver", "low_pct", "high_pct", "member_npv_low_usd", "member_npv_high_usd",
               "cooperative_npv_low_usd", "cooperative_npv_high_usd",
               "together_npv_low_usd", "together_npv_high_usd")
RULE_COST_KEYS = ("rule", "value", "unit", "farms", "farms_changed", "added_load_kw",
                  "project_cost_usd", "together_npv_usd", "source")
CROSSOVER_KEYS = ("shared_line_id", "farms", "last_farm", "single_phase_cost_usd",
                  "three_phase_cost_usd", "single_phase_usd_per_kw", "three_phase_usd_per_kw",
                  "least")
TESTS = (
    ("participant", "Participant", "Do the growers gain?",
     "Fuel and engine that they no longer pay for, incentive and grants, against the electric bill "
     "and what they pay for the change."),
    ("ratepayer", "Ratepayer", "Do the other members' rates gain?",
     "The new revenue against wholesale power, construction less the growers' part of it, "
     "administration and incentive. For added load this test decides."),
    ("total_resource", "Total resource", "Do growers and cooperative together gain?",
     "Fuel and engines saved against everything that both spend. What passes between the two "
     "drops out."),
    ("societal", "Societal", "Does everyone gain?",
     "As total resource, at society's discount rate, without grants, with emissions where the "
     "rules give them a value."),
    ("administrator", "Administrator", "What does the cooperative spend as administrator?",
     "It has no benefits by construction, so its ratio is always zero. That is no failure."))
NOT_READ = ("memory", "common practice", "example policy")


def board_page(study, pages_of: dict[int, str]) -> dict:
    """The values for the template of the board's page. `pages_of` has the file of each farm's
    sheet by Excel row."""
    needed = [c for c in RESULTS.columns if c.key in {*RANKING_KEYS, *UNRANKED_KEYS}]
    results = canonical_frame(study.results, needed).set_axis(study.results.index)
    frames = {name.removesuffix(".csv"): (sheet, canonical_frame(with_columns(f, sheet),
                                                                 sheet.columns))
              for sheet, name, f in portfolio_tables(study)}
    funded = study.results["funded"] == 1
    rows = {name: rows_of(name, frame, *columns.row_keys(sheet))
            for name, (sheet, frame) in frames.items()}
    page = {"counts": Row("record", "counts", {k: str(v) for k, v in study.counts.items()}),
            "program": _program(study, rows["totals"]), "rows": rows,
            "budget_usd": _budget(study),
            "years": f"{study.inputs.rules['study_years']:g}",
            "farms": _counts_of(study, funded), "risk": _risks(study, funded, rows),
            "administration": {"farm": study.inputs.rules["administration_usd"],
                               "all": funded.sum() * study.inputs.rules["administration_usd"]},
            "season": _season(study, rows), "sets": _sets(study, rows), "tests": TESTS}
    page |= {"charts": board_charts(study, funded, page),
             **_tables(study, results, funded, page, pages_of), **_assumptions(study)}
    return page


def _program(study, totals):
    """The totals of the farms that count as funded."""
    by_name = {row.row_id: row for row in totals}
    wanted = BEST_SET if study.funding.funds_best_set else IN_BUDGET
    return by_name.get(wanted) or by_name[ALL_RANKED]


def _budget(study):
    """The budget that the funded farms are held to: of all years for the best set, of the first
    for the ranking's line; None where none is set."""
    held_to = study.funding.held_to_usd(study.funding.by)
    return None if np.isnan(held_to) else held_to


def _counts_of(study, funded):
    """How many farms stand where."""
    results = study.results
    mine = results[funded]
    is_barred = study.inputs.candidates["funding_choice"] == MUST_NOT_FUND
    left_out = is_barred & results["verdict"].isin([QUALIFIES, CONDITIONS])
    return {"ranked": int(results["rank"].notna().sum()), "funded": int(funded.sum()),
            "left_out": _names(results[left_out]),
            "known_too_little": _names(results[
                results["rank"].notna() & (results["may_be_funded"] == 0)]),
            "with_conditions": int((mine["verdict"] == CONDITIONS).sum()),
            "on_shared_lines": int((mine["shared_line_members"] > 1).sum()),
            "verdicts": [(int(n), name) for name, n in results["verdict"].value_counts().items()]}


def _season(study, rows):
    """What the page says of money given away before and of meters; None where there is nothing of
    it, so that a first round says nothing."""
    candidates, season = study.inputs.candidates, study.season
    status = candidates["status"]
    carried_in = study.inputs.study["carried_in_usd"]
    if not (carried_in or status.notna().any() or len(season.delivered)):
        return None
    open_farms = season.approved[season.approved["status"] != IN_SERVICE]
    fails = open_farms[~open_farms["verdict"].isin([QUALIFIES, CONDITIONS])]
    measures = {row.text("measure").partition(" [")[0]: row for row in rows.get("realization", [])
                if row.has("ratio")}
    return {"approved": len(open_farms), "failing": list(fails["candidate_id"]),
            "left": [str(name) for name in candidates.loc[has_left(candidates), "candidate_id"]],
            "measures": measures}


def _risks(study, funded, rows):
    """What could go wrong, as facts for the page's sentences."""
    mine = study.results[funded]
    feeders = study.feeders
    years = study.portfolio.years
    chance = mine["member_loss_chance_pct"]
    chosen = study.options[study.options["is_chosen"]
                           & study.options["excel_row"].isin(mine.index)]
    checks = study.checks[study.checks["design"].isin(chosen.index)]
    open_checks = checks[checks["answer"].isin([WATCH, NOT_ASSESSED])]
    drivers = rows["drivers"]
    must_fund = study.inputs.candidates["funding_choice"] == MUST_FUND
    return {"positive_year": _stays_positive(years, "base_usd"),
            "positive_year_p10": _stays_positive(years, "p10_usd"),
            "driver": drivers[0] if drivers else None,
            "low_is_worse": bool(drivers) and (
                drivers[0].value("together_npv_low_usd")
                < drivers[0].value("together_npv_high_usd")),
            "likely_losers": _names(mine[chance > EVEN_CHANCE_PCT]),
            "wanted": _names(study.results[must_fund & ~funded]),
            "losers": _names(mine[mine["member_npv_usd"] < 0]),
            "unassessed": _names(mine[mine["not_assessed_count"] > 0]),
            "cooperative_losers": _names(mine[mine["cooperative_npv_usd"] < 0]),
            "conditions": [(str(name), int(n)) for name, n in
                           open_checks["check"].value_counts().items()][:MOST_NAMED],
            "full_feeders": list(feeders.loc[feeders["funded_left_kw"] < 0, "feeder_id"]),
            "short_feeders": list(feeders.loc[feeders["answer"] == FAILS, "feeder_id"]),
            "unknown_feeders": int(((feeders["unbalance_answer"] == NOT_ASSESSED)
                                    & (feeders["funded_kw"] > 0)).sum()),
            "unbalanced_feeders": list(feeders.loc[feeders["unbalance_answer"] == WATCH,
                                                   "feeder_id"]),
            "all_fit": bool((feeders["answer"] == MEETS).all())}


def _stays_positive(years, key):
    """The first year from which the sum stays above zero; None where it does not."""
    if years.empty or not years[key].iloc[-1] > 0:
        return None
    below = np.flatnonzero(~(years[key] > 0))
    return int(years["year"].iloc[below[-1] + 1 if len(below) else 0])


def _names(farms):
    return [str(name) for name in farms["candidate_id"]]


def _sets(study, rows):
    """The rankings and the best sets, and the farms that differ."""
    sets = rows["budget_sets"]
    if not sets:
        return None
    ranked = study.results[study.results["rank"].notna()].sort_values("rank")
    by_line, in_best = ranked["in_budget"] == 1, ranked["in_best_set"] == 1
    goal = study.inputs.rules["set_goal"]
    years = len(budgets_usd(study.inputs))
    return {"years": years, "ranking": sets[0], "skips": sets[1], "within": sets[2],
            "alone": sets[3], "best": sets[4], "goal": goal,
            "is_solved": bool(ranked["in_best_set"].notna().any()),
            "is_money": GOALS[goal].endswith(("_usd", "_usd_yr")),
            "unit": goal_unit(study.inputs.rules),
            "in_best_only": _names(ranked[in_best & ~by_line]),
            "in_ranking_only": _names(ranked[by_line & ~in_best]),
            "is_by_rule": study.inputs.rules["budget_method"] == BY_BEST_SET,
            "funds_best": study.funding.funds_best_set}


# The page's tables that show a file's rows: file, the sheet that names its keys, keys, caption.
TABLES = {
    "waiting": ("waiting_list", columns.WAITING_LIST, tuple(columns.WAITING_LIST.by_key),
                "Who waits, in order"),
    "approved": ("approved_farms", columns.APPROVED_FARMS, APPROVED_KEYS,
                 "Farms approved before, judged again"),
    "delivered": ("delivered", columns.DELIVERED_FARMS, DELIVERED_KEYS,
                  "What each farm's meter showed of what was promised"),
    "realization": ("realization", columns.REALIZATION, tuple(columns.REALIZATION.by_key),
                    "What the program delivered of what it promised"),
    "sets_table": ("budget_sets", columns.BUDGET_SETS, SET_KEYS, "Ways to give out the budget"),
    "limits": ("budget_limits", columns.BUDGET_LIMITS, tuple(columns.BUDGET_LIMITS.by_key),
               "What holds the best set back"),
    "exchange": ("set_exchange", columns.SET_EXCHANGE, tuple(columns.SET_EXCHANGE.by_key),
                 "The best set less the ranking's, farm by farm"),
    "budget_steps": ("budget_steps", columns.BUDGET_STEPS, tuple(columns.BUDGET_STEPS.by_key),
                     "What other budgets would buy"),
    "withdrawals": ("withdrawals", columns.WITHDRAWALS, tuple(columns.WITHDRAWALS.by_key),
                    "If one funded farm withdraws"),
    "feeders": ("feeders", columns.FEEDER_LOADS, FEEDER_KEYS, "Feeders"),
    "drivers": ("drivers", columns.TORNADO, DRIVER_KEYS,
                "Net present value of the funded farms, one driver at a time"),
    "by_year": ("benefit_by_year", columns.BENEFIT_BY_YEAR,
                tuple(columns.BENEFIT_BY_YEAR.by_key),
                "Benefit to members and cooperative together, summed and discounted"),
    "dearest_rules": ("dearest_rules", columns.RULE_COSTS, RULE_COST_KEYS,
                      "What the dearest rules cost: the farms that qualify, without each"),
    "crossover": ("line_crossover", columns.LINE_CROSSOVER, CROSSOVER_KEYS,
                  "Farms added to each shared line one by one"),
}
WHOLE = ("benefit_by_year",)  # files of which every row is shown


def _tables(study, results, funded, page, pages_of):
    """The page's tables."""
    rows = page["rows"]
    is_ranked = results["rank"] != ""
    ranked = results[is_ranked].sort_values("rank", key=lambda s: s.astype(float))
    left = results[~is_ranked]

    def listed(frame, keys, caption):
        shown = rows_of("results", frame.iloc[:MOST_ROWS], "candidate_id")
        made = table(shown, [RESULTS.by_key[k] for k in keys], caption)
        place = keys.index("candidate_id")
        for line, row in zip(made["rows"], frame.index):
            line["cells"][place]["link"] = pages_of.get(row, "")
            line["css"] = "funded" if funded[row] else ""
        return made

    def of_file(file, sheet, keys, caption):
        shown = rows.get(file, []) if file in WHOLE else rows.get(file, [])[:MOST_OF_LINES]
        return table(shown, [sheet.by_key[k] for k in keys], caption) if shown else None

    return {
        "order_statement": order_statement(study.inputs.rules["ranking_counts"]),
        "counted_load": study.inputs.rules["ranking_counts"],
        "counted": study.inputs.rules["incentive_cost_counts"],
        "most_rows": MOST_ROWS, "left_out": {"ranked": max(len(ranked) - MOST_ROWS, 0),
                                             "unranked": max(len(left) - MOST_ROWS, 0)},
        "ranking": listed(ranked, RANKING_KEYS, "Ranked farms, best first"),
        "unranked": listed(left, UNRANKED_KEYS, "Farms that are not ranked"),
        **{name: of_file(file, sheet, keys, caption)
           for name, (file, sheet, keys, caption) in TABLES.items()},
        "line_answers": rows["line_answers"][:MOST_OF_LINES],
        "whole_lines": {row.text("shared_line_id"): row for row in rows["line_crossover"]},
        "most_of_lines": MOST_OF_LINES,
        "items": _items(page["program"]),
        "tests_table": _tests(page["program"]),
        "tests_skip_first_year": study.inputs.rules["test_timing"] != END_OF_YEAR,
        "scenarios": _scenarios(study, page)}


def _items(program):
    """In cents, so that the lines add up as they are printed."""
    lines = [(item, program.usd(f"cost_{item_key(item)}_usd", 2),
              program.usd_left(f"cost_{item_key(item)}_usd", f"member_{item_key(item)}_usd"),
              program.usd(f"member_{item_key(item)}_usd", 2)) for item in COST_ITEMS]
    whole = ("all together", program.usd("project_cost_usd", 2),
             program.usd("cooperative_cost_usd", 2), program.usd("member_cost_usd", 2))
    made = words_table(("What is bought", "Cost", "Cooperative", "Member, before incentive"),
                       [*lines, whole], "What the money buys, funded farms")
    made["rows"][-1]["css"] = "total"
    return made


def _tests(program):
    return words_table(
        ("Test", "What it asks", "What it counts", "Benefit over cost", "Net present value"),
        [(name, asks, counts, program(f"{key}_ratio"), program.usd(f"{key}_npv_usd"))
         for key, name, asks, counts in TESTS], "Benefit over cost, by test, funded farms")


def _scenarios(study, page):
    if study.comparison is None:
        return None
    group = page["program"].row_id
    mine = [row for row in page["rows"]["scenario_totals"] if row.text("group") == group]
    sheet = columns.SCENARIO_TOTALS
    keys = ("scenario", "farms", "incentive_cost_usd", "added_load_kw", "cooperative_npv_usd",
            "member_npv_usd", "ratepayer_ratio", "total_resource_ratio")
    return table(mine, [sheet.by_key[k] for k in keys], f"Each scenario, {group}", of=group)


def _assumptions(study):
    """How the figures are made, and where what was assumed comes from."""
    rules = study.inputs.rules.by_key
    changed = [(PROGRAM.by_key[k], rule) for k, rule in rules.items() if rule.origin != YEAR]
    open_rules = [(PROGRAM.by_key[k], rule) for k, rule in rules.items()
                  if any(word in rule.source for word in NOT_READ)]
    findings = study.findings.frame()
    defaults = findings.loc[findings["slug"] == "defaults-taken", "value"] if len(findings) else []
    price_years = pd.to_numeric(study.inputs.unit_costs["price_year"], errors="coerce").dropna()
    return {
        "conventions": conventions(study.inputs.rules), "what_it_proves": WHAT_IT_PROVES,
        "changed_rules": _rules_table(changed, "Rules that this workbook or scenario changed"),
        "open_rules": _rules_table(open_rules, "Rules whose source was not read, or is an example"),
        "rule_count": len(rules), "open_count": len(open_rules),
        "defaults": sum(int(text.split()[0]) for text in defaults),
        "price_years": sorted({int(y) for y in price_years})}


def _rules_table(rules, caption):
    return words_table(
        ("Rule", "Value", "Unit", "Source"),
        [(column.label, _rule_text(rule.value), column.unit, rule.source)
         for column, rule in rules], caption)


def _rule_text(value):
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:,g}" if isinstance(value, (int, float)) else str(value)
