"""Laws for any workbook at all: findings or finite results, never a pass from an unknown.

With FARMBATCH_EXAMPLES=all in the environment 296 workbooks are drawn, without it 120; in those of
the first law stand some 1,070 and 680 farms. What one cell of each kind does is enumerated in
test_cells, test_validate and test_traps.
"""

import json
import os

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from batch import units
from batch.columns import CANDIDATES, RESULTS
from batch.findings import CATALOGUE, ERROR, FAILS, MEETS, NOT_ASSESSED, WATCH, StudyError
from batch.reading.validate import validate
from batch.study import assessable, run_study
from batch.writing.run_folder import write_run
from tests.fuzzed import allowed_or_blank, any_cells, candidate_rows, other_sheets
from tests.workbooks.make import RATE, candidate_workbook, unit_cost_rows

# Examples of each law.
FARMS_ALONE, READ_ONLY, STUDIED, WRITTEN, LADDERS = (
    (31, 235, 22, 8, 3) if os.environ.get("FARMBATCH_EXAMPLES") == "all" else (20, 80, 14, 6, 2))
VERDICTS = {"qualifies", "qualifies with conditions", "does not qualify", "incomplete"}
ANSWERS = {MEETS, WATCH, FAILS, NOT_ASSESSED}


def examples(count):
    """A fixed sequence of examples: the same workbooks in every run, on every machine."""
    return settings(max_examples=count, derandomize=True, deadline=None, database=None,
                    phases=[Phase.generate], suppress_health_check=list(HealthCheck))


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("fuzzed")


def workbook_of(folder, rows, others=None):
    """A workbook of these rows; of the other sheets some cells are changed."""
    if others is None:
        return candidate_workbook(folder, rows)
    prices = unit_cost_rows()
    prices[len(rows) % len(prices)] |= others["unit_costs"]
    return candidate_workbook(
        folder, rows, rates=[RATE | others["rates"]], unit_costs=prices,
        feeders=[{"feeder_id": "F1"} | others["feeders"]],
        shared_lines=[{"shared_line_id": "S1", "shared_single_phase_ft": 900}
                      | others["shared_lines"]],
        limits=[{"name": "Line", "unit": "ft", "available": 3_000, "counts": "line"}
                | others["limits"]],
        study=others["study"], program=others["program"])


# --- what must hold -------------------------------------------------------------------------------

def check_inputs(inputs):
    """Every candidate cell is a value within its bounds, or an error stands on it."""
    sheet = inputs.cells["Candidates"]
    at = {header.key: header for header in sheet.headers if header.column}
    faulty = {(f["row"], f["key"]) for f in inputs.findings.rows if f["severity"] == ERROR}
    raw = {row: values for row, values in sheet.rows}
    for column in CANDIDATES.columns:
        values = inputs.candidates[column.key]
        for row, value in values.items():
            is_unknown = value is None or value != value
            cell = raw[row][at[column.key].index]
            is_filled = cell is not None and str(cell).strip(" \t\r\n\xa0\u200b\ufeff") != ""
            if is_unknown and column.kind != "text" and (is_filled or column.required):
                assert (row, column.key) in faulty, (column.key, row, cell)
            if column.is_numeric and not is_unknown:
                slack = 1e-9 * max(abs(column.minimum or 0), abs(column.maximum or 0))
                assert np.isfinite(value), column.key
                assert column.minimum is None or value >= column.minimum - slack
                assert column.maximum is None or value <= column.maximum + slack
            if column.choices and not is_unknown:
                assert value in column.choices
    check_findings(inputs.findings)


def check_findings(findings):
    for finding in findings.rows:
        assert finding["slug"] in CATALOGUE and finding["message"].strip()
        assert finding["severity"] == CATALOGUE[finding["slug"]].severity


