"""Saving and writing cells: the same bytes, whole files, text that stays text."""

import datetime
import os
import zipfile

import numpy as np
import openpyxl
import pandas as pd
import pytest

from batch.columns import CANDIDATES, UNIT_COSTS
from batch.writing.workbook import as_written, package
from batch.writing.workbook import sheet_tables as tables
from batch.writing.workbook.package import save_deterministic
from batch.writing.workbook.result_book import ResultBook
from batch.writing.workbook.sheet_tables import PrintedSheet, number_field, text_field, write_table
from batch.writing.workbook.styles_and_text import (
    HEADER,
    Look,
    cell_value,
    clean_text,
    number_format,
    put,
)


def saved(folder, values, look=None):
    """The cells of column A after writing and reading back."""
    book = openpyxl.Workbook()
    for row, value in enumerate(values, start=1):
        put(book.active.cell(row, 1), value, look)
    save_deterministic(book, folder / "cells.xlsx")
    return openpyxl.load_workbook(folder / "cells.xlsx").active["A"]


@pytest.mark.parametrize("text", ["=1+1", "=HYPERLINK(\"x\")", "+3", "-x", "@SUM(A1)", "#N/A",
                                  "#DIV/0!", "=", "1,300 ft", "007"])
@pytest.mark.parametrize("look", [None, HEADER])
def test_text_stays_text(tmp_path, text, look):
    cell, = saved(tmp_path, [text], look)
    assert cell.data_type == "s" and cell.value == text
    # Source: ECMA-376 part 1, 18.8.45, quotePrefix: the cell's text is shown as it was typed.
    assert bool(cell.quotePrefix) == (text[0] in "=+-@")


@pytest.fixture
def written(tmp_path):
    """The cells of row 1 of a result sheet after writing and reading back: value, look."""
    def write(*cells):
        book = ResultBook()
        sheet = PrintedSheet(book, "A", "mark")
        sheet.append([sheet.cell(*cell) for cell in cells])
        book.save(tmp_path / "a.xlsx", "2026-03-02", write_last=lambda kept: None)
        return openpyxl.load_workbook(tmp_path / "a.xlsx")["A"][1]
    return write


def test_result_cells_are_what_was_written(written):
    cells = [("=1+1", None), (2.5, Look(number_format="0.000")), ("a < b & c > \"d\"", HEADER),
             (True, None), (7, None), (7.0, None), (0.1 + 0.2, None), (1e-300, None),
             (" two  blanks ", None), ("line\nend", None), (datetime.date(2026, 3, 2), None),
             (datetime.time(6, 30), None), ("_x0041_", None), (None, None),
             ("\u6d4b\U0001f33d", None)]
    found = written(*cells)
    assert [cell.value for cell in found] == [
        "=1+1", 2.5, 'a < b & c > "d"', True, 7, 7, 0.1 + 0.2, 1e-300, " two  blanks ",
        "line\nend", datetime.datetime(2026, 3, 2), datetime.time(6, 30),
        "_x005F_x0041_", None,  # ECMA-376 part 1, 22.9.2.19: a text that only looks escaped
        "\u6d4b\U0001f33d"]
    assert found[0].data_type == "s" and found[0].quotePrefix
    assert found[1].number_format == "0.000" and found[2].font.bold
    assert found[3].data_type == "b" and type(found[5].value) is int


def test_blank_result_cell_shows_its_fill_and_its_note(written):
    _, filled, noted, _ = written(("a", None), (None, Look(fill="F3D9D3")), (None, None, "why"),
                                  ("b", None))
    assert filled.fill.fgColor.rgb == "00F3D9D3" and filled.value is None
    assert noted.comment.text == "why"


def test_table_of_a_frame_and_of_records_are_the_same(tmp_path):
    frame = pd.DataFrame({"status": ["meets", "=x", None, "fails"] * 600,
                          "value": [1.5, np.nan, -0.0, 1e6] * 600,
                          "count": [1, 2, 3, 4] * 600})
    fields = [text_field("status", "Status"), number_field("value", "Value", 2),
              number_field("count", "Count", 0)]
    sheets = []
    for rows in (frame, frame.to_dict("records")):
        book = ResultBook()
        write_table(book, "T", "mark", fields, rows, statement=("what",))
        book.save(tmp_path / "t.xlsx", "2026-03-02", write_last=lambda kept: None)
        sheets.append((tmp_path / "t.xlsx").read_bytes())
    assert sheets[0] == sheets[1]
    rows = list(openpyxl.load_workbook(tmp_path / "t.xlsx")["T"].iter_rows(min_row=5))
    assert [row[0].value for row in rows] == frame["status"].tolist()
    assert [row[1].value for row in rows[:4]] == [1.5, None, 0, 1e6] and len(rows) == len(frame)
    assert rows[0][0].fill.fill_type == "solid" and rows[1][0].fill.fill_type is None


def test_table_beyond_the_last_row_goes_on_on_another_sheet(tmp_path, monkeypatch):
    monkeypatch.setattr(tables, "LAST_EXCEL_ROW", 10)
    book = ResultBook()
    rows = [{"status": str(place)} for place in range(13)]
    write_table(book, "T", "mark", [text_field("status", "Status")], rows, statement=("what",))
    book.save(tmp_path / "t.xlsx", "2026-03-02", write_last=lambda kept: None)
    made = openpyxl.load_workbook(tmp_path / "t.xlsx")
    assert made.sheetnames == ["T", "T 2", "T 3"]
    values = [row[0] for sheet in made for row in sheet.iter_rows(min_row=5, values_only=True)]
    assert values == [row["status"] for row in rows]


