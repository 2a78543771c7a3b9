"""Every check of every design at once. `findings.judge` alone decides."""

import numpy as np
import pandas as pd

from batch.columns import CANDIDATES
from batch.columns.program import AT_BOTH, AT_SERVICE, AT_TAP, OFF, PROGRAM, WATCHED
from batch.columns.results import RESULTS
from batch.findings import FAILS, MEETS, NOT_ASSESSED, WATCH, judge
from batch.step import step
from batch.supply.checks import AT_MOST, CHECKS, LOOSEST_TDD_PCT, Check
from batch.supply.power_quality import motor_class_limits

BLOCK = 10_000  # designs
# What the checks read: a limit that is no rule is a column, but for these, alike for all designs.
ALIKE = ("all_of_a_limit_pct", "converter_unbalance_pct", "motor_voltage_low_v")
NAMED = dict.fromkeys(key for check in CHECKS for key in (
    check.value, check.limit, check.watch_limit, check.watch_value, check.unsure_by, check.asked_by,
    *check.needs))
OF_WHOM = ("candidate_id", "excel_row", "supply_option", "variant")
TOLD = ("check", "value", "sense", "limit", "unit", "answer", "source", "remedy", "blank_inputs",
        "is_advice")
READ = dict.fromkeys(("supply_option", "pivot_length_ft", *NAMED, *(
    end for check in CHECKS for end in (check.strictest, check.loosest))))
CHECKED = "candidate_id excel_row supply_option variant pivot_length_ft " + " ".join(
    key for key in NAMED if key not in ("", AT_SERVICE, AT_TAP, *ALIKE, *PROGRAM.by_key))
ASKED = "harmonic_limit_point motor_voltage_v motor_voltage_low_pct " + " ".join(
    key for key in NAMED if key in PROGRAM.by_key)
WATCHED_REMEDY = "The program only watches it and asks for nothing. What would lower it: "


def checks_table(designs: pd.DataFrame, rules) -> pd.DataFrame:
    """All checks of all designs, long, check by check: `design` is the designs' own index.

    A farm without a pivot has no end tower to judge; a check that a rule switches off is not
    listed. Nothing else is left out.
    """
    designs = designs.assign(
        **motor_class_limits(rules),
        all_of_a_limit_pct=100.0, any_row_tdd_pct=LOOSEST_TDD_PCT,
        converter_unbalance_pct=np.nan,  # no model: to be measured
        motor_voltage_low_v=rules["motor_voltage_v"] * rules["motor_voltage_low_pct"] / 100)
    cells = {key: designs[key].to_numpy() for key in READ if key in designs}
    parts = [_one_check(check, cells, rules) for check in CHECKS if _is_asked(check, rules)]
    at = np.concatenate([part["at"] for part in parts])
    told = {key: np.concatenate([np.broadcast_to(part[key], part["at"].shape) for part in parts])
            for key in parts[0] if key != "at"}
    return _table(designs, told, at)


def of_designs(rows: pd.DataFrame, designs) -> pd.DataFrame:
    """The rows of some designs by the column `design`, in the order of the designs."""
    place = pd.Index(designs).get_indexer(rows["design"])
    order = np.argsort(place, kind="stable")
    return rows.iloc[order[(place >= 0)[order]]]


def _is_asked(check: Check, rules) -> bool:
    """Whether the rules ask for this check at all."""
    if check.asked_by in rules.by_key:
        return bool(rules[check.asked_by]) and rules[check.asked_by] != OFF
    return not check.asked_by or rules["harmonic_limit_point"] in (AT_BOTH, check.asked_by)


def _is_watched(check: Check, rules) -> bool:
    """Whether the program has chosen that the check warns only."""
    return check.asked_by in rules.by_key and rules[check.asked_by] == WATCHED


def _one_check(check: Check, cells, rules) -> dict:
    """One check of the designs that it is for: `at` which places, and columns by key. Arrays, since
    a table for each of the checks costs more than judging them."""
    is_asked = np.isin(cells["supply_option"].astype(str), check.options)
    if check.for_pivots:
        is_asked &= _has_pivot(cells)
    at = np.flatnonzero(is_asked)
    rows = {key: cells[key][at] for key in _keys_of(check) if key in cells}
    value = rows[check.value].astype(float)
    is_rule = check.limit in rules.by_key
    limit = (np.full(len(at), float(rules[check.limit])) if is_rule
             else rows[check.limit].astype(float))
    bound = {"at_most" if check.sense == AT_MOST else "at_least": limit}
    ends = {end: rows[getattr(check, end)].astype(float) for end in ("strictest", "loosest")
            if getattr(check, end)}
    answer = judge(value, **bound, **ends, watch_beyond=_watch_limit(check, limit, rules),
                   watch_value=rows[check.watch_value] if check.watch_value else None,
                   unsure_by=rows[check.unsure_by].astype(float) if check.unsure_by else 0.0)
    for end, given in (("strictest", MEETS), ("loosest", FAILS)):
        if end in ends:  # the limit that was decisive where the farm's own is unknown
            limit = np.where(np.isnan(limit) & (answer == given), ends[end], limit)
    is_watched = _is_watched(check, rules)
    is_advice = check.advice_only or is_watched
    if is_advice:
        answer = np.where(answer == FAILS, WATCH, answer)
    is_open = answer == NOT_ASSESSED
    blank = np.where(is_open, _blank_inputs(check, rows, len(at)), "")
    to_fill = np.where(blank == "", check.open_remedy, "Fill: " + blank.astype(object) + ".")
    remedy = WATCHED_REMEDY + check.remedy if is_watched else check.remedy
    return {"at": at} | _told(
        name=check.name, value=value, sense=check.sense, limit=limit, unit=_unit(check),
        answer=answer, source=check.source or rules.source(check.limit),
        remedy=np.where(is_open, to_fill, remedy), blank_inputs=blank, is_advice=is_advice)


