"""What `check` tells a planner of a first workbook: all faults at once, right hints or none, few
lines, the prices that are missing. Workbooks are invented; what is expected is counted by hand."""

import json
import re

import openpyxl
import pytest
from click.testing import CliRunner

from batch.cli import main
from batch.columns import CANDIDATES
from batch.findings import CATALOGUE, DECIDES, WATCH, Findings, StudyError
from batch.reading.header import closest_header
from batch.reading.validate import validate
from batch.study import check_workbook, run_study
from batch.writing.terminal import check_text, prices_text
from tests.test_least_workbook import CHEAP_RATE, NINE, prices
from tests.workbooks.make import candidate_workbook, cell

BLANK = dict.fromkeys(CANDIDATES.by_key)
# Three farms of a first list, each known a little otherwise: eleven cells or fewer.
LEAST = [BLANK | NINE | farm for farm in (
    {"pump_motor_hp": 75}, {"candidate_id": "B", "pump_efficiency_pct": 70},
    {"candidate_id": "C", "service_distance_ft": 60, "three_phase_distance_ft": 4000})]


def least(folder, rows=LEAST, unit_costs=None, **more):
    return candidate_workbook(folder, rows, rates=more.pop("rates", [CHEAP_RATE]),
                              unit_costs=prices() if unit_costs is None else unit_costs, **more)


# Headings of planners' own lists, and the column that each means: common practice, no source.
@pytest.mark.parametrize("heading, column", [
    ("Crp", "crop"), ("Irrig. area", "irrigated_area_acre"), ("Feedr", "feeder_id"),
    ("Acres irrigated", "irrigated_area_acre"), ("Pumping lft", "pumping_lift_ft"),
    ("Single phase line distance", "single_phase_distance_ft"), ("Line built", "line_build"),
    ("Pivot pres", "pivot_pressure_psi"), ("Pumping hrs per season", "season_hours")])
def test_hint_at_the_heading_that_is_meant(heading, column):
    assert closest_header(heading, CANDIDATES) == CANDIDATES.by_key[column].header


# None of these is a column, or each may be several: of a motor of pump or tower, of fuel burnt or
# paid, of a generator or a plant.
@pytest.mark.parametrize("heading", [
    "Svc drop", "Grower", "Owner", "Town", "Section", "Comments", "Motor", "Motor hp",
    "Fuel", "Rating", "Flow rate", "Fuel cost", "Well depth", "Soil type", "Phone", "Pipe"])
def test_no_hint_is_better_than_a_wrong_one(heading):
    assert closest_header(heading, CANDIDATES) == ""


def test_every_watch_has_its_place_among_what_it_decides():
    placed = [slug for slugs in DECIDES.values() for slug in slugs]
    assert len(set(placed)) == len(placed) and set(placed) <= set(CATALOGUE)
    assert {slug for slug, kind in CATALOGUE.items() if kind.severity == WATCH} <= set(placed)


def test_findings_that_decide_most_are_listed_first():
    made = Findings()
    for slug, sheet in (("blank-row-skipped", "Candidates"), ("pipe-velocity", "Candidates"),
                        ("known-too-little", "Candidates"), ("not-a-number", "Candidates"),
                        ("rule-changed", "Program"), ("price-missing", "Unit costs"),
                        ("list-unreadable", "Rates")):
        made.add(slug, slug, sheet=sheet)
    # A rate may serve many farms; without a price a farm is not assessed, without knowledge it
    # gets no money, whereas a velocity only wants a look.
    assert list(made.frame()["slug"]) == [
        "list-unreadable", "not-a-number", "price-missing", "known-too-little", "pipe-velocity",
        "rule-changed", "blank-row-skipped"]


# --- the least workbook --------------------------------------------------------------------------

def test_clean_list_prints_one_note_a_farm_at_most_and_counts_what_a_run_counts(tmp_path):
    path = least(tmp_path)
    checked, study = check_workbook(path), run_study(validate(path))
    text = check_text(checked)
    notes = [line for line in text.splitlines() if line.startswith("  ")]
    assert 1 <= len(notes) <= len(LEAST) and len(text.splitlines()) < 10
    assert checked.counts == study.counts == {"read": 3, "assessed": 3, "not_assessed": 0}
    assert dict(checked.results["verdict"]) == dict(study.results["verdict"])
    # Nothing is known of the tap: each of the three has a check that waits for it.
    assert (study.results["not_assessed_count"] > 0).sum() == 3
    assert "3 assessed with open checks" in text
    # Two farms of three left the pump's efficiency blank, and all three the pipe.
    [line] = [note for note in notes if note.startswith("  Candidates")]
    assert "Pump efficiency 75 % (2 rows);" in line and "Pipe length 0 ft;" in line
    assert prices_text(checked) == "The list lacks no price that a farm asks for."


# --- all faults at once --------------------------------------------------------------------------

