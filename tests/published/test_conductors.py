"""Service conductors against the tables and published examples of the code (NFPA 70, NEC).

Rows of the tables are typed by hand here. Seen = read in public copies; memory = recalled.
"""

import math

import numpy as np
import pandas as pd
import pytest

from batch import rules
from batch.columns import RESULTS
from batch.engineering import conductors
from batch.reading.validate import validate
from batch.rules import Rule
from batch.study import run_study
from batch.supply import service_conductors
from batch.tables import table
from tests.workbooks.make import candidate_workbook, unit_cost_rows

# NEC Table 310.16, copper, 75 C column, and chapter 9 Table 9 in PVC: ohm to neutral per 1000 ft.
RUNS = (("8", 50, 0.78, 0.052), ("6", 65, 0.49, 0.051), ("4", 85, 0.31, 0.048),
        ("3", 100, 0.25, 0.047), ("2", 115, 0.19, 0.045), ("1", 130, 0.15, 0.046),
        ("1/0", 150, 0.12, 0.044), ("2/0", 175, 0.10, 0.043), ("3/0", 200, 0.077, 0.042),
        ("4/0", 230, 0.062, 0.041), ("250", 255, 0.052, 0.041), ("500", 380, 0.027, 0.039))
SIZE, AMPACITY, R, X = zip(*RUNS)
YEAR = rules.load(2026)


def with_rules(**values):
    return YEAR.replaced({key: Rule(value, "test") for key, value in values.items()})


def conduit_runs(**values):
    return service_conductors.runs(with_rules(**values), "conduit")


def overhead(size, **values):
    """The overhead run of one conductor of a size."""
    rows = service_conductors.service_runs(with_rules(**values), "overhead")
    return rows[(rows["size"] == size) & (rows["sets"] == 1)].iloc[0]


def ambient_factor(ambient_c):
    return service_conductors._ambient_factor(ambient_c, "ampacity_temperature_factors")


def size_for(needed_a, *, drop_limit_pct=np.inf, current_a=None, length_ft=50.0, phases=1,
             power_factor=0.85, voltage_v=480):
    """Size of the smallest run of RUNS; None where there is none."""
    needed = np.atleast_1d(np.asarray(needed_a, float))
    place = conductors.smallest_run(
        needed_a=needed, drop_limit_pct=drop_limit_pct, phases=np.full(needed.shape, phases),
        current_a=needed / 1.25 if current_a is None else np.full(needed.shape, float(current_a)),
        length_ft=np.full(needed.shape, length_ft), voltage_v=voltage_v, ampacity_a=AMPACITY,
        power_factor=np.full(needed.shape, power_factor), resistance_ohm_kft=R, reactance_ohm_kft=X)
    return [None if p < 0 else SIZE[p] for p in place]


# --- ampacity -------------------------------------------------------------------------------------

def test_both_sides_of_an_ampacity():
    # Source: NEC Table 310.16: 3 AWG 100 A, 2 AWG 115 A; equal is enough.
    assert size_for([99.9, 100, 100.1, 380, 380.1]) == ["3", "3", "2", "500", None]
    assert size_for([np.nan]) == [None]


def test_ten_horsepower_branch():
    # Source: NEC 430.22 example: 14 A x 125 % = 17.5 A; of these runs 8 AWG is the smallest. In
    # the full table 12 AWG carries 25 A and 14 AWG 20 A at 75 C; seen.
    assert size_for(1.25 * 14) == ["8"]
    listed = conduit_runs(ambient_c=30)
    enough = listed[(listed["sets"] == 1) & (listed["ampacity"] >= 17.5)].iloc[0]
    assert (enough["size"], enough["ampacity"]) == ("14", 20)


def test_drive_conductors_of_a_published_quiz():
    # Source: trade-journal code quiz on NEC 430.122: rated drive input 36 A, motor 40 A: 45 A, and
    # with a bypass 50 A; seen. Table 310.16: 8 AWG carries 50 A at 75 C.
    assert size_for(max(1.25 * 36, 0)) == ["8"]
    assert size_for(max(1.25 * 36, 1.25 * 40)) == ["8"]
    assert size_for(max(1.25 * 36, 1.25 * 40) + 0.1) == ["6"]


@pytest.mark.parametrize("ambient_c, factor", [
    (30, 1.00), (31, 0.94), (35, 0.94), (36, 0.88), (40, 0.88), (41, 0.82), (45, 0.82), (50, 0.75),
    (55, 0.67), (60, 0.58), (20, 1.11), (5, 1.20)])
