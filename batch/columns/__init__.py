"""The dictionary of all columns: the single source of truth for headers, units, bounds, help."""

from batch.columns.candidates import CANDIDATES
from batch.columns.column import Column, Sheet
from batch.columns.delivered import DELIVERED
from batch.columns.feeders import FEEDERS, SHARED_LINES
from batch.columns.limits import LIMITS
from batch.columns.portfolio import PORTFOLIO_SHEETS
from batch.columns.program import PROGRAM
from batch.columns.rates import RATES
from batch.columns.results import OPTION_COLUMNS, RESULTS
from batch.columns.study import STUDY
from batch.columns.unit_costs import UNIT_COSTS
from batch.columns.working import WORKING, WORKING_SHEETS

INPUT_SHEETS = (STUDY, CANDIDATES, PROGRAM, RATES, UNIT_COSTS, FEEDERS, SHARED_LINES, LIMITS,
                DELIVERED)
SHEET_BY_NAME = {sheet.name: sheet for sheet in INPUT_SHEETS}
# What a user types in or is shown: the glossary and the record hold these.
ALL_SHEETS = (*INPUT_SHEETS, RESULTS, *PORTFOLIO_SHEETS)
# And what the study works with: every column of every frame has its name here.
EVERY_SHEET = (*ALL_SHEETS, *WORKING_SHEETS)

__all__ = ["ALL_SHEETS", "CANDIDATES", "Column", "DELIVERED", "EVERY_SHEET", "FEEDERS",
           "INPUT_SHEETS", "LIMITS", "OPTION_COLUMNS", "PROGRAM", "RATES", "RESULTS",
           "SHARED_LINES", "SHEET_BY_NAME", "STUDY", "Sheet", "UNIT_COSTS", "WORKING",
           "WORKING_SHEETS"]
