"""The `Program` sheet: the policy and design limits of one program year.

Here stands what each key means; its value and the clause behind it stand in the year's file in
`batch/data/rules/`. A value typed in the workbook replaces the year's value for that study.
"""

from dataclasses import replace

from batch.columns.candidates import CODE_LETTERS
from batch.columns.column import SCREENING, STAGES, Column, Sheet, grouped
from batch.economics.benefit_tests import END_OF_YEAR, TIMINGS
from batch.economics.cost_share import ORDERS
from batch.economics.incentive import BASES

LEADS = "leads"
COST_ITEMS = ("line", "transformer", "service", "drive", "filter", "converter", "starter", LEADS,
              "motor change", "engineering")
# What the cooperative builds and owns.
COOPERATIVE_WORK = ("line", "transformer", "service", "engineering")
NOTHING, REVENUE, BASE_REVENUE, MARGIN = "none", "revenue", "base energy and demand", "margin"
INCENTIVE_ONLY, INCENTIVE_AND_SHARE = "incentive", "incentive and cooperative share"
BY_RANKING, BY_BEST_SET = "ranking", "best set"
PARTNERS, OPTIONS, DESIGNS = SET_CHOICES = ("partners", "options", "options and designs")
USEFUL_LOAD, ADDED_LOAD = "useful load", "added load"
# What the ranking divides by, and its result.
COUNTED_LOADS = {USEFUL_LOAD: "useful_load_kw", ADDED_LOAD: "added_load_kw"}
FARMS_SERVED = "farms served"
# What a best set has most of, and the result that is added up for it.
GOALS = {ADDED_LOAD: "added_load_kw", USEFUL_LOAD: "useful_load_kw",
         "cooperative NPV": "cooperative_npv_usd", "total resource NPV": "total_resource_npv_usd",
         "member saving": "member_saving_usd_yr", "member NPV": "member_npv_usd",
         FARMS_SERVED: "may_be_funded", "energy": "annual_energy_kwh"}
AT_SERVICE, AT_TAP, AT_BOTH = "service terminals", "primary tap", "both"
APPLIED, WATCHED, OFF = "applied", "watched", "off"
LEAST_FIRST_COST, LEAST_LIFE_COST, MEMBERS_NPV = OPTION_CHOICES = (
    "least first cost", "least cost over life", "member's NPV")
NO_CREDIT = "no refund by credit"
NO_CAP = "no such cap"
NO_LIMIT = "no such limit on a set"
LAPSES, CARRIED_OVER = "lapses", "is carried over"
COST_ALONE = "the budget paid incentive cost alone"
NO_FLOOR = -10_000_000
BY_LISTED_SIZE, BY_BANK = "the listed size", "the bank of three for three phases"
ALL_PAID_FOR_LINE, STRETCH_JOINED = "all that was paid for line", "the stretch that is joined"


def item_key(item: str) -> str:
    """A cost item's name as it stands inside keys."""
    return item.replace(" ", "_")


def _number(key, label, unit, low, high, text, decimals=2):
    return Column(key=key, label=label, group="", unit=unit, minimum=low, maximum=high,
                  decimals=decimals, help=text)


def _later(key, label, unit, low, high, default, source, text, decimals=2):
    """A number that closed years did not have: they take the default."""
    return Column(key=key, label=label, group="", unit=unit, minimum=low, maximum=high,
                  default=default, source=source, decimals=decimals, help=text)


def _share(item, part, label, unit, high, default, text, decimals=0):
    """A rule of an item's share. Leads were priced after the closed years, which take the default.
    """
    column = _number(f"share_{item_key(item)}_{part}", label, unit, 0, high, text, decimals)
    return column if item != LEADS else replace(
        column, default=default, source="as all of the member's equipment")


def _choice(key, label, choices, text):
    return Column(key=key, label=label, group="", kind="choice", choices=choices, help=text)


