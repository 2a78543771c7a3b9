"""Workbooks saved as 'Strict Open XML Spreadsheet': the same parts under other names of namespaces.

The library that parses workbooks knows the transitional names only. Where the guard let a strict
workbook pass, its archive is written anew in memory with the transitional names, a part at a time.
In parts that hold texts of cells only the first element is changed, which declares the namespaces.

Source: ISO/IEC 29500-1 (strict) and 29500-4 (transitional), the namespaces of their schemas. They
differ in the host and in the year, but for two that are spelled otherwise.
"""

import io
import re
import shutil
import zipfile

from batch.reading.guard import PARTS_IN_STREAM, WorkbookFile

STRICT = b"http://purl.oclc.org/ooxml/"
NAMESPACE = re.compile(re.escape(STRICT) + rb"(\w+)/")
TRANSITIONAL = rb"http://schemas.openxmlformats.org/\1/2006/"
SPELLED_OTHERWISE = ((b"extendedProperties", b"extended-properties"),
                     (b"customProperties", b"custom-properties"))
FIRST_ELEMENT = re.compile(rb"<[^?!][^>]*>")
PACKAGE_RELATIONS = "_rels/.rels"
START_BYTES = 8_192


def is_strict(file: WorkbookFile) -> bool:
    """True where the package names its workbook as the strict standard does."""
    with file.archive() as archive:
        if PACKAGE_RELATIONS not in archive.namelist():
            return False
        with archive.open(PACKAGE_RELATIONS) as relations:
            return STRICT in relations.read(START_BYTES)


def as_transitional(file: WorkbookFile) -> io.BytesIO:
    """The archive of a strict workbook under the transitional names."""
    made = io.BytesIO()
    with file.archive() as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            with old.open(part) as source, new.open(part.filename, "w") as target:
                if part.filename.endswith(".xml") and part.filename.startswith(PARTS_IN_STREAM):
                    start = source.read(START_BYTES)
                    target.write(FIRST_ELEMENT.sub(lambda tag: _renamed(tag[0]), start, count=1))
                elif part.filename.endswith((".xml", ".rels")):
                    target.write(_renamed(source.read()))
                shutil.copyfileobj(source, target)
    made.seek(0)
    return made


def _renamed(xml: bytes) -> bytes:
    """The XML with the transitional name of every strict namespace in it."""
    for strict, transitional in SPELLED_OTHERWISE:
        xml = xml.replace(STRICT + b"officeDocument/" + strict,
                          STRICT + b"officeDocument/" + transitional)
    return NAMESPACE.sub(TRANSITIONAL, xml)
