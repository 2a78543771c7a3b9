"""Formulas over all farms: ranking, best sets, phases, shared lines, draws."""
