"""Typing, defaults, units, bounds and row rules: each spreadsheet trap and its finding."""

import datetime
import time

import numpy as np
import pytest
from openpyxl.utils import get_column_letter
from workbooks.make import candidate_workbook, cell, example_row, findings, read, with_stored_value

from batch.columns import CANDIDATES, INPUT_SHEETS
from batch.findings import CATALOGUE, ERROR, StudyError
from batch.reading.validate import validate


def only(inputs, slug):
    """The one finding of a slug; its message names the cell it stands on, if on one."""
    found = findings(inputs, slug)
    assert len(found) == 1, inputs.findings.rows
    finding = found[0]
    if finding["row"] and finding["column"]:
        assert f"{finding['sheet']}!{finding['column']}{finding['row']}" in finding["message"]
    assert finding["message"].endswith(CATALOGUE[slug].remedy)
    return finding


def value(inputs, key, row=2):
    return inputs.candidates.at[row, key]


def format_cell(key, number_format, row=2):
    def edit(book):
        book["Candidates"][cell(key, row)].number_format = number_format

    return edit


# The whole

def test_valid_workbook_has_no_error_and_typed_columns(tmp_path):
    inputs = read(tmp_path, [{}, {"is_inverter_duty": "yes"}])
    assert not findings(inputs, severity=ERROR) and not inputs.has_error.any()
    assert list(inputs.candidates.columns) == list(CANDIDATES.by_key)
    assert inputs.candidates.index.tolist() == [2, 3]
    assert inputs.candidates.index.name == "excel_row"
    for column in CANDIDATES.columns:
        is_number = column.is_numeric or column.kind == "yes/no"
        assert inputs.candidates[column.key].dtype == (float if is_number else object), column.key
    assert inputs.study["study_name"] == "Test study" and inputs.study["prepared_by"] is None
    assert set(inputs.study) == set(INPUT_SHEETS[0].by_key)


def test_every_finding_of_a_faulty_workbook_is_found_at_once(tmp_path):
    inputs = read(tmp_path, [{"flow_gpm": -5, "line_build": "aerial", "pumping_lift_ft": None},
                             {"season_hours": "many"}])
    slugs = {f["slug"] for f in findings(inputs, severity=ERROR)}
    assert slugs == {"below-minimum", "unknown-choice", "value-missing", "not-a-number"}
    assert inputs.has_error.tolist() == [True, True]
    assert {f["candidate_id"] for f in findings(inputs, severity=ERROR)} == {"F-1", "F-2"}


def test_missing_cells_never_become_zero(tmp_path):
    assert np.isnan(value(read(tmp_path), "motor_full_load_a"))


def test_validation_of_the_same_rows_in_another_order_of_columns_is_the_same(tmp_path):
    def reverse(book):
        worksheet = book["Candidates"]
        for row in worksheet.iter_rows():
            values = [c.value for c in row][::-1]
            for cell_, new in zip(row, values):
                cell_.value = new

    plain, turned = read(tmp_path), read(tmp_path, edit=reverse)
    assert plain.candidates.equals(turned.candidates)


# Units

# Source: NIST Special Publication 811 (2008), appendix B.8: foot 0.3048 m, gal/min 0.06309020 L/s
# (0.2271247 m3/h), psi 6.894757 kPa, inch 25.4 mm, horsepower (550 ft lbf/s) 745.6999 W, gallon
# 3.785412 L; the acre of the international foot is 0.40468564 ha by 43,560 ft2.
METRIC = [
    ("pumping_lift_ft", "m", 30.48, 100), ("flow_gpm", "L/s", 63.09020, 1000),
    ("flow_gpm", "m3/h", 227.1247, 1000), ("pivot_pressure_psi", "kPa", 275.79028, 40),
    ("pivot_pressure_psi", "bar", 2.7579028, 40), ("irrigated_area_acre", "ha", 40.468564, 100),
    ("gross_depth_in", "mm", 508, 20), ("pipe_diameter_in", "mm", 203.2, 8),
    ("pump_motor_hp", "kW", 74.56999, 100), ("fuel_rate", "L/h", 15.141648, 4),
    ("fuel_price_usd", "USD/L", 1, 3.785412), ("primary_kv", "V", 7200, 7.2),
]


