"""What planners' workbooks hold besides plain rows: blocks above headers, hidden rows, names that
look alike, odd cells. Each is read rightly or refused with its place; nothing vanishes."""

import datetime
import hashlib
import sys
import unicodedata
from contextlib import contextmanager

import pytest
from workbooks.make import (
    candidate_workbook,
    cell,
    findings,
    read,
    read_cells,
    sheet_part,
    with_part,
    with_stored_value,
)

from batch.audit.evidence import gather
from batch.audit.rerun import rerun, with_prices
from batch.columns import CANDIDATES
from batch.findings import StudyError
from batch.reading.cell_text import is_blank, looks_of_name
from batch.reading.validate import validate
from batch.study import check_workbook, run_study
from batch.writing.run_folder import write_run


def on(name, change):
    return lambda book: change(book[name])


def above(rows, header=True):
    """Rows put above a sheet's header, with a copy of its header over them where asked."""
    def change(sheet):
        own = [c.value for c in sheet[1]]
        block = ([own[:3]] if header else []) + rows
        sheet.insert_rows(1, len(block))
        for number, values in enumerate(block, start=1):
            for column, value in enumerate(values, start=1):
                sheet.cell(number, column).value = value
    return change


# --- above the header -----------------------------------------------------------------------------

LOST = {
    "budget on Study": ("Study", above([["program_budget_usd", 25_000]], header=False), "Study!A1"),
    "section on Program": ("Program", lambda sheet: (
        sheet.insert_rows(1, 3), sheet.cell(1, 1, "Key"), sheet.cell(1, 2, "Value"),
        sheet.cell(2, 1, "farm_cap_usd"), sheet.cell(2, 2, 5000)), "Program!A2"),
    "first rate": ("Rates", above([["OLD", 12.5, 7]]), "Rates!A2"),
    "two farms": ("Candidates", above([["F-8", "north", None, None, "IRR", None, None, "none", 3],
                                       ["F-9", "south", None, None, "IRR", None, None, "none",
                                        4]]), "Candidates!A3"),
    "texts alone": ("Candidates", above([["F-8", "north"]], header=False), "Candidates!A1"),
    "a number alone": ("Candidates", above([[2026]], header=False), "Candidates!A1"),
}


@pytest.mark.parametrize("case", LOST)
def test_rows_above_the_header_are_refused(tmp_path, case):
    sheet, change, place = LOST[case]
    with pytest.raises(StudyError) as stop:
        read(tmp_path, program={"tower_span_ft": 185}, edit=on(sheet, change))
    assert f"{place} has values above the header in row" in stop.value.what


def test_titles_dates_and_the_header_said_twice_may_stand_above(tmp_path):
    def dress(sheet):
        above([["Irrigation round 2026"], [], [datetime.date(2026, 5, 1)]], header=True)(sheet)

    inputs = read(tmp_path, [{}, {}], edit=on("Candidates", dress))
    assert inputs.candidates.index.tolist() == [6, 7]


def test_two_possible_headers_are_refused(tmp_path):
    """The rows below the second one would be read under the first one's columns."""
    def second_table(sheet):
        sheet.append([])
        sheet.append(["Farm", "Candidate", "Crop"])
        sheet.append(["north", "F-9", "corn"])

    with pytest.raises(StudyError, match="rows 1 and 4 of the Candidates sheet may both"):
        read(tmp_path, edit=on("Candidates", second_table))

    def above_it(sheet):
        sheet.insert_rows(1)
        for column, name in enumerate(("Farm", "Candidate", "Crop"), start=1):
            sheet.cell(1, column).value = name

    with pytest.raises(StudyError, match="rows 1 and 2 of the Candidates sheet may both"):
        read(tmp_path, edit=on("Candidates", above_it))


def test_blank_workbook_has_only_titles_above_its_headers(tmp_path):
    from batch.writing.workbook.blank import new_workbook

    book = new_workbook(2026)
    book["Candidates"]["A9"] = "F-1"  # below the four example rows
    book.save(tmp_path / "blank.xlsx")
    assert [row for row, _ in read_cells(tmp_path / "blank.xlsx")["Candidates"].rows] == [
        5, 6, 7, 8, 9]


# --- hidden ---------------------------------------------------------------------------------------

def test_hidden_rows_and_sheets_are_read_and_told_in_one_note_each(tmp_path):
    def hide(book):
        for row in (2, 4, 5):
            book["Candidates"].row_dimensions[row].hidden = True
        book["Rates"].sheet_state = "veryHidden"

    inputs = read(tmp_path, [{}] * 4, edit=hide)
    assert len(inputs.candidates) == 4 and len(inputs.rates) == 1
    [note] = findings(inputs, "hidden-rows-read")
    assert note["sheet"] == "Candidates" and "2, 4 to 5." in note["message"]
    assert [f["sheet"] for f in findings(inputs, "hidden-sheet-read")] == ["Rates"]


