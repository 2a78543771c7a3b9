"""Reading raw cells: headers, blank rows, formulas, formats, and files of other programs."""

import datetime
import os
import re
import shutil
import subprocess
import time

import openpyxl
import pytest
from workbooks.make import candidate_workbook, cell, read_cells, sheet_part, with_part
from workbooks.make import with_stored_value

from batch.columns import CANDIDATES, INPUT_SHEETS
from batch.findings import StudyError
from batch.reading import sheet_cells as cells_module
from batch.reading.cells import read_workbook
from batch.reading.header import (
    closest_header,
    column_letter,
    columns_by_name,
    header_columns,
    name_and_unit,
)


def candidates(path):
    return read_cells(path)["Candidates"]


def by_key(sheet_cells, row=0):
    values = sheet_cells.rows[row][1]
    return {h.key: values[h.index] for h in sheet_cells.headers if h.key}


def on(name):
    """A change of one sheet, for the builder's `edit`."""
    return lambda change: lambda book: change(book[name])


on_candidates = on("Candidates")


# Headers

@pytest.mark.parametrize("sheet", INPUT_SHEETS, ids=lambda s: s.name)
def test_no_two_columns_of_a_sheet_share_a_name(sheet):
    columns_by_name(sheet.columns)
    columns_by_name(header_columns(sheet))


def test_column_letters_agree_with_openpyxl():
    for index in (0, 25, 26, 51, 52, 701, 702, 16383):
        assert column_letter(index) == openpyxl.utils.get_column_letter(index + 1)


@pytest.mark.parametrize("text, expected", [
    ("Flow [gal/min]", ("flow", "gal/min")), ("  FLOW  [ L/s ] ", ("flow", "L/s")),
    ("flow_gpm", ("flow gpm", "")), ("Pump\nefficiency\xa0[%]", ("pump efficiency", "%")),
    ("Flow [gal/min] *", ("flow", "gal/min")), ("Flow:", ("flow", "")), (2026, ("2026", "")),
])
def test_name_and_unit_of_a_header(text, expected):
    assert name_and_unit(text) == expected


@pytest.mark.parametrize("header", ["Flow [gal/min]", "FLOW", "flow_gpm", " Flow  [gpm]",
                                    "flow gpm [gal/min]", "Flow\n[gal/min]"])
def test_header_by_label_or_key_in_any_case_and_spacing(tmp_path, header):
    path = candidate_workbook(tmp_path, headers={"flow_gpm": header})
    assert by_key(candidates(path))["flow_gpm"] == 800


def test_header_by_alias(tmp_path):
    path = candidate_workbook(tmp_path, headers={"candidate_id": "Application"})
    assert by_key(candidates(path))["candidate_id"] == "F-1"


def test_headers_in_any_order(tmp_path):
    def reverse(worksheet):
        rows = [list(reversed(row)) for row in worksheet.iter_rows(values_only=True)]
        for r, row in enumerate(rows, start=1):
            for c, value in enumerate(row, start=1):
                worksheet.cell(r, c).value = value

    plain = by_key(candidates(candidate_workbook(tmp_path)))
    turned = by_key(candidates(candidate_workbook(tmp_path, edit=on_candidates(reverse))))
    assert turned == plain


def test_merged_title_rows_above_the_header_are_skipped(tmp_path):
    def add_titles(worksheet):
        worksheet.insert_rows(1, 4)
        worksheet["A1"] = "Irrigation program: candidates"
        worksheet.merge_cells("A1:H1")
        worksheet["A3"] = "Flow"
        worksheet.merge_cells("A3:C3")

    read = candidates(candidate_workbook(tmp_path, edit=on_candidates(add_titles)))
    assert (read.header_row, [row for row, _ in read.rows]) == (5, [6])


def test_no_header_row_among_the_first_twenty(tmp_path):
    path = candidate_workbook(tmp_path, edit=on_candidates(lambda w: w.insert_rows(1, 20)))
    with pytest.raises(StudyError, match="Candidates sheet has no header row"):
        read_cells(path)


def test_unknown_header_is_kept_and_has_a_closest_known_header(tmp_path):
    read = candidates(candidate_workbook(tmp_path, [{"Soil": "sandy loam"}]))
    assert read.headers[-1].text == "Soil" and read.headers[-1].key is None
    assert read.rows[0][1][-1] == "sandy loam"
    assert closest_header("Pumping lifts [m]", CANDIDATES) == "Pumping lift [ft]"


