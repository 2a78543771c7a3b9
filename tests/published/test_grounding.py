"""Grounding of the service against the tables and published worked cases of the code (NFPA 70).

Rows of the tables are typed by hand here. Seen = read in public copies; memory = recalled.
"""

import numpy as np
import pytest

from batch.engineering import conductors
from batch.reading.validate import validate
from batch.study import run_study
from batch.supply import grounding
from batch.tables import table
from batch.writing.pages.one_line import one_line
from tests.workbooks.make import candidate_workbook

# NEC chapter 9 Table 8, circular mils.
CMIL = {"8": 16_510, "6": 26_240, "4": 41_740, "3": 52_620, "2": 66_360, "1": 83_690,
        "1/0": 105_600, "2/0": 133_100, "3/0": 167_800, "4/0": 211_600, "250": 250_000,
        "350": 350_000, "500": 500_000, "600": 600_000, "750": 750_000, "1000": 1_000_000}


def one(values):
    name, = values
    return name


# --- equipment grounding, by the device -----------------------------------------------------------

@pytest.mark.parametrize("device_a, chosen, by_ampacity, ground", [
    # Source: handbook example of NEC 250.122(B) in an inspector's course: 300 A device, 250 kcmil
    # enlarged to 350 for drop: 41,740 x 1.4 = 58,436 cmil, so 2 AWG; seen.
    (300, 350_000, 250_000, "2 AWG copper"),
    # Source: trade forum's worked cases (Table 8 areas): 3/0 to 500 kcmil on a 200 A device:
    # 26,240 x 500,000 / 167,800 = 78,188, so 1 AWG; seen.
    (200, 500_000, 167_800, "1 AWG copper"),
    # 20 A circuit from 12 to 6 AWG: the ground goes one to one; Electrical Contractor magazine.
    (20, 26_240, 6_530, "6 AWG copper"),
    # Table 250.122 without enlargement: 100 A 8 AWG, 200 A 6, 400 A 3; seen.
    (100, 66_360, 66_360, "8 AWG copper"), (200, 167_800, 167_800, "6 AWG copper"),
    (110, 66_360, 66_360, "6 AWG copper"), (400, 600_000, 600_000, "3 AWG copper"),
    # Source: trade forum on 250.122(F): 600 A feeder of two sets of 350 kcmil in two conduits, 1
    # AWG in each of them; seen.
    (600, 700_000, 700_000, "1 AWG copper")])
def test_equipment_grounding(device_a, chosen, by_ampacity, ground):
    assert ground == one(grounding.equipment_grounding(
        np.array([float(device_a)]), np.array([float(chosen)]), np.array([float(by_ampacity)]),
        "copper"))


def test_grounding_area_formula():
    # Same example: 41,740 x 350 / 250 = 58,436 cmil; a smaller phase conductor never lowers it.
    assert conductors.grounding_area_cmil(
        table_area_cmil=41_740, chosen_area_cmil=350_000, ampacity_area_cmil=250_000
    ) == pytest.approx(58_436)
    assert conductors.grounding_area_cmil(
        table_area_cmil=41_740, chosen_area_cmil=250_000, ampacity_area_cmil=350_000) == 41_740


# --- grounded conductor and electrode, by the legs ------------------------------------------------

# NEC Table 250.66, both ends of each row: legs, electrode conductor of copper. Seen in three public
# copies, which agree. Table 250.102(C)(1) has the same rows up to 1100 kcmil (copper legs).
COPPER_LEGS = (("8", "8 AWG"), ("2", "8 AWG"), ("1", "6 AWG"), ("1/0", "6 AWG"), ("2/0", "4 AWG"),
               ("3/0", "4 AWG"), ("4/0", "2 AWG"), ("350", "2 AWG"), ("500", "1/0 AWG"),
               ("600", "1/0 AWG"), ("750", "2/0 AWG"), ("1000", "2/0 AWG"))
