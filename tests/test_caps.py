"""Caps cut what is given and bar no farm: by hand from the short price list of the tests."""

import numpy as np
import pytest

from batch.economics import cost_share
from batch.reading.validate import validate
from batch.study import run_study
from tests.workbooks.make import candidate_workbook

# By hand, from the price list: 1,200 ft of line at 7.50 and a job of 900 USD = 9,900 USD, service
# 2,800 USD, both half and half; transformer 4,700 and engineering 600 USD by the cooperative, which
# so pays 4,950 + 4,700 + 1,400 + 600 = 11,650 USD. The incentive's own maximum is 6,000 USD.
FARM = {"supply_option": "single-phase drive", "is_inverter_duty": "yes", "source_fault_a": 2500,
        "single_phase_distance_ft": 1200}
SHARE_USD, ADMINISTRATION_USD = 11_650, 350


def study_of(folder, **program):
    return run_study(validate(candidate_workbook(folder, rows=[FARM], program=program)))


@pytest.fixture(scope="module")
def plain(tmp_path_factory):
    """The farm under the plain rules."""
    return only(study_of(tmp_path_factory.mktemp("plain")))


def only(study):
    farm, = (row for _, row in study.results.iterrows())
    return farm


def shares(study):
    """The chosen design's ledger by item."""
    chosen, = study.options.index[study.options["is_chosen"]]
    return study.ledger[study.ledger["design"] == chosen].set_index("item")


def test_without_a_binding_cap(plain):
    farm = plain
    assert (farm["cooperative_cost_usd"], farm["incentive_usd"]) == (SHARE_USD, 6000)
    assert (farm["verdict"], farm["incentive_decided_by"]) == ("qualifies", "maximum")


def test_farm_cap_leaves_less_incentive(tmp_path):
    farm = only(study_of(tmp_path, farm_cap_usd=SHARE_USD + 480))
    # Below the least incentive of 500 USD the capped amount is paid.
    assert (farm["incentive_usd"], farm["incentive_decided_by"]) == (480, "cap per farm")
    assert farm["verdict"] == "qualifies"


def test_share_above_the_farm_cap_goes_to_the_member(tmp_path):
    study = study_of(tmp_path, farm_cap_usd=5000)
    farm, ledger = only(study), shares(study)
    # 11,650 - 5,000 = 6,650 USD: the line's 4,950, then 1,700 of the transformer's 4,700.
    assert ledger.loc["line", ["cooperative_usd", "member_usd"]].tolist() == [0, 9900]
    assert ledger.loc["transformer", ["cooperative_usd", "member_usd"]].tolist() == [3000, 1700]
    assert ledger.loc[["service", "engineering"], "cooperative_usd"].tolist() == [1400, 600]
    assert (farm["cooperative_cost_usd"], farm["incentive_usd"]) == (5000, 0)
    assert farm["contribution_usd"] == 9900 + 1700 + 1400
    assert farm["verdict"] in ("qualifies", "qualifies with conditions")
    assert "cap per farm" not in set(study.checks["check"])
    said = ledger["rule"].str.contains("the member takes what is above the cap per farm of 5,000")
    assert ledger.index[said].tolist() == ["line", "transformer"]
    message, = (f["message"] for f in study.findings.rows if f["slug"] == "share-above-farm-cap")
    assert "6,650.00 USD are above the cap per farm of 5,000 USD" in message


@pytest.mark.parametrize("cap, taken", [
    # By hand: 700 + 40 + 30 + 20 + 10 = 800 by the cooperative. Cap 790: 10 of the line; 95: all of
    # line and 5 of the transformer; 0: everything; 800 and more: nothing.
    (790, [10, 0, 0, 0, 0]), (95, [700, 5, 0, 0, 0]), (0, [700, 40, 30, 20, 10]),
    (800, [0, 0, 0, 0, 0]), (1e7, [0, 0, 0, 0, 0])])
def test_items_are_taken_over_from_first_to_last(cap, taken):
    items = [cost_share.item_share(
        item_cost_usd=np.array([cost]), overhead_pct=0, allowance_usd=0, cooperative_pct=pct,
        order=cost_share.ORDERS[0])
        for cost, pct in ((1000, 70), (40, 100), (60, 50), (20, 100), (100, 10))]
    cut = cost_share.cut_to_farm_cap(shares=items, farm_cap_usd=cap)
    assert [share.above_farm_cap_usd.item() for share in cut] == taken
    for before, after, usd in zip(items, cut, taken):
        assert after.cooperative_usd.item() == before.cooperative_usd.item() - usd
        assert after.member_usd.item() == before.member_usd.item() + usd
        assert after.item_cost_usd.item() == before.item_cost_usd.item()


