"""The table sheets of the blank workbook: headers with help, widths, validation, and paper."""

from dataclasses import replace

from openpyxl.utils import get_column_letter

from batch.columns import CANDIDATES, FEEDERS, RATES, SHARED_LINES
from batch.columns.column import SCREENING, Column, Sheet
from batch.reading.entry_help import (
    YES_NO,
    as_typed,
    header_note,
    header_text,
    hint,
    reference_validation,
    validation,
)
from batch.writing.workbook.styles_and_text import (
    BAND,
    HEADER,
    HINT,
    PLAIN,
    REQUIRED_HEADER,
    SUBTITLE,
    TITLE,
    Look,
    apply_look,
    number_format,
    put,
)

TITLE_ROW, BAND_ROW, HINT_ROW, HEADER_ROW, FIRST_ROW, LAST_ROW = 1, 2, 3, 4, 5, 2000
REFERENCES = {"rate_id": RATES, "feeder_id": FEEDERS, "shared_line_id": SHARED_LINES}
PAGE_WIDTH, PAPER_SCALE_PCT = 168, 62  # in widths of a digit, landscape, at that scale
TEXT_WIDTHS = {"farm_label": 33, "price_source": 30, "price_unit": 19, "item": 24,
               "candidate_id": 14}

TIP = "A star means required. Rest the pointer on a header for its help."
SHUT_TIP = "A + above the columns opens more. Rest the pointer on a header for its help."


def write_rows(worksheet, sheet: Sheet, rows: list[dict], look: Look = PLAIN):
    """Write rows of key and value below the headers of a table sheet."""
    places = {column.key: place for place, column in enumerate(sheet.columns, start=1)}
    for row_number, row in enumerate(rows, start=FIRST_ROW):
        for key, value in row.items():
            if value is None:
                continue
            value = as_typed(value) if isinstance(value, bool) else value
            put(worksheet.cell(row_number, places[key]), value,
                _cell_look(sheet.by_key[key], look))


def _cell_look(column: Column, look: Look = PLAIN) -> Look:
    horizontal = {"number": None, "text": "left", "choice": "left"}.get(column.kind, "center")
    return replace(look, horizontal=horizontal, indent=1 if horizontal == "left" else 0,
                   number_format=number_format(column))


# --- tables --------------------------------------------------------------------------------------

def lay_out_table(worksheet, sheet: Sheet, ranges: dict, shut: frozenset[int]):
    """Title, bands, hints and headers; widths, formats and validation of every column. Columns at
    the places `shut` stand behind a +."""
    _write_titles(worksheet, sheet, shut)
    for place, column in enumerate(sheet.columns, start=1):
        letter = get_column_letter(place)
        put(worksheet.cell(HINT_ROW, place), hint(column), HINT)
        header = worksheet.cell(HEADER_ROW, place)
        put(header, header_text(column), REQUIRED_HEADER if column.required else HEADER)
        header.comment = header_note(column, column.stage_words if sheet.has_stages else "")
        dimension = worksheet.column_dimensions[letter]
        dimension.width = _width(column)
        apply_look(dimension, _cell_look(column))
        rule = _validation(sheet, column, ranges)
        rule.add(f"{letter}{FIRST_ROW}:{letter}{LAST_ROW}")
        worksheet.add_data_validation(rule)
    _write_bands(worksheet, sheet)
    _shut(worksheet, shut)
    for row, height in ((TITLE_ROW, 26), (BAND_ROW, 18), (HINT_ROW, 27), (HEADER_ROW, 60)):
        worksheet.row_dimensions[row].height = height
    worksheet.freeze_panes = worksheet.cell(FIRST_ROW, 2)
    last = get_column_letter(len(sheet.columns))
    worksheet.auto_filter.ref = f"A{HEADER_ROW}:{last}{LAST_ROW}"


def shut_places(sheet: Sheet) -> frozenset[int]:
    """The places of the columns that a screening does not need."""
    return frozenset(place for place, column in enumerate(sheet.columns, start=1)
                     if sheet.has_stages and column.stage != SCREENING)


