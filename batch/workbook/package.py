"""Saving a workbook: the same cells give the same bytes, and a file is whole or not there.

A saved workbook is a zip archive with the clock in two places: the dates of its parts, and the
document properties. Both are fixed here.
"""

import datetime
import io
import os
import re
import zipfile
from pathlib import Path

ZIP_DATE = (1980, 1, 1, 0, 0, 0)  # the earliest date that a zip archive can hold
DEFAULT_DATE = "2000-01-01"
READ_AND_WRITE = 0o600 << 16
UNIX = 3
CONTENT_TYPES = "[Content_Types].xml"
PROPERTIES = "docProps/core.xml"
PROPERTY_DATE = re.compile(rb"(<dcterms:(created|modified)\b[^>]*>)[^<]*(</dcterms:\2>)")


def save_deterministic(workbook, path: str | Path, date=None):
    """Save an openpyxl workbook so that the same cells always give the same bytes.

    Parameters
    ----------
    date : ISO date text, date or None; stands in the document properties in place of the clock
    """
    date = DEFAULT_DATE if date is None else date
    day = date if isinstance(date, datetime.date) else datetime.date.fromisoformat(date)
    saved = io.BytesIO()
    workbook.save(saved)
    write_whole_file(path, _without_clock(saved, day))


def write_whole_file(path: str | Path, content: bytes):
    """Write a file beside its place and then put it there: half a file is never seen.

    Errors: OSError as the system gives it, for instance where a spreadsheet program holds the
    file open. The old file, if there is one, is then still whole.
    """
    path = Path(path)
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        part.write_bytes(content)
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)


def _without_clock(saved: io.BytesIO, day: datetime.date) -> bytes:
    """The archive with fixed dates and its parts in order, content types first."""
    result = io.BytesIO()
    with zipfile.ZipFile(saved) as old, zipfile.ZipFile(result, "w") as new:
        for name in sorted(old.namelist(), key=lambda name: (name != CONTENT_TYPES, name)):
            content = old.read(name)
            if name == PROPERTIES:
                content = PROPERTY_DATE.sub(rb"\g<1>%bT00:00:00Z\g<3>" % day.strftime(
                    "%Y-%m-%d").encode(), content)
            entry = zipfile.ZipInfo(name, ZIP_DATE)
            entry.compress_type, entry.create_system = zipfile.ZIP_DEFLATED, UNIX
            entry.external_attr = READ_AND_WRITE
            new.writestr(entry, content)
    return result.getvalue()
