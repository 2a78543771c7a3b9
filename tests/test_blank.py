"""The blank workbook: read by our reader, held against the dictionary, opened by LibreOffice."""

import datetime
import os
import shutil
import subprocess
import zipfile
from pathlib import Path

import openpyxl
import pytest
from openpyxl.utils import get_column_letter, range_boundaries
from workbooks.make import RATE, example_row, unit_cost_rows

from batch import rules
from batch.columns import CANDIDATES, INPUT_SHEETS, PROGRAM, RATES, STUDY, UNIT_COSTS
from batch.columns.program import BOARD_RULES
from batch.findings import Findings, StudyError, Stops
from batch.reading.cells import read_workbook
from batch.reading.entry_help import NEEDED_WHEN, note_lines, prompt_text, shortened, unit_words
from batch.reading.key_values import read_program
from batch.reading.validate import validate
from batch.writing.workbook import blank
from batch.writing.workbook import table_sheets as sheets
from batch.writing.workbook.package import save_deterministic

YEAR = 2026
COMMITTED = Path(__file__).parent.parent / "input_workbooks" / f"blank_{YEAR}.xlsx"
TABLES = [sheet for sheet in INPUT_SHEETS if sheet.is_table]


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    path = tmp_path_factory.mktemp("blank") / "blank.xlsx"
    blank.write_blank(path, YEAR)
    return path


@pytest.fixture(scope="module")
def book(path):
    return openpyxl.load_workbook(path)


def parts(path):
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def validations(worksheet):
    """Data validation rules by the cells that they stand on."""
    return {str(rule.sqref): rule for rule in worksheet.data_validations.dataValidation}


def column_rule(book, sheet, key):
    letter = get_column_letter(list(sheet.by_key).index(key) + 1)
    return validations(book[sheet.name])[f"{letter}{sheets.FIRST_ROW}:{letter}{sheets.LAST_ROW}"]


def listed(book, formula):
    """The words in the range that a drop-down points to."""
    sheet_name, cells = formula.replace("'", "").replace("$", "").split("!")
    first_column, first_row, last_column, last_row = range_boundaries(cells)
    return tuple(row[0].value for row in book[sheet_name].iter_rows(
        first_row, last_row, first_column, last_column))


# --- the file ------------------------------------------------------------------------------------

def test_two_writes_give_the_same_bytes(path, tmp_path):
    blank.write_blank(tmp_path / "again.xlsx", YEAR)
    assert (tmp_path / "again.xlsx").read_bytes() == path.read_bytes()


def test_committed_file_is_what_the_dictionary_gives(path):
    # Compared part by part: another release of the compression library packs otherwise.
    assert parts(COMMITTED) == parts(path), "run input_workbooks/make_demo.py"


def test_a_year_without_rules_is_refused(tmp_path):
    with pytest.raises(StudyError, match="1999"):
        blank.write_blank(tmp_path / "a.xlsx", 1999)
    assert not list(tmp_path.iterdir())


def test_sheets_stand_in_order(book):
    assert tuple(book.sheetnames) == ("Read me", "Study", "Candidates", "Rates", "Unit costs",
                                      "Program", "Feeders", "Shared lines", "Limits", "Delivered",
                                      "Lists")


def test_four_input_sheets_are_shown_and_others_on_request(book):
    shown = [sheet.title for sheet in book if sheet.sheet_state == "visible"]
    assert shown == ["Read me", "Study", "Candidates", "Rates", "Unit costs"]
    # Hidden sheets stand in the list that a right-click on a tab opens; "very hidden" ones do not.
    assert {sheet.sheet_state for sheet in book} == {"visible", "hidden"}
    help_lines = [row for row in book["Read me"].values if any(row)]
    assert len(help_lines) <= 24
    more = blank.new_workbook(YEAR, shown=blank.asked_sheets("Program, lines"))
    assert [sheet.title for sheet in more if sheet.sheet_state == "hidden"] == [
        "Feeders", "Limits", "Delivered", "Lists"]
    assert blank.asked_sheets("all") == tuple(blank.ON_REQUEST)
    with pytest.raises(StudyError, match="'lanes'.*") as refused:
        blank.asked_sheets("lanes")
    assert "lines" in refused.value.next_step