SERVICE = grouped(
    "service and voltage",
    _number("service_voltage_v", "Service voltage", "V", 200, 600,
            "Nominal voltage of the service, line to line: 240, 480 or 600 V.", 0),
    _number("motor_voltage_v", "Motor rated voltage", "V", 200, 600,
            "Nameplate voltage of the motors: 230 V on a service of 240 V, 460 V on 480 V, 575 V "
            "on 600 V. The code's tables are taken at it.", 0),
    _number("service_voltage_low_v", "Service voltage, lowest", "V", 150, 600,
            "Lowest voltage allowed at the service terminals at full load.", 0),
    _number("service_voltage_high_v", "Service voltage, highest", "V", 150, 700,
            "Highest voltage allowed at the service terminals at no load.", 0),
    _number("service_drop_limit_pct", "Service conductor drop limit", "%", 0.5, 10,
            "Largest voltage drop in the service conductors; they are sized for it.", 1),
    _number("primary_drop_limit_pct", "New line drop limit", "%", 0.5, 15,
            "Largest voltage drop in the new primary line.", 1),
    _number("starting_dip_limit_pct", "Starting dip limit", "%", 0.5, 20,
            "Largest momentary dip at the tap when the pump motor starts.", 1),
    _number("starting_dip_service_limit_pct", "Starting dip limit at the service", "%", 1, 40,
            "Largest momentary dip at the farm's own service while its motor starts.", 1),
    _number("pivot_lead_drop_limit_pct", "Pivot lead drop limit", "%", 0.5, 10,
            "Drop for which the cable from the controls to the pivot's panel is sized.", 1),
    _later("pivot_lead_assumed_ft", "Pivot lead where not given", "ft", 1, 8_000, 1_320,
           "from the edge of a quarter section to its middle; common practice, no source",
           "Length for which the cable to the pivot's panel is sized and priced where a farm's is "
           "blank; the supply pipe's length where that is longer.", 0),
    _number("end_tower_minimum_v", "End tower, lowest voltage", "V", 150, 600,
            "Lowest voltage at a pivot's end tower at full load.", 0),
    _number("end_tower_advised_v", "End tower, advised voltage", "V", 150, 600,
            "Below this voltage at the end tower the check's answer is watch.", 0),
    _number("tap_voltage_pct", "Voltage at the tap", "%", 90, 106,
            "Voltage of the existing primary at the tap at peak, in percent of nominal.", 1),
    _number("source_x_over_r", "X/R of the source at the tap", "", 0.1, 20,
            "Ratio of reactance to resistance behind the fault current at the tap.", 1),
    _choice("primary_conductor", "Primary conductor",
            ("6 ACSR", "4 ACSR", "2 ACSR", "1 ACSR", "1/0 ACSR", "2/0 ACSR", "3/0 ACSR", "4/0 ACSR",
             "266.8 ACSR", "336.4 ACSR"),
            "Conductor and neutral of the new primary line."),
    _number("neutral_spacing_ft", "Phase to neutral spacing", "ft", 1, 15,
            "Distance between the phase conductor and the neutral of a new line.", 2),
    _number("phase_spacing_ft", "Phase spacing, three-phase line", "ft", 1, 20,
            "Geometric mean of the distances between the phases of a new three-phase line.", 2),
    *(_number(f"cable_{kind}_{letter}_ohm_mi", f"Underground line, {words}", "", 0.01, 20,
              f"{words.capitalize()} of underground primary cable, ohm per mile.", 2)
      for kind, letter, words in (
          ("loop", "r", "loop resistance, single phase"),
          ("loop", "x", "loop reactance, single phase"),
          ("phase", "r", "resistance per phase, three-phase"),
          ("phase", "x", "reactance per phase, three-phase"))),
    _number("earth_resistivity_ohm_m", "Earth resistivity", "ohm-m", 1, 10_000,
            "For the earth return of a single-phase line.", 0),
)

LOADING = grouped(
    "loading",
    _number("transformer_loading_limit_pct", "Transformer loading limit", "%", 50, 160,
            "Largest continuous load in percent of rating, after harmonic derating.", 0),
    _number("transformer_eddy_loss_pu", "Winding eddy loss", "", 0, 0.3,
            "Eddy loss of the transformer's windings per unit of I2R loss at rated current.", 3),
    _number("ambient_c", "Ambient temperature", "degC", -10, 70,
            "Summer ambient temperature for conductors.", 0),
    _later("site_elevation_ft", "Site elevation", "ft", -300, 13_000, 1_000,
           "example policy: up to 3,300 ft nothing is derated",
           "Height above the sea of farms that do not state their own.", 0),
    _choice("conductor_material", "Service conductor metal", ("copper", "aluminum"),
            "Metal of the service conductors."),
    _choice("terminations", "Terminations", ("75 C", "60 C up to 100 A"),
            "Temperature for which the terminations of the service are marked; 60 C holds in "
            "circuits whose device is up to 100 A."),
    _choice("pivot_cable_size", "Pivot cable size", ("12", "10", "8", "6"),
            "Copper conductor along the pivot machine."),
    _later("pivot_cable_ambient_c", "Ambient temperature, pivot cables", "degC", -10, 70, 30,
           "NEC Table 310.16, its own ambient",
           "Summer ambient temperature of the cable along the machine and of the one to its panel.",
           0),
    _choice("conduit", "Service conduit", ("PVC", "aluminum", "steel"),
            "Conduit of the service conductors."),
    _later("overhead_service_spacing_in", "Spacing of overhead service wires", "in", 0, 48, 0,
           "cable on a messenger (triplex, quadruplex)",
           "Geometric mean distance between open wires of an overhead service; 0 for a cable whose "
           "conductors touch. Open wires have more reactance.", 1),
    _number("breaker_pct", "Breaker size", "%", 100, 400,
            "Inverse-time breaker of a motor circuit, percent of table current.", 0),
    _number("interrupting_rating_a", "Service device interrupting rating", "A", 1_000, 200_000,
            "Interrupting rating of the service disconnect.", 0),
    Column(key="midpoint_fault_counts", label="Midpoint fault at the drive counts", group="",
           kind="yes/no", default=False, source="line-to-line faults alone were judged",
           help="yes where the short-circuit rating of a drive or converter is judged against a "
                "fault from line to midpoint, too, which near a transformer is the larger one."),
)

