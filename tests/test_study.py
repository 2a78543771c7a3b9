"""The study as a whole: counts, independence of farms, ranking, budget line, and every check."""

import itertools

import numpy as np
import pandas as pd
import pytest

from batch.columns import RESULTS
from batch.columns.candidates import SUPPLY_OPTIONS
from batch.findings import FAILS, MEETS, NOT_ASSESSED, WATCH
from batch.reading.validate import validate
from batch.study import check_workbook, run_study
from tests.workbooks.make import candidate_workbook

PLACE = ("excel_row", "rank", "running_incentive_cost_usd", "in_budget")  # depend on the others
SHARED = {"shared_line_id": "L1", "shared_single_phase_ft": 3000, "shared_three_phase_ft": 9000}

# Farms that differ in supply, build, machine and money.
FARMS = (
    {"candidate_id": "north", "is_inverter_duty": "yes"},
    {"candidate_id": "well", "present_power": "propane engine", "pivot_length_ft": None,
     "pivot_lead_ft": None, "fuel_rate": None, "motor_lead_ft": 320, "flow_gpm": 240,
     "pumping_lift_ft": 210, "irrigated_area_acre": 40, "pipe_length_ft": 0},
    {"candidate_id": "gas", "present_power": "natural gas engine", "fuel_rate": 0.5,
     "fuel_price_usd": 5.5, "three_phase_distance_ft": 400, "line_build": "underground"},
    {"candidate_id": "old", "present_power": "rotary converter", "present_demand_kw": 9,
     "flow_gpm": 150, "irrigated_area_acre": 22, "pumping_lift_ft": 60, "pivot_length_ft": 520,
     "pivot_lead_ft": 500, "fuel_rate": None, "source_fault_a": None},
    {"candidate_id": "new", "present_power": "none", "fuel_rate": None, "load_control": "yes",
     "three_phase_distance_ft": None, "supply_option": "single-phase drive"},
    {"candidate_id": "set", "present_power": "diesel generator", "fuel_rate": None,
     "flow_gpm": 500, "irrigated_area_acre": 75, "season_hours": 1100, "gross_depth_in": None,
     "supply_option": "three-phase line", "primary_kv": 14.4},
)

# One honest mistake each, every one an error of its row.
FAULTS = {
    "flow missing": {"flow_gpm": None},
    "text for a number": {"pumping_lift_ft": "about 90"},
    "below the least": {"pump_efficiency_pct": 3},
    "above the largest": {"irrigated_area_acre": 90_000},
    "unknown word": {"present_power": "steam engine"},
    "spreadsheet error": {"pivot_pressure_psi": "#DIV/0!"},
    "unknown rate": {"rate_id": "NONE"},
    "unknown shared line": {"shared_line_id": "L9"},
    "no depth, no hours": {"gross_depth_in": None},
    "pipe without diameter": {"pipe_diameter_in": None},
    "converter without demand": {"present_power": "rotary converter"},
    "hours beyond the year": {"gross_depth_in": 140, "flow_gpm": 300},
    "area beyond the circle": {"irrigated_area_acre": 400},
    "motor of no standard": {"pump_motor_hp": 47},
    "name twice": {"candidate_id": "north"},
    "name missing": {"candidate_id": None},
    "on the shared line": {"shared_line_id": "L1", "flow_gpm": None},
}


def study_of(folder, rows, **more):
    rows = [{"farm_label": "Field"} | row for row in rows]  # else numbered by the builder
    more = {"study": {"program_budget_usd": 60_000}} | more
    return run_study(validate(candidate_workbook(folder, rows=rows, **more)))


def differences(one, other, skip=PLACE):
    """Result keys in which two rows of results are not the same."""
    def same(a, b):
        if isinstance(a, str) or a is None or isinstance(b, str):
            return a == b or (pd.isna(a) and pd.isna(b))
        return np.isclose(a, b, rtol=1e-9, atol=1e-9, equal_nan=True)
    return [key for key in RESULTS.by_key if key not in skip and not same(one[key], other[key])]


