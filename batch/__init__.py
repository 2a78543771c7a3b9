"""Batch study runner for an irrigation electrification program."""

import pandas as pd

__version__ = "0.1.0"

# A column is copied when it is first written to, as pandas 3 does: both releases run alike.
if pd.__version__.startswith("2."):
    pd.options.mode.copy_on_write = True
