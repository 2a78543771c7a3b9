"""A table on a sheet of a result workbook: title, statement, header, rows, print setup."""

import math
from dataclasses import dataclass, replace
from functools import cache

from openpyxl.comments import Comment
from openpyxl.utils import get_column_letter

from batch.columns.column import Column
from batch.findings import ERROR, FAILS, NOT_ASSESSED, NOTE, WATCH
from batch.workbook import as_written
from batch.workbook.styles_and_text import (
    AMBER_FILL,
    GREEN_FILL,
    HEADER,
    PAPER,
    RED_FILL,
    SUBTITLE,
    TITLE,
    Look,
    cell_for,
    clean_text,
    number_format,
)

TEXT_WIDTH = {"verdict_reason": 62, "option_reason": 60, "message": 90, "help": 70, "source": 60,
              "remedy": 55, "candidate_id": 13, "farm_label": 22, "variant": 18, "rule": 40,
              "supply_option": 19, "verdict": 24, "check": 34, "service_conductor": 20,
              "grounding_conductor": 16, "value": 26, "label": 38, "key": 34, "header": 38,
              "worked": 60, "slug": 24, "blank_inputs": 30, "limit": 14}
# A mark is a word in the cell; the fill only helps the eye.
FILL_BY_WORD = {
    FAILS: RED_FILL, ERROR: RED_FILL, "does not qualify": RED_FILL, "incomplete": RED_FILL,
    WATCH: AMBER_FILL, NOT_ASSESSED: AMBER_FILL, "qualifies with conditions": AMBER_FILL,
    "qualifies": GREEN_FILL, "meets": GREEN_FILL, NOTE: PAPER}
TEXT_LOOK = Look(horizontal="left", indent=1)
WRAPS_FROM = 36
HEADER_HEIGHT, LINE_HEIGHT, MOST_LINES = 48, 15, 12
PAGE_WIDTH = 245  # characters on a printed page at the smallest print that is still read
LONGEST_NOTE = 1_500
US_LETTER = 1  # paper code of ECMA-376, 18.3.1.63


@dataclass(frozen=True)
class Field:
    """One column of an output table."""

    key: str
    header: str
    look: Look
    width: float
    help: str = ""


def field_of(column: Column) -> Field:
    """An output column as the dictionary describes it."""
    is_text = not column.is_numeric
    wrap = TEXT_WIDTH.get(column.key, 0) >= WRAPS_FROM
    look = TEXT_LOOK if is_text else Look(number_format=number_format(column))
    look = replace(look, wrap=wrap)
    return Field(column.key, column.header, look, _width(column.key, column.header, is_text),
                 column.help)


def text_field(key: str, header: str) -> Field:
    """An output column of text that the dictionary does not hold."""
    return Field(key, header, replace(TEXT_LOOK, wrap=TEXT_WIDTH.get(key, 0) >= WRAPS_FROM),
                 _width(key, header, is_text=True))


def number_field(key: str, header: str, decimals: int) -> Field:
    """An output column of numbers that the dictionary does not hold."""
    places = "." + "0" * decimals if decimals else ""
    return Field(key, header, Look(number_format=f"#,##0{places}"), _width(key, header, False))


def _width(key, header, is_text):
    longest_word = max(len(word) for word in header.split())
    least = 16 if is_text else 12
    return TEXT_WIDTH.get(key, max(least, longest_word + 3, len(header) / 3 + 4))


def marked(look: Look, word: str) -> Look:
    """The look of a cell with a verdict, answer or severity in it."""
    fill = FILL_BY_WORD.get(word)
    return _filled(look, fill) if fill else look


@cache
def _filled(look: Look, fill: str) -> Look:
    return replace(look, fill=fill)


