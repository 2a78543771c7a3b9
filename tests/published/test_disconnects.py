"""The service disconnect and the smallest underground service, against the code (NFPA 70, NEC).

Seen = read in public copies; memory = recalled.
"""

import pytest

from batch.reading.validate import validate
from batch.study import run_study
from batch.tables import sizes
from tests.workbooks.make import candidate_workbook, unit_cost_rows

NO_PIVOT = {"pivot_length_ft": None, "tower_count": None, "pivot_lead_ft": None, "fuel_rate": None}
SMALL = {**NO_PIVOT, "flow_gpm": 60, "pumping_lift_ft": 40, "pipe_length_ft": 0,
         "irrigated_area_acre": 8}
# Amperes and USD, no two steps alike.
PRICES = {30: 210, 60: 330, 100: 470, 200: 810, 400: 1510, 600: 2330}


def prices(disconnects):
    return [row for row in unit_cost_rows() if row["item"] != "disconnect"] + [
        {"item": "disconnect", "size": size, "price_usd": usd} for size, usd in disconnects.items()]


def studied(tmp_path, *rows, program=None, disconnects=None):
    book = candidate_workbook(
        tmp_path, rows=rows, unit_costs=prices(PRICES if disconnects is None else disconnects),
        program={"overhead_adder_pct": 0, "breaker_pct": 250, "ambient_c": 30} | (program or {}))
    return run_study(validate(book))


def test_ratings_of_enclosed_switches():
    # Source: NEMA KS 1, ratings of enclosed switches; memory.
    assert sizes("disconnect_A").tolist() == [30, 60, 100, 200, 400, 600, 800, 1200]


@pytest.fixture(scope="module")
def with_breaker(tmp_path_factory):
    """The farms of a motor of this many hp, by the percentage of its breaker."""
    rows = [{**NO_PIVOT, "supply_option": "three-phase line", "pump_motor_hp": hp}
            | (SMALL if hp == 3 else {}) for hp in (60, 40, 3)]
    rows.append({"supply_option": "three-phase line", "pump_motor_hp": 60, "tower_count": 8})
    return {breaker_pct: studied(tmp_path_factory.mktemp("breaker"), *rows,
                                 program={"breaker_pct": breaker_pct}).results
            for breaker_pct in (100, 250)}


@pytest.mark.parametrize("motor_hp, breaker_pct, least_a, switch_a", [
    # Source: NEC 430.110(A), (C)(2), 115 % of the full-load current; seen. Table 430.250 at 460 V:
    # 60 hp 77 A, x 1.15 = 88.6 A. A breaker of 100 % is 80 A, so that the motor decides: 100 A.
    (60, 100, 1.15 * 77, 100),
    # A forum's case of 430.110: 40 hp, 52 A x 1.15 = 59.8 A, so that a 60 A switch will do; seen.
    # Its device here is the 60 A of 240.6(A) next above 52 A.
    (40, 100, 60, 60),
    # 250 % of 52 A is 130 A, next size 150 A, which the switch must hold: 200 A.
    (40, 250, 150, 200),
    # Source: NEC 230.79(D), 60 A at least; seen. 3 hp, 4.8 A: device 15 A.
    (3, 250, 60, 60)])
def test_disconnect_of_a_motor(with_breaker, motor_hp, breaker_pct, least_a, switch_a):
    farm = with_breaker[breaker_pct].iloc[(60, 40, 3).index(motor_hp)]
    assert farm["pump_motor_hp"] == motor_hp
    assert farm["disconnect_least_a"] == pytest.approx(least_a)
    assert farm["disconnect_a"] == switch_a


def test_disconnect_of_several_motors_goes_by_their_sum(with_breaker):
    # Source: NEC 430.110(C)(2), 115 % of the sum of all currents; seen. 60 hp 77 A and 8 towers of
    # 1 hp, 2.1 A (Table 430.250): 1.15 x 93.8 A = 107.9 A. Device, 430.62(A), at 100 %: 80 A and
    # the towers' 16.8 A, 96.8 A, so 90 A. Switch: 200 A.
    farm = with_breaker[100].iloc[3]
    assert farm["protective_device_a"] == 90
    assert farm["disconnect_least_a"] == pytest.approx(1.15 * (77 + 8 * 2.1))
    assert farm["disconnect_a"] == 200


def test_disconnect_is_a_part_of_the_service_price(tmp_path):
    # By hand: the same farm with a price list whose disconnects are free: the difference is the
    # price of the switch, 200 A for the 150 A device of a 40 hp motor.
    row = {**NO_PIVOT, "supply_option": "three-phase line", "pump_motor_hp": 40}
    free = dict.fromkeys(PRICES, 0)
    with_price, without = (studied(tmp_path, row, disconnects=listed).results.iloc[0]
                           for listed in (PRICES, free))
    assert with_price["cost_service_usd"] - without["cost_service_usd"] == pytest.approx(810)
    assert with_price["project_cost_usd"] - without["project_cost_usd"] == pytest.approx(810)


@pytest.mark.parametrize("listed", [{}, {30: 210, 60: 330, 100: 470}])
def test_disconnect_without_a_price_is_named_and_not_taken_as_free(tmp_path, listed):
    row = {**NO_PIVOT, "supply_option": "three-phase line", "pump_motor_hp": 40}
    farm = studied(tmp_path, row, disconnects=listed).results.iloc[0]
    assert farm["verdict"] == "incomplete" and farm["project_cost_usd"] != farm["project_cost_usd"]
    assert "no price for disconnect of " in farm["verdict_reason"]


@pytest.mark.parametrize("metal, wire", [("copper", "8 AWG"), ("aluminum", "6 AWG")])
def test_smallest_service_of_a_small_farm(tmp_path, metal, wire):
    # Source: NEC 230.31(B), underground, memory; 230.23(B), overhead, seen: 8 AWG copper, 6 AWG
    # aluminum. By ampacity 14 AWG copper (20 A) would carry the 3 hp motor's 1.25 x 4.8 A.
    rows = [{**SMALL, "supply_option": "three-phase line", "pump_motor_hp": 3,
             "service_build": build} for build in ("conduit", "overhead")]
    farms = studied(tmp_path, *rows, program={"conductor_material": metal}).results
    assert farms["minimum_ampacity_a"].tolist() == pytest.approx([1.25 * 4.8] * 2)
    assert farms["service_conductor"].tolist() == [f"{wire} {metal}"] * 2
