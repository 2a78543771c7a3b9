"""The run folder: the same bytes each time, whole or not there, and what its files hold."""

import hashlib
import json
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from batch.columns import RESULTS
from batch.findings import StudyError
from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.run_folder import write_run
from tests.blanks import unexplained_blanks
from tests.workbooks.make import candidate_workbook

# The order in which a reader meets them; further sheets stand behind.
SHEETS = ["Contents", "Ranking", "Candidates", "What fails", "Who pays", "Findings", "Options",
          "Economics", "Feeders", "Program used", "Glossary", "Record"]
FILES = {"result.xlsx", "ranking.csv", "results.csv", "options.csv", "findings.csv", "checks.csv",
         "cash_flows.csv", "board.html", "record.json"}
RESULT_KEYS = set("""
candidate_id excel_row verdict verdict_reason rank in_budget pipe_friction_ft total_head_ft
water_power_hp shaft_power_hp pump_motor_hp season_hours pivot_demand_kw motor_input_kw
service_demand_kw added_load_kw annual_energy_kwh present_fuel_per_yr supply_option drive_rated_hp
service_current_a transformer_kva transformer_loading_pct service_conductor service_ampacity_a
protective_device_a service_voltage_drop_pct primary_voltage_drop_pct fault_current_a
starting_dip_pct current_thd_pct current_tdd_pct voltage_thd_pct motor_peak_v lead_filter phase_kw
line_cost_usd transformer_cost_usd equipment_cost_usd project_cost_usd cooperative_cost_usd
member_cost_usd incentive_usd incentive_cost_usd incentive_usd_per_kw present_cost_usd_yr
electric_cost_usd_yr member_saving_usd_yr member_payback_yr member_npv_usd member_irr_pct
breakeven_fuel_price_usd revenue_usd_yr margin_usd_yr cooperative_payback_yr cooperative_npv_usd
participant_ratio ratepayer_ratio administrator_ratio total_resource_ratio societal_ratio
co2_avoided_t_yr""".split())  # noqa: SIM905
FINDING_KEYS = ["sheet", "row", "column", "slug", "severity", "value", "limit", "message"]
CHECK_KEYS = {"candidate_id", "supply_option", "check", "value", "limit", "unit", "answer",
              "source"}
ROWS = ({"is_inverter_duty": "yes"}, {"flow_gpm": None}, {"fuel_rate": 60, "pump_motor_hp": 40},
        {"crop": "+corn", "farm_label": "@home", "present_power": "none", "fuel_rate": None})


@pytest.fixture(scope="module")
def workbook(tmp_path_factory):
    return candidate_workbook(tmp_path_factory.mktemp("input"), rows=ROWS,
                              study={"program_budget_usd": 40_000, "study_date": "2026-03-02"})


@pytest.fixture(scope="module")
def study(workbook):
    return run_study(validate(workbook))


@pytest.fixture(scope="module")
def folder(study, tmp_path_factory):
    return write_run(study, tmp_path_factory.mktemp("out"), overwrite=False, options={})


@pytest.fixture
def old_run(folder, tmp_path):
    """A copy of the run folder, to be replaced."""
    return Path(shutil.copytree(folder, tmp_path / folder.name))


def files_of(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes()
            for path in sorted(folder.rglob("*")) if path.is_file()}


def csv_of(folder, name):
    return pd.read_csv(folder / name, dtype=str, keep_default_na=False)


# --- the same bytes, and whole --------------------------------------------------------------------