PUMP_AND_PIVOT = grouped(
    "pump and pivot",
    _number("fittings_allowance_pct", "Fittings allowance", "%", 0, 50,
            "Added to pipe friction for valves and fittings.", 0),
    _number("end_gun_allowance_ft", "End gun and overhang allowance", "ft", 0, 250,
            "Added to the pivot's length when the irrigated area is compared with the circle.", 0),
    _number("tower_span_ft", "Tower span", "ft", 80, 260,
            "Pivot length per tower where the towers are not counted.", 0),
    _number("tower_motor_efficiency_pct", "Tower motor efficiency", "%", 30, 95,
            "Motor efficiency of tower and booster motors, at their load.", 0),
    _number("tower_load_pct", "Tower motor load", "%", 10, 150,
            "Load of a running tower motor in percent of its rating.", 0),
    _later("motor_loading_limit_pct", "Pump motor loading limit", "%", 0, 125, 0,
           "not judged before 2026",
           "Largest shaft power in percent of the motor's nameplate, on a three-phase line; above "
           "3,300 ft at most 100. 0 does not judge it.", 0),
    _later("motor_loading_drive_limit_pct", "Pump motor loading limit, drive or converter", "%", 0,
           125, 0, "not judged before 2026",
           "The same on a drive or converter, which leave no service factor; 0 does not judge it.",
           0),
    _later("motor_loading_advised_pct", "Pump motor loading, advised", "%", 0, 125, 100,
           "NEMA MG 1, a motor's rating",
           "Above this loading the check's answer is watch.", 0),
    _choice("motor_code_letter", "Motor code letter", CODE_LETTERS,
            "Locked-rotor code letter where the nameplate's is not known."),
    _number("motor_power_factor_pct", "Motor power factor", "%", 50, 100,
            "Power factor of the running pump motor on three-phase supply.", 0),
    _number("locked_rotor_power_factor_pct", "Power factor at start", "%", 5, 80,
            "Power factor of a motor at standstill.", 0),
    _number("soft_start_pct", "Soft starter current", "%", 30, 100,
            "Starting current with a soft starter, percent of locked-rotor current.", 0),
    Column(key="season_share_pct", label="Season profile", group="", kind="text",
           help="Share of the season's pumping hours in each month, January to December, as "
                "twelve numbers with commas that add up to 100."),
)

