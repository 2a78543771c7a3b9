"""From the field to the motor: what each farm's pump and pivot need, whatever supplies them."""

import numpy as np
import pandas as pd

from batch.engineering import motors, pumping
from batch.engineering.transformer import next_standard_size
from batch.tables import column, sizes, snapped_to_size, value_at

MOTOR_TABLE = "motor_full_load_current_three_phase"


def pump_load(candidates: pd.DataFrame, rules) -> pd.DataFrame:
    """Head, power, motor, pivot and hours of each farm (index as given)."""
    c, out = candidates, pd.DataFrame(index=candidates.index)
    out["pipe_friction_ft"] = pumping.pipe_friction_ft(
        flow_gpm=c["flow_gpm"], pipe_length_ft=c["pipe_length_ft"],
        pipe_diameter_in=c["pipe_diameter_in"], pipe_c=c["pipe_c"])
    out["total_head_ft"] = pumping.total_head_ft(
        pumping_lift_ft=c["pumping_lift_ft"], elevation_gain_ft=c["elevation_gain_ft"],
        pivot_pressure_psi=c["pivot_pressure_psi"], pipe_friction_ft=out["pipe_friction_ft"],
        fittings_allowance_pct=rules["fittings_allowance_pct"])
    out["water_power_hp"] = pumping.water_power_hp(
        flow_gpm=c["flow_gpm"], total_head_ft=out["total_head_ft"])
    out["shaft_power_hp"] = pumping.shaft_power_hp(
        water_power_hp=out["water_power_hp"], pump_efficiency_pct=c["pump_efficiency_pct"])
    hours_by_depth = pumping.season_hours(
        irrigated_area_acre=c["irrigated_area_acre"], gross_depth_in=c["gross_depth_in"],
        flow_gpm=c["flow_gpm"])
    out["hours_by_depth"] = hours_by_depth
    out["season_hours"] = given_or(c["season_hours"], hours_by_depth)
    out = out.join(_motor(c, out["shaft_power_hp"]))
    return out.join(_pivot(c, rules))


def given_or(given, otherwise):
    """The given values, and where they are unknown the others."""
    return np.where(np.isnan(given), otherwise, given)


def _motor(c, shaft_power_hp):
    """The nameplate motor where there is one, else the next standard rating."""
    standard_hp = next_standard_size(required=shaft_power_hp, sizes=sizes("motor_hp"))
    motor = pd.DataFrame(index=c.index)
    motor["pump_motor_hp"] = given_or(
        snapped_to_size(c["pump_motor_hp"], "motor_hp"), standard_hp)
    motor["motor_efficiency_used_pct"] = given_or(
        c["motor_efficiency_pct"],
        value_at("motor_efficiency", "hp", motor["pump_motor_hp"], "open_premium"))
    motor["motor_table_a"] = value_at(MOTOR_TABLE, "hp", motor["pump_motor_hp"], "A_460V")
    motor["motor_input_kw"] = motors.motor_input_kw(
        shaft_power_hp=shaft_power_hp, motor_efficiency_pct=motor["motor_efficiency_used_pct"])
    return motor


def _pivot(c, rules):
    """Towers, their mean demand, and the current that the machine's conductors must carry."""
    pivot = pd.DataFrame(index=c.index)
    length_ft = c["pivot_length_ft"].fillna(0)
    pivot["tower_count_used"] = given_or(c["tower_count"], pumping.towers_by_length(
        pivot_length_ft=length_ft, tower_span_ft=rules["tower_span_ft"]))
    pivot["tower_mean_duty"] = pumping.tower_mean_duty(
        tower_count=pivot["tower_count_used"], tower_duty_pct=c["tower_duty_pct"])
    small = {"load_pct": rules["tower_load_pct"],
             "motor_efficiency_pct": rules["tower_motor_efficiency_pct"]}
    pivot["pivot_demand_kw"] = (
        motors.small_motors_kw(motor_count=pivot["tower_count_used"], duty=pivot["tower_mean_duty"],
                               motor_hp=c["tower_motor_hp"], **small)
        + motors.small_motors_kw(motor_count=1, duty=1, motor_hp=c["booster_hp"], **small))
    currents = _pivot_currents(c["tower_motor_hp"], pivot["tower_count_used"], c["booster_hp"])
    return pivot.assign(**currents)


def _pivot_currents(tower_motor_hp, tower_count, booster_hp):
    """Table currents of the machine: all towers, the booster, and the continuous duty current of
    NEC 675.22(A): 125 % of the largest motor and 60 % of the rest."""
    tower_a = np.where(tower_count > 0, _table_current_between(tower_motor_hp), 0.0)
    towers_a = tower_a * tower_count
    booster_a = np.where(booster_hp > 0, _table_current_between(booster_hp), 0.0)
    largest_a = np.maximum(tower_a, booster_a)
    return {"towers_a": towers_a, "booster_a": booster_a,
            "pivot_machine_a": motors.continuous_motor_group_a(
                largest_a=largest_a, others_a=towers_a + booster_a - largest_a,
                others_share=0.60)}


def _table_current_between(motor_hp):
    """Current of the next table rating that is not smaller: small motors come in odd ratings."""
    next_hp = next_standard_size(required=motor_hp, sizes=column(MOTOR_TABLE, "hp"))
    return value_at(MOTOR_TABLE, "hp", next_hp, "A_460V")
