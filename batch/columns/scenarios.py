"""The `Scenarios` sheet: a row per change, and a column per scenario behind the columns below."""

from batch.columns.candidates import CANDIDATES
from batch.columns.column import Column, Sheet
from batch.columns.feeders import FEEDERS, SHARED_LINES
from batch.columns.limits import LIMITS
from batch.columns.program import PROGRAM
from batch.columns.rates import RATES
from batch.columns.study import STUDY
from batch.columns.unit_costs import UNIT_COSTS

OUT, ALL = "out", "all"  # a farm that is left out; every row of a sheet
CHANGED_SHEETS = (STUDY, CANDIDATES, PROGRAM, RATES, UNIT_COSTS, FEEDERS, SHARED_LINES, LIMITS)

WHAT_CHANGES = (
    Column(key="sheet", label="Sheet", group="what is changed", kind="choice",
           choices=tuple(sheet.name for sheet in CHANGED_SHEETS),
           help="The sheet whose value is changed. Blank: found by row and key."),
    Column(key="row", label="Row", group="what is changed", kind="text",
           help="Farm, rate, feeder, shared line or limit by its name; a price by its item, and "
                "its size where only that one is meant, as in 'transformer 25'; all: every row. "
                "Blank for values of the Study and Program sheets."),
    Column(key="key", label="Key", group="what is changed", kind="text",
           help="Key or header of the value, with the header's unit where the values below have "
                "another. Blank: the row is a farm, and 'out' leaves it out."),
    Column(key="source", label="Source", group="what is changed", kind="text",
           help="For rules: resolution, clause or document behind the value."),
)

SCENARIOS = Sheet(
    name="Scenarios",
    help="What-if studies: a row per change, a column per scenario, headed by its name. A blank "
         "cell changes nothing, x1.2 multiplies what the workbook says, out leaves a farm out; "
         "all else is checked as if it was typed in its own cell.",
    columns=WHAT_CHANGES,
    required=False,
)

# How a result workbook carries the scenario of its run.
SCENARIO = Sheet(
    name="Scenario",
    help="What the scenario of this run changed.",
    columns=(*WHAT_CHANGES, Column(key="value", label="Value", group="what is changed",
                                   kind="text", help="The value in place of the workbook's.")),
    required=False,
)
