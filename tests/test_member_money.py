"""The member's money as a run shows it: rates of return, flows by year, light-loaded generators,
credits with and without load control."""

import re

import numpy as np
import numpy_financial
import pandas as pd
import pytest
from click.testing import CliRunner

from batch.cli import main
from batch.reading.validate import validate
from batch.study import run_study
from tests.workbooks.make import RATE, candidate_workbook

# The engine would be renewed next year and in year 16; what is left of it counts at the end.
TWO_RATES = {"engine_replacement_usd": 40_000, "engine_remaining_yr": 1, "fuel_price_usd": 2.3,
             "engine_upkeep_usd_h": 0, "gross_depth_in": None, "season_hours": 900,
             "supply_option": "rotary converter"}
ONE_RATE = TWO_RATES | {"fuel_price_usd": 4.5, "engine_replacement_usd": None}


def npv_at(flow, percent):
    """Present value by the definition."""
    return sum(amount / (1 + percent / 100) ** year for year, amount in enumerate(flow))


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    return candidate_workbook(tmp_path_factory.mktemp("rates"), rows=[TWO_RATES, ONE_RATE])


@pytest.fixture(scope="module")
def study(book):
    return run_study(validate(book))


# --- rates of return ------------------------------------------------------------------------------

def test_farm_with_two_rates_of_return_says_why_the_irr_is_blank(study):
    said = {f["row"]: f["message"] for f in study.findings.rows
            if f["slug"] == "several-rates-of-return"}
    assert list(said) == [2] and "at 2 rates" in said[2]
    irr = study.results["member_irr_pct"]
    assert np.isnan(irr[2]) and not np.isnan(irr[3])
    # Source: definition of the rate: the flow's present value changes its sign twice, or once.
    flows = study.options[study.options["is_chosen"]].set_index("excel_row")["member_flow_usd"]
    percents = np.concatenate([np.arange(-90, 0, 2.0), np.arange(0.5, 1000, 2)])
    for row, roots in ((2, 2), (3, 1)):
        signs = np.sign([npv_at(flows[row], percent) for percent in percents])
        assert (np.diff(signs) != 0).sum() == roots
        changes = int((np.diff(np.sign(flows[row])) != 0).sum())
        assert row == 3 or f"its sign {changes} times" in said[row]
    assert npv_at(flows[3], irr[3]) == pytest.approx(0, abs=0.01)


# --- flows by year --------------------------------------------------------------------------------

def call(*args):
    return CliRunner().invoke(main, [str(arg) for arg in args])


@pytest.fixture(scope="module")
def folder(book, tmp_path_factory):
    out = tmp_path_factory.mktemp("out")
    assert call("run", book, "--out", out, "--quiet").exit_code == 0
    return out / "test-study"


def test_flows_by_year_come_to_the_npv(folder):
    # Source: definition of the NPV, from the flows as printed; half a cent each at most.
    results, flows = (pd.read_csv(folder / f"{name}.csv").set_index("candidate_id")
                      for name in ("results", "cash_flows"))
    for party, growth in (("member", 1.07), ("cooperative", 1.05)):
        for farm, mine in flows.groupby(level=0):
            assert mine["year"].tolist() == list(range(21))
            running = (mine[f"{party}_usd"] / growth ** mine["year"]).cumsum()
            sums = mine[f"{party}_discounted_sum_usd"]
            assert (running - sums).abs().max() < 0.005 * 23
            assert sums.iloc[-1] == pytest.approx(results.loc[farm, f"{party}_npv_usd"], abs=0.51)


def test_benefit_tests_count_time_as_the_npvs_do(study, tmp_path):
    """One convention: the participant test is the member's NPV, the ratepayer test the
    cooperative's; as the manual prints it, every flow after year 0 comes a year earlier."""
    # Source: California Standard Practice Manual (2001), chapters 2 and 3 and appendix B, whose
    # components are the member's and the cooperative's own cash; end-of-year flows of NIST
    # Handbook 135.
    program = {"test_timing": "first year undiscounted"}
    printed = run_study(validate(candidate_workbook(
        tmp_path, rows=[TWO_RATES, ONE_RATE], program=program))).options
    for test, party, rate in (("participant", "member", 0.07), ("ratepayer", "cooperative", 0.05)):
        flow = np.array([*study.options[f"{party}_flow_usd"]])
        assert len(flow) == 6
        year = np.arange(flow.shape[1])
        for options, when in ((study.options, year), (printed, np.maximum(year - 1, 0))):
            np.testing.assert_allclose(options[f"{test}_npv_usd"],
                                       (flow / (1 + rate) ** when).sum(axis=1), atol=0.01)


