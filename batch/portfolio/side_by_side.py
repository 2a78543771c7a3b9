"""Scenarios beside the workbook as it is filled in: the program's totals, and the farms whose
verdict, option or funding changes."""

import pandas as pd

AS_FILLED = "as filled in"
COMPARED = ("verdict", "supply_option", "in_budget", "in_best_set")
SHOWN = ("rank", "incentive_usd", "member_npv_usd")
LEFT_OUT = "Left out by the scenario."


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
    workbook as filled in. Results of one workbook have the same index; a farm that the scenario
    leaves out has none there, and is told."""
    (_, base), *scenarios = results.items()
    found = []
    for name, other in scenarios:
        other = _with_left_out(base, other)
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


def _with_left_out(base: pd.DataFrame, other: pd.DataFrame) -> pd.DataFrame:
    """The results of a scenario with a row of unknowns for each farm that it leaves out."""
    is_out = ~base.index.isin(other.index)
    if not is_out.any():
        return other
    whole = other.reindex(base.index)
    names = ["candidate_id", "farm_label"]
    whole.loc[is_out, names] = base.loc[is_out, names]
    whole.loc[is_out, "verdict_reason"] = LEFT_OUT
    text = whole.columns[whole.dtypes == object]
    whole[text] = whole[text].astype(object).where(whole[text].notna(), None)
    return whole