DRIVE = grouped(
    "drive and converter",
    _number("single_phase_derating_pct", "Drive derating on single-phase input", "%", 10, 100,
            "Motor power that a drive built for three-phase input may run on single-phase "
            "input, percent of its rating. A maker's own rating in Unit costs goes first.", 0),
    _number("drive_efficiency_pct", "Drive efficiency", "%", 85, 99.5,
            "Efficiency of the drive at full load, without its output filter.", 1),
    _number("drive_life_yr", "Drive life", "yr", 1, 40, "Years until a drive and its filter are "
            "replaced; what is left of their life counts at the end of the study. Leads, "
            "converter, starter and motors last the study and count for nothing then.", 0),
    _number("drive_ramp_s", "Drive ramp time", "s", 1, 300,
            "Time from standstill to 60 Hz that the drive is set to.", 0),
    _number("drive_bus_capacitance_uf_kw", "Drive bus capacitance", "uF/kW", 1, 2_000,
            "Capacitance of the DC bus of a 480 V drive per kW of load. On other services it is "
            "taken for as much stored energy.", 0),
    _number("drive_modulation_factor", "Drive modulation factor", "", 0.5, 0.75,
            "Largest motor voltage (line to line, rms) per volt of DC bus.", 3),
    _later("drive_output_drop_pct", "Drop in the drive's output stage", "%", 0, 10, 1,
           "transistors and dead time; memory",
           "Of the voltage that the bus allows, what transistors and dead time take.", 1),
    _later("front_end_boost_pct", "Bus of an active front end, above the peak", "%", 0, 20, 7,
           "5 to 10 percent above the peak of the line; memory; the maker decides",
           "How far an active front end holds its bus above the peak of the line's voltage.", 1),
    _later("front_end_efficiency_pct", "Efficiency with an active front end", "%", 80, 99, 94,
           "two converters in series; memory; the maker decides",
           "Efficiency at full load of a drive with an active front end, its filter included.", 1),
    _number("drive_rise_time_us", "Drive pulse rise time", "us", 0.01, 10,
            "Rise time of the drive's output pulses.", 2),
    _number("motor_voltage_low_pct", "Motor voltage, lowest", "%", 80, 100,
            "Least voltage that the drive must be able to give, percent of the motor's rating.",
            0),
    _later("motor_lead_drop_limit_pct", "Motor lead drop limit", "%", 0, 10, 3,
           "NEC 210.19 and 215.2 informational notes advise 3 percent",
           "Drop for which the leads from the drive, converter or starter to the motor are sized; "
           "0 does not count it.", 1),
    _later("motor_lead_assumed_ft", "Motor leads where not given", "ft", 1, 6_000, 100,
           "common practice, no source",
           "Length for which the leads to the motor are sized and priced where a farm's is blank; "
           "the pumping lift where that is longer, as for a submersible.", 0),
    _number("converter_efficiency_pct", "Rotary converter efficiency", "%", 50, 98,
            "Efficiency of a rotary phase converter at its load.", 0),
    _number("converter_idle_loss_pct", "Rotary converter idle loss", "%", 0, 20,
            "Loss of the converter while it idles, percent of its rating.", 0),
    _number("converter_power_factor_pct", "Rotary converter power factor", "%", 50, 100,
            "Power factor at the single-phase input of a loaded rotary converter.", 0),
    _number("converter_size_factor", "Rotary converter size", "", 0.8, 3,
            "Converter rating in hp per hp of the pump motor; never below all connected motors.",
            2),
    _later("converter_inrush_pct", "Rotary converter's starting load", "%", 10, 100, 50,
           "half of the locked-rotor kVA on three phases; memory; the maker's figure in Unit costs "
           "goes first",
           "What a converter draws as it starts, unloaded, percent of the locked-rotor kVA of its "
           "rating by the program's code letter.", 0),
    Column(key="converter_fixed_load", label="Fixed loads on rotary converters", group="",
           kind="yes/no", default=False,
           source="NEC 455.6(A)(1): loads may be added, so that the nameplate counts",
           help="yes where a converter feeds its pump and pivot alone for good: conductors may "
                "then follow 250 % of their currents, where that is less than 125 % of the "
                "converter's nameplate input (NEC 455.6(A)(2))."),
    _later("converter_low_leg_pct", "Low leg of a rotary converter", "%", 0, 15, 5,
           "the manufactured leg under load, the converter's own drop included; memory",
           "How far the lowest voltage at a loaded converter's output lies below that of its "
           "service.", 1),
    _number("single_phase_start_limit_hp", "Largest single-phase start", "hp", 1, 100,
            "Largest start on single-phase service: the rotary converter's own as the motor that "
            "draws as much, or the pump motor through it, times its starter's share.", 0),
    _number("converter_unbalance_limit_pct", "Converter output unbalance limit", "%", 0.5, 5,
            "Largest voltage unbalance at a rotary converter's output.", 1),
    _number("output_reactor_lead_ft", "Lead length for an output reactor", "ft", 10, 2_000,
            "Motor leads longer than this get an output reactor.", 0),
    _number("dvdt_filter_lead_ft", "Lead length for a dV/dt filter", "ft", 10, 3_000,
            "Motor leads longer than this get a dV/dt filter.", 0),
    _number("sine_filter_lead_ft", "Lead length for a sine filter", "ft", 10, 5_000,
            "Motor leads longer than this get a sine filter.", 0),
    _number("layout_limit_ft", "Compact layout limit", "ft", 10, 5_000,
            "Longest total of service and motor leads at which transformer, meter, drive and "
            "motor are said to stand together.", 0),
)

HARMONICS = grouped(
    "harmonics",
    _choice("harmonic_limit_point", "Voltage limits apply at", (AT_SERVICE, AT_TAP, AT_BOTH),
            "Where voltage distortion is judged."),
    _number("voltage_thd_service_limit_pct", "Voltage THD at the service", "%", 1, 20,
            "Largest total voltage distortion at the service terminals.", 1),
    _number("voltage_harmonic_service_limit_pct", "Single voltage harmonic at the service", "%",
            1, 20, "Largest single voltage harmonic at the service terminals.", 1),
    _number("voltage_thd_tap_limit_pct", "Voltage THD at the tap", "%", 0.5, 20,
            "Largest total voltage distortion at the primary tap.", 1),
    _number("voltage_harmonic_tap_limit_pct", "Single voltage harmonic at the tap", "%", 0.5, 20,
            "Largest single voltage harmonic at the primary tap.", 1),
    _choice("current_limits_apply", "Current limits are", (APPLIED, WATCHED, OFF),
            "applied: a drive's current beyond its Isc/IL row bars the farm. watched: it is "
            "listed as watch, bars no farm and asks for no dearer drive. off: voltage distortion "
            "alone is judged."),
    Column(key="common_coupling_point", label="Point of common coupling", group="", kind="choice",
           choices=(AT_TAP, AT_SERVICE), default=AT_TAP,
           source="IEEE 519, clause 3, memory: the point nearest to the load at which others are "
                  "or could be served, which is ahead of a transformer of the load's own",
           help="Where the farm's current is judged, with the fault current and the demand there. "
                "The service terminals where the transformer serves others, too."),
)

