"""Nothing in a workbook is lost in silence: every odd order of rows and cells is read rightly or
refused with its place. The oracle is a plain look at the XML, which shares nothing with the
reader."""

import json
import re
import shutil
import subprocess
from types import SimpleNamespace

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl.utils import get_column_letter

from batch.columns import CANDIDATES
from batch.findings import StudyError
from batch.reading import balance
from batch.reading.guard import check_file
from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.run_folder import write_run
from tests.workbooks.make import candidate_workbook, read_cells, sheet_part, with_part
from tests.workbooks.odd import CHANGES, by_seed, changed, places_in, plain, texts_in


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("odd")


@pytest.fixture(scope="module")
def path(folder):
    return plain(folder)


def text_of(value) -> str:
    return f"{value:g}" if isinstance(value, (int, float)) else str(value)


def read_places(cells) -> dict[str, str]:
    """Address -> text of what was handed on, the headers and the rows."""
    places = {f"{h.letter}{cells.header_row}": h.text for h in cells.headers if h.text}
    for row, values in cells.rows:
        places |= {f"{cells.headers[i].letter}{row}": text_of(value)
                   for i, value in enumerate(values) if value is not None}
    return places


def is_same(one: str, other: str) -> bool:
    try:
        return float(one) == float(other)
    except ValueError:
        return one.strip() == other.strip()


def must_lose_nothing(odd):
    """A refusal that names the sheet and row, or every cell of the file at its own place."""
    try:
        cells = read_cells(odd)["Candidates"]
    except StudyError as refusal:
        assert "Candidates" in refusal.what or "is damaged" in refusal.what
        return False
    there = places_in(odd)
    assert cells.reading["in_file"]["cells"] == len(there) == len(texts_in(odd))
    skipped = {str(row) for row in (*cells.repeated_header_rows, cells.unit_row) if row}
    there = {place: text for place, text in there.items()
             if re.sub("[A-Z]", "", place) not in skipped}
    read = read_places(cells)
    assert read.keys() == there.keys()
    assert all(is_same(read[place], there[place]) for place in there)
    return True


