"""A farm without a fuel price: the cooperative's side is known and ranked, the member's is not
assessed; sums add what is known and say of how many farms a figure is missing.

Sums are added up here by hand from the farms' own figures.
"""

import re

import numpy as np
import pytest

from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.pages.pages import write_pages
from tests.workbooks.make import candidate_workbook

FARM = {"is_inverter_duty": "yes", "source_fault_a": 2500, "pivot_lead_ft": 60,
        "single_phase_distance_ft": 200, "supply_option": "single-phase drive"}
KNOWN, UNKNOWN = FARM | {"flow_gpm": 600}, FARM | {"fuel_price_usd": None}
ROWS = [KNOWN, UNKNOWN]


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    return run_study(validate(candidate_workbook(
        tmp_path_factory.mktemp("unknown"), ROWS, study={"program_budget_usd": 500_000})))


def test_farm_is_ranked_by_the_cooperatives_side(study):
    known, unknown = study.results.iloc[0], study.results.iloc[1]
    assert not np.isnan(unknown["rank"]) and unknown["in_budget"] == 1
    assert np.isfinite(unknown["cooperative_npv_usd"])
    for key in ("member_saving_usd_yr", "member_npv_usd", "together_npv_usd", "member_payback_yr"):
        assert np.isnan(unknown[key]) and np.isfinite(known[key])
    assert "member payback with incentive" in unknown["verdict_reason"].split("Not assessed")[1]
    [finding] = [f for f in study.findings.rows if f["slug"] == "fuel-price-missing"]
    assert finding["row"] == 3 and finding["severity"] != "error"


def test_sums_are_of_what_is_known(study):
    known, unknown = study.results.iloc[0], study.results.iloc[1]
    total = study.totals.iloc[0]
    assert total["farms"] == 2 and total["left_out"] == 1
    for key in ("incentive_cost_usd", "added_load_kw", "cooperative_npv_usd", "margin_usd_yr"):
        assert total[key] == pytest.approx(known[key] + unknown[key])
    for key in ("member_npv_usd", "member_saving_usd_yr", "total_resource_npv_usd"):
        assert total[key] == pytest.approx(known[key])
    assert total["ratepayer_npv_usd"] == pytest.approx(
        known["ratepayer_npv_usd"] + unknown["ratepayer_npv_usd"])
    assert total["together_npv_usd"] == pytest.approx(
        round(known["member_npv_usd"]) + round(known["cooperative_npv_usd"]))
    assert "Member NPV" in total["left_out_of"] and "Cooperative NPV" not in total["left_out_of"]
    ranking = study.portfolio.sets.set_index("method").loc["ranking, stop at the first misfit"]
    assert ranking["farms"] == 2 and ranking["left_out"] == 1
    assert ranking["incentive_cost_usd"] == pytest.approx(total["incentive_cost_usd"])


def test_futures_of_the_cooperative_count_the_farm(study):
    tornado = study.portfolio.tornado.set_index("driver")
    rows = study.results
    # Between the two ends of a driver lies the sum as studied.
    for party in ("member", "cooperative"):
        ends = tornado.loc["wholesale price" if party == "cooperative" else "fuel price",
                           [f"{party}_npv_low_usd", f"{party}_npv_high_usd"]].astype(float)
        assert ends.min() < rows[f"{party}_npv_usd"].sum() < ends.max()
        assert ends.mean() == pytest.approx(rows[f"{party}_npv_usd"].sum(), rel=0.05)


def test_board_says_of_how_many_farms_a_figure_is_missing(study, tmp_path):
    write_pages(study, tmp_path, "fingerprint")
    page = re.sub(r"<[^>]+>", "", (tmp_path / "board.html").read_text(encoding="utf-8"))
    assert "Of 1 funded farm a figure is unknown. It is missing in:" in page
    assert "of the farms of which both are known" in page
    assert "nan" not in page.lower().split("screening only")[0]


def test_all_of_a_sum_unknown_is_blank_and_no_zero(tmp_path):
    study = run_study(validate(candidate_workbook(tmp_path, [UNKNOWN])))
    total = study.totals.iloc[0]
    assert np.isnan(total["member_npv_usd"]) and np.isnan(total["together_npv_usd"])
    assert np.isnan(total["participant_npv_usd"]) and np.isfinite(total["cooperative_npv_usd"])


def test_not_assessed_where_the_rules_ask_for_the_members_gain(tmp_path):
    study = run_study(validate(candidate_workbook(
        tmp_path, ROWS, program={"member_npv_floor_usd": 0})))
    unknown = study.results.iloc[1]
    assert unknown["verdict"] == "incomplete" and np.isnan(unknown["rank"])
    assert "member NPV with incentive" in unknown["verdict_reason"]
