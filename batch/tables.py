"""Published tables in `batch/data/tables`: one CSV file each, its source in the first line."""

from functools import cache
from importlib.resources import files

import numpy as np
import pandas as pd

FOLDER = files("batch.data.tables")
SIZE_TOLERANCE = 0.005  # common practice: ratings are printed to three digits


@cache
def table(name: str) -> pd.DataFrame:
    """A table by its file name without ending. Treat it as read-only."""
    with (FOLDER / f"{name}.csv").open(encoding="utf-8") as stream:
        return pd.read_csv(stream, comment="#", keep_default_na=False, na_values=[""])


@cache
def text(name: str) -> str:
    """A table's file as it is."""
    return (FOLDER / f"{name}.csv").read_text(encoding="utf-8")


@cache
def printed_rows(name: str) -> tuple[tuple[int, dict[str, str]], ...]:
    """A table's rows as they stand in its file: the line's number, and the texts by column."""
    header, *rows = ((number, line.split(",")) for number, line in enumerate(
        text(name).splitlines(), start=1) if line and not line.startswith("#"))
    return tuple((number, dict(zip(header[1], cells))) for number, cells in rows)


def names() -> list[str]:
    """All tables, sorted."""
    return sorted(entry.name.removesuffix(".csv") for entry in FOLDER.iterdir()
                  if entry.name.endswith(".csv"))


def value_at(name: str, key_column: str, keys, value_column: str) -> np.ndarray:
    """The table's value in the row of each key; NaN where the table has no such row.

    Parameters
    ----------
    keys : array (n,), of the key column's kind

    Returns
    -------
    array (n,) [unit of the column]
    """
    rows = table(name)
    series = pd.Series(rows[value_column].to_numpy(float), index=rows[key_column])
    return series.reindex(np.asarray(keys)).to_numpy(float)


def column(name: str, value_column: str) -> np.ndarray:
    """A whole column of numbers of a table, in the table's order."""
    return table(name)[value_column].to_numpy(float)


def sizes(kind: str) -> np.ndarray:
    """Standard ratings of a kind, ascending."""
    rows = table("standard_sizes")
    return np.array(rows.loc[rows["kind"] == kind, "values"].item().split(), dtype=float)


def snapped_to_size(values, kind: str) -> np.ndarray:
    """Ratings as they are listed, where one lies within half a percent: a rating that was
    converted or rounded, as 15 hp written as 11.2 kW, is that rating. All else stays.

    Parameters
    ----------
    values : array (n,) [the kind's unit]

    Returns
    -------
    array (n,) [the same unit]
    """
    values, listed = np.asarray(values, float), sizes(kind)
    nearest = listed[np.abs(values[:, None] - listed).argmin(axis=1)]
    return np.where(np.abs(values - nearest) <= SIZE_TOLERANCE * nearest, nearest, values)