def by_name(study):
    return study.results[study.results["candidate_id"].notna()].set_index("candidate_id",
                                                                          drop=False)


@pytest.fixture(scope="module")
def together(tmp_path_factory):
    return study_of(tmp_path_factory.mktemp("together"), FARMS)


# --- counts and independence ----------------------------------------------------------------------

def test_all_farms_of_these_tests_are_assessed_by_different_options(together):
    assert together.counts == {"read": len(FARMS), "assessed": len(FARMS), "not_assessed": 0}
    assert set(together.results["supply_option"]) >= {"single-phase drive", "three-phase line"}


GOOD = [farm | ({"shared_line_id": "L1"} if n < 2 else {}) for n, farm in enumerate(FARMS)]


@pytest.fixture(scope="module")
def mixed(tmp_path_factory):
    """Good farms with every kind of faulty row between them."""
    faulty = [{"candidate_id": f"bad-{n}", "crop": name} | fault
              for n, (name, fault) in enumerate(FAULTS.items())]
    rows = [row for three in itertools.zip_longest(GOOD, faulty[:9], faulty[9:]) for row in three
            if row is not None]
    return study_of(tmp_path_factory.mktemp("mixed"), rows, shared_lines=[SHARED])


def test_counts_add_up(mixed):
    assert mixed.counts == {"read": len(GOOD) + len(FAULTS), "assessed": len(GOOD),
                            "not_assessed": len(FAULTS)}
    checked = check_workbook(mixed.inputs.path)
    findings, counts = checked.findings, checked.counts
    assert counts == mixed.counts and findings.counts()["error"] >= len(FAULTS)


def test_faulty_rows_change_no_other_farm(tmp_path, mixed):
    without = study_of(tmp_path, GOOD, shared_lines=[SHARED])
    results = mixed.results[mixed.results["verdict"] != "incomplete"]
    results = results.set_index("candidate_id", drop=False)
    for name, alone in by_name(without).iterrows():
        assert differences(results.loc[name], alone, skip=("excel_row",)) == [], name


@pytest.mark.parametrize("fault", FAULTS)
def test_each_fault_is_carried_with_its_reason(mixed, fault):
    row, = mixed.inputs.candidates.index[mixed.inputs.candidates["crop"] == fault]
    bad = mixed.results.loc[row]
    assert bad["verdict"] == "incomplete" and np.isnan(bad["rank"])
    assert bad["verdict_reason"].startswith("Not assessed.")
    errors = [f for f in mixed.findings.rows if f["row"] == row and f["severity"] == "error"]
    assert errors and all(f["message"] in bad["verdict_reason"] for f in errors)
    assert all(f["sheet"] == "Candidates" and f["column"] for f in errors)  # names the cell
    assert bad[["project_cost_usd", "incentive_usd", "member_npv_usd"]].isna().all()


def test_a_study_of_faulty_rows_only_still_ends(tmp_path):
    study = study_of(tmp_path, [{"flow_gpm": None}, {"flow_gpm": "x"}])
    assert study.counts == {"read": 2, "assessed": 0, "not_assessed": 2}
    assert set(study.results["verdict"]) == {"incomplete"}


def test_a_farm_beyond_the_price_list_is_not_assessed(tmp_path):
    beyond = {"candidate_id": "giant", "flow_gpm": 2400, "pumping_lift_ft": 480,
              "irrigated_area_acre": 400, "pivot_length_ft": 2600, "fuel_rate": None,
              "pipe_diameter_in": 14}
    study = study_of(tmp_path, [FARMS[0], beyond])
    assert study.counts == {"read": 2, "assessed": 1, "not_assessed": 1}
    giant = study.results.loc[3]
    assert giant["verdict"] == "incomplete" and np.isnan(giant["rank"])
    assert "beyond-table" in {f["slug"] for f in study.findings.rows if f["row"] == 3}


def test_order_of_rows_changes_nothing(tmp_path, together):
    backwards = by_name(study_of(tmp_path, FARMS[::-1]))
    for name, row in by_name(together).iterrows():
        assert differences(row, backwards.loc[name], skip=("excel_row",)) == [], name


