"""The way back from a figure: its formula in numbers, and the cells, rules and prices under it."""
