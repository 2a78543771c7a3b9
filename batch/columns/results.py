"""The dictionary of results: every key of results.csv, with its unit, decimals and arithmetic.

`worked` is the arithmetic as it is printed with a farm's numbers; names in it are keys of the
same row or of the rules. Where it begins with `sum over years of`, it is printed once a year and
added up. Looked-up and solved values have no arithmetic of one line; their `source` says where they
come from.
"""

from batch.columns.candidates import ROTARY, SINGLE_PHASE_DRIVE, THREE_PHASE_LINE
from batch.columns.column import STAGES, Column, Sheet, grouped
from batch.columns.column import output_text as _text
from batch.columns.column import output_value as _value
from batch.columns.made_of import with_parts
from batch.columns.program import COST_ITEMS, OFF, item_key
from batch.columns.program import LEADS as LEADS_ITEM
from batch.columns.worked_by_rule import (
    CONTRIBUTION_MONTHLY,
    COUNTED_LOAD,
    INCENTIVE,
    INCENTIVE_COST,
    item_cost,
    member_share,
)

TEST_LABELS = (("participant", "Participant test"), ("ratepayer", "Ratepayer test"),
               ("administrator", "Administrator test"),
               ("total_resource", "Total resource test"), ("societal", "Societal test"))
LOWERS_COST = ("The member's contribution lowers the cost of construction; as a benefit it would "
               "bring the ratio nearer to 1 and leave the NPV.")
PASSES = "The member's contribution passes between member and cooperative and counts nowhere."
# Where the contribution counts in each test.
CONTRIBUTION = {"participant": "The member's contribution is a cost.", "ratepayer": LOWERS_COST,
                "administrator": LOWERS_COST, "total_resource": PASSES, "societal": PASSES}
CONTROL_CASES = (("controlled", "with"), ("uncontrolled", "without"))
VERDICTS = ("qualifies", "qualifies with conditions", "does not qualify", "incomplete")


VERDICT = grouped(
    "verdict",
    _text("candidate_id", "Candidate", "The farm's short name."),
    Column(key="excel_row", label="Row", group="", kind="integer", decimals=0,
           source="the workbook", help="Row of the Candidates sheet."),
    _text("farm_label", "Farm", "How the farm is called."),
    _text("feeder_id", "Feeder", "Feeder that would serve the farm."),
    Column(key="verdict", label="Verdict", group="", kind="choice", choices=VERDICTS,
           help="Screening verdict under the rules in force."),
    _text("verdict_reason", "Reason", "Why the verdict is what it is."),
    Column(key="known_enough_for", label="Known enough for", group="", kind="choice",
           choices=STAGES, help="The furthest stage for which the farm's cells are enough. The "
                                "stage of a cell stands in the dictionary of Candidates. Blank: "
                                "not assessed."),
    _text("checks_answered", "Checks answered", "Checks of the chosen option that are answered, of "
          "all that are asked."),
    _text("next_cells", "Next cells to fill", "Blank cells that would bring the farm to the next "
          "stage; those first that leave most checks open."),
    Column(key="may_be_funded", label="May be funded", group="", kind="yes/no",
           help="yes where the farm is ranked and enough is known of it for money, by the rule "
                "knowledge_for_money or since the board says 'must fund'."),
    Column(key="funded", label="Funded", group="", kind="yes/no",
           help="yes where the farm gets money by the program's method: within the ranking's "
                "budget line, or in the best set. All money of the farm is then that of exactly "
                "the funded farms."),
    _text("funded_with", "Builds its line with", "The other funded farms on its shared line; its "
          "figures count on them."),
    _value("net_cost_if_one_leaves_usd", "Net cost if one leaves", "USD", 0,
           "What the member would pay after the incentive if that funded farm of its line withdrew "
           "whose leaving costs it most. Blank: no other funded farm builds the line.",
           "the same farm among one builder less"),
    _text("why_not", "Why not funded", "What keeps the farm from money, in a sentence."),
    Column(key="rank", label="Rank", group="", kind="integer", decimals=0,
           source="settled ranking: order in which farms, or groups of one line, enter by added "
                  "cost per added load",
           help="Order in which the farms enter the ranking, those that may not be funded last. "
                "Blank: unranked."),
    _value("ranking_usd_per_kw", "Ranked by", "USD/kW", 0,
           "What the farm, or its group of one line, adds to the cost of the farms that entered "
           "before it, over the load that it adds.", "settled ranking"),
    Column(key="in_budget", label="In budget", group="", kind="yes/no",
           help="yes where the farm may be funded and the running total of incentive cost down "
                "the ranking stays within the budget; it stops at the first farm that does not "
                "fit."),
    _value("running_incentive_cost_usd", "Running total", "USD", 0,
           "What exactly this and all better ranked farms cost, those that may not be funded "
           "behind all that may.", "settled cost of the farms so far"),
    _value("added_cost_usd", "Cost if added", "USD", 0,
           "What the farm would add to the funded set's incentive cost if it alone were added. "
           "Blank: funded.", "settled cost with the farm less without it"),
    _value("added_usd_per_kw", "Cost per kW if added", "USD/kW", 0,
           "The same over the load that it would add.",
           "settled cost with the farm less without it"),
    Column(key="in_best_set", label="In best set", group="", kind="yes/no",
           help="yes where the farm belongs to the set that reaches most of the program's goal "
                "within budget, feeders and shared lines."),
    Column(key="best_set_year", label="Best set's year", group="", kind="integer", decimals=0,
           source="search for the best set within all limits",
           help="Program year whose budget funds the farm in the best set. Blank: not in it."),
    Column(key="qualifies_alone", label="Qualifies alone", group="", kind="yes/no",
           help="For a farm of a shared line: whether it would qualify if no other farm built on "
                "the line. Blank: no shared line."),
    _text("assigned_phase", "Phase", "Phase that keeps the feeder's unbalance least, for a funded "
          "single-phase farm; ABC for three phases. Blank: not funded, or its feeder's phase "
          "loads are not given."),
)

DRAWN = "futures drawn by the rules: draws, seed, spreads and correlations"
UNCERTAINTY = grouped(
    "uncertainty",
    _value("rank_p10", "Rank, better end", "", 0,
           "Rank at the 10 percent point. Where the cooperative's payback fails in a future, the "
           "farm stands behind the others there.", DRAWN),
    _value("rank_p90", "Rank, worse end", "", 0,
           "Rank at the 90 percent point.", DRAWN),
    _value("still_qualifies_chance_pct", "Chance to still qualify", "%", 0,
           "In how many of 100 futures a funded farm meets the limits of money among the funded "
           "farms. Blank: it is not funded.", DRAWN),
    _value("budget_chance_pct", "Chance to stay in the budget", "%", 0,
           "Share of the futures in which the cooperative's payback holds and the ranking's budget "
           "line stays behind the farm.", DRAWN),
    *(_value(f"{party}_payback_chance_pct", f"Chance that the {party}'s payback holds", "%", 0,
             f"Share of the futures in which the {party}'s simple payback is within the program's "
             f"longest one; {otherwise}", DRAWN)
      for party, otherwise in (("cooperative", "elsewhere the farm does not qualify."),
                               ("member", "elsewhere the member must confirm."))),
    _value("member_loss_chance_pct", "Chance that the member loses", "%", 0,
           "Share of the futures in which the member's NPV is below zero.", DRAWN),
    *(_value(f"{party}_npv_p{point}_usd", f"{label} NPV, {point} percent point", "USD", 0,
             f"{point} of 100 futures end below this.", DRAWN)
      for party, label in (("member", "Member"), ("cooperative", "Cooperative"))
      for point in (10, 50, 90)),
)

