"""A result workbook while it is made.

openpyxl holds the sheets without their rows: print setup, widths, notes, charts, styles. The rows
are made only when the file is written, so that no more than a part of one sheet is held as text.
"""

import tempfile
from contextlib import contextmanager
from pathlib import Path

import openpyxl

from batch.writing.workbook import as_written
from batch.writing.workbook.package import save_deterministic
from batch.writing.workbook.sheet_rows import Styles


class ResultBook:
    """The sheets of a result workbook in their order, and what its cells look like. Only sheets
    named in `shown` are visible; the others are hidden so that a user can unhide them. Blank: all
    are visible."""

    def __init__(self, shown: tuple[str, ...] = ()):
        self.shown = shown
        self.openpyxl = openpyxl.Workbook()
        first = self.openpyxl.active
        self.styles = Styles(first)
        self.openpyxl.remove(first)
        self.sheets = []  # every PrintedSheet adds itself

    def save(self, path: str | Path, date, write_last):
        """Write the file. `write_last` adds the sheet that holds the lines of all others."""
        path = Path(path)
        plan = [(sheet.name, sheet.row, sheet.columns) for sheet in self.sheets]
        with _scratch_files_in(path.parent), as_written.KeptLines(plan, path.parent) as kept:
            write_last(kept)
            self._hide()
            self.styles.is_closed = True
            rows = {sheet.name: (sheet.row * sheet.columns, _rows(sheet, kept))
                    for sheet in self.sheets}
            save_deterministic(self.openpyxl, path, date, rows)

    def _hide(self):
        for sheet in self.sheets:
            if self.shown and sheet.name not in self.shown:
                sheet.worksheet.sheet_state = "hidden"


def _rows(sheet, kept):
    """The XML of a sheet's rows, part by part; their lines are kept."""
    lines = []
    for xml, more in sheet.parts():
        lines += more
        yield xml
    if sheet.name != as_written.NAME:
        kept.keep(sheet.name, lines)


@contextmanager
def _scratch_files_in(folder: Path):
    """What openpyxl writes meanwhile stands in a run's own folder, and goes with it."""
    before, tempfile.tempdir = tempfile.tempdir, str(folder)
    try:
        yield
    finally:
        tempfile.tempdir = before
