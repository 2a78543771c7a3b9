"""One cell of an own list as a value of a column: taken with a word on how, or asked."""

import datetime
import re
from dataclasses import dataclass

from rapidfuzz import fuzz, process

from batch import units
from batch.adopting import words
from batch.adopting.amounts import Amount, NoAmount, read_amount
from batch.columns.column import Column
from batch.reading.cell_text import is_blank, is_error
from batch.reading.entry_help import bounds_text
from batch.reading.typing_cells import YES_NO

NEAR_WORD = 80  # of 100: one or two letters of a word
DATE_ORDERS = {"month-first": (2, 0, 1), "day-first": (2, 1, 0), "year-first": (0, 1, 2)}
DATE = re.compile(r"(\d{1,4})[-/. ](\d{1,2})[-/. ](\d{1,4})", re.ASCII)
NAMED_MONTHS = ("%d %b %Y", "%d-%b-%Y", "%d-%b-%y", "%b %d, %Y", "%B %d, %Y", "%d %B %Y",
                "%b %d %Y", "%B %d %Y")
NOT_TAKEN, BLANK = "not taken", "unknown: left blank"


@dataclass(frozen=True)
class Taken:
    """What became of a cell: a value (None for none) and how; `asked` tells as a clause what is
    unclear, `proposal` what it most likely is."""

    value: object = None
    how: str = "taken as it is"
    asked: str = ""
    proposal: object = ""


@dataclass(frozen=True)
class Reading:
    """How the cells of a column are read. `unit` is the heading's; `needs_unit` where a number
    without a unit would be guessed; `own_words` are the planner's answers, by plain word."""

    column: Column
    unit: str = ""
    needs_unit: str = ""
    dates: str = ""
    own_words: tuple[tuple[str, str], ...] = ()


def plain_word(value) -> str:
    """A word without regard to case and blanks."""
    return " ".join(str(value).casefold().split())


def take(value, reading: Reading, is_gas: bool = False) -> Taken:
    """A cell's value as the column holds it. `is_gas` tells a farm on natural gas."""
    kind = reading.column.kind
    own = dict(reading.own_words).get(plain_word(value))
    if own is not None:
        return _own_word(own, reading.column)
    if isinstance(value, str):
        value = value.replace("\xa0", " ").strip()
        if is_error(value):
            return Taken(None, f"the spreadsheet error {value}: left blank")
        if is_blank(value) or plain_word(value) in words.UNKNOWN:
            return Taken(None, BLANK)
    if kind == "text":
        return _text(value)
    if kind == "date":
        return _date(value, reading.dates)
    if kind == "choice":
        return _choice(value, reading.column)
    if kind == "yes/no":
        return _yes_or_no(value)
    return _number(value, reading, is_gas)


def _own_word(own: str, column: Column) -> Taken:
    if own in words.UNKNOWN:
        return Taken(None, "unknown, as you chose: left blank")
    value = {"yes": True, "no": False}.get(own, own) if column.kind == "yes/no" else own
    return Taken(value, f"read as '{own}', as you chose")


def _text(value) -> Taken:
    if isinstance(value, (datetime.date, datetime.time)):
        return Taken(None, NOT_TAKEN, "is a date, where a name is expected")
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    return Taken(str(value))


# --- dates ---------------------------------------------------------------------------------------

def _date(value, order: str) -> Taken:
    if isinstance(value, datetime.datetime):
        return Taken(value.date())
    if isinstance(value, datetime.date):
        return Taken(value)
    text = str(value)
    for form in NAMED_MONTHS:
        try:
            day = datetime.datetime.strptime(text, form).date()
        except ValueError:
            continue
        return Taken(day, "a date with its month in words")
    parts = _date_parts(text)
    if parts is None:
        return Taken(None, NOT_TAKEN, "is no date")
    orders = [order] if order else possible_orders(text)
    days = {day for each in orders if (day := _day(parts, each))}
    if len(days) == 1:
        return Taken(days.pop(), f"read {order or orders[0]}")
    listed = " or ".join(map(str, sorted(days)))
    return Taken(None, NOT_TAKEN, f"may be {listed}" if days else "is no date")


def _date_parts(text: str) -> tuple[str, str, str] | None:
    match = DATE.fullmatch(text.strip())
    return match.groups() if match else None


def possible_orders(text: str) -> list[str]:
    """The orders in which a text of three numbers is a date. The year leads only with four
    digits: with two it must be stated."""
    parts = _date_parts(text)
    if parts is None:
        return []
    orders = ["year-first"] if len(parts[0]) == 4 else ["month-first", "day-first"]
    return [order for order in orders if _day(parts, order)]


