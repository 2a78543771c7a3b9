"""The incentive and its bounds, against published incentive rules and by hand."""

import numpy as np
import pytest

from batch.economics import incentive

NO_BOUND = {"incentive_minimum_usd": 0.0, "incentive_maximum_usd": np.inf,
            "per_kw_cap_usd": np.inf, "project_cap_usd": np.inf, "per_farm_cap_usd": np.inf,
            "payback_room_usd": np.inf, "member_cost_usd": 1e9}


def pay(basis="flat", rate=0.0, *, pump_motor_hp=75.0, added_load_kw=60.0,
        eligible_cost_usd=12_000.0, tiers=((np.inf,), (0.0,)), is_qualified=1, **bounds):
    return incentive.incentive_usd(
        incentive_basis=basis, incentive_rate=rate, pump_motor_hp=pump_motor_hp,
        added_load_kw=added_load_kw, eligible_cost_usd=eligible_cost_usd, tier_upper_kw=tiers[0],
        tier_usd_per_kw=tiers[1], is_qualified=is_qualified, **(NO_BOUND | bounds))


@pytest.mark.parametrize("basis, rate, expected", [
    ("flat", 2500.0, 2500),
    ("per hp", 60.0, 4500),    # Source: Missoula Electric Cooperative, irrigation
    ("per hp", 50.0, 3750),    # Source: Focus on Energy, 2024 agribusiness catalog
    ("per kW", 100.0, 6000),
    ("percent of eligible cost", 50.0, 6000)])
def test_formula_of_each_basis(basis, rate, expected):
    result = pay(basis, rate)
    assert (result.incentive_usd, result.formula_usd, result.decided_by) == (
        expected, expected, "formula")


@pytest.mark.parametrize("drive_usd, expected, decided_by", [
    # Source: NRPPD, Energy Efficiency Credit Program 2024, variable speed drive retrofit: the
    # lesser of half the cost and, for 75 hp, $3,100; at most $20,000 a consumer and
    # year. Prices ours.
    (12_000, 3100, "formula"), (5000, 2500, "maximum")])
def test_lesser_of_half_the_cost_and_an_amount_by_size(drive_usd, expected, decided_by):
    result = pay("flat", 3100.0, incentive_maximum_usd=0.5 * drive_usd, per_farm_cap_usd=20_000.0)
    assert (result.incentive_usd, result.decided_by) == (expected, decided_by)


def test_what_is_left_of_the_cap_per_farm():
    # Source: the same credit: with 18,000 paid in the year, 2,000 is left.
    result = pay("flat", 3100.0, per_farm_cap_usd=20_000.0 - 18_000.0)
    assert (result.incentive_usd, result.decided_by) == (2000, "cap per farm")


@pytest.mark.parametrize("kw, expected", [(20, 2000), (25, 2500), (40, 3700), (60, 4700),
                                          (0, 0), (-5, 0)])
def test_tiers_pay_each_kw_at_its_own_rate(kw, expected):
    # By hand: $100 to 25 kW, $80 to 50 kW, $20 above. 40 kW: 2,500 + 15 x 80. 60 kW: + 10 x 20.
    tiers = ((25, 50, np.inf), (100.0, 80.0, 20.0))
    assert pay("tiers", tiers=tiers, added_load_kw=kw).incentive_usd == expected


@pytest.mark.parametrize("bounds, expected, decided_by", [
    # By hand: formula 75 hp x $40 = 3,000.
    ({"incentive_minimum_usd": 3500.0}, 3500, "minimum"),
    ({"incentive_maximum_usd": 2800.0}, 2800, "maximum"),
    ({"per_farm_cap_usd": 2000.0}, 2000, "cap per farm"),
    ({"member_cost_usd": 1500.0}, 1500, "member's cost"),
    ({"incentive_minimum_usd": 3500.0, "member_cost_usd": 1500.0}, 1500, "member's cost"),
    ({"incentive_minimum_usd": 3000.0, "incentive_maximum_usd": 3000.0}, 3000, "formula"),
    ({"per_farm_cap_usd": -50.0}, 0, "cap per farm"),
    # 60 kW x 45 USD/kW = 2,700; 13 % of a project of 20,000 USD = 2,600; the smallest decides.
    ({"per_kw_cap_usd": 60 * 45.0}, 2700, "cap per kW"),
    ({"per_kw_cap_usd": 60 * 45.0, "project_cap_usd": 0.13 * 20_000}, 2600, "cap by project cost"),
    ({"per_kw_cap_usd": 2700.0, "project_cap_usd": 2750.0, "per_farm_cap_usd": 2900.0}, 2700,
     "cap per kW"),
    # The minimum comes first: below it the capped amount is paid, down to a whole cent.
    ({"incentive_minimum_usd": 3500.0, "per_kw_cap_usd": 2700.0, "payback_room_usd": 1234.567},
     1234.56, "cooperative payback"),
    ({"incentive_minimum_usd": 3500.0, "payback_room_usd": -20.0}, 0, "cooperative payback"),
    ({"incentive_minimum_usd": 3500.0, "is_qualified": 0}, 0, "not qualified")])
def test_bounds(bounds, expected, decided_by):
    result = pay("per hp", 40.0, **bounds)
    assert (result.incentive_usd, result.decided_by) == (expected, decided_by)


@pytest.mark.parametrize("usd, paid", [(12_000.39, 3000.09), (12_000.36, 3000.09), (1.16, 0.29)])
def test_cents_are_rounded_down(usd, paid):
    # By hand: a quarter is 3,000.0975, 3,000.09 and 0.29; no bound is passed by half a cent.
    assert pay("percent of eligible cost", 25.0, eligible_cost_usd=usd).incentive_usd == paid


@pytest.mark.parametrize("unknown", [
    {"is_qualified": np.nan}, {"pump_motor_hp": np.nan}, {"member_cost_usd": np.nan},
    {"per_farm_cap_usd": np.nan}, {"payback_room_usd": np.nan}])
def test_unknown_stays_unknown(unknown):
    result = pay("per hp", 40.0, **unknown)
    assert np.isnan(result.incentive_usd) and result.decided_by == "not assessed"


def test_unknown_basis_is_refused():
    with pytest.raises(ValueError, match="incentive_basis"):
        pay("per acre", 10.0)


def test_vector_equals_scalar():
    basis = np.array(incentive.BASES)
    hp = np.array([20, 40, 60, 75, 100.0])
    kw = np.array([15, 30, 45, 60, 80.0])
    tiers = ((25, 50, np.inf), (100.0, 80.0, 20.0))
    together = pay(basis, 55.0, pump_motor_hp=hp, added_load_kw=kw, tiers=tiers,
                   is_qualified=np.ones(5), incentive_maximum_usd=4000.0)
    alone = [pay(basis[row], 55.0, pump_motor_hp=hp[row], added_load_kw=kw[row], tiers=tiers,
                 incentive_maximum_usd=4000.0) for row in range(5)]
    np.testing.assert_array_equal(together.incentive_usd, [one.incentive_usd for one in alone])
