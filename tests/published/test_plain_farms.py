"""Plain farms in round figures, at the demo's own prices, rates and rules: they must come out as a
reader of such programs expects.

The bands are the low and high ends of public figures of 2008 to 2025 brought to 2026, collected for
this purpose, and widened to round numbers: line-extension pages and price lists of rural
cooperatives, extension bulletins on pumping cost, published irrigation tariffs (7.7 to 22.9 cents
for a pump of 30 hp), and where no page was found the trade's memory. They judge an invented demo.
"""

import importlib.util
from pathlib import Path

import pytest

from batch.reading.validate import validate
from batch.study import run_study
from tests.workbooks.make import candidate_workbook

PRICES = Path(__file__).parents[2] / "input_workbooks" / "demo_prices.py"
# A diesel generator set that burns 3 gal/h at 3.50 USD for a pump near 30 hp: 70 acres, 500 hours,
# a quarter mile from single-phase line and a mile from three phases.
FARM = {
    "present_power": "diesel generator", "fuel_rate": 3, "fuel_price_usd": 3.50,
    "engine_upkeep_usd_h": 1.5, "engine_replacement_usd": 18_000, "engine_remaining_yr": 3,
    "irrigated_area_acre": 70, "gross_depth_in": None, "season_hours": 500, "flow_gpm": 440,
    "pumping_lift_ft": 110, "pivot_pressure_psi": 30, "pipe_length_ft": 660,
    "pipe_diameter_in": 7.76, "pivot_length_ft": 950, "tower_count": 6,
    "single_phase_distance_ft": 1300, "three_phase_distance_ft": 5280, "source_fault_a": 700,
    "service_distance_ft": 40, "motor_lead_ft": 60, "pivot_lead_ft": 700,
    "is_inverter_duty": "yes",
}
RATES = ("IRR-1", "IRR-HP", "IRR-LC")
# What the demo's board has resolved on money, as the demo's Program sheet has it (a test below).
RESOLVED = {"maximum_cooperative_payback_yr": 20, "carrying_cost_pct": 2.5}
# Half a mile from three phases, and a pump of 15 hp: no program can want this line.
SMALL = FARM | {"flow_gpm": 220, "fuel_rate": 1.6, "irrigated_area_acre": 35,
                "pivot_length_ft": 650, "tower_count": 4, "pipe_diameter_in": 5.85,
                "rate_id": "IRR-1", "three_phase_distance_ft": 2640,
                "supply_option": "three-phase line"}
# Beside a three-phase line no drive pays.
BESIDE = FARM | {"three_phase_distance_ft": 150, "rate_id": "IRR-1"}


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    spec = importlib.util.spec_from_file_location("demo_prices", PRICES)
    demo = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(demo)
    farms = [FARM | {"rate_id": rate, "load_control": "yes" if rate == "IRR-LC" else None}
             for rate in RATES]
    return run_study(validate(candidate_workbook(
        tmp_path_factory.mktemp("plain"), rows=[*farms, SMALL, BESIDE], rates=list(demo.RATES),
        unit_costs=demo.unit_cost_rows(), program=RESOLVED)))


@pytest.fixture(scope="module")
def plain(study):
    """The plain farm on each of the demo's rates."""
    return study.results.iloc[:len(RATES)]


def test_plain_farm_qualifies_with_a_drive_on_every_rate(plain):
    assert set(plain["verdict"]) <= {"qualifies", "qualifies with conditions"}
    assert set(plain["supply_option"]) == {"single-phase drive"}
    assert set(plain["pump_motor_hp"]) == {30}


@pytest.mark.parametrize("key, low, high", [
    ("line_cost_usd", 1300 * 8, 1300 * 13 + 1500),   # overhead, with its job
    ("transformer_cost_usd", 2_400, 7_000),          # one of 37.5 to 75 kVA, installed
    ("cost_service_usd", 1_000, 4_000), ("cost_leads_usd", 1_500, 7_000),
    ("member_cost_usd", 15_000, 30_000), ("cooperative_cost_usd", 8_000, 16_000),
])
def test_each_part_of_the_price_is_of_its_order(plain, key, low, high):
    assert plain[key].between(low, high).all(), plain[key].tolist()


def test_drive_package_is_of_its_order(plain):
    package = plain["cost_drive_usd"] + plain["cost_filter_usd"]
    assert package.between(7_500, 16_500).all(), package.tolist()


def test_energy_and_bill_are_of_their_order(plain):
    # About 25 kW for 500 hours; published tariffs give 7.7 to 22.9 cents a kWh at 30 hp.
    assert plain["annual_energy_kwh"].between(10_000, 15_500).all()
    cents = 100 * plain["bill_usd_yr"] / plain["annual_energy_kwh"]
    assert cents.between(10, 22.9).all(), cents.tolist()
    # 1,500 gal at 3.50 USD and the set's upkeep, 6,000 USD, against some 2,200 USD of power.
    assert plain["member_saving_usd_yr"].between(2_500, 4_800).all()
    assert plain["member_payback_yr"].between(3, 10).all()


def test_the_cooperatives_margin_is_believable(plain):
    # A power supplier's share of retail revenue is near two thirds; above 58 % of the bill a margin
    # is not believable without load control.
    share = plain["margin_usd_yr"] / plain["bill_usd_yr"]
    uncontrolled = share.to_numpy()[[rate != "IRR-LC" for rate in RATES]]
    assert (uncontrolled > 0.2).all() and (uncontrolled < 0.62).all(), share.tolist()


def test_half_a_mile_of_three_phases_for_fifteen_horsepower_fails(study):
    small = study.results.iloc[3]
    assert small["pump_motor_hp"] == 15 and small["project_cost_usd"] > 50_000
    assert small["verdict"] == "does not qualify"
    assert "cooperative payback" in small["verdict_reason"]


def test_beside_a_three_phase_line_a_starter_is_enough(study):
    assert study.results.iloc[4]["supply_option"] == "three-phase line"


def test_the_demos_own_rules_are_these(demo_run):
    rules = demo_run.study.inputs.rules
    assert {key: rules[key] for key in RESOLVED} == RESOLVED
