"""The dictionary of the portfolio's tables: what stands in their CSV files and on their sheets."""

from dataclasses import replace

from batch.columns.column import Column, Sheet, grouped
from batch.columns.column import output_text as _text
from batch.columns.column import output_value as _value
from batch.columns.delivered import DELIVERED_FARMS, REALIZATION
from batch.columns.limits import BUYING_LIST
from batch.columns.list_spread import LIST_SPREAD
from batch.columns.program import COST_ITEMS, GOALS, item_key
from batch.columns.results import RESULTS, TEST_LABELS
from batch.columns.season import APPROVED_FARMS, BUDGET, WAITING_LIST

PARTIES = (("member", "members"), ("cooperative", "the cooperative"),
           ("together", "both together"))

# Results that are added up over farms.
SUMS = ("added_load_kw", "useful_load_kw", "annual_energy_kwh", "incentive_cost_usd",
        "incentive_usd", "cooperative_cost_usd", "member_net_cost_usd", "project_cost_usd",
        "member_saving_usd_yr", "margin_usd_yr", "member_npv_usd", "cooperative_npv_usd",
        "together_npv_usd", "co2_avoided_t_yr", "member_cost_usd",
        *(f"{side}_{item_key(item)}_usd" for side in ("cost", "member") for item in COST_ITEMS))


def _yes(key, label, text):
    return Column(key=key, label=label, group="", kind="yes/no", help=text)


BUDGET_SETS = Sheet(
    name="Budget sets",
    help="Ways to give out the budget, side by side.",
    columns=grouped(
        "budget",
        _text("method", "Way to choose", "How the farms were chosen."),
        _value("farms", "Farms", "", 0, "How many farms are funded."),
        _value("left_out", "Farms with an unknown figure", "", 0,
               "Funded farms of which a figure of this table is not known; its sum is without it."),
        _value("incentive_cost_usd", "Incentive cost", "USD", 0, "Sum of the funded farms."),
        _value("added_load_kw", "Added load", "kW", 1, "Sum of the funded farms."),
        _value("useful_load_kw", "Useful load", "kW", 1, "Sum of the funded farms."),
        _value("cooperative_npv_usd", "Cooperative NPV", "USD", 0, "Sum of the funded farms."),
        _value("together_npv_usd", "NPV of both together", "USD", 0,
               "Sum of the funded farms: members and cooperative, each at its own rate."),
        _value("total_resource_npv_usd", "Total resource NPV", "USD", 0,
               "Sum of the funded farms, as the test counts it."),
        _value("member_saving_usd_yr", "Member's saving", "USD/yr", 0, "Sum of the funded farms."),
        _value("goal_value", "Goal", "", 1, "Sum of what the program's goal counts: "
               + ", ".join(GOALS) + "."),
        _value("goal_gain", "More than the ranking", "", 1,
               "Goal above that of the ranking that stops at the first misfit."),
        _value("worst_withdrawal_usd", "Worst withdrawal", "", 1,
               "The largest fall of the goal when one farm leaves and the others stay, in the "
               "goal's unit.", "settled goal with the farm less without it"),
        _value("members_who_lose", "Members who lose by it", "", 0,
               "Farms whose member's NPV falls by more than 1 USD in that case."),
        _value("gap_usd", "Gap", "", 1,
               "What a better set might reach more, at most, in the goal's unit; 0 where the set "
               "is proven best, blank for a ranking."),
        _value("goal_bound", "No set has more than", "", 1,
               "What the search has proven; blank for a ranking, which does not search."),
        _yes("is_proven", "Proven best", "yes where no better set can exist; blank for a ranking, "
             "which does not search."),
    ))

BUDGET_LIMITS = Sheet(
    name="Budget limits",
    help="What holds the best set back.",
    columns=grouped(
        "budget",
        _text("constraint", "Limit", "Budget, feeder, or rule about which farms go together."),
        _value("limit", "Allowed", "", 1, "In the unit beside it. Blank: not a number."),
        _value("used", "Used", "", 1, "By the best set within all limits."),
        _text("unit", "Unit", "Of allowed and used."),
        _yes("binds", "Binds", "yes where a farm that was left out would not fit into what is "
             "left, or where lifting the limit gives a better set."),
        _value("gain_if_lifted", "Gain if lifted", "", 1,
               "How much more of the goal the best set would reach without this limit, at least. "
               "Blank: not solved for."),
    ))

