"""The result workbook in a spreadsheet program: it opens, survives a round trip, and prints."""

import re
import subprocess
from pathlib import Path

import openpyxl
import pytest

from batch.columns import RESULTS
from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.run_folder import write_run
from batch.writing.workbook.ranking_sheet import KEYS
from tests.conftest import tool
from tests.workbooks.make import candidate_workbook


@pytest.fixture(scope="module")
def convert(tmp_path_factory):
    """LibreOffice without a window, with a profile of its own."""
    office, profile = tool("soffice"), tmp_path_factory.mktemp("profile")

    def converted(path: Path, ending: str) -> Path:
        out = tmp_path_factory.mktemp(ending)
        done = subprocess.run(
            [office, f"-env:UserInstallation=file://{profile}", "--headless", "--convert-to",
             ending, "--outdir", str(out), str(path)], check=False, capture_output=True, text=True,
            timeout=180)
        found = out / f"{path.stem}.{ending}"
        assert found.exists(), done.stderr
        return found
    return converted


@pytest.fixture(scope="module")
def ours(demo_run):
    return openpyxl.load_workbook(demo_run.folder / "result.xlsx")


@pytest.fixture(scope="module")
def again(demo_saved):
    """The result workbook of the demo as the spreadsheet program saves it."""
    return openpyxl.load_workbook(demo_saved)


def ranking_rows(book):
    """The table of the Ranking sheet, header first."""
    sheet = book["Ranking"]
    top = next(row for row in range(1, 30) if sheet.cell(row, 1).value == "Rank")
    rows = [[sheet.cell(row, column).value for column in range(1, len(KEYS) + 1)]
            for row in range(top, sheet.max_row + 1)]
    return [row for row in rows if row[1] is not None]


def test_ranking_survives_a_round_trip(demo_run, ours, again):
    assert again.sheetnames == ours.sheetnames
    assert [s.sheet_state for s in again] == [s.sheet_state for s in ours]
    before, after = ranking_rows(ours), ranking_rows(again)
    assert len(before) == len(demo_run.study.results) + 1
    assert len(after) == len(before)
    for old, new in zip(before, after):
        for was, now in zip(old, new):
            if isinstance(was, float):
                assert now == pytest.approx(was, rel=1e-12)
            else:
                assert now == was
    assert len(again["Ranking"]._charts) == len(ours["Ranking"]._charts) == 2
    assert {name for name in ours.sheetnames if ours[name].auto_filter.ref} == {
        name for name in again.sheetnames if again[name].auto_filter.ref}


def test_notes_and_marks_survive_a_round_trip(ours, again):
    noted = [cell for row in ours["Candidates"].iter_rows() for cell in row if cell.comment]
    assert len(noted) > 8
    for cell in noted:
        other = again["Candidates"][cell.coordinate]
        assert other.comment and cell.comment.text[:40] in other.comment.text.replace("\r", "")
        assert other.fill.fgColor.rgb[-6:] == cell.fill.fgColor.rgb[-6:], cell.coordinate


def test_numbers_of_the_ranking_are_those_of_the_study(demo_run, again):
    """Read back from the spreadsheet program's own file, not from ours."""
    header, *rows = ranking_rows(again)
    assert header == [RESULTS.by_key[key].header for key in KEYS]
    results = demo_run.study.results
    results = results[results["rank"].notna()].set_index("candidate_id")
    places = {key: KEYS.index(key) for key in ("added_load_kw", "useful_load_kw",
                                               "incentive_cost_usd", "incentive_usd_per_kw")}
    ranked = [row for row in rows if row[0] is not None]
    assert len(ranked) == len(results) > 0
    for row in ranked:
        farm = results.loc[row[1]]
        assert row[0] == farm["rank"]
        for key, place in places.items():
            assert row[place] == pytest.approx(farm[key], rel=1e-9), (row[1], key)


def test_every_shown_sheet_prints(tmp_path, convert):
    study = run_study(validate(candidate_workbook(tmp_path, rows=[{}, {"flow_gpm": None}])))
    folder = write_run(study, tmp_path / "out", overwrite=False, options={})
    pdf = convert(folder / "result.xlsx", "pdf").read_bytes()
    assert pdf.startswith(b"%PDF")
    pages = len(re.findall(rb"/Type\s*/Page\b", pdf))
    book = openpyxl.load_workbook(folder / "result.xlsx")
    assert pages >= sum(sheet.sheet_state == "visible" for sheet in book) > 4
    # US letter on its side, 792 x 612 points.
    boxes = set(re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", pdf))
    assert boxes and all(round(float(w)) == 792 and round(float(h)) == 612 for w, h in boxes)
