"""Every known trap of a spreadsheet as a workbook of its own, and what the reader makes of it.

    python -m tests.workbooks.traps FOLDER      writes them all, to look at in a spreadsheet program

Each is the plain workbook of one farm with one thing changed. `finds` are the findings that come
with it, as (key, slug); `reads` what the farm's cells are taken for; `farms` how many rows are
candidates; `refusal` words of the sentence with which the workbook is not read at all.
"""

import datetime
import sys
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from openpyxl.comments import Comment
from openpyxl.styles import PatternFill
from openpyxl.utils.datetime import CALENDAR_MAC_1904
from openpyxl.worksheet.table import Table

from batch.columns import CANDIDATES
from batch.reading.guard import OLE_SIGNATURE
from tests.workbooks.as_strict import as_strict, with_iso_dates
from tests.workbooks.make import (
    candidate_workbook,
    cell,
    sheet_part,
    with_part,
    with_stored_value,
)

DAY = datetime.date(2026, 4, 30)
LONGEST = "x" * 32_767  # Source: Excel specifications and limits, characters that a cell holds


@dataclass(frozen=True)
class Trap:
    """A workbook with one trap, and what is expected of it."""

    make: Callable[[Path], Path]
    finds: set = field(default_factory=set)
    reads: dict = field(default_factory=dict)
    farms: int = 1
    refusal: str = ""


def cells(**values):
    """The plain workbook with other cells in its farm."""
    return lambda folder: candidate_workbook(folder, [values])


def edited(edit, rows=({},), **options):
    """The plain workbook changed by a function of the openpyxl workbook."""
    return lambda folder: candidate_workbook(folder, rows, edit=edit, **options)


def farms(edit):
    """The same by a function of its Candidates sheet."""
    return edited(lambda book: edit(book[CANDIDATES.name]))


def part(name, change):
    """The plain workbook with one part of its archive rewritten."""
    return lambda folder: with_part(candidate_workbook(folder), name, change)


def sheet_xml(change, rows=({},)):
    """The plain workbook with the XML of its Candidates sheet rewritten."""
    def make(folder):
        path = candidate_workbook(folder, rows)
        return with_part(path, sheet_part(CANDIDATES.name, path), change)
    return make


def file_of(content: bytes):
    """A file that is no workbook, under the name of one."""
    def make(folder):
        path = folder / "study.xlsx"
        path.write_bytes(content)
        return path
    return make


# --- what is done to the workbook -----------------------------------------------------------------

def stored_formula(folder):
    path = candidate_workbook(folder, [{"flow_gpm": "=300+500"}])
    return with_stored_value(path, b"300+500", b"800")


def formatted(key, number_format):
    def change(sheet):
        sheet[cell(key)].number_format = number_format
    return change


def format_far_below(sheet):
    for row in range(5_000, 5_100):
        sheet.cell(row, 3).fill = PatternFill("solid", fgColor="EEEEEE")


def value_behind_the_headers(sheet):
    sheet.cell(2, sheet.max_column + 2).value = "see the map"


def blank_row_between(sheet):
    sheet.append([])
    sheet.append([])
    sheet.append(["F-2", *(c.value for c in sheet[2][1:])])


def title_keys_and_units(sheet):
    """A title above the header; below it the keys, and a row of units."""
    keys = [column.key for column in CANDIDATES.columns]
    sheet.insert_rows(2)
    for column, key in enumerate(keys, start=1):
        sheet.cell(2, column).value = key
    sheet.insert_rows(1, 2)
    sheet["A1"] = "Irrigation round 2026"


def units_below_the_headers(sheet):
    """Headers without units, and a row of units in their place."""
    sheet.insert_rows(2)
    for column, known in enumerate(CANDIDATES.columns, start=1):
        if known.key in ("flow_gpm", "pumping_lift_ft"):
            sheet.cell(1, column).value = known.label
            sheet.cell(2, column).value = {"flow_gpm": "L/s"}.get(known.key, "ft")


def hide(book):
    sheet = book[CANDIDATES.name]
    sheet.row_dimensions[2].hidden = True
    sheet.column_dimensions["H"].hidden = True
    sheet.auto_filter.ref = "A1:H2"
    sheet.auto_filter.add_filter_column(0, ["another farm"])
    book.create_sheet("Old notes").sheet_state = "hidden"
    book["Rates"].sheet_state = "veryHidden"


def merge_two_farms(sheet):
    """One flow for two farms: a merged cell holds its value in the upper row alone."""
    sheet.append(["F-2", *(c.value for c in sheet[2][1:])])
    sheet.merge_cells(f"{cell('flow_gpm')}:{cell('flow_gpm', 3)}")


def table_and_comment(sheet):
    sheet.add_table(Table(displayName="farms", ref=sheet.dimensions))
    sheet["B2"].comment = Comment("ask again", "planner")


def same_sheet_twice(book):
    book.create_sheet("CANDIDATES ")


