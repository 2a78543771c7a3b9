"""The blank input workbook, generated from the dictionary and the year's rules."""

from dataclasses import replace
from pathlib import Path

from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.pagebreak import Break

from batch import rules
from batch.columns import (
    CANDIDATES,
    DELIVERED,
    FEEDERS,
    INPUT_SHEETS,
    LIMITS,
    PROGRAM,
    RATES,
    SHARED_LINES,
    SHEET_BY_NAME,
    STUDY,
    UNIT_COSTS,
)
from batch.columns.candidates import EXAMPLES
from batch.findings import StudyError
from batch.reading.entry_help import YES_NO
from batch.writing.workbook import read_me
from batch.writing.workbook.blank_prices import blank_prices, last_prices
from batch.writing.workbook.key_sheets import lay_out_program, lay_out_study, set_values
from batch.writing.workbook.package import save_workbook
from batch.writing.workbook.styles_and_text import (
    EXAMPLE,
    HEADER,
    PLAIN,
    SAND,
    SUBTITLE,
    TEAL,
    TITLE,
    put,
)
from batch.writing.workbook.table_sheets import (
    BAND_ROW,
    HEADER_ROW,
    PAPER_SCALE_PCT,
    choices_of,
    lay_out_table,
    page_ends,
    shut_places,
    write_rows,
)

LISTS = "Lists"
# Sheets that few programs need: the word that asks for one, and the sheet. They stand behind the
# others, hidden unless they are asked for.
ON_REQUEST = {"program": PROGRAM, "feeders": FEEDERS, "lines": SHARED_LINES,
              "limits": LIMITS, "delivered": DELIVERED}
ALL = "all"
SHEET_ORDER = (read_me.NAME, STUDY.name, CANDIDATES.name, RATES.name, UNIT_COSTS.name,
               *(sheet.name for sheet in ON_REQUEST.values()), LISTS)
LIST_HEADER_ROW, LIST_FIRST_ROW = 3, 4
LETTER_PAPER = 1


def asked_sheets(text: str) -> tuple[str, ...]:
    """The words of ON_REQUEST in a text with commas. Errors: StudyError for another word."""
    words = [word.strip().casefold() for word in text.split(",") if word.strip()]
    unknown = [word for word in words if word not in (*ON_REQUEST, ALL)]
    if unknown:
        raise StudyError(f"There is no sheet '{unknown[0]}' to show.",
                         f"Sheets on request: {', '.join(ON_REQUEST)}, or {ALL}.")
    return tuple(ON_REQUEST) if ALL in words else tuple(words)


def write_blank(path: str | Path, year: int, shown=(), last: Path | None = None):
    """Write the blank input workbook of a program year, with its price list. The same year gives
    the same bytes.

    shown : words of ON_REQUEST, whose sheets are shown.
    last : a workbook whose prices stand beside those that are to be filled in.

    Errors: StudyError for a year without rules, or where a file cannot be read or written.
    """
    workbook = new_workbook(year, shown=shown)
    fill_prices(workbook, last)
    save_workbook(workbook, path)


def fill_prices(workbook: Workbook, last: Path | None = None):
    """Write the rows to be priced, with the prices of another workbook beside them."""
    prices = blank_prices(last_prices(last) if last else ())
    write_rows(workbook[UNIT_COSTS.name], UNIT_COSTS, prices)


def new_workbook(year: int, has_example: bool = True, shown=(), is_shut: bool = True) -> Workbook:
    """The blank workbook of a year, open for filling; rows begin at FIRST_ROW.

    Rates, Feeders, Shared lines and Limits have no example row: it would be studied as if it were
    true, where those of Candidates are skipped. What few programs use is hidden or grouped shut:
    the sheets on request but for those `shown`, and if `is_shut`, what no screening needs and the
    rules that no board decides.
    """
    year_rules = rules.load(year)
    book = Workbook()
    book.remove(book.active)
    book.properties.creator, book.properties.title = "farmbatch", f"Input workbook {year}"
    worksheets = {name: book.create_sheet(name) for name in SHEET_ORDER}
    ranges = _write_lists(worksheets[LISTS])
    hidden = [sheet.name for word, sheet in ON_REQUEST.items() if word not in shown]
    read_me.write_read_me(worksheets[read_me.NAME], year, hidden)
    shut = {sheet.name: shut_places(sheet) if is_shut else frozenset() for sheet in INPUT_SHEETS}
    for sheet in INPUT_SHEETS:
        if sheet.is_table:
            lay_out_table(worksheets[sheet.name], sheet, ranges, shut[sheet.name])
    lay_out_study(worksheets[STUDY.name], ranges)
    lay_out_program(worksheets[PROGRAM.name], year_rules, ranges, is_shut)
    set_values(worksheets[STUDY.name], {"rules_year": year, "currency": "USD"})
    if has_example:
        write_rows(worksheets[CANDIDATES.name], CANDIDATES, list(EXAMPLES), EXAMPLE)
    for name, worksheet in worksheets.items():
        _set_page(worksheet, shut.get(name, frozenset()))
    for name in (*hidden, LISTS):
        worksheets[name].sheet_state = "hidden"
    return book


# --- lists ---------------------------------------------------------------------------------------

def _write_lists(worksheet) -> dict[tuple[str, ...], str]:
    """One column per list of choices; return where each list stands."""
    put(worksheet.cell(1, 1), LISTS, TITLE)
    put(worksheet.cell(1, 2), "The words of the drop-downs, by the column that uses them. Leave "
        "this sheet as it is.", SUBTITLE)
    ranges = {}
    for sheet in INPUT_SHEETS:
        for column in sheet.columns:
            choices = choices_of(column)
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

def _set_page(worksheet, shut):
    """Letter paper; wide tables break between groups, and each page repeats names and headers."""
    worksheet.sheet_properties.tabColor = SAND if worksheet.title in (read_me.NAME, LISTS) else TEAL
    setup, margins = worksheet.page_setup, worksheet.page_margins
    setup.paperSize = LETTER_PAPER
    setup.orientation = "portrait" if worksheet.title == read_me.NAME else "landscape"
    margins.left = margins.right = 0.5
    margins.top, margins.bottom, margins.footer = 0.6, 0.75, 0.35
    worksheet.oddFooter.left.text, worksheet.oddFooter.right.text = "&A", "Page &P of &N"
    sheet = SHEET_BY_NAME.get(worksheet.title)
    ends = page_ends(sheet, shut) if sheet and sheet.is_table else []
    if ends or shut:  # what is opened goes on to further pages
        setup.scale = PAPER_SCALE_PCT
        for place in ends:
            worksheet.col_breaks.append(Break(id=place))
        worksheet.print_title_cols = "A:A"
    else:
        worksheet.sheet_properties.pageSetUpPr.fitToPage = True
        setup.fitToWidth, setup.fitToHeight = 1, 0
    if sheet:
        first = BAND_ROW if sheet.is_table else HEADER_ROW
        worksheet.print_title_rows = f"{first}:{HEADER_ROW}"