def test_ambient_factors_of_the_75_c_column(ambient_c, factor):
    # Source: NEC Table 310.15(B)(1), 75 C conductors, 30 C base; memory, and within 2 % of its own
    # rule sqrt((75 - Ta) / 45) at the top of each band.
    assert ambient_factor(ambient_c) == factor
    top = {5: 10}.get(ambient_c, 5 * math.ceil(ambient_c / 5))
    assert factor == pytest.approx(math.sqrt((75 - top) / 45), rel=0.02)


def test_ambient_beyond_the_table_is_unknown():
    assert np.isnan(ambient_factor(71))


@pytest.mark.parametrize("metal, size, ampacity", [
    ("copper", "1", 130), ("copper", "4/0", 230), ("copper", "500", 380),
    ("aluminum", "1", 100), ("aluminum", "4/0", 180), ("aluminum", "500", 310)])
def test_runs_hold_the_code_tables(metal, size, ampacity):
    # Source: NEC Table 310.16, 75 C column; seen.
    runs = conduit_runs(conductor_material=metal, ambient_c=30)
    one = runs[(runs["size"] == size) & (runs["sets"] == 1)]
    assert one["ampacity"].item() == ampacity
    hot = conduit_runs(conductor_material=metal, ambient_c=40)
    assert hot[(hot["size"] == size) & (hot["sets"] == 1)]["ampacity"].item() == pytest.approx(
        0.88 * ampacity)


def test_parallel_runs():
    # Source: NEC 310.10(G): parallel conductors are 1/0 and larger; two of 4/0 carry 2 x 230 A.
    runs = conduit_runs(ambient_c=30)
    two = runs[runs["sets"] == 2].set_index("size")
    assert "1" not in two.index and two.loc["4/0", "ampacity"] == 460
    assert two.loc["4/0", "r"] == pytest.approx(0.062 / 2)
    assert two.loc["4/0", "cmil"] == 2 * 211_600  # chapter 9 Table 8


def test_terminations_of_60_c():
    # Source: NEC 110.14(C)(1), memory: circuits up to 100 A end on 60 C terminations, larger ones
    # at 75 C, whatever the conductor; Table 310.16, copper 8 AWG 40 and 50 A, 4 AWG 70 and 85 A,
    # 2 AWG 95 and 115 A; aluminum 2 AWG 75 and 90 A; seen in several copies.
    def ampacities(metal, size, terminations):
        runs = conduit_runs(ambient_c=30, conductor_material=metal, terminations=terminations)
        one = runs[(runs["size"] == size) & (runs["sets"] == 1)].iloc[0]
        return one["small_circuit_ampacity"], one["ampacity"]

    for metal, size, cold, warm in (("copper", "8", 40, 50), ("copper", "4", 70, 85),
                                    ("copper", "2", 95, 115), ("aluminum", "2", 75, 90)):
        assert ampacities(metal, size, "60 C up to 100 A") == (cold, warm)
        assert ampacities(metal, size, "75 C") == (warm, warm)


def test_terminations_go_by_the_circuit_and_not_by_the_conductor(tmp_path):
    # Same sources. A 90 A circuit, which 3 AWG (100 A at 75 C) could carry, needs 2 AWG (95 A at
    # 60 C); a circuit above 100 A is judged at 75 C.
    rows = [{"flow_gpm": flow, "pumping_lift_ft": 60, "pivot_length_ft": None, "fuel_rate": None,
             "supply_option": "three-phase line", "irrigated_area_acre": 60}
            for flow in (150, 250, 350, 500, 700, 900, 1200)]
    book = candidate_workbook(tmp_path, rows=rows, program={
        "terminations": "60 C up to 100 A", "ambient_c": 30, "service_drop_limit_pct": 10})
    results = run_study(validate(book)).results
    is_small = results["protective_device_a"] <= 100
    assert is_small.any() and not is_small.all()
    listed = table("ampacity").set_index("size")
    first = listed.index.get_loc("8")  # NEC 230.31(B)
    for row in results.itertuples():
        column = "cu60" if row.protective_device_a <= 100 else "cu75"
        needed_a = row.minimum_ampacity_a
        enough = (listed[column] >= needed_a) & (np.arange(len(listed)) >= first)
        smallest = listed.index[enough.to_numpy().argmax()]
        assert row.service_conductor.split()[0] == smallest


