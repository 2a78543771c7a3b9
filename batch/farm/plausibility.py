"""Cross-checks of the engineer's cells against each other, once the physics is computed."""

import numpy as np
import pandas as pd

from batch.columns import CANDIDATES
from batch.columns.candidates import GENERATOR, ROTARY
from batch.columns.lists import shares
from batch.economics.fuel import fuel_plausibility_ratio
from batch.engineering import pumping
from batch.tables import sizes

SHEET = CANDIDATES.name
# Field bounds; common practice where no source is named.
HOURS_TOLERANCE = 0.10
LARGEST_CIRCLE_SHARE = 1.0
SPAN_FT = (100, 240)
FLOW_PER_ACRE_GPM = (2.5, 12)  # supply capacity of pivots, extension guides print 4 to 10
VELOCITY_FT_S = (0.5, 7)       # 5 ft/s is the usual design limit of supply pipe
FUEL_RATIO = (0.6, 1.6)
FUEL_TOLERANCE = 0.10  # between the year's fuel and the measured rate; common practice, no source
DEMAND_RATIO = (0.6, 1.6)
NAMEPLATE_RATIO = (0.75, 1.15)
PIVOT_NAMEPLATE_RATIO = (0.6, 1.6)  # gear motors of towers are wound for torque
HOURS_IN_YEAR, HOURS_IN_MONTH = 8760, 744


