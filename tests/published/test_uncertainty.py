"""Draws against closed forms, and responses against the study computed anew."""

import numpy as np
import pytest
from scipy import stats

from batch.economics import cash_flow
from batch.portfolio import uncertainty
from batch.portfolio.uncertainty import CONSTRUCTION, DRIVERS, FUEL, HOURS, WHOLESALE, Response

MANY = 40_000
IDS = ["F-1", "F-2", "F-3"]
NONE = dict.fromkeys(DRIVERS, 0.0)


def flat(value):
    """A response that is straight in its own driver: value at factor 1, and times the factor."""
    value = np.asarray(value, float)
    return Response(np.array([0.0, 1.0, 2.0]), value[:, np.newaxis] * np.array([0.0, 1, 2]),
                    np.zeros((len(value), 3)))


# --- a textbook's saving --------------------------------------------------------------------------

@pytest.mark.parametrize("correlation_pct, deviation_usd", ((0, 3187.75), (100, 6339.73)))
def test_uncertain_saving_of_a_textbook(correlation_pct, deviation_usd):
    # Source: engineering-economics exercise: 10,000 first cost, 4,000 a year for 4 years with a
    # standard deviation of 2,000, at 10 %. Mean 2,679.46; deviation derived for independent and
    # for fully correlated years. The draws' own error is that of 40,000 draws.
    worth = cash_flow.npv_usd(flow_usd=[0.0, 4000, 4000, 4000, 4000], discount_rate_pct=10)
    weight = 1.1 ** -np.arange(1, 5)
    spread = uncertainty.effective_spread_pct(
        spread_pct=50.0, year_weight=weight, yearly_correlation_pct=correlation_pct)
    assert worth * spread / 100 == pytest.approx(deviation_usd, abs=0.01)
    random = np.random.RandomState(7)
    factor = 1 + spread / 100 * random.standard_normal(MANY)
    npv = flat([worth]).at(factor)[0] - 10_000
    assert npv.mean() == pytest.approx(2679.46, abs=4 * deviation_usd / MANY ** 0.5)
    assert npv.std() == pytest.approx(deviation_usd, rel=0.02)


def test_half_correlated_years_stand_between():
    weight = np.ones(4)
    spread = [uncertainty.effective_spread_pct(spread_pct=10.0, year_weight=weight,
                                               yearly_correlation_pct=r) for r in (0, 50, 100)]
    # Source: variance of the mean of four: 1/4, (1 + 3 x 0.5)/4 and 1 of one year's.
    np.testing.assert_allclose(spread, 10 * np.sqrt([0.25, 0.625, 1.0]))


# --- draws ----------------------------------------------------------------------------------------

def test_drawn_factors_have_the_spread_and_correlation_asked_for():
    spread = {FUEL: 20.0, HOURS: 15.0, CONSTRUCTION: 10.0, WHOLESALE: 5.0}
    drawn = uncertainty.draw_factors(spread_pct=spread, candidate_ids=IDS, draws=MANY, seed=3,
                                     farm_correlation_pct=70.0)
    for driver, percent in spread.items():
        factor = np.atleast_2d(drawn.factor[driver])
        # Four standard errors of a mean, and of a deviation.
        np.testing.assert_allclose(factor.mean(axis=1), 1, atol=4 * percent / 100 / MANY ** 0.5)
        np.testing.assert_allclose(factor.std(axis=1), percent / 100, rtol=4 / (2 * MANY) ** 0.5)
    assert drawn.factor[FUEL].shape == (MANY,) and drawn.factor[HOURS].shape == (3, MANY)
    between = np.corrcoef(drawn.factor[HOURS])
    np.testing.assert_allclose(between[np.triu_indices(3, 1)], 0.7, atol=0.02)
    across = np.corrcoef(drawn.factor[HOURS][0], drawn.factor[CONSTRUCTION][0])[0, 1]
    assert abs(across) < 0.02


def test_the_same_seed_draws_the_same_and_another_does_not():
    def factors(seed):
        return uncertainty.draw_factors(
            spread_pct=NONE | {HOURS: 15.0}, candidate_ids=IDS[:2], draws=5, seed=seed,
            farm_correlation_pct=50.0).factor[HOURS]
    np.testing.assert_array_equal(factors(4), factors(4))
    assert not np.array_equal(factors(4), factors(5))


