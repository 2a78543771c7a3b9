"""The dictionary of results: every key of results.csv, with its unit, decimals and arithmetic.

`worked` is the arithmetic as it is printed with a farm's numbers; names in it are keys of the
same row or of the rules. Looked-up and solved values have no arithmetic of one line; their
`source` says where they come from.
"""

from batch.columns.column import Column, Sheet
from batch.columns.program import COST_ITEMS, item_key

VERDICTS = ("qualifies", "qualifies with conditions", "does not qualify", "incomplete")


def _text(key, label, text, source="", **more):
    return Column(key=key, label=label, group="", kind="text", help=text, source=source, **more)


def _value(key, label, unit, decimals, text, source="", worked=""):
    return Column(key=key, label=label, group="", unit=unit, decimals=decimals, help=text,
                  source=source, worked=worked)


def _grouped(group, *columns):
    from dataclasses import replace

    return tuple(replace(column, group=group) for column in columns)


VERDICT = _grouped(
    "verdict",
    _text("candidate_id", "Candidate", "The farm's short name."),
    Column(key="excel_row", label="Row", group="", kind="integer", decimals=0,
           help="Row of the Candidates sheet."),
    _text("farm_label", "Farm", "How the farm is called."),
    _text("feeder_id", "Feeder", "Feeder that would serve the farm."),
    Column(key="verdict", label="Verdict", group="", kind="choice", choices=VERDICTS,
           help="Screening verdict under the rules in force."),
    _text("verdict_reason", "Reason", "Why the verdict is what it is."),
    Column(key="rank", label="Rank", group="", kind="integer", decimals=0,
           help="Place by incentive cost per kW of added load, least first. Blank: unranked."),
    Column(key="in_budget", label="In budget", group="", kind="yes/no",
           help="yes where the running total of incentive cost down the ranking stays within "
                "the budget; the ranking stops at the first farm that does not fit."),
    _value("running_incentive_cost_usd", "Running total", "USD", 0,
           "Incentive cost of this and all better ranked farms."),
)

WATER = _grouped(
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
    _value("motor_efficiency_used_pct", "Motor efficiency used", "%", 1,
           "Nameplate, or the table value of a premium open motor.", "10 CFR 431.25 Table 1"),
    _value("motor_table_a", "Motor current by table", "A", 1,
           "Full-load current at 460 V for conductors and devices.",
           "NEC 430.6(A), Table 430.250"),
    _value("season_hours", "Pumping hours", "h", 0,
           "Given hours, or those that the season's depth asks for.",
           "452.57 gpm-hours per acre-inch",),
    _value("motor_input_kw", "Pump motor input", "kW", 2, "Electric input of the pump motor.",
           "definition of efficiency; 0.7457 kW per hp",
           "0.7457 * shaft_power_hp / (motor_efficiency_used_pct / 100)"),
    _value("tower_count_used", "Towers", "", 0, "Given, or by length and span."),
    _value("pivot_demand_kw", "Pivot demand", "kW", 2,
           "Mean electric input of the tower motors and the booster.",
           "derived: inner towers run less; common practice for load and efficiency",
           "0.7457 * tower_count_used * tower_motor_hp * tower_load_pct"
           " / tower_motor_efficiency_pct * tower_mean_duty"
           " + 0.7457 * booster_hp * tower_load_pct / tower_motor_efficiency_pct"),
    _value("tower_mean_duty", "Mean tower duty", "", 3,
           "Mean share of time that the tower motors run.", "derived from equal spans"),
    _value("present_fuel_per_yr", "Present fuel", "gal/yr", 0,
           "Fuel of the present plant per season; thousand cubic feet for natural gas.",
           "measured, or pumping plant performance criteria, University of Nebraska"),
)

