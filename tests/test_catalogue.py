"""Every kind of finding is provoked by a workbook, on the cell or sheet that it is about."""

import ast
import csv
import datetime
import io
import json
import re
from collections import Counter
from difflib import SequenceMatcher
from pathlib import Path

import pytest
from click.testing import CliRunner

import batch
from batch.cli import main
from batch.columns import CANDIDATES
from batch.finding_examples import EXAMPLES
from batch.findings import CATALOGUE
from batch.reading.scenario import apply, read_scenario
from batch.reading.validate import validate
from batch.study import run_study
from batch.supply.judging import checks_table
from tests.workbooks.make import RATE, candidate_workbook, cell, unit_cost_rows, with_stored_value

GIANT = {"flow_gpm": 2400, "pumping_lift_ft": 480, "irrigated_area_acre": 400,
         "pivot_length_ft": 2600, "fuel_rate": None, "pipe_diameter_in": 14}
# Kind -> the cells of one farm, else as the dictionary's examples; one workbook holds them all.
WITH_DEFAULTS = {column.key: "no" if column.default is False else column.default
                 for column in CANDIDATES.columns if column.default is not None}
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
    "defaults-taken": WITH_DEFAULTS | {"pump_efficiency_pct": None},
    "feeder-unknown": {"feeder_id": "F9"},
    "depth-or-hours-missing": {"gross_depth_in": None},
    "hours-beyond-year": {"gross_depth_in": 140, "flow_gpm": 300},
    "hours-against-depth": {"season_hours": 2000},
    "fuel-price-missing": {"fuel_price_usd": None},
    "pipe-diameter-missing": {"pipe_diameter_in": None},
    "present-demand-missing": {"present_power": "rotary converter"},
    "engine-life-missing": {"engine_remaining_yr": None},
    "supply-design-unfit": {"supply_design": "soft starter"},
    "area-exceeds-circle": {"irrigated_area_acre": 400},
    "towers-against-length": {"tower_count": 2},
    "motor-below-shaft-power": {"pump_motor_hp": 10},
    "motor-oversized": {"pump_motor_hp": 200},
    "motor-not-standard": {"pump_motor_hp": 47},
    "fuel-against-criteria": {"fuel_rate": 40},
    "fuel-use-against-rate": {"annual_fuel_use": 6800},
    "generator-below-load": {"present_power": "diesel generator", "generator_kw": 20,
                             "fuel_rate": None},
    "present-demand-unlikely": {"present_power": "rotary converter", "present_demand_kw": 380,
                                "fuel_rate": None},
    "flow-per-acre": {"flow_gpm": 250},
    "pipe-velocity": {"pipe_diameter_in": 4},
    "beyond-table": GIANT,
    "lead-unknown": {"motor_lead_ft": None, "supply_option": "single-phase drive"},
    "lead-length-assumed": {"motor_lead_ft": None, "supply_option": "three-phase line"},
    "comparison-unknown": {"present_power": "none", "fuel_rate": None, "fuel_price_usd": None},
    "present-demand-ignored": {"present_demand_kw": 30},
    "month-hours": {"gross_depth_in": None, "season_hours": 3400},
    "nameplate-above-table": {"pump_motor_hp": 75, "motor_full_load_a": 100},
    "nameplate-current": {"pump_motor_hp": 60, "motor_full_load_a": 20},
    "pivot-nameplate-current": {"tower_motor_a": 9},
    # The engine would be renewed next year; each year after that electric service is dearer.
    "several-rates-of-return": {"engine_replacement_usd": 90_000, "engine_remaining_yr": 1,
                                "fuel_price_usd": 1.5, "engine_upkeep_usd_h": 0,
                                "gross_depth_in": None, "season_hours": 900,
                                "supply_option": "rotary converter"},
    "no-added-load": {"present_power": "rotary converter", "present_demand_kw": 1900,
                      "fuel_rate": None},
    "no-useful-load": {"present_power": "rotary converter", "present_demand_kw": 1900,
                       "fuel_rate": None},
    "nothing-meets": {"supply_option": "rotary converter", "source_fault_a": 60,
                      "motor_code_letter": "V"},
    "asked-option-fails": {"supply_option": "rotary converter", "is_inverter_duty": "yes",
                           "source_fault_a": 2500, "pivot_lead_ft": 60,
                           "single_phase_distance_ft": 200},
    "incentive-differs": {"approved_incentive_usd": 1.0},
    "known-too-little": {"source_fault_a": None},
    "must-fund-unranked": {"funding_choice": "must fund", "flow_gpm": None},
    "approval-without-amount": {"status": "approved"},
    "history-impossible": {"status": "withdrawn", "in_service_date": "2026-05-01"},
    "rules-year-unknown": {"status": "approved", "approved_incentive_usd": 9_000,
                           "rules_year": 2019},
    "rules-year-unused": {"rules_year": 2025},
    "line-use-exceeds": {"shared_line_id": "S1", "shared_line_use_ft": 1200},
    "line-counted-twice": {"shared_line_id": "S1", "single_phase_distance_ft": 1000},
}
# Kinds about a sheet or the study: all in that workbook, too.
ON_A_SHEET = {"list-unreadable", "blank-row-skipped", "header-row-skipped",
              "column-unknown", "key-unknown", "rule-changed", "sheet-unknown",
              "hidden-rows-read", "hidden-sheet-read",
              "shared-line-incomplete", "cost-year-old", "feeder-over-capacity",
              "scenario-changed", "scenario-without-effect", "price-step-ignored",
              "price-row-open", "quotation-unused", "limit-unusable", "limit-exceeded"}
