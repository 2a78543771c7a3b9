"""The next season's workbook: a blank one of the new year, filled with what is carried on."""

from pathlib import Path

from batch.columns import PROGRAM, SHEET_BY_NAME, STUDY
from batch.program.next_season import NextSeason
from batch.writing.workbook.blank import ON_REQUEST, new_workbook
from batch.writing.workbook.key_sheets import set_values
from batch.writing.workbook.package import save_workbook
from batch.writing.workbook.table_sheets import write_rows


def write_carried(path: Path, season: NextSeason, year: int):
    """Write the workbook. Errors: StudyError where the year has no rules or the file cannot be
    written."""
    words = [word for word, sheet in ON_REQUEST.items()
             if sheet is not PROGRAM and season.rows.get(sheet.name)]
    workbook = new_workbook(year, has_example=False, shown=words, is_shut=False)
    set_values(workbook[STUDY.name], {key: value for key, value in season.study.items()
                                      if value is not None})
    for name, rows in season.rows.items():
        write_rows(workbook[name], SHEET_BY_NAME[name], rows)
    save_workbook(workbook, path)
