"""A table on a sheet of a result workbook: title, statement, header, rows, print setup."""

import math
from dataclasses import dataclass, replace
from functools import cache
from itertools import islice

import numpy as np
import pandas as pd
from openpyxl.comments import Comment
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.hyperlink import Hyperlink

from batch.columns.column import Column
from batch.findings import ERROR, FAILS, NOT_ASSESSED, NOTE, WATCH
from batch.reading.sheet_count import LAST_EXCEL_ROW
from batch.writing.workbook import as_written
from batch.writing.workbook.sheet_rows import Entry, Styles, number_column, rows_xml
from batch.writing.workbook.styles_and_text import (
    AMBER_FILL,
    GREEN_FILL,
    HEADER,
    PAPER,
    RED_FILL,
    SUBTITLE,
    TITLE,
    Look,
    clean_text,
    number_format,
)

TEXT_WIDTH = {"verdict_reason": 62, "option_reason": 60, "message": 90, "help": 70, "source": 60,
              "remedy": 55, "candidate_id": 13, "farm_label": 22, "variant": 18, "rule": 40,
              "made_of": 60,
              "supply_option": 19, "verdict": 24, "check": 34, "service_conductor": 20,
              "grounding_conductor": 32, "value": 26, "label": 38, "key": 34, "header": 38,
              "worked": 60, "slug": 24, "blank_inputs": 30, "limit": 14, "method": 34,
              "constraint": 34, "group": 34, "scenario": 24, "driver": 20}
# A fingerprint is a word in the cell; the fill only helps the eye.
FILL_BY_WORD = {
    FAILS: RED_FILL, ERROR: RED_FILL, "does not qualify": RED_FILL, "incomplete": RED_FILL,
    WATCH: AMBER_FILL, NOT_ASSESSED: AMBER_FILL, "qualifies with conditions": AMBER_FILL,
    "qualifies": GREEN_FILL, "meets": GREEN_FILL, NOTE: PAPER}
TEXT_LOOK = Look(horizontal="left", indent=1)
WRAPS_FROM = 36
HEADER_HEIGHT, LINE_HEIGHT, MOST_LINES = 48, 15, 12
PAGE_WIDTH = 245  # characters on a printed page at the smallest print that is still read
LONGEST_NOTE = 1_500
ROWS_AT_ONCE = 1_000  # as many rows of a table are made into text together
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


def in_words(frame: pd.DataFrame, columns) -> pd.DataFrame:
    """The frame with yes and no in its yes/no columns; unknown stays unknown."""
    return frame.assign(**{column.key: frame[column.key].map({1.0: "yes", 0.0: "no"})
                           for column in columns if column.kind == "yes/no"})


def text_field(key: str, header: str, width: float = 0) -> Field:
    """An output column of text that the dictionary does not hold; one of a stated width wraps."""
    wraps = width > 0 or TEXT_WIDTH.get(key, 0) >= WRAPS_FROM
    return Field(key, header, replace(TEXT_LOOK, wrap=wraps),
                 width or _width(key, header, is_text=True))


def number_field(key: str, header: str, decimals: int, width: float = 0) -> Field:
    """An output column of numbers that the dictionary does not hold."""
    places = "." + "0" * decimals if decimals else ""
    return Field(key, header, Look(number_format=f"#,##0{places}"),
                 width or _width(key, header, False))


def sized(field: Field, width: float) -> Field:
    """The column at another width; texts wrap in it."""
    return replace(field, width=width, look=replace(field.look, wrap=_is_text(field)))


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


def looks_of(field: Field) -> list[Look]:
    """All looks that the cells of a column may have."""
    fills = set(FILL_BY_WORD.values()) if _is_text(field) else ()
    return [field.look, *(_filled(field.look, fill) for fill in sorted(fills))]


def _is_text(field: Field) -> bool:
    return field.look.horizontal == TEXT_LOOK.horizontal


class PrintedSheet:
    """A sheet that is described from top to bottom: landscape letter paper, fingerprint in its
    footer. `row` is the number of rows so far, `height` that of the single ones in points,
    `columns` the most cells of a row."""

    def __init__(self, workbook, name: str, fingerprint: str, *, freeze: str | None = None):
        self.styles, self.name = workbook.styles, name
        self.worksheet = workbook.openpyxl.create_sheet(name)
        self.row, self.height, self.columns = 0, 0.0, 0
        self._parts = []
        workbook.sheets.append(self)
        sheet = self.worksheet
        sheet.freeze_panes = freeze
        sheet.sheet_view.zoomScale = 90
        sheet.page_setup.orientation = "landscape"
        sheet.page_setup.paperSize = US_LETTER
        sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
        sheet.sheet_properties.pageSetUpPr.fitToPage = True
        sheet.page_margins.left = sheet.page_margins.right = 0.4
        sheet.page_margins.top, sheet.page_margins.bottom = 0.5, 0.75
        sheet.page_margins.footer = 0.35
        sheet.oddFooter.left.text = f"{name} - fingerprint {fingerprint}"
        sheet.oddFooter.center.text = "Screening only: a licensed engineer decides"
        sheet.oddFooter.right.text = "Page &P of &N"

    def cell(self, value, look: Look | None = None, note: str = "") -> Entry:
        """A cell for the next row."""
        return self.styles.entry(value, look, note)

    def append(self, cells, height: float | None = None, link: str = ""):
        """Write the next row; `height` in points, else the program's own. `link` names the sheet
        that the first cell leads to."""
        first, cells = self._begin(1, len(cells)), list(cells)
        self.height += LINE_HEIGHT if height is None else height
        for place, cell in enumerate(cells, start=1):
            if cell.note:
                self.worksheet.cell(first, place).comment = note(cell.note)
        if link:
            self.worksheet.cell(first, 1).hyperlink = Hyperlink(ref="", location=f"'{link}'!A1")
        xml = rows_xml(first, [[cell.xml] for cell in cells], [height])
        self._parts.append([(xml, [as_written.line([cell.word for cell in cells])])])

    def append_table(self, fields, rows):
        """Write many rows under a header: a frame, or records by key. They are made into text
        only when the workbook is saved."""
        self.styles.announce(look for field in fields for look in looks_of(field))
        first = self._begin(len(rows), len(fields))
        self._parts.append(table_parts(self.styles, fields, rows, first))

    def _begin(self, rows, columns) -> int:
        """Count rows in; the number of the first of them."""
        first, self.row = self.row + 1, self.row + rows
        self.columns = max(self.columns, columns)
        return first

    def parts(self):
        """The XML of the rows, part by part, each with its rows' lines of words."""
        for part in self._parts:
            yield from part

    def set_widths(self, widths):
        """Column widths. Wide tables print over several pages side by side, so that they stay
        readable."""
        total = 0.0
        for place, width in enumerate(widths, start=1):
            self.worksheet.column_dimensions[get_column_letter(place)].width = width
            total += width
        self.worksheet.page_setup.fitToWidth = math.ceil(total / PAGE_WIDTH)

    def append_header(self, fields, more=()):
        """The header row, each header with its help as a cell note."""
        cells = [self.cell(field.header, HEADER, note=field.help) for field in fields]
        self.append([*cells, *more], HEADER_HEIGHT)


