"""Results to files: CSV, workbook, pages, the run folder."""
