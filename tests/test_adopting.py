"""Own lists taken in: headings, words, units and layouts of planners, as the trade writes them.

Values are worked by hand here from the definitions of the units (a mile is 5,280 ft, NIST SP 811).
"""

import datetime
import json

import openpyxl
import pytest
from click.testing import CliRunner

from batch.adopting.adopt import adopt
from batch.adopting.kept import Kept, read_kept
from batch.adopting.values import Reading, take
from batch.cli import main
from batch.columns import CANDIDATES, SHEET_BY_NAME
from batch.findings import ERROR, StudyError
from batch.reading.cells import read_workbook
from batch.study import check_workbook
from batch.writing.workbook.adopted import target_of, write_adopted
from batch.writing.workbook.application import write_application
from tests.workbooks import own_lists
from tests.workbooks.make import RATE, unit_cost_rows

FULL = {"P-1", "P-2", "P-3", "North Bench", "South Bench"}  # farms whose cells are all clear
CSV_HEAD = "Farm,Fuel,Acres,Hours,GPM,Lift ft,PSI,1Ph line ft\n"


def read(key, text, **more):
    return take(text, Reading(CANDIDATES.by_key[key], **more))


@pytest.mark.parametrize("key, text, value", [
    ("single_phase_distance_ft", "1/4 mi", 1320), ("three_phase_distance_ft", "2½ miles", 13_200),
    ("pipe_length_ft", "1320'", 1320), ("pivot_length_ft", "~1300", 1300),
    ("annual_fuel_use", "6,800 gal/yr", 6800), ("pipe_diameter_in", '8"', 8),
    ("season_hours", "1,050 hrs", 1050), ("pivot_pressure_psi", "35#", 35),
    ("fuel_price_usd", "$3.60/gal", 3.6), ("booster_hp", "none", 0),
    ("present_power", "LP", "propane engine"), ("present_power", "Genset", "diesel generator"),
    ("present_power", "deisel", "diesel engine"), ("supply_option", "3Ø line", "three-phase line"),
    ("line_build", "UG", "underground"), ("is_inverter_duty", "x", True),
    ("application_date", "3/14/26", datetime.date(2026, 3, 14)),
    ("flow_gpm", "?", None), ("flow_gpm", "TBD", None), ("source_fault_a", "n/a", None)])
def test_cell_is_read_as_the_trade_means_it(key, text, value):
    taken = read(key, text)
    assert (taken.value, taken.asked) == (value, "")


@pytest.mark.parametrize("key, text, why", [
    ("flow_gpm", "900-1000", "range"), ("flow_gpm", "1.300", "two ways"),
    ("flow_gpm", "800+", "bound"), ("flow_gpm", "12 hp", "in hp"),
    ("flow_gpm", "800 xyz", "no unit"), ("application_date", "3/12/26", "2026-03-12 or 2026-12-03"),
    ("present_power", "PTO tractor", "more than one"), ("pump_efficiency_pct", "0.75", "possible"),
    ("pivot_length_ft", datetime.date(2026, 1, 4), "date")])
def test_unclear_cell_is_asked_and_not_guessed(key, text, why):
    taken = read(key, text)
    assert taken.value is None and why in taken.asked


def test_stated_order_of_dates_decides():
    for text, order, day in (("3/12/26", "day-first", datetime.date(2026, 12, 3)),
                             ("26/3/12", "year-first", datetime.date(2026, 3, 12))):
        assert read("application_date", text, dates=order).value == day


@pytest.fixture(scope="module")
def lists(tmp_path_factory):
    """Both lists, each with its workbook."""
    folder = tmp_path_factory.mktemp("lists")
    taken = {}
    for write in (own_lists.workbook_list, own_lists.csv_list):
        path = write(folder)
        adopted, book = adopt(path, Kept()), folder / f"{path.stem}_in.xlsx"
        write_adopted(target_of(book), adopted)
        taken[path.stem] = adopted, book
    return taken