@pytest.mark.parametrize("metal, smallest", [("copper", "8"), ("aluminum", "6")])
@pytest.mark.parametrize("terminations", ["75 C", "60 C up to 100 A"])
@pytest.mark.parametrize("build", ["overhead", "conduit"])
def test_small_circuit_gets_no_wire_below_the_smallest(metal, smallest, terminations, build):
    # Source: NEC 230.23(B), overhead: 8 AWG copper, 6 AWG aluminum, whatever the load; seen.
    # 230.31(B), underground: the same; memory.
    rows = service_conductors.service_runs(
        with_rules(conductor_material=metal, terminations=terminations), build)
    assert rows.loc[rows["small_circuit_ampacity"].notna(), "size"].iloc[0] == smallest
    assert (rows["small_circuit_ampacity"].isna() == rows["ampacity"].isna()).all()


@pytest.mark.parametrize("year", rules.years())
def test_terminations_are_the_same_in_every_year(year):
    # Source: NEC 110.14(C)(1)(a) and (b): the circuit's rating decides, so that copper 4 AWG
    # carries 70 A in a circuit of up to 100 A and 85 A in a larger one, 2 AWG 95 and 115 A; and
    # cool air (18 C: 1.11) lifts 4/0 not above its 230 A of Table 310.16.
    loaded = rules.load(year)
    cold = loaded.replaced({"terminations": Rule("60 C up to 100 A", "test"),
                            "ambient_c": Rule(30, "test")})
    runs = service_conductors.runs(cold, "conduit").set_index("size")
    columns = ["small_circuit_ampacity", "ampacity"]
    assert runs.loc["4", columns].tolist() == [70, 85]
    assert runs.loc["2", columns].tolist() == [95, 115]
    cool = service_conductors.runs(loaded.replaced({"ambient_c": Rule(18, "test")}), "conduit")
    assert cool[(cool["size"] == "4/0") & (cool["sets"] == 1)]["ampacity"].item() == 230


def test_cool_air_does_not_lift_a_conductor_above_its_terminals():
    # Source: NEC 110.14(C)(1)(b): terminals are judged by the 75 C column as it stands; Table
    # 310.15(B)(1) would give 1.11 at 16 to 20 C.
    assert ambient_factor(18) == 1.11
    cool = conduit_runs(ambient_c=18).set_index("size")["ampacity"].iloc[:12]
    assert (cool == table("ampacity").set_index("size")["cu75"].reindex(cool.index)).all()


# --- overhead ------------------------------------------------------------------------------------

# NEC Table 310.17, single conductors in free air, 75 C, 30 C ambient: copper and aluminum; read in
# three public copies, which agree but for the largest aluminum sizes.
FREE_AIR = {"8": (70, 55), "6": (95, 75), "4": (125, 100), "3": (145, 115), "2": (170, 135),
            "1": (195, 155), "1/0": (230, 180), "2/0": (265, 210), "3/0": (310, 240),
            "4/0": (360, 280), "250": (405, 315), "300": (445, 350), "350": (505, 395),
            "400": (545, 425), "500": (620, 485), "600": (690, 540), "750": (785, 620)}


@pytest.mark.parametrize("size", FREE_AIR)
def test_cable_on_a_messenger_carries_less_than_a_single_wire_in_free_air(size):
    # Source: NEC Tables 310.20 (40 C) and 310.17, corrected to 40 C by sqrt(35 / 45): conductors
    # that touch cool less; and in air still better than in conduit, Table 310.16.
    row = table("ampacity_messenger").set_index("size").loc[size]
    conduit = table("ampacity").set_index("size").loc[size]
    for metal, free_air in zip(("cu75", "al75"), FREE_AIR[size]):
        at_40_c = math.sqrt(35 / 45)
        assert 0.88 < row[metal] / (free_air * at_40_c) < 0.94
        assert row[metal] > conduit[metal] * at_40_c


@pytest.mark.parametrize("metal, size, ambient_c, ampacity", [
    # Source: NEC 110.14(C)(1): terminals are judged by Table 310.16 at 75 C, 230 A of 4/0 copper,
    # 180 A of aluminum, whatever the ambient; Table 310.20: 287 and 224 A at 40 C.
    ("copper", "4/0", 40, 230), ("copper", "4/0", 30, 230), ("copper", "4/0", 50, 230),
    ("aluminum", "4/0", 40, 180), ("copper", "1/0", 40, 150),
    # Source: NEC Table 310.15(B)(2), 75 C on a 40 C base: 51 to 55 C 0.76, 56 to 60 C 0.65.
    ("copper", "4/0", 55, 287 * 0.76), ("copper", "4/0", 60, 287 * 0.65)])
