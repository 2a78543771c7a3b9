"""The commands: what they print, where, and their exit codes."""

import csv
import io
import json
import shutil

import openpyxl
import pytest
from click.testing import CliRunner

from batch.cli import main
from batch.columns import EVERY_SHEET
from tests.workbooks.make import candidate_workbook, cell

pytestmark = pytest.mark.usefixtures("studied_once")

DONE, NOT_ASSESSED, WRONG_USAGE, CANNOT_STUDY = 0, 1, 2, 3


def call(*args):
    return CliRunner().invoke(main, [str(arg) for arg in args])


@pytest.fixture(scope="module")
def good(tmp_path_factory):
    return candidate_workbook(tmp_path_factory.mktemp("good"), rows=[{}])


@pytest.fixture(scope="module")
def mixed(tmp_path_factory):
    """One farm that is assessed, and one that is not."""
    return candidate_workbook(tmp_path_factory.mktemp("mixed"), rows=[{}, {"flow_gpm": None}])


def without_candidates(book):
    del book["Candidates"]


def unstudied(folder):
    """A workbook of each kind that cannot be studied, by name."""
    text = folder / "text.xlsx"
    text.write_text("candidate_id,flow_gpm\nF-1,800\n")
    empty = folder / "nothing.xlsx"
    empty.write_bytes(b"")
    return {
        "empty Candidates": candidate_workbook(folder, rows=(), name="rows.xlsx"),
        "no Candidates sheet": candidate_workbook(folder, edit=without_candidates, name="no.xlsx"),
        "text file": text, "empty file": empty, "missing file": folder / "missing.xlsx",
        "year without rules": candidate_workbook(folder, study={"rules_year": 2001}, name="y.xlsx"),
        "price fault": candidate_workbook(folder, name="price.xlsx", unit_costs=[
            {"item": "drive", "size": 50, "price_usd": "soon"}]),
        "a folder": folder}


# --- run ------------------------------------------------------------------------------------------

def test_run_writes_its_folder_and_tells_where(good, tmp_path):
    result = call("run", good, "--out", tmp_path)
    assert result.exit_code == DONE and "Traceback" not in result.output
    folder = tmp_path / "test-study"
    assert (folder / "record.json").exists()
    assert str(folder) in result.stdout
    assert "1 read = 1 assessed + 0 not assessed" in result.stdout
    assert "licensed engineer decides" in result.stdout


def test_row_not_assessed_is_listed_and_counts_under_strict(mixed, tmp_path):
    result = call("run", mixed, "--out", tmp_path)
    assert result.exit_code == DONE
    assert "2 read = 1 assessed + 1 not assessed" in result.stdout
    assert cell("flow_gpm", 3) in result.stdout
    strict = call("run", mixed, "--out", tmp_path, "--overwrite", "--strict")
    assert strict.exit_code == NOT_ASSESSED
    assert (tmp_path / "test-study" / "record.json").exists()


def test_strict_without_faults_is_done(good, tmp_path):
    assert call("check", good, "--strict").exit_code == DONE
    assert call("run", good, "--out", tmp_path, "--strict", "--quiet").exit_code == DONE


def test_existing_run_folder_is_refused(good, tmp_path):
    assert call("run", good, "--out", tmp_path).exit_code == DONE
    again = call("run", good, "--out", tmp_path)
    assert again.exit_code == CANNOT_STUDY
    assert "exists" in again.stderr and "--overwrite" in again.stderr


def test_quiet_prints_nothing(mixed, tmp_path):
    result = call("run", mixed, "--out", tmp_path, "--quiet", "--strict")
    assert (result.exit_code, result.stdout, result.stderr) == (NOT_ASSESSED, "", "")


def test_json_of_a_run(mixed, tmp_path):
    result = call("run", mixed, "--out", tmp_path, "--json")
    summary = json.loads(result.stdout)
    assert summary["counts"] == {"read": 2, "assessed": 1, "not_assessed": 1}
    assert summary["folder"] == str(tmp_path / "test-study")
    assert summary["findings"]["error"] == 1
    assert all({"rank", "candidate_id", "verdict", "incentive_usd_per_kw"} <= farm.keys()
               for farm in summary["ranking"])
    assert result.stderr == ""


# --- what cannot be studied -----------------------------------------------------------------------

@pytest.mark.parametrize("command", ["run", "check"])
@pytest.mark.parametrize("kind", ["empty Candidates", "no Candidates sheet", "text file",
                                  "empty file", "missing file", "year without rules",
                                  "price fault", "a folder"])