SHARED_COSTS = Sheet(
    name="Shared line parts",
    help="What each farm pays for a shared line, with and without the others.",
    columns=grouped(
        "shared line",
        _text("shared_line_id", "Shared line", "Name of the line."),
        _text("candidate_id", "Candidate", "The farm."),
        _text("supply_option", "Supply option", "The farm's option, which sets the line's phases."),
        _value("members", "Farms that pay", "", 0, "With this farm."),
        _yes("pays", "Pays", "no where the farm does not qualify or must not be funded: the others "
             "pay for all of the line, and its figures are those of joining them."),
        _value("trunk_ft", "Shared line used", "ft", 0, "From the tap to where the farm leaves."),
        _value("trunk_part_ft", "Part of it", "ft", 1,
               "Every stretch is split equally among the farms beyond it.",
               "segment rule; Shapley value of the line"),
        _value("trunk_part_usd", "Part of its cost", "USD", 2,
               "With its part of the line's one job and overhead; each stretch is priced by its "
               "place on the line."),
        _value("with_others_usd", "Line cost with the others", "USD", 2, "Own line included."),
        _value("alone_usd", "Line cost alone", "USD", 2, "If no other farm built."),
        _value("saved_usd", "Saved by sharing", "USD", 2, "Alone less with the others."),
        _yes("qualifies_alone", "Meets alone", "yes where the farm's best option fails no check "
             "even if no other farm built."),
    ))

LINE_CROSSOVER = Sheet(
    name="Line crossover",
    help="From how many farms on a three-phase line beats single-phase service with drives.",
    columns=grouped(
        "shared line",
        _text("shared_line_id", "Shared line", "Name of the line."),
        _value("farms", "Farms", "", 0, "First farms of the line, by name."),
        _text("last_farm", "Last farm added", "The farm that makes this number."),
        _value("single_phase_cost_usd", "Single-phase with drives", "USD", 0,
               "Total project cost of these farms."),
        _value("three_phase_cost_usd", "Three-phase line", "USD", 0,
               "Total project cost of these farms."),
        _value("single_phase_usd_per_kw", "Single-phase with drives, per kW", "USD/kW", 0,
               "Over the load that the ranking counts."),
        _value("three_phase_usd_per_kw", "Three-phase line, per kW", "USD/kW", 0,
               "Over the load that the ranking counts."),
        _text("least", "Costs less", "Which of the two."),
        _value("single_phase_failing", "Drives that fail a check", "", 0, "Among these farms."),
        _value("three_phase_failing", "Three-phase farms that fail a check", "", 0,
               "Among these farms."),
    ))

LINE_ANSWERS = Sheet(
    name="Line answers",
    help="For each shared line: from how many farms on a three-phase line costs less.",
    columns=grouped(
        "shared line",
        _text("shared_line_id", "Shared line", "Name of the line."),
        _value("farms", "Farms", "", 0, "Whose two options are priced."),
        _value("single_phase_cost_usd", "Single-phase with drives", "USD", 0, "For all of them."),
        _value("three_phase_cost_usd", "Three-phase line", "USD", 0, "For all of them."),
        _value("crossover_farms", "Three phases from", "", 0,
               "Number of farms from which three phases stay the cheaper, as farms are added by "
               "name. Blank: not with these farms."),
        _value("crossover_if_alike", "From, if farms were alike", "", 0,
               "The same for farms with the line's mean own costs, beyond its own number too. "
               "Blank: each further farm makes three phases dearer.",
               "least n with single-phase cost above three-phase cost"),
    ))

FEEDER_LOADS = Sheet(
    name="Feeder loads",
    help="Added load of each feeder, its capacity and its phases.",
    columns=grouped(
        "feeder",
        _text("feeder_id", "Feeder", "Name of the feeder."),
        _value("candidates", "Farms", "", 0,
               "Ranked on this feeder, or approved before."),
        _value("added_kw", "Added load of these farms", "kW", 1, "Undiversified."),
        _value("added_single_phase_kw", "of which single-phase", "kW", 1, "Undiversified."),
        _value("diversified_kw", "All these farms at one time", "kW", 1,
               "Their added load times the coincidence on feeders."),
        _value("spare_capacity_kw", "Spare capacity", "kW", 0, "As the Feeders sheet gives it."),
        _value("left_kw", "Left with all of them", "kW", 1, "Spare capacity less the load."),
        _text("answer", "Answer", "Whether all of them fit."),
        _text("breaking_candidate", "First farm that does not fit",
              "Down the ranking, the farm with which the spare capacity is exceeded."),
        _value("funded_kw", "Farms that build at one time", "kW", 1,
               "Added load of the farms that are funded or were approved before, times the "
               "coincidence on feeders."),
        _value("funded_left_kw", "Left with farms that build", "kW", 1,
               "Spare capacity less their load."),
        *(_value(f"phase_{p}_after_kw", f"Phase {p.upper()} with these farms", "kW", 1,
                 "Present peak and the farms that build at one time.") for p in "abc"),
        _value("unbalance_before_pct", "Load unbalance today", "%", 1,
               "Largest deviation of a phase from the mean.", "NEMA MG 1 form"),
        _value("unbalance_after_pct", "Load unbalance with these farms", "%", 1,
               "With the phases that keep it least."),
        _yes("is_proven", "Proven least", "yes where no other choice of phases is better."),
        _value("weakest_fault_a", "Weakest tap's fault current", "A", 0,
               "Least single-phase fault current among these farms' taps."),
        _value("voltage_unbalance_pct", "Voltage unbalance, at most", "%", 2,
               "As if the feeder's whole unbalanced load stood at the weakest tap: an upper "
               "estimate.",
               "NEMA MG 1, definition"),
        _text("unbalance_answer", "Unbalance", "Against the program's limit; above it, watch: the "
              "estimate is an upper one."),
    ))

