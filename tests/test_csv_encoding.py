"""CSV files for both readers: spreadsheet programs see the accents, other programs the keys."""

import codecs
import csv
import subprocess

import openpyxl
import pandas as pd
import pytest

from batch.audit.rerun import rerun
from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.run_folder import write_run
from tests.workbooks.make import candidate_workbook

LABEL = "Añón – maïs, 玉米 🌽"


@pytest.fixture(scope="module")
def folders(tmp_path_factory):
    """The run folders of a study in plain ASCII and of the same one with accents."""
    made = {}
    for name, row in (("plain", {}), ("accents", {"farm_label": LABEL, "crop": "maíz"})):
        place = tmp_path_factory.mktemp(name)
        study = run_study(validate(candidate_workbook(place, [row])))
        made[name] = write_run(study, place / "out", overwrite=False, options={})
    return made


def test_mark_stands_where_a_text_is_not_plain(folders):
    # Source: Unicode Standard, chapter 23.8, byte order mark: EF BB BF begins UTF-8 text as its
    # signature. That some spreadsheet programs need it: common practice, no source.
    for folder in folders.values():
        for path in folder.glob("*.csv"):
            content = path.read_bytes()
            text = content.decode("utf-8-sig")
            assert content.startswith(codecs.BOM_UTF8) != text.isascii(), path.name
    assert (folders["accents"] / "results.csv").read_bytes().startswith(codecs.BOM_UTF8)
    assert not (folders["plain"] / "results.csv").read_bytes().startswith(codecs.BOM_UTF8)


@pytest.mark.parametrize("name", ["plain", "accents"])
def test_programs_read_the_keys(folders, name):
    label = LABEL if name == "accents" else "Field 1"
    path = folders[name] / "ranking.csv"
    frame = pd.read_csv(path)
    assert frame.columns[0] == "rank" and frame["farm_label"].tolist() == [label]
    with path.open(encoding="utf-8-sig", newline="") as stream:
        [row] = csv.DictReader(stream)
    assert next(iter(row)) == "rank" and row["farm_label"] == label


def test_spreadsheet_program_shows_accents_and_first_header_whole(folders, tmp_path, tool):
    """Read as UTF-8 (76 in the filter's options), as its dialogue offers for a marked file."""
    path = folders["accents"] / "ranking.csv"
    subprocess.run([tool("soffice"), f"-env:UserInstallation={(tmp_path / 'p').as_uri()}",
                    "--headless", "--infilter=Text - txt - csv (StarCalc):44,34,76",
                    "--convert-to", "xlsx", "--outdir", tmp_path, path], check=True,
                   capture_output=True, timeout=180)
    header, farm = openpyxl.load_workbook(tmp_path / "ranking.xlsx").active.iter_rows(
        values_only=True)
    assert header[0] == "rank" and farm[header.index("farm_label")] == LABEL


def test_auditor_finds_the_marked_files_as_written(folders):
    assert rerun(folders["accents"]).is_same
