"""Malformed files by name, each made in a folder from a good workbook and a good run folder."""

import json
import os
import shutil
from pathlib import Path

from openpyxl.cell.cell import Cell

DEEP = "[" * 100_000


def plain_files(place: Path) -> dict[str, Path]:
    """What may be named in place of any file: name -> path."""
    made = {"a name too long": place / ("x" * 300 + ".xlsx"),
            "a path too long": Path(place, *["deep"] * 1200, "x.xlsx"),
            "missing": place / "missing.xlsx", "a device": Path("/dev/zero"),
            "below a file": place / "empty.xlsx" / "x.xlsx"}
    for name, content in {"empty": b"", "text": b"candidate_id\n1\n", "binary": b"\0\xff" * 900,
                          "broken zip": b"PK\x03\x04" + b"\0" * 900}.items():
        made[name] = place / f"{name.replace(' ', '-')}.xlsx"
        made[name].write_bytes(content)
    made["a link to itself"] = place / "loop.xlsx"
    made["a link to itself"].symlink_to("loop.xlsx")
    made["a pipe"] = place / "pipe.xlsx"
    os.mkfifo(made["a pipe"])
    made["an empty folder"] = place / "folder"
    made["an empty folder"].mkdir()
    return made


def changed_run(run: Path, place: Path, name: str, content: bytes | None) -> Path:
    """A copy of a run folder with one file replaced, by a folder where the content is None."""
    folder = Path(shutil.copytree(run, place / "run"))
    (folder / name).unlink()
    (folder / name).mkdir() if content is None else (folder / name).write_bytes(content)
    return folder


RECORDS = {
    "empty": b"", "binary": b"\0\xff" * 99, "a folder": None, "deep": DEEP.encode(),
    "a list": b"[]", "a huge number": b'{"a": ' + b"1" * 10_000 + b"}",
    "wrong types": b'{"fingerprint": 1, "content": [], "files_sha256": 2}',
    "no study": json.dumps({"fingerprint": "a", "content": {}, "files_sha256": {}}).encode(),
    "half a sign": b'{"fingerprint": "a", "content": {"study": {"study_name": "\\ud800"}}, '
                   b'"files_sha256": {}}'}
RESULTS = {"empty": b"", "binary": b"\0\xff" * 99, "a folder": None, "foreign": b"a,b\n1,2\n",
           "an open quote": b'candidate_id,verdict,rank,in_budget\n"F-1,a,1,yes\n'}


def edited(book, place: Path, edit) -> Path:
    """A copy of the result workbook that openpyxl holds, changed by hand; the book stays what it
    was, since to open it takes longer than most of what it is opened for."""
    sheets = list(book.worksheets)
    kept = [(sheet, dict(sheet._cells), [(cell, cell.value) for cell in sheet._cells.values()
                                         if type(cell) is Cell]) for sheet in sheets]
    edit(book)
    book.save(place / "edited.xlsx")
    book._sheets[:] = sheets
    for sheet, cells, values in kept:
        sheet._cells.clear()
        sheet._cells.update(cells)
        for (row, column), cell in cells.items():
            cell.row, cell.column = row, column
        for cell, value in values:
            cell.value = value
    return place / "edited.xlsx"


def cell_at(book, sheet, key, header="Value"):
    """The cell of a key and value sheet, as of 'Program used'."""
    rows = list(book[sheet].iter_rows())
    head = next(row for row in rows if row[0].value == "Key")
    row = next(row for row in rows if row[0].value == key)
    return row[[cell.value for cell in head].index(header)]


def rule(key, value):
    def edit(book):
        cell_at(book, "Program used", key).value = value
    return edit


def record_cell(key, value):
    def edit(book):
        cell_at(book, "Record", key).value = value
    return edit


def without(sheet):
    return lambda book: book.remove(book[sheet])


def filled(sheet, value):
    def edit(book):
        for row in book[sheet].iter_rows():
            for cell in row:
                if type(cell).__name__ == "Cell":
                    cell.value = value
    return edit


def emptied(sheet):
    return lambda book: book[sheet].delete_rows(1, book[sheet].max_row)


def with_row(sheet, *values):
    return lambda book: book[sheet].append(values)


# Changed by hand so that they cannot be computed again.
EDITS = {
    "0 study years": rule("study_years", 0), "study years of words": rule("study_years", "many"),
    "study years of 5,000 digits": rule("study_years", "9" * 5000),
    "eleven shares": rule("season_share_pct", "50, 50"), "shares of words": rule(
        "season_share_pct", "abc"), "tiers of words": rule("incentive_tiers", "abc"),
    "items of words": rule("incentive_eligible_items", "gold"),
    "another motor voltage": rule("motor_voltage_v", 575),
    "no choice": rule("set_goal", "glory"), "no Results": without("Results"),
    "no Record": without("Record"), "no rules": without("Program used"),
    "words in Results": filled("Results", "x"), "nothing in Results": emptied("Results"),
    "words in Record": filled("Record", "x"), "words in rules": filled("Program used", "x"),
    "nothing in rules": emptied("Program used"), "words in Study": filled("Input Study", "x"),
    "nothing in Study": emptied("Input Study"), "words in Candidates": filled("Candidates", "x"),
    "words in the kept cells": filled("Cells as written", "x"),
    "a study named twice": with_row("Input Study", "study_name", "Another")}
# Changed by hand, and still computed: the change is told, and the run is not the same.
TOLD = {
    "record of brackets": record_cell("sha256.results", DEEP[:20_000]),
    "year of brackets": record_cell("rules_year", "[1]"),
    "program of brackets": record_cell("program.version", "[1]"),
    "a record doubled as a list": with_row("Record", "program", "[3]"),
    "a table doubled as a word": with_row("Record", "sha256", "x"),
    "no fingerprint": record_cell("fingerprint", None),
    "a rule named twice": with_row("Program used", "study_years", "Years", 7)}

SCENARIOS = {
    "empty": b"", "binary": b"\0\xff", "deep": f"name = {DEEP}".encode(),
    "deep tables": ("[" + "a." * 50_000 + "a]").encode(), "huge": b"#" * 2_000_000,
    "a huge number": b"name = 'a'\n[prices]\nline = " + b"1" * 5_000,
    "no number": b"name = 'a'\n[prices]\nline = nan", "a date": b"name = 2026-01-01",
    "doubled": b"name = 'a'\nname = 'b'", "a word for a table": b"name = 'a'\nrules = 1",
    "a table for a rule": b"name = 'a'\n[rules.study_years]\na = 1",
    "0 study years": b"name = 'a'\n[rules]\nstudy_years = 0",
    "a list rule of words": b"name = 'a'\n[rules]\nseason_share_pct = 'abc'",
    "a list for a text": b"name = 'a'\n[rules]\nincentive_tiers = [[1, 2]]",
    "a rule of 5,000 digits": b"name = 'a'\n[rules]\nstudy_years = '" + b"9" * 5_000 + b"'"}
TEMPLATES = {"deep": b"{% if 1 %}" * 3_000, "deep brackets": b"{{ " + b"(" * 5_000,
             "binary": b"\0\xff", "a folder": None, "unfinished": b"{% for"}