SUPPLY = _grouped(
    "supply",
    _text("supply_option", "Supply option", "How the farm would be served."),
    _text("variant", "Variant", "Mitigation or starting method within the option."),
    _text("option_reason", "Why this option", "Why it was taken and why the others were not."),
    _value("service_demand_kw", "Service demand", "kW", 2,
           "Demand at the meter: motor, pivot and the losses of drive or converter."),
    _value("added_load_kw", "Added load", "kW", 2,
           "Service demand above the present electric demand.", "",
           "service_demand_kw - present_demand_kw"),
    _value("annual_energy_kwh", "Energy per year", "kWh/yr", 0, "Metered energy per season.", "",
           "service_demand_kw * season_hours"),
    _value("drive_rated_hp", "Drive or converter rating", "hp", 1,
           "Listed rating of the drive, or of the rotary converter."),
    _value("service_current_a", "Service current", "A", 1,
           "Full-load rms current of the service.", "solved waveform; circuit theory"),
    _value("input_power_factor", "Power factor", "", 3,
           "True power factor at the service: kW over rms volt-amperes."),
    _value("displacement_power_factor", "Displacement power factor", "", 3,
           "Power factor of the fundamental."),
    _value("transformer_kva", "Transformer", "kVA", 1,
           "Standard size; of the whole bank for three phases.",
           "IEEE C57.110 derating, program loading limit"),
    _value("transformer_loading_pct", "Transformer loading", "%", 1,
           "Load in percent of the permitted load after harmonic derating."),
    _text("service_conductor", "Service conductor",
          "Smallest conductor that meets ampacity and voltage drop.", "NEC Table 310.16"),
    _value("service_ampacity_a", "Service ampacity", "A", 1,
           "Ampacity of the chosen conductor at the program's ambient temperature.",
           "NEC Table 310.16, 75 C column, Table 310.15(B)(1)"),
    _value("minimum_ampacity_a", "Ampacity needed", "A", 1,
           "What the code asks for.", "NEC 430.24, 430.122, 455.6"),
    _text("grounding_conductor", "Grounding conductor",
          "Equipment grounding conductor of the service.", "NEC 250.122(A), (B)"),
    _value("protective_device_a", "Protective device", "A", 0, "Standard rating.",
           "NEC 430.52, 430.62, 455.7, 240.6(A)"),
    _value("service_voltage_drop_pct", "Service drop", "%", 2,
           "Voltage drop in the service conductors at full load.", "NEC chapter 9 Table 9"),
    _value("primary_voltage_drop_pct", "New line drop", "%", 2,
           "Voltage drop in the new primary line at full load.", "Carson 1926, Kron reduction"),
    _value("service_voltage_at_load_v", "Service voltage at full load", "V", 1,
           "Voltage at the end of the service conductors with the whole chain loaded.",
           "constant-power solution of the chain"),
    _value("fault_current_a", "Fault current at the transformer", "A", 0,
           "Line to line at the transformer's secondary terminals, source included."),
    _value("fault_midpoint_a", "Fault current to the midpoint", "A", 0,
           "Line to midpoint at the transformer's secondary terminals."),
    _value("fault_at_drive_a", "Fault current at the drive", "A", 0,
           "Line to line at the end of the service conductors."),
    _value("starting_dip_pct", "Starting dip at the tap", "%", 2,
           "Momentary dip at the tap as the pump motor starts."),
    _value("starting_dip_service_pct", "Starting dip at the service", "%", 2,
           "Momentary dip at the farm's service as the pump motor starts."),
    _value("single_phase_start_hp", "Single-phase start", "hp", 1,
           "Motor rating, times the soft starter's share, that starts on single-phase service."),
    _value("current_thd_pct", "Current THD", "%", 1,
           "Harmonic content of the service current, percent of its fundamental."),
    _value("current_tdd_pct", "Current TDD", "%", 1,
           "Harmonic content in percent of the maximum demand current."),
    _value("tdd_limit_pct", "TDD limit", "%", 1, "Limit of the Isc/IL row.",
           "IEEE 519-2022, Table 2"),
    _value("short_circuit_ratio", "Isc/IL", "", 0,
           "Fault current over maximum demand current where the current limits apply."),
    _value("single_harmonic_share_pct", "Largest share of a single current limit", "%", 0,
           "Largest single current harmonic in percent of its own limit.",
           "IEEE 519-2022, Table 2"),
    _value("voltage_thd_pct", "Voltage THD at the service", "%", 2,
           "Voltage distortion that the farm alone makes at its service terminals."),
    _value("voltage_thd_tap_pct", "Voltage THD at the tap", "%", 2,
           "Voltage distortion that the farm alone makes at the primary tap."),
    _value("voltage_harmonic_pct", "Largest voltage harmonic at the service", "%", 2,
           "Largest single voltage harmonic at the service terminals."),
    _value("voltage_harmonic_tap_pct", "Largest voltage harmonic at the tap", "%", 2,
           "Largest single voltage harmonic at the primary tap."),
    _value("drive_motor_v", "Motor voltage that the drive can give", "V", 1,
           "Largest motor voltage at full load, after the sag of the bus and the filter."),
    _value("motor_peak_v", "Peak at the motor", "V", 0,
           "Highest pulse at the motor's terminals by the reflected wave."),
    _value("motor_peak_limit_v", "Peak that the motor may see", "V", 0,
           "By the motor's class.", "NEMA MG 1 Parts 30 and 31"),
    _text("lead_filter", "Output filter", "Filter at the drive's output, by lead length."),
    _value("longest_lead_ft", "Longest lead", "ft", 0,
           "Longest cable from the drive: to the motor, or to the pivot's end tower."),
    _value("layout_ft", "Transformer to motor", "ft", 0,
           "Service conductors and motor leads together."),
    _value("end_tower_v", "End tower voltage", "V", 1,
           "Voltage at the pivot's end tower at full load.", "NEC chapter 9 Table 9"),
    _value("phase_kw", "Load per phase", "kW", 2,
           "Added load on each phase that serves the farm."),
)

