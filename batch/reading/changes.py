"""The changes that a scenario makes, as they are written: [ROW.]KEY = VALUE, in a TOML file, behind
`--set`, or in a column of the Scenarios sheet. `laying.py` finds what they mean."""

import datetime
import re
from dataclasses import dataclass

from batch.columns.scenarios import OUT, SCENARIOS
from batch.reading.cell_text import is_blank
from batch.reading.column_cells import NUMBERS, quoted
from batch.reading.sheet_cells import SheetCells
from batch.run_names import look_alike
from batch.study_error import StudyError

FACTOR = re.compile(r"[x×*]\s*(\d+\.?\d*|\.\d+)", re.ASCII)
NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
FORM = "Write [ROW.]KEY=VALUE, as in program_budget_usd=500000 or IRR.block_1_usd_kwh=0.11."


@dataclass(frozen=True)
class Change:
    """One change. `row` is blank for the Study and Program sheets, `key` for a farm that is left
    out; `place` is where it is written, and `sheet` the sheet that it names, if any."""

    row: str
    key: str
    value: object
    place: str
    sheet: str = ""
    source: str = ""
    is_percent: bool = False  # the value stands in a cell that is shown as percent

    @property
    def name(self) -> str:
        """Row and key, as they are typed."""
        return ".".join(filter(None, (self.row, self.key)))


def factor_of(value) -> float | None:
    """The factor that a text such as 'x1.2' means; None for any other value."""
    match = FACTOR.fullmatch(value.strip()) if isinstance(value, str) else None
    return float(match[1]) if match else None


def is_out(value) -> bool:
    """True for the word that leaves a farm out."""
    return isinstance(value, str) and value.strip().casefold() == OUT


def changes_of_toml(entries: dict, where: str) -> list[Change]:
    """The changes among the entries of a TOML file: `KEY = value` and `ROW.KEY = value`.

    Errors: StudyError where an entry is of another form.
    """
    changes = []
    for name, entry in entries.items():
        of_row = entry.items() if isinstance(entry, dict) else [("", entry)]
        row = name if isinstance(entry, dict) else ""
        for key, value in of_row:
            shown = ".".join(filter(None, (row, key or name)))
            if isinstance(value, (dict, list)):
                raise StudyError(f"{where}, {shown}: is no single value.",
                                 'Write KEY = value or ROW.KEY = value, names with other signs '
                                 'than letters, digits, - and _ in quotes.')
            changes.append(Change(row, key or name, value, f"{where}, {shown}"))
    return changes


def change_of_setting(text: str) -> Change:
    """The change of one `--set`. Errors: StudyError where it is of another form."""
    name, sign, value = (part.strip() for part in text.partition("="))
    if not sign or not name or not value:
        raise StudyError(f"--set {quoted(text)}: has no {'value' if name else 'name'}.", FORM)
    row, _, key = name.rpartition(".") if not is_out(value) else ("", "", name)
    return Change(row.strip(), key.strip(), _typed_text(value), f"--set {name}")


def _typed_text(text: str):
    return float(text) if NUMBER.fullmatch(text) else text


def names_on_sheet(cells: SheetCells) -> dict[str, int]:
    """Name of each scenario of the Scenarios sheet -> index of its column.

    Errors: StudyError where two have one name, or values stand below no name.
    """
    found, seen = {}, {}
    for header in cells.headers:
        if header.column:
            continue
        is_filled = any(not is_blank(values[header.index]) for _, values in cells.rows)
        if not header.text:
            if is_filled:
                raise StudyError(f"{SCENARIOS.name}!{header.letter}{cells.header_row}: the column "
                                 "has values and no name.", "Name the scenario in its header.")
            continue
        other = seen.setdefault(look_alike(header.text), header)
        if other is not header:
            raise StudyError(
                f"{SCENARIOS.name}!{other.letter}{cells.header_row} and {header.letter}"
                f"{cells.header_row}: two scenarios are named '{other.text}', or nearly so.",
                "Give each a name of its own, other in letters or digits.")
        found[header.text] = header.index
    return found


def changes_on_sheet(cells: SheetCells, index: int) -> list[Change]:
    """The changes of one scenario of the Scenarios sheet, by the index of its column."""
    at = {header.key: header.index for header in cells.headers if header.column}
    letter, changes = cells.headers[index].letter, []
    for row, values in cells.rows:
        sheet, name, key, source = (name_text(values[at[column]]) if column in at else ""
                                    for column in ("sheet", "row", "key", "source"))
        value, place = values[index], f"{SCENARIOS.name}!{letter}{row}"
        if value is None and (row, index) in cells.formulas:
            raise StudyError(f"{place}: holds a formula and no value.",
                             "Save the workbook with a spreadsheet program, or type the value.")
        if is_blank(value):
            continue
        if isinstance(value, datetime.datetime):
            value = value.date()
        changes.append(Change(name, key, value, place, sheet, source,
                              (row, index) in cells.percent_cells))
    return changes


def name_text(value) -> str:
    """The text of a cell that names something; a whole number has no point."""
    if is_blank(value):
        return ""
    if isinstance(value, NUMBERS) and not isinstance(value, bool) and float(value).is_integer():
        value = int(value)
    return " ".join(quoted(value).split())
