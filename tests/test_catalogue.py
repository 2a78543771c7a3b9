"""Every kind of finding is provoked by a workbook, on the cell or sheet that it is about."""

import datetime

import pytest

from batch.findings import CATALOGUE
from batch.reading.validate import validate
from batch.scenario import apply, read_scenario
from batch.study import run_study
from tests.workbooks.make import RATE, candidate_workbook, cell, unit_cost_rows, with_stored_value

GIANT = {"flow_gpm": 2400, "pumping_lift_ft": 480, "irrigated_area_acre": 400,
         "pivot_length_ft": 2600, "fuel_rate": None, "pipe_diameter_in": 14}
# Kind -> the cells of one farm, else as the dictionary's examples; one workbook holds them all.
ON_A_FARM = {
    "value-missing": {"flow_gpm": None},
    "not-a-number": {"flow_gpm": "about 800"},
    "not-a-whole-number": {"tower_count": 7.5},
    "not-yes-or-no": {"is_inverter_duty": "perhaps"},
    "not-a-date": {"application_date": "last spring"},
    "date-in-number-cell": {"season_hours": datetime.date(2026, 4, 30)},
    "number-in-date-cell": {"application_date": 45_000},
    "unknown-choice": {"present_power": "steam engine"},
    "choice-corrected": {"present_power": "Diesel-Engine"},
    "below-minimum": {"flow_gpm": -800},
    "above-maximum": {"pivot_pressure_psi": 900},
    "unusual-value": {"pumping_lift_ft": 1},
    "excel-error": {"pivot_pressure_psi": "#DIV/0!"},
    "formula-without-value": {"flow_gpm": "=400*2"},
    "formula-value-used": {"flow_gpm": "=300+500"},
    "number-from-text": {"flow_gpm": "800"},
    "unit-converted": {"pumping_lift_ft": "43 m"},
    "unit-unknown": {"pumping_lift_ft": "7 fathoms"},
    "ambiguous-number": {"pipe_length_ft": "1.300,5"},
    "percent-cell": {"pump_efficiency_pct": 0.75},
    "fraction-for-percent": {"tower_duty_pct": 0.6},
    "date-in-text-cell": {"crop": datetime.date(2026, 3, 4)},
    "text-cleaned": {"farm_label": "North\x7f"},
    "id-repeated": {"candidate_id": "value-missing"},
    "example-row-skipped": {"candidate_id": "EXAMPLE"},
    "reference-unknown": {"rate_id": "NONE"},
    "reference-faulty": {"rate_id": "BAD"},
    "feeder-unknown": {"feeder_id": "F9"},
    "depth-or-hours-missing": {"gross_depth_in": None},
    "hours-beyond-year": {"gross_depth_in": 140, "flow_gpm": 300},
    "hours-against-depth": {"season_hours": 2000},
    "fuel-price-missing": {"fuel_price_usd": None},
    "pipe-diameter-missing": {"pipe_diameter_in": None},
    "present-demand-missing": {"present_power": "rotary converter"},
    "engine-life-missing": {"engine_remaining_yr": None},
    "area-exceeds-circle": {"irrigated_area_acre": 400},
    "towers-against-length": {"tower_count": 2},
    "motor-below-shaft-power": {"pump_motor_hp": 10},
    "motor-oversized": {"pump_motor_hp": 200},
    "motor-not-standard": {"pump_motor_hp": 47},
    "fuel-against-criteria": {"fuel_rate": 40},
    "flow-per-acre": {"flow_gpm": 250},
    "pipe-velocity": {"pipe_diameter_in": 4},
    "beyond-table": GIANT,
    "lead-unknown": {"motor_lead_ft": None, "supply_option": "single-phase drive"},
    "comparison-unknown": {"present_power": "none", "fuel_rate": None, "fuel_price_usd": None},
    "present-demand-ignored": {"present_demand_kw": 30},
    "month-hours": {"gross_depth_in": None, "season_hours": 3400},
    "nameplate-current": {"pump_motor_hp": 60, "motor_full_load_a": 20},
    "no-added-load": {"present_power": "rotary converter", "present_demand_kw": 1900,
                      "fuel_rate": None},
    "nothing-meets": {"supply_option": "rotary converter", "source_fault_a": 60,
                      "motor_code_letter": "V"},
    "incentive-differs": {"approved_incentive_usd": 1.0},
}
# Kinds about a sheet or the study: all in that workbook, too.
ON_A_SHEET = {"list-unreadable", "default-used", "blank-row-skipped", "header-row-skipped",
              "column-unknown", "key-unknown", "rule-changed", "sheet-unknown",
              "shared-line-incomplete", "cost-year-old", "feeder-over-capacity",
              "scenario-changed"}