def _day(parts, order: str) -> datetime.date | None:
    year, month, day = (parts[place] for place in DATE_ORDERS[order])
    if len(year) not in (2, 4):
        return None
    try:
        return datetime.date(int(year) + (2000 if len(year) == 2 else 0), int(month), int(day))
    except ValueError:
        return None


# --- words ---------------------------------------------------------------------------------------

def _choice(value, column: Column) -> Taken:
    word = plain_word(value)
    known = {plain_word(choice): choice for choice in column.choices}
    for choice, own in words.CHOICES.get(column.key, {}).items():
        known |= {each: choice for each in own}
    if word in known:
        how = "taken as it is" if str(value) == known[word] else f"read as '{known[word]}'"
        return Taken(known[word], how)
    asked = words.ASKED_WORDS.get(column.key, {}).get(word)
    if asked:
        return Taken(None, NOT_TAKEN, "may mean more than one thing", asked)
    near = process.extractOne(word, list(known), scorer=fuzz.ratio, score_cutoff=NEAR_WORD)
    if near and len(word) > 4:
        return Taken(known[near[0]], f"read as '{known[near[0]]}', nearest in spelling")
    return Taken(None, NOT_TAKEN, f"is none of: {', '.join(column.choices)}")


def _yes_or_no(value) -> Taken:
    word = plain_word(value)
    if word in YES_NO:
        return Taken(bool(YES_NO[word]))
    if word in words.YES_NO:
        answer = words.YES_NO[word]
        return Taken(answer, f"read as '{'yes' if answer else 'no'}'")
    return Taken(None, NOT_TAKEN, "is neither yes nor no")


# --- numbers -------------------------------------------------------------------------------------

def _number(value, reading: Reading, is_gas: bool) -> Taken:
    column = reading.column
    if isinstance(value, (datetime.date, datetime.time, datetime.timedelta)):
        return Taken(None, NOT_TAKEN, "is a date; a fraction or range may have been taken for one")
    if isinstance(value, bool):
        return Taken(None, NOT_TAKEN, "is no number")
    if plain_word(value) in words.NOTHING:
        if column.minimum is not None and column.minimum <= 0:
            return Taken(0, "read as 0")
        return Taken(None, BLANK)
    try:
        amount = read_amount(value) if isinstance(value, str) else Amount(float(value))
    except NoAmount as fault:
        return Taken(None, NOT_TAKEN, str(fault))
    return _in_house_unit(amount, reading, is_gas, is_text=isinstance(value, str))


def _in_house_unit(amount: Amount, reading: Reading, is_gas: bool, is_text: bool) -> Taken:
    column = reading.column
    house = column.fuel_gas_unit if is_gas and column.fuel_gas_unit else column.unit
    stated = amount.unit or reading.unit
    if not stated and reading.needs_unit:
        return Taken(None, NOT_TAKEN, reading.needs_unit)
    unit = fitting_unit(stated, house)
    if unit is None:
        return Taken(None, NOT_TAKEN, f"is in {stated}, and {column.label} is in {house or '1'}"
                     + (" for natural gas" if is_gas and column.fuel_gas_unit else ""))
    value = float(f"{units.convert(amount.value, unit, house):.10g}") if unit else amount.value
    if column.kind == "integer" and not float(value).is_integer():
        return Taken(None, NOT_TAKEN, "is no whole number")
    if not _is_possible(value, column):
        return Taken(None, NOT_TAKEN, f"would be {value:g} {house}; possible is "
                     f"{bounds_text(column)}")
    value = int(value) if float(value).is_integer() else value
    return Taken(value, _how(amount, unit, house, is_text))


def _is_possible(value: float, column: Column) -> bool:
    return ((column.minimum is None or value >= column.minimum)
            and (column.maximum is None or value <= column.maximum))


def _how(amount: Amount, unit: str, house: str, is_text: bool) -> str:
    is_converted = unit and not units.same_unit(unit, house)
    parts = ["approximate in the list"] if amount.is_about else []
    if is_converted:
        parts.append(f"converted from {unit}")
    elif amount.unit:
        parts.append("its unit was read")
    elif is_text and not parts:
        parts.append("taken as it is")
    if amount.remark:
        parts.append(f"without its remark '{amount.remark}'")
    return ", ".join(parts) or "taken as it is"


def fitting_unit(stated: str, house: str) -> str | None:
    """The stated unit as one of the house unit's kind, with or without 'a year', a price per what
    the house asks for; '' where none is stated, None where it does not fit."""
    if not stated:
        return ""
    bare = stated.removesuffix("/yr")
    for unit in (stated, bare, f"{bare}/yr"):
        if house and units.is_unit(unit):
            try:
                units.convert(1.0, unit, house)
            except units.UnknownUnit:
                continue
            return unit
    is_price = stated in ("$", "usd") and house.casefold().startswith("usd/")
    return house if is_price else None
