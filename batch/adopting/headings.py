"""What each heading of a list is taken for: by its name, its unit and its values."""

from dataclasses import dataclass, field, replace

from batch import units
from batch.adopting.kept import NO_KEY, Kept
from batch.adopting.naming import not_taken, part_of_lift, scores
from batch.adopting.table import Head, OwnTable
from batch.adopting.values import (
    BLANK,
    Reading,
    fitting_unit,
    plain_word,
    possible_orders,
    take,
)
from batch.columns import CANDIDATES
from batch.columns.column import Column

TAKEN_FROM, CLEARLY = 80.0, 1.0  # least score, and how much the next must be behind
MISFIT, FITS, USUAL_FITS = -30.0, 0.5, 0.5
SMALL_FOR_FEET, LONG_FT = 25, 1000
SAMPLES = 4
LIFT = "pumping_lift_ft"


@dataclass
class Heading:
    """A heading with what it is taken for. `key` is '' where it is not taken; `asked` tells what
    the planner is to decide about the whole column, `bears_on` the key that it would answer."""

    head: Head
    table: OwnTable
    key: str = ""
    score: float = 0.0
    why: str = ""
    unit: str = ""
    needs_unit: str = ""
    asked: str = ""
    bears_on: str = ""
    choice: str = ""
    unit_choice: str = ""
    dates: str = ""
    own_words: dict[str, str] = field(default_factory=dict)
    is_part: bool = False  # one of two columns whose sum is taken

    @property
    def column(self) -> Column:
        return CANDIDATES.by_key[self.key]

    @property
    def samples(self) -> str:
        """The first different values of the column."""
        values = dict.fromkeys(str(value) for value in self.table.values(self.head.index))
        return "; ".join(list(values)[:SAMPLES])

    @property
    def reading(self) -> Reading:
        """How the cells of the column are read."""
        return Reading(self.column, self.unit, self.needs_unit, self.dates,
                       tuple(sorted(self.own_words.items())))


def headings_of(table: OwnTable, kept: Kept, dates: str) -> list[Heading]:
    """The headings of a table, from left to right, each with what it is taken for."""
    headings = [_heading(head, table, kept) for _, head in sorted(table.heads.items())]
    _part(headings)
    _add_up_lift(headings)
    for heading in headings:
        if heading.key:
            _look_at_column(heading, kept, dates)
    return headings


def _heading(head: Head, table: OwnTable, kept: Kept) -> Heading:
    heading = Heading(head, table, unit=head.unit)
    choice = kept.heading(head.text, head.place)
    if choice:
        heading.choice, heading.unit_choice = choice.key, choice.unit
    if heading.choice:
        heading.key = "" if heading.choice == NO_KEY else heading.choice
        heading.score, heading.why = 101.0, "your choice"
        return heading
    if not head.names:
        heading.why = "the column has no heading"
        return heading
    known = not_taken(head.names)
    if known:
        heading.bears_on, heading.why = known
        return heading
    return _proposed(heading)


def _proposed(heading: Heading) -> Heading:
    values, found = heading.table.values(heading.head.index), []
    for key, (score, why) in scores(heading.head.names).items():
        more, said = _by_unit_and_values(CANDIDATES.by_key[key], heading.head.unit, values)
        found.append((score + more, key, f"{why}{said}"))
    found.sort(key=lambda each: (-each[0], each[1]))
    if not found or found[0][0] < TAKEN_FROM:
        heading.why = found[0][2] if found else "no name that is known"
    elif len(found) > 1 and found[0][0] - found[1][0] < CLEARLY:
        labels = " or ".join(CANDIDATES.by_key[key].label for _, key, _ in found[:2])
        heading.why = f"it may be {labels}"
    else:
        heading.score, heading.key, heading.why = found[0]
    return heading


def _by_unit_and_values(column: Column, unit: str, values: list) -> tuple[float, str]:
    """What unit and values say for or against a column: points, and words behind the reason."""
    if unit and (not column.is_numeric or not any(
            fitting_unit(unit, house) for house in (column.unit, column.fuel_gas_unit) if house)):
        return MISFIT, f", but its unit '{unit}' does not fit"
    takes = [(take(value, Reading(column, unit)), take(value, Reading(column, unit), True))
             for value in values]
    known = [pair for pair in takes if pair[0].how != BLANK]
    if not known or column.kind == "text":
        return FITS * bool(unit), ""
    taken = [one.value if one.value is not None else other.value for one, other in known]
    # A date that may be read in two ways, or a word that is asked, is of its kind all the same.
    fits = [value is not None or bool(pair[0].proposal) or "may be" in pair[0].asked
            or pair[0].asked == "is a range" for value, pair in zip(taken, known)]
    if 2 * sum(fits) < len(fits):
        return MISFIT, ", but its values do not fit"
    numbers = [value for value in taken if value is not None]
    is_usual = column.usual and numbers and 2 * sum(
        column.usual[0] <= value <= column.usual[1] for value in numbers) > len(numbers)
    return FITS * bool(unit) + USUAL_FITS * bool(is_usual), ", and its values fit"