COST_SHARE = _grouped(
    "cost share",
    *(_value(f"cost_{item_key(item)}_usd", f"Cost of {item}", "USD", 2,
             f"Price of {item}, overhead included.") for item in COST_ITEMS),
    *(_value(f"member_{item_key(item)}_usd", f"Member pays for {item}", "USD", 2,
             f"The member's share of {item}.") for item in COST_ITEMS),
    _value("line_cost_usd", "Line cost", "USD", 2, "New line with its job cost.", "",
           "cost_line_usd"),
    _value("transformer_cost_usd", "Transformer cost", "USD", 2, "Transformer or bank.", "",
           "cost_transformer_usd"),
    _value("equipment_cost_usd", "Equipment cost", "USD", 2,
           "Drive, filters, converter, starter and motor.", "",
           "cost_drive_usd + cost_filter_usd + cost_converter_usd + cost_starter_usd"
           " + cost_motor_change_usd"),
    _value("project_cost_usd", "Project cost", "USD", 2, "All items together.", "",
           "line_cost_usd + transformer_cost_usd + equipment_cost_usd + cost_service_usd"
           " + cost_engineering_usd"),
    _value("allowance_usd", "Allowances", "USD", 2,
           "Free feet, free dollars, free transformer size and years of revenue or margin that "
           "the cooperative gives."),
    _value("cooperative_cost_usd", "Cooperative's share", "USD", 2,
           "What the cooperative pays before the incentive.", "",
           "project_cost_usd - member_cost_usd"),
    _value("member_cost_usd", "Member's share", "USD", 2,
           "What the member pays before incentive and other funding.", "",
           " + ".join(f"member_{item_key(item)}_usd" for item in COST_ITEMS)),
    _value("incentive_usd", "Incentive", "USD", 2, "Paid to the member by the program."),
    _value("member_net_cost_usd", "Member's net cost", "USD", 2,
           "After incentive and other funding, not below zero.", "",
           "max(0, member_cost_usd - incentive_usd - other_funding_usd)"),
    _value("incentive_cost_usd", "Incentive cost", "USD", 2,
           "What the ranking counts, by the program's rule."),
    _value("incentive_usd_per_kw", "Incentive cost per kW", "USD/kW", 2,
           "Incentive cost over added load: the ranking's measure.", "",
           "incentive_cost_usd / added_load_kw"),
)

