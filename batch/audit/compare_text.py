"""What `compare` tells of two runs: in the dictionary's labels and units, as text and as tables of
all differences for a workbook."""

from dataclasses import dataclass

from batch.audit.answers import MISSING, ROUNDING, rows_by_name
from batch.audit.audit_text import MOST_LINES, cut, where_they_part
from batch.audit.cell_changes import ROW, RULES_SHEET
from batch.columns import PROGRAM, RESULTS, SHEET_BY_NAME
from batch.columns.column import Column
from batch.shown_text import in_one_line

SHOWN = ("rank", "in_budget", "incentive_usd", "member_saving_usd_yr")
NAMED = ("verdict", "supply_option")  # told behind the others, where they differ
WIDTHS = (14, 12, 14, 20, 20)
ROWS_BY_ONE = 3  # more rows of one column that differ are one line
NO_FARM = "not there"


@dataclass(frozen=True)
class Cell:
    """A value of a table: a number with its decimals, or text with None for them."""

    value: object
    decimals: int | None = None


@dataclass(frozen=True)
class Table:
    """A sheet of differences: its name, what it shows, headers, and rows of values or Cells."""

    name: str
    says: str
    headers: tuple[str, ...]
    rows: list[list]


# --- text -----------------------------------------------------------------------------------------

def compare_text(found, has_workbook: bool = False) -> str:
    """Inputs first, then farms by rank, funding, incentive and saving, then the totals by cause."""
    lines = [f"A  {found.one.path}", f"B  {found.other.path}", "",
             "SAME." if found.is_same else "DIFFERENT.", ""]
    for name, side in (("A", found.one), ("B", found.other)):
        if side.tampering:
            lines += [f"{name} was changed since it was written:",
                      *cut([f"  {change.text}" for change in side.tampering]), ""]
    if found.cells:
        lines += [f"Inputs and rules that differ ({len(found.cells)}):",
                  *cut([f"  {line}" for line in _input_lines(found.cells)]), ""]
    if not found.is_same:
        lines += _farm_lines(found, has_workbook) + _bridge_lines(found.bridge)
    return "\n".join(map(in_one_line, lines)).rstrip()


def _input_lines(cells) -> list[str]:
    """A line per value that differs; many rows of one column are one."""
    groups: dict[tuple, list] = {}
    for cell in cells:
        own = "" if cell.key != ROW else cell.row_name
        groups.setdefault((cell.sheet, cell.key, own), []).append(cell)
    lines = []
    for group in groups.values():
        if len(group) > ROWS_BY_ONE:
            label = _label(group[0])
            lines.append(f"{group[0].sheet}, {label}: {len(group):,} rows, the first "
                         f"{_said(group[0], '')}")
        else:
            lines += [_said(cell, f"{cell.sheet} ") for cell in group]
    return lines


def _said(cell, sheet: str) -> str:
    """One value that differs: where, and what it was and is."""
    name = f"{sheet}{cell.row_name}".strip()
    if cell.key == ROW:
        return f"{name}: " + (f"added in {cell.new}" if cell.old == "" else
                              f"removed, was {cell.old}")
    one, other = cell.places
    where = one if one == other else " and ".join(filter(None, cell.places))
    where = f" ({where})" if where else ""
    label = f", {_label(cell)}" if sheet else ""
    column = _column(cell)
    old, new = where_they_part(*(_input_text(text, column) for text in (cell.old, cell.new)))
    unit = f" {column.unit}" if column and column.unit else ""
    return f"{name}{label}{where}: {old or 'blank'} -> {new or 'blank'}{unit}"


def _column(cell) -> Column | None:
    sheet = PROGRAM if cell.sheet == RULES_SHEET else SHEET_BY_NAME.get(cell.sheet)
    return sheet.by_key.get(cell.key) if sheet else None


def _label(cell) -> str:
    column = _column(cell)
    return column.label if column else cell.key


def _input_text(text: str, column: Column | None) -> str:
    number = _number(text)
    if number is None or column is None:
        return text
    if column.kind == "yes/no":
        return "yes" if number else "no"
    return f"{number:,.10g}" if column.kind == "number" else text


