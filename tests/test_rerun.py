"""The re-run: the same when nothing was touched, and each touched cell by its name."""

import json
import shutil

import openpyxl
import pytest
from click.testing import CliRunner

from batch.audit import evidence
from batch.audit.answers import DECISION, ROUNDING, SAME, VALUE, WORDING, answer_for
from batch.audit.rerun import rerun
from batch.cli import main
from batch.findings import StudyError
from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.outputs import csv_files
from batch.writing.run_folder import write_run
from tests.workbooks.make import (
    candidate_workbook,
    cell,
    example_row,
    unit_cost_rows,
    with_stored_value,
)

pytestmark = pytest.mark.usefixtures("studied_once")
DONE, DIFFERENT, CANNOT_RERUN = 0, 1, 3
STUDY = {"program_budget_usd": 40_000, "study_date": "2026-03-02"}
ROWS = ({"is_inverter_duty": "yes", "approved_incentive_usd": 5_000}, {"pump_motor_hp": 75},
        {"flow_gpm": None})


def csv_texts(study):
    """The CSV files of a run by name."""
    return {name: "".join(parts) for name, parts in csv_files(study)}


def run_of(path, out):
    """The study of a workbook, and the run folder that is written from it."""
    study = run_study(validate(path))
    return study, write_run(study, out, overwrite=False, options={})


@pytest.fixture(scope="module")
def workbook(tmp_path_factory):
    """Three small farms, one of them faulty."""
    return candidate_workbook(tmp_path_factory.mktemp("in"), rows=ROWS, study=STUDY,
                              program={"starting_dip_limit_pct": (5, "%", "resolution 7")})


@pytest.fixture(scope="module")
def folder(workbook, tmp_path_factory):
    """A run of these farms. Tests change copies of it."""
    return run_of(workbook, tmp_path_factory.mktemp("out"))[1]


@pytest.fixture(scope="module")
def book(folder):
    """The result workbook of the run as openpyxl opens it. Who changes it puts it back."""
    return openpyxl.load_workbook(folder / "result.xlsx")


@pytest.fixture(scope="module")
def with_formulas(tmp_path_factory):
    """A study of two farms with formulas and without approvals, and its run folder."""
    def add_formulas(book):
        book["Candidates"][cell("fuel_rate")].value = "=2+2"
        book["Candidates"][cell("gross_depth_in", 3)].value = "=10+6"

    place = tmp_path_factory.mktemp("formulas")
    path = candidate_workbook(place, rows=({}, {}), study=STUDY, edit=add_formulas)
    with_stored_value(path, b"10+6", b"16")
    return run_of(path, place / "out")


def call(*args):
    return CliRunner().invoke(main, [str(arg) for arg in args])


def changed(book, tmp_path, *changes):
    """The result workbook with cells of sheets set to other values."""
    kept = [(book[sheet][address], book[sheet][address].value) for sheet, address, _ in changes]
    for sheet, address, value in changes:
        book[sheet][address].value = value
    path = tmp_path / "result.xlsx"
    book.save(path)
    for one, value in kept:
        one.value = value
    return path


def place_of(book, sheet, first_header, column_header, row_name):
    """The address of a value on a sheet, by its header and the text in column A."""
    rows = list(book[sheet].iter_rows())
    header = next(row for row in rows if row[0].value == first_header)
    letter = next(c.column_letter for c in header if c.value == column_header)
    return f"{letter}{next(r[0].row for r in rows if r[0].value == row_name)}"


# --- untouched ------------------------------------------------------------------------------------

def test_untouched_demo_run_is_the_same(demo_run):
    """Of a result workbook alone the same is shown on small farms below."""
    run = rerun(demo_run.folder)
    assert run.is_same and run.differences == [] and run.evidence.changes == []
    assert set(run.answers.values()) == {SAME}
    assert len(run.answers) == len(demo_run.study.results)


def test_result_workbook_read_again_gives_every_csv_file(demo_run):
    again = csv_texts(run_study(validate(demo_run.folder / "result.xlsx")))
    assert again.keys() == {path.name for path in demo_run.folder.glob("*.csv")}
    for name, text in again.items():
        assert text == (demo_run.folder / name).read_text(encoding="utf-8"), name


def test_same_input_gives_the_same_bytes_in_two_folders(workbook, folder, tmp_path):
    one, two = folder, run_of(workbook, tmp_path)[1]
    assert one != two
    for written in one.rglob("*"):
        if written.is_file() and written.name != "record.json":
            assert written.read_bytes() == (two / written.relative_to(one)).read_bytes()
    records = [json.loads((f / "record.json").read_text(encoding="utf-8")) for f in (one, two)]
    assert records[0]["fingerprint"] == records[1]["fingerprint"]