# Aluminum legs: electrode conductor of copper, grounded conductor of aluminum.
ALUMINUM_LEGS = (("1/0", "8 AWG", "6 AWG"), ("2/0", "6 AWG", "4 AWG"), ("3/0", "6 AWG", "4 AWG"),
                 ("4/0", "4 AWG", "2 AWG"), ("250", "4 AWG", "2 AWG"), ("350", "2 AWG", "1/0 AWG"),
                 ("500", "2 AWG", "1/0 AWG"), ("600", "1/0 AWG", "3/0 AWG"),
                 ("1000", "2/0 AWG", "4/0 AWG"))


@pytest.mark.parametrize("size, wire", COPPER_LEGS)
def test_rows_of_the_tables_for_copper(size, wire):
    legs = np.array([float(CMIL[size])])
    assert one(grounding.electrode_conductors(legs, "copper")) == f"{wire} copper"
    assert one(grounding.grounded_conductors(legs, np.array([1]), "copper")) == f"{wire} copper"


@pytest.mark.parametrize("size, electrode, grounded", ALUMINUM_LEGS)
def test_rows_of_the_tables_for_aluminum(size, electrode, grounded):
    legs = np.array([float(CMIL[size])])
    assert one(grounding.electrode_conductors(legs, "aluminum")) == f"{electrode} copper"
    assert one(grounding.grounded_conductors(
        legs, np.array([1]), "aluminum")) == f"{grounded} aluminum"


@pytest.mark.parametrize("size, sets, metal, wire", [
    # Source: question on an NFPA forum about 250.24(C)(2), five runs of 400 kcmil, each in its own
    # conduit: by the 400 kcmil of that conduit 1/0 in each; seen.
    ("500", 2, "copper", "1/0 AWG copper"),
    # 250.24(C)(2): never below 1/0 in parallel, where the table's row for 3/0 says 4 AWG; seen.
    ("3/0", 2, "copper", "1/0 AWG copper"), ("4/0", 3, "aluminum", "1/0 AWG aluminum"),
    ("750", 2, "copper", "2/0 AWG copper")])
def test_grounded_conductor_in_each_raceway(size, sets, metal, wire):
    legs = np.array([float(sets * CMIL[size])])
    assert one(grounding.grounded_conductors(legs, np.array([sets]), metal)) == wire


def test_electrode_conductor_of_parallel_legs_goes_by_their_sum():
    # Source: a code guide's example of Table 250.66: two sets of 250 kcmil count as 500, 1/0; seen.
    # Above 1100 kcmil 3/0, however large; seen.
    assert list(grounding.electrode_conductors(
        np.array([500_000.0, 1_200_000, 4_000_000, np.nan]), "copper")) == [
            "1/0 AWG copper", "3/0 AWG copper", "3/0 AWG copper", None]


def test_grounded_conductor_above_the_table_is_an_eighth_of_the_legs():
    # Source: a code digest's example: 4 x 500 kcmil of copper, 2,000,000 x 12.5 % = 250,000 cmil;
    # and a building-code forum's: 3 x 250 kcmil 2/0, 2 x 3/0 (335,600 cmil) 2 AWG; seen.
    rows = table("grounded_conductor")
    area = conductors.grounded_area_cmil(
        ungrounded_area_cmil=np.array([2_000_000.0, 750_000, 335_600, np.nan]),
        up_to_cmil=rows["cu_up_to_cmil"], table_area_cmil=rows["cu"].map(CMIL))
    np.testing.assert_array_equal(area, [250_000, CMIL["2/0"], CMIL["2"], np.nan])


# --- through the study ----------------------------------------------------------------------------

def farms(tmp_path, ambient_c=30, drop_pct=3, **changes):
    """The same farm with its disconnect at the transformer, at the drive, and left blank."""
    rows = [{"supply_option": "three-phase line", "disconnect_at": place, **changes}
            for place in ("transformer", "drive", None)]
    inputs = validate(candidate_workbook(tmp_path, rows=rows, program={
        "ambient_c": ambient_c, "conductor_material": "copper", "terminations": "75 C",
        "service_drop_limit_pct": drop_pct}))
    return inputs, list(run_study(inputs).results.itertuples())


