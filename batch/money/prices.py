"""What each design costs, item by item, from the Unit costs sheet."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from batch.columns import unit_costs as listed
from batch.columns.candidates import ENGINES, NO_POWER, OVERHEAD, ROTARY, SINGLE_PHASE_DRIVE
from batch.columns.program import COST_ITEMS, LEADS, item_key
from batch.economics import line_cost
from batch.portfolio import line_parts
from batch.price_list import PriceList
from batch.step import step
from batch.supply.designs import is_option
from batch.tables import table

# Leads have three wires in the ground or in conduit, as a service conductor of that kind.
LEAD_KIND = {"phases": 3, "line_build": "underground"}
SHARED_PART = "part of the shared line"
LINE_OF = ("candidate_id", "supply_option", "variant", "item")  # the row of the ledger of a line
PHASE_WORDS = {1: "single-phase", 3: "three-phase"}


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
    needs="""
        candidate_id builders line_build excel_row shared_single_phase_ft shared_three_phase_ft
        service_phases trunk_ft""",
    rules="line_free_single_phase_ft line_free_three_phase_ft line_free_job overhead_adder_pct",
    makes="shared_line_members trunk_part_ft trunk_part_usd trunk_free_usd trunk_relieved_usd")
def trunk_parts(designs: pd.DataFrame, payers: pd.DataFrame, rules,
                price_list: PriceList) -> pd.DataFrame:
    """Each design's part of its shared line and its cost, if some payers build and the farm too.

    As `line_parts.parts` says; a farm's designs of as many phases have the same part.
    """
    on_line = designs[designs["builders"].notna()]
    keys = ["excel_row", "service_phases"]
    farms = as_users(on_line.drop_duplicates(keys))
    prices, job_usd = {}, {}
    for phases, length_key in ((1, "shared_single_phase_ft"), (3, "shared_three_phase_ft")):
        site = {"phases": np.full(len(farms), phases), "line_build": farms["line_build"]}
        prices[phases] = farms[length_key].to_numpy(float), price_list.line_steps(**site)
        job_usd[phases] = price_list.usd(listed.LINE_FIXED, **site)
    parts = line_parts.parts(
        farms, as_users(payers), prices=prices, job_usd=job_usd,
        free_ft=free_line_ft(farms, rules), job_is_free=rules["line_free_job"],
        overhead=1 + rules["overhead_adder_pct"] / 100)
    by_design = parts.set_axis(pd.MultiIndex.from_frame(farms[keys])).reindex(
        pd.MultiIndex.from_frame(on_line[keys])).set_axis(on_line.index)
    none = pd.DataFrame(0.0, designs.index[designs["builders"].isna()],
                        parts.columns).assign(members=1.0)
    return pd.concat([by_design, none]).reindex(designs.index).add_prefix("trunk_").rename(
        columns={"trunk_members": "shared_line_members"})


def as_users(designs: pd.DataFrame) -> pd.DataFrame:
    """Designs as users of their shared lines, as `line_parts` takes them."""
    is_three = designs["service_phases"] == 3
    reach = designs["shared_three_phase_ft"].where(is_three, designs["shared_single_phase_ft"])
    return designs.assign(is_three=is_three, reach_ft=reach, unused_ft=reach - designs["trunk_ft"])


def line_users(designs: pd.DataFrame) -> pd.DataFrame:
    """Every farm of a shared line as its user, by three phases where that line has a length."""
    on_line = designs[designs["builders"].notna()]
    users = on_line.drop_duplicates(["excel_row", "service_phases"]).sort_values(
        ["excel_row", "service_phases"], ascending=[True, False], kind="stable")
    has_length = (users["own_line_ft"] + users["trunk_ft"]).notna() | (users["service_phases"] == 1)
    return users[has_length].drop_duplicates("excel_row")


def line_users_after(users: pd.DataFrame, options: pd.DataFrame) -> pd.DataFrame:
    """The users of shared lines, those by a single phase that were by three and chose so."""
    single = options[options["is_chosen"] & (options["service_phases"] == 1)]
    leave = users["excel_row"].isin(single["excel_row"]) & (users["service_phases"] == 3)
    instead = single[single["excel_row"].isin(users.loc[leave, "excel_row"])][users.columns]
    return pd.concat([users[~leave], instead]).sort_values("excel_row", kind="stable")


# What `asked_prices` reads, for the steps that ask.
ASKED_NEEDS = """
    candidate_id present_power pump_motor_hp service_distance_ft service_build has_motor_lead
    has_pivot_lead supply_option service_phases input_item starter_item three_phase_load_a
    connected_hp converter_need_hp drive_rated_hp lead_filter motor_lead_used_ft
    motor_lead_ampacity_a transformer_kva service_ampacity_a disconnect_a pivot_lead_used_ft
    pivot_lead_ampacity_a """


@dataclass(frozen=True)
class Asked:
    """What designs ask of the price list: an item `where` it is needed, `times` so many of it, as
    `PriceList` looks it up by `fits`; it is part of `cost_item`. `need` in `need_unit` is what a
    size that none on the list covers was asked for."""

    item: str
    cost_item: str
    where: np.ndarray
    fits: dict
    times: object = 1.0
    need: object = np.nan
    need_unit: str = ""

    def fits_of(self, places) -> dict:
        """What some of the designs are looked up by."""
        return {key: np.asarray(values)[places] for key, values in self.fits.items()}

    def each_usd(self, price_list) -> np.ndarray:
        """Price of one, (n,) [USD, or USD/ft]; 0 where none is needed, NaN where none is listed."""
        usd, places = np.zeros(len(self.where)), np.flatnonzero(self.where)
        usd[places] = price_list.usd(self.item, **self.fits_of(places))
        return usd


def asked_prices(designs: pd.DataFrame) -> list[Asked]:
    """All that designs ask of the price list but their lines, whose price goes by the foot. The
    quotations of a design's farm count."""
    mine = {"candidate_id": designs["candidate_id"]}
    return [replace(asked, fits=asked.fits | mine) for asked in _asked(designs)]


