"""Workbooks of every writer at hand, with each kind of cell: no silent loss."""

import datetime
import re
import subprocess

import openpyxl
import pandas as pd
import pytest
import xlsxwriter

from batch.columns import CANDIDATES
from tests.conftest import tool
from tests.workbooks.make import RATE, read_cells

DAY = datetime.datetime(2026, 4, 30)
KINDS = {"farm_label": "text", "flow_gpm": 800, "pumping_lift_ft": 140.25, "application_date": DAY,
         "is_inverter_duty": True, "feeder_id": "007", "crop": "=1+1"}


def tables(label=KINDS["farm_label"]):
    """Sheet -> rows of cells of every kind, a blank among them."""
    farms = [[c.header for c in CANDIDATES.columns]]
    for number in (1, 2):
        row = {c.key: c.example for c in CANDIDATES.columns} | KINDS | {
            "candidate_id": f"F-{number}", "farm_label": label, "pump_efficiency_pct": None}
        farms.append(list(row[c.key] for c in CANDIDATES.columns))
    return {"Study": [["Key", "Value"], ["study_name", "x"], ["rules_year", 2026]],
            "Candidates": farms, "Rates": [list(RATE), list(RATE.values())],
            "Unit costs": [["item", "price_usd"], ["line", 7]]}


def by_xlsxwriter(path, **options):
    book = xlsxwriter.Workbook(path, {"default_date_format": "yyyy-mm-dd"})
    for name, rows in tables(**options).items():
        sheet = book.add_worksheet(name)
        for number, row in enumerate(rows):
            for column, value in enumerate(row):
                if value == "=1+1":
                    sheet.write_formula(number, column, value, None, 2)
                elif isinstance(value, str):
                    sheet.write_string(number, column, value)
                elif value is not None:
                    sheet.write(number, column, value)
    book.close()


def by_openpyxl(path):
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in tables().items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(path)


def by_pandas(path):
    with pd.ExcelWriter(path, engine="openpyxl") as writer:
        for name, rows in tables().items():
            pd.DataFrame(rows, dtype=object).to_excel(writer, sheet_name=name, index=False,
                                                      header=False)


def by_libreoffice(path):
    by_xlsxwriter(path.with_name("source.xlsx"))
    subprocess.run([tool("soffice"), f"-env:UserInstallation={(path.parent / 'p').as_uri()}",
                    "--headless", "--convert-to", "xlsx", "--outdir", path.parent / "lo",
                    path.with_name("source.xlsx")], check=True, capture_output=True, timeout=180)
    (path.parent / "lo" / "source.xlsx").rename(path)


@pytest.mark.parametrize("write", [by_openpyxl, by_pandas, by_xlsxwriter, by_libreoffice])
def test_every_writer_s_cells_of_each_kind_are_read(tmp_path, write):
    path = tmp_path / "study.xlsx"
    write(path)
    cells = read_cells(path)["Candidates"]
    index = {h.key: h.index for h in cells.headers if h.key}
    for number, (row, values) in enumerate(cells.rows, start=1):
        for key, value in KINDS.items():
            if key == "crop":
                assert re.sub(r"\s", "", cells.formulas[row, index[key]]) == value
            else:
                assert values[index[key]] == value and type(values[index[key]]) is type(value)
        assert values[index["candidate_id"]] == f"F-{number}"
        assert values[index["pump_efficiency_pct"]] is None
    assert number == 2 and cells.reading["read"]["rows"] == 2
    filled = sum(value is not None for value in tables()["Candidates"][1])
    assert cells.reading["read"]["cells"] == 2 * filled


def test_shared_texts_that_only_look_escaped_stay(tmp_path):
    """XlsxWriter escapes a literal _xHHHH_ in its shared texts, and openpyxl would halve that."""
    by_xlsxwriter(tmp_path / "study.xlsx", label="F_x0041_ x005F_")
    cells = read_cells(tmp_path / "study.xlsx")["Candidates"]
    assert [values[1] for _, values in cells.rows] == ["F_x0041_ x005F_"] * 2
