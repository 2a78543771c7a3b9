"""Saving and writing cells: the same bytes, whole files, text that stays text."""

import datetime
import os
import zipfile

import numpy as np
import openpyxl
import pandas as pd
import pytest

from batch.columns import CANDIDATES, UNIT_COSTS
from batch.workbook import package
from batch.workbook.package import save_deterministic, write_whole_file
from batch.workbook.styles_and_text import (
    HEADER,
    Look,
    cell_for,
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


def test_text_in_write_only_mode_stays_text(tmp_path):
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("A")
    sheet.append([cell_for(sheet, "=1+1"), cell_for(sheet, 2.5, Look(number_format="0.000"))])
    save_deterministic(book, tmp_path / "a.xlsx")
    first, second = openpyxl.load_workbook(tmp_path / "a.xlsx").active[1]
    assert (first.data_type, first.value) == ("s", "=1+1")
    assert (second.value, second.number_format) == (2.5, "0.000")


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
    path = tmp_path / "a.txt"
    write_whole_file(path, b"old")

    def refused(*_):
        raise PermissionError("the file is open in another program")

    monkeypatch.setattr(os, "replace", refused)
    with pytest.raises(PermissionError):
        write_whole_file(path, b"new")
    assert path.read_bytes() == b"old" and os.listdir(tmp_path) == ["a.txt"]
