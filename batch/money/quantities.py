"""What a set of farms takes of the things on the price list: the same quantities that price it, and
of shared lines what is built, each foot once."""

import numpy as np
import pandas as pd

from batch.columns import unit_costs as listed
from batch.columns.limits import EACH, FOOT, Counted
from batch.money.prices import as_users, asked_prices
from batch.portfolio import line_parts

KINDS = ("item", "size", "phases", "line_build")  # what tells one thing from another
SHARED_LINE, SHARED_JOB = SHARED = ("shared line", "job of a shared line")
# What a shared line is to one who counts lines, whoever builds them.
COUNTED_AS = {SHARED_LINE: listed.LINE, SHARED_JOB: listed.LINE_FIXED}


def quantities(chosen: pd.DataFrame, price_list) -> pd.DataFrame:
    """How much of what each chosen option takes, before overhead.

    Parameters
    ----------
    chosen : chosen options; those of a shared line with all that build it with them

    Returns
    -------
    frame: place of the option in `chosen`, item, size [of the item, NaN where it has none], phases,
    line_build, quantity in `quantity_unit`, unit_price_usd and amount_usd; of what is no line
    price_row, the row of the price list that prices it. A size is that of this row, or where it
    names none the size asked for.
    Of a shared line an option takes its part, so that the parts of those who build it are the line:
    feet by a single phase and by three, and one job; its cost, the job's included, stands with
    three phases where any of it has them.
    """
    site = {"phases": chosen["service_phases"], "line_build": chosen["line_build"]}
    own_ft = chosen["own_line_ft"].to_numpy(float)
    job_usd = chosen["line_job_usd"].to_numpy(float)
    line_usd = chosen["own_line_usd"].to_numpy(float) - job_usd
    has_own = np.flatnonzero(own_ft != 0)
    parts = [_things(chosen, has_own, listed.LINE, site, own_ft, FOOT, amount=line_usd),
             _things(chosen, has_own, listed.LINE_FIXED, site, 1.0, EACH, amount=job_usd),
             *_shared(chosen)]
    for asked in asked_prices(chosen):
        unit = EACH if np.ndim(asked.times) == 0 else FOOT
        places = np.flatnonzero(asked.where)
        rows = np.full(len(chosen), -1)
        rows[places] = price_list.rows(asked.item, **asked.fits_of(places))
        fits = asked.fits | {"size": _bought_size(asked, rows, price_list, len(chosen))}
        times = np.broadcast_to(np.asarray(asked.times, float), len(chosen))
        parts.append(_things(chosen, places, asked.item, fits, times, unit,
                             amount=times * price_list.usd_of(rows)).assign(
            price_row=price_list.excel_rows(rows)[places]))
    every = pd.concat(parts, ignore_index=True)
    return every[every["quantity"] != 0].reset_index(drop=True)


def is_counted(things: pd.DataFrame, part: Counted) -> np.ndarray:
    """Which rows of `quantities` a part of a limit counts."""
    item = things["item"].replace(COUNTED_AS)
    is_one = (item == part.item).to_numpy(bool)
    for key in ("size", "phases", "line_build"):
        if getattr(part, key) is not None:
            is_one &= (things[key] == getattr(part, key)).to_numpy(bool)
    return is_one


def amounts(things: pd.DataFrame, parts: tuple[Counted, ...], count: int) -> np.ndarray:
    """What each of `count` options takes of a limit, (count,) [its unit]; NaN where unknown."""
    total = np.zeros(count)
    for part in parts:
        mine = things[is_counted(things, part)]
        factor = 1.0 if part.factor is None else part.factor
        total += factor * np.bincount(mine["place"], mine["quantity"], minlength=count)
    return total


def _things(chosen, places, item, fits, times, unit, *, amount):
    """A row for each option at `places`."""
    def taken(values):
        return np.broadcast_to(np.asarray(values, float), len(chosen))[places]

    def kind(key, of, blank, dtype):
        values = fits[key] if key in fits and (of is None or item in of) else blank
        return np.broadcast_to(np.asarray(values, dtype), len(chosen))[places]

    quantity, usd = taken(times), taken(amount)
    return pd.DataFrame({
        "place": places, "item": item, "size": kind("size", None, np.nan, float),
        "phases": kind("phases", listed.BY_PHASES, np.nan, float),
        "line_build": kind("line_build", listed.BY_BUILD, None, object),
        "quantity": quantity, "quantity_unit": unit,
        "unit_price_usd": np.divide(usd, quantity, out=np.full(len(usd), np.nan),
                                    where=(quantity != 0) & (item not in SHARED)),
        "amount_usd": usd})


def _bought_size(asked, rows, price_list, count):
    """Of the row that prices it, or as asked where that has none."""
    if "size" not in asked.fits:
        return np.full(count, np.nan)
    listed_size = np.append(price_list.sheet["size"].to_numpy(float), np.nan)[rows]
    return np.where(np.isnan(listed_size), np.asarray(asked.fits["size"], float), listed_size)


def _shared(chosen):
    """Each option's part of its shared line."""
    places = np.flatnonzero(chosen["builders"].notna() & (chosen["trunk_ft"] != 0))
    if not len(places):
        return []
    mine = chosen.iloc[places]
    part_ft = mine["trunk_part_ft"].to_numpy(float)
    three_ft = _three_phase_ft(mine)
    builders = mine.drop_duplicates("excel_row")
    line = [builders["builders"], builders["line_build"]]
    users, has_three = (dict(zip(builders["excel_row"], some)) for some in (
        builders.groupby(line)["excel_row"].transform("size"),
        builders["service_phases"].groupby(line).transform("max")))
    phases = mine["excel_row"].map(has_three).to_numpy(float)
    usd = mine["trunk_part_usd"].to_numpy(float)
    build, every = mine["line_build"], np.arange(len(mine))
    feet = [_things(mine, every, SHARED_LINE, {}, ft, FOOT, amount=np.where(phases == number, usd,
                                                                            0.0)).assign(
        phases=float(number), line_build=build.to_numpy())
            for number, ft in ((1, part_ft - three_ft), (3, three_ft))]
    jobs = _things(mine, every, SHARED_JOB, {}, 1.0 / mine["excel_row"].map(users).to_numpy(float),
                   EACH, amount=0.0).assign(phases=phases, line_build=build.to_numpy())
    return [rows.assign(place=places) for rows in (*feet, jobs)]


def _three_phase_ft(mine):
    """Each option's part of the stretches that are built with three phases, (n,) [ft]."""
    users = as_users(mine)
    stretches = line_parts.stretches_of(users, users.drop_duplicates("excel_row"))
    feet = ((stretches["start_ft"] - stretches["end_ft"])
            / (stretches["by_one"] + stretches["by_three"]))
    return np.bincount(stretches["place"], feet.where(stretches["by_three"] > 0, 0.0),
                       minlength=len(mine))
