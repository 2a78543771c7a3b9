"""Sums over every set of every group of farms that may build together, as ranking and program take
them."""

from functools import cached_property

import numpy as np
import pandas as pd

from batch.portfolio.settled_ranking import Line, whole_cents, whole_watts
from batch.program.choosing import CONDITIONS, QUALIFIES
from batch.program.knowledge import is_closed_out, may_be_funded


class SetGroups:
    """What has `groups` (the rows and names of the farms of each, and the numbers of the rows of
    each of its sets), `chosen` options by these numbers, and `rules`."""

    def lines(self, value_key: str) -> tuple[list[Line], list[np.ndarray]]:
        """Every group of farms as the ranking takes it, and the sum of a figure over each of its
        sets [unit of the figure]; NaN where it is not known of a farm."""
        chosen = self.chosen
        cents = whole_cents(chosen["incentive_cost_usd"])
        budget_cents = whole_cents(counted_by_budget(chosen, self.rules))
        watts = whole_watts(chosen["counted_load_kw"])
        fails = ~qualifies(chosen) | np.isnan(cents) | np.isnan(budget_cents) | np.isnan(watts)
        barred = ~may_be_funded(chosen, self.rules)
        sums = map(self.sums, (cents, budget_cents, watts, fails, barred))
        return [Line(names, _numbers(sets), np.nan_to_num(usd), np.nan_to_num(load),
                     failing == 0, without_money == 0, np.nan_to_num(counted))
                for (_, names, sets), usd, counted, load, failing, without_money in zip(
                    self.groups, *sums)], self.sums(chosen[value_key])

    @cached_property
    def _members(self) -> tuple:
        """The rows of all sets one after the other, the place of each one's set among all sets, 0
        of every group included, and where each group's sets end."""
        sizes = [[0, *map(len, sets.values())] for _, _, sets in self.groups]
        rows = [row for _, _, sets in self.groups for together in sets.values()
                for row in together]
        whole = np.array([size for group in sizes for size in group], int)
        return (np.array(rows, int), np.repeat(np.arange(len(whole)), whole),
                np.cumsum([len(group) for group in sizes]))

    def sums(self, values) -> list[np.ndarray]:
        """The sum of a figure of the chosen options over each set of each group, none first."""
        rows, place, ends = self._members
        at = self.chosen.index.get_indexer(rows)
        totals = np.bincount(place, weights=np.asarray(values, float)[at],
                             minlength=int(ends[-1]) if len(ends) else 0)
        return np.split(totals, ends[:-1])


def _numbers(sets: dict) -> np.ndarray:
    """The numbers of a group's sets, none first."""
    return np.array([0, *sets], dtype=np.int64 if max(sets, default=0) < 1 << 63 else object)


def counted_by_budget(chosen: pd.DataFrame, rules) -> pd.Series:
    """What a budget counts of each farm [USD]: its incentive cost, and what the rules add."""
    usd = chosen["incentive_cost_usd"]
    if rules["budget_adds_administration"]:
        usd = usd + rules["administration_usd"]
    return usd + chosen["refund_credit_usd"] if rules["budget_adds_refunds"] else usd


def qualifies(chosen: pd.DataFrame) -> pd.Series:
    """Farms that qualify and that the board does not bar."""
    return chosen["verdict"].isin([QUALIFIES, CONDITIONS]) & ~is_closed_out(chosen)
