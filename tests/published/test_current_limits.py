"""Current limits: the point of common coupling, and what applied, watched and off do."""

import math
from dataclasses import replace

import openpyxl
import pytest

from batch.columns import RESULTS
from batch.program.choosing import BARE
from batch.reading.validate import validate
from batch.rules import Rule
from batch.study import run_study
from batch.writing.run_folder import write_run
from tests.workbooks.make import candidate_workbook

FRONT_END = "active front end"
CHOICES = ("applied", "watched", "off")
CHECKS = {"current distortion", "single current harmonics"}

# --- the point of common coupling, by hand --------------------------------------------------------

TAP_FAULT_A = 600
FARM = {"flow_gpm": 600, "pumping_lift_ft": 150, "pivot_pressure_psi": 20, "elevation_gain_ft": 0,
        "pipe_length_ft": 0, "pump_efficiency_pct": 75, "pump_motor_hp": 50, "tower_count": 8,
        "tower_motor_hp": 1, "tower_duty_pct": 60, "booster_hp": 2, "pivot_length_ft": 1290,
        "primary_kv": 7.2, "source_fault_a": TAP_FAULT_A, "single_phase_distance_ft": 500,
        "is_inverter_duty": "yes", "supply_option": "single-phase drive"}
PROGRAM = {"current_limits_apply": "applied", "primary_conductor": "2 ACSR",
           "neutral_spacing_ft": 5.02, "tap_voltage_pct": 103, "source_x_over_r": 1,
           "drive_efficiency_pct": 96.5, "tower_load_pct": 75, "tower_motor_efficiency_pct": 75,
           "service_voltage_v": 480}


def demand_a():
    """The whole farm's fundamental at 480 V, pump and pivot through the drive."""
    water_hp = 600 * (150 + 2.31 * 20) / 3960
    motor_kw = 0.7457 * water_hp / 0.75 / 0.945  # 10 CFR 431.25: 50 hp, 94.5 %
    # 8 towers of 1 hp, the mean tower (8 + 1) / (2 x 8) of the end tower's 60 %; booster 2 hp.
    pivot_kw = 0.7457 * (8 * 0.60 * 9 / 16 + 2 / 0.75 * 0.75)
    # Of the drives that are compared the one with an active front end, 94 %, and its sine filter,
    # 98.5 % (makers' claims, memory).
    load_w = 1000 * (motor_kw + pivot_kw) / (0.94 * 0.985)
    # Power balance V I 0.99 = P + R I^2 with 480 V x 1.03 at the tap and the ohms of `fault_a`;
    # the short service conductors are left out.
    volts, ohm = 480 * 1.03 * 0.99, impedances_ohm(with_transformer=True).real
    return (volts - math.sqrt(volts ** 2 - 4 * ohm * load_w)) / (2 * ohm)


def impedances_ohm(with_transformer):
    """Seen from 480 V: 7,200 V behind 600 A with X/R = 1; 500 ft of 2 ACSR with its neutral,
    1.9217 + j1.4212 ohm per mile (Carson 1926 with Kron reduction); 50 kVA with 1.07 + j1.39 %."""
    down = (480 / 7200) ** 2
    source = 7200 / TAP_FAULT_A * (1 + 1j) / math.sqrt(2) * down
    line = (1.9217 + 1.4212j) * 500 / 5280 * down
    return source + line + with_transformer * (0.0107 + 0.0139j) * 480 ** 2 / 50e3


# Source: IEEE 519, clause 3 and Table 2: both currents of Isc/IL are those at the point of common
# coupling, so at one voltage; 8 % from 20, 12 % from 50, 15 % from 100 to 1000.
POINTS = {
    # At 7.2 kV the fault current is the tap's; the farm draws 480 / 7,200 of its amperes there.
    "primary tap": (TAP_FAULT_A, demand_a() * 480 / 7200, 15),
    # At the transformer's terminals the fault passes source, line and transformer.
    "service terminals": (480 / abs(impedances_ohm(True)), demand_a(), 8),
}


@pytest.fixture(scope="module", params=POINTS)
def at_point(request, tmp_path_factory):
    book = candidate_workbook(tmp_path_factory.mktemp("point"), rows=[FARM],
                              program=PROGRAM | {"common_coupling_point": request.param})
    return request.param, run_study(validate(book))


def test_ratio_is_of_both_currents_at_the_point(at_point):
    point, study = at_point
    fault_a, amperes, limit_pct = POINTS[point]
    drives = study.variants[study.variants["variant"] == FRONT_END].iloc[0]
    assert drives["transformer_kva"] == 50
    assert drives["coupling_fault_a"] == pytest.approx(fault_a, rel=0.002)
    assert drives["coupling_demand_a"] == pytest.approx(amperes, rel=0.01)
    assert drives["short_circuit_ratio"] == pytest.approx(fault_a / amperes, rel=0.01)
    assert drives["tdd_limit_pct"] == limit_pct


def test_demand_distortion_is_the_same_on_both_sides_of_the_transformer(at_point):
    # By hand: the maker's spectrum of the front end, 2.5 % of the 3rd, 1.7 of the 5th, 1.0, 0.6,
    # 0.5, 0.4, twice 0.3 and twice 0.2 %. A single-phase transformer turns harmonics and demand
    # down alike, so that the percent of the demand stays.
    _, study = at_point
    parts = (2.5, 1.7, 1.0, 0.6, 0.5, 0.4, 0.3, 0.3, 0.2, 0.2)
    drive = study.variants[study.variants["variant"] == FRONT_END].iloc[0]
    assert drive["current_tdd_pct"] == pytest.approx(math.hypot(*parts), rel=1e-6)
    # The 3rd harmonic has the largest share of its own limit: 2.5 % of 12 % or of 7 % (Table 2).
    single_pct = {15: 12, 8: 7}[drive["tdd_limit_pct"]]
    assert drive["single_harmonic_share_pct"] == pytest.approx(100 * 2.5 / single_pct, rel=1e-6)


