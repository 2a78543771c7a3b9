"""Promised against delivered: a ratio of sums with its precision."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Ratio:
    """A ratio of sums [1], its standard error [1], and the ends of its interval [1]; NaN where the
    rows do not tell them."""

    ratio: float
    standard_error: float
    low: float
    high: float


def ratio_of_sums(*, promised, delivered, population=None, confidence_pct=90.0) -> Ratio:
    """What was delivered over what was promised, of all rows together, with its interval.

    r = sum(y) / sum(x); s2 = sum((y - r x)^2) / (n - 1); the standard error is
    sqrt((1 - n / N) s2 / n) / mean(x), and the interval r +- t s.e. with n - 1 degrees of freedom.
    It is not the mean of the rows' ratios, in which small farms would weigh like large ones.

    Parameters
    ----------
    promised, delivered : arrays (n,) in one unit, known; a loss is below zero and stays in the sum
    population : int or None; how many there are in all, where the rows are a sample of so many.
        None: the rows are taken for a sample of all that such a program may build (N without end)
    confidence_pct : float, 50 to 99.9

    Returns
    -------
    Ratio; NaN throughout where nothing was promised, and without interval below two rows

    Sources: Cochran, "Sampling Techniques", ratio estimates (from memory); recomputed on a textbook
    example in the tests.
    """
    x, y = np.asarray(promised, float), np.asarray(delivered, float)
    if len(x) == 0 or x.sum() <= 0:
        return Ratio(*[np.nan] * 4)
    ratio = y.sum() / x.sum()
    if len(x) < 2:
        return Ratio(float(ratio), *[np.nan] * 3)
    from scipy.special import stdtrit

    variance = ((y - ratio * x) ** 2).sum() / (len(x) - 1)
    share = 1.0 if population is None else 1.0 - len(x) / population
    error = np.sqrt(max(share, 0.0) * variance / len(x)) / x.mean()
    reach = stdtrit(len(x) - 1, 0.5 + confidence_pct / 200.0) * error
    return Ratio(float(ratio), float(error), float(ratio - reach), float(ratio + reach))
