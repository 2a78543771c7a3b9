"""Added load on each feeder against its spare capacity, and on its phases."""

import numpy as np
import pandas as pd

from batch.findings import FAILS, WATCH, judge
from batch.portfolio import phases

PHASES = ("a", "b", "c")
THREE_PHASES = "ABC"
OF_PHASES = ["phase_a_after_kw", "phase_b_after_kw", "phase_c_after_kw", "unbalance_before_pct",
             "unbalance_after_pct", "is_proven", "weakest_fault_a", "voltage_unbalance_pct"]


def feeder_loads(results: pd.DataFrame, is_funded, is_standing, feeders: pd.DataFrame,
                 rules) -> tuple[pd.DataFrame, pd.Series]:
    """One row per feeder that a farm or the Feeders sheet names, and the phase of each farm that
    builds (blank where its feeder's phase loads are not given): of those funded now, and of those
    that were approved before, which come first.

    A single-phase farm loads one phase, a three-phase farm all alike.
    """
    coincidence = rules["feeder_coincidence_pct"] / 100
    stands = is_standing & results["added_load_kw"].notna()
    ranked = results[results["rank"].notna() | stands].sort_values(
        "rank", kind="stable", na_position="first")
    ranked = ranked.assign(coincident_load_kw=ranked["added_load_kw"] * coincidence,
                           is_funded=(is_funded | stands)[ranked.index])
    single = ranked["service_phases"] == 1
    added = pd.DataFrame({
        "feeder_id": ranked["feeder_id"], "candidates": 1, "added_kw": ranked["added_load_kw"],
        "added_single_phase_kw": ranked["added_load_kw"].where(single, 0.0),
        "diversified_kw": ranked["coincident_load_kw"],
        "funded_kw": ranked["coincident_load_kw"].where(ranked["is_funded"], 0.0)})
    by_feeder = added.groupby("feeder_id").sum()
    listed = feeders.set_index("feeder_id")
    names = list(listed.index) + sorted(set(by_feeder.index) - set(listed.index))
    out = by_feeder.reindex(names, fill_value=0.0).join(listed)
    out["left_kw"] = out["spare_capacity_kw"] - out["diversified_kw"]
    out["funded_left_kw"] = out["spare_capacity_kw"] - out["funded_kw"]
    out["answer"] = judge(out["diversified_kw"], at_most=out["spare_capacity_kw"])
    out["breaking_candidate"] = _breaking(ranked, out["spare_capacity_kw"])
    out = out.rename_axis("feeder_id")
    placed = [_phases_of(name, out.loc[name], ranked) for name in out.index]
    out = out.join(pd.DataFrame([row for row, _ in placed], out.index, OF_PHASES))
    limit = rules["voltage_unbalance_limit_pct"]
    answer = judge(out["voltage_unbalance_pct"], at_most=np.full(len(out), float(limit)))
    # The estimate is an upper one, so that more than the limit wants a closer look.
    out["unbalance_answer"] = np.where(answer == FAILS, WATCH, answer)
    phase = pd.concat([series for _, series in placed] or [pd.Series(dtype=object)])
    return out.reset_index(), phase.reindex(results.index)


def _breaking(ranked, spare_kw):
    """The farm with which each feeder's load, added down the ranking, exceeds what it can take."""
    so_far = ranked.groupby("feeder_id")["coincident_load_kw"].cumsum()
    over = so_far > ranked["feeder_id"].map(spare_kw)
    return ranked[over].groupby("feeder_id")["candidate_id"].first()


def _phases_of(name, feeder, ranked):
    """Phase loads and unbalance of one feeder with the farms that build, and their phases."""
    farms = ranked[(ranked["feeder_id"] == name) & ranked["is_funded"]]
    farms = farms.sort_values("candidate_id", kind="stable")  # decides between alike assignments
    present_kw = feeder[[f"phase_{p}_kw" for p in PHASES]].to_numpy(float)
    if np.isnan(present_kw).any() or farms["coincident_load_kw"].isna().any():
        return dict.fromkeys(OF_PHASES, np.nan), pd.Series(dtype=object)
    single = farms["service_phases"] == 1
    base_kw = present_kw + farms.loc[~single, "coincident_load_kw"].sum() / 3
    loads_kw = farms.loc[single, "coincident_load_kw"].to_numpy(float)
    found = phases.assign_phases(load_kw=loads_kw, present_kw=base_kw)
    after_kw = base_kw + np.bincount(found.phase, weights=loads_kw, minlength=3)
    weakest_a = farms["source_fault_a"].min(skipna=False) if len(farms) else np.nan
    kv = feeder["nominal_kv"]
    row = {**{f"phase_{p}_after_kw": kw for p, kw in zip(PHASES, after_kw)},
           "is_proven": float(found.is_proven),
           "unbalance_before_pct": _one(phases.phase_unbalance_pct, present_kw),
           "unbalance_after_pct": _one(phases.phase_unbalance_pct, after_kw),
           "weakest_fault_a": weakest_a,
           "voltage_unbalance_pct": _one(
               # The part that all phases have alike lowers the three voltages alike.
               phases.voltage_unbalance_pct, after_kw - after_kw.mean(), nominal_kv=kv,
               source_impedance_ohm=phases.source_impedance_ohm(
                   nominal_kv=kv, single_phase_fault_a=weakest_a))}
    letters = pd.Series(THREE_PHASES, farms.index, dtype=object)
    letters[single] = [THREE_PHASES[k] for k in found.phase]
    return row, letters


def _one(formula, phase_kw, **more):
    return float(np.asarray(formula(phase_kw=phase_kw[np.newaxis], **more))[0])
