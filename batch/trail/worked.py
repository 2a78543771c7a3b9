"""Worked lines: a result's formula with one farm's numbers in it, to check with a calculator.

The arithmetic stands in the dictionary (`Column.worked`), is printed here with numbers and units,
and is evaluated by a test against the reported value, so that a line cannot drift from the code.
"""

import re
from dataclasses import dataclass

from batch.columns import CANDIDATES, PROGRAM, RESULTS, WORKING

NAME = re.compile(r"[a-z][a-z0-9_]*")
FUNCTIONS = ("max", "min")
UNKNOWN = "unknown"
# What follows is printed once a year and added up: `year` is the year's number, a key of a flow by
# year its amount in that year. A growth factor is printed as one number.
SUM_OVER_YEARS = "sum over years of "
DESIGNS = WORKING.by_key | RESULTS.by_key  # the columns of a farm's or design's row
GROWTH = re.compile(r"\(1 \+ ([a-z0-9_]+) / 100\)")


@dataclass(frozen=True)
class WorkedLine:
    """One result of one farm: label, formula with numbers, value, unit and source."""

    key: str
    label: str
    arithmetic: str
    value: float | None
    unit: str
    decimals: int
    source: str

    def __str__(self):
        value = "not assessed" if self.value is None else f"{self.value:,.{self.decimals}f}"
        unit = f" {self.unit}" if self.unit and self.value is not None else ""
        source = f"   [{self.source}]" if self.source else ""
        return f"{self.label} = {self.arithmetic} = {value}{unit}{source}"


def _unmarked(_name):
    return ""


def worked_line(key: str, row, rules, mark=_unmarked) -> WorkedLine | None:
    """The worked line of a result for one row of the options; None where it has no arithmetic.

    `row` holds the inputs and results of the farm by key. `mark` gives what is printed behind the
    number of a key, as where it comes from.
    """
    column = DESIGNS[key]
    expression = column.worked_for(row, rules)
    if not expression:
        return None
    value = row[key]
    is_known = value is not None and value == value
    if expression.startswith(SUM_OVER_YEARS):
        arithmetic = _summed(expression.removeprefix(SUM_OVER_YEARS), row, rules, mark)
    else:
        arithmetic = _with_numbers(expression, row, rules, mark)
    if is_known and UNKNOWN in arithmetic:
        return None  # the rule holds for other farms: here the value has another origin
    return WorkedLine(key, column.label, arithmetic,
                      float(value) if is_known else None, column.unit, column.decimals,
                      column.source)


def names_in(key: str, row, rules) -> tuple[str, ...]:
    """The keys in the arithmetic of a result for one row of the options, each once, in its order;
    none where it has no arithmetic for this row."""
    if key not in DESIGNS or worked_line(key, row, rules) is None:
        return ()
    names = NAME.findall(DESIGNS[key].worked_for(row, rules))
    return tuple(name for name in dict.fromkeys(names) if name in row or name in rules.by_key)


def _summed(term, row, rules, mark):
    """One term a year with its numbers, year 0 first."""
    [flow_key] = [key for key in NAME.findall(term) if key in row]
    term = GROWTH.sub(lambda match: f"{1 + rules[match.group(1)] / 100:.10g}", term)
    terms = [_with_numbers(re.sub(r"\byear\b", str(year), term), {flow_key: amount}, rules,
                           _unmarked) for year, amount in enumerate(row[flow_key])]
    if any(UNKNOWN in text for text in terms):
        return UNKNOWN
    return " + ".join(terms) + mark(flow_key)


def _with_numbers(expression, row, rules, mark):
    """Keys replaced by numbers with their units; signs as they are written by hand."""
    def replaced(match):
        key = match.group()
        if key in FUNCTIONS:
            return key
        value = row[key] if key in row else rules[key]
        if value is None or value != value:
            return UNKNOWN
        unit = _unit_of(key)
        return f"{_plain(float(value), is_money=unit.startswith(' USD'))}{unit}{mark(key)}"

    text = NAME.sub(replaced, expression)
    return text.replace("**", "^").replace("*", "x")


def _plain(value, is_money):
    """Seven significant digits, cents for larger sums, negative numbers in brackets."""
    is_sum = is_money and abs(value) >= 100 or abs(value) >= 1e6
    text = f"{value:.2f}" if is_sum else f"{value:.7g}"
    return f"({text})" if value < 0 else text


def _unit_of(key):
    for sheet in (RESULTS, CANDIDATES, PROGRAM, WORKING):
        if key in sheet.by_key:
            unit = sheet.by_key[key].unit
            return f" {unit}" if unit else ""
    return " USD" if key.endswith("_usd") else ""
