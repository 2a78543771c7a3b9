"""Fuel, upkeep and energy of the supply that the farm has today.

Units of fuel are the trade's: gallons for diesel, propane and gasoline, thousand cubic feet
(Mcf) for natural gas, kWh for electricity. "Unit" below means one of these.
"""

import numpy as np


def engine_fuel_rate(*, water_power_hp, other_shaft_power_hp, water_hp_h_per_unit,
                     shaft_hp_h_per_unit, performance_rating_pct):
    """Fuel per hour by the pumping plant performance criteria [unit/h].

    Valid for a pump driven by an engine near its continuous rating. The water column of the
    criteria already holds a 75 % pump (and, for electricity, an 88 % motor), so the water power
    goes in as it is: never divided by a pump efficiency. Other load on the same shaft, such as
    the pivot's generator, has no pump in it and is priced by the shaft column.
    Leaves out the drop of engine efficiency at part load.

    Parameters
    ----------
    water_power_hp : array (n,) [hp]
    other_shaft_power_hp : array (n,) [hp]; 0 where the engine drives the pump only
    water_hp_h_per_unit : array (n,) [hp h/unit]; criterion, water column
    shaft_hp_h_per_unit : array (n,) [hp h/unit]; criterion, shaft column
    performance_rating_pct : array (n,) [%]; 100 = meets the criteria

    Returns
    -------
    array (n,) [unit/h]

    Equation: fuel = (water power / water criterion + other shaft power / shaft criterion)
    / (rating / 100)

    Sources: University of Nebraska-Lincoln, CropWatch, "Save Energy and Costs: Compare Your
    Pumping Plant", 19 Sep and 27 Oct 2008 (Nebraska pumping plant performance criteria).
    Tested by: the gallons per acre-inch by lift and pressure of the 2008 table.
    """
    at_criteria = (np.asarray(water_power_hp, float) / water_hp_h_per_unit
                   + np.asarray(other_shaft_power_hp, float) / shaft_hp_h_per_unit)
    return at_criteria / (np.asarray(performance_rating_pct, float) / 100)


def used_fuel_rate(*, measured_fuel_rate, criteria_fuel_rate):
    """Fuel per hour that the study uses: the measured one, else the computed one [unit/h].

    Parameters
    ----------
    measured_fuel_rate : array (n,) [unit/h]; NaN where the grower gave none
    criteria_fuel_rate : array (n,) [unit/h]; from `engine_fuel_rate` or `generator_fuel_rate`

    Returns
    -------
    array (n,) [unit/h]

    Equation: measured where measured is known, else computed.
    Sources: common practice, no source: a measurement goes before an estimate.
    """
    measured = np.asarray(measured_fuel_rate, float)
    return np.where(np.isnan(measured), criteria_fuel_rate, measured)


def season_fuel_rate(*, annual_fuel_use, season_hours):
    """Fuel rate of a plant whose use over a season is known, as from bills [unit/h].

    Parameters
    ----------
    annual_fuel_use : array (n,) [unit/yr]; NaN where it is not known
    season_hours : array (n,) [h/yr]; hours that the plant runs

    Returns
    -------
    array (n,) [unit/h]

    Equation: rate = use / hours of the season; a year's other hours burn nothing
    Sources: definition of a mean; worked by hand in the test.
    """
    return np.asarray(annual_fuel_use, float) / np.asarray(season_hours, float)


def fuel_plausibility_ratio(*, measured_fuel_rate, criteria_fuel_rate):
    """Measured fuel over computed fuel [1]; the rules hold the range that is believed.

    Parameters
    ----------
    measured_fuel_rate : array (n,) [unit/h]
    criteria_fuel_rate : array (n,) [unit/h]

    Returns
    -------
    array (n,) [1]; NaN where either is unknown or the computed rate is not above zero

    Equation: ratio = measured / computed
    Sources: common practice, no source.
    """
    computed = np.asarray(criteria_fuel_rate, float)
    return np.asarray(measured_fuel_rate, float) / np.where(computed > 0, computed, np.nan)


def generator_fuel_curve(*, generator_rated_kw, table_rated_kw, table_fuel_rate):
    """Fuel per hour of one generator set at each load fraction of a published table [unit/h].

    Between two ratings of the table the fuel is interpolated along a straight line; off the
    table it is NaN, never the nearest rating.

    Parameters
    ----------
    generator_rated_kw : array (n,) [kW]
    table_rated_kw : array (m,) [kW]; rising
    table_fuel_rate : array (m, k) [unit/h]; one column per load fraction, NaN where not printed

    Returns
    -------
    array (n, k) [unit/h]

    Equation: straight line in kW between neighbouring rows of the table.
    Sources: common practice, no source (interpolation in a published chart).
    Tested by: leaving a row out of a published chart and finding it again.
    """
    table = np.asarray(table_fuel_rate, float)
    return np.stack([_on_straight_lines(generator_rated_kw, table_rated_kw, table[:, column])
                     for column in range(table.shape[1])], axis=-1)


def generator_fuel_rate(*, load_fraction, curve_load_fraction, curve_fuel_rate):
    """Fuel per hour of a generator set at its load [unit/h].

    The curve holds a no-load part, so a lightly loaded set burns more per kWh. Below the lowest
    and above the highest load fraction of the curve the answer is NaN. Where a no-load figure is
    documented, it is given as one more point at load fraction 0.

    Parameters
    ----------
    load_fraction : array (n,) [1]; electrical load over the rating
    curve_load_fraction : array (k,) [1]; rising
    curve_fuel_rate : array (n, k) or (k,) [unit/h]; from `generator_fuel_curve` or a data sheet

    Returns
    -------
    array (n,) [unit/h]

    Equation: straight line between neighbouring points of the curve.
    Sources: published approximate diesel generator fuel charts (quarter, half, three-quarter and
    full load). Tested by: the 100 kW row of such a chart.
    """
    curve = np.moveaxis(np.asarray(curve_fuel_rate, float), -1, 0)
    return _on_straight_lines(load_fraction, curve_load_fraction, curve)


def season_fuel(*, fuel_rate, season_hours):
    """Fuel of one season [unit/yr].

    Parameters
    ----------
    fuel_rate : array (n,) [unit/h]
    season_hours : array (n,) [h/yr]

    Returns
    -------
    array (n,) [unit/yr]

    Equation: fuel = rate x hours
    Sources: definition of the rate.
    """
    return np.asarray(fuel_rate, float) * season_hours


def _on_straight_lines(x, points, values):
    """Straight-line interpolation; NaN off the range. `values` is (k,) or (k, n)."""
    x = np.asarray(x, float)
    points = np.asarray(points, float)
    result = np.full(np.broadcast_shapes(x.shape, np.shape(values[0])), np.nan)
    for left, right, low, high in zip(points[:-1], points[1:], values[:-1], values[1:]):
        on_line = low + (high - low) * (x - left) / (right - left)
        inside = (x >= left) & (x <= right) & np.isnan(result)
        result = np.where(inside, on_line, result)
    return result
