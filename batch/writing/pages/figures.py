"""Figures on pages. Each is a value of one of the run's CSV files, and its tag says which one.

A figure is shown grouped by thousands, and rounded from the canonical text where a page asks for
fewer digits. `data-file`, `data-id` and `data-key` name the file, its row and its column; in a
table the row and the header carry them for the cells.
"""

from decimal import ROUND_HALF_UP, Decimal

from markupsafe import Markup, escape

from batch.columns.column import Column

OPEN = Markup('<span class="unknown">not assessed</span>')
CSS_BY_WORD = {"fails": "fails", "error": "fails", "does not qualify": "fails",
               "incomplete": "open", "watch": "watch", "qualifies with conditions": "watch",
               "not assessed": "open", "meets": "meets", "qualifies": "meets"}


def shown(text: str, decimals: int | None = None) -> str:
    """A canonical number as a page shows it: thousands grouped, rounded half up."""
    value = Decimal(text)
    if decimals is not None:
        value = value.quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP)
    return f"{value:,f}".removeprefix("-") if value == 0 else f"{value:,f}"


class Row:
    """One row of a CSV file in canonical text by key. Called with a key it gives the figure."""

    def __init__(self, file: str, row_id: str, texts):
        self.file, self.row_id, self.texts = file, row_id, texts

    def text(self, key: str) -> str:
        """The canonical text; blank where it is unknown."""
        if key not in self.texts:
            raise LookupError(f"there is no figure '{key}' in {self.file}")
        return self.texts[key]

    def has(self, key: str) -> bool:
        """Whether the value is known."""
        return self.text(key) != ""

    def value(self, key: str) -> float:
        """The value as a number, unknown as NaN; for comparisons."""
        return float(self.text(key) or "nan")

    def __call__(self, key: str, decimals: int | None = None) -> Markup:
        """The figure of a key, marked with where it stands."""
        return self._marked(key, self.text(key), decimals, "")

    def usd(self, key: str, decimals: int = 0) -> Markup:
        """The figure of a key in dollars."""
        return self._marked(key, self.text(key), decimals, "$")

    def plain(self, key: str) -> Markup:
        """The figure of a key without the zeros at its end, as a rating is written."""
        text = self.text(key)
        whole, _, parts = text.partition(".")
        return self._marked(key, text, len(parts.rstrip("0")) if whole else None, "")

    def left(self, key: str, *others: str) -> Markup:
        """A sum of money less others of the same row."""
        return self._marked(" - ".join((key, *others)), self._left(key, *others), None, "")

    def usd_left(self, key: str, *others: str) -> Markup:
        """A sum of money less others of the same row, in dollars and cents."""
        return self._marked(" - ".join((key, *others)), self._left(key, *others), 2, "$")

    def _left(self, key, *others):
        texts = [self.text(k) for k in (key, *others)]
        return "" if "" in texts else str(Decimal(texts[0]) - sum(map(Decimal, texts[1:])))

    def _marked(self, key, text, decimals, sign):
        if text == "":
            return OPEN
        number = shown(text, decimals)
        number = f"-{sign}{number[1:]}" if number.startswith("-") else sign + number
        return Markup(f'<data value="{text}" data-file="{self.file}" data-key="{key}" data-id="'
                      f'{escape(self.row_id)}">{number}</data>')


def rows_of(file: str, frame, *id_keys: str) -> list[Row]:
    """The rows of a frame of canonical text; several keys name a row with | between."""
    return [Row(file, "|".join(texts[key] for key in id_keys), texts)
            for texts in frame.to_dict("records")]


def table(rows: list[Row], columns: tuple[Column, ...], caption: str, *, of: str = "") -> dict:
    """A table of figures and words of one file for the macro `table`. `of` names the candidate
    where the rows' own names are of its parts, as checks or years."""
    return {"caption": caption, "file": rows[0].file if rows else "", "of": of,
            "headers": [{"text": c.header, "key": c.key, "css": "n" if c.is_numeric else ""}
                        for c in columns],
            "rows": [{"id": row.row_id, "css": "", "cells": [_cell(row, c) for c in columns]}
                     for row in rows]}


def _cell(row, column):
    text = row.text(column.key)
    if column.is_numeric:
        return {"text": shown(text) if text else "", "css": "n", "link": ""}
    return {"text": text, "css": CSS_BY_WORD.get(text, ""), "link": ""}


def words_table(headers: tuple[str, ...], rows, caption: str) -> dict:
    """A table of words and of figures that are marked themselves. A column that is mostly figures
    is set to the right."""
    rows = list(rows)
    is_figure = [2 * sum(isinstance(row[k], Markup) for row in rows) > len(rows)
                 for k in range(len(headers))]
    return {"caption": caption, "file": "", "of": "",
            "headers": [{"text": h, "key": "", "css": "n" if figure else ""}
                        for h, figure in zip(headers, is_figure)],
            "rows": [{"id": "", "css": "", "cells": [
                {"text": cell, "link": "", "css": "n" if figure else CSS_BY_WORD.get(cell, "")}
                for cell, figure in zip(row, is_figure)]} for row in rows]}
