"""The published tables behind each value, and what of a farm's row or of the rules finds the row.

Where a farm does not use a look-up, as one that gives its own motor's efficiency, it has no row.
"""

import re

import numpy as np
import pandas as pd

from batch.columns.candidates import (
    AT_DRIVE,
    CONDUIT,
    GENERATOR,
    OVERHEAD,
    ROTARY,
    SINGLE_PHASE_DRIVE,
)
from batch.columns.unit_costs import SINE
from batch.farm.present_plant import GENERATOR_LOAD_SHARE, LOAD_COLUMNS, engine_of
from batch.farm.water import LOCKED_ROTOR_TABLE, MOTOR_TABLE, amperes_column
from batch.supply.designs import FRONT_END, transformer_units
from batch.supply.power_quality import LIMIT_COLUMNS
from batch.supply.service_conductors import CONDUIT_COLUMNS, METALS, SMALL_CIRCUIT_A
from batch.tables import table
from batch.trail.table_rows import (
    LookUp,
    at_or_below,
    band_from,
    band_to,
    between,
    every,
    is_unknown,
    next_up,
    same,
)

WIRE = re.compile(r"(?:(\d+) x )?(\S+) (?:AWG|kcmil) (\w+)")


# --- what finds a row -----------------------------------------------------------------------------

def _fixed(value):
    return lambda row, rules: value


def _where(option, key):
    """A key of the row, for designs of one option."""
    return lambda row, rules: row[key] if row["supply_option"] == option else None


def _unless(given, key):
    """A key of the row, where the farm does not give the value itself."""
    return lambda row, rules: row[key] if is_unknown(row.get(given)) else None


def _wire(key):
    """The size in a conductor's name: 4/0 of '2 x 4/0 AWG aluminum'."""
    def size(row, rules):
        named = WIRE.search(str(row[key]))
        return named and named[2]
    return size


def _in(build, wanted):
    """For services of a build."""
    return lambda row, rules: wanted(row, rules) if row["service_build"] == build else None


def _unit_kva(row, rules):
    units = transformer_units(pd.DataFrame({"service_phases": [row["service_phases"]]}))[0]
    return row["transformer_kva"] / units


def _free_kva(row, rules):
    """The list of sizes of which the largest free one is taken, where a size is free."""
    return "transformer_kVA" if rules["transformer_free_kva"] > 0 else None


def _half_kva(row, rules):
    return row["transformer_kva"] if row["service_phases"] == 1 else None


def _engine(row, rules):
    engine = engine_of(pd.DataFrame({"present_power": [row["present_power"]]}))[0]
    return None if engine in (GENERATOR, ROTARY) else engine


def _any_engine(row, rules):
    return engine_of(pd.DataFrame({"present_power": [row["present_power"]]}))[0]


def _set_kw(row, rules):
    """Rating of the present generator; the next listed one for its load where none is given."""
    if row["present_power"] != GENERATOR:
        return None
    if not is_unknown(row["generator_kw"]):
        return row["generator_kw"]
    load_kw = (row["motor_input_kw"] + row["pivot_demand_kw"]) / GENERATOR_LOAD_SHARE
    listed = table("generator_fuel")["kW"].tolist()
    return next((kw for kw in listed if kw >= load_kw), None)


def _drive_motor_hp(row, rules):
    """The motor whose current a drive may give: by the derating of its own size, or by its maker's
    single-phase rating."""
    if row["supply_option"] != SINGLE_PHASE_DRIVE or is_unknown(row["drive_rated_hp"]):
        return None
    motors = table(MOTOR_TABLE)
    amperes = motors[amperes_column(rules)]
    own = at_or_below(motors["hp"].tolist(), row["drive_rated_hp"])
    share = rules["single_phase_derating_pct"] / 100
    if own and np.isclose(share * amperes[own[0]], row["drive_allowed_a"]):
        return motors["hp"][own[0]]
    by_maker = motors["hp"][np.isclose(amperes, row["drive_allowed_a"])].tolist()
    return by_maker[0] if by_maker else None


