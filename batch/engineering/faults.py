"""Fault currents at a transformer's terminals and beyond, single-phase and three-phase.

Bolted faults, alternating component only; arc resistance is left out. All impedances of one
calculation are referred to the same voltage.
"""

import numpy as np

# A centre-tapped winding: between one line terminal and the midpoint the impedance, in per unit of
# the half winding's own voltage and the full rating, is about 1.5 times the resistance and
# 1.2 times the reactance of the full winding. It follows from the usual split of an interlaced
# unit: primary R/2 and 0.8 X, each half secondary R and 0.4 X.
HALF_WINDING_RESISTANCE_RATIO = 1.5
HALF_WINDING_REACTANCE_RATIO = 1.2

# A running induction motor feeds a fault for some cycles with its rated voltage behind its
# subtransient reactance, about 25 percent of its own rating.
MOTOR_FAULT_RATIO = 4.0


def transformer_impedance_ohm(*, transformer_kva, voltage_v, resistance_pct, reactance_pct):
    """Impedance of a transformer seen from one winding [ohm], complex.

    Z = (%R + j %X) / 100 x V^2 / (1000 kVA)

    Serves a single-phase unit (its voltage) and a three-phase bank (line to line, per phase).

    Parameters
    ----------
    transformer_kva : array (n,) [kVA]
    voltage_v : array (n,) [V]
    resistance_pct, reactance_pct : array (n,) [%] on the rating

    Returns
    -------
    complex array (n,) [ohm]

    Sources: definition of per unit.
    Tested by: 25 kVA, 240 V, 1.4 + j1.2 %.
    """
    per_unit = (np.asarray(resistance_pct) + 1j * np.asarray(reactance_pct)) / 100.0
    base_ohm = np.square(voltage_v) / (1000.0 * np.asarray(transformer_kva))
    return per_unit * base_ohm


def half_winding_impedance_ohm(*, transformer_kva, voltage_v, resistance_pct, reactance_pct):
    """Impedance of a centre-tapped unit between a line terminal and the midpoint [ohm], complex.

    Z = (1.5 %R + j 1.2 %X) / 100 x (V/2)^2 / (1000 kVA)

    Assumption: interlaced secondary halves, as the constants of this module say; the figure
    depends on the winding arrangement and is a published approximation.

    Parameters
    ----------
    transformer_kva : array (n,) [kVA]
    voltage_v : array (n,) [V] of the full secondary winding
    resistance_pct, reactance_pct : array (n,) [%] of the full winding, on the rating

    Returns
    -------
    complex array (n,) [ohm]

    Sources: distribution-engineering textbooks, secondary faults of single-phase transformers;
    point-to-point fault guides of fuse makers (1.5 %R, 1.2 %X; 1.33 to 1.67 times line to line).
    Tested by: 25 kVA, 240 V, 1.4 + j1.2 %: 8181 A line to midpoint; both ends of that range.
    """
    return transformer_impedance_ohm(
        transformer_kva=transformer_kva,
        voltage_v=np.asarray(voltage_v) / 2.0,
        resistance_pct=HALF_WINDING_RESISTANCE_RATIO * np.asarray(resistance_pct),
        reactance_pct=HALF_WINDING_REACTANCE_RATIO * np.asarray(reactance_pct),
    )


def line_to_line_fault_a(
    *,
    voltage_v,
    source_impedance_ohm,
    line_impedance_ohm,
    transformer_impedance_ohm,
    service_impedance_ohm,
):
    """Single-phase fault current across the full winding, at the end of the service [A].

    I = V / |Z_source + Z_line + Z_transformer + Z_service|

    Parameters
    ----------
    voltage_v : array (n,) [V] of the full secondary winding
    source_impedance_ohm, line_impedance_ohm : complex array (n,) [ohm] referred to `voltage_v`
    transformer_impedance_ohm : complex array (n,) [ohm] seen from the full winding
    service_impedance_ohm : complex array (n,) [ohm] loop of the two line conductors

    Returns
    -------
    array (n,) [A]

    Sources: series circuit.
    Tested by: 25 kVA, 240 V, 1.4 + j1.2 %: 5648 A; parts in series by hand.
    """
    chain_ohm = np.add(source_impedance_ohm, line_impedance_ohm)
    chain_ohm = chain_ohm + transformer_impedance_ohm + service_impedance_ohm
    return voltage_v / np.abs(chain_ohm)


def line_to_midpoint_fault_a(
    *,
    voltage_v,
    source_impedance_ohm,
    line_impedance_ohm,
    half_winding_impedance_ohm,
    service_impedance_ohm,
):
    """Fault current between one line conductor and the midpoint, at the end of the service [A].

    I = (V/2) / |(Z_source + Z_line)/4 + Z_half + Z_service|

    Source and line are given at the full winding's voltage, as for `line_to_line_fault_a`, and
    are referred to half of it here. Earth as a parallel path to the midpoint is left out.

    Parameters
    ----------
    voltage_v : array (n,) [V] of the full secondary winding
    source_impedance_ohm, line_impedance_ohm : complex array (n,) [ohm] referred to `voltage_v`
    half_winding_impedance_ohm : complex array (n,) [ohm]
    service_impedance_ohm : complex array (n,) [ohm] loop of line and midpoint conductor

    Returns
    -------
    array (n,) [A]

    Sources: series circuit; half-winding approximation as in `half_winding_impedance_ohm`.
    Tested by: 25 kVA, 240 V, 1.4 + j1.2 %: 8181 A, 1.45 times the line-to-line fault.
    """
    upstream_ohm = np.add(source_impedance_ohm, line_impedance_ohm) / 4.0
    chain_ohm = upstream_ohm + half_winding_impedance_ohm + service_impedance_ohm
    return np.divide(voltage_v, 2.0) / np.abs(chain_ohm)


def three_phase_fault_a(*, voltage_v, impedance_ohm):
    """Bolted three-phase fault current [A]: V / (sqrt(3) |Z|).

    Parameters
    ----------
    voltage_v : array (n,) [V] line to line
    impedance_ohm : complex array (n,) [ohm] per phase, sum of the chain at this voltage

    Returns
    -------
    array (n,) [A]

    Sources: symmetrical fault, IEEE 399-1997, chapter 7.
    Tested by: full-load current over the impedance voltage of the same bank.
    """
    return np.divide(voltage_v, np.sqrt(3.0) * np.abs(impedance_ohm))


def motor_fault_a(*, full_load_a):
    """What running induction motors add to a fault [A], at most: 4 x full-load current.

    Added to the network's part as if both were in phase, and as if no conductor lay between the
    motors and the fault.

    Parameters
    ----------
    full_load_a : array (n,) [A] full-load current of all motors together

    Returns
    -------
    array (n,) [A]

    Sources: IEEE 141, groups of low-voltage induction motors (memory); point-to-point fault guides
    of fuse makers (4 x full-load current, an impedance of 25 percent).
    Tested by: a motor behind 25 percent of its own impedance.
    """
    return MOTOR_FAULT_RATIO * np.asarray(full_load_a, dtype=float)