def test_two_runs_give_the_same_bytes_but_the_clock(workbook, folder, tmp_path, monkeypatch):
    read, stat = workbook.read_bytes(), workbook.stat()
    # The clock of the zip archive's parts is moved on by a year.
    monkeypatch.setattr("zipfile.time.localtime", lambda *_: (2027, 6, 5, 4, 3, 2, 0, 1, 0))
    again = write_run(run_study(validate(workbook)), tmp_path, overwrite=False, options={})
    first, second = files_of(folder), files_of(again)
    assert first.keys() == second.keys()
    assert [name for name in first if first[name] != second[name]] in ([], ["record.json"])
    one, two = (json.loads(files["record.json"]) for files in (first, second))
    assert one.pop("clock").keys() == two.pop("clock").keys()
    assert one == two
    # The input file is never touched.
    assert workbook.read_bytes() == read
    assert workbook.stat().st_mtime_ns == stat.st_mtime_ns
    assert os.listdir(workbook.parent) == [workbook.name]


def test_existing_run_is_refused_and_untouched(study, folder):
    before = files_of(folder)
    with pytest.raises(StudyError, match="exists"):
        write_run(study, folder.parent, overwrite=False, options={})
    assert files_of(folder) == before and os.listdir(folder.parent) == [folder.name]


def test_overwrite_replaces_the_whole_folder(study, old_run, tmp_path):
    folder = old_run
    (folder / "results.csv").write_text("old")
    assert write_run(study, tmp_path, overwrite=True, options={}) == folder
    assert (folder / "results.csv").read_text(encoding="utf-8").startswith("candidate_id")
    assert os.listdir(tmp_path) == [folder.name]


@pytest.mark.parametrize("fails_at", ["a text file", "result.xlsx", "the move", "the old folder"])
def test_fault_while_writing_leaves_the_old_run_whole(study, old_run, tmp_path, monkeypatch,
                                                      fails_at):
    folder = old_run
    (folder / "totals.csv").write_text("the old run")
    before = files_of(folder)
    true_replace = os.replace

    def no_space(*_, **__):
        raise OSError(28, "No space left on device")

    def replace(source, target):
        is_stage = Path(target) == folder and not Path(source).name.endswith(".old")
        is_old = Path(source) == folder
        if fails_at == "the move" and is_stage or fails_at == "the old folder" and is_old:
            no_space()
        if fails_at == "result.xlsx" and Path(target).name == "result.xlsx":
            no_space()
        return true_replace(source, target)

    monkeypatch.setattr(os, "replace", replace)
    if fails_at == "a text file":
        monkeypatch.setattr(Path, "write_text", no_space)
    with pytest.raises(StudyError, match="No space left"):
        write_run(study, tmp_path, overwrite=True, options={})
    monkeypatch.undo()
    assert files_of(folder) == before
    assert os.listdir(tmp_path) == [folder.name]


def test_old_run_is_kept_and_named_where_nothing_can_be_moved(study, old_run, tmp_path,
                                                              monkeypatch):
    before, true_replace = files_of(old_run), os.replace

    def replace(source, target):
        if Path(target) == old_run:
            raise PermissionError(13, "Permission denied")
        return true_replace(source, target)

    monkeypatch.setattr(os, "replace", replace)
    with pytest.raises(StudyError, match="old run is whole in") as stop:
        write_run(study, tmp_path, overwrite=True, options={})
    monkeypatch.undo()
    [kept] = list(tmp_path.iterdir())
    assert str(kept) in str(stop.value)
    assert files_of(kept) == before


def test_fault_of_a_first_run_leaves_nothing(study, tmp_path, monkeypatch):
    def refused(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "write_text", refused)
    with pytest.raises(StudyError, match="Permission denied"):
        write_run(study, tmp_path / "out", overwrite=False, options={})
    monkeypatch.undo()
    assert list(tmp_path.rglob("*.csv")) == [] and os.listdir(tmp_path / "out") == []


# --- the record -----------------------------------------------------------------------------------

