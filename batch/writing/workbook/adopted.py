"""A list taken in, written into a blank workbook: its farms on Candidates, and three sheets beside
them: what each heading was taken for, every cell of the list, and what is to be asked."""

from dataclasses import dataclass, replace
from pathlib import Path

from openpyxl import Workbook, load_workbook
from openpyxl.utils import get_column_letter

from batch import rules, units
from batch.adopting import kept
from batch.adopting.adopt import Adopted
from batch.adopting.kept import NO_KEY
from batch.columns import CANDIDATES, STUDY
from batch.findings import StudyError
from batch.reading.cell_text import is_blank
from batch.reading.cells import read_workbook
from batch.reading.entry_help import as_typed
from batch.reading.guard import check_file
from batch.reading.header import HeaderCell, is_native_unit, plain_name
from batch.reading.own_list import workbook_sheets
from batch.reading.sheet_cells import SheetCells
from batch.reading.validate import ADOPTED_SHEETS
from batch.writing.new_file import must_be_no_link, must_be_workbook
from batch.writing.workbook.blank import fill_prices, new_workbook, set_values
from batch.writing.workbook.package import save_workbook
from batch.writing.workbook.sheet_tables import note
from batch.writing.workbook.styles_and_text import (
    HEADER,
    PAPER,
    PLAIN,
    SUBTITLE,
    TITLE,
    WRAPPED,
    number_format,
    put,
)
from batch.writing.workbook.table_sheets import FIRST_ROW

HEADINGS, OWN_LIST, QUESTIONS = ADOPTED_SHEETS
# Parts that openpyxl does not write again: a workbook with one is not filled but refused.
LOST_PARTS = ("xl/charts/", "xl/media/", "xl/pivotTables/", "xl/drawings/drawing", "xl/slicers/",
              "xl/externalLinks/", "xl/threadedComments/", "xl/ctrlProps/", "xl/queryTables/")
CHOICE_LOOK = replace(WRAPPED, fill=PAPER, is_boxed=True)
HEADING_COLUMNS = ((kept.HEADING, 30), (kept.PLACE, 20), (kept.WORD, 18), (kept.TAKEN_AS, 30),
                   ("Unit", 10), ("Own values", 34), ("Why", 52), (kept.CHOICE, 26),
                   (kept.UNIT, 12))
LIST_COLUMNS = (("Place in the list", 22), ("Own heading", 28), ("Own text", 30),
                ("Row on Candidates", 12), ("Key", 26), ("Value taken", 18), ("Unit", 10),
                ("What was done", 60))
QUESTION_COLUMNS = (("No.", 6), ("Ask", 12), ("Decides", 20), ("Question", 90), ("Farms", 8),
                    ("Write the answer into", 30))
STATEMENTS = {
    HEADINGS: "What each heading of the list was taken for. Write another column's label, or "
              f"'{NO_KEY}', under 'Your choice', save, and run the same command again. Keep this "
              "workbook for next year: --mapping takes it.",
    OWN_LIST: "Every filled cell of the list, and what was made of it.",
    QUESTIONS: "What is to be asked, gravest first.",
}


@dataclass
class Target:
    """The workbook into which a list goes: as it is now (None where it is made new), with the
    header cells of its Candidates sheet by key and the first free row."""

    path: Path
    book: Workbook | None
    headers: dict[str, HeaderCell]
    first_row: int
    is_again: bool = False

    def place(self, key: str, farm: int) -> str:
        """The cell of a farm on Candidates; '' where the sheet has no such column."""
        header = self.headers.get(key)
        return f"{CANDIDATES.name}!{header.letter}{self.first_row + farm}" if header else ""


def target_of(path: Path) -> Target:
    """The workbook to be filled.

    Errors: StudyError for one that holds farms which this command did not write, or anything that
    would be lost when it is written again.
    """
    must_be_no_link(path)
    must_be_workbook(path)
    if not path.exists():
        headers = {column.key: HeaderCell(place, get_column_letter(place + 1), column.header,
                                          column, column.unit)
                   for place, column in enumerate(CANDIDATES.columns)}
        return Target(path, None, headers, FIRST_ROW)
    file = check_file(path)
    with file.archive() as archive:
        lost = [name for name in archive.namelist() if name.startswith(LOST_PARTS)]
    if lost:
        raise StudyError(f"The workbook {path} holds a chart, picture or link ({lost[0]}), which "
                         "would be lost.", "Adopt the list into a new workbook.")
    cells = read_workbook(file).by_sheet[CANDIDATES.name]
    is_again = _may_be_filled(path, cells)
    book = load_workbook(file.stream())
    _size_notes(book)
    return Target(path, book, {h.key: h for h in cells.headers if h.column},
                  cells.header_row + 1, is_again)