MEMBER = _grouped(
    "member",
    _value("fuel_cost_usd_yr", "Present fuel cost", "USD/yr", 0, "First-year prices.", "",
           "present_fuel_per_yr * fuel_price_usd"),
    _value("present_cost_usd_yr", "Present yearly cost", "USD/yr", 0,
           "Fuel and upkeep of the engine, or the present electric bill of a rotary converter."),
    _value("bill_usd_yr", "Electric bill", "USD/yr", 0, "Under the farm's rate."),
    _value("electric_cost_usd_yr", "Electric yearly cost", "USD/yr", 0,
           "Electric bill and upkeep of the electric equipment.", "",
           "bill_usd_yr + equipment_cost_usd * electric_upkeep_pct / 100"),
    _value("member_saving_usd_yr", "Member's saving", "USD/yr", 0, "First year.", "",
           "present_cost_usd_yr - electric_cost_usd_yr"),
    _value("member_payback_yr", "Member payback", "yr", 1,
           "Net cost over first-year saving. Blank: no saving.", "",
           "member_net_cost_usd / member_saving_usd_yr"),
    _value("member_npv_usd", "Member NPV", "USD", 0,
           "Net present value over the study years, at the member's rate."),
    _value("member_irr_pct", "Member IRR", "%", 1,
           "Rate at which the NPV is zero. Blank: none, or more than one."),
    _value("breakeven_fuel_price_usd", "Break-even fuel price", "USD/gal", 2,
           "Fuel price at which the first-year saving is zero; per Mcf for natural gas."),
)

COOPERATIVE = _grouped(
    "cooperative",
    _value("revenue_usd_yr", "Added revenue", "USD/yr", 0,
           "First-year bill, less the bill that a rotary converter pays today."),
    _value("wholesale_cost_usd_yr", "Added wholesale cost", "USD/yr", 0,
           "Energy and coincident demand with losses, first year."),
    _value("margin_usd_yr", "Margin", "USD/yr", 0, "First year.", "",
           "revenue_usd_yr - wholesale_cost_usd_yr"),
    _value("cooperative_outlay_usd", "Cooperative outlay", "USD", 0,
           "Its share, the incentive and administration.", "",
           "cooperative_cost_usd + incentive_usd + administration_usd"),
    _value("carrying_cost_usd_yr", "Carrying cost", "USD/yr", 0,
           "Operation, maintenance, taxes and insurance of the plant it built.", "",
           "(line_cost_usd + transformer_cost_usd + cost_service_usd) * carrying_cost_pct / 100"),
    _value("cooperative_payback_yr", "Cooperative payback", "yr", 1,
           "Outlay over margin less carrying cost. Blank: never.", "",
           "cooperative_outlay_usd / (margin_usd_yr - carrying_cost_usd_yr)"),
    _value("cooperative_npv_usd", "Cooperative NPV", "USD", 0,
           "Net present value over the study years, at the cooperative's rate."),
)

BENEFIT_TESTS = _grouped(
    "benefit tests",
    *(_value(f"{key}_ratio", f"{label} ratio", "", 2,
             "Present benefits over present costs.",
             "California Standard Practice Manual 2001, fuel substitution and load building")
      for key, label in (("participant", "Participant test"), ("ratepayer", "Ratepayer test"),
                         ("administrator", "Administrator test"),
                         ("total_resource", "Total resource test"),
                         ("societal", "Societal test"))),
)

ENVIRONMENT = _grouped(
    "environment",
    _value("co2_avoided_t_yr", "CO2 avoided", "t/yr", 1,
           "Of the fuel, less that of the added electric energy; metric tonnes."),
)

RESULTS = Sheet(
    name="Results",
    help="One row per candidate.",
    columns=(VERDICT + WATER + SUPPLY + COST_SHARE + MEMBER + COOPERATIVE + BENEFIT_TESTS
             + ENVIRONMENT),
)

# What belongs to a supply option, not to the farm alone: the columns of options.csv.
OPTION_COLUMNS = tuple(c for c in RESULTS.columns if c.group not in ("verdict", WATER[0].group))
