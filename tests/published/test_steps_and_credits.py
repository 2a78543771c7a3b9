"""Line prices in steps, refunds by credit and break-even lengths, as a whole run gives them."""

from pathlib import Path

import numpy as np
import pytest

from batch.economics import cost_share
from batch.reading.scenario import apply, read_scenario
from batch.reading.validate import validate
from batch.study import run_study
from tests.workbooks.make import RATE, candidate_workbook, unit_cost_rows

POLICIES = Path(__file__).parents[2] / "input_workbooks" / "policies"
CENT = 0.01
FARM = {"is_inverter_duty": "yes", "supply_option": "single-phase drive", "pivot_lead_ft": 60}
# Motors, whose currents and sizes do not change with the line.
ROTARY = {"supply_option": "rotary converter", "flow_gpm": 420, "irrigated_area_acre": 60,
          "fuel_rate": None, "gross_depth_in": None, "season_hours": 1500,
          "motor_code_letter": "F", "pivot_length_ft": None, "pivot_lead_ft": None}
OPEN = {"share_line_cap_usd": 10_000_000, "share_line_member_cap_usd": 10_000_000,
        "farm_cap_usd": 5_000_000, "maximum_cooperative_payback_yr": 60,
        "current_limits_apply": "off", "incentive_amount": 0, "incentive_minimum_usd": 0}
# Source: White River Valley Electric Cooperative, "Line Extension Policy": overhead, 0 to 100 ft
# nothing, 101 to 1,000 ft 2 USD a foot, 1,001 ft and more 4 USD a foot. Underground 5 and 10 USD.
PUBLISHED_STEPS = [("overhead", 0, 0), ("overhead", 100, 2), ("overhead", 1000, 4),
                   ("underground", 0, 0), ("underground", 100, 5), ("underground", 1000, 10)]


def stepped_prices(steps, job_usd=0):
    """The short price list with single-phase lines in steps: (construction, from ft, USD/ft)."""
    kept = [row for row in unit_cost_rows()
            if row["item"] != "line job" and (row["item"], row.get("phases")) != ("line", 1)]
    lines = [{"item": "line", "phases": 1, "line_build": build, "from_ft": start, "price_usd": usd}
             for build, start, usd in steps]
    return [*lines, *kept, {"item": "line job", "price_usd": job_usd}]


def study_of(folder, rows, scenario="", name="study.xlsx", **sheets):
    inputs = validate(candidate_workbook(folder, rows=rows, name=name, **sheets))
    if scenario:
        file = folder / "scenario.toml"
        file.write_text('name = "s"\n' + scenario, encoding="utf-8")
        inputs = apply(inputs, read_scenario(file))
    return run_study(inputs)


# --- steps ----------------------------------------------------------------------------------------

# Feet, cost overhead and underground; by hand.
LENGTHS = [(99, 0, 0), (100, 0, 0), (101, 2, 5), (1000, 1800, 4500), (1001, 1804, 4510),
           (2640, 8360, 20_900)]


def test_line_cost_on_both_sides_of_each_step(tmp_path):
    rows = [FARM | {"single_phase_distance_ft": case[0], "line_build": build}
            for build in ("overhead", "underground") for case in LENGTHS]
    study = study_of(tmp_path, rows, unit_costs=stepped_prices(PUBLISHED_STEPS), program=OPEN)
    np.testing.assert_allclose(study.results["line_cost_usd"], [
        case[place] for place in (1, 2) for case in LENGTHS])


def test_steps_do_not_touch_lines_of_other_phases(tmp_path):
    rows = [FARM | {"supply_option": "three-phase line", "three_phase_distance_ft": 1300}]
    study = study_of(tmp_path, rows, unit_costs=stepped_prices(PUBLISHED_STEPS))
    assert study.results["line_cost_usd"].tolist() == [1300 * 14]  # the short list's plain price


