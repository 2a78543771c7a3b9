"""A sheet as a table of farms: its headings, in one to three rows, its farms, and what is put
aside: titles, totals, remarks."""

import re
from dataclasses import dataclass, field

from batch.adopting.amounts import NoAmount, read_amount
from batch.adopting.heading_text import names_and_unit, unit_word
from batch.adopting.naming import best_score
from batch.adopting.words import TOTALS
from batch.reading.own_list import OwnSheet

ROWS_SEARCHED, MOST_HEADING_ROWS, LEAST_KNOWN = 25, 3, 2
ROUNDED = 0.006  # a mean may be rounded
ROW_COSTS = 0.05  # what a further row of headings must bring, in headings
NUMBER = re.compile(r"[~$]?[\d.,\s]*\d[\d.,\s]*%?")
TITLE, HEADING, TOTAL, REMARK = ("above the headings: not taken", "heading",
                                 "a total or mean among the rows: put aside",
                                 "one text alone in its row: put aside")
SUM = "each number is the sum or mean of those above: put aside as a total"
AGAIN, NO_LIST = "the headings again: put aside", "on a sheet without a list of farms: not taken"


@dataclass(frozen=True)
class OwnCell:
    """A cell of the list with its place, and the unit that stands beside it ('' for none)."""

    place: str
    value: object
    unit: str = ""


@dataclass(frozen=True)
class Head:
    """The heading of a column: its text as it stands, its place, what it may be called, and the
    unit that it states."""

    index: int
    text: str
    place: str
    names: tuple[str, ...]
    unit: str = ""


@dataclass
class OwnTable:
    """Headings by column index, farms as {column index: cell}, and the cells put aside with the
    reason."""

    name: str
    heads: dict[int, Head]
    farms: list[dict[int, OwnCell]]
    aside: list[tuple[OwnCell, str]] = field(default_factory=list)

    def values(self, index: int) -> list:
        """The values of a column, blanks left out."""
        return [farm[index].value for farm in self.farms if index in farm]


def is_number(value) -> bool:
    """True for a number or a text that is one and no more."""
    if isinstance(value, str):
        return NUMBER.fullmatch(value.strip()) is not None
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def table_of(sheet: OwnSheet) -> OwnTable | None:
    """The table of a sheet; None where no row of it has headings that fit."""
    block = _heading_block(sheet)
    if block is None:
        return None
    first, after, heads = block
    table = OwnTable(sheet.name, {head.index: head for head in heads}, [])
    for place, (row, values) in enumerate(sheet.rows):
        cells = cells_of(sheet, row, values)
        why = TITLE if place < first else HEADING if place < after else _why_no_farm(
            table, cells, sheet.rows[after - 1][1], values)
        if why:
            table.aside += [(cell, why) for cell in cells.values()]
        elif cells:
            table.farms.append(cells)
            _name_columns(table, sheet, row, cells)
    return table


def cells_of(sheet: OwnSheet, row: int, values) -> dict[int, OwnCell]:
    """The filled cells of a row by column index."""
    return {index: OwnCell(sheet.place(row, index), value)
            for index, value in enumerate(values) if value is not None}


def _name_columns(table: OwnTable, sheet: OwnSheet, row: int, cells):
    """A column of values without a heading has one that is blank."""
    for index in cells.keys() - table.heads.keys():
        table.heads[index] = Head(index, "", sheet.place(row, index), ())


# --- headings ------------------------------------------------------------------------------------

def _heading_block(sheet: OwnSheet):
    """(first, the one after the last, heads) of the rows that hold the most known headings."""
    best, found = 0.0, None
    for first in range(min(ROWS_SEARCHED, len(sheet.rows))):
        for count in range(1, MOST_HEADING_ROWS + 1):
            rows = sheet.rows[first:first + count]
            if len(rows) < count or not _may_be_headings(rows):
                break
            heads = _joined(sheet, rows)
            score, known = _score(heads)
            score -= ROW_COSTS * count
            if known >= LEAST_KNOWN and score > best:
                best, found = score, (first, first + count, heads)
    return found


