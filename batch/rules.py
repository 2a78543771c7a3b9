"""Dated rule sets: one file per program year in `batch/data/rules`, each value with its source."""

import tomllib
from dataclasses import dataclass, field
from importlib.resources import files

from batch.columns.column import Column
from batch.columns.lists import READERS
from batch.columns.program import PROGRAM
from batch.economics.incentive import PERCENT
from batch.findings import StudyError

FOLDER = files("batch.data.rules")
YEAR, WORKBOOK = "year's rule", "Program sheet"
# Nominal voltage of a system and rated voltage of its motors: ANSI C84.1, NEMA MG 1.
MOTOR_VOLTAGE_V = {240: 230, 480: 460, 600: 575}
LIMITS_IN_VOLTS = ("service_voltage_low_v", "service_voltage_high_v", "end_tower_minimum_v",
                   "end_tower_advised_v")
LIMIT_VOLTAGE_SHARE = (0.7, 1.2)  # of the service voltage; wide enough for any cooperative's own


@dataclass(frozen=True)
class Rule:
    """One value in force, the clause behind it, and whether the year or the workbook set it."""

    value: object
    source: str
    origin: str = YEAR


@dataclass(frozen=True)
class Rules:
    """The rules in force for one study. `rules["key"]` is the value."""

    year: int
    title: str
    is_closed: bool
    by_key: dict[str, Rule] = field(repr=False)

    def __getitem__(self, key):
        return self.by_key[key].value

    def source(self, key: str) -> str:
        """The clause or document behind a value."""
        return self.by_key[key].source

    def replaced(self, values: dict[str, Rule]) -> "Rules":
        """The same year with values of the workbook put over it."""
        return Rules(self.year, self.title, self.is_closed, {**self.by_key, **values})


def value_text(value) -> str:
    """A rule's value as text from which `value_of` gets it back."""
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else f"{value}"


def value_of(text, column: Column):
    """A rule's value from its text. Errors: ValueError where the text is no such value."""
    text = str(text)
    if column.kind == "yes/no":
        return {"yes": True, "no": False}[text] if text in ("yes", "no") else _not_a_value(text)
    if column.is_numeric:
        value = int(text) if text.lstrip("-").isdigit() else float(text)
        is_within = column.minimum <= value <= column.maximum  # not so for one that is no number
        return value if is_within else _not_a_value(
            text, f"a number from {column.minimum:g} to {column.maximum:g}")
    if column.key in READERS:
        READERS[column.key][0](text)
    return text if not column.choices or text in column.choices else _not_a_value(text)


def _not_a_value(text, what="one of the choices"):
    raise ValueError(f"{text!r} is not {what}")


def years() -> list[int]:
    """The program years that have a rule file, oldest first."""
    return sorted(int(entry.name.removesuffix(".toml")) for entry in FOLDER.iterdir()
                  if entry.name.endswith(".toml"))


def load(year: int) -> Rules:
    """The rule set of a year. Errors: StudyError for a year without a file; ValueError for a
    rule file that misses a key, holds an unknown one, or a value out of its bounds."""
    if year not in years():
        known = ", ".join(str(y) for y in years())
        raise StudyError(f"There are no rules for the year {year}.",
                         f"Set rules_year on the Study sheet to one of: {known}.")
    data = tomllib.loads((FOLDER / f"{year}.toml").read_text(encoding="utf-8"))
    rules = {key: Rule(entry["value"], entry["source"]) for key, entry in data["rules"].items()}
    if data["is_closed"]:
        rules = completed(rules)
    _must_fit_dictionary(rules, year)
    return Rules(data["year"], data["title"], data["is_closed"], rules)


def completed(rules: dict[str, Rule]) -> dict[str, Rule]:
    """A closed year's rules with the keys that came after it: each at its column's default, which
    keeps the results of the years before it."""
    return {**{column.key: Rule(column.default, "not yet a rule in that year: " + column.source)
               for column in PROGRAM.columns if column.default is not None}, **rules}


def disagreements(rules: Rules) -> dict[str, str]:
    """What does not belong together among the rules: key and what is wrong, in words."""
    wrong = voltage_disagreements(rules)
    amount = rules["incentive_amount"]
    if rules["incentive_basis"] == PERCENT and amount > 100:
        wrong["incentive_amount"] = (f"{amount:,g}; as a {PERCENT} it is a percentage "
                                     "from 0 to 100.")
    return wrong


def voltage_disagreements(rules: Rules) -> dict[str, str]:
    """What does not belong together among the rules in volts: key and what is wrong, in words."""
    service_v, motor_v = rules["service_voltage_v"], rules["motor_voltage_v"]
    if service_v not in MOTOR_VOLTAGE_V:
        systems = ", ".join(f"{volts:g}" for volts in MOTOR_VOLTAGE_V)
        return {"service_voltage_v": f"{service_v:g} V; the systems are {systems} V."}
    rated_v = MOTOR_VOLTAGE_V[service_v]
    wrong = {}
    if motor_v != rated_v:
        wrong["motor_voltage_v"] = (f"{motor_v:g} V; motors on a service of {service_v:g} V are "
                                    f"rated {rated_v:g} V.")
    low_v, high_v = (share * service_v for share in LIMIT_VOLTAGE_SHARE)
    for key in LIMITS_IN_VOLTS:
        if not low_v <= rules[key] <= high_v:
            wrong[key] = (f"{rules[key]:g} V; on a service of {service_v:g} V it is a voltage from "
                          f"{low_v:g} to {high_v:g} V.")
    return wrong


def _must_fit_dictionary(rules: dict[str, Rule], year: int):
    """A faulty rule file stops the run; it never becomes a finding about a farm."""
    missing, unknown = PROGRAM.by_key.keys() - rules.keys(), rules.keys() - PROGRAM.by_key.keys()
    if missing or unknown:
        raise ValueError(
            f"rules {year}: missing {sorted(missing)}, unknown {sorted(unknown)}; an open year's "
            "file states every key, a closed year takes the key's default from columns/program.py")
    for key, rule in rules.items():
        column = PROGRAM.by_key[key]
        if not rule.source:
            raise ValueError(f"rules {year}: {key} has no source")
        if column.choices and rule.value not in column.choices:
            raise ValueError(f"rules {year}: {key} = {rule.value!r} is not one of the choices")
        if column.is_numeric and not column.minimum <= rule.value <= column.maximum:
            raise ValueError(f"rules {year}: {key} = {rule.value} is out of bounds")