class PrintedSheet:
    """A sheet that is written from top to bottom: landscape letter paper, fingerprint in its
    footer. `row` is the number of rows written, `height` their height in points."""

    def __init__(self, workbook, name: str, mark: str, *, freeze: str | None = None):
        self.workbook, self.worksheet = workbook, workbook.create_sheet(name)
        sheet = self.worksheet
        self.row, self.height = 0, 0.0
        sheet.freeze_panes = freeze
        sheet.sheet_view.zoomScale = 90
        sheet.page_setup.orientation = "landscape"
        sheet.page_setup.paperSize = US_LETTER
        sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
        sheet.sheet_properties.pageSetUpPr.fitToPage = True
        sheet.page_margins.left = sheet.page_margins.right = 0.4
        sheet.page_margins.top, sheet.page_margins.bottom = 0.5, 0.75
        sheet.page_margins.footer = 0.35
        sheet.oddFooter.left.text = f"{name} - fingerprint {mark}"
        sheet.oddFooter.center.text = "Screening only: a licensed engineer decides"
        sheet.oddFooter.right.text = "Page &P of &N"

    def append(self, cells, height: float | None = None):
        """Write the next row; `height` in points, else the program's own."""
        self.row += 1
        self.height += LINE_HEIGHT if height is None else height
        if height is not None:
            self.worksheet.row_dimensions[self.row].height = height
        as_written.keep(self.workbook, self.worksheet.title, cells)
        self.worksheet.append(cells)

    def cell(self, value, look: Look | None = None):
        """A cell for the next row."""
        return cell_for(self.worksheet, value, look)

    def set_widths(self, widths):
        """Column widths; they must be set before the first row. Wide tables print over several
        pages side by side, so that they stay readable."""
        total = 0.0
        for place, width in enumerate(widths, start=1):
            self.worksheet.column_dimensions[get_column_letter(place)].width = width
            total += width
        self.worksheet.page_setup.fitToWidth = math.ceil(total / PAGE_WIDTH)

    def append_header(self, fields, more=()):
        """The header row, each header with its help as a cell note."""
        cells = [self.cell(field.header, HEADER) for field in fields]
        for cell, field in zip(cells, fields):
            if field.help:
                cell.comment = note(field.help)
        self.append([*cells, *more], HEADER_HEIGHT)

    def append_record(self, fields, record, more=()):
        """One row of a table, as high as its wrapped texts need; blank values stay blank."""
        cells, lines = [], 1
        for field in fields:
            value, look = record[field.key], field.look
            if isinstance(value, str):
                look = marked(look, value)
                if look.wrap:
                    lines = max(lines, math.ceil(len(value) / (field.width * 1.05)))
            cells.append(self.cell(value, look))
        self.append([*cells, *more], None if lines == 1 else LINE_HEIGHT * min(lines, MOST_LINES))


def write_table(workbook, name: str, mark: str, fields: list[Field], records, *,
                statement: tuple[str, ...], frozen_columns: int = 1):
    """A whole sheet with one table under its title and statement. `records` are mappings by key;
    the frozen columns are repeated on every printed page."""
    header_row = 3 + len(statement)
    corner = f"{get_column_letter(frozen_columns + 1)}{header_row + 1}"
    sheet = PrintedSheet(workbook, name, mark, freeze=corner)
    sheet.set_widths(field.width for field in fields)
    sheet.worksheet.print_title_rows = f"{header_row}:{header_row}"
    sheet.worksheet.print_title_cols = f"A:{get_column_letter(frozen_columns)}"
    sheet.append([sheet.cell(name, TITLE)])
    for line in statement:
        sheet.append([sheet.cell(line, SUBTITLE)])
    sheet.append([])
    sheet.append_header(fields)
    for record in records:
        sheet.append_record(fields, record)
    last = get_column_letter(len(fields))
    sheet.worksheet.auto_filter.ref = f"A{header_row}:{last}{max(sheet.row, header_row + 1)}"


def note(text: str) -> Comment:
    """A cell note sized for its text."""
    text = clean_text(text)[:LONGEST_NOTE]
    return Comment(text, "farmbatch", width=320, height=30 + 18 * (len(text) // 42 + 1))