def test_payback_limit_leaves_less_incentive(tmp_path, plain):
    # What pays back in a year, after 5 % a year on 9,900 + 4,700 + 2,800 + 600 USD of plant.
    yearly = plain["margin_usd_yr"] - 0.05 * 18_000
    room = 7 * yearly - SHARE_USD - ADMINISTRATION_USD
    assert 500 < room < 6000 and yearly * 7 < SHARE_USD + ADMINISTRATION_USD + 6000
    study = study_of(tmp_path, maximum_cooperative_payback_yr=7)
    farm = only(study)
    assert farm["incentive_usd"] == pytest.approx(np.floor(room * 100) / 100, abs=1e-6)
    assert farm["incentive_decided_by"] == "cooperative payback"
    assert farm["verdict"] == "qualifies"  # the cut incentive pays back just in time
    assert farm["cooperative_payback_yr"] == pytest.approx(7, abs=1e-5)
    check, = study.checks[study.checks["check"].str.startswith("cooperative payback")].query(
        "supply_option == 'single-phase drive'").itertuples()
    assert check.answer == "meets" and check.value == pytest.approx(7, abs=1e-5)


def test_only_a_farm_that_fails_without_incentive_does_not_qualify(tmp_path):
    study = study_of(tmp_path, maximum_cooperative_payback_yr=5)
    farm = only(study)
    years = (SHARE_USD + ADMINISTRATION_USD) / (farm["margin_usd_yr"] - 0.05 * 18_000)
    assert years > 5 and farm["cooperative_payback_yr"] == pytest.approx(years)
    assert farm["verdict"] == "does not qualify" and farm["incentive_usd"] == 0
    # The reason has the figure of the farm's own column.
    assert f"cooperative payback with incentive {years:.4g} yr" in farm["verdict_reason"]


def test_incentive_counts_the_members_part_of_eligible_items(tmp_path):
    # By hand: a quarter of what the member pays of drive and filter, which is half of their cost.
    half = {"share_drive_member_pct": 50, "share_filter_member_pct": 50,
            "incentive_maximum_usd": 1_000_000, "farm_cap_usd": 5_000_000,
            "maximum_cooperative_payback_yr": 60, "carrying_cost_pct": 0}
    study = study_of(tmp_path, **half)
    cost = shares(study).loc[["drive", "filter"], "item_cost_usd"].sum()
    assert cost > 30_000
    assert only(study)["incentive_usd"] == cost / 2 / 4
    # The cooperative pays for all of them: nothing is left to aid, not the least incentive either.
    none = only(study_of(tmp_path, **half | {"share_drive_member_pct": 0,
                                             "share_filter_member_pct": 0}))
    assert none["verdict"].startswith("qualifies")
    assert (none["incentive_usd"], none["incentive_decided_by"]) == (0, "no eligible cost")


def test_no_least_incentive_without_an_eligible_item(tmp_path):
    # A three-phase line needs neither drive nor filter, which alone are eligible.
    program = {"maximum_cooperative_payback_yr": 60, "incentive_eligible_items": "drive, filter"}
    line = FARM | {"supply_option": "three-phase line", "three_phase_distance_ft": 300}
    none = only(run_study(validate(candidate_workbook(tmp_path, rows=[line], program=program))))
    assert none["verdict"].startswith("qualifies")
    assert (none["incentive_usd"], none["incentive_decided_by"]) == (0, "no eligible cost")
    program["incentive_eligible_items"] = "drive, starter"
    least = only(run_study(validate(candidate_workbook(tmp_path, rows=[line], program=program))))
    # By hand: a starter of 2,900 USD: a quarter of it, 725 USD.
    assert (least["incentive_usd"], least["incentive_decided_by"]) == (725, "formula")


def test_caps_combine_and_the_smallest_decides(tmp_path, plain):
    kw, cost = plain["added_load_kw"], plain["project_cost_usd"]
    both = {"incentive_cap_usd_per_kw": 60, "incentive_cap_cost_pct": 3}
    for program, usd, decided_by in (
            ({"incentive_cap_usd_per_kw": 60}, 60 * kw, "cap per kW"),
            ({"incentive_cap_cost_pct": 3}, 0.03 * cost, "cap by project cost"),
            (both, min(60 * kw, 0.03 * cost), "cap by project cost"),
            (both | {"farm_cap_usd": SHARE_USD + 2000}, 2000, "cap per farm")):
        farm = only(study_of(tmp_path, **program))
        assert farm["incentive_usd"] == np.floor(usd * 100 + 1e-6) / 100, program
        assert farm["incentive_decided_by"] == decided_by
