"""Three invented farms and the hand calculation of what they need, pay and save.

Plain arithmetic on numbers typed here: handbook formulas, rows of the code's tables, prices and
rules of an invented cooperative. It uses nothing of the program.
"""

import cmath
import math

import numpy as np
from scipy.optimize import brentq

# --- what the invented cooperative has decided ----------------------------------------------------
RULES = {
    "service_voltage_v": 480, "motor_voltage_v": 460, "tap_voltage_pct": 103, "ambient_c": 40,
    "source_x_over_r": 2, "primary_conductor": "2 ACSR", "neutral_spacing_ft": 5.02,
    "phase_spacing_ft": 4.29, "fittings_allowance_pct": 10, "tower_load_pct": 75,
    "tower_motor_efficiency_pct": 75, "transformer_eddy_loss_pu": 0.05,
    "motor_power_factor_pct": 86, "locked_rotor_power_factor_pct": 30, "motor_code_letter": "G",
    "pivot_cable_size": "10", "drive_efficiency_pct": 96.5, "drive_modulation_factor": 0.707,
    "drive_bus_capacitance_uf_kw": 2000, "converter_efficiency_pct": 80,
    "converter_idle_loss_pct": 7, "converter_power_factor_pct": 85, "converter_size_factor": 1.25,
    "harmonic_limit_point": "primary tap", "current_limits_apply": "off",
    "season_share_pct": "0, 0, 0, 2, 8, 22, 31, 27, 9, 1, 0, 0",
    "overhead_adder_pct": 5, "line_free_single_phase_ft": 300, "transformer_free_kva": 50,
    "share_line_member_pct": 50, "share_transformer_member_pct": 40, "share_service_member_pct": 50,
    "share_engineering_member_pct": 0, "share_line_cap_usd": 5000,
    "pivot_lead_drop_limit_pct": 2, "end_tower_minimum_v": 400, "single_phase_derating_pct": 50,
    "incentive_basis": "percent of eligible cost", "incentive_amount": 25,
    "incentive_eligible_items": "drive, filter, converter, starter",
    "incentive_minimum_usd": 500, "incentive_maximum_usd": 6000, "farm_cap_usd": 40000,
    "incentive_cost_counts": "incentive and cooperative share", "administration_usd": 400,
    "maximum_cooperative_payback_yr": 60, "maximum_member_payback_yr": 60,
    "study_years": 20, "discount_rate_cooperative_pct": 5, "discount_rate_member_pct": 7,
    "fuel_escalation_pct": 2.5, "rate_escalation_pct": 2, "wholesale_escalation_pct": 1.5,
    "upkeep_escalation_pct": 3, "engine_life_yr": 12, "drive_life_yr": 10, "plant_life_yr": 35,
    "electric_upkeep_pct": 1, "carrying_cost_pct": 4,
}
RATE = {
    "rate_id": "IRR", "customer_charge_usd_month": 35, "facilities_charge_usd_hp_yr": 12,
    "demand_charge_usd_kw": 5.5, "demand_months": "6-9", "block_1_size": 4000,
    "block_1_usd_kwh": 0.108, "block_2_usd_kwh": 0.086, "control_credit_usd_kw_month": 1.5,
    "wholesale_energy_usd_kwh": 0.043, "wholesale_demand_usd_kw": 12.5,
    "wholesale_demand_months": "6-9", "coincidence_pct": 75, "coincidence_controlled_pct": 12,
    "losses_pct": 6,
}
PRICES = [("line", 1, None, 8.10), ("line", 3, None, 14.50), ("line job", None, None, 950)] + [
    (item, None, size, price) for item, sizes in {
        "transformer": ((15, 1900), (25, 2500), (50, 3700), (75, 5000), (100, 6400)),
        "service conductor": ((50, 3), (125, 6.5), (225, 11.5), (300, 14)),
        "drive": ((100, 11000),),
        "disconnect": ((60, 640), (100, 900), (200, 1350), (400, 2100)),
        "rotary converter": ((10, 3000), (15, 3900), (25, 5200)), "sine filter": ((60, 3100),),
        "line reactor 3 %": ((60, 750),), "line reactor 5 %": ((60, 950),),
        "DC choke": ((60, 850),), "tuned filter": ((60, 5600),), "active front end": ((60, 12000),),
        "across-the-line starter": ((15, 850), (60, 1400)),
        "soft starter": ((15, 1500), (60, 2600)),
        "motor lead": ((20, 3.1), (60, 5.2), (90, 6.8)), "pivot lead": ((20, 3.6), (50, 4.9)),
        "motor change": ((15, 1600), (60, 4300)), "meter and service": ((None, 1500),),
        "engineering": ((None, 650),)}.items() for size, price in sizes]