def test_command_says_same_and_what_the_fingerprint_proves(folder):
    result = call("rerun", folder)
    assert result.exit_code == DONE and "SAME" in result.stdout and "NOT" not in result.stdout
    assert "not a signature" in " ".join(result.stdout.split())
    record = json.loads((folder / "record.json").read_text(encoding="utf-8"))
    assert record["fingerprint"] in result.stdout
    data = json.loads(call("rerun", folder / "result.xlsx", "--json").stdout)
    assert data["is_same"] and data["changes"] == [] and data["differences"] == []


def test_formulas_of_the_input_stay_what_they_were(with_formulas):
    """A formula without a stored value is a fault; in a copy of its row it would look blank."""
    study, done = with_formulas
    assert study.counts == {"read": 2, "assessed": 1, "not_assessed": 1}
    again = csv_texts(run_study(validate(done / "result.xlsx")))
    for name, text in again.items():
        assert text == (done / name).read_text(encoding="utf-8"), name
    assert rerun(done).is_same


def test_workbook_saved_by_another_program_holds_the_same_and_says_so(demo_saved, found_by):
    result, run = found_by("rerun", demo_saved)
    assert run.is_same and run.differences == []
    assert [change.kind for change in run.evidence.changes] == [evidence.BYTES]
    assert result.exit_code == DONE and "bytes differ" in result.stdout


# --- touched --------------------------------------------------------------------------------------

def test_changed_input_cell_is_named_with_what_it_was(book, tmp_path, found_by):
    place = cell("fuel_price_usd", 3)
    path = changed(book, tmp_path, ("Candidates", place, 9.9))
    result, run = found_by("rerun", path)
    assert result.exit_code == DIFFERENT
    assert f"Candidates!{place} was 3.6, now 9.9" in result.stdout
    mine = [d for d in run.differences if d.candidate_id == "F-2"]
    assert mine and all(f"changed input: Candidates!{place}" in d.reason for d in mine)
    assert run.answers["F-2"] in (VALUE, DECISION) and run.answers["F-3"] == SAME


def test_changed_header_unit_is_named(book, tmp_path):
    place = cell("flow_gpm", 1)
    run = rerun(changed(book, tmp_path, ("Candidates", place, "Flow [L/s]")))
    assert not run.is_same
    assert any(c.place == f"Candidates!{place}" for c in run.evidence.of_kind(evidence.INPUT))


def test_changed_price_rate_and_study_are_named(book, tmp_path):
    places = [("Input Unit costs", "E3"), ("Input Rates", "B2"), ("Input Study", "B4")]
    run = rerun(changed(book, tmp_path, *((*place, 77) for place in places)))
    assert not run.is_same
    assert sorted(c.place for c in run.evidence.of_kind(evidence.INPUT)) == sorted(
        f"{sheet}!{address}" for sheet, address in places)


def test_changed_rule_is_named(book, tmp_path, found_by):
    place = place_of(book, "Program used", "Key", "Value", "incentive_maximum_usd")
    result, run = found_by("rerun", changed(book, tmp_path, ("Program used", place, "700")))
    assert result.exit_code == DIFFERENT
    assert not run.is_same and run.answers["F-1"] == DECISION
    [change] = run.evidence.of_kind(evidence.RULE)
    assert change.place == f"Program used!{place}" and "incentive_maximum_usd" in change.text
    paid = next(d for d in run.differences if (d.candidate_id, d.key) == ("F-1", "incentive_usd"))
    assert (paid.new, paid.reason.startswith("changed rule")) == ("700.00", True)


def test_changed_result_is_named(book, tmp_path, found_by):
    place = place_of(book, "Results", "candidate_id", "verdict", "F-1")
    result, run = found_by("rerun", changed(
        book, tmp_path, ("Results", place, "does not qualify")))
    [difference] = run.differences
    assert (difference.key, difference.answer, difference.old) == (
        "verdict", DECISION, "does not qualify")
    assert f"changed result: Results!{place}" in difference.reason
    assert result.exit_code == DIFFERENT