def _largest_on_pivot(row, rules):
    tower_a = row["tower_motor_a"] if not is_unknown(row["tower_motor_a"]) else (
        row["tower_table_a"])
    has_booster = row["booster_hp"] > 0
    if not row["tower_count_used"] > 0:
        return row["booster_hp"] if has_booster else None
    return row["booster_hp"] if has_booster and row["booster_a"] > tower_a else (
        row["tower_motor_hp"])


def _code_letter(row, rules):
    if row["supply_option"] == SINGLE_PHASE_DRIVE:
        return None
    letter = row["motor_code_letter"]
    return rules["motor_code_letter"] if is_unknown(letter) else letter


def _rotary_letter(row, rules):
    """The program's letter, which a converter's own start is counted by."""
    return rules["motor_code_letter"] if row["supply_option"] == ROTARY else None


def _filter(row, rules):
    """The filter at a drive's output; the dearest where a lead's length is not known."""
    if row["supply_option"] != SINGLE_PHASE_DRIVE:
        return None
    return SINE if is_unknown(row["lead_filter"]) else row["lead_filter"]


def _tuned_filter(row, rules):
    name = row["input_filter"]
    return None if is_unknown(name) or name == FRONT_END else name


def _front_end(row, rules):
    return row["input_filter"] if row["input_filter"] == FRONT_END else None


def _withstand_hp(row, rules):
    return {SINGLE_PHASE_DRIVE: [row["drive_rated_hp"]],
            ROTARY: [row["drive_rated_hp"], row["pump_motor_hp"]]}.get(
                row["supply_option"], [row["pump_motor_hp"]])


def _overhead_line(row, rules):
    has_line = row["own_line_ft"] + row["trunk_ft"] > 0
    return rules["primary_conductor"] if has_line and row["line_build"] == "overhead" else None


def _legs_cmil(row, rules):
    """Area of one leg of the service, where a grounded conductor runs with it."""
    size = _wire("service_conductor")(row, rules)
    if row["disconnect_at"] != AT_DRIVE or size is None:
        return None
    wires = table("conductor_dc_resistance")
    return float(wires.loc[wires["size"] == size, "cmil"].item())


def _device_a(at_drive):
    """The device by which equipment grounding is chosen, for disconnects at the drive or not."""
    return lambda row, rules: (
        row["protective_device_a"] if (row["disconnect_at"] == AT_DRIVE) == at_drive else None)


def _metal(pattern):
    return lambda row, rules: pattern.format(METALS[rules["conductor_material"]])


def _columns_of_service(row, rules):
    """Ampacity of the 75 C column, and of the 60 C one where the terminations ask for it."""
    metal = METALS[rules["conductor_material"]]
    is_small = rules["terminations"] != "75 C" and row["protective_device_a"] <= SMALL_CIRCUIT_A
    return f"{metal}75 {metal}60" if is_small and row["service_build"] == CONDUIT else f"{metal}75"


def _counted_lead(row, rules):
    """The motor lead's size, where the program counts its drop."""
    return _wire("motor_lead_conductor")(row, rules) if rules["motor_lead_drop_limit_pct"] else None


def _columns_of_lead(row, rules):
    is_small = rules["terminations"] != "75 C" and 1.25 * row["motor_design_a"] <= SMALL_CIRCUIT_A
    return "cu75 cu60" if is_small else "cu75"


def _impedance(metal, *letters):
    """Columns of resistance and reactance in the program's conduit; plastic for overhead cables."""
    def columns(row, rules):
        is_overhead = metal is None and row["service_build"] == OVERHEAD
        conduit = "pvc" if is_overhead else CONDUIT_COLUMNS[rules["conduit"]]
        of = metal or METALS[rules["conductor_material"]]
        named = {"r": f"R{of}_{conduit}", "x": "X_steel" if conduit == "steel" else "X_pvc_al"}
        return " ".join(named[letter] for letter in letters)
    return columns


# --- the look-ups ---------------------------------------------------------------------------------

def _size(kind):
    return LookUp("standard_sizes", "kind", _fixed(kind), "values", unit=kind.rpartition("_")[2])


def _motor(wanted, way=next_up, name=MOTOR_TABLE):
    return LookUp(name, "hp", wanted, lambda row, rules: amperes_column(rules), way, "A")


