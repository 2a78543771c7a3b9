"""Cost shares against published line-extension policies, and the arithmetic of the ledger."""

import numpy as np
import numpy_financial
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from batch.economics import cost_share
from batch.economics.cost_share import ALLOWANCE_THEN_PERCENT, PERCENT_THEN_ALLOWANCE


def shares(item_cost_usd, *, overhead_pct=0.0, allowance_usd=0.0, cooperative_pct=0.0,
           order=ALLOWANCE_THEN_PERCENT, **caps):
    return cost_share.item_share(item_cost_usd=item_cost_usd, overhead_pct=overhead_pct,
                                 allowance_usd=allowance_usd, cooperative_pct=cooperative_pct,
                                 order=order, **caps)


# Source: line-extension page of a Great Plains cooperative: first quarter mile of single-phase line
# free, $6.50 per foot beyond; paid over 60 months at 90 %, or at once at 80 %.
HALF_MILE_FT, QUARTER_MILE_FT, PRICE_USD_FT = 2640, 1320, 6.50


def quarter_mile_free():
    return cost_share.footage_allowance_usd(quantity_ft=HALF_MILE_FT, free_ft=QUARTER_MILE_FT,
                                            step_from_ft=[0.0], step_usd_ft=[PRICE_USD_FT])


@pytest.mark.parametrize("cooperative_pct, member_usd", [(0, 8580), (10, 7722), (20, 6864)])
def test_free_quarter_mile_and_percent_of_the_rest(cooperative_pct, member_usd):
    item = shares(HALF_MILE_FT * PRICE_USD_FT, allowance_usd=quarter_mile_free(),
                  cooperative_pct=cooperative_pct)
    assert item.member_usd == pytest.approx(member_usd, abs=0.5)
    assert item.allowance_used_usd == 8580


def test_contribution_over_60_months_without_interest():
    # Source: the same page: $128.70 a month.
    monthly = cost_share.monthly_contribution_usd(contribution_usd=7722.0, contribution_months=60,
                                                  interest_pct_yr=0.0)
    assert monthly == pytest.approx(128.70, abs=0.005)


@settings(max_examples=60, deadline=None)
@given(st.floats(1, 1e6), st.integers(1, 360), st.floats(0.01, 30))
def test_monthly_contribution_with_interest(contribution_usd, months, interest_pct):
    # Source: numpy-financial pmt.
    ours = cost_share.monthly_contribution_usd(
        contribution_usd=contribution_usd, contribution_months=months, interest_pct_yr=interest_pct)
    theirs = -numpy_financial.pmt(interest_pct / 1200, months, contribution_usd)
    assert ours == pytest.approx(theirs, rel=1e-8)


def test_balance_of_a_published_loan():
    # Source: Colorado Water Conservation Board, loan schedule of a lateral: 75,000 at 4.25 % in 30
    # yearly payments of 4,469.87; balances after the first and the second 73,717.63 and 72,380.76.
    # A period of the formula is a twelfth of its rate, so that 12 x 4.25 % stands for a year.
    rate = 12 * 4.25
    payment = cost_share.monthly_contribution_usd(contribution_usd=75_000.0, contribution_months=30,
                                                  interest_pct_yr=rate)
    balance = cost_share.contribution_balance_usd(monthly_usd=payment, months_left=[29, 28, 0, -5],
                                                  interest_pct_yr=rate)
    assert payment == pytest.approx(4469.87, abs=0.01)
    np.testing.assert_allclose(balance, [73_717.63, 72_380.76, 0, 0], atol=0.10)


def test_monthly_contribution_without_months_is_unknown():
    assert np.isnan(cost_share.monthly_contribution_usd(
        contribution_usd=100.0, contribution_months=0, interest_pct_yr=5.0))


@pytest.mark.parametrize("job_usd, contribution_usd", [(60_000, 30_000), (25_000, 0),
                                                       (30_000, 0), (30_000.01, 0.01)])
def test_four_years_of_base_revenue(job_usd, contribution_usd):
    # Source: Florida Administrative Code 25-6.064 (2): job cost less four years of base revenue,
    # in no instance less than zero. Numbers ours: base revenue 7,500 a year.
    pool = cost_share.revenue_allowance_usd(annual_revenue_usd=7500.0, allowance_years=4)
    assert shares(job_usd, allowance_usd=pool).member_usd == contribution_usd


