"""What `check` tells a planner of a first workbook: all faults at once, right hints or none, few
lines, the prices that are missing. Workbooks are invented; what is expected is counted by hand."""

import pytest

from batch.columns import CANDIDATES
from batch.findings import CATALOGUE, DECIDES, WATCH, Findings
from batch.reading.header import closest_header


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
    "Svc drop", "Grower", "Owner", "Town", "Account", "Section", "Comments", "Motor", "Motor hp",
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
