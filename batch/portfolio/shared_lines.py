"""Lines that several farms share: each one's part, what it would pay alone, and from how many
farms on a three-phase extension beats single-phase service with a drive on each."""

import numpy as np
import pandas as pd

from batch.columns.candidates import SINGLE_PHASE_DRIVE, THREE_PHASE_LINE

NOT_KNOWN, NEITHER = "not assessed", "equal"
PHASES = {SINGLE_PHASE_DRIVE: "single_phase", THREE_PHASE_LINE: "three_phase"}


def segment_part_ft(*, used_ft, other_place, other_used_ft):
    """Each farm's part of a line by the segment rule, given who else pays for it [ft].

    Every stretch of the line is split equally among the farms beyond it. Valid for farms along
    one line without branches, which all begin at its tap; it is the Shapley value of such a line.

    Parameters
    ----------
    used_ft : array (n,) [ft]; from the tap to where the farm leaves the line
    other_place : array (m,) of int; for each of m other payers, whose payer it is: 0 to n - 1
    other_used_ft : array (m,) [ft]; how much of the line that payer uses

    Returns
    -------
    array (n,) [ft]; NaN where a used length is unknown

    Equation: part = sum over stretches of length / (1 + others beyond the stretch)
    Sources: Littlechild and Owen, "A Simple Expression for the Shapley Value in a Special Case",
    Management Science, 1973 (cited from memory). Tested with a published airport-problem example
    and against the mean over all orders of arrival.
    """
    used_ft = np.asarray(used_ft, float)
    others = pd.DataFrame({"place": np.asarray(other_place, int),
                           "end_ft": np.asarray(other_used_ft, float)})
    others = others.sort_values(["place", "end_ft"], kind="stable", na_position="last")
    by_place = others.groupby("place", sort=False)["end_ft"]
    own_end = used_ft[others["place"]]
    end = np.minimum(others["end_ft"].to_numpy(), own_end)
    start = np.minimum(by_place.shift(fill_value=0.0).to_numpy(), own_end)
    beyond = by_place.transform("size").to_numpy() - by_place.cumcount().to_numpy()
    shared = np.bincount(others["place"], weights=(end - start) / (1 + beyond),
                         minlength=len(used_ft))
    # The last of each farm's payers uses the longest part, or one that is not known.
    longest = others.drop_duplicates("place", keep="last").set_index("place")["end_ft"].reindex(
        range(len(used_ft)), fill_value=0.0).to_numpy()
    return shared + used_ft - np.minimum(longest, used_ft)


def trunk_parts(designs: pd.DataFrame, payers: pd.DataFrame) -> pd.DataFrame:
    """Each design's part of its shared line, if these payers build and the farm with them.

    `payers` has excel_row, shared_line_id, service_phases and trunk_ft [ft]; a farm pays with the
    others of the same line and phases. Returns part_ft [ft], what would be left of it if one more
    farm used as much of the line, part_if_joined_ft [ft], and members, the farm included.
    """
    on_line = designs["shared_line_id"].notna().to_numpy()
    keys = ["shared_line_id", "service_phases"]
    mine = designs.loc[on_line, [*keys, "excel_row"]].assign(place=np.arange(on_line.sum()))
    pairs = mine.merge(payers[[*keys, "excel_row", "trunk_ft"]], on=keys,
                       suffixes=("", "_of_payer"))
    pairs = pairs[pairs["excel_row"] != pairs["excel_row_of_payer"]]
    used_ft = designs["trunk_ft"].to_numpy(float)
    part_ft, if_joined_ft, members = used_ft.copy(), used_ft.copy(), np.ones(len(designs))
    mine_ft, place, end_ft = used_ft[on_line], pairs["place"], pairs["trunk_ft"]
    part_ft[on_line] = segment_part_ft(used_ft=mine_ft, other_place=place, other_used_ft=end_ft)
    if_joined_ft[on_line] = segment_part_ft(
        used_ft=mine_ft, other_place=np.concatenate([place, mine["place"]]),
        other_used_ft=np.concatenate([end_ft, mine_ft]))
    members[on_line] += np.bincount(pairs["place"], minlength=on_line.sum())
    return pd.DataFrame({"part_ft": part_ft, "part_if_joined_ft": if_joined_ft,
                         "members": members}, designs.index)


def all_payers(designs: pd.DataFrame) -> pd.DataFrame:
    """Every assessed farm as a payer of its shared line, for either number of phases."""
    return designs[designs["shared_line_id"].notna()].drop_duplicates(
        ["excel_row", "service_phases"])


def line_crossover(options: pd.DataFrame) -> pd.DataFrame:
    """Total cost of the first one, two, three ... farms of each shared line, by single-phase
    service with a drive on each, and by a three-phase line.

    `options` has a row per farm and supply option with candidate_id, shared_line_id,
    project_cost_usd, trunk_part_ft, trunk_ft, line_usd_ft, overhead (n,) [factor], counted_load_kw
    and fails_count. Farms are added by candidate name; only those count whose both options are
    priced. The shared line reaches as far as the farthest of them. Lines with one farm or none
    such are left out.
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
    foot_usd = o["line_usd_ft"] * o["overhead"]
    o["own_usd"] = o["project_cost_usd"] - o["trunk_part_ft"] * foot_usd
    o["trunk_usd"] = o["trunk_ft"] * foot_usd
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