def test_closed_years_take_the_point_ahead_of_the_farms_own_transformer(tmp_path):
    # IEEE 519, clause 3 (memory): the point nearest to the load at which others could be served.
    for year in (2024, 2025):
        rules = validate(candidate_workbook(tmp_path, study={"rules_year": year})).rules
        assert rules["common_coupling_point"] == "primary tap"
        assert rules["current_limits_apply"] == "applied"


# --- applied, watched, off ------------------------------------------------------------------------

# Farms beside a substation, whose bare drive's current is beyond every row of the table and does
# little to the voltage; the second one's tap is unknown, and the third one's is weak.
STRONG = FARM | {"source_fault_a": 6000, "motor_lead_ft": 40, "load_control": "yes",
                 "pivot_length_ft": 0, "tower_count": None, "booster_hp": 0}
ROWS = [STRONG, STRONG | {"source_fault_a": None}, STRONG | {"source_fault_a": 150}]


@pytest.fixture(scope="module")
def by_choice(tmp_path_factory):
    """The study of the same farms under each choice."""
    inputs = validate(candidate_workbook(tmp_path_factory.mktemp("choice"), rows=ROWS,
                                         program=PROGRAM))
    return {choice: run_study(replace(inputs, rules=inputs.rules.replaced(
        {"current_limits_apply": Rule(choice, "resolution")}))) for choice in CHOICES}


def listed(study, row):
    """Answer of each current check of the farm's drive, and its remedy."""
    mine = study.checks[(study.checks["excel_row"] == row) & study.checks["check"].isin(CHECKS)]
    return mine.set_index("check")[["answer", "remedy", "value", "limit"]]


def test_applied_limits_take_a_remedy(by_choice):
    farm = by_choice["applied"].results.loc[2]
    assert farm["variant"] != BARE
    assert set(listed(by_choice["applied"], 2)["answer"]) == {"meets"}
    assert " against a limit of " in farm["mitigation_reason"]


def test_watched_limits_are_listed_and_bar_no_farm_and_no_bare_drive(by_choice):
    study = by_choice["watched"]
    farm, checks = study.results.loc[2], listed(study, 2)
    assert farm["variant"] == BARE
    assert set(checks.index) == CHECKS and set(checks["answer"]) == {"watch"}
    assert (checks["value"] > checks["limit"]).all()  # an excess, and no near miss
    assert checks["remedy"].str.contains("asks for nothing").all()
    assert farm["verdict"] == "qualifies with conditions" and farm["rank"] >= 1
    assert "Watch: current distortion" in farm["verdict_reason"]
    assert " against a watched limit of " in farm["mitigation_reason"]


@pytest.mark.parametrize("choice", ["watched", "off"])
def test_voltage_limits_still_ask_for_a_remedy_and_the_text_says_so(by_choice, choice):
    # Source: IEEE 519-2022, Table 1: 8 % up to 1 kV.
    study = by_choice[choice]
    bare = study.variants[(study.variants["variant"] == BARE) & (study.variants["excel_row"] == 4)]
    assert bare["voltage_thd_pct"].iloc[0] > 8
    farm = study.results.loc[4]
    assert farm["variant"] != BARE and farm["voltage_thd_pct"] < 8
    assert "The bare drive fails " in farm["mitigation_reason"]
    assert "voltage distortion at the service" in farm["mitigation_reason"]
    assert "current distortion" not in farm["mitigation_reason"]


def test_limits_that_are_off_are_not_seen(by_choice, tmp_path):
    study = by_choice["off"]
    farm = study.results.loc[2]
    assert farm["variant"] == BARE and not len(listed(study, 2))
    assert "current" not in farm["verdict_reason"] and "limit" not in farm["mitigation_reason"]
    seen = {}
    for choice in CHOICES:
        folder = write_run(by_choice[choice], tmp_path / choice, overwrite=False, options={})
        page = next((folder / "farms").glob("f-1.html")).read_text(encoding="utf-8")
        heads = [cell.value for row in openpyxl.load_workbook(
            folder / "result.xlsx")["Mitigations"].iter_rows(max_row=12) for cell in row]
        seen[choice] = (page, heads)
    for key in ("tdd_limit_pct", "coupling_demand_a", "short_circuit_ratio"):
        label = RESULTS.by_key[key].label
        assert label not in seen["off"][0]
        assert label in seen["watched"][0] and label in seen["applied"][0]
    header = RESULTS.by_key["tdd_limit_pct"].header
    assert header in seen["watched"][1] and header not in seen["off"][1]


def test_unknown_limit_that_is_watched_has_no_say_in_the_choice(by_choice):
    watched, off = (by_choice[choice].results.loc[3] for choice in ("watched", "off"))
    assert listed(by_choice["watched"], 3).loc["single current harmonics", "answer"] == (
        "not assessed")  # and no pass
    assert watched["variant"] == off["variant"]
    assert watched["project_cost_usd"] == off["project_cost_usd"]


def test_the_older_yes_is_refused_with_the_choices(tmp_path):
    from batch.findings import StudyError

    with pytest.raises(StudyError, match="'yes', which is not one of: applied, watched, off"):
        validate(candidate_workbook(tmp_path, program={"current_limits_apply": "yes"}))
