"""The five benefit tests of the whole program and of each feeder, as sums of their farms."""

import numpy as np
import pandas as pd

from batch.columns.portfolio import SUMS
from batch.columns.results import RESULTS
from batch.economics import benefit_tests, cash_flow

IN_BUDGET, ALL_RANKED = "program: farms in the budget", "program: all ranked farms"
BEST_SET = "program: best set within all limits"
# What may be unknown of a farm that is ranked, and its name.
UNKNOWN_OF = {key: RESULTS.by_key[key].label for key in SUMS} | {
    f"{test}_npv_usd": RESULTS.by_key[f"{test}_npv_usd"].label for test in benefit_tests.TESTS}


def program_totals(funding, results: pd.DataFrame, rules) -> pd.DataFrame:
    """Sums, NPV and ratio of each test: the program within and beyond the budget, each set settled
    on its own, then each feeder with all its ranked farms. A figure that is not known of a farm is
    in no sum, which is said; what else is known of the farm is."""
    rows = [_one_group(name, farms, rules)
            for name, farms in groups_of(funding, results).items()]
    return pd.DataFrame(rows)


def groups_of(funding, results: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """The farms of each group whose figures are added up, by its name, each as exactly this group
    makes it."""
    groups = {}
    if results["in_budget"].notna().any():
        groups[IN_BUDGET] = results.index[results["in_budget"] == 1]
    if results["in_best_set"].notna().any():
        groups[BEST_SET] = results.index[results["in_best_set"] == 1]
    groups[ALL_RANKED] = results.index[results["rank"].notna()]
    frames = {name: (funding.best_sets if name == BEST_SET else funding.asked.sets).rows_of(
        list(rows)) for name, rows in groups.items()}
    ranked = frames[ALL_RANKED]
    return frames | {f"feeder {name}": ranked[ranked["feeder_id"] == name]
                     for name in sorted(ranked["feeder_id"].dropna().unique())}


def known_sum(values: pd.Series) -> float:
    """Sum of what is known; NaN where there are farms and nothing is."""
    return values.sum(min_count=min(len(values), 1))


def together_usd(farms):
    """NPV of members and cooperative, as a reader adds the two figures that stand beside it; of the
    farms of which both are known."""
    both = farms[["member_npv_usd", "cooperative_npv_usd"]]
    both = both[both.notna().all(axis=1)]
    if both.empty and len(farms):
        return np.nan
    return both.sum().round().sum()


def _one_group(name, farms, rules):
    unknown = farms[list(UNKNOWN_OF)].isna()
    lacking = [label for key, label in UNKNOWN_OF.items() if unknown[key].any()]
    row = {"group": name, "farms": len(farms), "left_out": int(unknown.any(axis=1).sum()),
           "left_out_of": ", ".join(dict.fromkeys(lacking))}
    row |= {key: known_sum(farms[key]) for key in SUMS}
    row["together_npv_usd"] = together_usd(farms)
    row["gaining_load_kw"] = farms.loc[farms["member_npv_usd"] > 0, "added_load_kw"].sum()
    for test in benefit_tests.TESTS:
        parts = farms[[f"{test}_benefits_usd", f"{test}_costs_usd"]]
        parts = parts[parts.notna().all(axis=1)]
        total = benefit_tests.grouped_test(
            test=benefit_tests.BenefitTest(*parts.to_numpy(float).T),
            group_code=np.zeros(len(parts), int), group_count=1)
        is_known = len(parts) or not len(farms)
        row[f"{test}_npv_usd"] = total.npv_usd[0] if is_known else np.nan
        row[f"{test}_ratio"] = total.ratio[0]
    row["rate_impact_usd_mwh"] = _rate_impact(row["ratepayer_npv_usd"], rules)
    return row


def _rate_impact(ratepayer_npv_usd, rules):
    """Change of every member's rate that would balance the ratepayer test; less is a relief."""
    if rules["system_sales_mwh_yr"] == 0:
        return np.nan
    sales = benefit_tests.in_program_years_usd(
        flow_usd=cash_flow.yearly_flow_usd(
            base_amount_usd_yr=1000.0 * rules["system_sales_mwh_yr"], escalation_pct=0.0,
            study_years=int(rules["study_years"])), test_timing=rules["test_timing"])
    return 1000 * float(benefit_tests.lifecycle_rate_impact_usd_kwh(
        ratepayer_npv_usd=ratepayer_npv_usd, system_sales_kwh=sales,
        cooperative_discount_rate_pct=rules["discount_rate_cooperative_pct"]))
