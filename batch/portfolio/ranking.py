"""Ranking by incentive cost per kW of a load, and the budget line down the ranking."""

import numpy as np
import pandas as pd


def order_statement(load: str) -> str:
    """The rule of order in words. `load` is what the ranking counts, as the rules name it."""
    return (f"Ranked by incentive cost per kW of {load}, least first; equal figures, in whole "
            "cents over whole watts, by candidate name. The budget line stops at the first farm "
            "that does not fit.")


def cents_per_watt(cost_usd, load_kw) -> np.ndarray:
    """The figure that farms are ordered by: cost in whole cents over load in whole watts.

    Equal ratios of whole numbers give the same figure, so that no binary tail of a sum parts two
    farms alike.

    Parameters
    ----------
    cost_usd, load_kw : arrays that broadcast [USD], [kW]; NaN stays NaN, and no load gives NaN
    """
    watts = np.round(1000 * np.asarray(load_kw, float))
    return np.round(100 * np.asarray(cost_usd, float)) / np.where(watts > 0, watts, np.nan)


def rank(results: pd.DataFrame, *, is_rankable, budget_usd, may_be_funded=True) -> pd.DataFrame:
    """Rank, running total and budget of each candidate.

    Parameters
    ----------
    results : frame (n,) with candidate_id, incentive_cost_usd [USD], counted_load_kw [kW]
    is_rankable : mask (n,); the others stay unranked
    budget_usd : float [USD] or None: no budget line
    may_be_funded : mask (n,) or true; the others are ranked, and take no budget

    Returns
    -------
    frame (n,) with rank, running_incentive_cost_usd [USD], in_budget (1, 0 or NaN)

    Sources: the program's own rule. A plain running total: farms behind the first that does not
    fit are not skipped over to, so a smaller one further down is not taken.
    """
    out = pd.DataFrame({"rank": np.nan, "running_incentive_cost_usd": np.nan, "in_budget": np.nan},
                       index=results.index)
    order = results.assign(figure=cents_per_watt(results["incentive_cost_usd"],
                                                 results["counted_load_kw"]))
    ranked = order[is_rankable & order["figure"].notna()].sort_values(
        ["figure", "candidate_id"], kind="stable")
    funds = pd.Series(may_be_funded, results.index)[ranked.index]
    running = ranked["incentive_cost_usd"].where(funds, 0.0).cumsum().round(2)
    out.loc[ranked.index, "rank"] = np.arange(1.0, len(ranked) + 1)
    out.loc[ranked.index, "running_incentive_cost_usd"] = running
    if budget_usd is not None:
        out.loc[ranked.index, "in_budget"] = (funds & (running <= budget_usd)).astype(float)
    return out
