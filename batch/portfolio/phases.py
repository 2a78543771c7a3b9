"""Single-phase loads on the phases of a feeder: the most even assignment, and its unbalance."""

from dataclasses import dataclass
from functools import reduce

import numpy as np

PHASES = 3
# All assignments of so many loads are looked at: 3^12 = 531,441, a twentieth of a second.
COUNTED_OUT = 12
SAME_KW = 1e-6  # sums that differ by less differ by rounding alone


@dataclass(frozen=True)
class Assignment:
    """`phase` (k,): 0, 1 or 2 for each load; the largest deviation of a phase from the mean; and
    whether no other assignment has a smaller one."""

    phase: np.ndarray
    deviation_kw: float
    is_proven: bool


def assign_phases(*, load_kw, present_kw) -> Assignment:
    """The phase of each single-phase load with which the phases of a feeder differ least.

    Of all assignments, in this order: the largest deviation of a phase from the mean of the three
    is least; then the heaviest and the lightest phase are least apart, which with the same largest
    deviation is the least current in the neutral; then the first load stands on the lowest phase,
    then the second, and so on. So the order of the loads decides between alike ones.

    Up to twelve loads all assignments are looked at. Of more, the largest go one after the other to
    the phase that is then the lightest, and the last twelve in all ways. With loads of farms that
    came within half a kW of the best; it is proven least only where it meets the bound. No solver
    takes part, so that the answer does not depend on a library's release.
    Leaves out where along the feeder a load stands, line losses, and loads between two phases.

    Parameters
    ----------
    load_kw : array (k,) [kW] at the time of the peak, in the order of preference
    present_kw : array (3,) [kW] of each phase without them

    Returns
    -------
    Assignment

    Equation: least of max_p |d_p|, d_p = present_p + sum of the loads on p - mean; the mean does
    not depend on the assignment. Bound: the d_p sum to zero, so max |d_p| = sum of the d_p above
    zero, and no load makes d_p smaller than present_p - mean
    Errors: ValueError for a load that is not known.
    Sources: complete enumeration; largest first is the rule of list scheduling, Graham, "Bounds on
    Multiprocessing Timing Anomalies" (1969) (memory). Neutral current: phasors 120 degrees apart,
    I_n^2 = 3/2 x sum of d_p^2. Tested by: all assignments of up to seven loads and of
    thirteen, phasors.
    """
    load_kw, present_kw = np.asarray(load_kw, float), np.asarray(present_kw, float)
    if not (np.isfinite(load_kw).all() and np.isfinite(present_kw).all()):
        raise ValueError("a load is not known: leave such feeders out")
    largest_first = np.argsort(-load_kw.round(6), kind="stable")
    placed, left = np.split(largest_first, [max(load_kw.size - COUNTED_OUT, 0)])
    phase, total_kw = np.zeros(load_kw.size, int), present_kw.copy()
    for load in placed:
        phase[load] = total_kw.round(6).argmin()
        total_kw[phase[load]] += load_kw[load]
    left.sort()
    phase[left] = _most_even(load_kw[left], total_kw)
    deviation_kw = _deviation(load_kw, present_kw, phase)
    above_kw = present_kw - (present_kw.sum() + load_kw.sum()) / PHASES
    is_proven = not placed.size or deviation_kw <= above_kw.clip(min=0).sum() + SAME_KW
    return Assignment(phase, deviation_kw, bool(is_proven))


def _most_even(load_kw, present_kw):
    """The preferred one of all assignments of a few loads.

    The totals of a phase stand in an array with an axis for each load, so that the flat order is
    the order of the assignments: 0 before 1 before 2 for the first load, then for the second.
    """
    choice = np.eye(PHASES)
    total_kw = np.array([reduce(np.add.outer, load_kw[:, np.newaxis] * choice[p], present_kw[p])
                         .ravel() for p in range(PHASES)])
    mean_kw = (present_kw.sum() + load_kw.sum()) / PHASES
    highest_kw, lowest_kw = total_kw.max(axis=0), total_kw.min(axis=0)
    deviation_kw = np.maximum(highest_kw - mean_kw, mean_kw - lowest_kw)
    most_even = np.flatnonzero(deviation_kw <= deviation_kw.min() + SAME_KW)
    apart_kw = (highest_kw - lowest_kw)[most_even]
    first = most_even[apart_kw <= apart_kw.min() + SAME_KW][0]
    return np.array(np.unravel_index(first, (PHASES,) * load_kw.size), int)