@pytest.mark.parametrize("key, unit, number, expected", METRIC)
def test_header_unit(tmp_path, key, unit, number, expected):
    header = f"{CANDIDATES.by_key[key].label} [{unit}]"
    inputs = read(tmp_path, [{key: number}, {key: number}], headers={key: header})
    assert inputs.candidates[key].tolist() == pytest.approx([expected] * 2, rel=1e-6)
    note = only(inputs, "unit-converted")
    assert note["row"] is None and "2 values" in note["message"] and note["value"] == unit


def test_usual_rating_in_whole_kilowatts_is_not_unusual(tmp_path):
    # 250 hp, the largest usual motor, is 186.4 kW, which nameplates give as 187; 190 is beyond it.
    inputs = read(tmp_path, [{"pump_motor_hp": kw} for kw in (187, 190)],
                  headers={"pump_motor_hp": "Pump motor nameplate [kW]"})
    assert [f["row"] for f in findings(inputs, "unusual-value")] == [3]


@pytest.mark.parametrize("key, unit, number, expected", METRIC)
def test_unit_in_a_cell(tmp_path, key, unit, number, expected):
    inputs = read(tmp_path, [{key: f"{number} {unit}"}])
    assert value(inputs, key) == pytest.approx(expected, rel=1e-6)
    assert only(inputs, "unit-converted")["row"] == 2


def test_cell_unit_goes_before_the_header_unit(tmp_path):
    inputs = read(tmp_path, [{"pumping_lift_ft": "100 ft"}, {"pumping_lift_ft": "30.48"},
                             {"pumping_lift_ft": 30.48}],
                  headers={"pumping_lift_ft": "Pumping lift [m]"})
    assert inputs.candidates["pumping_lift_ft"].tolist() == pytest.approx([100] * 3)


def test_house_unit_by_another_word_is_no_conversion(tmp_path):
    inputs = read(tmp_path, [{"flow_gpm": "800 gpm"}], headers={"flow_gpm": "Flow [GPM]"})
    assert value(inputs, "flow_gpm") == 800 and not findings(inputs, "unit-converted")
    only(inputs, "number-from-text")


def test_unknown_unit_in_a_cell(tmp_path):
    inputs = read(tmp_path, [{"flow_gpm": "800 buckets"}])
    finding = only(inputs, "unit-unknown")
    assert "gal/min, gpm" in finding["message"] and np.isnan(value(inputs, "flow_gpm"))


def test_bounds_are_judged_after_conversion_and_a_bound_itself_is_allowed(tmp_path):
    acres = CANDIDATES.by_key["irrigated_area_acre"].minimum
    inputs = read(tmp_path, [{"irrigated_area_acre": acres * 0.40468564224}],
                  headers={"irrigated_area_acre": "Irrigated area [ha]"})
    assert not findings(inputs, "below-minimum")


GAS = {"present_power": "natural gas engine"}


@pytest.mark.parametrize("header", ["Measured fuel rate [gal/h or Mcf/h]", "fuel_rate",
                                    "Measured fuel rate [gal/h]"])
def test_fuel_rate_is_native_for_all_fuels_in_the_house_unit(tmp_path, header):
    inputs = read(tmp_path, [{"fuel_rate": 4}, {"fuel_rate": 0.5, **GAS}],
                  headers={"fuel_rate": header})
    assert inputs.candidates["fuel_rate"].tolist() == [4, 0.5]
    assert not findings(inputs, "unit-converted")