WATER = grouped(
    "water and power",
    _value("pipe_friction_ft", "Pipe friction", "ft", 2, "Friction head of the supply pipe.",
           "Hazen-Williams, USDA NRCS NEH part 652",
           "0.2083 * (100 / pipe_c) ** 1.852 * flow_gpm ** 1.852 / pipe_diameter_in ** 4.8655"
           " * pipe_length_ft / 100"),
    _value("total_head_ft", "Total head", "ft", 1, "Head that the pump works against.",
           "USDA NRCS NEH part 652",
           "pumping_lift_ft + elevation_gain_ft + 2.31 * pivot_pressure_psi"
           " + pipe_friction_ft * (1 + fittings_allowance_pct / 100)"),
    _value("water_power_hp", "Water power", "hp", 2, "Power that the water takes up.",
           "irrigation handbooks; 33,000 ft lbf/min per hp over 8.34 lb/gal",
           "flow_gpm * total_head_ft / 3960"),
    _value("shaft_power_hp", "Shaft power", "hp", 2, "Power at the pump's shaft.",
           "USDA NRCS NEH part 652", "water_power_hp / (pump_efficiency_pct / 100)"),
    _value("pump_motor_hp", "Pump motor", "hp", 1,
           "Rating of the pump motor: the nameplate, or the next standard rating at or above "
           "the shaft power.", "NEMA MG 1 standard ratings"),
    _value("motor_load_pct", "Pump motor loading", "%", 1,
           "Shaft power in percent of the motor's rating.", "",
           "100 * shaft_power_hp / pump_motor_hp"),
    _value("motor_efficiency_used_pct", "Motor efficiency used", "%", 1,
           "Nameplate, or the table value of a premium open motor.", "10 CFR 431.25 Table 1"),
    _value("motor_table_a", "Motor current by table", "A", 1,
           "Full-load current at the motor's rated voltage.",
           "NEC 430.6(A), Table 430.250"),
    _value("motor_design_a", "Motor current for drive and conductors", "A", 1,
           "The table's, or the nameplate's where that is above it.",
           "NEC 430.6(A), Table 430.250; nameplates of submersibles and other special motors"),
    _value("hours_by_depth", "Hours by depth", "h", 0,
           "Pumping hours that the season's depth asks for.",
           "452.57 gpm-hours per acre-inch: 43,560 / 12 x 7.48052 / 60",
           "irrigated_area_acre * gross_depth_in * 452.5715 / flow_gpm"),
    _value("season_hours", "Pumping hours", "h", 0,
           "The given hours, or where they are blank the hours by depth.",
           "the farm's cell, else the hours by depth"),
    _value("motor_input_kw", "Pump motor input", "kW", 2, "Electric input of the pump motor.",
           "definition of efficiency; 0.7457 kW per hp",
           "0.7457 * shaft_power_hp / (motor_efficiency_used_pct / 100)"),
    _value("tower_count_used", "Towers", "", 0, "Given, or by length and span.",
           "the farm's cell, else pivot length over the rule tower_span_ft"),
    _value("pivot_demand_kw", "Pivot demand", "kW", 2,
           "Mean electric input of the tower motors and the booster.",
           "derived: inner towers run less; common practice for load and efficiency",
           "0.7457 * tower_count_used * tower_motor_hp * tower_load_pct"
           " / tower_motor_efficiency_pct * tower_mean_duty"
           " + 0.7457 * booster_hp * tower_load_pct / tower_motor_efficiency_pct"),
    _value("tower_mean_duty", "Mean tower duty", "", 3,
           "Mean share of time that the tower motors run.", "derived from equal spans"),
    _value("used_fuel_rate", "Fuel rate used", "gal/h", 3,
           "Measured at the pump, or the annual use over the season's hours, or by the pumping "
           "plant criteria and the performance rating; for generators by a published part-load "
           "chart. Mcf per hour for natural gas.",
           "pumping plant performance criteria, University of Nebraska; published fuel charts"),
    _value("present_fuel_per_yr", "Present fuel", "gal/yr", 0,
           "Fuel of the present plant per season; thousand cubic feet for natural gas.",
           "", "used_fuel_rate * season_hours"),
)

# Arithmetic that differs between one and three phases, or between supply options.
ROOT_3 = "1.7320508"
REACTIVE = "(1 / displacement_power_factor ** 2 - 1) ** 0.5"


def _by_option(drive, rotary, three_phase):
    return ((SINGLE_PHASE_DRIVE, drive), (ROTARY, rotary), (THREE_PHASE_LINE, three_phase))


def _by_phases(single, three):
    return _by_option(single, single, three)


def _length(resistance, reactance):
    return f"(({resistance}) ** 2 + ({reactance}) ** 2) ** 0.5"


def _chain(letter, *, to):
    """Sum of the impedances from the source up to a point."""
    parts = ("source", "line", "transformer", "service")
    return " + ".join(f"{part}_{letter}_ohm" for part in parts[:parts.index(to) + 1])


OR_BOUND = "An upper bound where 'Fault currents are' says so."
TO_TRANSFORMER = _length(_chain("r", to="transformer"), _chain("x", to="transformer"))
TO_DRIVE = _length(_chain("r", to="service"), _chain("x", to="service"))
WITH_MOTOR = _length("start_r_ohm + " + _chain("r", to="service"),
                     "start_x_ohm + " + _chain("x", to="service"))
DIP_SOURCE = "voltage divider; IEEE 399-1997, chapter 9"
BEHIND_TAP = _length("start_r_ohm + line_r_ohm + transformer_r_ohm + service_r_ohm",
                     "start_x_ohm + line_x_ohm + transformer_x_ohm + service_x_ohm")

FAULT_COMPUTED = "computed"
FAULT_WITH_MOTORS = "computed, the motors' part at most"
FAULT_BOUND = "upper bound: infinite source at the tap"

HEIGHT_ABOVE = "max(0, 0.3048 * site_elevation_used_ft - 1000) / 100"

