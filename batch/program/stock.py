"""Crews and stock: the rows of the Limits sheet, what sets of farms take of them, and the list of
what the funded farms need bought."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from batch.columns.limits import BUYING_LIST, Counted, counted, in_words
from batch.money.quantities import KINDS, amounts, is_counted, quantities

SLACK = 1e-6  # of a unit, which is rounding


@dataclass(frozen=True)
class StockRow:
    """A row of the sheet: its Excel row, and what it counts."""

    row: int
    name: str
    unit: str
    available: float
    parts: tuple[Counted, ...]


@dataclass(frozen=True)
class Stock:
    """The rows of the sheet with the prices that make sizes and quantities."""

    rows: tuple[StockRow, ...]
    price_list: object

    @classmethod
    def of(cls, inputs):
        """Those of a workbook."""
        return cls(tuple(StockRow(int(row), limit["name"], limit["unit"],
                                  float(limit["available"]), counted(limit["counts"]))
                         for row, limit in inputs.limits.iterrows()), inputs.price_list)

    def amounts(self, chosen: pd.DataFrame) -> list[np.ndarray]:
        """For each row of the sheet, what each chosen option takes of it, (n,) [its unit]."""
        if not self.rows:
            return []
        things = quantities(chosen, self.price_list)
        return [amounts(things, row.parts, len(chosen)) for row in self.rows]


def buying_list(sets, funding, inputs) -> pd.DataFrame:
    """A row for each thing and size that the funded farms need, with how many of them and which,
    and what rows of the Limits sheet count it."""
    if not funding.funded:
        return pd.DataFrame(columns=list(BUYING_LIST.by_key))
    farms, stock = sets.rows_of(list(funding.funded)), Stock.of(inputs)
    things = needed(farms, inputs.price_list)
    takes = [taken.sum() for taken in stock.amounts(farms)]
    rows = []
    for name, mine in things.groupby("thing", sort=False):
        prices = mine["unit_price_usd"]
        told = [in_stock(row, takes[k]) for k, row in enumerate(stock.rows)
                if any(is_counted(mine, part).any() for part in row.parts)]
        rows.append({
            "thing": name, "size": mine["size"].iloc[0], "quantity": mine["quantity"].sum(
                skipna=False), "quantity_unit": mine["quantity_unit"].iloc[0],
            "farms": float(mine["candidate_id"].nunique()), "least_price_usd": prices.min(),
            "most_price_usd": prices.max(), "bought_usd": mine["amount_usd"].sum(skipna=False),
            "needed_by": ", ".join(sorted(set(mine["candidate_id"]))),
            "in_stock": "; ".join(told) or None})
    return pd.DataFrame(rows, columns=list(BUYING_LIST.by_key))


def needed(farms: pd.DataFrame, price_list) -> pd.DataFrame:
    """What farms of a set need, a row for each farm and thing, in the order of the price list;
    `thing` names it in the words of the Limits sheet."""
    things = quantities(farms, price_list)
    things["thing"] = [in_words(*kind) for kind in zip(*(things[key] for key in KINDS))]
    things["candidate_id"] = farms["candidate_id"].to_numpy()[things["place"]]
    order = {item: place for place, item in enumerate(dict.fromkeys(things["item"]))}
    return things.assign(order=things["item"].map(order)).sort_values(
        ["order", "line_build", "phases", "size", "candidate_id"], kind="stable",
        ignore_index=True).drop(columns="order")


def in_stock(row: StockRow, taken: float) -> str:
    """What is taken of a row of the sheet and what there is, in words."""
    short = taken - row.available
    more = f", {short:,.7g} too few" if short > SLACK else ""
    return f"{row.name}: {taken:,.7g} of {row.available:,.7g} {row.unit}{more}"