def test_fuel_rate_of_gas_rows_is_converted_into_the_gas_unit(tmp_path):
    # Source: 1 Mcf = 1000 ft3 = 28.316847 m3 (NIST Special Publication 811, appendix B.8).
    inputs = read(tmp_path, [{"fuel_rate": 14.1584235, **GAS, "fuel_price_usd": 4},
                             {"fuel_rate": 0.01514165}],
                  headers={"fuel_rate": "Measured fuel rate [m3/h]"})
    assert inputs.candidates["fuel_rate"].tolist() == pytest.approx([0.5, 4], rel=1e-6)


def test_gas_row_shows_bounds_in_the_gas_unit(tmp_path):
    finding = only(read(tmp_path, [{"fuel_rate": 500, **GAS}]), "above-maximum")
    assert finding["limit"] == "100 Mcf/h"


# Numbers

@pytest.mark.parametrize("raw, expected", [("1,300", 1300), (" 1300\xa0", 1300), ("1\xa0300", 1300),
                                           ("1300.0", 1300)])
def test_number_as_text(tmp_path, raw, expected):
    inputs = read(tmp_path, [{"pipe_length_ft": raw}])
    assert value(inputs, "pipe_length_ft") == expected
    assert only(inputs, "number-from-text")["value"] == raw


@pytest.mark.parametrize("raw", ["1.300,5", "12,5", "1.300"])
def test_number_that_can_be_read_in_two_ways(tmp_path, raw):
    inputs = read(tmp_path, [{"pipe_length_ft": raw}])
    only(inputs, "ambiguous-number")
    assert np.isnan(value(inputs, "pipe_length_ft")) and inputs.has_error[2]


@pytest.mark.parametrize("raw", ["NA", "unknown", "100-200", True])
def test_not_a_number_is_not_a_blank(tmp_path, raw):
    inputs = read(tmp_path, [{"pump_efficiency_pct": raw}])
    only(inputs, "not-a-number")
    assert np.isnan(value(inputs, "pump_efficiency_pct"))  # and never the default


@pytest.mark.parametrize("code", ["#DIV/0!", "#N/A", "#REF!"])
@pytest.mark.parametrize("key", ["flow_gpm", "crop", "line_build", "load_control"])
def test_spreadsheet_error(tmp_path, code, key):
    inputs = read(tmp_path, [{key: code}])
    assert only(inputs, "excel-error")["value"] == code
    assert inputs.has_error[2]


def test_formula_without_a_stored_value(tmp_path):
    inputs = read(tmp_path, [{"pump_efficiency_pct": "=70+5"}])
    only(inputs, "formula-without-value")
    assert np.isnan(value(inputs, "pump_efficiency_pct")) and inputs.has_error[2]


def test_formula_with_a_stored_value(tmp_path):
    path = candidate_workbook(tmp_path, [{"flow_gpm": "=2*400"}])
    inputs = validate(with_stored_value(path, b"2*400", b"800"))
    assert value(inputs, "flow_gpm") == 800 and not inputs.has_error[2]
    assert "=2*400" in only(inputs, "formula-value-used")["message"]


@pytest.mark.parametrize("raw", [datetime.datetime(2026, 4, 30), datetime.date(2026, 4, 30),
                                 datetime.time(6, 30)])
def test_date_in_a_number_cell(tmp_path, raw):
    only(read(tmp_path, [{"season_hours": raw}]), "date-in-number-cell")


def test_number_in_a_date_formatted_cell(tmp_path):
    inputs = read(tmp_path, [{"season_hours": 900}], edit=format_cell("season_hours", "yyyy-mm-dd"))
    only(inputs, "date-in-number-cell")


def test_percent_cell_is_read_as_shown(tmp_path):
    inputs = read(tmp_path, [{"pump_efficiency_pct": 0.07 * 10}],
                  edit=format_cell("pump_efficiency_pct", "0%"))
    assert value(inputs, "pump_efficiency_pct") == 70
    assert only(inputs, "percent-cell")["value"].startswith("0.7")
    assert not findings(inputs, "fraction-for-percent")


def test_fraction_where_percent_is_asked_for(tmp_path):
    inputs = read(tmp_path, [{"pump_efficiency_pct": 0.75}, {"tower_duty_pct": 0.6}])
    assert [f["row"] for f in findings(inputs, "fraction-for-percent")] == [2, 3]
    assert only(inputs, "below-minimum")["row"] == 2
    assert inputs.has_error.tolist() == [True, False]


