"""The pages that are written: board, farm sheets, letters."""