def test_changed_shown_values_are_named(book, tmp_path):
    places = [("Ranking", "G7"), ("Options", "F6"), ("What fails", "D7"), ("Who pays", "E6"),
              ("Approvals", "B5")]
    run = rerun(changed(book, tmp_path, *((*place, 123456) for place in places)))
    assert not run.is_same and run.differences == []
    assert sorted(c.place for c in run.evidence.of_kind(evidence.SHOWN)) == sorted(
        f"{sheet}!{address}" for sheet, address in places)


def test_changed_record_and_changed_list_are_named(book, tmp_path):
    place = place_of(book, "Record", "Key", "Value", "sha256.results")
    run = rerun(changed(book, tmp_path, ("Record", place, "0" * 64),
                        ("Cells as written", "C7", "- - -")))
    assert f"Record!{place}" in [c.place for c in run.evidence.of_kind(evidence.RECORDED)]
    assert "Cells as written" in [c.place for c in run.evidence.of_kind(evidence.SHOWN)]


def test_change_with_its_line_adapted_still_breaks_the_record(folder, book, tmp_path):
    """The list of cells can be forged; the hashes in the record then tell of it."""
    from batch.writing.workbook import as_written

    place = place_of(book, "Program used", "Key", "Value", "incentive_maximum_usd")
    book = openpyxl.load_workbook(folder / "result.xlsx")
    book["Program used"][place].value = "700"
    row, sheet = book["Program used"][place].row, book["Cells as written"]
    kept = [cells for cells in sheet.iter_rows() if isinstance(cells[1].value, int)]
    mine = [cells for cells in kept if cells[0].value == "Program used"
            and cells[1].value <= row][-1]
    lines = mine[2].value.split(as_written.LINE_END)
    lines[row - mine[1].value] = as_written.line_of(book["Program used"][row])
    mine[2].value = as_written.LINE_END.join(lines)
    assert kept[0][0].value == as_written.NAME
    kept[0][2].value = as_written.hash_of([cell.value for cell in cells[:3]] for cells in kept[1:])
    path = tmp_path / "forged.xlsx"
    book.save(path)
    run = rerun(path)
    assert not run.is_same
    assert [c.place for c in run.evidence.of_kind(evidence.RULE)] == ["Program used"]


def test_deleted_and_added_rows_and_sheets_are_named(folder, tmp_path):
    book = openpyxl.load_workbook(folder / "result.xlsx")
    candidates = book["Candidates"]
    for place, value in enumerate(example_row(9).values(), start=1):
        candidates.cell(9, place).value = value
    del book["Economics"]
    book.create_sheet("Extra").append(["more"])
    book.save(tmp_path / "result.xlsx")
    run = rerun(tmp_path / "result.xlsx")
    places = {change.place for change in run.evidence.changes}
    assert {"Candidates!A9", "Economics", "Extra"} <= places
    added = next(d for d in run.differences if d.candidate_id == "F-9")
    assert (added.answer, added.new) == (DECISION, "F-9")


def test_changed_and_missing_files_of_a_folder_are_named(folder, tmp_path, found_by):
    copy = shutil.copytree(folder, tmp_path / "run")
    text = (copy / "results.csv").read_text(encoding="utf-8")
    head, rows = text.split("\n", 1)
    (copy / "results.csv").write_text(
        f"{head}\n{rows.replace('qualifies', 'does not qualify', 1)}", encoding="utf-8", newline="")
    (copy / "board.html").unlink()
    (copy / "note.txt").write_text("added")
    result, run = found_by("rerun", copy)
    assert {c.place for c in run.evidence.of_kind(evidence.FILE)} == {
        "results.csv", "board.html", "note.txt"}
    assert {(d.key, d.answer) for d in run.differences} == {("verdict", DECISION)}
    assert result.exit_code == DIFFERENT


def test_other_library_versions_are_told_and_are_no_fault(folder, tmp_path):
    copy = shutil.copytree(folder, tmp_path / "run")
    record = json.loads((copy / "record.json").read_text(encoding="utf-8"))
    record["environment"]["numpy"] = "0.9"
    (copy / "record.json").write_text(json.dumps(record), encoding="utf-8")
    run = rerun(copy)
    assert run.is_same
    assert [c.text[:14] for c in run.evidence.of_kind(evidence.LIBRARY)] == ["numpy 0.9 then"]


def test_changed_table_dictionary_and_program_are_told(folder, monkeypatch):
    from batch.writing import record

    hashes = record.table_hashes()
    monkeypatch.setattr(record, "table_hashes", lambda: {**hashes, "ampacity": "other"})
    digests = record.program_digests()
    monkeypatch.setattr(record, "program_digests", lambda: {**digests, "program": "other"})
    run = rerun(folder)
    assert run.is_same  # no result differs by it
    assert [c.place for c in run.evidence.of_kind(evidence.TABLE)] == ["ampacity"]
    assert len(run.evidence.of_kind(evidence.PROGRAM)) == 1


