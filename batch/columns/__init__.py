"""The dictionary of all columns: the single source of truth for headers, units, bounds, help."""

from batch.columns.candidates import CANDIDATES
from batch.columns.column import Column, Sheet
from batch.columns.feeders import FEEDERS, SHARED_LINES
from batch.columns.program import PROGRAM
from batch.columns.rates import RATES
from batch.columns.study import STUDY
from batch.columns.unit_costs import UNIT_COSTS

INPUT_SHEETS = (STUDY, CANDIDATES, PROGRAM, RATES, UNIT_COSTS, FEEDERS, SHARED_LINES)
SHEET_BY_NAME = {sheet.name: sheet for sheet in INPUT_SHEETS}

__all__ = ["CANDIDATES", "Column", "FEEDERS", "INPUT_SHEETS", "PROGRAM", "RATES", "SHARED_LINES",
           "SHEET_BY_NAME", "STUDY", "Sheet", "UNIT_COSTS"]
