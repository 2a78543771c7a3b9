"""Turns a workbook into one as the strict standard has it, for tests of the reader.

Source: ISO/IEC 29500-1, annex A (schemas): the namespaces of the strict standard; 18.3.1.4 and
18.18.11: a cell of type `d` holds a date of ISO 8601. The transitional names stand in 29500-4.
"""

import zipfile
from pathlib import Path

# Transitional -> strict.
NAMES = {
    "http://schemas.openxmlformats.org/spreadsheetml/2006/main":
        "http://purl.oclc.org/ooxml/spreadsheetml/main",
    "http://schemas.openxmlformats.org/officeDocument/2006/relationships":
        "http://purl.oclc.org/ooxml/officeDocument/relationships",
    "http://schemas.openxmlformats.org/officeDocument/2006/extended-properties":
        "http://purl.oclc.org/ooxml/officeDocument/extendedProperties",
    "http://schemas.openxmlformats.org/officeDocument/2006/custom-properties":
        "http://purl.oclc.org/ooxml/officeDocument/customProperties",
    "http://schemas.openxmlformats.org/officeDocument/2006/docPropsVTypes":
        "http://purl.oclc.org/ooxml/officeDocument/docPropsVTypes",
    "http://schemas.openxmlformats.org/drawingml/2006/main":
        "http://purl.oclc.org/ooxml/drawingml/main",
    "http://schemas.openxmlformats.org/drawingml/2006/chart":
        "http://purl.oclc.org/ooxml/drawingml/chart",
    "http://schemas.openxmlformats.org/drawingml/2006/spreadsheetDrawing":
        "http://purl.oclc.org/ooxml/drawingml/spreadsheetDrawing",
}


def with_iso_dates(book):
    """Have openpyxl save dates as the strict standard does."""
    book.iso_dates = True


def as_strict(path: Path) -> Path:
    """The workbook with every part under strict names, beside the given one."""
    strict = path.with_name(f"strict_{path.name}")
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(strict, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.namelist():
            content = old.read(part)
            if part.endswith((".xml", ".rels")):
                content = _strict(content)
            if part == "xl/workbook.xml":
                content = content.replace(b"<workbook ", b'<workbook conformance="strict" ', 1)
            new.writestr(part, content)
    return strict


def _strict(xml: bytes) -> bytes:
    for transitional, name in NAMES.items():
        xml = xml.replace(transitional.encode(), name.encode())
    return xml
