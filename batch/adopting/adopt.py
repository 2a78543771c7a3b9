"""A list of farms taken in: every cell with what was made of it, and what is to be asked."""

from dataclasses import dataclass, replace
from pathlib import Path

from batch.adopting.asking import Asked, Question, questions_of
from batch.adopting.forms import form_table
from batch.adopting.headings import LIFT, Heading, headings_of, plain_words
from batch.adopting.kept import Kept
from batch.adopting.table import NO_LIST, OwnCell, OwnTable, cells_of, table_of
from batch.adopting.values import BLANK, Taken, take
from batch.columns import CANDIDATES
from batch.findings import StudyError
from batch.reading.entry_help import as_typed
from batch.reading.own_list import OwnSheet, own_sheets

TAKEN, ASKED, UNKNOWN, NOT_USED, ASIDE = (
    "taken", "to be asked", "unknown: left blank", "not taken", "put aside")
GAS_ENGINE = "natural gas engine"


@dataclass(frozen=True)
class OwnLine:
    """One cell of the list and what was made of it; `farm` is its place among the farms."""

    place: str
    heading: str
    text: str
    farm: int | None
    key: str
    value: object
    status: str
    done: str


@dataclass(frozen=True)
class OwnWord:
    """A word of the list that was read as another one, or is asked."""

    heading: Heading
    word: str
    taken: Taken


@dataclass
class Adopted:
    """A list taken in. `farms` are rows of key and value for the Candidates sheet; `cell_count` is
    how many filled cells the list has: as many as `lines`."""

    name: str
    headings: list[Heading]
    words: list[OwnWord]
    farms: list[dict]
    lines: list[OwnLine]
    questions: list[Question]
    cell_count: int
    aside: list[tuple[OwnCell, str]]

    def count(self, status: str) -> int:
        """How many cells ended so."""
        return sum(line.status == status for line in self.lines)

    def names(self, places) -> list[str]:
        """The farms' names by their places."""
        return [str(self.farms[place]["candidate_id"]) for place in places]


def adopt(path: Path, kept: Kept, dates: str = "") -> Adopted:
    """Take in a list: a workbook, a CSV file, or a folder of returned application forms.

    kept : the planner's choices. dates : the order of dates that are written in numbers.
    Errors: StudyError where nothing in it can be read as a list of farms.
    """
    tables, lone, cell_count = _tables(path)
    adopted = Adopted(path.name, [], [], [], [], [], cell_count, list(lone))
    asked: list[Asked] = []
    for table in tables:
        headings = headings_of(table, kept, dates)
        adopted.headings += headings
        adopted.words += _own_words(headings)
        adopted.aside += table.aside
        for farm in table.farms:
            _take_farm(farm, {h.head.index: h for h in headings}, adopted, asked)
    adopted.lines += [OwnLine(cell.place, "", shown(cell.value), None, "", None, ASIDE, why)
                      for cell, why in adopted.aside]
    adopted.questions = questions_of(adopted.farms, adopted.headings, asked)
    return adopted


def _tables(path: Path) -> tuple[list[OwnTable], list, int]:
    """The tables of a list, the cells on sheets without one, and how many cells there are."""
    if path.is_dir():
        table = form_table(path)
        count = len(table.aside) + sum(map(len, table.farms))
        return [table], [], count
    sheets = own_sheets(path)
    tables, lone = [], []
    for sheet in sheets:
        table = table_of(sheet)
        if table and table.farms:
            tables.append(table)
        else:
            lone += [(cell, NO_LIST) for row, values in sheet.rows
                     for cell in cells_of(sheet, row, values).values()]
    if not tables:
        raise _no_list(path, sheets)
    return tables, lone, sum(sheet.cell_count for sheet in sheets)


def _no_list(path: Path, sheets: list[OwnSheet]) -> StudyError:
    rows = [(sheet, row, values) for sheet in sheets for row, values in sheet.rows[:25]]
    if not rows:
        return StudyError(f"The list '{path}' is empty.", "Name the file that holds the farms.")
    sheet, row, values = max(rows, key=lambda each: sum(
        isinstance(value, str) for value in each[2]))
    texts = "', '".join(str(value) for value in values[:6] if value is not None)
    return StudyError(
        f"The list '{path}' has no row of headings that fits, with farms below it; the row with "
        f"the most texts is {sheet.name}, row {row}: '{texts}'.",
        "Give at least two columns the headings of the blank workbook, or plain ones such as "
        "'Farm', 'Acres', 'GPM'.")


def shown(value) -> str:
    """A value of the list as text."""
    if isinstance(value, bool):
        return as_typed(value)
    if isinstance(value, float):
        return f"{value:.15g}"
    return str(value)


# --- one farm ------------------------------------------------------------------------------------

def _take_farm(farm: dict[int, OwnCell], headings: dict[int, Heading], adopted: Adopted,
               asked: list[Asked]):
    """Take each cell of a farm, the present power first: it sets the unit of fuel."""
    place, row, lines, parts = len(adopted.farms), {}, [], []
    indices = sorted(farm, key=lambda index: headings[index].key != "present_power")
    for index in indices:
        cell, heading = farm[index], headings[index]
        taken, status = _take_cell(cell, heading, row.get("present_power") == GAS_ENGINE)
        if taken.asked and not (heading.needs_unit and taken.asked == heading.needs_unit):
            asked.append(Asked(heading.key, place, cell.place, shown(cell.value), taken.asked,
                               taken.proposal))
        if heading.is_part:
            parts.append(taken.value)
        elif taken.value is not None and heading.key:
            row[heading.key] = taken.value
        done = f"{taken.how}: {taken.asked}" if taken.asked else taken.how
        done += f"; {heading.why}" if heading.is_part else ""
        lines.append((index, OwnLine(cell.place, heading.head.text, shown(cell.value), place,
                                     heading.key, taken.value, status, done)))
    adopted.lines += [line for _, line in sorted(lines, key=lambda each: each[0])]
    if len(parts) == 2 and None not in parts:
        row[LIFT] = sum(parts)
    if "candidate_id" not in row:
        row["candidate_id"] = row.get("farm_label") or f"row {_row_number(farm)}"
        if "farm_label" not in row:
            first = farm[min(farm)]
            asked.append(Asked("candidate_id", place, first.place, "", "has no name of its own"))
    adopted.farms.append({key: row[key] for key in CANDIDATES.by_key if key in row})


def _take_cell(cell: OwnCell, heading: Heading, is_gas: bool) -> tuple[Taken, str]:
    if not heading.key:
        return Taken(None, f"not taken: {heading.why}"), ASKED if heading.asked else NOT_USED
    reading = replace(heading.reading, unit=cell.unit) if cell.unit else heading.reading
    taken = take(cell.value, reading, is_gas)
    if taken.asked:
        return taken, ASKED
    return taken, UNKNOWN if taken.value is None else TAKEN


def _row_number(farm: dict[int, OwnCell]) -> str:
    return "".join(filter(str.isdigit, farm[min(farm)].place.rpartition("!")[2]))


def _own_words(headings: list[Heading]) -> list[OwnWord]:
    """The words of choices that were read as others, or are asked."""
    words = []
    for heading in headings:
        if heading.key and heading.column.kind in ("choice", "yes/no"):
            for word in plain_words(heading).values():
                taken = take(word, heading.reading)
                if taken.how not in ("taken as it is", BLANK):
                    words.append(OwnWord(heading, shown(word), taken))
    return words
