"""The rotary converter itself: its start on the single-phase line, its conductors, its low leg."""

import math

import pytest

from batch.reading.validate import validate
from batch.study import run_study
from tests.workbooks.make import candidate_workbook, unit_cost_rows

# A pump of 20 hp at some 19 hp; the list has converters of 20 and 40 hp.
PUMP = {"pump_motor_hp": 20, "flow_gpm": 240, "irrigated_area_acre": 50, "fuel_rate": None,
        "pivot_length_ft": None, "pivot_lead_ft": None, "supply_option": "rotary converter"}


def converters(folder, rows=(PUMP,), **sheets):
    """The designs with a converter, by row and starter."""
    study = run_study(validate(candidate_workbook(folder, rows=rows, **sheets)))
    v = study.variants
    return v[v["supply_option"] == "rotary converter"].set_index(["excel_row", "variant"]), study


def test_what_starts_on_the_line_is_the_converter(tmp_path):
    # 1.25 x 20 hp asks for the 40 hp converter. NEC Table 430.7(B), letter G: to 6.29 kVA per hp.
    # Unloaded on two legs it draws about half of that (memory): 40 x 6.29 / 2 = 125.8 kVA, as much
    # as a motor of 20 hp across the line.
    by, _ = converters(tmp_path)
    soft = by.loc[(2, "soft starter")]
    assert soft["drive_rated_hp"] == 40
    assert soft["converter_inrush_kva"] == pytest.approx(125.8)
    assert soft["converter_start_hp"] == pytest.approx(20)
    # The soft starter halves the pump's start, 62.9 kVA; the converter's is the worse.
    assert soft["starting_kva"] == pytest.approx(125.8)
    assert soft["single_phase_start_hp"] == pytest.approx(20)
    motor = 460 ** 2 / 125_800 * complex(0.30, math.sqrt(1 - 0.30 ** 2))
    chain = sum(complex(soft[f"{part}_r_ohm"], soft[f"{part}_x_ohm"])
                for part in ("source", "line", "transformer", "service"))
    assert soft["starting_dip_service_pct"] == pytest.approx(
        100 * (1 - abs(motor / (motor + chain))))


def test_the_makers_figure_goes_first_and_the_worse_start_counts(tmp_path):
    prices = [row | ({"inrush_kva": 75} if row["item"] == "rotary converter"
                     and row["size"] == 40 else {}) for row in unit_cost_rows()]
    by, study = converters(tmp_path, unit_costs=prices)
    across, soft = by.loc[(2, "across the line")], by.loc[(2, "soft starter")]
    assert soft["converter_inrush_kva"] == 75
    # Equivalent motor: 75 kVA over 6.29 kVA per hp, 11.9 hp; with the soft starter the pump's
    # half, 10 hp, is less. Across the line the pump's own 125.8 kVA and 20 hp are more.
    assert soft["single_phase_start_hp"] == pytest.approx(75 / 6.29)
    assert across["single_phase_start_hp"] == 20
    assert across["starting_kva"] == pytest.approx(125.8)
    checks = study.checks[study.checks["check"] == "single-phase start"]
    assert checks[checks["variant"] == "soft starter"]["answer"].tolist() == ["meets"]


def test_conductors_by_the_nameplate_or_by_fixed_loads(tmp_path):
    # NEC 455.6(A)(1): 125 % of the nameplate's single-phase input, here 40 hp x 0.7457 / 0.80 over
    # 480 V x 0.85, 91.4 A: 114.2 A. (A)(2), for fixed loads and where it is less: 250 % of the
    # three-phase currents, 27 A by NEC Table 430.250: 67.5 A.
    rated_a = 1000 * 40 * 0.7457 / 0.80 / (480 * 0.85)
    any_load, _ = converters(tmp_path)
    fixed, _ = converters(tmp_path, program={"converter_fixed_load": "yes"})
    at = (2, "across the line")
    assert any_load.loc[at, "minimum_ampacity_a"] == pytest.approx(1.25 * rated_a)
    assert fixed.loc[at, "minimum_ampacity_a"] == pytest.approx(2.5 * 27)
    # NEC 455.7: not more than 125 % of the nameplate, next standard size of 240.6(A); for fixed
    # loads the conductors are protected at their own ampacity.
    assert any_load.loc[at, "protective_device_a"] == 125
    assert fixed.loc[at, "protective_device_a"] == 70


def test_end_tower_stands_on_the_converters_low_leg(tmp_path):
    # The manufactured leg lies about 5 % below the service under load (memory).
    pivot = PUMP | {"pivot_length_ft": 900, "pivot_lead_ft": 60, "tower_count": 5}
    by, _ = converters(tmp_path, rows=[pivot])
    farm = by.loc[(2, "across the line")]
    assert farm["tower_feed_v"] == pytest.approx(0.95 * farm["service_voltage_at_load_v"])
    # Drops are in percent of the 480 V of the service.
    assert farm["end_tower_v"] == pytest.approx(farm["tower_feed_v"] - 4.80 * (
        farm["pivot_lead_drop_pct"] + farm["machine_drop_pct"]))
