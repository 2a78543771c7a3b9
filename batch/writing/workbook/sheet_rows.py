"""Cells and rows of a result workbook as the text of a sheet's XML part.

A result has more than a thousand cells for each farm, and objects for all of them would cost most
of a run's time. So its tables are written from here, a column of many rows at a time, while
openpyxl makes everything else of the workbook.

Sources: ECMA-376, Office Open XML, 5th edition, part 1: 18.3.1.4 c, 18.3.1.73 row, 18.4.12 t,
18.18.11 types of cells, 18.8.45 quotePrefix.
"""

from typing import NamedTuple

import numpy as np
from openpyxl.cell import Cell
from openpyxl.utils import get_column_letter
from openpyxl.utils.datetime import to_excel

from batch.reading.cell_text import escaped
from batch.reading.sheet_cells import is_percent
from batch.writing.workbook.as_written import BLANK, exact_text, word_of
from batch.writing.workbook.styles_and_text import (
    FORMULA_STARTS,
    MOMENTS,
    Look,
    apply_look,
    cell_value,
    look_of_moment,
)

ESCAPES = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;"})


class Entry(NamedTuple):
    """What is written of a cell: its XML behind the reference ('' for no cell), its word on the
    sheet `Cells as written`, and its note."""

    xml: str
    word: str
    note: str = ""


NO_CELL = Entry("", BLANK)



class Styles:
    """The number of each look in a workbook's list of styles, where openpyxl keeps them."""

    def __init__(self, worksheet):
        self._worksheet = worksheet  # any sheet of the workbook
        self._numbers: dict[tuple[Look | None, bool], int] = {(None, False): 0}
        self.is_closed = False  # true once the list has been written

    def number(self, look: Look | None, is_quoted: bool = False) -> int:
        """The number of a look; `is_quoted` for text that could be typed as a formula."""
        if (look, is_quoted) not in self._numbers:
            if self.is_closed:
                raise RuntimeError(f"a look is used that no sheet has announced: {look}")
            cell = Cell(self._worksheet, row=1, column=1)
            if look is not None:
                apply_look(cell, look)
            if is_quoted:
                cell.quotePrefix = True
            self._numbers[look, is_quoted] = cell.style_id
        return self._numbers[look, is_quoted]

    def announce(self, looks):
        """Have numbers for looks, of plain and of quoted text, before rows are written."""
        for look in looks:
            self.number(look)
            self.number(look, is_quoted=True)

    def entry(self, value, look: Look | None = None, note: str = "") -> Entry:
        """One cell. Text stays text, whatever it begins with; unknown is blank, and no cell at all
        where a blank one does not show."""
        value = cell_value(value)
        if value is None and not note and (look is None or not (look.fill or look.is_boxed)):
            return NO_CELL
        if isinstance(value, MOMENTS):
            look = look_of_moment(value, look)
        is_quoted = isinstance(value, str) and value.startswith(FORMULA_STARTS)
        number = self.number(look, is_quoted)
        style = f' s="{number}"' if number else ""
        if value is None:
            return Entry(f'"{style}/>', BLANK, note)
        word = word_of(value, look is not None and is_percent(look))
        return Entry(f'"{style}{_typed(value)}</c>', word, note)


def _typed(value) -> str:
    """A cell's type and value."""
    if isinstance(value, str):
        space = ' xml:space="preserve"' if value != value.strip() else ""
        return f' t="inlineStr"><is><t{space}>{escaped(value).translate(ESCAPES)}</t></is>'
    if isinstance(value, bool):
        return f' t="b"><v>{value:d}</v>'
    if isinstance(value, MOMENTS):
        value = to_excel(value)
    return f"><v>{exact_text(value)}</v>"


def number_column(values: np.ndarray, style: int) -> tuple[list[str], list[str]]:
    """XML and words of a column of numbers; NaN is no cell. Errors: ValueError for infinity."""
    if np.isinf(values).any():
        raise ValueError("infinity cannot be written in a workbook")
    words = [repr(v).removesuffix(".0") if v == v else BLANK for v in values.tolist()]
    start = f'" s="{style}"><v>'
    return [f"{start}{word}</v></c>" if word is not BLANK else "" for word in words], words


def rows_xml(first_row: int, columns: list[list[str]], heights: list[float | None]) -> str:
    """Rows from the XML of their cells, column by column from A on."""
    rows = range(first_row, first_row + len(heights))
    cells = [_with_references(get_column_letter(place), rows, column)
             for place, column in enumerate(columns, start=1)]
    lines = zip(*cells) if cells else [()] * len(heights)
    return "".join([f'<row r="{row}"{_height(height)}>{"".join(line)}</row>'
                    for row, height, line in zip(rows, heights, lines)])


def _with_references(letter, rows, column):
    return [f'<c r="{letter}{row}{xml}' if xml else "" for row, xml in zip(rows, column)]


def _height(points):
    return "" if points is None else f' ht="{points:g}" customHeight="1"'
