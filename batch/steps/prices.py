"""What each design costs, item by item, from the Unit costs sheet."""

import numpy as np
import pandas as pd

from batch.columns import unit_costs as listed
from batch.columns.candidates import ENGINES, NO_POWER, OVERHEAD, ROTARY, SINGLE_PHASE_DRIVE
from batch.columns.program import COST_ITEMS, LEADS, item_key
from batch.economics import line_cost
from batch.engineering.transformer import next_standard_size
from batch.portfolio import shared_lines
from batch.steps.supply import is_option
from batch.tables import table


def price_usd(unit_costs, item, *, size=None, phases=None, line_build=None):
    """Price of one item for every row: the first listed size that is not too small.

    Parameters
    ----------
    unit_costs : the Unit costs sheet
    size : array (n,) [of the item], NaN where unknown; None where the item has no size
    phases, line_build : array (n,) or None, to match the price list's columns

    Returns
    -------
    array (n,) [USD, or USD/ft]; NaN where nothing on the list fits
    """
    rows = unit_costs[unit_costs["item"] == item]
    n = len(next(values for values in (size, phases, line_build) if values is not None))
    asked = pd.DataFrame({"phases": np.nan, "line_build": None}, index=range(n))
    for key, values in (("phases", phases), ("line_build", line_build)):
        if values is not None:
            asked[key] = np.asarray(values)
    prices = np.full(n, np.nan)
    for (phase, build), place in asked.groupby(list(asked), dropna=False).indices.items():
        fits = _fitting(rows, phase, build)
        sizes = None if size is None else np.asarray(size, float)[place]
        prices[place] = _by_size(fits, sizes, len(place))
    return prices


def _by_size(rows, size, n):
    """A row without a size prices every known size that no sized row covers."""
    any_size = rows.loc[rows["size"].isna(), "price_usd"]
    flat = np.full(n, any_size.iloc[0] if len(any_size) else np.nan)
    sized = rows.dropna(subset="size").groupby("size")["price_usd"].min()
    if size is None:
        return flat
    flat = np.where(np.isnan(size), np.nan, flat)
    if sized.empty:
        return flat
    step = next_standard_size(required=size, sizes=sized.index.to_numpy(float))
    by_size = sized.reindex(step).to_numpy(float)
    return np.where(np.isnan(by_size), flat, by_size)


def line_steps(unit_costs, phases, line_build) -> dict[str, np.ndarray]:
    """The steps of the line's price per foot for every row, as the line cost formulas take them.

    Parameters
    ----------
    unit_costs : the Unit costs sheet
    phases, line_build : array (n,), to match the price list's columns

    Returns
    -------
    dict: step_from_ft, array (n, k) [ft], and step_usd_ft, array (n, k) [USD/ft]; a row with fewer
    steps than k has infinity and NaN; the feet before the first step have no price
    """
    listed_lines = unit_costs[(unit_costs["item"] == listed.LINE) & unit_costs["size"].isna()]
    lines = listed_lines.assign(from_ft=listed_lines["from_ft"].fillna(0.0))
    asked = pd.DataFrame({"phases": np.asarray(phases), "line_build": np.asarray(line_build)})
    most = len(lines) + 1
    start, price = np.full((len(asked), most), np.inf), np.full((len(asked), most), np.nan)
    start[:, 0] = 0.0
    for (phase, build), place in asked.groupby(list(asked), dropna=False).indices.items():
        fits = _fitting(lines, phase, build).groupby("from_ft")["price_usd"].first()
        fits = fits if 0.0 in fits.index else pd.concat([pd.Series({0.0: np.nan}), fits])
        start[place, :len(fits)], price[place, :len(fits)] = fits.index, fits
    used = max(int(np.isfinite(start).sum(axis=1).max(initial=1)), 1)
    return {"step_from_ft": start[:, :used], "step_usd_ft": price[:, :used]}


def _fitting(rows, phase, build):
    """The price rows for these phases and construction; a blank fits both."""
    return rows[(rows["phases"].isna() | (rows["phases"] == phase))
                & (rows["line_build"].isna() | (rows["line_build"] == build))]


def line_base_usd(length_ft, steps, job_usd) -> np.ndarray:
    """Cost of a line with its job, before overhead, (n,) [USD]; nothing where none is built."""
    length = np.asarray(length_ft, float)
    return np.where(length != 0,
                    line_cost.stepped_line_usd(length_ft=length, **steps) + job_usd, 0.0)


def free_line_ft(designs: pd.DataFrame, rules) -> np.ndarray:
    """Feet of line that the rules give each design for nothing, (n,) [ft]."""
    return np.where(designs["service_phases"] == 3, rules["line_free_three_phase_ft"],
                    rules["line_free_single_phase_ft"])


def trunk_parts(designs: pd.DataFrame, payers: pd.DataFrame, rules, unit_costs) -> pd.DataFrame:
    """Each design's part of its shared line and its cost, if these payers build and the farm with
    them, as `shared_lines.trunk_parts` says."""
    site = {"phases": designs["service_phases"], "line_build": designs["line_build"]}
    return shared_lines.trunk_parts(
        designs, payers, steps=line_steps(unit_costs, **site),
        job_usd=price_usd(unit_costs, listed.LINE_FIXED, **site),
        free_ft=free_line_ft(designs, rules), job_is_free=rules["line_free_job"],
        overhead=1 + rules["overhead_adder_pct"] / 100)


