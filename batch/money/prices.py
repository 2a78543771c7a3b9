"""What each design costs, item by item, from the Unit costs sheet."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from batch.columns import unit_costs as listed
from batch.columns.candidates import ENGINES, NO_POWER, OVERHEAD, ROTARY, SINGLE_PHASE_DRIVE
from batch.columns.program import COST_ITEMS, LEADS, item_key
from batch.economics import line_cost
from batch.engineering.transformer import next_standard_size
from batch.portfolio import shared_lines
from batch.step import step
from batch.supply.designs import is_option
from batch.tables import table

# Leads have three wires in the ground or in conduit, as a service conductor of that kind.
LEAD_KIND = {"phases": 3, "line_build": "underground"}
PHASE_WORDS = {1: "single-phase", 3: "three-phase"}


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


@step(
    needs="candidate_id shared_line_id line_build excel_row service_phases trunk_ft",
    rules="line_free_single_phase_ft line_free_three_phase_ft line_free_job overhead_adder_pct",
    makes="shared_line_members trunk_part_ft trunk_part_usd trunk_free_usd trunk_relieved_usd")
def trunk_parts(designs: pd.DataFrame, payers: pd.DataFrame, rules, unit_costs) -> pd.DataFrame:
    """Each design's part of its shared line and its cost, if some payers build and the farm too.

    As `shared_lines.trunk_parts` says.
    """
    site = {"phases": designs["service_phases"], "line_build": designs["line_build"]}
    parts = shared_lines.trunk_parts(
        designs, payers, steps=line_steps(unit_costs, **site),
        job_usd=price_usd(unit_costs, listed.LINE_FIXED, **site),
        free_ft=free_line_ft(designs, rules), job_is_free=rules["line_free_job"],
        overhead=1 + rules["overhead_adder_pct"] / 100)
    return parts.add_prefix("trunk_").rename(columns={"trunk_members": "shared_line_members"})


@dataclass(frozen=True)
class Asked:
    """What designs ask of the price list: an item `where` it is needed, `times` so many of it, as
    `price_usd` looks it up by `fits`; it is part of `cost_item`. `need` in `need_unit` is what a
    size that none on the list covers was asked for."""

    item: str
    cost_item: str
    where: np.ndarray
    fits: dict
    times: object = 1.0
    need: object = np.nan
    need_unit: str = ""

    def each_usd(self, unit_costs) -> np.ndarray:
        """Price of one, (n,) [USD, or USD/ft]; 0 where none is needed, NaN where none is listed."""
        usd, place = np.zeros(len(self.where)), np.flatnonzero(self.where)
        usd[place] = price_usd(unit_costs, self.item, **{
            key: np.asarray(values)[place] for key, values in self.fits.items()})
        return usd


def asked_prices(designs: pd.DataFrame) -> list[Asked]:
    """All that designs ask of the price list but their lines, whose price goes by the foot."""
    phases, every = {"phases": designs["service_phases"]}, np.ones(len(designs), bool)
    hp, rated = {"size": designs["pump_motor_hp"]}, {"size": designs["drive_rated_hp"]}
    build = designs["service_build"].where(designs["service_build"] == OVERHEAD, "underground")
    lead_kind = {key: np.full(len(designs), value) for key, value in LEAD_KIND.items()}
    drive, rotary = is_option(designs, SINGLE_PHASE_DRIVE), is_option(designs, ROTARY)
    return [
        Asked(listed.TRANSFORMER, "transformer", every, {"size": designs["transformer_kva"]}
              | phases),
        Asked(listed.METER, "service", every, phases),
        Asked(listed.DISCONNECT, "service", every, {"size": designs["disconnect_a"]} | phases),
        Asked(listed.SERVICE, "service", every,
              {"size": designs["service_ampacity_a"], "line_build": build} | phases,
              times=designs["service_distance_ft"]),
        Asked(listed.DRIVE, "drive", drive, rated, need=designs["three_phase_load_a"],
              need_unit="A of load"),
        # An input filter carries the drive's input, an output filter the motors.
        *_named(designs["input_item"], "filter", rated),
        *_named(_output_item(designs["lead_filter"]).where(drive), "filter",
                {"size": designs["connected_hp"]}),
        Asked(listed.CONVERTER, "converter", rotary, rated, need=designs["converter_need_hp"],
              need_unit="hp"),
        *_named(designs["starter_item"], "starter", hp),
        # Nothing for leads that exist, and for the pivot's where there is no pivot.
        Asked(listed.MOTOR_LEAD, LEADS, (designs["has_motor_lead"] != 1).to_numpy(),
              {"size": designs["motor_lead_ampacity_a"]} | lead_kind,
              times=designs["motor_lead_used_ft"]),
        Asked(listed.PIVOT_LEAD, LEADS,
              ((designs["has_pivot_lead"] != 1) & (designs["pivot_lead_used_ft"] != 0)).to_numpy(),
              {"size": designs["pivot_lead_ampacity_a"]} | lead_kind,
              times=designs["pivot_lead_used_ft"]),
        Asked(listed.MOTOR, "motor change",
              designs["present_power"].isin([*ENGINES, NO_POWER]).to_numpy(), hp),
        Asked(listed.ENGINEERING, "engineering", every, phases)]


def _named(item_name, cost_item, fits):
    """An item that differs from design to design; some need none."""
    return [Asked(item, cost_item, (item_name == item).to_numpy(), fits)
            for item in item_name.dropna().unique()]


def _output_item(lead_filter):
    """Price item of an output filter. Where a lead's length is unknown the dearest is priced, so
    that a blank cell never makes a farm cheaper."""
    filters = table("output_filters").set_index("lead_filter")["item"]
    return lead_filter.map(filters).where(lead_filter.notna(), listed.SINE)


@step(
    needs="""
        present_power pump_motor_hp line_build service_distance_ft service_build has_motor_lead
        has_pivot_lead supply_option service_phases input_item starter_item three_phase_load_a
        connected_hp converter_need_hp drive_rated_hp lead_filter own_line_ft trunk_ft
        motor_lead_used_ft motor_lead_ampacity_a transformer_kva service_ampacity_a disconnect_a
        pivot_lead_used_ft pivot_lead_ampacity_a trunk_part_ft trunk_part_usd""",
    makes="""
        paid_line_ft line_job_usd own_line_usd trunk_alone_usd motor_lead_usd_ft
        pivot_lead_usd_ft base_line_usd base_transformer_usd base_service_usd base_drive_usd
        base_filter_usd base_converter_usd base_starter_usd base_leads_usd base_motor_change_usd
        base_engineering_usd""")
def item_costs(designs: pd.DataFrame, unit_costs) -> pd.DataFrame:
    """Cost of every item of every design before overhead, as `base_<item>_usd`."""
    designs = designs.copy()
    site = {"phases": designs["service_phases"], "line_build": designs["line_build"]}
    designs["paid_line_ft"] = designs["own_line_ft"] + designs["trunk_part_ft"]
    steps = line_steps(unit_costs, **site)
    designs["line_job_usd"] = price_usd(unit_costs, listed.LINE_FIXED, **site)
    designs["own_line_usd"] = line_base_usd(designs["own_line_ft"], steps, designs["line_job_usd"])
    designs["trunk_alone_usd"] = line_base_usd(designs["trunk_ft"], steps, designs["line_job_usd"])

    costs = dict.fromkeys(COST_ITEMS, np.zeros(len(designs)))
    costs["line"] = designs["own_line_usd"].to_numpy() + designs["trunk_part_usd"].to_numpy()
    for asked in asked_prices(designs):
        each = asked.each_usd(unit_costs)
        if asked.cost_item == LEADS:
            designs[f"{item_key(asked.item)}_usd_ft"] = each
        costs[asked.cost_item] = costs[asked.cost_item] + each * np.asarray(asked.times, float)
    return designs.assign(**{f"base_{item_key(item)}_usd": costs[item] for item in COST_ITEMS})


def price_gaps(designs: pd.DataFrame, unit_costs) -> pd.DataFrame:
    """Why designs, as `item_costs` gives them, have no price, as texts joined by "; ": `no_price`,
    what is not on the list, with its size, and `no_size`, what could not be sized."""
    gaps = dict.fromkeys(("no_price", "no_size"), pd.Series("", designs.index, dtype=object))
    if designs.empty:
        return pd.DataFrame(gaps)
    site = {"phases": designs["service_phases"], "line_build": designs["line_build"]}
    gaps["no_size"] = gaps["no_size"].mask(
        designs["paid_line_ft"].isna(), f"{listed.LINE}, whose length is blank")

    def note(kind, is_open, words):
        texts = gaps[kind]
        gaps[kind] = texts.mask(is_open, texts.where(texts == "", texts + "; ") + words)

    has_line = (designs["paid_line_ft"] > 0).to_numpy()
    no_foot = has_line & np.isnan(line_steps(unit_costs, **site)["step_usd_ft"][:, 0])
    note("no_price", no_foot, listed.LINE + _fit_words(listed.LINE, site, designs.index))
    for asked in (Asked(listed.LINE_FIXED, "line", has_line, site), *asked_prices(designs)):
        is_open = np.isnan(asked.each_usd(unit_costs))
        is_sized = ~np.isnan(np.asarray(asked.fits.get("size", 0.0), float))
        need = pd.Series(asked.need, designs.index)
        note("no_price", is_open & is_sized,
             asked.item + _fit_words(asked.item, asked.fits, designs.index))
        note("no_price", is_open & ~is_sized & need.notna(),
             asked.item + " for " + need.map("{:,.0f}".format) + f" {asked.need_unit}")
        note("no_size", is_open & ~is_sized & need.isna(), asked.item)
    return pd.DataFrame(gaps)


def _fit_words(item, fits, index):
    """By what an item is looked up, in words: ' of 75 kVA, single-phase'."""
    words = pd.Series("", index, dtype=object)
    if "size" in fits:
        words += " of " + pd.Series(fits["size"], index).map("{:,.6g}".format)
        words += f" {listed.SIZE_UNITS.get(item, 'hp')}"
    for key, named in (("phases", PHASE_WORDS), ("line_build", {})):
        if key in fits:
            words += ", " + pd.Series(fits[key], index).map(lambda value: named.get(value, value))
    return words
