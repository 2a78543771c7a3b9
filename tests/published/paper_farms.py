"""Three more invented farms, sized on paper from water to conductor.

Plain arithmetic: handbook formulas and rows of the code's tables, typed here with their source or
`memory` beside them, and the comparison. It uses nothing of the program.

MESA: a 40 hp submersible 4,500 ft up, whose nameplate current is above the code's table, on a
    single-phase drive with a dV/dt filter; a small pump runs there today on a rotary converter.
DRAW: a 15 hp pump and a pivot of five towers with a booster, on a rotary converter.
FLAT: a 75 hp pump, overloaded by a little, and a pivot of nine towers, 17,000 ft from the nearest
    three-phase line of an old 2.4/4.16 kV feeder.
"""

import cmath
import math

ROOT3 = math.sqrt(3)

# --- what the invented cooperative has decided ----------------------------------------------------
RULES = {
    "service_voltage_v": 480, "motor_voltage_v": 460, "tap_voltage_pct": 103,
    "service_drop_limit_pct": 1.5, "primary_drop_limit_pct": 4, "service_voltage_low_v": 456,
    "service_voltage_high_v": 504, "starting_dip_limit_pct": 6,
    "starting_dip_service_limit_pct": 20,
    "pivot_lead_drop_limit_pct": 2, "end_tower_minimum_v": 414, "end_tower_advised_v": 440,
    "source_x_over_r": 1.5, "primary_conductor": "1/0 ACSR", "neutral_spacing_ft": 5.02,
    "phase_spacing_ft": 4.29, "earth_resistivity_ohm_m": 100,
    "transformer_loading_limit_pct": 85, "transformer_eddy_loss_pu": 0.06,
    "ambient_c": 43, "pivot_cable_ambient_c": 48, "conductor_material": "aluminum",
    "terminations": "75 C", "conduit": "PVC", "pivot_cable_size": "8", "breaker_pct": 250,
    "interrupting_rating_a": 14000, "midpoint_fault_counts": "yes", "fittings_allowance_pct": 8,
    "tower_motor_efficiency_pct": 70, "tower_load_pct": 80, "motor_loading_limit_pct": 115,
    "motor_loading_drive_limit_pct": 105, "motor_loading_advised_pct": 100,
    "motor_code_letter": "G", "motor_power_factor_pct": 88, "locked_rotor_power_factor_pct": 35,
    "soft_start_pct": 45, "single_phase_derating_pct": 50, "drive_efficiency_pct": 94,
    "drive_bus_capacitance_uf_kw": 2000, "drive_modulation_factor": 0.707,
    "drive_output_drop_pct": 1, "drive_rise_time_us": 0.1, "motor_voltage_low_pct": 90,
    "motor_lead_drop_limit_pct": 3, "converter_efficiency_pct": 82, "converter_idle_loss_pct": 6,
    "converter_power_factor_pct": 88, "converter_size_factor": 1.25, "converter_inrush_pct": 50,
    "converter_fixed_load": "no", "converter_low_leg_pct": 4, "single_phase_start_limit_hp": 25,
    "output_reactor_lead_ft": 50, "dvdt_filter_lead_ft": 160, "sine_filter_lead_ft": 650,
    "layout_limit_ft": 150, "harmonic_limit_point": "primary tap", "current_limits_apply": "off",
    "site_elevation_ft": 2400, "uncertainty_draws": 0,
}
NO_ENGINE = dict.fromkeys(("fuel_rate", "fuel_price_usd", "engine_upkeep_usd_h",
                           "engine_replacement_usd", "engine_remaining_yr"))