SERVICE = grouped(
    "supply",
    _text("supply_option", "Supply option", "How the farm would be served."),
    _text("variant", "Variant", "Mitigation or starting method within the option."),
    _text("option_reason", "Why this option", "Why it was taken and why the others were not."),
    _text("mitigation_reason", "Harmonics", "What the bare drive does, and what taming it takes."),
    _value("site_elevation_used_ft", "Site elevation used", "ft", 0,
           "Given in the row, or the program's.",
           "the farm's cell, else the rule site_elevation_ft"),
    _value("three_phase_load_a", "Three-phase current", "A", 1,
           "Current of the pump motor and the pivot machine's, at the motors' rated voltage.",
           "NEC 430.6(A); 675.22(A) from memory", "motor_design_a + pivot_machine_a"),
    _value("drive_output_a", "Current from the drive", "A", 1,
           "The three-phase current at the voltage that the motor gets: below its rating it draws "
           "more for the same shaft power.", "power balance",
           _by_option("three_phase_load_a * max(1, motor_voltage_v / motor_terminal_v)", "", "")),
    _value("drive_efficiency_used_pct", "Efficiency of drive and output filter", "%", 2,
           "Of the drive, or of one with an active front end, times its output filter's.",
           "rules; makers' claims of filters, memory"),
    _value("pivot_machine_a", "Pivot machine current", "A", 1,
           "125 % of the largest motor and 60 % of the rest, for conductors and devices.",
           "NEC 675.22(A), memory",
           "1.25 * pivot_largest_a + 0.60 * (towers_a + booster_a - pivot_largest_a)"),
    _value("pivot_largest_a", "Largest motor of the pivot", "A", 2,
           "A tower motor or the booster: nameplate, or the table where it is not given.",
           "NEC 675.7; Table 430.250"),
    _value("pivot_largest_locked_a", "Locked rotor of the pivot's largest motor", "A", 1,
           "By its rating.", "NEC Table 430.251(B)"),
    _value("pivot_locked_rotor_a", "Equivalent locked-rotor current of the pivot", "A", 1,
           "For the horsepower rating of the machine's disconnect and controller. It is not in the "
           "starting dip: tower motors start one by one, and one at standstill beside the running "
           "pump as a rule draws less than the pump's own start.",
           "NEC 675.8(A)(2); 675.22(B), memory",
           "2 * pivot_largest_locked_a + 0.80 * (towers_a + booster_a - pivot_largest_a)"),
    _value("service_demand_kw", "Service demand", "kW", 2,
           "Demand at the meter: motor, pivot and the losses of drive or converter.",
           "drive and converter efficiencies of the rules",
           _by_option("(motor_input_kw + pivot_demand_kw) / (drive_efficiency_used_pct / 100)",
                      "max((motor_input_kw + pivot_demand_kw) / (converter_efficiency_pct / 100),"
                      " motor_input_kw + pivot_demand_kw"
                      " + 0.7457 * drive_rated_hp * converter_idle_loss_pct / 100)",
                      "motor_input_kw + pivot_demand_kw")),
    _value("added_load_kw", "Added load", "kW", 2,
           "Service demand above the present electric demand.", "",
           "service_demand_kw - present_demand_used_kw"),
    _value("useful_load_kw", "Useful load", "kW", 2,
           "What motor and pivot take, without the losses of drive or converter, above what a "
           "present rotary converter gives them: its demand times a converter's efficiency.",
           "converter efficiency of the rules",
           "motor_input_kw + pivot_demand_kw"
           " - present_demand_used_kw * converter_efficiency_pct / 100"),
    _value("annual_energy_kwh", "Energy per year", "kWh/yr", 0, "Metered energy per season.", "",
           "service_demand_kw * season_hours"),
    _value("drive_rated_hp", "Drive or converter rating", "hp", 1,
           "Listed rating of the drive whose current on single-phase input is not below the "
           "three-phase current; or of the rotary converter.",
           "sizes of the Unit costs sheet; standard ratings"),
    _value("drive_loss_kwh_yr", "Drive or converter loss", "kWh/yr", 0,
           "Energy that stays in the drive or converter in a season.", "",
           _by_option("(service_demand_kw - motor_input_kw - pivot_demand_kw) * season_hours",
                      "(service_demand_kw - motor_input_kw - pivot_demand_kw) * season_hours",
                      "")),
    _value("service_current_a", "Service current", "A", 1,
           "Full-load rms current of the service.", "solved waveform for drives; circuit theory",
           _by_option("", "1000 * service_demand_kw / (service_voltage_v * input_power_factor)",
                      "1000 * service_demand_kw / (service_voltage_v * input_power_factor"
                      f" * {ROOT_3})")),
    _value("fundamental_current_a", "Fundamental current", "A", 1,
           "60 Hz part of the service current, which sets the voltage drop.",
           "solved waveform for drives", _by_option("", "service_current_a",
                                                    "service_current_a")),
    _value("input_power_factor", "Power factor", "", 4,
           "True power factor: kW over rms volt-amperes, for drives at the voltage of the tap.",
           "solved waveform for drives; rules for the others"),
    _value("displacement_power_factor", "Displacement power factor", "", 4,
           "Power factor of the fundamental.", "solved waveform for drives"),
    _value("service_kva", "Service load", "kVA", 1, "Rms volt-amperes at full load.", "",
           _by_phases("service_voltage_v * service_current_a / 1000",
                      f"service_voltage_v * service_current_a * {ROOT_3} / 1000")),
    _value("transformer_capacity_pu", "Transformer capacity with harmonics", "", 3,
           "Permitted current in per unit of rating.", "IEEE C57.110-2018"),
    _value("transformer_altitude_pct", "Transformer rating at its height", "%", 1,
           "What thin air leaves of an oil-immersed transformer's rating: 0.4 % less for each "
           "100 m above 1,000 m.", "IEEE C57.91, memory", f"100 - 0.4 * {HEIGHT_ABOVE}"),
    _value("transformer_kva", "Transformer", "kVA", 1,
           "Standard size; of the whole bank for three phases.",
           "IEEE C57.110 derating, program loading limit"),
    _value("transformer_loading_pct", "Transformer loading", "%", 1,
           "Load in percent of the permitted load after derating for harmonics and height.",
           "IEEE C57.110-2018; C57.91, memory",
           "100 * service_kva / (transformer_kva * transformer_capacity_pu"
           " * transformer_altitude_pct / 100)"),
    _value("transformer_loss_kwh_yr", "Transformer loss", "kWh/yr", 0,
           "No-load loss all year and load loss in the season; three units for a bank.",
           "10 CFR 431.196(b), efficiencies from memory; equal split of losses at half load"),
    _text("service_conductor", "Service conductor",
          "Smallest conductor that meets ampacity and voltage drop.",
          "NEC Table 310.16; overhead 310.20"),
    _value("service_ampacity_a", "Service ampacity", "A", 1,
           "Ampacity of the chosen conductor at the program's ambient temperature. Overhead: in "
           "free air, at most what its 75 C terminals allow by the conduit table.",
           "NEC Table 310.16, 75 C column, Table 310.15(B)(1); overhead Table 310.20, "
           "310.15(B)(2), 110.14(C)"),
    _value("connected_a", "Connected current", "A", 1,
           "Currents of all motors together; of the pivot's by nameplate where it is given.",
           "NEC Table 430.250; 675.7",
           "motor_design_a + towers_a + booster_a"),
    _value("towers_a", "Current of the towers", "A", 1,
           "All tower motors: nameplate, or the table where it is not given.",
           "NEC 675.7; Table 430.250"),
    _value("booster_a", "Current of the booster", "A", 1,
           "Nameplate, or the table where it is not given.", "NEC 675.7; Table 430.250"),
    _value("drive_allowed_a", "Drive current on single-phase input", "A", 1,
           "Output current that the chosen drive may give on single-phase input, up to 3,300 ft "
           "of elevation. Its rated input follows it.",
           "maker's rating on the Unit costs sheet; rule single_phase_derating_pct"),
    _value("drive_altitude_pct", "Drive rating at its height", "%", 1,
           "What thin air leaves of a drive's output current: 1 % less for each 100 m above "
           "1,000 m.", "makers' data; the maker decides",
           _by_option(f"100 - 1 * {HEIGHT_ABOVE}", "", "")),
    _value("drive_site_a", "Drive current at the site", "A", 1,
           "Output current that the drive may give there on single-phase input, by which it is "
           "chosen.", "", _by_option("drive_allowed_a * drive_altitude_pct / 100", "", "")),
    _value("motor_load_limit_pct", "Pump motor loading limit", "%", 0,
           "The program's limit; between 3,300 and 9,000 ft at most 100, as the service factor "
           "then counts as 1.0. Blank: not judged, or above 9,000 ft, where the maker decides.",
           "NEMA MG 1, 14.4, memory"),
    _value("rated_input_a", "Rated single-phase input", "A", 1,
           "Of the drive at the output that it may give, with the impedance ahead of it; or of the "
           "converter by its rating.", "solved waveform for drives",
           _by_option("",
                      "1000 * 0.7457 * drive_rated_hp / (converter_efficiency_pct / 100)"
                      " / (service_voltage_v * converter_power_factor_pct / 100)", "")),
    _value("minimum_ampacity_a", "Ampacity needed", "A", 1, "What the code asks for.",
           "NEC 430.24, 430.122(A), 455.6(A)",
           _by_option("1.25 * rated_input_a", "1.25 * rated_input_a - converter_fixed_load"
                      " * max(0, 1.25 * rated_input_a - 2.5 * connected_a)",
                      "1.25 * motor_design_a + pivot_machine_a")),
    _text("grounding_conductor", "Grounding conductor",
          "What runs with the service conductors: equipment grounding behind a disconnect at the "
          "transformer, enlarged as the legs are; a grounded conductor to a disconnect at the "
          "drive. With parallel runs this size goes in each raceway.",
          "NEC 250.122(A), (B), (F); 250.24, Table 250.102(C)(1)"),
    _text("grounding_beyond", "Grounding beyond the disconnect",
          "Equipment grounding conductor from a disconnect at the drive on. Blank: the disconnect "
          "is at the transformer.", "NEC 250.122(A)"),
    _text("electrode_conductor", "Grounding electrode conductor",
          "From the service disconnect to the electrode, of copper, since aluminum may not end "
          "near the earth. To rods alone 6 AWG is enough.", "NEC Table 250.66; 250.66(A), "
          "250.64(A)"),
    _value("protective_device_a", "Protective device", "A", 0,
           "Standard rating. Of a drive a first size, which must not exceed what its maker allows.",
           "NEC 240.6(A); motors: 430.52, 430.62; converters: 455.7; drives: 430.130, the maker's "
           "instruction decides; 125 % of rated input, common practice"),
    _value("disconnect_least_a", "Disconnect, at least", "A", 1,
           "115 % of the load's current, the protective device, and 60 A.",
           "NEC 430.110(C)(2), 430.128, 455.8(C), 230.79(D)",
           _by_option("max(1.15 * rated_input_a, protective_device_a, 60)",
                      "max(1.15 * rated_input_a, protective_device_a, 60)",
                      "max(1.15 * connected_a, protective_device_a, 60)")),
    _value("disconnect_a", "Service disconnect", "A", 0,
           "Standard rating of the service disconnect. A further disconnect that the drive, "
           "converter or motor needs within sight is not among the costs.",
           "NEMA KS 1 ratings, memory; NEC 430.102, 455.8(A)"),
)