@pytest.mark.parametrize("name, cells", [("prospects", own_lists.CELLS_OF_WORKBOOK),
                                         ("waiting", own_lists.CELLS_OF_CSV)])
def test_every_cell_is_found_again_and_five_questions_are_enough(lists, name, cells):
    adopted, book = lists[name]
    rows = list(openpyxl.load_workbook(book)["Own list"].iter_rows(min_row=4, values_only=True))
    assert len({row[0] for row in rows}) == len(rows) == adopted.cell_count == cells
    assert all(row[7] for row in rows)
    assert 0 < len(adopted.questions) <= 5


def test_values_of_the_lists_by_hand(lists):
    farms = {farm["candidate_id"]: farm for adopted, _ in lists.values() for farm in adopted.farms}
    assert len(farms) == 10
    first = farms["P-1"]
    # Level at rest 110 and drawdown 30; a quarter mile; two and three quarters.
    assert (first["pumping_lift_ft"], first["single_phase_distance_ft"],
            first["three_phase_distance_ft"]) == (140, 1320, 14_520)
    assert farms["P-3"]["fuel_price_usd"] == 9.8 and "annual_fuel_use" not in farms["P-3"]
    # 50 L/s x 60 s/min / 3.785411784 L/gal; 50 ha / 0.40468564 ha/acre; 240 kPa / 6.894757.
    north = farms["North Bench"]
    assert north["flow_gpm"] == pytest.approx(792.516, rel=1e-5)
    assert north["irrigated_area_acre"] == pytest.approx(123.553, rel=1e-5)
    assert north["pivot_pressure_psi"] == pytest.approx(34.809, rel=1e-4)
    # 3/14/26 can only be month first, so that 3/12/26 in the same column is the twelfth of March.
    assert farms["P-2"]["application_date"] == datetime.date(2026, 3, 12)


@pytest.mark.parametrize("name", ["prospects", "waiting"])
def test_farms_with_full_data_pass_the_check_with_a_rate_and_prices(lists, name, tmp_path):
    adopted, path = lists[name]
    book = openpyxl.load_workbook(path)
    for sheet, rows in (("Rates", [RATE]), ("Unit costs", unit_cost_rows())):
        places = {column.key: place for place, column in
                  enumerate(SHEET_BY_NAME[sheet].columns, start=1)}
        for number, row in enumerate(rows, start=5):
            for key, value in row.items():
                book[sheet].cell(number, places[key]).value = value
    book.save(tmp_path / "filled.xlsx")
    checked = check_workbook(tmp_path / "filled.xlsx")
    findings, counts = checked.findings, checked.counts
    wrong = {f["candidate_id"] for f in findings.rows if f["severity"] == ERROR}
    asked = {adopted.farms[place]["candidate_id"] for question in adopted.questions
             for place in question.farms}
    assert wrong <= asked and not wrong & FULL
    assert counts["read"] == len(adopted.farms)
    assert not [f for f in findings.rows if f["slug"] == "sheet-unknown"]


def adopt_csv(folder, text, kept=None, name="list.csv"):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return adopt(path, kept or Kept())


def asked_of(adopted, key):
    return next(question.text for question in adopted.questions if question.key == key)


def test_list_without_headings_that_fit_is_refused_with_its_place(tmp_path):
    with pytest.raises(StudyError, match=r"list.csv, row 1: 'one', 'two'"):
        adopt_csv(tmp_path, "one,two\n1,2\n")


def test_two_columns_for_one_key_are_asked(tmp_path):
    adopted = adopt_csv(tmp_path, CSV_HEAD.replace("GPM", "GPM,Pump flow")
                        + "A,Diesel,100,900,800,850,100,35,500\n")
    assert "flow_gpm" not in adopted.farms[0]
    assert "list.csv!E1 'GPM' and list.csv!F1 'Pump flow'" in asked_of(adopted, "flow_gpm")


