"""The present plant of each farm: its fuel and upkeep, measured or by published criteria."""

import numpy as np
import pandas as pd

from batch.columns.candidates import GENERATOR, NO_POWER, ROTARY
from batch.economics import fuel
from batch.engineering.motors import KW_PER_HP
from batch.farm.water import given_or
from batch.step import step
from batch.tables import table, value_at

GENERATOR_LOAD_SHARE = 0.75  # a set is bought to carry its load at three quarters of its rating
LOAD_COLUMNS = {"quarter": 0.25, "half": 0.5, "three_quarter": 0.75, "full": 1.0}
# New irrigation is compared with the engine that would be bought if electric service were not.
COMPARED_ENGINE = "diesel engine"


def engine_of(candidates: pd.DataFrame) -> pd.Series:
    """The engine that each farm is compared with."""
    return candidates["present_power"].where(candidates["present_power"] != NO_POWER,
                                             COMPARED_ENGINE)


def compared_with(candidates: pd.DataFrame) -> pd.Series:
    """In words, what each farm's electric service is compared with."""
    return candidates["present_power"].map(
        lambda power: f"a new {COMPARED_ENGINE}, since the farm is new irrigation"
        if power == NO_POWER else f"the present {power}")


@step(
    needs="""
        present_power fuel_rate annual_fuel_use fuel_price_usd generator_kw engine_upkeep_usd_h
        season_hours performance_rating_pct water_power_hp motor_input_kw pivot_demand_kw""",
    rules="engine_upkeep_usd_h",
    makes="""
        computed_fuel_rate season_fuel_rate used_fuel_rate present_fuel_per_yr fuel_cost_usd_yr
        used_upkeep_usd_h upkeep_cost_usd_yr compared_with""")
def present_plant(farms: pd.DataFrame, rules) -> pd.DataFrame:
    """Fuel, upkeep and emissions basis of the present plant of each farm."""
    engine = engine_of(farms)
    rating_pct = farms["performance_rating_pct"].where(farms["present_power"] != NO_POWER, 100.0)
    by_criteria = fuel.engine_fuel_rate(
        water_power_hp=farms["water_power_hp"].to_numpy(),
        other_shaft_power_hp=farms["pivot_demand_kw"].to_numpy() / KW_PER_HP,
        water_hp_h_per_unit=value_at("fuels", "present_power", engine, "water_hp_h_per_unit"),
        shaft_hp_h_per_unit=value_at("fuels", "present_power", engine, "shaft_hp_h_per_unit"),
        performance_rating_pct=rating_pct.to_numpy())
    by_set = _generator_fuel(farms["generator_kw"].to_numpy(),
                             (farms["motor_input_kw"] + farms["pivot_demand_kw"]).to_numpy())
    computed = np.where(farms["present_power"] == GENERATOR, by_set, by_criteria)
    out = pd.DataFrame(index=farms.index)
    out["computed_fuel_rate"] = computed
    by_year = fuel.season_fuel_rate(annual_fuel_use=farms["annual_fuel_use"].to_numpy(),
                                    season_hours=farms["season_hours"].to_numpy())
    out["season_fuel_rate"] = by_year
    out["used_fuel_rate"] = fuel.used_fuel_rate(
        measured_fuel_rate=given_or(farms["fuel_rate"], by_year), criteria_fuel_rate=computed)
    is_rotary = (farms["present_power"] == ROTARY).to_numpy()
    out["present_fuel_per_yr"] = np.where(is_rotary, 0.0, fuel.season_fuel(
        fuel_rate=out["used_fuel_rate"].to_numpy(), season_hours=farms["season_hours"].to_numpy()))
    out["fuel_cost_usd_yr"] = np.where(
        is_rotary, 0.0, out["present_fuel_per_yr"] * farms["fuel_price_usd"])
    out["used_upkeep_usd_h"] = given_or(
        farms["engine_upkeep_usd_h"], np.where(is_rotary, 0.0, rules["engine_upkeep_usd_h"]))
    out["upkeep_cost_usd_yr"] = farms["season_hours"] * out["used_upkeep_usd_h"]
    out["compared_with"] = compared_with(farms)
    return out


def _generator_fuel(rated_kw, load_kw):
    """Fuel of a generator set from the published part-load chart [gal/h]."""
    chart = table("generator_fuel")
    listed_kw = chart["kW"].to_numpy(float)
    place = np.searchsorted(listed_kw, load_kw / GENERATOR_LOAD_SHARE)
    by_load = np.append(listed_kw, np.nan)[np.where(np.isnan(load_kw), len(listed_kw), place)]
    rated_kw = np.where(np.isnan(rated_kw), by_load, rated_kw)
    curve = fuel.generator_fuel_curve(
        generator_rated_kw=rated_kw, table_rated_kw=listed_kw,
        table_fuel_rate=chart[list(LOAD_COLUMNS)].to_numpy(float))
    return fuel.generator_fuel_rate(
        load_fraction=load_kw / rated_kw, curve_fuel_rate=curve,
        curve_load_fraction=np.array(list(LOAD_COLUMNS.values())))
