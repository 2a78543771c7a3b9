"""A scenario: another policy, other prices or other cells laid over one workbook, from a small TOML
file, a column of the Scenarios sheet, or `--set` of a command.

    name = "Wire half and half"
    KEY = value          # of the Study or Program sheet, in place of the workbook's
    ROW.KEY = value      # a cell of a farm, rate, price, feeder or shared line; "x1.2" multiplies
    FARM = "out"         # as if its row was not there
    [sources]            # key of a rule = the clause or page behind it
    [rules]              # rules may stand in a table of their own
    [prices]             # item of the Unit costs sheet = factor on its prices
    [rates]              # number column of the Rates sheet = factor on it, for all rates
    [candidates]         # one of FACTORED_CANDIDATES = factor on what the rows give

Order: the year's rule, the workbook's Program sheet, the scenario. A scenario run stands beside
the base run in a folder of its own, and its result workbook carries the scenario with it.
"""

import tomllib
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from batch.canonical import digest
from batch.columns import CANDIDATES, PROGRAM, RATES, UNIT_COSTS
from batch.columns.scenarios import SCENARIO, SCENARIOS
from batch.columns.unit_costs import ITEMS
from batch.findings import ERROR, Findings, StudyError
from batch.reading.cell_text import is_blank
from batch.reading.changes import (
    Change,
    change_of_setting,
    changes_of_toml,
    changes_on_sheet,
    factor_of,
    name_text,
    names_on_sheet,
)
from batch.reading.column_cells import ColumnCells, quoted
from batch.reading.header import closest
from batch.reading.key_values import must_agree, rule_text
from batch.reading.laying import LARGEST_FACTOR, MEND, Laid, fifteen_digits, lay
from batch.reading.sheet_cells import SheetCells
from batch.reading.typing_cells import is_unknown, typed
from batch.rules import Rule
from batch.run_names import look_alike

FACTORED_CANDIDATES = ("fuel_price_usd", "season_hours", "gross_depth_in")
FACTORED_RATES = tuple(column.key for column in RATES.columns if column.is_numeric)
KEYS_OF = {"rules": tuple(PROGRAM.by_key), "prices": ITEMS, "rates": FACTORED_RATES,
           "candidates": FACTORED_CANDIDATES}
FACTOR_TABLES = ("prices", "rates", "candidates")
NAME, SOURCES = "name", "sources"
LONGEST_NAME = 40
LARGEST_FILE_BYTES = 1_000_000  # every key with a page of source behind it has a fifth of that
MOST_LISTED = 12
ALL_SCENARIOS = "all"


@dataclass(frozen=True)
class Scenario:
    """What differs from the workbook: rules that replace its own, factors on its numbers by table
    and key, and changes of single values. `remarks` are the findings about its values."""

    name: str
    rules: dict[str, Rule]
    factors: dict[str, dict[str, float]]
    remarks: tuple[dict, ...] = ()
    changes: tuple[Change, ...] = ()

    @property
    def rows(self) -> list[tuple[str, str, str, object, str]]:
        """(sheet, row, key, value, source) of every entry: all that the scenario is."""
        entries = [("", "", NAME, self.name, "")]
        entries += [(PROGRAM.name, "", key, value_said(rule.value), rule.source)
                    for key, rule in self.rules.items()]
        entries += [("", "", f"{table}.{key}", factor, "") for table in FACTOR_TABLES
                    for key, factor in self.factors[table].items()]
        return entries + [(change.sheet, change.row, change.key, change.value, change.source)
                          for change in self.changes]


def value_said(value):
    """A typed value as a scenario says it."""
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else value


def record_options(scenario: Scenario | None) -> dict:
    """What the record holds of a scenario: its name and the hash of its typed content, whatever
    the file's comments and order."""
    if scenario is None:
        return {}
    return {"scenario": {"name": scenario.name, "sha256": digest(sorted(scenario.rows, key=str))}}


# --- reading -------------------------------------------------------------------------------------

def read_scenario(path: str | Path) -> Scenario:
    """The scenario of a TOML file.

    Errors: StudyError naming the file, the key and what is allowed.
    """
    path = Path(path)
    try:
        if path.exists() and not path.is_file():
            raise OSError(0, "it is no regular file")
        if path.exists() and path.stat().st_size > LARGEST_FILE_BYTES:
            raise OSError(0, f"it has more than {LARGEST_FILE_BYTES / 1e6:g} MB")
        content = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as fault:
        raise StudyError(f"The scenario '{path}' cannot be read: {fault.strerror or fault}.",
                         "Check the name and the file's rights.") from fault
    except (ValueError, RecursionError) as fault:  # also a number with thousands of digits
        raise StudyError(f"The scenario '{path}' is not in the form of TOML: {fault}.",
                         "Write lines as key = value below [rules], texts in quotes.") from fault
    return _scenario(content, path.name)


