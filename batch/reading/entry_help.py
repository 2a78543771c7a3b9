"""What helps while a cell is filled: header notes, prompts, drop-downs, bounds. All from the
dictionary."""

import datetime
import re

from openpyxl.comments import Comment
from openpyxl.worksheet.datavalidation import DataValidation

from batch import units
from batch.columns.column import Column
from batch.columns.lists import READERS

LONGEST_PROMPT_TITLE, LONGEST_PROMPT = 32, 255  # what spreadsheet programs take
YES_NO = ("yes", "no")
DATES = (datetime.date(1990, 1, 1), datetime.date(2100, 12, 31))
FIRST_SERIAL_DAY = datetime.date(1899, 12, 30)
AUTHOR = "farmbatch"
UNBROKEN = "\N{NO-BREAK SPACE}"  # keeps the star beside the last word
SPELLING = {text.casefold(): text for text in (
    "kW", "kWh", "MWh", "kVA", "kV", "V", "W", "A", "kA", "kPa", "L", "USD", "Mcf", "degC", "degF")}
UNITS_OF_RESULTS = ("gal/yr", "mcf/yr", "kwh/yr")

# What the rows are checked for beyond one cell, in a few words.
NEEDED_WHEN = {
    "rate_id": "with several rates", "fuel_price_usd": "for engines",
    "present_demand_kw": "for converters", "engine_remaining_yr": "with its price",
    "gross_depth_in": "this or hours", "season_hours": "this or depth",
    "pipe_diameter_in": "with a pipe",
}


def hint(column: Column) -> str:
    """Whether a cell must be filled, in a word or two above the header."""
    if column.required:
        return "required"
    if column.default is not None:
        return f"blank: {as_typed(column.default)}"
    return NEEDED_WHEN.get(column.key, "optional")


def header_text(column: Column) -> str:
    """The header; a star marks a required column."""
    return f"{column.header}{UNBROKEN}*" if column.required else column.header


