"""What thin air takes from drives, transformers and motors: by sources, by hand, and in a run."""

import math

import numpy as np
import pytest

from batch.engineering.altitude import (
    DRIVE_LOSS_PCT,
    TRANSFORMER_LOSS_PCT,
    motor_loading_limit_pct,
    rating_at_height_pct,
)
from batch.engineering.transformer import transformer_loading_pct
from batch.reading.validate import validate
from batch.study import run_study
from batch.supply import judging
from tests.workbooks.make import candidate_workbook

METER_FT = 1 / 0.3048
# A pump of the 50 hp class. By hand: 700 gal/min x (130 ft + 2.31 x 35 psi) / 3960 / 0.75 = 49.7
# hp. No pivot, so that the motor's 65 A of NEC Table 430.250 are the whole three-phase current.
PUMP = {"flow_gpm": 700, "pumping_lift_ft": 130, "pivot_pressure_psi": 35, "pipe_length_ft": None,
        "pipe_diameter_in": None, "pump_efficiency_pct": 75, "fuel_rate": None,
        "pivot_length_ft": None, "tower_count": None, "pivot_lead_ft": None,
        "three_phase_distance_ft": 2000, "source_fault_a": 900}


# --- the formulas ---------------------------------------------------------------------------------

@pytest.mark.parametrize("meters, pct", [
    (0, 100), (1000, 100), (1500, 95), (2000, 90), (3000, 80), (4000, 70)])
def test_drive_at_its_height(meters, pct):
    # Source: hardware manuals of two makers of drives, altitude derating: 1 % for every 100 m from
    # 1,000 to 4,000 m; seen.
    share = rating_at_height_pct(elevation_ft=meters * METER_FT, loss_pct=DRIVE_LOSS_PCT)
    assert share == pytest.approx(pct)


def test_transformer_at_its_height():
    # Source: IEEE C57.91, self-cooled oil-immersed: 0.4 % for each 100 m above 1,000 m (memory).
    # By hand: 1,750 m: 7.5 x 0.4 % = 3 %.
    share = rating_at_height_pct(
        elevation_ft=np.array([3000, 1750 * METER_FT]), loss_pct=TRANSFORMER_LOSS_PCT)
    assert share == pytest.approx([100, 97])
    # 48.5 kVA on 50 kVA of which 97 % are left is all that it may carry.
    assert transformer_loading_pct(service_kva=48.5, transformer_kva=50,
                                   altitude_pct=share[1]) == pytest.approx(100)


def test_motor_gives_up_its_service_factor():
    # Source: NEMA MG 1, 14.4 (memory): service factor 1.15 counts as 1.0 above 3,300 ft, up to
    # 9,000 ft; above that a motor of another temperature rise is wanted.
    height_ft = [-100, 3300, 3301, 9000, 9001, np.nan]
    np.testing.assert_array_equal(
        motor_loading_limit_pct(elevation_ft=height_ft, limit_pct=115),
        [115, 115, 100, 100, np.nan, np.nan])
    # A stricter limit of the program stays.
    assert motor_loading_limit_pct(elevation_ft=5000, limit_pct=90) == 90


# --- in a run -------------------------------------------------------------------------------------

def variants_at(tmp_path, *heights_ft, program=None, headers=None, **row):
    """Variants and checks of one pump at several heights, a row for each."""
    book = candidate_workbook(
        tmp_path, program=program, headers=headers,
        rows=[PUMP | row | {"site_elevation_ft": height_ft} for height_ft in heights_ft])
    study = run_study(validate(book))
    return study.variants, judging.checks_table(study.variants, study.inputs.rules)


def one(frame, row, option, variant):
    [found] = frame[(frame["excel_row"] == row) & (frame["supply_option"] == option)
                    & (frame["variant"] == variant)].to_dict("records")
    return found


