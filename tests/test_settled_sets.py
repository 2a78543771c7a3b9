"""The identity: whatever is said of a set of farms is what a study of exactly these farms gives, to
the cent and to the word; and what sets of farms do to one another, by hand."""

import os

import numpy as np
import openpyxl
import pytest

from batch.columns import RESULTS
from batch.program.budgeting import BEST_WITHIN
from batch.reading.validate import validate
from batch.study import run_study
from tests.conftest import DEMO, missing
from tests.workbooks.make import candidate_workbook

# The farms' place among all others: not of the set alone.
AMONG_OTHERS = {
    "excel_row", "rank", "ranking_usd_per_kw", "running_incentive_cost_usd", "in_budget",
    "in_best_set", "best_set_year", "funded", "funded_with", "net_cost_if_one_leaves_usd",
    "added_cost_usd", "added_usd_per_kw", "why_not", "may_be_funded", "assigned_phase",
    "qualifies_alone",
    *(column.key for column in RESULTS.columns if column.group == "uncertainty")}
CASES = 200 if os.environ.get("FARMBATCH_EXAMPLES") == "all" else 6


def without_other_rows(path, rows, to):
    """A copy of a workbook in which only some rows of Candidates are left below its headers."""
    book = openpyxl.load_workbook(path)
    sheet = book["Candidates"]
    first = min(validate(path).candidates.index)
    for row in range(sheet.max_row, first - 1, -1):
        if row not in rows:
            sheet.delete_rows(row)
    book.save(to)
    return to


def differences(said, alone):
    """Keys and farms of which a set's rows differ from those of a study of only the set."""
    said, alone = said.set_index("candidate_id"), alone.set_index("candidate_id")
    assert sorted(said.index) == sorted(alone.index)
    found = []
    for key in RESULTS.by_key:
        if key in AMONG_OTHERS or key not in said or key not in alone:
            continue
        for name in said.index:
            one, other = said.at[name, key], alone.at[name, key]
            if isinstance(one, float) and isinstance(other, float):
                is_same = np.isclose(one, other, rtol=0, atol=1e-9, equal_nan=True)
            else:
                is_same = one == other or (one is None or one != one) and (
                    other is None or other != other)
            if not is_same:
                found.append((key, name, one, other))
    return found


@pytest.mark.parametrize("which", ["funded", "best"])
def test_demo_with_only_a_set_gives_what_was_said_of_it(demo_run, tmp_path, which):
    study = demo_run.study
    rows = list(study.funding.funded) if which == "funded" else sorted(
        study.funding.year_by[BEST_WITHIN])
    alone = run_study(validate(without_other_rows(DEMO, rows, tmp_path / "only.xlsx")))
    said = study.results.loc[rows] if which == "funded" else study.sets.rows_of(rows)
    assert len(rows) > 15 and differences(said, alone.results) == []
    assert sorted(alone.funding.funded) == sorted(alone.results.index)  # all are funded again
    last = alone.results["running_incentive_cost_usd"].max()
    assert last == pytest.approx(said["incentive_cost_usd"].sum(), abs=0.005)
    if which == "funded":
        order = study.results.loc[rows].sort_values("rank")["candidate_id"].tolist()
        assert alone.results.sort_values("rank")["candidate_id"].tolist() == order


def random_workbook(seed):
    """Three to six farms on two lines or none, with feeders, musts and a budget, in any order."""
    draw = np.random.default_rng(seed)
    rows = []
    for n in range(draw.integers(3, 7)):
        line = [None, "L1", "L1", "L2"][draw.integers(0, 4)]
        rows.append({
            "candidate_id": f"F-{n}", "farm_label": f"Field {n}",
            "flow_gpm": int(draw.integers(300, 1000)),
            "is_inverter_duty": "yes", "pivot_lead_ft": 60, "source_fault_a": 2500,
            "load_control": True, "shared_line_id": line, "feeder_id": f"F{draw.integers(1, 3)}",
            "shared_line_use_ft": int(draw.integers(5, 21)) * 100 if line else None,
            "single_phase_distance_ft": int(draw.integers(0, 4)) * 300,
            "three_phase_distance_ft": int(draw.integers(0, 4)) * 300,
            "funding_choice": [None, None, None, "must fund"][draw.integers(0, 4)]})
    draw.shuffle(rows)
    return rows, {
        "study": {"program_budget_usd": int(draw.integers(2, 9)) * 10_000},
        "program": {"member_npv_floor_usd": -10_000_000,
                    "budget_method": ["ranking", "best set"][draw.integers(0, 2)],
                    "maximum_cooperative_payback_yr": 60},
        "feeders": [{"feeder_id": f"F{n}", "spare_capacity_kw": int(draw.integers(60, 400))}
                    for n in (1, 2)],
        "shared_lines": [
            {"shared_line_id": "L1", "shared_single_phase_ft": 2000, "shared_three_phase_ft": 2600},
            {"shared_line_id": "L2", "shared_single_phase_ft": 2400,
             "shared_three_phase_ft": 2000}]}


