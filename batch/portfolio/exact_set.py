"""The exact best set: one configuration of each line's farms, within budgets and limits.

Money is counted in whole cents and load in whole watts, so that no limit is missed or passed by
rounding.
"""

from dataclasses import dataclass, replace

import numpy as np

from batch.portfolio.zero_one import minimise

NEVER = -1
MOST_CUTS = 100
TINY = 1e-9


@dataclass(frozen=True)
class Limit:
    """A thing of which a set may take no more than `at_most`, a whole number of `unit`s; `uses`
    (k,) of each configuration, whole numbers, below zero where it gives room to others; `year` of
    a yearly limit, None over all years."""

    name: str
    uses: np.ndarray
    at_most: float
    unit: float = 1.0
    year: int | None = None


@dataclass(frozen=True)
class Selection:
    """`year` (k,): the 0-based year in which each configuration is taken, -1 not; `bound` is the
    best value that could still exist, `value` itself where that is proven. An impossible question
    has no value; where that is not proven, none was found."""

    year: np.ndarray
    value: float
    bound: float
    is_proven: bool
    is_feasible: bool


def best_selection(*, value, line, limits: list[Limit], years: int = 1, must=(),
                   ties=()) -> Selection:
    """The configurations of largest total value within all limits, at most one of each line.

    Parameters
    ----------
    value : array (k,) in any unit, may be negative
    line : array (k,) of int; of the configurations of one line at most one is taken
    limits : list of Limit
    years : program years; a configuration is taken in one of them
    must : lines of which one configuration must be taken
    ties : arrays (k,); of several best selections the one with the least sum of the first, then of
        the second, and so on, each by a further solve

    Returns
    -------
    Selection; exact where `is_proven`

    Equation: maximise sum v_k x_ky, x_ky 0 or 1, with sum over a line's k and all y of x_ky <= 1
    (= 1 for a line of `must`), and sum u_k x_ky <= at_most for every limit, over its year or all
    Errors: RuntimeError if the solver's answer passes a limit.
    Sources: multiple-choice knapsack with several limits; solver HiGHS through SciPy. Tested by:
    published instances, and all selections of small cases.
    """
    value, line = np.asarray(value, float), np.asarray(line, int)
    never = np.full(value.size, NEVER)
    if not np.isin(list(must), line).all():
        return Selection(never, np.nan, np.nan, True, False)
    if not value.size:
        return Selection(never, 0.0, 0.0, True, True)
    rows = _Rows.of(line, limits, years, must)
    # Scaled by a power of two, so that the solver's absolute gap of 1e-6 is small beside a value.
    scale = 2.0 ** (12 - np.ceil(np.log2(np.abs(value).max() or 1.0)))
    objective = -np.tile(value, years) * scale
    answer = rows.least(objective)
    if answer.x is None:
        return Selection(never, np.nan, np.nan, answer.is_proven, False)
    best = _selection(answer.x, value)
    if not answer.is_proven:
        return Selection(best.year, best.value, max(-answer.bound / scale, best.value), False, True)
    for tie in ties:
        rows = rows.and_at_most(objective, objective @ answer.x + TINY)
        objective = np.tile(np.asarray(tie, float), years)
        again = rows.least(objective)
        if again.x is None or not again.is_proven:
            break
        answer = again
    return _selection(answer.x, value)


def _selection(x, value):
    """The selection that `x` (years * k) stands for; proven."""
    taken = x.reshape(-1, value.size) > 0
    year = np.where(taken.any(axis=0), taken.argmax(axis=0), NEVER)
    total = float(value[year != NEVER].sum())
    return Selection(year, total, total, True, True)


@dataclass(frozen=True)
class _Rows:
    """The question's rows: `exact` ones in whole numbers, which are looked at again."""

    exact: object
    at_most: np.ndarray
    unit: np.ndarray
    others: object
    lower: np.ndarray
    upper: np.ndarray

    @classmethod
    def of(cls, line, limits, years, must):
        from scipy.sparse import csr_array, vstack

        names, of_line = np.unique(line, return_inverse=True)
        once = csr_array((np.ones(years * line.size),
                          (np.tile(of_line, years), np.arange(years * line.size))))
        finite = [limit for limit in limits if np.isfinite(limit.at_most)]
        uses = [np.concatenate([limit.uses * float(limit.year in (None, y)) for y in range(years)])
                for limit in finite]
        exact = csr_array(np.array(uses).reshape(len(finite), years * line.size))
        return cls(exact, np.array([limit.at_most for limit in finite]),
                   np.array([limit.unit for limit in finite]), vstack([once], format="csr"),
                   np.isin(names, list(must)).astype(float), np.ones(names.size))

    def and_at_most(self, row, most):
        """With one more row that is held as the solver holds it."""
        from scipy.sparse import csr_array, vstack

        return replace(self, others=vstack([self.others, csr_array(row[np.newaxis])], format="csr"),
                       lower=np.append(self.lower, -np.inf), upper=np.append(self.upper, most))

    def least(self, objective):
        """The solver's answer, each exact row held to the unit.

        The solver may take a configuration 0.999999 times to make it fit. Where its rounded answer
        passes a limit, those that take of it cannot stand together there without one more that
        gives room: that is added to the question, again asked.
        """
        from scipy.sparse import csr_array, vstack

        rows = self.others
        if len(self.at_most):
            rows = vstack([rows, self.exact.multiply(1.0 / self.unit[:, np.newaxis])], format="csr")
        lower = np.append(self.lower, np.full(len(self.at_most), -np.inf))
        upper = np.append(self.upper, self.at_most / self.unit)
        for _ in range(MOST_CUTS):
            answer = minimise(objective=objective, rows=rows, row_lower=lower, row_upper=upper,
                              upper=1.0)
            if answer.x is None:
                return answer
            passed = self.exact @ answer.x > self.at_most
            if not passed.any():
                return answer
            uses, is_taken = self.exact[passed].toarray(), answer.x > 0
            takes, gives = (uses > 0) & is_taken, (uses < 0) & ~is_taken
            rows = vstack([rows, csr_array(takes.astype(float) - gives)], format="csr")
            lower = np.append(lower, np.full(passed.sum(), -np.inf))
            upper = np.append(upper, takes.sum(axis=1) - 1.0)
        raise RuntimeError("the solver's set passes a limit")
