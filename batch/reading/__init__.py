"""Workbook to typed tables and findings: guard, count, cells, headers, validation, scenarios."""
