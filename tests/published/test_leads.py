"""Leads to the motor and to the pivot: size, price and share by hand, for all three supplies."""

import html
import re

import numpy as np
import pytest

from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.run_folder import write_run
from tests.test_pages_choices import page_text
from tests.workbooks.make import candidate_workbook, findings, unit_cost_rows

# NEC Table 310.16, 75 C copper at 30 C: 14, 12, 10, 8, 6, 4 AWG 20, 25, 35, 50, 65, 85 A; at 40 C
# times 0.88 (Table 310.15(B)(1)). Chapter 9 Table 9, PVC, ohm/1000 ft and reactance: 10 AWG 1.2 and
# 0.050, 6 AWG 0.49 and 0.051, 4 AWG 0.31 and 0.048.
#
# 40 hp takes 52 A (NEC Table 430.250) and needs 1.25 x 52 = 65 A (430.22): 6 AWG carries 57.2 A,
# 4 AWG 74.8 A. Seven towers of 2.1 A need 1.25 x 2.1 + 0.60 x 6 x 2.1 = 10.185 A (675.22(A)).
LARGE = {"pump_motor_hp": 40, "flow_gpm": 500, "irrigated_area_acre": 80, "motor_lead_ft": 500,
         "tower_count": 7, "tower_motor_hp": 1, "pivot_lead_ft": 1350, "fuel_rate": None}
# The price list of the tests, USD/ft: motor lead of up to 100 A 6, of up to 50 A 4; pivot lead of
# up to 100 A 6.5.
LARGE_USD = 500 * 6 + 1350 * 6.5
# 15 hp takes 21 A and needs 26.25 A: 12 AWG carries 22 A, 10 AWG 30.8 A.
SMALL = {"pump_motor_hp": 15, "flow_gpm": 180, "irrigated_area_acre": 25, "motor_lead_ft": 200,
         "pivot_length_ft": None, "tower_count": None, "pivot_lead_ft": None, "fuel_rate": None,
         "supply_option": "rotary converter"}
OPTIONS = ("single-phase drive", "rotary converter", "three-phase line")


def results_of(folder, *rows, **more):
    return run_study(validate(candidate_workbook(folder, rows, **more))).results.to_dict("records")


def motor_drop_pct(amperes, feet, r, x):
    """Chapter 9 Table 9, note 2, three phases, at power factor 0.86, of 460 V."""
    return 100 * np.sqrt(3) * amperes * feet / 1000 * (r * 0.86 + x * np.sqrt(1 - 0.86 ** 2)) / 460


@pytest.fixture(scope="module")
def farms(tmp_path_factory):
    """The results of the farms above under the plain rules, by what they are."""
    rows = {option: LARGE | {"supply_option": option} for option in OPTIONS} | {
        "small": SMALL, "as it comes": LARGE} | {
        (motor, pivot): LARGE | {"has_motor_lead": motor, "has_pivot_lead": pivot}
        for motor, pivot in (("yes", "no"), ("no", "yes"), ("yes", "yes"))}
    return dict(zip(rows, results_of(tmp_path_factory.mktemp("leads"), *rows.values())))


@pytest.mark.parametrize("option", OPTIONS)
def test_leads_of_every_supply_by_hand(farms, option):
    farm = farms[option]
    assert (farm["supply_option"], farm["motor_lead_conductor"]) == (option, "4 AWG copper")
    assert farm["motor_lead_ampacity_a"] == pytest.approx(85 * 0.88)
    drop = motor_drop_pct(52, 500, 0.31, 0.048)
    assert 2.8 < drop < 3 and farm["motor_lead_drop_pct"] == pytest.approx(drop)
    # To the panel, power factor 0.8, of 480 V, at most 2 %: 6 AWG drops 2.1 %, 4 AWG 1.4 %.
    six, four = (100 * np.sqrt(3) * 10.185 * 1.35 * (r * 0.8 + x * 0.6) / 480
                 for r, x in ((0.49, 0.051), (0.31, 0.048)))
    assert six > 2 > four
    assert farm["pivot_lead_conductor"] == "4 AWG copper"
    assert farm["pivot_lead_ampacity_a"] == pytest.approx(85 * 0.88)
    assert farm["pivot_lead_drop_pct"] == pytest.approx(four)
    assert farm["cost_leads_usd"] == farm["member_leads_usd"] == LARGE_USD


def test_leads_of_a_converter_without_a_pivot_by_hand(farms):
    farm = farms["small"]
    assert farm["motor_lead_conductor"] == "10 AWG copper"
    assert farm["motor_lead_drop_pct"] == pytest.approx(motor_drop_pct(21, 200, 1.2, 0.050))
    assert farm["pivot_lead_conductor"] is None and farm["pivot_lead_used_ft"] == 0
    assert farm["cost_leads_usd"] == farm["member_leads_usd"] == 200 * 4