BLANK_PIVOT = dict.fromkeys(("pivot_length_ft", "tower_count", "pivot_lead_ft"))
LARGE = {
    "present_power": "diesel engine", "fuel_rate": None, "fuel_price_usd": 3.45,
    "engine_upkeep_usd_h": 1.8, "engine_replacement_usd": 24000, "engine_remaining_yr": 5,
    "irrigated_area_acre": 115, "gross_depth_in": 14, "flow_gpm": 700, "pumping_lift_ft": 112,
    "pivot_pressure_psi": 32, "elevation_gain_ft": 8, "pipe_length_ft": 800, "pipe_diameter_in": 8,
    "pipe_c": 140, "pump_efficiency_pct": 75, "performance_rating_pct": 80, "tower_count": 8,
    "tower_motor_hp": 1, "tower_duty_pct": 60, "booster_hp": 2, "pivot_length_ft": 1290,
    "single_phase_distance_ft": 1840, "three_phase_distance_ft": 700, "source_fault_a": 900,
    "service_distance_ft": 60, "motor_lead_ft": 70, "pivot_lead_ft": 30,
    "is_inverter_duty": "yes", "other_funding_usd": 2000,
}
# 70 ft to the motor: NEC 430.22, 125 % of 65 A are 81.25 A; Table 310.16, 75 C copper x 0.88:
# 4 AWG 74.8 A, 3 AWG 88 A, so the lead of up to 90 A. 30 ft to the pivot's panel: 14.33 A by
# 675.22(A); 14 AWG 17.6 A, so the lead of up to 20 A.
LARGE_LEADS_USD = (70 * 6.8 + 30 * 3.6) * 1.05
SMALL = BLANK_PIVOT | {
    "present_power": "propane engine", "fuel_rate": 1.15, "fuel_price_usd": 2.1,
    "engine_upkeep_usd_h": 1.2, "engine_replacement_usd": None, "engine_remaining_yr": None,
    "irrigated_area_acre": 35, "gross_depth_in": None, "season_hours": 900, "flow_gpm": 210,
    "pumping_lift_ft": 62, "pivot_pressure_psi": 20, "pipe_length_ft": 0, "pump_efficiency_pct": 70,
    "single_phase_distance_ft": 420, "source_fault_a": 900, "service_distance_ft": 36,
    "motor_lead_ft": 45, "motor_code_letter": "H", "load_control": "yes",
    "supply_option": "rotary converter",
}


# --- water (USDA NRCS National Engineering Handbook part 652; irrigation handbooks) ---------------

def large_water():
    # Source: Hazen-Williams in ft per 100 ft, 0.2083 (100/C)^1.852 Q^1.852 / d^4.8655.
    friction_ft = 0.2083 * (100 / 140) ** 1.852 * 700 ** 1.852 / 8 ** 4.8655 * 800 / 100
    head_ft = 112 + 8 + 2.31 * 32 + friction_ft * 1.10          # 2.31 ft per psi, 10 % for fittings
    water_hp = 700 * head_ft / 3960
    shaft_hp = water_hp / 0.75
    # 43,560 ft2 x 1/12 ft x 7.48052 gal/ft3 / 60 min = 452.57 gpm-hours per acre-inch.
    hours = 115 * 14 * (43560 / 12 * 7.48052 / 60) / 700
    # 8 towers of 1 hp at 75 % load and 75 % efficiency, end tower 60 % of the time, the mean
    # tower (8 + 1) / (2 x 8) of that; booster 2 hp all the time.
    pivot_kw = 8 * 0.7457 * 1 * 0.75 / 0.75 * 0.60 * 9 / 16 + 0.7457 * 2 * 0.75 / 0.75
    motor_kw = 0.7457 * shaft_hp / 0.945            # 10 CFR 431.25 Table 1: 50 hp 94.5 %
    return {"pipe_friction_ft": friction_ft, "total_head_ft": head_ft, "water_power_hp": water_hp,
            "shaft_power_hp": shaft_hp, "pump_motor_hp": 50, "season_hours": hours,
            "pivot_demand_kw": pivot_kw, "motor_input_kw": motor_kw}


# --- electrical parts -----------------------------------------------------------------------------

def source_ohm(primary_v):
    """Behind 900 A at 7,200 V, X/R = 2, seen from 480 V."""
    return (1 + 2j) / math.hypot(1, 2) * 7200 / 900 * (480 / primary_v) ** 2


