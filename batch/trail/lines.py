"""The lines of a trail: figures from the one that was asked down, and the ends that they rest on.

A figure is worked out of others; an end is given: a cell, a rule, a price, a rate or a published
table. Each has an `id`, and is named in the printed lines by its mark, which is put together here:
a number for a figure, the address for a cell, a letter and a number for the others.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

from batch.columns.portfolio import row_keys

FIGURE, CELL, RULE, PRICE, RATE, TABLE = KINDS = (
    "figure", "cell", "rule", "price", "rate", "table")
LETTERS = {RULE: "r", PRICE: "p", RATE: "a", TABLE: "t"}
HEADINGS = {CELL: "Cells of the workbook", RULE: "Rules", PRICE: "Prices of the list",
            RATE: "Rates", TABLE: "Published tables"}


@dataclass(frozen=True)
class Line:
    """One figure or end. `place` is where it stands: file, row and key, or a cell's address.

    `arithmetic` gives a figure's formula in numbers, each followed by what it is given for the id
    of that part; None where a figure is found otherwise, as `source` tells.
    """

    id: tuple
    kind: str
    place: str
    label: str
    value: str
    source: str = ""
    parts: tuple[tuple, ...] = ()
    arithmetic: Callable[[Callable[[tuple], str]], str] | None = field(default=None, compare=False)
    farm: str = ""  # whose figure it is


@dataclass(frozen=True)
class Trail:
    """All lines under the figures that were asked, farm by farm; those of a farm stand before
    what they are made of."""

    asked: tuple[tuple, ...]
    lines: tuple[Line, ...]

    @property
    def marks(self) -> dict[tuple, str]:
        """How each line is named in the others."""
        counts, marks = dict.fromkeys(KINDS, 0), {}
        for line in self.lines:
            counts[line.kind] += 1
            marks[line.id] = (line.place if line.kind == CELL
                              else f"{LETTERS.get(line.kind, '')}{counts[line.kind]}")
        return marks

    def of(self, kind: str) -> list[Line]:
        """The lines of a kind."""
        return [line for line in self.lines if line.kind == kind]


def trail_of(asked, line_of: Callable[[tuple], Line]) -> Trail:
    """The trail of some figures; `line_of` makes the line of an id."""
    made, done = {}, []

    def visit(one):
        if one in made:  # seen, or on the way down to itself
            return
        made[one] = line_of(one)
        for part in reversed(made[one].parts):
            visit(part)
        done.append(one)

    for one in asked:
        visit(one)
    # Farm by farm, in the order in which they are met.
    met = {}
    for one in reversed(done):
        met.setdefault(one[1:3] if one[0] == FIGURE else one[:1], []).append(made[one])
    return Trail(tuple(asked), tuple(line for lines in met.values() for line in lines))


def formula(line: Line, marks: dict[tuple, str]) -> str:
    """How a figure came about: its arithmetic, or the parts that it was found from."""
    def marked(part):
        return f" ({marks[part]})" if part in marks else ""

    if line.arithmetic is not None:
        return line.arithmetic(marked)
    named = [marks[part] for part in line.parts if part in marks]
    return f"found from {', '.join(named)}" if named else ""


def line_text(line: Line, marks: dict[tuple, str], farm: str = "") -> str:
    """A line as it is printed, without its own mark; a figure of another farm than `farm` with that
    farm's name."""
    label = line.label if line.farm in ("", farm) else f"{line.farm}: {line.label}"
    how = formula(line, marks) if line.kind == FIGURE else ""
    source = f"   [{line.source}]" if line.source else ""
    if line.kind != FIGURE:
        return f"{label} = {line.value}{source}"
    if line.arithmetic is None:
        return f"{label} = {line.value}{', ' + how if how else ''}{source}"
    return f"{label} = {how} = {line.value}{source}"


def trail_text(trail: Trail) -> str:
    """The whole trail to read: the figures, then what they rest on."""
    marks, farm = trail.marks, trail.lines[0].farm
    shown = []
    for line in trail.of(FIGURE):
        where = f"   {line.place}" if line.id in trail.asked else ""
        shown.append(f"{marks[line.id]:>5}  {line_text(line, marks, farm)}{where}")
    for kind, heading in HEADINGS.items():
        lines = trail.of(kind)
        if kind == CELL:
            lines = sorted(lines, key=lambda line: line.id)
        if lines:
            shown += ["", heading]
        for line in lines:
            where = "" if kind == CELL else f"   {line.place}"
            shown.append(f"{marks[line.id]:>5}  {line_text(line, marks)}{where}")
    return "\n".join(shown)


def trail_data(trail: Trail) -> list[dict]:
    """The trail as records for other programs."""
    marks = trail.marks
    return [{"mark": marks[line.id], "kind": line.kind, "place": line.place, "farm": line.farm,
             "label": line.label,
             "value": line.value, "how": formula(line, marks) if line.kind == FIGURE else "",
             "source": line.source, "parts": [marks[part] for part in line.parts]}
            for line in trail.lines]


def sum_of(parts, values):
    """The parts of a sum of figures, and its arithmetic."""
    parts, values = tuple(parts), list(values)

    def arithmetic(marked):
        return " + ".join(
            f"{value:.10g}{marked(part)}" for part, value in zip(parts, values)) or "0"
    return parts, arithmetic


def row_names(sheet, frame) -> list[str]:
    """What names the rows of a table: its first column, or several with | between."""
    keys = row_keys(sheet)
    return ["|".join(f"{value:g}" if sheet.by_key[key].is_numeric else str(value)
                     for key, value in zip(keys, values))
            for values in frame[list(keys)].itertuples(index=False, name=None)]
