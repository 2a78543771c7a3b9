"""The blank input workbook, generated from the dictionary and the year's rules."""

from dataclasses import replace
from pathlib import Path

from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.pagebreak import Break

from batch import rules
from batch.columns import (
    CANDIDATES,
    FEEDERS,
    INPUT_SHEETS,
    PROGRAM,
    RATES,
    SHARED_LINES,
    SHEET_BY_NAME,
    STUDY,
)
from batch.columns.column import Column, Sheet
from batch.findings import StudyError
from batch.reading.entry_help import (
    YES_NO,
    as_typed,
    header_note,
    header_text,
    hint,
    reference_validation,
    validation,
)
from batch.writing.workbook import read_me
from batch.writing.workbook.package import save_deterministic
from batch.writing.workbook.styles_and_text import (
    BAND,
    EXAMPLE,
    GREY,
    HEADER,
    HINT,
    PAPER,
    PLAIN,
    REQUIRED_HEADER,
    SAND,
    SUBTITLE,
    TEAL,
    TITLE,
    Look,
    apply_look,
    number_format,
    put,
)

LISTS = "Lists"
SHEET_ORDER = (read_me.NAME, STUDY.name, CANDIDATES.name, PROGRAM.name, RATES.name, "Unit costs",
               FEEDERS.name, SHARED_LINES.name, LISTS)
TITLE_ROW, BAND_ROW, HINT_ROW, HEADER_ROW, FIRST_ROW, LAST_ROW = 1, 2, 3, 4, 5, 2000
LIST_HEADER_ROW, LIST_FIRST_ROW = 3, 4
REFERENCES = {"rate_id": RATES, "feeder_id": FEEDERS, "shared_line_id": SHARED_LINES}
PAGE_WIDTH, PAPER_SCALE_PCT = 168, 62  # in widths of a digit, landscape, at that scale
LETTER_PAPER = 1
TEXT_WIDTHS = {"farm_label": 33, "price_source": 30, "item": 24, "candidate_id": 14}

TIP = "A star means required. Rest the pointer on a header for its help."
VALUE_PLACE, SOURCE_PLACE = 3, 5  # columns of the key-and-value sheets

KEY = Look(size=9, ink=GREY, vertical="center")
LABEL = Look(bold=True, vertical="center", wrap=True)
ENTRY = Look(fill=PAPER, vertical="center", horizontal="left", wrap=True, is_boxed=True)
BESIDE = Look(vertical="center", wrap=True)
HELP = Look(italic=True, size=10, ink=GREY, wrap=True)


def write_blank(path: str | Path, year: int):
    """Write the blank input workbook of a program year. The same year gives the same bytes.

    Errors: StudyError for a year without rules, or where the file cannot be written.
    """
    workbook = new_workbook(year)
    try:
        save_deterministic(workbook, path)
    except OSError as fault:
        raise StudyError(f"The workbook {path} cannot be written: {fault.strerror or fault}.",
                         "Check its folder, the disk, and that no program holds it.") from fault


def new_workbook(year: int, has_example: bool = True) -> Workbook:
    """The blank workbook of a year, open for filling; rows begin at FIRST_ROW.

    Rates, Unit costs, Feeders and Shared lines have no example row: it would be studied as if it
    were true, where the row called EXAMPLE on Candidates is skipped.
    """
    year_rules = rules.load(year)
    book = Workbook()
    book.remove(book.active)
    book.properties.creator, book.properties.title = "farmbatch", f"Input workbook {year}"
    worksheets = {name: book.create_sheet(name) for name in SHEET_ORDER}
    ranges = _write_lists(worksheets[LISTS])
    read_me.write_read_me(worksheets[read_me.NAME], year)
    for sheet in INPUT_SHEETS:
        if sheet.is_table:
            _lay_out_table(worksheets[sheet.name], sheet, ranges)
    _lay_out_study(worksheets[STUDY.name], ranges)
    _lay_out_program(worksheets[PROGRAM.name], year_rules, ranges)
    set_values(worksheets[STUDY.name], {"rules_year": year, "currency": "USD"})
    if has_example:
        example = {c.key: c.example for c in CANDIDATES.columns if c.example is not None}
        write_rows(worksheets[CANDIDATES.name], CANDIDATES, [example], EXAMPLE)
    for worksheet in worksheets.values():
        _set_page(worksheet)
    return book


# --- filling -------------------------------------------------------------------------------------

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


def set_values(worksheet, values: dict):
    """Write values beside their keys on a key-and-value sheet."""
    sheet, row_of = SHEET_BY_NAME[worksheet.title], _rows_of_keys(worksheet)
    for key, value in values.items():
        value = as_typed(value) if isinstance(value, bool) else value
        put(worksheet.cell(row_of[key], VALUE_PLACE), value,
            replace(ENTRY, number_format=_exact_format(sheet.by_key[key], value)))


