"""The workbooks that are written: blank and result."""