def test_all_missing_required_columns_are_named_at_once(tmp_path):
    path = candidate_workbook(tmp_path, headers={"flow_gpm": None, "irrigated_area_acre": None})
    with pytest.raises(StudyError) as caught:
        read_cells(path)
    assert "Flow [gal/min]" in caught.value.what
    assert "Irrigated area [acre]" in caught.value.what


def test_two_headers_for_one_key(tmp_path):
    path = candidate_workbook(tmp_path, [{"FLOW [L/s]": 50}])
    with pytest.raises(StudyError) as caught:
        read_cells(path)
    assert "'Flow [gal/min]'" in caught.value.what and "'FLOW [L/s]'" in caught.value.what


@pytest.mark.parametrize("header", ["Flow [furlong]", "Flow [ft]", "Flow [gal/min or L/s]"])
def test_header_with_an_unknown_unit_or_one_of_another_kind(tmp_path, header):
    path = candidate_workbook(tmp_path, headers={"flow_gpm": header})
    with pytest.raises(StudyError, match="Flow .*gal/min, gpm, l/s"):
        read_cells(path)


def test_second_header_row_of_keys_is_skipped(tmp_path):
    def add_keys(worksheet):
        worksheet.insert_rows(2)
        for index, key in enumerate(CANDIDATES.by_key, start=1):
            worksheet.cell(2, index).value = key

    read = candidates(candidate_workbook(tmp_path, edit=on_candidates(add_keys)))
    assert (read.repeated_header_rows, [row for row, _ in read.rows]) == ([2], [3])


def test_row_of_units_below_the_header_is_read_as_units(tmp_path):
    def add_units(worksheet):
        worksheet.insert_rows(2)
        worksheet[cell("flow_gpm")] = "L/s"
        worksheet[cell("pumping_lift_ft")] = "m"

    read = candidates(candidate_workbook(
        tmp_path, headers={"flow_gpm": "Flow", "pumping_lift_ft": "Pumping lift"},
        edit=on_candidates(add_units)))
    assert {h.key: h.unit for h in read.headers}["flow_gpm"] == "L/s"
    assert (read.unit_row, [row for row, _ in read.rows]) == (2, [3])


# Sheets

def test_sheet_names_in_any_case_and_spacing(tmp_path):
    def rename(book):
        book["Unit costs"].title = "UNIT_COSTS"
        book["Candidates"].title = "candidates "

    assert {"Unit costs", "Candidates"} <= set(read_cells(candidate_workbook(tmp_path,
                                                                             edit=rename)))


def test_all_missing_sheets_are_named_at_once(tmp_path):
    def remove(book):
        del book["Rates"], book["Candidates"]

    with pytest.raises(StudyError, match="'Candidates', 'Rates'"):
        read_cells(candidate_workbook(tmp_path, edit=remove))


def test_empty_candidates_sheet(tmp_path):
    path = candidate_workbook(tmp_path, edit=on_candidates(lambda w: w.delete_rows(1, 2)))
    with pytest.raises(StudyError, match="Candidates sheet is empty"):
        read_cells(path)


def test_empty_optional_sheet_is_no_fault(tmp_path):
    path = candidate_workbook(tmp_path, edit=lambda book: book.create_sheet("Feeders"))
    assert read_cells(path)["Feeders"].rows == []


def test_visible_unknown_sheets_are_listed_and_hidden_ones_are_not(tmp_path):
    def add(book):
        book.create_sheet("Candidate")
        book.create_sheet("Old").sheet_state = "hidden"

    assert read_workbook(candidate_workbook(tmp_path, edit=add)).unknown_sheets == ["Candidate"]


# Rows

def test_blank_rows_between_and_trailing_formatted_rows(tmp_path):
    def spread(worksheet):
        worksheet.insert_rows(3, 2)
        worksheet["A3"] = "   "
        worksheet["B4"] = "\xa0"
        for row in range(6, 400):
            worksheet.cell(row, 1).font = openpyxl.styles.Font(bold=True)
            worksheet.cell(row, 2).value = " "

    read = candidates(candidate_workbook(tmp_path, [{}, {}], edit=on_candidates(spread)))
    assert [row for row, _ in read.rows] == [2, 5]
    assert read.blank_ranges() == [(3, 4)]