def test_disconnect_decides_what_runs_with_the_legs(tmp_path):
    # By hand, NEC 430.24: 156 A of Table 430.250 for 125 hp, 125 %, and a pivot of 8 towers of
    # 2.1 A: 195 + 1.25 x 2.1 + 0.6 x 7 x 2.1 = 206.4 A, so 4/0 (230 A). Device, 430.62: 250 % of
    # 156 A, next size 400 A, and 16.8 A: 400 A. Equipment grounding of 400 A: 3 AWG (Table
    # 250.122); grounded conductor and electrode conductor of 4/0: 2 AWG.
    _, (transformer, drive, blank) = farms(tmp_path, pump_motor_hp=125, service_distance_ft=20)
    assert transformer.service_conductor == drive.service_conductor == "4/0 AWG copper"
    assert transformer.protective_device_a == 400
    assert transformer.grounding_conductor == "equipment grounding 3 AWG copper"
    assert drive.grounding_conductor == "grounded conductor 2 AWG copper"
    assert (transformer.grounding_beyond, drive.grounding_beyond) == (None, "3 AWG copper")
    assert transformer.electrode_conductor == drive.electrode_conductor == "2 AWG copper"
    assert blank.grounding_conductor == transformer.grounding_conductor


def test_electrode_conductor_of_a_run_enlarged_for_drop(tmp_path):
    # Source: NEC Table 250.66, note 2: without service conductors of that size, by those that the
    # load needs. 4/0 by ampacity: 2 AWG; 0.5 % of drop over 1000 ft asks for more, whose sum
    # counts where the disconnect stands at its end: over 350 through 600 kcmil 1/0, to 1100 2/0.
    _, (transformer, drive, _) = farms(
        tmp_path, drop_pct=0.5, pump_motor_hp=125, service_distance_ft=1000)
    sets, _, wire = drive.service_conductor.rpartition(" x ")
    legs = float(sets or 1) * CMIL[wire.split()[0]]
    assert legs > CMIL["350"]
    wanted = next(size for up_to, size in (
        (600e3, "1/0 AWG"), (1100e3, "2/0 AWG"), (np.inf, "3/0 AWG")) if legs <= up_to)
    assert drive.electrode_conductor == f"{wanted} copper"
    assert transformer.electrode_conductor == "2 AWG copper"


@pytest.mark.parametrize("build, place", [("conduit", "raceway"), ("overhead", "cable")])
def test_parallel_runs_say_that_each_has_its_own(tmp_path, build, place):
    # Source: NEC 250.122(F), 250.24(C)(2). 300 hp: 361 A of Table 430.250, 451 A at 125 %; a single
    # 750 kcmil carries 475 x 0.75 A at 46 to 50 C in conduit, and 475 A overhead, where 0.5 %
    # of drop over 1800 ft is too much for it.
    _, (transformer, drive, _) = farms(
        tmp_path, ambient_c=50, drop_pct=0.5, pump_motor_hp=300, service_build=build,
        service_distance_ft=1800)
    assert " x " in transformer.service_conductor
    assert transformer.grounding_conductor.startswith("equipment grounding ")
    assert drive.grounding_conductor.startswith("grounded conductor ")
    assert all(farm.grounding_conductor.endswith(f" copper in each {place}")
               for farm in (transformer, drive))


def test_diagram_draws_the_run_on_its_side_of_the_disconnect(tmp_path):
    # Source: NEC Article 100: service conductors end at the service disconnect, a feeder begins.
    inputs, (transformer, drive, _) = farms(tmp_path, pump_motor_hp=125)
    for farm, row, after in ((transformer, 2, "starter"), (drive, 3, "device")):
        text = {key: "" if value is None else str(value) for key, value in farm._asdict().items()}
        parts = one_line(text | {"variant": "soft starter"},
                         inputs.candidates.loc[row].to_dict())["parts"]
        run, = (part for part in parts if farm.service_conductor in " ".join(part.line))
        assert run.shape == after and farm.grounding_conductor in run.line