# --- other rules and prices -----------------------------------------------------------------------

def test_rules_of_another_year_show_both_totals(folder, found_by):
    result, run = found_by("rerun", folder, "--rules", 2024)
    assert result.exit_code == DIFFERENT and "the rules of 2024" in result.stdout
    # Source: the rules of 2024 cut the incentive to 4,500 USD, those of 2026 to 6,000.
    paid = next(d for d in run.differences if (d.candidate_id, d.key) == ("F-1", "incentive_usd"))
    assert (paid.old, paid.new) == ("6000.00", "4500.00")
    old, new = run.totals["Incentive [USD]"]
    assert new < old and not run.evidence.is_tampered


def test_prices_of_another_workbook(folder, tmp_path):
    dearer = [{**row, "price_usd": row["price_usd"] * 2} for row in unit_cost_rows()]
    other = candidate_workbook(tmp_path, unit_costs=dearer)
    run = rerun(folder, prices=other)
    cost = next(d for d in run.differences
                if (d.candidate_id, d.key) == ("F-1", "cost_engineering_usd"))
    assert float(cost.new) == 2 * float(cost.old) and "study.xlsx" in cost.reason
    same = rerun(folder, prices=candidate_workbook(tmp_path, name="same.xlsx"))
    assert same.is_same and same.differences == []


def test_year_without_rules_cannot_be_taken(folder):
    assert call("rerun", folder, "--rules", 1999).exit_code == CANNOT_RERUN


# --- what cannot be run again ---------------------------------------------------------------------

def test_input_workbook_and_broken_folder_say_what_is_missing(folder, tmp_path):
    result = call("rerun", candidate_workbook(tmp_path))
    assert result.exit_code == CANNOT_RERUN and "'Results'" in result.stderr
    copy = shutil.copytree(folder, tmp_path / "run")
    (copy / "record.json").unlink()
    result = call("rerun", copy)
    assert result.exit_code == CANNOT_RERUN and "record.json" in result.stderr


def test_change_that_stops_the_study_is_named_all_the_same(book, tmp_path):
    path = changed(book, tmp_path, ("Input Unit costs", "E3", "soon"))
    result = call("rerun", path)
    assert result.exit_code == CANNOT_RERUN and "Input Unit costs!E3" in result.stderr
    with pytest.raises(StudyError, match="Changed since it was written"):
        rerun(path)


# --- answers --------------------------------------------------------------------------------------

@pytest.mark.parametrize("key, old, new, answer", [
    ("incentive_usd", "10.00", "10.00", SAME), ("incentive_usd", "10.00", "10.01", ROUNDING),
    ("incentive_usd", "10.00", "10.02", DECISION), ("incentive_usd", "10.00", "", DECISION),
    ("total_head_ft", "200.1", "200.2", ROUNDING), ("total_head_ft", "200.1", "200.3", VALUE),
    ("rank", "3", "4", DECISION), ("verdict", "qualifies", "incomplete", DECISION),
    ("verdict_reason", "one", "another", WORDING)])
def test_answer_for_two_texts(key, old, new, answer):
    assert answer_for(key, old, new) == answer


# --- approvals ------------------------------------------------------------------------------------

def test_approvals_stand_against_the_rules_with_a_reason(folder, tmp_path):
    lines = (folder / "approvals.csv").read_text(encoding="utf-8").splitlines()
    # Source: 25 % of drive and filter, at most 6,000 USD, by the rules of 2026.
    assert len(lines) == 2
    assert lines[1].startswith("F-1,5000.00,6000.00,-1000.00,approved less,")
    assert "cut to the largest incentive" in lines[1]
    path = candidate_workbook(tmp_path, study={**STUDY, "study_name": "Second"}, rows=(
        {"approved_incentive_usd": 6000}, {"approved_incentive_usd": 100, "flow_gpm": None}, {}))
    text = csv_texts(run_study(validate(path)))["approvals.csv"]
    assert "F-1,6000.00,6000.00,0.00,same," in text
    assert "F-2,100.00,,,not assessed," in text and "F-3" not in text


def test_no_approvals_no_sheet(with_formulas):
    done = with_formulas[1]
    assert not (done / "approvals.csv").exists()
    assert "Approvals" not in openpyxl.load_workbook(done / "result.xlsx").sheetnames
