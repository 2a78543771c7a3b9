"""The `Read me` sheet of the blank workbook: the job, the marks, the units, the cautions."""

import textwrap

from batch.columns import INPUT_SHEETS
from batch.reading.entry_help import unit_words
from batch.writing.cautions import CAUTIONS
from batch.writing.workbook.styles_and_text import BAND, TITLE, WRAPPED, Look, put

NAME = "Read me"
STRONG = Look(bold=True, wrap=True)
COMMAND = Look(bold=True, wrap=True)
WIDTHS = {"A": 22, "B": 80}
LINE_HEIGHT = 15.5

JOB = (
    ("List every farm that has asked for service, one row each: its pump, field, site and present "
    "fuel. The study sizes and prices three ways to supply each farm: a drive on single-phase "
    "service, a rotary converter, and a three-phase line. It applies the program's rules and "
    "ranks the farms by incentive cost per kW of the load that Program names."),
)
STEPS = (
    ("1. Study", "Name the study and its date, and set the rules year and the budget."),
    ("2. Once a year", ("Fill Rates (at least one row) and Unit costs (your own prices). Look "
     "through Program: it holds the year's rules. Type over a value that your board has changed, "
     "and write the resolution beside it.")),
    ("3. Candidates", ("One row per farm. Delete the example row, or leave it: a row called "
     "EXAMPLE is never studied.")),
    ("4. If needed", ("Feeders, for spare capacity; Shared lines, where several farms would share "
     "one extension.")),
    ("5. Check", "farmbatch check my.xlsx"),
    ("", ("lists every cell that is missing, impossible or unusual, and what to do about it. All "
     "of them at once; a faulty row never stops the others.")),
    ("6. Run", "farmbatch run my.xlsx --out out"),
    ("", ("writes the result workbook, the ranking and the reports into a new folder. This "
     "workbook is never changed. The commands are the same in a Windows terminal: open it in the "
     "folder of the workbook.")),
)
MARKS = (
    ("* and 'required'", "The column must be filled on every row."),
    ("blank: 75", "An empty cell takes this value, and the result says so."),
    ("this or hours", "Needed in the case that the words say; the check tells you."),
    ("optional", ("Leave it empty where it is not known. A check that needs it is then reported as "
     "not assessed: never as passed.")),
    ("Note on a header", ("Rest the pointer on a header for its meaning, its possible and usual "
     "values, its default with the source, and its units.")),
    ("Italic grey row", "An example. It is not studied."),
)
CELLS = (
    ("Percent", "Type 75 for 75 %."),
    ("Numbers", "Plain numbers. '1,300' and '1,300 ft' are understood as well."),
    ("Dates", "2026-04-30, or a date of the spreadsheet program."),
    ("Columns", "May stand in any order. Columns of your own are kept and shown in the result."),
    ("Other units", ("Change the word in a header's square brackets and the whole column is read "
     "in that unit. The program may then ask whether to keep a number: keep it.")),
)
PRICES = (
    ("Lines", ("line, per foot: a row for each construction and for 1 and 3 phases; line job: the "
     "fixed cost of a job.")),
    ("Transformers", "by kVA; for 3 phases the kVA of the whole bank of three."),
    ("Service", ("service conductor, per foot by ampere; disconnect by ampere; meter and service, "
     "each.")),
    ("Leads", ("motor lead and pivot lead, per foot by ampere, three wires and ground; nothing is "
     "counted where a farm's row says that they exist.")),
    ("Drives", ("drive by hp, with the maker's single-phase rating where there is one; reactors, "
     "chokes, filters, active front ends by motor hp.")),
    ("Others", "rotary converter, starters and motor change by hp; engineering, each."),
)
MORE_CAUTIONS = (
    "A pivot machine can start by itself.",
    "Prices, rates and rules in the result are those of this workbook and its date.",
)


def write_read_me(worksheet, year: int):
    """Fill the sheet: two columns that print on letter paper, portrait."""
    worksheet.sheet_view.showGridLines = False
    for letter, width in WIDTHS.items():
        worksheet.column_dimensions[letter].width = width
    rows = _Rows(worksheet)
    rows.title(f"Farms to electric pumping: input workbook, program year {year}")
    rows.texts(JOB)
    rows.pairs("How to fill it", STEPS)
    rows.heading("Cautions")
    rows.texts((*CAUTIONS, *MORE_CAUTIONS))
    rows.pairs("The sheets", [(sheet.name, sheet.help) for sheet in INPUT_SHEETS]
               + [("Lists", "The words of the drop-downs. Leave it as it is.")])
    rows.pairs("The marks", MARKS)
    rows.pairs("What a cell may hold", CELLS)
    rows.pairs("What to price on Unit costs", PRICES)
    rows.pairs("Units that the brackets may hold", unit_table())
    worksheet.page_setup.orientation = "portrait"


def unit_table() -> list[tuple[str, str]]:
    """(unit of the headers, other words of its kind) for the units of all input columns."""
    by_words: dict[tuple[str, ...], list[str]] = {}
    for sheet in INPUT_SHEETS:
        for column in sheet.columns:
            words = tuple(unit_words(column.unit)) if column.unit else ()
            house = by_words.setdefault(words, [])
            if len(words) > 1 and column.unit not in house:
                house.append(column.unit)
    return [(", ".join(house), ", ".join(words)) for words, house in by_words.items() if house]


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
