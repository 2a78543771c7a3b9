"""Voltage: conductor drop, line impedance with earth return, constant-power loads.

An impedance is complex, R + jX. For a single-phase circuit it is the loop (out and back) with the
voltage across the loop; for a three-phase circuit it is per phase with the line-to-line voltage.
With that pairing Z P / V^2 is the same per-unit figure for both, so one formula serves both.
"""

import numpy as np

HERTZ = 60.0
EARTH_RESISTANCE_OHM_MI_HZ = 0.00158836  # modified Carson equations, ohm per mile per hertz
MUTUAL_REACTANCE_OHM_MI_HZ = 0.00202237
EARTH_LOG_CONSTANT = 7.6786  # for distances in feet


def _sine(power_factor):
    """Sine of the angle of a lagging power factor; NaN where the factor is above 1."""
    return np.sqrt(1.0 - np.square(power_factor))


def single_phase_drop_pct(
    *, current_a, length_ft, resistance_ohm_kft, reactance_ohm_kft, power_factor, voltage_v
):
    """Voltage drop of a two-wire run [%], from conductor impedance TO NEUTRAL per 1000 ft.

    drop = 100 x 2 I (L/1000) (R cos + X sin) / V

    Valid for lagging loads and drops of a few percent; above about 10 % solve the constant-power
    load (`constant_power_voltage_pu`). For a drive use the fundamental current and the
    displacement power factor.

    Parameters
    ----------
    current_a : array (n,) [A]
    length_ft : array (n,) [ft] one way
    resistance_ohm_kft, reactance_ohm_kft : array (n,) [ohm/1000 ft] of one conductor to neutral
    power_factor : array (n,) [0..1] lagging
    voltage_v : array (n,) [V] between the two conductors

    Returns
    -------
    array (n,) [%]

    Sources: NFPA 70 (NEC), chapter 9 Table 9 note 2, effective impedance R cos + X sin.
    Tested by: published drops of 14.755 V and 3.136 V; 250 kcmil copper in steel conduit at 0.85.
    """
    per_kft = resistance_ohm_kft * power_factor + reactance_ohm_kft * _sine(power_factor)
    return 100.0 * 2.0 * current_a * length_ft / 1000.0 * per_kft / voltage_v


def three_phase_drop_pct(
    *, current_a, length_ft, resistance_ohm_kft, reactance_ohm_kft, power_factor, voltage_v
):
    """Line-to-line voltage drop of a balanced three-phase run [%].

    drop = 100 x sqrt(3) I (L/1000) (R cos + X sin) / V

    Valid and limited as `single_phase_drop_pct`; the load is balanced.

    Parameters
    ----------
    current_a : array (n,) [A] line current
    length_ft : array (n,) [ft] one way
    resistance_ohm_kft, reactance_ohm_kft : array (n,) [ohm/1000 ft] of one conductor to neutral
    power_factor : array (n,) [0..1] lagging
    voltage_v : array (n,) [V] line to line

    Returns
    -------
    array (n,) [%]

    Sources: NFPA 70 (NEC), chapter 9 Table 9 note 2.
    Tested by: a published drop factor of 0.00035291 % per kVA-mile at 12.47 kV.
    """
    per_kft = resistance_ohm_kft * power_factor + reactance_ohm_kft * _sine(power_factor)
    return 100.0 * np.sqrt(3.0) * current_a * length_ft / 1000.0 * per_kft / voltage_v


