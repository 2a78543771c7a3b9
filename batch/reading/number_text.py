"""Numbers that a cell holds as text: '1,300', '1,300 ft', '$3.60', '75 %'.

US marks are taken: a point for decimals, commas or blanks between groups of three. Text that a
reader elsewhere would take for another number is refused as ambiguous, never guessed.
"""

import re
from dataclasses import dataclass

BLANKS = re.compile(r"[\s\u200b\ufeff]+")  # \s holds the non-breaking and the thin blanks
NUMBER = re.compile(r"(?P<money>\$\s?|USD\s?)?(?P<sign>[+-]?)\s?(?P<money_after>\$\s?)?"
                    r"(?P<digits>\d(?:[\d.,]|\s(?=\d{3}(?!\d)))*|[.,]\d+)"
                    r"(?P<exponent>[eE][+-]?\d{1,3}(?![\w.]))?\s?(?P<unit>.*)",
                    re.IGNORECASE | re.ASCII | re.DOTALL)
PLAIN = re.compile(r"\d+\.?\d*|\.\d+", re.ASCII)
GROUPED = re.compile(r"\d{1,3}(?:,\d{3})+(?:\.\d*)?|\d{1,3}(?: \d{3})+(?:\.\d*)?", re.ASCII)
THOUSANDS_BY_POINT = re.compile(r"[1-9]\d{0,2}\.\d{3}", re.ASCII)


class NotANumber(ValueError):
    """The text holds no number."""


class AmbiguousNumber(ValueError):
    """The text holds a number that can be read in two ways."""


@dataclass(frozen=True)
class NumberText:
    """A number read from text, and the words behind it ('' for none)."""

    value: float
    unit: str


def read_number(text: str) -> NumberText:
    """The number and the unit words of a text.

    Errors: NotANumber; AmbiguousNumber where points and commas do not tell thousands from
    decimals, as in '1.300,5', '12,5' or '1.300'.
    """
    plain = BLANKS.sub(" ", text).strip().replace("\u2212", "-")
    match = NUMBER.fullmatch(plain)
    if not match:
        raise NotANumber(text)
    unit = match["unit"].strip()
    if match["money"] or match["money_after"]:
        unit = f"USD{unit}" if unit.startswith("/") else f"USD {unit}".strip()
    if unit and unit[0] in "0123456789.,+-:'/_":
        raise NotANumber(text)
    value = _digits(match["digits"]) * float("1" + (match["exponent"] or ""))
    if value == float("inf"):
        raise NotANumber(text)
    return NumberText(-value if match["sign"] == "-" else value, unit)


def _digits(digits: str) -> float:
    if PLAIN.fullmatch(digits) and not THOUSANDS_BY_POINT.fullmatch(digits):
        return float(digits)
    if GROUPED.fullmatch(digits):
        return float(digits.replace(",", "").replace(" ", ""))
    raise AmbiguousNumber(digits)