def test_drive_is_chosen_larger_where_the_air_is_thin(tmp_path):
    # By hand: listed drives 125 hp 156 A and 200 hp 240 A (Table 430.250), of which half may be
    # given on single-phase input: 78 A are enough for 65 A at 3,280 ft. At 2,700 m the 125 hp drive
    # has 83 % of them, 64.7 A, which is not; the 200 hp drive has 0.83 x 120 = 99.6 A.
    low, high = 3280, round(2700 * METER_FT)
    variants, _ = variants_at(tmp_path, low, high)
    for row, hp, allowed_a, share in ((2, 125, 78, 1.0), (3, 200, 120, 0.83)):
        drive = one(variants, row, "single-phase drive", "bare drive")
        assert drive["drive_rated_hp"] == hp
        assert drive["drive_altitude_pct"] == pytest.approx(100 * share, abs=0.01)
        assert drive["drive_site_a"] == pytest.approx(allowed_a * share, rel=1e-4)
        assert drive["drive_site_a"] >= 65
        # What it may draw, by which its conductors are chosen, is no less than by its plate.
        assert drive["drive_allowed_a"] == pytest.approx(allowed_a)


def test_transformer_is_chosen_larger_where_the_air_is_thin(tmp_path):
    # By hand on three phases, 86 % power factor, premium 50 hp motor of 94.5 %: the shaft power is
    # set so that 74.3 kVA are drawn: a bank of three 25 kVA carries them up to 1,000 m. At 2,500 m
    # 94 % of 75 kVA are 70.5, and three 37.5 kVA are needed.
    shaft_hp = 74.3 * 0.86 * 0.945 / 0.7457
    flow_gpm = shaft_hp * 0.75 * 3960 / (200 + 2.31 * 35)
    row = {"flow_gpm": flow_gpm, "pumping_lift_ft": 200, "motor_efficiency_pct": 94.5}
    variants, checks = variants_at(tmp_path, 3000, round(2500 * METER_FT), **row)
    for excel_row, kva, share in ((2, 75, 1.0), (3, 112.5, 0.94)):
        line = one(variants, excel_row, "three-phase line", "across the line")
        assert line["service_kva"] == pytest.approx(74.3, rel=1e-3)
        assert line["transformer_kva"] == kva
        assert line["transformer_loading_pct"] == pytest.approx(
            100 * 74.3 / (kva * share), rel=1e-3)
    loading = checks[checks["check"] == "transformer loading"]
    assert (loading["answer"] == "meets").all()


def test_motor_beyond_its_nameplate_fails_where_the_air_is_thin(tmp_path):
    # By hand: 49.7 hp of shaft power on a 50 hp motor, then on one of 40 hp: 124 %; the flow of the
    # third and fourth is set for 43 hp, 107.5 % of 40 hp, within the service factor of 1.15 alone.
    flow_gpm = 43 * 0.75 * 3960 / (130 + 2.31 * 35)
    variants, checks = variants_at(tmp_path, 3300, 3400, 9500, None, flow_gpm=flow_gpm,
                                   pump_motor_hp=40)
    mine = checks[(checks["check"] == "pump motor loading")
                  & (checks["supply_option"] == "three-phase line")]
    assert mine["value"].to_numpy() == pytest.approx(107.5, rel=1e-3)
    by_row = mine.groupby("excel_row")[["limit", "answer", "remedy"]].first()
    assert by_row["limit"].fillna(-1).tolist() == [115, 100, -1, 115]
    assert by_row["answer"].tolist() == ["watch", "fails", "not assessed", "watch"]
    assert "9,000 ft" in by_row["remedy"][4]
    # A drive leaves no service factor anyway, and no more than the nameplate above 3,300 ft.
    limits = variants[variants["supply_option"] == "single-phase drive"].groupby("excel_row")[
        "motor_load_limit_pct"].first()
    assert limits.fillna(-1).tolist() == [105, 100, -1, 105]


def test_blank_height_is_the_programs(tmp_path):
    variants, _ = variants_at(tmp_path, None, 1200, program={"site_elevation_ft": 5200})
    used = variants.groupby("excel_row")["site_elevation_used_ft"].first()
    assert used.tolist() == [5200, 1200]
    # By hand: 5,200 ft are 1,585 m: 5.85 % and 2.34 % less.
    drive = one(variants, 2, "single-phase drive", "bare drive")
    above_m = 5200 * 0.3048 - 1000
    assert drive["drive_altitude_pct"] == pytest.approx(100 - above_m / 100)
    assert drive["transformer_altitude_pct"] == pytest.approx(100 - 0.4 * above_m / 100)
    assert math.isclose(above_m, 584.96)


def test_height_may_be_given_in_meters(tmp_path):
    variants, _ = variants_at(tmp_path, 1585, headers={"site_elevation_ft": "Site elevation [m]"})
    assert variants["site_elevation_used_ft"].to_numpy() == pytest.approx(1585 / 0.3048)
