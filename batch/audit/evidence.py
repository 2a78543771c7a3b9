"""What has changed since a result was written: cells, rules, files, tables, dictionary, program."""

from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from batch import rules
from batch.audit.stored import Stored, looks_as_written, read_stored
from batch.canonical import csv_text, digest
from batch.columns import PROGRAM as PROGRAM_SHEET
from batch.findings import StudyError
from batch.reading.cells import copy_name
from batch.reading.guard import WorkbookFile, check_file
from batch.reading.key_values import must_agree
from batch.reading.validate import Inputs, validate
from batch.rules import Rule, Rules, value_of
from batch.writing import record
from batch.writing.record import RECORD
from batch.writing.workbook.contents import PROGRAM_NAME

RESULT, RESULTS_FILE = "result.xlsx", "results.csv"
NEEDED_RESULTS = ("candidate_id", "verdict", "rank", "in_budget")
AS_WRITTEN = "Take the folder as it was written."
MOST_TOLD = 10
INPUT, RULE, RESULT_CELL, SHOWN = "input", "rule", "result", "shown value"
RECORDED, FILE, BYTES = "record", "file", "bytes"
TABLE, DICTIONARY, PROGRAM, LIBRARY, YEAR_FILE = (
    "table", "dictionary", "program version", "library version", "rule file")
# Somebody changed what was written: a fault, whether results differ or not.
TAMPERING = (INPUT, RULE, RESULT_CELL, SHOWN, RECORDED, FILE)


@dataclass(frozen=True)
class Change:
    """One change since the result was written; `place` is its cell or file where it has one."""

    kind: str
    place: str
    text: str


@dataclass
class Evidence:
    """A stored result, its inputs with the rules that it carries, its results in canonical text
    (of results.csv in a run folder, else of the Results sheet), and all changes since it was
    written."""

    stored: Stored
    inputs: Inputs
    results: pd.DataFrame
    changes: list[Change]

    def of_kind(self, *kinds: str) -> list[Change]:
        """The changes of some kinds, in the order in which they were found."""
        return [change for change in self.changes if change.kind in kinds]

    @property
    def is_tampered(self) -> bool:
        return bool(self.of_kind(*TAMPERING))


def gather(path: str | Path | WorkbookFile) -> Evidence:
    """Read a run folder or a result workbook and compare everything in it with its hashes.

    Errors: StudyError where it cannot be computed again, naming what is missing.
    """
    folder = whole = None
    if not isinstance(path, WorkbookFile):
        folder, path = Path(path) if Path(path).is_dir() else None, _workbook_of(Path(path))
        whole = record.read_record(folder / RECORD) if folder else None
    file = check_file(path)
    stored = read_stored(file)
    key_at = {line.place: key for key, line in stored.rules.items()}
    changes = [_cell_change(cell, key_at) for cell in stored.changes]
    try:
        inputs = validate(file)
        inputs = replace(inputs, rules=carried_rules(stored, inputs.rules))
    except StudyError as stop:
        raise _told_with(stop, changes) from stop
    changes += _record_changes(stored, inputs, changes)
    if folder:
        changes += _file_changes(folder, whole, stored, has_changed_cells=bool(stored.changes))
    elif not looks_as_written(file):
        changes.append(_other_bytes())
    changes += _program_changes(stored, whole)
    return Evidence(stored, inputs, _results(folder, stored), changes)


def _results(folder: Path | None, stored: Stored) -> pd.DataFrame:
    """The results that are compared; labels are the rows of the Results sheet."""
    if folder is None or not (folder / RESULTS_FILE).exists():
        return stored.results
    results = _read_results(folder / RESULTS_FILE)
    if len(results) == len(stored.results):
        results.index = stored.results.index
    return results


def _read_results(path: Path) -> pd.DataFrame:
    """The results file in canonical text. Errors: StudyError where it is none."""
    try:
        results = pd.read_csv(path, dtype=str, keep_default_na=False, index_col=False)
    except OSError as fault:
        raise StudyError(f"{path} cannot be read: {fault.strerror or fault}.",
                         AS_WRITTEN) from fault
    except ValueError as fault:  # no text, or not in the form of CSV
        raise StudyError(f"{path} is no file of results: {' '.join(str(fault).split())}.",
                         AS_WRITTEN) from fault
    missing = [key for key in NEEDED_RESULTS if key not in results]
    if missing:
        raise StudyError(f"{path} is no file of results: it has no {', '.join(missing)}.",
                         AS_WRITTEN)
    return results


def stored_results(path: str | Path) -> pd.DataFrame:
    """The results of a run folder or result workbook in canonical text, as they stand.

    Errors: StudyError where there are none.
    """
    path = Path(path)
    return _results(path if path.is_dir() else None, read_stored(_workbook_of(path)))


def carried_rules(stored: Stored, base: Rules) -> Rules:
    """The rules that a result workbook carries, put over those of its year.

    Errors: StudyError where a rule cannot be read.
    """
    carried = {}
    for key, line in stored.rules.items():
        if key not in base.by_key:
            continue
        try:
            value = value_of(line.value, PROGRAM_SHEET.by_key[key])
        except ValueError as fault:
            raise StudyError(f"The rule '{key}' in {line.place} cannot be read: {fault}.",
                             "Take the workbook as it was written.") from fault
        carried[key] = Rule(value, line.source, line.origin)
    in_force = base.replaced(carried)
    must_agree(in_force, lambda key: stored.rules[key].place if key in stored.rules else key)
    return in_force


def _told_with(stop: StudyError, changes: list[Change]) -> StudyError:
    """The same stop, with the cells that were changed named before the next step."""
    if not changes:
        return stop
    texts = "; ".join(change.text for change in changes[:MOST_TOLD])
    return StudyError(f"{stop.what} Changed since it was written: {texts}.", stop.next_step)


