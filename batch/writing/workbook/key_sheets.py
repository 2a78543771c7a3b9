"""The key-and-value sheets of the blank workbook: Study and Program."""

from dataclasses import replace

from batch import rules
from batch.columns import PROGRAM, SHEET_BY_NAME, STUDY
from batch.columns.column import Column, Sheet
from batch.columns.program import BOARD_RULES
from batch.reading.entry_help import as_typed, header_note, validation
from batch.writing.workbook.styles_and_text import (
    BAND,
    GREY,
    HEADER,
    PAPER,
    SUBTITLE,
    TITLE,
    Look,
    number_format,
    put,
)
from batch.writing.workbook.table_sheets import FIRST_ROW, HEADER_ROW, TITLE_ROW, choices_of

VALUE_PLACE, SOURCE_PLACE = 3, 5  # columns of the key-and-value sheets

BOARD_BAND = "what a board decides; the other rules are behind the + of each line below"

KEY = Look(size=9, ink=GREY, vertical="center")
LABEL = Look(bold=True, vertical="center", wrap=True)
ENTRY = Look(fill=PAPER, vertical="center", horizontal="left", wrap=True, is_boxed=True)
BESIDE = Look(vertical="center", wrap=True)
HELP = Look(italic=True, size=10, ink=GREY, wrap=True)


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


# --- keys and values -----------------------------------------------------------------------------

def lay_out_study(worksheet, ranges: dict):
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


def lay_out_program(worksheet, year_rules: rules.Rules, ranges: dict, is_shut: bool):
    """Every rule with the year's value and its source: first what a board decides, then the others
    by group, grouped shut if asked."""
    widths = {"A": 34, "B": 40, "C": 22, "D": 10, "E": 74}
    _key_value_head(worksheet, PROGRAM, widths)
    put(worksheet.cell(TITLE_ROW, 2), f"{PROGRAM.help} The values of {year_rules.year} are filled "
        "in; write the resolution beside a change.", SUBTITLE)
    row, band = HEADER_ROW, ""
    worksheet.sheet_properties.outlinePr.summaryBelow = False
    worksheet.sheet_format.outlineLevelRow = 1
    for column in _by_band():
        row += 1
        is_boards = column.key in BOARD_RULES
        if band != (band := BOARD_BAND if is_boards else column.group):
            for place in range(1, len(widths) + 1):
                put(worksheet.cell(row, place), None, BAND)
            put(worksheet.cell(row, 1), band, BAND)
            worksheet.row_dimensions[row].collapsed = is_shut and not is_boards
            row += 1
        _rule_row(worksheet, row, column, year_rules.by_key[column.key], ranges)
        if not is_boards:
            worksheet.row_dimensions[row].outlineLevel = 1
            worksheet.row_dimensions[row].hidden = is_shut
    set_values(worksheet, {key: rule.value for key, rule in year_rules.by_key.items()})
    set_sources(worksheet, {key: rule.source for key, rule in year_rules.by_key.items()})


def _by_band() -> list[Column]:
    """The rules that a board decides, in its order; then the others."""
    return [*(PROGRAM.by_key[key] for key in BOARD_RULES),
            *(column for column in PROGRAM.columns if column.key not in BOARD_RULES)]


def _rule_row(worksheet, row: int, column: Column, rule: rules.Rule, ranges: dict):
    year_value = f"Year's value: {as_typed(rule.value)} {column.unit}".rstrip() + "."
    _key_value_row(worksheet, row, column, ranges, year_value)
    worksheet.cell(row, 2).comment = header_note(column)
    is_long = len(rule.source) > 80 or len(str(rule.value)) > 24
    worksheet.row_dimensions[row].height = 32 if is_long else 17


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
    rule = validation(column, ranges.get(choices_of(column), ""), more)
    rule.add(f"C{row}")
    worksheet.add_data_validation(rule)