def test_hashes_of_the_record_are_true(workbook, folder):
    whole = json.loads((folder / "record.json").read_text(encoding="utf-8"))
    files = files_of(folder)
    stated = whole["files_sha256"]
    assert stated.keys() == files.keys() - {"record.json"}
    for name, content in files.items():
        if name != "record.json":
            assert stated[name] == hashlib.sha256(content).hexdigest(), name
    hashes = whole["content"]["sha256"]
    assert hashes["input_file"] == hashlib.sha256(workbook.read_bytes()).hexdigest()
    assert hashes["results"] == stated["results.csv"]
    counts = whole["content"]["counts"]
    assert counts["read"] == counts["assessed"] + counts["not_assessed"] == len(ROWS)


def test_clock_stands_outside_what_is_hashed(folder):
    whole = json.loads((folder / "record.json").read_text(encoding="utf-8"))
    year = whole["clock"]["written_at"][:10]
    assert year not in json.dumps(whole["content"])
    canonical = json.dumps(whole["content"], sort_keys=True, ensure_ascii=False)
    signs = hashlib.sha256(canonical.encode()).hexdigest()[:16]
    assert whole["fingerprint"].replace("-", "") == signs
    assert whole["fingerprint"] in (folder / "board.html").read_text(encoding="utf-8")


def test_another_price_gives_another_fingerprint(workbook, folder, tmp_path):
    changed = candidate_workbook(tmp_path, rows=[ROWS[0] | {"fuel_price_usd": 3.61}, *ROWS[1:]],
                                 study={"program_budget_usd": 40_000, "study_date": "2026-03-02"})
    other = write_run(run_study(validate(changed)), tmp_path / "out", overwrite=False, options={})
    one, two = (json.loads((f / "record.json").read_text(encoding="utf-8"))
                for f in (folder, other))
    assert one["fingerprint"] != two["fingerprint"]
    assert one["content"]["sha256"]["rules"] == two["content"]["sha256"]["rules"]


# --- what the files hold --------------------------------------------------------------------------

def test_files_and_keys_of_the_contract(folder):
    files = files_of(folder)
    assert FILES <= files.keys()
    assert len([name for name in files if name.startswith("farms/")]) == len(ROWS)
    results = csv_of(folder, "results.csv")
    assert RESULT_KEYS <= set(results.columns) and len(results) == len(ROWS)
    assert list(results.columns) == list(RESULTS.by_key)
    assert list(csv_of(folder, "findings.csv").columns)[:8] == FINDING_KEYS
    assert CHECK_KEYS <= set(csv_of(folder, "checks.csv").columns)
    options = csv_of(folder, "options.csv")
    assert len(options) == 3 * (len(ROWS) - 1)  # the faulty row has none
    chosen = options.loc[options["is_chosen"] == "yes", "candidate_id"]
    assert chosen.tolist() == list(dict.fromkeys(options["candidate_id"]))  # one of each farm


def test_numbers_of_results_have_the_decimals_of_the_dictionary(folder):
    results = csv_of(folder, "results.csv")
    for column in RESULTS.columns:
        if column.is_numeric:
            for text in results[column.key]:
                assert text == "" or text == f"{float(text):.{column.decimals}f}", column.key


def test_no_text_of_a_csv_file_starts_a_formula(folder):
    results = csv_of(folder, "results.csv")
    assert results["farm_label"].tolist()[3] == "'@home"
    for path in folder.glob("*.csv"):
        texts = pd.read_csv(path, dtype=str, keep_default_na=False).stack()
        risky = texts[texts.str.match(r"[=+@\t\r]") | texts.str.match(r"-(?![\d.])")]
        assert risky.empty, (path.name, risky.tolist()[:3])


def test_every_blank_of_an_assessed_farm_has_a_reason(folder, study):
    assert unexplained_blanks(csv_of(folder, "results.csv"), study.inputs.candidates) == []


def test_every_blank_of_the_demo_has_a_reason(demo_run):
    results = csv_of(demo_run.folder, "results.csv")
    assert unexplained_blanks(results, demo_run.study.inputs.candidates) == []
    is_incomplete = results["verdict"] == "incomplete"
    assert (results.loc[is_incomplete, "verdict_reason"] != "").all()


