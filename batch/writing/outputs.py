"""What of a study is listed in its outputs, and the CSV files in canonical text."""

import codecs
from pathlib import Path

import pandas as pd

from batch.canonical import (
    canonical_frame,
    cell_text,
    cell_texts,
    csv_text,
    number_texts,
)
from batch.columns import OPTION_COLUMNS, RESULTS
from batch.program.approvals import approvals_text
from batch.program.season import flows_of
from batch.supply.judging import of_designs
from batch.writing.portfolio_tables import portfolio_tables, with_columns

ROWS_AT_ONCE = 10_000
IDENTITY = RESULTS.columns[0]
RANKING_KEYS = ("rank", "candidate_id", "farm_label", "feeder_id", "verdict", "known_enough_for",
                "checks_answered", "may_be_funded", "supply_option",
                "variant", "added_load_kw", "useful_load_kw", "incentive_cost_usd",
                "incentive_usd_per_kw", "ranking_usd_per_kw", "running_incentive_cost_usd",
                "in_budget", "in_best_set", "best_set_year", "funded", "funded_with", "why_not",
                "qualifies_alone", "member_payback_yr",
                "cooperative_payback_yr", "verdict_reason")
CHECK_COLUMNS = ("candidate_id", "supply_option", "variant", "check", "value", "sense", "limit",
                 "unit", "answer", "source", "blank_inputs", "remedy")
LEDGER_COLUMNS = ("candidate_id", "supply_option", "variant", "item", "made_of", "item_cost_usd",
                  "overhead_usd", "allowance_usd", "cooperative_usd", "member_usd", "rule",
                  "source")


def csv_files(study):
    """Name and text of the CSV files of a run, one after the other and in parts: a large study's
    checks are longer than all else together. `results.csv` comes first."""
    yield "results.csv", _in_parts(study.results, _results_as_text)
    yield "ranking.csv", [csv_text(_ranking_as_text(study.results))]
    approved = approvals_text(study)
    if len(approved):
        yield "approvals.csv", [csv_text(approved)]
    yield "options.csv", _in_parts(study.options, _options_as_text)
    yield "checks.csv", _in_parts(study.checks, _checks_as_text)
    yield "findings.csv", [csv_text(study.findings.frame().map(cell_text))]
    yield "cost_shares.csv", _in_parts(listed_ledger(study), _ledger_as_text)
    yield "cash_flows.csv", _in_parts(_cash_flows(study), _cash_flows_as_text)
    yield from _portfolio_texts(study)


def _results_as_text(results):
    return canonical_frame(results, RESULTS.columns)


def _ranking_as_text(results):
    """Ranked farms in their order, then the others."""
    ranked = results.sort_values("rank", kind="stable", na_position="last")
    return canonical_frame(ranked, tuple(RESULTS.by_key[key] for key in RANKING_KEYS))


def _options_as_text(options):
    texts = canonical_frame(options, (IDENTITY, *OPTION_COLUMNS))
    texts.insert(2, "is_chosen", ["yes" if v else "no" for v in options["is_chosen"]])
    return texts


def _in_parts(rows, as_text):
    """A long table as CSV, some rows at a time: every cell is a text of its own meanwhile."""
    for start in range(0, len(rows) or 1, ROWS_AT_ONCE):
        yield csv_text(as_text(rows.iloc[start:start + ROWS_AT_ONCE]), header=start == 0)


def _portfolio_texts(study):
    for sheet, name, frame in portfolio_tables(study):
        yield name, [csv_text(canonical_frame(with_columns(frame, sheet), sheet.columns))]


def write_csv(path: Path, parts):
    """Write a CSV file part by part in UTF-8; with the byte-order mark where it is not plain ASCII,
    since spreadsheet programs take a file without it for one of the local code page and spoil its
    accents."""
    is_ascii = True
    with path.open("w", encoding="utf-8", newline="") as file:
        for part in parts:
            is_ascii = is_ascii and part.isascii()
            file.write(part)
    if not is_ascii:
        path.write_bytes(codecs.BOM_UTF8 + path.read_bytes())


def listed_ledger(study):
    """The ledger of the chosen option of every candidate: the items that cost something, and those
    whose cost is not known."""
    chosen = study.options.index[study.options["is_chosen"]]
    return of_designs(study.ledger[study.ledger["item_cost_usd"] != 0], chosen)


def checks_text(study):
    """The checks as canonical text, four decimals for values and limits."""
    return _checks_as_text(study.checks)


def _checks_as_text(checks):
    return _as_text(checks[list(CHECK_COLUMNS)], {"value": 4, "limit": 4})


def ledger_text(study):
    """The ledger as canonical text, in cents."""
    return _ledger_as_text(listed_ledger(study))


def _ledger_as_text(ledger):
    return _as_text(ledger[list(LEDGER_COLUMNS)],
                    {key: 2 for key in LEDGER_COLUMNS if key.endswith("_usd")})


def _cash_flows(study):
    """The flows by year of the chosen option of every candidate."""
    return flows_of(study.options[study.options["is_chosen"]], study.inputs)


def _cash_flows_as_text(flows):
    return _as_text(flows, {"year": 0, **{key: 2 for key in flows if key.endswith("_usd")}})


def _as_text(frame, decimals: dict[str, int]):
    """A frame as text: numbers by their decimals, all else as a CSV cell may hold it."""
    return pd.DataFrame({key: number_texts(frame[key].to_numpy(float), decimals[key])
                         if key in decimals else cell_texts(frame[key])
                         for key in frame.columns}, index=frame.index)
