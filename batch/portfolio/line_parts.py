"""Each farm's part of a line that several farms share, by the segment rule applied twice.

The farms that build stand along one line without branches. The single-phase cost of every stretch
is split equally among the farms beyond it. Where some of these take three phases the stretch is
built with three, and what that costs more is split equally among them. Both halves are the Shapley
value of their own airport game, so that the parts are that of the whole line.
"""

import numpy as np
import pandas as pd

from batch.economics import line_cost

# Farms that may share: the same builders of one line, and the same construction.
TOGETHER = ["builders", "line_build"]


def stretches_of(farms: pd.DataFrame, payers: pd.DataFrame) -> pd.DataFrame:
    """The stretches of each farm's shared line, given who else pays for it and by how many phases.

    Places are counted from the line's far end, where the single-phase and the three-phase line meet
    whatever tap each begins at.

    Parameters
    ----------
    farms : frame (n,) with builders, line_build, excel_row, is_three, reach_ft [ft] from its tap to
        the end of the line, and unused_ft [ft] from where the farm leaves it to that end
    payers : frame with the same columns, a row for each farm of a set of builders

    Returns
    -------
    frame, from the tap on for each farm: place (0 to n - 1), start_ft and end_ft [ft] before the
    end of the line, and how many farms use the stretch by single phase and by three phases, this
    one included; NaN feet where a length is unknown

    Sources: Littlechild and Owen, "A Simple Expression for the Shapley Value in a Special Case",
    Management Science, 1973 (cited from memory). Tested with a published airport-problem example
    and against the mean over all orders of arrival.
    """
    return _stretches(farms, _others(farms, payers))


def _stretches(farms, others):
    """The same, given every other payer of each farm's line."""
    cuts = _cuts(farms, others)
    place, start, end = cuts["place"].to_numpy(), cuts["start_ft"], cuts["end_ft"]
    middle = cuts.assign(stretch=np.arange(len(cuts)), middle=(start + end) / 2)
    pairs = middle.merge(others, on="place")
    is_beyond = (pairs["unused_ft"] < pairs["middle"]) & (pairs["middle"] <= pairs["reach_ft"])
    three = pairs["is_three"].to_numpy(bool)
    own_three = farms["is_three"].to_numpy(bool)[place]

    def users(of_three):
        at = pairs.loc[is_beyond & (three == of_three), "stretch"]
        return np.bincount(at, minlength=len(cuts)) + (own_three == of_three)

    return cuts.assign(by_one=users(False), by_three=users(True), is_three=own_three)


def _others(farms, payers):
    """Every other payer of each farm's line; `place` is the farm's, from 0."""
    keys = [*TOGETHER, "excel_row"]
    pairs = farms[keys].assign(place=np.arange(len(farms))).merge(
        payers[[*keys, "is_three", "reach_ft", "unused_ft"]], on=TOGETHER,
        suffixes=("", "_of_payer"))
    return pairs[pairs["excel_row"] != pairs["excel_row_of_payer"]]


def _cuts(farms, others):
    """Each farm's way from its tap to where it leaves, cut wherever another farm comes or goes."""
    own = farms[["reach_ft", "unused_ft"]].reset_index(drop=True)
    at = pd.concat([own.stack(future_stack=True).droplevel(1),
                    *(others.set_index("place")[key] for key in own)])
    cuts = pd.DataFrame({"place": at.index, "start_ft": at.to_numpy(float)})
    low, high = (own[key].to_numpy(float)[cuts["place"]] for key in ("unused_ft", "reach_ft"))
    cuts["start_ft"] = np.clip(cuts["start_ft"], np.minimum(low, high), high)
    cuts = cuts.drop_duplicates().sort_values(["place", "start_ft"], ascending=[True, False],
                                              kind="stable", ignore_index=True)
    cuts["end_ft"] = cuts.groupby("place")["start_ft"].shift(-1)
    is_last = ~cuts["place"].duplicated(keep="last")
    is_only = is_last & ~cuts["place"].duplicated(keep=False)  # uses nothing, or is not known
    return cuts.assign(end_ft=cuts["end_ft"].where(~is_only, cuts["start_ft"]))[
        ~is_last | is_only].reset_index(drop=True)


def part_ft(stretches: pd.DataFrame) -> np.ndarray:
    """Each farm's part of its line in feet, (n,) [ft]: every stretch over all farms beyond it."""
    return _sum_by_place(stretches, (stretches["start_ft"] - stretches["end_ft"])
                         / (stretches["by_one"] + stretches["by_three"]))


