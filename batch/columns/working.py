"""The dictionary of what is no result: the working columns of the frames of a study, which no
results file shows, and the keys of the long tables, as checks and cost shares.

With the sheets of the other modules it names every column of every frame.
"""

from dataclasses import replace

from batch.columns.column import Column, Sheet, grouped
from batch.columns.column import output_text as _text
from batch.columns.column import output_value as _value
from batch.columns.made_of import with_parts
from batch.columns.portfolio import RULE_COSTS, SHARED_COSTS
from batch.columns.program import COST_ITEMS, item_key
from batch.columns.rates import RATES
from batch.columns.results import RESULTS, TEST_LABELS

# What the study computes or chooses has the name of the result; what the row of the farm says of it
# is called by these in the frames of designs.
TYPED_NAMES = {"supply_option": "wanted_option", "pump_motor_hp": "nameplate_motor_hp",
               "season_hours": "given_season_hours"}


def _yes(key, label, text):
    return Column(key=key, label=label, group="", kind="yes/no", help=text)


def _count(key, label, text, source=""):
    return Column(key=key, label=label, group="", kind="integer", decimals=0, help=text,
                  source=source)


def _identity(*keys):
    """Keys that tell which farm, option and variant a row is of, as the results have them."""
    return tuple(RESULTS.by_key[key] for key in keys)


FARM = grouped(
    "farm",
    _text("builders", "Builders", "The farms of a shared line that build in this row, by the rows "
          "of the workbook. Blank: no shared line."),
    _count("farm_row", "Farm's row", "Row of the Candidates sheet of which this row is one case."),
    _text("wanted_option", "Supply option asked for", "What the farm's row says: an option, or "
          "auto, which leaves the choice to the study."),
    _value("nameplate_motor_hp", "Pump motor as typed", "hp", 1,
           "Nameplate in the farm's row; blank where the study takes the next standard rating."),
    _value("given_season_hours", "Pumping hours as typed", "h", 0,
           "Hours in the farm's row; blank where the study takes the hours by depth."),
    _value("tower_table_a", "Tower motor's current by table", "A", 2,
           "Full-load current of one tower motor, by the next rating of the table.",
           "NEC Table 430.250"),
    _value("booster_table_a", "Booster's current by table", "A", 2,
           "Full-load current of the booster's motor, by the next rating of the table.",
           "NEC Table 430.250"),
    _value("computed_fuel_rate", "Fuel rate by criteria", "gal/h", 3,
           "Fuel that the pumping work should take by the pumping plant criteria and the "
           "performance rating, or for generators by the part-load chart. Mcf per hour for "
           "natural gas.",
           "pumping plant performance criteria, University of Nebraska; published fuel charts"),
    _value("season_fuel_rate", "Fuel rate by the year's use", "gal/h", 3,
           "The annual fuel of the farm's row over the pumping hours. Mcf per hour for natural "
           "gas. Blank: no annual use was given.", "", "annual_fuel_use / season_hours"),
)

SUPPLY = grouped(
    "supply",
    _count("service_phases", "Phases of the service", "One or three, by the supply option."),
    _value("line_reactor_pct", "Line reactor", "%", 0,
           "Reactance ahead of the drive, of the drive's own three-phase impedance, V / (1.732 I).",
           "table supply_variants"),
    _value("dc_choke_pct", "DC choke", "%", 0, "Reactance in the drive's DC bus, of the same.",
           "table supply_variants"),
    _text("input_filter", "Input filter", "What tames the drive's harmonics, a column of the table "
          "filter_remaining, or an active front end. Blank: none."),
    _text("input_item", "Price item of the mitigation", "Line of the Unit costs sheet by which "
          "reactor, choke, filter or front end is priced."),
    _text("starter_item", "Price item of the starter", "Line of the Unit costs sheet by which the "
          "pump motor's starter is priced. Blank: a drive starts it."),
    _value("own_displacement_pf", "Front end's displacement power factor", "", 2,
           "Power factor of the fundamental that an active front end holds by itself. Blank: "
           "solved.", "table supply_variants; memory of makers' claims"),
    _value("load_kw", "Load of the machine", "kW", 2,
           "What pump motor and pivot take, without the losses of drive or converter.", "",
           "motor_input_kw + pivot_demand_kw"),
    _value("connected_hp", "Connected rating", "hp", 1,
           "Ratings of pump motor, booster and all tower motors; facilities charges count it."),
    _value("converter_need_hp", "Rating asked of a converter", "hp", 1,
           "The larger of the pump motor's rating times the program's factor and the connected "
           "rating.", "rule converter_size_factor"),
    _value("present_demand_used_kw", "Present electric demand used", "kW", 2,
           "Demand of a present rotary converter as the farm's row gives it; 0 for every other "
           "farm, whatever was typed."),
    _value("fault_unsure_a", "Unsure part of the fault current", "A", 0,
           "How much of the fault current is a mere upper bound: all of it, or what the motors "
           "add."),
    _yes("is_unsettled", "No steady current", "yes where no steady current of the drive exists at "
         "its load, so that it cannot be sized."),
    SHARED_COSTS.by_key["trunk_ft"],
    *(_count(f"{key}_count", label, text + " Of the technical checks of a design; of the best "
             "design of each option, of the economic criteria as well.")
      for key, label, text in (
          ("meets", "Checks met", "How many checks it meets."),
          ("watch", "Checks to watch", "How many checks say watch."),
          ("fails", "Checks failed", "How many checks it fails."),
          ("not_assessed", "Checks not assessed", "How many checks are open."),
          ("open_limits", "Limits not assessed", "How many open checks are limits, and neither "
           "advice nor only watched."))),
    _text("fails_names", "Checks that fail", "Names of the failed checks, joined by commas."),
)

