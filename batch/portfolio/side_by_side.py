"""Scenarios beside the workbook as it is filled in: the program's totals, and the farms whose
verdict, option or funding changes."""

import pandas as pd

AS_FILLED = "as filled in"
COMPARED = ("verdict", "supply_option", "in_budget", "in_best_set")
SHOWN = ("rank", "incentive_usd", "member_npv_usd")


def totals_side_by_side(totals: dict[str, pd.DataFrame]) -> pd.DataFrame:
    """The program's rows of each study's totals; `totals` maps a scenario's name to its frame, the
    workbook as filled in first. Groups stand together, so that like is beside like."""
    rows = [frame[frame["group"].str.startswith("program")].assign(scenario=name, place=k)
            for k, (name, frame) in enumerate(totals.items())]
    both = pd.concat(rows, ignore_index=True)
    first_seen = {group: k for k, group in enumerate(both["group"].drop_duplicates())}
    return both.assign(group_place=both["group"].map(first_seen)).sort_values(
        ["group_place", "place"], kind="stable").drop(columns=["group_place", "place"])


def changed_verdicts(results: dict[str, pd.DataFrame]) -> pd.DataFrame:
    """A row per farm and scenario in which verdict, option or funding is another than in the
    workbook as filled in; results of one workbook have the same index."""
    (_, base), *scenarios = results.items()
    found = []
    for name, other in scenarios:
        differs = pd.Series(False, base.index)
        for key in COMPARED:
            # Unknown on both sides is no difference.
            differs |= ~((base[key] == other[key]) | (base[key].isna() & other[key].isna()))
        row = other.loc[differs, ["candidate_id", "farm_label", "verdict_reason"]].assign(
            scenario=name)
        for key in (*COMPARED, *SHOWN):
            row[f"{key}_as_filled"], row[key] = base.loc[differs, key], other.loc[differs, key]
        found.append(row)
    return pd.concat(found, ignore_index=True) if found else pd.DataFrame()