def _keys_of(check):
    return {check.value, check.limit, check.watch_value, check.unsure_by, check.strictest,
            check.loosest, *check.needs, "pivot_length_ft"}


def _has_pivot(cells):
    return np.nan_to_num(cells["pivot_length_ft"].astype(float)) > 0


def check_rows(designs, **told) -> pd.DataFrame:
    """One check of several designs as rows of the table of checks, told as `_told` takes it."""
    told = {key: np.broadcast_to(given, len(designs)) for key, given in _told(**told).items()}
    return _table(designs, told)


def _told(*, name, value, sense, limit, unit, answer, source, remedy, blank_inputs="",
          is_advice=False) -> dict:
    """What the table of checks tells of one check, by column; texts as objects."""
    texts = {"check": name, "sense": sense, "unit": unit, "answer": answer, "source": source,
             "remedy": remedy, "blank_inputs": blank_inputs}
    told = {key: np.asarray(text, object) for key, text in texts.items()}
    told |= {"value": np.asarray(value, float), "limit": np.asarray(limit, float),
             "is_advice": np.asarray(is_advice, bool)}
    return {key: told[key] for key in TOLD}


def _table(designs, told, at=slice(None)) -> pd.DataFrame:
    """The table of checks: of which design each row is, and what it tells."""
    rows = designs[list(OF_WHOM)].iloc[at]
    return pd.concat([pd.DataFrame({"design": rows.index}), rows.reset_index(drop=True),
                      pd.DataFrame(told)], axis=1)


def _unit(check: Check) -> str:
    column = RESULTS.by_key.get(check.value)
    return column.unit if column else "%"


def _blank_inputs(check: Check, rows, count):
    """Headers of the optional cells that the check needs and the farm leaves blank."""
    texts = np.full(count, "", dtype=object)
    for key in check.needs:
        is_blank = pd.isna(rows[key])
        if key == "pivot_lead_ft":
            is_blank = is_blank & _has_pivot(rows)
        texts = np.where(is_blank & (texts != ""), texts + ", ", texts)
        texts = np.where(is_blank, texts + CANDIDATES.by_key[key].label, texts)
    return texts


def _watch_limit(check: Check, limit, rules):
    if check.watch_limit:
        return rules[check.watch_limit]
    if check.watch_share is None:
        return None
    return limit * (1 - check.watch_share if check.sense == AT_MOST else 1 + check.watch_share)


@step(
    needs=CHECKED, rules=ASKED,
    makes="meets_count watch_count fails_count not_assessed_count open_limits_count fails_names")
def answers_of(designs: pd.DataFrame, rules) -> pd.DataFrame:
    """How many checks each design meets, fails and leaves open, and which fail.

    So many designs are judged at a time that the table of their checks stays small.
    """
    blocks = [designs.iloc[start:start + BLOCK] for start in range(0, len(designs) or 1, BLOCK)]
    return pd.concat([answers_by_design(checks_table(block, rules), block) for block in blocks])


def answers_by_design(checks: pd.DataFrame, designs: pd.DataFrame) -> pd.DataFrame:
    """Per design: how many checks fail, warn, meet and are not assessed, and the failing ones.
    `open_limits_count` is of those not assessed that are limits and no advice."""
    place = designs.index.get_indexer(checks["design"])
    given = checks["answer"].to_numpy()
    out = pd.DataFrame({
        f"{answer.replace(' ', '_')}_count": np.bincount(
            place[given == answer], minlength=len(designs))
        for answer in (MEETS, WATCH, FAILS, NOT_ASSESSED)}, index=designs.index)
    is_limit = ~checks["is_advice"].to_numpy(bool)
    out["open_limits_count"] = np.bincount(
        place[(given == NOT_ASSESSED) & is_limit], minlength=len(designs))
    names = np.full(len(designs), "", dtype=object)
    for at, name in zip(place[given == FAILS], checks["check"].to_numpy()[given == FAILS]):
        names[at] += f", {name}" if names[at] else name
    out["fails_names"] = pd.Series(names, out.index, dtype=object)
    return out
