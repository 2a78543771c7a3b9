"""Farms whose grower loses by the farm's own figures: the rule of the floor, the board's page."""

import re

import numpy as np
import pytest

from batch import rules
from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.run_folder import write_run
from tests.workbooks.make import candidate_workbook

# Dear fuel, and fuel so cheap that electric service never pays; nothing else differs.
FARM = {"is_inverter_duty": "yes", "pivot_lead_ft": 60, "single_phase_distance_ft": 200,
        "supply_option": "single-phase drive", "load_control": True, "source_fault_a": 2500}
GAINS, LOSES = FARM | {"fuel_price_usd": 9}, FARM | {"fuel_price_usd": 0.5}
UNKNOWN = FARM | {"present_power": "none", "fuel_rate": None, "fuel_price_usd": None}
NONE = -10_000_000


def study_of(folder, rows, floor=None, year=2026):
    program = {} if floor is None else {"member_npv_floor_usd": floor}
    return run_study(validate(candidate_workbook(
        folder, rows, study={"program_budget_usd": 500_000, "rules_year": year},
        program=program | {"maximum_member_payback_yr": 60})))


def npv_of(study):
    """The member's NPV by the definition, from the flows by year."""
    options = study.options[study.options["is_chosen"]].set_index("excel_row")
    rate = study.inputs.rules["discount_rate_member_pct"] / 100
    return [sum(usd / (1 + rate) ** year for year, usd in enumerate(flow))
            for flow in options["member_flow_usd"]]


def test_farm_below_the_floor_does_not_qualify_and_is_not_ranked(tmp_path):
    study = study_of(tmp_path, [GAINS, LOSES], floor=0)
    gains, loses = npv_of(study)
    assert gains > 0 > loses
    results = study.results
    assert results["rank"].notna().tolist() == [True, False]
    assert results["verdict"].iloc[1] == "does not qualify"
    assert "member NPV with incentive" in results["verdict_reason"].iloc[1]
    assert results["incentive_usd"].iloc[1] == 0


def test_without_a_floor_the_board_is_told_how_much_of_the_load_gains(tmp_path):
    study = study_of(tmp_path, [GAINS, LOSES], floor=NONE)
    assert study.results["rank"].notna().all()
    load = study.results["added_load_kw"]
    total = study.totals.iloc[0]
    assert total["farms"] == 2 and total["gaining_load_kw"] == load.iloc[0]
    folder = write_run(study, tmp_path / "out", overwrite=False, options={})
    page = re.sub(r"<[^>]+>", "", (folder / "board.html").read_text(encoding="utf-8"))
    assert (f"Growers gain by their own figures with {load.iloc[0]:,.0f} kW of the "
            f"{load.sum():,.0f} kW") in page


def test_floor_is_met_at_its_own_figure_and_missed_above_it(tmp_path):
    (npv,) = npv_of(study_of(tmp_path, [GAINS], floor=NONE))
    for floor, is_ranked in ((npv - 1, True), (npv + 1, False)):
        results = study_of(tmp_path, [GAINS], floor=round(floor, 2)).results
        assert results["rank"].notna().tolist() == [is_ranked]


def test_unknown_npv_is_not_assessed(tmp_path):
    checks = study_of(tmp_path, [UNKNOWN], floor=0).checks
    mine = checks[checks["check"] == "member NPV with incentive"]
    assert len(mine) and mine["value"].isna().all()
    assert set(mine["answer"]) == {"not assessed"}


@pytest.mark.parametrize("year, floor", [(2024, NONE), (2025, NONE), (2026, NONE)])
def test_without_a_word_no_year_has_a_floor(year, floor):
    assert rules.load(year)["member_npv_floor_usd"] == floor


def test_year_without_a_floor_has_no_check_of_it(tmp_path):
    study = study_of(tmp_path, [LOSES], floor=NONE)
    assert "member NPV with incentive" not in set(study.checks["check"])
    assert np.isfinite(study.results["member_npv_usd"]).all()