def test_drop_in_the_leads_is_judged_for_every_supply(tmp_path):
    # Four runs of 750 kcmil, the largest there are, drop 0.019 x 0.86 + 0.038 x 0.51 = 0.0357 V a
    # thousand feet and ampere in one run, a quarter of it in four: in 3,000 ft 0.53 % of 460 V.
    row = LARGE | {"motor_lead_ft": 3000}
    given = {}
    for limit in (1, 0.2):
        study = run_study(validate(candidate_workbook(
            tmp_path, [row], program={"motor_lead_drop_limit_pct": limit})))
        mine = study.checks[study.checks["check"] == "drop in the motor leads"]
        given[limit] = dict(zip(mine["supply_option"], mine["answer"]))
    assert given == {1: dict.fromkeys(OPTIONS, "meets"), 0.2: dict.fromkeys(OPTIONS, "fails")}


def test_lead_that_no_drop_rule_asks_for_is_sized_by_its_current_alone(tmp_path):
    [farm] = results_of(tmp_path, LARGE | {"motor_lead_ft": 3000},
                        program={"motor_lead_drop_limit_pct": 0})
    assert farm["motor_lead_conductor"] == "4 AWG copper" and farm["motor_lead_drop_pct"] == 0
    assert farm["cost_leads_usd"] == 3000 * 6 + 1350 * 6.5


@pytest.mark.parametrize("year", [2024, 2025, 2026])
def test_every_year_has_the_member_pay_for_all_leads(farms, tmp_path, year):
    # Source: common practice, no source: what stands behind the meter is the member's.
    farm = farms["as it comes"]  # under the rules of 2026
    if year != 2026:
        [farm] = results_of(tmp_path, LARGE, study={"rules_year": year})
    assert farm["cost_leads_usd"] == farm["member_leads_usd"] == LARGE_USD


def test_share_of_the_leads_goes_by_the_rules(tmp_path):
    # By hand: 11,775 USD and 10 % of overhead; 1,000 USD free; 60 % of the rest is the member's,
    # unless the cooperative pays 2,500 USD at most, or the member 4,000 USD.
    rules = {"overhead_adder_pct": 10, "share_leads_free_usd": 1000, "share_leads_member_pct": 60}
    cost = LARGE_USD * 1.10
    for caps, member in (({}, 0.60 * (cost - 1000)), ({"share_leads_cap_usd": 2500}, cost - 2500),
                         ({"share_leads_member_cap_usd": 4000}, 4000)):
        [farm] = results_of(tmp_path, LARGE, program=rules | caps)
        assert farm["cost_leads_usd"] == pytest.approx(cost)
        assert farm["member_leads_usd"] == pytest.approx(member)


def test_leads_are_the_members_equipment_and_not_the_cooperatives_work(tmp_path):
    none, priced = results_of(
        tmp_path, LARGE | {"has_motor_lead": "yes", "has_pivot_lead": "yes"}, LARGE,
        program={"maximum_cooperative_payback_yr": 60})
    for key in ("equipment_cost_usd", "project_cost_usd", "member_cost_usd",
                "member_net_cost_usd"):
        assert priced[key] - none[key] == pytest.approx(LARGE_USD, abs=0.011), key
    for key in ("cooperative_cost_usd", "contribution_usd", "carrying_cost_usd_yr",
                "incentive_usd"):  # drive and filter alone are eligible
        assert priced[key] == none[key], key


# --- cables that exist ----------------------------------------------------------------------------

def test_cable_that_exists_costs_nothing_and_its_size_is_shown(farms):
    mine = [farms[name] for name in ("as it comes", ("yes", "no"), ("no", "yes"), ("yes", "yes"))]
    assert [farm["cost_leads_usd"] for farm in mine] == [LARGE_USD, 1350 * 6.5, 500 * 6, 0]
    for key in ("motor_lead_conductor", "pivot_lead_conductor", "motor_lead_drop_pct",
                "end_tower_v"):
        assert len({farm[key] for farm in mine}) == 1, key


def test_leads_are_not_replaced_within_the_study(tmp_path):
    # Source: common practice, no source: cable outlives the study; drives are renewed after 10 yr.
    rows = [LARGE | {"supply_option": "single-phase drive"}]
    rows.append(rows[0] | {"has_motor_lead": "yes", "has_pivot_lead": "yes"})
    priced, none = results_of(tmp_path, *rows, program={"electric_upkeep_pct": 0})
    more = np.subtract(none["member_flow_usd"], priced["member_flow_usd"])
    assert more[0] == pytest.approx(LARGE_USD) and np.abs(more[1:]).max() < 1e-6


# --- what is not known ----------------------------------------------------------------------------

