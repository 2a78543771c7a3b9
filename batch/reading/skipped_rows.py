"""Rows that are read and not studied: the blank workbook's examples, and prices not filled in."""

from dataclasses import replace

from batch.columns import CANDIDATES, UNIT_COSTS
from batch.columns.candidates import EXAMPLES
from batch.findings import Findings
from batch.reading.cell_text import is_blank
from batch.reading.header import HeaderCell, plain_name
from batch.reading.laying import Laid
from batch.reading.sheet_cells import SheetCells

RANGES_LISTED = 20


def without_examples(rows: list, header: HeaderCell, findings: Findings) -> list:
    """The rows of Candidates that are no example of the blank workbook; `header` is the names'."""
    examples = {plain_name(example[header.key]) for example in EXAMPLES}
    kept, skipped = [], []
    for row, values in rows:
        name = values[header.index]
        is_example = isinstance(name, str) and plain_name(name) in examples
        (skipped if is_example else kept).append((row, values))
    if skipped:
        first, listed = skipped[0], listed_rows(ranges([row for row, _ in skipped]))
        findings.add("example-row-skipped", f"{CANDIDATES.name}!{header.letter}{listed}: "
                     f"{_count(len(skipped), 'example row')} of the blank workbook.",
                     sheet=CANDIDATES.name, row=first[0], column=header.letter, key=header.key,
                     value=first[1][header.index])
    return kept


def priced_rows(by_sheet: dict[str, SheetCells], laid: Laid,
                findings: Findings) -> dict[str, SheetCells]:
    """The sheets with the rows of Unit costs that have a price, or are given one by what is laid
    over them; the others, counted in one note, are not offered."""
    cells = by_sheet.get(UNIT_COSTS.name)
    header = cells and next((h for h in cells.headers if h.key == "price_usd"), None)
    if not header:
        return by_sheet
    given = laid.cells.get((UNIT_COSTS.name, header.key), {})
    priced, unpriced = [], []
    for row, values in cells.rows:
        is_open = is_blank(values[header.index]) and (row, header.index) not in cells.formulas
        (unpriced if is_open and row not in given else priced).append((row, values))
    if unpriced:
        listed = listed_rows(ranges([row for row, _ in unpriced]))
        findings.add("price-row-open", f"{UNIT_COSTS.name}!{header.letter}{listed}: "
                     f"{_count(len(unpriced), 'row')} without a price, not offered.",
                     sheet=UNIT_COSTS.name, column=header.letter, key="price_usd",
                     value=_count(len(unpriced), "row"))
    return by_sheet | {UNIT_COSTS.name: replace(cells, rows=priced)}


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number:,} {word}s"


def listed_rows(runs: list[tuple[int, int]]) -> str:
    """Ranges of rows as they are printed: '3, 5 to 9'."""
    listed = ", ".join(str(a) if a == b else f"{a} to {b}" for a, b in runs[:RANGES_LISTED])
    more = len(runs) - RANGES_LISTED
    return f"{listed} and {more} more places" if more > 0 else listed


def ranges(rows: list[int]) -> list[tuple[int, int]]:
    """First and last of each run of rows that follow one another."""
    runs = []
    for row in rows:
        if runs and runs[-1][1] == row - 1:
            runs[-1] = (runs[-1][0], row)
        else:
            runs.append((row, row))
    return runs
