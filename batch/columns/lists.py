"""Lists written in one cell: months, monthly shares, incentive tiers, cost items."""

import re

from batch.columns import limits
from batch.columns.program import COOPERATIVE_WORK, COST_ITEMS

MONTH_NAMES = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
DASH = re.compile(r"\s*(?:-|–|—|\bto\b)\s*")
SEPARATOR = re.compile(r"[,;]")
SHARE_TOLERANCE = 0.05  # percent: twelve shares rounded to whole hundredths
ALL, NONE = "all", "none"


def months(text: str) -> tuple[bool, ...]:
    """Twelve answers, January first, of texts as '6-9', '6,7,8', 'Jun-Sep', '11-2' or 'all'.

    Errors: ValueError, saying what is wrong.
    """
    words = str(text).strip().casefold()
    if words == ALL:
        return (True,) * 12
    if words == NONE:
        return (False,) * 12
    chosen = set()
    for part in SEPARATOR.split(words):
        ends = [_month(word) for word in DASH.split(part.strip())]
        if len(ends) > 2:
            raise ValueError(f"'{part.strip()}' is not a month or a range of months")
        first, last = ends[0], ends[-1]
        chosen.update((first + step) % 12 for step in range((last - first) % 12 + 1))
    return tuple(month in chosen for month in range(12))


def _month(word: str) -> int:
    if re.fullmatch(r"0?[1-9]|1[0-2]", word):
        return int(word) - 1
    if len(word) >= 3:
        for index, name in enumerate(MONTH_NAMES):
            if word[:3] == name and word.isalpha():
                return index
    raise ValueError(f"'{word}' is not a month" if word else "a month is missing")


def shares(text: str) -> tuple[float, ...]:
    """Twelve shares in percent, January first, that add up to 100.

    Errors: ValueError, saying what is wrong.
    """
    values = tuple(_number(part) for part in SEPARATOR.split(str(text)))
    if len(values) != 12:
        raise ValueError(f"there are {len(values)} shares, not twelve")
    if min(values) < 0:
        raise ValueError("a share is negative")
    if abs(sum(values) - 100) > SHARE_TOLERANCE:
        raise ValueError(f"the shares add up to {sum(values):g}, not 100")
    return values


def tiers(text: str) -> tuple[tuple[float, float], ...]:
    """(up to kW, USD per kW) pairs, ascending, of a text as '20: 150, 50: 120, 100: 80'.

    Errors: ValueError, saying what is wrong.
    """
    pairs = []
    for part in SEPARATOR.split(str(text)):
        if part.count(":") != 1:
            raise ValueError(f"'{part.strip()}' is not a pair of 'up to kW: USD per kW'")
        up_to, price = map(_number, part.split(":"))
        if up_to <= 0 or price < 0:
            raise ValueError(f"'{part.strip()}' is not above zero")
        if pairs and up_to <= pairs[-1][0]:
            raise ValueError("the kW of the tiers do not rise")
        pairs.append((up_to, price))
    return tuple(pairs)


def cost_items(text: str) -> tuple[str, ...]:
    """The cost items of a text as 'drive, filter', in the order of the dictionary.

    Errors: ValueError naming what is not a cost item.
    """
    words = [" ".join(part.split()).casefold() for part in SEPARATOR.split(str(text))]
    unknown = [word for word in words if word not in COST_ITEMS]
    if unknown:
        raise ValueError(f"'{unknown[0]}' is not one of: {', '.join(COST_ITEMS)}")
    return tuple(item for item in COST_ITEMS if item in words)


def work_items(text: str) -> tuple[str, ...]:
    """The items of the cooperative's work of a text as 'line, service'.

    Errors: ValueError naming what is none of them.
    """
    items = cost_items(text)
    others = [item for item in items if item not in COOPERATIVE_WORK]
    if others:
        raise ValueError(f"'{others[0]}' is not one of: {', '.join(COOPERATIVE_WORK)}")
    return items


def _number(text: str) -> float:
    if not re.fullmatch(r"\s*[+-]?(\d+\.?\d*|\.\d+)\s*", text, re.ASCII):
        raise ValueError(f"'{text.strip()}' is not a number")
    return float(text)


# Key of a text column that holds a list -> (how it is read, an example of it).
READERS = {
    "demand_months": (months, "6-9"),
    "summer_months": (months, "6-9"),
    "wholesale_demand_months": (months, "6-9"),
    "season_share_pct": (shares, "0, 0, 0, 2, 8, 22, 31, 27, 9, 1, 0, 0"),
    "incentive_tiers": (tiers, "20: 150, 50: 120, 100: 80"),
    "incentive_eligible_items": (cost_items, "drive, filter"),
    "refund_credit_items": (work_items, "line, service"),
    "counts": (limits.counted, limits.EXAMPLE),
}