def test_a_farms_draws_do_not_depend_on_who_else_applied():
    """Common random numbers: one farm more, one less, or another order changes no other farm."""
    def factors(names, draws=50):
        return uncertainty.draw_factors(
            spread_pct=NONE | {HOURS: 15.0, CONSTRUCTION: 12.0}, candidate_ids=names, draws=draws,
            seed=4, farm_correlation_pct=50.0).factor
    few, many = factors(["F-2", "F-3"]), factors(["F-3", "F-1", "F-2", "F-9"])
    for driver in (HOURS, CONSTRUCTION):
        np.testing.assert_array_equal(few[driver], many[driver][[2, 0]])
        np.testing.assert_array_equal(few[driver][:, :20], factors(["F-2", "F-3"], 20)[driver])
        # Source: independent draws of different names and drivers are not correlated.
        assert np.ptp(np.vstack([few[driver], many[driver]]), axis=0).min() > 0
    assert abs(np.corrcoef(few[HOURS][0], few[CONSTRUCTION][0])[0, 1]) < 0.5


def test_a_factor_is_never_near_zero_or_below():
    drawn = uncertainty.draw_factors(spread_pct=dict.fromkeys(DRIVERS, 90.0), draws=5000,
                                     candidate_ids=IDS[:2], seed=1, farm_correlation_pct=0.0)
    assert min(factor.min() for factor in drawn.factor.values()) == uncertainty.LEAST_FACTOR


def test_chance_that_the_member_loses_is_that_of_the_break_even_price():
    """Fuel price alone: the member loses below the break-even price, a normal distribution's tail.
    """
    # Source: normal distribution, scipy.stats.norm.
    fuel_npv, rest_npv = np.array([60_000.0, 60_000, 60_000]), np.array([-60_000.0, -45_000, -80e3])
    by_hours = Response(np.array([0.5, 1.5]), (fuel_npv + rest_npv)[:, np.newaxis] * np.ones(2),
                        fuel_npv[:, np.newaxis] * np.ones(2))
    zero = Response(np.array([0.5, 1.5]), np.zeros((3, 2)), np.zeros((3, 2)))
    drawn = uncertainty.draw_factors(spread_pct=NONE | {FUEL: 20.0}, candidate_ids=IDS,
                                     draws=MANY, seed=11, farm_correlation_pct=100.0)
    bands = uncertainty.npv_bands(
        responses={"member": (by_hours, zero), "cooperative": (by_hours, zero)}, draws=drawn)
    breakeven_factor = -rest_npv / fuel_npv
    chance = stats.norm.cdf(breakeven_factor, 1, 0.2)
    np.testing.assert_allclose(bands["member_loss_chance_pct"] / 100, chance, atol=0.011)
    # A linear NPV is normal: its 10 and 90 percent points are known.
    for point in (10, 50, 90):
        expected = fuel_npv * stats.norm.ppf(point / 100, 1, 0.2) + rest_npv
        np.testing.assert_allclose(bands[f"member_npv_p{point}_usd"], expected, atol=400)


def test_an_unknown_npv_stays_unknown():
    unknown = flat([np.nan, 1.0])
    drawn = uncertainty.draw_factors(spread_pct=NONE, candidate_ids=IDS[:2], draws=10, seed=1,
                                     farm_correlation_pct=0.0)
    bands = uncertainty.npv_bands(
        responses=dict.fromkeys(("member", "cooperative"), (unknown, flat([0.0, 0.0]))),
        draws=drawn)
    assert bands.iloc[0].isna().all() and bands.iloc[1].notna().all()


# --- responses ------------------------------------------------------------------------------------

def test_a_response_is_straight_between_its_factors_and_beyond():
    # Source: numpy.interp within; straight lines beyond.
    factors, values = np.array([0.5, 1.0, 1.5]), np.array([[10.0, 30.0, 20.0]])
    response = Response(factors, values, np.zeros((1, 3)))
    inside = np.linspace(0.5, 1.5, 11)
    np.testing.assert_allclose(response.at(inside)[0], np.interp(inside, factors, values[0]))
    np.testing.assert_allclose(response.at(np.array([0.25, 2.0]))[0], [0.0, 10.0])
    second = Response(factors, values, np.array([[1.0, 2.0, 3.0]]))
    np.testing.assert_allclose(second.at(np.array([0.75]), np.array([1.4]))[0], [20 + 0.4 * 1.5])


