"""Time stepping of a single-phase diode bridge, per unit, and the cycle that repeats itself.

Serves `rectifier.py`, which states the circuit and the per-unit base. A state is an array (3, n):
line current, output current of the bridge, bus voltage.
"""

from dataclasses import dataclass, fields

import numpy as np

PEAK = np.sqrt(2.0)  # peak of the source, per unit

COARSE_STEPS = 64  # per half cycle: search for the periodic state
FINE_STEPS = 512  # per half cycle: the answer
SETTLING_HALF_CYCLES = (6, 150)  # from the ideal bridge; from rest when that failed
NEWTON_STEPS = 12
CHORD_STEPS = 3
SEARCH_TOLERANCE = 1e-6  # per unit, state after half a cycle against its mirror image
STATE_TOLERANCE = 1e-4  # the same, for the answer
LOWEST_BUS = 0.1  # per unit; below it the bus has collapsed
REST_BUS = 1.3  # per unit; bus of a search that starts without current
TINY = 1e-12


@dataclass(frozen=True)
class Circuit:
    """Line reactance and resistance, choke reactance, 1 / bus susceptance: arrays (n,) [pu]."""

    line_x: np.ndarray
    line_r: np.ndarray
    choke_x: np.ndarray
    elastance: np.ndarray  # zero for a stiff bus

    def __getitem__(self, cases):
        return Circuit(*(getattr(self, field.name)[cases] for field in fields(self)))


@dataclass(frozen=True)
class HalfCycle:
    """State at the end of half a cycle and mean power into the bus; where the cycle was watched,
    also means and bounds over it and the line current."""

    end: np.ndarray  # (3, n)
    bus_power: np.ndarray  # (n,)
    source_power: np.ndarray | None = None  # less the loss in the line resistance
    mean_bus: np.ndarray | None = None
    lowest_bus: np.ndarray | None = None
    highest_bus: np.ndarray | None = None
    line_current: np.ndarray | None = None  # (steps, n)


def _half_cycle(circuit, state, steps, is_watched=False):
    """Half a cycle from the angle 0, where the source crosses zero upward: HalfCycle.

    With y the line current and w the bridge's output current, the two diode pairs carry
    (w + y)/2 >= 0 and (w - y)/2 >= 0. The voltage each pair blocks is not negative, and zero while
    it conducts. A trapezoidal step then is a linear complementarity problem of two unknowns, with
    the solution
        w = max(0, A / K_w, (A + |B|) / (K_w + K_y)),   y = B / K_y held within -w..w;
    the three terms of w are: blocked, both pairs conducting (commutation), one pair conducting.
    """
    step = np.pi / steps
    line, bridge, bus = state
    bus_gain = step * circuit.elastance / 2.0
    line_stiffness = np.maximum(circuit.line_x + step * circuit.line_r / 2.0, TINY)  # K_y
    bridge_stiffness = np.maximum(circuit.choke_x + step * bus_gain / 2.0, TINY)  # K_w
    series_stiffness = line_stiffness + bridge_stiffness
    line_memory = circuit.line_x - step * circuit.line_r / 2.0
    bridge_memory = circuit.choke_x - step * bus_gain / 2.0
    source = PEAK * -np.diff(np.cos(step * np.arange(steps + 1))) / step  # mean over each step
    current = np.empty((steps,) + line.shape) if is_watched else None
    lowest, highest = bus, bus
    source_sum = bridge_sum = bus_sum = 0.0

    for index in range(steps):
        load_current = 1.0 / np.maximum(bus + bus_gain * (bridge - 1.0 / bus), LOWEST_BUS)
        pull = bridge_memory * bridge - step * (bus - bus_gain * load_current)  # A
        push = line_memory * line + step * source[index]  # B
        next_bridge = np.maximum(pull / bridge_stiffness, (pull + np.abs(push)) / series_stiffness)
        next_bridge = np.maximum(next_bridge, 0.0)
        next_line = np.minimum(np.maximum(push / line_stiffness, -next_bridge), next_bridge)
        mean_bridge = (bridge + next_bridge) / 2.0
        next_bus = np.maximum(bus + 2.0 * bus_gain * (mean_bridge - load_current), LOWEST_BUS)
        bridge_sum = bridge_sum + mean_bridge * (bus + next_bus)
        if is_watched:
            current[index] = line
            mean_line = (line + next_line) / 2.0
            source_sum = source_sum + (source[index] - circuit.line_r * mean_line) * mean_line
            bus_sum = bus_sum + next_bus
            lowest, highest = np.minimum(lowest, next_bus), np.maximum(highest, next_bus)
        line, bridge, bus = next_line, next_bridge, next_bus

    end, bus_power = np.array([line, bridge, bus]), bridge_sum / (2.0 * steps)
    if not is_watched:
        return HalfCycle(end, bus_power)
    return HalfCycle(end, bus_power, source_sum / steps, bus_sum / steps, lowest, highest, current)


