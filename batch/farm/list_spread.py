"""The list's own spread beside the public irrigation survey's figures for the state: a list in
wrong units, or of farms unlike the state's, shows here before anything is built on it."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from batch.columns import CANDIDATES
from batch.columns.candidates import ENGINES, GENERATOR
from batch.columns.list_spread import LIST_SPREAD
from batch.engineering.pumping import FEET_PER_PSI, GPM_H_PER_ACRE_INCH
from batch.tables import table

SURVEY_TABLE = "irrigation_survey"
# How far a list may be from the survey's figure; common practice, no source. A few farms are no
# list, and a state's mean covers many kinds of farm.
TIMES_APART, POINTS_APART, FEWEST_FARMS = 3.0, 40.0, 5
WELLS = "USDA NASS, Farm and Ranch Irrigation Survey 2013, table 8"
ENERGY = "USDA NASS, Farm and Ranch Irrigation Survey 2013, table 12"
WATER = "USDA NASS, Irrigation and Water Management Survey 2018"
DERIVED = "derived from the survey by the National Renewable Energy Laboratory"
CORN = "mean of electric pumps on wells, corn"
DIESEL = ENGINES[0]


@dataclass(frozen=True)
class Quantity:
    """One thing that the survey tells of a state: what each farm of the list has of it, what the
    survey has, and the columns of both. `taken` are the survey's columns."""

    name: str
    unit: str
    of_farms: Callable[[pd.DataFrame], pd.Series]
    cells: tuple[str, ...]
    of_state: Callable[[pd.Series], float]
    taken: tuple[str, ...]
    survey_is: str
    source: str


def _column(key):
    return lambda rows: rows[key]


def _share(engine):
    """The survey's acres of an engine in percent of those of all engines."""
    return lambda state: 100 * state[_acres_of(engine)] / state[list(ENGINE_ACRES)].sum()


def _acres_of(engine):
    return f"{engine.removesuffix(' engine').replace(' ', '_')}_acre"


ENGINE_ACRES = tuple(map(_acres_of, ENGINES))
MAGNITUDES = (
    Quantity("Total head", "ft", _column("total_head_ft"),
             ("pumping_lift_ft", "pivot_pressure_psi"),
             lambda state: state["well_depth_ft"] + FEET_PER_PSI * state["pressure_psi"],
             ("well_depth_ft", "pressure_psi"),
             "mean depth of irrigation wells and mean pressure; water stands above a well's bottom",
             WELLS),
    Quantity("Pressure", "psi", _column("pivot_pressure_psi"), ("pivot_pressure_psi",),
             _column("pressure_psi"), ("pressure_psi",), "mean operating pressure of wells", WELLS),
    Quantity("Flow", "gal/min", _column("flow_gpm"), ("flow_gpm",), _column("flow_gpm"),
             ("flow_gpm",), "mean pumping capacity of wells", WELLS),
    Quantity("Pump motor", "hp", _column("pump_motor_hp"), ("pump_motor_hp",),
             _column("motor_hp"), ("motor_hp",), CORN, DERIVED),
    Quantity("Hours per acre", "h/acre",
             lambda farms: farms["season_hours"] / farms["irrigated_area_acre"],
             ("season_hours", "irrigated_area_acre"), _column("hours_per_acre"),
             ("hours_per_acre",), CORN, DERIVED),
    Quantity("Water per season", "in",
             lambda farms: (farms["season_hours"] * farms["flow_gpm"] / GPM_H_PER_ACRE_INCH
                            / farms["irrigated_area_acre"]),
             ("season_hours", "flow_gpm", "irrigated_area_acre"),
             lambda state: 12 * state["water_acre_ft"] / state["irrigated_acre"],
             ("water_acre_ft", "irrigated_acre"), "mean of all irrigated land", WATER))
SHARES = tuple(
    Quantity(f"Farms with a {engine}", "%",
             lambda farms, engine=engine: 100.0 * (farms["present_power"].replace(
                 GENERATOR, DIESEL)[farms["present_power"].isin((*ENGINES, GENERATOR))] == engine),
             ("present_power",), _share(engine), ENGINE_ACRES,
             "share of the acres that engines water", ENERGY)
    for engine in ENGINES)
QUANTITIES = {quantity.name: quantity for quantity in (*MAGNITUDES, *SHARES)}


def spread_of(farms: pd.DataFrame, state: str | None) -> pd.DataFrame:
    """A row for each quantity, as `LIST_SPREAD` has it; none where no state is named.

    Farms are those without an error, with what the water asks of them.
    """
    rows = []
    survey = table(SURVEY_TABLE).set_index("state")
    for quantity in QUANTITIES.values() if state else ():
        own = quantity.of_farms(farms).dropna()
        row = {"quantity": quantity.name, "unit": quantity.unit, "farms": len(own),
               "low": np.nan, "middle": own.mean(), "high": np.nan,
               "survey": quantity.of_state(survey.loc[state]),
               "survey_is": quantity.survey_is, "survey_source": quantity.source}
        if quantity in MAGNITUDES and len(own):
            row["low"], row["middle"], row["high"] = np.percentile(own, (10, 50, 90))
        rows.append(row)
    return pd.DataFrame(rows, columns=list(LIST_SPREAD.by_key))


def remark_on_spread(spread: pd.DataFrame, state: str | None, findings):
    """A watch for each quantity of which the list is far from the survey."""
    for row in spread.to_dict("records"):
        quantity, own, theirs = QUANTITIES[row["quantity"]], row["middle"], row["survey"]
        if row["farms"] < FEWEST_FARMS or not _is_apart(quantity, own, theirs):
            continue
        by = (f"more than {POINTS_APART:g} points" if quantity in SHARES
              else f"more than {TIMES_APART:g} times")
        what = "share" if quantity in SHARES else "median"
        findings.add(
            "list-unlike-survey",
            f"{CANDIDATES.name}: {quantity.name.lower()}: the {what} of {row['farms']} farms is "
            f"{own:,.4g} {quantity.unit}; the irrigation survey's figure for {state} is "
            f"{theirs:,.4g} ({quantity.survey_is}), {by} apart.",
            sheet=CANDIDATES.name, key=quantity.cells[0], value=f"{own:.6g}",
            limit=f"{theirs:.6g}")


def _is_apart(quantity, own, theirs):
    """Whether a list's figure is too far from the survey's; an unknown one never is."""
    if quantity in SHARES:
        return abs(own - theirs) > POINTS_APART
    return own > TIMES_APART * theirs or own < theirs / TIMES_APART