MONEY = grouped(
    "money",
    _value("base_revenue_usd_yr", "Added revenue of energy and demand", "USD/yr", 2,
           "Energy and demand charges of the new bill above those of the present one, no credit "
           "taken off."),
    *(_value(f"{case}_{key}_usd_yr", f"{label} {word} load control", "USD/yr", 2,
             text + f" if the farm were {word} load control, whatever it has agreed to.")
      for case, word in (("controlled", "under"), ("uncontrolled", "without"))
      for key, label, text in (
          ("revenue", "Added revenue", "The new bill above the present one"),
          ("wholesale_cost", "Added wholesale cost", "The cooperative's own cost of the added "
           "power"))),
    RATES.by_key["losses_pct"],
    _count("shared_line_members", "Farms that pay for the shared line", "With this farm; 1 where "
           "the farm shares no line."),
    _value("trunk_free_usd", "Free part of the shared line", "USD", 2,
           "What the free feet cost of the farm's part of the shared line, before overhead."),
    _value("trunk_relieved_usd", "Relief by one more farm", "USD", 2,
           "What one more farm that uses as much of the shared line would take over, before "
           "overhead.", "segment rule"),
    _value("trunk_alone_usd", "Shared line if alone", "USD", 2,
           "Cost, before overhead, of all that the farm uses of the shared line, with a job."),
    _value("line_job_usd", "Price of a line's job", "USD", 2,
           "Fixed price of building a line of these phases and construction, beside its feet."),
    *(_value(f"base_{item_key(item)}_usd", f"Price of {item}", "USD", 2,
             f"Cost of the item '{item}' by the price list, before overhead.")
      for item in COST_ITEMS),
    _value("cooperative_work_usd", "Cooperative's work", "USD", 2,
           "Cost of what the cooperative builds and owns: line, transformer, service, "
           "engineering."),
    _value("above_farm_cap_usd", "Above the cap per farm", "USD", 2,
           "What the cap per farm moves from the cooperative to the member.", "rule farm_cap_usd"),
    _value("electric_upkeep_usd_yr", "Upkeep of the electric equipment", "USD/yr", 2,
           "First year's upkeep of the member's equipment.", "rule electric_upkeep_pct",
           "equipment_cost_usd * electric_upkeep_pct / 100"),
    *(_text(f"{party}_flow_usd", f"{label} net flow by year",
            "A list of amounts, year 0 first: in is above zero, out below.", unit="USD")
      for party, label in (("member", "Member's"), ("cooperative", "Cooperative's"))),
    *(_value(f"{test}_{side}_usd", f"{label}, {side}", "USD", 2,
             f"Present value of the {side} in the test, over the years of the study.")
      for test, label in TEST_LABELS for side in ("benefits", "costs")),
    _count("irr_root_count", "Rates of return", "At how many rates the member's NPV is zero; the "
           "IRR is told where it is one."),
    _count("flow_sign_changes", "Changes of sign", "How often the member's net flow changes its "
           "sign over the years."),
)

PROGRAM_WORK = grouped(
    "program",
    _yes("is_priced", "Priced", "yes where project cost and added load are known."),
    _value("may_have_incentive", "May have an incentive", "", 0, "1 where the option meets all "
           "that the rules ask of it but the payback after the incentive, else 0; the incentive "
           "is multiplied by it."),
    _count("option_place", "Place of the option", "Order in which a farm's options are listed, "
           "from 0."),
    _text("missing_items", "Why it has no price", "Items without price or size, or what else is "
          "unknown, in words. Blank: priced."),
    _text("missing_prices", "Items without a price", "Items that the price list lacks, with their "
          "size."),
)

WORKING = Sheet(
    name="Working",
    help="Columns that the study works with and no results file shows.",
    columns=with_parts(FARM + SUPPLY + MONEY + PROGRAM_WORK))

DESIGN = _count("design", "Design", "Number of the design that the row is of; in no file.")

