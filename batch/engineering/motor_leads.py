"""Voltage at a motor fed by a drive through a long lead."""

import numpy as np

LIGHT_FT_US = 983.571  # speed of light, exact 299,792,458 m/s
LEAD_VELOCITY_FT_US = LIGHT_FT_US / 2.0  # usual for insulated motor leads, about half of light

# NEMA MG 1 Part 30: general-purpose motor on a drive, rated 600 V or less.
PART_30_PEAK_V = 1000.0
PART_30_RISE_US = 2.0
# NEMA MG 1 Part 31: definite-purpose inverter-fed motor, rated 600 V or less.
PART_31_PEAK_RATIO = 3.1  # of rated rms voltage = 1.1 x 2 x sqrt(2), rounded down
PART_31_RISE_US = 0.1


def critical_length_ft(*, rise_time_us):
    """Lead length from which the pulse front doubles at the motor [ft]: velocity x rise time / 2.

    The front has then risen in full before its reflection is back from the drive.

    Parameters
    ----------
    rise_time_us : array (n,) [us] of the drive's pulses

    Returns
    -------
    array (n,) [ft]

    Sources: travelling-wave theory; NEMA Application Guide for AC Adjustable Speed Drive Systems.
    Tested by: published lengths of 25, 49, 98 and 492 ft for 0.1, 0.2, 0.4 and 2 us.
    """
    return np.multiply(LEAD_VELOCITY_FT_US, rise_time_us) / 2.0


def motor_peak_v(*, bus_v, motor_lead_ft, critical_length_ft):
    """Peak of the voltage between lines at the motor [V].

    V_peak = bus (1 + min(1, length / critical length))

    A bound: full reflection at motor and drive, no loss in the lead, pulses far enough apart for
    the ringing to die out. It is reached only for some ratios of rise time to travel time.

    Parameters
    ----------
    bus_v : array (n,) [V] highest direct voltage of the bus
    motor_lead_ft : array (n,) [ft] drive to motor
    critical_length_ft : array (n,) [ft]

    Returns
    -------
    array (n,) [V]

    Sources: travelling-wave theory (lattice of reflections).
    Tested by: 679 V gives 1358 V on a long lead; a lattice summed in the test.
    """
    ratio = np.divide(motor_lead_ft, critical_length_ft)
    return bus_v * (1.0 + np.minimum(1.0, ratio))


def inverter_duty_peak_limit_v(*, motor_rated_v):
    """Peak voltage that a definite-purpose inverter-fed motor withstands [V]: 3.1 x rated.

    For motors of 600 V or less and rise times of 0.1 us or more.

    Parameters
    ----------
    motor_rated_v : array (n,) [V rms]

    Returns
    -------
    array (n,) [V]

    Sources: NEMA MG 1, Part 31, 31.4.4.2; derivation 1.1 x 2 x sqrt(2) in IEEE PCIC-2004-27.
    Tested by: 1426 V at 460 V.
    """
    return np.multiply(PART_31_PEAK_RATIO, motor_rated_v)
