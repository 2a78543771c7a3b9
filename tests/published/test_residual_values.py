"""What is left at the end of the study: engine, drive and plant by published and hand-worked lives.
"""

import numpy as np
import pytest

from batch.economics import cash_flow
from batch.reading.validate import validate
from batch.study import run_study
from tests.workbooks.make import candidate_workbook, unit_cost_rows

CENT = 0.01
FARM = {"is_inverter_duty": "yes", "supply_option": "single-phase drive", "pivot_lead_ft": 60,
        "single_phase_distance_ft": 2000}
# Nothing but the priced thing differs: no incentive, upkeep, escalation, adder or carrying cost.
PLAIN = {"current_limits_apply": "off", "incentive_amount": 0, "incentive_minimum_usd": 0,
         "electric_upkeep_pct": 0, "carrying_cost_pct": 0, "upkeep_escalation_pct": 0,
         "overhead_adder_pct": 0, "discount_rate_member_pct": 5,
         "discount_rate_cooperative_pct": 5, "maximum_cooperative_payback_yr": 60,
         "share_drive_member_pct": 100, "share_line_member_pct": 0,
         "share_line_cap_usd": 10_000_000, "farm_cap_usd": 5_000_000}


def results(folder, rows, program, **usd):
    prices = [row | ({"price_usd": usd[row["item"]]} if row["item"] in usd else {})
              for row in unit_cost_rows()]
    book = candidate_workbook(folder, rows=[FARM | row for row in rows], unit_costs=prices,
                              program=PLAIN | program)
    return run_study(validate(book)).results


def worth_of(cost_usd, life_yr, first_yr, study_yr, bought=0.0, escalation_pct=0.0):
    """Present value of purchase, replacements and what is left, 5 % [USD]."""
    flow = cash_flow.replacement_flow_usd(
        replacement_usd=cost_usd, first_replacement_yr=first_yr, replacement_life_yr=life_yr,
        escalation_pct=escalation_pct, study_years=study_yr)
    flow[0] += bought
    flow[-1] -= cash_flow.residual_value_usd(
        asset_cost_usd=cost_usd, asset_life_yr=life_yr, first_replacement_yr=first_yr,
        study_years=study_yr, escalation_pct=escalation_pct)
    return cash_flow.npv_usd(flow_usd=flow, discount_rate_pct=5)


@pytest.mark.parametrize("cost, life, first, study, bought, usd", [
    # Source: 10 CFR 436.19 (replacements less salvage); by hand at 5 %. A unit of 40,000 due in
    # year 6, life 20, horizon 25: 40,000/1.05^6 - 40,000 x 1/20 / 1.05^25. A drive of 12,000, 15
    # years, horizon 20: 12,000 + 12,000/1.05^15 - 12,000 x 10/15 / 1.05^20. A line of 60,000, 40
    # years: 60,000 - 30,000/1.05^20.
    (40_000, 20, 6, 25, 0, 29_848.62 - 590.61),
    (12_000, 15, 15, 20, 12_000, 12_000 + 5_772.21 - 3_015.12),
    (60_000, 40, 40, 20, 60_000, 60_000 - 11_306.68)])
def test_lives_worked_by_hand(cost, life, first, study, bought, usd):
    assert worth_of(cost, life, first, study, bought) == pytest.approx(usd, abs=CENT)


def test_what_is_left_is_priced_at_the_end():
    # Source: NIST BLCC help: the price increase goes before the residual. By hand: 12,000 x 1.03^20
    # x 10/15.
    assert cash_flow.residual_value_usd(
        asset_cost_usd=12_000.0, asset_life_yr=15, first_replacement_yr=15, study_years=20,
        escalation_pct=3) == pytest.approx(8000 * 1.03 ** 20)


def test_avoided_engine_is_credited_less_what_would_be_left_of_it(tmp_path):
    # Source: the first case above, through the whole study; the second farm has no price of an
    # engine, the third one's engine outlives the study: nothing is avoided and nothing given up.
    rows = [{"engine_replacement_usd": usd, "engine_remaining_yr": left}
            for usd, left in ((40_000, 6), (None, 6), (40_000, 30))]
    farms = results(tmp_path, rows, {"study_years": 25, "engine_life_yr": 20})
    npv = farms["member_npv_usd"].to_numpy()
    assert npv[0] - npv[1] == pytest.approx(29_258.01, abs=CENT)
    assert npv[2] == pytest.approx(npv[1], abs=CENT)


def test_engine_of_new_irrigation_is_bought_and_what_is_left_of_it_given_up(tmp_path):
    # By hand: 30,000 at once, again in year 15; in year 20 10 of 15 years are left of it.
    new = {"present_power": "none", "fuel_rate": None}
    farms = results(tmp_path, [new | {"engine_replacement_usd": usd} for usd in (30_000, 10_000)],
                    {"study_years": 20, "engine_life_yr": 15})
    expected = 20_000 * (1 + 1.05 ** -15 - 10 / 15 * 1.05 ** -20)
    assert -np.diff(farms["member_npv_usd"])[0] == pytest.approx(expected, abs=CENT)


def test_drive_and_plant_have_the_same_treatment(tmp_path):
    # Source: the drive and the line above, as differences of 12,000 and of 60,000 USD.
    program = {"study_years": 20, "drive_life_yr": 15, "plant_life_yr": 40}
    base = results(tmp_path, [{}], program, drive=1000, line=7.5).iloc[0]
    drive = results(tmp_path, [{}], program, drive=13_000, line=7.5).iloc[0]
    line = results(tmp_path, [{}], program, drive=1000, line=37.5).iloc[0]
    assert drive["project_cost_usd"] - base["project_cost_usd"] == 12_000
    assert line["project_cost_usd"] - base["project_cost_usd"] == 60_000
    assert base["member_npv_usd"] - drive["member_npv_usd"] == pytest.approx(14_757.09, abs=CENT)
    assert base["cooperative_npv_usd"] - line["cooperative_npv_usd"] == pytest.approx(
        48_693.32, abs=CENT)


def test_plant_may_be_counted_for_nothing(tmp_path):
    # By hand: 60,000 of line without the 11,306.68 that is left of it.
    program = {"study_years": 20, "plant_life_yr": 40, "residual_value_counts": "no"}
    base, dear = (results(tmp_path, [{}], program, line=usd).iloc[0]["cooperative_npv_usd"]
                  for usd in (7.5, 37.5))
    assert base - dear == pytest.approx(60_000, abs=CENT)