def test_bounds_are_errors_and_usual_ranges_are_watches(tmp_path):
    column = CANDIDATES.by_key["flow_gpm"]
    rows = [{"flow_gpm": v} for v in (column.minimum - 1, column.minimum, column.usual[0],
                                      column.maximum, column.maximum + 1)]
    inputs = read(tmp_path, rows)
    assert only(inputs, "below-minimum")["row"] == 2
    assert only(inputs, "below-minimum")["limit"] == f"{column.minimum} gal/min"
    assert only(inputs, "above-maximum")["row"] == 6
    assert [f["row"] for f in findings(inputs, "unusual-value")] == [3, 5]
    assert inputs.has_error.tolist() == [True, False, False, False, True]
    assert np.isnan(value(inputs, "flow_gpm", 2))


def test_fraction_of_a_tower(tmp_path):
    only(read(tmp_path, [{"tower_count": 7.5}]), "not-a-whole-number")


def test_many_notes_of_a_column_become_one(tmp_path):
    inputs = read(tmp_path, [{"flow_gpm": "800"}] * 30)
    note = only(inputs, "number-from-text")
    assert note["row"] is None and note["column"] and "30 cells" in note["message"]


# Words

@pytest.mark.parametrize("raw, expected", [
    ("Diesel Engine", "diesel engine"), ("diesel  engine ", "diesel engine"),
    ("diesel-engine", "diesel engine")])
def test_choice_in_another_spelling(tmp_path, raw, expected):
    inputs = read(tmp_path, [{"present_power": raw}])
    assert value(inputs, "present_power") == expected
    only(inputs, "choice-corrected")


def test_unknown_choice_names_the_closest(tmp_path):
    finding = only(read(tmp_path, [{"present_power": "deisel engine"}]), "unknown-choice")
    assert "Closest is 'diesel engine'" in finding["message"] and "propane" in finding["limit"]


@pytest.mark.parametrize("raw, expected", [("yes", 1), ("Y", 1), (True, 1), (1, 1), ("TRUE", 1),
                                           ("no ", 0), ("n", 0), (False, 0), (0, 0), ("false", 0)])
def test_yes_and_no(tmp_path, raw, expected):
    assert value(read(tmp_path, [{"is_inverter_duty": raw}]), "is_inverter_duty") == expected


def test_neither_yes_nor_no(tmp_path):
    only(read(tmp_path, [{"is_inverter_duty": "maybe"}]), "not-yes-or-no")


@pytest.mark.parametrize("raw", [datetime.date(2026, 4, 30), datetime.datetime(2026, 4, 30, 7),
                                 "2026-04-30", "2026/4/30"])
def test_dates(tmp_path, raw):
    assert value(read(tmp_path, [{"application_date": raw}]), "application_date") == "2026-04-30"


@pytest.mark.parametrize("raw, slug", [("4/5/26", "not-a-date"), ("2026-02-30", "not-a-date"),
                                       (45000, "number-in-date-cell"),
                                       (datetime.time(7), "not-a-date")])
def test_what_is_no_date(tmp_path, raw, slug):
    only(read(tmp_path, [{"application_date": raw}]), slug)


def test_names_stay_text(tmp_path):
    inputs = read(tmp_path, [{"candidate_id": "007", "crop": "NA"}, {"candidate_id": 7},
                             {"candidate_id": 8.0, "crop": "  "}])
    assert inputs.candidates["candidate_id"].tolist() == ["007", "7", "8"]
    assert inputs.candidates["crop"].tolist() == ["NA", "corn", None]
    assert not findings(inputs, "id-repeated")


def test_name_that_became_a_date(tmp_path):
    inputs = read(tmp_path, [{"candidate_id": datetime.datetime(2026, 3, 4)}])
    only(inputs, "date-in-text-cell")
    assert value(inputs, "candidate_id") == "2026-03-04"


