"""Batch study runner for an irrigation electrification program."""

__version__ = "0.1.0"
