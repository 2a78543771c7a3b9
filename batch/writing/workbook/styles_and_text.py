"""How cells are written: one function for values, and the few looks that all workbooks share."""

import datetime
import math
import re
from copy import copy
from dataclasses import dataclass, fields, replace
from numbers import Integral, Real
from weakref import WeakKeyDictionary

import pandas as pd
from openpyxl.cell.rich_text import CellRichText
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side

from batch.columns.column import Column

LONGEST_TEXT = 32_767  # the most that a cell of a spreadsheet program holds
# Control characters, halves of character pairs and non-characters: none may stand in XML.
NOT_IN_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff\ufffe\uffff]")
ISO_DATE, TIME_OF_DAY, DURATION = "yyyy-mm-dd", "h:mm:ss", "[hh]:mm:ss"
FORMULA_STARTS = ("=", "+", "-", "@")
MOMENTS = (datetime.date, datetime.time, datetime.timedelta)  # a datetime is a date

# --- the palette: quiet, and every mark has a word beside its colour ----------------------------
TEAL, SLATE, SAND, PAPER = "1F4E5F", "55737F", "EFE9DC", "FAF8F3"
INK, GREY, LINE = "1E2A2F", "6B7478", "C9C2B2"
RED_FILL, AMBER_FILL, GREEN_FILL = "F3D9D3", "F7E8C4", "DDE8DC"


@dataclass(frozen=True)
class Look:
    """How a cell looks. Frozen, so that a workbook registers each look once and shares it."""

    bold: bool = False
    italic: bool = False
    size: float = 11
    ink: str = INK
    fill: str = ""
    horizontal: str | None = None
    vertical: str = "top"
    wrap: bool = False
    indent: int = 0
    is_boxed: bool = False
    number_format: str = "General"

    def __post_init__(self):
        # A look is looked up for every cell: its hash is worked out once.
        object.__setattr__(self, "_hash", hash(tuple(getattr(self, f.name) for f in fields(self))))

    def __hash__(self):
        return self._hash


TITLE = Look(bold=True, size=14, ink=TEAL, vertical="center")
SUBTITLE = Look(italic=True, ink=GREY, vertical="center")
BAND = Look(bold=True, ink=TEAL, fill=SAND, vertical="center")
HINT = Look(italic=True, size=9, ink=GREY, fill=SAND, horizontal="center", vertical="center",
            wrap=True)
HEADER = Look(bold=True, ink="FFFFFF", fill=SLATE, horizontal="center", vertical="center",
              wrap=True, is_boxed=True)
REQUIRED_HEADER = Look(bold=True, ink="FFFFFF", fill=TEAL, horizontal="center", vertical="center",
                       wrap=True, is_boxed=True)
EXAMPLE = Look(italic=True, ink=GREY)
PLAIN = Look()
WRAPPED = Look(wrap=True)

_registered = WeakKeyDictionary()  # workbook -> {look: its style in that workbook}


def put(cell, value, look: Look | None = None):
    """Write a value into a cell of openpyxl, and how it looks.

    Text stays text, whatever it begins with; unknown (None, NaN, NaT, NA) is an empty cell; numpy
    values become Python's. Errors: ValueError for infinity, TypeError for what a cell cannot hold.
    """
    value = cell_value(value)
    cell.value = value
    if isinstance(value, str):
        cell.data_type = "s"  # not a formula, not an error code
    if look is not None:
        _dress(cell, look_of_moment(value, look) if isinstance(value, MOMENTS) else look)
    if isinstance(value, str) and value.startswith(FORMULA_STARTS):
        cell.quotePrefix = True  # typed on in a spreadsheet program, it stays text
    return cell


def look_of_moment(value, look: Look | None) -> Look:
    """The look of a date, time or duration: it needs a format to be read as such again."""
    look = look or PLAIN
    if look.number_format != "General":
        return look
    if isinstance(value, datetime.date):
        return replace(look, number_format=ISO_DATE)
    is_time = isinstance(value, datetime.time)
    return replace(look, number_format=TIME_OF_DAY if is_time else DURATION)


def cell_value(value):
    """A value as a cell holds it: None, text, bool, int, float, or a date."""
    if value is None or isinstance(value, CellRichText):
        return value
    if isinstance(value, str):
        return clean_text(value) or None
    if type(value).__name__ in ("bool", "bool_"):
        return bool(value)
    if isinstance(value, Integral):
        return int(value)
    if isinstance(value, Real):
        return _number(float(value))
    if pd.isna(value) is True:
        return None
    if hasattr(value, "to_pydatetime"):
        return value.to_pydatetime()
    if isinstance(value, MOMENTS):
        return value
    raise TypeError(f"a cell cannot hold {type(value).__name__}: {value!r:.80}")


def clean_text(text: str) -> str:
    """Text without what a workbook cannot hold, and not longer than a cell takes."""
    text = NOT_IN_XML.sub("", str(text).replace("\r\n", "\n").replace("\r", "\n"))
    return text[:LONGEST_TEXT]


def _number(value: float) -> float | None:
    if math.isinf(value):
        raise ValueError("infinity cannot be written in a workbook")
    return None if math.isnan(value) else value


def number_format(column: Column) -> str:
    """The number format of a column: decimals by the dictionary, text as text, ISO dates."""
    if column.kind == "integer":
        return "0"
    if column.kind == "number":
        return "#,##0" + ("." + "0" * column.decimals if column.decimals else "")
    return ISO_DATE if column.kind == "date" else "@"


def _dress(cell, look: Look):
    """Give a cell its look; all cells of a workbook with that look share one style."""
    styles = _registered.setdefault(cell.parent.parent, {})
    if look in styles:
        cell._style = copy(styles[look])
        return
    apply_look(cell, look)
    styles[look] = copy(cell._style)


def apply_look(target, look: Look):
    """Give a look to a cell, or to a column's default."""
    target.font = Font(name="Calibri", bold=look.bold, italic=look.italic, size=look.size,
                       color=look.ink)
    target.alignment = Alignment(horizontal=look.horizontal, vertical=look.vertical,
                                 wrap_text=look.wrap, indent=look.indent)
    if look.fill:
        target.fill = PatternFill("solid", fgColor=look.fill)
    if look.is_boxed:
        side = Side(style="thin", color=LINE)
        target.border = Border(left=side, right=side, top=side, bottom=side)
    target.number_format = look.number_format
