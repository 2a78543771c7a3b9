"""The Contents sheet of a result workbook: every sheet with a link and a line what it holds, and
which sheets are shown. The others are hidden, so that there are few sheets to look at."""

import math

from batch.columns import INPUT_SHEETS
from batch.columns.portfolio import FEEDER_LOADS, PORTFOLIO_SHEETS
from batch.reading import input_formulas
from batch.reading.cells import SCENARIO, copy_name
from batch.writing.record import RECORD_NAME
from batch.writing.workbook import as_written
from batch.writing.workbook.audit_sheets import APPROVALS_NAME, RESULTS_NAME
from batch.writing.workbook.sheet_tables import LINE_HEIGHT, PrintedSheet
from batch.writing.workbook.styles_and_text import BAND, SUBTITLE, TITLE, WRAPPED, Look

NAME, WHAT_FAILS, WHO_PAYS, RULES_CHANGED = "Contents", "What fails", "Who pays", "Rules changed"
FEEDERS, PROGRAM_NAME, GLOSSARY = "Feeders", "Program used", "Glossary"
SHOWN = (NAME, "Ranking", "Candidates", WHAT_FAILS, WHO_PAYS, "Findings", RULES_CHANGED)
HOLDS = {
    "Ranking": "The farms in order, the budget line, and two charts.",
    "Candidates": "Your own rows; every cell with something to say is marked and carries a note.",
    WHAT_FAILS: "What keeps a farm out or leaves it open, by how much, and what would mend it.",
    WHO_PAYS: "What each item of a farm's chosen supply costs, and who pays how much of it.",
    "Findings": "Faults, and what wants a second look, gravest first, each with its cell.",
    RULES_CHANGED: "The rules that differ from the year's, with what the year says.",
    "Options": "The best design of every way to supply a farm, side by side.",
    "Economics": "Bills, savings, paybacks, present values and benefit tests of each farm.",
    PROGRAM_NAME: "Every rule in force, with who set it and its source.",
    GLOSSARY: "What the headings of the shown sheets mean.",
    RECORD_NAME: "What made this result: hashes, versions and counts.",
    SCENARIO.name: "What the scenario put in place of the workbook's own.",
    "Mitigations": "What each way of taming a drive's harmonics would do.",
    input_formulas.NAME: "Cells of your workbook that held a formula.",
    RESULTS_NAME: "Every result under its key; a re-run compares with these.",
    APPROVALS_NAME: "Incentives approved earlier, beside what the rules give.",
    as_written.NAME: "By this a re-run finds cells that were changed.",
    **{FEEDERS if sheet is FEEDER_LOADS else sheet.name: sheet.help.split(". ")[0]
       .rstrip(".") + "." for sheet in PORTFOLIO_SHEETS},
    **{copy_name(sheet.name): f"A copy of your sheet {sheet.name}." for sheet in INPUT_SHEETS
       if copy_name(sheet.name) != sheet.name}}
TO_UNHIDE = ("To see a hidden sheet: right-click any tab at the foot of the window, choose Unhide "
             "(or Show Sheet), and pick it. A link to a hidden sheet opens only after that.")
LINK = Look(ink="0B5394", bold=True, indent=1)
WIDTHS = (26, 92)


def begin_contents(workbook, fingerprint: str) -> PrintedSheet:
    """The sheet, which stands before all others; `fill_contents` writes its rows."""
    sheet = PrintedSheet(workbook, NAME, fingerprint)
    sheet.set_widths(WIDTHS)
    sheet.worksheet.page_setup.fitToHeight = 1
    return sheet


def fill_contents(sheet: PrintedSheet, workbook, study):
    """A line for each sheet of the workbook: the shown ones, then the hidden ones."""
    names = [each.name for each in workbook.sheets if each is not sheet] + [as_written.NAME]
    sheet.append([sheet.cell(str(study.inputs.study["study_name"]), TITLE)], 24)
    sheet.append([sheet.cell("Open a sheet by its link, or by its tab at the foot of the window.",
                             SUBTITLE)])
    sheet.append([])
    _list(sheet, "Sheets to look at", [name for name in names if name in SHOWN])
    sheet.append([])
    _list(sheet, "Hidden sheets", [name for name in names if name not in SHOWN], TO_UNHIDE)


def _list(sheet, heading, names, statement=""):
    sheet.append([sheet.cell(heading, BAND), sheet.cell("What it holds", BAND)], 20)
    if statement:
        sheet.append([sheet.cell(None), sheet.cell(statement, WRAPPED)], 32)
    for name in names:
        lines = math.ceil(len(_holds(name)) / WIDTHS[1])
        sheet.append([sheet.cell(name, LINK), sheet.cell(_holds(name), WRAPPED)],
                     LINE_HEIGHT * lines + 3, link=name)


def _holds(name):
    """What a sheet holds; one that goes on from another has its name with a number behind it."""
    first = name.rstrip("0123456789").rstrip()
    return HOLDS[name] if name in HOLDS else f"More rows of {first}. {HOLDS[first]}"
