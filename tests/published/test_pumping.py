"""Water, head, pump power, fuel and motors against published values.

Status words beside the sources: seen = read in the publication or a public copy of it; memory =
recalled, not read.
"""

import numpy as np
import pandas as pd
import pytest

from batch import rules
from batch.engineering import motors, pumping
from batch.engineering.transformer import next_standard_size
from batch.farm.present_plant import present_plant
from batch.farm.water import pump_load
from batch.tables import sizes, value_at

FARM = {"flow_gpm": 800.0, "pumping_lift_ft": 125.0, "elevation_gain_ft": 0.0,
        "pivot_pressure_psi": 35.0, "pipe_length_ft": 0.0, "pipe_diameter_in": np.nan,
        "pipe_c": 140.0, "pump_efficiency_pct": 75.0, "irrigated_area_acre": 100.0,
        "gross_depth_in": 10.0, "given_season_hours": np.nan, "nameplate_motor_hp": np.nan,
        "motor_efficiency_pct": np.nan, "motor_full_load_a": np.nan,
        "pivot_length_ft": 0.0, "tower_count": 0.0,
        "tower_motor_hp": 1.0, "tower_duty_pct": 60.0, "booster_hp": 0.0,
        "tower_motor_a": np.nan, "booster_motor_a": np.nan,
        "present_power": "diesel engine", "performance_rating_pct": 100.0, "generator_kw": np.nan,
        "fuel_rate": np.nan, "annual_fuel_use": np.nan, "fuel_price_usd": 3.0,
        "engine_upkeep_usd_h": 1.0}


def plant_of(**changes):
    """Pump load and present plant of farms through the study's own steps."""
    columns = {key: np.atleast_1d(changes.get(key, value)) for key, value in FARM.items()}
    count = max(len(values) for values in columns.values())
    farms = pd.DataFrame({key: np.resize(values, count) for key, values in columns.items()})
    return present_plant(pump_load(farms, rules.load(2026)), rules.load(2026))


# --- power and head -------------------------------------------------------------------------------

@pytest.mark.parametrize("flow_gpm, head_ft, hp, half_digit", [
    (50, 50, 0.631, 0.0005), (100, 50, 1.26, 0.005)])
def test_table_of_pumping_power(flow_gpm, head_ft, hp, half_digit):
    # Source: engineering reference table, power to pump water at 100 % efficiency; seen.
    assert pumping.water_power_hp(flow_gpm=flow_gpm, total_head_ft=head_ft) == pytest.approx(
        hp, abs=half_digit)


@pytest.mark.parametrize("efficiency_pct, kwh", [(100, 1.024), (50, 2.047)])
def test_energy_to_raise_an_acre_foot(efficiency_pct, kwh):
    # Source: New Mexico State University note, one acre-foot raised one foot; seen. It takes
    # 62.4 lb/ft3, the handbook formula 8.34 lb/gal rounded to 3960: 0.1 % apart.
    hours = pumping.season_hours(irrigated_area_acre=1, gross_depth_in=12, flow_gpm=1000)
    hp = pumping.shaft_power_hp(
        water_power_hp=pumping.water_power_hp(flow_gpm=1000, total_head_ft=1),
        pump_efficiency_pct=efficiency_pct)
    assert 0.7457 * hp * hours == pytest.approx(kwh, rel=1.5e-3)


def test_power_by_weight_and_lift():
    # Source: definition, 33,000 ft lbf/min per hp and 8.34 lb/gal (farm-machinery text, seen):
    # 640 gal/min over 187 ft.
    by_weight = 640 * 8.34 * 187 / 33_000
    assert pumping.water_power_hp(flow_gpm=640, total_head_ft=187) == pytest.approx(
        by_weight, rel=1e-3)
    # Source: lecture notes of Utah State University print 3956 in place of 3960 (62.4 lb/ft3).
    assert by_weight == pytest.approx(640 * 187 / 3956, rel=1e-3)


def test_head_of_pressure_and_total_head():
    # Source: irrigation handbooks, 2.31 ft of water per psi; seen. 62.4 lb/ft3 gives 144 / 62.4.
    head = {"pumping_lift_ft": 0, "elevation_gain_ft": 0, "pipe_friction_ft": 0,
            "fittings_allowance_pct": 10}
    one_psi = pumping.total_head_ft(pivot_pressure_psi=1, **head)
    assert one_psi == pytest.approx(144 / 62.4, abs=0.005)
    assert pumping.total_head_ft(pivot_pressure_psi=50, **head) == pytest.approx(115.5)
    # All parts, by hand: 140 + 12 + 35 x 2.31 + 8 x 1.1 = 241.65 ft.
    assert pumping.total_head_ft(pumping_lift_ft=140, elevation_gain_ft=12, pivot_pressure_psi=35,
                                 pipe_friction_ft=8, fittings_allowance_pct=10
                                 ) == pytest.approx(241.65)


