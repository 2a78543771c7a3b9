"""From the field to the motor: what each farm's pump and pivot need, whatever supplies them."""

import numpy as np
import pandas as pd

from batch.engineering import motors, pumping
from batch.engineering.transformer import next_standard_size
from batch.step import step
from batch.tables import column, sizes, snapped_to_size, value_at

MOTOR_TABLE = "motor_full_load_current_three_phase"
LOCKED_ROTOR_TABLE = "locked_rotor_current"


@step(
    needs="""
        irrigated_area_acre gross_depth_in given_season_hours flow_gpm pumping_lift_ft
        pivot_pressure_psi elevation_gain_ft pipe_length_ft pipe_diameter_in pipe_c
        pump_efficiency_pct nameplate_motor_hp motor_efficiency_pct motor_full_load_a
        pivot_length_ft tower_count tower_motor_hp tower_motor_a tower_duty_pct booster_hp
        booster_motor_a""",
    rules="""
        motor_voltage_v fittings_allowance_pct tower_span_ft tower_motor_efficiency_pct
        tower_load_pct""",
    makes="""
        pipe_friction_ft total_head_ft water_power_hp shaft_power_hp hours_by_depth
        motor_load_pct motor_efficiency_used_pct motor_table_a motor_design_a motor_input_kw
        tower_count_used tower_mean_duty pivot_demand_kw tower_table_a booster_table_a towers_a
        booster_a pivot_largest_a pivot_largest_locked_a pivot_machine_a pivot_locked_rotor_a
        season_hours pump_motor_hp""")
def pump_load(candidates: pd.DataFrame, rules) -> pd.DataFrame:
    """Head, power, motor, pivot and hours of each farm (index as given)."""
    farms, out = candidates, pd.DataFrame(index=candidates.index)
    out["pipe_friction_ft"] = pumping.pipe_friction_ft(
        flow_gpm=farms["flow_gpm"], pipe_length_ft=farms["pipe_length_ft"],
        pipe_diameter_in=farms["pipe_diameter_in"], pipe_c=farms["pipe_c"])
    out["total_head_ft"] = pumping.total_head_ft(
        pumping_lift_ft=farms["pumping_lift_ft"], elevation_gain_ft=farms["elevation_gain_ft"],
        pivot_pressure_psi=farms["pivot_pressure_psi"], pipe_friction_ft=out["pipe_friction_ft"],
        fittings_allowance_pct=rules["fittings_allowance_pct"])
    out["water_power_hp"] = pumping.water_power_hp(
        flow_gpm=farms["flow_gpm"], total_head_ft=out["total_head_ft"])
    out["shaft_power_hp"] = pumping.shaft_power_hp(
        water_power_hp=out["water_power_hp"], pump_efficiency_pct=farms["pump_efficiency_pct"])
    hours_by_depth = pumping.season_hours(
        irrigated_area_acre=farms["irrigated_area_acre"], gross_depth_in=farms["gross_depth_in"],
        flow_gpm=farms["flow_gpm"])
    out["hours_by_depth"] = hours_by_depth
    out["season_hours"] = given_or(farms["given_season_hours"], hours_by_depth)
    out = out.join(_motor(farms, out["shaft_power_hp"], rules))
    return out.join(_pivot(farms, rules))


def table_amperes(motor_hp, rules, name=MOTOR_TABLE):
    """Current (n,) [A] of motors (n,) [hp] by one of the code's tables, at the motors' rated
    voltage; NaN where the table has no such rating."""
    return value_at(name, "hp", motor_hp, amperes_column(rules))


def amperes_column(rules) -> str:
    """The column of the code's motor tables for the motors' rated voltage."""
    return f"A_{rules['motor_voltage_v']:g}V"


def given_or(given, otherwise):
    """The given values, and where they are unknown the others."""
    return np.where(np.isnan(given), otherwise, given)


