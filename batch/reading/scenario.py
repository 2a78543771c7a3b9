"""A scenario: another policy or other prices laid over one workbook, from a small TOML file.

    name = "Wire half and half"
    [rules]       # key of the Program sheet = value, in place of the workbook's
    [sources]     # key of a rule above = the clause or page behind it
    [prices]      # item of the Unit costs sheet = factor on its prices
    [rates]       # number column of the Rates sheet = factor on it, for all rates
    [candidates]  # one of FACTORED_CANDIDATES = factor on what the rows give

Order: the year's rule, the workbook's Program sheet, the scenario. A scenario run stands beside
the base run in a folder of its own, and its result workbook carries the scenario with it.
"""

import tomllib
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from batch.canonical import digest
from batch.columns import CANDIDATES, PROGRAM, RATES, UNIT_COSTS
from batch.columns.unit_costs import ITEMS
from batch.findings import ERROR, Findings, StudyError
from batch.reading.cell_text import is_blank
from batch.reading.cells import SCENARIO
from batch.reading.column_cells import ColumnCells, quoted
from batch.reading.header import closest
from batch.reading.key_values import must_agree, rule_text
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
LARGEST_FACTOR, LONGEST_NAME = 100.0, 40
LARGEST_FILE_BYTES = 1_000_000  # every key with a page of source behind it has a fifth of that
MOST_LISTED = 12
MEND = "Mend the scenario and run again."


@dataclass(frozen=True)
class Scenario:
    """What differs from the workbook: rules that replace its own, and factors on its numbers by
    table and key. `remarks` are the findings about its values."""

    name: str
    rules: dict[str, Rule]
    factors: dict[str, dict[str, float]]
    remarks: tuple[dict, ...] = ()

    @property
    def rows(self) -> list[tuple[str, object, str]]:
        """(key, value, source) of every entry: all that the scenario is."""
        entries = [(NAME, self.name, "")]
        entries += [(f"rules.{key}", rule.value, rule.source) for key, rule in self.rules.items()]
        return entries + [(f"{table}.{key}", factor, "") for table in FACTOR_TABLES
                          for key, factor in self.factors[table].items()]


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


def read_scenarios(paths) -> list[Scenario]:
    """The scenarios of several TOML files. Errors: StudyError where two have one name, or names
    that a reader takes for one another."""
    scenarios, seen = [read_scenario(path) for path in paths], {}
    for scenario in scenarios:
        other = seen.setdefault(look_alike(scenario.name), scenario)
        if other is not scenario:
            alike = ("" if other.name == scenario.name else
                     f", or nearly so: '{other.name}' and '{scenario.name}'")
            raise StudyError(f"Two scenarios are named '{scenario.name}'{alike}.",
                             "Give each a name of its own, other in letters or digits.")
    return scenarios


def study_name(name: str, scenario: Scenario | None) -> str:
    """The name of a study under a scenario, which names its run folder."""
    return name if scenario is None else f"{name} {scenario.name}"


def scenario_of_result(cells: SheetCells) -> Scenario:
    """The scenario that a result workbook carries on its Scenario sheet."""
    at = {header.key: header.index for header in cells.headers if header.column}
    content = {SOURCES: {}}
    for _, values in cells.rows:
        key, value, source = (values[at[name]] if name in at else None
                              for name in ("key", "value", "source"))
        table, _, inner = str(key).partition(".")
        if inner:
            content.setdefault(table, {})[inner] = value
            if table == "rules" and not is_blank(source):
                content[SOURCES][inner] = str(source)
        else:
            content[table] = value
    return _scenario(content, f"the {SCENARIO.name} sheet")


def _scenario(content: dict, where: str) -> Scenario:
    """Check everything against the dictionary, tables and keys first."""
    name = _name(content.get(NAME), where)
    _must_be_known(content, [NAME, SOURCES, *KEYS_OF], "entry", where)
    tables = {table: content.get(table, {}) for table in (SOURCES, *KEYS_OF)}
    for table, entries in tables.items():
        if not isinstance(entries, dict):
            raise StudyError(f"{where}: '{table}' is not a table.", f"Write it as [{table}].")
        if table != SOURCES:
            _must_be_known(entries, KEYS_OF[table], f"key of [{table}]", where)
    _check_sources(tables[SOURCES], tables["rules"], where)
    own = Findings()
    values = {key: _typed(key, value, where, own) for key, value in tables["rules"].items()}
    faults = [f["message"] for f in own.rows if f["severity"] == ERROR]
    factors = {table: {key: _factor(table, key, value, where, faults)
                       for key, value in tables[table].items()} for table in FACTOR_TABLES}
    if faults:
        raise StudyError(" ".join(faults), MEND)
    rules = {key: Rule(value, tables[SOURCES].get(key, f"scenario {name}, no source given"),
                       f"scenario {name}") for key, value in values.items()}
    return Scenario(name, rules, factors, tuple(own.rows))


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


def _check_sources(sources: dict, rules: dict, where: str):
    for key, text in sources.items():
        if key not in rules:
            raise StudyError(f"{where}: [sources] names '{key}', which [rules] does not set.",
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
    return _fifteen_digits(answer[0]) if cells.column.is_numeric else answer[0]


def _factor(table: str, key: str, value, where: str, faults: list[str]) -> float:
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
    if not is_number or not 0 <= value <= LARGEST_FACTOR:
        faults.append(f"{where}: [{table}] '{key}' is {quoted(value)}; it must be a factor from 0 "
                      f"to {LARGEST_FACTOR:g}.")
        return np.nan
    return _fifteen_digits(value)


def _fifteen_digits(value) -> float:
    """As many digits as a workbook keeps, so that a scenario read back is the same one."""
    return float(f"{value:.15g}")


# --- laying it over a workbook -------------------------------------------------------------------

def apply(inputs, scenario: Scenario):
    """The validated inputs with a scenario over them; what was given stays as it is.

    Errors: StudyError where the workbook carries a scenario already, or a factor takes a number
    beyond the dictionary's bounds.
    """
    if inputs.scenario is not None:
        raise StudyError(f"The workbook is the result of the scenario '{inputs.scenario.name}'.",
                         "Lay the other scenario over the workbook that it was made from.")
    findings = Findings([*inputs.findings.rows, *scenario.remarks])
    _note_changes(inputs, scenario, findings)
    _note_what_changes_nothing(inputs, scenario, findings)
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
    study = {**inputs.study, "study_name": study_name(inputs.study["study_name"], scenario)}
    in_force = inputs.rules.replaced(scenario.rules)
    must_agree(in_force, lambda key: f"Scenario '{scenario.name}', {key}")
    return replace(inputs, study=study, rules=in_force,
                   unit_costs=unit_costs, rates=rates, candidates=candidates, findings=findings,
                   scenario=scenario)


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