def read_scenarios(asked, settings=(), sheet: SheetCells | None = None) -> list[Scenario]:
    """The scenarios that are asked for: TOML files, columns of the Scenarios sheet by their names
    or 'all' of them, and one of the settings, each as in [ROW.]KEY=VALUE.

    Errors: StudyError where two have one name, or names that a reader takes for one another.
    """
    on_sheet = names_on_sheet(sheet) if sheet else {}
    scenarios, seen = [], {}
    for name in map(str, asked):
        names = list(on_sheet) if name == ALL_SCENARIOS and sheet else [
            one for one in on_sheet if look_alike(one) == look_alike(name)]
        if names and not Path(name).is_file():
            scenarios += [scenario_of_sheet(sheet, one, on_sheet[one]) for one in names]
        else:
            scenarios.append(_of_file(name, on_sheet))
    if settings:
        scenarios.append(scenario_of_settings(settings))
    for scenario in scenarios:
        other = seen.setdefault(look_alike(scenario.name), scenario)
        if other is not scenario:
            alike = ("" if other.name == scenario.name else
                     f", or nearly so: '{other.name}' and '{scenario.name}'")
            raise StudyError(f"Two scenarios are named '{scenario.name}'{alike}.",
                             "Give each a name of its own, other in letters or digits.")
    return scenarios


def scenario_names(sheet: SheetCells | None) -> list[str]:
    """The names above the columns of the Scenarios sheet, good or not."""
    return [header.text for header in sheet.headers if header.text and not header.column] \
        if sheet else []


def _of_file(name: str, on_sheet) -> Scenario:
    """The scenario of a file; where there is none, the sheet's names are told too."""
    if on_sheet and not Path(name).exists():
        raise StudyError(f"'{name}' is no file, and no scenario of the {SCENARIOS.name} sheet.",
                         f"The sheet has: {', '.join(on_sheet)}.")
    return read_scenario(name)


def scenario_of_sheet(sheet: SheetCells, name: str, index: int) -> Scenario:
    """One column of the Scenarios sheet."""
    own = _name(name, f"{SCENARIOS.name}!{sheet.headers[index].letter}{sheet.header_row}")
    return Scenario(own, {}, _no_factors(), changes=tuple(changes_on_sheet(sheet, index)))


def scenario_of_settings(settings) -> Scenario:
    """The scenario of one or more `--set`, named by what they say."""
    changes = tuple(map(change_of_setting, settings))
    name = ", ".join(" ".join(text.split()) for text in settings)
    if len(name) > LONGEST_NAME:  # what tells it from another one is in its hash
        name = f"{name[:LONGEST_NAME - 11]}... {digest(list(settings))[:6]}"
    return Scenario(name, {}, _no_factors(), changes=changes)


def _no_factors() -> dict[str, dict[str, float]]:
    return {table: {} for table in FACTOR_TABLES}


def study_name(name: str, scenario: Scenario | None) -> str:
    """The name of a study under a scenario, which names its run folder."""
    return name if scenario is None else f"{name} {scenario.name}"


def scenario_of_result(cells: SheetCells) -> Scenario:
    """The scenario that a result workbook carries on its Scenario sheet."""
    at = {header.key: header.index for header in cells.headers if header.column}
    content, changes = {SOURCES: {}}, []
    for place, values in cells.rows:
        sheet, row, key, value, source = (
            None if name not in at or is_blank(values[at[name]]) else values[at[name]]
            for name in ("sheet", "row", "key", "value", "source"))
        table, _, inner = str(key).partition(".")
        if sheet is not None:
            changes.append(Change(_text(row), _text(key), value, f"{SCENARIO.name}, row {place}",
                                  str(sheet), _text(source)))
        elif inner:
            content.setdefault(table, {})[inner] = value
        else:
            content[table] = value
    return _scenario(content, f"the {SCENARIO.name} sheet", changes)


def _text(value) -> str:
    return "" if value is None else name_text(value)