def set_sources(worksheet, sources: dict):
    """Write the resolution or clause beside keys of the Program sheet."""
    row_of = _rows_of_keys(worksheet)
    for key, source in sources.items():
        put(worksheet.cell(row_of[key], SOURCE_PLACE), source, BESIDE)


def _rows_of_keys(worksheet) -> dict[str, int]:
    return {cell.value: cell.row for cell in worksheet["A"] if cell.value}


# --- tables --------------------------------------------------------------------------------------

def _lay_out_table(worksheet, sheet: Sheet, ranges: dict):
    """Title, bands, hints and headers; widths, formats and validation of every column."""
    put(worksheet.cell(TITLE_ROW, 1), sheet.name, TITLE)
    page_ends = _page_ends(sheet)
    put(worksheet.cell(TITLE_ROW, 2), sheet.help if page_ends else f"{sheet.help} {TIP}", SUBTITLE)
    if page_ends:
        put(worksheet.cell(TITLE_ROW, page_ends[0] + 1), TIP, SUBTITLE)
    for place, column in enumerate(sheet.columns, start=1):
        letter = get_column_letter(place)
        put(worksheet.cell(HINT_ROW, place), hint(column), HINT)
        header = worksheet.cell(HEADER_ROW, place)
        put(header, header_text(column), REQUIRED_HEADER if column.required else HEADER)
        header.comment = header_note(column)
        dimension = worksheet.column_dimensions[letter]
        dimension.width = _width(column)
        apply_look(dimension, _cell_look(column))
        rule = _validation(sheet, column, ranges)
        rule.add(f"{letter}{FIRST_ROW}:{letter}{LAST_ROW}")
        worksheet.add_data_validation(rule)
    _write_bands(worksheet, sheet)
    for row, height in ((TITLE_ROW, 26), (BAND_ROW, 18), (HINT_ROW, 27), (HEADER_ROW, 60)):
        worksheet.row_dimensions[row].height = height
    worksheet.freeze_panes = worksheet.cell(FIRST_ROW, 2)
    last = get_column_letter(len(sheet.columns))
    worksheet.auto_filter.ref = f"A{HEADER_ROW}:{last}{LAST_ROW}"


def _validation(sheet: Sheet, column: Column, ranges: dict):
    if sheet is CANDIDATES and column.key in REFERENCES:
        other = REFERENCES[column.key]
        return reference_validation(column, f"$A${FIRST_ROW}:$A${LAST_ROW}", other.name)
    return validation(column, ranges.get(_choices(column), ""))


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


# --- keys and values -----------------------------------------------------------------------------

def _lay_out_study(worksheet, ranges: dict):
    """A form: each key with its label and value, and its help below."""
    _key_value_head(worksheet, STUDY, {"A": 21, "B": 26, "C": 48, "D": 10})
    row = HEADER_ROW
    for column in STUDY.columns:
        row += 1
        _key_value_row(worksheet, row, column, ranges)
        worksheet.row_dimensions[row].height = 62 if column.key == "notes" else 20
        row += 1
        put(worksheet.cell(row, 2), column.help, HELP)
        worksheet.merge_cells(start_row=row, end_row=row, start_column=2, end_column=4)
        worksheet.row_dimensions[row].height = 32 if len(column.help) > 95 else 20


def _lay_out_program(worksheet, year_rules: rules.Rules, ranges: dict):
    """Every rule with the year's value and its source, by group."""
    widths = {"A": 34, "B": 40, "C": 22, "D": 10, "E": 74}
    _key_value_head(worksheet, PROGRAM, widths)
    put(worksheet.cell(TITLE_ROW, 2), f"{PROGRAM.help} The values of {year_rules.year} are filled "
        "in; write the resolution beside a change.", SUBTITLE)
    row, group = HEADER_ROW, ""
    for column in PROGRAM.columns:
        row += 1
        if column.group != group:
            group = column.group
            for place in range(1, len(widths) + 1):
                put(worksheet.cell(row, place), None, BAND)
            put(worksheet.cell(row, 1), group, BAND)
            row += 1
        rule = year_rules.by_key[column.key]
        year_value = f"Year's value: {as_typed(rule.value)} {column.unit}".rstrip() + "."
        _key_value_row(worksheet, row, column, ranges, year_value)
        worksheet.cell(row, 2).comment = header_note(column)
        is_long = len(rule.source) > 80 or len(str(rule.value)) > 24
        worksheet.row_dimensions[row].height = 32 if is_long else 17
    set_values(worksheet, {key: rule.value for key, rule in year_rules.by_key.items()})
    set_sources(worksheet, {key: rule.source for key, rule in year_rules.by_key.items()})


def _exact_format(column: Column, value) -> str:
    """The column's number format, with more decimals where the value has them."""
    if column.kind != "number" or isinstance(value, str):
        return number_format(column)
    needed = len(f"{value:.12g}".partition(".")[2])
    return number_format(replace(column, decimals=max(column.decimals, needed)))