def test_workbook_that_cannot_be_studied(tmp_path, command, kind):
    workbook = unstudied(tmp_path)[kind]
    more = ["--out", tmp_path / "out"] if command == "run" else []
    result = call(command, workbook, *more)
    assert result.exit_code == CANNOT_STUDY, result.output
    # What can be read is told by place; a file that is no workbook has its one sentence alone.
    is_told = command == "check" and kind in ("empty Candidates", "no Candidates sheet",
                                              "year without rules", "price fault")
    assert result.stdout.startswith("STOP (1)" if is_told else "")
    assert bool(result.stdout) == is_told
    lines = result.stderr.strip().splitlines()
    said = [line for line in lines if "Cannot go on" in line]
    assert len(said) == 1 and said[0].endswith(".") and "Traceback" not in result.stderr
    assert isinstance(result.exception, SystemExit)
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("kind, words", [
    ("empty Candidates", "holds no candidate"), ("no Candidates sheet", "Candidates"),
    ("missing file", "missing.xlsx"), ("text file", "text.xlsx")])
def test_the_reason_names_what_is_wrong(tmp_path, kind, words):
    assert words in call("check", unstudied(tmp_path)[kind]).stderr


@pytest.mark.parametrize("args", [
    ("run",), ("run", "x.xlsx", "--colour"), ("fly",), ("columns", "--format", "xml"),
    ("blank", "x.xlsx", "--year", "soon"), ("check", "a.xlsx", "b.xlsx")])
def test_wrong_usage(args):
    result = call(*args)
    assert result.exit_code == WRONG_USAGE
    assert "Usage:" in result.stderr and result.stdout == ""


# --- check ----------------------------------------------------------------------------------------

def test_check_lists_each_finding_with_its_cell_and_writes_nothing(mixed):
    before = set(mixed.parent.iterdir())
    result = call("check", mixed)
    assert result.exit_code == DONE
    assert f"Candidates!{cell('flow_gpm', 3)}" in result.stdout
    assert "ERROR (1)" in result.stdout
    assert "2 read = 1 assessed + 1 not assessed" in result.stdout
    assert set(mixed.parent.iterdir()) == before
    assert call("check", mixed, "--strict").exit_code == NOT_ASSESSED


def test_check_as_json(mixed):
    told = json.loads(call("check", mixed, "--json").stdout)
    assert told["counts"] == {"read": 2, "assessed": 1, "not_assessed": 1}
    errors = [f for f in told["findings"] if f["severity"] == "error"]
    assert [(f["sheet"], f["row"], f["key"], f["slug"]) for f in errors] == [
        ("Candidates", 3, "flow_gpm", "value-missing")]


# --- columns --------------------------------------------------------------------------------------

def test_columns_as_a_table():
    text = call("columns").stdout
    for sheet in EVERY_SHEET:
        assert sheet.name in text
        for column in sheet.columns:
            assert column.key in text and column.header in text, column.key


def test_columns_as_csv_and_json_hold_the_same():
    rows = list(csv.DictReader(io.StringIO(call("columns", "--format", "csv").stdout)))
    objects = json.loads(call("columns", "--format", "json").stdout)
    assert [row["key"] for row in rows] == [row["key"] for row in objects]
    assert len(rows) == sum(len(sheet.columns) for sheet in EVERY_SHEET)
    flow = next(row for row in objects if row["key"] == "flow_gpm")
    assert (flow["unit"], flow["minimum"], flow["required"]) == ("gal/min", 5, True)


def test_columns_of_one_sheet():
    objects = json.loads(call("columns", "--sheet", "rates", "--format", "json").stdout)
    assert {row["sheet"] for row in objects} == {"Rates"}
    unknown = call("columns", "--sheet", "Prices")
    assert unknown.exit_code == CANNOT_STUDY and "Rates" in unknown.stderr


# --- blank ----------------------------------------------------------------------------------------

def test_blank_refuses_an_existing_file(tmp_path):
    path = tmp_path / "mine.xlsx"
    first = call("blank", path)
    assert first.exit_code == DONE and "farmbatch check" in first.stdout
    assert "Candidates" in openpyxl.load_workbook(path).sheetnames
    path.write_bytes(b"filled by the engineer")
    again = call("blank", path)
    assert again.exit_code == CANNOT_STUDY and "exists" in again.stderr
    assert path.read_bytes() == b"filled by the engineer"
    assert call("blank", path, "--overwrite").exit_code == DONE
    assert path.read_bytes()[:2] == b"PK"  # a zip archive, as every workbook is