# --- names that look alike ------------------------------------------------------------------------

ALIKE = {"case": "añón-1", "full width": "ＡñÓＮ－１", "decomposed": unicodedata.normalize(
    "NFD", "Añón-1"), "inner blank": "Añón -1", "outer blank": " Añón-1 ",
    "no-break blank": "Añón\xa0-1", "zero-width blank": "Añ\u200bón-1",
    "soft hyphen": "Añón\xad-1", "word joiner": "\u2060Añón-1",
    "right-to-left mark": "Añón-1\u200f", "variation selector": "Añón-1\ufe0f"}


@pytest.mark.parametrize("how", ALIKE)
def test_farms_whose_names_look_alike_are_the_same_farm_twice(tmp_path, how):
    inputs = read(tmp_path, [{"candidate_id": "Añón-1"}, {"candidate_id": ALIKE[how]}])
    [finding] = findings(inputs, "id-repeated")
    assert finding["row"] == 3 and inputs.has_error.tolist() == [False, True]


def test_names_that_look_different_stay_two(tmp_path):
    names = ["F-1", "F-11", "F1", "F-²", "F-2", "É", "E", "Ö", "O", "ﬁ", "f"]
    assert len({looks_of_name(name) for name in names}) == len(names)
    assert not findings(read(tmp_path, [{"candidate_id": n} for n in names]), "id-repeated")


@pytest.mark.parametrize("nothing", ["\u200b", "\u2060\ufeff", "\xad", "\u3164", "\u2800", "\ufe0f",
                                     "\u200e \u3000"])
def test_name_of_invisible_characters_is_a_blank_one(tmp_path, nothing):
    inputs = read(tmp_path, [{}, {"candidate_id": nothing}])
    assert is_blank(nothing)
    assert [f["row"] for f in findings(inputs, "value-missing")] == [3]
    assert inputs.candidates.at[3, "candidate_id"] is None


# --- odd cells ------------------------------------------------------------------------------------

@pytest.mark.parametrize("blank", ["\xa0", "\u3000", "\u2003", "\u200b", "\xa0\u3000"])
def test_choice_of_blanks_is_blank(tmp_path, blank):
    inputs = read(tmp_path, [{"present_power": blank, "supply_option": blank}])
    assert inputs.candidates.at[2, "supply_option"] == "auto"  # the default of a blank
    assert {f["key"] for f in findings(inputs, "value-missing")} == {"present_power"}


def with_xml(folder, old: bytes, new: bytes):
    path = candidate_workbook(folder)

    def change(xml):
        assert old in xml
        return xml.replace(old, new, 1)
    return with_part(path, sheet_part("Candidates", path), change)


FARM = b't="inlineStr"><is><t>Field 1</t></is>'


@pytest.mark.parametrize("old, key", [(b"><v>800</v>", "flow_gpm"), (FARM, "farm_label")])
def test_number_of_400_digits_does_not_break_a_run(tmp_path, old, key):
    path = with_xml(tmp_path, old, b"><v>" + b"8" * 400 + b"</v>")
    found = check_workbook(path).findings
    assert ("not-a-number" in {f["slug"] for f in found.rows}) == (key == "flow_gpm")
    study = run_study(validate(path))
    again = validate(write_run(study, tmp_path / "out", overwrite=False, options={})
                     / "result.xlsx")
    assert again.candidates["farm_label"].tolist() == study.inputs.candidates["farm_label"].tolist()


@pytest.mark.parametrize("number_format, is_percent", [
    ("0_%", False), ("0*%", False), ("0.0_%;-0.0_%", False), ("_(0%_)", True), ("* 0%", True)])
def test_gap_or_fill_of_a_percent_sign_is_no_percent(tmp_path, number_format, is_percent):
    """Source: ECMA-376, 5th edition, part 1, 18.8.31: _ leaves the width of the next sign, * fills
    the cell with it."""
    def write(sheet):
        sheet[cell("pump_efficiency_pct")].value = 0.75
        sheet[cell("pump_efficiency_pct")].number_format = number_format

    read_back = read_cells(candidate_workbook(tmp_path, edit=on("Candidates", write)))
    assert bool(read_back["Candidates"].percent_cells) == is_percent


@pytest.mark.parametrize("text", ["1_000", "1_000 ft", "1_0"])
def test_text_with_a_low_line_is_no_number(tmp_path, text):
    inputs = read(tmp_path, [{"pumping_lift_ft": text}])
    assert [f["key"] for f in findings(inputs, "not-a-number")] == ["pumping_lift_ft"]


