"""Rate of return of yearly flows: the rate at which their present value is zero, if there is one.

A flow that changes its sign more than once may have several such rates. None of them then tells
whether the money is well spent; the present value does.
"""

from dataclasses import dataclass

import numpy as np

# Growth factors 1 + r at which the search for a rate of return looks: -99 % to 99,900 %.
GROWTH_GRID = np.geomspace(0.01, 1000, 600)
BISECTIONS = 60


@dataclass(frozen=True)
class RateOfReturn:
    """Rate of return per candidate.

    irr_pct : array (n,) [%/yr]; NaN where there is no root, or more than one
    root_count : array (n,) of int; rates at which the present value is zero
    """
    irr_pct: np.ndarray
    root_count: np.ndarray


def internal_rate_of_return(*, flow_usd):
    """Rate at which the net present value is zero [%/yr].

    The value is taken at 600 rates from -99 % to 99,900 %. One change of sign is a root, which is
    then halved down to. Flows with more than one have several rates of return, and none of them
    is reported. Two roots closer together than a step of the grid (2 % of 1 + r) are not seen.

    Parameters
    ----------
    flow_usd : array (n, years + 1) [USD]; year 0 first

    Returns
    -------
    RateOfReturn, arrays (n,)

    Equation: sum of flow_t / (1 + r)^t = 0
    Sources: engineering-economics texts; numpy-financial `irr` is the reference and holds the
    tested example.
    """
    flow = np.asarray(flow_usd, float)
    roots = np.zeros(flow.shape[:-1], int)
    low, high = np.full(roots.shape, np.nan), np.full(roots.shape, np.nan)
    last_sign, last_growth = np.zeros(roots.shape), np.full(roots.shape, np.nan)
    for growth in GROWTH_GRID:
        sign = np.sign(_value_at_growth(flow, growth))
        changes = last_sign * sign < 0
        is_first_root = changes & (roots == 0)
        low, high = np.where(is_first_root, last_growth, low), np.where(is_first_root, growth, high)
        roots = roots + changes
        last_growth = np.where(sign == 0, last_growth, growth)
        last_sign = np.where(sign == 0, last_sign, sign)

    sign_low = np.sign(_value_at_growth(flow, low))
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        is_left_of_root = np.sign(_value_at_growth(flow, middle)) == sign_low
        low, high = np.where(is_left_of_root, middle, low), np.where(is_left_of_root, high, middle)
    rate = ((low + high) / 2 - 1) * 100
    return RateOfReturn(np.where(roots == 1, rate, np.nan), roots)


def sign_changes(*, flow_usd):
    """How often a flow changes its sign; there are never more rates of return above -100 % [1].

    Parameters
    ----------
    flow_usd : array (n, years + 1) [USD]; year 0 first

    Returns
    -------
    array (n,) [1]; years without money are passed over; NaN where a year is unknown

    Equation: changes of sign from each year that has one to the next
    Sources: Descartes' rule of signs, with x = 1 / (1 + r).
    """
    flow = np.asarray(flow_usd, float)
    changes, last_sign = np.zeros(flow.shape[:-1]), np.zeros(flow.shape[:-1])
    for year in range(flow.shape[-1]):
        sign = np.sign(flow[..., year])
        changes = changes + (last_sign * sign < 0)
        last_sign = np.where(sign == 0, last_sign, sign)
    return np.where(np.isnan(flow).any(axis=-1), np.nan, changes)


def _value_at_growth(flow, growth):
    """Present value at growth factors 1 + r, by nested multiplication."""
    value = np.zeros(flow.shape[:-1])
    for year in range(flow.shape[-1] - 1, -1, -1):
        value = value / growth + flow[..., year]
    return value
