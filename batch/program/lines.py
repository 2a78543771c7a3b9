"""Shared lines: each farm's part with and without the others, and the three-phase crossover."""

import pandas as pd

from batch.portfolio import shared_lines
from batch.program.choosing import may_be_chosen, meets_limits


def shared_costs(chosen: pd.DataFrame, options_alone: pd.DataFrame, rules) -> pd.DataFrame:
    """A row per farm of a shared line: whether it pays, and what its line costs with the others and
    alone.

    `chosen` has the chosen option of each farm; `options_alone` all options of the farms of shared
    lines, priced as if no other farm built.
    """
    farms = chosen[chosen["shared_line_id"].notna()].set_index("excel_row")
    alone = qualifies_alone(options_alone)
    same = options_alone.set_index(["excel_row", "supply_option"])["line_cost_usd"]
    out = farms[["shared_line_id", "candidate_id", "supply_option", "trunk_ft",
                 "trunk_part_ft"]].copy()
    out["members"] = farms["shared_line_members"]
    out["pays"] = farms["is_funded"].astype(float)
    out["trunk_part_usd"] = (farms["trunk_part_usd"] * _overhead(rules)).round(2)
    out["with_others_usd"] = farms["line_cost_usd"]
    out["alone_usd"] = same.reindex(pd.MultiIndex.from_arrays(
        [farms.index, farms["supply_option"]])).to_numpy()
    out["saved_usd"] = out["alone_usd"] - out["with_others_usd"]
    out["qualifies_alone"] = alone.reindex(farms.index)
    return out.sort_values(["shared_line_id", "candidate_id"], kind="stable").reset_index(drop=True)


def qualifies_alone(options_alone: pd.DataFrame) -> pd.Series:
    """1 where an option that a farm of a shared line may get meets every limit though no other farm
    builds, else 0, by Excel row."""
    open_to_it = options_alone[may_be_chosen(options_alone)]
    return meets_limits(open_to_it).groupby(open_to_it["excel_row"]).any().astype(float)


def crossover(options: pd.DataFrame, rules) -> pd.DataFrame:
    """Total cost of the first farms of each shared line by either service."""
    return shared_lines.line_crossover(
        options.assign(overhead=_overhead(rules)))


def _overhead(rules):
    return 1 + rules["overhead_adder_pct"] / 100