CHAIN = grouped(
    "chain",
    *(_value(f"{part}_{letter}_ohm", f"{label}, {kind}", "ohm", 5,
             f"{kind.capitalize()} of the {part} at the service voltage: of the loop for single "
             "phase, per phase for three.", source)
      for part, label, source in (
          ("source", "Source", "fault current at the tap and its X/R"),
          ("line", "New line", "Carson 1926 with Kron reduction; three-phase: ln(GMD/GMR)"),
          ("transformer", "Transformer", "table of transformer impedances"),
          ("service", "Service", "NEC chapter 9 Table 9; open wires by their spacing"))
      for letter, kind in (("r", "resistance"), ("x", "reactance"))),
    _value("trunk_load_ratio", "Load on the shared line", "", 3,
           "Load of all members of a shared line over the farm's own, if all were served alike.",
           "sum over the farms of the shared line"),
    *(_value(f"loaded_line_{letter}_ohm", f"New line as loaded, {kind}", "ohm", 5,
             "The farm's own line, and the shared part times the load on it.",
             "drop in proportion to the load carried")
      for letter, kind in (("r", "resistance"), ("x", "reactance"))),
    _value("service_voltage_drop_pct", "Service drop", "%", 2,
           "Voltage drop in the service conductors at full load.", "NEC chapter 9 Table 9",
           _by_phases("100 * fundamental_current_a * (service_r_ohm * displacement_power_factor"
                      " + service_x_ohm * (1 - displacement_power_factor ** 2) ** 0.5)"
                      " / service_voltage_v",
                      f"100 * {ROOT_3} * fundamental_current_a * (service_r_ohm"
                      " * displacement_power_factor + service_x_ohm"
                      " * (1 - displacement_power_factor ** 2) ** 0.5) / service_voltage_v")),
    _value("primary_voltage_drop_pct", "New line drop", "%", 2,
           "Voltage drop in the new primary line at full load.", "Carson 1926, Kron reduction",
           f"100000 * service_demand_kw * (loaded_line_r_ohm + loaded_line_x_ohm * {REACTIVE})"
           " / service_voltage_v ** 2"),
    _value("service_voltage_no_load_v", "Service voltage at no load", "V", 1,
           "Voltage at the tap, at the service voltage.", "",
           "service_voltage_v * tap_voltage_pct / 100"),
    _value("service_voltage_at_load_v", "Service voltage at full load", "V", 1,
           "Voltage at the end of the service conductors with the whole chain loaded.",
           "constant-power solution: V^4 + V^2 (2 (RP + XQ) - E^2) + Z^2 S^2 = 0"),
    _value("fault_current_a", "Fault current at the transformer", "A", 0,
           "Line to line at the transformer's secondary terminals, three-phase for a three-phase "
           f"line, with the motors' part. {OR_BOUND}", "series circuit",
           _by_option(f"service_voltage_v / {TO_TRANSFORMER}",
                      f"service_voltage_v / {TO_TRANSFORMER} + motor_fault_a",
                      f"service_voltage_v / ({ROOT_3} * " + _length(
                          "line_r_ohm + transformer_r_ohm", "line_x_ohm + transformer_x_ohm")
                      + ") + motor_fault_a")),
    _value("fault_midpoint_a", "Fault current to the midpoint", "A", 0,
           "Line to midpoint at the transformer's secondary terminals, with the motors' part. "
           + OR_BOUND, "half winding of 1.5 R and 1.2 X, a published approximation"),
    _value("fault_midpoint_drive_a", "Midpoint fault at the drive", "A", 0,
           "Line to midpoint at the end of the service conductors, the midpoint's as large as the "
           f"line's, with the motors' part. {OR_BOUND}",
           "half winding of 1.5 R and 1.2 X, a published approximation"),
    _value("fault_at_drive_a", "Fault current at the drive", "A", 0,
           "Line to line at the end of the service conductors, three-phase for a three-phase line, "
           f"with the motors' part. {OR_BOUND}", "series circuit",
           _by_option(f"service_voltage_v / {TO_DRIVE}",
                      f"service_voltage_v / {TO_DRIVE} + motor_fault_a",
                      f"service_voltage_v / ({ROOT_3} * " + _length(
                          "line_r_ohm + transformer_r_ohm + service_r_ohm",
                          "line_x_ohm + transformer_x_ohm + service_x_ohm")
                      + ") + motor_fault_a")),
    _value("motor_fault_a", "Motors' part of a fault", "A", 0,
           "At most what running motors feed back: four times their full-load current, and as much "
           "for a rotary converter, taken as a motor of its rating. Counted in full, as if it came "
           "at once with the network's part and reached the midpoint, too. 0 for a drive, whose "
           "rectifier lets nothing back; an active front end stops at its own current limit.",
           "IEEE 141, memory; fault guides of fuse makers",
           _by_option("", "", "4 * connected_a")),
    _text("fault_standing", "Fault currents are",
          f"'{FAULT_COMPUTED}' from the fault current at the tap; '{FAULT_WITH_MOTORS}'; or "
          f"'{FAULT_BOUND}', where the feeder's strength is not known: three phases, or a blank "
          "cell. A bound within a rating is enough; one beyond it proves nothing."),
    _value("withstand_a", "Short-circuit rating", "A", 0,
           "Standard rating of drives, converters and starters of the size; of a rotary converter "
           "and the pump's starter behind it the lower one, as two legs pass straight through.",
           "UL ratings by size, memory"),
    _value("start_r_ohm", "Starting load, resistance", "ohm", 4,
           "Motor or converter at standstill as an impedance; for a drive its full load.",
           "NEC Table 430.7(B)"),
    _value("start_x_ohm", "Starting load, reactance", "ohm", 4,
           "Motor or converter at standstill as an impedance; for a drive its full load.",
           "NEC Table 430.7(B)"),
    _value("starting_kva", "Starting load", "kVA", 1,
           "Of the pump motor with its starter, or of the rotary converter where that is more; for "
           "a drive its full load.", "NEC 430.7(B); converters by their maker or the program"),
    _value("converter_inrush_kva", "Rotary converter's starting load", "kVA", 1,
           "As it starts, unloaded: the maker's figure, or the program's share of the locked-rotor "
           "kVA of its rating.", "maker, or NEC Table 430.7(B) and memory"),
    _value("converter_start_hp", "Rotary converter's start", "hp", 1,
           "Rating of the motor that draws as much at standstill.", "NEC Table 430.7(B)"),
    _value("starting_dip_pct", "Starting dip at the tap", "%", 2,
           "Momentary dip at the tap as pump motor or converter starts; the pivot's motors start "
           "alone.",
           DIP_SOURCE,
           f"100 * (1 - {BEHIND_TAP} / {WITH_MOTOR})"),
    _value("starting_dip_service_pct", "Starting dip at the service", "%", 2,
           "Momentary dip at the farm's service as pump motor or converter starts.", DIP_SOURCE,
           f"100 * (1 - {_length('start_r_ohm', 'start_x_ohm')} / {WITH_MOTOR})"),
    _value("starter_share", "Starter's share", "", 2,
           "Starting current in parts of locked-rotor current: 1 across the line.",
           "table supply_variants; rule soft_start_pct"),
    _value("single_phase_start_hp", "Single-phase start", "hp", 1,
           "The pump motor times its starter's share, or the converter's own start where that is "
           "more.", "", _by_option("", "max(pump_motor_hp * starter_share, converter_start_hp)",
                                   "")),
    _value("phase_kw", "Load per phase", "kW", 2, "Added load on each phase that serves the farm.",
           "", _by_phases("added_load_kw", "added_load_kw / 3")),
)