def check_study(study):
    results, checks, counts = study.results, study.checks, study.counts
    assert counts["read"] == counts["assessed"] + counts["not_assessed"] == len(results)
    assert len(results) == len(study.inputs.candidates)
    for frame in (results, study.options, checks, study.ledger, study.feeders, study.totals):
        assert not np.isinf(frame.select_dtypes("number").to_numpy(float)).any()
    assert set(results["verdict"]) <= VERDICTS and set(checks["answer"]) <= ANSWERS
    passed = checks[checks["answer"] == MEETS]
    assert passed["value"].notna().all() and passed["limit"].notna().all()
    is_open = results["verdict"] == "incomplete"
    assert results.loc[is_open, "rank"].isna().all()
    assert (results["verdict_reason"].fillna("") != "").all()
    in_error = results.index.isin(study.findings.rows_with_errors("Candidates"))
    assert is_open[in_error].all()
    ranked = results[results["rank"].notna()]
    assert sorted(ranked["rank"]) == list(range(1, len(ranked) + 1))
    for key in ("project_cost_usd", "member_cost_usd", "incentive_usd", "added_load_kw"):
        assert ranked[key].notna().all(), key
    good = results[results["verdict"] == "qualifies"]
    assert not (good["fails_count"] > 0).any()
    check_findings(study.findings)


# --- fuzzed workbooks -----------------------------------------------------------------------------

@examples(FARMS_ALONE)
@given(rows=candidate_rows(any_cells, most_changes=6, least_rows=10, most_rows=20))
def test_any_cells_of_farms_are_values_or_findings(folder, rows):
    check_reading(workbook_of(folder, rows))


@examples(READ_ONLY)
@given(rows=candidate_rows(any_cells, most_changes=6, most_rows=4), others=other_sheets(any_cells))
def test_any_cells_are_values_or_findings(folder, rows, others):
    check_reading(workbook_of(folder, rows, others))


def check_reading(path):
    try:
        inputs = validate(path)
    except StudyError as stop:
        assert stop.what.endswith((".", "?", "!")) and stop.next_step
        return
    check_inputs(inputs)
    good = assessable(inputs)
    faulty = inputs.findings.rows_with_errors("Candidates")
    assert len(good) + len(faulty & set(inputs.candidates.index)) == len(inputs.candidates)


@examples(STUDIED)
@given(rows=candidate_rows(allowed_or_blank, most_changes=14, most_rows=12),
       others=st.none() | other_sheets(allowed_or_blank))
def test_any_allowed_values_give_finite_results_or_reasons(folder, rows, others):
    try:
        study = run_study(validate(workbook_of(folder, rows, others)))
    except StudyError:
        assert others is not None  # without faults on the other sheets every study ends
        return
    check_study(study)


@examples(WRITTEN)
@given(rows=candidate_rows(any_cells, most_changes=4, most_rows=4),
       others=st.none() | other_sheets(any_cells))
def test_any_cells_are_written_whole(folder, rows, others):
    try:
        study = run_study(validate(workbook_of(folder, rows, others)))
    except StudyError:
        return
    check_study(study)
    run = write_run(study, folder, overwrite=True, options={})
    counts = json.loads((run / "record.json").read_text(encoding="utf-8"))["content"]["counts"]
    assert {key: counts[key] for key in study.counts} == study.counts
    written = pd.read_csv(run / "results.csv", dtype=str, keep_default_na=False)
    assert len(written) == counts["read"]
    assert not written.isin(["nan", "inf", "-inf", "None", "NaN", "<NA>"]).to_numpy().any()


# --- another form of the same workbook ------------------------------------------------------------

