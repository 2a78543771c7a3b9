"""Present value, rate of return and payback against texts and numpy-financial."""

import warnings

import numpy as np
import numpy_financial
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from batch.economics import cash_flow, rate_of_return

amount = st.floats(-1e5, 1e5)
rate = st.floats(0, 30)


def npv(flow, discount_rate_pct):
    return cash_flow.npv_usd(flow_usd=flow, discount_rate_pct=discount_rate_pct)


# --- factors ---

@pytest.mark.parametrize("escalation_pct, factor, half_digit", [
    # Source: NIST Handbook 135 (2025), seen second-hand: 3 %, 15 years: UPV 11.94, UPV* at an
    # escalation of 2 % 13.89.
    (0, 11.94, 0.005), (2, 13.89, 0.005)])
def test_uniform_present_value_factors(escalation_pct, factor, half_digit):
    flow = cash_flow.yearly_flow_usd(base_amount_usd_yr=1.0, escalation_pct=escalation_pct,
                                     study_years=15)
    assert npv(flow, 3) == pytest.approx(factor, abs=half_digit)


def test_single_present_value_factor():
    # Source: the same: SPV 0.642.
    assert npv([0.0] * 15 + [1.0], 3) == pytest.approx(0.642, abs=0.0005)


def test_growing_yearly_amount():
    # Source: engineering-economics text: 1,500 growing 10 % for 6 years at 8 % is 8,728.8. The
    # first payment is 1,500, so the base-date amount is 1,500 / 1.1.
    flow = cash_flow.yearly_flow_usd(base_amount_usd_yr=1500 / 1.1, escalation_pct=10,
                                     study_years=6)
    assert npv(flow, 8) == pytest.approx(8728.8, abs=5)


@settings(max_examples=30, deadline=None)
@given(st.floats(0, 15), st.floats(0, 8), st.floats(-2, 6))
def test_real_and_nominal_calculation_agree(real_discount, inflation, real_escalation):
    # Source: NIST Handbook 135: both give the same present value.
    nominal_discount = ((1 + real_discount / 100) * (1 + inflation / 100) - 1) * 100
    nominal_escalation = ((1 + real_escalation / 100) * (1 + inflation / 100) - 1) * 100
    flows = [cash_flow.yearly_flow_usd(base_amount_usd_yr=100.0, escalation_pct=escalation,
                                       study_years=20)
             for escalation in (real_escalation, nominal_escalation)]
    assert npv(flows[0], real_discount) == pytest.approx(npv(flows[1], nominal_discount))


# --- present value ---

def test_npv_of_the_textbook_example():
    # Source: numpy-financial manual, npv, after a finance textbook: 3,065.22.
    assert npv([-40_000, 5000, 8000, 12_000, 30_000], 8) == pytest.approx(3065.22, abs=0.005)


def test_npv_of_a_uniform_saving():
    # Source: textbook exercise, inputs seen, answer derived: first cost 10,000, 4,000 a year, 4
    # years, 10 %: 2,679.46.
    assert npv([-10_000] + [4000] * 4, 10) == pytest.approx(2679.46, abs=0.01)


@settings(max_examples=100, deadline=None)
@given(st.lists(amount, min_size=2, max_size=30), st.floats(-20, 60))
def test_npv_equals_the_reference(flow, discount):
    # Source: numpy-financial npv.
    assert npv(flow, discount) == pytest.approx(numpy_financial.npv(discount / 100, flow),
                                                rel=1e-9, abs=1e-4)


# --- rate of return ---

def irr(flow):
    return rate_of_return.internal_rate_of_return(flow_usd=np.asarray(flow, float))


def test_irr_of_the_textbook_example():
    # Source: numpy-financial manual, irr: 28.095 %.
    assert irr([-100, 39, 59, 55, 20]).irr_pct == pytest.approx(28.095, abs=0.001)