def _motor(farms, shaft_power_hp, rules):
    """The nameplate motor where there is one, else the next standard rating."""
    standard_hp = next_standard_size(required=shaft_power_hp, sizes=sizes("motor_hp"))
    motor = pd.DataFrame(index=farms.index)
    motor["pump_motor_hp"] = given_or(
        snapped_to_size(farms["nameplate_motor_hp"], "motor_hp"), standard_hp)
    motor["motor_load_pct"] = 100 * shaft_power_hp / motor["pump_motor_hp"]
    motor["motor_efficiency_used_pct"] = given_or(
        farms["motor_efficiency_pct"],
        value_at("motor_efficiency", "hp", motor["pump_motor_hp"], "open_premium"))
    motor["motor_table_a"] = table_amperes(motor["pump_motor_hp"], rules)
    # The table's values are of usual motors; one that draws more, as submersibles do, is wired and
    # driven by its nameplate (NEC 430.6(A)(1) has no smaller value for it).
    motor["motor_design_a"] = np.fmax(farms["motor_full_load_a"], motor["motor_table_a"]).where(
        motor["motor_table_a"].notna())
    motor["motor_input_kw"] = motors.motor_input_kw(
        shaft_power_hp=shaft_power_hp, motor_efficiency_pct=motor["motor_efficiency_used_pct"])
    return motor


def _pivot(farms, rules):
    """Towers, their mean demand, and the current that the machine's conductors must carry."""
    pivot = pd.DataFrame(index=farms.index)
    length_ft = farms["pivot_length_ft"].fillna(0)
    pivot["tower_count_used"] = given_or(farms["tower_count"], pumping.towers_by_length(
        pivot_length_ft=length_ft, tower_span_ft=rules["tower_span_ft"]))
    pivot["tower_mean_duty"] = pumping.tower_mean_duty(
        tower_count=pivot["tower_count_used"], tower_duty_pct=farms["tower_duty_pct"])
    small = {"load_pct": rules["tower_load_pct"],
             "motor_efficiency_pct": rules["tower_motor_efficiency_pct"]}
    pivot["pivot_demand_kw"] = (
        motors.small_motors_kw(motor_count=pivot["tower_count_used"], duty=pivot["tower_mean_duty"],
                               motor_hp=farms["tower_motor_hp"], **small)
        + motors.small_motors_kw(motor_count=1, duty=1, motor_hp=farms["booster_hp"], **small))
    return pivot.assign(**_pivot_currents(farms, pivot["tower_count_used"], rules))


def _pivot_currents(farms, tower_count, rules):
    """Currents of the machine: all towers, the booster, the largest of them, and what conductors
    and switches are chosen by (NEC 675.22). Nameplates count where they are given (675.7)."""
    has_towers, has_booster = tower_count > 0, farms["booster_hp"] > 0
    table_a = {"tower_table_a": _table_current_between(farms["tower_motor_hp"], rules),
               "booster_table_a": _table_current_between(farms["booster_hp"], rules)}
    tower_a = np.where(has_towers, given_or(farms["tower_motor_a"], table_a["tower_table_a"]), 0.0)
    booster_a = np.where(has_booster,
                         given_or(farms["booster_motor_a"], table_a["booster_table_a"]),
                         0.0)
    towers_a, largest_a = tower_a * tower_count, np.maximum(tower_a, booster_a)
    others_a = towers_a + booster_a - largest_a
    largest_hp = np.where(booster_a > tower_a, farms["booster_hp"], farms["tower_motor_hp"])
    locked_a = np.where(has_towers | has_booster, _table_current_between(
        largest_hp, rules, LOCKED_ROTOR_TABLE), 0.0)
    return table_a | {
        "towers_a": towers_a, "booster_a": booster_a, "pivot_largest_a": largest_a,
        "pivot_largest_locked_a": locked_a,
        "pivot_machine_a": motors.continuous_motor_group_a(
            largest_a=largest_a, others_a=others_a, others_share=0.60),
        "pivot_locked_rotor_a": motors.locked_rotor_group_a(
            largest_locked_rotor_a=locked_a, others_a=others_a)}


def _table_current_between(motor_hp, rules, name=MOTOR_TABLE):
    """Current of the next table rating that is not smaller: small motors come in odd ratings."""
    next_hp = next_standard_size(required=motor_hp, sizes=column(name, "hp"))
    return table_amperes(next_hp, rules, name)