# Candidates that differ, none with a fault.
FARMS = (
    {"is_inverter_duty": "yes"},
    {"present_power": "natural gas engine", "fuel_rate": 0.4, "fuel_price_usd": 5.1},
    {"present_power": "propane engine", "fuel_rate": None, "pivot_length_ft": None,
     "pivot_lead_ft": None, "flow_gpm": 260, "irrigated_area_acre": 40},
    {"present_power": "rotary converter", "present_demand_kw": 11, "fuel_rate": None,
     "flow_gpm": 190, "irrigated_area_acre": 30, "pump_motor_hp": 15},
    {"load_control": "yes", "elevation_gain_ft": -12, "motor_code_letter": "G",
     "source_fault_a": 1400, "three_phase_distance_ft": 700, "tower_motor_hp": 1.5,
     "booster_hp": 3})
# Column -> another unit, and the house unit in it. Source: NIST Special Publication 811 (2008),
# appendix B.8: foot 0.3048 m, inch 25.4 mm, US gallon 3.785411784 L, acre of the international
# foot 4046.8564224 m2, horsepower (550 ft lbf/s) 745.69987 W, psi 6.8947573 kPa.
METRIC = {
    "pumping_lift_ft": ("m", 0.3048), "elevation_gain_ft": ("m", 0.3048),
    "pipe_length_ft": ("m", 0.3048), "pivot_length_ft": ("m", 0.3048),
    "single_phase_distance_ft": ("km", 0.0003048), "three_phase_distance_ft": ("km", 0.0003048),
    "motor_lead_ft": ("m", 0.3048), "pivot_lead_ft": ("m", 0.3048),
    "pipe_diameter_in": ("mm", 25.4), "gross_depth_in": ("mm", 25.4),
    "flow_gpm": ("L/min", 3.785411784), "irrigated_area_acre": ("ha", 0.40468564224),
    "pivot_pressure_psi": ("kPa", 6.894757293168), "pump_motor_hp": ("kW", 0.74569987158227022),
    "tower_motor_hp": ("kW", 0.74569987158227022), "booster_hp": ("W", 745.69987158227022),
    "primary_kv": ("V", 1000.0), "source_fault_a": ("kA", 0.001)}


def results_of(path):
    return run_study(validate(path)).results


def same(one, other, skip=()):
    """Two results agree in every key, numbers to nine digits; bands to cents, since a bill in whole
    cents may fall to either side at some hours."""
    for key in RESULTS.by_key:
        if key not in skip:
            a, b = one[key].tolist(), other[key].tolist()
            if RESULTS.by_key[key].is_numeric or RESULTS.by_key[key].kind == "yes/no":
                near = 0.05 if RESULTS.by_key[key].group == "uncertainty" else 1e-9
                np.testing.assert_allclose(np.array(a, float), np.array(b, float), rtol=1e-9,
                                           atol=near, err_msg=key)
            else:
                assert pd.Series(a, dtype=object).fillna("").tolist() == pd.Series(
                    b, dtype=object).fillna("").tolist(), key


@pytest.fixture(scope="module")
def plain(tmp_path_factory):
    return results_of(candidate_workbook(tmp_path_factory.mktemp("plain"), FARMS))


def test_farms_of_these_tests_are_assessed(plain):
    assert (plain["verdict"] != "incomplete").all()


def test_workbook_in_metric_units_gives_the_same_results(plain, tmp_path):
    def metric(row):
        example = {c.key: c.example for c in CANDIDATES.columns} | row
        return row | {key: example[key] * factor for key, (_, factor) in METRIC.items()
                      if example[key] is not None}

    headers = {key: f"{CANDIDATES.by_key[key].label} [{unit}]"
               for key, (unit, _) in METRIC.items()}
    for key, (unit, factor) in METRIC.items():  # the table above is true
        assert units.convert(1.0, CANDIDATES.by_key[key].unit, unit) == pytest.approx(factor,
                                                                                      rel=1e-9)
    path = candidate_workbook(tmp_path, [metric(row) for row in FARMS], headers)
    same(results_of(path), plain)