def cross_check(candidates, load, plant, rules, cells, findings):
    """Add a finding for every row whose cells do not fit each other. Errors make a row faulty."""
    farms = candidates
    check = _Reporter(farms, cells, findings)
    both = farms["season_hours"].notna() & farms["gross_depth_in"].notna()
    ratio = farms["season_hours"] / load["hours_by_depth"]
    check.report("hours-against-depth", both & (np.abs(ratio - 1) > HOURS_TOLERANCE),
                 "season_hours", farms["season_hours"], load["hours_by_depth"],
                 "{cell}: {value:,.0f} hours were given, but area, depth and flow ask for "
                 "{limit:,.0f}.")
    check.report("hours-beyond-year", load["season_hours"] > HOURS_IN_YEAR, "gross_depth_in",
                 load["season_hours"], HOURS_IN_YEAR,
                 "{cell}: the depth asks for {value:,.0f} pumping hours; a year has {limit:,.0f}.")
    radius = farms["pivot_length_ft"] + rules["end_gun_allowance_ft"]
    circle = pd.Series(pumping.circle_area_acre(radius_ft=radius), farms.index)
    check.report("area-exceeds-circle",
                 (farms["pivot_length_ft"] > 0) & (farms["irrigated_area_acre"] > circle
                                                   * LARGEST_CIRCLE_SHARE),
                 "irrigated_area_acre", farms["irrigated_area_acre"], circle,
                 "{cell}: {value:,.1f} acres; the pivot's circle with end gun is {limit:,.1f}.")
    span = farms["pivot_length_ft"] / farms["tower_count"].where(farms["tower_count"] > 0)
    check.outside("towers-against-length", span, SPAN_FT, "tower_count",
                  "{cell}: the length and the towers give spans of {value:,.0f} ft; "
                  "{low:,.0f} to {high:,.0f} ft are built.")
    given_hp = load["pump_motor_hp"].where(farms["pump_motor_hp"].notna())
    check.report("motor-below-shaft-power", given_hp < load["shaft_power_hp"], "pump_motor_hp",
                 given_hp, load["shaft_power_hp"],
                 "{cell}: the nameplate says {value:,.1f} hp; the pump needs {limit:,.1f} hp at "
                 "its shaft.")
    check.report("motor-oversized", given_hp > 2 * load["shaft_power_hp"], "pump_motor_hp",
                 given_hp, 2 * load["shaft_power_hp"],
                 "{cell}: the nameplate says {value:,.1f} hp; the pump needs less than half, "
                 "with twice its shaft power at {limit:,.1f} hp.")
    standard = sizes("motor_hp")
    check.report("motor-not-standard", given_hp.notna() & ~given_hp.isin(standard),
                 "pump_motor_hp", given_hp, None,
                 "{cell}: {value:g} hp is not a standard rating. Ratings: "
                 + ", ".join(f"{hp:g}" for hp in standard) + ".")
    fuel_ratio = fuel_plausibility_ratio(
        measured_fuel_rate=farms["fuel_rate"], criteria_fuel_rate=plant["computed_fuel_rate"])
    check.outside("fuel-against-criteria", pd.Series(fuel_ratio, farms.index), FUEL_RATIO,
                  "fuel_rate",
                  "{cell}: the measured fuel is {value:.2f} times what the pumping work should "
                  "take; {low:g} to {high:g} is believable.")
    of_year = fuel_plausibility_ratio(measured_fuel_rate=plant["season_fuel_rate"],
                                      criteria_fuel_rate=plant["computed_fuel_rate"])
    check.outside("fuel-against-criteria",
                  pd.Series(of_year, farms.index).where(farms["fuel_rate"].isna()),
                  FUEL_RATIO, "annual_fuel_use",
                  "{cell}: the year's fuel is {value:.2f} times what the pumping work should "
                  "take; {low:g} to {high:g} is believable.")
    by_rate = farms["fuel_rate"] * load["season_hours"]
    check.report("fuel-use-against-rate",
                 np.abs(farms["annual_fuel_use"] / by_rate - 1) > FUEL_TOLERANCE, "annual_fuel_use",
                 farms["annual_fuel_use"], by_rate,
                 "{cell}: {value:,.0f} a year were given, but the fuel rate and the pumping hours "
                 "make {limit:,.0f}.")
    running_kw = load["motor_input_kw"] + load["pivot_demand_kw"]
    check.report("generator-below-load",
                 (farms["present_power"] == GENERATOR) & (farms["generator_kw"] < running_kw),
                 "generator_kw", farms["generator_kw"], running_kw,
                 "{cell}: the generator is rated {value:,.0f} kW; pump and pivot need "
                 "{limit:,.1f} kW.")
    by_converter_kw = running_kw / (rules["converter_efficiency_pct"] / 100)
    present_ratio = (farms["present_demand_kw"]
                     / by_converter_kw).where(farms["present_power"] == ROTARY)
    check.outside("present-demand-unlikely", present_ratio, DEMAND_RATIO, "present_demand_kw",
                  "{cell}: the present demand is {value:.2f} times what the pumping work should "
                  "take; {low:g} to {high:g} is believable.")
    check.outside("flow-per-acre", farms["flow_gpm"] / farms["irrigated_area_acre"],
                  FLOW_PER_ACRE_GPM,
                  "flow_gpm", "{cell}: {value:.1f} gal/min per acre; {low:g} to {high:g} is usual.")
    check.report("present-demand-ignored",
                 (farms["present_power"] != ROTARY) & (farms["present_demand_kw"] > 0),
                 "present_demand_kw",
                 farms["present_demand_kw"], None,
                 "{cell}: {value:,.1f} kW were not used, since the farm has no rotary converter.")
    longest_month = pd.Series(load["season_hours"] * max(shares(rules["season_share_pct"])) / 100)
    check.report("month-hours", longest_month > HOURS_IN_MONTH, "season_hours", longest_month,
                 HOURS_IN_MONTH, "{cell}: the season profile gives its fullest month {value:,.0f} "
                 "hours; a month has {limit:,.0f}.")
    check.outside("nameplate-current", farms["motor_full_load_a"] / load["motor_table_a"],
                  NAMEPLATE_RATIO, "motor_full_load_a",
                  "{cell}: the nameplate current is {value:.2f} times the table's; {low:g} to "
                  "{high:g} is usual.")
    ratio = farms["motor_full_load_a"] / load["motor_table_a"]
    check.report("nameplate-above-table", (ratio > 1) & (ratio <= NAMEPLATE_RATIO[1]),
                 "motor_full_load_a", farms["motor_full_load_a"], load["motor_table_a"],
                 "{cell}: the nameplate's {value:,.1f} A are above the table's {limit:,.1f} A.")
    for key, table_key in (("tower_motor_a", "tower_table_a"),
                           ("booster_motor_a", "booster_table_a")):
        check.outside("pivot-nameplate-current", farms[key] / load[table_key],
                      PIVOT_NAMEPLATE_RATIO,
                      key, "{cell}: the nameplate current is {value:.2f} times the table's; "
                      "{low:g} to {high:g} is usual.")
    velocity = pumping.pipe_velocity_ft_s(
        flow_gpm=farms["flow_gpm"], pipe_diameter_in=farms["pipe_diameter_in"])
    check.outside("pipe-velocity", velocity.where(farms["pipe_length_ft"] > 0), VELOCITY_FT_S,
                  "pipe_diameter_in",
                  "{cell}: water would run at {value:.1f} ft/s; {low:g} to {high:g} is usual.")


class _Reporter:
    """Puts a finding on the cell of each flagged row."""

    def __init__(self, candidates, cells, findings):
        self.candidates, self.findings = candidates, findings
        self.letters = {h.key: h.letter for h in cells.headers if h.key}

    def outside(self, slug, values, bounds, key, message):
        """Flag values outside two bounds."""
        low, high = bounds
        limit = pd.Series(np.where(values < low, low, high), values.index)
        self.report(slug, (values < low) | (values > high), key, values, limit, message,
                    low=low, high=high)

    def report(self, slug, flagged, key, values, limits, message, **more):
        """Flag the rows of a mask; `limits` is a series, a number or None."""
        column = self.letters.get(key, "")
        for row in self.candidates.index[flagged.fillna(False).astype(bool)]:
            limit = limits.loc[row] if isinstance(limits, pd.Series) else limits
            cell = f"{SHEET}!{column}{row}" if column else f"{SHEET} row {row}"
            self.findings.add(
                slug, message.format(cell=cell, value=values.loc[row], limit=limit, **more),
                sheet=SHEET, row=int(row), column=column, key=key,
                value=f"{values.loc[row]:.6g}", limit="" if limit is None else f"{limit:.6g}",
                candidate_id=self.candidates.loc[row, "candidate_id"])
