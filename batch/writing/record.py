"""The record: what made a result. Its fingerprint ties paper to file.

The fingerprint proves that a page belongs to these inputs, rules, tables and results. It proves
nothing about who made them or whether they are right, and it is no signature.
"""

import json
import platform
from functools import cache
from importlib import metadata
from importlib.resources import files
from pathlib import Path

from batch import __version__, rules, tables
from batch.canonical import digest, raw_text
from batch.columns import ALL_SHEETS
from batch.findings import StudyError
from batch.writing.workbook.styles_and_text import clean_text

RECORD, RECORD_NAME = "record.json", "Record"  # file and sheet
LARGEST_RECORD_BYTES = 50_000_000  # a run of 50,000 farms with every page lists 9 MB of files

LIBRARIES = ("numpy", "scipy", "pandas", "openpyxl", "pint", "jinja2", "matplotlib", "click",
             "defusedxml")
SHORT = 12  # signs of a hash that only tells which one of several parts has changed
WHAT_IT_PROVES = (
    "The fingerprint is a hash over the input file, its cells, the rules in force, the published "
    "tables, the dictionary of columns, the program's source files and the results. The same "
    "fingerprint on paper and in a file means the same inputs, rules, program and results; "
    "farmbatch rerun computes them anew and names each cell that was changed since. It is not a "
    "signature: it does not tell who made them or when, nor whether the inputs are true or the "
    "rules right, and someone with this program can make a whole new set. Keep the fingerprint of "
    "an approval where others cannot write, as in the minutes. Looks and notes of cells are not "
    "covered.")


def study_content(study, results_csv: str, options: dict) -> dict:
    """What is hashed into the fingerprint: plain data without clock, machine or versions."""
    inputs = study.inputs
    return {
        "program": {"name": "farmbatch", "version": __version__},
        "study": {key: value for key, value in inputs.study.items()},
        "rules_year": inputs.rules.year,
        "options": options,
        "counts": {**study.counts, "findings": study.findings.counts()},
        "reading": {sheet.sheet: sheet.reading for sheet in inputs.cells.values()},
        "sha256": {
            "input_file": inputs.file_sha256,
            "input_cells": cells_digest(inputs.cells),
            "rules": rules_digest(inputs.rules),
            "results": digest(results_csv),
            **program_digests()},
        "table_hashes": table_hashes(),
        "dictionary_hashes": dictionary_hashes(),
    }


def cells_digest(cells: dict) -> str:
    """The engineer's cells and headers, by sheet and row, as one hash: whatever program saved
    them, and whether they stand in the input or in a result's copies. A sheet of headers alone says
    nothing, and has no copy."""
    sheets = []
    for sheet in filter(lambda sheet: sheet.rows, cells.values()):
        rows = [(sheet.header_row or 0, [header.text for header in sheet.headers]),
                (sheet.unit_row or 0, [header.unit for header in sheet.headers])]
        rows += [(row, [raw_text(_as_copied(value), (row, place) in sheet.percent_cells)
                        for place, value in enumerate(values)]) for row, values in sheet.rows]
        sheets.append([sheet.sheet, [[row, "\t".join(texts).rstrip("\t")] for row, texts in rows]])
    return digest(sorted(sheets))


def _as_copied(value):
    """A value as a copy holds it: texts without what no workbook can hold."""
    return value if type(value) is not str or value.isprintable() else clean_text(value)


def rules_digest(in_force) -> str:
    """The rules in force with their sources and who set them."""
    return digest({key: [rules.value_text(rule.value), rule.source, rule.origin]
                   for key, rule in in_force.by_key.items()})


def program_digests() -> dict[str, str]:
    """Hashes of what the program brings along: its tables, its dictionary, its source files."""
    return {"tables": digest({name: tables.text(name) for name in tables.names()}),
            "dictionary": _dictionary_digests()[0],
            "program": _program_digest()}