def turn_to_1904(book):
    book.epoch = CALENDAR_MAC_1904


def error_cell(sheet):
    sheet[cell("pivot_pressure_psi")].value = "#DIV/0!"  # openpyxl makes it a cell of that type


def text_of_an_error(sheet):
    sheet[cell("farm_label")].value = "#N/A"
    sheet[cell("farm_label")].data_type = "s"


def formulas_as_text(sheet):
    for key, text in (("farm_label", "=1+1"), ("crop", "@corn"), ("feeder_id", "-F1")):
        sheet[cell(key)].value = text
        sheet[cell(key)].data_type = "s"


def strict(folder):
    return as_strict(candidate_workbook(folder, [{"application_date": DAY, "crop": "mañíz"}],
                                        edit=with_iso_dates))


def external_link(folder):
    return with_part(candidate_workbook(folder), "xl/externalLinks/externalLink1.xml",
                     lambda _: b'<externalLink><externalBook/></externalLink>')


def open_document(folder):
    path = folder / "study.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", "<office:document-content/>")
    return path


def entities(xml):
    return xml.replace(b"<worksheet", b'<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;">]>'
                                      b"<worksheet", 1)


# --- trap -> what is expected ---------------------------------------------------------------------

TRAPS = {
    # Formulas and errors
    "formula_without_value": Trap(cells(flow_gpm="=400*2"),
                                  {("flow_gpm", "formula-without-value")}),
    "formula_with_value": Trap(stored_formula, {("flow_gpm", "formula-value-used")},
                               {"flow_gpm": 800}),
    "error_cell": Trap(farms(error_cell), {("pivot_pressure_psi", "excel-error")}),
    "text_equal_to_an_error": Trap(farms(text_of_an_error), {("farm_label", "excel-error")}),
    "formulas_as_text": Trap(farms(formulas_as_text), reads={
        "farm_label": "=1+1", "crop": "@corn", "feeder_id": "-F1"}),
    # Numbers
    "number_in_date_format": Trap(farms(formatted("pumping_lift_ft", "yyyy-mm-dd")),
                                  {("pumping_lift_ft", "date-in-number-cell")}),
    "number_for_a_date": Trap(cells(application_date=46_142),
                              {("application_date", "number-in-date-cell")}),
    "percent_format": Trap(
        edited(lambda book: formatted("pump_efficiency_pct", "0%")(book[CANDIDATES.name]),
               [{"pump_efficiency_pct": 0.75}]),
        {("pump_efficiency_pct", "percent-cell")}, {"pump_efficiency_pct": 75}),
    "fraction_for_percent": Trap(cells(tower_duty_pct=0.6),
                                 {("tower_duty_pct", "fraction-for-percent"),
                                  ("tower_duty_pct", "unusual-value")}),
    "number_as_text": Trap(cells(flow_gpm="800"), {("flow_gpm", "number-from-text")},
                           {"flow_gpm": 800}),
    "number_with_its_unit": Trap(cells(pumping_lift_ft="43 m"),
                                 {("pumping_lift_ft", "unit-converted")}),
    "decimal_comma": Trap(cells(pipe_length_ft="1.300,5"),
                          {("pipe_length_ft", "ambiguous-number")}),
    "no_break_spaces": Trap(cells(pumping_lift_ft="\xa0140\u202f", farm_label="Añón\xa0sur"),
                            {("pumping_lift_ft", "number-from-text")},
                            {"pumping_lift_ft": 140, "farm_label": "Añón sur"}),
    "number_without_end": Trap(
        sheet_xml(lambda xml: xml.replace(b"<v>987</v>", b"<v>1e999</v>"), [{"flow_gpm": 987}]),
        {("flow_gpm", "not-a-number")}),
    # Text
    "leading_zeros_and_na": Trap(cells(candidate_id="007", farm_label="NA", crop="null"), reads={
        "candidate_id": "007", "farm_label": "NA", "crop": "null"}),
    "number_as_a_name": Trap(cells(candidate_id=7), reads={"candidate_id": "7"}),
    "control_characters": Trap(cells(farm_label="North\x7f 40"), {("farm_label", "text-cleaned")},
                               {"farm_label": "North 40"}),
    "longest_text": Trap(cells(farm_label=LONGEST), reads={"farm_label": LONGEST}),
    "word_almost_on_the_list": Trap(cells(present_power="Diesel-Engine"),
                                    {("present_power", "choice-corrected")},
                                    {"present_power": "diesel engine"}),
    "inline_texts": Trap(sheet_xml(lambda xml: xml.replace(
        b"<is><t>Field 1</t></is>", b"<is><r><t>Field </t></r><r><b/><t>1</t></r></is>")),
        reads={"farm_label": "Field 1"}),
    # Layout of a sheet
    "wrong_stated_dimension": Trap(sheet_xml(lambda xml: xml.replace(
        b'<dimension ref="A1:', b'<dimension ref="A1:B1" /><x was="')), reads={"flow_gpm": 800}),
    "no_stated_rows": Trap(sheet_xml(lambda xml: xml.replace(b'<row r="1"', b"<row").replace(
        b'<row r="2"', b"<row")), reads={"flow_gpm": 800}),
    "ragged_rows": Trap(farms(value_behind_the_headers), {("", "column-unknown")}),
    "formats_far_below": Trap(farms(format_far_below)),
    "blank_rows_between": Trap(farms(blank_row_between), {("", "blank-row-skipped")}, farms=2),
    "several_header_rows": Trap(farms(title_keys_and_units), {("", "header-row-skipped")}),
    "units_below_the_headers": Trap(
        edited(lambda book: units_below_the_headers(book[CANDIDATES.name]), [{"flow_gpm": 50}]),
        {("", "header-row-skipped"), ("flow_gpm", "unit-converted")},
        {"flow_gpm": 50 * 60 / 3.785411784}),  # Source: NIST SP 811, B.8: gallon in liters
    "hidden_rows_and_sheets": Trap(edited(hide), {("", "hidden-rows-read"),
                                                 ("", "hidden-sheet-read")},
                                   {"candidate_id": "F-1"}),
    "merged_cells": Trap(farms(merge_two_farms), {("flow_gpm", "value-missing")}, farms=2),
    "table_and_comment": Trap(farms(table_and_comment), reads={"flow_gpm": 800}),
    # Headers
    "metric_header": Trap(
        lambda folder: candidate_workbook(folder, [{"pumping_lift_ft": 43}],
                                          {"pumping_lift_ft": "Pumping lift [m]"}),
        {("pumping_lift_ft", "unit-converted")},
        {"pumping_lift_ft": 43 / 0.3048}),  # Source: NIST SP 811, B.8: 1 ft = 0.3048 m
    "unknown_header": Trap(cells(soil="loam"), {("", "column-unknown")}),
    "unknown_unit": Trap(
        lambda folder: candidate_workbook(folder, headers={"flow_gpm": "Flow [barrels/day]"}),
        refusal="is not known for this column"),
    "header_twice": Trap(
        lambda folder: candidate_workbook(folder, [{"Pumping lift": 150}]),
        refusal="mean the same column"),
    "required_column_missing": Trap(
        lambda folder: candidate_workbook(folder, headers={"flow_gpm": None}),
        refusal="column is missing"),
    # Rows against each other
    "same_farm_twice": Trap(
        lambda folder: candidate_workbook(folder, [{}, {"candidate_id": "F-1"}]),
        {("candidate_id", "id-repeated")}, farms=2),
    "example_row_left_in": Trap(
        lambda folder: candidate_workbook(folder, [{}, {"candidate_id": "EXAMPLE"}]),
        {("candidate_id", "example-row-skipped")}),
    # Ways of saving
    "dates_from_1904": Trap(edited(turn_to_1904, [{"application_date": DAY}]),
                            reads={"application_date": "2026-04-30"}),
    "strict_with_iso_dates": Trap(strict, reads={"application_date": "2026-04-30",
                                                 "crop": "mañíz", "flow_gpm": 800}),
    "unknown_sheet": Trap(edited(lambda book: book.create_sheet("Field notes")),
                          {("", "sheet-unknown")}),
    "sheet_twice": Trap(edited(same_sheet_twice), refusal="Two sheets are called"),
    # Hostile, and what is no workbook
    "external_link": Trap(external_link, reads={"flow_gpm": 800}),
    "macro": Trap(part("xl/vbaProject.bin", lambda _: b"macro"), refusal="holds macros"),
    "entity_bomb": Trap(sheet_xml(entities), refusal="declares entities"),
    "zip_bomb": Trap(part("xl/media/a.bin", lambda _: b"\0" * 30_000_000),
                     refusal="times its size"),
    "password": Trap(file_of(OLE_SIGNATURE + b"\0" * 600 + "EncryptedPackage".encode("utf-16-le")),
                     refusal="protected with a password"),  # Source: MS-OFFCRYPTO, 2.3.4
    "old_format": Trap(file_of(OLE_SIGNATURE + b"\0" * 600 + "Workbook".encode("utf-16-le")),
                       refusal="old .xls format"),
    "open_document": Trap(open_document, refusal="an OpenDocument file"),
    "text_file": Trap(file_of(b"candidate_id,flow_gpm\nF-1,800\n"), refusal="whatever its name"),
}


def write(folder: Path, name: str) -> Path:
    """Write the workbook of one trap under the trap's name."""
    made = TRAPS[name].make(folder)
    return made.rename(made.with_name(f"{name}.xlsx"))


if __name__ == "__main__":
    place = Path(sys.argv[1])
    place.mkdir(parents=True, exist_ok=True)
    for trap in TRAPS:
        print(write(place, trap))