def test_candidates_shows_what_a_screening_needs_and_groups_the_rest(book):
    widths = book["Candidates"].column_dimensions
    for place, column in enumerate(CANDIDATES.columns, start=1):
        dimension = widths[get_column_letter(place)]
        assert dimension.hidden == (column.stage != "screening"), column.key
        assert dimension.outlineLevel == (0 if column.stage == "screening" else 1), column.key
    # The help above the headers stands in columns that are shown.
    for cell in book["Candidates"][sheets.TITLE_ROW]:
        assert cell.value is None or not widths[cell.column_letter].hidden


def test_program_opens_with_the_twenty_rules_of_a_board(book):
    worksheet = book["Program"]
    rows = range(sheets.FIRST_ROW, worksheet.max_row + 1)
    shown = [worksheet.cell(row, 1).value for row in rows
             if not worksheet.row_dimensions[row].hidden]
    assert [key for key in shown if key in PROGRAM.by_key] == list(BOARD_RULES)
    assert len(set(BOARD_RULES)) == 20
    hidden = [worksheet.cell(row, 1).value for row in rows if worksheet.row_dimensions[row].hidden]
    assert len(hidden) == len(PROGRAM.columns) - 20
    assert all(worksheet.row_dimensions[row].outlineLevel == 1 for row in rows
               if worksheet.row_dimensions[row].hidden)


# --- read by our own reader ----------------------------------------------------------------------

def test_reader_knows_every_header_and_every_column_is_there(path):
    cells = read_workbook(path)
    assert set(cells.unknown_sheets) == {"Read me"}
    for sheet in TABLES:
        headers = cells.by_sheet[sheet.name].headers
        assert [header.key for header in headers] == list(sheet.by_key), sheet.name
        assert cells.by_sheet[sheet.name].header_row == sheets.HEADER_ROW
    for sheet in (STUDY, PROGRAM):
        assert all(header.column for header in cells.by_sheet[sheet.name].headers)


def test_program_sheet_holds_the_rules_of_the_year_unchanged(path):
    findings = Findings()
    cells = read_workbook(path).by_sheet["Program"]
    year_rules = rules.load(YEAR)
    assert read_program(cells, YEAR, findings, Stops()).by_key == year_rules.by_key
    assert findings.rows == []
    at = {header.key: header.index for header in cells.headers}
    sources = {values[at["key"]]: values[at["source"]] for _, values in cells.rows}
    assert all(sources[key] == year_rules.source(key) for key in PROGRAM.by_key)


def test_program_sheet_shows_every_digit_of_a_value(book):
    for row in book["Program"].iter_rows(min_row=sheets.FIRST_ROW):
        value, number_format = row[2].value, row[2].number_format
        if isinstance(value, float):
            digits = number_format.partition(".")[2].count("0")
            assert round(value, digits) == value, row[0].value


def test_unfilled_blank_says_what_is_missing(path):
    with pytest.raises(StudyError, match="Study name"):
        validate(path)


def test_filled_blank_is_read_and_its_example_row_is_skipped(tmp_path):
    filled = blank.new_workbook(YEAR)
    blank.set_values(filled["Study"], {"study_name": "A study"})
    blank.write_rows(filled["Rates"], RATES, [RATE])
    blank.write_rows(filled["Unit costs"], UNIT_COSTS, unit_cost_rows())
    worksheet = filled["Candidates"]
    for place, (key, value) in enumerate(example_row().items(), start=1):
        worksheet.cell(sheets.FIRST_ROW + 1, place, "F-1" if key == "candidate_id" else value)
    save_deterministic(filled, tmp_path / "filled.xlsx")
    inputs = validate(tmp_path / "filled.xlsx")
    assert list(inputs.candidates["candidate_id"]) == ["F-1"]
    slugs = {f["slug"] for f in inputs.findings.rows}
    assert "example-row-skipped" in slugs
    assert not slugs & {"column-unknown", "sheet-unknown", "key-unknown", "rule-changed"}
    assert not inputs.has_error.any()


def test_example_rows_are_clearly_examples(book):
    worksheet = book["Candidates"]
    keys = list(CANDIDATES.by_key)
    rows = [dict(zip(keys, row)) for row in worksheet.iter_rows(
        min_row=sheets.FIRST_ROW, values_only=True) if any(row)]
    assert len(rows) == 4
    assert len({row["present_power"] for row in rows}) == 4
    for number, row in enumerate(rows):
        assert row["candidate_id"].startswith("EXAMPLE") and "example" in row["farm_label"]
        assert worksheet.cell(sheets.FIRST_ROW + number, 1).font.italic
        needed = [c.key for c in CANDIDATES.columns if c.required]
        assert all(row[key] is not None for key in needed)
    for sheet in TABLES[1:]:
        if sheet is not UNIT_COSTS:
            assert book[sheet.name].max_row == sheets.HEADER_ROW, sheet.name