@pytest.mark.parametrize("kilowatts, rating", [(11.2, 15), (5.6, 7.5), (37.3, 50), (12.5, None)])
def test_nameplate_in_kilowatts_is_a_standard_motor(tmp_path, kilowatts, rating):
    # Source: NEMA MG 1 ratings; 1 hp = 0.7457 kW, so that plates of 15, 7.5 and 50 hp say 11.2,
    # 5.6 and 37.3 kW.
    study = run_study(validate(candidate_workbook(
        tmp_path, [{"pump_motor_hp": kilowatts}],
        {"pump_motor_hp": "Pump motor nameplate [kW]"})))
    slugs = {f["slug"] for f in study.findings.rows}
    assert ("motor-not-standard" in slugs) == (rating is None)
    if rating:
        assert study.results["pump_motor_hp"].tolist() == [rating]


@pytest.mark.parametrize("order", [(4, 3, 2, 1, 0), (2, 0, 4, 1, 3)])
def test_order_of_rows_changes_no_farm(plain, tmp_path, order):
    named = [row | {"candidate_id": f"F-{n}", "farm_label": f"Field {n}"}
             for n, row in enumerate(FARMS, start=1)]
    turned = results_of(candidate_workbook(tmp_path, [named[n] for n in order]))
    turned = turned.set_index("candidate_id", drop=False).loc[plain["candidate_id"]]
    same(turned, plain, skip=("excel_row",))


def test_order_of_columns_and_sheets_changes_nothing(plain, tmp_path):
    def turn(book):
        worksheet = book["Candidates"]
        rows = [[cell.value for cell in row][::-1] for row in worksheet.iter_rows()]
        for row, values in zip(worksheet.iter_rows(), rows):
            for cell, value in zip(row, values):
                cell.value = value
        book._sheets.reverse()

    same(results_of(candidate_workbook(tmp_path, FARMS, edit=turn)), plain)


# --- monotony over workbooks ----------------------------------------------------------------------

LADDER = 5


@examples(LADDERS)
@given(row=st.fixed_dictionaries({
    "flow_gpm": st.floats(150, 600), "pumping_lift_ft": st.floats(5, 90),
    "pivot_pressure_psi": st.floats(10, 70), "single_phase_distance_ft": st.floats(0, 8000)}),
    step=st.floats(0.01, 0.4))
def test_ladders(folder, row, step):
    """More lift is never less power and money; more line is never a lower cost; a dearer price of
    the same things is never a lower cost; dearer fuel is never a smaller saving."""
    row = row | {"irrigated_area_acre": row["flow_gpm"] / 7, "pivot_length_ft": None,
                 "pivot_lead_ft": None, "supply_option": "single-phase drive", "fuel_rate": None}
    ladders = ("pumping_lift_ft", "single_phase_distance_ft", "fuel_price_usd")
    rows = [row | {key: (row.get(key) or 3.0) * (1 + step) ** k + k}
            for key in ladders for k in range(LADDER)]
    prices = [price | {"price_usd": price["price_usd"] * 1.1} for price in unit_cost_rows()]
    base = run_study(validate(candidate_workbook(folder, rows))).results
    dear = run_study(validate(candidate_workbook(folder, rows, unit_costs=prices))).results

    def never_less(key, ladder):
        at = ladders.index(ladder) * LADDER
        rise = np.diff(base[key].to_numpy(float)[at:at + LADDER])
        assert np.all(~(rise < -1e-6)), (key, ladder, rise)

    assert base["total_head_ft"].notna().all()
    for key in ("total_head_ft", "water_power_hp", "shaft_power_hp", "annual_energy_kwh",
                "fuel_cost_usd_yr"):
        never_less(key, "pumping_lift_ft")
    never_less("line_cost_usd", "single_phase_distance_ft")
    never_less("member_saving_usd_yr", "fuel_price_usd")
    known = base["project_cost_usd"].notna() & dear["project_cost_usd"].notna()
    assert known.any() and (dear["project_cost_usd"] > base["project_cost_usd"])[known].all()
