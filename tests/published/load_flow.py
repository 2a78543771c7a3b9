"""The load-flow library of the tests, kept apart from an option that the program sets."""

from contextlib import nullcontext

import pandapower as pp
import pandas as pd


def solve(net):
    """Solve a net in place. Older releases of the library write into the columns of pandas 2,
    which copy-on-write forbids; pandas 3 knows nothing else."""
    plain = (pd.option_context("mode.copy_on_write", False) if pd.__version__.startswith("2.")
             else nullcontext())
    with plain:
        pp.runpp(net, tolerance_mva=1e-10)