def test_feet_before_the_first_step_have_no_price(tmp_path):
    steps = [("overhead", 100, 2), ("overhead", 1000, 4)]
    study = study_of(tmp_path, [FARM, FARM | {"single_phase_distance_ft": 0}],
                     unit_costs=stepped_prices(steps))
    assert study.results["verdict"].tolist()[0] == "incomplete"
    assert "price for line" in study.results["verdict_reason"].tolist()[0]
    assert study.results["line_cost_usd"].tolist()[1] == 0


@pytest.mark.parametrize("free_kva, credited", [(30, 0), (50, 5500), (75, 6900), (5000, 6900)])
def test_bank_of_three_is_free_up_to_the_largest_bank_of_three(tmp_path, free_kva, credited):
    # By hand. Banks of three are 30, 45 and 75 kVA; a 75 kVA bank costs 6,900 and a 45 kVA bank
    # 5,500. Of 50 kVA free the 45 kVA bank is credited, not the 75 kVA bank that 50 kVA would be
    # served by; of 30 kVA free the 30 kVA bank, which costs nothing here.
    kept = [row for row in unit_cost_rows() if row["item"] != "transformer"]
    banks = [{"item": "transformer", "phases": 3, "size": size, "price_usd": usd}
             for size, usd in ((30, 0), (45, 5500), (75, 6900))]
    single = [{"item": "transformer", "phases": 1, "size": size, "price_usd": 40 * size}
              for size in (25, 50, 75, 100, 167)]
    study = study_of(
        tmp_path, [FARM | {"supply_option": "three-phase line", "three_phase_distance_ft": 300}],
        unit_costs=[*kept, *banks, *single],
        program=OPEN | {"transformer_free_kva": free_kva, "share_transformer_member_pct": 100})
    [farm] = study.results.to_dict("records")
    assert (farm["transformer_kva"], farm["cost_transformer_usd"]) == (75, 6900)
    assert farm["member_transformer_usd"] == 6900 - credited
    if free_kva == 50:  # until 2025: the bank that serves 50 kVA, 75 kVA on this list
        older = study_of(
            tmp_path, [FARM | {"supply_option": "three-phase line",
                               "three_phase_distance_ft": 300}],
            unit_costs=[*kept, *banks, *single],
            program=OPEN | {"transformer_free_kva": 50, "share_transformer_member_pct": 100,
                            "transformer_free_method": "the listed size"})
        assert older.results["member_transformer_usd"].tolist() == [0]


@pytest.mark.parametrize("free_ft, allowances_usd", [
    # By hand, 3 USD a foot and 5 beyond 1,000 ft: feet of line -> what is free of it.
    (400, {1500: 1200}), (1000, {1500: 3000}), (1320, {1500: 3000 + 320 * 5, 900: 2700})])
def test_free_feet_are_the_first_feet_at_their_own_price(tmp_path, free_ft, allowances_usd):
    steps = stepped_prices([("overhead", 0, 3), ("overhead", 1000, 5)])
    rows = [FARM | {"single_phase_distance_ft": feet} for feet in allowances_usd]
    study = study_of(tmp_path, rows, unit_costs=steps,
                     program=OPEN | {"line_free_single_phase_ft": free_ft,
                                     "share_line_member_pct": 100})
    chosen = study.options[study.options["is_chosen"]].sort_values("excel_row").index
    ledger = study.ledger[study.ledger["item"] == "line"].set_index("design").loc[chosen]
    cost = [3 * min(feet, 1000) + 5 * max(feet - 1000, 0) for feet in allowances_usd]
    allowed = list(allowances_usd.values())
    assert ledger["item_cost_usd"].tolist() == cost
    assert ledger["allowance_usd"].tolist() == allowed
    assert ledger["member_usd"].tolist() == list(np.subtract(cost, allowed))