def _size_notes(book: Workbook):
    """Give the notes of headers room for their texts again: openpyxl does not read their sizes."""
    for worksheet in book.worksheets:
        for row in worksheet.iter_rows():
            for cell in row:
                if cell.comment:
                    sized = note(cell.comment.text)
                    cell.comment.width, cell.comment.height = sized.width, sized.height


def _may_be_filled(path: Path, cells: SheetCells) -> bool:
    """True where the farms are those that this command wrote before, each as it was written.
    Errors: StudyError where there are others."""
    rows = _own_rows(cells)
    if not rows:
        return False
    written = _written_before(path)
    present = {(row, letter): _text(value) for row, values in rows.items()
               for letter, value in values.items()}
    for row, letter in sorted(present.keys() | written.keys()):
        if present.get((row, letter)) != written.get((row, letter)):
            raise StudyError(
                f"The workbook {path} holds farms of yours: {CANDIDATES.name}!{letter}{row} is "
                f"'{present.get((row, letter), '')}', which is not what adopt wrote there.",
                f"Adopt the list into a new workbook; --mapping {path} takes the choices of this "
                "one.")
    return True


def _own_rows(cells: SheetCells) -> dict[int, dict[str, object]]:
    """Row -> letter -> value of the rows that are no example."""
    first = next(h.index for h in cells.headers if h.key == CANDIDATES.columns[0].key)
    example = plain_name(CANDIDATES.columns[0].example)
    return {row: {cells.headers[i].letter: value for i, value in enumerate(values)
                  if not is_blank(value)}
            for row, values in cells.rows
            if not (isinstance(values[first], str)
                    and plain_name(values[first]).startswith(example))}


def _written_before(path: Path) -> dict[tuple[int, str], str]:
    """(row, letter) -> the text of what an earlier call wrote, from its hidden list of cells."""
    sheets = [sheet for sheet in workbook_sheets(path) if sheet.name == OWN_LIST]
    written = {}
    for _, values in sheets[0].rows if sheets else ():
        if len(values) > len(LIST_COLUMNS) and values[len(LIST_COLUMNS)]:
            for each in str(values[len(LIST_COLUMNS)]).split("\n"):
                place, _, text = each.partition("=")
                letter = place.rstrip("0123456789")
                written[int(place[len(letter):]), letter] = text
    return written


def _text(value) -> str:
    if hasattr(value, "isoformat"):
        return value.isoformat()[:10]
    return f"{value:.10g}" if isinstance(value, (int, float)) else str(value)


# --- writing -------------------------------------------------------------------------------------

def write_adopted(target: Target, adopted: Adopted):
    """Write the farms and the three sheets into the target.

    Errors: StudyError where the workbook lacks a column, or cannot be written.
    """
    book = target.book
    if book is None:
        year = rules.years()[-1]
        book = new_workbook(year)
        fill_prices(book)
        set_values(book[STUDY.name], {"study_name": Path(adopted.name).stem})
    name = next(name for name in book.sheetnames if plain_name(name) == plain_name(CANDIDATES.name))
    written = _write_farms(book[name], target, adopted)
    for sheet in ADOPTED_SHEETS:
        if sheet in book.sheetnames:
            if book[sheet]["A2"].value != STATEMENTS[sheet]:
                raise StudyError(f"The workbook {target.path} has a sheet '{sheet}' of its own, "
                                 "which adopt would replace.", "Rename that sheet.")
            del book[sheet]
    _write_headings(book, adopted)
    _write_list(book, target, adopted, written)
    _write_questions(book, target, adopted)
    save_workbook(book, target.path)


def _write_farms(worksheet, target: Target, adopted: Adopted) -> list[list[str]]:
    """Write each farm's row; for each farm, what stands in its cells afterwards."""
    missing = {key for farm in adopted.farms for key in farm} - target.headers.keys()
    if missing:
        labels = ", ".join(f"'{CANDIDATES.by_key[key].label}'" for key in sorted(missing))
        raise StudyError(f"The Candidates sheet of {target.path} has no column {labels}.",
                         "Add it, or adopt the list into a new workbook.")
    for row in range(target.first_row, worksheet.max_row + 1):
        for header in target.headers.values():
            worksheet.cell(row, header.index + 1).value = None
    written = []
    for row, farm in enumerate(adopted.farms, start=target.first_row):
        cells = []
        for key, value in farm.items():
            header, column = target.headers[key], CANDIDATES.by_key[key]
            value = as_typed(value) if isinstance(value, bool) else _in_unit(value, header)
            put(worksheet.cell(row, header.index + 1), value,
                replace(PLAIN, number_format=number_format(column)))
            worksheet.column_dimensions[header.letter].hidden = False  # shown if filled
            cells.append(f"{header.letter}{row}={_text(value)}")
        written.append(cells)
    return written


