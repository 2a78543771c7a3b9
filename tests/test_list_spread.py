"""Is the list like real farms? Its spread beside the irrigation survey's figures for the state."""

import csv
from pathlib import Path

import pytest

from batch.audit.trace import Tracer
from batch.columns.study import STATES
from batch.farm.list_spread import QUANTITIES, remark_on_spread, spread_of
from batch.findings import Findings
from batch.reading.validate import validate
from batch.study import check_workbook, run_study
from batch.tables import column, table
from batch.trail.lines import FIGURE, TABLE
from batch.writing.run_folder import write_run
from tests.workbooks.make import candidate_workbook

FLOWS = (300, 500, 700, 800, 900, 1100)
FARM = {"pumping_lift_ft": 100, "pivot_pressure_psi": 40, "irrigated_area_acre": 125,
        "gross_depth_in": None, "season_hours": 900, "pipe_length_ft": 0, "fuel_rate": None,
        "present_power": "diesel engine"}
ROWS = [FARM | {"flow_gpm": flow} for flow in FLOWS]


@pytest.fixture(scope="module")
def in_nebraska(tmp_path_factory):
    return run_study(validate(candidate_workbook(
        tmp_path_factory.mktemp("ne"), rows=ROWS, study={"state": "NE"},
        program={"uncertainty_draws": 0})))


def said_of(study):
    return {f["key"]: f for f in study.findings.rows if f["slug"] == "list-unlike-survey"}


def test_list_and_survey_stand_side_by_side(in_nebraska):
    rows = in_nebraska.list_spread.set_index("quantity")
    # By hand: of six flows the 10 % point lies half way from the first to the second, 300 + 100,
    # the 50 % point half way from the third to the fourth, the 90 % point 900 + 100.
    flow = rows.loc["Flow"]
    assert (flow["farms"], flow["low"], flow["middle"], flow["high"]) == (6, 400, 750, 1000)
    # Source: USDA NASS, Farm and Ranch Irrigation Survey 2013, table 8, Nebraska: wells 194 ft
    # deep, 40 psi, 763 gal/min.
    assert flow["survey"] == 763 and rows.loc["Pressure", "survey"] == 40
    assert rows.loc["Total head", "survey"] == pytest.approx(194 + 40 * 2.31)
    assert rows.loc["Total head", "middle"] == pytest.approx(100 + 40 * 2.31)
    # 900 h at 750 gal/min on 125 acres, 452.57 gal/min for an inch an hour on an acre.
    assert rows.loc["Water per season", "middle"] == pytest.approx(900 * 750 / 452.57 / 125, 1e-4)
    assert rows.loc["Hours per acre", "middle"] == pytest.approx(7.2)
    # Table 12, Nebraska: 1,013,295 acres by natural gas, 543,952 by propane, 2,402,918 by diesel,
    # 8,912 by gasoline: 60.5 % of what engines water is watered by diesel.
    engines = 1_013_295 + 543_952 + 2_402_918 + 8_912
    assert rows.loc["Farms with a diesel engine", "survey"] == pytest.approx(
        100 * 2_402_918 / engines)
    assert rows.loc["Farms with a diesel engine", "middle"] == 100


def test_a_list_like_the_state_is_told_nothing(in_nebraska):
    # All on diesel is 39.5 points above 60.5 %: within 40. Water of 11.9 in against 7.6: within 3
    # times (common practice, no source).
    assert not said_of(in_nebraska)


def survey_of(farms, state):
    """What is said of farms like FARM in a state, without sizing anything."""
    findings = Findings()
    remark_on_spread(spread_of(farms, state), state, findings)
    return {f["key"]: f for f in findings.rows}


