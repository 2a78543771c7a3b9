"""The record: what made a result. Its fingerprint ties paper to file.

The fingerprint proves that a page belongs to these inputs, rules, tables and results. It proves
nothing about who made them or whether they are right, and it is no signature.
"""

import dataclasses
import platform
from importlib import metadata

from batch import __version__, tables
from batch.canonical import digest
from batch.columns import ALL_SHEETS

LIBRARIES = ("numpy", "pandas", "openpyxl", "pint", "jinja2", "click", "defusedxml")
WHAT_IT_PROVES = (
    "The fingerprint is a hash over the input file, its cells, the rules in force, the published "
    "tables, the dictionary of columns and the results. The same fingerprint means the same "
    "inputs, rules and results. It is not a signature: it does not tell who made them, or whether "
    "they are right.")


def study_content(study, results_csv: str, options: dict) -> dict:
    """What is hashed into the fingerprint: plain data without clock, machine or versions."""
    inputs = study.inputs
    rules = {key: [rule.value, rule.source, rule.origin]
             for key, rule in inputs.rules.by_key.items()}
    return {
        "program": {"name": "farmbatch", "version": __version__},
        "study": {key: value for key, value in inputs.study.items()},
        "rules_year": inputs.rules.year,
        "options": options,
        "counts": {**study.counts, "findings": study.findings.counts()},
        "sha256": {
            "input_file": digest(inputs.path.read_bytes()),
            "input_cells": digest([[s.sheet, [[row, list(map(str, cells))]
                                             for row, cells in s.rows]]
                                   for s in inputs.cells.values()]),
            "rules": digest(rules),
            "tables": digest({name: tables.text(name) for name in tables.names()}),
            "dictionary": digest([[sheet.name, [dataclasses.asdict(c) for c in sheet.columns]]
                                  for sheet in ALL_SHEETS]),
            "results": digest(results_csv)},
    }


def fingerprint(content: dict) -> str:
    """Sixteen signs that stand for the content, in groups of four."""
    signs = digest(content)[:16]
    return "-".join(signs[k:k + 4] for k in range(0, 16, 4))


def environment() -> dict:
    """Versions of Python and the libraries; kept out of the fingerprint."""
    return {"python": platform.python_version(),
            **{name: metadata.version(name) for name in LIBRARIES}}
