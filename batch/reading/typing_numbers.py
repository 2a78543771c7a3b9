"""Typed numbers: units, percent formats and text numbers first, then bounds and usual ranges."""

import numpy as np

from batch import units
from batch.columns import CANDIDATES
from batch.reading.column_cells import MOMENTS, NUMBERS, ColumnCells, quoted, with_unit
from batch.reading.header import column_per_year, is_native_unit
from batch.reading.number_text import AmbiguousNumber, NotANumber, read_number
from batch.tables import SIZE_TOLERANCE

ROUNDING = 1e-9           # a converted value this near to a bound stands on it


def typed_numbers(cells: ColumnCells, values: list) -> np.ndarray:
    """Numbers in the house unit, held against whole numbers, bounds and the usual range."""
    odd = [i for i, value in enumerate(values)
           if value is not None and type(value) not in NUMBERS]
    plain = [None if value is None or type(value) not in NUMBERS or abs(value) > 1e300
             else value for value in values]
    for i, value in enumerate(values):
        if plain[i] is None and type(value) in NUMBERS:
            cells.add("not-a-number", i, "holds no finite number.")
    result = np.array(plain, dtype=float)
    if cells.column.unit == "%" and cells.percent_rows:
        _read_percent_cells(cells, values, result)
    _convert_header_unit(cells, result)
    for i in odd:
        result[i] = _odd_number(cells, i, values[i])
    _judge_numbers(cells, result)
    return result


def _read_percent_cells(cells: ColumnCells, values: list, result: np.ndarray):
    for i, row in enumerate(cells.rows):
        if row in cells.percent_rows and type(values[i]) in NUMBERS:
            result[i] = float(f"{result[i] * 100:.12g}")
            cells.note("percent-cell", i, f"is {quoted(values[i])} shown as {result[i]:g} %; "
                       f"it was read as {result[i]:g}.")


def _convert_header_unit(cells: ColumnCells, result: np.ndarray):
    """Convert a whole column from the unit in its header, on gas rows into the gas unit."""
    column = cells.column
    if is_native_unit(column, cells.unit):
        return
    is_gas = (cells.is_gas if cells.is_gas is not None and column.fuel_gas_unit
              else np.zeros(len(result), bool))
    for mask, house_unit in ((~is_gas, column.unit), (is_gas, column.fuel_gas_unit)):
        if mask.any() and house_unit:
            result[mask] = units.convert(result[mask], cells.unit, house_unit)
    if not np.isnan(result).all():
        to = f"{column.unit} ({column.fuel_gas_unit} for natural gas)" if is_gas.any() \
            else column.unit
        cells.findings.add(
            "unit-converted", f"{cells.sheet}, column {cells.letter} ({column.label}): "
            f"{_values_were(np.count_nonzero(~np.isnan(result)))} converted from {cells.unit} to "
            f"{to}.", sheet=cells.sheet, column=cells.letter, key=column.key, value=cells.unit,
            limit=column.unit)


def _values_were(count):
    return "1 value was" if count == 1 else f"{count:,} values were"


def _odd_number(cells: ColumnCells, i: int, value) -> float:
    """The number in a cell that holds something else than a plain number; NaN with an error."""
    if isinstance(value, MOMENTS):
        cells.add("date-in-number-cell", i, f"holds the date {quoted(value)}.")
        return np.nan
    if type(value) is not str:
        cells.add("not-a-number", i, f"is {quoted(value)}.")
        return np.nan
    try:
        number = read_number(value)
    except AmbiguousNumber:
        cells.add("ambiguous-number", i, f"is the text '{quoted(value)}': points and commas do not "
                  "tell thousands from decimals.")
        return np.nan
    except NotANumber:
        cells.add("not-a-number", i, f"is the text '{quoted(value)}'.")
        return np.nan
    return _text_number_in_house_unit(cells, i, number)