DISTORTION = grouped(
    "distortion",
    _value("current_thd_pct", "Current THD", "%", 1,
           "Harmonic content of the service current, percent of its fundamental, to order 50.",
           "solved waveform; filters by their data"),
    _value("current_tdd_pct", "Current TDD", "%", 1,
           "Harmonic content in percent of the maximum demand current at the point of common "
           "coupling: of one farm behind its transformer the fundamental at full load, pivot "
           "included.", "IEEE 519-2022, clause 3",
           _by_option("current_thd_pct", "", "")),
    _value("tdd_limit_pct", "TDD limit", "%", 1,
           "Of the Isc/IL row; whether it is applied the program decides.",
           "IEEE 519-2022, Table 2"),
    _value("coupling_fault_a", "Fault current at the common coupling", "A", 0,
           "At the point of common coupling and its voltage: the tap's, or line to line at the "
           "transformer's secondary terminals.", "IEEE 519-2022, clause 3"),
    _value("coupling_demand_a", "Demand at the common coupling", "A", 2,
           "Fundamental of the farm's current at full load, pivot included, at the same voltage. "
           "Months without pumping are not averaged in.", "IEEE 519-2022, clause 3"),
    _value("short_circuit_ratio", "Isc/IL", "", 0,
           "Fault current over maximum demand current at the point of common coupling.",
           "IEEE 519-2022, clause 3",
           _by_option("coupling_fault_a / coupling_demand_a", "", "")),
    _value("single_harmonic_share_pct", "Largest share of a single current limit", "%", 0,
           "Largest single current harmonic in percent of its own limit.",
           "IEEE 519-2022, Table 2"),
    _value("voltage_thd_pct", "Voltage THD at the service", "%", 2,
           "Voltage distortion that the farm alone makes at its service terminals.",
           "V_h = h X I_h, summed root-square"),
    _value("voltage_thd_tap_pct", "Voltage THD at the tap", "%", 2,
           "Voltage distortion that the farm alone makes at the primary tap.",
           "V_h = h X I_h, summed root-square"),
    _value("voltage_harmonic_pct", "Largest voltage harmonic at the service", "%", 2,
           "Largest single voltage harmonic at the service terminals.",
           "V_h = h X I_h"),
    _value("voltage_harmonic_tap_pct", "Largest voltage harmonic at the tap", "%", 2,
           "Largest single voltage harmonic at the primary tap.",
           "V_h = h X I_h"),
)

def unused_keys(rules) -> tuple[str, ...]:
    """Results that only the current limits need, where these are off: pages leave them out."""
    return () if rules["current_limits_apply"] != OFF else (
        "tdd_limit_pct", "coupling_fault_a", "coupling_demand_a", "short_circuit_ratio",
        "single_harmonic_share_pct")


def _drive_volts(bus):
    return _by_option(f"{bus} * drive_modulation_factor * (1 - drive_output_drop_pct / 100)"
                      " * (1 - filter_loss_pct / 100)", "", "")