# Made by hand in test_scenario_changes.py and test_settled_sets.py.
BY_HAND = {"scenario-unusable", "line-sets-limited"}
WITH_A_SMALL_BUS = {"waveform-unsettled"}
DELIVERED_ROW = {"candidate_id": "F-1", "program_year": 2026, "season": 2026, "metered_kw": 50}
IN_SERVICE = {"status": "in service", "in_service_date": "2026-04-01",
              "approved_incentive_usd": 9_000}
# Kind -> a workbook of its own.
ALONE = {
    "price-missing": {"rows": [{"supply_option": "rotary converter"}],
                      "unit_costs": [row for row in unit_cost_rows()
                                     if row["item"] != "rotary converter"]},
    "share-above-farm-cap": {"program": {"farm_cap_usd": 5000}},
    "list-unlike-survey": {"rows": [{"pivot_pressure_psi": 12}] * 5, "study": {"state": "NE"}},
    "budget-set-impossible": {"rows": [{"funding_choice": "must fund"}],
                              "study": {"program_budget_usd": 1}},
    "set-limit-unmet": {"study": {"program_budget_usd": 90_000},
                        "program": {"ratepayer_ratio_floor": 19.5}},
    "approval-expired": {"study": {"study_date": "2026-04-30"}, "rows": [
        {"status": "approved", "approved_incentive_usd": 9, "approval_expires": "2026-03-31"}]},
    "budget-overcommitted": {"study": {"program_budget_usd": 10}, "rows": [
        {}, {"status": "approved", "approved_incentive_usd": 11}]},
    "delivered-unknown-farm": {"delivered": [DELIVERED_ROW | {"candidate_id": "F-9"}]},
    "delivered-twice": {"delivered": [DELIVERED_ROW, DELIVERED_ROW], "rows": [IN_SERVICE]},
    "delivered-without-service": {"delivered": [DELIVERED_ROW]},
    "meter-unlikely": {"delivered": [DELIVERED_ROW | {"metered_kw": 400}], "rows": [IN_SERVICE]},
    "account-blank": {"program": {"member_account_cap_usd": 20_000}},
    "feeder-unbalanced": {"rows": [{"feeder_id": "F1"}], "feeders": [
        {"feeder_id": "F1", "spare_capacity_kw": 5000, "phase_a_kw": 900, "phase_b_kw": 100,
         "phase_c_kw": 100, "nominal_kv": 12.47}]},
}


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
    farms.row_dimensions[2].hidden = True
    book["Feeders"].sheet_state = "hidden"
    book.create_sheet("Notes of the field")


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    """The findings of the workbook, as (slug, row) pairs and by slug."""
    folder = tmp_path_factory.mktemp("catalogue")
    prices = unit_cost_rows()
    prices[0]["price_year"], prices[-1]["from_ft"] = 2010, 50
    prices.append({"item": "drive", "size": 9})
    prices.append({"item": "drive", "size": 20, "price_usd": 9, "candidate_id": "A-9"})
    path = candidate_workbook(
        folder, [farm(slug) for slug in ON_A_FARM] + [{"soil": "loam"}], unit_costs=prices,
        rates=[RATE, RATE | {"rate_id": "BAD", "demand_months": "summer"}],
        feeders=[{"feeder_id": "F1", "spare_capacity_kw": 1}],
        shared_lines=[{"shared_line_id": "S1", "shared_single_phase_ft": 900,
                       "shared_three_phase_ft": 900}],
        limits=[{"name": "wire", "unit": "ft", "available": 0, "counts": "line"},
                {"name": "again", "unit": "m", "available": 9, "counts": "line, overhead"}],
        program={"tower_span_ft": (185, "ft", "Resolution 9"), "tower_spam_ft": 1}, edit=finish)
    with_stored_value(path, b"300+500", b"800")
    scenario = folder / "dear.toml"
    scenario.write_text('name = "dear"\n[candidates]\nfuel_price_usd = 1.1\n'
                        '[rates]\nsummer_adder_usd_kwh = 1.1\n', encoding="utf-8")
    study = run_study(apply(validate(path), read_scenario(scenario)))
    return study.findings.rows


def test_every_kind_has_its_example():
    kinds = [*ON_A_FARM, *ON_A_SHEET, *WITH_A_SMALL_BUS, *BY_HAND, *ALONE]
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


