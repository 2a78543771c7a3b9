"""Lines that several farms share: each one's part, what it would pay alone, and from how many
farms on a three-phase extension beats single-phase service with a drive on each."""

import numpy as np
import pandas as pd

from batch.columns.candidates import SINGLE_PHASE_DRIVE, THREE_PHASE_LINE
from batch.economics import line_cost

NOT_KNOWN, NEITHER = "not assessed", "equal"
LINE_KEYS = ["shared_line_id", "service_phases", "line_build"]
PHASES = {SINGLE_PHASE_DRIVE: "single_phase", THREE_PHASE_LINE: "three_phase"}


def segment_stretches(*, used_ft, other_place, other_used_ft) -> pd.DataFrame:
    """The stretches of each farm's shared line by the segment rule, given who else pays for it.

    Every stretch of the line is split equally among the farms beyond it. Valid for farms along
    one line without branches, which all begin at its tap; it is the Shapley value of such a line,
    whatever each stretch costs.

    Parameters
    ----------
    used_ft : array (n,) [ft]; from the tap to where the farm leaves the line
    other_place : array (m,) of int; for each of m other payers, whose payer it is: 0 to n - 1
    other_used_ft : array (m,) [ft]; how much of the line that payer uses

    Returns
    -------
    frame (n + m rows), from the tap on for each farm: place, start_ft and end_ft [ft], and payers,
    how many farms pay for the stretch, this one included; NaN where a used length is unknown

    Equation: payers = 1 + others beyond the stretch
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
    shared = pd.DataFrame({
        "place": others["place"],
        "start_ft": np.minimum(by_place.shift(fill_value=0.0).to_numpy(), own_end),
        "end_ft": np.minimum(others["end_ft"].to_numpy(), own_end),
        "payers": 1.0 + by_place.transform("size") - by_place.cumcount()})
    # The last of each farm's payers uses the longest part, or one that is not known.
    longest = others.drop_duplicates("place", keep="last").set_index("place")["end_ft"].reindex(
        range(len(used_ft)), fill_value=0.0).to_numpy()
    alone = pd.DataFrame({"place": np.arange(len(used_ft)),
                          "start_ft": np.minimum(longest, used_ft), "end_ft": used_ft,
                          "payers": 1.0})
    return pd.concat([shared, alone]).sort_values("place", kind="stable", ignore_index=True)


def segment_part_ft(stretches: pd.DataFrame) -> np.ndarray:
    """Each farm's part of its line in feet, (n,) [ft], from its `segment_stretches`."""
    return _sum_by_place(
        stretches, (stretches["end_ft"] - stretches["start_ft"]) / stretches["payers"])


def segment_part_usd(stretches: pd.DataFrame, steps, free_ft=np.inf) -> np.ndarray:
    """Each farm's part of what its line costs, (n,) [USD], from its `segment_stretches`: every foot
    at the price of its place on the line, its job not included.

    `steps` has each farm's stepped price, as `line_cost.stepped_line_usd` takes it, and `free_ft`,
    (n,) [ft], ends the sum after so many feet of the farm's part, counted from the tap.
    """
    place, payers = stretches["place"].to_numpy(), stretches["payers"].to_numpy()
    start, end = stretches["start_ft"].to_numpy(), stretches["end_ft"].to_numpy()
    part_ft = pd.Series((end - start) / payers)
    before_ft = part_ft.groupby(place).cumsum() - part_ft
    free_ft = np.broadcast_to(free_ft, place.max(initial=-1) + 1)[place]
    end = np.minimum(end, start + np.maximum(free_ft - before_ft.to_numpy(), 0) * payers)
    at_place = {key: values[place] for key, values in steps.items()}
    usd = (line_cost.stepped_line_usd(length_ft=end, **at_place)
           - line_cost.stepped_line_usd(length_ft=start, **at_place))
    return _sum_by_place(stretches, usd / payers)


def _sum_by_place(stretches, values):
    return np.bincount(stretches["place"], weights=values)