MESA = NO_ENGINE | {
    "present_power": "rotary converter", "present_demand_kw": 20,
    "supply_option": "single-phase drive", "irrigated_area_acre": 60, "gross_depth_in": 22,
    "flow_gpm": 350, "pumping_lift_ft": 235, "pivot_pressure_psi": 42, "elevation_gain_ft": -10,
    "pipe_length_ft": 1450, "pipe_diameter_in": 6.07, "pipe_c": 150, "pump_efficiency_pct": 78,
    "pump_motor_hp": 40, "motor_efficiency_pct": 85.5, "motor_full_load_a": 58,
    "is_inverter_duty": "yes", "pivot_length_ft": None, "tower_count": None, "pivot_lead_ft": None,
    "site_elevation_ft": 4500, "single_phase_distance_ft": 2400, "three_phase_distance_ft": None,
    "source_fault_a": 1900, "service_distance_ft": 55, "motor_lead_ft": 325,
}
DRAW = {
    "supply_option": "rotary converter", "irrigated_area_acre": 45, "gross_depth_in": None,
    "season_hours": 1100, "flow_gpm": 220, "pumping_lift_ft": 95, "pivot_pressure_psi": 25,
    "elevation_gain_ft": 12, "pipe_length_ft": 640, "pipe_diameter_in": 5, "pipe_c": 130,
    "pump_efficiency_pct": 70, "motor_code_letter": "H", "tower_count": 5,
    "pivot_length_ft": 780, "tower_motor_hp": 0.75, "tower_motor_a": 2.0, "tower_duty_pct": 50,
    "booster_hp": 2, "pivot_lead_ft": 900, "single_phase_distance_ft": 5200,
    "three_phase_distance_ft": None, "primary_kv": 14.4, "source_fault_a": 350,
    "service_distance_ft": 150, "motor_lead_ft": 80,
}
FLAT = {
    "supply_option": "three-phase line", "irrigated_area_acre": 140, "gross_depth_in": 18,
    "flow_gpm": 1050, "pumping_lift_ft": 138, "pivot_pressure_psi": 38, "elevation_gain_ft": 0,
    "pipe_length_ft": 2600, "pipe_diameter_in": 10.2, "pipe_c": 145, "pump_efficiency_pct": 80,
    "pump_motor_hp": 75, "motor_full_load_a": 92, "motor_code_letter": "J", "tower_count": 9,
    "pivot_length_ft": 1460, "tower_motor_hp": 1.5, "tower_duty_pct": 70, "pivot_lead_ft": 410,
    "single_phase_distance_ft": 17000, "three_phase_distance_ft": 17000, "primary_kv": 2.4,
    "source_fault_a": 700, "service_distance_ft": 520, "motor_lead_ft": 45,
}
# The maker of the 125 hp drive allows a motor of 60 hp on single phase; the 100 hp drive falls
# under the 50 % rule. The maker of the 25 hp converter prints 130 kVA at its start.
DRIVES = ({"size": 75}, {"size": 100}, {"size": 125, "single_phase_hp": 60}, {"size": 150})
CONVERTERS = ({"size": 20}, {"size": 25, "inrush_kva": 130}, {"size": 30})

# --- tables ---------------------------------------------------------------------------------------
# NEC Table 430.250, 460 V, A (memory). 60 and 100 hp stand for drives, 25 hp for
# the converter.
TABLE_430_250 = {0.75: 1.6, 1.5: 3.0, 2: 3.4, 15: 21, 25: 34, 40: 52, 60: 77, 75: 96, 100: 124}
# NEC Table 430.251(B), locked rotor at 460 V, A (memory): 1 1/2 hp 20, 2 hp 25.
LOCKED_430_251 = {1.5: 20, 2: 25}
# NEC Table 430.7(B), top of the letter's range, kVA/hp (memory): G 6.29, H 7.09, J 7.99.
KVA_PER_HP = {"G": 6.29, "H": 7.09, "J": 7.99}
# NEC Table 310.16, 75 C (memory).
ALUMINUM_A = {"3": 75, "2": 90, "3/0": 155, "4/0": 180, "350": 250, "400": 270}
COPPER_A = {"12": 25, "4": 85, "10": 35, "3": 100, "1": 130, "1/0": 150}
# NEC Table 310.15(B)(1)(1), 75 C column (memory): 41 to 45 C 0.82, 46 to 50 C 0.75.
AT_43_C, AT_48_C = 0.82, 0.75
# NEC chapter 9 Table 9, ohm per 1,000 ft to neutral in PVC (memory).
ALUMINUM_Z = {"2": 0.32 + 0.045j, "300": 0.071 + 0.041j, "400": 0.054 + 0.040j}
COPPER_Z = {"10": 1.2 + 0.050j, "8": 0.78 + 0.052j, "6": 0.49 + 0.051j, "3": 0.25 + 0.047j,
            "1/0": 0.12 + 0.044j}
