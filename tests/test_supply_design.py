"""A design that the planner asks for is the one that is priced, and one that does not fit is said.
"""

from batch.columns.candidates import ROTARY, SINGLE_PHASE_DRIVE, THREE_PHASE_LINE
from batch.reading.validate import validate
from batch.study import assessable, study_sets
from batch.tables import table
from tests.workbooks.make import candidate_workbook, cell


def test_asked_design_is_the_one_that_is_shown(tmp_path):
    # Every design of the table, asked for by name; the last farm leaves it to the study.
    every = [(row.supply_option, row.variant) for row in table("supply_variants").itertuples()]
    rows = [{"supply_option": option, "supply_design": design} for option, design in every]
    inputs = validate(candidate_workbook(
        tmp_path, [*rows, {"supply_option": THREE_PHASE_LINE, "supply_design": None}]))
    chosen = study_sets(assessable(inputs), inputs).rows_of(list(inputs.candidates.index))
    shown = list(zip(chosen["supply_option"], chosen["variant"]))
    assert shown[:-1] == every
    # By the price list a starter across the line costs less than a soft one.
    assert shown[-1] == (THREE_PHASE_LINE, "across the line")


def test_design_of_another_option_is_an_error_with_cell_and_remedy(tmp_path):
    inputs = validate(candidate_workbook(tmp_path, [
        {"supply_option": SINGLE_PHASE_DRIVE, "supply_design": "soft starter"},
        {"supply_option": "auto", "supply_design": "bare drive"},
        {"supply_option": ROTARY, "supply_design": "soft starter"}]))
    told = [f for f in inputs.findings.rows if f["slug"] == "supply-design-unfit"]
    assert [f["row"] for f in told] == [2, 3]
    assert told[0]["message"].startswith(
        f"Candidates!{cell('supply_design')}: Supply design is none of single-phase drive, which "
        "is built by: bare drive, line reactor 3 %, line reactor 5 %, DC choke, tuned filter, "
        "active front end.")