def test_infinite_result_is_refused(tmp_path):
    for rows in (pd.DataFrame({"value": [1.0, np.inf]}), [{"value": np.inf}]):
        book = ResultBook()
        write_table(book, "T", "m", [number_field("value", "Value", 2)], rows, statement=())
        with pytest.raises(ValueError, match="infinity"):
            book.save(tmp_path / "t.xlsx", None, write_last=lambda kept: None)
        assert os.listdir(tmp_path) == []


def test_kept_lines_are_as_many_as_was_said_and_are_read_again(tmp_path):
    lines = {"A": ["1 'x", "", "#12345678 - 2"] * 300, "B": ["-"], "C": []}
    plan = [("A", 900, 250), ("B", 1, 1), ("C", 0, 0)]
    with as_written.KeptLines(plan, tmp_path) as kept:
        for sheet, texts in lines.items():
            kept.keep(sheet, texts)
        records = list(kept)
        assert len(records) == len(kept) > 3 and os.listdir(tmp_path) == []
    found = [(record["sheet"], record["row"], record["line"]) for record in records]
    assert found[0] == (as_written.NAME, 0, as_written.hash_of(found[1:]))
    texts = [line for sheet, _, text in found if sheet == "A" for line in text.split(" | ")]
    assert [line.strip("-") for line in texts] == lines["A"]
    # Source: Excel specifications and limits: a cell holds 32,767 characters.
    assert max(len(text) for _, _, text in found) <= 32_767


def test_unknown_is_an_empty_cell():
    for value in (None, float("nan"), np.nan, np.float32("nan"), pd.NA, pd.NaT,
                  np.datetime64("NaT"), ""):
        assert cell_value(value) is None


def test_numpy_values_become_pythons():
    for value, wanted in ((np.float64(2.5), 2.5), (np.int64(3), 3), (np.bool_(True), True),
                          (True, True), (np.str_("a"), "a"),
                          (pd.Timestamp("2026-01-02"), datetime.datetime(2026, 1, 2))):
        found = cell_value(value)
        assert found == wanted and type(found) in (type(wanted), np.str_)


def test_infinity_and_objects_are_refused():
    for value in (float("inf"), -np.inf):
        with pytest.raises(ValueError, match="infinity"):
            cell_value(value)
    with pytest.raises(TypeError, match="list"):
        cell_value([1])


def test_control_characters_and_length():
    # Source: XML 1.0 (fifth edition), 2.2, characters; Excel specifications and limits: a cell
    # holds 32,767 characters.
    assert clean_text("a\x00b\x1f\ud800\uffff\tc\r\nd") == "ab\tc\nd"
    assert len(clean_text("x" * 40_000)) == 32_767


def test_date_keeps_the_iso_format_under_a_look(tmp_path):
    cell, = saved(tmp_path, [datetime.date(2026, 3, 2)], HEADER)
    assert cell.is_date and cell.number_format == "yyyy-mm-dd"


def test_number_formats_follow_the_dictionary():
    formats = {c.key: number_format(c) for c in (*CANDIDATES.columns, *UNIT_COSTS.columns)}
    assert formats["flow_gpm"] == "#,##0" and formats["pipe_diameter_in"] == "#,##0.000"
    assert formats["price_year"] == "0" and formats["candidate_id"] == "@"
    assert formats["application_date"] == "yyyy-mm-dd"


def test_same_cells_give_the_same_bytes(tmp_path, monkeypatch):
    saved(tmp_path, ["a", 1.5], HEADER)
    first = (tmp_path / "cells.xlsx").read_bytes()
    # The clock of the zip archive's parts is moved on by a year.
    later = (2027, 6, 5, 4, 3, 2, 0, 1, 0)
    monkeypatch.setattr("zipfile.time.localtime", lambda *_: later)
    saved(tmp_path, ["a", 1.5], HEADER)
    assert (tmp_path / "cells.xlsx").read_bytes() == first
    with zipfile.ZipFile(tmp_path / "cells.xlsx") as archive:
        assert {entry.date_time for entry in archive.infolist()} == {package.ZIP_DATE}
        assert archive.namelist()[0] == "[Content_Types].xml"


def test_document_date_is_the_given_one(tmp_path):
    save_deterministic(openpyxl.Workbook(), tmp_path / "a.xlsx", "2026-03-02")
    properties = openpyxl.load_workbook(tmp_path / "a.xlsx").properties
    assert properties.created == properties.modified == datetime.datetime(2026, 3, 2)


def test_failed_write_leaves_the_old_file_whole(tmp_path, monkeypatch):
    path = tmp_path / "a.xlsx"
    path.write_bytes(b"old")

    def refused(*_):
        raise PermissionError("the file is open in another program")

    monkeypatch.setattr(os, "replace", refused)
    with pytest.raises(PermissionError):
        save_deterministic(openpyxl.Workbook(), path)
    assert path.read_bytes() == b"old" and os.listdir(tmp_path) == ["a.xlsx"]