# --- the result workbook --------------------------------------------------------------------------

@pytest.fixture(scope="module")
def book(folder):
    return openpyxl.load_workbook(folder / "result.xlsx")


def test_sheets_stand_in_the_order_of_the_contract(book):
    assert book.sheetnames[:len(SHEETS)] == SHEETS
    assert {"Input Study", "Input Rates", "Input Unit costs"} <= set(book.sheetnames)


def test_headers_are_frozen_filtered_and_repeated_in_print(book):
    for name in SHEETS[1:]:
        sheet = book[name]
        assert sheet.freeze_panes, name
        header_row = int("".join(filter(str.isdigit, sheet.freeze_panes))) - 1
        assert sheet.auto_filter.ref.split(":")[0] == f"A{header_row}", name
        assert sheet.print_title_rows == f"${header_row}:${header_row}", name
        assert sheet.page_setup.orientation == "landscape" and sheet.page_setup.fitToWidth, name
        assert sheet.cell(header_row, 1).value and sheet.cell(header_row, 1).font.bold, name


def test_faulty_cells_carry_their_findings_as_notes(book, study):
    sheet = book["Candidates"]
    of_cells = [f for f in study.findings.rows if f["sheet"] == "Candidates" and f["row"]
                and f["column"]]
    assert {"value-missing", "fuel-against-criteria"} <= {f["slug"] for f in of_cells}
    for finding in of_cells:
        cell = sheet[f"{finding['column']}{finding['row']}"]
        assert cell.comment is not None, finding
        assert finding["message"][:60] in cell.comment.text
        assert finding["severity"] in cell.comment.text  # a word, not colour alone
        assert cell.fill.fill_type == "solid" and cell.border.top.style
    words = [cell.value for cell in sheet[3]]
    assert any("value-missing" in str(word) for word in words)


def test_engineers_rows_and_columns_keep_their_places(book, workbook):
    theirs, ours = openpyxl.load_workbook(workbook)["Candidates"], book["Candidates"]
    for row in theirs.iter_rows():
        for cell in row:
            assert ours[cell.coordinate].value == cell.value, cell.coordinate


def test_no_formula_in_any_output(book, folder):
    formulas = [(sheet.title, cell.coordinate) for sheet in book for row in sheet.iter_rows()
                for cell in row if cell.data_type == "f"]
    assert formulas == []
    with zipfile.ZipFile(folder / "result.xlsx") as archive:
        sheets = [n for n in archive.namelist() if n.startswith("xl/worksheets/sheet")]
        assert sheets and not any(b"<f>" in archive.read(n) or b"<f " in archive.read(n)
                                  for n in sheets)


def test_ranking_sheet_has_native_charts_and_the_order_of_the_csv(book, folder):
    sheet = book["Ranking"]
    assert len(sheet._charts) == 2
    header_row = int("".join(filter(str.isdigit, sheet.freeze_panes))) - 1
    ids = [sheet.cell(row, 2).value for row in range(header_row + 1, header_row + 1 + len(ROWS))]
    assert ids == csv_of(folder, "ranking.csv")["candidate_id"].tolist()


def test_program_used_lists_every_rule_with_its_source(book, study):
    rows = [[cell.value for cell in row] for row in book["Program used"].iter_rows()]
    listed = {row[0]: row for row in rows if row[0] in study.inputs.rules.by_key}
    assert listed.keys() == study.inputs.rules.by_key.keys()
    assert all(row[4] and row[5] for row in listed.values())  # who set it, and its source


def test_another_process_has_the_same_hashes_of_the_program():
    """What a fingerprint stands for hangs on no address in memory and on no order of a set."""
    code = ("from batch.writing import record; "
            "print(record.program_digests(), record.dictionary_hashes())")
    said = [subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True,
                           env=os.environ | {"PYTHONHASHSEED": seed}).stdout for seed in "12"]
    assert said[0] == said[1]
