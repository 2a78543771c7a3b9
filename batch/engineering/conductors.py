"""Conductors of the service: ampacity, voltage drop, grounding conductor."""

import numpy as np

from batch.engineering.voltage import single_phase_drop_pct, three_phase_drop_pct


def run_drop_pct(*, phases, current_a, length_ft, resistance_ohm_kft, reactance_ohm_kft,
                 power_factor, voltage_v):
    """Voltage drop of a single- or three-phase run [%].

    Parameters
    ----------
    phases : array (n,) [-], 1 or 3
    current_a : array (n,) [A]
    length_ft : array (n,) [ft], one way
    resistance_ohm_kft, reactance_ohm_kft : array (n,) [ohm/1000 ft], to neutral
    power_factor : array (n,) [-]
    voltage_v : scalar or array [V], line to line

    Returns
    -------
    array (n,) [%]

    Equation and sources: as `single_phase_drop_pct` and `three_phase_drop_pct`.
    """
    run = {"current_a": current_a, "length_ft": length_ft, "power_factor": power_factor,
           "resistance_ohm_kft": resistance_ohm_kft, "reactance_ohm_kft": reactance_ohm_kft,
           "voltage_v": voltage_v}
    return np.where(np.asarray(phases) == 3, three_phase_drop_pct(**run),
                    single_phase_drop_pct(**run))


def smallest_run(*, needed_a, drop_limit_pct, phases, current_a, length_ft, power_factor,
                 voltage_v, ampacity_a, resistance_ohm_kft, reactance_ohm_kft):
    """Position of the first listed run that carries the current within the drop; -1 for none.

    Parameters
    ----------
    needed_a : array (n,) [A], ampacity that the code asks for
    drop_limit_pct : scalar [%]; infinite to go by ampacity alone
    phases, current_a, length_ft, power_factor : array (n,), see `run_drop_pct`
    voltage_v : scalar [V]
    ampacity_a, resistance_ohm_kft, reactance_ohm_kft : array (k,), the runs, cheapest first

    Returns
    -------
    array (n,) of int; -1 also where anything is unknown

    Sources: NEC Table 310.16; chapter 9 Table 9.
    """
    def column(values):
        return np.asarray(values, float)[:, np.newaxis]

    drop = run_drop_pct(
        phases=column(phases), current_a=column(current_a), length_ft=column(length_ft),
        power_factor=column(power_factor), voltage_v=voltage_v,
        resistance_ohm_kft=np.asarray(resistance_ohm_kft),
        reactance_ohm_kft=np.asarray(reactance_ohm_kft))
    is_enough = (np.asarray(ampacity_a) >= column(needed_a)) & (drop <= drop_limit_pct)
    return np.where(is_enough.any(axis=1), is_enough.argmax(axis=1), -1)


def grounding_area_cmil(*, table_area_cmil, chosen_area_cmil, ampacity_area_cmil):
    """Area that the equipment grounding conductor needs [circular mils].

    Parameters
    ----------
    table_area_cmil : array (n,) [cmil], by the protective device
    chosen_area_cmil : array (n,) [cmil], of the phase conductors as built
    ampacity_area_cmil : array (n,) [cmil], of phase conductors that ampacity alone would ask for

    Returns
    -------
    array (n,) [cmil]

    Equation: table area x chosen / ampacity area, where the conductors were enlarged.
    Sources: NEC 250.122(A) and (B).
    """
    enlargement = np.maximum(1.0, chosen_area_cmil / np.asarray(ampacity_area_cmil, float))
    return table_area_cmil * enlargement