def header_note(column: Column, stage_words: str = "") -> Comment:
    """Everything that the dictionary knows about a column, as the note of its header."""
    text = "\n".join(note_lines(column, stage_words))
    lines = sum(1 + len(line) // 46 for line in text.splitlines())
    return Comment(text, AUTHOR, width=330, height=24 + 17 * lines)


def note_lines(column: Column, stage_words: str = "") -> list[str]:
    """The lines of a header's note."""
    lines = [column.help, *([stage_words] if stage_words else [])]
    if column.required:
        lines.append("Required.")
    elif column.default is not None:
        source = f" ({column.source})" if column.source else ""
        lines.append(f"Blank: {as_typed(column.default)} {column.unit}".rstrip() + source + ".")
    if column.choices:
        lines.append("One of: " + ", ".join(column.choices) + ".")
    if column.kind == "yes/no":
        lines.append("yes or no.")
    if column.minimum is not None:
        lines.append(f"Possible: {bounds_text(column)}.")
    if column.usual:
        lines.append(f"Usual: {range_text(column.usual, column.unit)}.")
    if column.key in READERS:
        lines.append(f"Example: {READERS[column.key][1]}")
    words = unit_words(column.unit) if column.is_numeric else []
    if len(words) > 1:
        lines.append("The brackets of the header may hold: " + ", ".join(words) + ".")
    return [*lines, f"Key: {column.key}"]


def unit_words(unit: str) -> list[str]:
    """The unit words of a kind as they are printed, each unit under its first word only."""
    first: dict[str, str] = {}
    for word in units.words_like(unit):
        if word not in UNITS_OF_RESULTS:
            first.setdefault(units.WORDS[word], _spelled(word))
    return list(first.values())


def _spelled(word: str) -> str:
    """A unit word of the house list, which holds them in small letters, as the trade writes it."""
    return re.sub("[a-z]+", lambda part: SPELLING.get(part[0], part[0]), word)


def as_typed(value) -> str:
    """A value as it is typed."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:,g}" if isinstance(value, (int, float)) else str(value)


def range_text(ends, unit: str) -> str:
    """Two ends with their unit."""
    low, high = (f"{end:.10g}" if abs(end) < 10_000 else f"{end:,.10g}" for end in ends)
    return f"{low} to {high} {unit}".rstrip()


def bounds_text(column: Column) -> str:
    """The hard bounds with their unit; the upper one may be missing."""
    if column.maximum is None:
        return f"{column.minimum:g} {column.unit}".rstrip() + " or more"
    return range_text((column.minimum, column.maximum), column.unit)


def prompt_text(column: Column, more: str = "") -> str:
    """The help that appears beside a chosen cell, short enough for spreadsheet programs."""
    parts = [column.help, more]
    if column.is_numeric and column.minimum is not None:
        parts.append(f"Possible: {bounds_text(column)}.")
    if column.key in READERS:
        parts.append(f"Example: {READERS[column.key][1]}")
    return shortened(" ".join(part for part in parts if part), LONGEST_PROMPT)


def shortened(text: str, longest: int) -> str:
    """The text, cut at a blank where it is too long."""
    if len(text) <= longest:
        return text
    return text[:longest - 3].rsplit(" ", 1)[0].rstrip(" ,;:.") + " ..."


# --- validation of what is typed -----------------------------------------------------------------

def validation(column: Column, range_of_choices: str = "", more: str = "") -> DataValidation:
    """The rule for the cells of a column.

    range_of_choices : where the choices stand, for a choice or a yes/no.
    """
    kind, formula_1, formula_2 = _condition(column, range_of_choices)
    operator = "greaterThanOrEqual" if kind and kind != "list" and formula_2 is None else None
    title = shortened(column.label, LONGEST_PROMPT_TITLE)
    rule = DataValidation(
        type=kind, formula1=formula_1, formula2=formula_2, operator=operator, allow_blank=True,
        errorStyle="warning" if may_have_another_unit(column) else "stop",
        errorTitle=title, error=_error_text(column), promptTitle=title,
        prompt=prompt_text(column, more))
    rule.showErrorMessage, rule.showInputMessage = kind is not None, True
    return rule


def may_have_another_unit(column: Column) -> bool:
    """True where the header may name another unit, so that the bounds may not be those typed."""
    return column.is_numeric and len(unit_words(column.unit)) > 1


def _condition(column: Column, range_of_choices: str):
    if column.kind in ("choice", "yes/no"):
        return "list", range_of_choices, None
    if column.kind == "date":
        return "date", *(str((day - FIRST_SERIAL_DAY).days) for day in DATES)
    if column.is_numeric and column.minimum is not None:
        kind = "whole" if column.kind == "integer" else "decimal"
        high = None if column.maximum is None else f"{column.maximum:.12g}"
        return kind, f"{column.minimum:.12g}", high
    return None, None, None


def _error_text(column: Column) -> str:
    if column.kind in ("choice", "yes/no"):
        return "Pick a word from the list: click the arrow beside the cell."
    if column.kind == "date":
        return f"Type a date from {DATES[0]} to {DATES[1]}, as in 2026-04-30."
    if not column.is_numeric:
        return ""
    what = "a whole number" if column.kind == "integer" else "a plain number"
    if column.minimum is None:
        return f"Type {what}."
    text = f"Type {what}, {bounds_text(column)}."
    if may_have_another_unit(column):
        text += " Keep it if the unit in the header is another one."
    return text


def reference_validation(column: Column, ids: str, sheet_name: str) -> DataValidation:
    """A drop-down of the names on another sheet; another name is allowed after a question."""
    first, last = ids.split(":")
    column_of_ids = f"'{sheet_name}'!{first}:{last}"
    names = f"OFFSET('{sheet_name}'!{first},0,0,MAX(1,COUNTA({column_of_ids})),1)"
    title = shortened(column.label, LONGEST_PROMPT_TITLE)
    rule = DataValidation(
        type="list", formula1=names, allow_blank=True, errorStyle="warning", errorTitle=title,
        error=f"The {sheet_name} sheet does not list this name yet.", promptTitle=title,
        prompt=prompt_text(column))
    rule.showErrorMessage = rule.showInputMessage = True
    return rule
