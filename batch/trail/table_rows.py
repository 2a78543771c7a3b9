"""Rows of published tables, found again as a value was looked up in them."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import pandas as pd

from batch.tables import table
from batch.trail.lines import TABLE


def is_unknown(value) -> bool:
    """Whether a value of a farm's row is blank."""
    return value is None or (not isinstance(value, str) and pd.isna(value))


def same(listed, wanted):
    """The row that has the value."""
    return [place for place, value in enumerate(listed) if value == wanted]


def next_up(listed, wanted):
    """The first row that is not smaller."""
    return [place for place, value in enumerate(listed) if value >= wanted][:1]


def at_or_below(listed, wanted):
    """The last row that is not larger."""
    return [place for place, value in enumerate(listed) if value <= wanted][-1:]


def between(listed, wanted):
    """The row that has the value, or both rows that it lies between."""
    return same(listed, wanted) or (at_or_below(listed, wanted) + next_up(listed, wanted)
                                     if listed[0] < wanted < listed[-1] else [])


def band_to(listed, wanted):
    """The first row whose band, as 11-15, goes up to the value."""
    return next_up([float(re.search(r"\d+$", band).group()) for band in listed], wanted)


def band_from(listed, wanted):
    """The last row whose band, as 20<50, begins at or below the value."""
    return at_or_below([float(re.sub(r"^>|<.*", "", band) or 0) for band in listed], wanted)


def every(_listed, _wanted):
    """The whole table, as of a curve."""
    return [None]


@dataclass(frozen=True)
class LookUp:
    """A look-up in a table. `wanted` is the key of a farm's row or of a rule, or gives the value
    or several for a row and the rules; `by` and `take` are columns with blanks between, or give
    them; `unit` is that of what is taken, where the columns do not say it."""

    table: str
    by: str | Callable
    wanted: str | Callable
    take: str | Callable
    way: Callable = same
    unit: str = ""

    def rows(self, row, rules) -> list[tuple]:
        """The ends of a trail that it gives: (TABLE, name, place of the row, columns by which it
        was found, columns taken, unit); the place is None where the whole table is used."""
        by, take = (one if isinstance(one, str) else one(row, rules)
                    for one in (self.by, self.take))
        if isinstance(self.wanted, str):
            wanted = row[self.wanted] if self.wanted in row else rules[self.wanted]
        else:
            wanted = self.wanted(row, rules)
        listed, found = _listed(self.table, by), []
        for one in wanted if isinstance(wanted, list) else [wanted]:
            if not is_unknown(one):
                found += self.way(listed, one)
        return [(TABLE, self.table, place, by, take, self.unit) for place in dict.fromkeys(found)]


@cache
def _listed(name, by):
    """What the rows of a table are found by; of two columns the pair."""
    rows = table(name)[by.split()]
    return rows[by].tolist() if by in rows else list(rows.itertuples(index=False, name=None))
