"""A finished run carried into the next season: nothing typed twice, nothing lost, money to the
cent."""

import hashlib

import pandas as pd
import pytest
from click.testing import CliRunner

from batch.cli import main
from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.run_folder import write_run
from tests.test_season import LINE, READY, same_results
from tests.workbooks.make import candidate_workbook

ON_LINE = {"shared_line_id": "S1", "shared_line_use_ft": 9000, "single_phase_distance_ft": 300,
           "three_phase_distance_ft": 300, "supply_option": "single-phase drive"}


@pytest.fixture(scope="module")
def carried(tmp_path_factory):
    """A round of 2025 that funds two farms of a line, its run, and the workbook of 2026."""
    folder = tmp_path_factory.mktemp("carried")
    rows = [READY | ON_LINE | {"candidate_id": "A"}, READY | ON_LINE | {"candidate_id": "B"},
            READY | {"candidate_id": "WAITS", "single_phase_distance_ft": 6_000},
            READY | {"candidate_id": "GONE", "status": "withdrawn"},
            READY | {"candidate_id": "BUILT", "status": "in service",
                     "in_service_date": "2025-05-01", "approved_incentive_usd": 7_000}]
    path = candidate_workbook(
        folder, rows, shared_lines=LINE, name="2025.xlsx", delivered=[
            {"candidate_id": "BUILT", "program_year": 2025, "season": 2025, "metered_kw": 55}],
        study={"rules_year": 2025, "study_name": "Round 2025", "study_date": "2025-11-30",
               "cooperative_name": "Example Electric Cooperative", "program_budget_usd": 70_000})
    run = write_run(run_study(validate(path)), folder / "out", overwrite=False, options={},
                    farm_pages=0)
    before = digests(run)
    done = CliRunner().invoke(main, ["carry", str(run), "--into", str(folder / "2026.xlsx")])
    assert done.exit_code == 0, done.output
    return before, run, run_study(validate(path)), folder / "2026.xlsx", done.output


def digests(folder):
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest()
            for path in folder.rglob("*") if path.is_file()}


def test_run_is_left_as_it_was_and_all_is_told(carried):
    before, run, _, _, told = carried
    assert digests(run) == before
    assert "2 approved" in told and "1 received" in told and "1 in service" in told


def test_states_amounts_and_sheets_are_carried(carried):
    *_, last, path, _ = carried
    inputs = validate(path)
    farms = inputs.candidates.set_index("candidate_id")
    assert farms["status"].to_dict() == {"A": "approved", "B": "approved", "WAITS": None,
                                         "BUILT": "in service"}
    then = last.results.set_index("candidate_id")
    for name in "AB":
        farm = farms.loc[name]
        assert farm["approved_incentive_usd"] + farm["approved_cooperative_usd"] == pytest.approx(
            then.at[name, "incentive_cost_usd"], abs=0.006)
        assert farm["rules_year"] == 2025 and farm["approval_expires"] == "2026-11-30"
    assert inputs.study["carried_in_usd"] == pytest.approx(
        then.loc[["A", "B"], "incentive_cost_usd"].sum(), abs=0.011)
    assert inputs.study["study_name"] == "Round 2026" and inputs.study["rules_year"] == 2026
    for table in ("rates", "unit_costs", "shared_lines", "delivered"):
        one, other = (getattr(study, table).reset_index(drop=True) for study in (
            inputs, last.inputs))
        pd.testing.assert_frame_equal(one, other)


def test_approved_farms_are_judged_as_they_were_approved(carried):
    *_, last, path, _ = carried
    now = run_study(validate(path))
    [money] = now.season.budget.itertuples() if len(now.season.budget) else [None]
    assert money is None  # no budget is typed yet
    one, other = (study.results.set_index("candidate_id") for study in (now, last))
    keys = ["incentive_usd", "incentive_cost_usd", "cooperative_cost_usd", "project_cost_usd",
            "member_npv_usd", "added_load_kw", "verdict", "verdict_reason", "supply_option"]
    for name in "AB":
        same_results(one.loc[name, keys], other.loc[name, keys])
    assert now.season.approved["change_usd"].iloc[:2].abs().max() < 0.01


@pytest.mark.parametrize("how, says", [
    ("changed", "cannot be carried on"), ("year", "There are no rules for the year 2031 yet")])
def test_what_cannot_be_carried_is_refused(carried, tmp_path, how, says):
    _, run, *_ = carried
    more = ["--year", "2031"]
    if how == "changed":
        import shutil
        run = shutil.copytree(run, tmp_path / "run")
        results = run / "results.csv"
        results.write_text(results.read_text(encoding="utf-8-sig").replace("qualifies", "fails", 1),
                           encoding="utf-8-sig")
        more = []
    done = CliRunner().invoke(main, ["carry", str(run), "--into", str(tmp_path / "x.xlsx"), *more])
    assert done.exit_code != 0 and says in done.output + (done.stderr or "")
    assert not (tmp_path / "x.xlsx").exists()