def _write_titles(worksheet, sheet: Sheet, shut):
    """The sheet's name and help, in columns that are shown."""
    shown = [place for place in range(2, len(sheet.columns) + 1) if place not in shut]
    tip, ends = SHUT_TIP if shut else TIP, page_ends(sheet, shut)
    put(worksheet.cell(TITLE_ROW, 1), sheet.name, TITLE)
    put(worksheet.cell(TITLE_ROW, shown[0]), sheet.help if ends else f"{sheet.help} {tip}",
        SUBTITLE)
    if ends:
        place = next(place for place in shown if place > ends[0])
        put(worksheet.cell(TITLE_ROW, place), tip, SUBTITLE)


def _shut(worksheet, shut):
    """Hide columns in groups that open by the + above the next column. Each keeps its own width,
    which `column_dimensions.group` would not leave it."""
    for place in shut:
        dimension = worksheet.column_dimensions[get_column_letter(place)]
        dimension.outlineLevel, dimension.hidden = 1, True
        if place + 1 not in shut:
            worksheet.column_dimensions[get_column_letter(place + 1)].collapsed = True
            worksheet.column_dimensions.max_outline = 1


def _validation(sheet: Sheet, column: Column, ranges: dict):
    if sheet is CANDIDATES and column.key in REFERENCES:
        other = REFERENCES[column.key]
        return reference_validation(column, f"$A${FIRST_ROW}:$A${LAST_ROW}", other.name)
    return validation(column, ranges.get(choices_of(column), ""))


def _width(column: Column) -> float:
    """Wide enough for the longest word of the header, and for the values."""
    if column.key in TEXT_WIDTHS:
        return TEXT_WIDTHS[column.key]
    words = header_text(column).split(" ")
    by_header = max(max(map(len, words)) + 4, len(header_text(column)) / 2.4)
    by_choice = max((len(choice) for choice in column.choices), default=0) + 4
    return round(max(11, by_header, by_choice if column.choices else 0), 1)


def _groups(sheet: Sheet) -> list[tuple[str, int, int]]:
    """(group, first place, last place) of the runs of columns of one group."""
    runs = []
    for place, column in enumerate(sheet.columns, start=1):
        if runs and runs[-1][0] == column.group:
            runs[-1] = (column.group, runs[-1][1], place)
        else:
            runs.append((column.group, place, place))
    return runs


def _write_bands(worksheet, sheet: Sheet):
    """The groups as a band above the headers. The frozen first column is never merged."""
    for group, first, last in _groups(sheet):
        for place in range(first, last + 1):
            put(worksheet.cell(BAND_ROW, place), None, BAND)
        put(worksheet.cell(BAND_ROW, first), group, BAND)
        start = max(first, 2)
        if last > start and first > 1:
            worksheet.merge_cells(start_row=BAND_ROW, end_row=BAND_ROW, start_column=start,
                                  end_column=last)



def choices_of(column: Column) -> tuple[str, ...]:
    """The words that a column's cells may hold."""
    return YES_NO if column.kind == "yes/no" else column.choices


def page_ends(sheet: Sheet, shut: frozenset[int]) -> list[int]:
    """The last column of each page: the end of a group where the next one would not fit, or
    sooner where a group alone is too wide. Columns that are shut take no room."""
    widths = [0 if place in shut else _width(column)
              for place, column in enumerate(sheet.columns, start=1)]
    ends, used = [], widths[0]
    for _, first, last in _groups(sheet):
        places = range(max(first, 2), last + 1)
        group_width = sum(widths[place - 1] for place in places)
        if first > 1 and used + group_width > PAGE_WIDTH and used > widths[0]:
            ends.append(first - 1)
            used = widths[0]
        for place in places:
            if used + widths[place - 1] > PAGE_WIDTH:
                ends.append(place - 1)
                used = widths[0]
            used += widths[place - 1]
    return ends
