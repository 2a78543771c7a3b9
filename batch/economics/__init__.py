"""Formulas of money: bills, cost shares, incentives, cash flows, benefit tests."""
