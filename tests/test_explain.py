"""explain: any key of the dictionary, worked for any farm of a run."""

import csv
import re

import pytest
from click.testing import CliRunner

from batch.audit import explain
from batch.cli import main
from batch.columns import CANDIDATES, EVERY_SHEET, PROGRAM, RATES, RESULTS, STUDY
from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.run_folder import write_run
from tests.workbooks.make import RATE, candidate_workbook

GIVEN = {"flow_gpm": (800, 765), "crop": ("corn", "alfalfa")}
ROWS = [{"flow_gpm": 800, "crop": "corn", "feeder_id": "Feeder 1"},
        {"flow_gpm": 765, "crop": "alfalfa", "shared_line_id": "Line 1"}, {"flow_gpm": None}]


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    """A run of two farms that are assessed and one that is not."""
    path = candidate_workbook(tmp_path_factory.mktemp("in"), ROWS,
                              study={"program_budget_usd": 60_000},
                              feeders=[{"feeder_id": "Feeder 1", "spare_capacity_kw": 437}],
                              shared_lines=[{"shared_line_id": "Line 1",
                                             "shared_single_phase_ft": 2468}])
    study = run_study(validate(path))
    return study, write_run(study, path.parent / "out", overwrite=False, options={})


@pytest.fixture
def told(run, monkeypatch):
    """What explain prints for a key and farm, all from one study."""
    study, folder = run
    monkeypatch.setattr(explain, "run_study", lambda _: study)
    monkeypatch.setattr(explain, "validate", lambda path: path)

    def call(key, candidate="F-1"):
        result = CliRunner().invoke(main, ["explain", key, "--run", str(folder), "--candidate",
                                           candidate])
        assert result.exit_code == 0, (key, candidate, result.output)
        return result.stdout.split(f"\n\n{candidate}:", 1)[1]
    return call


@pytest.mark.parametrize("candidate", ["F-1", "F-2", "F-3"])
def test_any_key_with_any_farm_is_told(told, candidate):
    """Each answer has a line of the farm with something in it."""
    for key in {key for sheet in EVERY_SHEET for key in sheet.by_key}:
        lines = told(key, candidate).splitlines()[1:]
        assert lines and all(line.strip() for line in lines), key


def test_parts_of_a_value_without_arithmetic_are_listed():
    # A drive's pulses rise as its maker has it, or as the filter behind it makes them.
    result = CliRunner().invoke(main, ["explain", "motor_rise_us"])
    assert "  made of   lead_filter, drive_rise_time_us\n" in result.stdout


def number_in(line: str) -> str:
    """The number that a line ends with, before unit and source."""
    return re.search(r"= (\(?-?[\d,]+(?:\.\d+)?)[^=]*$", line)[1].replace(",", "")


@pytest.mark.parametrize("candidate", ["F-1", "F-2"])
def test_value_of_every_result_is_that_of_the_results_file(run, told, candidate):
    """The results file is written by other code than explain, which computes the run anew."""
    with open(run[1] / "results.csv", encoding="utf-8-sig", newline="") as file:
        [row] = [row for row in csv.DictReader(file) if row["candidate_id"] == candidate]
    for column in RESULTS.columns:
        text = row[column.key]
        last = next(line for line in reversed(told(column.key, candidate).splitlines())
                    if line.strip().startswith(f"{column.label} ="))
        if column.is_numeric and text:
            assert float(number_in(last.split("   [")[0])) == float(text), column.key
        elif text:
            assert text.lstrip("'") in last, column.key
        else:
            assert "not assessed" in last, column.key


def test_inputs_are_told_as_they_were_typed(told):
    """What ROWS, RATE and the Study sheet above hold."""
    for key, values in GIVEN.items():
        for place, value in enumerate(values, start=1):
            assert f"{CANDIDATES.by_key[key].label} = {value}" in told(key, f"F-{place}")
    assert f"{STUDY.by_key['program_budget_usd'].label} = 60,000" in told("program_budget_usd")
    assert str(RATE["customer_charge_usd_month"]) in told("customer_charge_usd_month")
    assert "IRR: " + RATES.by_key["customer_charge_usd_month"].label in told(
        "customer_charge_usd_month")
    assert "437" in told("spare_capacity_kw") and "2,468" in told("shared_single_phase_ft", "F-2")
    assert "names no row" in told("shared_single_phase_ft", "F-1")
    assert "Unit costs sheet" in told("price_usd")
    assert "not given" in told("flow_gpm", "F-3")


def test_rules_are_told_with_who_set_them_and_their_source(run, told):
    rules = run[0].inputs.rules
    for key, column in PROGRAM.by_key.items():
        said = told(key)
        assert f"{column.label} = " in said and rules.source(key) in said, key


def test_candidate_without_a_run_is_refused():
    result = CliRunner().invoke(main, ["explain", "rank", "--candidate", "F-1"])
    assert result.exit_code == 3 and "--run" in result.stderr