def test_revenue_allowance_is_one_pool_for_the_job():
    # Source: the same rule; (2)(a) leaves service drop and meter out of the job cost.
    # By hand: line 24,000, transformer 9,000, meter and service 1,500 outside. Pool 30,000 pays the
    # line and 6,000 of the transformer.
    used = cost_share.pooled_allowance_usd(pool_usd=30_000.0,
                                           item_cost_usd=np.array([24_000.0, 9000.0, 0.0]))
    np.testing.assert_array_equal(used, [24_000, 6000, 0])
    members = shares(np.array([24_000.0, 9000.0, 1500.0]), allowance_usd=used).member_usd
    np.testing.assert_array_equal(members, [0, 3000, 1500])


def test_pool_of_many_candidates_at_once_and_a_negative_pool():
    cost = np.array([[24_000, 9000.0], [1000, 500], [800, 200], [800, 200]])
    used = cost_share.pooled_allowance_usd(pool_usd=np.array([30_000, 1200, -5.0, np.nan]),
                                           item_cost_usd=cost)
    np.testing.assert_array_equal(used[:3], [[24_000, 6000], [1000, 200], [0, 0]])
    assert np.isnan(used[3]).all()
    negative_margin = cost_share.revenue_allowance_usd(annual_revenue_usd=-100., allowance_years=4)
    assert negative_margin == 0


def test_half_of_the_wire_and_the_transformer_at_no_charge():
    # Source: common practice, no source: transformer at no charge, wire half and half.
    line, transformer = shares(8000.0, cooperative_pct=50), shares(3500.0, cooperative_pct=100)
    assert (line.member_usd, transformer.member_usd) == (4000, 0)


def test_administrative_fee_of_15_percent():
    # Source: Town of Fredonia, Arizona, code of ordinances, electric line extensions: the customer
    # pays the whole estimated cost, which includes an administrative fee of 15 %. Numbers ours.
    item = shares(10_000.0, overhead_pct=15)
    assert (item.overhead_usd, item.item_cost_usd, item.member_usd) == (1500, 11_500, 11_500)


@pytest.mark.parametrize("kva, credit_usd, member_usd", [
    # Source: REA Energy Cooperative, "Line Extension Requests", II: no transformer cost for single
    # phase where 50 kVA or less is required. Prices ours: 50 kVA 4,000, 75 kVA 5,200.
    (50, 0.0, 0), (75, 0.0, 5200), (75, 4000.0, 1200)])
def test_transformer_free_up_to_a_size(kva, credit_usd, member_usd):
    cost = {50: 4000.0, 75: 5200.0}[kva]
    allowance = cost_share.transformer_allowance_usd(
        transformer_cost_usd=cost, transformer_kva=kva, free_kva=50,
        free_size_cost_usd=credit_usd)
    assert shares(cost, allowance_usd=allowance).member_usd == member_usd


def test_transformer_of_unknown_size_is_not_free():
    assert np.isnan(cost_share.transformer_allowance_usd(
        transformer_cost_usd=4000.0, transformer_kva=np.nan, free_kva=50, free_size_cost_usd=0.0))


@pytest.mark.parametrize("order, member_usd", [
    # "The first 5,000, up to half of the extension, the balance shared equally" has two readings.
    # By hand, cost 16,000: the allowance is min(5,000, 8,000). First reading: (16,000 - 5,000) / 2;
    # second: 16,000 / 2 - 5,000.
    (ALLOWANCE_THEN_PERCENT, 5500), (PERCENT_THEN_ALLOWANCE, 3000)])
def test_order_of_operations_has_two_readings(order, member_usd):
    allowance = cost_share.lesser_allowance_usd(allowance_usd=5000.0, item_cost_usd=16_000.0,
                                                allowance_limit_pct=50)
    item = shares(16_000.0, allowance_usd=allowance, cooperative_pct=50, order=order)
    assert item.member_usd == member_usd


def test_lesser_of_takes_the_percentage_of_a_small_job():
    # By hand: half of 6,000 is less than 5,000.
    assert cost_share.lesser_allowance_usd(allowance_usd=5000.0, item_cost_usd=6000.0,
                                           allowance_limit_pct=50) == 3000


def test_caps_and_which_prevails():
    # By hand, cost 10,000 split half and half. The member's cap is applied last.
    assert shares(10_000., cooperative_pct=50, cooperative_cap_usd=3000.).member_usd == 7000
    assert shares(10_000., cooperative_pct=50, member_cap_usd=3000.).cooperative_usd == 7000
    both = shares(10_000., cooperative_pct=50, cooperative_cap_usd=3000., member_cap_usd=6000.)
    assert (both.cooperative_usd, both.member_usd) == (4000, 6000)


