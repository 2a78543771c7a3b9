"""Line current of an active front end: a sine that it shapes itself, whatever a diode would do."""

import numpy as np


def front_end_fundamental_a(*, load_w, supply_v, resistance_ohm, power_factor):
    """Fundamental line current of an active front end [A rms].

    The front end takes constant power at a displacement power factor of its own. The loss in the
    resistance ahead is carried too; that of its few harmonics, and its own losses, are left out.
    NaN where no current gives the power: more than (V pf)^2 / (4 R).

    Parameters
    ----------
    load_w : array (n,) [W] at the end of the line
    supply_v : array (n,) or scalar [V rms] source voltage behind the impedance
    resistance_ohm : array (n,) [ohm] of the loop ahead, 0 or more
    power_factor : array (n,) or scalar [0..1] displacement power factor at the source

    Returns
    -------
    array (n,) [A rms]

    Equation: V I pf = P + R I^2, of its two solutions the smaller, written without a difference
    of near numbers: I = 2 P / (V pf + sqrt((V pf)^2 - 4 R P)).
    Sources: power balance. Tested by: hand calculation, the largest load, and a load-flow library.
    """
    active_v = np.multiply(supply_v, power_factor)
    with np.errstate(invalid="ignore"):
        root_v = np.sqrt(active_v**2 - 4.0 * np.multiply(resistance_ohm, load_w))
    return 2.0 * np.asarray(load_w) / (active_v + root_v)
