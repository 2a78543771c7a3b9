"""What a drive on single-phase input gives its motors, and what it asks of its conductors."""

import math

import pytest

from batch.engineering.motors import current_at_voltage_a, power_current_a, power_kw
from batch.reading.validate import validate
from batch.study import run_study
from batch.supply.judging import checks_table
from tests.published.hand_calculation import bridge
from tests.workbooks.make import candidate_workbook, unit_cost_rows

# A pump of 50 hp without a pivot. At 40 ft the lead has no filter, at 900 ft a sine filter.
PUMP = {"pump_motor_hp": 50, "flow_gpm": 640, "pivot_length_ft": None, "pivot_lead_ft": None,
        "supply_option": "single-phase drive", "fuel_rate": None, "is_inverter_duty": "yes",
        "motor_lead_ft": 40}


def study_of(folder, rows, **sheets):
    return run_study(validate(candidate_workbook(folder, rows=rows, **sheets)))


def drives(study):
    return study.variants[study.variants["supply_option"] == "single-phase drive"]


def answers(study, check):
    """A check's answers of all drives, by the designs' own index."""
    rows = checks_table(study.variants, study.inputs.rules)
    return rows[rows["check"] == check].set_index("design")["answer"]


def test_current_at_a_lower_voltage():
    # By hand: the same shaft power at 421 V asks 124 A x 460 / 421 = 135.5 A of a motor of 100 hp
    # (124 A, NEC Table 430.250); above the rating the motor is taken as it is.
    given = current_at_voltage_a(rated_current_a=124.0, rated_voltage_v=460.0,
                                 voltage_v=[421.0, 460.0, 480.0])
    assert given == pytest.approx([135.5, 124.0, 124.0], abs=0.05)
    # sqrt(3) x 0.46 kV x 96 A x 0.86 = 65.8 kW, and back.
    kw = power_kw(current_a=96.0, voltage_v=460.0, power_factor=0.86, phases=3)
    assert kw == pytest.approx(65.8, abs=0.05)
    assert power_current_a(power_kw=kw, voltage_v=460.0, power_factor=0.86,
                           phases=3) == pytest.approx(96.0)


def test_a_sagging_bus_asks_for_a_larger_drive(tmp_path):
    """60 hp at 77 A: the 125 hp drive's 78 A (half of 156 A) are enough at 460 V alone."""
    farm = PUMP | {"pump_motor_hp": 60, "flow_gpm": 740}
    study = study_of(tmp_path, [farm | {"source_fault_a": amperes} for amperes in (5000, 260)])
    bare = drives(study).set_index(["excel_row", "variant"]).xs("line reactor 5 %", level=1)
    for _, drive in bare.iterrows():
        at_motor_a = 77 * max(1, 460 / drive["motor_terminal_v"])
        assert drive["drive_output_a"] == pytest.approx(at_motor_a)
        assert drive["drive_allowed_a"] >= at_motor_a > 78 and drive["drive_rated_hp"] == 200
    front_end = drives(study)[drives(study)["variant"] == "active front end"]
    assert set(front_end["drive_rated_hp"]) == {125} and set(front_end["drive_output_a"]) == {77}


def test_without_a_larger_drive_on_the_list_the_check_fails(tmp_path):
    prices = [row for row in unit_cost_rows() if row["item"] != "drive" or row["size"] <= 125]
    farm = PUMP | {"pump_motor_hp": 60, "flow_gpm": 740}
    study = study_of(tmp_path, [farm, farm | {"source_fault_a": None}], unit_costs=prices)
    given = answers(study, "current from the drive")
    by_variant = drives(study).assign(answer=given).set_index(["excel_row", "variant"])["answer"]
    assert by_variant[2]["line reactor 5 %"] == "fails"
    assert by_variant[2]["active front end"] == "meets"
    # Behind an unknown source the bus is unknown, and so is the current.
    assert by_variant[3]["line reactor 5 %"] == "not assessed"


