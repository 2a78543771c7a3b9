"""Harmonics: distortion, transformer loss factor, voltage distortion, limits by fault ratio.

Harmonic arrays hold rms magnitudes with the order on the last axis: column 0 is the fundamental,
column k is order k + 1. Any current unit will do where only ratios matter.
"""

import numpy as np


def _orders(harmonics):
    return np.arange(1, np.shape(harmonics)[-1] + 1)


def _distortion(harmonics):
    """Root of the sum of squares of all orders above the fundamental."""
    return np.sqrt(np.sum(np.square(np.asarray(harmonics)[..., 1:]), axis=-1))


def thd_pct(*, harmonic_a):
    """Total harmonic distortion [% of the fundamental].

    THD = 100 sqrt(sum_{h>=2} I_h^2) / I_1

    Only the orders given count: state the highest order beside the figure.

    Parameters
    ----------
    harmonic_a : array (n, orders) [A rms]

    Returns
    -------
    array (n,) [%]

    Sources: IEEE 519-2022, clause 3, definition of total harmonic distortion.
    Tested by: a square wave has 48.34 % (all orders).
    """
    return 100.0 * _distortion(harmonic_a) / np.asarray(harmonic_a)[..., 0]


def tdd_pct(*, harmonic_a, demand_current_a):
    """Total demand distortion of the current [% of the maximum demand current].

    TDD = 100 sqrt(sum_{h>=2} I_h^2) / I_L

    I_L is the maximum demand current, fundamental, at the point of common coupling.

    Parameters
    ----------
    harmonic_a : array (n, orders) [A rms]
    demand_current_a : array (n,) [A rms]

    Returns
    -------
    array (n,) [%]

    Sources: IEEE 519-2022, clause 3, definition of total demand distortion.
    Tested by: equals the distortion of the current when I_L is its fundamental.
    """
    return 100.0 * _distortion(harmonic_a) / demand_current_a


def harmonic_loss_factor(*, harmonic_a):
    """Harmonic loss factor for winding eddy currents, F_HL [1].

    F_HL = sum(I_h^2 h^2) / sum(I_h^2)

    It grows with the highest order included (a square wave: 10.7 to order 25, 20.4 to order 49),
    so cut the array at the order the user wants. It does not depend on the current's base.

    Parameters
    ----------
    harmonic_a : array (n, orders) [A rms, or any base]

    Returns
    -------
    array (n,) [1]

    Sources: IEEE C57.110-2018, harmonic loss factor for winding eddy currents.
    Tested by: the sample spectrum 2.72 (memory) and square waves cut at two orders.
    """
    squared = np.square(harmonic_a)
    return np.sum(squared * _orders(harmonic_a) ** 2, axis=-1) / np.sum(squared, axis=-1)


def transformer_harmonic_capacity_pu(*, harmonic_loss_factor, eddy_loss_pu):
    """Largest rms current with harmonics [per unit of rated current].

    I_max = sqrt((1 + P_EC) / (1 + F_HL P_EC))

    Leaves out other stray loss and direct current. The kW that remain are I_max x kVA x true
    power factor.

    Parameters
    ----------
    harmonic_loss_factor : array (n,) [1]
    eddy_loss_pu : array (n,) [per unit of the resistance loss at rated current]

    Returns
    -------
    array (n,) [per unit]

    Sources: IEEE C57.110-2018, maximum permissible nonsinusoidal load current, per-unit form with
    the eddy loss of the hot spot (constants of the other stray loss left out).
    Tested by: F_HL = 1 gives 1; the loss at I_max equals the rated loss.
    """
    return np.sqrt((1.0 + eddy_loss_pu) / (1.0 + np.multiply(harmonic_loss_factor, eddy_loss_pu)))


def harmonic_voltage_pct(*, harmonic_a, reactance_ohm, voltage_v):
    """Voltage harmonics made by current harmonics [% of the nominal voltage].

    V_h = 100 h X I_h / V; order 1 is the fundamental's reactive drop and no distortion.

    Leaves out resistance (small at these orders), capacitors and resonance, and the background
    distortion of the supply.

    Parameters
    ----------
    harmonic_a : array (n, orders) [A rms]
    reactance_ohm : array (n,) [ohm] from the source to the point, at the fundamental frequency
    voltage_v : array (n,) [V rms] across the same loop

    Returns
    -------
    array (n, orders) [%]

    Sources: reactance proportional to frequency; IEEE 519-2022 states its limits on these figures.
    Tested by: hand calculation of a third and a fifth harmonic.
    """
    reactance_pct_per_a = 100.0 * np.divide(reactance_ohm, voltage_v)
    return _orders(harmonic_a) * np.asarray(harmonic_a) * reactance_pct_per_a[..., np.newaxis]


def voltage_thd_pct(*, harmonic_voltage_pct):
    """Total harmonic distortion of the voltage [% of nominal]: root of the sum of squares.

    Parameters
    ----------
    harmonic_voltage_pct : array (n, orders) [% of nominal], order 1 first and left out

    Returns
    -------
    array (n,) [%]

    Sources: IEEE 519-2022, clause 3 (nominal fundamental in place of the measured one).
    Tested by: 3 % and 4 % give 5 %.
    """
    return _distortion(harmonic_voltage_pct)


def limits_by_ratio(*, short_circuit_ratio, ratio_lower_bound, limit_pct):
    """Row of a limit table chosen by the ratio of fault current to demand current [%].

    A ratio on a boundary belongs to the higher row (50 belongs to 50<100).
    NaN for an unknown ratio and for one below the first bound.

    Parameters
    ----------
    short_circuit_ratio : array (n,) [A/A] fault current over maximum demand current
    ratio_lower_bound : array (rows,) [A/A] ascending, the first usually 0
    limit_pct : array (rows,) or (rows, columns) [%]

    Returns
    -------
    array (n,) or (n, columns) [%]

    Sources: IEEE 519-2022, Table 2 and its notes (120 V through 69 kV); the table is an argument.
    Tested by: 56,000 A over 1,120 A gives the row 50<100 with 12 %.
    """
    ratio = np.asarray(short_circuit_ratio, dtype=float)
    table = np.asarray(limit_pct, dtype=float)
    row = np.searchsorted(ratio_lower_bound, ratio, side="right") - 1
    is_known = np.isfinite(ratio) & (row >= 0)
    is_known = is_known.reshape(is_known.shape + (1,) * (table.ndim - 1))
    return np.where(is_known, table[np.clip(row, 0, len(table) - 1)], np.nan)[()]


def filtered_harmonics_a(*, harmonic_a, remaining_ratio):
    """Harmonics left after a filter or an active front end [A rms].

    I_h' = I_h x ratio_h

    The ratios are data of the filter at its rated load; interaction with the supply is left out.

    Parameters
    ----------
    harmonic_a : array (n, orders) [A rms]
    remaining_ratio : array (orders,) or (n, orders) [A/A] part of each order that remains, 0..1

    Returns
    -------
    array (n, orders) [A rms]

    Sources: definition of attenuation by order.
    Tested by: ratios of 1 change nothing, 0 removes the order.
    """
    return np.multiply(harmonic_a, remaining_ratio)
