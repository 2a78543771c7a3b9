"""The `Limits` sheet: what there is this season of line, crews, transformers and drives; how a row
says what of the cost ledger it counts; and the list of what the funded farms need bought."""

import re
from dataclasses import dataclass

from batch.columns.column import Column, Sheet, grouped, output_text, output_value
from batch.columns.unit_costs import (
    BY_BUILD,
    BY_PHASES,
    ITEMS,
    PRICED_PER_FOOT,
    SIZE_UNITS,
    UNSIZED,
)

FOOT, EACH = "ft", "each"
EXAMPLE = "line, three-phase, overhead"
PHASES = {"single-phase": 1, "three-phase": 3}
BUILDS = ("overhead", "underground")
FACTOR = re.compile(r"(\d+\.?\d*|\.\d+)\s*x\s+", re.ASCII)
SIZE = re.compile(r"(\d+\.?\d*)([a-z]*)", re.ASCII)
BY_LENGTH = sorted(ITEMS, key=len, reverse=True)  # 'line job' before 'line'

LIMITS = Sheet(
    name="Limits",
    required=False,
    help="One row per thing of which a season has only so much. The best set takes no more, over "
         "all program years together. Optional.",
    columns=(
        Column(key="name", label="Name", group="limit", kind="text", required=True,
               help="What the limit is called in the results."),
        Column(key="unit", label="Unit", group="limit", kind="text", required=True,
               help="ft for lines, service conductors and leads; each for all else. Where what is "
                    "counted has factors, a unit of your own, such as crew days."),
        Column(key="available", label="Available", group="limit", required=True, minimum=0,
               maximum=100_000_000, decimals=1,
               help="How much there is for the farms that are funded now, in the row's unit: less "
                    "what farms take that were approved before."),
        Column(key="counts", label="Counts", group="limit", kind="text", required=True,
               help="An item of the price list, with commas its size, single-phase or three-phase, "
                    "overhead or underground; what is left out counts all. Several are joined "
                    "by +. A factor stands before an item with x, as in 0.001 x line + 0.5 x "
                    "transformer for crew days."),
    ),
)


BUYING_LIST = Sheet(
    name="Buying list",
    help="What the funded farms need bought: a row for each item of the price list and size, each "
         "shared line counted once.",
    columns=grouped(
        "buying list",
        output_text(
            "thing", "Item", "Item of the price list, size, phases and construction, as the "
            "Limits sheet takes them. A shared line stands apart from the farms' own lines."),
        output_value("size", "Size", "", 1, "In the unit beside the item, as the price list has "
                     "it."),
        output_value("quantity", "Quantity", "", 1, "Of all funded farms together."),
        output_text("quantity_unit", "Unit", "Of the quantity: ft, or each."),
        output_value("farms", "Farms", "", 0, "Funded farms that need it."),
        output_value("least_price_usd", "Least unit price", "USD", 2, "Per unit, on the price "
                     "list; of a farm's own line the mean of its feet."),
        output_value("most_price_usd", "Highest unit price", "USD", 2, "The same; higher where "
                     "farms have quotations, or feet are priced in steps."),
        output_value(
            "bought_usd", "Amount", "USD", 2, "Before overhead. That of a shared line has its job "
            "in it, and stands with three phases where any of the line has them."),
        output_text("needed_by", "Candidates", "The farms that need it."),
        output_text("in_stock", "In stock", "Rows of the Limits sheet that count it: what the "
                    "funded farms take of each, and what there is.")))


@dataclass(frozen=True)
class Counted:
    """What of the ledger a limit counts, `factor` times; None where it makes no difference. The
    unit is that of one of it: FOOT or EACH."""

    item: str
    size: float | None = None
    phases: int | None = None
    line_build: str | None = None
    factor: float | None = None

    @property
    def unit(self) -> str:
        return FOOT if self.item in PRICED_PER_FOOT else EACH


def counted(text: str) -> tuple[Counted, ...]:
    """What a text as 'drive, 50 hp + drive, 75 hp' or '0.001 x line, overhead' counts.

    Errors: ValueError, saying what is wrong.
    """
    return tuple(_counted(" ".join(part.split()).casefold()) for part in str(text).split("+"))


def unit_of(parts: tuple[Counted, ...]) -> str:
    """The unit in which they are counted together; blank where factors make it the planner's own.

    Errors: ValueError where without factors they have none.
    """
    if any(part.factor is not None for part in parts):
        return ""
    units = {part.unit for part in parts}
    if len(units) > 1:
        raise ValueError("ft and pieces add up to nothing without factors")
    return units.pop()


def in_words(item, size=None, phases=None, line_build=None) -> str:
    """A thing of the ledger in the words that the sheet takes: 'transformer, 50 kVA, three-phase'.
    """
    words = [item]
    if size is not None and size == size:
        words.append(f"{size:.6g} {SIZE_UNITS.get(item, 'hp')}")
    words += [word for word, number in PHASES.items() if number == phases]
    return ", ".join([*words, *(build for build in BUILDS if build == line_build)])


def _counted(text):
    factor = FACTOR.match(text)
    rest = text[factor.end():] if factor else text
    item = next((item for item in BY_LENGTH if re.match(re.escape(item.casefold()) + r"(?![\w-])",
                                                        rest)), None)
    if item is None:
        raise ValueError(f"'{rest}' begins with no item of the price list" if rest
                         else "an item is missing")
    found: dict = {"item": item, "factor": float(factor[1]) if factor else None}
    for word in _words(rest[len(item):], item):
        key, value = _what(word, item)
        if key in found:
            raise ValueError(f"'{rest}' says the same twice")
        found[key] = value
    return Counted(**found)


def _words(text, item):
    """The words behind an item; a size with its unit, and both words of a phase, are one."""
    unit = SIZE_UNITS.get(item, "hp").casefold()
    text = re.sub(rf"(?<=\d) +(?={unit}\b)", "", text)
    text = re.sub(r"\b(single|three) phase\b", r"\1-phase", text)
    return [word for word in re.split(r"[,;\s]+", text) if word not in ("", "of")]


def _what(word, item):
    """The key and the value that a word stands for."""
    size = SIZE.fullmatch(word)
    if word in PHASES and item in BY_PHASES:
        return "phases", PHASES[word]
    if word in BUILDS and item in BY_BUILD:
        return "line_build", word
    unit = SIZE_UNITS.get(item, "hp")
    if size and item not in UNSIZED and size[2] in ("", unit.casefold()):
        return "size", float(size[1])
    may = [*([f"a size in {unit}"] if item not in UNSIZED else ()),
           *(PHASES if item in BY_PHASES else ()), *(BUILDS if item in BY_BUILD else ())]
    raise ValueError(f"'{word}' says nothing of '{item}', which takes: {', '.join(may)}")