# Made by hand in test_economics_of_run.py: choices that go in a circle.
BY_HAND = {"shared-line-unsettled"}
WITH_A_SMALL_BUS = {"waveform-unsettled"}


def farm(slug):
    changes = ON_A_FARM[slug]
    line = {"shared_line_id": "S1"} if slug in ("value-missing", "choice-corrected") else {}
    return {"candidate_id": slug, "rate_id": "IRR", "farm_label": slug} | line | changes


def finish(book):
    """What needs the openpyxl workbook: formats, blank and repeated rows, an unknown sheet."""
    farms = book["Candidates"]
    row = list(ON_A_FARM).index("percent-cell") + 2
    farms[cell("pump_efficiency_pct", row)].number_format = "0%"
    headers = [c.value for c in farms[1]]
    farms.append([])
    farms.append(headers)
    farms.append(["last", *(c.value for c in farms[row][1:])])
    farms.cell(farms.max_row + 2, 1).value = "after a blank row"
    book.create_sheet("Notes of the field")


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    """The findings of the workbook, as (slug, row) pairs and by slug."""
    folder = tmp_path_factory.mktemp("catalogue")
    prices = unit_cost_rows()
    prices[0]["price_year"] = 2010
    path = candidate_workbook(
        folder, [farm(slug) for slug in ON_A_FARM] + [{"soil": "loam"}], unit_costs=prices,
        rates=[RATE, RATE | {"rate_id": "BAD", "demand_months": "summer"}],
        feeders=[{"feeder_id": "F1", "spare_capacity_kw": 1}],
        shared_lines=[{"shared_line_id": "S1", "shared_single_phase_ft": 900,
                       "shared_three_phase_ft": 900}],
        program={"tower_span_ft": (185, "ft", "Resolution 9"), "tower_spam_ft": 1}, edit=finish)
    with_stored_value(path, b"300+500", b"800")
    scenario = folder / "dear.toml"
    scenario.write_text('name = "dear"\n[candidates]\nfuel_price_usd = 1.1\n', encoding="utf-8")
    study = run_study(apply(validate(path), read_scenario(scenario)))
    return study.findings.rows


def test_every_kind_has_its_example():
    kinds = [*ON_A_FARM, *ON_A_SHEET, *WITH_A_SMALL_BUS, *BY_HAND]
    assert sorted(kinds) == sorted(CATALOGUE)


@pytest.mark.parametrize("slug", ON_A_FARM)
def test_farm_provokes_its_finding(found, slug):
    row = list(ON_A_FARM).index(slug) + 2
    on_row = [f for f in found if f["slug"] == slug and f["row"] == row]
    assert on_row, [f["slug"] for f in found if f["row"] == row]
    for finding in on_row:
        assert finding["sheet"] == "Candidates" and finding["severity"] == CATALOGUE[slug].severity
        assert finding["message"].endswith(CATALOGUE[slug].remedy)


@pytest.mark.parametrize("slug", sorted(ON_A_SHEET))
def test_sheet_or_study_provokes_its_finding(found, slug):
    of_kind = [f for f in found if f["slug"] == slug]
    assert of_kind and all(f["message"].endswith(CATALOGUE[slug].remedy) for f in of_kind)


def test_small_bus_gives_no_steady_waveform_and_never_a_pass(tmp_path):
    # Source: common practice, no source: a single-phase bridge with hardly any bus capacitance
    # cannot carry a load of constant power through the zero of the voltage.
    rows = [{"supply_option": "single-phase drive"}, {"supply_option": "rotary converter"}]
    study = run_study(validate(candidate_workbook(
        tmp_path, rows, program={"drive_bus_capacitance_uf_kw": 1})))
    of_kind = [f for f in study.findings.rows if f["slug"] == "waveform-unsettled"]
    assert [f["row"] for f in of_kind] == [2, 3]
    assert "no steady waveform with" in of_kind[0]["message"]
    drive = study.checks[study.checks["supply_option"] == "single-phase drive"]
    distortion = drive[drive["check"].str.contains("distortion")]
    assert len(distortion) and "meets" not in set(distortion["answer"])
    assert study.results["verdict"].tolist()[0] == "incomplete"