def test_unknown_stays_unknown_and_a_wrong_order_is_refused():
    item = shares(np.array([100.0, np.nan, 100.0, 100.0]),
                  allowance_usd=np.array([10, 10, np.nan, 10.0]),
                  cooperative_pct=np.array([50, 50, 50, np.nan]))
    assert np.isnan(item.member_usd[1:]).all() and np.isnan(item.cooperative_usd[1:]).all()
    assert item.member_usd[0] == 45
    with pytest.raises(ValueError, match="order"):
        shares(100.0, order="half of it")


dollars = st.floats(0, 1e6)


@settings(max_examples=200, deadline=None)
@given(cost=dollars, overhead=st.floats(0, 40), allowance=st.floats(-1e3, 1e6),
       percent=st.floats(0, 100), cap=dollars, member_cap=dollars,
       order=st.sampled_from(cost_share.ORDERS))
def test_ledger_adds_up_to_the_cent_under_random_rules(cost, overhead, allowance, percent, cap,
                                                       member_cap, order):
    # Source: arithmetic.
    item = shares(cost, overhead_pct=overhead, allowance_usd=allowance, cooperative_pct=percent,
                  order=order, cooperative_cap_usd=cap, member_cap_usd=member_cap)
    cents = [round(float(value) * 100) for value in (item.cooperative_usd, item.member_usd,
                                                     item.item_cost_usd)]
    assert cents[0] + cents[1] == cents[2]
    assert item.item_cost_usd == pytest.approx(cost * (1 + overhead / 100), abs=0.0051)
    assert item.cooperative_usd >= 0 and item.member_usd >= 0
    assert item.member_usd <= member_cap + 0.0051
    assert item.cooperative_usd <= cap + 0.0051 or item.member_usd >= member_cap - 0.0051


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(dollars, st.floats(0, 100)), min_size=1, max_size=8))
def test_project_adds_up_over_its_items(items):
    # Source: arithmetic.
    cost, percent = np.array(items).T
    ledger = shares(cost, cooperative_pct=percent, overhead_pct=12.5)
    whole = np.rint(100 * np.array([ledger.cooperative_usd.sum() + ledger.member_usd.sum(),
                                    ledger.item_cost_usd.sum()]))
    assert whole[0] == whole[1]


def test_vector_equals_scalar():
    cost = np.array([100.0, 2500.55, 80_000])
    order = np.array([ALLOWANCE_THEN_PERCENT, PERCENT_THEN_ALLOWANCE, ALLOWANCE_THEN_PERCENT])
    together = shares(cost, allowance_usd=300.0, cooperative_pct=33.3, order=order)
    alone = [shares(one, allowance_usd=300.0, cooperative_pct=33.3, order=way).member_usd
             for one, way in zip(cost, order)]
    np.testing.assert_array_equal(together.member_usd, alone)


# --- refunds ---

def refund(**changed):
    inputs = {"segment_cost_usd": 3600.0, "users_after": 2, "contribution_paid_usd": 5400.0,
              "refunded_before_usd": 0.0, "elapsed_yr": 3.0, "refund_window_yr": 5.0}
    return cost_share.refund_usd(**(inputs | changed))


def test_refund_brings_the_first_user_to_its_share():
    # Source: the Maine main above: 200 ft at $30 less 600 is 5,400 alone and 3,600 with the second
    # user, who shares 120 ft (3,600).
    assert 5400 - refund() == 3600


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 12))
def test_refunds_leave_all_users_of_a_segment_with_equal_parts(last):
    # Source: equal split among the users of a segment.
    paid = 9000.0
    for users in range(2, last + 1):
        paid -= float(refund(segment_cost_usd=9000.0, users_after=users,
                             contribution_paid_usd=9000.0, refunded_before_usd=9000.0 - paid))
    assert paid == pytest.approx(9000 / last)


@pytest.mark.parametrize("changed, expected", [
    # Source: Wisconsin Administrative Code PSC 113.1007: within five years, never more than paid.
    ({"elapsed_yr": 5.0}, 1800), ({"elapsed_yr": 5.01}, 0),
    ({"refunded_before_usd": 5000.0}, 400), ({"contribution_paid_usd": 0.0}, 0)])
def test_refund_window_and_limit(changed, expected):
    assert refund(**changed) == expected


def test_refund_with_unknowns_is_unknown():
    for changed in ({"users_after": 1}, {"elapsed_yr": np.nan}, {"segment_cost_usd": np.nan},
                    {"contribution_paid_usd": np.nan}):
        assert np.isnan(refund(**changed))