@pytest.mark.parametrize("flow_gpm, inside_in, ft_per_100", [
    (300, 6.065, 0.58), (600, 7.981, 0.54), (800, 10.02, 0.32)])
def test_friction_of_schedule_40_pipe(flow_gpm, inside_in, ft_per_100):
    # Source: Illinois Administrative Code 77-906 Appendix A Exhibit I, C 150; seen. It is printed
    # to 0.01 ft and follows the form below, up to 2 % lower at these diameters: 4 % in all.
    friction = pumping.pipe_friction_ft(flow_gpm=flow_gpm, pipe_length_ft=100,
                                        pipe_diameter_in=inside_in, pipe_c=150)
    assert friction == pytest.approx(ft_per_100, rel=0.04)


def test_friction_in_two_printed_forms():
    # Source: 10.472 (Q/C)^1.852 d^-4.871 per foot, the form of USDA NRCS sprinkler handbooks; it
    # is 1.8 % lower at 8 in; seen.
    other = 10.472 * (700 / 140) ** 1.852 * 8 ** -4.871 * 1000
    ours = pumping.pipe_friction_ft(flow_gpm=700, pipe_length_ft=1000, pipe_diameter_in=8,
                                    pipe_c=140)
    assert other / ours == pytest.approx(0.982, abs=0.002)


def test_friction_without_a_pipe_and_with_unknowns():
    friction = pumping.pipe_friction_ft(
        flow_gpm=np.array([500.0, 500, np.nan]), pipe_length_ft=np.array([0.0, 900, 900]),
        pipe_diameter_in=np.array([np.nan, np.nan, 8]), pipe_c=140.0)
    assert friction[0] == 0 and np.isnan(friction[1:]).all()


def test_velocity():
    # Source: handbook constant, V = 0.408 Q / d^2; common practice.
    assert pumping.pipe_velocity_ft_s(flow_gpm=600, pipe_diameter_in=8) == pytest.approx(
        0.4085 * 600 / 64, rel=5e-4)


# --- area, depth and hours ------------------------------------------------------------------------

@pytest.mark.parametrize("radius_ft, acres", [(650, 30.5), (1040, 78.0), (1170, 98.7),
                                              (1300, 121.8)])
def test_pivot_circle(radius_ft, acres):
    # Source: USDA NRCS engineering-meeting slides on center pivots (printed with pi 3.14); seen.
    assert pumping.circle_area_acre(radius_ft=radius_ft) == pytest.approx(acres, abs=0.1)


@pytest.mark.parametrize("printed", [450, 452, 453])
def test_acre_inch_in_gallons_per_minute_and_hours(printed):
    # Source: extension sheets print 450, 452 or 453 gpm-hours per acre-inch; seen.
    hours = pumping.season_hours(irrigated_area_acre=1, gross_depth_in=1, flow_gpm=1)
    assert hours == pytest.approx(printed, rel=0.006)
    # 27,154 gallons in an acre-inch: USGS water-science tables; memory.
    assert hours * 60 == pytest.approx(27_154, abs=1)


@pytest.mark.parametrize("use_in, days, efficiency, gross_in", [(0.24, 3, 0.75, 0.96),
                                                                (0.28, 2, 0.75, 0.75)])
def test_hours_of_a_published_gross_depth(use_in, days, efficiency, gross_in):
    # Source: University of Florida IFAS, gross depth = crop use x days / efficiency; seen.
    assert use_in * days / efficiency == pytest.approx(gross_in, abs=0.005)
    farms = plant_of(gross_depth_in=gross_in, irrigated_area_acre=100)
    assert farms["season_hours"].item() == pytest.approx(100 * gross_in * 452.57 / 800, rel=1e-4)


def test_towers_and_their_duty():
    # Derived: seven equal spans, radii 1 to 7, mean 4 of 7; a timer at 50 % halves it.
    assert pumping.towers_by_length(pivot_length_ft=1290, tower_span_ft=185) == 7
    assert pumping.tower_mean_duty(tower_count=7, tower_duty_pct=50) == pytest.approx(
        0.5 * np.mean(np.arange(1, 8)) / 7)
    assert pumping.tower_mean_duty(tower_count=0, tower_duty_pct=50) == 0


# --- fuel of the present plant, through the study's own step --------------------------------------