def test_mixed_units_without_a_word_are_asked(tmp_path):
    adopted = adopt_csv(tmp_path, CSV_HEAD.replace("GPM", "Flow")
                        + "A,Diesel,100,900,50 L/s,100,35,500\nB,Diesel,90,900,700,100,35,500\n")
    assert [farm.get("flow_gpm") is None for farm in adopted.farms] == [False, True]
    assert "l/s" in asked_of(adopted, "flow_gpm")


def test_small_distances_without_a_unit_are_asked(tmp_path):
    adopted = adopt_csv(tmp_path, CSV_HEAD.replace("1Ph line ft", "1Ph line")
                        + "A,Diesel,100,900,800,100,35,0.25\nB,Diesel,90,900,700,100,35,1.5\n")
    assert "write its unit" in asked_of(adopted, "single_phase_distance_ft")


def test_same_farm_twice_and_a_farm_without_a_name_are_asked(tmp_path):
    row = "Diesel,100,900,800,100,35,500\n"
    adopted = adopt_csv(tmp_path, CSV_HEAD + f"A,{row}A,{row},{row}Total,,300,,,,,\n")
    assert [farm["candidate_id"] for farm in adopted.farms] == ["A", "A", "row 4"]
    texts = " ".join(question.text for question in adopted.questions)
    assert "'A' stands 2 times" in texts and "list.csv!B4 has no name" in texts


def test_choice_of_the_planner_is_kept_and_other_farms_are_never_replaced(tmp_path):
    path, book = tmp_path / "list.csv", tmp_path / "mine.xlsx"
    path.write_text(CSV_HEAD.replace("Lift ft", "Depth to water") + "A,PTO,100,900,800,90,35,500\n")
    assert CliRunner().invoke(main, ["adopt", str(path), "--into", str(book)]).exit_code == 0
    opened = openpyxl.load_workbook(book)
    for row in opened["Adopted headings"].iter_rows(min_row=4):
        if row[2].value == "PTO":
            row[7].value = "diesel engine"
        elif row[0].value == "Depth to water":
            row[7].value = "Pumping lift"
    opened.save(book)
    again = CliRunner().invoke(main, ["adopt", str(path), "--into", str(book), "--json"])
    assert again.exit_code == 0 and json.loads(again.stdout)["counts"]["to be asked"] == 0
    [(_, values)] = read_workbook(book).by_sheet["Candidates"].rows
    assert "diesel engine" in values and 90 in values
    opened = openpyxl.load_workbook(book)
    assert opened["Candidates"]["A4"].comment
    for value in ("another", None):  # typed over, and deleted
        opened["Candidates"]["B5"].value = value
        opened.save(book)
        with pytest.raises(StudyError, match="Candidates!B5"):
            target_of(book)
    assert read_kept(book, is_needed=True).by_word == {"present_power": {"pto": "diesel engine"}}


def test_folder_of_forms_is_read_with_units_and_a_form_without_its_farm_is_asked(tmp_path):
    for number, name in enumerate(("Alder", None), start=1):
        file = tmp_path / f"form_{number}.xlsx"
        write_application(file)
        book = openpyxl.load_workbook(file)
        for row in book["Application"].iter_rows():
            for cell in row:
                text = str(cell.value or "")
                answer = {"What is the farm": name, "How many acres": 120,
                          "How much water": "about 800", "What drives": "diesel engine"}
                for begins, value in answer.items():
                    if text.startswith(begins):
                        row[2].value = value
        book.save(file)
    adopted = adopt(tmp_path, Kept())
    assert [farm.get("farm_label") for farm in adopted.farms] == ["Alder", None]
    assert adopted.farms[1]["flow_gpm"] == 800
    assert "form_2.xlsx" in asked_of(adopted, "candidate_id")
    assert adopted.cell_count == len(adopted.lines)