LEADS = grouped(
    "drive and leads",
    _value("mean_bus_v", "Mean bus voltage", "V", 1,
           "Mean voltage of the drive's DC bus at full load.",
           "solved waveform; of a front end the program's boost above the peak"),
    _value("valley_bus_v", "Valley of the bus voltage", "V", 1,
           "Lowest voltage of the drive's DC bus within a cycle, at full load.",
           "solved waveform; a front end's ripple is not solved"),
    _text("lead_filter", "Output filter", "Filter at the drive's output, by the longest lead."),
    _value("end_tower_lead_ft", "Lead to the end tower", "ft", 0,
           "Cable from the controls to the pivot's panel, and along the machine; 0 without a "
           "pivot.",
           "the farm's cells: pivot lead and pivot length"),
    _value("longest_lead_ft", "Longest lead", "ft", 0,
           "Longest cable from the drive: to the motor, or to the pivot's end tower.",
           "the longer of motor leads and lead to the end tower"),
    _value("motor_lead_used_ft", "Motor leads, length used", "ft", 0,
           "As given; the program's length where the cell is blank. They are sized and priced for "
           "it.",
           "the farm's cell, else the rule motor_lead_assumed_ft or the lift"),
    _text("motor_lead_conductor", "Motor leads",
          "Smallest copper run that carries the motor within the program's drop, else the largest.",
          "NEC 430.22; Table 310.16; chapter 9 Table 9"),
    _value("motor_lead_ampacity_a", "Motor leads, ampacity", "A", 0,
           "Of that run, by which it is priced.", "NEC Table 310.16"),
    _value("motor_lead_drop_pct", "Drop in the motor leads", "%", 2,
           "At the motor's full-load current, in percent of its rated voltage; 0 where the program "
           "does not count it. Blank: the length is not given.",
           "NEC chapter 9 Table 9"),
    _value("motor_terminal_v", "Voltage at the motor", "V", 1,
           "Largest voltage at the motor's terminals at full load, on the mean of the bus.", "",
           _by_option("drive_motor_v - motor_lead_drop_pct / 100 * motor_voltage_v", "", "")),
    _value("motor_valley_v", "Voltage at the motor, undistorted", "V", 1,
           "The same on the valley of the bus: above it each valley cuts into the sine.", "",
           _by_option("drive_valley_v - motor_lead_drop_pct / 100 * motor_voltage_v", "", "")),
    _value("filter_loss_pct", "Output filter drop", "%", 1, "Voltage that the filter takes.",
           "table output_filters"),
    _value("drive_motor_v", "Motor voltage that the drive can give", "V", 1,
           "Largest motor voltage at full load, after the sag of the bus, the output stage and the "
           "filter; on the mean of the bus.", "bus x modulation factor",
           _drive_volts("mean_bus_v")),
    _value("drive_valley_v", "Motor voltage that the drive can give, undistorted", "V", 1,
           "The same on the valley of the bus.", "bus x modulation factor",
           _drive_volts("valley_bus_v")),
    _value("pulse_top_v", "Top of the drive's pulses", "V", 0,
           "Peak of the supply, or a front end's bus; behind a sine filter the peak of the motor's "
           "rated voltage.",
           "peak of a sine: 1.414 x its rms voltage"),
    *(column for key, words, where, whose in (
        ("motor", "motor", "motor's terminals", "motor's"),
        ("tower", "tower motors", "pivot's end tower", "tower motors'")) for column in (
        _value(f"{key}_reflection_factor", f"Reflection at the {words}", "", 3,
               "1 + lead length / critical length, at most 2; 1 behind a sine filter.",
               "travelling-wave theory"),
        _value(f"{key}_peak_v", f"Peak at the {words}", "V", 0,
               f"Highest pulse at the {where} by the reflected wave.", "travelling-wave theory",
               _by_option(f"pulse_top_v * {key}_reflection_factor", "", "")),
        _value(f"{key}_peak_limit_v", f"Peak that the {words} may see", "V", 0,
               f"By the {whose} class; blank where it is not known.",
               "NEMA MG 1 Parts 30 and 31"),
        _value(f"{key}_rise_limit_us", f"Rise time that the {words} may see", "us", 1,
               f"By the {whose} class; blank where it is not known.",
               "NEMA MG 1 Parts 30 and 31"))),
    _value("motor_rise_us", "Rise time at the motor", "us", 1,
           "Of the drive's pulses behind its filter; a quarter of a cycle behind a sine filter.",
           "makers' data, memory"),
    _value("layout_ft", "Transformer to motor", "ft", 0,
           "Service conductors and motor leads together.", "",
           _by_option("service_distance_ft + motor_lead_ft", "", "")),
    _value("tower_feed_v", "Voltage that feeds the pivot", "V", 1,
           "Behind the drive and its filter, which are set to the service voltage or to what the "
           "bus can give; behind a rotary converter on its low leg; or at the service.", "",
           _by_option("min(drive_motor_v, service_voltage_v)",
                      "service_voltage_at_load_v * (1 - converter_low_leg_pct / 100)",
                      "service_voltage_at_load_v * 1")),
    _value("pivot_lead_used_ft", "Pivot lead, length used", "ft", 0,
           "As given; the program's length where the cell is blank; 0 without a pivot.",
           "the farm's cell, else the rule pivot_lead_assumed_ft or the pipe's length"),
    _text("pivot_lead_conductor", "Pivot lead",
          "Smallest copper cable that carries the machine within the program's drop, else the "
          "largest.", "NEC 675.22(A); Table 310.16; chapter 9 Table 9"),
    _value("pivot_lead_ampacity_a", "Pivot lead, ampacity", "A", 0,
           "Of that cable, by which it is priced.", "NEC Table 310.16, 75 C copper"),
    _value("pivot_lead_drop_pct", "Drop to the pivot panel", "%", 2,
           "In that cable. Blank: its length is not given.", "NEC chapter 9 Table 9"),
    _value("pivot_cable_ampacity_a", "Pivot cable ampacity", "A", 0,
           "Of the cable along the machine at its ambient temperature.",
           "NEC Table 310.16, 75 C copper; Table 310.15(B)(1)"),
    _value("machine_drop_pct", "Drop along the machine", "%", 2,
           "Towers at their duty load the cable evenly, which halves their drop; the booster is at "
           "its end.",
           "NEC chapter 9 Table 9"),
    _value("end_tower_v", "End tower voltage", "V", 1,
           "Voltage at the pivot's end tower at full load.", "NEC chapter 9 Table 9",
           "tower_feed_v - (pivot_lead_drop_pct + machine_drop_pct) / 100 * service_voltage_v"),
)

ITEMS_WORKED = {
    "line": "(own_line_usd + trunk_part_usd) * (1 + overhead_adder_pct / 100)",
    LEADS_ITEM: "(motor_lead_used_ft * motor_lead_usd_ft + pivot_lead_used_ft * pivot_lead_usd_ft)"
                " * (1 + overhead_adder_pct / 100)"}