def test_control_characters_are_left_out(tmp_path):
    inputs = read(tmp_path, [{"farm_label": "North\x7f quarter"}])
    only(inputs, "text-cleaned")
    assert value(inputs, "farm_label") == "North quarter"


# Defaults, rows and references

def told_of_defaults(inputs):
    return [f for f in findings(inputs, "defaults-taken") if f["sheet"] == "Candidates"]


def test_defaults_are_one_note_for_each_farm(tmp_path):
    inputs = read(tmp_path, [{"pipe_c": None}, {}, {"pipe_c": 120}])
    assert [(f["row"], f["candidate_id"]) for f in told_of_defaults(inputs)
            if "Pipe roughness coefficient C 140" in f["message"]] == [(2, "F-1"), (3, "F-2")]
    assert len({f["row"] for f in told_of_defaults(inputs)}) == len(told_of_defaults(inputs))
    assert inputs.candidates["pipe_c"].tolist() == [140, 140, 120]
    assert value(inputs, "load_control") == 0 and value(inputs, "line_build") == "overhead"


def test_default_of_a_column_that_is_not_there(tmp_path):
    inputs = read(tmp_path, headers={"pipe_c": None})
    assert value(inputs, "pipe_c") == 140
    [note] = told_of_defaults(inputs)
    assert "; Pipe roughness coefficient C 140" in note["message"]


def test_example_row_is_skipped(tmp_path):
    inputs = read(tmp_path, [{"candidate_id": "EXAMPLE"}, {}])
    assert inputs.candidates.index.tolist() == [3]
    assert only(inputs, "example-row-skipped")["row"] == 2


@pytest.mark.parametrize("rows", [[], [{"candidate_id": "EXAMPLE"}]])
def test_no_candidate(tmp_path, rows):
    with pytest.raises(StudyError, match="no candidate"):
        read(tmp_path, rows)


def test_blank_rows_are_one_note(tmp_path):
    inputs = read(tmp_path, [{}, {}, {}], edit=lambda b: b["Candidates"].insert_rows(3, 2))
    assert inputs.candidates.index.tolist() == [2, 5, 6]
    assert "3 to 4" in only(inputs, "blank-row-skipped")["message"]


def test_second_header_row_is_skipped_with_a_note(tmp_path):
    inputs = read(tmp_path, [{key: key for key in CANDIDATES.by_key}, {}])
    assert inputs.candidates.index.tolist() == [3]
    assert only(inputs, "header-row-skipped")["row"] == 2


def test_repeated_names_are_errors_of_the_later_rows(tmp_path):
    inputs = read(tmp_path, [{"candidate_id": "A"}, {"candidate_id": "A "}, {"candidate_id": "B"}])
    finding = only(inputs, "id-repeated")
    assert (finding["row"], finding["limit"]) == (3, "row 2")
    assert inputs.has_error.tolist() == [False, True, False]


def test_unknown_column_has_one_note_with_the_closest(tmp_path):
    note = only(read(tmp_path, [{"Pumping lfit": 1}, {}]), "column-unknown")
    assert note["limit"] == "Pumping lift [ft]" and note["row"] == 1


def test_column_of_values_without_a_header(tmp_path):
    beyond = get_column_letter(len(CANDIDATES.columns) + 3)

    def write(book):
        book["Candidates"][f"{beyond}2"] = "see letter"

    assert beyond in only(read(tmp_path, edit=write), "column-unknown")["message"]


def test_unknown_sheet(tmp_path):
    inputs = read(tmp_path, edit=lambda book: [book.create_sheet("Feeder"),
                                               book.create_sheet("Read me")])
    assert "'Feeders'" in only(inputs, "sheet-unknown")["message"]


def test_reading_is_fast_enough_for_a_portfolio(tmp_path):
    path = candidate_workbook(tmp_path, [example_row(n) for n in range(1_000)])
    start = time.process_time()
    validate(path)
    assert time.process_time() - start < 5