def _text_number_in_house_unit(cells: ColumnCells, i: int, number) -> float:
    house_unit = cells.house_unit(i)
    header_unit = house_unit if is_native_unit(cells.column, cells.unit) else cells.unit
    unit = number.unit or header_unit
    try:
        value = float(units.convert(number.value, unit, house_unit)) if unit else number.value
    except units.UnknownUnit:
        words = ", ".join(units.words_like(house_unit)) or "no unit"
        hint = column_per_year(number.unit, cells.column, CANDIDATES.columns)
        cells.add("unit-unknown", i, f"is '{quoted(cells.values[i])}': the unit '{number.unit}' is "
                  f"not known for this column, which takes: {words}{hint}.", limit=house_unit)
        return np.nan
    if number.unit and not units.same_unit(number.unit, house_unit):
        cells.add("unit-converted", i, f"is '{quoted(cells.values[i])}'; it was read as "
                  f"{with_unit(value, house_unit)}.")
    else:
        cells.note("number-from-text", i, f"is the text '{quoted(cells.values[i])}'; it was read "
                   f"as {with_unit(value, house_unit)}.")
    return value


def _judge_numbers(cells: ColumnCells, result: np.ndarray):
    """Errors for what cannot be, watches for what is rarely seen; errors become unknown."""
    column = cells.column
    if column.unit == "%":
        for i in np.flatnonzero((result > 0) & (result <= 1)):
            is_given_as_percent = (cells.rows[i] in cells.percent_rows
                                   or type(cells.values[i]) is str and "%" in cells.values[i])
            if not is_given_as_percent:
                cells.add("fraction-for-percent", i, f"is {result[i]:g}, which reads as "
                          f"{result[i]:g} %; {result[i] * 100:g} may be meant.")
    if column.kind == "integer":
        for i in np.flatnonzero(np.abs(result - np.round(result)) > ROUNDING):
            cells.add("not-a-whole-number", i, f"is {quoted(cells.values[i])}.")
            result[i] = np.nan
    if column.usual:
        low, high = column.usual
        # A bound that was rounded in another unit, as 250 hp in whole kW, is no unusual value.
        near = ROUNDING if is_native_unit(column, cells.unit) else SIZE_TOLERANCE
        unusual = ((result < low - abs(low) * near) & _at_least(result, column.minimum)
                   | (result > high + abs(high) * near) & ~_above(result, column.maximum))
        _add_for(cells, unusual, result, "unusual-value", "outside the usual range of",
                 lambda unit: f"{with_unit(low, '')} to {with_unit(high, unit)}")
    if column.minimum is not None:
        _add_for(cells, ~_at_least(result, column.minimum), result, "below-minimum",
                 "below the least possible",
                 lambda unit: with_unit(column.minimum, unit))
    if column.maximum is not None:
        _add_for(cells, _above(result, column.maximum), result, "above-maximum",
                 "above the largest possible",
                 lambda unit: with_unit(column.maximum, unit))
    result[~_at_least(result, column.minimum) | _above(result, column.maximum)] = np.nan


def _at_least(result, minimum):
    """True also where the value is unknown: nothing is wrong with it here."""
    return np.ones(len(result), bool) if minimum is None else ~(
        result < minimum - abs(minimum) * ROUNDING)


def _above(result, maximum):
    return np.zeros(len(result), bool) if maximum is None else (
        result > maximum + abs(maximum) * ROUNDING)


def _add_for(cells: ColumnCells, mask, result, slug, words, limit_text):
    for i in np.flatnonzero(mask):
        unit = cells.house_unit(i)
        value = with_unit(result[i], unit)
        raw = quoted(cells.values[i])
        if type(cells.values[i]) is str or not is_native_unit(cells.column, cells.unit):
            header_unit = "" if type(cells.values[i]) is str else f" {cells.unit}"
            value += f" ({raw}{header_unit} in the cell)"
        limit = limit_text(unit)
        cells.add(slug, i, f"is {value}, {words} {limit}.", limit=limit)