def _in_unit(value, header: HeaderCell):
    """A value in the unit that the header of the workbook has."""
    column = header.column
    if not isinstance(value, (int, float)) or is_native_unit(column, header.unit):
        return value
    return float(f"{units.convert(value, column.unit, header.unit):.10g}")


def _sheet(book: Workbook, name: str, columns):
    """A new sheet with its title, statement and headers."""
    worksheet = book.create_sheet(name)
    put(worksheet.cell(1, 1), name, TITLE)
    put(worksheet.cell(2, 1), STATEMENTS[name], SUBTITLE)
    for place, (header, width) in enumerate(columns, start=1):
        put(worksheet.cell(3, place), header, HEADER)
        worksheet.column_dimensions[get_column_letter(place)].width = width
    worksheet.freeze_panes = "A4"
    worksheet.auto_filter.ref = f"A3:{get_column_letter(len(columns))}3"
    return worksheet


def _write_row(worksheet, row: int, values, choices=()):
    for place, value in enumerate(values, start=1):
        put(worksheet.cell(row, place), value, CHOICE_LOOK if place in choices else WRAPPED)


def _write_headings(book: Workbook, adopted: Adopted):
    worksheet = _sheet(book, HEADINGS, HEADING_COLUMNS)
    row = 3
    for heading in adopted.headings:
        row += 1
        column = CANDIDATES.by_key.get(heading.key)
        why = heading.why + (f"; {heading.needs_unit}" if heading.needs_unit else "")
        choice = CANDIDATES.by_key.get(heading.choice)
        house = column.unit if column and column.is_numeric else ""
        assumed = f"{house} (not stated)" if house and not heading.needs_unit else ""
        _write_row(worksheet, row, (
            heading.head.text, heading.head.place, None, column.label if column else NO_KEY,
            heading.unit or assumed, heading.samples, why,
            choice.label if choice else heading.choice, heading.unit_choice), (8, 9))
    for word in adopted.words:
        row += 1
        taken, column = word.taken, word.heading.column
        choice = word.heading.own_words.get(" ".join(word.word.casefold().split()), "")
        why = f"{taken.asked or taken.how}" + (f"; most likely '{taken.proposal}'"
                                               if taken.proposal else "")
        _write_row(worksheet, row, (word.heading.head.text, word.heading.head.place, word.word,
                                    column.label, None, None, why, choice, None), (8,))


def _write_list(book: Workbook, target: Target, adopted: Adopted, written):
    worksheet = _sheet(book, OWN_LIST, LIST_COLUMNS)
    told: set[int] = set()
    for row, line in enumerate(adopted.lines, start=4):
        column = CANDIDATES.by_key.get(line.key)
        farm_row = None if line.farm is None else target.first_row + line.farm
        value = as_typed(line.value) if isinstance(line.value, bool) else line.value
        unit = column.header.rpartition("[")[2].rstrip("]") if column and column.unit else None
        _write_row(worksheet, row, (line.place, line.heading, line.text, farm_row, line.key, value,
                                    unit if value is not None else None, line.done))
        if line.farm is not None and line.farm not in told:
            told.add(line.farm)
            put(worksheet.cell(row, len(LIST_COLUMNS) + 1), "\n".join(written[line.farm]), PLAIN)
    hidden = worksheet.column_dimensions[get_column_letter(len(LIST_COLUMNS) + 1)]
    hidden.hidden, hidden.width = True, 10  # what is on Candidates, so that a later call knows it


def _write_questions(book: Workbook, target: Target, adopted: Adopted):
    worksheet = _sheet(book, QUESTIONS, QUESTION_COLUMNS)
    for number, question in enumerate(adopted.questions, start=1):
        places = [target.place(question.key, farm) for farm in question.farms]
        where = ", ".join(places[:1] + [place.partition("!")[2] for place in places[1:]])
        _write_row(worksheet, number + 3, (number, question.whom, question.decides, question.text,
                                           len(question.farms) or None, where or HEADINGS))