def test_explain_prints_the_flows_and_their_sum(folder, study):
    for key, heading in (("member_npv_usd", "Member NPV"), ("cooperative_npv_usd",
                                                            "Cooperative NPV")):
        told = call("explain", key, "--run", folder, "--candidate", "F-2").stdout
        assert "sum over years of" in told and f"  {heading} = " in told
        table = [re.split(r"\s+", line.strip()) for line in told.splitlines()
                 if re.match(r"\s+\d+\s+-?[\d,]+\.\d\d", line)]
        assert [int(line[0]) for line in table] == list(range(21))
        last = float(table[-1][2 if key.startswith("member") else 4].replace(",", ""))
        assert last == pytest.approx(study.results[key][3], abs=0.01)
    assert "sum over years" not in call("explain", "member_irr_pct").stdout


# --- contributions --------------------------------------------------------------------------------

def test_contribution_that_outlasts_the_study_is_paid_in_its_last_year(tmp_path):
    # By hand: without interest and discount, 240 months in a study of 10 years cost the member what
    # the payment at once does: 120 months by then, and 120 owed. With interest the reference is
    # numpy-financial: ten years of payments, and the balance after 120 of them.
    program = {"study_years": 10, "discount_rate_member_pct": 0, "share_line_member_pct": 100}
    member, last = {}, {}
    for name, more in {"at once": {"contribution_months": 0},
                       "months": {"contribution_months": 240, "contribution_interest_pct": 0},
                       "interest": {"contribution_months": 240,
                                    "contribution_interest_pct": 6}}.items():
        farm = run_study(validate(candidate_workbook(
            tmp_path, rows=[ONE_RATE], program=program | more))).results.iloc[0]
        member[name], last[name] = farm["member_npv_usd"], farm["member_flow_usd"][-1]
    contribution = farm["contribution_usd"]
    assert contribution > 5000
    assert member["months"] == pytest.approx(member["at once"], abs=0.01)
    assert last["at once"] - last["months"] == pytest.approx(
        contribution * (12 + 120) / 240, abs=0.01)
    payment = -numpy_financial.pmt(0.06 / 12, 240, contribution)
    owed = -numpy_financial.fv(0.06 / 12, 120, -payment, contribution)
    assert member["at once"] - member["interest"] == pytest.approx(
        120 * payment + owed - contribution, abs=0.01)


# --- generators -----------------------------------------------------------------------------------

def test_generator_at_light_load_is_assessed_down_to_a_quarter(tmp_path):
    # Source: published fuel chart: a 100 kW set takes 2.6 gal/h at a quarter and 4.1 at half load.
    farm = {"present_power": "diesel generator", "fuel_rate": None, "flow_gpm": 600,
            "irrigated_area_acre": 90}
    first = run_study(validate(candidate_workbook(tmp_path, rows=[farm]))).results
    load_kw = (first["motor_input_kw"] + first["pivot_demand_kw"])[2]
    assert 25 < load_kw < 50
    rows = [farm | {"generator_kw": kw} for kw in (100, load_kw / 0.251, load_kw / 0.249)]
    results = run_study(validate(candidate_workbook(tmp_path, rows=rows))).results
    rate = results["used_fuel_rate"]
    assert rate[2] == pytest.approx(2.6 + (load_kw - 25) / 25 * 1.5)
    assert rate[3] > rate[2] and np.isnan(rate[4])  # off the chart: not assessed
    assert np.isnan(results["member_saving_usd_yr"][4])


# --- credits and load control ---------------------------------------------------------------------

def test_credits_go_with_the_revenue_of_each_control_case(tmp_path):
    # By hand: the credit is a part of the revenue, so that a lower bill under control earns less.
    program = {"refund_credit_years": 4, "refund_credit_pct": 10, "share_line_member_pct": 100,
               "share_line_cap_usd": 10_000_000, "rate_escalation_pct": 0,
               "discount_rate_cooperative_pct": 6, "wholesale_escalation_pct": 0}
    rows = [ONE_RATE | {"load_control": control, "single_phase_distance_ft": 9000}
            for control in ("yes", "no")]
    rate = {"control_credit_usd_kw_month": 3}
    book = candidate_workbook(tmp_path, rows=rows, program=program, rates=[RATE | rate])
    o = run_study(validate(book)).options
    o = o[o["is_chosen"]].set_index("excel_row")
    for name, row in (("controlled", 2), ("uncontrolled", 3)):
        np.testing.assert_allclose(o[f"{name}_ratepayer_npv_usd"],
                                   o.loc[row, "ratepayer_npv_usd"], atol=0.01)
    assert o["refund_credit_usd"][2] < o["refund_credit_usd"][3] < o["contribution_usd"][3]
