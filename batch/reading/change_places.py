"""Which cells a scenario's change means: the sheet, the column and the rows behind [ROW.]KEY."""

import re
from dataclasses import dataclass
from difflib import get_close_matches

from batch.columns import CANDIDATES, FEEDERS, LIMITS, RATES, SHARED_LINES, STUDY, UNIT_COSTS
from batch.columns.column import Column, Sheet
from batch.columns.scenarios import ALL, CHANGED_SHEETS
from batch.findings import StudyError
from batch.reading.cell_text import looks_of_name
from batch.reading.changes import Change, is_out
from batch.reading.header import columns_by_name, name_and_unit, plain_name

TABLES = {CANDIDATES: "candidates", RATES: "rates", UNIT_COSTS: "unit_costs", FEEDERS: "feeders",
          SHARED_LINES: "shared_lines", LIMITS: "limits"}
# What tells rows apart: a scenario changes none of it.
NAMES = {STUDY: ("study_name",), UNIT_COSTS: ("item", "line_build", "phases", "size", "from_ft"),
         **{sheet: (sheet.columns[0].key,) for sheet in TABLES if sheet is not UNIT_COSTS}}
SIZE = re.compile(r"(\d+\.?\d*)(kva|hp|a)?", re.ASCII)
PHASES = {"1-phase": 1, "3-phase": 3}
BY_SHEET = "Name the sheet as well, on the Scenarios sheet of the workbook."
MOST_LISTED, MOST_NEAR = 12, 3


@dataclass(frozen=True)
class Place:
    """Where a change lies: `column` is None for a farm that is left out, `unit` what the key says
    in brackets, `row` the row's own name, `rows` the Excel rows; None on the lists of values."""

    sheet: Sheet
    column: Column | None
    unit: str = ""
    row: str = ""
    rows: tuple = (None,)

    @property
    def key(self) -> str:
        return self.column.key if self.column else ""

    @property
    def name(self) -> str:
        """Row and key as they are typed."""
        return ".".join(filter(None, (self.row, self.key)))


def place_of(change: Change, inputs) -> Place:
    """The place of a change in a validated workbook.

    Errors: StudyError where there is none, or more than one, with the nearest names.
    """
    sheets = _sheets(change)
    if is_out(change.value) and not (change.row and change.key):
        return _farm(change, inputs)
    if change.row:
        return _cell(change, inputs, [sheet for sheet in sheets if sheet.is_table])
    return _value(change, inputs, [sheet for sheet in sheets if not sheet.is_table])


def _sheets(change: Change) -> list[Sheet]:
    """The sheet that is named, or all."""
    if not change.sheet:
        return list(CHANGED_SHEETS)
    named = [sheet for sheet in CHANGED_SHEETS
             if looks_of_name(sheet.name) == looks_of_name(change.sheet)]
    if not named:
        raise _unknown(change, "sheet", change.sheet, [sheet.name for sheet in CHANGED_SHEETS])
    return named


def _farm(change: Change, inputs) -> Place:
    asked, ids = change.row or change.key, _ids(CANDIDATES, inputs)
    found = ids.get(looks_of_name(asked))
    if found is None:
        raise _unknown(change, "farm", asked, [name for name, _ in ids.values()])
    return Place(CANDIDATES, None, row=found[0], rows=found[1])


def _value(change: Change, inputs, sheets) -> Place:
    """A value of a key-and-value sheet."""
    name, unit = name_and_unit(change.key)
    found = [(sheet, column) for sheet in sheets for column in [_column(sheet, name)] if column]
    if len(found) == 1:
        (sheet, column), = found
        if column.key in NAMES.get(sheet, ()):
            raise StudyError(f"{change.place}: the scenario's own name stands for the study name.",
                             "Leave it out.")
        return Place(sheet, column, unit)
    if found:
        raise StudyError(f"{change.place}: '{change.key}' is on the sheets "
                         f"{' and '.join(sheet.name for sheet, _ in found)}.", BY_SHEET)
    raise _no_value(change, inputs, name, sheets)


def _no_value(change: Change, inputs, name: str, sheets) -> StudyError:
    """Why a key without a row means nothing."""
    ids = _ids(CANDIDATES, inputs)
    if looks_of_name(change.key) in ids:
        return StudyError(
            f"{change.place}: a farm is left out by the word out, and is in without it.",
            f"Write {change.key}.KEY for one of its cells; its funding_choice says that it must "
            "be funded.")
    for sheet in TABLES:
        column = _column(sheet, name)
        if column and (not change.sheet or change.sheet == sheet.name):
            row = next((own for own, _ in _ids(sheet, inputs).values()), "ROW")
            return StudyError(f"{change.place}: '{change.key}' is a column of the {sheet.name} "
                              "sheet.", f"Name its row, as in {row}.{column.key}, or all of them, "
                              f"as in {ALL}.{column.key}.")
    known = [column.key for sheet in sheets for column in sheet.columns]
    return _unknown(change, "key", change.key, known or [name for name, _ in ids.values()])


