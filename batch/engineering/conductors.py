"""Conductors of the service: ampacity, voltage drop, grounding conductor."""

import numpy as np

from batch.engineering.voltage import single_phase_drop_pct, three_phase_drop_pct

# 60 Hz reactance of one wire: 2 pi 60 x 2e-7 H/m x 304.8 m per unit of ln(spacing / GMR).
REACTANCE_OHM_KFT = 2 * np.pi * 60 * 2e-7 * 304.8
# Seven equal strands: GMR = 2.177 strand radii, and a strand's area is a seventh of the whole.
GMR_MIL_PER_ROOT_CMIL = 2.177 / (2 * np.sqrt(7))


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
    ampacity_a, resistance_ohm_kft, reactance_ohm_kft : array (k,), the runs, cheapest first; or
        (n, k) where they differ from row to row. An ampacity of NaN is a run that is not allowed

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


def open_wire_reactance_ohm_kft(*, spacing_in, area_cmil):
    """Reactance to neutral of open wires at 60 Hz [ohm/1000 ft].

    Serves two wires of a single-phase loop, and three at that geometric mean spacing. Wires of
    seven strands; with more strands it is up to 0.0013 higher than true. Leaves out earth return.

    Parameters
    ----------
    spacing_in : scalar or array [in], center to center, above the wire's own diameter
    area_cmil : array (k,) [cmil]

    Returns
    -------
    array (k,) [ohm/1000 ft]

    Equation: X = 0.02298 ln(spacing / GMR), GMR = 0.411 sqrt(area) mils.
    Sources: inductance of parallel round conductors; GMR of seven strands, transmission-line
    handbooks. Tested by: a maker's table of reactances at one foot.
    """
    gmr_in = GMR_MIL_PER_ROOT_CMIL * np.sqrt(np.asarray(area_cmil, float)) / 1000
    return REACTANCE_OHM_KFT * np.log(spacing_in / gmr_in)


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


def grounded_area_cmil(*, ungrounded_area_cmil, up_to_cmil, table_area_cmil):
    """Area that the grounded conductor of a service needs [circular mils].

    Parameters
    ----------
    ungrounded_area_cmil : array (n,) [cmil], of one leg in the raceway or cable
    up_to_cmil : array (k,) [cmil], the legs up to which each row of the table goes, ascending
    table_area_cmil : array (k,) [cmil], of the grounded conductor in each row

    Returns
    -------
    array (n,) [cmil]

    Equation: the table's row; above its last row 12.5 % of the ungrounded area.
    Sources: NEC 250.24 and Table 250.102(C)(1). Tested by: rows of the table and worked cases.
    """
    legs = np.asarray(ungrounded_area_cmil, float)
    place = np.searchsorted(up_to_cmil, legs)
    by_row = np.append(table_area_cmil, np.nan)[place]
    return np.where(place < len(up_to_cmil), by_row, 0.125 * legs)