def test_order_of_columns_changes_nothing(tmp_path, together):
    def turn_around(book):
        sheet = book["Candidates"]
        rows = [[cell.value for cell in row][::-1] for row in sheet.iter_rows()]
        sheet.delete_rows(1, sheet.max_row)
        for row in rows:
            sheet.append(row)

    turned = by_name(study_of(tmp_path, FARMS, edit=turn_around))
    for name, row in by_name(together).iterrows():
        assert differences(row, turned.loc[name], skip=()) == [], name


@pytest.mark.parametrize("number", range(len(FARMS)))
def test_a_farm_alone_gives_what_it_gives_in_the_batch(tmp_path, together, number):
    alone = study_of(tmp_path, [FARMS[number]])
    # Which future is drawn for a farm depends on how many others are drawn with it.
    drawn = {column.key for column in RESULTS.columns if column.group == "uncertainty"}
    assert differences(alone.results.iloc[0], together.results.iloc[number],
                       skip=drawn | set(PLACE)) == []


def test_farms_that_qualify_split_a_shared_line_equally(tmp_path):
    members = [farm | {"shared_line_id": "L1", "single_phase_distance_ft": 0,
                       "supply_option": "single-phase drive", "line_build": "overhead"}
               for farm in FARMS[:3]]
    rows = study_of(tmp_path, members, shared_lines=[SHARED],
                    program={"member_npv_floor_usd": -10_000_000}).results
    builds = rows["funded"] == 1
    count = builds.sum()
    assert count >= 2
    # 3,000 ft at 7.50 USD/ft and one job of 900 USD (prices of the workbook); whoever is not
    # funded is shown what joining the others would cost.
    assert rows.loc[builds, "line_cost_usd"].tolist() == pytest.approx(
        [(3000 * 7.5 + 900) / count] * count, abs=0.01)
    assert rows.loc[~builds, "line_cost_usd"].tolist() == pytest.approx(
        [(3000 * 7.5 + 900) / (count + 1)] * (~builds).sum(), abs=0.01)


# --- ranking --------------------------------------------------------------------------------------

def test_only_qualified_farms_rank_and_in_the_order_of_their_figure(together):
    results = together.results
    is_ranked = results["rank"].notna()
    assert is_ranked.any()
    assert set(results.loc[is_ranked, "verdict"]) <= {"qualifies", "qualifies with conditions"}
    in_order = results[is_ranked].sort_values("rank")
    assert in_order["incentive_usd_per_kw"].is_monotonic_increasing
    assert in_order["rank"].tolist() == list(range(1, len(in_order) + 1))
    assert in_order["running_incentive_cost_usd"].tolist() == pytest.approx(
        in_order["incentive_cost_usd"].cumsum().tolist())


@pytest.mark.parametrize("load", ("useful", "added"))
def test_no_counted_load_leaves_a_farm_unranked_with_a_finding(tmp_path, load):
    row = FARMS[3] | {"present_demand_kw": 500}
    study = study_of(tmp_path, [row], program={"ranking_counts": f"{load} load"})
    farm = study.results.iloc[0]
    assert farm[f"{load}_load_kw"] < 0 and np.isnan(farm["incentive_usd_per_kw"])
    assert np.isnan(farm["rank"]) and farm["verdict"] == "does not qualify"
    assert farm["verdict_reason"].startswith(f"No {load} load.")
    assert f"no-{load}-load" in {f["slug"] for f in study.findings.rows}


# --- the checks -----------------------------------------------------------------------------------

def test_every_option_is_checked_and_every_answer_is_one_of_four(together):
    checks = together.checks
    assert set(checks["answer"]) <= {MEETS, WATCH, FAILS, NOT_ASSESSED}
    assert set(checks["supply_option"]) == set(SUPPLY_OPTIONS)
    assert (checks["source"] != "").all() and (checks["remedy"] != "").all()
    unknown = checks["value"].isna() & ~checks["check"].str.endswith("payback with incentive")
    assert (checks.loc[unknown, "answer"] == "not assessed").all()
