"""Which cells of the engineer's workbook held a formula: a result's copies hold their values.

A formula without a stored value is a fault of its row, and in a copy it would look like a blank.
"""

import re

from openpyxl.utils import column_index_from_string

from batch.reading.cell_text import unescaped
from batch.reading.header import column_letter

NAME = "Input formulas"
ADDRESS = re.compile(r"([A-Z]{1,3})([1-9]\d{0,6})")


def rows_of(cells_by_sheet: dict) -> list[dict]:
    """(sheet, cell, formula) of every formula in the input, as rows to write."""
    return [{"sheet": cells.sheet, "cell": f"{column_letter(index)}{row}", "formula": formula}
            for cells in cells_by_sheet.values()
            for (row, index), formula in sorted(cells.formulas.items())]


def read(book) -> dict[str, dict[tuple[int, int], str]]:
    """By input sheet, the formulas keyed by (Excel row, column index), from a result workbook."""
    found: dict[str, dict[tuple[int, int], str]] = {}
    if NAME not in book.sheetnames:
        return found
    for values in book[NAME].iter_rows(max_col=3, values_only=True):
        sheet, cell, formula = (*values, None, None, None)[:3]
        address = ADDRESS.fullmatch(str(cell))
        if formula is not None and address:
            place = int(address[2]), column_index_from_string(address[1]) - 1
            found.setdefault(str(sheet), {})[place] = unescaped(str(formula))
    return found
