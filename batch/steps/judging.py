"""The checks: every limit that is applied to a computed value, for every design at once.

A check names its value, its limit (a rule or another result), the options that it applies to, its
source and what to do when it is not met. `findings.judge` alone decides.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from batch.columns.candidates import ROTARY, SINGLE_PHASE_DRIVE, SUPPLY_OPTIONS, THREE_PHASE_LINE
from batch.columns.program import AT_SERVICE, AT_TAP
from batch.columns import CANDIDATES
from batch.columns.results import RESULTS
from batch.findings import FAILS, MEETS, NOT_ASSESSED, WATCH, judge

DRIVE_ONLY, ALL = (SINGLE_PHASE_DRIVE,), SUPPLY_OPTIONS
LOOSEST_TDD_PCT = 20.0  # IEEE 519-2022, Table 2, row above 1000: no row allows more
AT_MOST, AT_LEAST = "at most", "at least"


@dataclass(frozen=True)
class Check:
    """One limit. `limit` is a rule's key, or a result's key where the limit varies by farm.

    Within `watch_share` of the limit, or beyond the rule `watch_limit`, the answer is `watch`.
    `needs` are the optional input cells without which the answer is `not assessed`.
    """

    name: str
    value: str
    sense: str
    limit: str
    remedy: str
    options: tuple[str, ...] = ALL
    watch_share: float | None = None
    watch_limit: str = ""
    surely_beyond: float | None = None
    source: str = ""
    advice_only: bool = False
    needs: tuple[str, ...] = ()


CHECKS = (
    Check("transformer loading", "transformer_loading_pct", AT_MOST,
          "transformer_loading_limit_pct", "Take a larger transformer, or reduce the harmonics.",
          source="IEEE C57.110-2018; program loading limit"),
    Check("service ampacity", "service_ampacity_a", AT_LEAST, "minimum_ampacity_a",
          "Take larger conductors or parallel runs.", source="NEC 430.24, 430.122, 455.6, 310.16"),
    Check("service drop", "service_voltage_drop_pct", AT_MOST, "service_drop_limit_pct",
          "Shorten the service or enlarge its conductors."),
    Check("new line drop", "primary_voltage_drop_pct", AT_MOST, "primary_drop_limit_pct",
          "Enlarge the line's conductor or shorten it.", watch_share=0.1),
    Check("service voltage at full load", "service_voltage_at_load_v", AT_LEAST,
          "service_voltage_low_v", "Use a transformer tap, a larger transformer or conductor, or "
          "strengthen the line.", needs=('source_fault_a',)),
    Check("service voltage at no load", "service_voltage_no_load_v", AT_MOST,
          "service_voltage_high_v", "Use a lower transformer tap."),
    Check("starting dip at the tap", "starting_dip_pct", AT_MOST, "starting_dip_limit_pct",
          "Start with a soft starter or a drive, or strengthen the line.", watch_share=0.1, needs=('source_fault_a',)),
    Check("starting dip at the service", "starting_dip_service_pct", AT_MOST,
          "starting_dip_service_limit_pct",
          "Start with a soft starter or a drive, or enlarge transformer and conductors.",
          watch_share=0.1, needs=('source_fault_a',)),
    Check("single-phase start", "single_phase_start_hp", AT_MOST, "single_phase_start_limit_hp",
          "Use a drive, or three-phase line.", options=(ROTARY,)),
    Check("converter output unbalance", "converter_unbalance_pct", AT_MOST,
          "converter_unbalance_limit_pct",
          "Measure the three voltages under load; derate or rebalance by NEMA MG 1.",
          options=(ROTARY,)),
    Check("fault current at the transformer", "fault_current_a", AT_MOST, "interrupting_rating_a",
          "Take a device with a higher interrupting rating.", source="NEC 110.9", needs=('source_fault_a',)),
    Check("fault current to the midpoint", "fault_midpoint_a", AT_MOST, "interrupting_rating_a",
          "Take a device with a higher interrupting rating.",
          options=(SINGLE_PHASE_DRIVE, ROTARY), source="NEC 110.9", needs=('source_fault_a',)),
    Check("fault current at the drive or starter", "fault_at_drive_a", AT_MOST,
          "withstand_a",
          "Put current-limiting fuses or a reactor ahead, or take equipment of a higher rating.",
          source="NEC 110.10; UL ratings by size, memory", needs=('source_fault_a',)),
    Check("current distortion", "current_tdd_pct", AT_MOST, "tdd_limit_pct",
          "Add an input filter or an active front end.", options=DRIVE_ONLY,
          source="IEEE 519-2022, Table 2", surely_beyond=LOOSEST_TDD_PCT,
          needs=('source_fault_a',)),
    Check("single current harmonics", "single_harmonic_share_pct", AT_MOST, "all_of_a_limit_pct",
          "Add an input filter or an active front end.", options=DRIVE_ONLY,
          source="IEEE 519-2022, Table 2", needs=('source_fault_a',)),
    Check("voltage distortion at the service", "voltage_thd_pct", AT_MOST,
          "voltage_thd_service_limit_pct", "Add a reactor or filter, or a larger transformer.",
          options=DRIVE_ONLY, watch_share=0.1, needs=('source_fault_a',)),
    Check("single voltage harmonic at the service", "voltage_harmonic_pct", AT_MOST,
          "voltage_harmonic_service_limit_pct", "Add a reactor or filter, or a larger transformer.",
          options=DRIVE_ONLY, watch_share=0.1, needs=('source_fault_a',)),
    Check("voltage distortion at the tap", "voltage_thd_tap_pct", AT_MOST,
          "voltage_thd_tap_limit_pct", "Add an input filter, or serve from a stronger point.",
          options=DRIVE_ONLY, watch_share=0.1, needs=('source_fault_a',)),
    Check("single voltage harmonic at the tap", "voltage_harmonic_tap_pct", AT_MOST,
          "voltage_harmonic_tap_limit_pct", "Add an input filter, or serve from a stronger point.",
          options=DRIVE_ONLY, watch_share=0.1, needs=('source_fault_a',)),
    Check("motor voltage from the drive", "drive_motor_v", AT_LEAST, "motor_voltage_low_v",
          "Use less reactance ahead of the drive, an active front end, or a motor of a lower rated "
          "voltage.", options=DRIVE_ONLY, source="NEMA MG 1-12.44", needs=('motor_lead_ft', 'pivot_lead_ft',
                                                          'source_fault_a')),
    Check("peak at the motor", "motor_peak_v", AT_MOST, "motor_peak_limit_v",
          "Confirm an inverter-duty motor, or add an output filter.", options=DRIVE_ONLY,
          source="NEMA MG 1 Parts 30 and 31", needs=('motor_lead_ft', 'pivot_lead_ft', 'is_inverter_duty')),
    Check("compact layout", "layout_ft", AT_MOST, "layout_limit_ft",
          "Set transformer, meter, drive and controls together, near the motor.",
          options=DRIVE_ONLY, advice_only=True, needs=('motor_lead_ft',)),
    Check("end tower voltage", "end_tower_v", AT_LEAST, "end_tower_minimum_v",
          "Enlarge the pivot's cable or move the controls nearer.",
          watch_limit="end_tower_advised_v", needs=('pivot_lead_ft', 'source_fault_a', 'motor_lead_ft')),
    Check("pivot cable ampacity", "pivot_cable_ampacity_a", AT_LEAST, "pivot_machine_a",
          "Take a larger cable along the machine.", source="NEC 675.22(A), 310.16"),
    Check("least added load", "added_load_kw", AT_LEAST, "minimum_added_load_kw",
          "The farm's added load is below what the program serves."),
)
CHECK_BY_NAME = {check.name: check for check in CHECKS}


def checks_table(designs: pd.DataFrame, rules) -> pd.DataFrame:
    """All checks of all designs, long: `design` is the designs' own index.

    A farm without a pivot has no end tower to judge; a check that a rule switches off is not
    listed. Nothing else is left out.
    """
    d = designs.assign(
        all_of_a_limit_pct=100.0, converter_unbalance_pct=np.nan,  # no model: to be measured
        motor_voltage_low_v=rules["motor_voltage_v"] * rules["motor_voltage_low_pct"] / 100)
    parts = [_one_check(check, d, rules) for check in CHECKS if _applies(check, rules)]
    return pd.concat(parts, ignore_index=True).sort_values("design", kind="stable")


def _applies(check, rules):
    """Whether the rules ask for this check at all."""
    if check.name in ("current distortion", "single current harmonics"):
        return rules["current_limits_apply"]
    point = rules["harmonic_limit_point"]
    if check.name.endswith("harmonic at the tap") or check.name == "voltage distortion at the tap":
        return point != AT_SERVICE
    if check.name.endswith("harmonic at the service") or (
            check.name == "voltage distortion at the service"):
        return point != AT_TAP
    return True


def _one_check(check, d, rules):
    rows = d[d["supply_option"].isin(check.options)]
    if check.value in ("end_tower_v", "pivot_cable_ampacity_a"):
        rows = rows[rows["pivot_length_ft"].fillna(0) > 0]
    is_rule = check.limit in rules.by_key
    limit = np.full(len(rows), float(rules[check.limit])) if is_rule else rows[check.limit]
    answer = judge(rows[check.value], surely_beyond=check.surely_beyond, watch_beyond=_watch_limit(check, limit, rules),
                   **{"at_most" if check.sense == AT_MOST else "at_least": limit})
    if check.advice_only:  # advice on layout warns; it never bars a farm
        answer = np.where(answer == FAILS, WATCH, answer)
    blank = _blank_inputs(check, rows)
    return pd.DataFrame({
        "design": rows.index, "candidate_id": rows["candidate_id"],
        "excel_row": rows["excel_row"], "supply_option": rows["supply_option"],
        "variant": rows["variant"], "check": check.name, "value": rows[check.value].to_numpy(float),
        "sense": check.sense, "limit": np.asarray(limit, float),
        "unit": _unit(check), "answer": answer,
        "source": check.source or rules.source(check.limit),
        "remedy": check.remedy, "blank_inputs": np.where(answer == NOT_ASSESSED, blank, "")})


def _unit(check):
    column = RESULTS.by_key.get(check.value)
    return column.unit if column else "%"


def _blank_inputs(check, rows):
    """Headers of the optional cells that the check needs and the farm leaves blank."""
    texts = np.full(len(rows), "", dtype=object)
    for key in check.needs:
        is_blank = rows[key].isna().to_numpy()
        if key == "pivot_lead_ft":
            is_blank &= rows["pivot_length_ft"].fillna(0).to_numpy() > 0
        texts = np.where(is_blank & (texts != ""), texts + ", ", texts)
        texts = np.where(is_blank, texts + CANDIDATES.by_key[key].label, texts)
    return texts


def _watch_limit(check, limit, rules):
    if check.watch_limit:
        return rules[check.watch_limit]
    if check.watch_share is None:
        return None
    return limit * (1 - check.watch_share if check.sense == AT_MOST else 1 + check.watch_share)


def answers_by_design(checks: pd.DataFrame, designs: pd.DataFrame) -> pd.DataFrame:
    """Per design: how many checks fail, warn and are not assessed, and the names of each."""
    out = pd.DataFrame(index=designs.index)
    for answer, key in ((FAILS, "fails"), (WATCH, "watch"), (NOT_ASSESSED, "not_assessed"),
                        (MEETS, "meets")):
        found = checks[checks["answer"] == answer].groupby("design")["check"]
        out[f"{key}_count"] = found.count().reindex(out.index, fill_value=0)
        out[f"{key}_names"] = found.agg(", ".join).reindex(out.index, fill_value="")
    return out