def _farm_lines(found, has_workbook: bool) -> list[str]:
    """A line per farm whose rank, funding, incentive or saving differs as far as it is shown;
    those whose funding changes first."""
    farms = [farm for farm in _farms(found) if farm.differs]
    lines = []
    if farms:
        headers = ["Farm", *(RESULTS.by_key[key].header for key in SHOWN)]
        lines = [f"Farms that differ in these, A -> B ({len(farms)}; "
                 f"{_funding(farms, 'yes')} into the budget, {_funding(farms, 'no')} out of it):",
                 f"  {_in_columns(headers)}"]
        lines += [f"  {farm.line}" for farm in sorted(farms, key=lambda f: f.order)[:MOST_LINES]]
        if len(farms) > MOST_LINES:
            lines.append(f"  ... and {len(farms) - MOST_LINES} more")
    told = {(farm.name, key) for farm in farms for key in farm.keys}
    others = [d for d in found.differences if d.answer != ROUNDING and d.key != "candidate_id"
              and (d.candidate_id, d.key) not in told]
    if others:
        count = len({d.candidate_id for d in others})
        where = "the workbook lists all" if has_workbook else "--workbook FILE.xlsx lists all"
        results = "1 other result differs" if len(others) == 1 else (
            f"{len(others):,} other results differ")
        lines.append(f"{results} on {count} farm{'s' * (count != 1)}; {where}.")
    return [*lines, ""] if lines else []


@dataclass(frozen=True)
class Farm:
    """A farm on both sides: canonical texts by key, None on a side without it."""

    name: str
    old: dict | None
    new: dict | None

    def texts(self, key: str) -> tuple[str, str]:
        """A result on both sides as it is shown."""
        return tuple(NO_FARM if side is None else _shown(key, side.get(key, ""))
                     for side in (self.old, self.new))

    @property
    def keys(self) -> list[str]:
        """What is told of it."""
        return [key for key in (*SHOWN, *NAMED) if len(set(self.texts(key))) > 1]

    @property
    def differs(self) -> bool:
        return bool(self.keys)

    @property
    def funded(self) -> tuple[bool, bool]:
        """Whether it is in the budget, on both sides."""
        return tuple(side is not None and side.get("in_budget") == "yes"
                     for side in (self.old, self.new))

    @property
    def order(self):
        """Farms whose funding changes first, then those of another verdict or option, then by
        rank."""
        ranks = [_number(side["rank"]) for side in (self.new, self.old) if side]
        rank = next((rank for rank in ranks if rank is not None), float("inf"))
        return (len(set(self.funded)) == 1, not set(NAMED) & set(self.keys), rank)

    @property
    def line(self) -> str:
        """Its values side by side; one text where both are the same."""
        cells = [self.name if len(self.name) <= WIDTHS[0] else self.name[:WIDTHS[0] - 3] + "..."]
        if None in (self.old, self.new):
            return f"{cells[0]:{WIDTHS[0]}}  only in {'B' if self.old is None else 'A'}"
        cells += [_arrow(*self.texts(key)) for key in SHOWN]
        cells += ["; ".join(f"{RESULTS.by_key[key].label}: {_arrow(*self.texts(key))}"
                            for key in NAMED if key in self.keys)]
        return _in_columns(cells)


def _in_columns(texts) -> str:
    return "  ".join(f"{text:{width}}" for text, width in zip(texts, (*WIDTHS, 0))).rstrip()


def _farms(found) -> list[Farm]:
    one, other = found.one.standing, found.other.standing
    old, new = rows_by_name(one), rows_by_name(other)
    return [Farm(name, one.loc[old[name]].to_dict() if name in old else None,
                 other.loc[new[name]].to_dict() if name in new else None)
            for name in [*old, *(name for name in new if name not in old)]]


def _funding(farms, to: str) -> int:
    """How many farms come into the budget, or go out of it."""
    return sum(farm.funded == ((False, True) if to == "yes" else (True, False)) for farm in farms)


def _arrow(old: str, new: str) -> str:
    return old if old == new else f"{old} -> {new}"


def _shown(key: str, text: str) -> str:
    """A result as it is shown: whole dollars, and a dash for a blank."""
    column, number = RESULTS.by_key[key], _number(text)
    if not column.is_numeric or number is None:
        return text or "-"
    shown = f"{number:,.0f}"
    return "0" if shown == "-0" else shown


def _number(text) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