# --- ranks and the budget line --------------------------------------------------------------------

def ranks(cost_usd, load_kw, budget_usd, spread, correlation=0.0, draws=4000):
    drawn = uncertainty.draw_factors(
        spread_pct=NONE | {CONSTRUCTION: spread}, draws=draws, seed=5,
        candidate_ids=[f"F-{k}" for k in range(len(cost_usd))], farm_correlation_pct=correlation)
    return uncertainty.rank_spans(cost_response=flat(cost_usd), counted_load_kw=load_kw,
                                  draws=drawn, budget_usd=budget_usd,
                                  tie_order=np.arange(len(cost_usd)))


def test_without_a_spread_ranks_and_budget_are_those_of_the_ranking():
    spans = ranks([3000.0, 1000, 2000, 2000], [10.0, 10, 10, 10], 5000.0, 0.0)
    assert spans["rank_p10"].tolist() == spans["rank_p90"].tolist() == [4, 1, 2, 3]
    assert spans["budget_chance_pct"].tolist() == [0, 100, 100, 100]


def test_moving_together_changes_the_budget_line_and_not_the_ranks():
    spans = ranks([1000.0, 2000, 3000], [10.0, 10, 10], 3300.0, 10.0, correlation=100.0)
    assert spans["rank_p10"].tolist() == spans["rank_p90"].tolist() == [1, 2, 3]
    # Source: normal distribution: 3,000 x factor stays within 3,300 where the factor is below 1.1.
    assert spans["budget_chance_pct"].iloc[1] == pytest.approx(
        100 * stats.norm.cdf(1.0), abs=2.5)


def test_two_farms_alike_change_places_half_of_the_time():
    spans = ranks([1000.0, 1000.0], [10.0, 10.0], 1200.0, 5.0)
    assert spans["rank_p10"].tolist() == [1, 1] and spans["rank_p90"].tolist() == [2, 2]
    np.testing.assert_allclose(spans["budget_chance_pct"], 50, atol=3)


def test_payback_holds_as_often_as_the_normal_distribution_says():
    # By hand: an outlay of 60,000 times the construction factor against 10 years of a margin of
    # 6,600: the payback is within 10 years where the factor is at most 1.1. Source: normal
    # distribution, scipy.stats.norm. An unknown margin bars no farm and has no chance.
    hours = Response(np.array([0.5, 1.5]), np.array([[6000.0] * 2, [np.nan] * 2]), np.zeros((2, 2)))
    cost = Response(np.array([0.5, 1.5]), np.array([[30_000.0, -30_000.0]] * 2), np.zeros((2, 2)))
    drawn = uncertainty.draw_factors(spread_pct=NONE | {CONSTRUCTION: 12.0}, draws=MANY, seed=3,
                                     candidate_ids=IDS[:2], farm_correlation_pct=50.0)
    held, chance = uncertainty.holds(spare=(hours, cost), second=WHOLESALE, draws=drawn)
    np.testing.assert_array_equal(held[0], drawn.factor[CONSTRUCTION][0] <= 1.1)
    assert chance[0] == pytest.approx(100 * stats.norm.cdf(1.1, 1, 0.12), abs=1)
    assert held[1].all() and np.isnan(chance[1])


def test_a_farm_that_fails_in_a_future_takes_no_budget_there():
    # By hand: the cheapest of three fails in every second future: there it stands last, and the
    # budget of 3,000 goes to the other two (1,500 each) instead of to it and one of them.
    drawn = uncertainty.draw_factors(spread_pct=NONE, candidate_ids=IDS, draws=10, seed=1,
                                     farm_correlation_pct=0.0)
    qualifies = np.ones((3, 10), bool)
    qualifies[0, ::2] = False
    spans = uncertainty.rank_spans(
        cost_response=flat([1000.0, 1500, 1500]), counted_load_kw=[10.0, 10, 10], draws=drawn,
        budget_usd=3000.0, tie_order=np.arange(3), qualifies=qualifies)
    assert spans["budget_chance_pct"].tolist() == [50, 100, 50]
    assert spans["rank_p10"].tolist() == [1, 1, 2] and spans["rank_p90"].tolist() == [3, 2, 3]


def test_no_budget_no_chance():
    assert ranks([1000.0], [10.0], None, 5.0)["budget_chance_pct"].isna().all()
