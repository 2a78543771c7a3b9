"""Single-phase diode bridge of a drive: line current, harmonics and bus voltage in steady state.

Circuit: sinusoidal source, line reactance and resistance, four ideal diodes, an optional choke on
the direct-current side, the bus capacitance, and a load that draws constant power from the bus.

Everything is solved per unit on the source's rms voltage and the load's power, with the angle
theta = 2 pi f t in place of time, so cases of any size are one array:

    x = 2 pi f L P / V^2    r = R P / V^2    b = 2 pi f C V^2 / P
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from batch.engineering.bridge_cycle import (
    FINE_STEPS,
    LOWEST_BUS,
    PEAK,
    Circuit,
    HalfCycle,
    periodic_half_cycle,
)

HIGHEST_ORDER = 50
BLOCK = 8_000  # cases that are solved together: a waveform of 512 steps each
ENERGY_TOLERANCE = 1e-3  # load power against source power less line loss, over a cycle


@dataclass(frozen=True)
class BridgeWaveform:
    """Steady state of a bridge; arrays over the cases, NaN where it does not settle.

    harmonic_a : array (n, 50) [A rms] line current by order, order 1 first; even orders are zero
    rms_current_a, fundamental_a : array (n,) [A rms] line current
    thd_pct : array (n,) [% of the fundamental] from the rms, so all orders count
    displacement_pf, true_pf : array (n,) [0..1] at the sinusoidal source
    mean_bus_v, ripple_bus_v, minimum_bus_v : array (n,) [V] ripple is peak to peak
    crest_factor : array (n,) [1] peak over rms of the line current
    converged : bool array (n,) the cycle repeats, is stable and balances the energy
    """

    harmonic_a: np.ndarray
    rms_current_a: np.ndarray
    fundamental_a: np.ndarray
    thd_pct: np.ndarray
    displacement_pf: np.ndarray
    true_pf: np.ndarray
    mean_bus_v: np.ndarray
    ripple_bus_v: np.ndarray
    minimum_bus_v: np.ndarray
    crest_factor: np.ndarray
    converged: np.ndarray


def bridge_waveform(
    *,
    supply_v,
    frequency_hz,
    line_inductance_h,
    line_resistance_ohm,
    dc_choke_h,
    bus_capacitance_f,
    load_w,
):
    """Periodic steady state of a single-phase bridge with a constant-power load: BridgeWaveform.

    Valid for ideal diodes and a sinusoidal source behind the line impedance. Leaves out saturation
    of reactors, diode drop, precharge, and the ripple that the inverter puts on the bus. Covers
    discontinuous and continuous conduction, and commutation in front of a choke.
    NaN and `converged` False for an unknown input, for a load that is not above zero, for no
    reactance at all (line and choke), and where no stable cycle of two equal halves is found:
    too much impedance for the load, or too little capacitance for a constant-power load. In the
    latter case a large and a small pulse take turns. Such a cycle has direct current and even
    orders, which saturate the transformer ahead: no answer of this circuit would hold.
    For x of 0.002 to 0.15 and b of 4 or more it was met up to b = 25 without resistance, up to 15
    at r = 0.3 x, and not at r = 1.5 x with a choke no larger than the line's reactance. (At 480 V
    and 60 Hz, 100 uF per kW is b = 8.7.)

    Line reactance without resistance on a stiff bus has a closed form: from the angle alpha where
    the source passes the bus voltage,
        X i(theta) = V_m (cos alpha - cos theta) - V_d (theta - alpha),
    until i = 0 (discontinuous, V_d = V_m sin alpha) or for half a cycle (continuous,
    V_d = (2/pi) V_m cos alpha, load at most (4/pi^2) V^2 / X). All else is stepped in time with
    the diodes as a complementarity condition, and the state that repeats itself after half a cycle
    with the opposite sign is found by Newton's method.

    Parameters
    ----------
    supply_v : array (n,) [V rms] source voltage behind the line impedance
    frequency_hz : array (n,) or scalar [Hz]
    line_inductance_h : array (n,) [H] source, line, transformer, service and line reactor
    line_resistance_ohm : array (n,) [ohm]
    dc_choke_h : array (n,) [H] in series with the bridge output; zero without one
    bus_capacitance_f : array (n,) [F]; infinity means a stiff bus
    load_w : array (n,) [W] drawn from the bus

    Returns
    -------
    BridgeWaveform of arrays (n,) and (n, 50); scalar inputs give arrays of one case

    Sources: circuit theory; N. Mohan, T. Undeland, W. Robbins, Power Electronics, chapter 5
    (line-frequency diode rectifiers, the same circuit), memory; `bridge_cycle` for the stepping.
    Tested by: a table of the closed form; a general circuit simulator for finite capacitance,
    choke and resistance.
    """
    network = (line_inductance_h, line_resistance_ohm, dc_choke_h, bus_capacitance_f)
    values = np.atleast_1d(supply_v, frequency_hz, load_w, *network)
    voltage, frequency, load, inductance, resistance, choke, capacitance = (
        np.asarray(value, dtype=float) for value in np.broadcast_arrays(*values)
    )
    is_known = np.isfinite(voltage + frequency + inductance + resistance + choke + load)
    is_known &= (voltage > 0) & (frequency > 0) & (load > 0) & (capacitance > 0)
    is_known &= (inductance >= 0) & (resistance >= 0) & (choke >= 0) & (inductance + choke > 0)

    base_ohm = voltage[is_known] ** 2 / load[is_known]
    omega = 2.0 * np.pi * frequency[is_known]
    circuit = Circuit(
        line_x=omega * inductance[is_known] / base_ohm,
        line_r=resistance[is_known] / base_ohm,
        choke_x=omega * choke[is_known] / base_ohm,
        elastance=1.0 / (omega * capacitance[is_known] * base_ohm),
    )
    per_unit = _solve_in_blocks(circuit)
    base_v = voltage[is_known]
    return _in_units(per_unit, is_known, base_v=base_v, base_a=load[is_known] / base_v)


def _in_units(per_unit, is_known, *, base_v, base_a):
    """BridgeWaveform of all cases from the per-unit results of those that are known."""
    scale = {name: base_v for name in ("mean_bus_v", "ripple_bus_v", "minimum_bus_v")}
    scale |= {name: base_a for name in ("rms_current_a", "fundamental_a")}
    scale["harmonic_a"] = base_a[:, np.newaxis]
    is_settled = per_unit["converged"]
    results = {}
    for name, value in per_unit.items():
        results[name] = np.full(is_known.shape + value.shape[1:], np.nan)
        value = value * scale.get(name, 1.0)
        value[~is_settled] = np.nan
        results[name][is_known] = value
    results["converged"] = results["converged"] == 1.0
    return BridgeWaveform(**results)


def _solve_in_blocks(circuit):
    """As `_solve`, for so many cases at a time that their waveforms stay small."""
    starts = range(0, max(circuit.line_x.size, 1), BLOCK)
    solved = [_solve(circuit[start:start + BLOCK]) for start in starts]
    return {name: np.concatenate([part[name] for part in solved]) for name in solved[0]}


def _solve(circuit):
    """Per-unit results by name, arrays (n,) and (n, 50)."""
    start_angle, end_angle, bus = _ideal_bridge(circuit.line_x + circuit.choke_x)
    is_closed = (circuit.elastance == 0.0) & (circuit.line_r == 0.0) & np.isfinite(bus)
    commutes = circuit.line_x * bus + circuit.choke_x * PEAK * np.sin(end_angle) < 0.0
    is_closed &= (circuit.choke_x == 0.0) | ~commutes

    state = _first_guess(circuit, start_angle, end_angle, bus)
    is_stable = np.ones(bus.shape, dtype=bool)
    stepped = ~is_closed
    cycle, is_stable[stepped] = periodic_half_cycle(
        circuit=circuit[stepped], guess=state[:, stepped]
    )
    results = _summary(cycle)
    closed = _summary(
        _ideal_cycle(circuit[is_closed], *(a[is_closed] for a in (start_angle, end_angle, bus)))
    )
    merged = {}
    for name in results:
        merged[name] = np.empty((len(bus),) + results[name].shape[1:], results[name].dtype)
        merged[name][stepped], merged[name][is_closed] = results[name], closed[name]
    merged["converged"] &= is_stable
    return merged


def _summary(cycle):
    """Per-unit results of a periodic half cycle, by their names in BridgeWaveform."""
    current = cycle.line_current
    steps = len(current)
    orders = np.arange(1, HIGHEST_ORDER + 1, 2)
    angles = np.outer(orders, np.pi / steps * np.arange(steps))
    cosine = np.sqrt(2.0) / steps * (np.cos(angles) @ current)
    sine = np.sqrt(2.0) / steps * (np.sin(angles) @ current)
    harmonics = np.zeros((current.shape[1], HIGHEST_ORDER))
    harmonics[:, ::2] = np.hypot(cosine, sine).T
    rms = np.sqrt(np.mean(current**2, axis=0))
    fundamental = harmonics[:, 0]
    with np.errstate(invalid="ignore", divide="ignore"):
        balance = np.abs(cycle.source_power - 1.0) < ENERGY_TOLERANCE
        balance &= np.abs(cycle.bus_power - 1.0) < ENERGY_TOLERANCE
        return {
            "harmonic_a": harmonics,
            "rms_current_a": rms,
            "fundamental_a": fundamental,
            "thd_pct": 100.0 * np.sqrt(np.maximum(rms**2 - fundamental**2, 0.0)) / fundamental,
            "displacement_pf": sine[0] / fundamental,
            "true_pf": sine[0] / rms,
            "mean_bus_v": cycle.mean_bus,
            "ripple_bus_v": cycle.highest_bus - cycle.lowest_bus,
            "minimum_bus_v": cycle.lowest_bus,
            "crest_factor": np.max(np.abs(current), axis=0) / rms,
            "converged": balance & (cycle.lowest_bus > LOWEST_BUS),
        }


# --- closed form: reactance only, stiff bus -----------------------------------------------------


@lru_cache(maxsize=1)
def _discontinuous_curve():
    """Reactance, start angle and end angle of discontinuous conduction, along the start angle."""
    # Conduction is continuous once the source passes the bus at less than atan(2/pi).
    start = np.pi / 2 - np.geomspace(0.005, np.pi / 2 - np.arctan(2 / np.pi), 4001)
    low, high = np.pi - start, np.pi + start  # the current falls between these two
    for _ in range(60):  # bisection for i(end) = 0
        middle = (low + high) / 2
        is_positive = np.cos(start) - np.cos(middle) > np.sin(start) * (middle - start)
        low, high = np.where(is_positive, middle, low), np.where(is_positive, high, middle)
    width = low - start
    area = width * np.cos(start) - np.sin(low) + np.sin(start) - np.sin(start) * width**2 / 2
    reactance = PEAK**2 * np.sin(start) * area / np.pi  # from V_d mean(i) = 1
    return reactance, start, low


def _ideal_bridge(reactance):
    """Start angle, end angle and bus voltage of the ideal bridge; NaN beyond its largest load."""
    curve, curve_start, curve_end = _discontinuous_curve()
    start = np.interp(np.log(reactance), np.log(curve), curve_start)
    end = np.interp(np.log(reactance), np.log(curve), curve_end)
    bus = PEAK * np.sin(start)
    is_continuous = reactance > curve[-1]
    with np.errstate(invalid="ignore"):
        continuous = np.arcsin(reactance * np.pi**2 / 4) / 2  # (4/pi^2) sin(2 alpha) = X
    start = np.where(is_continuous, continuous, start)
    end = np.where(is_continuous, continuous + np.pi, end)
    bus = np.where(is_continuous, 2 / np.pi * PEAK * np.cos(continuous), bus)
    bus = np.where(reactance < curve[0], np.nan, bus)
    return start, end, bus


def _ideal_current(angle, reactance, start, end, bus):
    """Current of the ideal bridge at an angle after the start, zero past the end."""
    current = (PEAK * (np.cos(start) - np.cos(angle)) - bus * (angle - start)) / reactance
    return np.where(angle < end, np.maximum(current, 0.0), 0.0)


def _ideal_cycle(circuit, start, end, bus):
    """Half a cycle of the closed form, sampled as the time stepping samples it."""
    angle = (np.pi / FINE_STEPS * np.arange(FINE_STEPS))[:, np.newaxis]
    wrapped = angle < start  # these samples belong to the pulse of the half cycle before
    reactance = circuit.line_x + circuit.choke_x
    pulse = _ideal_current(angle + np.pi * wrapped, reactance, start, end, bus)
    current = np.where(wrapped, -pulse, pulse)
    power = bus * np.mean(pulse, axis=0)
    source_power = PEAK * np.mean(np.sin(angle) * current, axis=0)
    state = np.array([current[0], pulse[0], bus])
    return HalfCycle(state, power, source_power, bus, bus, bus, current)


def _first_guess(circuit, start, end, bus):
    """State at theta = 0 from the ideal bridge, held inside its range."""
    is_usable = np.isfinite(bus)
    reactance = np.where(is_usable, circuit.line_x + circuit.choke_x, 0.4)
    bus = np.where(is_usable, bus, 0.7)
    current = np.where(is_usable, _ideal_current(np.pi, reactance, start, end, bus), 1.0)
    current = np.where(np.isfinite(current), current, 0.0)
    return np.array([-current, current, bus])
