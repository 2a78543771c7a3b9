"""The rows of the blank workbook: its examples, and the price list that is to be filled in."""

import openpyxl
import pytest
from workbooks.make import candidate_workbook, unit_cost_rows

from batch.columns import CANDIDATES, UNIT_COSTS
from batch.columns.candidates import EXAMPLES
from batch.columns.unit_costs import ITEMS
from batch.findings import StudyError
from batch.reading.validate import validate
from batch.writing.dictionary import dictionary_rows, dictionary_text
from batch.writing.workbook import blank
from batch.writing.workbook import table_sheets as sheets

YEAR = 2026


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    path = tmp_path_factory.mktemp("blank") / "blank.xlsx"
    blank.write_blank(path, YEAR)
    return path


def test_each_example_row_would_be_a_farm_without_a_fault(tmp_path):
    """So that a planner who copies one has a row that is studied."""
    rows = [dict.fromkeys(CANDIDATES.by_key) | example | {"candidate_id": f"F-{number}"}
            for number, example in enumerate(EXAMPLES)]
    inputs = validate(candidate_workbook(
        tmp_path, rows, feeders=[{"feeder_id": "F1", "spare_capacity_kw": 900}]))
    assert not inputs.has_error.any()
    unusual = {f["slug"] for f in inputs.findings.rows if f["severity"] != "note"}
    assert not unusual, unusual


# --- the price list ------------------------------------------------------------------------------

def price_rows(path):
    """The rows of a workbook's Unit costs as {key: value}, without blanks."""
    worksheet = openpyxl.load_workbook(path)["Unit costs"]
    rows = worksheet.iter_rows(min_row=sheets.FIRST_ROW, values_only=True)
    return [{key: value for key, value in zip(UNIT_COSTS.by_key, row) if value is not None}
            for row in rows]


def test_price_list_has_every_item_without_a_price(path):
    rows = price_rows(path)
    assert {row["item"] for row in rows} == set(ITEMS)
    assert not any("price_usd" in row for row in rows)
    # Sizes by published lists. NEMA MG 1: motors of 5 to 200 hp; pad and pole transformers of one
    # phase from 10 to 167 kVA (ANSI C57.12.20); three of 25 kVA make a bank of 75.
    sizes = {(item, phases): [row.get("size") for row in rows if row["item"] == item
                              and row.get("phases") == phases]
             for item, phases in (("motor change", None), ("transformer", 1), ("transformer", 3))}
    assert {5, 7.5, 10, 15, 20, 25, 30, 40, 50, 60, 75, 100, 125, 150, 200} <= set(
        sizes["motor change", None])
    assert {10, 15, 25, 37.5, 50, 75, 100, 167} <= set(sizes["transformer", 1])
    assert 75 in sizes["transformer", 3]
    units = {row["item"]: row["price_unit"] for row in rows}
    assert units["line"] == "ft" and units["drive"] == "piece; size in hp"
    assert units["transformer"] == "piece; size in kVA" and units["motor lead"] == "ft; size in A"


def test_last_years_prices_stand_beside_and_are_not_read_as_prices(tmp_path):
    old = [{"item": "line", "phases": 1, "price_usd": 9.5, "price_source": "contract"},
           {"item": "drive", "size": 65, "price_usd": 7000, "single_phase_hp": 30},
           {"item": "drive", "size": 80}]
    last = candidate_workbook(tmp_path, unit_costs=old)
    blank.write_blank(tmp_path / "next.xlsx", YEAR, last=last)
    rows = price_rows(tmp_path / "next.xlsx")
    assert {"item": "line", "phases": 1, "price_unit": "ft", "last_price_usd": 9.5} == rows[0]
    assert [row for row in rows if row["item"] == "drive"] == [
        {"item": "drive", "size": 65, "price_unit": "piece; size in hp", "last_price_usd": 7000,
         "single_phase_hp": 30}]
    # What the old list lacks stands in its standard rows: line of three phases, all transformers.
    assert {(row.get("line_build"), row["phases"]) for row in rows if row["item"] == "line"} == {
        (None, 1), ("overhead", 3), ("underground", 3)}
    assert {row["item"] for row in rows} == set(ITEMS)
    with pytest.raises(StudyError, match="no row with a price"):
        validate(candidate_workbook(tmp_path, unit_costs=rows, name="unpriced.xlsx"))


def test_rows_without_a_price_are_not_offered_and_counted_in_one_note(tmp_path):
    prices = unit_cost_rows()
    open_rows = [{"item": "drive", "size": 10}, {"item": "drive", "size": 15, "last_price_usd": 9}]
    path = candidate_workbook(tmp_path, unit_costs=[*prices, *open_rows])
    inputs = validate(path)
    assert len(inputs.unit_costs) == len(prices)
    assert not inputs.unit_costs["size"].isin([10, 15]).any()
    [note] = [f for f in inputs.findings.rows if f["slug"] == "price-row-open"]
    first = len(prices) + 2  # the header is row 1
    assert f"{first} to {first + 1}: 2 rows" in note["message"] and note["severity"] == "note"


def test_list_of_columns_says_the_stage_of_each_cell_of_a_farm():
    rows = {row["key"]: row for row in dictionary_rows("Candidates")}
    assert rows["flow_gpm"]["needed"] == "Needed for screening."
    assert rows["pivot_lead_ft"]["needed"] == "Needed for approval (with a pivot)."
    assert "better than the default" in rows["pipe_c"]["needed"]
    text = dictionary_text("Candidates", "table")
    assert all(row["needed"] in text for row in rows.values())
    assert not any(row["needed"] for row in dictionary_rows("Rates"))