def _scenario(content: dict, where: str, changes=()) -> Scenario:
    """Check everything against the dictionary, tables and keys first."""
    name = _name(content.get(NAME), where)
    known = [NAME, SOURCES, *KEYS_OF]
    _must_be_known([entry for entry in content if content[entry] == {}], known, "entry", where)
    tables = {table: content.get(table, {}) for table in (SOURCES, *KEYS_OF)}
    for table, entries in tables.items():
        if not isinstance(entries, dict):
            raise StudyError(f"{where}: '{table}' is not a table.", f"Write it as [{table}].")
        if table != SOURCES:
            _must_be_known(entries, KEYS_OF[table], f"key of [{table}]", where)
    changes = [*changes, *changes_of_toml(
        {entry: value for entry, value in content.items() if entry not in known}, where)]
    sources = tables[SOURCES]
    said = {change.key for change in changes if not change.row} & set(PROGRAM.by_key)
    _check_sources(sources, said | set(tables["rules"]), where)
    own = Findings()
    values = {key: _typed(key, value, where, own) for key, value in tables["rules"].items()}
    faults = [f["message"] for f in own.rows if f["severity"] == ERROR]
    factors = {table: {key: _factor(table, key, value, where, faults)
                       for key, value in tables[table].items()} for table in FACTOR_TABLES}
    if faults:
        raise StudyError(" ".join(faults), MEND)
    rules = {key: Rule(value, sources.get(key, f"scenario {name}, no source given"),
                       f"scenario {name}") for key, value in values.items()}
    changes = [replace(change, source=change.source or sources.get(change.key, ""))
               for change in changes]
    return Scenario(name, rules, factors, tuple(own.rows), tuple(changes))


def _name(name, where) -> str:
    if not isinstance(name, str) or not name.strip() or len(name) > LONGEST_NAME:
        raise StudyError(f"{where}: 'name' must be a text of 1 to {LONGEST_NAME} characters.",
                         "Name the scenario in its first line: name = \"...\".")
    return " ".join(name.split())


def _must_be_known(entries, known, what: str, where: str):
    """Errors: StudyError naming the first unknown key, the closest known one or all of them."""
    unknown = next((key for key in entries if key not in known), None)
    if unknown is None:
        return
    near = closest(unknown, known)
    allowed = (f"one of: {', '.join(known)}" if len(known) <= MOST_LISTED
               else "a key that 'farmbatch columns' lists")
    raise StudyError(f"{where}: '{unknown}' is not a known {what}."
                     + (f" Closest is '{near}'." if near else ""), f"It must be {allowed}.")


def _check_sources(sources: dict, rules, where: str):
    for key, text in sources.items():
        if key not in rules:
            raise StudyError(f"{where}: [sources] names '{key}', a rule that is not set.",
                             "Set the rule, or leave its source out.")
        if not isinstance(text, str) or not text.strip():
            raise StudyError(f"{where}: the source of '{key}' is not a text.",
                             "Write the clause or page behind the rule, in quotes.")


class _RuleCells(ColumnCells):
    """One rule of a scenario, named by its key."""

    def place(self, i: int) -> str:
        return f"{self.sheet}, {self.column.key} ({self.column.label})"


def _typed(key: str, value, where: str, own: Findings):
    """A rule's value by the dictionary: kind, bounds, choices, list texts; faults go to `own`."""
    cells = _RuleCells(where, PROGRAM.by_key[key], "", [None], [value], own)
    before = len(own.rows)
    answer = typed(cells)
    if is_unknown(answer)[0]:
        if not any(f["severity"] == ERROR for f in own.rows[before:]):
            cells.add("value-missing", 0, "has no value.")
        return None
    if cells.column.kind == "yes/no":
        return bool(answer[0])
    return fifteen_digits(answer[0]) if cells.column.is_numeric else answer[0]


def _factor(table: str, key: str, value, where: str, faults: list[str]) -> float:
    value = value if factor_of(value) is None else factor_of(value)
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
    if not is_number or not 0 <= value <= LARGEST_FACTOR:
        faults.append(f"{where}: [{table}] '{key}' is {quoted(value)}; it must be a factor from 0 "
                      f"to {LARGEST_FACTOR:g}.")
        return np.nan
    return fifteen_digits(value)


# --- laying it over a workbook -------------------------------------------------------------------