def broken(book):
    """A fault of each kind: a sheet's headers, cells of four sheets, a unit, a second header."""
    farms = book["Candidates"]
    headers = {c.value: c.column_letter for c in farms[1]}
    farms[headers[CANDIDATES.by_key["pumping_lift_ft"].header] + "1"] = "Svc drop"
    farms[headers[CANDIDATES.by_key["fuel_price_usd"].header] + "1"] = "Fuel price [USD/furlong]"
    farms[headers[CANDIDATES.by_key["flow_gpm"].header] + "2"] = "abt 900"
    farms[headers[CANDIDATES.by_key["present_power"].header] + "3"] = "Diesel"
    book["Rates"]["A1"] = "Tariff name"
    book["Study"]["B3"] = "this year"
    book["Unit costs"]["D2"] = "call"
    book["Program"]["B2"] = "long"


PLACES = ("Candidates sheet's column is missing: Pumping lift [ft]",
          "'Fuel price [USD/furlong]'",
          f"Candidates!{cell('flow_gpm', 2)}: Flow",
          f"Candidates!{cell('present_power', 3)}: Present power",
          "Rates sheet's column is missing", "Study!B3", "Unit costs!D2", "Program!B2")


@pytest.fixture(scope="module")
def faulty(tmp_path_factory):
    return least(tmp_path_factory.mktemp("faulty"), program={"tower_span_ft": 175}, edit=broken,
                 rates=[CHEAP_RATE])


def test_all_kinds_of_faults_are_told_at_once_each_once(faulty):
    text = check_text(check_workbook(faulty))
    told = [line for line in text.splitlines() if line.startswith("  ")]
    for place in PLACES:
        assert sum(place in line for line in told) == 1, place
    # What is not read is not told again as blank on each row, nor as a rate that is not there.
    assert not re.search("Pumping lift.* is blank|Fuel price is blank|does not list", text)
    assert "Closest is" not in "".join(line for line in told if "Svc drop" in line)
    assert "3 read = 0 assessed + 3 not assessed" in text


def test_run_stops_with_all_that_stops_it(faulty):
    with pytest.raises(StudyError) as stop:
        validate(faulty)
    for place in (*PLACES[:2], *PLACES[4:]):
        assert place in str(stop.value)


def test_command_ends_with_three_and_one_sentence(faulty):
    told = CliRunner().invoke(main, ["check", str(faulty), "--json"])
    assert told.exit_code == 3 and told.stderr.count("\n") == 1 and "Cannot go on" in told.stderr
    data = json.loads(told.stdout)
    assert len(data["stops"]) >= 5 and data["missing_prices"] is None
    assert any(f["slug"] == "not-a-number" for f in data["findings"])


def test_missing_sheets_hide_no_fault_of_others(tmp_path):
    path = least(tmp_path, [LEAST[0] | {"flow_gpm": "abt 900"}])
    book = openpyxl.load_workbook(path)
    del book["Rates"], book["Study"]
    book.save(path)
    text = check_text(check_workbook(path))
    assert "'Study', 'Rates'" in text and "Flow is the text 'abt 900'" in text


def test_workbook_without_a_candidate_still_tells_its_other_faults(tmp_path):
    path = least(tmp_path, [], program={"tower_span_ft": "long"})
    text = check_text(check_workbook(path))
    assert "no candidate" in text and "Program!B2" in text and "0 read" in text


# --- missing prices ------------------------------------------------------------------------------

def test_prices_are_listed_with_item_size_and_the_farms_that_need_them(tmp_path):
    short = [row for row in prices() if row["item"] not in ("drive", "meter and service")]
    path = least(tmp_path, LEAST[:2], short)
    checked = check_workbook(path)
    rows = {(row.item, row.size.split(",")[0]): row for row in checked.prices.itertuples()}
    meter = rows["meter and service", "single-phase"]
    assert meter.farms == "A, B" == meter.not_assessed_without
    # Both farms have a standard drive of a size of its own, of more than their motors' power.
    drives = [size for item, size in rows if item == "drive"]
    assert drives and all(float(size.removesuffix(" hp")) > 40 for size in drives)
    assert "meter and service, single-phase: for A, B; not assessed without it: A, B." in (
        prices_text(checked))


def test_missing_prices_are_told_beside_a_faulty_one_and_never_for_its_item(tmp_path):
    short = [row | ({"price_usd": "call"} if row["item"] == "transformer" else {})
             for row in prices() if row["item"] != "drive"]
    checked = check_workbook(least(tmp_path, LEAST[:1], short))
    items = set(checked.prices["item"])
    assert "drive" in items and "transformer" not in items
    text = check_text(checked)
    assert "'call'" in text and "no price for drive of" in text
    assert "no price for transformer" not in text


def test_empty_price_list_tells_what_to_ask_for(tmp_path):
    checked = check_workbook(least(tmp_path, LEAST[:1], []))
    assert {"line", "drive", "transformer"} <= set(checked.prices["item"])
    assert any("holds no row" in str(stop) for stop in checked.stops)