def test_step_on_another_item_is_said_and_not_used(tmp_path):
    prices = [row | {"from_ft": 50} if row["item"] == "engineering" else row
              for row in unit_cost_rows()]
    study, plain = (study_of(tmp_path, [FARM], unit_costs=rows) for rows in (prices, None))
    assert study.results["project_cost_usd"].equals(plain.results["project_cost_usd"])
    slugs = [[f["slug"] for f in s.findings.rows].count("price-step-ignored")
             for s in (study, plain)]
    assert slugs == [1, 0]


# --- refund by credit -----------------------------------------------------------------------------

def refund(credits, paid, years):
    return cost_share.refund_by_credit_usd(yearly_credit_usd=[0.0, *credits],
                                           contribution_paid_usd=paid, credit_years=years).tolist()


@pytest.mark.parametrize("kwh, refunds", [
    # Source: "Help Us Help You", an electric cooperative's public page: 3 cents per kilowatt
    # hour for three years or until fully refunded. 200 ft at 5.75 USD and 1,575 USD are 2,725 USD;
    # refunds by hand.
    (20_000, [0, 600, 600, 600, 0]), (40_000, [0, 1200, 1200, 325, 0]),
    (100_000, [0, 2725, 0, 0, 0]), (0, [0, 0, 0, 0, 0])])
def test_refund_of_three_cents_for_three_years(kwh, refunds):
    assert refund([0.03 * kwh] * 4, [200 * 5.75 + 1575] * 5, 3) == refunds


@pytest.mark.parametrize("deposit, refunds", [
    # Source: Code of Ordinances of La Grange, Kentucky, 52.040 (C): 20 % of yearly revenue for five
    # years, not above the deposit. Revenue ours, 6,000 a year; by hand.
    (4500, [0, 1200, 1200, 1200, 900, 0, 0]), (9000, [0, 1200, 1200, 1200, 1200, 1200, 0])])
def test_refund_of_a_fifth_of_revenue_for_five_years(deposit, refunds):
    assert refund([0.20 * 6000] * 6, [deposit] * 7, 5) == refunds


def test_refund_never_runs_ahead_of_what_was_paid():
    # By hand: 500 a year is paid; a credit of 800 waits, and one below zero is none.
    assert refund([800, 800, -50, 100], [0, 500, 1000, 1000, 1000], 9) == [0, 500, 500, 0, 0]
    assert refund([100, 800], [0, 500, 1000], 2) == [0, 100, 800]
    assert np.isnan(refund([np.nan], [500, 500], 1)[1])


ENERGY_RATE = RATE | {"customer_charge_usd_month": 0, "demand_charge_usd_kw": 0,
                      "block_1_usd_kwh": 0.10}


def under_credit(folder, changes=(), rows=(FARM,)):
    text = (POLICIES / "credit_for_use.toml").read_text(encoding="utf-8")
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    file = folder / "policy.toml"
    file.write_text(text, encoding="utf-8")
    book = candidate_workbook(folder, rows=list(rows), rates=[ENERGY_RATE],
                              program=OPEN | {"rate_escalation_pct": 2})
    return [farm for _, farm in run_study(apply(validate(book),
                                                read_scenario(file))).results.iterrows()]


NO_REFUND = [("refund_credit_years = 3\n", "refund_credit_years = 0\n")]


@pytest.fixture(scope="module")
def under_policy(tmp_path_factory):
    """A farm under the policy as it is, and the same with a short line."""
    return under_credit(tmp_path_factory.mktemp("policy"),
                        rows=[FARM, FARM | {"single_phase_distance_ft": 20}])