def _key_value_head(worksheet, sheet: Sheet, widths: dict):
    put(worksheet.cell(TITLE_ROW, 1), sheet.name, TITLE)
    put(worksheet.cell(TITLE_ROW, 2), f"{sheet.help} A star means required.", SUBTITLE)
    for place, name in enumerate(("Key", "Label", "Value", "Unit", "Source")[:len(widths)], 1):
        put(worksheet.cell(HEADER_ROW, place), name, HEADER)
    for letter, width in widths.items():
        worksheet.column_dimensions[letter].width = width
    worksheet.row_dimensions[TITLE_ROW].height = 26
    worksheet.row_dimensions[HEADER_ROW].height = 20
    worksheet.freeze_panes = worksheet.cell(FIRST_ROW, 1)
    worksheet.sheet_view.showGridLines = False


def _key_value_row(worksheet, row: int, column: Column, ranges: dict, more: str = ""):
    put(worksheet.cell(row, 1), column.key, KEY)
    put(worksheet.cell(row, 2), f"{column.label} *" if column.required else column.label, LABEL)
    put(worksheet.cell(row, VALUE_PLACE), None, replace(ENTRY, number_format=number_format(column)))
    put(worksheet.cell(row, 4), column.unit, BESIDE)
    rule = validation(column, ranges.get(_choices(column), ""), more)
    rule.add(f"C{row}")
    worksheet.add_data_validation(rule)


# --- lists ---------------------------------------------------------------------------------------

def _choices(column: Column) -> tuple[str, ...]:
    return YES_NO if column.kind == "yes/no" else column.choices


def _write_lists(worksheet) -> dict[tuple[str, ...], str]:
    """One column per list of choices; return where each list stands."""
    put(worksheet.cell(1, 1), LISTS, TITLE)
    put(worksheet.cell(1, 2), "The words of the drop-downs, by the column that uses them. Leave "
        "this sheet as it is.", SUBTITLE)
    ranges = {}
    for sheet in INPUT_SHEETS:
        for column in sheet.columns:
            choices = _choices(column)
            if choices and choices not in ranges:
                name = "Yes or no" if choices == YES_NO else column.label
                ranges[choices] = _write_list(worksheet, len(ranges) + 1, name, choices)
    worksheet.row_dimensions[LIST_HEADER_ROW].height = 48
    worksheet.freeze_panes = worksheet.cell(LIST_FIRST_ROW, 1)
    return ranges


def _write_list(worksheet, place: int, name: str, choices: tuple[str, ...]) -> str:
    letter = get_column_letter(place)
    put(worksheet.cell(LIST_HEADER_ROW, place), name, HEADER)
    for row, choice in enumerate(choices, start=LIST_FIRST_ROW):
        put(worksheet.cell(row, place), choice, replace(PLAIN, number_format="@"))
    longest = max(map(len, (*choices, *name.split())))
    worksheet.column_dimensions[letter].width = max(12, longest + 3)
    last = LIST_FIRST_ROW + len(choices) - 1
    return f"'{LISTS}'!${letter}${LIST_FIRST_ROW}:${letter}${last}"


# --- paper ---------------------------------------------------------------------------------------

def _set_page(worksheet):
    """Letter paper; wide tables break between groups, and each page repeats names and headers."""
    worksheet.sheet_properties.tabColor = SAND if worksheet.title in (read_me.NAME, LISTS) else TEAL
    setup, margins = worksheet.page_setup, worksheet.page_margins
    setup.paperSize = LETTER_PAPER
    setup.orientation = "portrait" if worksheet.title == read_me.NAME else "landscape"
    margins.left = margins.right = 0.5
    margins.top, margins.bottom, margins.footer = 0.6, 0.75, 0.35
    worksheet.oddFooter.left.text, worksheet.oddFooter.right.text = "&A", "Page &P of &N"
    sheet = SHEET_BY_NAME.get(worksheet.title)
    page_ends = _page_ends(sheet) if sheet and sheet.is_table else []
    if page_ends:
        setup.scale = PAPER_SCALE_PCT
        for place in page_ends:
            worksheet.col_breaks.append(Break(id=place))
        worksheet.print_title_cols = "A:A"
    else:
        worksheet.sheet_properties.pageSetUpPr.fitToPage = True
        setup.fitToWidth, setup.fitToHeight = 1, 0
    if sheet:
        first = BAND_ROW if sheet.is_table else HEADER_ROW
        worksheet.print_title_rows = f"{first}:{HEADER_ROW}"


def _page_ends(sheet: Sheet) -> list[int]:
    """The last column of each page: the end of a group where the next one would not fit, or
    sooner where a group alone is too wide."""
    widths = [_width(column) for column in sheet.columns]
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