def _asked(designs):
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
    needs=ASKED_NEEDS + "line_build own_line_ft trunk_ft trunk_part_ft trunk_part_usd",
    makes="""
        paid_line_ft line_job_usd own_line_usd trunk_alone_usd motor_lead_usd_ft
        pivot_lead_usd_ft base_line_usd base_transformer_usd base_service_usd base_drive_usd
        base_filter_usd base_converter_usd base_starter_usd base_leads_usd base_motor_change_usd
        base_engineering_usd""")
def item_costs(designs: pd.DataFrame, price_list) -> pd.DataFrame:
    """Cost of every item of every design before overhead, as `base_<item>_usd`."""
    designs = designs.copy()
    site = {"phases": designs["service_phases"], "line_build": designs["line_build"]}
    designs["paid_line_ft"] = designs["own_line_ft"] + designs["trunk_part_ft"]
    steps = price_list.line_steps(**site)
    designs["line_job_usd"] = price_list.usd(listed.LINE_FIXED, **site)
    designs["own_line_usd"] = line_base_usd(designs["own_line_ft"], steps, designs["line_job_usd"])
    designs["trunk_alone_usd"] = line_base_usd(designs["trunk_ft"], steps, designs["line_job_usd"])

    costs = dict.fromkeys(COST_ITEMS, np.zeros(len(designs)))
    costs["line"] = designs["own_line_usd"].to_numpy() + designs["trunk_part_usd"].to_numpy()
    for asked in asked_prices(designs):
        each = asked.each_usd(price_list)
        if asked.cost_item == LEADS:
            designs[f"{item_key(asked.item)}_usd_ft"] = each
        costs[asked.cost_item] = costs[asked.cost_item] + each * np.asarray(asked.times, float)
    return designs.assign(**{f"base_{item_key(item)}_usd": costs[item] for item in COST_ITEMS})


