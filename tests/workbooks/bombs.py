"""Workbooks made to fill the memory or the day, and the measure of what a check of each costs."""

import io
import json
import os
import random
import re
import subprocess
import sys
import zipfile
from pathlib import Path

from batch.reading.header import column_letter
from tests.workbooks.as_strict import as_strict
from tests.workbooks.make import sheet_part, with_part

ROOT = Path(__file__).parents[2]
MEASURE = """
import json, re, resource, sys, time
from batch.findings import StudyError
from batch.study import check_workbook

def peak_mb():
    if sys.platform != "linux":
        unit = 1024 * 1024 if sys.platform == "darwin" else 1024
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit
    # Here getrusage would count the process that started this one, too.
    return int(re.search(r"VmHWM:\\s+(\\d+)", open("/proc/self/status").read())[1]) / 1024

before, start = peak_mb(), time.process_time()
try:
    counts, told = check_workbook(sys.argv[1]).counts, ""
except StudyError as stop:
    counts, told = None, str(stop)
print(json.dumps({"mb": peak_mb() - before, "s": time.process_time() - start, "counts": counts,
                  "told": told}))
"""
MIX = random.Random(1)  # bytes that do not compress to nothing, so that the ratio is a real sheet's


def many(count, make):
    return b"".join(make(n) for n in range(count))


def with_rows(path, xml):
    """The workbook with more rows at the end of its Candidates sheet."""
    return with_part(path, sheet_part("Candidates", path),
                     lambda sheet: sheet.replace(b"</sheetData>", xml + b"</sheetData>"))


def blank_cells(n, columns=250):
    row = n + 3
    cells = "".join(f'<c r="{column_letter(c)}{row}" s="0"/>' for c in range(columns))
    return f'<row r="{row}">{cells}</row>'.encode()


def wide_row(n):
    return f'<row r="{n + 3}"><c r="A{n + 3}" s="0"/><c r="XFD{n + 3}" s="0"/></row>'.encode()


def nested_archive(depth=4):
    content = b"\0" * 20_000_000
    for _ in range(depth):
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("inner.zip", content)
        content = packed.getvalue()
    return content


def in_part(name, change):
    return lambda path: with_part(path, name, change)


def in_rows(make):
    return lambda path: with_rows(path, make())


def stated_dimension(path):
    return with_part(path, sheet_part("Candidates", path), lambda xml: re.sub(
        b'<dimension ref="[^"]*"', b'<dimension ref="A1:XFD1048576"', xml))


# Name -> (how the workbook is made, what is told: None where it is read as if nothing were there).
BOMBS = {
    "a million formatted blank cells": (in_rows(lambda: many(4_000, blank_cells)), None),
    "half a million formatted blank rows": (in_rows(lambda: many(
        500_000, lambda n: b'<row r="%d" ht="15"/>' % (n + 3))), None),
    "rows to the last column": (in_rows(lambda: many(2_000, wide_row)), None),
    "huge stated dimension": (stated_dimension, None),
    "rows to the last column, strict": (lambda path: as_strict(with_rows(
        path, many(2_000, wide_row))), None),
    "archive in archive in archive": (in_part("xl/media/a.zip", lambda _: nested_archive()), None),
    "zip bomb": (in_part("xl/worksheets/sheet9.xml", lambda _: b" " * 100_000_000),
                 "times its size"),
    "two million cells in a row": (in_rows(lambda: b'<row r="3">' + many(
        2_000_000, lambda _: MIX.choice((b'<c s="0"/>', b'<c s="1"/>'))) + b"</row>"),
        "more elements"),
    "two million elements between rows": (in_rows(lambda: many(
        2_000_000, lambda n: b'<x a="%d"/>' % (n * 7919 % 100_003))), "more elements"),
    "two million shared texts": (in_part("xl/sharedStrings.xml", lambda _: b"<sst>" + many(
        2_000_000, lambda n: b"<si><t>%d</t></si>" % (n * 7919 % 100_003)) + b"</sst>"),
        "more elements"),
    "half a million cell formats": (in_part("xl/styles.xml", lambda xml: xml.replace(
        b"</cellXfs>", many(500_000, lambda n: b'<xf numFmtId="%d" fontId="0"/>' % (n % 163))
        + b"</cellXfs>")), "more elements"),
    "entities far behind the start": (in_part("xl/worksheets/sheet2.xml", lambda xml: (
        b"<!--" + many(1_500_000, lambda n: b"%d," % (n * 7919 % 100_003))
        + b'--><!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;">]>' + xml)),
        "declares entities"),
}


def measured(path) -> dict:
    """What a check of a workbook costs in a process of its own, on top of the bare program: `mb` of
    memory at its peak, `s` of processor time; `counts` of its rows, or what was `told` instead."""
    done = subprocess.run([sys.executable, "-c", MEASURE, path], capture_output=True, text=True,
                          env=os.environ | {"PYTHONPATH": str(ROOT)}, timeout=120, check=True)
    return json.loads(done.stdout)