def periodic_half_cycle(*, circuit, guess):
    """Half a cycle that repeats itself with the opposite sign, and whether it does.

    The second result is False where no such cycle is found or where a small disturbance of it
    grows: then the pulses of the two half cycles differ, or the bus collapses.

    Method: the state after half a cycle must be the mirror image of the state before it. Newton's
    method on coarse steps finds it, starting near the guess or, when that fails, from rest; fine
    steps correct it. The slopes of the same map tell whether the cycle is stable.

    Parameters
    ----------
    circuit : Circuit of arrays (n,) [per unit]
    guess : array (3, n) [per unit] line current, bridge current and bus voltage at angle 0

    Returns
    -------
    HalfCycle of arrays (n,) [per unit], line current kept, and bool array (n,)

    Sources: V. Acary, B. Brogliato, Numerical Methods for Nonsmooth Dynamical Systems, Springer,
    2008 (complementarity in time stepping); T. Aprille, T. Trick, Steady-State Analysis of
    Nonlinear Circuits with Periodic Inputs, Proceedings of the IEEE, 1972 (Newton's method on the
    period), both from memory.
    Tested by: as `rectifier.bridge_waveform`.
    """
    state, slopes, is_found = _search(circuit, guess, SETTLING_HALF_CYCLES[0])
    lost = ~is_found
    if lost.any():
        rest = np.zeros_like(state[:, lost]) + np.array([[0.0], [0.0], [REST_BUS]])
        state[:, lost], slopes[lost], _ = _search(circuit[lost], rest, SETTLING_HALF_CYCLES[1])
    state, slopes, is_found = _newton(circuit, state, FINE_STEPS, CHORD_STEPS, slopes)
    lost = ~is_found
    if lost.any():
        state[:, lost], slopes[lost], _ = _newton(
            circuit[lost], state[:, lost], FINE_STEPS, NEWTON_STEPS
        )
    cycle = _half_cycle(circuit, state, FINE_STEPS, is_watched=True)
    mismatch = np.abs(_mismatch(circuit, state, cycle)).max(axis=0)
    growth = _growth(circuit, state, slopes)
    doubtful = growth > 0.9
    if doubtful.any():
        _, slopes = _mismatch_and_slopes(circuit[doubtful], state[:, doubtful], FINE_STEPS)
        growth[doubtful] = _growth(circuit[doubtful], state[:, doubtful], slopes)
    return cycle, (mismatch < STATE_TOLERANCE) & (growth < 1.0)


def _search(circuit, state, settling_half_cycles):
    """Periodic state on the coarse steps: settle for a while, then Newton's method."""
    for _ in range(settling_half_cycles):
        line, bridge, bus = _half_cycle(circuit, state, COARSE_STEPS).end
        state = np.array([-line, bridge, bus])
    state, slopes, is_found = _newton(circuit, state, COARSE_STEPS, NEWTON_STEPS)
    return state, slopes, is_found & (state[2] > 1.01 * LOWEST_BUS)


def _newton(circuit, state, steps, limit, chord=None):
    """Periodic state, slopes of the mismatch there, and whether it was found.

    With a chord, those slopes are used all along; without, they are renewed at each step.
    """
    state = state.copy()
    slopes = np.tile(-np.eye(3), (state.shape[1], 1, 1)) if chord is None else chord.copy()
    open_cases = np.arange(state.shape[1])
    for _ in range(limit):
        part, part_state = circuit[open_cases], state[:, open_cases]
        if chord is None:
            mismatch, slopes[open_cases] = _mismatch_and_slopes(part, part_state, steps)
        else:
            mismatch = _mismatch(part, part_state, _half_cycle(part, part_state, steps))
        is_open = ~(np.abs(mismatch).max(axis=0) < SEARCH_TOLERANCE)
        open_cases = open_cases[is_open]
        if len(open_cases) == 0:
            break
        state[:, open_cases] = _corrected(
            part_state[:, is_open], mismatch[:, is_open], slopes[open_cases]
        )
    return state, slopes, ~np.isin(np.arange(state.shape[1]), open_cases)


def _mismatch(circuit, state, cycle):
    """Distance from half-wave symmetry (3, ...): both currents, and the power the bus gains."""
    with np.errstate(divide="ignore", invalid="ignore"):
        stored = (cycle.end[2] - state[2]) * state[2] / (np.pi * circuit.elastance)
    gain = np.where(circuit.elastance > 0.0, stored, cycle.bus_power - 1.0)
    return np.array([-cycle.end[0] - state[0], cycle.end[1] - state[1], gain])


def _mismatch_and_slopes(circuit, state, steps):
    """Mismatch (3, n) and its slopes (n, 3, 3) against the state, by forward differences."""
    shift = 1e-6
    states = state[:, np.newaxis, :] + shift * np.eye(3, 4, 1)[:, :, np.newaxis]
    mismatch = _mismatch(circuit, states, _half_cycle(circuit, states, steps))
    slopes = (mismatch[:, 1:] - mismatch[:, :1]) / shift
    return mismatch[:, 0], np.moveaxis(slopes, -1, 0)


def _corrected(state, mismatch, slopes):
    """State after a Newton step, held to what a bridge can do."""
    regular = slopes - 1e-9 * np.eye(3)  # a collapsed bus has no slope at all
    change = np.linalg.solve(regular, -mismatch.T[:, :, np.newaxis])[:, :, 0].T
    change[2] = np.clip(change[2], -0.2, 0.2)
    line, bridge, bus = state + change
    bridge = np.clip(bridge, 0.0, 100.0)
    return np.array([np.clip(line, -bridge, bridge), bridge, np.clip(bus, LOWEST_BUS, 2 * PEAK)])


def _growth(circuit, state, slopes):
    """Growth of a small disturbance from half cycle to half cycle; stable below 1.

    A stiff bus is held by itself, but its power must fall when its voltage rises: the other
    solution, low voltage and high current, is not what a load finds.
    """
    to_state = np.ones_like(state)
    to_state[2] = np.pi * circuit.elastance / state[2]
    growth = np.eye(3) + slopes * to_state.T[:, :, np.newaxis]
    is_stiff = circuit.elastance == 0.0
    growth[is_stiff, 2] = 0.0
    falls = np.linalg.det(slopes) * np.linalg.det(slopes[:, :2, :2]) < 0.0
    largest = np.abs(np.linalg.eigvals(growth)).max(axis=1)
    return np.where(is_stiff & ~falls, np.inf, largest)