COST_SHARE = grouped(
    "cost sharing",
    _choice("share_order", "Order of operations", ORDERS,
            "Whether free feet and dollars come off before or after the percent split."),
    _number("line_free_single_phase_ft", "Free single-phase line", "ft", 0, 50_000,
            "Feet of single-phase line that the cooperative builds at no charge.", 0),
    _number("line_free_three_phase_ft", "Free three-phase line", "ft", 0, 50_000,
            "Feet of three-phase line that the cooperative builds at no charge.", 0),
    Column(key="line_free_job", label="Free feet free the job, too", group="", kind="yes/no",
           default=False, source="free feet are feet",
           help="yes where a line with free feet is charged by its other feet alone: the "
                "cooperative also pays its cost per job."),
    _number("transformer_free_kva", "Free transformer size", "kVA", 0, 5_000,
            "Transformers up to this size are at no charge; the price above it is shared.", 0),
    Column(key="transformer_free_method", label="Free size of a bank", group="", kind="choice",
           choices=(BY_LISTED_SIZE, BY_BANK), default=BY_LISTED_SIZE,
           source="method of the years before 2026",
           help="What a larger transformer is credited with on three phases: the largest single "
                "unit of the free size, or the largest bank of three units within it."),
    _choice("allowance_basis", "Allowance basis", (NOTHING, REVENUE, BASE_REVENUE, MARGIN),
            "Whether the cooperative also pays some years of revenue or margin towards the "
            "member's share of cooperative-side work. Base energy and demand: of the added "
            "revenue the energy and demand charges alone."),
    _number("allowance_years", "Allowance years", "yr", 0, 20,
            "Years of revenue or margin in that allowance.", 1),
    _number("overhead_adder_pct", "Overhead adder", "%", 0, 60,
            "Added to every cost for the cooperative's overhead.", 1),
    *(column for item in COST_ITEMS for column in (
        _share(item, "member_pct", f"Member's share of {item}", "%", 100, 100,
               f"Percent of the {item} cost, after free feet and dollars, that the member "
               "pays.", 1),
        _share(item, "free_usd", f"Free dollars for {item}", "USD", 500_000, 0,
               f"Dollars of {item} cost that the cooperative pays before the split."),
        _share(item, "cap_usd", f"Cooperative's cap for {item}", "USD", 10_000_000, 1_000_000,
               f"The most that the cooperative pays for {item}; the member pays the rest."),
        _share(item, "member_cap_usd", f"Member's cap for {item}", "USD", 10_000_000, 10_000_000,
               f"The most that the member pays for {item}; it goes before the cooperative's cap."),
    )),
    _number("free_limit_pct", "Free dollars, at most", "%", 0, 100,
            "Free dollars of an item are the lesser of the amount and this percent of its cost.",
            0),
    _number("contribution_months", "Contribution paid over", "month", 0, 240,
            "Months over which the member may pay the contribution; 0 is at once. What is owed at "
            "the end of the study counts in its last year.", 0),
    _number("contribution_interest_pct", "Interest on contributions", "%", 0, 25,
            "Yearly interest on a contribution paid over months.", 2),
    _number("refund_window_yr", "Refund window", "yr", 0, 30,
            "Years in which a member that paid for a line gets money back as others join it; 0 is "
            "no refund.", 0),
    Column(key="refund_method", label="Refund counts", group="", kind="choice",
           choices=(ALL_PAID_FOR_LINE, STRETCH_JOINED), default=ALL_PAID_FOR_LINE,
           source="method of the years before 2026",
           help="What a newcomer shares in: all that the member paid for line, its spur and the "
                "job included; or only the feet that the newcomer uses, too."),
    _later("refund_credit_years", "Refund by credit, years", "yr", 0, 50, 0, NO_CREDIT,
           "Years in which the farm's use earns credits that pay its contribution back, never more "
           "than it has paid without interest; 0 is no such refund.", 0),
    Column(key="refund_credit_items", label="Refund by credit, items", group="", kind="text",
           default=", ".join(COOPERATIVE_WORK), source="all of the contribution",
           help="Items of the contribution that credits pay back, with commas: line, transformer, "
                "service, engineering."),
    _later("refund_credit_pct", "Refund by credit, part of revenue", "%", 0, 100, 0, NO_CREDIT,
           "Percent of each year's added revenue above the base that is credited.", 1),
    _later("refund_credit_base_usd_yr", "Refund by credit, base revenue", "USD/yr", 0, 1_000_000,
           0, NO_CREDIT, "Yearly added revenue that earns no percent credit.", 0),
    _later("refund_credit_usd_kwh", "Refund by credit, per kWh", "USD/kWh", 0, 1, 0, NO_CREDIT,
           "Credited for each added kWh, beside the percent of revenue.", 4),
)

