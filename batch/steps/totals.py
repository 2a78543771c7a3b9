"""The five benefit tests of the whole program and of each feeder, as sums of their farms."""

import numpy as np
import pandas as pd

from batch.columns.portfolio import SUMS
from batch.economics import benefit_tests, cash_flow

IN_BUDGET, ALL_RANKED = "program: farms in the budget", "program: all ranked farms"
BEST_SET = "program: best set within all limits"


def program_totals(results: pd.DataFrame, rules) -> pd.DataFrame:
    """Sums, NPV and ratio of each test: the program in and beyond the budget, then each feeder
    with all its ranked farms. Farms whose money is not fully known are left out and counted."""
    ranked = results[results["rank"].notna()]
    test_keys = [f"{test}_{part}_usd" for test in benefit_tests.TESTS
                 for part in ("benefits", "costs")]
    is_known = ranked[[*SUMS, *test_keys]].notna().all(axis=1)
    groups = [(IN_BUDGET, ranked["in_budget"] == 1)] if ranked["in_budget"].notna().any() else []
    if ranked["in_best_set"].notna().any():
        groups.append((BEST_SET, ranked["in_best_set"] == 1))
    groups.append((ALL_RANKED, pd.Series(True, ranked.index)))
    groups += [(f"feeder {name}", ranked["feeder_id"] == name)
               for name in sorted(ranked["feeder_id"].dropna().unique())]
    rows = [_one_group(name, ranked[mask & is_known], int((mask & ~is_known).sum()), rules)
            for name, mask in groups]
    return pd.DataFrame(rows)


def together_usd(farms):
    """NPV of members and cooperative, as a reader adds the two figures that stand beside it."""
    return farms["member_npv_usd"].sum().round() + farms["cooperative_npv_usd"].sum().round()


def _one_group(name, farms, left_out, rules):
    row = {"group": name, "farms": len(farms), "left_out": left_out}
    row |= {key: farms[key].sum() for key in SUMS}
    row["together_npv_usd"] = together_usd(farms)
    row["gaining_load_kw"] = farms.loc[farms["member_npv_usd"] > 0, "added_load_kw"].sum()
    for test in benefit_tests.TESTS:
        total = benefit_tests.grouped_test(
            test=benefit_tests.BenefitTest(farms[f"{test}_benefits_usd"].to_numpy(),
                                           farms[f"{test}_costs_usd"].to_numpy()),
            group_code=np.zeros(len(farms), int), group_count=1)
        row[f"{test}_npv_usd"], row[f"{test}_ratio"] = total.npv_usd[0], total.ratio[0]
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