def apply(inputs, scenario: Scenario):
    """The validated inputs with a scenario over them; what was given stays as it is.

    Errors: StudyError where the workbook carries a scenario already, or a factor takes a number
    beyond the dictionary's bounds.
    """
    if inputs.scenario is not None:
        raise StudyError(f"The workbook is the result of the scenario '{inputs.scenario.name}'.",
                         "Lay the other scenario over the workbook that it was made from.")
    laid = lay(scenario.changes, scenario.name, inputs)
    twice = laid.rules.keys() & scenario.rules.keys()
    if twice:
        raise StudyError(f"Scenario '{scenario.name}' sets '{min(twice)}' twice.",
                         "Keep one of the two.")
    scenario = replace(scenario, changes=tuple(laid.changes))
    read = inputs.read_with(laid) if laid.needs_reading else inputs
    _must_fit(laid, read)
    findings = Findings([*read.findings.rows, *scenario.remarks, *laid.remarks])
    _note_changes(inputs, scenario, findings)
    _note_what_changes_nothing(read, scenario, findings)
    unit_costs, rates, candidates = _with_factors(read, scenario)
    study = {**read.study, **laid.study,
             "study_name": study_name(inputs.study["study_name"], scenario)}
    rules = read.rules if "rules_year" in laid.study else inputs.rules
    in_force = rules.replaced(laid.rules | scenario.rules)
    must_agree(in_force, lambda key: f"Scenario '{scenario.name}', {key}")
    return replace(read, study=study, rules=in_force, unit_costs=unit_costs, rates=rates,
                   candidates=candidates, findings=findings, scenario=scenario, laid=laid)


def _must_fit(laid: Laid, inputs):
    """Errors: StudyError where a changed cell does not fit the others, as in a rate that is not
    on the Rates sheet."""
    faults = [f"{laid.places[place]}: {f['message']}" for f in inputs.findings.rows
              for place in [(f["sheet"], f["row"], f["key"])]
              if f["severity"] == ERROR and place in laid.places]
    if faults:
        raise StudyError(" ".join(faults), MEND)


def _with_factors(inputs, scenario: Scenario):
    """The tables with the scenario's factors on their columns."""
    unit_costs, rates, candidates = (inputs.unit_costs.copy(), inputs.rates.copy(),
                                     inputs.candidates.copy())
    for item, factor in scenario.factors["prices"].items():
        _multiply(unit_costs, UNIT_COSTS, "price_usd", factor, unit_costs["item"] == item,
                  f"'{item}'", scenario)
    for key, factor in scenario.factors["rates"].items():
        _multiply(rates, RATES, key, factor, rates[key].notna(), f"'{key}'", scenario)
    for key, factor in scenario.factors["candidates"].items():
        _multiply(candidates, CANDIDATES, key, factor, candidates[key].notna(), f"'{key}'",
                  scenario)
    return unit_costs, rates, candidates


def _note_what_changes_nothing(inputs, scenario: Scenario, findings: Findings):
    """Factors on what the workbook does not hold: no row of the item, no number in the column."""
    def add(table, key, text):
        findings.add("scenario-without-effect", f"Scenario '{scenario.name}': the factor on "
                     f"'{key}' of [{table}] changes nothing, as {text}.", sheet=SCENARIO.name,
                     key=key, value=scenario.factors[table][key])

    for item in scenario.factors["prices"]:
        if item not in set(inputs.unit_costs["item"]):
            add("prices", item, f"no row of the {UNIT_COSTS.name} sheet prices it")
    for table, sheet, rows in (("rates", RATES, inputs.rates),
                               ("candidates", CANDIDATES, inputs.candidates)):
        for key in scenario.factors[table]:
            values = rows[key].dropna()
            if (values == 0).all():
                what = "only zeros" if len(values) else "no number"
                add(table, key, f"the column '{sheet.by_key[key].label}' of the {sheet.name} sheet "
                    f"has {what}")


def _multiply(table, sheet, key: str, factor: float, rows, named: str, scenario: Scenario):
    """Multiply a column on some rows, in place, within the bounds of the dictionary."""
    column = sheet.by_key[key]
    values = table.loc[rows, key] * factor
    low = -np.inf if column.minimum is None else column.minimum
    high = np.inf if column.maximum is None else column.maximum
    beyond = values[(values < low) | (values > high)]
    if len(beyond):
        raise StudyError(
            f"Scenario '{scenario.name}': the factor {factor:g} on {named} takes {sheet.name} row "
            f"{beyond.index[0]} to {beyond.iloc[0]:,.6g} {column.unit}, beyond {low:g} to "
            f"{high:g}.", MEND)
    table.loc[rows, key] = values


def _note_changes(inputs, scenario: Scenario, findings: Findings):
    """One note for each entry of the scenario."""
    for key, rule in scenario.rules.items():
        column = PROGRAM.by_key[key]
        new, old = rule_text(rule.value, column), rule_text(inputs.rules[key], column)
        findings.add("scenario-changed", f"Scenario '{scenario.name}': {column.label} is {new} in "
                     f"place of {old}; source: {rule.source}.", sheet=SCENARIO.name, key=key,
                     value=rule.value, limit=old)
    for table, factors in scenario.factors.items():
        for key, factor in factors.items():
            findings.add("scenario-changed", f"Scenario '{scenario.name}': {table} '{key}' times "
                         f"{factor:g}.", sheet=SCENARIO.name, key=key, value=factor)