SET_FUTURES = Sheet(
    name="Set futures",
    help="The funded farms as one set, and the best set where that is another one, in drawn "
         "futures: money and verdicts of exactly these farms again.",
    columns=grouped(
        "uncertainty",
        _text("set", "Set", "Which farms."),
        _value("farms", "Farms", "", 0, "How many they are."),
        _value("futures", "Futures", "", 0, "How many were drawn."),
        _value("budget_usd", "Budget", "USD", 2,
               "What there is for them: of the first year, or for the best set of all years."),
        _value("budget_chance_pct", "Chance that the budget suffices", "%", 0,
               "In how many of 100 futures these farms cost no more than that."),
        _value("all_qualify_chance_pct", "Chance that all still qualify", "%", 0,
               "In how many of 100 futures no farm of the set fails its limits of money."),
        _value("farms_lost_p90", "Farms that fail, 90 percent point", "", 0,
               "In 90 of 100 futures no more farms of the set fail."),
        *(_value(f"{key}_p{point}_usd", f"{label}, {point} percent point", "USD", 0,
                 "Of all futures of the set.")
          for key, label in (("incentive_cost", "Counted by the budget"),
                             ("together_npv", "NPV of both together")) for point in (10, 50, 90)),
    ))

TORNADO = Sheet(
    name="Drivers",
    help="What moves the funded program most, one driver at a time.",
    columns=grouped(
        "uncertainty",
        _text("driver", "Driver", "What is varied alone; all farms move together."),
        _value("spread_pct", "Spread", "%", 0, "Standard deviation in the rules."),
        _value("low_pct", "Low", "%", 1, "Change at the 10 percent point."),
        _value("high_pct", "High", "%", 1, "Change at the 90 percent point."),
        *(_value(f"{party}_npv_{side}_usd", f"NPV of {words}, {side}", "USD", 0,
                 f"Program sum at the {side} point.")
          for party, words in PARTIES for side in ("low", "high")),
        _value("swing_usd", "Swing", "USD", 0,
               "Distance between the two points, NPV of both together."),
    ))

BENEFIT_BY_YEAR = Sheet(
    name="Benefit by year",
    help="Cumulative benefit of members and cooperative together, each discounted at its own rate, "
         "funded farms.",
    columns=grouped(
        "uncertainty",
        _value("year", "Year", "", 0, "0 is the year of building."),
        _value("base_usd", "As studied", "USD", 0, "With the study's own values."),
        *(_value(f"p{point}_usd", f"{point} percent point", "USD", 0,
                 f"{point} of 100 futures end below this.") for point in (10, 50, 90)),
    ))

PROGRAM_TOTALS = Sheet(
    name="Program totals",
    help="Sums and benefit tests of the program and of each feeder.",
    columns=grouped(
        "totals",
        _text("group", "Group", "The farms that are added up."),
        _value("farms", "Farms", "", 0, "In the group."),
        _value("left_out", "Farms with an unknown figure", "", 0,
               "What is not known of a farm is in no sum; what else is known of it is."),
        _text("left_out_of", "Sums that lack them", "The sums without those farms."),
        *(replace(RESULTS.by_key[key], worked="") for key in SUMS),
        _value("gaining_load_kw", "Added load of growers who gain", "kW", 1,
               "Of the farms whose member's NPV is above zero."),
        *(replace(RESULTS.by_key[f"{test}_{part}"], worked="") for part in ("ratio", "npv_usd")
          for test, _ in TEST_LABELS),
        _value("rate_impact_usd_mwh", "Lifecycle rate impact", "USD/MWh", 4,
               "Change of every member's rate that would balance the ratepayer test; below zero "
               "is a relief. Blank: the rules name no system sales."),
    ))