@settings(max_examples=100, deadline=None)
@given(st.integers(100, 100_000), st.lists(st.integers(0, 100_000), min_size=1, max_size=25))
def test_irr_equals_the_reference(first_cost, savings):
    # Source: numpy-financial irr; one change of sign, so one root. Whole dollars: the reference
    # loses digits where flows differ by many powers of ten.
    assume(sum(savings) > first_cost * 0.3)
    flow = [-first_cost] + savings
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        reference = numpy_financial.irr(flow) * 100
    assume(-98 < reference < 90_000)
    ours = irr(flow)
    assert ours.root_count == 1
    assert ours.irr_pct == pytest.approx(reference, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("flow", [[-1000, 2500, -1560], [-1, 6, -11, 6]])
def test_several_rates_of_return_are_not_reported(flow):
    # Source: algebra. The first is -1000 (1 - 1.2 x)(1 - 1.3 x), roots 20 and 30 %; the second
    # -(1 - x)(1 - 2 x)(1 - 3 x), roots 0, 100 and 200 %; x = 1 / (1 + r).
    result = irr(flow)
    assert np.isnan(result.irr_pct) and result.root_count > 1
    for percent in ([20, 30] if len(flow) == 3 else [0, 100, 200]):
        assert npv(flow, percent) == pytest.approx(0, abs=1e-9)


def test_oil_pump_has_two_rates_of_return():
    # Source: the oil-pump problem of engineering economy (a faster pump for 1,600 brings 10,000 a
    # year sooner and 10,000 less a year later), as in Sarper et al., "Distribution of the internal
    # and external rates of return in a partially stochastic oil pump problem", 2018; numbers as in
    # a public exercise, which finds 25 %. The other by algebra: 1,600 x^2 - 10,000 x + 10,000 = 0
    # in growth factors x has the roots 1.25 and 5.
    flow = [-1600, 10_000, -10_000]
    result = irr(flow)
    assert np.isnan(result.irr_pct) and result.root_count == 2
    assert rate_of_return.sign_changes(flow_usd=flow) == 2
    for percent in (25, 400):
        assert npv(flow, percent) == pytest.approx(0, abs=1e-9)
        assert numpy_financial.npv(percent / 100, flow) == pytest.approx(0, abs=1e-9)
    assert npv(flow, 24) < 0 < npv(flow, 26) and npv(flow, 399) > 0 > npv(flow, 401)


@pytest.mark.parametrize("flow, changes, roots", [
    # By hand. A flow may change its sign more often than it has rates.
    ([-100, 60, 60], 1, 1), ([-100, 0, 0, 130], 1, 1), ([-100, 60, -1, 60], 3, 1), ([5, 5], 0, 0),
    ([-1, 6, -11, 6], 3, 3), ([0, 0], 0, 0), ([-10, np.nan, 20], np.nan, 0)])
def test_changes_of_sign(flow, changes, roots):
    np.testing.assert_equal(float(rate_of_return.sign_changes(flow_usd=flow)), float(changes))
    assert irr(flow).root_count == roots


@pytest.mark.parametrize("flow", [[-100, -5, -5], [100, 5, 5], [0, 10, 10], [-100, np.nan, 300],
                                  [0, 0, 0]])
def test_no_rate_of_return(flow):
    result = irr(flow)
    assert np.isnan(result.irr_pct) and result.root_count <= 1


def test_irr_of_a_total_loss_and_of_a_very_quick_saving():
    # By hand: -100 then 1: -99 % is the edge of the search; -100 then 2 is -98 %; -1 then 501 is
    # 50,000 %.
    assert irr([-100, 2]).irr_pct == pytest.approx(-98)
    assert irr([-1, 501]).irr_pct == pytest.approx(50_000)


def test_irr_vector_equals_scalar():
    flows = np.array([[-100, 39, 59, 55, 20], [-1000, 2500, -1560, 0, 0], [-100, 10, 10, 10, 10],
                      [-50, 50, 50, 50, 50.0]])
    together = irr(flows)
    for row, flow in enumerate(flows):
        np.testing.assert_equal(float(together.irr_pct[row]), float(irr(flow).irr_pct))
        assert together.root_count[row] == irr(flow).root_count


# --- payback ---

def test_simple_and_discounted_payback():
    # Source: engineering-economics text: 5,000 first cost, 2,000 a year, 10 %: 2.5 and 3.02 years.
    flow = [-5000.0] + [2000.0] * 6
    assert cash_flow.simple_payback_yr(first_cost_usd=5000, yearly_saving_usd=2000,
                                        life_yr=35) == 2.5
    assert cash_flow.payback_yr(flow_usd=flow, discount_rate_pct=0) == pytest.approx(2.5)
    discounted = cash_flow.payback_yr(flow_usd=flow, discount_rate_pct=10)
    assert discounted == pytest.approx(3.02, abs=0.01)
    # By hand: 5,000 - 2,000 (1/1.1 + 1/1.21 + 1/1.331) = 26.296; 2,000 / 1.4641 = 1,366.03.
    assert discounted == pytest.approx(3 + 26.296 / 1366.03, abs=1e-6)


def test_payback_at_the_edges():
    # By hand.
    def payback(flow):
        return float(cash_flow.payback_yr(flow_usd=flow, discount_rate_pct=0))
    assert payback([-100, 50, 50]) == 2
    assert np.isnan(payback([-100, 50, 49.99]))
    assert payback([0, 50]) == 0
    assert payback([-100, 150, -100, 100]) == pytest.approx(2 / 3)
    assert np.isnan(payback([-100, np.nan, 500]))


@pytest.mark.parametrize("cost, saving, years", [(100, 0, np.nan), (100, -5, np.nan), (0, 50, 0),
                                                 (0, -50, 0), (100, np.nan, np.nan),
                                                 (np.nan, 50, np.nan), (1750, 50, 35),
                                                 (1751, 50, np.nan), (30_245, 10, np.nan)])
def test_simple_payback_at_the_edges(cost, saving, years):
    # By hand; what stands 35 years pays nothing back in the 36th.
    np.testing.assert_equal(float(cash_flow.simple_payback_yr(
        first_cost_usd=cost, yearly_saving_usd=saving, life_yr=35)), years)


# --- replacement and residual value ---

def replaced(**changed):
    inputs = {"replacement_usd": 1000.0, "first_replacement_yr": 10.0, "replacement_life_yr": 10.0,
              "escalation_pct": 0.0, "study_years": 25}
    return cash_flow.replacement_flow_usd(**(inputs | changed))


@pytest.mark.parametrize("changed, years", [
    # By hand.
    ({}, [10, 20]), ({"study_years": 20}, [10]), ({"study_years": 21}, [10, 20]),
    ({"first_replacement_yr": 3.4, "replacement_life_yr": 12.0}, [4, 16]),
    ({"first_replacement_yr": 0.0}, [0, 10, 20]), ({"first_replacement_yr": np.inf}, []),
    ({"first_replacement_yr": 26.0}, [])])
def test_years_of_replacement(changed, years):
    flow = replaced(**changed)
    np.testing.assert_array_equal(np.flatnonzero(flow), years)
    assert set(flow) <= {0.0, 1000.0}


def test_replacement_escalates_from_the_base_date_and_stays_unknown():
    assert replaced(escalation_pct=3.0)[10] == pytest.approx(1000 * 1.03**10)
    assert np.isnan(replaced(first_replacement_yr=np.nan)).all()
    assert np.isnan(replaced(replacement_life_yr=0.0)).all()


@pytest.mark.parametrize("life, first, study, left", [
    # By hand, cost 1,000: a line of 35 years after 20; a drive of 10 years after 20 (the one bought
    # in year 10 is worn out), after 25 (bought in year 20), after 7; an engine of 15 years with 4
    # left, replaced in year 4, aged 16 - 15 = 1 in year 20 (replaced again in year 19).
    (35, 35, 20, 1000 * 15 / 35), (10, 10, 20, 0), (10, 10, 25, 500), (10, 10, 7, 300),
    (15, 4, 20, 1000 * 14 / 15), (15, 3.4, 20, 1000 * 14 / 15), (15, 3.4, 12, 1000 * 7 / 15),
    (15, 4, 3, 1000 * 1 / 15), (35, np.inf, 20, 1000 * 15 / 35),
    (10, np.inf, 20, 0)])  # remaining life of 3.4 years: replaced at the end of year 4
def test_residual_value(life, first, study, left):
    assert cash_flow.residual_value_usd(
        asset_cost_usd=1000.0, asset_life_yr=life, first_replacement_yr=first,
        study_years=study) == pytest.approx(left)


def test_yearly_flow_convention():
    # Convention: base-date prices, nothing in year 0, first amount escalated by one year.
    flow = cash_flow.yearly_flow_usd(base_amount_usd_yr=np.array([100.0, np.nan]),
                                     escalation_pct=10.0, study_years=2)
    np.testing.assert_allclose(flow[0], [0, 110, 121])
    assert np.isnan(flow[1, 1:]).all()


# --- break-even ---

def test_breakeven_fuel_price():
    # By hand: electric way costs $2,600 a year; 1,000 gallons a year: 2.60 a gallon.
    assert cash_flow.breakeven_linear(value_at_zero=-2600.0, value_per_unit=1000.0) == 2.6
    assert np.isnan(cash_flow.breakeven_linear(value_at_zero=-2600.0, value_per_unit=0.0))


def test_breakeven_hours_over_a_bend():
    # By hand: -900 at 0 h, saving $1 an hour to 600 h, $2 an hour beyond: 600 + 300 / 2 = 750 h.
    assert cash_flow.breakeven_piecewise(x_points=[0, 600, 2000],
                                         value_points=[-900, -300, 2500.0]) == pytest.approx(750)


@pytest.mark.parametrize("values, x", [
    ([0, 10, 20], 0), ([-10, -5, -0.01], np.nan), ([-10, 0, 5], 1), ([-10, np.nan, 5], np.nan),
    ([5, -5, 5], 0), ([-5, 5, np.nan], 0.5)])
def test_breakeven_at_the_edges(values, x):
    found = cash_flow.breakeven_piecewise(x_points=[0, 1, 2], value_points=values)
    np.testing.assert_equal(float(found), float(x))