CHECKS = Sheet(
    name="Checks",
    help="A row per option and check: checks.csv.",
    columns=grouped(
        "check", DESIGN, *_identity("candidate_id", "excel_row", "supply_option", "variant"),
        _text("check", "Check", "Name of the check."),
        _value("value", "Value", "", 4, "What is judged, in the unit beside it."),
        _text("sense", "Must be", "at most, or at least, the limit."),
        _value("limit", "Limit", "", 4, "In the unit beside it. Blank: not known."),
        _text("unit", "Unit", "Of value and limit."),
        _text("answer", "Answer", "meets, watch, fails, or not assessed, which is never a pass."),
        _text("source", "Source", "Where the limit comes from."),
        _text("remedy", "Remedy", "What to do where it is not met, or not assessed."),
        _text("blank_inputs", "Blank cells", "Cells of the farm's row that leave the check open."),
        _yes("is_advice", "Advice", "yes where the check only warns and bars no farm."),
    ))

COST_SHARES = Sheet(
    name="Cost shares",
    help="A row per design and cost item: cost_shares.csv has those of the chosen options.",
    columns=grouped(
        "cost share", DESIGN, *_identity("candidate_id", "excel_row", "supply_option", "variant"),
        _text("item", "Item", "The cost item: " + ", ".join(COST_ITEMS) + "."),
        _text("made_of", "Made of", "Quantities with their prices, before overhead; in brackets "
              "the row of the Unit costs sheet. Line by line they stand in cost_lines.csv."),
        _value("overhead_usd", "of which overhead", "USD", 2, "Inside the item's cost.",
               "rule overhead_adder_pct"),
        _value("item_cost_usd", "Cost", "USD", 2, "The item with overhead; what cooperative and "
               "member pay adds up to it."),
        _value("allowance_usd", "Allowance used", "USD", 2, "What the cooperative gives first "
               "towards this item: free feet, dollars and size, years of revenue or margin."),
        _value("cooperative_usd", "Cooperative pays", "USD", 2, "Before the incentive."),
        _value("member_usd", "Member pays", "USD", 2, "Before the incentive."),
        _text("rule", "Rule", "How the item was split, and what cut a share."),
        _text("source", "Source", "Behind the split."),
    ))

CHOICE = Sheet(
    name="Options",
    help="What options.csv has beside keys of the results.",
    columns=with_parts(grouped("verdict", _yes("is_chosen", "Chosen", "yes for the option that the "
                                               "farm gets."))))

CASH_FLOWS = Sheet(
    name="Cash flows",
    help="A row per farm and year: cash_flows.csv.",
    columns=grouped(
        "flow", *_identity("candidate_id", "supply_option"),
        _count("year", "Year", "0 is the year of building."),
        *(column for party, label in (("member", "Member"), ("cooperative", "Cooperative"))
          for column in (
              _value(f"{party}_usd", f"{label}'s net flow", "USD", 2,
                     "In is above zero, out below."),
              _value(f"{party}_discounted_sum_usd", f"{label}'s discounted sum", "USD", 2,
                     "This and all earlier years' flows at the party's own rate; in the last year "
                     "the NPV."))),
    ))

FINDINGS = Sheet(
    name="Findings",
    help="A row per finding: findings.csv.",
    columns=grouped(
        "finding",
        _text("sheet", "Sheet", "Where the cell stands. Blank: of the whole study."),
        _count("row", "Row", "Excel row of the cell. Blank: of the whole sheet."),
        _text("column", "Column", "Letter of the cell's column."),
        _text("slug", "Finding", "Name of the kind of finding; farmbatch findings explains it."),
        _text("severity", "Severity", "error, watch or note."),
        _text("value", "Value", "What the cell says."),
        _text("limit", "Limit", "What it was held against."),
        _text("message", "Message", "What is wrong, and how to mend it."),
        replace(RESULTS.by_key["candidate_id"], help="The farm, where it is of one."),
        _text("key", "Key", "Key of the cell in this dictionary."),
    ))

APPROVALS = Sheet(
    name="Approvals",
    help="A row per farm with an approved incentive: approvals.csv.",
    columns=grouped(
        "approval", *_identity("candidate_id"),
        _value("approved_usd", "Approved", "USD", 2, "As the farm's row says."),
        _value("computed_usd", "Computed", "USD", 2, "By the rules in force."),
        _value("difference_usd", "Approved less computed", "USD", 2, "Blank: not assessed."),
        _text("answer", "Answer", "same, approved more, approved less, or not assessed."),
        _text("message", "Reason", "Why the rules give what they give."),
    ))

RULE_FARMS = Sheet(
    name="Farms of the dearest rules",
    help="A row per dearest rule and farm that is another without it; in no file.",
    columns=grouped(
        "rule", RULE_COSTS.by_key["key"],
        *(column for side, words in (("before", "as studied"), ("after", "without the rule"))
          for column in (
              _count(f"design_{side}", f"Design, {words}", "Number of the design that the farm "
                     "gets. Blank: it does not qualify."),
              *(replace(RESULTS.by_key[key], key=f"{key}_{side}", worked="", made_of="",
                        label=f"{RESULTS.by_key[key].label}, {words}")
                for key in ("added_load_kw", "project_cost_usd", "together_npv_usd"))))))

WORKING_SHEETS = (WORKING, CHOICE, CHECKS, COST_SHARES, CASH_FLOWS, FINDINGS, APPROVALS,
                  RULE_FARMS)