INCENTIVE = grouped(
    "incentive",
    _choice("incentive_basis", "Incentive formula", BASES,
            "What the incentive is counted on. Per kW and tiers count the added load, whatever "
            "load the ranking counts."),
    _number("incentive_amount", "Incentive amount", "", 0, 1_000_000,
            "USD per farm, USD per motor hp, USD per added kW, or percent of eligible cost, as "
            "the formula says."),
    Column(key="incentive_tiers", label="Incentive tiers", group="", kind="text",
           help="For tiers: 'up to kW: USD per kW' pairs, as in '20: 150, 50: 120, 100: 80'."),
    Column(key="incentive_eligible_items", label="Eligible cost items", group="", kind="text",
           help="For a percent of cost: the cost items that count, with commas. What the member "
                "pays of them counts; where that is nothing there is no incentive."),
    _number("incentive_minimum_usd", "Least incentive", "USD", 0, 500_000,
            "The formula's result is raised to this; the caps come after.", 0),
    _number("incentive_maximum_usd", "Largest incentive", "USD", 0, 1_000_000,
            "The formula's result is cut to this.", 0),
    _number("farm_cap_usd", "Cap per farm", "USD", 0, 5_000_000,
            "The most for one farm as incentive and cooperative share. The incentive is cut to it; "
            "of a share above it the member takes the rest: of line, transformer, service, then "
            "engineering.", 0),
    _later("incentive_cap_usd_per_kw", "Incentive cap per kW", "USD/kW", 0, 100_000, 0, NO_CAP,
           "The incentive is cut to this much per kW of added load; 0 is no such cap."),
    _later("incentive_cap_cost_pct", "Incentive cap, part of cost", "%", 0, 100, 0, NO_CAP,
           "The incentive is cut to this percent of the project's cost; 0 is no such cap.", 1),
    _choice("incentive_cost_counts", "Incentive cost counts", (INCENTIVE_ONLY, INCENTIVE_AND_SHARE),
            "What the ranking divides by the load that it counts."),
    Column(key="ranking_counts", label="Ranking counts", group="", kind="choice",
           choices=tuple(COUNTED_LOADS), default=USEFUL_LOAD,
           source="a loss in a drive or converter waters no field",
           help="The load that the ranking divides incentive cost by. Useful load is what motor "
                "and pivot take, above what a present rotary converter gives them; added load has "
                "the losses of drive or converter in it, so that a poorer device ranks better."),
    _number("administration_usd", "Administration per farm", "USD", 0, 50_000,
            "The cooperative's cost of handling one application.", 0),
)

CRITERIA = grouped(
    "program criteria",
    Column(key="option_chosen_by", label="Option chosen by", group="", kind="choice",
           choices=OPTION_CHOICES, default=LEAST_FIRST_COST,
           source="first cost, as bids are compared",
           help="What decides among a farm's options that meet every limit. Cost over life: "
                "present value of all that both parties pay (construction, equipment, upkeep, "
                "power), as in the total resource test; first cost favours what wastes energy."),
    _number("minimum_added_load_kw", "Least added load", "kW", 0, 500,
            "A smaller added load does not qualify.", 1),
    _number("maximum_cooperative_payback_yr", "Longest cooperative payback", "yr", 1, 60,
            "The incentive is cut to what this limit leaves for it; a longer payback of the "
            "cooperative's outlay without an incentive does not qualify.", 1),
    _number("maximum_member_payback_yr", "Longest member payback", "yr", 1, 60,
            "A longer payback for the member is a condition: the member must confirm.", 1),
    _later("member_npv_floor_usd", "Least NPV of the member", "USD", NO_FLOOR, 1_000_000, NO_FLOOR,
           "no floor", "A farm whose member's net present value, incentive included, is below it "
           "does not qualify. -10,000,000: no floor.", 0),
    Column(key="knowledge_for_money", label="Money from knowledge for", group="", kind="choice",
           choices=STAGES, default=SCREENING, source="money was given on what was known",
           help="Only farms of which enough is known for this stage may be funded, and those that "
                "the board must fund. The others are ranked and take no budget. The stage of each "
                "cell stands in the help of its header."),
)