def test_overhead_ampacity_and_its_terminals(metal, size, ambient_c, ampacity):
    run = overhead(size, conductor_material=metal, ambient_c=ambient_c)
    assert run["ampacity"] == pytest.approx(ampacity)


def test_ambient_factors_of_free_air_follow_their_rule():
    # Source: NEC 310.15(B), factor sqrt((75 - Ta) / 35) on a 40 C base, at the top of each band.
    bands = table("ampacity_temperature_factors_40").dropna()
    top = bands["ambient_C"].str.extract(r"(\d+)$")[0].astype(float)
    np.testing.assert_allclose(bands["f75"], np.sqrt((75 - top) / 35), rtol=0.02)
    assert np.isnan(overhead("4/0", ambient_c=70.5)["ampacity"])


def test_smallest_overhead_conductors():
    # Source: NEC 230.23(B): 8 AWG copper, 6 AWG aluminum.
    for metal, smallest, too_small in (("copper", "8", "10"), ("aluminum", "6", "8")):
        assert overhead(smallest, conductor_material=metal)["ampacity"] > 0
        assert np.isnan(overhead(too_small, conductor_material=metal)["ampacity"])


def test_wires_are_named_as_the_code_names_them():
    # Source: NEC 110.6, sizes are AWG or circular mils; Table 310.16, 4/0 AWG, then 250 kcmil.
    named = service_conductors.wire_names(pd.Series(["14", "4/0", "250", "300"]), "copper")
    assert named.tolist() == ["14 AWG copper", "4/0 AWG copper", "250 kcmil copper",
                              "300 kcmil copper"]


@pytest.mark.parametrize("kcmil, ohm_kft", [
    (30.58, 0.118), (48.69, 0.112), (77.47, 0.107), (123.3, 0.102), (155.4, 0.0989),
    (195.7, 0.0963), (246.9, 0.0936)])
def test_reactance_of_open_wires_at_one_foot(kcmil, ohm_kft):
    # Source: a maker's table of aluminum-alloy conductors of seven strands, 60 Hz reactance at one
    # foot equivalent spacing, ohm per 1000 ft; seen.
    assert conductors.open_wire_reactance_ohm_kft(
        spacing_in=12, area_cmil=1000 * kcmil) == pytest.approx(ohm_kft, abs=0.0006)


def test_open_wires_have_more_reactance_than_cable():
    # By hand: 4/0, 8 in apart: 0.02298 ln(8 / (0.4114 x 0.460)) = 0.0859. Cable: Table 9, in
    # plastic 0.041, and no magnetic conduit: resistance 0.062.
    cable, wires = overhead("4/0", conduit="steel"), overhead(
        "4/0", conduit="steel", overhead_service_spacing_in=8)
    assert cable["x"] == 0.041 and cable["r"] == wires["r"] == 0.062
    assert wires["x"] == pytest.approx(0.02298 * math.log(8 / (0.4114 * 0.460)), rel=1e-3)


def test_reactance_of_cable_is_not_below_a_published_triplex():
    # Source: distribution-engineering textbook, table of twisted secondary cable (memory): 2 AWG
    # 0.0299, 1/0 0.0297, 2/0 0.0290, 4/0 0.0275 ohm per 1000 ft of one conductor.
    for size, ohm_kft in (("2", 0.0299), ("1/0", 0.0297), ("2/0", 0.0290), ("4/0", 0.0275)):
        assert ohm_kft <= overhead(size)["x"] < 2 * ohm_kft


# --- drop -----------------------------------------------------------------------------------------

def test_effective_impedance_of_a_published_example():
    # Source: NEC chapter 9 Table 9 note 2, 250 kcmil copper in steel at 0.85: 0.054 x 0.85 +
    # 0.052 x 0.527 = 0.0733 ohm/1000 ft; seen. 100 A over 1000 ft of a 480 V three-phase run:
    # 1.732 x 7.33 V = 12.7 V = 2.645 %; single phase 2 x 7.33 V = 3.05 %.
    row = table("conductor_ac_impedance").set_index("size").loc["250"]
    run = {"current_a": 100.0, "length_ft": 1000.0, "power_factor": 0.85, "voltage_v": 480.0,
           "resistance_ohm_kft": row["Rcu_steel"], "reactance_ohm_kft": row["X_steel"]}
    three, single = conductors.run_drop_pct(phases=np.array([3, 1]), **run)
    assert three == pytest.approx(100 * math.sqrt(3) * 0.0733 * 100 / 480, abs=0.002)
    assert single == pytest.approx(100 * 2 * 0.0733 * 100 / 480, abs=0.002)