def _workbook_of(path: Path) -> Path:
    if not path.is_dir():
        return path
    missing = [name for name in (RECORD, RESULT) if not (path / name).exists()]
    if missing:
        raise StudyError(f"The folder '{path}' cannot be computed again: it has no "
                         f"{' and no '.join(missing)}.", "Name a whole run folder.")
    return path / RESULT


def _cell_change(cell, key_at: dict[str, str]) -> Change:
    inputs = [copy_name(sheet) for sheet in ("Study", "Program", "Rates", "Unit costs", "Feeders",
                                             "Shared lines", "Limits")]
    kind = SHOWN
    if cell.sheet in ("Candidates", "Scenario", "Input formulas", *inputs):
        kind = INPUT
    elif cell.sheet == PROGRAM_NAME:
        kind = RULE
    elif cell.sheet == "Results":
        kind = RESULT_CELL
    elif cell.sheet == "Record":
        kind = RECORDED
    key = f" ({key_at[cell.place]})" if cell.place in key_at else ""
    return Change(kind, cell.place, f"{cell}{key}")


def _record_changes(stored: Stored, inputs: Inputs, known: list[Change]) -> list[Change]:
    """Parts whose hash in the record is not that of what the workbook holds. They name no cell,
    so that they are only told where no cell of that kind was found."""
    found, kinds = [], {change.kind for change in known}
    hashes = stored.record.get("sha256", {})
    if not isinstance(hashes, dict) or record.fingerprint(stored.record) != stored.fingerprint:
        found.append(Change(RECORDED, "Record", "the Record sheet does not give its fingerprint"))
    if not isinstance(hashes, dict):
        return found
    parts = (
        (INPUT, "input_cells", "input cells", record.cells_digest(inputs.cells)),
        (RESULT_CELL, "results", "Results", digest(csv_text(stored.results))),
        (RULE, "rules", PROGRAM_NAME, digest({key: [line.value, line.source, line.origin]
                                              for key, line in stored.rules.items()})))
    for kind, name, sheet, now in parts:
        if kind not in kinds and hashes.get(name) != now:
            found.append(Change(kind, sheet, f"{sheet}: its hash is not the one in the record"))
    return found


def _file_changes(folder: Path, whole: dict, stored: Stored,
                  has_changed_cells: bool) -> list[Change]:
    """Files of a run folder that are not those of its record."""
    found, listed = [], whole["files_sha256"]
    if record.fingerprint(whole["content"]) != whole["fingerprint"]:
        found.append(Change(RECORDED, RECORD, f"{RECORD} does not give its fingerprint"))
    if whole["fingerprint"] != stored.fingerprint:
        found.append(Change(RECORDED, RECORD, f"{RECORD} and {RESULT} have different fingerprints"))
    present = {path.relative_to(folder).as_posix(): path for path in sorted(folder.rglob("*"))
               if path.is_file() and path.name != RECORD}
    for name, written in listed.items():
        if name not in present:
            found.append(Change(FILE, name, f"{name} is missing"))
        elif written != (stored.file.sha256 if name == RESULT
                         else digest(present[name].read_bytes())):
            found.append(_other_bytes() if name == RESULT and not has_changed_cells
                         else Change(FILE, name, f"{name} is not as it was written"))
    return found + [Change(FILE, name, f"{name} was added") for name in present
                    if name not in listed]


def _other_bytes() -> Change:
    return Change(BYTES, RESULT, "the workbook's bytes differ: another program has saved it; its "
                                 "cells are compared one by one")


def _program_changes(stored: Stored, whole: dict | None) -> list[Change]:
    """What this program has otherwise than the one that wrote the result."""
    content, found = stored.record, []
    hashes = content.get("sha256", {}) if isinstance(content.get("sha256"), dict) else {}
    now = record.program_digests()
    for kind, name, current in ((TABLE, "table_hashes", record.table_hashes()),
                                (DICTIONARY, "dictionary_hashes", record.dictionary_hashes())):
        was = content.get(name) if isinstance(content.get(name), dict) else {}
        found += [Change(kind, part, f"{kind} '{part}' is not that of the result")
                  for part in sorted(was.keys() | current.keys())
                  if was.get(part) != current.get(part)]
    if hashes.get("program") != now["program"]:
        version = (content.get("program") or {}).get("version", "unknown")
        found.append(Change(PROGRAM, "", f"program version {version} wrote the result; this one "
                                         f"is {record.__version__} and has other source files"))
    return found + _rule_file_changes(stored) + _library_changes(whole)


def _rule_file_changes(stored: Stored) -> list[Change]:
    """Rules of the year's file that are not those that the result carries as the year's."""
    year = stored.record.get("rules_year")
    if year not in rules.years():
        return []
    found, changed = [], {cell.place for cell in stored.changes}
    for key, rule in rules.load(year).by_key.items():
        line = stored.rules.get(key)
        now = rules.value_text(rule.value)
        if line is None:
            found.append(Change(YEAR_FILE, key, f"rule {key} came after the result; {now} is taken "
                                                f"from the rules of {year}"))
        elif line.origin == rules.YEAR and line.value != now and line.place not in changed:
            found.append(Change(YEAR_FILE, key, f"rule {key} was {line.value} in {line.place}, and "
                                                f"the rules of {year} now say {now}"))
    return found


def _library_changes(whole: dict | None) -> list[Change]:
    if whole is None:
        return []
    was = whole.get("environment", {})
    return [Change(LIBRARY, name, f"{name} {was.get(name)} then, {now} now")
            for name, now in record.environment().items() if was.get(name) != now]
