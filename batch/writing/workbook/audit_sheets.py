"""The sheets by which a result workbook can be computed again and checked: results by key,
approvals, formulas of the input, and all cells as written."""

from dataclasses import replace

import numpy as np
import pandas as pd

from batch.canonical import canonical_frame
from batch.columns import RESULTS
from batch.program.approvals import FIELDS as APPROVAL_FIELDS
from batch.program.approvals import approvals
from batch.reading import input_formulas
from batch.writing.workbook import as_written
from batch.writing.workbook.sheet_tables import (
    TEXT_LOOK,
    Field,
    number_field,
    text_field,
    write_table,
)
from batch.writing.workbook.styles_and_text import Look, number_format

RESULTS_NAME, APPROVALS_NAME = "Results", "Approvals"
RESULT_WIDTH = 15


def write_results(workbook, study, fingerprint: str):
    """Every result of every farm under its key, rounded by the dictionary: what results.csv
    holds, and what a re-run is compared with."""
    fields = [Field(c.key, c.key, Look(number_format=number_format(c)) if c.is_numeric
                    else TEXT_LOOK, RESULT_WIDTH, f"{c.header}. {c.help}") for c in RESULTS.columns]
    rounded = pd.DataFrame({c.key: _rounded(study.results, c) for c in RESULTS.columns})
    write_table(workbook, RESULTS_NAME, fingerprint, fields, rounded, statement=(
        "Every result under its key, as in results.csv; the note of each key tells what it means. "
        "farmbatch rerun compares these with what it computes anew.",))


def _rounded(results, column):
    """One result as results.csv has it, numbers as numbers."""
    texts = canonical_frame(results, (column,))[column.key]
    if column.is_numeric:
        return np.array([float(text) if text else np.nan for text in texts])
    return texts.to_numpy(object)


def write_approvals(workbook, study, fingerprint: str):
    """What was approved against what the rules give; no sheet where nothing was approved."""
    listed = approvals(study)
    fields = [number_field(key, header, 2) if key.endswith("_usd") else text_field(key, header)
              for key, header in APPROVAL_FIELDS]
    write_table(workbook, APPROVALS_NAME, fingerprint, fields, listed, statement=(
        "Incentives that were approved against what the rules in force give, with the reason of "
        "each difference.",))


def write_input_formulas(workbook, cells_by_sheet: dict, fingerprint: str):
    """The formulas of the input; no sheet where it had none."""
    fields = [text_field("sheet", "Sheet"), text_field("cell", "Cell"),
              text_field("help", "Formula")]
    rows = [{**row, "help": row["formula"]} for row in input_formulas.rows_of(cells_by_sheet)]
    write_table(workbook, input_formulas.NAME, fingerprint, fields, rows, statement=(
        "Cells of the input that held a formula; the copies in this workbook hold the values "
        "that were stored with them.",))


def write_cells_as_written(workbook, kept: as_written.KeptLines, fingerprint: str):
    """The last sheet: the lines of the rows of every other sheet, some in each cell."""
    fields = [text_field("sheet", "Sheet"), number_field("row", "From row", 0),
              Field("line", "Its rows from there on, each from column A on",
                    replace(TEXT_LOOK, wrap=True), 120)]
    write_table(workbook, as_written.NAME, fingerprint, fields, kept, statement=(
        "For farmbatch rerun, which finds changed cells by it: a number or a short text as it is, "
        "any other content as the first signs of its hash, a blank as a dash, | between rows.",))
