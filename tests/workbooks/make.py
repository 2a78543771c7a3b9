"""Small workbooks for tests, built from the examples of the dictionary. All data is invented."""

import re
import shutil
import zipfile
from pathlib import Path

import openpyxl

from batch.columns import (
    CANDIDATES,
    DELIVERED,
    FEEDERS,
    LIMITS,
    RATES,
    SHARED_LINES,
    STUDY,
    UNIT_COSTS,
)
from batch.reading.cells import read_workbook
from batch.reading.validate import validate

RATE = {
    "rate_id": "IRR", "customer_charge_usd_month": 40, "demand_charge_usd_kw": 6,
    "demand_months": "6-9", "block_1_usd_kwh": 0.095, "wholesale_energy_usd_kwh": 0.041,
    "wholesale_demand_usd_kw": 11, "wholesale_demand_months": "6-9",
}
LINES = (("line", 1, None, 7.5), ("line", 3, None, 14.0), ("line job", None, None, 900))
SIZES = {
    "transformer": ((25, 2400), (50, 3600), (75, 4700), (100, 5900), (167, 8800), (250, 13000)),
    "service conductor": ((100, 4), (200, 8), (400, 15), (600, 24), (800, 33)),
    "disconnect": ((100, 300), (200, 450), (400, 800), (1200, 2900)),
    "drive": ((20, 3200), (40, 5100), (75, 8200), (125, 13000), (200, 21000), (400, 43000)),
    "rotary converter": ((20, 4100), (40, 7300), (75, 12500), (125, 21000)),
    "line reactor 3 %": ((50, 700), (200, 2100)), "line reactor 5 %": ((50, 900), (200, 2600)),
    "DC choke": ((50, 800), (200, 2400)), "tuned filter": ((50, 5200), (200, 12500)),
    "active front end": ((50, 11000), (200, 31000)), "output reactor": ((50, 800), (200, 2300)),
    "dV/dt filter": ((50, 1300), (200, 3600)), "sine filter": ((50, 2900), (200, 8800)),
    "across-the-line starter": ((50, 900), (200, 2900)),
    "soft starter": ((50, 1600), (200, 4600)),
    "motor lead": ((50, 4), (100, 6), (200, 10), (400, 18), (800, 36), (1600, 72)),
    "pivot lead": ((30, 3.5), (50, 4.5), (100, 6.5), (200, 11), (500, 25)),
    "motor change": ((50, 3900), (200, 12500)),
    "meter and service": ((None, 1400),), "engineering": ((None, 600),),
}


def read_cells(path):
    """The cells of every known sheet of a workbook, by the dictionary's sheet name."""
    return read_workbook(path).by_sheet


def unit_cost_rows() -> list[dict]:
    """A short invented price list: every item, in a few sizes."""
    rows = [{"item": item, "phases": phases, "size": size, "price_usd": price}
            for item, phases, size, price in LINES]
    rows += [{"item": item, "size": size, "price_usd": price}
             for item, prices in SIZES.items() for size, price in prices]
    return [{**row, "price_year": 2026, "price_source": "invented"} for row in rows]


def example_row(number: int = 1, **changes) -> dict:
    """One valid candidate by the dictionary's examples, named F-1, F-2, ...; with changes."""
    row = {column.key: column.example for column in CANDIDATES.columns}
    row |= {"candidate_id": f"F-{number}", "farm_label": f"Field {number}"}
    return row | changes


