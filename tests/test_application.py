"""The grower's application form: written, filled as a grower would, read back; and its page."""

import re
import shutil

import openpyxl
import pytest
from click.testing import CliRunner

from batch import units
from batch.adopting.form import (
    CAUTIONS,
    CONTACT,
    KEY_OF_HEADING,
    QUESTIONS,
    SHEET,
    answers_of,
    lacks_of,
    remarks_of,
)
from batch.cli import main
from batch.columns import CANDIDATES
from batch.columns.candidates import PRESENT_POWER
from batch.columns.column import SCREENING
from batch.study_error import StudyError
from batch.writing.application_form import write_form
from batch.writing.pages.application import application_page
from tests.test_pages_browser import printed

COOPERATIVE = "Example Electric Cooperative"
HEADING_OF = {key: heading for heading, key in KEY_OF_HEADING.items()}
SMALLEST_LETTERS_PT = 9.5  # the project's own limit
# What a grower types, by key: (answer, unit or None to leave the unit as it is).
TYPED = {
    "candidate_id": ("E-7", None), "farm_label": ("Example farm, north field", None),
    "present_power": ("natural gas engine", None), "season_hours": (1100, None),
    "irrigated_area_acre": ("about 126", None), "flow_gpm": (1.8, "cfs"),
    "pumping_lift_ft": (140, None), "pivot_pressure_psi": ("?", None),
    "annual_fuel_use": (1450, None), "fuel_price_usd": ("$6.10", "USD/Mcf"),
    "pivot_length_ft": (1290, None), "tower_count": (7, None),
    "single_phase_distance_ft": ("1/4 mi", None), "three_phase_distance_ft": (2.5, "miles")}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A folder with the form, written once."""
    place = tmp_path_factory.mktemp("form") / "forms"
    write_form(place, COOPERATIVE)
    return place


def row_of(sheet, key):
    [row] = [cell.row for cell in sheet["B"] if cell.value == HEADING_OF[key]]
    return row


def filled(folder, place, typed, edit=None):
    """The rows of a form that a grower filled and saved, and its sheet."""
    book = openpyxl.load_workbook(folder / "application.xlsx")
    sheet = book[SHEET]
    for key, (value, unit) in typed.items():
        row = row_of(sheet, key)
        sheet.cell(row, 3).value = value
        if unit:
            sheet.cell(row, 4).value = unit
    if edit:
        edit(sheet)
    book.save(place / "returned.xlsx")
    sheet = openpyxl.load_workbook(place / "returned.xlsx")[SHEET]
    return [list(row) for row in sheet.iter_rows(values_only=True)], sheet


def fuel_units(given):
    return {answer.unit for answer in given if "fuel" in KEY_OF_HEADING[answer.heading]}


# --- the questions --------------------------------------------------------------------------------

def test_twelve_questions_each_with_key_place_and_drawing():
    assert len(QUESTIONS) == 12
    assert all(question.where.endswith(".") and question.picture for question in QUESTIONS)
    assert len({question.picture for question in QUESTIONS}) == 12
    assert len(set(KEY_OF_HEADING.values())) == len(KEY_OF_HEADING)
    assert set(KEY_OF_HEADING.values()) <= CANDIDATES.by_key.keys()


def test_all_that_a_first_screening_needs_is_asked():
    """Depth is left out: hours stand for it, one of the two is needed."""
    needed = {column.key for column in CANDIDATES.columns if column.stage == SCREENING}
    assert needed - set(KEY_OF_HEADING.values()) == {"gross_depth_in"}


def test_every_unit_is_one_of_its_column():
    for question in QUESTIONS:
        for answer in question.answers:
            column = CANDIDATES.by_key[answer.key]
            for unit in answer.units:
                house = column.fuel_gas_unit if "Mcf" in unit else column.unit
                assert units.convert(1.0, unit, house) > 0, unit


def test_units_of_growers_by_hand():
    """NIST SP 811: 1 ft3 = 1728 in3, 1 gal = 231 in3; a mile is 5280 ft."""
    assert units.convert(1.8, "cfs", "gal/min") == pytest.approx(1.8 * 60 * 1728 / 231)
    assert units.convert(2.5, "miles", "ft") == pytest.approx(13_200)


# --- the round trip -------------------------------------------------------------------------------

def test_what_a_grower_typed_comes_back_with_cell_and_unit(folder, tmp_path):
    rows, sheet = filled(folder, tmp_path, TYPED)
    given = {KEY_OF_HEADING[answer.heading]: answer for answer in answers_of(rows)}
    assert given.keys() == set(KEY_OF_HEADING.values())
    for key, answer in given.items():
        value, unit = TYPED.get(key, (None, None))
        assert answer.value == (None if value == "?" else value), key
        assert sheet[answer.cell].value == value, key
        assert unit in (None, answer.unit), key
    # The fuel's unit cell was left blank for the gas: a natural gas meter counts Mcf.
    assert given["annual_fuel_use"].unit == "Mcf/yr"
    assert given["season_hours"].unit == "hours" and given["tower_count"].unit == ""
    assert lacks_of(answers_of(rows)) == [] and remarks_of(rows) == []


def test_blank_form_is_all_unknown_and_lacks_its_farm(folder, tmp_path):
    rows, sheet = filled(folder, tmp_path, {})
    given = answers_of(rows)
    assert [answer.value for answer in given] == [None] * len(KEY_OF_HEADING)
    [lack] = lacks_of(given)
    assert lack.startswith(f"{SHEET}!C{row_of(sheet, 'farm_label')}: ") and lack.endswith(".")
    assert fuel_units(given) == {""}  # nothing is guessed where the fuel is unknown


@pytest.mark.parametrize("power, wanted", [
    ("Propane engine", {"gal/yr", "USD/gal"}), ("natural gas engine", {"Mcf/yr", "USD/Mcf"}),
    ("LP", {""})])
def test_unit_of_a_fuel_goes_with_the_power(folder, tmp_path, power, wanted):
    """Liquid fuels are sold by the gallon, natural gas by the Mcf: common practice, no source."""
    rows, _ = filled(folder, tmp_path, {"present_power": (power, None)})
    assert fuel_units(answers_of(rows)) == wanted


@pytest.mark.parametrize("words", ["?", " ? ", "I do not know.", "don't know"])
def test_words_of_not_knowing(folder, tmp_path, words):
    rows, _ = filled(folder, tmp_path, {"flow_gpm": (words, None)})
    assert {answer.value for answer in answers_of(rows)} == {None}


def test_moved_rows_and_columns_are_found_where_they_stand(folder, tmp_path):
    def edit(sheet):
        sheet.insert_cols(1)
        sheet.insert_rows(10, amount=2)

    rows, sheet = filled(folder, tmp_path, TYPED, edit)
    for answer in answers_of(rows):
        value = TYPED.get(KEY_OF_HEADING[answer.heading], (None, None))[0]
        assert answer.cell.startswith("D") and sheet[answer.cell].value == value


def test_a_question_that_was_taken_out_is_told_and_one_twice_comes_twice(folder, tmp_path):
    def edit(sheet):
        sheet.delete_rows(row_of(sheet, "flow_gpm"))
        sheet["B40"], sheet["C40"] = HEADING_OF["season_hours"], 900

    rows, _ = filled(folder, tmp_path, TYPED, edit)
    given = answers_of(rows)
    [lack] = lacks_of(given)
    assert HEADING_OF["flow_gpm"] in lack
    assert [(answer.value, answer.cell) for answer in given
            if answer.heading == HEADING_OF["season_hours"]][1] == (900, "C40")


def test_remarks_beside_and_below_are_kept_with_their_cells(folder, tmp_path):
    def edit(sheet):
        sheet["F12"], sheet["B30"], sheet["C7"] = "new well in 2019", "call after 6", "A. Grower"

    rows, sheet = filled(folder, tmp_path, TYPED, edit)
    assert sheet["B7"].value == CONTACT
    assert remarks_of(rows) == [("C7", "A. Grower"), ("F12", "new well in 2019"),
                                ("B30", "call after 6")]


@pytest.mark.parametrize("rows", [[], [["Question", "Answer"]], [[None], ["a", 1]]])
def test_a_sheet_that_is_no_form_is_refused(rows):
    with pytest.raises(StudyError, match="has no row with the headers 'Question' and 'Your answer"):
        answers_of(rows)


# --- the sheet ------------------------------------------------------------------------------------

def test_answer_cells_have_help_and_drop_downs(folder):
    sheet = openpyxl.load_workbook(folder / "application.xlsx")[SHEET]
    rules = {str(rule.sqref): rule for rule in sheet.data_validations.dataValidation}
    power = rules[f"C{row_of(sheet, 'present_power')}"]
    assert power.type == "list" and power.formula1 == f'"{",".join((*PRESENT_POWER, "?"))}"'
    assert rules[f"D{row_of(sheet, 'three_phase_distance_ft')}"].formula1 == '"feet,miles"'
    for question in QUESTIONS:
        for answer in question.answers:
            rule = rules[f"C{row_of(sheet, answer.key)}"]
            assert rule.showInputMessage and 20 < len(rule.prompt) <= 255
            assert len(rule.formula1 or "") <= 255  # what spreadsheet programs take
            assert rule.errorStyle == "warning"  # whatever a grower writes may stay


# --- the command ----------------------------------------------------------------------------------

def call(*args):
    return CliRunner().invoke(main, ["form", *map(str, args)])


def test_existing_files_are_kept_unless_asked(folder, tmp_path):
    place = shutil.copytree(folder, tmp_path / "forms")
    (place / "application.html").write_text("mine", encoding="utf-8")
    refused = call(place)
    assert refused.exit_code == 3 and "exists" in refused.stderr
    assert "--overwrite" in refused.stderr
    assert (place / "application.html").read_text(encoding="utf-8") == "mine"
    assert call(place, "--overwrite", "--cooperative", COOPERATIVE).exit_code == 0
    for name in ("application.html", "application.xlsx"):
        assert (place / name).read_bytes() == (folder / name).read_bytes()


def test_links_files_and_long_names_are_refused(folder, tmp_path):
    (tmp_path / "application.xlsx").symlink_to(folder / "application.xlsx")
    assert "is a link" in call(tmp_path, "--overwrite").stderr
    (tmp_path / "file").touch()
    assert call(tmp_path / "file").exit_code == 2
    long = call(tmp_path / "new", "--cooperative", "x" * 81)
    assert long.exit_code == 3 and "81 signs" in long.stderr and not (tmp_path / "new").exists()


def test_hostile_name_is_text(tmp_path):
    place = tmp_path / "a\u202eb"
    told = call(place, "--cooperative", "=1+1<script>\u202e{{ 7 * 7 }}")
    assert told.exit_code == 0 and "\u202e" not in told.output
    page = (place / "application.html").read_text(encoding="utf-8")
    assert "<script" not in page and "\u202e" not in page and "{{ 7 * 7 }}" in page
    title = openpyxl.load_workbook(place / "application.xlsx")[SHEET]["A1"]
    assert title.data_type == "s" and "=1+1<script>" in title.value


# --- the page -------------------------------------------------------------------------------------

def test_page_shows_every_question_and_no_small_letters():
    page = application_page(COOPERATIVE)
    assert page.count('<svg class="drawing"') == 12
    assert set(re.findall(r'aria-label="([^"]*)"', page)) and 'aria-label=""' not in page
    assert min(float(size) for size in re.findall(r"([\d.]+)pt[;/ ]", re.sub(
        r"[\d.]+pt solid", "", page))) >= SMALLEST_LETTERS_PT
    assert not re.search(r"#(?!000|fff)[0-9a-f]{3,6}\b", page)  # black on white


@pytest.mark.parametrize("name", ["", "W" * 80], ids=["no name", "widest name"])
def test_page_is_one_letter_page(name, tool, tmp_path):
    path = tmp_path / "application.html"
    path.write_text(application_page(name), encoding="utf-8")
    [page] = printed(tool, path, tmp_path)
    text = " ".join(page)
    last = QUESTIONS[-1]
    assert last.where.split(" to the ")[0] in text and last.answers[-1].asks in text
    assert all(caution.split(".")[0] in text for caution in CAUTIONS[:1])
    assert text.count("W") >= len(name)
