"""The house list of units. A unit word that is not listed is refused, never guessed.

The registry holds only what is defined here, so that no definition of a general registry can
slip in (hp is 745.7 W, a foot is the international foot, a gallon is the US gallon).
"""

from functools import cache

# Exact by definition: foot 0.3048 m, US gallon 231 in3, pound-force and pound by the avoirdupois
# pound 0.45359237 kg and standard gravity 9.80665 m/s2. Source: NIST Special Publication 811
# (2008), appendix B.8.
DEFINITIONS = """
meter = [length]
second = [time]
kilogram = [mass]
ampere = [current]
kelvin = [temperature]
dollar = [money]
percent = []
foot = 0.3048 * meter
inch = foot / 12
mile = 5280 * foot
acre = 43560 * foot ** 2
hectare = 10000 * meter ** 2
gallon = 231 * inch ** 3
liter = 0.001 * meter ** 3
mcf = 1000 * foot ** 3
minute = 60 * second
hour = 3600 * second
day = 24 * hour
year = 365.25 * day
month = year / 12
newton = kilogram * meter / second ** 2
pascal = newton / meter ** 2
pound = 0.45359237 * kilogram
psi = pound * 9.80665 * meter / second ** 2 / inch ** 2
watt = newton * meter / second
horsepower = 550 * foot * pound * 9.80665 / second ** 3 * meter
volt = watt / ampere
ohm = volt / ampere
kilovoltampere = [apparent_power]
kilowatthour = 1000 * watt * hour
celsius = kelvin; offset: 273.15
fahrenheit = 5 / 9 * kelvin; offset: 255.37222222222223
"""

# Word in a header or cell -> expression in the registry. Words are matched without case.
WORDS = {
    "ft": "foot", "feet": "foot", "foot": "foot", "m": "meter", "in": "inch", "inch": "inch",
    "inches": "inch", "mm": "0.001 * meter", "cm": "0.01 * meter", "km": "1000 * meter",
    "mi": "mile", "mile": "mile", "miles": "mile",
    "acre": "acre", "acres": "acre", "ac": "acre", "ha": "hectare",
    "gal/min": "gallon / minute", "gpm": "gallon / minute", "l/s": "liter / second",
    "l/min": "liter / minute", "m3/h": "meter ** 3 / hour", "ft3/s": "foot ** 3 / second",
    "cfs": "foot ** 3 / second",
    "psi": "psi", "kpa": "1000 * pascal", "bar": "100000 * pascal",
    "hp": "horsepower", "kw": "1000 * watt", "w": "watt", "kva": "kilovoltampere",
    "kwh": "kilowatthour", "mwh": "1000 * kilowatthour",
    "v": "volt", "kv": "1000 * volt", "a": "ampere", "ka": "1000 * ampere",
    "h": "hour", "hr": "hour", "hours": "hour", "min": "minute", "s": "second", "yr": "year",
    "year": "year", "years": "year", "month": "month", "months": "month", "day": "day",
    "gal/h": "gallon / hour", "l/h": "liter / hour", "mcf/h": "mcf / hour", "gal": "gallon",
    "l": "liter", "mcf": "mcf", "m3": "meter ** 3",
    "%": "percent", "percent": "percent",
    "usd": "dollar", "$": "dollar", "usd/gal": "dollar / gallon", "$/gal": "dollar / gallon",
    "usd/l": "dollar / liter", "usd/mcf": "dollar / mcf", "usd/m3": "dollar / meter ** 3",
    "usd/h": "dollar / hour", "usd/yr": "dollar / year", "usd/month": "dollar / month",
    "usd/ft": "dollar / foot", "usd/m": "dollar / meter", "usd/mi": "dollar / mile",
    "usd/kwh": "dollar / kilowatthour", "cent/kwh": "0.01 * dollar / kilowatthour",
    "usd/mwh": "dollar / 1000 / kilowatthour",
    "usd/kw": "dollar / 1000 / watt", "usd/hp": "dollar / horsepower",
    "usd/kw-month": "dollar / 1000 / watt / month", "usd/hp-month": "dollar / horsepower / month",
    "usd/kw-yr": "dollar / 1000 / watt / year", "usd/hp-yr": "dollar / horsepower / year",
    "degc": "celsius", "degf": "fahrenheit", "ohm": "ohm",
    "ft/s": "foot / second", "m/s": "meter / second",
    "gpm/acre": "gallon / minute / acre", "gal/min/acre": "gallon / minute / acre",
    "lb/mwh": "pound / 1000 / kilowatthour", "kg/gal": "kilogram / gallon",
    "kg/mcf": "kilogram / mcf", "t/yr": "1000 * kilogram / year", "t": "1000 * kilogram",
    "kwh/yr": "kilowatthour / year", "mwh/yr": "1000 * kilowatthour / year",
    "us": "0.000001 * second", "uf/kw": "second / volt ** 2 / 1e9",
    "gal/yr": "gallon / year", "l/yr": "liter / year", "mcf/yr": "mcf / year",
    "m3/yr": "meter ** 3 / year",
    "usd/t": "dollar / 1000 / kilogram", "w-h": "watt * hour", "ohm-m": "ohm * meter",
}