@cache
def _program_digest() -> str:
    """The source files as they were when this program first looked: those that run."""
    return digest(_source_texts(files("batch")))


def _source_texts(folder, place="") -> dict[str, str]:
    """The program's source files by place, with plain line ends. The page templates are not in
    it: they show results and make none."""
    texts = {}
    for entry in folder.iterdir():
        if entry.is_dir() and entry.name != "templates":
            texts |= _source_texts(entry, f"{place}{entry.name}/")
        elif entry.name.endswith(".py"):
            texts[place + entry.name] = entry.read_bytes().replace(b"\r\n", b"\n").decode()
    return texts


def table_hashes() -> dict[str, str]:
    """A short hash of each published table."""
    return {name: digest(tables.text(name))[:SHORT] for name in tables.names()}


def dictionary_hashes() -> dict[str, str]:
    """A short hash of each sheet of the dictionary."""
    return dict(_dictionary_digests()[1])


@cache
def _dictionary_digests():
    """The hash of the whole dictionary, and a short one of each sheet."""
    named = [[sheet.name, _as_data(sheet)] for sheet in ALL_SHEETS]
    return digest(named), {name: digest(columns)[:SHORT] for name, columns in named}


def _as_data(sheet) -> list[dict]:
    """The columns of a sheet. Arithmetic that is a function counts by what it says: a function has
    another address in every process, and its source is hashed with the program's."""
    return [vars(column) | {"worked": column.worked_says} for column in sheet.columns]


def fingerprint(content: dict) -> str:
    """Sixteen signs that stand for the content, in groups of four."""
    signs = digest(content)[:16]
    return "-".join(signs[k:k + 4] for k in range(0, 16, 4))


def environment() -> dict:
    """Versions of Python and the libraries; kept out of the fingerprint."""
    return {"python": platform.python_version(),
            **{name: metadata.version(name) for name in LIBRARIES}}


def read_record(path: Path) -> dict:
    """The record of a run folder: `fingerprint`, `content`, `files_sha256` and what else it holds.

    Errors: StudyError where it cannot be read or is no record of a run.
    """
    try:
        if not path.is_file():
            raise ValueError("it is not a file")
        if path.stat().st_size > LARGEST_RECORD_BYTES:
            raise ValueError(f"it has more than {LARGEST_RECORD_BYTES / 1e6:g} MB")
        whole = json.loads(path.read_bytes().decode("utf-8"))
        _must_be_a_record(whole)
        fingerprint(whole["content"])
    except OSError as fault:
        raise _unread(path, fault.strerror or str(fault)) from fault
    except (ValueError, RecursionError) as fault:
        raise _unread(path, " ".join(str(fault).split())[:200]) from fault
    return whole


def _unread(path, reason: str) -> StudyError:
    return StudyError(f"{path} cannot be read as the record of a run: {reason}.",
                      "Take the folder as it was written.")


def _must_be_a_record(whole):
    def must(is_right, what):
        if not is_right:
            raise ValueError(f"it has no {what}")

    must(isinstance(whole, dict) and isinstance(whole.get("fingerprint"), str), "fingerprint")
    content = whole.get("content")
    study = content.get("study") if isinstance(content, dict) else None
    must(isinstance(study, dict) and isinstance(study.get("study_name"), str), "study name")
    listed = whole.get("files_sha256")
    must(isinstance(listed, dict) and all(isinstance(text, str) for text in listed.values()),
         "list of files")
    must(isinstance(whole.get("environment", {}), dict), "table of versions")


def record_text(value) -> str:
    """A value of the record as it stands in a cell: text as it is where it reads back as text, all
    else as JSON."""
    if isinstance(value, str) and record_value(value) == value:
        return value
    return json.dumps(value, ensure_ascii=False, default=str)


def record_value(text):
    """A value of the record from the text of its cell."""
    try:
        return json.loads(text)
    except (TypeError, ValueError, RecursionError):
        return text
