"""The `Read me` sheet of the blank workbook: the job, the steps, the cautions."""

import textwrap

from batch.writing.cautions import CAUTIONS
from batch.writing.workbook.styles_and_text import BAND, TITLE, WRAPPED, Look, put

NAME = "Read me"
STRONG = Look(bold=True, wrap=True)
COMMAND = Look(bold=True, wrap=True)
WIDTHS = {"A": 22, "B": 80}
LINE_HEIGHT = 15.5

JOB = (
    "One row for each farm that has asked for electric service; the study sizes, prices and ranks "
    "three ways to supply it. Screening cells come first: eleven a farm, the others where known.",)
STEPS = (
    ("Study", "Name the study, and set the rules year and the budget."),
    ("Candidates", ("A row per farm. A + above the columns shows more of them. The grey rows are "
     "examples: write over them or leave them, a row called EXAMPLE is never studied.")),
    ("Rates", "At least one row."),
    ("Unit costs", ("Your own prices. A row without a price is not offered; a row without a size "
     "is the price of every size.")),
    ("Cells", ("* and 'required': fill it on every row. 'blank: 75': an empty cell takes 75. "
     "Optional: leave empty what is not known; it is then not assessed, never passed. Rest the "
     "pointer on a header for its help.")),
    ("Units", ("Change the word in a header's brackets, as [ft] to [m] or [gal/min] to [L/s]: the "
     "column is read in that unit.")),
    ("Check", "farmbatch check my.xlsx"),
    ("Run", "farmbatch run my.xlsx --out out"),
)
MORE_CAUTIONS = (
    "A pivot machine can start by itself.",
    "Prices, rates and rules in the result are those of this workbook and its date.",
)


def write_read_me(worksheet, year: int, hidden: list[str]):
    """Fill the sheet: two columns that print on letter paper, portrait; `hidden` are the sheets
    that are there and not shown."""
    worksheet.sheet_view.showGridLines = False
    for letter, width in WIDTHS.items():
        worksheet.column_dimensions[letter].width = width
    more = [("More sheets", f"{', '.join(hidden)}: hidden until you need them. Right-click a "
             "sheet's tab and choose Unhide.")] if hidden else []
    rows = _Rows(worksheet)
    rows.title(f"Farms to electric pumping: input workbook, program year {year}")
    rows.texts(JOB)
    rows.pairs("How to fill it", (*STEPS[:4], *more, *STEPS[4:]))
    rows.heading("Cautions")
    rows.texts((*CAUTIONS, *MORE_CAUTIONS))
    worksheet.page_setup.orientation = "portrait"


class _Rows:
    """Writes one row below the other."""

    def __init__(self, worksheet):
        self.worksheet, self.row = worksheet, 0

    def _next(self):
        self.row += 1
        return self.worksheet.cell(self.row, 1), self.worksheet.cell(self.row, 2)

    def title(self, text):
        put(self._next()[0], text, TITLE)
        self.worksheet.row_dimensions[self.row].height = 26

    def heading(self, text):
        self._next()
        first, second = self._next()
        put(first, text, BAND)
        put(second, None, BAND)

    def texts(self, texts):
        for text in texts:
            put(self._next()[0], text, WRAPPED)
            self.worksheet.merge_cells(start_row=self.row, end_row=self.row, start_column=1,
                                       end_column=2)
            self._set_height((text, sum(WIDTHS.values())))

    def pairs(self, heading, pairs):
        self.heading(heading)
        for name, text in pairs:
            first, second = self._next()
            put(first, name, STRONG)
            put(second, text, COMMAND if text.startswith("farmbatch ") else WRAPPED)
            self._set_height((name, 0.85 * WIDTHS["A"]), (text, WIDTHS["B"]))

    def _set_height(self, *texts_and_widths):
        """Room for every line: not each spreadsheet program finds the height by itself."""
        lines = max(len(textwrap.wrap(text, int(width))) for text, width in texts_and_widths)
        self.worksheet.row_dimensions[self.row].height = LINE_HEIGHT * max(lines, 1) + 2
