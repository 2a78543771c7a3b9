"""The key-and-value sheets: Study and Program. A fault on either stops the study."""

from batch import rules, units
from batch.columns import PROGRAM, STUDY
from batch.columns.column import Column, Sheet
from batch.columns.lists import READERS
from batch.findings import ERROR, Findings, Stops, StudyError
from batch.reading.cell_text import is_blank
from batch.reading.column_cells import ColumnCells, quoted
from batch.reading.header import (
    closest_by_words,
    column_letter,
    columns_by_name,
    is_convertible,
    plain_name,
)
from batch.reading.sheet_cells import SheetCells
from batch.reading.typing_cells import typed

NO_SOURCE = "Program sheet, no source given"


def read_study(cells: SheetCells | None, findings: Findings, stops: Stops) -> dict[str, object]:
    """Every key of the Study sheet; None where it is blank or faulty and has no default. Bad cells
    stop the study."""
    values, _ = _read(STUDY, cells, findings, stops) if cells else ({}, {})
    study = {}
    for column in STUDY.columns:
        value = values.get(column.key)
        if value is None and column.default is not None:
            value = column.default  # of the currency, of which there is no other choice
        study[column.key] = int(value) if column.kind == "integer" and value is not None else value
    faulty = {f["key"] for f in findings.rows
              if f["sheet"] == STUDY.name and f["severity"] == ERROR}
    missing = [c.label for c in STUDY.columns
               if c.required and study[c.key] is None and c.key not in faulty]
    if cells and missing:
        stops.add(StudyError(f"The Study sheet does not say: {', '.join(missing)}.",
                             "Fill the cell beside each of these names."), STUDY.name)
    return study


def read_program(cells: SheetCells | None, year: int | None, findings: Findings,
                 stops: Stops) -> rules.Rules:
    """The rules of the year with the Program sheet's other values put over them. Bad cells and a
    year without rules stop the study; the newest year stands in for it, so that the other cells
    are checked all the same."""
    year_rules = year and stops.attempt(STUDY.name, rules.load, year)
    year_rules = year_rules or rules.load(rules.years()[-1])
    if cells is None:
        return year_rules
    values, places = _read(PROGRAM, cells, findings, stops, year_rules)
    changed = {}
    for key, value in values.items():
        column = PROGRAM.by_key[key]
        value = bool(value) if column.kind == "yes/no" else value
        if _is_same(key, value, year_rules[key]):
            continue
        source = places[key].source or NO_SOURCE
        changed[key] = rules.Rule(value, source, origin=rules.WORKBOOK)
        old = rule_text(year_rules[key], column)
        findings.add(
            "rule-changed", f"{places[key].name}: {column.label} is {rule_text(value, column)} "
            f"in place of the year's {old}; source: {source}.", sheet=PROGRAM.name,
            row=places[key].row, column=places[key].letter, key=key, value=value, limit=old)
    in_force = year_rules.replaced(changed)
    stops.attempt(PROGRAM.name, must_agree, in_force,
                  lambda key: places[key].name if key in places else PROGRAM.name)
    return in_force


def places_of(sheet: Sheet, cells: SheetCells | None, year_rules=None) -> dict[str, str]:
    """The address of the value of each key that a key-and-value sheet fills."""
    places = _read(sheet, cells, Findings(), Stops(), year_rules)[1] if cells else {}
    return {key: place.name for key, place in places.items()}


def must_agree(in_force: rules.Rules, place_of):
    """Voltages of one system, and a percentage up to 100. `place_of` names the cell or place
    of a key's value.

    Errors: StudyError naming each value that does not belong.
    """
    faults = [f"{place_of(key)}: {PROGRAM.by_key[key].label} is {text}"
              for key, text in rules.disagreements(in_force).items()]
    if faults:
        raise StudyError(" ".join(faults), "Type voltages of one system, and a percentage up to "
                         "100, or leave these cells blank for the year's.")


