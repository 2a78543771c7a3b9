"""Which columns of the Candidates sheet a name may mean: our own names, the trade's, and those
that are near in spelling."""

from functools import cache

from rapidfuzz import fuzz, process

from batch.adopting.heading_text import spelled
from batch.adopting.words import DRAWDOWN, HEADINGS, NOT_TAKEN, STATIC
from batch.columns import CANDIDATES

OWN_NAME, TRADE_NAME, A_PLACE, A_LATER_NAME = 100.0, 98.0, 0.1, 2.0
NEAR = 84  # of 100 by rapidfuzz's token_sort_ratio: about one letter in seven differs
NEAR_COUNTS = 0.95


@cache
def _names() -> dict[str, dict[str, tuple[float, str]]]:
    """Name -> key -> (score, why)."""
    names: dict[str, dict[str, tuple[float, str]]] = {}
    for column in CANDIDATES.columns:
        for name in (column.label, column.key, *column.aliases):
            names.setdefault(spelled(name), {})[column.key] = (OWN_NAME, "the workbook's own name")
    for key, trade in HEADINGS.items():
        for place, name in enumerate(trade):
            names.setdefault(spelled(name), {}).setdefault(
                key, (TRADE_NAME - A_PLACE * place, f"the trade's '{name}'"))
    return names


@cache
def not_taken(names: tuple[str, ...]) -> tuple[str, str] | None:
    """(key that it bears on, what is said) of a heading that is known and not taken."""
    for name in names:
        if name in _names():
            return None
        for known, said in NOT_TAKEN.items():
            if name in map(spelled, known):
                return said
    return None


@cache
def part_of_lift(names: tuple[str, ...]) -> int | None:
    """0 for a static level, 1 for a drawdown, which together are the pumping lift."""
    for place, known in enumerate((STATIC, DRAWDOWN)):
        if set(names) & set(map(spelled, known)):
            return place
    return None


@cache
def scores(names: tuple[str, ...]) -> dict[str, tuple[float, str]]:
    """Key -> (score of 100, why), of all names that a heading may have."""
    found: dict[str, tuple[float, str]] = {}
    for place, name in enumerate(names):
        for key, (score, why) in (_names().get(name) or _near(name)).items():
            score -= A_LATER_NAME * place
            if score > found.get(key, (0, ""))[0]:
                found[key] = (score, why)
    return found


def _near(name: str) -> dict[str, tuple[float, str]]:
    found: dict[str, tuple[float, str]] = {}
    if len(name) < 5:
        return found
    for known, ratio, _ in process.extract(name, list(_names()), scorer=fuzz.token_sort_ratio,
                                           score_cutoff=NEAR, limit=5):
        for key in _names()[known]:
            found.setdefault(key, (ratio * NEAR_COUNTS, f"near in spelling to '{known}'"))
    return found


def best_score(names: tuple[str, ...]) -> float:
    """How well a heading is known, of 100; those that are known and not taken count in full."""
    if not_taken(names):
        return OWN_NAME
    return max((score for score, _ in scores(names).values()), default=0.0)
