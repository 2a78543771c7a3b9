"""Totals of a set of results, from canonical text, so that stored and new ones add up alike."""

import numpy as np
import pandas as pd

from batch.columns import RESULTS
from batch.columns.results import VERDICTS

# Summed over the ranked farms, which are those that could be approved.
SUMMED = ("added_load_kw", "useful_load_kw", "project_cost_usd", "cooperative_cost_usd",
          "member_cost_usd", "incentive_usd", "incentive_cost_usd", "member_npv_usd",
          "cooperative_npv_usd")


def totals(results: pd.DataFrame) -> dict[str, float]:
    """Counts of candidates and verdicts, and sums over the ranked farms, by name.

    A farm whose value is blank adds nothing. Keys that the results do not have are left out.
    """
    found = {"candidates": float(len(results))}
    found |= {verdict: float((results["verdict"] == verdict).sum()) for verdict in VERDICTS}
    ranked = results[results["rank"] != ""]
    found["ranked farms"] = float(len(ranked))
    found["farms in the budget"] = float((ranked["in_budget"] == "yes").sum())
    for key in SUMMED:
        if key in results:
            numbers = pd.to_numeric(ranked[key], errors="coerce").replace([np.inf, -np.inf], np.nan)
            column = RESULTS.by_key[key]
            found[f"{column.label} [{column.unit}]"] = round(float(numbers.sum()), 2)
    return found
