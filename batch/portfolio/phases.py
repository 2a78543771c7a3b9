"""Single-phase loads on the phases of a feeder: the most even assignment, and its unbalance."""

from dataclasses import dataclass
from itertools import permutations

import numpy as np

from batch.portfolio.zero_one import minimise

PHASES = 3
# Dozens of loads have many nearly even assignments; more search gains watts and proves nothing.
WORK = 100_000  # nodes times variables


@dataclass(frozen=True)
class Assignment:
    """`phase` (k,): 0, 1 or 2 for each load; the largest deviation of a phase from the mean; and
    whether no other assignment has a smaller one."""

    phase: np.ndarray
    deviation_kw: float
    is_proven: bool


def assign_phases(*, load_kw, present_kw) -> Assignment:
    """The phase of each single-phase load with which the phases of a feeder differ least.

    Of all assignments one whose largest deviation of a phase from the mean of the three is least;
    of those that differ only in which of equal phases is which, or which of equal loads is where,
    the one with the lowest phases first. Exact where `is_proven`: with dozens of loads many
    assignments are nearly even, and the search may end at its limit of nodes. Leaves out where
    along the feeder a load stands, line losses, and loads between two phases.

    Parameters
    ----------
    load_kw : array (k,) [kW] at the time of the peak
    present_kw : array (3,) [kW] of each phase without them

    Returns
    -------
    Assignment

    Equation: minimise t with |present_p + sum_i load_i x_ip - mean| <= t and sum_p x_ip = 1,
    x_ip 0 or 1; the mean does not depend on x
    Errors: ValueError for a load that is not known.
    Sources: the min-max form of number partitioning; solver HiGHS through SciPy. Tested by: all
    assignments of up to seven loads.
    """
    load_kw, present_kw = np.asarray(load_kw, float), np.asarray(present_kw, float)
    if not (np.isfinite(load_kw).all() and np.isfinite(present_kw).all()):
        raise ValueError("a load is not known: leave such feeders out")
    loads = load_kw.size
    if not loads:
        return Assignment(np.zeros(0, int), _deviation(load_kw, present_kw, np.zeros(0, int)), True)
    found = _most_even(load_kw, present_kw)
    if found.x is None:
        raise RuntimeError("the solver found no assignment of phases")
    phase = found.x[:-1].reshape(loads, PHASES).argmax(axis=1)
    phase = _lowest_first(phase, load_kw, present_kw)
    return Assignment(phase, _deviation(load_kw, present_kw, phase), found.is_proven)


def _most_even(load_kw, present_kw):
    """The solver's answer: x_ip row by row, then t."""
    from scipy.sparse import csr_array, eye_array, hstack, kron, vstack

    loads = load_kw.size
    away_kw = present_kw - (present_kw.sum() + load_kw.sum()) / PHASES
    on_phase = kron(load_kw[np.newaxis], eye_array(PHASES))
    once = kron(eye_array(loads), np.ones((1, PHASES)))
    t = np.ones((PHASES, 1))
    rows = vstack([hstack([once, csr_array((loads, 1))]), hstack([on_phase, -t]),
                   hstack([on_phase, t])], format="csr")
    none, one = np.full(PHASES, np.inf), np.ones(loads)
    is_whole = np.append(np.ones(loads * PHASES, bool), False)
    return minimise(objective=np.append(np.zeros(loads * PHASES), 1.0), rows=rows,
                    row_lower=np.concatenate([one, -none, -away_kw]),
                    row_upper=np.concatenate([one, -away_kw, none]),
                    upper=np.where(is_whole, 1.0, np.inf), is_whole=is_whole, work=WORK)


def _lowest_first(phase, load_kw, present_kw):
    """Among the assignments that equal phases and equal loads make alike, one and the same."""
    by_place = np.argsort(load_kw, kind="stable")
    alike = []
    for order in permutations(range(PHASES)):
        if (present_kw[list(order)] == present_kw).all():
            renamed, sorted_so = np.array(order)[phase], np.empty_like(phase)
            sorted_so[by_place] = renamed[np.lexsort((renamed, load_kw))]
            alike.append(sorted_so)
    return min(alike, key=tuple)


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
