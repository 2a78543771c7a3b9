"""What a result workbook holds of its run: results, rules, record, and which cells were changed."""

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from batch.canonical import rounded_text
from batch.columns import RESULTS
from batch.columns.column import Column
from batch.findings import StudyError
from batch.reading.cell_text import is_blank, unescaped
from batch.reading.cells import copy_name, is_result
from batch.reading.guard import WorkbookFile, check_file
from batch.reading.header import column_letter
from batch.reading.opening import opened
from batch.writing.record import RECORD_NAME, record_value
from batch.writing.workbook import as_written
from batch.writing.workbook.audit_sheets import RESULTS_NAME
from batch.writing.workbook.contents import PROGRAM_NAME
from batch.writing.workbook.package import ZIP_DATE, place_in_archive

NEEDED = ("Candidates", copy_name("Study"), copy_name("Rates"), copy_name("Unit costs"),
          RESULTS_NAME, PROGRAM_NAME, RECORD_NAME, as_written.NAME)
MAKE_ANEW = "Run the input workbook anew; farmbatch run writes result.xlsx."


@dataclass(frozen=True)
class StoredRule:
    """One line of the Program used sheet, as text; `place` is the cell of its value."""

    value: str
    source: str
    origin: str
    place: str


@dataclass
class Stored:
    """A result workbook as it stands.

    results : frame of canonical text, columns = the keys of the program that wrote it, index = row
        of the Results sheet; rules : by key; record : the content behind the fingerprint, as far
        as it can be read; changes : cells that are not as they were written.
    """

    file: WorkbookFile
    results: pd.DataFrame
    rules: dict[str, StoredRule]
    record: dict
    fingerprint: str
    changes: list[as_written.ChangedCell]

    @property
    def path(self) -> Path:
        """Where the workbook was read from."""
        return self.file.path

    def result_place(self, row: int, key: str) -> str:
        """The cell of a result: 'Results!K9'."""
        return f"{RESULTS_NAME}!{column_letter(list(self.results.columns).index(key))}{row}"


def read_stored(path: str | Path | WorkbookFile) -> Stored:
    """Read a result workbook. Errors: StudyError where it is none, naming what is missing."""
    file = check_file(path)
    with opened(file, is_value_view=False) as book:
        missing = [name for name in NEEDED if name not in book.sheetnames]
        if missing:
            listed = ", ".join(f"'{name}'" for name in missing)
            raise StudyError(f"'{file.path}' cannot be computed again: it has no sheet {listed}.",
                             MAKE_ANEW)
        record, fingerprint = _record(book[RECORD_NAME])
        return Stored(file, _results(book[RESULTS_NAME]), _rules(book[PROGRAM_NAME]), record,
                      fingerprint, as_written.find_changes(book, _kept(book[as_written.NAME])))


def holds_results(path: str | Path | WorkbookFile) -> bool:
    """True for a result workbook, false for an input workbook."""
    with opened(check_file(path), is_value_view=False) as book:
        return is_result(book.sheetnames)


def looks_as_written(file: WorkbookFile) -> bool:
    """False where another program has saved the workbook: its archive has other dates or order."""
    with file.archive() as archive:
        names = archive.namelist()
        return (all(entry.date_time == ZIP_DATE for entry in archive.infolist())
                and names == sorted(names, key=place_in_archive))


def _table(worksheet, first_header: str):
    """(row, {header: value}) of the rows below the header that begins with a certain text."""
    worksheet.reset_dimensions()
    headers = None
    for row, values in enumerate(worksheet.iter_rows(values_only=True), start=1):
        values = tuple(map(unescaped, values))
        if headers is None:
            headers = values if values and values[0] == first_header else None
        elif not all(map(is_blank, values)):
            yield row, dict(zip(headers, values))
    if headers is None:
        raise StudyError(f"The sheet '{worksheet.title}' has no header '{first_header}'.",
                         MAKE_ANEW)


def sheet_rows(path: Path, names) -> dict[str, list[tuple]]:
    """The values of all rows of some sheets. Errors: StudyError where the workbook lacks one."""
    found = {}
    with opened(check_file(path), is_value_view=False) as book:
        for name in names:
            if name not in book.sheetnames:
                raise StudyError(f"The workbook has no sheet '{name}'.", MAKE_ANEW)
            worksheet = book[name]
            worksheet.reset_dimensions()
            found[name] = list(worksheet.iter_rows(values_only=True))
    return found


def _results(worksheet) -> pd.DataFrame:
    rows = dict(_table(worksheet, RESULTS.columns[0].key))
    frame = pd.DataFrame.from_dict(rows, orient="index")
    if frame.empty:
        raise StudyError("The Results sheet holds no candidate.", MAKE_ANEW)
    frame = frame.loc[:, [key for key in frame.columns if key]]
    return pd.DataFrame({key: [_text(value, RESULTS.by_key.get(key)) for value in frame[key]]
                         for key in frame.columns}, index=frame.index)


def _text(value, column: Column | None) -> str:
    if value is None or value != value:
        return ""
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
    if column is not None and column.is_numeric and is_number:
        return rounded_text(float(value), column.decimals)
    return str(value)


def _rules(worksheet) -> dict[str, StoredRule]:
    rules = {}
    for row, line in _table(worksheet, "Key"):
        texts = ["" if line.get(name) is None else str(line.get(name))
                 for name in ("Value", "Source", "Set by")]
        place = column_letter(list(line).index("Value")) if "Value" in line else "C"
        rules[str(line["Key"])] = StoredRule(*texts, f"{PROGRAM_NAME}!{place}{row}")
    return rules


def _record(worksheet) -> tuple[dict, str]:
    content, fingerprint = {}, ""
    for _, line in _table(worksheet, "Key"):
        key, value = str(line["Key"]), line.get("Value")
        if key == "fingerprint":
            fingerprint = str(value)
        elif key != "caution":
            key, _, part = key.partition(".")
            if part:
                content.setdefault(key, {})[part] = record_value(value)
            else:
                content[key] = record_value(value)
    return content, fingerprint



def _kept(worksheet) -> list[tuple[str, int, str]]:
    kept = []
    for _, line in _table(worksheet, "Sheet"):
        sheet, row, signs = (*line.values(), None, None, None)[:3]
        if isinstance(row, (int, float)) and signs is not None:
            kept.append((str(sheet), int(row), str(signs)))
    return kept
