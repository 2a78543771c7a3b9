"""What `check` tells a planner of a first workbook: all faults at once, right hints or none, few
lines, the prices that are missing. Workbooks are invented; what is expected is counted by hand."""

import pytest

from batch.columns import CANDIDATES
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