@settings(max_examples=150, deadline=None,
          suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(names=st.lists(st.sampled_from(CHANGES), min_size=1, max_size=3), data=st.data())
def test_no_order_of_rows_and_cells_loses_a_cell_in_silence(folder, path, names, data):
    draw = SimpleNamespace(randrange=lambda *ends: data.draw(st.integers(
        ends[0] if len(ends) > 1 else 0, ends[-1] - 1)))
    must_lose_nothing(changed(path, folder / "odd.xlsx", names, draw))


def test_generator_makes_both_what_is_read_and_what_is_refused(folder, path):
    read = [must_lose_nothing(by_seed(path, folder / "odd.xlsx", seed)) for seed in range(40)]
    assert 5 <= sum(read) <= 35


# --- each case by itself --------------------------------------------------------------------------

def rewritten(folder, change, sheet="Candidates"):
    path = candidate_workbook(folder, [{}, {}, {}])
    return with_part(path, sheet_part(sheet, path), change)


def put(old: bytes, new: bytes):
    def change(xml):
        assert old in xml
        return xml.replace(old, new, 1)
    return change


def rows_swapped(xml):
    rows = re.findall(rb"<row .*?</row>", xml)
    return xml.replace(rows[1] + rows[2], rows[2] + rows[1])


def row_in(prefix: bytes):
    return lambda xml: xml.replace(b'<row r="3"', b"<" + prefix + b'row xmlns:q="urn:q" r="3"'
                                   ).replace(b'</row><row r="4"', b"</" + prefix
                                             + b'row><row r="4"')


LAST = get_column_letter(len(CANDIDATES.columns))  # of the header
WRONG_PLACES = {
    "rows out of order": (rows_swapped, "row 2, cell A2"),
    "row twice": (put(b'<row r="4"', b'<row r="3"'), "row 3, cell A3"),
    "row 0": (put(b'<row r="2"', b'<row r="0"'), f"row 1, cell {LAST}1"),
    "negative row": (put(b'<row r="2"', b'<row r="-2"'), f"row 1, cell {LAST}1"),
    "row under a foreign namespace": (row_in(b"q:"), "row 2, cell BB2"),
    "second block of rows": (put(b'</row><row r="4"', b'</row></sheetData><sheetData><row r="4"'),
                             "row 3, cell BB3"),
    "cells out of order": (put(b'<c r="A3"', b'<c r="C3"'), "row 3, cell B3"),
    "cell twice": (put(b'<c r="B3"', b'<c r="A3"'), "row 3, cell A3"),
    "cell with another row's address": (put(b'<c r="B3"', b'<c r="B9"'), "row 3, cell B3"),
    "header's cells out of order": (put(b'<c r="A1"', b'<c r="C1"'), "row 1, cell B1"),
    "header's cell twice": (put(b'<c r="B1"', b'<c r="A1"'), "row 1, cell A1"),
    "header with another row's address": (put(b'<c r="B1"', b'<c r="B2"'), "row 1, cell B1"),
    "text without the kind of one": (put(b'<c r="B3" t="inlineStr">', b'<c r="B3">'),
                                     "row 3, cell B3"),
    "number with a low line": (lambda xml: re.sub(rb"<v>800</v>", b"<v>8_00</v>", xml, count=1),
                               "row 2, cell T2"),
}


@pytest.mark.parametrize("case", WRONG_PLACES)
def test_what_stands_at_a_wrong_place_is_refused_with_its_place(tmp_path, case):
    change, place = WRONG_PLACES[case]
    with pytest.raises(StudyError) as stop:
        validate(rewritten(tmp_path, change))
    assert "Candidates" in stop.value.what and f"{place}:" in stop.value.what
    assert "spreadsheet program" in stop.value.next_step


@pytest.mark.parametrize("sheet", ["Study", "Rates", "Unit costs"])
def test_other_sheets_are_held_to_the_same(tmp_path, sheet):
    with pytest.raises(StudyError, match=f"{sheet} sheet cannot be read whole: row 2, cell A2:"):
        validate(rewritten(tmp_path, put(b'<c r="A2"', b'<c r="A9"'), sheet))


def test_rows_and_cells_without_numbers_follow_one_another(tmp_path):
    """Source: ECMA-376, 5th edition, part 1, 18.3.1.73 and 18.3.1.4: r is optional."""
    path = plain(tmp_path)
    before = read_cells(path)["Candidates"].rows
    path = with_part(path, sheet_part("Candidates", path), lambda xml: re.sub(
        rb'<row r="\d+"', b"<row", xml))
    assert read_cells(path)["Candidates"].rows == before
    first = re.compile(rb'(<c) r="[ABC]\d+"')  # no cell before them is left out
    path = with_part(path, sheet_part("Candidates", path), lambda xml: first.sub(rb"\1", xml))
    assert read_cells(path)["Candidates"].rows == before


def test_sheet_without_its_part_is_refused(tmp_path):
    path = candidate_workbook(tmp_path, feeders=[{"feeder_id": "F1"}])
    part = sheet_part("Feeders", path)
    path = with_part(path, "xl/_rels/workbook.xml.rels",
                     put(part.encode(), b"xl/worksheets/lost.xml"))
    with pytest.raises(StudyError, match="'Feeders' is missing"):
        read_cells(path)


def test_shared_text_under_a_foreign_namespace_is_refused(tmp_path):
    """It would move every text behind it to another cell."""
    path = candidate_workbook(tmp_path)
    texts = (b'<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
             b'<q:si xmlns:q="urn:q"><t>lost</t></q:si><si><t>kept</t></si></sst>')
    path = with_part(path, "xl/sharedStrings.xml", lambda _: texts)
    path = with_part(path, "[Content_Types].xml", put(b"</Types>", (
        b'<Override PartName="/xl/sharedStrings.xml" ContentType="application/vnd.openxmlformats-'
        b'officedocument.spreadsheetml.sharedStrings+xml"/></Types>')))
    with pytest.raises(StudyError, match="shared text"):
        read_cells(path)


# --- the balance ----------------------------------------------------------------------------------

def test_a_reader_that_drops_a_cell_is_found_out(tmp_path):
    """The count knows of two filled cells that the handed-on rows no longer hold."""
    path = candidate_workbook(tmp_path, [{}, {}])
    cells, file = read_cells(path)["Candidates"], check_file(path)
    part = sheet_part("Candidates", path)
    row, values = cells.rows[1]
    cells.rows[1] = (row, (values[0], None, *values[2:]))
    with pytest.raises(StudyError, match="row 3 has 24 filled cells.* 23 were read.*Candidates!B3"):
        balance.reading_of(cells, file.count_of(part), lambda r: file.letters_of_row(part, r))
    del cells.rows[1]
    with pytest.raises(StudyError, match="row 3 .* 0 were read.*Candidates!A3"):
        balance.reading_of(cells, file.count_of(part), lambda r: file.letters_of_row(part, r))


def test_record_holds_what_the_file_has_and_what_was_read(tmp_path):
    def dress(book):
        sheet = book["Candidates"]
        sheet.insert_rows(1, 2)
        sheet["A1"] = "Irrigation round"
        sheet["D7"] = "  "

    path = candidate_workbook(tmp_path, [{}, {}], edit=dress)
    study = run_study(validate(path))
    out = write_run(study, tmp_path / "out", overwrite=False, options={})
    reading = json.loads((out / "record.json").read_text(encoding="utf-8"))["content"]["reading"]
    book = openpyxl.load_workbook(path)
    for name, numbers in reading.items():  # openpyxl's other way of reading, whole, not by rows
        filled = [[c.value for c in row if c.value is not None] for row in book[name].iter_rows()]
        assert numbers["in_file"] == {"rows": sum(map(bool, filled)),
                                      "cells": sum(map(len, filled))}
        assert all(numbers["in_file"][what] == numbers["read"][what] + numbers["set_aside"][what]
                   for what in ("rows", "cells"))
    # The title, the header and the blank text are set aside; two farms are read.
    assert reading["Candidates"]["read"]["rows"] == 2
    assert reading["Candidates"]["set_aside"]["rows"] == 3
    rows = openpyxl.load_workbook(out / "result.xlsx")["Record"].iter_rows(values_only=True)
    told = {row[0]: row[1] for row in rows}
    assert json.loads(told["reading.Candidates"]) == reading["Candidates"]


# --- another program's view -----------------------------------------------------------------------

def test_whatever_a_spreadsheet_program_shows_is_read_or_refused(tmp_path, tool):
    """LibreOffice opens many odd workbooks in one call; each farm that it shows is read by us, or
    we refuse the workbook."""
    source, shown = tmp_path / "odd", tmp_path / "shown"
    source.mkdir()
    path = plain(tmp_path)
    odd = [by_seed(path, source / f"odd{seed}.xlsx", seed) for seed in range(40)]
    shutil.copy(path, source / "plain.xlsx")
    subprocess.run([tool("soffice"), f"-env:UserInstallation={(tmp_path / 'p').as_uri()}",
                    "--headless", "--convert-to", "xlsx", "--outdir", shown, *odd,
                    source / "plain.xlsx"], check=True, capture_output=True, timeout=300)
    compared = 0
    for file in (*odd, source / "plain.xlsx"):
        if not (shown / file.name).exists():
            continue  # it does not open there, either
        book = openpyxl.load_workbook(shown / file.name)
        ids = {value for row in book["Candidates"].iter_rows(values_only=True) for value in row
               if isinstance(value, str) and value.startswith("F-")}
        try:
            cells = read_cells(file)["Candidates"]
        except StudyError:
            continue
        compared += 1
        assert ids <= {value for _, values in cells.rows for value in values}, file.name
    assert compared >= 5
