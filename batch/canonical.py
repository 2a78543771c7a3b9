"""One text for each value: what CSV files hold, what is hashed and what runs are compared by.

Numbers are rounded to the dictionary's decimals and written with just these; unknown is blank.
"""

import datetime
import hashlib
import json
import math
import re

import numpy as np
import pandas as pd

from batch.columns.column import Column

# What a spreadsheet program may take as the start of a formula, full-width signs included.
RISKY_STARTS = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")
PLAIN_NUMBER = re.compile(r"-?\d+(\.\d+)?(e[+-]?\d+)?")


def rounded_text(value: float, decimals: int) -> str:
    """A rounded number; minus zero is zero, unknown is blank.

    Errors: ValueError for an infinite value, which would be a fault of the study.
    """
    if value is None or math.isnan(value):
        return ""
    if math.isinf(value):
        raise ValueError("an infinite value cannot be written")
    text = f"{value:.{decimals}f}"
    return text.lstrip("-") if float(text) == 0 else text


def number_texts(values: np.ndarray, decimals: int) -> list[str]:
    """The same for a whole column."""
    if np.isinf(values).any():
        raise ValueError("an infinite value cannot be written")
    texts = [f"{value:.{decimals}f}" for value in values.tolist()]
    for place in np.flatnonzero(~(np.abs(values) > 10.0 ** -decimals)):  # small, or unknown
        texts[place] = rounded_text(values[place], decimals)
    return texts


def cell_text(value) -> str:
    """Text for a CSV cell: unknown is blank, and no start that a spreadsheet takes as a formula."""
    if value is None or (isinstance(value, float) and math.isnan(value)) or value is pd.NA:
        return ""
    text = str(value)
    is_risky = text.startswith(RISKY_STARTS) and not PLAIN_NUMBER.fullmatch(text)
    return "'" + text if is_risky else text


def cell_texts(values) -> list[str]:
    """The same for a whole column; a text that comes again is worked out once."""
    texts, known = [], {}
    for value in values:
        if type(value) is not str:
            texts.append(cell_text(value))
            continue
        if value not in known:
            known[value] = cell_text(value)
        texts.append(known[value])
    return texts


def raw_text(value, is_percent: bool = False) -> str:
    """One text for what a spreadsheet cell holds, whatever program saved it: whole numbers in
    full, others to nine digits, a mark on a number that is shown as percent; blank is blank."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, (int, float)):
        digits = ".15g" if float(value).is_integer() else ".9g"
        return f"{float(value):{digits}}" + ("%" if is_percent else "")
    if isinstance(value, datetime.date) and not isinstance(value, datetime.datetime):
        value = datetime.datetime(value.year, value.month, value.day)
    return value.isoformat() if isinstance(value, datetime.datetime) else str(value)


def canonical_frame(frame: pd.DataFrame, columns: tuple[Column, ...]) -> pd.DataFrame:
    """The columns of a frame, in the dictionary's order, as canonical text."""
    return pd.DataFrame({c.key: _column_text(frame[c.key], c) for c in columns})


def _column_text(series: pd.Series, column: Column) -> list[str]:
    if column.kind == "yes/no":
        return ["" if v is None or v != v else ("yes" if v else "no") for v in series]
    if column.is_numeric:
        return number_texts(series.to_numpy(float), column.decimals)
    return cell_texts(series)


def csv_text(frame: pd.DataFrame, header: bool = True) -> str:
    """A frame of text as CSV with plain line ends."""
    return frame.to_csv(index=False, lineterminator="\n", header=header)


def digest(content) -> str:
    """SHA-256 of bytes, of text, or of plain data by its sorted JSON."""
    if not isinstance(content, (bytes, str)):
        content = json.dumps(content, sort_keys=True, ensure_ascii=False, default=_plain)
    data = content.encode("utf-8") if isinstance(content, str) else content
    return hashlib.sha256(data).hexdigest()


def _plain(value):
    if isinstance(value, np.generic):
        return value.item()
    return str(value)