def test_policy_of_credits_moves_the_same_money_on_both_sides(tmp_path, under_policy):
    # By hand: 3 cents for each kWh in each of three years, at the member's and the cooperative's
    # rate; the farm's contribution is far above it.
    with_it, [without] = under_policy[0], under_credit(tmp_path, NO_REFUND)
    yearly = 0.03 * with_it["annual_energy_kwh"]
    assert with_it["contribution_usd"] > 3 * yearly > 1000
    assert with_it["refund_credit_usd_yr"] == pytest.approx(yearly)
    assert with_it["refund_credit_usd"] == pytest.approx(3 * yearly)
    for key, rate, sign in (("member_npv_usd", 1.07, 1), ("cooperative_npv_usd", 1.05, -1)):
        worth = sum(yearly / rate ** year for year in (1, 2, 3))
        assert with_it[key] - without[key] == pytest.approx(sign * worth, abs=1e-6)
    assert with_it["ratepayer_npv_usd"] - without["ratepayer_npv_usd"] == pytest.approx(-worth)
    assert with_it["total_resource_npv_usd"] == pytest.approx(without["total_resource_npv_usd"])
    assert with_it["cooperative_outlay_usd"] - without["cooperative_outlay_usd"] == pytest.approx(
        3 * yearly)
    assert without["refund_credit_usd"] == 0


def test_credit_of_revenue_above_a_base(tmp_path):
    # By hand: a fifth of what the bill (escalating 2 % a year) is above 1,000 USD, for five years.
    [farm] = under_credit(tmp_path, [
        ("refund_credit_years = 3\n", "refund_credit_years = 5\n"),
        ("refund_credit_pct = 0\n", "refund_credit_pct = 20\n"),
        ("refund_credit_base_usd_yr = 0\n", "refund_credit_base_usd_yr = 1000\n"),
        ("refund_credit_usd_kwh = 0.03\n", "refund_credit_usd_kwh = 0\n")])
    bill = farm["bill_usd_yr"]
    assert bill == pytest.approx(0.10 * farm["annual_energy_kwh"], abs=CENT)
    by_year = [0.20 * (bill * 1.02 ** year - 1000) for year in range(1, 6)]
    refunded = np.diff(np.minimum(np.cumsum([0, *by_year]), farm["contribution_usd"]))
    assert farm["refund_credit_usd_yr"] == pytest.approx(refunded[0])
    assert farm["refund_credit_usd"] == pytest.approx(refunded.sum())


def test_short_contribution_is_paid_back_and_not_more(under_policy):
    farm = under_policy[1]
    assert 0 < farm["contribution_usd"] < 3 * 0.03 * farm["annual_energy_kwh"]
    assert farm["refund_credit_usd"] == pytest.approx(farm["contribution_usd"])


# --- the line length that brings the cooperative's NPV to zero ------------------------------------

REFUND = {"refund_credit_years": 8, "refund_credit_pct": 15}
CASES = {
    "half of a plain line": ({}, None),
    "steps and free feet": ({"line_free_single_phase_ft": 700, "share_line_member_pct": 30},
                            [("overhead", 0, 9), ("overhead", 900, 6), ("overhead", 4000, 11)]),
    "years of revenue, overhead and residual value": (
        {"allowance_basis": "revenue", "allowance_years": 3, "overhead_adder_pct": 12,
         "share_line_member_pct": 60, "residual_value_counts": "yes"}, None),
    "refund by credit and months": ({**REFUND, "contribution_months": 36,
                                     "share_line_member_pct": 70}, None),
}


@pytest.mark.parametrize("rules, steps", CASES.values(), ids=CASES)
def test_line_length_of_zero_npv_put_back_gives_zero(tmp_path, rules, steps):
    rows = [ROTARY | {"single_phase_distance_ft": 800},
            ROTARY | {"single_phase_distance_ft": 300, "season_hours": 1900}]
    sheets = {"program": OPEN | rules,
              "unit_costs": stepped_prices(steps, job_usd=900) if steps else None}
    first = study_of(tmp_path, rows, **sheets).results
    length = first["breakeven_line_npv_ft"]
    assert (length > 500).all() and first["cooperative_npv_usd"].abs().min() > 1000
    put_back = study_of(tmp_path, [row | {"single_phase_distance_ft": ft + more}
                                   for more in (0, 20) for row, ft in zip(rows, length)],
                        **sheets).results
    again, further = put_back.iloc[:len(rows)], put_back.iloc[len(rows):]
    # Cents of the shared items, and a kink within the last inch.
    assert again["cooperative_npv_usd"].abs().max() < 0.5
    assert again["breakeven_line_npv_ft"].tolist() == pytest.approx(length.tolist(), abs=0.1)
    assert (further["cooperative_npv_usd"] < 0).all()


