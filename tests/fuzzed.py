"""Workbooks of plausible and of wild cells, drawn by hypothesis. All data is invented."""

import datetime

from hypothesis import strategies as st

from batch.columns import (
    CANDIDATES,
    FEEDERS,
    LIMITS,
    PROGRAM,
    RATES,
    SHARED_LINES,
    STUDY,
    UNIT_COSTS,
)

ODD_TEXT = (
    "1,300", "1.300,5", "12,5", " 140\xa0", "140 ft", "42 m", "1e3", "-0", "1e400", "nan", "inf",
    "NA", "n/a", "#DIV/0!", "#N/A", "Err:502", "'12", "$3.60", "75 %", "0.75", "½", "١٢", "𝟗",
    "=1+1", "=1/0", "@SUM(A1)", "+1", "-2+3", "<b>x</b>", "{{ 7*7 }}", "\u202eabc", "\u200b",
    "\ufeff",
    "a\tb", "a\nb", "_x000D_", "yes", "TRUE", "2026-02-30", "2026-04-30", "Diesel  Engine", "none",
    "auto", "IRR", "F-1", "EXAMPLE", "Flow [gal/min]", "6-9", "all", "13", "x" * 400, "[", "]",
    "%", "\\", "..", "con", "'", '"', "\U0001f33d", "é" * 3)
LEAST_DAY = datetime.datetime(1900, 3, 1)


def odd_cells():
    """Anything that a spreadsheet cell can hold."""
    letters = st.characters(exclude_categories=("Cs", "Cc"), exclude_characters="\ufffe\uffff")
    return st.one_of(
        st.sampled_from(ODD_TEXT), st.text(letters, max_size=12), st.booleans(), st.none(),
        st.integers(-10**18, 10**18), st.floats(allow_nan=False, allow_infinity=False),
        st.sampled_from((0, -1, 1e-300, 1e-9, 0.5, 1, 99.9, 1e6, 1e15, 1.7e308)),
        st.datetimes(LEAST_DAY, datetime.datetime(2199, 12, 31)), st.times(),
        st.dates(LEAST_DAY.date(), datetime.date(2199, 12, 31)),
        st.timedeltas(datetime.timedelta(0), datetime.timedelta(9999)))


def allowed_cells(column):
    """A value that the dictionary allows in a column, the bounds themselves included."""
    if column.kind == "choice":
        return st.sampled_from(column.choices)
    if column.kind == "yes/no":
        return st.sampled_from(("yes", "no"))
    if column.kind == "date":
        return st.dates(datetime.date(1990, 1, 1), datetime.date(2030, 12, 31))
    if column.kind == "text":
        text = column.example if column.key != "candidate_id" else "A-1"
        return st.sampled_from((text or "some text", "Ñandú"))
    low, high = column.minimum or 0, min(column.maximum or 1e6, 1e9)
    if column.kind == "integer":
        return st.integers(int(low), int(high))
    usual = st.floats(*column.usual) if column.usual else st.floats(low, high)
    return st.one_of(st.sampled_from((low, high)), usual, st.floats(low, high))


def _changes(sheet, cells, most):
    """Some cells of a row: key -> value."""
    columns = st.lists(st.sampled_from(sheet.columns), max_size=most, unique_by=lambda c: c.key)
    return columns.flatmap(lambda some: st.fixed_dictionaries({c.key: cells(c) for c in some}))


def candidate_rows(cells, most_changes, most_rows, least_rows=1):
    """Rows of the Candidates sheet, each with some cells other than the example's."""
    return st.lists(_changes(CANDIDATES, cells, most_changes), min_size=least_rows,
                    max_size=most_rows)


def any_cells(column):
    """Blank, allowed, or odd."""
    return st.one_of(st.none(), allowed_cells(column), odd_cells())


def allowed_or_blank(column):
    """Allowed, or blank where the column may be."""
    if column.required or column.key in ("gross_depth_in", "fuel_price_usd"):
        return allowed_cells(column)
    return st.one_of(st.none(), allowed_cells(column))


def other_sheets(cells):
    """Changes of the other sheets: arguments of `candidate_workbook` to be merged by it."""
    def few(sheet):
        return st.one_of(st.just({}), _changes(sheet, cells, 2))

    return st.fixed_dictionaries({
        "rates": few(RATES), "unit_costs": few(UNIT_COSTS), "feeders": few(FEEDERS),
        "shared_lines": few(SHARED_LINES), "limits": few(LIMITS), "study": few(STUDY),
        "program": few(PROGRAM)})
