"""Lines that several farms share: from how many farms on a three-phase extension beats
single-phase service with a drive on each."""

import numpy as np
import pandas as pd

from batch.columns.candidates import SINGLE_PHASE_DRIVE, THREE_PHASE_LINE

NEITHER = "equal"
PHASES = {SINGLE_PHASE_DRIVE: "single_phase", THREE_PHASE_LINE: "three_phase"}


def line_crossover(options: pd.DataFrame) -> pd.DataFrame:
    """Total cost of the first one, two, three ... farms of each shared line, by single-phase
    service with a drive on each, and by a three-phase line.

    `options` has a row per farm and supply option with candidate_id, shared_line_id,
    project_cost_usd, trunk_part_usd and trunk_alone_usd, its part of the shared line and all that
    it uses of it, before overhead [USD], overhead (n,) [factor], counted_load_kw and fails_count.
    Farms are added by candidate name; only those count whose both options are priced. The shared
    line reaches as far as the farthest of them. Lines with one farm or none such are left out.
    """
    farms = _by_option(options)
    line = farms["shared_line_id"]
    out = pd.DataFrame({"shared_line_id": line, "farms": farms.groupby(line).cumcount() + 1,
                        "last_farm": farms["candidate_id"]})
    for phases in PHASES.values():
        own = (farms[f"own_usd_{phases}"]).groupby(line).cumsum()
        shared = farms.groupby(line)[f"trunk_usd_{phases}"].cummax()
        load_kw = farms[f"counted_load_kw_{phases}"].groupby(line).cumsum()
        out[f"{phases}_cost_usd"] = own + shared
        out[f"{phases}_usd_per_kw"] = (own + shared) / load_kw.where(load_kw > 0)
        out[f"{phases}_failing"] = farms[f"fails_{phases}"].groupby(line).cumsum()
    out["least"] = np.select(
        [out["three_phase_cost_usd"] < out["single_phase_cost_usd"],
         out["three_phase_cost_usd"] > out["single_phase_cost_usd"]],
        [THREE_PHASE_LINE, SINGLE_PHASE_DRIVE], NEITHER)
    several = out.groupby("shared_line_id")["farms"].transform("max") > 1
    return out[several].reset_index(drop=True)


def _by_option(options):
    """One row per farm of a shared line whose both options are priced: cost of its own and of the
    shared line as if built for it alone, by phases."""
    o = options[options["shared_line_id"].notna() & options["project_cost_usd"].notna()
                & options["supply_option"].isin(PHASES)].copy()
    o["own_usd"] = o["project_cost_usd"] - o["trunk_part_usd"] * o["overhead"]
    o["trunk_usd"] = o["trunk_alone_usd"] * o["overhead"]
    o["fails"] = (o["fails_count"] > 0).astype(int)
    keys = ["shared_line_id", "candidate_id"]
    values = ["own_usd", "trunk_usd", "counted_load_kw", "fails"]
    single, three = (o[o["supply_option"] == option][[*keys, *values]] for option in PHASES)
    both = single.merge(three, on=keys, suffixes=[f"_{name}" for name in PHASES.values()])
    return both.dropna().sort_values(keys, kind="stable")


def crossover_summary(crossover: pd.DataFrame) -> pd.DataFrame:
    """For each shared line: the least number of farms from which three phases stay the cheaper,
    within the farms that there are and for more farms like them.

    `crossover_farms` is NaN where three phases never stay the cheaper among the line's farms;
    `crossover_if_alike` is the least whole number of farms with the line's mean own costs for which
    the total cost crosses, NaN where each further farm makes three phases dearer.
    """
    lines = crossover.groupby("shared_line_id", sort=True)
    single = crossover["least"] != THREE_PHASE_LINE
    last_single = crossover["farms"].where(single, 0).groupby(
        crossover["shared_line_id"]).max()
    farms = lines["farms"].max()
    out = pd.DataFrame({"farms": farms})
    out["crossover_farms"] = (last_single + 1).where(last_single < farms)
    at_end, at_first = lines.last(), lines.first()
    out["single_phase_cost_usd"] = at_end["single_phase_cost_usd"]
    out["three_phase_cost_usd"] = at_end["three_phase_cost_usd"]
    ahead_first = at_first["single_phase_cost_usd"] - at_first["three_phase_cost_usd"]
    ahead_last = at_end["single_phase_cost_usd"] - at_end["three_phase_cost_usd"]
    per_farm = (ahead_last - ahead_first) / (farms - 1)
    needed = np.floor(1 - ahead_first / per_farm.where(per_farm > 0)) + 1
    out["crossover_if_alike"] = np.where(ahead_first > 0, 1.0, needed)
    return out.reset_index()