def part_usd(stretches: pd.DataFrame, prices: dict, *, more_users: int = 0,
             free_ft=np.inf) -> np.ndarray:
    """Each farm's part of what its line costs, (n,) [USD], its job not included.

    Parameters
    ----------
    stretches : frame of `stretches_of`
    prices : dict of phases (1, 3) -> (length_ft, steps): the whole length of the line by that many
        phases, (n,) [ft], and its stepped price, as `line_cost.stepped_line_usd` takes it; every
        foot is priced by its place on that line
    more_users : farms like each one that would use as much of the line by the same phases
    free_ft : (n,) [ft]; the sum ends after so many feet of the farm's part, counted from the tap
    """
    place = stretches["place"].to_numpy()
    three = stretches["is_three"].to_numpy()
    one_users = stretches["by_one"].to_numpy() + np.where(three, 0, more_users)
    three_users = stretches["by_three"].to_numpy() + np.where(three, more_users, 0)
    users = one_users + three_users
    start, end = stretches["start_ft"].to_numpy(), stretches["end_ft"].to_numpy()
    own_ft = pd.Series((start - end) / users)
    before_ft = (own_ft.groupby(place).cumsum() - own_ft).to_numpy()
    free_ft = np.broadcast_to(free_ft, place.max(initial=-1) + 1)[place]
    end = np.maximum(end, start - np.maximum(free_ft - before_ft, 0) * users)

    def cost(phases):
        length, steps = prices[phases]
        length, at_place = length[place], {key: values[place] for key, values in steps.items()}
        return (line_cost.stepped_line_usd(length_ft=np.maximum(length - end, 0), **at_place)
                - line_cost.stepped_line_usd(length_ft=np.maximum(length - start, 0), **at_place))

    return _sum_by_place(stretches, _split(cost(1), cost(3), three, one_users, three_users))


def _split(one_usd, three_usd, is_three, one_users, three_users):
    """One farm's part of a cost that is `one_usd` by single phase and `three_usd` by three."""
    users = one_users + three_users
    alone_by_three = three_usd / np.maximum(three_users, 1)
    more = (three_usd - one_usd) / np.maximum(three_users, 1)
    return np.where(~is_three, one_usd / users,
                    np.where(one_users == 0, alone_by_three, one_usd / users + more))


def _sum_by_place(stretches, values):
    return np.bincount(stretches["place"], weights=values)


def parts(farms: pd.DataFrame, payers: pd.DataFrame, *, prices, job_usd, free_ft, job_is_free,
          overhead) -> pd.DataFrame:
    """Each farm's part of its shared line, if these payers build and the farm with them.

    Parameters
    ----------
    farms, payers : frames as `stretches_of` takes them; farms with candidate_id
    prices : as `part_usd` takes them
    job_usd : dict of phases (1, 3) -> (n,) [USD], the price of a line's job
    free_ft : (n,) [ft] that are free, with the job where `job_is_free`
    overhead : factor on top of every price

    Returns
    -------
    frame (n,): members, the farm included; part_ft [ft]; and before overhead [USD]: part_usd, with
    its part of one job among the farms that use the line; free_usd, what of it the free feet cost;
    relieved_usd, what one more farm that uses as much of the line would take over. With overhead
    the payers' parts are whole cents that add up to the line.
    """
    others = _others(farms, payers)
    stretches = _stretches(farms, others)
    place, three = others["place"], others["is_three"].to_numpy(bool)
    uses = (others["reach_ft"] > others["unused_ft"]).to_numpy()
    is_three = farms["is_three"].to_numpy(bool)
    one_users, three_users = (
        np.bincount(place[uses & (three == of_three)], minlength=len(farms))
        + (is_three == of_three) for of_three in (False, True))
    job = np.where(farms["reach_ft"] <= farms["unused_ft"], 0.0,
                   _split(job_usd[1], job_usd[3], is_three, one_users, three_users))
    line = part_usd(stretches, prices)
    free = part_usd(stretches, prices, free_ft=free_ft)
    if job_is_free:
        free = free + np.where(free_ft > 0, job, 0.0)
    return pd.DataFrame({
        "members": 1.0 + np.bincount(place, minlength=len(farms)),
        "part_ft": part_ft(stretches),
        "part_usd": _in_cents(farms.assign(usd=(line + job) * overhead), payers) / overhead,
        "free_usd": free,
        "relieved_usd": line - part_usd(stretches, prices, more_users=1)}, farms.index)


def _in_cents(farms, payers):
    """Parts in whole cents: those of a line's payers add up to the line in cents, each cent given
    where the sum down their names reaches it; (n,) [USD]."""
    keys = [*TOGETHER, "excel_row", "is_three"]
    paying = farms.merge(payers[keys].drop_duplicates(), on=keys).drop_duplicates(keys)
    paying = paying.sort_values("candidate_id", kind="stable")
    down = paying.groupby(TOGETHER)["usd"].cumsum().round(6).round(2)
    before = down.groupby([paying[key] for key in TOGETHER]).shift(fill_value=0.0)
    paid = farms[keys].merge(paying[keys].assign(usd=down - before), on=keys, how="left")["usd"]
    return paid.fillna(farms["usd"].reset_index(drop=True)).round(2).to_numpy()
