"""One column's raw cells with their places, and the findings about them."""

import datetime
from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np

from batch.columns.column import Column
from batch.findings import Findings

NUMBERS = (int, float)
MOMENTS = (datetime.date, datetime.time, datetime.timedelta)  # a datetime is a date
NOTES_BY_CELL = 20        # more notes of one kind in a column become one note


@dataclass
class ColumnCells:
    """The cells of one column, ready to be typed.

    values : raw values, one per row; rows : their Excel rows; ids : the candidate of each row.
    unit : the words in the header's brackets. is_gas : rows whose fuel is natural gas.
    formulas, percent_rows : Excel rows whose cell is a formula, is formatted as percent.
    """

    sheet: str
    column: Column
    letter: str
    rows: list[int]
    values: list
    findings: Findings
    unit: str = ""
    ids: list = field(default_factory=list)
    is_gas: np.ndarray | None = None
    formulas: dict[int, str] = field(default_factory=dict)
    percent_rows: set[int] = field(default_factory=set)
    notes: dict = field(default_factory=lambda: defaultdict(list))

    def place(self, i: int) -> str:
        """The cell as a planner names it, with what it holds: 'Candidates!H12: Flow'."""
        place = (f"{self.sheet}!{self.letter}{self.rows[i]}" if self.letter
                 else f"{self.sheet}, row {self.rows[i]}")
        return f"{place}: {self.column.label}"

    def add(self, slug: str, i: int, text: str, limit=""):
        """Add a finding about cell number i; text goes behind the cell's name."""
        self.findings.add(
            slug, f"{self.place(i)} {text}", sheet=self.sheet, row=self.rows[i],
            column=self.letter, key=self.column.key, value=quoted(self.values[i]), limit=limit,
            candidate_id=(self.ids[i] or "") if self.ids else "")

    def note(self, slug: str, i: int, text: str):
        """Keep a note; `add_notes` writes them by cell, or as one where there are many."""
        self.notes[slug].append((i, text))

    def add_notes(self):
        """Write the notes that were kept."""
        for slug, notes in self.notes.items():
            if len(notes) <= NOTES_BY_CELL:
                for i, text in notes:
                    self.add(slug, i, text)
                continue
            (first, text), (last, _) = notes[0], notes[-1]
            self.findings.add(
                slug, f"{self.sheet}, column {self.letter} ({self.column.label}): {len(notes):,} "
                f"cells from row {self.rows[first]} to row {self.rows[last]}; the first {text}",
                sheet=self.sheet, column=self.letter, key=self.column.key,
                value=f"{len(notes)} cells")

    def house_unit(self, i: int) -> str:
        """The unit of cell number i in the dictionary: that of natural gas on its rows."""
        is_gas = self.is_gas is not None and self.column.fuel_gas_unit and self.is_gas[i]
        return self.column.fuel_gas_unit if is_gas else self.column.unit


def quoted(value) -> str:
    """A raw value as it is quoted in a finding."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, NUMBERS):
        return f"{value:.15g}" if isinstance(value, float) else str(value)[:60]
    if isinstance(value, datetime.datetime) and value.time() == datetime.time():
        return value.date().isoformat()
    text = str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def with_unit(value: float, unit: str) -> str:
    """A number with its unit, as in a message; commas from five digits on, so not in years."""
    if abs(value) < 10_000:
        return f"{value:.6g} {unit}".strip()
    return f"{value:,.0f} {unit}".strip()