# Source: University of Nebraska-Lincoln, CropWatch, "Conversion for Diesel Fuel for Center Pivots",
# 19 Sep 2008, Table 1, gallons of diesel per acre-inch at 100 % of the criteria; seen.
PRESSURE_PSI = (10, 20, 30, 35, 40, 50, 60, 80)
DIESEL_BY_LIFT = {0: (0.21, 0.42, 0.63, 0.74, 0.84, 1.05, 1.26, 1.69),
                  25: (0.44, 0.65, 0.86, 0.97, 1.07, 1.28, 1.49, 1.91),
                  50: (0.67, 0.88, 1.09, 1.20, 1.30, 1.51, 1.72, 2.14),
                  75: (0.89, 1.11, 1.32, 1.43, 1.53, 1.74, 1.95, 2.37),
                  100: (1.12, 1.33, 1.54, 1.65, 1.75, 1.97, 2.18, 2.60),
                  125: (1.35, 1.56, 1.77, 1.88, 1.98, 2.19, 2.40, 2.83),
                  150: (1.58, 1.79, 2.00, 2.11, 2.21, 2.42, 2.63, 3.05)}


@pytest.mark.parametrize("lift_ft", DIESEL_BY_LIFT)
def test_diesel_per_acre_inch(lift_ft):
    farms = plant_of(pumping_lift_ft=float(lift_ft),
                     pivot_pressure_psi=np.array(PRESSURE_PSI, float))
    per_acre_inch = farms["present_fuel_per_yr"] / (100 * 10)
    # Printed to 0.01, from 0.114 water hp-hours per acre-inch and foot: 452.57 / 3960 is 0.25 % up.
    np.testing.assert_allclose(per_acre_inch, DIESEL_BY_LIFT[lift_ft], atol=0.0115)


def test_diesel_of_a_plant_below_the_criteria():
    # Source: same article: 300 ft, 50 psi: 3.79 gal at 100 %, 4.74 gal at 80 %; seen.
    farms = plant_of(pumping_lift_ft=300.0, pivot_pressure_psi=50.0,
                     performance_rating_pct=np.array([100.0, 80.0]))
    np.testing.assert_allclose(farms["present_fuel_per_yr"] / 1000, [3.79, 4.74], atol=0.015)


@pytest.mark.parametrize("power, unit_hp_h", [("diesel engine", 12.5), ("propane engine", 6.89),
                                              ("natural gas engine", 61.7),
                                              ("gasoline engine", 8.6)])
def test_criteria_of_every_engine(power, unit_hp_h):
    # Source: Nebraska pumping plant performance criteria, water hp-hours per gallon (Mcf for gas),
    # extension tables; seen.
    farm = plant_of(present_power=np.array([power], object))
    assert (farm["water_power_hp"] / farm["used_fuel_rate"]).item() == pytest.approx(unit_hp_h)
    # Source: the same criteria, shaft hp-hours x 0.75 = water hp-hours, 27 Oct 2008; seen.
    shaft = value_at("fuels", "present_power", [power], "shaft_hp_h_per_unit")
    assert shaft.item() * 0.75 == pytest.approx(unit_hp_h, rel=3e-3)


def test_a_measured_rate_goes_first():
    measured = plant_of(fuel_rate=3.3)
    assert measured["used_fuel_rate"].item() == 3.3
    assert measured["present_fuel_per_yr"].item() == pytest.approx(
        3.3 * measured["season_hours"].item())


@pytest.mark.parametrize("load_share, gallons", [(0.5, 4.1), (0.75, 5.8), (1.0, 7.4)])
def test_generator_fuel_chart(load_share, gallons):
    # Source: published approximate diesel fuel chart, 100 kW set at half, three quarters and full
    # load; seen.
    load_kw = 100 * load_share
    flow = load_kw * 0.7457 ** -1 * 0.95 * 0.75 * 3960 / 200  # a pump that asks for that load
    farm = plant_of(present_power=np.array(["diesel generator"], object), flow_gpm=flow,
                    pumping_lift_ft=200.0, pivot_pressure_psi=0.0, motor_efficiency_pct=95.0,
                    pump_efficiency_pct=75.0, generator_kw=100.0)
    assert farm["motor_input_kw"].item() == pytest.approx(load_kw)
    assert farm["used_fuel_rate"].item() == pytest.approx(gallons, abs=0.07)


# --- motors ---------------------------------------------------------------------------------------

def test_motor_input_and_the_electric_criterion():
    # Source: Nebraska criteria, 1.18 shaft hp-hours per kWh hold an 88 % motor; seen.
    assert 1 / motors.motor_input_kw(shaft_power_hp=1, motor_efficiency_pct=88) == pytest.approx(
        1.18, abs=0.0005)
    # Source: Georgia extension example, farm press 2008: 100 hp at 8 c/kWh costs 6.78 USD/h; seen.
    kw = motors.motor_input_kw(shaft_power_hp=100, motor_efficiency_pct=88)
    assert kw * 0.08 == pytest.approx(6.78, abs=0.005)


