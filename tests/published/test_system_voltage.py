"""Motors by the code's tables at their own rated voltage, and by their nameplates where they draw
more; voltages that do not belong together are refused."""

import math

import pytest

from batch.findings import StudyError
from batch.reading.scenario import apply, read_scenario
from batch.reading.validate import validate
from batch.study import run_study
from tests.workbooks.make import candidate_workbook, cell, findings

# NEC Table 430.250, read in public copies: amperes of 50 hp at 230, 460 and 575 V.
FIFTY_HP_A = {230: 130, 460: 65, 575: 52}
SYSTEMS = {  # what belongs together: service, motor, ANSI C84.1 range A and B, tower limits
    240: {"service_voltage_v": 240, "motor_voltage_v": 230, "service_voltage_low_v": 228,
          "service_voltage_high_v": 252, "end_tower_minimum_v": 207, "end_tower_advised_v": 220},
    480: {},
    600: {"service_voltage_v": 600, "motor_voltage_v": 575, "service_voltage_low_v": 570,
          "service_voltage_high_v": 630, "end_tower_minimum_v": 518, "end_tower_advised_v": 550},
}
PUMP = {"pump_motor_hp": 50, "flow_gpm": 600, "pivot_length_ft": None, "pivot_lead_ft": None,
        "service_distance_ft": 30, "fuel_rate": None}


def study_of(folder, rows, **sheets):
    return run_study(validate(candidate_workbook(folder, rows=rows, **sheets)))


PIVOT = PUMP | {"pivot_length_ft": 1290, "pivot_lead_ft": 40, "tower_count": 8,
                "tower_motor_hp": 1}


@pytest.fixture(scope="module")
def on_system(tmp_path_factory):
    """The study of a farm without and one with a pivot on a system, by its service voltage."""
    return {service_v: study_of(tmp_path_factory.mktemp(str(service_v)), [PUMP, PIVOT],
                                program=program) for service_v, program in SYSTEMS.items()}


@pytest.mark.parametrize("service_v, motor_v", [(240, 230), (480, 460), (600, 575)])
def test_currents_follow_the_motors_own_voltage(on_system, service_v, motor_v):
    table_a = FIFTY_HP_A[motor_v]
    variants = on_system[service_v].variants
    variants = variants[variants["candidate_id"] == "F-1"]
    line = variants[variants["variant"] == "across the line"]
    line = line[line["supply_option"] == "three-phase line"].iloc[0]
    assert line["motor_table_a"] == table_a
    # NEC 430.22: 125 % of the table; the run carries it and the load's own current.
    assert line["minimum_ampacity_a"] == pytest.approx(1.25 * table_a)
    assert line["service_ampacity_a"] >= max(1.25 * table_a, line["service_current_a"])
    drives = variants[variants["supply_option"] == "single-phase drive"]
    # A drive for three-phase input runs half of its own table current on single phase (the
    # program's rule): one that is listed for 125 hp, 312, 156 or 125 A, runs 156, 78 or 62.5 A.
    of_125_hp = {230: 312, 460: 156, 575: 125}[motor_v] / 2
    bare = drives[drives["variant"] == "bare drive"].iloc[0]
    assert bare["drive_allowed_a"] == of_125_hp
    assert (drives["service_ampacity_a"] >= drives["service_current_a"]).all()


def test_tower_motors_follow_their_voltage_too(on_system):
    # NEC Table 430.250: 1 hp draws 4.2 A at 230 V, 2.1 A at 460 V; Table 430.251(B): 30 and 15 A.
    low, high = (on_system[volts].results.iloc[1] for volts in (240, 480))
    assert low["pivot_machine_a"] == pytest.approx(1.25 * 4.2 + 0.6 * 7 * 4.2)
    assert high["pivot_machine_a"] == pytest.approx(1.25 * 2.1 + 0.6 * 7 * 2.1)
    assert (low["pivot_largest_locked_a"], high["pivot_largest_locked_a"]) == (30, 15)


