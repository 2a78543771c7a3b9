"""Numbers as people write them in lists: '~1300', '1/4 mi', "1320'", '6,800 gal/yr'."""

import re
from dataclasses import dataclass, replace

from batch.adopting.heading_text import unit_word
from batch.adopting.words import ABOUT
from batch.reading.number_text import AmbiguousNumber, NotANumber, read_number

FRACTIONS = {"¼": " 1/4", "½": " 1/2", "¾": " 3/4", "⅓": " 1/3", "⅔": " 2/3", "⅛": " 1/8",
             "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"}
PRIMES = str.maketrans("’′‘”″“–—", "'''\"\"\"--")
RANGE = re.compile(r"\$?\d[\d.,]*\s*\D{0,12}?\s*(?:-|\bto\b)\s*\$?\d[\d.,/]*(\s?\D.*)?", re.DOTALL)
FRACTION = re.compile(r"(?:(\d+)(?:\s+|\s*-\s*))?(\d{1,2})\s*/\s*(\d{1,2})(?:\s*([^\d\s/].*))?",
                      re.DOTALL)
FEET_AND_INCHES = re.compile(r"(\d+)\s*'\s*(\d+(?:\.\d+)?)\s*\"")
REMARK = re.compile(r"\s*\(([^()]*)\)\s*$")


class NoAmount(ValueError):
    """The text holds no single number; the message says why, as a clause."""


@dataclass(frozen=True)
class Amount:
    """A number, its unit in house words ('' for none), and what was said with it."""

    value: float
    unit: str = ""
    is_about: bool = False
    remark: str = ""


def read_amount(text: str) -> Amount:
    """The amount that a text states. Errors: NoAmount."""
    plain = " ".join(text.replace("\xa0", " ").translate(PRIMES).split())
    for sign, words in FRACTIONS.items():
        plain = plain.replace(sign, words)
    plain, is_about = _without_about(plain.strip())
    remark = REMARK.search(plain)
    if remark and not unit_word(remark[1]) and remark.start():
        return replace(read_amount(plain[:remark.start()]), is_about=is_about, remark=remark[1])
    plain = re.sub(r"\(([^()]*)\)$", r" \1", plain)
    if plain.startswith(("<", ">", "≤", "≥")) or re.fullmatch(r"[\d.,]+\s*\+.*", plain):
        raise NoAmount("is a bound and no amount")
    both = FEET_AND_INCHES.fullmatch(plain)
    if both:
        return Amount(int(both[1]) + float(both[2]) / 12, "ft", is_about)
    fraction = FRACTION.fullmatch(plain)
    if fraction and int(fraction[3]):
        whole = int(fraction[1] or 0) + int(fraction[2]) / int(fraction[3])
        return Amount(whole, _unit(fraction[4] or ""), is_about)
    if RANGE.fullmatch(plain):
        raise NoAmount("is a range")
    return _plain_amount(plain, is_about)


def _without_about(plain: str) -> tuple[str, bool]:
    """The text without words such as 'about', and whether there were any."""
    low = plain.casefold()
    for word in sorted(ABOUT, key=len, reverse=True):
        if low.startswith(word) and (not word[-1].isalpha() or low[len(word):len(word) + 1] == " "):
            return plain[len(word):].strip(), True
        if low.endswith((f" {word}", f" ({word})")):
            return plain[:low.rindex(word)].rstrip(" (,"), True
    return plain, False


def _plain_amount(plain: str, is_about: bool) -> Amount:
    mark = plain[-1:] if plain[-1:] in ("'", '"') else ""
    try:
        number = read_number(plain.rstrip("'\"") if mark else plain)
    except AmbiguousNumber:
        raise NoAmount("can be read in two ways: thousands or decimals") from None
    except NotANumber:
        raise NoAmount("is no number") from None
    if mark and number.unit:
        raise NoAmount("is no number")
    return Amount(number.value, _unit(mark or number.unit), is_about)


def _unit(words: str) -> str:
    words = words.strip()
    if words and not unit_word(words):
        raise NoAmount(f"has the words '{words}', which are no unit")
    return unit_word(words)
