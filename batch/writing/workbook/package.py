"""Saving a workbook: the same cells give the same bytes, and a file is whole or not there.

A saved workbook is a zip archive with the clock in two places: the dates of its parts, and the
document properties. Both are fixed here.
"""

import datetime
import io
import os
import re
import zipfile
from contextlib import contextmanager
from pathlib import Path

from batch.study_error import StudyError

ZIP_DATE = (1980, 1, 1, 0, 0, 0)  # the earliest date that a zip archive can hold
DEFAULT_DATE = "2000-01-01"
READ_AND_WRITE = 0o600 << 16
UNIX = 3
CONTENT_TYPES = "[Content_Types].xml"
PROPERTIES = "docProps/core.xml"
MOST_PLAIN_CELLS = 10_000_000  # at up to 200 bytes each: beyond 2 GiB an archive needs zip64
ROWS_LEVEL = 4  # 40 % less time than the usual 6, for files a tenth larger
DIMENSION = re.compile(rb"<dimension [^>]*/>")
ROWS = re.compile(rb"<sheetData */>|<sheetData>.*?</sheetData>", re.DOTALL)
PROPERTY_DATE = re.compile(rb"(<dcterms:(created|modified)\b[^>]*>)[^<]*(</dcterms:\2>)")


def save_workbook(workbook, path: str | Path):
    """The same into a file of the user's. Errors: StudyError where it cannot be written."""
    try:
        save_deterministic(workbook, path)
    except OSError as fault:
        raise StudyError(f"The workbook {path} cannot be written: {fault.strerror or fault}.",
                         "Check its folder, the disk, and that no program holds it.") from fault


def save_deterministic(workbook, path: str | Path, date=None, rows_by_sheet=None):
    """Save an openpyxl workbook so that the same cells always give the same bytes.

    Parameters
    ----------
    date : ISO date text, date or None; stands in the document properties in place of the clock
    rows_by_sheet : {sheet name: (number of cells, texts)}; the texts are the XML of all rows of
        a sheet and stand in place of the sheet's own cells
    """
    date = DEFAULT_DATE if date is None else date
    day = date if isinstance(date, datetime.date) else datetime.date.fromisoformat(date)
    rows = {f"xl/worksheets/sheet{place}.xml": (rows_by_sheet or {}).get(name)
            for place, name in enumerate(workbook.sheetnames, start=1)}
    saved = io.BytesIO()
    workbook.save(saved)
    with _whole_file(path) as stream, zipfile.ZipFile(saved) as old, \
            zipfile.ZipFile(stream, "w") as new:
        for name in sorted(old.namelist(), key=place_in_archive):
            content = old.read(name)
            if name == PROPERTIES:
                content = PROPERTY_DATE.sub(rb"\g<1>%bT00:00:00Z\g<3>" % day.strftime(
                    "%Y-%m-%d").encode(), content)
            _write_part(new, name, content, rows.get(name))


def place_in_archive(name: str):
    """The order of a saved workbook's parts: content types, then by name, numbers as such."""
    return name != CONTENT_TYPES, [int(word) if word.isdigit() else word
                                   for word in re.split(r"(\d+)", name)]


@contextmanager
def _whole_file(path: str | Path):
    path = Path(path)
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with part.open("wb") as stream:
            yield stream
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)


def _write_part(archive, name: str, content: bytes, rows=None):
    """One part with a fixed date; where rows are given they stand in place of the sheet's own."""
    entry = zipfile.ZipInfo(name, ZIP_DATE)
    entry.compress_type, entry.create_system = zipfile.ZIP_DEFLATED, UNIX
    entry.external_attr = READ_AND_WRITE
    if rows is None:
        archive.writestr(entry, content)
        return
    cells, texts = rows
    top, bottom = ROWS.split(DIMENSION.sub(b"", content), maxsplit=1)
    entry._compresslevel = ROWS_LEVEL  # from Python 3.13 on also named compress_level
    with archive.open(entry, "w", force_zip64=cells > MOST_PLAIN_CELLS) as part:
        part.write(top + b"<sheetData>")
        for text in texts:
            part.write(text.encode("utf-8"))
        part.write(b"</sheetData>" + bottom)