# Circular mils: NEC chapter 9 Table 8 (memory).
KCMIL = {"4/0": 211.6, "300": 300, "2": 66.36, "1": 83.69, "1/0": 105.6}
# Single-phase transformers, per unit: the project's table is an input (25, 100 kVA read there as
# seen in a textbook, 37.5 kVA from memory).
TRANSFORMER_PU = {25: 0.0140 + 0.0120j, 37.5: 0.0120 + 0.0130j, 100: 0.0100 + 0.0162j}


# --- water ----------------------------------------------------------------------------------------

def water(farm, *, efficiency, motor_hp):
    """Hazen-Williams in ft per 100 ft; 2.31 ft/psi; 3,960 gpm-ft per hp; handbooks of irrigation.

    1 acre-inch = 43,560 / 12 x 7.48052 gal = 27,154 gal; 8 % of pipe friction for fittings.
    """
    per_100_ft = (0.2083 * (100 / farm["pipe_c"]) ** 1.852 * farm["flow_gpm"] ** 1.852
                  / farm["pipe_diameter_in"] ** 4.8655)
    friction = per_100_ft * farm["pipe_length_ft"] / 100
    head = (farm["pumping_lift_ft"] + farm["elevation_gain_ft"] + 2.31 * farm["pivot_pressure_psi"]
            + 1.08 * friction)
    water_hp = farm["flow_gpm"] * head / 3960
    shaft_hp = water_hp / (farm["pump_efficiency_pct"] / 100)
    gallons = 43560 / 12 * 7.48052 * farm["irrigated_area_acre"] * (farm["gross_depth_in"] or 0)
    return {"pipe_friction_ft": friction, "total_head_ft": head, "water_power_hp": water_hp,
            "shaft_power_hp": shaft_hp, "pump_motor_hp": motor_hp,
            "motor_load_pct": 100 * shaft_hp / motor_hp,
            "motor_input_kw": 0.7457 * shaft_hp / efficiency,
            "season_hours": gallons / farm["flow_gpm"] / 60 or farm["season_hours"]}


MESA_WATER = water(MESA, efficiency=0.855, motor_hp=40)    # nameplate
# 10 CFR 431.25, premium, open, 4 poles (memory): 15 hp 93.0 %, 75 hp 95.0 %.
DRAW_WATER = water(DRAW, efficiency=0.930, motor_hp=15)
FLAT_WATER = water(FLAT, efficiency=0.950, motor_hp=75)

# Towers at 80 % of their rating and 70 % efficient. The end tower runs for the timer's share; the
# one at r of the length for r of it, so that the mean of n evenly spaced is (n + 1) / 2n of it.
DRAW_PIVOT_KW = 0.7457 * 0.80 / 0.70 * (5 * 0.75 * 0.50 * (5 + 1) / (2 * 5) + 2)
FLAT_PIVOT_KW = 0.7457 * 0.80 / 0.70 * 9 * 1.5 * 0.70 * (9 + 1) / (2 * 9)

# NEC 675.22(A): 125 % of the largest motor and 60 % of the rest; 675.22(B): twice the largest
# one's locked-rotor current and 80 % of the rest. Towers of DRAW by nameplate, 2.0 A.
DRAW_MACHINE_A = 1.25 * 3.4 + 0.60 * 5 * 2.0
DRAW_LOCKED_A = 2 * LOCKED_430_251[2] + 0.80 * 5 * 2.0
FLAT_MACHINE_A = 1.25 * 3.0 + 0.60 * 8 * 3.0
FLAT_LOCKED_A = 2 * LOCKED_430_251[1.5] + 0.80 * 8 * 3.0


# --- impedances, all seen from 480 V --------------------------------------------------------------

def source_ohm(primary_v, amperes, seen):
    """The tap's fault current behind X/R = 1.5, as a loop from line to ground."""
    return (1 + 1.5j) / math.hypot(1, 1.5) * primary_v / amperes * (480 / seen) ** 2


def carson_ohm_mile(r, gmr_ft, apart_ft):
    """A phase wire and a neutral of the same wire, grounded at many poles.

    Source: Carson's equations as test-feeder papers simplify them for 60 Hz and 100 ohm-m: self
    r + 0.09530 + j0.12134 (ln 1/GMR + 7.93402), mutual with the distance in place of GMR and no
    r; the neutral is folded in: z_self - z_mutual^2 / z_self.
    """
    own = r + 0.09530 + 0.12134j * (math.log(1 / gmr_ft) + 7.93402)
    mutual = 0.09530 + 0.12134j * (math.log(1 / apart_ft) + 7.93402)
    return own - mutual ** 2 / own


