"""A folder of returned application forms as one table: a farm for each form."""

from pathlib import Path

from batch.adopting.form import KEY_OF_HEADING, SHEET, answers_of, remarks_of
from batch.adopting.heading_text import spelled, unit_word
from batch.adopting.table import Head, OwnCell, OwnTable
from batch.findings import StudyError
from batch.reading.header import plain_name
from batch.reading.own_list import OwnSheet, own_sheets

ENDINGS = (".xlsx", ".csv")
NO_FORM = f"the file has no sheet '{SHEET}' with answers: put aside"
NO_ANSWER = "the form holds no answer: put aside"
REMARK = "a remark on the form: not taken"


def form_table(folder: Path) -> OwnTable:
    """The forms of a folder, by their names. Errors: StudyError where none is a form."""
    table, index_of = OwnTable(folder.name, {}, []), {}
    files = sorted(path for path in folder.iterdir() if path.suffix.lower() in ENDINGS
                   and not path.name.startswith((".", "~$")))
    for file in files:
        sheet = _form_sheet(own_sheets(file), file)
        if sheet is None:
            table.aside.append((OwnCell(file.name, file.name), NO_FORM))
            continue
        rows, farm = _square(sheet), {}
        for heading, value, address, unit in answers_of(rows):
            index = index_of.setdefault(heading, len(index_of))
            table.heads.setdefault(index, _head(index, heading, file, address))
            if value is not None:
                farm[index] = OwnCell(f"{file.name}!{address}", value, unit_word(unit))
        table.aside += [(OwnCell(f"{file.name}!{address}", text), REMARK)
                        for address, text in remarks_of(rows)]
        if farm:
            table.farms.append(farm)
        else:
            table.aside.append((OwnCell(file.name, file.name), NO_ANSWER))
    if not table.farms:
        raise StudyError(f"The folder '{folder}' holds no application form.",
                         f"Put returned forms (.xlsx or .csv with the sheet '{SHEET}') into it.")
    return table


def _head(index: int, heading: str, file: Path, address: str) -> Head:
    """A question as a heading, by the key that the form gives it."""
    return Head(index, heading, f"{file.name}!{address}", (spelled(KEY_OF_HEADING[heading]),))


def _form_sheet(sheets: list[OwnSheet], file: Path) -> OwnSheet | None:
    """The form's sheet; a CSV file is one as a whole."""
    named = [sheet for sheet in sheets if plain_name(sheet.name) == plain_name(SHEET)]
    return (named or (sheets if file.suffix.lower() == ".csv" else [None]))[0]


def _square(sheet: OwnSheet) -> list[list]:
    """The rows of a sheet from the first one on, blank ones too, all as wide."""
    width = max((len(values) for _, values in sheet.rows), default=0)
    by_row = dict(sheet.rows)
    last = max(by_row, default=0)
    return [[*by_row.get(row, ()), *[None] * (width - len(by_row.get(row, ())))]
            for row in range(1, last + 1)]
