"""The sheet of what keeps farms out or open: a row for each check that fails or is not assessed,
first what decides most."""

import numpy as np
import pandas as pd

from batch.findings import FAILS, NOT_ASSESSED
from batch.program.choosing import CONDITIONS, INCOMPLETE, NOT_QUALIFIED
from batch.writing.workbook.contents import WHAT_FAILS
from batch.writing.workbook.sheet_tables import number_field, text_field, write_table

MISSES_BY = "Misses by"
STUDIED, ALONE, OPEN = ("whether the farm is judged at all",
                        "alone keeps the farm out",
                        "nothing yet: to be known before anything is signed")
NEVER = "Not within its life. "  # a payback without a value
NO_CHECK_FAILS = "no load that the ranking counts"


def write_what_fails(workbook, study, fingerprint: str):
    """The rows of `what_fails`; no sheet where nothing fails and nothing is open."""
    fields = [text_field("candidate_id", "Candidate", 12), text_field("farm_label", "Farm", 20),
              text_field("verdict", "Verdict", 16), text_field("decides", "What it decides", 22),
              text_field("check", "Check", 30), text_field("answer", "Answer", 12),
              number_field("value", "Value", 2, 12), text_field("sense", "Must be", 9),
              number_field("limit", "Limit", 2, 11), number_field("misses_by", MISSES_BY, 2, 12),
              text_field("unit", "Unit", 7), text_field("remedy", "What would mend it", 60),
              text_field("supply_option", "Supply option", 16)]
    write_table(workbook, WHAT_FAILS, fingerprint, fields, what_fails(study), frozen_columns=2,
                statement=(
        "Farms that do not qualify or are open, by the supply option shown for them; first what "
        "decides most. checks.csv holds every check of every option.",
        "'not assessed' is unknown, never a pass. Checks that the same blank cells keep open stand "
        "in one row."))


def what_fails(study) -> pd.DataFrame:
    """A row for each check that fails or is open at a farm's chosen option, and one for each farm
    that could not be judged, in the order of what they decide: farms that could not be judged,
    farms with one failing check, farms with more of them, then what is open at farms that qualify;
    among these the farms with most load first."""
    options = study.options[study.options["is_chosen"]]
    farms = study.results[["candidate_id", "farm_label", "verdict", "verdict_reason",
                           "counted_load_kw"]].rename_axis(None)
    checks = study.checks[study.checks["design"].isin(options.index)]
    checks = checks.merge(farms[["farm_label", "verdict", "counted_load_kw"]],
                          left_on="excel_row", right_index=True)
    failing = checks[(checks["verdict"] == NOT_QUALIFIED) & (checks["answer"] == FAILS)]
    failing = failing.assign(remedy=failing["remedy"].where(
        failing["value"].notna(), NEVER + failing["remedy"]))
    count = failing.groupby("excel_row")["check"].transform("size")
    failing = failing.assign(place=count, decides=[
        ALONE if n == 1 else f"one of {n} that keep the farm out" for n in count])
    still_open = checks[(checks["verdict"] == CONDITIONS) & (checks["answer"] == NOT_ASSESSED)]
    rows = pd.concat([_of_whole_farms(farms, failing), failing, _gathered(still_open)],
                     ignore_index=True)
    rows["misses_by"] = (rows["value"] - rows["limit"]).abs().where(rows["answer"] == FAILS)
    rows["load"] = -rows["counted_load_kw"].fillna(0.0)
    return rows.sort_values(["place", "load", "excel_row"], kind="stable")


def _of_whole_farms(farms, failing):
    """A row for each farm that could not be judged, or whose load alone keeps it out."""
    is_out = (farms["verdict"] == NOT_QUALIFIED) & ~farms.index.isin(failing["excel_row"])
    rows = farms[is_out | (farms["verdict"] == INCOMPLETE)]
    is_out = is_out[rows.index]
    return rows.assign(
        excel_row=rows.index, place=np.where(is_out, 1, 0),
        decides=np.where(is_out, ALONE, STUDIED), check=np.where(is_out, NO_CHECK_FAILS, ""),
        answer=np.where(is_out, FAILS, NOT_ASSESSED), remedy=rows["verdict_reason"],
        value=np.nan, limit=np.nan, sense="", unit="", supply_option="")


def _gathered(checks):
    """Open checks in one row for each farm and cause. Value and limit stand where there is one."""
    groups = checks.groupby(["excel_row", "blank_inputs", "remedy"], sort=False)["check"]
    listed, is_first = groups.transform("; ".join), ~checks.duplicated(
        ["excel_row", "blank_inputs", "remedy"])
    is_alone = groups.transform("size") == 1
    rows = checks.assign(
        place=np.inf, decides=OPEN, check=listed,
        **{key: checks[key].where(is_alone, other) for key, other in (
            ("value", np.nan), ("limit", np.nan), ("sense", ""), ("unit", ""))})
    return rows[is_first]