COST_LINES = Sheet(
    name="Cost lines",
    help="What the cost of each chosen option is made of, before overhead: every quantity with its "
         "price and the row of the Unit costs sheet that it comes from.",
    columns=grouped(
        "cost line",
        *(RESULTS.by_key[key] for key in ("candidate_id", "supply_option", "variant")),
        _value("line_number", "Line", "", 0, "Counted within the farm, from 1."),
        _text("item", "Item", "The cost item that the line is a part of, as on Who pays."),
        _text("priced_as", "Priced as", "The item of the Unit costs sheet; or the farm's part of a "
              "shared line, whose stretches are on Shared line parts."),
        _value("quantity", "Quantity", "", 1, "How much of it."),
        _text("quantity_unit", "Unit", "Of the quantity: ft, or each."),
        _value("unit_price_usd", "Unit price", "USD", 2, "Per unit. Blank: not on the list, or a "
               "part of a shared line."),
        _value("price_row", "Row of the price", "", 0, "Excel row of the Unit costs sheet."),
        _value("amount_usd", "Amount", "USD", 2, "Before overhead. The amounts of an item, with "
               "overhead, are its cost on Who pays.", "", "quantity * unit_price_usd"),
    ))

RULE_COSTS = Sheet(
    name="Dearest rules",
    help="What the farms that qualify would be without each rule: no check of it bars an option, "
         "and the farms that it touches choose anew. Nothing is sized anew, parts of shared lines "
         "stay, the budget is not given out anew. No limit that protects people or plant is to be "
         "dropped for what it costs.",
    columns=grouped(
        "rule",
        _text("key", "Key", "As on the Program sheet."),
        _text("rule", "Rule", "One of the rules in force."),
        _text("value", "Value", "In force."),
        _text("unit", "Unit", "Of the value."),
        _value("farms", "More farms", "", 0, "That would qualify without the rule."),
        _value("farms_changed", "Farms with another option", "", 0,
               "Farms that qualify with it and would choose another option or variant."),
        _value("added_load_kw", "More added load", "kW", 1, "Of all farms that qualify."),
        _value("project_cost_usd", "More project cost", "USD", 0,
               "Of all farms that qualify; below zero where cheaper options would do."),
        _value("together_npv_usd", "More NPV of both together", "USD", 0,
               "Of all farms that qualify, members and cooperative."),
        _text("source", "Source", "Behind the value."),
    ))

def _result(key):
    """A result as a table of sets shows it, without the arithmetic of the farm's own row."""
    return replace(RESULTS.by_key[key], worked="", made_of="", source="as a study of exactly this "
                   "set's farms")


# What a farm brings to a set, and takes from it.
OF_A_SET = ("supply_option", "added_load_kw", "useful_load_kw", "incentive_usd",
            "incentive_cost_usd", "cooperative_cost_usd", "member_net_cost_usd",
            "member_saving_usd_yr", "member_npv_usd", "cooperative_npv_usd", "ratepayer_npv_usd",
            "total_resource_npv_usd")
SET_FARMS = Sheet(
    name="Set farms",
    help="Every set of which a figure is shown, farm by farm, each as exactly this set makes it.",
    columns=grouped(
        "set",
        _text("method", "Way to choose", "As in budget_sets.csv, or all farms that are ranked."),
        _text("candidate_id", "Candidate", "The farm."),
        _value("year", "Year", "", 0, "Program year whose budget funds it."),
        _text("builds_with", "Builds its line with", "The other farms of the set on its line."),
        *map(_result, OF_A_SET)))

EXCHANGED = ("added_load_kw", "incentive_cost_usd", "member_npv_usd", "cooperative_npv_usd",
             "ratepayer_npv_usd", "total_resource_npv_usd")
SET_EXCHANGE = Sheet(
    name="Set exchange",
    help="The best set beside the ranking's: what enters, what leaves, what builds with others, "
         "and what that gives and takes.",
    columns=grouped(
        "set",
        _text("candidate_id", "Candidate", "The farm; in the last row all together."),
        _text("change", "Change", "enters, leaves, or it stays: other builders, where its line is "
              "built with others; other option, where the best set supplies it otherwise."),
        *(replace(_result(key), label=f"{RESULTS.by_key[key].label}, more or less",
                  help="In the best set less in the ranking's.") for key in EXCHANGED),
        _value("goal_per_usd", "Goal per dollar", "", 2,
               "What the farm brings to the goal in its set, over its incentive cost there: this "
               "decides within a budget. Blank: it stays, or costs nothing.",
               "", "goal over incentive cost")))