def single_phase_line_impedance_ohm_mi(
    *,
    phase_resistance_ohm_mi,
    phase_gmr_ft,
    neutral_resistance_ohm_mi,
    neutral_gmr_ft,
    spacing_ft,
    earth_resistivity_ohm_m=100.0,
):
    """Loop impedance of a single-phase multigrounded line [ohm/mile], complex.

    z_ii = r_i + 0.00158836 f + j 0.00202237 f (ln(1/GMR_i) + 7.6786 + ln(rho/f)/2)
    z_ij =       0.00158836 f + j 0.00202237 f (ln(1/D_ij)  + 7.6786 + ln(rho/f)/2)
    z    = z_pp - z_pn^2 / z_nn                                        (Kron reduction)

    Valid for a neutral grounded often enough to be at earth potential all along (the reduction's
    assumption), and distances small against the earth return depth. Capacitance is left out.

    Parameters
    ----------
    phase_resistance_ohm_mi, neutral_resistance_ohm_mi : array (n,) [ohm/mile] at the frequency
    phase_gmr_ft, neutral_gmr_ft : array (n,) [ft] geometric mean radius
    spacing_ft : array (n,) [ft] between phase and neutral conductor
    earth_resistivity_ohm_m : array (n,) or scalar [ohm m]

    Returns
    -------
    complex array (n,) [ohm/mile]

    Sources: J. R. Carson, Wave Propagation in Overhead Wires with Ground Return, Bell System
    Technical Journal, 1926, in the modified form of distribution-modelling textbooks (Kersting,
    Distribution System Modeling and Analysis, chapter 4).
    Tested by: published primitive and reduced impedances; IEEE test-feeder single-phase lines.
    """
    earth_ohm_mi = EARTH_RESISTANCE_OHM_MI_HZ * HERTZ
    reactance_ohm_mi = MUTUAL_REACTANCE_OHM_MI_HZ * HERTZ
    return_depth = EARTH_LOG_CONSTANT + 0.5 * np.log(earth_resistivity_ohm_m / HERTZ)

    def carson(resistance_ohm_mi, distance_ft):
        reactance = reactance_ohm_mi * (return_depth - np.log(distance_ft))
        return resistance_ohm_mi + earth_ohm_mi + 1j * reactance

    with np.errstate(invalid="ignore"):  # an unknown conductor stays unknown
        phase = carson(phase_resistance_ohm_mi, phase_gmr_ft)
        neutral = carson(neutral_resistance_ohm_mi, neutral_gmr_ft)
        mutual = carson(0.0, spacing_ft)
        return phase - mutual**2 / neutral


def fault_impedance_ohm(*, voltage_v, fault_current_a, x_over_r):
    """Source impedance behind a known fault current [ohm], complex.

    |Z| = V / I; the angle is atan(X/R).

    Leaves out load current before the fault. A fault current of zero gives infinity.

    Parameters
    ----------
    voltage_v : array (n,) [V] line to ground for a single-phase fault current
    fault_current_a : array (n,) [A]
    x_over_r : array (n,) [1] reactance over resistance at the point

    Returns
    -------
    complex array (n,) [ohm]

    Sources: Ohm's law.
    Tested by: magnitude and angle given back; 7200 V and 1438 A give 5.007 ohm.
    """
    with np.errstate(divide="ignore"):
        magnitude_ohm = np.divide(voltage_v, fault_current_a)
    resistance_ohm = magnitude_ohm / np.hypot(1.0, x_over_r)
    return resistance_ohm * (1.0 + 1j * np.asarray(x_over_r))


def referred_impedance_ohm(*, impedance_ohm, from_voltage_v, to_voltage_v):
    """Impedance seen from the other side of a transformer [ohm], complex: Z (V_to / V_from)^2.

    Parameters
    ----------
    impedance_ohm : complex array (n,) [ohm] on the from side
    from_voltage_v, to_voltage_v : array (n,) [V] rated winding voltages

    Returns
    -------
    complex array (n,) [ohm]

    Sources: ideal transformer.
    Tested by: the chain compared with a load-flow library.
    """
    return impedance_ohm * np.square(np.divide(to_voltage_v, from_voltage_v))


def impedance_drop_pct(*, impedance_ohm, load_kw, power_factor, voltage_v):
    """Linear voltage drop over an impedance in the chain [%].

    drop = 100 (R P + X Q) / V^2,   Q = P tan(acos pf)

    Valid to about 10 % of drop; the parts of a chain may be added. Leading loads are left out.

    Parameters
    ----------
    impedance_ohm : complex array (n,) [ohm] loop (single-phase) or per phase (three-phase)
    load_kw : array (n,) [kW] total
    power_factor : array (n,) [0..1] lagging
    voltage_v : array (n,) [V] across the loop, or line to line

    Returns
    -------
    array (n,) [%]

    Sources: the drop equation I (R cos + X sin) with I = P / (V cos).
    Tested by: a 75 kVA transformer carrying 70 kVA drops 1.43 % (textbook); a load-flow library.
    """
    reactive_kvar = load_kw * _sine(power_factor) / power_factor
    volt_squared = np.real(impedance_ohm) * load_kw + np.imag(impedance_ohm) * reactive_kvar
    return 100.0 * 1000.0 * volt_squared / np.square(voltage_v)


