"""Fault currents that are upper bounds: behind a feeder of unknown strength, and with motors."""

import math

import numpy as np
import pytest

from batch.engineering.faults import motor_fault_a
from batch.findings import judge
from batch.reading.validate import validate
from batch.study import run_study
from batch.supply import judging
from tests.workbooks.make import candidate_workbook

RULES = {"source_x_over_r": 1, "primary_conductor": "2 ACSR", "phase_spacing_ft": 4.29,
         "neutral_spacing_ft": 5.02, "ambient_c": 40, "service_voltage_v": 480}
NO_PIVOT = {"pivot_length_ft": None, "tower_count": None, "pivot_lead_ft": None}
# Far from the three-phase line. Shaft power by hand: 1500 gal/min x (300 ft + 2.31 x 35 psi)
# / 3960 / 0.75 = 192 hp, a motor of 200 hp.
FAR = NO_PIVOT | {
    "flow_gpm": 1500, "pumping_lift_ft": 300, "pivot_pressure_psi": 35, "pipe_length_ft": None,
    "pipe_diameter_in": None, "pump_efficiency_pct": 75, "fuel_rate": None,
    "irrigated_area_acre": 250, "three_phase_distance_ft": 19_600, "service_distance_ft": 40,
    "source_fault_a": 620}
LINE = ("fault current at the transformer", "fault current at the drive or starter")
MIDPOINT = ("fault current to the midpoint", "midpoint fault at the drive or converter")


def study_of(tmp_path, row, **program):
    """Every variant of one farm, and all their checks."""
    book = candidate_workbook(tmp_path, rows=[row], program=RULES | program)
    study = run_study(validate(book))
    return study.variants, judging.checks_table(study.variants, study.inputs.rules)


def of_option(frame, option):
    return frame[frame["supply_option"] == option]


def answers(checks, option, names):
    mine = of_option(checks, option)
    return mine[mine["check"].isin(names)]


# --- three phases ---------------------------------------------------------------------------------

def far_network_a(*, with_service):
    """By hand, ohms at 480 V per phase, nothing ahead of the tap.

    Line of 2 ACSR: 1.69 + j0.12134 ln(4.29 / 0.00418) ohm/mile (Kersting, chapter 4), 19,600 ft,
    (480 / 12,471 V)^2. Bank of three 75 kVA of 1.01 + j1.43 percent. Service of 40 ft of
    500 kcmil copper, 0.027 + j0.039 ohm/1000 ft (NEC chapter 9 Table 9, PVC).
    """
    line = (1.69 + 0.12134j * math.log(4.29 / 0.00418)) * 19_600 / 5280 * (480 / 12_470.77) ** 2
    bank = (0.0101 + 0.0143j) * 480 ** 2 / 225e3
    service = (0.027 + 0.039j) * 40 / 1000 if with_service else 0
    return 480 / math.sqrt(3) / abs(line + bank + service)


def test_three_phase_fault_passes_the_farms_own_line(tmp_path):
    variants, checks = study_of(tmp_path, FAR)
    line = of_option(variants, "three-phase line").iloc[0]
    assert line["pump_motor_hp"] == 200 and line["transformer_kva"] == 225
    # A sum of such a farm done elsewhere: 10,075 A at the transformer, 9,435 A at the starter.
    assert far_network_a(with_service=False) == pytest.approx(10_075, rel=0.001)
    assert far_network_a(with_service=True) == pytest.approx(9_435, rel=0.001)
    # NEC Table 430.250: 200 hp 240 A; four times that come back at most.
    assert line["motor_fault_a"] == pytest.approx(4 * 240)
    assert line["fault_current_a"] == pytest.approx(
        far_network_a(with_service=False) + 960, rel=1e-3)
    # NEC 430.24 and Table 310.16 x 0.88: 1.25 x 240 A = 300 A; 400 kcmil 294.8 A, 500 334.4 A.
    assert line["service_conductor"] == "500 kcmil copper"
    assert line["fault_at_drive_a"] == pytest.approx(
        far_network_a(with_service=True) + 960, rel=1e-3)
    assert "upper bound" in line["fault_standing"]
    # UL 508A (memory): 10,000 A for starters of 51 to 200 hp. A bound beyond it proves nothing.
    starter = answers(checks, "three-phase line", LINE[1:])
    assert (starter["limit"] == 10_000).all() and (starter["value"] > 10_000).all()
    assert set(starter["answer"]) == {"not assessed"}
    assert starter["remedy"].str.contains("three-phase fault current at the tap").all()
    # 11,000 A are within a device of 22,000 A, however strong the feeder is.
    assert set(answers(checks, "three-phase line", LINE[:1])["answer"]) == {"meets"}