def test_a_column_in_another_unit_is_a_watch_and_never_an_error(in_nebraska):
    inputs = in_nebraska.inputs
    cells = inputs.candidates.assign(season_hours=900.0, pump_motor_hp=60.0)
    farms = cells.assign(total_head_ft=192.4)
    assert not survey_of(farms, "NE")
    litres = survey_of(farms.assign(flow_gpm=farms["flow_gpm"] / 15.85), "NE")  # L/s as gal/min
    assert litres.keys() == {"flow_gpm", "season_hours"}  # and the water that goes with it
    assert {f["severity"] for f in litres.values()} == {"watch"}
    assert "763" in litres["flow_gpm"]["message"] and "NE" in litres["flow_gpm"]["message"]
    assert survey_of(farms.assign(pivot_pressure_psi=40 * 6.895), "NE").keys() == {
        "pivot_pressure_psi"}  # kPa
    # Kansas pumps by natural gas: 1,470,896 of 2,064,158 engine acres; diesel 24.9 %.
    assert survey_of(farms, "KS").keys() == {"present_power"}
    assert not survey_of(farms.iloc[:4].assign(flow_gpm=10.0), "NE"), "four farms are no list"
    # The survey has no motors for Maine: unknown, so that nothing is said.
    assert "pump_motor_hp" not in survey_of(farms.assign(pump_motor_hp=1.0), "ME")


def test_without_a_state_nothing_is_shown(tmp_path):
    study = run_study(validate(candidate_workbook(tmp_path, rows=[FARM],
                                                  program={"uncertainty_draws": 0})))
    assert study.list_spread.empty
    folder = write_run(study, tmp_path / "out", overwrite=False, options={})
    assert not (folder / "list_spread.csv").exists()


def test_the_table_is_written_and_leads_back_to_the_survey(in_nebraska, tmp_path):
    folder = write_run(in_nebraska, tmp_path, overwrite=False, options={})
    with (folder / "list_spread.csv").open(encoding="utf-8") as file:
        rows = {row["quantity"]: row for row in csv.DictReader(file)}
    assert rows.keys() == QUANTITIES.keys() and rows["Flow"]["survey"] == "763.0"
    assert rows["Farms with a diesel engine"]["low"] == ""
    tracer = Tracer(in_nebraska, folder / "result.xlsx")
    line = tracer.program.line((FIGURE, "list_spread", "Flow", "survey"))
    [end] = [part for part in line.parts if part[0] == TABLE]
    assert "763" in tracer.ends.line(end).value
    own = tracer.program.line((FIGURE, "list_spread", "Flow", "middle"))
    assert len(own.parts) == len(FLOWS)


def test_check_says_it_before_a_run(tmp_path):
    rows = [farm | {"flow_gpm": farm["flow_gpm"] / 6} for farm in ROWS]
    found = check_workbook(candidate_workbook(tmp_path, rows=rows, study={"state": "ne"})).findings
    assert [f for f in found.rows if f["slug"] == "list-unlike-survey"]


def test_every_state_of_the_survey_may_be_named():
    assert sorted(table("irrigation_survey")["state"]) == sorted(STATES) and len(STATES) == 50
    # Source: USDA NASS, 2018 survey's release: 55.9 million acres and 83.4 million acre-feet.
    assert column("irrigation_survey", "irrigated_acre").sum() == pytest.approx(55.9e6, rel=1e-3)
    assert column("irrigation_survey", "water_acre_ft").sum() == pytest.approx(83.4e6, rel=1e-3)


def test_the_demo_is_like_farms_of_the_plains(demo_run):
    """Its place is invented and its state is blank; its farms are such as Nebraska's."""
    study = demo_run.study
    assert study.inputs.study["state"] is None and study.list_spread.empty
    assert not (Path(demo_run.folder) / "list_spread.csv").exists()
    farms = study.inputs.candidates[~study.inputs.has_error].join(
        study.results[["total_head_ft", "season_hours", "pump_motor_hp"]].add_prefix("of_"))
    farms = farms.assign(**{key: farms[f"of_{key}"] for key in (
        "total_head_ft", "season_hours", "pump_motor_hp")})
    assert not survey_of(farms, "NE")