def _may_be_headings(rows) -> bool:
    """True for rows that follow one another and hold texts alone."""
    numbers = [row for row, _ in rows]
    is_next = numbers == list(range(numbers[0], numbers[0] + len(rows)))
    return is_next and all(isinstance(value, str) and not is_number(value)
                           for _, values in rows for value in values if value is not None)


def _score(heads: list[Head]) -> tuple[float, int]:
    scores = [best_score(head.names) / 100 for head in heads]
    known = sum(score > 0 for score in scores)
    return sum(scores) + 0.1 * sum(bool(head.unit) for head in heads), known


def _joined(sheet: OwnSheet, rows) -> list[Head]:
    """The heads of rows of headings: a group's name above stands for the columns right of it, up
    to the next; a unit below belongs to the heading above it."""
    heads = []
    above = [_spread(values) for _, values in rows[:-1]]
    bottom_row, bottom = rows[-1]
    width = max(len(values) for _, values in rows)
    for index in range(width):
        own = [values[index] for _, values in rows if index < len(values)
               and values[index] is not None]
        if not own:
            continue
        groups = [spread[min(index, len(spread) - 1)] for spread in above]
        last = bottom[index] if index < len(bottom) else None
        parts = [part for part in (*groups, last) if part]
        row = next(row for row, values in reversed(rows)
                   if index < len(values) and values[index] is not None)
        heads.append(_head(index, parts, own, sheet.place(row, index)))
    return heads


def _spread(values) -> list:
    """A row of groups with each name up to the next; a title alone in its row is no group."""
    if sum(value is not None for value in values) < 2:
        return list(values)
    spread, last = [], None
    for value in values:
        last = value if value is not None else last
        spread.append(last)
    return spread


def _head(index: int, parts: list[str], own: list[str], place: str) -> Head:
    unit = ""
    if len(parts) > 1 and unit_word(parts[-1].strip("()[] ")):
        unit = unit_word(parts[-1].strip("()[] "))
        full, alone = " ".join(parts[:-1]), " ".join(own[:-1]) or parts[0]  # and 'GPM' is a name
    else:
        full, alone = " ".join(parts), " ".join(own)
    texts = dict.fromkeys((full, alone, own[-1]))
    names, units = zip(*(names_and_unit(text) for text in texts))
    return Head(index, " / ".join(" ".join(part.split()) for part in parts), place,
                tuple(dict.fromkeys(name for each in names for name in each)),
                unit or next(filter(None, units), ""))


# --- rows that are no farms ----------------------------------------------------------------------

def _why_no_farm(table: OwnTable, cells: dict[int, OwnCell], headings, values) -> str:
    filled = [cell.value for cell in cells.values()]
    if not filled:
        return ""
    if tuple(values[:len(headings)]) == tuple(headings[:len(values)]) and len(filled) > 1:
        return AGAIN
    if _is_total(filled, len(table.heads)):
        return TOTAL
    if len(filled) == 1 and isinstance(filled[0], str) and len(table.heads) > 2:
        return REMARK
    return SUM if _is_sum(table, cells) else ""


def _is_total(filled: list, width: int) -> bool:
    """A row that calls itself a total in one of its first cells; one that only begins so, as a
    farm's name may, must be half empty."""
    for value in filled[:3]:
        if not isinstance(value, str):
            continue
        word = " ".join(value.casefold().split()).strip(" :.=")
        if word in TOTALS or word.startswith(("total ", "totals ")) and 2 * len(filled) <= width:
            return True
    return False


def _is_sum(table: OwnTable, cells: dict[int, OwnCell]) -> bool:
    """Two numbers or more, no text, each the sum or mean of the column above it."""
    if len(cells) < 2 or len(table.farms) < 2:
        return False
    for index, cell in cells.items():
        above = [number for number in map(_number, table.values(index)) if number is not None]
        value, total = _number(cell.value), sum(above)
        if value is None or len(above) < 2 or not any(
                abs(value - each) <= ROUNDED * abs(each) for each in (total, total / len(above))):
            return False
    return True


def _number(value) -> float | None:
    """The number in a cell, whatever is written around it; None for none."""
    if isinstance(value, str):
        try:
            return read_amount(value).value
        except NoAmount:
            return None
    return float(value) if is_number(value) else None
