"""Histories that cannot be: states, dates and amounts of an application that do not fit."""

import pandas as pd

from batch import rules
from batch.columns import DELIVERED
from batch.columns.candidates import (
    APPROVED,
    BUILDING,
    GIVEN_UP,
    IN_SERVICE,
    RECEIVED,
    STANDING,
)
from batch.findings import Findings
from batch.reading.check_rows import RowCells
from batch.reading.header import closest
from batch.reading.sheet_cells import SheetCells, letters_of


def check_season(candidates: pd.DataFrame, study: dict, cells: SheetCells, findings: Findings):
    """Findings about states, dates and amounts. `study` has the Study sheet's values."""
    row_cells, status = RowCells(candidates, cells, findings), candidates["status"]
    stands, gone = status.isin(STANDING), status.isin(GIVEN_UP)
    given = candidates[["approved_incentive_usd", "approved_cooperative_usd"]].notna().any(axis=1)
    asked, began, said = (candidates[key].fillna("") for key in (
        "application_date", "in_service_date", "status_date"))
    expires, today = candidates["approval_expires"].fillna(""), study["study_date"] or ""

    def tell(slug, key, where, text):
        for row in where.index[where]:
            if not row_cells.is_faulty(row, key):
                row_cells.add(slug, row, key, text(row), limit=status[row] or RECEIVED)

    _check_rules_years(candidates, stands, study["rules_year"], row_cells)
    tell("approval-without-amount", "approved_incentive_usd", stands & ~given,
         lambda row: f"is blank, and the farm is {status[row]}; the budget counts nothing for it.")
    tell("approval-expired", "approval_expires",
         status.isin([APPROVED, BUILDING]) & (expires != "") & (expires < today),
         lambda row: f"is {expires[row]}; the study is of {today}, and the money is still "
                     "committed.")
    tell("history-impossible", "in_service_date", (began != "") & (
        status.isin([APPROVED, BUILDING]) | gone | ~(stands | gone)),
        lambda row: f"is {began[row]}, and the farm is {status[row] or RECEIVED}.")
    tell("history-impossible", "in_service_date", (status == IN_SERVICE) & (began == ""),
         lambda row: "is blank, and the farm is in service; its money counts as paid this year.")
    tell("history-impossible", "in_service_date", (began != "") & (asked > began),
         lambda row: f"is {began[row]}, before the application of {asked[row]}.")
    tell("history-impossible", "status_date", (said != "") & (asked > said),
         lambda row: f"is {said[row]}, before the application of {asked[row]}.")
    tell("history-impossible", "approval_expires",
         status.isin([APPROVED]) & (expires != "") & (expires < said),
         lambda row: f"is {expires[row]}, before the approval of {said[row]}.")


def check_delivered(delivered: pd.DataFrame, candidates: pd.DataFrame, cells: SheetCells | None,
                    findings: Findings) -> pd.DataFrame:
    """The rows of the Delivered sheet that count: without an error, each farm known and each
    season of it once. The others are told."""
    if cells is None or delivered.empty:
        return delivered
    letters = letters_of(cells)
    status_of = dict(zip(candidates["candidate_id"], candidates["status"]))
    faulty, seen = findings.rows_with_errors(DELIVERED.name), {}

    def tell(slug, row, key, text):
        name = delivered.at[row, "candidate_id"]
        findings.add(slug, f"{DELIVERED.name}!{letters.get(key, '')}{row}: {text}",
                     sheet=DELIVERED.name, row=int(row), column=letters.get(key, ""), key=key,
                     value=name, candidate_id=name)

    kept = []
    for row in delivered.index[~delivered.index.isin(faulty)]:
        name, season = delivered.loc[row, ["candidate_id", "season"]]
        first = seen.setdefault((name, season), row)
        if name not in status_of:
            near = closest(name, [one for one in status_of if one]) or ""
            tell("delivered-unknown-farm", row, "candidate_id", f"no candidate is called '{name}'; "
                 "the row counts nowhere." + (f" Closest is '{near}'." if near else ""))
        elif first != row:
            tell("delivered-twice", row, "season", f"'{name}' has the season {season:.0f} in row "
                 f"{first} already; this row counts nowhere.")
        else:
            kept.append(row)
            if status_of[name] != IN_SERVICE:
                tell("delivered-without-service", row, "candidate_id", f"'{name}' is "
                     f"{status_of[name] or RECEIVED} on Candidates, and not in service.")
    return delivered.loc[kept]


def _check_rules_years(candidates, stands, rules_year, row_cells):
    """Only approved farms keep the rules of their year, and these must be there."""
    for row in candidates.index[candidates["rules_year"].notna()]:
        year, status = candidates.loc[row, ["rules_year", "status"]]
        if stands[row] and year not in rules.years():
            row_cells.add("rules-year-unknown", row, "rules_year",
                          f"is {year:.0f}, of which there are no rules.",
                          limit=", ".join(map(str, rules.years())))
        elif not stands[row] and year != rules_year:
            row_cells.add("rules-year-unused", row, "rules_year",
                          f"is {year:.0f}; the farm is {status or RECEIVED} and judged by the "
                          f"rules of {rules_year}.", limit=rules_year)