def test_valley_of_the_bus_is_watched_and_its_mean_fails(tmp_path):
    """0.707 x bus x 0.99 x 0.96: third-harmonic injection, 1 % output stage, sine filter 4 %."""
    farms = [PUMP | {"source_fault_a": fault_a, "single_phase_distance_ft": feet,
                     "motor_lead_ft": 900}
             for fault_a in (300, 700, 2500) for feet in (200, 2500)]
    study = study_of(tmp_path, farms)
    d = drives(study)
    d = d[d["variant"] != "active front end"]
    lead_v = 4.60 * d["motor_lead_drop_pct"]  # in percent of 460 V
    mean_v, valley_v = (0.707 * d[key] * 0.99 * 0.96 - lead_v
                        for key in ("mean_bus_v", "valley_bus_v"))
    assert d["motor_terminal_v"].to_numpy() == pytest.approx(mean_v.to_numpy())
    assert d["motor_valley_v"].to_numpy() == pytest.approx(valley_v.to_numpy())
    assert (d["valley_bus_v"] < d["mean_bus_v"]).all()
    by_hand = ["fails" if mean < 414 else "watch" if valley < 414 else "meets"
               for mean, valley in zip(mean_v, valley_v)]
    assert answers(study, "motor voltage from the drive").loc[d.index].tolist() == by_hand
    assert {"fails", "watch", "meets"} == set(by_hand)


def test_rated_input_is_solved_at_the_output_that_the_drive_may_give(tmp_path):
    # The 125 hp drive may give 78 A: 0.46 kV x 78 A x sqrt(3) x 0.86 over 96.5 %. The hand bridge
    # is the closed form with an endless bus; here the bus is very stiff too.
    study = study_of(tmp_path, [PUMP], program={"drive_bus_capacitance_uf_kw": 2000})
    drive = drives(study).set_index("variant").loc["bare drive"]
    chain = sum(complex(drive[f"{part}_r_ohm"], drive[f"{part}_x_ohm"])
                for part in ("source", "line", "transformer", "service"))
    wave = bridge(chain, math.sqrt(3) * 0.46 * 78 * 0.86 / 0.965)
    rated_a = math.sqrt((wave["harmonics"] ** 2).sum())
    assert drive["drive_allowed_a"] == 78
    assert drive["rated_input_a"] == pytest.approx(rated_a, rel=0.02)
    assert drive["rated_input_a"] > 1.1 * math.sqrt(3) * 78 * 460 / 480  # two legs alone: too low
    assert drive["minimum_ampacity_a"] == pytest.approx(1.25 * drive["rated_input_a"])


def test_front_end_has_a_bus_and_losses_of_its_own(tmp_path):
    # From memory of makers' claims: the bus 5 to 10 % above the peak of the line, here 7 % above
    # sqrt(2) x 480 x 1.03 V; two converters in series 94 % efficient, a sine filter 98.5 %.
    study = study_of(tmp_path, [PUMP | {"motor_lead_ft": 900}, PUMP])
    by = drives(study).set_index(["excel_row", "variant"])
    front_end, bare = by.loc[(2, "active front end")], by.loc[(2, "bare drive")]
    assert front_end["mean_bus_v"] == pytest.approx(math.sqrt(2) * 480 * 1.03 * 1.07)
    assert front_end["drive_motor_v"] == pytest.approx(
        0.707 * math.sqrt(2) * 480 * 1.03 * 1.07 * 0.99 * 0.96)
    for drive, efficiency in ((front_end, 0.94 * 0.985), (bare, 0.965 * 0.985),
                              (by.loc[(3, "bare drive")], 0.965)):
        assert drive["service_demand_kw"] == pytest.approx(drive["motor_input_kw"] / efficiency)
    # Its pulses are as high as its bus, and double at the end of a long lead without a sine filter.
    assert by.loc[(3, "active front end"), "pulse_top_v"] == pytest.approx(748.1, abs=0.1)