def _deviation(load_kw, present_kw, phase):
    total_kw = present_kw + np.bincount(phase, weights=load_kw, minlength=PHASES)
    return float(np.abs(total_kw - total_kw.mean()).max())


def largest_deviation_pct(values):
    """Unbalance of three values [%]: 100 x largest deviation from their mean / mean.

    Parameters
    ----------
    values : array (n, 3) in any unit

    Returns
    -------
    array (n,) [%]; NaN where a value is unknown or the mean is not above zero

    Sources: NEMA MG 1, definition of voltage unbalance. Tested by: 480, 476 and 472 V, 0.84 %.
    """
    values = np.asarray(values, float)
    mean = values.mean(axis=1)
    mean = np.where(mean > 0, mean, np.nan)
    return 100.0 * np.abs(values - mean[:, np.newaxis]).max(axis=1) / mean


def phase_unbalance_pct(*, phase_kw):
    """Unbalance of the load on three phases [%], in the form of the voltage's definition.

    Parameters
    ----------
    phase_kw : array (n, 3) [kW]

    Returns
    -------
    array (n,) [%]; 0 to 200; NaN without load

    Sources: NEMA MG 1, definition of voltage unbalance, applied to load; common practice.
    """
    return largest_deviation_pct(phase_kw)


def voltage_unbalance_pct(*, phase_kw, nominal_kv, source_impedance_ohm):
    """Upper estimate of the voltage unbalance that unequal phase loads make at a feeder's tap [%].

    A screen: the whole load stands at the tap behind the impedance of a single-phase fault, its
    magnitude is taken as in phase with the voltage, and voltages are to ground. Between lines the
    part that the three have in common drops out: for one loaded phase about half remains. Leaves
    out reactive load, what the source brings along, and regulators.

    Parameters
    ----------
    phase_kw : array (n, 3) [kW]
    nominal_kv : array (n,) [kV] line to line
    source_impedance_ohm : array (n,) [ohm]

    Returns
    -------
    array (n,) [%]; NaN where the load is more than the impedance lets through

    Equation: V_p = V - I_p Z, I_p = P_p / V, V = nominal / sqrt(3); then the largest deviation
    from the mean over the mean
    Sources: NEMA MG 1, definition of voltage unbalance; ANSI C84.1, annex on unbalance, which
    recommends at most 3 % without load. Tested by: one loaded phase worked by hand.
    """
    phase_kw = np.asarray(phase_kw, float)
    nominal_v = (np.asarray(nominal_kv, float) * 1000.0 / np.sqrt(3.0))[..., np.newaxis]
    impedance_ohm = np.asarray(source_impedance_ohm, float)[..., np.newaxis]
    voltage_v = nominal_v - phase_kw * 1000.0 / nominal_v * impedance_ohm
    return largest_deviation_pct(np.where(voltage_v > 0, voltage_v, np.nan))


def source_impedance_ohm(*, nominal_kv, single_phase_fault_a):
    """Impedance that a single-phase fault current meets, out and back [ohm].

    Parameters
    ----------
    nominal_kv : array (n,) [kV] line to line
    single_phase_fault_a : array (n,) [A] line to ground, at the tap

    Returns
    -------
    array (n,) [ohm]; NaN where the current is not above zero

    Equation: Z = nominal / sqrt(3) / I
    Sources: Ohm's law; a textbook's line-to-ground fault, Z = (Z1 + Z2 + Z0) / 3.
    """
    fault_a = np.asarray(single_phase_fault_a, float)
    fault_a = np.where(fault_a > 0, fault_a, np.nan)
    return np.asarray(nominal_kv, float) * 1000.0 / np.sqrt(3.0) / fault_a
