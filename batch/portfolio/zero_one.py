"""Exact 0-1 programs by the solver HiGHS; the same question has the same answer each time."""

import ctypes
import os
import sys
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np

# A limit on the search's nodes, not on its time, so that the answer does not depend on the
# computer. Nodes times variables is a measure of the work.
NODES_TIMES_VARIABLES = 1_000_000
# More variables are solved to within a ten-thousandth of the best: the last part takes minutes.
EXACT_UP_TO, GAP_BEYOND = 2_000, 1e-4


@dataclass(frozen=True)
class Answer:
    """`x` (k,) is the best that was found, None if nothing; `bound` a value that no answer goes
    below; `is_proven`: nothing better exists, or there is no answer at all."""

    x: np.ndarray | None
    bound: float
    is_proven: bool


def minimise(*, objective, rows, row_lower, row_upper, upper) -> Answer:
    """Least objective @ x in whole numbers x, rounded exactly, with row_lower <= rows @ x <=
    row_upper and 0 <= x <= upper.

    `rows` is a matrix (r, k), sparse or dense; the others are arrays or scalars. The solver holds
    rows to 1e-6 of their unit and whole numbers to 1e-6, so that a caller with exact limits looks
    at the answer again.
    """
    # Imported here: most commands need no solver, and its import takes longer than they do.
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array, issparse

    count = len(objective)
    if issparse(rows):  # older releases of SciPy hand the solver 32-bit places alone
        rows = csr_array(rows)
        rows.indices, rows.indptr = (at.astype(np.int32) for at in (rows.indices, rows.indptr))
    limits = [LinearConstraint(rows, row_lower, row_upper)] if rows.shape[0] else []
    gap = 0.0 if count <= EXACT_UP_TO else GAP_BEYOND
    options = {"mip_rel_gap": gap, "node_limit": max(NODES_TIMES_VARIABLES // count, 1)}
    with _silence():
        found = milp(objective, integrality=np.ones(count), constraints=limits,
                     bounds=Bounds(np.zeros(count), np.broadcast_to(upper, count)),
                     options=options)
    if found.x is None:
        return Answer(None, np.nan, found.status == 2)
    bound = found.mip_dual_bound
    return Answer(np.round(found.x), -np.inf if bound is None else float(bound),
                  found.status == 0 and (gap == 0 or found.fun <= bound))


@contextmanager
def _silence():
    """HiGHS 1.12 prints a line of debugging of its own for some questions, whatever its options
    say; it would stand in the middle of a command's output."""
    try:
        kept = os.dup(1)
    except OSError:  # there is no standard output
        yield
        return
    flush = ctypes.CDLL(None).fflush if os.name == "posix" else lambda every: None
    nowhere = os.open(os.devnull, os.O_WRONLY)
    sys.stdout.flush()
    flush(None)
    os.dup2(nowhere, 1)
    try:
        yield
    finally:
        flush(None)
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)