def test_blank_length_is_priced_at_the_programs_and_said(tmp_path):
    # The example's pumping lift of 140 ft is above the program's 100 ft; its pipe is 1,320 ft.
    # Source: common practice, no source: a submersible's cable reaches the water.
    blank = LARGE | {"motor_lead_ft": None, "pivot_lead_ft": None}
    inputs = validate(candidate_workbook(tmp_path, [
        blank, LARGE | {"motor_lead_ft": 140, "pivot_lead_ft": 1320},
        blank | {"pumping_lift_ft": 40, "pipe_length_ft": 2640},
        blank | {"has_motor_lead": "yes"}]))
    study = run_study(inputs)
    open_row, given, other, has_one = study.results.to_dict("records")
    assert open_row["cost_leads_usd"] == given["cost_leads_usd"] == 140 * 6 + 1320 * 6.5
    assert (other["motor_lead_used_ft"], other["pivot_lead_used_ft"]) == (100, 2640)
    assert has_one["cost_leads_usd"] == 1320 * 6.5
    for key in ("motor_lead_drop_pct", "pivot_lead_drop_pct", "end_tower_v"):
        assert np.isnan(open_row[key]) and not np.isnan(given[key]), key
    said = {(f["row"], f["key"]): f["message"]
            for f in findings(inputs, "lead-length-assumed", "watch")}
    assert sorted(said) == [(row, key) for row in (2, 4, 5)
                            for key in ("motor_lead_ft", "pivot_lead_ft")]
    assert "taken as 140 ft long" in said[2, "motor_lead_ft"]
    assert "taken as 1,320 ft long" in said[2, "pivot_lead_ft"]


def test_length_of_the_program_may_be_typed(tmp_path):
    [farm] = results_of(tmp_path, LARGE | {"motor_lead_ft": None, "pivot_lead_ft": None}, program={
        "motor_lead_assumed_ft": 200, "pivot_lead_assumed_ft": 2000})
    assert farm["motor_lead_used_ft"] == 200 and farm["pivot_lead_used_ft"] == 2000


def test_lead_without_a_price_leaves_the_farm_unpriced_and_says_so(tmp_path):
    listed = [row for row in unit_cost_rows() if row["item"] != "pivot lead"]
    inputs = validate(candidate_workbook(
        tmp_path, [LARGE, LARGE | {"has_pivot_lead": "yes"}, SMALL], unit_costs=listed))
    first, second, third = run_study(inputs).results.to_dict("records")
    assert first["verdict"] == "incomplete"
    assert "no price for pivot lead of " in first["verdict_reason"]
    assert (second["cost_leads_usd"], third["cost_leads_usd"]) == (500 * 6, 200 * 4)


def test_leads_may_be_listed_as_three_phase_and_underground(tmp_path):
    listed = [row | ({"phases": 3, "line_build": "underground"} if "lead" in row["item"] else {})
              for row in unit_cost_rows()]
    [farm] = results_of(tmp_path, LARGE, unit_costs=listed)
    assert farm["cost_leads_usd"] == LARGE_USD


# --- pages ----------------------------------------------------------------------------------------

def test_letter_sheet_and_diagram_tell_of_the_leads(tmp_path):
    row = LARGE | {"is_inverter_duty": "yes", "source_fault_a": 2500, "fuel_price_usd": 6,
                   "single_phase_distance_ft": 200, "supply_option": "single-phase drive"}
    study = run_study(validate(candidate_workbook(
        tmp_path, [row, row | {"has_pivot_lead": "yes"}, row | {"motor_lead_ft": None}])))
    folder = write_run(study, tmp_path / "out", overwrite=False, options={})
    one, has, blank = (html.unescape(page_text(
        (folder / "offers" / f"f-{n}.html").read_text(encoding="utf-8"))) for n in (1, 2, 3))
    # The whole is in the money that the letter asks for: 500 ft at 6 USD and 1,350 ft at 6.50 USD.
    paid = [float(letter.split("after incentive and other funding")[1].split(".")[0]
                  .replace(",", "")) for letter in (one, has)]
    assert paid[0] - paid[1] == pytest.approx(1350 * 6.5, abs=1)
    assert ("Your cables, for $11,775 in the price: to the pump motor 500 ft of 4 AWG copper; "
            "to the pivot's panel 1,350 ft of 4 AWG copper.") in one
    assert ("Your cables, for $3,000 in the price: to the pump motor 500 ft of 4 AWG copper; to "
            "the pivot's panel the one that you have, if it is 4 AWG copper or larger.") in has
    assert "to the pump motor 140 ft (assumed) of 4 AWG copper" in blank
    sheet = (folder / "farms" / "f-1.html").read_text(encoding="utf-8")
    assert "leads" in page_text(sheet).split("Who pays what")[1].split("total")[0]
    assert "500 ft, 4 AWG copper, Pump" in sheet and "1,350 ft, 4 AWG copper, Pivot" in sheet
    shares = (folder / "cost_shares.csv").read_text(encoding="utf-8-sig")
    made_of = r"500 ft x 6 USD \(row \d+\) \+ 1350 ft x 6\.5 USD \(row \d+\)"
    assert re.search(f",leads,{made_of},11775\\.00,", shares)