def rule_text(value, column: Column) -> str:
    """A rule's value with its unit, as it is printed."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    number = f"{value:,g}" if isinstance(value, (int, float)) and abs(value) < 1e6 else str(value)
    return f"{number} {column.unit}".strip()


def _is_same(key: str, value, year_value) -> bool:
    if key in READERS:
        read = READERS[key][0]
        return read(value) == read(year_value)
    if isinstance(value, float):
        return abs(value - year_value) <= 1e-9 * abs(year_value)
    return value == year_value


class _Place:
    """Where a key's value stands, and the source beside it."""

    def __init__(self, sheet: Sheet, row: int, letter: str, source: str):
        self.row, self.letter, self.source = row, letter, source
        self.name = f"{sheet.name}!{letter}{row}"


def _read(sheet: Sheet, cells: SheetCells, findings: Findings, stops: Stops, year_rules=None):
    """Typed values and places of the filled keys; bad cells stop the study."""
    columns = {header.key: header.index for header in cells.headers if header.column}
    at = columns or {"key": 0, "value": 1}
    by_name = columns_by_name(sheet.columns)
    own = Findings()
    values, places = {}, {}
    for row, row_values in cells.rows:
        entry = {name: row_values[i] for name, i in at.items() if i < len(row_values)}
        raw, names = entry.get("value"), [entry.get("key"), entry.get("label")]
        column = next((by_name[plain_name(n)] for n in names if plain_name(n) in by_name), None)
        if is_blank(raw) and (row, at["value"]) not in cells.formulas:
            continue
        letter = column_letter(at["value"])
        if column is None:
            _unknown_key(sheet, names, row, letter, raw, own)
            continue
        column_cells = _value_cells(sheet, column, row, letter, raw, cells, own)
        if column.key in places:
            column_cells.add("id-repeated", 0, f"repeats the key of row {places[column.key].row}.")
            continue
        source = entry.get("source")
        places[column.key] = _Place(sheet, row, letter, "" if is_blank(source) else str(source))
        values[column.key] = _typed_value(column_cells, entry.get("unit"), year_rules)
    findings.rows.extend(own.rows)
    faults = [f["message"] for f in own.rows if f["severity"] == ERROR]
    if faults:
        word = "values that cannot be used" if len(faults) > 1 else "a value that cannot be used"
        stops.add(StudyError(f"The {sheet.name} sheet has {word}: {' '.join(faults)}",
                             "Mend these cells and run again."), sheet.name)
    return {key: value for key, value in values.items() if value is not None}, places


def _value_cells(sheet, column, row, letter, raw, cells: SheetCells, own: Findings) -> ColumnCells:
    formulas = {r: text for (r, i), text in cells.formulas.items() if column_letter(i) == letter}
    percents = {r for r, i in cells.percent_cells if column_letter(i) == letter}
    return ColumnCells(sheet.name, column, letter, [row], [raw], own, formulas=formulas,
                       percent_rows=percents)


def _typed_value(cells: ColumnCells, unit_word, year_rules):
    """The value of one key; None where it is blank or faulty. A value that the year holds too is
    not held against the usual range or for a fraction, since the year's rules were reviewed."""
    column = cells.column
    word = "" if is_blank(unit_word) else str(unit_word).strip()
    if word and column.is_numeric and not units.same_unit(word, column.unit or word):
        if not is_convertible(word, column.unit):
            words = ", ".join(units.words_like(column.unit)) or "none"
            cells.add("unit-unknown", 0, f"has the unit '{word}', which is not one of: {words}.",
                      limit=column.unit)
            return None
        cells.unit = word
    is_year_value = (year_rules is not None and cells.values[0] == year_rules[column.key]
                     and not cells.unit and not cells.percent_rows & set(cells.rows))
    if is_year_value:
        return year_rules[column.key]
    value = typed(cells)[0]
    return None if value is None or value != value else value


def _unknown_key(sheet: Sheet, names, row: int, letter: str, raw, own: Findings):
    name = next((str(n).strip() for n in names if not is_blank(n)), "")
    near = closest_by_words(name, {text: column.key for column in sheet.columns
                                   for text in (column.label, column.key)})
    hint = f" Closest is '{near}'." if near else ""
    own.add("key-unknown", f"{sheet.name}!{letter}{row}: the key '{name}' is not used.{hint}",
            sheet=sheet.name, row=row, column=letter, key=name, value=quoted(raw), limit=near)