def test_rows_that_are_hidden_or_filtered_are_read(tmp_path):
    def hide(worksheet):
        worksheet.auto_filter.ref = "A1:C3"
        worksheet.row_dimensions[2].hidden = True

    assert len(candidates(candidate_workbook(tmp_path, [{}, {}],
                                             edit=on_candidates(hide))).rows) == 2


def test_ragged_rows_are_padded(tmp_path):
    read = candidates(candidate_workbook(tmp_path, edit=on_candidates(
        lambda w: w.append(["F-2", "short row"]))))
    assert [len(values) for _, values in read.rows] == [len(read.headers)] * 2


def test_a_value_far_to_the_right_is_kept_within_bounds(tmp_path):
    def write(worksheet):
        worksheet["BP2"] = "see letter"
        worksheet["XFD2"] = "stray"

    read = candidates(candidate_workbook(tmp_path, edit=on_candidates(write)))
    assert "see letter" in read.rows[0][1] and len(read.headers) <= cells_module.MOST_COLUMNS
    assert read.has_more_columns


def test_wrong_stated_dimension_is_not_believed(tmp_path):
    path = candidate_workbook(tmp_path, [{}, {}, {}])
    part = sheet_part("Candidates", path)
    path = with_part(path, part, lambda xml: re.sub(b'<dimension ref="[^"]*"',
                                                    b'<dimension ref="A1:B2"', xml))
    book = openpyxl.load_workbook(path, read_only=True)
    assert book["Candidates"].max_row == 2
    book.close()
    assert len(candidates(path).rows) == 3


def test_more_rows_than_the_cap(tmp_path, monkeypatch):
    monkeypatch.setattr(cells_module, "MOST_ROWS", 2)
    assert len(candidates(candidate_workbook(tmp_path, [{}] * 2, unit_costs=[
        {"item": "line", "price_usd": 7}])).rows) == 2
    with pytest.raises(StudyError, match="more than 2 rows"):
        read_cells(candidate_workbook(tmp_path, [{}] * 3))


# Formulas and formats

def test_formula_with_a_stored_value(tmp_path):
    path = candidate_workbook(tmp_path, [{"flow_gpm": "=2*400"}])
    read = candidates(with_stored_value(path, b"2*400", b"800"))
    assert by_key(read)["flow_gpm"] == 800
    assert list(read.formulas.values()) == ["=2*400"]


def test_formula_without_a_stored_value_is_not_a_blank(tmp_path):
    read = candidates(candidate_workbook(tmp_path, [{"flow_gpm": "=2*400"}]))
    assert by_key(read)["flow_gpm"] is None
    assert list(read.formulas.values()) == ["=2*400"]


def test_rows_of_formulas_with_empty_text_as_result_are_blank(tmp_path):
    def add_formula(worksheet):
        worksheet["A3"] = '=IF(B3="","",B3)'

    path = candidate_workbook(tmp_path, edit=on_candidates(add_formula))
    path = with_stored_value(path, b'IF(B3="","",B3)', b"", kind=b' t="str"')
    assert [row for row, _ in candidates(path).rows] == [2]


def test_text_that_looks_like_a_formula_is_no_formula(tmp_path):
    def write(worksheet):
        worksheet["B2"] = "=not a formula"
        worksheet["B2"].data_type = "s"

    read = candidates(candidate_workbook(tmp_path, edit=on_candidates(write)))
    assert by_key(read)["farm_label"] == "=not a formula" and not read.formulas


@pytest.mark.parametrize("number_format, is_percent", [
    ("0%", True), ("0.00%", True), ('0.0"%"', False), (r"0\%", False), ("General", False)])
def test_percent_formats(tmp_path, number_format, is_percent):
    def write(worksheet):
        worksheet[cell("pump_efficiency_pct")] = 0.75
        worksheet[cell("pump_efficiency_pct")].number_format = number_format

    read = candidates(candidate_workbook(tmp_path, edit=on_candidates(write)))
    assert bool(read.percent_cells) == is_percent