def test_blank_wants_the_ending_and_a_known_year(tmp_path):
    assert call("blank", tmp_path / "mine.xls").exit_code == CANNOT_STUDY
    late = call("blank", tmp_path / "mine.xlsx", "--year", 1999)
    assert late.exit_code == CANNOT_STUDY and "2026" in late.stderr
    assert list(tmp_path.iterdir()) == []


def test_blank_as_it_is_cannot_be_studied_yet(tmp_path):
    path = tmp_path / "mine.xlsx"
    call("blank", path)
    result = call("check", path)
    assert result.exit_code == CANNOT_STUDY and "Traceback" not in result.output


# --- explain --------------------------------------------------------------------------------------

def test_explain_a_key_alone_and_with_a_farm(mixed, tmp_path):
    told = call("explain", "water_power_hp")
    assert told.exit_code == DONE and "3960" in told.stdout
    call("run", mixed, "--out", tmp_path, "--quiet")
    worked = call("explain", "water_power_hp", "--run", tmp_path / "test-study",
                  "--candidate", "F-1")
    assert worked.exit_code == DONE and "800 gal/min" in worked.stdout
    for args in (("explain", "horsepower"),
                 ("explain", "water_power_hp", "--run", tmp_path, "--candidate", "F-1"),
                 ("explain", "water_power_hp", "--run", tmp_path / "test-study", "--candidate",
                  "F-9")):
        wrong = call(*args)
        assert wrong.exit_code == CANNOT_STUDY and "Traceback" not in wrong.output, args


# --- all ------------------------------------------------------------------------------------------

def test_every_command_has_help():
    assert call("--help").exit_code == DONE
    for name in main.commands:
        told = call(name, "--help")
        assert told.exit_code == DONE and len(told.stdout.splitlines()) > 3, name


def test_a_workbook_in_a_folder_with_blanks_and_accents(good, tmp_path):
    place = tmp_path / "Año 2026 study"
    place.mkdir()
    shutil.copy(good, place / "my study.xlsx")
    assert call("run", place / "my study.xlsx", "--out", place, "--quiet").exit_code == DONE


@pytest.mark.parametrize("asked, pages", (("all", 2), ("none", 0), ("1", 1)))
def test_as_many_farm_pages_as_asked_for(mixed, tmp_path, asked, pages):
    assert call("run", mixed, "--out", tmp_path, "--farm-pages", asked).exit_code == DONE
    assert len(list((tmp_path / "test-study").glob("farms/*.html"))) == pages


@pytest.mark.parametrize("asked", ("some", "-1", "1.5"))
def test_a_number_of_farm_pages_that_is_none(mixed, tmp_path, asked):
    result = call("run", mixed, "--out", tmp_path, "--farm-pages", asked)
    assert result.exit_code == WRONG_USAGE and "all" in result.output


# --- scenarios ------------------------------------------------------------------------------------

def scenario_file(folder, name, body):
    path = folder / f"{name}.toml"
    path.write_text(f'name = "{name}"\n{body}', encoding="utf-8")
    return path


def test_each_of_several_scenarios_has_its_folder_with_all_beside(mixed, tmp_path):
    files = [scenario_file(tmp_path, name, f"[prices]\nline = {factor}\n")
             for name, factor in (("dear line", 3), ("cheap line", 0.5))]
    result = call("run", mixed, "--out", tmp_path, "--scenario", files[0], "--scenario", files[1],
                  "--json")
    assert result.exit_code == DONE
    summaries = json.loads(result.stdout)
    assert [summary["counts"]["assessed"] for summary in summaries] == [1, 1]
    for folder in ("test-study-dear-line", "test-study-cheap-line"):
        with open(tmp_path / folder / "scenario_totals.csv", encoding="utf-8") as file:
            names = [row["scenario"] for row in csv.DictReader(file)]
        assert names == ["as filled in", "dear line", "cheap line"]
        book = openpyxl.load_workbook(tmp_path / folder / "result.xlsx", read_only=True)
        assert {"Scenario", "Scenario totals", "Scenario verdicts"} <= set(book.sheetnames)
    assert not (tmp_path / "test-study").exists()


def test_two_scenarios_of_one_name_are_refused(mixed, tmp_path):
    file = scenario_file(tmp_path, "twice", "[prices]\nline = 2\n")
    result = call("run", mixed, "--out", tmp_path, "--scenario", file, "--scenario", file)
    assert result.exit_code == CANNOT_STUDY and "Two scenarios" in result.output
    assert list(tmp_path.glob("*/record.json")) == []
