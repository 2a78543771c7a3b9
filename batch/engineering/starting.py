"""Motor starting: locked-rotor load, voltage dip through a chain, the bound for a drive's ramp."""

import numpy as np


def standing_motor_ohm(*, locked_rotor_kva, starting_power_factor, voltage_v):
    """Impedance of a motor at standstill [ohm], complex: Z = V^2 / S at its lagging power factor.

    Parameters
    ----------
    locked_rotor_kva : array (n,) [kVA] at `voltage_v`
    starting_power_factor : array (n,) [0..1] lagging
    voltage_v : array (n,) or scalar [V] at which the kVA is stated: a code letter's is the motor's
        rated voltage, not that of the service

    Returns
    -------
    complex array (n,) [ohm]

    Sources: NFPA 70 (NEC), 430.7(B) (kVA per hp with locked rotor, at the rated voltage).
    Tested by: 30 hp with letter G at 460 V.
    """
    with np.errstate(divide="ignore", invalid="ignore"):  # no load is an endless impedance
        return 1.0 / _standing_motor_siemens(locked_rotor_kva, starting_power_factor, voltage_v)


def _standing_motor_siemens(locked_rotor_kva, starting_power_factor, voltage_v):
    """Admittance of a motor at standstill [S], complex."""
    sine = np.sqrt(1.0 - np.square(starting_power_factor))
    magnitude_s = 1000.0 * np.asarray(locked_rotor_kva) / np.square(voltage_v)
    return magnitude_s * (starting_power_factor - 1j * sine)


def locked_rotor_kva(*, motor_hp, locked_rotor_kva_per_hp):
    """Apparent power drawn at standstill and rated voltage [kVA]: hp x kVA/hp.

    The kVA/hp comes from the code letter; its upper bound where only the letter is known.

    Parameters
    ----------
    motor_hp : array (n,) [hp]
    locked_rotor_kva_per_hp : array (n,) [kVA/hp]

    Returns
    -------
    array (n,) [kVA]

    Sources: NFPA 70 (NEC), 430.7(B) and Table 430.7(B).
    Tested by: 30 hp at 460 V with letter G draws 237 A.
    """
    return np.multiply(motor_hp, locked_rotor_kva_per_hp)


def starting_dip_pct(*, impedance_ohm, locked_rotor_kva, starting_power_factor, voltage_v):
    """Voltage dip at the motor while it starts across the line [%].

    The motor at standstill is a constant impedance Z_m = V^2 / S at the starting power factor:
    dip = 100 (1 - |Z_m / (Z_m + Z)|)

    Serves single phase (loop impedance) and three-phase (impedance per phase, line-to-line
    voltage). Leaves out other load on the line and the regulator's answer.

    Parameters
    ----------
    impedance_ohm : complex array (n,) [ohm] of the whole chain at the motor's voltage
    locked_rotor_kva : array (n,) [kVA] at the rated voltage
    starting_power_factor : array (n,) [0..1] lagging
    voltage_v : array (n,) [V] rated voltage of the motor, at which the kVA is stated

    Returns
    -------
    array (n,) [%]

    Sources: voltage divider; IEEE 399-1997, chapter 9, motor starting by the impedance method.
    Tested by: a published dip of 0.73 V on 120 V; a load-flow library with a constant-impedance
    load.
    """
    return starting_dip_at_point_pct(
        point_impedance_ohm=impedance_ohm,
        impedance_ohm=impedance_ohm,
        locked_rotor_kva=locked_rotor_kva,
        starting_power_factor=starting_power_factor,
        voltage_v=voltage_v,
    )


def starting_dip_at_point_pct(
    *, point_impedance_ohm, impedance_ohm, locked_rotor_kva, starting_power_factor, voltage_v
):
    """Voltage dip at a point between the source and a starting motor [%].

    dip = 100 (1 - |1 - Z_point / (Z_m + Z)|), where Z_point is the part of Z ahead of the point.

    Valid and limited as `starting_dip_pct`, which it equals when Z_point = Z.

    Parameters
    ----------
    point_impedance_ohm : complex array (n,) [ohm] from the source to the point
    impedance_ohm : complex array (n,) [ohm] from the source to the motor
    locked_rotor_kva : array (n,) [kVA] at the rated voltage
    starting_power_factor : array (n,) [0..1] lagging
    voltage_v : array (n,) [V] rated voltage of the motor, at which the kVA is stated

    Returns
    -------
    array (n,) [%]

    Sources: as `starting_dip_pct`.
    Tested by: both ends of the chain.
    """
    motor_s = _standing_motor_siemens(locked_rotor_kva, starting_power_factor, voltage_v)
    with np.errstate(invalid="ignore"):  # an unknown impedance stays unknown
        lost_share = point_impedance_ohm * motor_s / (1.0 + impedance_ohm * motor_s)
        return 100.0 * (1.0 - np.abs(1.0 - lost_share))
