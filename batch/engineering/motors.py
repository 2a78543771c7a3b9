"""Pump, tower and booster motors: rating, current, input power."""

import numpy as np

KW_PER_HP = 0.7457  # 550 ft lbf/s, rounded as the trade prints it


def motor_input_kw(*, shaft_power_hp, motor_efficiency_pct):
    """Electric input of a motor that gives that shaft power [kW].

    The nominal full-load efficiency is used; from half to full load it moves by about a point.

    Parameters
    ----------
    shaft_power_hp : array (n,) [hp]
    motor_efficiency_pct : array (n,) [%], above 0

    Returns
    -------
    array (n,) [kW]

    Equation: P = 0.7457 hp / efficiency.
    Sources: definition of the horsepower; published case: Southeast extension cost example of
    1.18 hp-hours per kWh (75 % pump excluded: 0.88 / 0.7457).
    """
    return KW_PER_HP * shaft_power_hp / (np.asarray(motor_efficiency_pct, float) / 100)


def small_motors_kw(*, motor_count, motor_hp, load_pct, motor_efficiency_pct, duty):
    """Mean electric input of several small motors that run part of the time [kW].

    Parameters
    ----------
    motor_count : array (n,) [-]
    motor_hp : array (n,) [hp], rating of one
    load_pct : scalar or array [%] of the rating while it runs
    motor_efficiency_pct : scalar or array [%], above 0
    duty : array (n,) [-], mean share of time that they run

    Returns
    -------
    array (n,) [kW]

    Equation: P = count 0.7457 hp load duty / efficiency. Sources: definition; common practice.
    """
    return (motor_count * KW_PER_HP * motor_hp * (load_pct / 100) * duty
            / (motor_efficiency_pct / 100))


def continuous_motor_group_a(*, largest_a, others_a, others_share):
    """Current that conductors of a motor group must carry [A].

    Parameters
    ----------
    largest_a : array (n,) [A], current of the largest motor: by the table, on a center-pivot
        machine by the nameplate where it is known
    others_a : array (n,) [A], sum of the currents of the rest
    others_share : scalar [-], 1.0 for motors in general (NEC 430.24), 0.60 for a center-pivot
        machine (NEC 675.22(A))

    Returns
    -------
    array (n,) [A]

    Equation: I = 1.25 largest + share x rest.
    Sources: NEC 2023, 430.24; 675.22(A) (memory; 675.7(A), nameplate currents, read in 2008).
    """
    return 1.25 * largest_a + others_share * others_a


def locked_rotor_group_a(*, largest_locked_rotor_a, others_a):
    """Equivalent locked-rotor current of a center-pivot machine [A].

    It sets the horsepower rating of the machine's disconnect and controller. It is no current that
    flows at one time, and no measure of a voltage dip.

    Parameters
    ----------
    largest_locked_rotor_a : array (n,) [A], locked-rotor current of the largest motor
    others_a : array (n,) [A], sum of the nameplate currents of the rest

    Returns
    -------
    array (n,) [A]

    Equation: I = 2 x locked rotor of the largest + 0.80 x rest.
    Sources: NEC 2023, 675.22(B) (memory); its use: 675.8(A)(2).
    """
    return 2 * largest_locked_rotor_a + 0.80 * others_a


def power_kw(*, current_a, voltage_v, power_factor, phases):
    """Power of a load at a line current [kW]; the inverse of `power_current_a`.

    Parameters
    ----------
    current_a : array (n,) [A]
    voltage_v : array (n,) or scalar [V], line to line
    power_factor : array (n,) or scalar [-], true power factor
    phases : array (n,) or scalar [-], 1 or 3

    Returns
    -------
    array (n,) [kW]

    Equation: P = V I pf / 1000, times sqrt(3) for three phases. Sources: circuit theory.
    """
    per_phase = np.where(np.asarray(phases) == 3, np.sqrt(3), 1.0)
    return per_phase * voltage_v * current_a * power_factor / 1000


def current_at_voltage_a(*, rated_current_a, rated_voltage_v, voltage_v):
    """Current of a motor that gives the same shaft power below its rated voltage [A].

    Above the rated voltage the rated current is kept. Valid within about a tenth of the rating:
    power factor and efficiency are taken as they are.

    Parameters
    ----------
    rated_current_a : array (n,) [A] at the rated voltage
    rated_voltage_v : array (n,) or scalar [V]
    voltage_v : array (n,) [V] at the motor, above 0

    Returns
    -------
    array (n,) [A]

    Equation: I = I_rated V_rated / V. Sources: power balance; NEMA MG 1, 12.44 (a motor runs, with
    other characteristics, at 10 percent below its rated voltage). Tested by: hand calculation.
    """
    return rated_current_a * np.maximum(1.0, rated_voltage_v / np.asarray(voltage_v, float))


def power_current_a(*, power_kw, voltage_v, power_factor, phases):
    """Line current of a load [A].

    Parameters
    ----------
    power_kw : array (n,) [kW]
    voltage_v : array (n,) [V], line to line
    power_factor : array (n,) [-], true power factor, above 0
    phases : array (n,) [-], 1 or 3

    Returns
    -------
    array (n,) [A]

    Equation: I = 1000 P / (V pf), over sqrt(3) for three phases. Sources: circuit theory.
    """
    per_phase = np.where(np.asarray(phases) == 3, np.sqrt(3), 1.0)
    return 1000 * power_kw / (voltage_v * power_factor * per_phase)