@pytest.mark.parametrize("program, words", [
    ({"service_voltage_v": 208}, "Program!B2: Service voltage is 208 V; the systems are 240, 480"),
    ({"motor_voltage_v": 440}, "Program!B2: Motor rated voltage is 440 V; motors on a service of "
                               "480 V are rated 460 V"),
    ({"service_voltage_v": 240, "motor_voltage_v": 230},
     "Service voltage, lowest is 456 V; on a service of 240 V it is a voltage from 168 to 288 V"),
])
def test_voltages_of_two_systems_are_refused(tmp_path, program, words):
    with pytest.raises(StudyError) as fault:
        validate(candidate_workbook(tmp_path, rows=[PUMP], program=program))
    assert words in fault.value.what and fault.value.next_step.startswith("Type voltages")


def test_a_scenario_cannot_mix_systems_either(tmp_path):
    path = tmp_path / "low.toml"
    path.write_text('name = "Low"\n[rules]\nservice_voltage_v = 240\n', encoding="utf-8")
    inputs = validate(candidate_workbook(tmp_path, rows=[PUMP]))
    with pytest.raises(StudyError, match="Scenario 'Low', motor_voltage_v: .* rated 230 V"):
        apply(inputs, read_scenario(path))


def test_nameplate_above_the_table_sizes_drive_wires_and_device(tmp_path):
    """A submersible of 50 hp that draws 74 A where the table says 65 A."""
    rows = [PUMP | {"motor_full_load_a": amperes} for amperes in (74, 58, None)]
    study = study_of(tmp_path, rows)
    above, below, blank = (
        study.variants[study.variants["excel_row"] == row].set_index(["supply_option", "variant"])
        for row in (2, 3, 4))
    line = ("three-phase line", "across the line")
    # NEC 430.22 and 430.52: 125 % of 74 A; 250 % is 185 A, next size 200 A. By the table 162.5 A
    # asks for 175 A.
    assert above.loc[line, "minimum_ampacity_a"] == pytest.approx(1.25 * 74)
    assert above.loc[line, "protective_device_a"] == 200
    assert blank.loc[line, "protective_device_a"] == 175
    # A smaller nameplate leaves the table in force (NEC 430.6(A)(1)).
    for key in ("minimum_ampacity_a", "protective_device_a", "motor_design_a"):
        assert below.loc[line, key] == blank.loc[line, key]
    assert above.loc[("single-phase drive", "bare drive"), "three_phase_load_a"] == 74
    [note] = findings(study.inputs, "nameplate-above-table")
    assert note["row"] == 2 and note["message"].startswith(
        f"Candidates!{cell('motor_full_load_a')}: the nameplate's 74.0 A are above the table's "
        "65.0 A.")


def test_nameplate_far_from_the_table_is_said(tmp_path):
    """A current above the table's by more than the service factor of 1.15 (NEMA MG 1, memory) is no
    full-load current of that rating: of 65 A, 74.75 A. Below three quarters, 48.75 A, the plate is
    of a smaller motor (common practice, no source)."""
    study = study_of(tmp_path, [PUMP | {"motor_full_load_a": amperes}
                                for amperes in (74.5, 75.2, 49.0, 48.5)])
    assert [f["row"] for f in findings(study.inputs, "nameplate-current")] == [3, 5]
    assert [f["row"] for f in findings(study.inputs, "nameplate-above-table")] == [2]


def test_a_motor_starts_by_its_rated_voltage(tmp_path):
    """A code letter is kVA per hp at the motor's 460 V: on 480 V the motor draws more."""
    study = study_of(tmp_path, [PUMP | {"source_fault_a": 620, "motor_code_letter": "G"}])
    line = study.variants[(study.variants["supply_option"] == "three-phase line")
                          & (study.variants["variant"] == "across the line")].iloc[0]
    ohm = 460 ** 2 / (1000 * 50 * 6.29)  # NEC Table 430.7(B), letter G: to 6.29 kVA per hp
    assert math.hypot(line["start_r_ohm"], line["start_x_ohm"]) == pytest.approx(ohm)
    assert line["start_r_ohm"] == pytest.approx(0.30 * ohm)
    chain = sum(complex(line[f"{part}_r_ohm"], line[f"{part}_x_ohm"])
                for part in ("source", "line", "transformer", "service"))
    motor = ohm * complex(0.30, math.sqrt(1 - 0.30 ** 2))
    assert line["starting_dip_service_pct"] == pytest.approx(
        100 * (1 - abs(motor / (motor + chain))))