# --- what helps while filling --------------------------------------------------------------------

@pytest.mark.parametrize("sheet", TABLES, ids=lambda sheet: sheet.name)
def test_every_header_has_its_note_its_mark_and_its_unit(book, sheet):
    worksheet = book[sheet.name]
    for place, column in enumerate(sheet.columns, start=1):
        header = worksheet.cell(sheets.HEADER_ROW, place)
        assert column.help in header.comment.text
        assert not sheet.has_stages or column.stage_words in header.comment.text
        assert ("Required." in header.comment.text) == column.required
        assert header.value.endswith("*") == column.required
        assert (worksheet.cell(sheets.HINT_ROW, place).value == "required") == column.required
        assert not column.unit or f"[{column.unit}" in header.value


@pytest.mark.parametrize("sheet", TABLES, ids=lambda sheet: sheet.name)
def test_drop_downs_point_to_ranges_that_hold_the_choices(book, sheet):
    for column in sheet.columns:
        rule = column_rule(book, sheet, column.key)
        if column.kind in ("choice", "yes/no"):
            assert rule.type == "list" and '"' not in rule.formula1
            assert listed(book, rule.formula1) == (column.choices or ("yes", "no")), column.key


@pytest.mark.parametrize("sheet", (STUDY, PROGRAM), ids=lambda sheet: sheet.name)
def test_keys_and_values_have_their_rules(book, sheet):
    worksheet, by_cell = book[sheet.name], validations(book[sheet.name])
    row_of = {cell.value: cell.row for cell in worksheet["A"]}
    for column in sheet.columns:
        rule = by_cell[f"C{row_of[column.key]}"]
        if column.kind in ("choice", "yes/no"):
            assert listed(book, rule.formula1) == (column.choices or ("yes", "no")), column.key
        elif column.is_numeric:
            assert float(rule.formula1) == column.minimum
            assert column.maximum is None or float(rule.formula2) == column.maximum


def test_bounds_of_numbers_are_those_of_the_dictionary(book):
    for sheet in TABLES:
        for column in sheet.columns:
            if not column.is_numeric or column.minimum is None:
                continue
            rule = column_rule(book, sheet, column.key)
            assert rule.type == ("whole" if column.kind == "integer" else "decimal")
            assert (float(rule.formula1), float(rule.formula2)) == (column.minimum, column.maximum)
            # A header in another unit has other numbers: the program may only ask.
            is_convertible = len(unit_words(column.unit)) > 1
            assert rule.errorStyle == ("warning" if is_convertible else "stop") or (
                rule.errorStyle is None and not is_convertible)


def test_rows_to_2000_are_covered(book):
    assert sheets.LAST_ROW == 2000
    for sheet in TABLES:
        assert len(validations(book[sheet.name])) == len(sheet.columns)


def test_dates_are_checked_as_dates(book):
    rule = column_rule(book, CANDIDATES, "application_date")
    # Source: ECMA-376 part 1, 18.17.4.1, the 1900 date base: day 1 is 1900-01-01, with the 29th of
    # February 1900 that never was, so that days from March 1900 count from 1899-12-30.
    first = datetime.date(1899, 12, 30) + datetime.timedelta(days=int(rule.formula1))
    assert rule.type == "date" and first == datetime.date(1990, 1, 1)


def test_prompts_and_alerts_keep_within_what_spreadsheet_programs_take(book):
    # Source: Microsoft Excel, DataValidation: titles to 32 characters, messages to 255; Excel
    # calls a workbook damaged beyond that.
    for worksheet in book:
        for rule in worksheet.data_validations.dataValidation:
            assert 0 < len(rule.promptTitle) <= 32 and 0 < len(rule.prompt) <= 255
            assert len(rule.errorTitle or "") <= 32 and len(rule.error or "") <= 255
            assert len(rule.formula1 or "") <= 255
            assert rule.showInputMessage
            assert rule.showErrorMessage or rule.type is None


