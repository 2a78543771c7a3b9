"""What is known of a farm, and money only where enough is; expected values counted by hand."""

import pytest

from batch.columns import CANDIDATES
from batch.columns.column import SCREENING, STAGES
from batch.reading.validate import validate
from batch.study import run_study
from tests.workbooks.make import candidate_workbook

LOADED = {"load_control": True}
READY = LOADED | {"source_fault_a": 2500, "motor_lead_ft": 60, "pivot_lead_ft": 60,
                  "is_inverter_duty": "yes", "is_tower_inverter_duty": "yes"}
NAMEPLATES = {"pump_motor_hp": 75, "motor_efficiency_pct": 95, "motor_full_load_a": 88,
              "motor_code_letter": "G", "tower_count": 7, "tower_motor_a": 2,
              "fuel_rate": 4.1}
NO_FAULT, NO_LEAD = {"source_fault_a": None}, {"motor_lead_ft": None}
ROWS = [READY,                                              # row 2
        READY | NO_FAULT,                                   # row 3
        READY | NO_FAULT | {"funding_choice": "must fund"},  # row 4
        READY | NAMEPLATES,                                 # row 5
        READY | {"feeder_id": None},                        # row 6
        READY | NO_FAULT | NO_LEAD]                         # row 7
STUDY = {"program_budget_usd": 1e6}


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    return run_study(validate(candidate_workbook(
        tmp_path_factory.mktemp("known"), ROWS, study=STUDY,
        feeders=[{"feeder_id": "F1", "spare_capacity_kw": 5000}])))


def test_every_cell_of_a_later_stage_is_one_that_may_be_blank():
    """A cell that every farm must fill has told what is asked before the farm is studied."""
    staged = {column.key: column.stage for column in CANDIDATES.columns}
    assert set(staged.values()) == {"", *STAGES}
    required = [column for column in CANDIDATES.columns if column.required]
    assert {column.stage for column in required} == {SCREENING}
    assert all(column.default is None for column in CANDIDATES.columns if column.stage)


def test_stage_is_the_last_one_whose_cells_are_all_filled(study):
    assert list(study.results["known_enough_for"]) == [
        "approval", "screening", "screening", "construction", "screening", "screening"]


def test_next_cells_are_those_of_the_next_stage_gravest_first(study):
    told = study.results["next_cells"]
    assert told[2].startswith("Pump motor nameplate; Motor efficiency") and told[5] is None
    assert told[6] == "Feeder"
    checks = study.checks
    for row in (3, 7):
        mine = checks[(checks["excel_row"] == row) & (checks["answer"] == "not assessed") & (
            checks["supply_option"] == study.results.loc[row, "supply_option"])]
        fault, lead = (int(mine["blank_inputs"].str.contains(name).sum()) for name in (
            "Fault current at the tap", "Drive to pump motor"))
        parts = sorted(((fault, "Fault current at the tap"), (lead, "Drive to pump motor")),
                       reverse=True)
        assert told[row] == "; ".join(
            f"{name} ({n} checks)" if n > 1 else f"{name} (1 check)" for n, name in parts if n)


def test_checks_answered_are_those_of_the_table_of_checks(study):
    chosen = study.results[["excel_row", "supply_option"]].reset_index(drop=True)
    checks = study.checks.merge(chosen)
    for row, told in study.results["checks_answered"].items():
        mine = checks.loc[checks["excel_row"] == row, "answer"]
        assert told == f"{(mine != 'not assessed').sum()} of {len(mine)}"


def test_money_only_for_what_is_known_or_what_the_board_names(study):
    results = study.results.sort_values("rank")
    assert results["rank"].notna().all()
    funds = results["may_be_funded"]
    assert dict(funds) == {2: 1, 3: 0, 4: 1, 5: 1, 6: 0, 7: 0}
    assert list(results["in_budget"]) == list(funds) == list(results["in_best_set"].fillna(0))
    assert list(funds) == [1, 1, 1, 0, 0, 0]  # whoever may be funded stands first
    assert list(results["running_incentive_cost_usd"]) == list(
        results["incentive_cost_usd"].cumsum().round(2))
    assert {f["row"] for f in study.findings.rows if f["slug"] == "known-too-little"} == {3, 6, 7}


def test_year_that_asks_for_screening_alone_funds_them_all(tmp_path):
    study = run_study(validate(candidate_workbook(
        tmp_path, ROWS, study=STUDY, program={"knowledge_for_money": SCREENING})))
    assert study.results["in_budget"].eq(1).all()
