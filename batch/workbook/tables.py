"""A table on a sheet of a result workbook: title, statement, header, rows, print setup."""

from dataclasses import dataclass

from openpyxl.comments import Comment
from openpyxl.utils import get_column_letter

from batch.columns.column import Column
from batch.findings import ERROR, FAILS, NOT_ASSESSED, NOTE, WATCH
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

HEADER_ROW = 4
TEXT_WIDTH = {"verdict_reason": 60, "option_reason": 60, "message": 90, "help": 70, "source": 60,
              "remedy": 55, "candidate_id": 13, "farm_label": 26, "variant": 18, "rule": 40,
              "supply_option": 19, "verdict": 24, "check": 34, "service_conductor": 20,
              "grounding_conductor": 16, "value": 26, "label": 38, "key": 34, "header": 38,
              "worked": 60, "slug": 24, "blank_inputs": 30, "limit": 14}
# A mark is a word in the cell; the fill only helps the eye.
FILL_BY_WORD = {
    FAILS: RED_FILL, ERROR: RED_FILL, "does not qualify": RED_FILL, "incomplete": RED_FILL,
    WATCH: AMBER_FILL, NOT_ASSESSED: AMBER_FILL, "qualifies with conditions": AMBER_FILL,
    "qualifies": GREEN_FILL, "meets": GREEN_FILL, NOTE: PAPER}
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
    wrap = TEXT_WIDTH.get(column.key, 0) >= 50
    look = Look(number_format="General" if is_text else number_format(column), wrap=wrap)
    return Field(column.key, column.header, look, _width(column.key, column.header, is_text),
                 column.help)


def text_field(key: str, header: str) -> Field:
    """An output column of text that the dictionary does not hold."""
    return Field(key, header, Look(wrap=TEXT_WIDTH.get(key, 0) >= 50),
                 _width(key, header, is_text=True))


def number_field(key: str, header: str, decimals: int) -> Field:
    """An output column of numbers that the dictionary does not hold."""
    places = "." + "0" * decimals if decimals else ""
    return Field(key, header, Look(number_format=f"#,##0{places}"), _width(key, header, False))


def _width(key, header, is_text):
    longest_word = max(len(word) for word in header.split())
    least = 16 if is_text else 12
    return TEXT_WIDTH.get(key, max(least, longest_word + 3, len(header) / 3 + 4))


def marked(look: Look, word) -> Look:
    """The look of a cell with a verdict, answer or severity in it."""
    from dataclasses import replace

    fill = FILL_BY_WORD.get(word)
    return replace(look, fill=fill) if fill else look


def new_sheet(workbook, name: str, mark: str, *, freeze: str | None = None):
    """A sheet set up for landscape letter paper, with the fingerprint in its footer."""
    sheet = workbook.create_sheet(name)
    sheet.freeze_panes = freeze
    sheet.sheet_view.zoomScale = 90
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = US_LETTER
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.page_margins.left = sheet.page_margins.right = 0.4
    sheet.page_margins.top = sheet.page_margins.bottom = 0.6
    sheet.oddFooter.left.text = f"{name} - fingerprint {mark}"
    sheet.oddFooter.center.text = "Screening only: a licensed engineer decides"
    sheet.oddFooter.right.text = "Page &P of &N"
    return sheet


def write_table(workbook, name: str, mark: str, fields: list[Field], rows, *, statement: str,
                frozen_columns: int = 1):
    """A whole sheet with one table. `rows` are mappings by key; words are marked by their look."""
    corner = f"{get_column_letter(frozen_columns + 1)}{HEADER_ROW + 1}"
    sheet = new_sheet(workbook, name, mark, freeze=corner)
    set_widths(sheet, fields)
    sheet.print_title_rows = f"{HEADER_ROW}:{HEADER_ROW}"
    write_heading(sheet, name, statement)
    write_header(sheet, fields)
    count = 0
    for row in rows:
        sheet.append(table_cells(sheet, fields, row))
        count += 1
    last = get_column_letter(len(fields))
    sheet.auto_filter.ref = f"A{HEADER_ROW}:{last}{HEADER_ROW + max(count, 1)}"
    return sheet


def set_widths(sheet, fields):
    """Column widths; they must be set before the first row of a write-only sheet."""
    for place, field in enumerate(fields, start=1):
        sheet.column_dimensions[get_column_letter(place)].width = field.width


def write_heading(sheet, title: str, statement: str):
    """Three rows above a table: title, statement, space."""
    sheet.append([cell_for(sheet, title, TITLE)])
    sheet.append([cell_for(sheet, statement, SUBTITLE)])
    sheet.append([])


def write_header(sheet, fields):
    """The header row, each header with its help as a cell note."""
    cells = []
    for field in fields:
        cell = cell_for(sheet, field.header, HEADER)
        if field.help:
            cell.comment = note(field.help)
        cells.append(cell)
    sheet.row_dimensions[sheet._current_row + 1].height = 48
    sheet.append(cells)


def table_cells(sheet, fields, row):
    """One row of cells; blank values stay blank."""
    return [cell_for(sheet, row[field.key], marked(field.look, row[field.key])
                     if isinstance(row[field.key], str) else field.look)
            for field in fields]


def note(text: str) -> Comment:
    """A cell note sized for its text."""
    text = clean_text(text)[:LONGEST_NOTE]
    return Comment(text, "farmbatch", width=320, height=30 + 18 * (len(text) // 42 + 1))