@pytest.mark.parametrize("slug", ALONE)
def test_workbook_of_its_own_provokes_its_finding(tmp_path, slug):
    study = run_study(validate(candidate_workbook(tmp_path, **ALONE[slug])))
    [message] = [f["message"] for f in study.findings.rows if f["slug"] == slug]
    said = message.removesuffix(" " + CATALOGUE[slug].remedy)
    assert said != message and likeness(EXAMPLES[slug], said) >= LEAST_ALIKE, said


def test_small_bus_gives_no_steady_waveform_and_never_a_pass(tmp_path):
    # Source: common practice, no source: a single-phase bridge with hardly any bus capacitance
    # cannot carry a load of constant power through the zero of the voltage.
    rows = [{"supply_option": "single-phase drive"}, {"supply_option": "rotary converter"}]
    study = run_study(validate(candidate_workbook(
        tmp_path, rows, program={"drive_bus_capacitance_uf_kw": 1})))
    of_kind = [f for f in study.findings.rows if f["slug"] == "waveform-unsettled"]
    assert [f["row"] for f in of_kind] == [2, 3]
    assert "no steady waveform with" in of_kind[0]["message"]
    is_bridge = ((study.variants["supply_option"] == "single-phase drive")
                 & (study.variants["variant"] != "active front end"))
    checks = checks_table(study.variants[is_bridge], study.inputs.rules)
    distortion = checks[checks["check"].str.contains("distortion")]
    assert len(distortion) and "meets" not in set(distortion["answer"])
    # A front end shapes its own current, so that the first farm still has a drive.
    assert study.results["variant"].tolist()[0] == "active front end"


# --- the catalogue as it is shown -----------------------------------------------------------------

EXPLAINED = Path(__file__).parents[1] / "input_workbooks" / "findings_explained.md"
LEAST_ALIKE = 0.8  # of the words of an example, once cells, numbers and quoted texts are left out


def form(message):
    """The words of a message without what belongs to one farm."""
    for what, put in ((r"'[^']*'", "TEXT"), (r"![A-Z]+\d+", "!CELL"),
                      (r"column [A-Z]+\b", "column"), (r"-?\d[\d,.]*", "NUMBER")):
        message = re.sub(what, put, message)
    return message.split()


def likeness(one, other):
    return SequenceMatcher(None, form(one), form(other), autojunk=False).ratio()


def test_every_slug_stands_in_the_catalogue_once_and_has_an_example():
    package = Path(batch.__file__).parent
    for name in ("finding_kinds.py", "finding_kinds_season.py", "finding_examples.py"):
        tree = ast.parse((package / name).read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.Dict):
                slugs = Counter(key.value for key in node.keys if isinstance(key, ast.Constant))
                assert [slug for slug, count in slugs.items() if count > 1] == [], name
    assert sorted(EXAMPLES) == sorted(CATALOGUE)
    assert [slug for slug, example in EXAMPLES.items() if not example.endswith(".")] == []


@pytest.mark.parametrize("slug", [*ON_A_FARM, *sorted(ON_A_SHEET)])
def test_example_has_the_form_of_what_is_said(found, slug):
    row = list(ON_A_FARM).index(slug) + 2 if slug in ON_A_FARM else None
    said = [f["message"].removesuffix(" " + CATALOGUE[slug].remedy) for f in found
            if f["slug"] == slug and row in (None, f["row"])]
    assert max(likeness(EXAMPLES[slug], text) for text in said) >= LEAST_ALIKE, said[0]


def test_forms_of_different_kinds_differ():
    """The measure itself: an example of another kind would not do."""
    assert likeness(EXAMPLES["value-missing"], EXAMPLES["unusual-value"]) < LEAST_ALIKE
    assert likeness(EXAMPLES["not-a-date"], EXAMPLES["number-in-date-cell"]) < LEAST_ALIKE


def told(*args):
    return CliRunner().invoke(main, ["findings", *args])


def test_page_of_explained_findings_is_the_catalogue():
    page = EXPLAINED.read_text(encoding="utf-8")
    assert page == told("--format", "markdown").stdout, "run input_workbooks/make_demo.py"
    assert sorted(re.findall(r"^### (.+)$", page, re.MULTILINE)) == sorted(CATALOGUE)


def test_command_tells_all_or_one():
    rows = json.loads(told("--format", "json").stdout)
    assert [row["slug"] for row in rows] == list(CATALOGUE)
    assert rows == list(csv.DictReader(io.StringIO(told("--format", "csv").stdout)))
    one = told("not-a-number").stdout
    kind = CATALOGUE["not-a-number"]
    for text in (kind.title, kind.cause, kind.remedy, EXAMPLES["not-a-number"], kind.severity):
        assert text in one
    assert all(len(line) <= 100 for line in told().stdout.splitlines())


def test_unknown_slug_is_told_with_the_closest():
    wrong = told("not-number")
    assert wrong.exit_code == 3 and "'not-a-number'" in wrong.stderr
