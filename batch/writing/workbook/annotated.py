"""Faithful copies of the engineer's sheets: same rows, columns and cell addresses.

On the Candidates sheet every cell with a finding is marked and carries it as a note; verdict,
reason and the findings in words stand in columns behind the engineer's own.
"""

import datetime

from openpyxl.utils import get_column_letter

from batch.findings import ERROR, NOTE, WATCH
from batch.reading.cells import copy_name
from batch.reading.sheet_cells import ADDED_HEADERS
from batch.writing.workbook.sheet_tables import PrintedSheet, marked, text_field
from batch.writing.workbook.styles_and_text import AMBER_FILL, HEADER, PAPER, PLAIN, RED_FILL, Look

PERCENT = Look(number_format="0.##%")
FILL = {ERROR: RED_FILL, WATCH: AMBER_FILL, NOTE: PAPER}
ADDED = tuple(text_field(key, header) for key, header in zip(
    ("verdict", "verdict_reason", "message"), ADDED_HEADERS))
INPUT_WIDTH, HEADER_HEIGHT = 15, 60


def write_annotated(workbook, study, fingerprint: str):
    """The Candidates sheet with its marks."""
    cells = study.inputs.cells["Candidates"]
    by_cell = _findings_by_cell(study.findings)
    verdicts = study.results[["verdict", "verdict_reason"]].to_dict("index")
    widths = [field.width for field in ADDED]
    sheet = _sheet_like(workbook, cells, "Candidates", fingerprint, widths)
    for row, values in _all_rows(cells):
        if row == cells.header_row:
            line = _header_cells(sheet, cells, by_cell)
            line += [sheet.cell(field.header, HEADER) for field in ADDED]
        elif row in verdicts:
            line = [_marked_cell(sheet, value, by_cell.get((row, header.letter)),
                                 (row, header.index) in cells.percent_cells)
                    for header, value in zip(cells.headers, values)]
            line += _added_cells(sheet, verdicts[row], row, cells, by_cell)
        else:
            line = _plain_cells(sheet, cells, row, values)
        sheet.append(line, HEADER_HEIGHT if row == cells.header_row else None)
    last = get_column_letter(len(cells.headers) + len(ADDED))
    sheet.worksheet.auto_filter.ref = f"A{cells.header_row}:{last}{sheet.row}"


def write_faithful(workbook, cells, fingerprint: str):
    """A copy of another input sheet, under the name that marks it as a copy."""
    sheet = _sheet_like(workbook, cells, copy_name(cells.sheet), fingerprint, [])
    for row, values in _all_rows(cells):
        if row == cells.header_row:
            sheet.append([sheet.cell(header.text, HEADER) for header in cells.headers],
                         HEADER_HEIGHT)
        else:
            sheet.append(_plain_cells(sheet, cells, row, values))


def _plain_cells(sheet, cells, row, values):
    """A row as it stood, the percent format included: a percent cell shows 75 % and holds 0.75."""
    return [sheet.cell(value, _look(value, (row, place) in cells.percent_cells))
            for place, value in enumerate(values)]


def _look(value, is_percent):
    """Only what the value needs to be read again as it was: most cells have no look at all."""
    if is_percent:
        return PERCENT
    return PLAIN if isinstance(value, datetime.date) else None


def _sheet_like(workbook, cells, name, fingerprint, more_widths):
    header_row = cells.header_row or 0
    sheet = PrintedSheet(workbook, name, fingerprint, freeze=f"B{header_row + 1}")
    if header_row:
        sheet.worksheet.print_title_rows = f"{header_row}:{header_row}"
        sheet.worksheet.print_title_cols = "A:A"
    sheet.set_widths([INPUT_WIDTH] * len(cells.headers) + more_widths)
    return sheet


def _all_rows(cells):
    """Every row from the first to the last, so that addresses stay; rows that were not read are
    blank. A row of units below the header and headers that are repeated are kept."""
    filled = dict(cells.rows)
    filled.update({row: tuple(header.text or None for header in cells.headers)
                   for row in cells.repeated_header_rows})
    filled.update({row: () for row in (cells.header_row,) if row})
    if cells.unit_row:
        filled[cells.unit_row] = tuple(header.unit for header in cells.headers)
    for row in range(1, max(filled, default=0) + 1):
        yield row, filled.get(row, ())


def _findings_by_cell(findings):
    """(row, column letter) -> findings; notes about a whole column stand at row None."""
    by_cell = {}
    for finding in findings.rows:
        if finding["sheet"] == "Candidates":
            by_cell.setdefault((finding["row"], finding["column"]), []).append(finding)
    return by_cell


def _header_cells(sheet, cells, by_cell):
    line = []
    for header in cells.headers:
        found = by_cell.get((None, header.letter), []) + by_cell.get(
            (cells.header_row, header.letter), [])
        line.append(sheet.cell(header.text, HEADER, "\n".join(f["message"] for f in found)))
    return line


def _marked_cell(sheet, value, found, is_percent):
    if not found:
        return sheet.cell(value, _look(value, is_percent))
    worst = next(s for s in (ERROR, WATCH, NOTE) if any(f["severity"] == s for f in found))
    look = Look(fill=FILL[worst], bold=worst == ERROR, is_boxed=True,
                number_format="0.##%" if is_percent else "General")
    return sheet.cell(value, look, "\n".join(f"{f['severity']}: {f['message']}" for f in found))


def _added_cells(sheet, verdict, row, cells, by_cell):
    """Verdict, reason, and the marked cells in words."""
    words = [f"{header.letter}{row} {f['severity']}: {f['slug']}" for header in cells.headers
             for f in by_cell.get((row, header.letter), [])]
    words += [f"row {f['severity']}: {f['slug']}" for f in by_cell.get((row, ""), [])]
    values = (verdict["verdict"], verdict["verdict_reason"], "; ".join(words))
    return [sheet.cell(value, marked(field.look, value))
            for field, value in zip(ADDED, values)]
