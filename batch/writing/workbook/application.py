"""The grower's application form as a sheet to fill in a spreadsheet program."""

from dataclasses import replace
from pathlib import Path

from openpyxl import Workbook
from openpyxl.worksheet.datavalidation import DataValidation

from batch.adopting.form import (
    CAUTIONS,
    CONTACT,
    DO_NOT_KNOW,
    HEADERS,
    INTRO,
    OFFICE,
    QUESTIONS,
    SHEET,
    TITLE,
    Answer,
)
from batch.columns import CANDIDATES
from batch.reading.entry_help import LONGEST_PROMPT, shortened
from batch.writing.workbook import styles_and_text as styles
from batch.writing.workbook.package import save_deterministic
from batch.writing.workbook.styles_and_text import PLAIN, Look, number_format, put

WIDTHS = {"A": 6, "B": 52, "C": 26, "D": 11, "E": 60}
HEADER_ROW, LETTER_PAPER = 6, 1
ASKS = Look(bold=True, size=13, vertical="center", wrap=True)
NUMBER_OF = Look(bold=True, size=13, vertical="center", horizontal="center")
ENTRY = Look(size=13, fill=styles.PAPER, vertical="center", horizontal="left", is_boxed=True)
WHERE = Look(size=12, vertical="center", wrap=True)
CAUTION = Look(bold=True, size=12)
A_NUMBER = f"Type a number, or {DO_NOT_KNOW} if you do not know."
A_WORD = f"Pick a word from the list: {DO_NOT_KNOW} if you do not know. Keep yours if none fits."
A_UNIT = "Pick the unit that you know the answer in."


def write_application(path: str | Path, cooperative: str = ""):
    """Write the workbook of the form. The same name gives the same bytes. Errors: OSError."""
    book = Workbook()
    sheet = book.active
    sheet.title = SHEET
    book.properties.creator, book.properties.title = "farmbatch", TITLE
    for letter, width in WIDTHS.items():
        sheet.column_dimensions[letter].width = width
    put(sheet["A1"], f"{TITLE}: {cooperative}" if cooperative else TITLE, styles.TITLE)
    put(sheet["A2"], INTRO, replace(PLAIN, size=12))
    for row, caution in enumerate(CAUTIONS, start=3):
        put(sheet.cell(row, 1), caution, CAUTION)
    for place, header in enumerate(HEADERS, start=1):
        put(sheet.cell(HEADER_ROW, place), header, styles.HEADER)
    _write_rows(sheet)
    _set_page(sheet)
    save_deterministic(book, path)


def _write_rows(sheet):
    """A row for each answer cell, from the grower's name on."""
    put(sheet.cell(HEADER_ROW + 1, 2), CONTACT, ASKS)
    put(sheet.cell(HEADER_ROW + 1, 3), None, replace(ENTRY, number_format="@"))
    row = HEADER_ROW + 2
    for answer in OFFICE:
        _write_answer(sheet, row, answer, "")
        row += 1
    for number, question in enumerate(QUESTIONS, start=1):
        put(sheet.cell(row, 1), number, NUMBER_OF)
        put(sheet.cell(row, 5), question.where, WHERE)
        for answer in question.answers:
            _write_answer(sheet, row, answer, question.where)
            row += 1
    for number in range(HEADER_ROW + 1, row):
        sheet.row_dimensions[number].height = 35


def _write_answer(sheet, row: int, answer: Answer, where: str):
    """One answer cell with its words, its unit and what helps to fill both."""
    column = CANDIDATES.by_key[answer.key]
    put(sheet.cell(row, 2), answer.asks, ASKS)
    has_format = not column.is_numeric and not answer.choices
    put(sheet.cell(row, 3), None,
        replace(ENTRY, number_format=number_format(column)) if has_format else ENTRY)
    _help(sheet, f"C{row}", where, *_condition(answer, f"C{row}"))
    if answer.units:
        put(sheet.cell(row, 4), None if answer.is_of_fuel else answer.units[0], ENTRY)
        _help(sheet, f"D{row}", "", "list", _list(answer.units), A_UNIT)


def _condition(answer: Answer, cell: str) -> tuple[str | None, str | None, str]:
    """What an answer may be, as a spreadsheet program tests it, and the words for it."""
    if answer.choices:
        return "list", _list((*answer.choices, DO_NOT_KNOW)), A_WORD
    if answer.is_number:
        return "custom", f'OR(ISNUMBER({cell}),TRIM({cell})="{DO_NOT_KNOW}")', A_NUMBER
    return None, None, ""


def _list(words) -> str:
    """A drop-down's words, as they stand in its formula."""
    return f'"{",".join(words)}"'


def _help(sheet, cell: str, where: str, kind, formula, words: str):
    """The message beside a chosen cell and the question after another entry, which may be kept."""
    prompt = shortened(" ".join(text for text in (where, words) if text), LONGEST_PROMPT)
    rule = DataValidation(type=kind, formula1=formula, allow_blank=True, errorStyle="warning",
                          errorTitle="Please look again", error=words or None,
                          promptTitle="Help" if prompt else None, prompt=prompt or None)
    rule.showErrorMessage, rule.showInputMessage = kind is not None, bool(prompt)
    rule.add(cell)
    sheet.add_data_validation(rule)


def _set_page(sheet):
    """One page of letter paper; headers stay in sight."""
    sheet.sheet_view.showGridLines = False
    sheet.freeze_panes = sheet.cell(HEADER_ROW + 1, 1)
    sheet.row_dimensions[HEADER_ROW].height = 24
    setup, margins = sheet.page_setup, sheet.page_margins
    setup.paperSize, setup.orientation = LETTER_PAPER, "landscape"
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    setup.fitToWidth = setup.fitToHeight = 1
    margins.left = margins.right = margins.top = margins.bottom = 0.5