ECONOMICS = grouped(
    "economics",
    _number("study_years", "Study years", "yr", 1, 50, "Years of the cash flows.", 0),
    _number("discount_rate_cooperative_pct", "Cooperative discount rate", "%", 0, 20,
            "Nominal yearly rate for the cooperative."),
    _number("discount_rate_member_pct", "Member discount rate", "%", 0, 30,
            "Nominal yearly rate for the member."),
    _number("fuel_escalation_pct", "Fuel price escalation", "%", -5, 15, "Per year, nominal."),
    _number("rate_escalation_pct", "Retail rate escalation", "%", -5, 15, "Per year, nominal."),
    _number("wholesale_escalation_pct", "Wholesale price escalation", "%", -5, 15,
            "Per year, nominal."),
    _number("upkeep_escalation_pct", "Upkeep and equipment escalation", "%", -5, 15,
            "Per year, nominal."),
    _number("engine_upkeep_usd_h", "Engine upkeep where not given", "USD/h", 0, 20,
            "Upkeep per running hour of an engine or generator whose row leaves it blank."),
    _number("engine_life_yr", "Engine life", "yr", 1, 50,
            "Years from one engine or generator to the next. What is left of it at the end of the "
            "study is taken off the avoided replacements; the engine of today has no such value.",
            0),
    _number("electric_upkeep_pct", "Upkeep of electric equipment", "%", 0, 10,
            "Yearly upkeep in percent of member-side equipment cost.", 1),
    _number("plant_life_yr", "Life of the cooperative's plant", "yr", 5, 80,
            "Straight-line life of line, transformer and service, with their engineering, for the "
            "value left at the end of the study.", 0),
    Column(key="residual_value_counts", label="Residual value of plant counts", group="",
           kind="yes/no",
           help="yes: the value left in the cooperative's plant at the end of the study counts as "
                "its benefit in the last year, as that of engine, drive and filter always does for "
                "the member: cost at prices of then x life left / life. no where a board takes "
                "plant that serves one farm for worthless without it."),
    Column(key="test_timing", label="Timing of the benefit tests", group="", kind="choice",
           choices=TIMINGS, default=END_OF_YEAR,
           source="NIST Handbook 135: end-of-year flows; one timing for tests and NPVs",
           help="end of year: outlays at year 0, year t over (1 + d)^t, as in every NPV. first "
                "year undiscounted: year t over (1 + d)^(t - 1), as the Standard Practice Manual "
                "prints; the tests' NPVs are then not those of member and cooperative."),
    _number("system_sales_mwh_yr", "System sales", "MWh/yr", 0, 100_000_000,
            "Yearly sales over which a rate impact is spread; 0 leaves the rate impact out.", 0),
    _number("emission_damage_usd_t", "Damage of CO2", "USD/t", 0, 1_000,
            "Value of a metric tonne in the societal test; 0 leaves emissions out.", 0),
    _number("discount_rate_societal_pct", "Societal discount rate", "%", 0, 20,
            "Nominal yearly rate of the societal test."),
    _number("carrying_cost_pct", "Carrying cost of plant", "%", 0, 20,
            "The cooperative's yearly operation, maintenance, taxes and insurance in percent of "
            "the plant that it built.", 1),
)

ENVIRONMENT = grouped(
    "environment",
    _number("co2_diesel_kg_gal", "CO2 of diesel", "kg/gal", 5, 15, "Per gallon burnt."),
    _number("co2_propane_kg_gal", "CO2 of propane", "kg/gal", 3, 10, "Per gallon burnt."),
    _number("co2_gasoline_kg_gal", "CO2 of gasoline", "kg/gal", 5, 12, "Per gallon burnt."),
    _number("co2_natural_gas_kg_mcf", "CO2 of natural gas", "kg/Mcf", 30, 80,
            "Per thousand cubic feet burnt."),
    _number("co2_grid_lb_mwh", "CO2 of grid energy", "lb/MWh", 0, 3_000,
            "Per MWh delivered to the distribution system.", 1),
)

