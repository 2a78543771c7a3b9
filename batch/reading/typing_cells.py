"""From raw cells to typed values: one column at a time, by what the dictionary says of it.

Only cells that are not plain numbers are looked at one by one. A cell that cannot be read stays
unknown and gets an error: it never takes a default.
"""

import datetime
import re

import numpy as np

from batch.columns.lists import READERS
from batch.reading.cell_text import is_blank, is_error
from batch.reading.column_cells import MOMENTS, NUMBERS, ColumnCells, quoted
from batch.reading.header import closest
from batch.reading.typing_numbers import typed_numbers

CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
DATE_TEXT = re.compile(r"(\d{4})[-/](\d{1,2})[-/](\d{1,2})", re.ASCII)
YES_NO = {"yes": 1.0, "y": 1.0, "true": 1.0, "1": 1.0, "no": 0.0, "n": 0.0, "false": 0.0,
          "0": 0.0}


def typed(cells: ColumnCells) -> np.ndarray:
    """The typed values of a column: floats (NaN unknown) or objects (text, None unknown).

    Errors go to the findings; blanks stay unknown here, whether they are required or not.
    """
    values = _without_errors(cells)
    kind = cells.column.kind
    if kind in ("number", "integer"):
        result = typed_numbers(cells, values)
    elif kind == "yes/no":
        result = _one_by_one(cells, values, _yes_or_no, float)
    else:
        read = {"text": _text, "choice": _choice, "date": _date}[kind]
        result = _one_by_one(cells, values, read, object)
    cells.add_notes()
    return result


def is_unknown(values: np.ndarray) -> np.ndarray:
    """True where a typed value is unknown."""
    if values.dtype == object:
        return np.array([value is None for value in values], dtype=bool)
    return np.isnan(values)


def _without_errors(cells: ColumnCells) -> list:
    """The raw values with blanks and spreadsheet errors taken out; formulas are noted."""
    if cells.formulas:
        for i, row in enumerate(cells.rows):
            if row in cells.formulas:
                _look_at_formula(cells, i, cells.formulas[row])
    values = list(cells.values)
    for i, value in enumerate(values):
        if type(value) is str:
            if is_error(value):
                cells.add("excel-error", i, f"holds the spreadsheet error {value}.")
                values[i] = None
            elif is_blank(value):
                values[i] = None
    return values


def _look_at_formula(cells: ColumnCells, i: int, formula: str):
    value = cells.values[i]
    if value is None:
        cells.add("formula-without-value", i, f"holds the formula {quoted(formula)} and no value.")
    elif value != "" and not (type(value) is str and is_error(value)):
        cells.note("formula-value-used", i,
                   f"holds the formula {quoted(formula)}; its stored value {quoted(value)} was "
                   "read.")


def _one_by_one(cells, values, read, dtype) -> np.ndarray:
    unknown = None if dtype is object else np.nan
    result = np.full(len(values), unknown, dtype=dtype)
    for i, value in enumerate(values):
        if value is not None:
            answer = read(cells, i, value)
            result[i] = unknown if answer is None else answer
    return result


def _text(cells: ColumnCells, i: int, value) -> str | None:
    if type(value) is not str:
        if isinstance(value, MOMENTS):
            example = READERS.get(cells.column.key, (None, ""))[1]
            if example:
                cells.add("list-unreadable", i, f"was taken for the date {quoted(value)}. Set the "
                          f"cell's format to Text first. Example: {example}.", limit=example)
                return None
            cells.add("date-in-text-cell", i, f"holds the date {quoted(value)}.")
            return quoted(value)
        is_whole = isinstance(value, float) and value.is_integer() and abs(value) < 1e15
        value = quoted(int(value) if is_whole else value)
    clean = CONTROL.sub("", value).replace("\xa0", " ").strip(" \t\r\n\u200b\ufeff\u3000")
    if CONTROL.search(value):
        cells.note("text-cleaned", i, "held control characters, which were left out.")
    if clean and cells.column.key in READERS:
        return _list_text(cells, i, clean)
    return clean or None


def _list_text(cells: ColumnCells, i: int, text: str) -> str | None:
    reader, example = READERS[cells.column.key]
    try:
        reader(text)
    except ValueError as fault:
        cells.add("list-unreadable", i, f"is '{quoted(text)}': {fault}. Example: {example}.",
                  limit=example)
        return None
    return text


def _letters_only(text: str) -> str:
    return "".join(mark for mark in text.casefold() if mark.isalnum() or mark == "%")


def _choice(cells: ColumnCells, i: int, value) -> str | None:
    choices = cells.column.choices
    text = quoted(value) if type(value) is not str else value
    if text in choices:
        return text
    same = [choice for choice in choices if _letters_only(choice) == _letters_only(text)]
    if same:
        cells.note("choice-corrected", i, f"is '{quoted(text)}'; it was read as '{same[0]}'.")
        return same[0]
    near = closest(text, choices) or closest(text.split(maxsplit=1)[0], choices)
    hint = f" Closest is '{near}'." if near else ""
    listed = ", ".join(choices)
    cells.add("unknown-choice", i, f"is '{quoted(text)}', which is not one of: {listed}.{hint}",
              limit=listed)
    return None


def _yes_or_no(cells: ColumnCells, i: int, value) -> float | None:
    answer = YES_NO.get(quoted(value).strip().casefold())
    if answer is None:
        cells.add("not-yes-or-no", i, f"is '{quoted(value)}'.", limit="yes or no")
    return answer


def _date(cells: ColumnCells, i: int, value) -> str | None:
    if isinstance(value, datetime.date):
        day = value.date() if isinstance(value, datetime.datetime) else value
        return day.isoformat()
    if isinstance(value, NUMBERS) and not isinstance(value, bool):
        cells.add("number-in-date-cell", i, f"holds the number {quoted(value)}.")
        return None
    match = DATE_TEXT.fullmatch(value.strip()) if type(value) is str else None
    try:
        return datetime.date(*map(int, match.groups())).isoformat() if match else _no_date(cells, i)
    except ValueError:
        return _no_date(cells, i)


def _no_date(cells: ColumnCells, i: int):
    cells.add("not-a-date", i, f"is '{quoted(cells.values[i])}'.", limit="a date")