def cost_lines(options: pd.DataFrame, price_list: PriceList) -> pd.DataFrame:
    """What the cost items of options are made of, before overhead: a row for each quantity that has
    a price, with the row of the Unit costs sheet that it comes from. The amounts of an item add up
    to its `base_<item>_usd`; an option whose line has no length has none of its own line."""
    every = np.arange(len(options))
    site = {"phases": options["service_phases"], "line_build": options["line_build"]}
    parts = [_lines_of(options, every, "line", SHARED_PART, options["trunk_part_ft"], "ft",
                       amount=options["trunk_part_usd"])]
    starts, step_rows = price_list.line_step_rows(**site)
    ends = np.append(starts[:, 1:], np.full((len(options), 1), np.inf), axis=1)
    length = options["own_line_ft"].to_numpy(float)
    for start, end, rows in zip(starts.T, ends.T, step_rows.T):
        feet = np.clip(np.minimum(length, end) - start, 0, None)
        parts.append(_lines_of(options, every, "line", listed.LINE, feet, "ft", rows=rows,
                               price_list=price_list))
    asked = (Asked(listed.LINE_FIXED, "line", length > 0, site), *asked_prices(options))
    for one in asked:
        places = np.flatnonzero(one.where)
        times = np.broadcast_to(np.asarray(one.times, float), len(options))[places]
        unit = "each" if np.ndim(one.times) == 0 else "ft"
        rows = price_list.rows(one.item, **one.fits_of(places))
        parts.append(_lines_of(options.iloc[places], places, one.cost_item, one.item, times, unit,
                               rows=rows, price_list=price_list))
    lines = pd.concat(parts, ignore_index=True)
    order = {item: place for place, item in enumerate(COST_ITEMS)}
    lines = lines[lines["quantity"] != 0].assign(at=lines["item"].map(order))
    lines = lines.sort_values(["place", "at"], kind="stable", ignore_index=True)
    lines.insert(3, "line_number", lines.groupby("place").cumcount() + 1)
    return lines.drop(columns=["place", "at"])


def in_words(line: dict, origin=None) -> str:
    """A cost line as it is worked: '1450 ft x 9.2 USD (row 5)'; what has no price says so.
    `origin` gives what stands behind the dollars of a line, where that is not its row."""
    origin = origin or _row_in_words
    if line["priced_as"] == SHARED_PART:
        return f"{line['amount_usd']:.2f} USD{origin(line)}"
    if np.isnan(line["price_row"]):
        return f"{line['priced_as']} without a price or size"
    return (f"{line['quantity']:.7g} {line['quantity_unit']} x {line['unit_price_usd']:.7g} USD"
            f"{origin(line)}")


def _row_in_words(line):
    return f" {SHARED_PART}" if line["priced_as"] == SHARED_PART else (
        f" (row {line['price_row']:.0f})")


def with_lines_in_words(ledger: pd.DataFrame, lines: pd.DataFrame) -> pd.DataFrame:
    """The ledger with what each item is `made_of`, from the cost lines; blank for options that have
    none."""
    texts = {}
    for line in lines.to_dict("records"):
        of = tuple(line[key] for key in LINE_OF)
        texts[of] = f"{texts[of]} + {in_words(line)}" if of in texts else in_words(line)
    return ledger.assign(made_of=[texts.get(of, "") for of in zip(*(
        ledger[key] for key in LINE_OF))])


def _lines_of(options, place, item, priced_as, quantity, unit, *, rows=None, price_list=None,
              amount=None):
    """One kind of line, of each option; `rows` are places in the price list, -1 for none."""
    quantity = np.asarray(quantity, float)
    usd = price_row = np.full(len(options), np.nan)
    if rows is not None:
        usd, price_row = price_list.usd_of(rows), price_list.excel_rows(rows)
    return pd.DataFrame({
        "candidate_id": options["candidate_id"].to_numpy(),
        "supply_option": options["supply_option"].to_numpy(),
        "variant": options["variant"].to_numpy(), "item": item, "priced_as": priced_as,
        "quantity": quantity, "quantity_unit": unit, "unit_price_usd": usd,
        "price_row": price_row,
        "amount_usd": quantity * usd if amount is None else np.asarray(amount, float),
        "place": place})


def price_gaps(designs: pd.DataFrame, price_list) -> pd.DataFrame:
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
    no_foot = has_line & np.isnan(price_list.line_steps(**site)["step_usd_ft"][:, 0])
    note("no_price", no_foot, listed.LINE + _fit_words(listed.LINE, site, designs.index))
    for asked in (Asked(listed.LINE_FIXED, "line", has_line, site), *asked_prices(designs)):
        is_open = np.isnan(asked.each_usd(price_list))
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