def _cell(change: Change, inputs, sheets) -> Place:
    """One or more cells of a column."""
    name, unit = name_and_unit(change.key)
    if not sheets:
        raise StudyError(f"{change.place}: the {change.sheet} sheet has no rows to name.",
                         "Leave the row blank.")
    having = [sheet for sheet in sheets if _column(sheet, name)]
    if not having:
        of_row = [s for s in sheets if _rows(s, change.row, inputs)] or sheets
        raise _unknown(change, "column", change.key, [c.key for s in of_row for c in s.columns])
    found = [(sheet, *rows) for sheet in having
             for rows in [_rows(sheet, change.row, inputs)] if rows]
    if not found:
        raise _unknown(change, f"row of the {' or '.join(s.name for s in having)} sheet",
                       change.row, [own for s in having for own in _row_names(s, inputs)])
    if len(found) > 1:
        raise StudyError(f"{change.place}: '{change.name}' is on the sheets "
                         f"{' and '.join(sheet.name for sheet, *_ in found)}.", BY_SHEET)
    (sheet, own, rows), = found
    column = _column(sheet, name)
    if column.key in NAMES[sheet]:
        raise StudyError(f"{change.place}: {column.label} names the row.",
                         "Change another cell of it.")
    return Place(sheet, column, unit, own, rows)


def _column(sheet: Sheet, name: str) -> Column | None:
    return columns_by_name(sheet.columns).get(name)


def _rows(sheet: Sheet, asked: str, inputs):
    """(name, Excel rows) of the rows that a name means on a sheet; None for none."""
    table = getattr(inputs, TABLES[sheet])
    if looks_of_name(asked) == ALL:
        return (ALL, tuple(table.index)) if len(table) else None
    if sheet is UNIT_COSTS:
        return _price_rows(table, asked)
    return _ids(sheet, inputs).get(looks_of_name(asked))


def _ids(sheet: Sheet, inputs) -> dict[str, tuple[str, tuple]]:
    """Looks of an id -> (id, its row as a tuple of one); the first row of each."""
    found = {}
    for row, name in getattr(inputs, TABLES[sheet])[sheet.columns[0].key].items():
        if name is not None:
            found.setdefault(looks_of_name(name), (name, (row,)))
    return found


def _row_names(sheet: Sheet, inputs) -> list[str]:
    if sheet is not UNIT_COSTS:
        return [name for name, _ in _ids(sheet, inputs).values()]
    priced = inputs.unit_costs[["item", "size"]].drop_duplicates()
    sizes = [f"{item} {size:g}" for item, size in priced.dropna().itertuples(index=False)]
    return [*priced["item"].drop_duplicates(), *sizes]


def _price_rows(table, asked: str):
    """The rows of an item, and of the size, phases and construction that are named behind it."""
    words = " ".join(asked.split()).casefold()
    items = [item for item in table["item"].drop_duplicates()
             if f"{words} ".startswith(f"{item.casefold()} ")]
    if not items:
        return None
    item = max(items, key=len)
    fits, said = table["item"] == item, words[len(item):].split()
    for word in said:
        size = SIZE.fullmatch(word)
        if word in PHASES:
            fits &= table["phases"] == PHASES[word]
        elif size:
            fits &= table["size"] == float(size[1])
        elif word not in ("hp", "a", "kva"):
            fits &= table["line_build"] == word
    rows = tuple(table.index[fits])
    return (" ".join([item, *said]), rows) if rows else None


def _unknown(change: Change, what: str, asked: str, known) -> StudyError:
    near = nearest(asked, known)
    allowed = (f"It must be one of: {', '.join(map(str, known))}." if len(known) <= MOST_LISTED
               else "'farmbatch columns' lists the keys; rows go by their ids.")
    return StudyError(f"{change.place}: '{asked}' is no known {what}."
                      + (f" Nearest: {', '.join(near)}." if near else ""), allowed)


def nearest(asked: str, known) -> list[str]:
    """A few known names that are near to one, the nearest first."""
    by_plain = {plain_name(name): name for name in known}
    plain = plain_name(asked)
    near = get_close_matches(plain, by_plain, n=MOST_NEAR, cutoff=0.6)
    near += [name for name in by_plain if plain in name and name not in near]
    return [by_plain[name] for name in near[:MOST_NEAR]]