def write_table(workbook, name: str, fingerprint: str, fields: list[Field], rows, *,
                statement: tuple[str, ...], frozen_columns: int = 1):
    """A whole sheet with one table under its title and statement; none where the table has no row,
    and further sheets where it has more rows than one holds. `rows` is a frame, which is fastest,
    or a list of records by key; the frozen columns are repeated on every printed page. Returns the
    (last) sheet."""
    if not len(rows):
        return None
    most = LAST_EXCEL_ROW - 3 - len(statement)
    if len(rows) > most:
        parts = [rows[start:start + most] for start in range(0, len(rows), most)]
        for place, part in enumerate(parts, start=1):
            part_name = name if place == 1 else f"{name} {place}"
            sheet = write_table(workbook, part_name, fingerprint, fields, part,
                                statement=statement, frozen_columns=frozen_columns)
        return sheet
    header_row = 3 + len(statement)
    corner = f"{get_column_letter(frozen_columns + 1)}{header_row + 1}"
    sheet = PrintedSheet(workbook, name, fingerprint, freeze=corner)
    sheet.set_widths(field.width for field in fields)
    sheet.worksheet.print_title_rows = f"{header_row}:{header_row}"
    sheet.worksheet.print_title_cols = f"A:{get_column_letter(frozen_columns)}"
    sheet.append([sheet.cell(name, TITLE)])
    for text in statement:
        sheet.append([sheet.cell(text, SUBTITLE)])
    sheet.append([])
    sheet.append_header(fields)
    sheet.append_table(fields, rows)
    last = get_column_letter(len(fields))
    sheet.worksheet.auto_filter.ref = f"A{header_row}:{last}{max(sheet.row, header_row + 1)}"
    return sheet


def note(text: str) -> Comment:
    """A cell note sized for its text."""
    text = clean_text(text)[:LONGEST_NOTE]
    return Comment(text, "farmbatch", width=320, height=30 + 18 * (len(text) // 42 + 1))


# --- tables as text ------------------------------------------------------------------------------

def table_parts(styles: Styles, fields: list[Field], rows, first_row: int):
    """The rows of a table as XML, part by part, each with its rows' lines of words."""
    for columns in column_chunks(fields, rows):
        cells = [_column(styles, field, columns[field.key]) for field in fields]
        heights = row_heights(fields, columns)
        lines = [as_written.line(words) for words in zip(*(words for _, words in cells))]
        yield rows_xml(first_row, [xml for xml, _ in cells], heights), lines
        first_row += len(heights)


def column_chunks(fields: list[Field], rows):
    """The values of each column by key, for some rows at a time."""
    if isinstance(rows, pd.DataFrame):
        arrays = {field.key: _array(rows[field.key]) for field in fields}
        for start in range(0, len(rows), ROWS_AT_ONCE):
            yield {key: array[start:start + ROWS_AT_ONCE] for key, array in arrays.items()}
    else:
        records = iter(rows)
        while chunk := list(islice(records, ROWS_AT_ONCE)):
            yield {field.key: [record[field.key] for record in chunk] for field in fields}


def _array(series: pd.Series) -> np.ndarray:
    return (series if series.dtype == float else series.astype(object)).to_numpy()


def row_heights(fields: list[Field], columns) -> list[float | None]:
    """Heights in points that wrapped texts need; None for a single line."""
    lines = [[1] * len(columns[fields[0].key])]
    for field in fields:
        if field.look.wrap:
            width = field.width * 1.05
            lines.append([math.ceil(len(value) / width) if isinstance(value, str) else 1
                          for value in columns[field.key]])
    return [LINE_HEIGHT * min(most, MOST_LINES) if most > 1 else None
            for most in map(max, zip(*lines))]


def _column(styles: Styles, field: Field, values) -> tuple[list[str], list[str]]:
    """XML and words of a column's cells; the same text is worked out once."""
    if isinstance(values, np.ndarray) and values.dtype == float:
        return number_column(values, styles.number(field.look))
    made, entries = {}, []
    for value in values:
        if type(value) is not str:
            entries.append(styles.entry(value, field.look))
            continue
        if value not in made:
            look = marked(field.look, value) if _is_text(field) else field.look
            made[value] = styles.entry(value, look)
        entries.append(made[value])
    return [entry.xml for entry in entries], [entry.word for entry in entries]
