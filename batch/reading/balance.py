"""The balance of reading: what a sheet's XML holds against what was handed on and set aside.

Every cell with a value is either in a row that is handed on, or it is set aside for a reason:
titles, headers, units, blanks as text, columns beyond those that are read. Nothing else may
happen to it.
"""

from collections import defaultdict

from batch.findings import StudyError
from batch.reading.guard import OPEN_AND_SAVE
from batch.reading.sheet_count import SheetCount


def filled(values) -> int:
    """How many cells of a row hold a value."""
    return len(values) - list(values).count(None)


def must_be_in_order(sheet: str, counted: SheetCount):
    """Errors: StudyError naming sheet, row and cell where something stands at a wrong place."""
    if counted.fault:
        row, cell, clause = counted.fault
        place = f"row {row}, cell {cell}" if row else "before its first row"
        raise StudyError(f"The {sheet} sheet cannot be read whole: {place}: {clause}.",
                         OPEN_AND_SAVE)


def reading_of(cells, counted: SheetCount, list_row) -> dict:
    """Rows and cells of a sheet in the file, handed on, and set aside; for the record.

    `list_row` gives the letters of the filled cells of a row of the file.
    Errors: StudyError naming sheet, row and cell where they do not balance.
    """
    read = _handed_on(cells)
    total = defaultdict(int, read)
    for row, number in cells.aside.items():
        total[row] += number
    if total != counted.cells_by_row:
        _refuse(cells, total, counted.cells_by_row, list_row)
    in_file, handed_on = sum(counted.cells_by_row.values()), sum(read.values())
    rows = len(counted.cells_by_row)
    return {"in_file": {"rows": rows, "cells": in_file},
            "read": {"rows": len(read), "cells": handed_on},
            "set_aside": {"rows": rows - len(read), "cells": in_file - handed_on}}


def _handed_on(cells) -> dict[int, int]:
    """Row -> cells with a value or a formula, of the rows that are handed on."""
    with_formulas = defaultdict(set)
    for row, index in cells.formulas:
        with_formulas[row].add(index)
    return {row: len(values) - values.count(None) if row not in with_formulas
            else len(with_formulas[row] | {i for i, v in enumerate(values) if v is not None})
            for row, values in cells.rows}


def _refuse(cells, read, in_file, list_row):
    row = min(row for row in read.keys() | in_file.keys()
              if read.get(row, 0) != in_file.get(row, 0))
    letters = list_row(row)
    seen = {cells.headers[i].letter for r, values in cells.rows if r == row
            for i, value in enumerate(values) if value is not None or (row, i) in cells.formulas}
    missing = [letter for letter in letters if letter not in seen] or letters or ["A"]
    raise StudyError(
        f"The {cells.sheet} sheet was not read whole: row {row} has {in_file.get(row, 0)} filled "
        f"cells in the file, and {read.get(row, 0)} were read; look at "
        f"{cells.sheet}!{missing[0]}{row}.", OPEN_AND_SAVE)
