"""Shared lines: each farm's part with and without the others, and the three-phase crossover."""

import pandas as pd

from batch.portfolio import shared_lines
from batch.steps.choosing import meets_limits


def shared_costs(chosen: pd.DataFrame, options_alone: pd.DataFrame) -> pd.DataFrame:
    """A row per farm of a shared line: what its line costs with the others and alone.

    `chosen` has the chosen option of each farm; `options_alone` all options of the farms of shared
    lines, priced as if no other farm built.
    """
    farms = chosen[chosen["shared_line_id"].notna()].set_index("excel_row")
    same = options_alone.set_index(["excel_row", "supply_option"])["line_cost_usd"]
    meets_alone = meets_limits(options_alone).groupby(options_alone["excel_row"]).any()
    out = farms[["shared_line_id", "candidate_id", "supply_option", "trunk_ft",
                 "trunk_part_ft"]].copy()
    out["members"] = farms["shared_line_members"]
    out["with_others_usd"] = farms["line_cost_usd"]
    out["alone_usd"] = same.reindex(pd.MultiIndex.from_arrays(
        [farms.index, farms["supply_option"]])).to_numpy()
    out["saved_usd"] = out["alone_usd"] - out["with_others_usd"]
    out["qualifies_alone"] = meets_alone.reindex(farms.index).astype(float)
    return out.sort_values(["shared_line_id", "candidate_id"], kind="stable").reset_index(drop=True)


def crossover(options: pd.DataFrame, rules) -> pd.DataFrame:
    """Total cost of the first farms of each shared line by either service."""
    return shared_lines.line_crossover(
        options.assign(overhead=1 + rules["overhead_adder_pct"] / 100))