@pytest.mark.parametrize("tap_a", [620, None])
def test_single_phase_tap_says_nothing_about_a_three_phase_fault(tmp_path, tap_a):
    variants, checks = study_of(tmp_path, FAR | {"source_fault_a": tap_a})
    line = of_option(variants, "three-phase line")
    assert line["fault_current_a"].to_numpy() == pytest.approx(
        far_network_a(with_service=False) + 960, rel=1e-3)
    mine = answers(checks, "three-phase line", LINE)
    assert mine["blank_inputs"].eq("").all()
    assert not mine["remedy"].str.contains("Fill").any()


def test_line_of_unknown_length_has_no_fault_current(tmp_path):
    variants, checks = study_of(tmp_path, FAR | {"three_phase_distance_ft": None})
    assert of_option(variants, "three-phase line")["fault_current_a"].isna().all()
    mine = answers(checks, "three-phase line", LINE)
    assert set(mine["answer"]) == {"not assessed"}
    assert (mine["blank_inputs"] == "Distance to three-phase line").all()


# --- single phase ---------------------------------------------------------------------------------

NEAR = NO_PIVOT | {"source_fault_a": None, "single_phase_distance_ft": 1850}


def test_blank_tap_gives_the_fault_behind_an_infinite_source(tmp_path):
    variants, checks = study_of(tmp_path, NEAR, interrupting_rating_a=22_000)
    known, _ = study_of(tmp_path, NEAR | {"source_fault_a": 620})
    drive = of_option(variants, "single-phase drive")
    # By hand: V / |Z| of line, transformer and service alone, from the printed ohms.
    ahead = drive[["line_r_ohm", "line_x_ohm"]].to_numpy() @ [1, 1j]
    unit = drive[["transformer_r_ohm", "transformer_x_ohm"]].to_numpy() @ [1, 1j]
    service = drive[["service_r_ohm", "service_x_ohm"]].to_numpy() @ [1, 1j]
    half = (1.5 * unit.real + 1.2j * unit.imag) / 4  # 1.5 R and 1.2 X on a quarter of the ohms
    for key, amperes in (("fault_current_a", 480 / abs(ahead + unit)),
                         ("fault_at_drive_a", 480 / abs(ahead + unit + service)),
                         ("fault_midpoint_a", 240 / abs(ahead / 4 + half)),
                         ("fault_midpoint_drive_a", 240 / abs(ahead / 4 + half + service))):
        assert drive[key].to_numpy() == pytest.approx(amperes, rel=1e-9), key
        # A bound: a source of any strength gives less.
        assert (of_option(known, "single-phase drive")[key].to_numpy() < drive[key]).all()
    mine = answers(checks, "single-phase drive", LINE + MIDPOINT)
    within = mine["value"] <= mine["limit"]
    assert within.any() and set(mine.loc[within, "answer"]) == {"meets"}
    # What the standard says of the ratio Isc/IL needs the fault current itself: a bound would
    # choose too loose a row.
    assert variants["short_circuit_ratio"].isna().all()


def test_bound_beyond_a_rating_is_open_and_asks_for_the_tap(tmp_path):
    _, checks = study_of(tmp_path, NEAR, interrupting_rating_a=1_000)
    for option in ("single-phase drive", "rotary converter"):
        mine = answers(checks, option, (LINE[0], MIDPOINT[0]))
        assert (mine["value"] > 1_000).all() and set(mine["answer"]) == {"not assessed"}
        assert (mine["remedy"] == "Fill: Fault current at the tap.").all()


def test_known_tap_still_fails(tmp_path):
    variants, checks = study_of(tmp_path, NEAR | {"source_fault_a": 620},
                                interrupting_rating_a=1_000)
    drive = of_option(variants, "single-phase drive")
    assert (drive["motor_fault_a"] == 0).all()  # a rectifier lets nothing back
    assert set(drive["fault_standing"]) == {"computed"}
    assert set(answers(checks, "single-phase drive", LINE[:1])["answer"]) == {"fails"}


# --- motors ---------------------------------------------------------------------------------------