PORTFOLIO = grouped(
    "budget and feeders",
    Column(key="budget_method", label="Budget given out by", group="", kind="choice",
           choices=(BY_RANKING, BY_BEST_SET), default=BY_RANKING,
           source="the ranking's budget line",
           help="Which farms count as funded in the feeder, phase and risk figures: those within "
                "the ranking's budget line, or the best set within all limits. Both are shown."),
    Column(key="set_goal", label="Goal of the best set", group="", kind="choice",
           choices=tuple(GOALS), default=ADDED_LOAD, source="the load that the program is for",
           help="What the best set of farms has most of within budget and limits. Farms served: "
                "those that qualify and may be funded."),
    Column(key="set_chooses", label="The best set chooses", group="", kind="choice",
           choices=SET_CHOICES, default=PARTNERS,
           source="each farm's option is chosen by its own rule",
           help="partners: who builds; each farm's supply option and design by its own rule. "
                "options: each farm's supply option, too, among those that meet every limit. "
                "options and designs: the design of that option as well. The ranking goes by "
                "each farm's own rule."),
    _later("ratepayer_ratio_floor", "Least ratepayer ratio of the set", "", 0, 20, 0, NO_LIMIT,
           "Benefits over costs of the ratepayer test, summed over the best set, are at least "
           "this; 0 is no such floor."),
    _later("total_resource_ratio_floor", "Least total resource ratio of the set", "", 0, 20, 0,
           NO_LIMIT, "Benefits over costs of the total resource test, summed over the best set, "
           "are at least this; 0 is no such floor."),
    _later("usd_per_kw_ceiling", "Largest cost per kW of the set", "USD/kW", 0, 100_000, 0,
           NO_LIMIT, "Incentive cost over the load that the ranking counts, both summed over the "
           "best set, is at most this; 0 is no such ceiling."),
    _later("member_account_cap_usd", "Cap per member account", "USD", 0, 10_000_000, 0, NO_LIMIT,
           "The most incentive cost that the best set gives to all farms of one member account; "
           "0 is no such cap.", 0),
    Column(key="budget_adds_administration", label="Budget counts administration", group="",
           kind="yes/no", default=False, source=COST_ALONE,
           help="yes where the budget pays the administration of each funded farm, too, beside the "
                "incentive cost."),
    Column(key="budget_adds_refunds", label="Budget counts refunds", group="", kind="yes/no",
           default=False, source=COST_ALONE,
           help="yes where the budget pays the refund by credit of each funded farm, too, all its "
                "years added up."),
    Column(key="unspent_budget", label="Budget that is left at the year's end", group="",
           kind="choice", choices=(LAPSES, CARRIED_OVER), default=LAPSES,
           source="common practice of yearly budgets, no source",
           help="What becomes of a year's money that is neither paid nor committed. Committed "
                "money is always carried into the next year."),
    Column(key="approval_months", label="Months that an approval holds", group="",
           kind="integer", minimum=1, maximum=60, decimals=0, default=12,
           source="common practice, no source",
           help="The approval of a farm that is funded expires so long after the study's date."),
    _later("feeder_coincidence_pct", "Coincidence on feeders", "%", 20, 100, 100,
           "undiversified sum",
           "Share of the farms' added load that stands on a feeder at one time.", 0),
    _later("voltage_unbalance_limit_pct", "Voltage unbalance limit", "%", 0.5, 5, 3,
           "ANSI C84.1 annex, 3 % at no load",
           "Largest unbalance of voltage at the tap; above it motors must be derated.", 1),
)

UNCERTAINTY = grouped(
    "uncertainty",
    _later("uncertainty_draws", "Draws", "", 0, 20_000, 2_000, "common practice, no source",
           "How many futures are drawn for the chances and bands; 0 leaves them out.", 0),
    _later("uncertainty_seed", "Seed of the draws", "", 0, 1_000_000, 1,
           "any number; the same seed draws the same",
           "Another seed draws other futures of the same kind.", 0),
    *(_later(f"{key}_spread_pct", f"Spread of {words}", "%", 0, 30, spread,
             "planner's estimate, no source",
             f"Standard deviation of {words} about the study's value; normal distribution, not "
             "below a twentieth of the value.", 0)
      for key, words, spread in (("fuel_price", "fuel price", 20),
                                 ("hours", "pumping hours", 15),
                                 ("construction", "construction cost", 12),
                                 ("wholesale", "wholesale price", 10))),
    _later("farm_correlation_pct", "Correlation between farms", "%", 0, 100, 70,
           "planner's estimate, no source",
           "How alike pumping hours and construction cost move from farm to farm: 100 is one "
           "figure for all. Fuel and wholesale prices are always one figure for all.", 0),
    _later("yearly_correlation_pct", "Correlation between years", "%", 0, 100, 100,
           "one fuel price and one trend hold for years; cautious",
           "How alike prices and hours move from year to year: 100 keeps a draw for the whole "
           "study; 0 draws each year anew, which evens out and narrows the band.", 0),
)

PROGRAM = Sheet(
    name="Program",
    is_table=False,
    required=False,
    help="The rules of the program year. Type a value to replace the year's; blank keeps it.",
    columns=(SERVICE + LOADING + PUMP_AND_PIVOT + DRIVE + HARMONICS + COST_SHARE + INCENTIVE
             + CRITERIA + ECONOMICS + ENVIRONMENT + PORTFOLIO + UNCERTAINTY),
)

# The twenty rules that a board decides, in the order in which it is asked: who gets how much, which
# farms qualify, what the cooperative builds, and how money is counted.
BOARD_RULES = (
    "incentive_basis", "incentive_amount", "incentive_maximum_usd", "farm_cap_usd",
    "budget_method", "set_goal", "ranking_counts", "incentive_cost_counts",
    "knowledge_for_money", "minimum_added_load_kw", "maximum_cooperative_payback_yr",
    "maximum_member_payback_yr", "member_npv_floor_usd", "line_free_single_phase_ft",
    "line_free_three_phase_ft", "allowance_basis", "allowance_years", "study_years",
    "discount_rate_cooperative_pct", "discount_rate_member_pct")
