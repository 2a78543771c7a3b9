"""What blank cells took: told as a finding for each row, and printed as a line for each sheet."""

import re
from collections import Counter, defaultdict

from batch.columns.column import Column
from batch.findings import CATALOGUE, Findings

SLUG = "defaults-taken"
BETWEEN = "; "


class Defaults:
    """The defaults that cells of a sheet's rows took, in the order of the columns."""

    def __init__(self):
        self._taken: dict[int, list[str]] = defaultdict(list)

    def take(self, row: int, column: Column, value):
        """Keep that the cell of a row was blank and took a value."""
        self._taken[row].append(f"{column.label} {value_text(column, value)}")

    def tell(self, sheet: str, ids: dict[int, str], findings: Findings):
        """One finding for each row that took any."""
        for row, taken in sorted(self._taken.items()):
            findings.add(SLUG, f"{sheet}, row {row}: {_counted(len(taken))} "
                         f"{BETWEEN.join(taken)}.", sheet=sheet, row=row,
                         value=f"{len(taken)} cells", candidate_id=ids.get(row) or "")


def value_text(column: Column, value) -> str:
    """A default with its unit, as it is printed."""
    if column.kind == "yes/no":
        return "yes" if value else "no"
    return f"{value} {column.unit}".strip()


def of_a_sheet(told: list[dict]) -> str:
    """The findings about the defaults of one sheet's rows as one sentence: each default once, with
    the rows that took it where not all did."""
    remedy = CATALOGUE[SLUG].remedy
    rows_of = Counter(default for finding in told for default in re.split(
        " the defaults?: ", finding["message"])[1].removesuffix(f". {remedy}").split(BETWEEN))
    taken = BETWEEN.join(
        default if count == len(told) else f"{default} ({count:,} row{'s' if count > 1 else ''})"
        for default, count in rows_of.items())
    rows = "1 row" if len(told) == 1 else f"{len(told):,} rows"
    return (f"{told[0]['sheet']}, {rows}: {_counted(sum(rows_of.values()))} {taken}. "
            f"{remedy}")


def _counted(count: int) -> str:
    return ("1 blank cell takes the default:" if count == 1
            else f"{count:,} blank cells take the defaults:")