def _part(headings: list[Heading]):
    """One column for each key. Of several for one, the planner's choice is taken, else the nearest
    name of a text; numbers and choices are taken where all columns say the same, else asked."""
    by_key: dict[str, list[Heading]] = {}
    for heading in headings:
        if heading.key:
            by_key.setdefault(heading.key, []).append(heading)
    for key, same in by_key.items():
        if len(same) == 1:
            continue
        same.sort(key=lambda heading: -heading.score)
        first, *rest = same
        label = first.column.label
        places = " and ".join(f"{h.head.place} '{h.head.text}'" for h in same)
        is_clear = (first.column.kind == "text" or first.score - rest[0].score > 3
                    or all(_say_the_same(first, other) for other in rest))
        for heading in same[1:] if is_clear else same:
            nearer = f"{first.head.place} '{first.head.text}' is taken for {label}"
            heading.why = nearer if is_clear else f"two columns for one: {places}"
            heading.key = ""
        if not is_clear:
            first.bears_on = key
            first.asked = f"{places} may both be meant, and differ; choose one"


def _say_the_same(one: Heading, other: Heading) -> bool:
    return all(farm[one.head.index].value == farm[other.head.index].value
               for farm in one.table.farms
               if one.head.index in farm and other.head.index in farm)


def _add_up_lift(headings: list[Heading]):
    """Static level and drawdown are taken together where the list has no pumping lift."""
    parts = {part_of_lift(h.head.names): h for h in headings if not h.key and not h.choice}
    if LIFT in {h.key for h in headings} or not parts.keys() >= {0, 1}:
        return
    static, drawdown = parts[0], parts[1]
    for heading in (static, drawdown):
        heading.key, heading.is_part, heading.bears_on = LIFT, True, ""
        heading.why = (f"{static.head.place} '{static.head.text}' and {drawdown.head.place} "
                       f"'{drawdown.head.text}' together are the pumping lift")


def _look_at_column(heading: Heading, kept: Kept, dates: str):
    """What the whole column tells of its unit, its order of dates, and the planner's words."""
    heading.own_words = kept.words(heading.key)
    if heading.unit_choice:
        heading.unit = heading.unit_choice
    values = heading.table.values(heading.head.index)
    if heading.column.kind == "date":
        heading.dates = dates or _order_of(values)
    if heading.column.is_numeric and not heading.unit and heading.column.unit:
        heading.needs_unit = _missing_unit(heading.column, values)
        heading.asked = heading.asked or heading.needs_unit and (
            f"{heading.head.place} '{heading.head.text}' {heading.needs_unit}; write its unit "
            "under 'Your unit'")
        if heading.needs_unit:
            heading.bears_on = heading.key


def _order_of(values: list) -> str:
    """The one order in which all dates of a column can be read; '' where two are left."""
    orders = None
    for value in values:
        found = set(possible_orders(value)) if isinstance(value, str) else set()
        if found:
            orders = found if orders is None else orders & found or orders
    return next(iter(orders)) if orders and len(orders) == 1 else ""


def _missing_unit(column: Column, values: list) -> str:
    """Why a column without a unit cannot be read in the house unit; '' where it can."""
    bare, stated = [], set()
    reading = Reading(replace(column, minimum=None, maximum=None))
    for value in values:
        taken = take(value, reading)
        if isinstance(taken.value, (int, float)):
            own = "unit was read" in taken.how or "converted" in taken.how
            stated |= {taken.how} if own else set()
            bare += [] if own else [abs(taken.value)]
    others = sorted(how.split("from ")[1].split(",")[0] for how in stated if "from " in how)
    if bare and others:
        return f"states no unit, and other cells of the column are in {', '.join(others)}"
    largest = max(bare, default=0)
    if (units.same_unit(column.unit, "ft") and column.usual and column.usual[1] >= LONG_FT
            and 0 < largest <= SMALL_FOR_FEET):
        return f"states no unit, and values up to {largest:g} are small for ft"
    if column.usual and len(bare) > 1:
        usual = sum(column.usual[0] <= value <= column.usual[1] for value in bare if value)
        if 2 * usual < sum(value != 0 for value in bare):
            return f"states no unit, and most values are unusual in {column.unit}"
    return ""


def plain_words(heading: Heading) -> dict[str, object]:
    """The different words of a column of words, by plain word, each as it first stands."""
    words: dict[str, object] = {}
    for value in heading.table.values(heading.head.index):
        words.setdefault(plain_word(value), value)
    return words
