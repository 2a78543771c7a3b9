"""A heading of an own list: its name in plain words, and the unit that it states."""

import re
from functools import cache

from batch import units
from batch.adopting.words import PARTS, UNITS

PHASES = re.compile(r"(?<![\w.])([13])\s*[-‐]?\s*(?:ø|φ|ph\b|phase\b|ph(?=[^a-z])|p\b)")
BRACKETED = re.compile(r"[(\[]([^()\[\]]*)[)\]]")
SPLIT = re.compile(r"[^\w#$ø%]+")


@cache
def unit_word(text: str) -> str:
    """The unit that a word of the trade means, as the house list or UNITS writes it; '' for
    none."""
    plain = " ".join(text.casefold().split()).strip()
    plain = re.sub(r"\s+(?:per|a)\s+|\s*/\s*", "/", plain)
    for word in (plain, plain.rstrip(".")):
        if word in UNITS:
            return UNITS[word]
        if units.is_unit(word):
            return word
    return ""


@cache
def spelled(name: str) -> str:
    """A name as headings are compared: small letters, abbreviations written out."""
    plain = PHASES.sub(r" \1 phase ", name.casefold().replace("_", " "))
    words = [PARTS.get(word, word) for word in SPLIT.split(plain) if word]
    joined = " ".join(word for word in words if word)
    return re.sub(r"\b(phase)(?: phase)+\b", r"\1", joined)


@cache
def names_and_unit(text: str) -> tuple[tuple[str, ...], str]:
    """What a heading may be called, the fullest name first, and its unit ('' for none)."""
    text = " ".join(text.split()).strip(" *:")
    unit, bare = "", text
    for inside in BRACKETED.findall(text):
        unit = unit or unit_word(inside)
    if unit or BRACKETED.search(text):
        bare = " ".join(BRACKETED.sub(" ", text).split()).strip(" ,:-")
    names = [text if not unit else bare, bare]
    for sign in (", ", " - ", " in ", " "):
        head, found, tail = bare.rpartition(sign)
        if found and head and unit_word(tail) and unit in ("", unit_word(tail)):
            unit = unit_word(tail)
            names.append(head)
            break
    unit = unit or unit_word(bare)
    return tuple(dict.fromkeys(filter(None, map(spelled, names)))), unit