def test_names_of_other_sheets_drop_down(book):
    for key, name in (("rate_id", "Rates"), ("feeder_id", "Feeders"),
                      ("shared_line_id", "Shared lines")):
        rule = column_rule(book, CANDIDATES, key)
        assert rule.type == "list" and f"'{name}'!$A$5" in rule.formula1
        assert rule.errorStyle == "warning"


def test_text_columns_keep_what_is_typed(book):
    """In a cell of format General, '6-9' becomes a date and 007 becomes 7."""
    months = get_column_letter(list(RATES.by_key).index("demand_months") + 1)
    assert book["Rates"].column_dimensions[months].number_format == "@"
    assert book["Candidates"].column_dimensions["A"].number_format == "@"


def test_long_help_is_cut_at_a_blank():
    assert shortened("word " * 100, 255).endswith("word ...")
    assert len(shortened("word " * 100, 255)) <= 255
    for sheet in INPUT_SHEETS:
        for column in sheet.columns:
            assert not column.is_numeric or column.minimum is None or (
                "Possible:" in prompt_text(column)), column.key


def test_note_names_default_source_and_units():
    lines = " ".join(note_lines(CANDIDATES.by_key["pump_efficiency_pct"]))
    assert "Blank: 75 %" in lines and CANDIDATES.by_key["pump_efficiency_pct"].source in lines
    flow = " ".join(note_lines(CANDIDATES.by_key["flow_gpm"]))
    assert "L/s" in flow and "m3/h" in flow


# --- screen and paper ----------------------------------------------------------------------------

def test_panes_filters_and_print_titles(book):
    for sheet in TABLES:
        worksheet = book[sheet.name]
        assert worksheet.freeze_panes == "B5"
        assert worksheet.auto_filter.ref.startswith("A4:")
        assert worksheet.print_title_rows.replace("$", "") == "2:4"
        assert worksheet.page_setup.orientation == "landscape"
    assert book["Candidates"].print_title_cols.replace("$", "") == "A:A"
    assert book["Rates"].print_title_cols.replace("$", "") == "A:A"
    assert book["Read me"].page_setup.orientation == "portrait"


def test_page_breaks_follow_the_groups():
    """Wide tables break at the end of a group wherever a group fits on a page."""
    opened = blank.new_workbook(YEAR, is_shut=False)["Candidates"]
    ends = {column_break.id for column_break in opened.col_breaks.brk}
    columns = CANDIDATES.columns
    assert ends
    for end in ends:
        assert columns[end - 1].group != columns[end].group


def test_cautions_are_on_the_read_me(book):
    text = " ".join(str(cell.value) for row in book["Read me"].iter_rows() for cell in row)
    for words in ("licensed engineer", "lock out", "qualified workers", "capacitors hold",
                  "farmbatch check", "farmbatch run", "L/s", "required"):
        assert words in text, words


def test_libreoffice_opens_it_and_keeps_what_is_read(path, tmp_path):
    soffice = shutil.which("soffice")
    if not soffice and os.environ.get("REQUIRE_TOOLS") != "1":
        pytest.skip("LibreOffice is not installed")
    profile = (tmp_path / "profile").as_uri()
    subprocess.run([soffice, f"-env:UserInstallation={profile}", "--headless", "--convert-to",
                    "xlsx", "--outdir", str(tmp_path / "saved"), str(path)],
                   check=True, capture_output=True, timeout=180)
    saved = tmp_path / "saved" / path.name
    cells = read_workbook(saved).by_sheet
    for sheet in TABLES:
        assert [header.key for header in cells[sheet.name].headers] == list(sheet.by_key)
    again = openpyxl.load_workbook(saved)
    # LibreOffice writes one rule for several columns that share it: the cells count, not the text.
    rule = next(rule for rule in again["Candidates"].data_validations.dataValidation
                if "H5" in rule.sqref)
    assert listed(again, rule.formula1) == CANDIDATES.by_key["present_power"].choices
    year_rules = rules.load(YEAR)
    assert read_program(cells["Program"], YEAR, Findings(), Stops()).by_key == year_rules.by_key


def test_conditional_marks_name_columns_that_exist():
    assert set(NEEDED_WHEN) <= set(CANDIDATES.by_key)
    assert not any(CANDIDATES.by_key[key].required for key in NEEDED_WHEN)