def drop_pct(ways, amperes, feet, r, x, factor):
    """NEC chapter 9 Table 9 note 2: R cos + X sin to neutral; `ways` 2, or 1.732 three-phase."""
    return 100 * ways * amperes * feet / 1000 * (r * factor + x * math.sqrt(1 - factor ** 2)) / 480


def loaded_voltage(chain, kw, factor):
    """480 V x 1.03 at the tap less the drop of a constant-power load, by iteration."""
    emf, volts = 480 * 1.03, 480 + 0j
    power = 1000 * kw * complex(1, math.tan(math.acos(factor)))
    for _ in range(200):
        # Three-phase: the same equation in line-to-line volts with per-phase ohms.
        volts = emf - chain * (power / volts).conjugate()
    return abs(volts)


def dip_pct(part, chain, kva, factor, volts=460):
    """Standing motor as an impedance at its locked-rotor power, which code letters state at the
    motor's rated 460 V; the dip ahead of `part`'s end."""
    motor = volts ** 2 / (1000 * kva) * cmath.exp(1j * math.acos(factor))
    return 100 * (1 - abs((motor + chain - part) / (motor + chain)))


def bridge(chain, kw):
    """A single-phase diode bridge with an endless bus capacitance, solved in closed form.

    Source: circuit theory (power-electronics textbooks). Line current while conducting:
    i = (Vm/Z) sin(th - phi) - E/R + A exp(-(th - start)/tan phi), from where the source rises
    above the bus E until i is zero again; E from the power balance E x mean(i) = P.
    """
    vm, r, x = math.sqrt(2) * 480 * 1.03, chain.real, chain.imag
    z, phi = math.hypot(r, x), math.atan2(x, r)

    def current(bus):
        start = math.asin(bus / vm)
        angle = start + np.linspace(0, math.pi, 200_001)
        first = vm / z * math.sin(start - phi) - bus / r
        amperes = (vm / z * np.sin(angle - phi) - bus / r
                   - first * np.exp(-(angle - start) / math.tan(phi)))
        stop = np.argmax(amperes[1:] < 0) + 1
        return angle[:stop], amperes[:stop], angle[1] - angle[0]

    def surplus_w(bus):
        _, amperes, step = current(bus)
        return bus * amperes.sum() * step / math.pi - 1000 * kw

    bus = brentq(surplus_w, 0.6 * vm, 0.999 * vm)
    angle, amperes, step = current(bus)
    rms = math.sqrt((amperes ** 2).sum() * step / math.pi)
    orders = np.arange(1, 51, 2)
    phasor = 2 / math.pi * (amperes * np.exp(-1j * orders[:, None] * angle)).sum(axis=1) * step
    harmonics = np.abs(phasor) / math.sqrt(2)
    return {"bus": bus, "orders": orders, "harmonics": harmonics,
            "dpf": math.cos(cmath.phase(phasor[0] * 1j)),
            "pf": harmonics[0] * math.cos(cmath.phase(phasor[0] * 1j)) / rms}


# --- money ----------------------------------------------------------------------------------------
SEASON = [0, 0, 0, .02, .08, .22, .31, .27, .09, .01, 0, 0]


def yearly_bill(kw, hours, hp, controlled):
    energy = sum(min(kw * hours * s, 4000) * 0.108 + max(kw * hours * s - 4000, 0) * 0.086
                 for s in SEASON)
    lines = (12 * 35, 12 * hp, 4 * kw * 5.5, energy, -4 * kw * 1.5 if controlled else 0)
    return round(sum(round(line, 2) for line in lines), 2)


def wholesale(kw, hours, coincidence):
    return kw * hours / 0.94 * 0.043 + 4 * kw * coincidence / 0.94 * 12.5


def npv(flows, rate):
    return sum(flow / (1 + rate) ** year for year, flow in enumerate(flows))


