"""Cost of a line whose price per foot changes in steps, and the length that a sum builds.

Each foot is priced by the step that it lies in: with 2 USD from 0 ft and 4 USD from 1,000 ft, a
line of 1,300 ft costs 1,000 x 2 + 300 x 4. One step from 0 ft is a plain price per foot.
"""

import numpy as np


def stepped_line_usd(*, length_ft, step_from_ft, step_usd_ft):
    """Cost of a line by stepped prices, job cost not included [USD].

    Parameters
    ----------
    length_ft : array (n,) [ft]; not below zero
    step_from_ft : array (k,) or (n, k) [ft]; rising, the first is 0; infinite where a row has
        fewer steps
    step_usd_ft : array (k,) or (n, k) [USD/ft]; NaN where a step has no price

    Returns
    -------
    array (n,) [USD]; NaN where a foot has no price

    Equation: cost = sum over steps of feet inside the step x price of the step
    Sources: White River Valley Electric Cooperative, "Line Extension Policy" (overhead to 100 ft
    nothing, to 1,000 ft 2 USD a foot, beyond 4 USD), which is also the tested case.
    """
    length = np.asarray(length_ft, float)
    total = np.zeros(length.shape)
    for start, width, price in _steps(step_from_ft, step_usd_ft):
        feet = np.clip(length - start, 0, width)
        total = total + np.where(feet == 0, 0.0, feet * price)
    return total


def stepped_line_ft(*, line_usd, step_from_ft, step_usd_ft):
    """Length of line that a sum builds by stepped prices [ft].

    Below zero the first step's price goes on, so that a sum that is short tells by how many feet.

    Parameters
    ----------
    line_usd : array (n,) [USD]; without job cost
    step_from_ft : array (k,) or (n, k) [ft]; as in `stepped_line_usd`
    step_usd_ft : array (k,) or (n, k) [USD/ft]

    Returns
    -------
    array (n,) [ft]; NaN where a needed price is unknown, or zero in the last step

    Equation: inverse of `stepped_line_usd`
    Sources: algebra.
    """
    usd = np.asarray(line_usd, float)
    length, usd_at_start = np.full(usd.shape, np.nan), 0.0
    for start, width, price in _steps(step_from_ft, step_usd_ft):
        is_here = (start == 0) | ((usd >= usd_at_start) & (width > 0))
        some_price = np.where(price > 0, price, np.nan)
        length = np.where(is_here, start + (usd - usd_at_start) / some_price, length)
        usd_at_start = usd_at_start + np.where(np.isinf(width), 0.0, width) * price
    return length


def _steps(step_from_ft, step_usd_ft):
    """(start, width, price) of each step, arrays (n,) or plain numbers; a step that a row does not
    have is 0 ft wide and costs nothing."""
    start, price = np.asarray(step_from_ft, float), np.asarray(step_usd_ft, float)
    end = np.concatenate([start[..., 1:], np.full((*start.shape[:-1], 1), np.inf)], axis=-1)
    for k in range(start.shape[-1]):
        is_none = np.isinf(start[..., k])
        width = np.where(is_none, 0.0, end[..., k] - np.where(is_none, 0.0, start[..., k]))
        yield start[..., k], width, np.where(is_none, 0.0, price[..., k])