def _of_variant(take):
    return LookUp("supply_variants", "supply_option variant",
                  lambda row, rules: (row["supply_option"], row["variant"]), take)


def _output_filter(take, unit=""):
    return LookUp("output_filters", "lead_filter", _filter, take, unit=unit)


def _ampacity(wire, take, ambient):
    return (LookUp("ampacity", "size", wire, take, unit="A"),
            LookUp("ampacity_temperature_factors", "ambient_C", ambient, "f75", band_to))


def _ohm(wire, take):
    return LookUp("conductor_ac_impedance", "size", wire, take, unit="ohm/1000 ft")


def _area(wire):
    return LookUp("conductor_dc_resistance", "size", wire, "cmil", unit="cmil")


def _transformer(take, wanted=_unit_kva):
    return LookUp("transformer_impedance", "kVA", wanted, take)


SERVICE, MOTOR_LEAD, PIVOT_LEAD = map(_wire, (
    "service_conductor", "motor_lead_conductor", "pivot_lead_conductor"))
IN_AIR = (LookUp("ampacity_messenger", "size", _in(OVERHEAD, SERVICE), _metal("{}75"), unit="A"),
          LookUp("ampacity_temperature_factors_40", "ambient_C",
                 _in(OVERHEAD, lambda row, rules: rules["ambient_c"]), "f75", band_to))
SERVICE_AMPACITY = (*_ampacity(SERVICE, _columns_of_service,
                               _in(CONDUIT, lambda row, rules: rules["ambient_c"])), *IN_AIR)
MOTOR_LEAD_AMPACITY = _ampacity(MOTOR_LEAD, _columns_of_lead, "ambient_c")
PIVOT_LEAD_AMPACITY = _ampacity(PIVOT_LEAD, "cu75", "pivot_cable_ambient_c")
IN_FRONT = (LookUp("filter_remaining", "order", _tuned_filter, _tuned_filter, every),
            LookUp("front_end_current", "order", _front_end, "pct", every, "%"))