def trunk_parts(designs: pd.DataFrame, payers: pd.DataFrame, *, steps, job_usd, free_ft,
                job_is_free, overhead) -> pd.DataFrame:
    """Each design's part of its shared line, if these payers build and the farm with them.

    `payers` has excel_row, shared_line_id, service_phases, line_build and trunk_ft [ft]; a farm
    pays with the others of the same line, phases and construction. Of each design, `steps` has the
    line's stepped price, `job_usd` (n,) the price of a line's job [USD] and `free_ft` (n,) [ft] the
    feet that are free, with the job where `job_is_free`; `overhead` [factor] comes on top of every
    price.

    Returns members, the farm included, part_ft [ft], and before overhead: part_usd, with an equal
    part of one job among the farms that use the line; free_usd, what of it the free feet cost; and
    relieved_usd, what one more farm that uses as much of the line would take over. With overhead
    the payers' parts are whole cents that add up to the line.
    """
    on_line = designs["shared_line_id"].notna().to_numpy()
    mine = designs.loc[on_line, [*LINE_KEYS, "excel_row", "candidate_id"]].assign(
        place=np.arange(on_line.sum()))
    steps = {key: values[on_line] for key, values in steps.items()}
    pairs = mine.merge(payers[[*LINE_KEYS, "excel_row", "trunk_ft"]], on=LINE_KEYS,
                       suffixes=("", "_of_payer"))
    pairs = pairs[pairs["excel_row"] != pairs["excel_row_of_payer"]]
    used_ft, place, end_ft = (designs["trunk_ft"].to_numpy(float)[on_line], pairs["place"],
                              pairs["trunk_ft"])
    stretches = segment_stretches(used_ft=used_ft, other_place=place, other_used_ft=end_ft)
    joined = segment_stretches(
        used_ft=used_ft, other_place=np.concatenate([place, mine["place"]]),
        other_used_ft=np.concatenate([end_ft, used_ft]))
    builders = 1 + np.bincount(place[end_ft > 0], minlength=on_line.sum())
    line_usd = segment_part_usd(stretches, steps)
    job_part_usd = np.where(used_ft == 0, 0.0, job_usd[on_line] / builders)
    free_usd = segment_part_usd(stretches, steps, free_ft[on_line])
    if job_is_free:
        free_usd = free_usd + np.where(free_ft[on_line] > 0, job_part_usd, 0.0)
    parts = pd.DataFrame({
        "members": 1.0 + np.bincount(place, minlength=on_line.sum()),
        "part_ft": segment_part_ft(stretches),
        "part_usd": _in_cents(mine.assign(usd=(line_usd + job_part_usd) * overhead),
                              payers) / overhead,
        "free_usd": free_usd,
        "relieved_usd": line_usd - segment_part_usd(joined, steps)}, mine.index)
    none = pd.DataFrame(0.0, designs.index[~on_line], parts.columns).assign(members=1.0)
    return pd.concat([parts, none]).reindex(designs.index)


def _in_cents(mine, payers):
    """Parts in whole cents: those of a line's payers add up to the line in cents, each cent given
    where the sum down their names reaches it; (n,) [USD]."""
    keys = ["excel_row", "service_phases"]
    paying = mine.merge(payers[keys].drop_duplicates(), on=keys).drop_duplicates(keys)
    paying = paying.sort_values("candidate_id", kind="stable")
    down = paying.groupby(LINE_KEYS)["usd"].cumsum().round(6).round(2)
    before = down.groupby([paying[key] for key in LINE_KEYS]).shift(fill_value=0.0)
    paid = mine[keys].merge(paying[keys].assign(usd=down - before), on=keys, how="left")["usd"]
    return paid.fillna(mine["usd"].reset_index(drop=True)).round(2).to_numpy()


def all_payers(designs: pd.DataFrame) -> pd.DataFrame:
    """Every assessed farm as a payer of its shared line, for either number of phases."""
    return designs[designs["shared_line_id"].notna()].drop_duplicates(
        ["excel_row", "service_phases"])


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
