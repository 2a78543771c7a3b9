"""The workbook of all differences between two runs: a sheet per table, its header frozen."""

from pathlib import Path

from openpyxl import Workbook
from openpyxl.utils import get_column_letter

from batch.writing.workbook.package import save_workbook
from batch.writing.workbook.styles_and_text import HEADER, SUBTITLE, TITLE, Look, put

HEADER_ROW, LEAST_WIDTH, MOST_WIDTH = 4, 10, 44
WIDTH_ROWS = 200  # as many rows tell how wide a column is


def write_differences(path: Path, paths: tuple, tables):
    """Write the tables; `paths` are the two sides. Errors: StudyError where it cannot be done."""
    workbook = Workbook()
    workbook.remove(workbook.active)
    for table in tables:
        _write(workbook.create_sheet(table.name), paths, table)
    save_workbook(workbook, path)


def _write(sheet, paths, table):
    put(sheet.cell(1, 1), table.name, TITLE)
    put(sheet.cell(2, 1), f"{table.says} A is {paths[0]}, B is {paths[1]}.", SUBTITLE)
    for place, header in enumerate(table.headers, start=1):
        put(sheet.cell(HEADER_ROW, place), header, HEADER)
    for row, values in enumerate(table.rows, start=HEADER_ROW + 1):
        for place, value in enumerate(values, start=1):
            decimals = getattr(value, "decimals", None)
            put(sheet.cell(row, place), getattr(value, "value", value), _look(decimals))
    for place, header in enumerate(table.headers):
        texts = [str(getattr(row[place], "value", row[place])) for row in table.rows[:WIDTH_ROWS]]
        width = max([LEAST_WIDTH, len(header) / 2, *map(len, texts)])
        sheet.column_dimensions[get_column_letter(place + 1)].width = min(width + 2, MOST_WIDTH)
    last = get_column_letter(len(table.headers))
    sheet.freeze_panes = f"B{HEADER_ROW + 1}"
    sheet.auto_filter.ref = f"A{HEADER_ROW}:{last}{max(HEADER_ROW + len(table.rows), 5)}"
    sheet.print_title_rows = f"{HEADER_ROW}:{HEADER_ROW}"
    sheet.page_setup.orientation = "landscape"


def _look(decimals: int | None) -> Look:
    if decimals is None:
        return Look(horizontal="left")
    return Look(number_format="#,##0" + ("." + "0" * decimals if decimals else ""))