COST_SHARE = grouped(
    "cost share",
    *(_value(f"cost_{item_key(item)}_usd", f"Cost of {item}", "USD", 2,
             f"Price of {item}, overhead included.",
             "sum of its lines in cost_lines.csv, with overhead",
             item_cost(item, ITEMS_WORKED.get(item, ""))) for item in COST_ITEMS),
    *(_value(f"member_{item_key(item)}_usd", f"Member pays for {item}", "USD", 2,
             f"The member's share of {item}.", "its row in cost_shares.csv tells the split",
             member_share(item))
      for item in COST_ITEMS),
    *(_value(f"{key}_lead_usd_ft", f"{words}, price", "USD/ft", 2,
             f"Before overhead; 0 where {gone}.", "row of the Unit costs sheet")
      for key, words, gone in (("motor", "Motor leads", "they exist"),
                               ("pivot", "Pivot lead", "it exists, or there is no pivot"))),
    _value("own_line_ft", "Own line", "ft", 0, "Line that serves this farm alone.",
           "the farm's cell for the supply option"),
    _value("trunk_part_ft", "Part of the shared line", "ft", 1,
           "Every stretch of a shared line is split equally among the farms beyond it.",
           "segment rule; Shapley value of the line"),
    _value("paid_line_ft", "Line paid for", "ft", 1, "Own line and part of the shared one.", "",
           "own_line_ft + trunk_part_ft"),
    _value("own_line_usd", "Own line, price", "USD", 2,
           "Before overhead, each foot at the price of its place on it, with a job of its own; 0 "
           "where there is none.",
           "sum of its lines in cost_lines.csv"),
    _value("trunk_part_usd", "Part of the shared line, price", "USD", 2,
           "Before overhead: every stretch at the price of its place on the line, split equally "
           "among the farms beyond it, and an equal part of the line's one job. The parts add up "
           "to the line, to the cent.", "segment rule; Shapley value of the line"),
    _value("line_cost_usd", "Line cost", "USD", 2, "New line with its job cost.", "",
           "cost_line_usd"),
    _value("transformer_cost_usd", "Transformer cost", "USD", 2, "Transformer or bank.", "",
           "cost_transformer_usd"),
    _value("equipment_cost_usd", "Equipment cost", "USD", 2,
           "Drive, filters, converter, starter, leads and motor.", "",
           "cost_drive_usd + cost_filter_usd + cost_converter_usd + cost_starter_usd"
           " + cost_leads_usd + cost_motor_change_usd"),
    _value("project_cost_usd", "Project cost", "USD", 2, "All items together.", "",
           "line_cost_usd + transformer_cost_usd + equipment_cost_usd + cost_service_usd"
           " + cost_engineering_usd"),
    _value("allowance_usd", "Allowances", "USD", 2,
           "Free feet, free dollars, free transformer size and years of revenue or margin that "
           "the cooperative gives.",
           "sum over its items in cost_shares.csv"),
    _value("cooperative_cost_usd", "Cooperative's share", "USD", 2,
           "What the cooperative pays before the incentive.", "",
           "project_cost_usd - member_cost_usd"),
    _value("member_cost_usd", "Member's share", "USD", 2,
           "What the member pays before incentive and other funding.", "",
           " + ".join(f"member_{item_key(item)}_usd" for item in COST_ITEMS)),
    _value("incentive_usd", "Incentive", "USD", 2, "Paid to the member by the program.",
           "rule incentive_basis and the bounds of the program", INCENTIVE),
    _text("incentive_decided_by", "Incentive decided by",
          "What set the amount: the formula, the minimum, or the bound that was the smallest."),
    _value("member_net_cost_usd", "Member's net cost", "USD", 2,
           "After incentive and other funding, not below zero.", "",
           "max(0, member_cost_usd - incentive_usd - other_funding_usd)"),
    _value("incentive_cost_usd", "Incentive cost", "USD", 2,
           "What the ranking divides by load: the incentive, with the cooperative's share or "
           "without, by the program's rule.",
           "rule incentive_cost_counts", INCENTIVE_COST),
    _value("counted_load_kw", "Counted load", "kW", 2,
           "The load that the ranking counts: useful load or added load, by the program's rule.",
           "rule ranking_counts", COUNTED_LOAD),
    _value("incentive_usd_per_kw", "Incentive cost per kW", "USD/kW", 2,
           "Incentive cost over counted load: the ranking's measure.", "",
           "incentive_cost_usd / counted_load_kw"),
)

MEMBER = grouped(
    "member",
    _text("compared_with", "Compared with", "What the electric service is compared with."),
    _value("fuel_cost_usd_yr", "Present fuel cost", "USD/yr", 0, "First-year prices.", "",
           "present_fuel_per_yr * fuel_price_usd"),
    _value("present_cost_usd_yr", "Present yearly cost", "USD/yr", 0,
           "Fuel and upkeep of the engine, or the present electric bill of a rotary converter.", "",
           "fuel_cost_usd_yr + upkeep_cost_usd_yr + present_bill_usd_yr"),
    _value("used_upkeep_usd_h", "Upkeep per hour used", "USD/h", 2,
           "Given in the row, or the program's value for engines and generators.",
           "the farm's cell, else the rule engine_upkeep_usd_h"),
    _value("upkeep_cost_usd_yr", "Present upkeep", "USD/yr", 0, "Of the engine, first year.", "",
           "season_hours * used_upkeep_usd_h"),
    _value("present_bill_usd_yr", "Present electric bill", "USD/yr", 0,
           "Of a rotary converter, under the same rate.",
           "row of the Rates sheet at the present demand"),
    *(_value(f"bill_{part}_usd_yr", label, "USD/yr", 2, text, "row of the Rates sheet")
      for part, label, text in (
          ("customer", "Bill: customer charge", "Twelve months."),
          ("facilities", "Bill: facilities", "Per connected hp and per kW."),
          ("demand", "Bill: demand", "Billing demand in the demand months."),
          ("energy", "Bill: energy", "Blocks, season and off-peak prices."),
          ("load_control_credit", "Bill: load-control credit", "Zero or negative."),
          ("minimum_bill_adjustment", "Bill: up to the minimum", "What the minimum bill adds."))),
    _value("bill_usd_yr", "Electric bill", "USD/yr", 2, "Under the farm's rate.", "",
           "bill_customer_usd_yr + bill_facilities_usd_yr + bill_demand_usd_yr"
           " + bill_energy_usd_yr + bill_load_control_credit_usd_yr"
           " + bill_minimum_bill_adjustment_usd_yr"),
    _value("electric_cost_usd_yr", "Electric yearly cost", "USD/yr", 0,
           "Electric bill and upkeep of the electric equipment.", "",
           "bill_usd_yr + equipment_cost_usd * electric_upkeep_pct / 100"),
    _value("member_saving_usd_yr", "Member's saving", "USD/yr", 0, "First year.", "",
           "present_cost_usd_yr - electric_cost_usd_yr"),
    _value("member_payback_yr", "Member payback", "yr", 1,
           "Net cost over first-year saving. Blank: no saving, or not within the plant's life.",
           "",
           "member_net_cost_usd / member_saving_usd_yr"),
    _value("member_discounted_payback_yr", "Member discounted payback", "yr", 1,
           "Years until the discounted cash flow is positive. Blank: not within the study.",
           "by year in cash_flows.csv: first year whose discounted sum is not below zero"),
    _value("member_npv_usd", "Member NPV", "USD", 0,
           "Net present value over the study years, at the member's rate. The flows by year stand "
           "in cash_flows.csv.", "",
           "sum over years of member_flow_usd / (1 + discount_rate_member_pct / 100) ** year"),
    _value("member_irr_pct", "Member IRR", "%", 1,
           "Rate at which the NPV is zero. Blank: none, or more than one, which a finding says.",
           "by trial: rate at which the NPV of the flows in cash_flows.csv is zero"),
    _value("breakeven_fuel_price_usd", "Break-even fuel price", "USD/gal", 2,
           "Fuel price at which the first-year saving is zero; per Mcf for natural gas.", "",
           "(electric_cost_usd_yr - upkeep_cost_usd_yr) / present_fuel_per_yr"),
    _value("breakeven_hours", "Break-even hours", "h", 0,
           "Pumping hours per season at which the first-year saving is zero. Blank: it is never.",
           "by trial: hours at which the first-year saving is zero"),
    _value("contribution_usd", "Contribution", "USD", 2,
           "The member's share of what the cooperative builds.", "",
           "member_line_usd + member_transformer_usd + member_service_usd"
           " + member_engineering_usd"),
    _value("contribution_monthly_usd", "Contribution per month", "USD/month", 2,
           "Where the rules let the member pay it over months.",
           "annuity formula; rules contribution_months, contribution_interest_pct",
           CONTRIBUTION_MONTHLY),
    _value("refund_if_joined_usd", "Only if one more joins, comes back", "USD", 2,
           "What comes back if one more member joins the line, as far as the farm uses it, within "
           "the refund window. A farm without a shared line: one at the end of its own line. It "
           "hangs on others, so that it stands in no payback, flow, NPV or test.",
           "rules refund_method, refund_window_yr"),
    _value("refund_credit_usd_yr", "Refund by credit, first year", "USD/yr", 2,
           "What of the contribution comes back for the first year's use, where the rules credit "
           "it.",
           "rules refund_credit_years and what is credited"),
    _value("refund_credit_usd", "Refund by credit", "USD", 2,
           "What of the contribution comes back by credits within the study, never more than was "
           "paid.",
           "the same, added up over the years"),
)