def test_drop_makes_the_run_larger():
    # By hand, 120 A at 0.85 over 600 ft, 480 V single phase, 3 % = 14.4 V = 2 x 120 x 0.6 x z:
    # z <= 0.1 ohm/1000 ft. 2/0: 0.10 x 0.85 + 0.043 x 0.527 = 0.1077 is too much, 3/0:
    # 0.077 x 0.85 + 0.042 x 0.527 = 0.0876 is enough. Ampacity alone: 150 A, 1/0.
    assert size_for(150, current_a=120, length_ft=600.0) == ["1/0"]
    assert size_for(150, current_a=120, length_ft=600.0, drop_limit_pct=3) == ["3/0"]
    # Three-phase lets z be 2 / 1.732 larger, 0.1155: 2/0.
    assert size_for(150, current_a=120, length_ft=600.0, drop_limit_pct=3, phases=3) == ["2/0"]
    assert size_for(150, current_a=120, length_ft=9000.0, drop_limit_pct=3) == [None]


def test_farms_are_sized_one_by_one():
    together = size_for([60, 150, np.nan, 229])
    assert together == [size_for(a)[0] for a in (60, 150, np.nan, 229)]


# --- through the study ----------------------------------------------------------------------------

def test_long_service_is_enlarged_with_its_ground(tmp_path):
    rows = [{"supply_option": "three-phase line", "service_distance_ft": feet}
            for feet in (40, 1500)]
    near, far = run_study(validate(candidate_workbook(tmp_path, rows=rows))).results.itertuples()
    areas = table("conductor_dc_resistance").set_index("size")["cmil"]

    def area(name):
        sets, _, wire = name.removeprefix("equipment grounding ").rpartition(" x ")
        return float(sets or 1) * areas[wire.split()[0]]
    assert near.minimum_ampacity_a == far.minimum_ampacity_a
    assert near.service_ampacity_a < far.service_ampacity_a
    assert far.service_voltage_drop_pct <= 3 and near.service_voltage_drop_pct < 1
    # NEC 250.122(B), next size of Table 8 at or above the grown area.
    grown = area(near.grounding_conductor) * area(far.service_conductor) / area(
        near.service_conductor)
    assert area(far.grounding_conductor) == min(a for a in areas if a >= grown - 1)


def test_overhead_service_of_a_farm(tmp_path):
    """Each farm is sized by its own build; a price for overhead is found by its construction."""
    rows = [{"supply_option": "three-phase line", "service_build": build, "pump_motor_hp": 60,
             "service_distance_ft": 40} for build in ("conduit", "overhead", None)]
    prices = [row for row in unit_cost_rows() if row["item"] != "service conductor"]
    prices += [{"item": "service conductor", "line_build": build, "size": 600, "price_usd": usd}
               for build, usd in (("overhead", 5), ("underground", 9))]
    book = candidate_workbook(tmp_path, rows=rows, unit_costs=prices,
                              program={"ambient_c": 40, "overhead_adder_pct": 0})
    conduit, air, blank = run_study(validate(book)).results.itertuples()
    # By hand, NEC 430.24: 125 % x 77 A and a pivot of 8 towers of 2.1 A, 125 % and 60 %: 107.7 A.
    # Table 310.16 x 0.88: 2 AWG 101.2, 1 AWG 114.4 A; overhead 2 AWG: the lesser of 135 and 115 A.
    assert conduit.minimum_ampacity_a == pytest.approx(1.25 * 77 + 1.25 * 2.1 + 0.6 * 7 * 2.1)
    assert conduit.service_ampacity_a == pytest.approx(114.4) and air.service_ampacity_a == 115
    assert (conduit.service_conductor, air.service_conductor) == ("1 AWG copper", "2 AWG copper")
    assert blank.service_conductor == conduit.service_conductor
    assert conduit.cost_service_usd - air.cost_service_usd == pytest.approx(40 * (9 - 5))


def test_device_of_a_drive_is_not_said_to_come_from_the_article_on_converters():
    # Source: NEC: Article 455 is on phase converters; drives stand in Article 430 Part X, where
    # 430.130(A)(2) has the ratings in the maker's instruction not be exceeded (memory). 125 % of
    # the rated input is common practice, no source.
    column = RESULTS.by_key["protective_device_a"]
    clause = dict(part.strip().split(": ") for part in column.source.split(";") if ": " in part)
    assert clause["converters"] == "455.7"
    assert clause["drives"].startswith("430.130, the maker's instruction decides")
    assert "455" not in clause["drives"] and "maker" in column.help
    assert "125 % of rated input, common practice" in column.source