class UnknownUnit(ValueError):
    """A unit word that the house list does not hold, or one of another kind."""


@cache
def registry():
    """The pint registry with the house definitions and nothing else."""
    import pint

    ureg = pint.UnitRegistry(None, autoconvert_offset_to_baseunit=True)
    for line in DEFINITIONS.strip().splitlines():
        ureg.define(line)
    return ureg


def _spelling(word: str) -> str:
    plain = word.strip().casefold().replace(" ", "")
    for mark, plain_mark in (("³", "3"), ("²", "2"), ("°", "deg"), ("µ", "u"), ("·", "-")):
        plain = plain.replace(mark, plain_mark)
    return plain


@cache
def _unit(word: str):
    expression = WORDS.get(_spelling(word))
    if expression is None:
        raise UnknownUnit(f"the unit '{word}' is not on the list of units")
    return registry().parse_expression(expression)


def is_unit(word: str) -> bool:
    """True where the word is on the house list."""
    return _spelling(word) in WORDS


def same_unit(one: str, other: str) -> bool:
    """True where both words mean the same unit, as gpm and gal/min do."""
    if _spelling(one) == _spelling(other):
        return True
    return (is_unit(one) and is_unit(other)
            and WORDS[_spelling(one)] == WORDS[_spelling(other)])


def is_calendar_rate(word: str) -> bool:
    """True for a rate per year or month. It counts what is used in a season, and is no rate per
    hour of running: a year's 8,766 hours do not convert the one into the other."""
    expression = WORDS.get(_spelling(word), "")
    return "/ year" in expression or "/ month" in expression


@cache
def words_like(house_unit: str) -> tuple[str, ...]:
    """The listed unit words of the same kind as a house unit, for messages."""
    if not is_unit(house_unit):
        return ()
    return tuple(word for word in WORDS if _kind(word) == _kind(house_unit))


@cache
def _kind(word: str):
    """What a unit measures, and whether it counts by the calendar."""
    return registry().Quantity(_unit(word)).dimensionality, is_calendar_rate(word)


def convert(values, unit: str, house_unit: str):
    """Values [unit] as values [house_unit]; float or array in, the same shape out.

    Errors: UnknownUnit when a word is not listed, or when the two are not of one kind.
    """
    if same_unit(unit, house_unit):
        return values
    ureg = registry()
    source, target = ureg.Quantity(_unit(unit)), ureg.Quantity(_unit(house_unit))
    if (source.dimensionality != target.dimensionality
            or is_calendar_rate(unit) != is_calendar_rate(house_unit)):
        raise UnknownUnit(f"'{unit}' is not a unit of the same kind as '{house_unit}'")
    if "delta" in str(source.units) or source.units in (ureg.celsius, ureg.fahrenheit):
        return ureg.Quantity(values, source.units).to(target.units).magnitude
    return values * (source / target).to_base_units().magnitude
