"""Texts of cells: which are blank to the eye, which names look the same, and characters that a
workbook holds in their escaped form."""

import re
import unicodedata
from functools import cache

# Characters without a shape that Unicode does not class as formats: joiners and fillers of Hangul,
# selectors of variants, the blank of Braille. Source: Unicode 15, property
# Default_Ignorable_Code_Point, and the names of U+2800 and U+FFA0.
SHAPELESS = re.compile("[\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u2800\u3164\ufe00-\ufe0f"
                       "\uffa0\U000e0100-\U000e01ef]")
# Source: ECMA-376, 5th edition, part 1, 22.9.2.19 ST_Xstring: _xHHHH_ is the character of that
# number, and _x005F_ the low line that begins a text which only looks like one.
ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")
LOOKS_ESCAPED = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")

ERROR_CODES = {"#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#N/A", "#GETTING_DATA"}
# Errors of newer functions look alike (#SPILL!, #CALC!), and so will those to come.
LIKE_AN_ERROR = re.compile(r"#[A-Z][A-Z0-9_/]*[!?]|Err:\d{3}", re.ASCII)
UNKNOWN_ERROR = "#UNKNOWN!"


def is_error(text: str) -> bool:
    """True for a text that is the error of a spreadsheet program, or looks like one."""
    return text in ERROR_CODES or LIKE_AN_ERROR.fullmatch(text) is not None


def is_blank(value) -> bool:
    """True for an empty cell, and for text that shows nothing: blanks and invisible characters."""
    if value is None:
        return True
    return type(value) is str and not (value.strip() if value.isascii() else visible(value))


@cache
def _is_visible(sign: str) -> bool:
    return not (sign.isspace() or unicodedata.category(sign) == "Cf" or SHAPELESS.match(sign))


def visible(text: str) -> str:
    """The text without blanks and invisible characters."""
    return "".join(filter(_is_visible, text))


def looks_of_name(name: str) -> str:
    """What is left of a name where case, full and half width, the composition of characters,
    blanks and invisible characters make no difference.

    Source: The Unicode Standard, 3.13, definition D145 (canonical caseless match); UAX 44 for the
    decompositions <wide> and <narrow>.
    """
    if name.isascii():
        return "".join(name.split()).casefold()
    plain = unicodedata.normalize("NFD", "".join(map(_of_plain_width, name)))
    return visible(unicodedata.normalize("NFD", plain.casefold()))


@cache
def _of_plain_width(sign: str) -> str:
    kind, _, codes = unicodedata.decomposition(sign).partition(" ")
    return chr(int(codes, 16)) if kind in ("<wide>", "<narrow>") else sign


def unescaped(value):
    """A text with its escaped characters as themselves, ends of lines as XML has them; any other
    value as it is."""
    if type(value) is str and "_x" in value:
        text = ESCAPED.sub(lambda sign: chr(int(sign[1], 16)), value)
        return text.replace("\r\n", "\n").replace("\r", "\n")
    return value


def escaped(text: str) -> str:
    """The text as a workbook must hold it, so that what only looks escaped stays as it is."""
    return LOOKS_ESCAPED.sub("_x005F_", text) if "_x" in text else text