def test_dates_in_both_calendars(tmp_path):
    for epoch in (openpyxl.utils.datetime.WINDOWS_EPOCH, openpyxl.utils.datetime.MAC_EPOCH):
        def set_epoch(book, epoch=epoch):
            book.epoch = epoch

        path = candidate_workbook(tmp_path, [{"application_date": datetime.date(2026, 4, 30)}],
                                  edit=set_epoch)
        assert by_key(candidates(path))["application_date"].date().isoformat() == "2026-04-30"


def test_007_and_na_stay_text(tmp_path):
    read = candidates(candidate_workbook(tmp_path, [{"candidate_id": "007", "crop": "NA"}]))
    assert by_key(read)["candidate_id"] == "007" and by_key(read)["crop"] == "NA"


def test_inline_strings(tmp_path):
    path = candidate_workbook(tmp_path)
    path = with_part(path, sheet_part("Candidates", path), lambda xml: xml.replace(
        b"</sheetData>", b'<row r="3"><c r="A3" t="inlineStr"><is><t>F-9</t></is></c></row>'
        b"</sheetData>"))
    assert by_key(candidates(path), 1)["candidate_id"] == "F-9"


def test_tables_comments_and_validations_do_no_harm(tmp_path):
    def decorate(worksheet):
        worksheet.add_table(openpyxl.worksheet.table.Table(displayName="T", ref="A1:D2"))
        worksheet["A2"].comment = openpyxl.comments.Comment("look", "planner")
        rule = openpyxl.worksheet.datavalidation.DataValidation(type="whole")
        worksheet.add_data_validation(rule)
        rule.add("A2")

    assert len(candidates(candidate_workbook(tmp_path, edit=on_candidates(decorate))).rows) == 1


def test_workbook_written_by_pandas(tmp_path):
    import pandas as pd

    path = candidate_workbook(tmp_path, [{}, {"candidate_id": "F-2"}])
    plain = read_cells(path)
    copy = tmp_path / "pandas.xlsx"
    with pd.ExcelWriter(copy) as writer:
        for name, frame in pd.read_excel(path, sheet_name=None, dtype=object).items():
            frame.to_excel(writer, sheet_name=name, index=False)
    again = read_cells(copy)
    assert {n: s.rows for n, s in again.items()} == {n: s.rows for n, s in plain.items()}


def test_workbook_saved_by_libreoffice(tmp_path):
    program = shutil.which("soffice")
    if not program:
        if os.environ.get("REQUIRE_TOOLS") == "1":
            pytest.fail("soffice is required and not installed")
        pytest.skip("soffice is not installed")

    def write(worksheet):
        worksheet[cell("pump_efficiency_pct")] = 0.75
        worksheet[cell("pump_efficiency_pct")].number_format = "0%"
        worksheet[cell("flow_gpm")] = "=2*400"
        worksheet[cell("crop")] = "=1/0"

    path = candidate_workbook(tmp_path, [{"candidate_id": "007", "farm_label": "Añón",
                                          "application_date": datetime.date(2026, 4, 30)}],
                              edit=on_candidates(write))
    out = tmp_path / "saved"
    subprocess.run([program, f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}",
                    "--headless", "--convert-to", "xlsx", "--outdir", str(out), str(path)],
                   check=True, capture_output=True, timeout=180)
    read = candidates(out / path.name)
    values = by_key(read)
    assert values["candidate_id"] == "007" and values["farm_label"] == "Añón"
    assert values["flow_gpm"] == 800 and values["crop"] == "#DIV/0!"
    assert values["application_date"].date().isoformat() == "2026-04-30"
    assert values["pump_efficiency_pct"] == 0.75 and len(read.percent_cells) == 1
    assert len(read.rows) == 1 and len(read.formulas) == 2


def test_reading_costs_little_more_than_a_bare_pass(tmp_path):
    path = candidate_workbook(tmp_path, [{}] * 1_500)

    def bare():
        book = openpyxl.load_workbook(path, read_only=True)
        for worksheet in book.worksheets:
            worksheet.reset_dimensions()
            for _ in worksheet.iter_rows(values_only=True):
                pass
        book.close()

    def seconds(task):
        start = time.process_time()
        task()
        return time.process_time() - start

    bare_time = min(seconds(bare) for _ in range(3))
    read_time = min(seconds(lambda: read_cells(path)) for _ in range(3))
    # Two passes, a count and the cells; by far not a pass for each row.
    assert read_time < 5 * bare_time
