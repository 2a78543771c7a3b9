"""The least that a workbook may hold: nine cells a farm, one rate, one price for each item."""

import re
import zipfile

import numpy as np
import pytest

from batch import rules
from batch.columns import CANDIDATES
from batch.columns.unit_costs import DRIVE, ITEMS
from batch.reading.validate import validate
from batch.study import run_study
from batch.supply.designs import drive_rating
from batch.writing.run_folder import write_run
from tests.workbooks.make import candidate_workbook

NINE = {"candidate_id": "A", "present_power": "diesel engine", "fuel_price_usd": 3.6,
        "irrigated_area_acre": 126, "season_hours": 800, "flow_gpm": 800, "pumping_lift_ft": 140,
        "pivot_pressure_psi": 35, "single_phase_distance_ft": 1850}
CHEAP_RATE = {"rate_id": "R", "block_1_usd_kwh": 0.1, "wholesale_energy_usd_kwh": 0.04,
              "wholesale_demand_usd_kw": 0}
FEET = ("line", "service conductor", "motor lead", "pivot lead")
# What no size and no fit of a table can carry, and a margin that hardly ever pays back.
FARMS = ({}, {"candidate_id": "B", "flow_gpm": 5000, "pumping_lift_ft": 400},
         {"candidate_id": "C", "flow_gpm": 5, "pumping_lift_ft": 0},
         {"candidate_id": "D", "present_power": "none"},
         {"candidate_id": "E", "single_phase_distance_ft": 30_000, "season_hours": 300})


def prices(drive_sizes=(None,)):
    """One price for each item; the drive's for so many sizes."""
    rows = [{"item": item, "price_usd": 6 if item in FEET else 1000} for item in ITEMS
            if item != DRIVE]
    return rows + [{"item": DRIVE, "size": size, "price_usd": 1000} for size in drive_sizes]


def least(folder, farms=FARMS, unit_costs=None):
    blank = dict.fromkeys(CANDIDATES.by_key)
    return run_study(validate(candidate_workbook(
        folder, rows=[blank | NINE | farm for farm in farms], rates=[CHEAP_RATE],
        unit_costs=prices() if unit_costs is None else unit_costs)))


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    return least(tmp_path_factory.mktemp("least"))


def test_no_file_of_the_run_says_nan(study, tmp_path):
    folder = write_run(study, tmp_path, overwrite=False, options={})
    texts = {}
    for file in folder.rglob("*"):
        if file.suffix == ".xlsx":
            with zipfile.ZipFile(file) as book:
                texts |= {f"{file.name}: {part}": book.read(part).decode() for part in
                          book.namelist() if part.endswith(".xml")}
        elif file.is_file():
            texts[file.name] = file.read_text(encoding="utf-8")
    assert {"results.csv", "findings.csv", "board.html", "record.json"} <= texts.keys()
    assert len(texts) > 20
    # 'nan' as a word: not as a part of 'finance'; nor the word with which Python says unknown.
    said = {name: found for name, text in texts.items()
            if (found := re.findall(r".{0,40}\b(?:nan|NaN|NaT|inf|None)\b.{0,20}", text))}
    assert not said


def test_farm_that_no_size_carries_is_not_assessed_and_not_without_load(study):
    # Source: NEC Table 430.250 ends at 500 hp. 5,000 gal/min against 400 ft and 35 psi (81 ft) are
    # 5,000 x 481 / 3,960 = 607 hp of water alone.
    farm = study.results.set_index("candidate_id").loc["B"]
    assert np.isnan(farm["added_load_kw"]) and farm["verdict"] == "incomplete"
    assert "No " not in farm["verdict_reason"]
    assert not [f for f in study.findings.rows if f["slug"] in ("no-added-load", "no-useful-load")]


def test_payback_beyond_the_plants_life_is_told_in_words(study):
    life_yr = study.inputs.rules["plant_life_yr"]
    farm = study.results.set_index("candidate_id").loc["E"]
    net = farm["margin_usd_yr"] - farm["carrying_cost_usd_yr"]
    # By hand: either nothing is left of the margin, or the outlay takes longer than the life.
    assert net <= 0 or farm["cooperative_outlay_usd"] / net > life_yr
    assert np.isnan(farm["cooperative_payback_yr"])
    assert "cooperative payback with incentive (not within its life" in farm["verdict_reason"]


def test_drive_of_one_price_for_all_sizes_is_a_standard_one(study, tmp_path):
    # Source: NEC Table 430.250, 460 V: a 75 hp rating is 96 A, a 100 hp rating 124 A. At half of
    # it, a load of 52 A (40 hp) needs 100 hp, which may carry 62 A; 75 hp would carry 48 A.
    year = rules.load(rules.years()[-1])
    one_price = study.inputs.price_list
    hp, allowed_a = drive_rating(np.array([52.0]), np.array([100.0]), year, one_price)
    assert (hp.item(), allowed_a.item()) == (100, 62)
    # A size does not depend on its price: with each rating priced alike the farms get the same.
    ratings = (60, 75, 100, 125, 150, 200, 250, 300)
    by_size = least(tmp_path, FARMS[:1], prices(ratings))
    for listed, free in zip(by_size.options.itertuples(), study.options.itertuples()):
        assert listed.supply_option == free.supply_option
        if listed.supply_option == "single-phase drive":
            assert listed.drive_rated_hp == free.drive_rated_hp > 0


def test_one_price_for_the_rest_follows_the_listed_sizes(tmp_path):
    # 62 A is what 100 hp may carry; with 75 and 125 hp listed and one price for all else, the
    # listed 125 hp (156 / 2 = 78 A) comes next, and above it the standard 150 hp (180 / 2 = 90 A).
    inputs = least(tmp_path, FARMS[:1], prices((75, 125, None))).inputs
    hp, _ = drive_rating(np.array([62.0, 80.0]), np.array([100.0, 100.0]), inputs.rules,
                         inputs.price_list)
    assert hp.tolist() == [125, 150]


SIZES = ("pump_motor_hp", "drive_rated_hp", "transformer_kva", "protective_device_a",
         "disconnect_a")


def test_size_never_depends_on_price(study, tmp_path):
    # The same lists, each price a thousand times as high, and the other way round: by hand, a size
    # is what the load needs. Choices may move with money, so that options are held side by side.
    dear = [row | {"price_usd": row["price_usd"] * (1000 if n % 2 else 0.001)}
            for n, row in enumerate(prices())]
    other = least(tmp_path, FARMS[:1], dear)
    for option in set(other.options["supply_option"]):
        one, two = (s.variants[(s.variants["excel_row"] == 2)
                               & (s.variants["supply_option"] == option)] for s in (study, other))
        assert len(one) == len(two) > 0 and one["transformer_kva"].notna().all()
        np.testing.assert_array_equal(one[[*SIZES]].to_numpy(float), two[[*SIZES]].to_numpy(float))


def test_price_without_a_size_is_the_price_of_every_size(study):
    lines = study.cost_lines[study.cost_lines["candidate_id"] != "B"]  # which has no size at all
    sized = lines[lines["item"].isin(("transformer", "drive", "disconnect"))]
    assert len(sized) > 3 and study.options["transformer_kva"].nunique() > 1
    assert (sized["unit_price_usd"] == 1000).all()
