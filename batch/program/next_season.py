"""From a finished study the next season's inputs: what was funded is approved, what was not waits,
and nothing is typed twice."""

from dataclasses import dataclass

import pandas as pd

from batch.columns import CANDIDATES, DELIVERED, FEEDERS, RATES, SHARED_LINES, UNIT_COSTS
from batch.columns.candidates import APPROVED, GIVEN_UP, STANDING
from batch.columns.program import CARRIED_OVER
from batch.program.season import committed_usd, rules_year_of
from batch.program.set_groups import counted_by_budget
from batch.reading.cell_text import is_blank
from batch.rules import WORKBOOK

KEPT_OF_STUDY = ("cooperative_name", "state", "prepared_by")
TABLES = ((RATES, "rates"), (UNIT_COSTS, "unit_costs"), (FEEDERS, "feeders"),
          (SHARED_LINES, "shared_lines"), (DELIVERED, "delivered"))


@dataclass(frozen=True)
class NextSeason:
    """What the next workbook holds: values of the Study sheet, rows by sheet, and what a planner is
    told: how many farms are carried in which state, and the rules that were not carried."""

    study: dict
    rows: dict[str, list[dict]]
    counts: dict[str, int]
    own_rules: tuple[str, ...]


def next_season(study, year: int) -> NextSeason:
    """The inputs of a program year from the study of the year before."""
    inputs = study.inputs
    candidates = [_carried(study, row) for row in inputs.candidates.index
                  if inputs.candidates.at[row, "status"] not in GIVEN_UP]
    counts = pd.Series([row["status"] or "received" for row in candidates]).value_counts()
    money = _carried_in(study)
    name = str(inputs.study["study_name"]).replace(str(inputs.study["rules_year"]), str(year))
    values = {"study_name": name, "rules_year": year, "carried_in_usd": money or None,
              **{key: inputs.study[key] for key in KEPT_OF_STUDY}}
    rows = {CANDIDATES.name: candidates}
    for sheet, table in TABLES:
        frame = getattr(inputs, table)
        rows[sheet.name] = [_typed(inputs, sheet, frame, row) for row in frame.index]
    own = tuple(key for key, rule in inputs.rules.by_key.items() if rule.origin == WORKBOOK)
    return NextSeason(values, rows, {str(key): int(n) for key, n in counts.items()}, own)


def _carried_in(study) -> float:
    """What is committed, that of the farms funded now included, and what is left where the rules
    carry it over [USD]."""
    inputs, funded = study.inputs, study.funding.funded_sets.rows_of(list(study.funding.funded))
    promised = committed_usd(inputs.candidates).sum() + counted_by_budget(
        funded, inputs.rules).sum()
    left = study.season.budget["left_usd"].head(1).sum()
    kept = max(left, 0.0) if inputs.rules["unspent_budget"] == CARRIED_OVER else 0.0
    return round(float(promised) + kept, 2)


def _carried(study, row) -> dict:
    """A farm's row: of a funded one with what was approved, of any other as it is."""
    inputs, farm = study.inputs, study.results.loc[row]
    typed = _typed(inputs, CANDIDATES, inputs.candidates, row)
    if row not in study.funding.funded:
        year = int(rules_year_of(inputs)[row])
        return typed | ({"rules_year": year} if typed["status"] in STANDING else {})
    date = inputs.study["study_date"]
    return typed | {
        "funding_choice": None, "status": APPROVED, "status_date": date,
        "supply_option": farm["supply_option"],
        "rules_year": int(inputs.study["rules_year"]),
        "approved_incentive_usd": round(farm["incentive_usd"], 2),
        "approved_cooperative_usd": round(farm["incentive_cost_usd"] - farm["incentive_usd"], 2),
        "approved_added_load_kw": round(farm["added_load_kw"], 2),
        "approved_energy_kwh": round(farm["annual_energy_kwh"]),
        "approved_project_cost_usd": round(farm["project_cost_usd"], 2),
        "approval_expires": date and _months_on(date, int(inputs.rules["approval_months"]))}


def _typed(inputs, sheet, frame, row) -> dict:
    """The filled cells of a row, in the dictionary's units; what the study took by default stays
    blank."""
    cells = inputs.cells.get(sheet.name)
    filled = {header.key: header.index for header in cells.headers if header.column}
    raw = dict(cells.rows)[row]
    out = {}
    for column in sheet.columns:
        value = frame.at[row, column.key]
        is_filled = column.key in filled and not is_blank(raw[filled[column.key]])
        blank = not is_filled or value is None or value != value
        out[column.key] = None if blank else _as_cell(value, column)
    return out


def _as_cell(value, column):
    if column.kind == "yes/no":
        return bool(value)
    return int(value) if column.kind == "integer" else value


def _months_on(date: str, months: int) -> str:
    """The day so many months later; the month's last day where it has no such day."""
    return (pd.Timestamp(date) + pd.DateOffset(months=months)).date().isoformat()
