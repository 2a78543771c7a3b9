"""Formulas of power, water and machines: numpy in, numpy out, each with equation and source."""
