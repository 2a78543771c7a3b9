"""What the dearest rules cost, against a whole new study with the rule out of the way.

The second way is the study itself: the rule is set so wide that it bars nothing, all else is run
anew, and the farms that qualify are added up here.
"""

import pytest

from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.run_folder import write_run
from tests.workbooks.make import candidate_workbook

NEAR = {"is_inverter_duty": "yes", "source_fault_a": 2500, "pivot_lead_ft": 60,
        "single_phase_distance_ft": 200, "fuel_price_usd": 4}
ROWS = (NEAR, NEAR | {"single_phase_distance_ft": 3500, "fuel_price_usd": 6},
        NEAR | {"flow_gpm": 240, "irrigated_area_acre": 40, "pivot_lead_ft": 900},
        NEAR | {"flow_gpm": 200, "irrigated_area_acre": 35, "pivot_length_ft": None,
                "pivot_lead_ft": None, "fuel_price_usd": 0.6})
# Wide enough to bar nothing, within what the dictionary allows.
WIDE = {"maximum_cooperative_payback_yr": 60, "end_tower_minimum_v": 336,
        "single_phase_start_limit_hp": 100, "member_npv_floor_usd": -10_000_000}
BASE = {"maximum_cooperative_payback_yr": 8, "member_npv_floor_usd": 0,
        "single_phase_start_limit_hp": 10, "end_tower_minimum_v": 438,
        "option_chosen_by": "least cost over life"}


def study_of(folder, **changed):
    return run_study(validate(candidate_workbook(
        folder, list(ROWS), study={"program_budget_usd": 900_000}, program=BASE | changed)))


def qualifying(study):
    farms = study.results[study.results["verdict"].isin(
        ["qualifies", "qualifies with conditions"])]
    return {"farms": len(farms)} | {
        key: farms[key].sum() for key in ("added_load_kw", "project_cost_usd", "together_npv_usd")}


@pytest.fixture(scope="module")
def base(tmp_path_factory):
    return study_of(tmp_path_factory.mktemp("base"))


def test_dearest_stands_first_and_costs_something(base):
    table = base.portfolio.rule_costs
    assert 2 <= len(table) <= 5
    assert table["together_npv_usd"].is_monotonic_decreasing
    assert ((table["farms"] > 0) | (table["together_npv_usd"] > 0)).all()
    assert {"maximum_cooperative_payback_yr"} <= set(table["key"]) <= set(WIDE)


@pytest.mark.parametrize("key", WIDE)
def test_each_is_what_the_study_without_the_rule_finds(base, tmp_path, key):
    table = base.portfolio.rule_costs.set_index("key")
    before, after = qualifying(base), qualifying(study_of(tmp_path, **{key: WIDE[key]}))
    if key not in table.index:
        assert after["farms"] == before["farms"]
        assert after["together_npv_usd"] <= before["together_npv_usd"] + 0.01
        return
    for name, was in before.items():
        assert table.loc[key, name] == pytest.approx(after[name] - was, abs=0.05), name


def test_board_prints_rule_value_and_cost(base, tmp_path):
    page = (write_run(base, tmp_path / "out", overwrite=False, options={})
            / "board.html").read_text(encoding="utf-8")
    first = base.portfolio.rule_costs.iloc[0]
    assert "What the dearest rules cost" in page and first["rule"] in page
    assert f"{first['together_npv_usd']:,.0f}" in page.replace("$", "")