def candidate_workbook(folder, rows=({},), headers=None, study=None, program=None, rates=None,
                       unit_costs=None, feeders=None, shared_lines=None, limits=None, edit=None,
                       name="study.xlsx", delivered=None) -> Path:
    """Write a minimal valid workbook and return its path.

    rows : one dict per candidate, key -> value; what it leaves out is the dictionary's example
        (candidate_id: F-1, F-2, ...). A key that the dictionary does not hold becomes a further
        column with the key as header.
    headers : key -> header text instead of the dictionary's, to write the column in another unit
        or under an alias. None as text leaves the column out.
    study, program : key -> value on these sheets; (value, unit, source) is possible for program.
        A study value of None leaves its key out.
    rates, unit_costs, feeders, shared_lines, limits, delivered : list of dicts, key -> value.
        Rates and unit costs have one rate 'IRR' and a short price list when not given; the other
        sheets are left out when not given.
    edit : function of the openpyxl workbook, called before it is saved, for anything else.

    The header of Candidates is row 1, the first candidate is row 2.
    """
    book = openpyxl.Workbook()
    book.remove(book.active)
    _add_pairs(book, STUDY.name, {"study_name": "Test study", "rules_year": 2026} | (study or {}))
    candidates = [example_row(n, **row) for n, row in enumerate(rows, start=1)]
    _add_table(book, CANDIDATES, candidates, headers or {})
    if program is not None:
        _add_pairs(book, "Program", program)
    _add_table(book, RATES, [RATE] if rates is None else rates)
    _add_table(book, UNIT_COSTS, unit_cost_rows() if unit_costs is None else unit_costs)
    if feeders is not None:
        _add_table(book, FEEDERS, feeders)
    if shared_lines is not None:
        _add_table(book, SHARED_LINES, shared_lines)
    for sheet, listed in ((LIMITS, limits), (DELIVERED, delivered)):
        if listed is not None:
            _add_table(book, sheet, listed)
    if edit:
        edit(book)
    path = Path(folder) / name
    book.save(path)
    return path


def _add_pairs(book, name: str, pairs: dict):
    worksheet = book.create_sheet(name)
    worksheet.append(["Key", "Value", "Unit", "Source"])
    for key, value in pairs.items():
        if value is not None:
            worksheet.append([key, *(value if isinstance(value, tuple) else (value,))])


def _add_table(book, sheet, rows: list[dict], headers=None):
    headers = headers or {}
    keys = [c.key for c in sheet.columns if headers.get(c.key, "") is not None]
    extra = [key for row in rows for key in row if key not in sheet.by_key]
    worksheet = book.create_sheet(sheet.name)
    worksheet.append([headers.get(key) or sheet.by_key[key].header for key in keys]
                     + list(dict.fromkeys(extra)))
    for row in rows:
        worksheet.append([row.get(key) for key in (*keys, *dict.fromkeys(extra))])


def cell(key: str, row: int = 2) -> str:
    """The cell of a candidate's key in a workbook with all columns, as 'H2'."""
    from openpyxl.utils import get_column_letter

    return f"{get_column_letter(list(CANDIDATES.by_key).index(key) + 1)}{row}"


def with_part(path: Path, part: str, change) -> Path:
    """The workbook with one part of its archive rewritten by a function of its bytes.

    A part that is not there yet is added; change gets b'' for it.
    """
    copy = path.with_name("changed_" + path.name)
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(copy, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name)
            new.writestr(name, change(content) if name == part else content)
        if part not in old.namelist():
            new.writestr(part, change(b""))
    shutil.move(copy, path)
    return path


def sheet_part(sheet_name: str, path: Path) -> str:
    """The name of the part that holds a sheet, in a workbook that openpyxl wrote."""
    book = openpyxl.load_workbook(path, read_only=True)
    number = book.sheetnames.index(sheet_name) + 1
    book.close()
    return f"xl/worksheets/sheet{number}.xml"


def with_stored_value(path, formula: bytes, stored: bytes, kind: bytes = b""):
    """Give a formula that openpyxl wrote the stored value that a spreadsheet program would."""
    def store(xml):
        xml, count = re.subn(
            b"<c ([^>]*)>(<f>" + re.escape(formula) + b"</f>)<v ?(?:/>|></v>)",
            lambda m: b"<c " + m[1] + kind + b">" + m[2] + b"<v>" + stored + b"</v>", xml)
        assert count == 1
        return xml

    return with_part(path, sheet_part("Candidates", path), store)


def read(folder, rows=({},), **options):
    """A workbook made by `candidate_workbook`, validated."""
    return validate(candidate_workbook(folder, rows, **options))


def findings(inputs, slug=None, severity=None) -> list[dict]:
    """The findings of validated inputs, of one slug or severity where asked."""
    return [f for f in inputs.findings.rows
            if slug in (None, f["slug"]) and severity in (None, f["severity"])]