def test_line_length_of_zero_npv_where_there_is_none(tmp_path):
    # A member that pays all of the line: no length hurts. A farm that hardly pumps: none helps.
    rows = [ROTARY, ROTARY | {"season_hours": 30}]
    program = OPEN | {"share_line_member_pct": 100, "carrying_cost_pct": 0,
                      "residual_value_counts": "no"}
    results = study_of(tmp_path, rows, program=program).results
    npv, length = (results[key].tolist() for key in ("cooperative_npv_usd",
                                                     "breakeven_line_npv_ft"))
    assert npv[0] > 0 > npv[1]
    assert np.isnan(length[0]) and length[1] == 0


def test_line_length_of_the_longest_payback_with_steps(tmp_path):
    steps = stepped_prices([("overhead", 0, 5), ("overhead", 1200, 9), ("overhead", 2500, 7)], 600)
    rows = [ROTARY | {"single_phase_distance_ft": ft} for ft in (300, 1500, 6000)]
    program = OPEN | {"maximum_cooperative_payback_yr": 9, "overhead_adder_pct": 10}
    first = study_of(tmp_path, rows, unit_costs=steps, program=program).results
    length = first["breakeven_line_ft"]
    assert length.min() > 100
    # One farm, whatever its present line: one answer.
    assert length.max() - length.min() < 1
    again = study_of(tmp_path, [rows[0] | {"single_phase_distance_ft": length.iloc[0]}],
                     unit_costs=steps, program=program).results
    assert again["cooperative_payback_yr"].item() == pytest.approx(9, abs=1e-4)


# --- refunds as others join -----------------------------------------------------------------------

def test_newcomer_pays_for_the_stretch_that_it_uses(tmp_path):
    # Source: equal parts of each stretch by its users (segment rule); by hand. Two farms share
    # 2,600 ft at 7.50 USD: 1,300 ft each, 866.67 ft with a third, so that 433.33 ft come back. A
    # spur of 900 ft with its job of 900 USD, and half of the shared job, stay the farm's own. A
    # farm alone on 1,400 ft gets back 700 ft. The older method shares all: (2,200 ft x 7.50 + 900 +
    # 450) / 3 and 11,400 / 2.
    shared = {"shared_line_id": "M", "single_phase_distance_ft": 900, "source_fault_a": 2000}
    rows = [FARM | shared, FARM | shared,
            FARM | {"shared_line_id": None, "single_phase_distance_ft": 1400}]
    policy = OPEN | {"share_line_member_pct": 100, "line_free_single_phase_ft": 0,
                     "allowance_basis": "none", "refund_window_yr": 5, "overhead_adder_pct": 0,
                     "share_line_free_usd": 0}
    lines = [{"shared_line_id": "M", "shared_single_phase_ft": 2600,
              "shared_three_phase_ft": 2600}]
    usd = {}
    for method in ("the stretch that is joined", "all that was paid for line"):
        study = study_of(tmp_path, rows, shared_lines=lines,
                         program=policy | {"refund_method": method})
        assert study.results["member_line_usd"].tolist() == [17_850, 17_850, 11_400]
        usd[method] = study.results["refund_if_joined_usd"].tolist()
    np.testing.assert_allclose(usd["the stretch that is joined"], [3250, 3250, 5250], atol=CENT)
    np.testing.assert_allclose(usd["all that was paid for line"], [5950, 5950, 5700], atol=CENT)