def money(kw, hours, hp, fuel, fuel_price, upkeep_h, costs, member, other_usd, controlled=False,
          engine_usd=0, engine_years=(), coincidence=0.75, useful_kw=None):
    """Shares to ranking figure. `costs` and `member` in USD by item, overhead inside; `useful_kw`
    is what motor and pivot take, where it is not all of the demand."""
    project, member_usd = sum(costs.values()), sum(member.values())
    equipment = sum(costs.get(k, 0) for k in ("drive", "filter", "converter", "starter",
                                                "leads", "motor"))
    work = sum(costs[k] for k in ("line", "transformer", "service", "engineering"))
    aided = sum(costs.get(k, 0) for k in ("drive", "filter", "converter", "starter"))
    incentive = min(max(0.25 * aided, 500), 6000, 40000 - (project - member_usd))
    incentive = int(round(incentive * 100, 6)) / 100  # down to the cent
    cooperative = project - member_usd
    bill, supply = yearly_bill(kw, hours, hp, controlled), wholesale(kw, hours, coincidence)
    present = fuel * fuel_price + hours * upkeep_h
    upkeep = 0.01 * equipment
    net = member_usd - incentive - other_usd
    outlay, carrying = cooperative + incentive + 400, 0.04 * work
    contribution = sum(member[k] for k in ("line", "transformer", "service", "engineering"))
    drive = costs.get("drive", 0) + costs.get("filter", 0)
    # Year 0 outlays; years 1 to 20 at base-date prices times (1 + escalation)^year; replacements
    # strictly before the last year.
    member_flow, cooperative_flow = [-net], [-work + contribution - incentive - 400]
    for t in range(1, 21):
        member_flow.append(
            fuel * fuel_price * 1.025 ** t + hours * upkeep_h * 1.03 ** t - bill * 1.02 ** t
            - upkeep * 1.03 ** t + (engine_usd * 1.03 ** t if t in engine_years else 0)
            - (drive * 1.03 ** t if t == 10 else 0))
        cooperative_flow.append(bill * 1.02 ** t - supply * 1.015 ** t - carrying * 1.03 ** t)
    # At the end the plant has 15 of 35 years left; a drive of year 10 is worn out; an engine that
    # would be new in year 17 would be good for 9 of its 12 years.
    member_flow[-1] -= engine_usd * 1.03 ** 20 * 9 / 12
    cooperative_flow[-1] += work * 1.03 ** 20 * 15 / 35
    return {
        "project_cost_usd": project, "member_cost_usd": member_usd, "equipment_cost_usd": equipment,
        "cooperative_cost_usd": cooperative, "incentive_usd": incentive, "bill_usd_yr": bill,
        "incentive_cost_usd": incentive + cooperative, "member_net_cost_usd": net,
        "incentive_usd_per_kw": (incentive + cooperative) / (useful_kw or kw),
        "present_cost_usd_yr": present,
        "electric_cost_usd_yr": bill + upkeep, "member_saving_usd_yr": present - bill - upkeep,
        "member_payback_yr": net / (present - bill - upkeep), "revenue_usd_yr": bill,
        "breakeven_fuel_price_usd": (bill + upkeep - hours * upkeep_h) / fuel,
        "margin_usd_yr": bill - supply, "cooperative_outlay_usd": outlay,
        "cooperative_payback_yr": outlay / (bill - supply - carrying),
        "member_npv_usd": npv(member_flow, 0.07),
        "cooperative_npv_usd": npv(cooperative_flow, 0.05), "present_fuel_per_yr": fuel}


def large_fuel(water):
    # Source: University of Nebraska pumping plant performance criteria, diesel 12.5 water and
    # 16.66 shaft hp-hours per gallon; plant at 80 % of them; the pivot's generator on the shaft.
    return water["season_hours"] / 0.80 * (
        water["water_power_hp"] / 12.5 + water["pivot_demand_kw"] / 0.7457 / 16.66)


def drive_chain(water):
    # The drive 96.5 %, its sine filter 98.5 % (makers' claims, memory).
    kw = (water["motor_input_kw"] + water["pivot_demand_kw"]) / (0.965 * 0.985)
    source = source_ohm(7200)
    # Source: IEEE test-feeder single-phase line of 2 ACSR with its neutral 5 ft below, 1.9217 +
    # j1.4212 ohm/mile; 1,840 ft of it, seen from 480 V.
    line = (1.9217 + 1.4212j) * 1840 / 5280 * (480 / 7200) ** 2
    # 75 kVA, 1.01 % + j1.43 %: a distribution-engineering textbook's transformer.
    transformer = (0.0101 + 0.0143j) * 480 ** 2 / 75e3
    # NEC chapter 9 Table 9, 300 kcmil copper in PVC: 0.044 + j0.041 ohm/1000 ft to neutral, out and
    # back.
    service = 2 * (0.044 + 0.041j) * 60 / 1000
    return kw, source, line, transformer, service


def small_demand():
    water_hp = 210 * (62 + 2.31 * 20) / 3960
    shaft_hp = water_hp / 0.70
    assert 7.5 < shaft_hp <= 10
    load_kw = 0.7457 * shaft_hp / 0.917                        # 10 CFR 431.25 Table 1: 10 hp 91.7 %
    # Converter: 1.25 x 10 hp, so 15 hp is listed; 80 % efficient, or idle loss of 7 % of rating.
    return water_hp, shaft_hp, load_kw, max(load_kw / 0.80, load_kw + 0.07 * 15 * 0.7457)