BUDGET_STEPS = Sheet(
    name="Budget steps",
    help="What other budgets would buy: the best set within all limits, solved anew for each.",
    columns=grouped(
        "set",
        _value("budget_usd", "Budget", "USD", 0, "Of the first year; the other years as they are."),
        _value("spent_usd", "Spent", "USD", 0, "Incentive cost of exactly these farms."),
        _value("farms", "Farms", "", 0, "How many are funded."),
        _value("goal_value", "Goal", "", 1, "In the goal's unit."),
        _value("goal_per_usd", "More goal per more dollar spent", "", 3,
               "Against the step before.", "", "difference of goal over difference of spent"),
        _text("enters", "Enters", "Farms that the step before does not fund."),
        _text("leaves", "Leaves", "Farms that only the step before funds."),
        _yes("is_proven", "Proven best", "yes where no better set can exist.")))

WITHDRAWALS = Sheet(
    name="Withdrawals",
    help="What happens if one funded farm withdraws after approval and the others stay.",
    columns=grouped(
        "set",
        _text("candidate_id", "Candidate", "The farm that withdraws."),
        _text("line_mates", "Farms on its line", "The other funded farms of its shared line."),
        _value("goal_change", "Goal", "", 1, "Change of the program's goal, in its unit."),
        _value("incentive_cost_change_usd", "Incentive cost", "USD", 2,
               "Change of the funded set's incentive cost."),
        _value("cooperative_npv_change_usd", "Cooperative NPV", "USD", 0, "Change of its sum."),
        _value("line_left_usd", "Line left to the others", "USD", 2,
               "What more of the shared line the others' projects cost: the guarantee that would "
               "hold everybody harmless."),
        _value("worst_member_change_usd", "Worst member's NPV", "USD", 0,
               "The largest fall of a line mate's NPV; 0 where none falls."),
        _text("no_longer_qualify", "No longer qualify", "Line mates that fail a check then.")))

SCENARIO_TOTALS = Sheet(
    name="Scenario totals",
    help="The program's totals under each scenario, beside the workbook as filled in.",
    columns=(*grouped("scenario", _text("scenario", "Scenario", "Laid over the workbook.")),
             *PROGRAM_TOTALS.columns),
)


def _compared(key):
    """A result as filled in, and under the scenario."""
    column = replace(RESULTS.by_key[key], worked="")
    return (replace(column, key=f"{key}_as_filled", label=f"{column.label} as filled in"), column)


SCENARIO_VERDICTS = Sheet(
    name="Scenario verdicts",
    help="Farms whose verdict, option or funding changes under a scenario.",
    columns=grouped(
        "scenario",
        _text("scenario", "Scenario", "Laid over the workbook."),
        _text("candidate_id", "Candidate", "The farm."),
        _text("farm_label", "Farm", "How the farm is called."),
        *(column for key in ("verdict", "supply_option", "in_budget", "in_best_set", "rank",
                             "incentive_usd", "member_npv_usd") for column in _compared(key)),
        _text("verdict_reason", "Reason", "Why the verdict is what it is under the scenario."),
    ))

# Tables whose first column alone does not name a row.
NAMED_BY = {DELIVERED_FARMS.name: ("candidate_id", "season"),
            WAITING_LIST.name: ("farms",), SHARED_COSTS.name: ("candidate_id",),
            LINE_CROSSOVER.name: ("shared_line_id", "farms"),
            SET_FARMS.name: ("method", "candidate_id")}


def row_keys(sheet: Sheet) -> tuple[str, ...]:
    """The columns that name a row of a table."""
    return NAMED_BY.get(sheet.name, (sheet.columns[0].key,))


PORTFOLIO_SHEETS = (BUDGET, WAITING_LIST, APPROVED_FARMS, DELIVERED_FARMS, REALIZATION,
                    PROGRAM_TOTALS, BUDGET_SETS, BUDGET_LIMITS, SHARED_COSTS, LINE_ANSWERS,
                    LINE_CROSSOVER, FEEDER_LOADS, SET_FUTURES, TORNADO, BENEFIT_BY_YEAR,
                    RULE_COSTS, COST_LINES, SET_FARMS, SET_EXCHANGE, BUDGET_STEPS, WITHDRAWALS,
                    BUYING_LIST, LIST_SPREAD, SCENARIO_TOTALS, SCENARIO_VERDICTS)