def _bridge_lines(steps) -> list[str]:
    """A line per total that moves: what each cause adds, in the order of the bridge."""
    lines = ["Totals over the ranked farms, from A to B; each cause is computed anew, in this "
             "order:"]
    for name, start in steps[0].totals.items():
        label, _, unit = name.partition(" [")
        form = ",.1f" if unit.startswith("kW") else ",.0f"
        still = format(0.0, "+" + form)
        moves = [(cause, format(move, "+" + form)) for cause, move in _moves(steps, name)]
        moves = [(cause, text) for cause, text in moves if text.replace("-", "+") != still]
        if moves:
            said = ", ".join(f"{cause} {text}" for cause, text in moves)
            end = format(steps[-1].totals[name], form)
            lines.append(f"  {label}: {start:{form}} -> {end} {unit.rstrip(']')}".rstrip()
                         + f" ({said})")
    return lines if len(lines) > 1 else ["No total differs as far as it is shown."]


def _moves(steps, name: str) -> list[tuple[str, float]]:
    return [(after.cause, after.totals[name] - before.totals[name])
            for before, after in zip(steps, steps[1:])]


# --- all differences, for a workbook --------------------------------------------------------------

def tables(found) -> list[Table]:
    """All differences, with labels, units, old and new values and how far they differ."""
    return [_farm_table(found), _total_table(found.bridge), _input_table(found.cells),
            _result_table(found.differences)]


def _farm_table(found) -> Table:
    headers, rows = ["Farm"], []
    for key in (*SHOWN, *NAMED):
        header = RESULTS.by_key[key].header
        headers += [f"{header}, A", f"{header}, B"]
        headers += [f"{header}, difference"] if RESULTS.by_key[key].is_numeric else []
    for farm in sorted(_farms(found), key=lambda f: f.order):
        if not farm.differs:
            continue
        row = [farm.name]
        for key in (*SHOWN, *NAMED):
            sides = [NO_FARM if side is None and key == "verdict" else (side or {}).get(key, "")
                     for side in (farm.old, farm.new)]
            column = RESULTS.by_key[key]
            row += _old_new(column, *sides)[:3 if column.is_numeric else 2]
        rows.append(row)
    says = ("Farms whose rank, funding, incentive, saving, verdict or option differs; those whose "
            "funding changes first.")
    return Table("Farms", says, tuple(headers), rows)


def _total_table(steps) -> Table:
    causes = [step.cause for step in steps[1:]]
    rows = []
    for name, start in steps[0].totals.items():
        label, _, unit = name.partition(" [")
        decimals, end = 2 if unit else 0, steps[-1].totals[name]
        numbers = [start, *(move for _, move in _moves(steps, name)), end, end - start]
        rows.append([label, unit.rstrip("]"), *(Cell(number, decimals) for number in numbers)])
    says = ("Counts and sums over the ranked farms, from A to B; each cause is computed anew, in "
            "the order of the columns.")
    return Table("Totals by cause", says,
                 ("Total", "Unit", "A", *(f"by {cause}" for cause in causes), "B", "Difference"),
                 rows)


def _input_table(cells) -> Table:
    rows = []
    for cell in cells:
        column = _column(cell)
        old, new = (_input_text(text, column) if column and column.kind == "yes/no" else text
                    for text in (cell.old, cell.new))
        values = _old_new(column, old, new) if column else [cell.old, cell.new, None]
        rows.append([cell.sheet, cell.row_name, _label(cell), column.unit if column else "",
                     *values, *cell.places])
    return Table("Inputs", "Cells and rules in force that differ.",
                 ("Sheet", "Row", "Value", "Unit", "A", "B", "Difference", "Cell in A",
                  "Cell in B"), rows)


def _result_table(differences) -> Table:
    rows = []
    for difference in differences:
        column = RESULTS.by_key.get(difference.key)
        old, new = (NO_FARM if text == MISSING else text
                    for text in (difference.old, difference.new))
        values = _old_new(column, old, new) if column else [old, new, None]
        rows.append([difference.candidate_id, column.label if column else difference.key,
                     column.unit if column else "", *values, difference.answer])
    return Table("Results", "Every result that differs, farm by farm.",
                 ("Farm", "Result", "Unit", "A", "B", "Difference", "How it differs"), rows)


def _old_new(column: Column, old: str, new: str) -> list:
    """Old value, new value and difference: numbers where the column holds numbers."""
    one, other = (_number(text) if column.is_numeric else None for text in (old, new))
    decimals = 0 if column.kind == "integer" else column.decimals
    cells = [text if number is None else Cell(number, decimals)
             for text, number in ((old, one), (new, other))]
    moved = None if None in (one, other) else Cell(round(other - one, 10), decimals)
    return [*cells, moved]