def constant_power_voltage_pu(*, resistance_pu, reactance_pu, power_pu, power_factor):
    """Voltage at a constant-power load behind an impedance [per unit of the source voltage].

    V^4 + V^2 (2 (R P + X Q) - 1) + (R^2 + X^2)(P^2 + Q^2) = 0, the larger root.

    NaN when there is no solution: the load is more than the impedance can carry.

    Parameters
    ----------
    resistance_pu, reactance_pu : array (n,) [per unit]
    power_pu : array (n,) [per unit] real power
    power_factor : array (n,) [0..1] lagging

    Returns
    -------
    array (n,) [per unit]

    Sources: power flow over a two-node line, closed form (distribution textbooks).
    Tested by: Z = 0.1 + j0.1, P = 1 at 0.8 gives 0.7731; a load-flow library.
    """
    reactive_pu = power_pu * _sine(power_factor) / power_factor
    half = 0.5 - (resistance_pu * power_pu + reactance_pu * reactive_pu)
    impedance_squared = np.square(resistance_pu) + np.square(reactance_pu)
    discriminant = half**2 - impedance_squared * (np.square(power_pu) + reactive_pu**2)
    with np.errstate(invalid="ignore"):  # a negative root: the load cannot be carried
        return np.sqrt(half + np.sqrt(discriminant))


def service_voltage_v(*, source_voltage_v, impedance_ohm, load_kw, power_factor):
    """Voltage at the end of a chain of impedances with a constant-power load [V].

    The per-unit base is the source voltage and 1 kW: z = Z 1000 / V^2.
    NaN when the chain cannot carry the load.

    Parameters
    ----------
    source_voltage_v : array (n,) [V] across the loop, or line to line
    impedance_ohm : complex array (n,) [ohm] sum of the chain, all referred to this voltage
    load_kw : array (n,) [kW] total
    power_factor : array (n,) [0..1] lagging

    Returns
    -------
    array (n,) [V]

    Sources: as `constant_power_voltage_pu`.
    Tested by: a load-flow library, source, line, transformer and service in series.
    """
    with np.errstate(invalid="ignore"):
        per_unit = np.asarray(impedance_ohm) * 1000.0 / np.square(source_voltage_v)
    return source_voltage_v * constant_power_voltage_pu(
        resistance_pu=per_unit.real,
        reactance_pu=per_unit.imag,
        power_pu=load_kw,
        power_factor=power_factor,
    )


def drive_motor_voltage_limit_v(*, bus_v, modulation_ratio, output_drop_pct=0.0,
                                filter_drop_pct=0.0):
    """Largest motor voltage a drive can give from its bus [V rms, line to line].

    V = ratio x bus x (1 - output drop) x (1 - filter drop); ratio 0.612 for plain sine modulation,
    0.707 with third-harmonic injection or space vectors.

    On the valley of the bus the voltage is undistorted all the time; on its mean it is what the
    motor gets over the ripple's period, cut at each valley. Leaves out the lead and overmodulation.

    Parameters
    ----------
    bus_v : array (n,) [V] valley or mean of the direct-current bus at the load
    modulation_ratio : array (n,) or scalar [V/V]
    output_drop_pct : array (n,) or scalar [%] that transistors and dead time take
    filter_drop_pct : array (n,) or scalar [%] that the output filter takes

    Returns
    -------
    array (n,) [V]

    Sources: power-electronics textbooks (Mohan, Undeland, Robbins, Power Electronics, chapter 8,
    0.612 at a modulation index of 1), memory.
    Tested by: the bus of a 480 V supply, 678.8 V, gives 415.7 V and 480.0 V.
    """
    left = (1 - np.asarray(output_drop_pct) / 100) * (1 - np.asarray(filter_drop_pct) / 100)
    return np.multiply(modulation_ratio, bus_v) * left


def three_phase_line_impedance_ohm_mi(*, resistance_ohm_mi, gmr_ft, phase_spacing_ft):
    """Positive-sequence impedance of a transposed three-phase line [ohm/mile per phase], complex.

    z = r + j 0.00202237 f ln(GMD / GMR)

    Leaves out unequal spacing beyond its geometric mean, and capacitance.

    Parameters
    ----------
    resistance_ohm_mi : array (n,) [ohm/mile] at the frequency
    gmr_ft : array (n,) [ft] geometric mean radius
    phase_spacing_ft : array (n,) or scalar [ft] geometric mean of the three distances (GMD)

    Returns
    -------
    complex array (n,) [ohm/mile]

    Sources: Kersting, Distribution System Modeling and Analysis, chapter 4 (0.12134 ln(GMD/GMR)
    at 60 Hz). Tested by: textbook reactances of ACSR at 1 ft spacing.
    """
    reactance = MUTUAL_REACTANCE_OHM_MI_HZ * HERTZ * np.log(phase_spacing_ft / gmr_ft)
    return resistance_ohm_mi + 1j * reactance