@pytest.mark.parametrize("seed", range(CASES))
def test_random_workbook_with_only_the_funded_gives_what_was_said(tmp_path, seed):
    rows, sheets = random_workbook(seed)
    study = run_study(validate(candidate_workbook(tmp_path, rows, **sheets)))
    funded = study.results[study.results["funded"] == 1]
    kept = [row for row in rows if row["candidate_id"] in set(funded["candidate_id"])]
    if not kept:
        return
    alone = run_study(validate(candidate_workbook(tmp_path, kept, name="only.xlsx", **sheets)))
    assert differences(funded, alone.results) == []
    assert alone.results["funded"].eq(1).all()


@pytest.fixture(scope="module")
def pair(tmp_path_factory):
    """Two farms that share a line of 4,000 ft, a third alone; all are funded."""
    line = [{"shared_line_id": "L", "shared_single_phase_ft": 4000, "shared_three_phase_ft": 4000}]
    row = {"shared_line_id": "L", "single_phase_distance_ft": 200, "source_fault_a": 2500,
           "supply_option": "single-phase drive", "is_inverter_duty": "yes", "pivot_lead_ft": 60}
    return run_study(validate(candidate_workbook(
        tmp_path_factory.mktemp("pair"), [row, row, row | {"shared_line_id": None}],
        shared_lines=line, study={"program_budget_usd": 1e6},
        program={"overhead_adder_pct": 0})))


def test_withdrawal_leaves_the_line_to_the_others(pair):
    # By hand: 4,000 ft at 7.50 USD and one job of 900 USD are 30,900 USD, half of it each; whoever
    # stays pays the other half, 15,450 USD, and alone no longer pays the cooperative back.
    table = pair.portfolio.withdrawals.set_index("candidate_id")
    assert table.loc["F-1", "line_mates"] == "F-2" and table.loc["F-3", "line_mates"] is None
    assert table.loc["F-1", "line_left_usd"] == pytest.approx(15_450, abs=0.01)
    assert table.loc["F-1", "no_longer_qualify"] == "F-2"
    assert table.loc["F-3", "line_left_usd"] == 0
    cost = pair.results.set_index("candidate_id")["incentive_cost_usd"]
    assert table.loc["F-3", "incentive_cost_change_usd"] == -cost["F-3"]


def test_farm_that_is_added_is_counted_with_its_line_mates(pair):
    assert pair.results["added_cost_usd"].isna().all()  # all are funded
    assert pair.results["funded_with"].tolist() == ["F-2", "F-1", None]


def test_set_farms_add_up_to_the_sets(demo_run):
    portfolio = demo_run.study.portfolio
    sums = portfolio.set_farms.groupby("method")["incentive_cost_usd"].sum()
    sets = portfolio.sets.set_index("method")
    for method in sets.index:
        assert sums[method] == pytest.approx(sets.loc[method, "incentive_cost_usd"], abs=0.005)
    together = portfolio.exchange.iloc[-1]
    assert together["total_resource_npv_usd"] == pytest.approx(
        sets.loc[BEST_WITHIN, "total_resource_npv_usd"] - sets["total_resource_npv_usd"].iloc[0])


def test_more_budget_never_reaches_less(demo_run):
    steps = demo_run.study.portfolio.budget_steps
    assert len(steps) == 7 and steps["goal_value"].is_monotonic_increasing
    assert (steps["spent_usd"] <= steps["budget_usd"] + 0.005).all()
    now = steps[steps["budget_usd"] == demo_run.study.inputs.study["program_budget_usd"]].iloc[0]
    assert now["goal_value"] == pytest.approx(
        demo_run.study.portfolio.sets.set_index("method").loc[BEST_WITHIN, "goal_value"])


def test_line_of_many_farms_is_said_to_be_limited_and_keeps_the_identity(tmp_path):
    line = [{"shared_line_id": "L", "shared_single_phase_ft": 4000, "shared_three_phase_ft": 4000}]
    rows = [{"candidate_id": f"F-{n}", "farm_label": "Field", "shared_line_id": "L",
             "feeder_id": "F1",
             "single_phase_distance_ft": 200, "source_fault_a": 2500, "is_inverter_duty": "yes",
             "pivot_lead_ft": 60, "supply_option": "single-phase drive",
             "flow_gpm": 500 + 40 * n} for n in range(10)]
    sheets = {"shared_lines": line, "study": {"program_budget_usd": 120_000},
              "feeders": [{"feeder_id": "F1", "spare_capacity_kw": 400}]}
    study = run_study(validate(candidate_workbook(tmp_path, rows, **sheets)))
    [told] = [f for f in study.findings.rows if f["slug"] == "line-sets-limited"]
    assert "of its 10 farms" in told["message"]
    assert study.portfolio.sets.set_index("method").loc[BEST_WITHIN, "is_proven"] == 0
    funded = study.results[study.results["funded"] == 1]
    assert 1 < len(funded) < 10
    kept = [row for row in rows if row["candidate_id"] in set(funded["candidate_id"])]
    alone = run_study(validate(candidate_workbook(tmp_path, kept, name="only.xlsx", **sheets)))
    assert differences(funded, alone.results) == []


if not DEMO.exists():
    missing("the demo portfolio is not made yet")
