"""Cross-checks of the engineer's cells against each other, once the physics is computed."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from batch.columns import CANDIDATES
from batch.columns.candidates import GENERATOR, ROTARY
from batch.columns.lists import shares
from batch.economics.fuel import fuel_plausibility_ratio
from batch.engineering import pumping
from batch.reading.sheet_cells import letters_of
from batch.tables import sizes

SHEET = CANDIDATES.name
# Field bounds; common practice where no source is named.
HOURS_TOLERANCE = 0.10
SPAN_FT = (100, 240)
FLOW_PER_ACRE_GPM = (2.5, 12)  # supply capacity of pivots, extension guides print 4 to 10
VELOCITY_FT_S = (0.5, 7)       # 5 ft/s is the usual design limit of supply pipe
FUEL_RATIO = (0.6, 1.6)
FUEL_TOLERANCE = 0.10  # between the year's fuel and the measured rate; common practice, no source
DEMAND_RATIO = (0.6, 1.6)
NAMEPLATE_RATIO = (0.75, 1.15)
PIVOT_NAMEPLATE_RATIO = (0.6, 1.6)  # gear motors of towers are wound for torque
HOURS_IN_YEAR, HOURS_IN_MONTH = 8760, 744
STANDARD_HP = sizes("motor_hp")


@dataclass(frozen=True)
class CrossCheck:
    """What two cells of a row must agree on; a finding stands on the cell of `key` where they do
    not. `value` is a column of `compared`, `limit` another one or a number.

    Flagged is a value `outside` of two bounds, above the limit, or, by `how`, below it or apart
    from it by more than a `tolerance` of it; without a limit every known value.
    """

    slug: str
    key: str
    value: str
    sentence: str
    outside: tuple[float, float] | None = None
    limit: str | float | None = None
    how: str = "above"
    tolerance: float = 0.0


CROSS_CHECKS = (
    CrossCheck("hours-against-depth", "season_hours", "given_beside_depth_h",
               "{cell}: {value:,.0f} hours were given, but area, depth and flow ask for "
               "{limit:,.0f}.",
               limit="hours_by_depth", how="apart", tolerance=HOURS_TOLERANCE),
    CrossCheck("hours-beyond-year", "gross_depth_in", "season_hours",
               "{cell}: the depth asks for {value:,.0f} pumping hours; a year has {limit:,.0f}.",
               limit=HOURS_IN_YEAR),
    CrossCheck("area-exceeds-circle", "irrigated_area_acre", "pivot_area_acre",
               "{cell}: {value:,.1f} acres; the pivot's circle with end gun is {limit:,.1f}.",
               limit="circle_acre"),
    CrossCheck("towers-against-length", "tower_count", "span_ft",
               "{cell}: the length and the towers give spans of {value:,.0f} ft; "
               "{low:,.0f} to {high:,.0f} ft are built.", outside=SPAN_FT),
    CrossCheck("motor-below-shaft-power", "pump_motor_hp", "given_hp",
               "{cell}: the nameplate says {value:,.1f} hp; the pump needs {limit:,.1f} hp at "
               "its shaft.", limit="shaft_power_hp", how="below"),
    CrossCheck("motor-oversized", "pump_motor_hp", "given_hp",
               "{cell}: the nameplate says {value:,.1f} hp; the pump needs less than half, "
               "with twice its shaft power at {limit:,.1f} hp.", limit="twice_shaft_hp"),
    CrossCheck("motor-not-standard", "pump_motor_hp", "odd_hp",
               "{cell}: {value:g} hp is not a standard rating. Ratings: "
               + ", ".join(f"{hp:g}" for hp in STANDARD_HP) + "."),
    CrossCheck("fuel-against-criteria", "fuel_rate", "fuel_ratio",
               "{cell}: the measured fuel is {value:.2f} times what the pumping work should "
               "take; {low:g} to {high:g} is believable.", outside=FUEL_RATIO),
    CrossCheck("fuel-against-criteria", "annual_fuel_use", "year_fuel_ratio",
               "{cell}: the year's fuel is {value:.2f} times what the pumping work should "
               "take; {low:g} to {high:g} is believable.", outside=FUEL_RATIO),
    CrossCheck("fuel-use-against-rate", "annual_fuel_use", "annual_fuel_use",
               "{cell}: {value:,.0f} a year were given, but the fuel rate and the pumping hours "
               "make {limit:,.0f}.",
               limit="fuel_by_rate", how="apart", tolerance=FUEL_TOLERANCE),
    CrossCheck("generator-below-load", "generator_kw", "own_generator_kw",
               "{cell}: the generator is rated {value:,.0f} kW; pump and pivot need "
               "{limit:,.1f} kW.", limit="running_kw", how="below"),
    CrossCheck("present-demand-unlikely", "present_demand_kw", "present_demand_ratio",
               "{cell}: the present demand is {value:.2f} times what the pumping work should "
               "take; {low:g} to {high:g} is believable.", outside=DEMAND_RATIO),
    CrossCheck("flow-per-acre", "flow_gpm", "gpm_per_acre",
               "{cell}: {value:.1f} gal/min per acre; {low:g} to {high:g} is usual.",
               outside=FLOW_PER_ACRE_GPM),
    CrossCheck("present-demand-ignored", "present_demand_kw", "idle_demand_kw",
               "{cell}: {value:,.1f} kW were not used, since the farm has no rotary converter."),
    CrossCheck("month-hours", "season_hours", "longest_month_h",
               "{cell}: the season profile gives its fullest month {value:,.0f} "
               "hours; a month has {limit:,.0f}.", limit=HOURS_IN_MONTH),
    CrossCheck("nameplate-current", "motor_full_load_a", "nameplate_ratio",
               "{cell}: the nameplate current is {value:.2f} times the table's; {low:g} to "
               "{high:g} is usual.", outside=NAMEPLATE_RATIO),
    CrossCheck("nameplate-above-table", "motor_full_load_a", "usual_nameplate_a",
               "{cell}: the nameplate's {value:,.1f} A are above the table's {limit:,.1f} A.",
               limit="motor_table_a"),
    *(CrossCheck("pivot-nameplate-current", key, f"{key}_ratio",
                 "{cell}: the nameplate current is {value:.2f} times the table's; "
                 "{low:g} to {high:g} is usual.", outside=PIVOT_NAMEPLATE_RATIO)
      for key in ("tower_motor_a", "booster_motor_a")),
    CrossCheck("pipe-velocity", "pipe_diameter_in", "velocity_ft_s",
               "{cell}: water would run at {value:.1f} ft/s; {low:g} to {high:g} is usual.",
               outside=VELOCITY_FT_S),
)


def compared(farms: pd.DataFrame, rules) -> pd.DataFrame:
    """The farms with what the cross-checks compare, beside what the steps made of them."""
    is_rotary = farms["present_power"] == ROTARY
    given_hp = farms["pump_motor_hp"].where(farms["nameplate_motor_hp"].notna())
    running_kw = farms["motor_input_kw"] + farms["pivot_demand_kw"]
    nameplate_ratio = farms["motor_full_load_a"] / farms["motor_table_a"]
    ratio_of = {name: pd.Series(fuel_plausibility_ratio(
        measured_fuel_rate=farms[key], criteria_fuel_rate=farms["computed_fuel_rate"]), farms.index)
        for name, key in (("rate", "fuel_rate"), ("year", "season_fuel_rate"))}
    velocity = pumping.pipe_velocity_ft_s(
        flow_gpm=farms["flow_gpm"], pipe_diameter_in=farms["pipe_diameter_in"])
    return farms.assign(
        given_beside_depth_h=farms["given_season_hours"].where(farms["gross_depth_in"].notna()),
        pivot_area_acre=farms["irrigated_area_acre"].where(farms["pivot_length_ft"] > 0),
        circle_acre=pumping.circle_area_acre(
            radius_ft=farms["pivot_length_ft"] + rules["end_gun_allowance_ft"]),
        span_ft=farms["pivot_length_ft"] / farms["tower_count"].where(farms["tower_count"] > 0),
        given_hp=given_hp, twice_shaft_hp=2 * farms["shaft_power_hp"],
        odd_hp=given_hp.where(~given_hp.isin(STANDARD_HP)),
        fuel_ratio=ratio_of["rate"],
        year_fuel_ratio=ratio_of["year"].where(farms["fuel_rate"].isna()),
        fuel_by_rate=farms["fuel_rate"] * farms["season_hours"],
        running_kw=running_kw,
        own_generator_kw=farms["generator_kw"].where(farms["present_power"] == GENERATOR),
        present_demand_ratio=(farms["present_demand_kw"] / (
            running_kw / (rules["converter_efficiency_pct"] / 100))).where(is_rotary),
        idle_demand_kw=farms["present_demand_kw"].where(
            ~is_rotary & (farms["present_demand_kw"] > 0)),
        gpm_per_acre=farms["flow_gpm"] / farms["irrigated_area_acre"],
        longest_month_h=farms["season_hours"] * max(shares(rules["season_share_pct"])) / 100,
        nameplate_ratio=nameplate_ratio,
        usual_nameplate_a=farms["motor_full_load_a"].where(nameplate_ratio <= NAMEPLATE_RATIO[1]),
        tower_motor_a_ratio=farms["tower_motor_a"] / farms["tower_table_a"],
        booster_motor_a_ratio=farms["booster_motor_a"] / farms["booster_table_a"],
        velocity_ft_s=velocity.where(farms["pipe_length_ft"] > 0))


def cross_check(farms: pd.DataFrame, rules, cells, findings):
    """Add a finding for every row whose cells do not fit each other. Errors make a row faulty."""
    farms = compared(farms, rules)
    letters = letters_of(cells)
    for check in CROSS_CHECKS:
        values = farms[check.value]
        limit = _limit(check, farms, values)
        low, high = check.outside or (None, None)
        column = letters.get(check.key, "")
        for row in farms.index[_is_flagged(check, values, limit)]:
            value, bound = values.loc[row], None if limit is None else limit.loc[row]
            cell = f"{SHEET}!{column}{row}" if column else f"{SHEET} row {row}"
            findings.add(
                check.slug,
                check.sentence.format(cell=cell, value=value, limit=bound, low=low, high=high),
                sheet=SHEET, row=int(row), column=column, key=check.key, value=f"{value:.6g}",
                limit="" if bound is None else f"{bound:.6g}",
                candidate_id=farms.loc[row, "candidate_id"])


def _limit(check: CrossCheck, farms, values):
    """What each value is held against, (n,); for two bounds the nearer one. None: nothing."""
    if check.outside:
        low, high = check.outside
        return pd.Series(np.where(values < low, low, high), farms.index)
    if check.limit is None:
        return None
    return farms[check.limit] if check.limit in farms else pd.Series(check.limit, farms.index)


def _is_flagged(check: CrossCheck, values, limit):
    """Mask (n,) of the farms whose value is wrong; an unknown one never is."""
    if check.outside:
        low, high = check.outside
        return (values < low) | (values > high)
    if limit is None:
        return values.notna()
    return {"above": values > limit, "below": values < limit,
            "apart": np.abs(values / limit - 1) > check.tolerance}[check.how]
