"""Added load on each feeder against its spare capacity."""

import numpy as np
import pandas as pd


def feeder_loads(results: pd.DataFrame, feeders: pd.DataFrame) -> pd.DataFrame:
    """One row per feeder that a candidate or the Feeders sheet names.

    Sums are undiversified: irrigation pumps of one area run together in dry weeks. Single-phase
    and three-phase added load are told apart, since the first loads one phase only.
    """
    ranked = results[results["rank"].notna()]
    single = ranked["service_phases"] == 1
    added = pd.DataFrame({
        "feeder_id": ranked["feeder_id"], "candidates": 1, "added_kw": ranked["added_load_kw"],
        "added_single_phase_kw": ranked["added_load_kw"].where(single, 0.0),
        "in_budget_kw": ranked["added_load_kw"].where(ranked["in_budget"] == 1, 0.0)})
    by_feeder = added.groupby("feeder_id").sum()
    listed = feeders.set_index("feeder_id")
    names = list(listed.index) + sorted(set(by_feeder.index) - set(listed.index))
    out = by_feeder.reindex(names, fill_value=0.0).join(listed)
    out["left_kw"] = out["spare_capacity_kw"] - out["added_kw"]
    out["answer"] = np.select(
        [out["spare_capacity_kw"].isna(), out["left_kw"] < 0], ["not assessed", "fails"], "meets")
    return out.rename_axis("feeder_id").reset_index()