# 1/0 ACSR: 1.12 ohm/mile, GMR 0.00446 ft (a textbook's appendix, memory).
SINGLE_PHASE_MILE = carson_ohm_mile(1.12, 0.00446, 5.02)
# Per phase of three on the IEEE test feeders' crossarm (2.5, 4.5 and 7 ft).
THREE_PHASE_MILE = 1.12 + 0.12134j * math.log(4.29 / 0.00446)


def chain_of(source, line_miles, mile, seen, kva, units, feet, wire, ways):
    """Source, line, transformer, service conductors; `ways` 2 out and back, 1 per phase."""
    return (source, mile * line_miles * (480 / seen) ** 2,
            TRANSFORMER_PU[kva] * 480 ** 2 / (1000 * kva * units),
            ways * ALUMINUM_Z[wire] * feet / 1000)


MESA_CHAIN = chain_of(source_ohm(7200, 1900, 7200), 2400 / 5280, SINGLE_PHASE_MILE, 7200,
                      100, 1, 55, "400", 2)
DRAW_CHAIN = chain_of(source_ohm(14400, 350, 14400), 5200 / 5280, SINGLE_PHASE_MILE, 14400,
                      25, 1, 150, "2", 2)
FLAT_CHAIN = chain_of(source_ohm(2400, 700, ROOT3 * 2400), 17000 / 5280, THREE_PHASE_MILE,
                      ROOT3 * 2400, 37.5, 3, 520, "300", 1)


def volts_lost(ways, amperes, feet, ohm_1000_ft, factor):
    """NEC chapter 9 Table 9 note 2: R cos + X sin."""
    return ways * amperes * feet / 1000 * (
        ohm_1000_ft.real * factor + ohm_1000_ft.imag * math.sqrt(1 - factor ** 2))


def loaded_volts(chain, kw, factor):
    """480 V x 1.03 at the tap and a load of constant power behind the chain, by the quadratic.

    V^4 + V^2 (2 (RP + XQ) - E^2) + |Z|^2 |S|^2 = 0, from every circuit textbook.
    """
    p, q = 1000 * kw, 1000 * kw * math.tan(math.acos(factor))
    z, e = sum(chain), 480 * 1.03
    half = e ** 2 / 2 - (z.real * p + z.imag * q)
    return math.sqrt(half + math.sqrt(half ** 2 - abs(z) ** 2 * (p ** 2 + q ** 2)))


def dips_pct(chain, kva, factor, volts=460):
    """At the tap and at the service, of a load at standstill as an impedance. Code letters state
    kVA at the motor's rated voltage."""
    start = volts ** 2 / (1000 * kva) * cmath.exp(1j * math.acos(factor))
    whole = start + sum(chain)
    return (100 * (1 - abs((whole - chain[0]) / whole)), 100 * (1 - abs(start / whole)))


def midpoint_ohm(chain, kva):
    """Line to midpoint at 240 V: half winding of 1.5 R and 1.2 X on its own voltage, the
    primary's part a quarter (fuse makers' fault guides, memory)."""
    pu = TRANSFORMER_PU[kva]
    return (chain[0] + chain[1]) / 4 + (1.5 * pu.real + 1.2j * pu.imag) * 240 ** 2 / (1000 * kva)


# --- comparison -----------------------------------------------------------------------------------
MONEY_CHECKS = ("payback", "cap per farm", "least added load")


def agree(farm, expected, rel=1e-5):
    """Every value on paper against the program's, all differences at once."""
    wrong = {key: (farm[key], value) for key, value in expected.items()
             if not (farm[key] == value if isinstance(value, str)
                     else math.isclose(farm[key], value, rel_tol=rel, abs_tol=1e-9))}
    assert not wrong, f"program, paper: {wrong}"


def answers(study, excel_row):
    """Check -> answer of the chosen design, policy and money left out."""
    chosen, checks = study.results.loc[excel_row], study.checks
    mine = checks[(checks["excel_row"] == excel_row)
                  & (checks["supply_option"] == chosen["supply_option"])
                  & (checks["variant"] == chosen["variant"])]
    return {check: answer for check, answer in zip(mine["check"], mine["answer"], strict=True)
            if not any(word in check for word in MONEY_CHECKS)}