@pytest.mark.parametrize("error", [b"#FOO", b"#PYTHON!", b"whatever", b"#TIMEOUT!"])
def test_unknown_error_cell_is_an_error_and_no_label(tmp_path, error):
    inputs = validate(with_xml(tmp_path, FARM, b't="e"><v>' + error + b"</v>"))
    assert [f["key"] for f in findings(inputs, "excel-error")] == ["farm_label"]
    assert inputs.candidates.at[2, "farm_label"] is None


ESCAPES = {
    "a_x0041_b": "aAb", "_x005F_x0041_": "_x0041_", "_x005f_x005F_x0041_": "_x005FA",
    "_x005F_x005F_x005F_x0041_": "_x005F_x0041_", "_x00e9_": "é", "_x41_": "_x41_",
    "tab_x0009_here": "tab\there", "line_x000D_\n_x000D_end": "line\n\nend",
    "North_x001B_ 40": "North 40"}


def test_escaped_characters_are_themselves(tmp_path):
    """And stay so in the result. Source: ECMA-376, 5th edition, part 1, 22.9.2.19 ST_Xstring."""
    path = candidate_workbook(tmp_path, [{"farm_label": written} for written in ESCAPES])
    inputs = validate(path)
    assert inputs.candidates["farm_label"].tolist() == list(ESCAPES.values())
    assert [f["row"] for f in findings(inputs, "text-cleaned")] == [len(ESCAPES) + 1]
    folder = write_run(run_study(inputs), tmp_path / "out", overwrite=False, options={})
    again = rerun(folder)
    assert again.evidence.inputs.candidates["farm_label"].tolist() == list(ESCAPES.values())
    assert again.is_same


def test_formula_of_a_data_table_is_printed_with_its_inputs(tmp_path):
    path = candidate_workbook(tmp_path, [{"flow_gpm": "=400*2"}])
    with_stored_value(path, b"400*2", b"800")
    path = with_part(path, sheet_part("Candidates", path), lambda xml: xml.replace(
        b"<f>400*2</f>", b'<f t="dataTable" ref="T2:T2" dt2D="1" r1="A1" r2="B1"/>'))
    [note] = findings(validate(path), "formula-value-used")
    assert "=TABLE(A1,B1)" in note["message"] and "object" not in note["message"]


# --- the row of units -----------------------------------------------------------------------------

def test_first_farm_called_m_is_no_row_of_units(tmp_path):
    inputs = read(tmp_path, [{"candidate_id": "m", "farm_label": "ft"}, {}])
    assert inputs.candidates["candidate_id"].tolist() == ["m", "F-2"]
    only = {c.key: None for c in CANDIDATES.columns} | {"candidate_id": "m", "farm_label": "ft"}
    inputs = read(tmp_path, [only, {}])
    assert inputs.candidates["candidate_id"].tolist() == ["m", "F-2"]


def test_row_with_units_in_most_columns_is_one(tmp_path):
    def add(sheet):
        sheet.insert_rows(2)
        for place, column in enumerate(CANDIDATES.columns, start=1):
            if column.unit and not column.fuel_gas_unit:
                sheet.cell(2, place).value = column.unit

    inputs = read(tmp_path, edit=on("Candidates", add))
    assert inputs.candidates["candidate_id"].tolist() == ["F-1"]
    assert "row 2" in findings(inputs, "header-row-skipped")[0]["message"]


# --- read once ------------------------------------------------------------------------------------

_opened, _watched = [], []
sys.addaudithook(lambda event, args: _opened.append(1) if _watched and event == "open"
                 and str(args[0]) == _watched[0] else None)


@contextmanager
def opens_of(path):
    """How often a file is opened meanwhile."""
    _opened.clear()
    _watched.append(str(path))
    try:
        yield _opened
    finally:
        _watched.clear()


def test_file_is_read_once(tmp_path):
    path = candidate_workbook(tmp_path, [{"flow_gpm": "=400*2"}])
    with_stored_value(path, b"400*2", b"800")
    with opens_of(path) as opens:
        inputs = validate(path)
    assert len(opens) == 1
    assert inputs.file_sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


def test_audits_read_a_result_once(tmp_path):
    path = candidate_workbook(tmp_path)
    folder = write_run(run_study(validate(path)), tmp_path / "out", overwrite=False, options={})
    result = folder / "result.xlsx"
    for source in (folder, result):
        with opens_of(result) as opens:
            found = gather(source)
            with_prices(found.inputs, path)
        assert len(opens) == 1