COOPERATIVE = grouped(
    "cooperative",
    _value("revenue_usd_yr", "Added revenue", "USD/yr", 0,
           "First-year bill, less the bill that a rotary converter pays today.", "",
           "bill_usd_yr - present_bill_usd_yr"),
    _value("wholesale_cost_usd_yr", "Added wholesale cost", "USD/yr", 0,
           "Energy and coincident demand with losses, first year.",
           "row of the Rates sheet: wholesale prices, coincidence and losses"),
    _value("margin_usd_yr", "Margin", "USD/yr", 0, "First year.", "",
           "revenue_usd_yr - wholesale_cost_usd_yr"),
    _value("cooperative_outlay_usd", "Cooperative outlay", "USD", 0,
           "Its share, the incentive, administration, and what of the contribution it credits "
           "back.", "",
           "cooperative_cost_usd + incentive_usd + administration_usd + refund_credit_usd"),
    _value("carrying_cost_usd_yr", "Carrying cost", "USD/yr", 0,
           "Operation, maintenance, taxes and insurance of the plant it built.", "",
           "(line_cost_usd + transformer_cost_usd + cost_service_usd + cost_engineering_usd)"
           " * carrying_cost_pct / 100"),
    _value("cooperative_payback_yr", "Cooperative payback", "yr", 1,
           "Outlay over margin less carrying cost. Blank: not within the plant's life.", "",
           "cooperative_outlay_usd / (margin_usd_yr - carrying_cost_usd_yr)"),
    _value("cooperative_discounted_payback_yr", "Cooperative discounted payback", "yr", 1,
           "Years until the discounted cash flow is positive. Blank: not within the study.",
           "by year in cash_flows.csv: first year whose discounted sum is not below zero"),
    _value("breakeven_line_ft", "Break-even line length", "ft", 0,
           "Line of its own at which the cooperative's payback reaches the program's limit without "
           "an incentive, its job included, all that it costs more shared by the percent split, "
           "credits as they are. Below zero: it is beyond the limit without a line.",
           "solved: payback equal to the rule maximum_cooperative_payback_yr"),
    _value("breakeven_line_npv_ft", "Line length of zero NPV", "ft", 0,
           "Line of its own at which the cooperative's NPV is zero, shared by all rules; sizes and "
           "incentive as they are. 0: it is below zero without a line. Blank: no line up to "
           "250,000 ft brings it below zero, or the NPV is unknown.",
           "by trial: length at which the cooperative's NPV is zero"),
    _value("life_cost_usd", "Cost over life", "USD", 0,
           "Present value of what both parties pay over the study: construction, equipment, "
           "upkeep, replacements less what is left of them, wholesale power, administration; less "
           "an outside grant. The total resource test's costs.",
           "California Standard Practice Manual, 2001; 10 CFR 436.19",
           "total_resource_costs_usd"),
    _value("together_npv_usd", "NPV of both together", "USD", 0,
           "Member's and cooperative's net present value, each at its own rate.", "",
           "member_npv_usd + cooperative_npv_usd"),
    _value("cooperative_npv_usd", "Cooperative NPV", "USD", 0,
           "Net present value over the study years, at the cooperative's rate. The flows by year "
           "stand in cash_flows.csv.", "",
           "sum over years of cooperative_flow_usd / (1 + discount_rate_cooperative_pct / 100)"
           " ** year"),
)

MANUAL = "California Standard Practice Manual 2001, fuel substitution and load building"
BENEFIT_TESTS = grouped(
    "benefit tests",
    *(_value(f"{key}_ratio", f"{label} ratio", "", 2, "Present benefits over present costs; it "
             f"orders no farms. {CONTRIBUTION[key]} Blank: no cost above zero.", MANUAL,
             f"{key}_benefits_usd / {key}_costs_usd")
      for key, label in TEST_LABELS),
    *(_value(f"{key}_npv_usd", f"{label} NPV", "USD", 0, "Present benefits less present costs, "
             "year by year as the rule test_timing has it.", MANUAL,
             f"{key}_benefits_usd - {key}_costs_usd") for key, label in TEST_LABELS),
    *(_value(f"{name}_ratepayer_npv_usd", f"Ratepayer test NPV, {words} load control", "USD", 0,
             "The two cases side by side, whatever the farm has agreed to.", MANUAL)
      for name, words in CONTROL_CASES),
    *(_value(f"{name}_largest_incentive_usd", f"Largest incentive, {words} load control", "USD",
             0, "Incentive at which the ratepayer test is just 1; below zero: it is under 1 "
             "without any.", MANUAL, f"{name}_ratepayer_npv_usd + incentive_usd")
      for name, words in CONTROL_CASES),
)

ENVIRONMENT = grouped(
    "environment",
    _value("co2_present_t_yr", "CO2 of the present fuel", "t/yr", 1, "Metric tonnes.",
           "US EPA factors of the rules"),
    _value("co2_added_t_yr", "CO2 of the added energy", "t/yr", 1,
           "At the generators, losses included; metric tonnes.", "eGRID rate of the rules"),
    _value("co2_avoided_t_yr", "CO2 avoided", "t/yr", 1,
           "Of the fuel, less that of the added electric energy; metric tonnes.", "",
           "co2_present_t_yr - co2_added_t_yr"),
)

RESULTS = Sheet(
    name="Results",
    help="One row per candidate.",
    columns=with_parts(VERDICT + WATER + SERVICE + CHAIN + DISTORTION + LEADS + COST_SHARE + MEMBER
                       + COOPERATIVE + BENEFIT_TESTS + ENVIRONMENT + UNCERTAINTY),
)

# What belongs to a supply option, not to the farm alone: the columns of options.csv.
OF_THE_FARM = ("verdict", WATER[0].group, UNCERTAINTY[0].group)
OPTION_COLUMNS = tuple(c for c in RESULTS.columns if c.group not in OF_THE_FARM)