def test_motor_behind_its_own_impedance():
    # By hand: 480 V, 50 kVA: 60.1 A and 4.608 ohm; behind a quarter of that, 480 / sqrt(3) / 1.152.
    assert motor_fault_a(full_load_a=50_000 / 480 / math.sqrt(3)) == pytest.approx(
        480 / math.sqrt(3) / (0.25 * 480 ** 2 / 50_000))


def test_rotary_converter_and_its_motors_feed_back(tmp_path):
    # 25 hp pump by hand: 300 gal/min x (140 + 2.31 x 35) ft / 3960 / 0.75 = 22.3 hp; converter
    # 1.25 x 25 hp, listed 40 hp. NEC Table 430.250: 25 hp 34 A, 40 hp 52 A.
    row = NEAR | {"flow_gpm": 300, "pumping_lift_ft": 140, "pivot_pressure_psi": 35,
                  "pipe_length_ft": None, "pipe_diameter_in": None, "pump_efficiency_pct": 75,
                  "fuel_rate": None, "irrigated_area_acre": 50, "source_fault_a": 620}
    variants, _ = study_of(tmp_path, row, converter_size_factor=1.25)
    rotary = of_option(variants, "rotary converter").iloc[0]
    assert (rotary["pump_motor_hp"], rotary["drive_rated_hp"]) == (25, 40)
    assert rotary["motor_fault_a"] == pytest.approx(4 * (34 + 52))
    chain = sum((rotary[f"{part}_r_ohm"] + 1j * rotary[f"{part}_x_ohm"])
                for part in ("source", "line", "transformer"))
    network_a = 480 / abs(chain)
    assert rotary["fault_current_a"] == pytest.approx(network_a + 4 * (34 + 52), rel=1e-9)
    # Between the network's part and the sum, the answer rests on the motors' part alone.
    for rating_a, answer in ((network_a - 1, "fails"), (network_a + 1, "not assessed"),
                             (network_a + 4 * (34 + 52) + 1, "meets")):
        _, checks = study_of(tmp_path, row, converter_size_factor=1.25,
                             interrupting_rating_a=float(rating_a))
        mine = answers(checks, "rotary converter", LINE[:1])
        assert set(mine["answer"]) == {answer}, rating_a
        if answer == "not assessed":
            assert mine["remedy"].str.contains("without the motors' part").all()


def test_starter_behind_a_converter_has_its_own_rating(tmp_path):
    # 50 hp pump by hand: 700 gal/min x (130 + 2.31 x 35) ft / 3960 / 0.75 = 49.7 hp; its converter
    # is 1.25 x 50 hp, listed 75 hp. UL 508A (memory): starters and drives of up to 50 hp 5,000 A,
    # of 51 to 200 hp 10,000 A. Two of the three legs come straight from the service.
    row = NEAR | {"flow_gpm": 700, "pumping_lift_ft": 130, "pivot_pressure_psi": 35,
                  "pipe_length_ft": None, "pipe_diameter_in": None, "pump_efficiency_pct": 75,
                  "fuel_rate": None, "source_fault_a": 900}
    variants, checks = study_of(tmp_path, row, converter_size_factor=1.25)
    rotary = of_option(variants, "rotary converter")
    assert set(rotary["pump_motor_hp"]) == {50} and set(rotary["drive_rated_hp"]) == {75}
    assert set(rotary["withstand_a"]) == {5_000}
    assert set(answers(checks, "rotary converter", LINE[1:])["limit"]) == {5_000}
    # The others have one apparatus, whose size counts: a drive of twice the pump's rating, or the
    # starter alone.
    drive = of_option(variants, "single-phase drive")
    assert (drive["drive_rated_hp"] > 50).all() and set(drive["withstand_a"]) == {10_000}
    assert set(of_option(variants, "three-phase line")["withstand_a"]) == {5_000}


# --- the judge ------------------------------------------------------------------------------------

@pytest.mark.parametrize("beyond, sense", [(1, "at_most"), (-1, "at_least")])
def test_an_excess_of_a_bound_is_not_assessed(beyond, sense):
    """8 against 10 is within; 12 that may be 9 is open, 12 that is at best 11 is beyond."""
    value = np.array([8, 12, 12, 12, 10, np.nan]) * beyond
    unsure_by = [np.inf, 3, 1, np.inf, np.inf, np.inf]
    assert judge(value, **{sense: 10 * beyond}, unsure_by=unsure_by).tolist() == [
        "meets", "not assessed", "fails", "not assessed", "meets", "not assessed"]
