"""What was promised beside what the meter showed."""

import numpy as np
import pandas as pd
import pytest

from batch.audit.trace import Tracer
from batch.reading.validate import validate
from batch.study import run_study
from batch.trail.lines import FIGURE
from tests.workbooks.make import candidate_workbook

BUILT = {"load_control": True, "status": "in service", "in_service_date": "2026-04-15",
         "approved_incentive_usd": 9_000, "approved_cooperative_usd": 3_000,
         "approved_added_load_kw": 50, "approved_energy_kwh": 40_000,
         "approved_project_cost_usd": 90_000}


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    """Four farms alike: one that ran half of its hours, one that cost more, one with another load
    on its meter, and one of which only the payment is known."""
    hours = run_study(validate(candidate_workbook(
        tmp_path_factory.mktemp("hours"), [BUILT]))).results["season_hours"].iloc[0]
    year = {"program_year": 2026, "season": 2026}
    rows = [year | {"candidate_id": "F-1", "metered_kw": 50, "metered_kwh": 20_000,
                    "hours_run": hours / 2},
            year | {"candidate_id": "F-2", "metered_kw": 49, "metered_kwh": 41_000,
                    "hours_run": hours, "final_project_cost_usd": 97_000,
                    "paid_incentive_usd": 8_000.5},
            year | {"candidate_id": "F-3", "metered_kw": 70, "metered_kwh": 60_000,
                    "hours_run": hours, "final_project_cost_usd": 90_000},
            year | {"candidate_id": "F-4"}]
    return run_study(validate(candidate_workbook(
        tmp_path_factory.mktemp("delivered"), [BUILT] * 4, delivered=rows,
        study={"program_budget_usd": 100_000})))


def test_each_farm_by_hand(study):
    farms = study.season.delivered.set_index("candidate_id")
    assert farms["realization_kw_pct"].tolist()[:3] == [100, 98, 140]
    assert farms["realization_kwh_pct"].tolist()[:3] == pytest.approx([50, 102.5, 150])
    assert farms["realization_kwh_equal_hours_pct"].tolist()[:3] == pytest.approx(
        [100, 102.5, 150])
    assert farms["realization_cost_pct"].tolist()[1:3] == pytest.approx([107.7778, 100], abs=1e-4)
    assert farms["paid_usd"].tolist() == [12_000, 11_000.5, 12_000, 12_000]
    assert farms["paid_usd_per_kw"].iloc[2] == pytest.approx(12_000 / 70)
    # 1 acre-ft is 325,851 gal (University of California, irrigation pumping notes).
    f = study.inputs.candidates.iloc[0]
    assert farms["planned_acre_ft"].iloc[0] == pytest.approx(
        f["flow_gpm"] * 60 * study.results["season_hours"].iloc[0] / 325_851)


def test_causes_are_told_as_far_as_the_data_go(study):
    told = study.season.delivered.set_index("candidate_id")["told"]
    assert "the hours explain the difference" in told["F-1"]
    assert told["F-2"] == "It cost 7,000.00 USD more than approved."
    assert "the hours do not explain" in told["F-3"] and "are not known here" in told["F-3"]
    assert told["F-4"] == "No meter reading is given."


def test_program_is_the_ratio_of_sums_and_says_on_how_many_rows_it_rests(study):
    table = study.season.realization.set_index("measure")
    energy = table.loc["energy [kWh]"]
    assert energy["ratio"] == pytest.approx(121_000 / 120_000)
    assert (energy["rows"], energy["rows_unknown"]) == (3, 1)
    x, y = np.full(3, 40_000.0), np.array([20_000, 41_000, 60_000.0])
    error = np.sqrt(((y - energy["ratio"] * x) ** 2).sum() / 2 / 3) / 40_000
    assert energy["standard_error"] == pytest.approx(error)
    # t of two degrees of freedom at 95 percent: 2.920 (any table of Student's t).
    assert energy["high_90"] - energy["ratio"] == pytest.approx(2.920 * error, rel=1e-4)


def test_what_was_paid_is_the_budgets(study):
    [row] = study.season.budget.itertuples()
    assert (row.paid_usd, row.committed_usd) == (47_000.5, 0)
    assert round(row.budget_usd - row.paid_usd - row.funded_now_usd - row.left_usd, 6) == 0


def test_every_figure_is_walked_to_its_cells(study, tmp_path):
    tracer = Tracer(study, tmp_path)
    for file, frame, key in (("delivered", study.season.delivered, None),
                             ("realization", study.season.realization, "measure")):
        shown = tracer.tables[file][0].by_key
        for row in frame.to_dict("records"):
            name = row[key] if key else f"{row['candidate_id']}|{row['season']:g}"
            for column in shown:
                line = tracer.trail((FIGURE, file, name, column)).lines[0]
                assert line.value or pd.isna(row[column]), (file, column)