LOOK_UPS = {
    "pump_motor_hp": (_size("motor_hp"),),
    "transformer_kva": (_size("transformer_kVA"),),
    **dict.fromkeys(("member_transformer_usd", "breakeven_line_npv_ft"), (LookUp(
        "standard_sizes", "kind", _free_kva, "values", unit="kVA"),)),
    "protective_device_a": (_size("overcurrent_device_A"),),
    "disconnect_a": (_size("disconnect_A"),),
    "motor_efficiency_used_pct": (LookUp(
        "motor_efficiency", "hp", _unless("motor_efficiency_pct", "pump_motor_hp"),
        "open_premium", unit="%"),),
    "motor_table_a": (_motor("pump_motor_hp", same),),
    "tower_table_a": (_motor("tower_motor_hp"),),
    "booster_table_a": (_motor("booster_hp"),),
    "pivot_largest_locked_a": (_motor(_largest_on_pivot, name=LOCKED_ROTOR_TABLE),),
    **dict.fromkeys(("drive_rated_hp", "drive_allowed_a"), (_motor(_drive_motor_hp, same),)),
    "motor_fault_a": (LookUp(MOTOR_TABLE, "hp", _where(ROTARY, "drive_rated_hp"), "A_460V", next_up,
                             "A"),),
    "computed_fuel_rate": (
        LookUp("fuels", "present_power", _engine, "water_hp_h_per_unit shaft_hp_h_per_unit"),
        LookUp("generator_fuel", "kW", _set_kw, " ".join(LOAD_COLUMNS), between, "gal/h")),
    "co2_present_t_yr": (LookUp("fuels", "present_power", _any_engine, "fuel"),),
    **{key: (_of_variant(key),) for key in (
        "service_phases", "line_reactor_pct", "dc_choke_pct", "input_filter", "input_item",
        "starter_item")},
    "own_displacement_pf": (_of_variant("displacement_power_factor"),),
    "converter_inrush_kva": (LookUp(
        "locked_rotor_kva_per_hp", "letter", _rotary_letter, "high", unit="kVA/hp"),),
    "starting_kva": (LookUp("locked_rotor_kva_per_hp", "letter", _code_letter, "high",
                            unit="kVA/hp"),),
    "drive_efficiency_used_pct": (_output_filter("power_loss_pct"),),
    "filter_loss_pct": (_output_filter("voltage_loss_pct"),),
    "pulse_top_v": (_output_filter("is_sine"),),
    "motor_rise_us": (_output_filter("rise_time_us is_sine"),),
    **dict.fromkeys(("base_filter_usd", "missing_items"), (_output_filter("item"),)),
    "motor_lead_conductor": (*MOTOR_LEAD_AMPACITY, _ohm(MOTOR_LEAD, _impedance("cu", "r", "x")),
                             _area(MOTOR_LEAD)),
    "motor_lead_ampacity_a": MOTOR_LEAD_AMPACITY,
    "motor_lead_drop_pct": (_ohm(_counted_lead, _impedance("cu", "r", "x")),),
    "service_conductor": (*SERVICE_AMPACITY, _ohm(SERVICE, _impedance(None, "r", "x")),
                          _area(SERVICE)),
    "service_ampacity_a": SERVICE_AMPACITY,
    "service_r_ohm": (_ohm(SERVICE, _impedance(None, "r")),),
    "service_x_ohm": (_ohm(SERVICE, _impedance(None, "x")),),
    "machine_drop_pct": (_ohm("pivot_cable_size", "Rcu_pvc X_pvc_al"),),
    "grounding_conductor": (
        LookUp("grounded_conductor", _metal("{}_up_to_cmil"), _legs_cmil, _metal("{}"), next_up),
        LookUp("equipment_grounding_conductor", "ocpd_A", _device_a(False), _metal("{}"), next_up),
        _area(_wire("grounding_conductor"))),
    "grounding_beyond": (LookUp("equipment_grounding_conductor", "ocpd_A", _device_a(True),
                                _metal("{}"), next_up), _area(_wire("grounding_beyond"))),
    "electrode_conductor": (
        LookUp("grounding_electrode_conductor", "cu", _wire("electrode_conductor"),
               _metal("{}_up_to_cmil")), _area(_wire("electrode_conductor"))),
    **dict.fromkeys(("line_r_ohm", "line_x_ohm"), (
        LookUp("acsr", "name", _overhead_line, "R_ohm_mi_50C GMR_ft"),)),
    "transformer_r_ohm": (_transformer("R_pu"),),
    "transformer_x_ohm": (_transformer("X_pu"),),
    **dict.fromkeys(("fault_midpoint_a", "fault_midpoint_drive_a"),
                    (_transformer("R_pu X_pu", _half_kva),)),
    **dict.fromkeys(("service_current_a", "fundamental_current_a", "input_power_factor",
                     "transformer_capacity_pu"), IN_FRONT),
    "transformer_loss_kwh_yr": (LookUp("transformer_efficiency", "kVA", _unit_kva,
                                       "no_load_W_equal_split load_loss_full_W"),),
    "withstand_a": (LookUp("withstand_ratings", "up_to_hp", _withstand_hp, "rating_a", next_up,
                           "A"),),
    "tdd_limit_pct": (LookUp("harmonic_current_limits", "Isc_IL", "short_circuit_ratio", "TDD",
                             band_from, "%"),),
    "single_harmonic_share_pct": (LookUp("harmonic_current_limits", "Isc_IL",
                                         "short_circuit_ratio", " ".join(LIMIT_COLUMNS),
                                         band_from, "%"),),
    "pivot_lead_conductor": (*PIVOT_LEAD_AMPACITY, _ohm(PIVOT_LEAD, "Rcu_pvc X_pvc_al")),
    "pivot_lead_ampacity_a": PIVOT_LEAD_AMPACITY,
    "pivot_lead_drop_pct": (_ohm(PIVOT_LEAD, "Rcu_pvc X_pvc_al"),),
    "pivot_cable_ampacity_a": _ampacity("pivot_cable_size", "cu75", "pivot_cable_ambient_c"),
}


def table_rows(key: str, row, rules) -> list[tuple]:
    """The ends of a trail in published tables that a farm's or design's value was looked up in."""
    return list(dict.fromkeys(end for one in LOOK_UPS.get(key, ()) for end in one.rows(row, rules)))
