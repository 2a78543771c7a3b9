"""The program's sums over its funded farms, and percent before allowance, by hand."""

import csv

import pandas as pd
import pytest

from batch import rules
from batch.columns.program import COST_ITEMS, item_key
from batch.money.sharing import item_shares
from batch.price_list import PriceList


def test_totals_are_of_the_farms_that_they_name(demo_run):
    # By hand, from the file of sets: count the farms that a group names, add their cost there.
    def rows_of(name):
        with open(demo_run.folder / name, encoding="utf-8-sig") as file:
            return list(csv.DictReader(file))

    # A name that is typed twice is that of the first row; the other has an error.
    results = {row["candidate_id"]: row for row in reversed(rows_of("results.csv"))}
    of_set = {method: [row for row in rows_of("set_farms.csv") if row["method"] == method]
              for method in ("ranking, stop at the first misfit", "best set within all limits",
                             "all ranked farms")}
    groups = dict(zip(("program: farms in the budget", "program: best set within all limits",
                       "program: all ranked farms"), of_set.values()))
    for farms, key in zip(of_set.values(), ("in_budget", "in_best_set", "rank")):
        assert {row["candidate_id"] for row in farms} == {
            name for name, row in results.items() if row[key] not in ("", "no")}
    ranked = groups["program: all ranked farms"]
    feeder = {name: row["feeder_id"] for name, row in results.items()}
    for name in sorted({feeder[row["candidate_id"]] for row in ranked} - {""}):
        groups[f"feeder {name}"] = [row for row in ranked if feeder[row["candidate_id"]] == name]
    totals = demo_run.study.totals
    assert totals["group"].tolist() == list(groups) and len(groups) > 4
    assert len({len(farms) for farms in groups.values()}) > 3 and not totals["left_out"].any()
    for total, farms in zip(totals.itertuples(), groups.values()):
        assert total.farms == len(farms)
        assert total.incentive_cost_usd == pytest.approx(
            sum(float(row["incentive_cost_usd"]) for row in farms), abs=0.01)


def test_percent_then_allowance_pays_the_members_part_from_left_to_right():
    # One year of revenue of 6,000 USD. The member's half of a line of 10,000 is 5,000, of a
    # transformer of 4,000 is 2,000. The revenue pays 5,000 of the line: nothing is left of it; the
    # remaining 1,000 goes into the transformer: 2,000 - 1,000 = 1,000.
    changed = {"share_order": "percent then allowance", "allowance_basis": "revenue",
               "allowance_years": 1, "overhead_adder_pct": 0, "line_free_single_phase_ft": 0,
               "line_free_three_phase_ft": 0, "transformer_free_kva": 0}
    for item in COST_ITEMS:
        key = f"share_{item_key(item)}"
        changed |= {f"{key}_free_usd": 0, f"{key}_member_pct": 50, f"{key}_cap_usd": 1_000_000,
                    f"{key}_member_cap_usd": 1_000_000}
    year = rules.load(rules.years()[-1]).replaced(
        {key: rules.Rule(value, "the test") for key, value in changed.items()})
    farm = {f"base_{item_key(item)}_usd": 0.0 for item in COST_ITEMS} | {
        "base_line_usd": 10_000.0, "base_transformer_usd": 4_000.0, "revenue_usd_yr": 6_000.0,
        "margin_usd_yr": 0.0, "service_phases": 1, "line_build": "overhead", "paid_line_ft": 1000.0,
        "transformer_kva": 50.0}
    prices = pd.DataFrame(columns=["item", "line_build", "phases", "size", "from_ft", "price_usd",
                                   "candidate_id"])
    shares = item_shares(pd.DataFrame([farm]), year, PriceList(prices))
    paid = {item: float(share.member_usd[0]) for item, share in shares.items()}
    assert paid["line"] == 0 and paid["transformer"] == 1_000
    assert sum(paid.values()) == 1_000