def item_costs(designs: pd.DataFrame, unit_costs, trunk: pd.DataFrame) -> pd.DataFrame:
    """Cost of every item of every design before overhead, as `base_<item>_usd`. `trunk` has the
    farm's part of a shared line, as `trunk_parts` gives it."""
    d = designs.copy()
    site = {"phases": d["service_phases"], "line_build": d["line_build"]}
    phases = {"phases": d["service_phases"]}

    d["shared_line_members"], d["trunk_part_ft"] = trunk["members"], trunk["part_ft"]
    d["trunk_part_usd"], d["trunk_free_usd"] = trunk["part_usd"], trunk["free_usd"]
    d["trunk_relieved_usd"] = trunk["relieved_usd"]
    d["paid_line_ft"] = d["own_line_ft"] + d["trunk_part_ft"]
    steps = line_steps(unit_costs, **site)
    d["line_job_usd"] = price_usd(unit_costs, listed.LINE_FIXED, **site)
    d["own_line_usd"] = line_base_usd(d["own_line_ft"], steps, d["line_job_usd"])
    d["trunk_alone_usd"] = line_base_usd(d["trunk_ft"], steps, d["line_job_usd"])

    d["disconnect_usd"] = price_usd(unit_costs, listed.DISCONNECT, size=d["disconnect_a"],
                                    **phases)
    drive, rotary = is_option(d, SINGLE_PHASE_DRIVE), is_option(d, ROTARY)
    hp = d["pump_motor_hp"]
    _lead_prices(d, unit_costs)
    needs_motor = d["present_power"].isin([*ENGINES, NO_POWER])
    costs = {
        "line": d["own_line_usd"] + d["trunk_part_usd"],
        "transformer": price_usd(unit_costs, listed.TRANSFORMER, size=d["transformer_kva"],
                                 **phases),
        "service": price_usd(unit_costs, listed.METER, **phases) + d["disconnect_usd"]
        + d["service_distance_ft"] * price_usd(
            unit_costs, listed.SERVICE, size=d["service_ampacity_a"], **phases,
            line_build=d["service_build"].where(d["service_build"] == OVERHEAD, "underground")),
        "drive": np.where(
            drive, price_usd(unit_costs, listed.DRIVE, size=d["drive_rated_hp"]), 0.0),
        # An input filter carries the drive's input, an output filter the motors.
        "filter": _named_item(unit_costs, d["input_item"], d["drive_rated_hp"])
        + np.where(drive, _named_item(unit_costs, _output_item(d["lead_filter"]),
                                      d["connected_hp"]), 0.0),
        "converter": np.where(
            rotary, price_usd(unit_costs, listed.CONVERTER, size=d["drive_rated_hp"]), 0.0),
        "starter": _named_item(unit_costs, d["starter_item"], hp),
        LEADS: d["motor_lead_used_ft"] * d["motor_lead_usd_ft"]
        + d["pivot_lead_used_ft"] * d["pivot_lead_usd_ft"],
        "motor change": np.where(needs_motor, price_usd(unit_costs, listed.MOTOR, size=hp), 0.0),
        "engineering": price_usd(unit_costs, listed.ENGINEERING, **phases)}
    for item in COST_ITEMS:
        d[f"base_{item_key(item)}_usd"] = np.asarray(costs[item], float)
    return d


def _lead_prices(d, unit_costs):
    """Price per foot of the leads to motor and pivot; nothing where they exist, and for the pivot's
    where there is none."""
    # Leads have three wires in the ground or in conduit, as a service conductor of that kind.
    like = {"phases": np.full(len(d), 3), "line_build": np.full(len(d), "underground")}
    for key, item, is_free in (
            ("motor_lead", listed.MOTOR_LEAD, d["has_motor_lead"] == 1),
            ("pivot_lead", listed.PIVOT_LEAD,
             (d["has_pivot_lead"] == 1) | (d["pivot_lead_used_ft"] == 0))):
        d[f"{key}_usd_ft"] = np.where(
            is_free, 0.0, price_usd(unit_costs, item, size=d[f"{key}_ampacity_a"], **like))


def _output_item(lead_filter):
    """Price item of an output filter. Where a lead's length is unknown the dearest is priced, so
    that a blank cell never makes a farm cheaper."""
    filters = table("output_filters").set_index("lead_filter")["item"]
    return lead_filter.map(filters).where(lead_filter.notna(), listed.SINE)


def _named_item(unit_costs, item_name, size):
    """Price of an item that differs from row to row; 0 where the row needs none."""
    usd = np.zeros(len(item_name))
    for item in item_name.dropna().unique():
        place = np.flatnonzero(item_name == item)
        usd[place] = price_usd(unit_costs, item, size=size.to_numpy(float)[place])
    return usd