def test_ten_horsepower_at_460_volts():
    # Source: NEC 430.22 example, 10 hp 460 V takes 14 A of Table 430.250 x 125 % = 17.5 A; seen.
    farm = plant_of(flow_gpm=250.0, pumping_lift_ft=105.0, pivot_pressure_psi=0.0)
    assert 7.5 < farm["shaft_power_hp"].item() <= 10
    assert farm["pump_motor_hp"].item() == 10 and farm["motor_table_a"].item() == 14
    assert motors.continuous_motor_group_a(
        largest_a=farm["motor_table_a"], others_a=0, others_share=1).item() == 17.5


@pytest.mark.parametrize("largest_a, others_a, needed_a", [(65, 40 + 27, 148.25), (34, 0, 42.5)])
def test_several_motors_on_one_feeder(largest_a, others_a, needed_a):
    # Source: NEC 430.24, 125 % of the largest and 100 % of the others; Table 430.250 at 460 V:
    # 50 hp 65 A, 30 hp 40 A, 20 hp 27 A; 25 hp 34 A. Worked by hand.
    assert motors.continuous_motor_group_a(
        largest_a=largest_a, others_a=others_a, others_share=1.0) == needed_a


def test_center_pivot_machine():
    # Source: NEC 675.22(A), memory: 125 % of the largest + 60 % of the rest. Ten motors of 1 hp
    # at 2.1 A (Table 430.250): 1.25 x 2.1 + 0.6 x 9 x 2.1 = 13.965 A.
    farm = plant_of(pivot_length_ft=1300.0, tower_count=10.0)
    assert farm["pivot_machine_a"].item() == pytest.approx(13.965)


def test_nameplates_of_a_center_pivot_go_first():
    # Source: NEC 675.7(A), nameplate currents; seen; 675.22 (memory). Ten tower motors of 1 hp with
    # 2.8 A on the nameplate: 1.25 x 2.8 + 0.6 x 9 x 2.8 = 18.62 A. A booster of 5 hp: by the table
    # 7.6 A, so 1.25 x 7.6 + 0.6 x 28 = 26.3 A; with 9 A on its nameplate 28.05 A. Locked rotor,
    # Table 430.251(B): 1 hp 15 A, 5 hp 46 A; twice that and 80 % of the rest.
    pivot = plant_of(pivot_length_ft=1300.0, tower_count=10.0, tower_motor_a=2.8,
                     booster_hp=np.array([0.0, 5, 5]),
                     booster_motor_a=np.array([np.nan, np.nan, 9]))
    assert pivot["pivot_machine_a"].tolist() == pytest.approx([18.62, 26.3, 28.05])
    assert pivot["pivot_locked_rotor_a"].tolist() == pytest.approx(
        [2 * 15 + 0.8 * 9 * 2.8, 2 * 46 + 0.8 * 28, 2 * 46 + 0.8 * 28])
    assert pivot["towers_a"].tolist() == pytest.approx([28] * 3)
    # A nameplate of what is not there adds nothing.
    none = plant_of(tower_motor_a=2.8, booster_motor_a=9.0)
    assert none[["pivot_machine_a", "pivot_locked_rotor_a", "towers_a"]].eq(0).all(axis=None)


def test_motor_rating_is_never_below_the_shaft_power():
    # Source: NEMA MG 1 standard ratings; both sides of 50 hp, and beyond the table.
    rating = next_standard_size(required=np.array([49.9, 50.0, 50.1, 301]), sizes=sizes("motor_hp"))
    assert rating[:3].tolist() == [50, 50, 60] and np.isnan(rating[3])


def test_line_current():
    # Source: circuit theory: 37.3 kW at 460 V, 0.86: I = P / (1.732 V pf) = 54.4 A; and over two
    # wires 1.732 times that.
    three = motors.power_current_a(power_kw=37.3, voltage_v=460, power_factor=0.86, phases=3)
    single = motors.power_current_a(power_kw=37.3, voltage_v=460, power_factor=0.86, phases=1)
    assert three == pytest.approx(54.4, abs=0.05)
    assert single / three == pytest.approx(1.7320508)


def test_small_motors():
    # By hand: 9 motors of 1 hp at 75 % load and 75 % efficiency, running 0.3 of the time.
    kw = motors.small_motors_kw(motor_count=9, motor_hp=1, load_pct=75, motor_efficiency_pct=75,
                                duty=0.3)
    assert kw == pytest.approx(9 * 0.7457 * 0.3)


def test_vector_equals_scalar():
    flows, heads = np.array([300.0, 800, np.nan]), np.array([90.0, 210, 150])
    many = pumping.water_power_hp(flow_gpm=flows, total_head_ft=heads)
    one = [pumping.water_power_hp(flow_gpm=q, total_head_ft=h) for q, h in zip(flows, heads)]
    np.testing.assert_array_equal(many, one)
