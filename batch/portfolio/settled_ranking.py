"""The settled ranking: farms enter in the order of what they add to the cost of the set per kW.

What a farm of a shared line costs hangs on who else builds. So farms enter in groups, and every
figure is that of exactly the farms that have entered so far: the running total is what a study of
only these farms costs, to the cent.
"""

import heapq
from dataclasses import dataclass
from functools import cached_property

import numpy as np

CENTS, WATTS = 100, 1000  # in a dollar, in a kilowatt


def order_statement(load: str) -> str:
    """The rule of order in words. `load` is what the ranking counts, as the rules name it."""
    return (f"Ranked by incentive cost per kW of {load}: what each farm, or group of farms on one "
            "line, adds to the cost over the load that it adds, least first; equal figures, in "
            "whole cents over whole watts: the smaller group, then candidate names. The budget "
            "line stops before the first group that does not fit.")


def whole_cents(usd) -> np.ndarray:
    """Money [USD] in whole cents. Equal ratios of whole numbers give the same figure, so that no
    binary tail of a sum parts two farms alike; NaN stays NaN."""
    return np.round(CENTS * np.asarray(usd, float))


def whole_watts(kw) -> np.ndarray:
    """Load [kW] in whole watts, for the same reason."""
    return np.round(WATTS * np.asarray(kw, float))


@dataclass(frozen=True)
class Line:
    """Farms that share a line, or one farm alone, and what every set of them would be.

    A set is a number whose binary digits tell which farms are in it, the first farm's the last.
    `names` (m,) in the order of ties; `sets` (s,) the numbers, 0 first, and of each: `cents` and
    `watts`, whole numbers; `holds`, whether all of its farms qualify when exactly these build; and
    `may_be_funded`, whether money may be given to all of them. `budget_cents` is what a budget
    counts of each, `cents` where not given.
    """

    names: tuple[str, ...]
    sets: np.ndarray
    cents: np.ndarray
    watts: np.ndarray
    holds: np.ndarray
    may_be_funded: np.ndarray
    budget_cents: np.ndarray | None = None

    @cached_property
    def place(self) -> dict[int, int]:
        """Where each set stands."""
        return {int(number): k for k, number in enumerate(self.sets)}

    def members(self, number: int) -> tuple[str, ...]:
        """The farms of a set."""
        return tuple(name for k, name in enumerate(self.names) if number >> k & 1)

    def added_cents(self, before: int, after: int) -> int:
        """What a set costs more than another."""
        return int(self.cents[self.place[after]] - self.cents[self.place[before]])

    @property
    def counted_cents(self) -> np.ndarray:
        """What a budget counts of each set."""
        return self.cents if self.budget_cents is None else self.budget_cents

    def added_budget_cents(self, before: int, after: int) -> int:
        """What a set takes more of a budget than another."""
        return int(self.counted_cents[self.place[after]] - self.counted_cents[self.place[before]])

    def may_fund(self, number: int) -> bool:
        """Whether a set is studied, all of it qualifies, and money may be given to all of it."""
        at = self.place.get(number)
        return at is not None and bool(self.may_be[at])

    @cached_property
    def may_be(self) -> np.ndarray:
        """Of which sets all farms qualify, and may be given money."""
        return self.holds & self.may_be_funded


@dataclass(frozen=True)
class Entry:
    """A group that enters: place of its line, the line's set before and after, the added cents over
    the added watts, and of all that have entered by then the cost and what a budget counts, in
    cents."""

    line: int
    before: int
    after: int
    cents_per_watt: float
    running_cents: int
    running_budget_cents: int


def settled_ranking(lines: list[Line]) -> list[Entry]:
    """The order in which the farms enter; those that may not be funded after all that may.

    Again and again the group (one farm, or farms of one line together) of least added cost per
    added load enters, among the groups after which all of the line's set qualify; of equal figures
    the smaller group, then by names. Within each of the two passes the figure never falls, since a
    group that would be cheaper behind another one would have entered together with it.

    Sources: the program's own rule; its facts are tested by enumeration.
    """
    entered, now, running, counted = [], [0] * len(lines), 0, 0
    for allowed in ([line.may_be_funded for line in lines], [line.holds for line in lines]):
        waiting = [best for k in range(len(lines)) if (best := _best(lines, k, now[k], allowed[k]))]
        heapq.heapify(waiting)
        while waiting:
            figure, _, _, k, after = heapq.heappop(waiting)
            running += lines[k].added_cents(now[k], after)
            counted += lines[k].added_budget_cents(now[k], after)
            entered.append(Entry(k, now[k], after, figure, running, counted))
            now[k] = after
            following = _best(lines, k, after, allowed[k])
            if following:
                heapq.heappush(waiting, following)
    return entered


def _best(lines, k, now, allowed):
    """The group of a line that would enter next: (figure, size, names, line, set after)."""
    line, at = lines[k], lines[k].place[now]
    added = line.watts - line.watts[at]
    may = (line.sets & now == now) & (added > 0) & line.holds & allowed
    if not may.any():
        return None
    figure = (line.cents - line.cents[at])[may] / added[may]
    least = line.sets[may][figure == figure.min()]
    size, names, after = min(
        (int(other ^ now).bit_count(), line.members(int(other ^ now)), int(other))
        for other in least)
    return float(figure.min()), size, names, k, after


def down_the_ranking(entries: list[Entry], lines: list[Line], *, budget_cents, skips_misfits,
                     uses=None, room=np.inf, first=()) -> dict[int, tuple]:
    """The sets that are funded if the groups are taken down a ranking: line -> (year, set).

    Parameters
    ----------
    entries, lines : of `settled_ranking`
    budget_cents : array (y,) of each program year
    skips_misfits : bool; without, a year's spending stops before the first group that takes more
        than is left, and with it smaller groups behind a misfit are taken
    uses, room : what a line's set takes of things that all share, as a function of line and set,
        and how much there is of each; no limit where not given
    first : entries that go before all others

    A line is built in one year, so that a group of a line that is built in an earlier year is
    passed over, and so is a group that does not qualify without the one that was passed over.
    """
    taken: dict[int, tuple] = {}
    used = 0.0
    waiting = [*first, *(entry for entry in entries if entry not in first)]
    for year, left in enumerate(budget_cents):
        later = []
        for n, entry in enumerate(waiting):
            line = lines[entry.line]
            built, now = taken.get(entry.line, (year, 0))
            after = now | (entry.after ^ entry.before)
            if built != year or not line.may_fund(after):
                later.append(entry)
                continue
            more = 0.0 if uses is None else uses(entry.line, after) - uses(entry.line, now)
            if np.any(used + more > room):
                later.append(entry)
                continue
            added = line.added_budget_cents(now, after)
            if added <= left:
                taken[entry.line], left, used = (year, after), left - added, used + more
                continue
            if not skips_misfits:
                later += waiting[n:]
                break
            later.append(entry)
        waiting = later
    return taken
