"""The five benefit tests: a worked example, the identity between them, and their edges."""

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from batch.economics import benefit_tests
from batch.economics.benefit_tests import END_OF_YEAR, FIRST_YEAR_UNDISCOUNTED, YearlyItems

NAMES = [field.name for field in fields(YearlyItems)]


def items(shape=(1,), **amounts):
    given_amounts = {name + "_usd": np.asarray(value, float) for name, value in amounts.items()}
    return YearlyItems(**{name: given_amounts.get(name, np.zeros(shape)) for name in NAMES})


def one_year(**changed):
    """One year: revenue 100, supply 60, administration 5, incentive 20, equipment 50, fuel 150."""
    amounts = {"electric_bill_added": [100], "supply_cost": [60], "administration": [5],
               "incentive": [20], "member_equipment": [50], "present_supply_avoided": [150]}
    return items(**(amounts | changed))


def all_tests(yearly, participant=5.0, cooperative=5.0, societal=3.0):
    return benefit_tests.benefit_tests(
        items=yearly, participant_discount_rate_pct=participant,
        cooperative_discount_rate_pct=cooperative, societal_discount_rate_pct=societal)


@pytest.mark.parametrize("name, npv, ratio", [
    # Source: equations of the California Standard Practice Manual, 2001, worked by hand:
    # (150 + 20) / (100 + 50), 100 / (60 + 5 + 20), 150 / (50 + 60 + 5).
    ("participant", 20, 1.133), ("ratepayer", 15, 1.176), ("total_resource", 35, 1.304),
    ("administrator", -85, 0.0), ("societal", 35, 1.304)])
def test_one_year_example(name, npv, ratio):
    test = all_tests(one_year())[name]
    assert test.npv_usd == pytest.approx(npv)
    assert test.ratio == pytest.approx(ratio, abs=0.0005)


@pytest.mark.parametrize("item, changes", [
    # Source: the manual's components, chapters 2 to 5, in the order participant, ratepayer, total
    # resource, administrator, societal; 10 more of an item changes the NPV by +10, -10 or 0.
    ("electric_bill_added", [-10, 10, 0, 0, 0]),
    ("present_supply_avoided", [10, 0, 10, 0, 10]),
    ("member_equipment", [-10, 0, -10, 0, -10]),
    ("cooperative_construction", [0, -10, -10, -10, -10]),
    ("member_contribution", [-10, 10, 0, 10, 0]),
    ("incentive", [10, -10, 0, -10, 0]),
    ("outside_grant", [10, 0, 10, 0, 0]),
    ("supply_cost", [0, -10, -10, -10, -10]),
    ("administration", [0, -10, -10, -10, -10]),
    ("emission_damage_avoided", [0, 0, 0, 0, 10]),
    ("emission_damage_added", [0, 0, 0, 0, -10])])
def test_each_item_stands_where_the_manual_has_it(item, changes):
    before = one_year()
    more = replace(before, **{item + "_usd": getattr(before, item + "_usd") + 10})
    first, second = all_tests(before), all_tests(more)
    found = [float(second[name].npv_usd - first[name].npv_usd) for name in benefit_tests.TESTS]
    assert found == pytest.approx(changes)


def test_first_column_is_not_discounted():
    # By hand at 10 %: 100 + 110 / 1.1 + 121 / 1.21.
    assert benefit_tests.present_value_usd(yearly_usd=[100, 110, 121.0],
                                           discount_rate_pct=10) == pytest.approx(300)


def test_flow_with_a_year_0_becomes_program_years():
    # By hand: year 0 and year 1 are the first program year; nothing is lost.
    flow = np.array([[-50, 10, 20, 30], [5, 0, 0, np.nan]])
    found = benefit_tests.in_program_years_usd(flow_usd=flow, test_timing=FIRST_YEAR_UNDISCOUNTED)
    np.testing.assert_array_equal(found, [[-40, 20, 30], [5, 0, np.nan]])
    same = benefit_tests.in_program_years_usd(flow_usd=flow, test_timing=END_OF_YEAR)
    np.testing.assert_array_equal(same, flow)


@pytest.mark.parametrize("timing, ratios, npv", [
    # Source: California Standard Practice Manual, 2001, chapter 3 and appendix B, exponent t - 1;
    # and end-of-year flows. By hand: revenue 14,000 and supply 9,000 for 20 years at 6 %, program
    # cost 45,000 and contribution 20,000 at the start. With the annuity a = (1 - 1.06^-20) / 0.06:
    # 14,000 a / (9,000 a + 45,000), the contribution ignored; (14,000 a + 20,000) / (9,000 a +
    # 45,000), as a benefit; 14,000 a / (9,000 a + 25,000), as lower cost; 1.06 a for t - 1.
    (END_OF_YEAR, (1.0833, 1.2182, 1.2523), 32_349.61),
    (FIRST_YEAR_UNDISCOUNTED, (1.1023, 1.2318, 1.2663), 35_790.58)])
def test_ratepayer_test_by_both_timings(timing, ratios, npv):
    def columns(at_start, yearly):
        flow = np.array([[at_start, *[yearly] * 20]], float)
        return benefit_tests.in_program_years_usd(flow_usd=flow, test_timing=timing)
    amounts = {"electric_bill_added": columns(0, 14_000), "supply_cost": columns(0, 9_000),
               "administration": columns(45_000, 0)}
    shape = amounts["administration"].shape
    alone, paid = (all_tests(items(shape, **amounts, **more), cooperative=6.0)["ratepayer"]
                   for more in ({}, {"member_contribution": columns(20_000, 0)}))
    as_benefit = (paid.benefits_usd + 20_000) / (paid.costs_usd + 20_000)
    found = [float(one[0]) for one in (alone.ratio, as_benefit, paid.ratio)]
    assert found == pytest.approx(ratios, abs=0.00005)
    assert paid.npv_usd[0] == pytest.approx(npv, abs=0.01)


def test_each_test_takes_its_own_discount_rate():
    # By hand: 121 in the third year at 10 % is 100; at 0 % it is 121.
    yearly = items(shape=(3,), present_supply_avoided=[0, 0, 121], electric_bill_added=[0, 0, 121])
    for which, names in (("participant", ["participant"]), ("societal", ["societal"]),
                         ("cooperative", ["ratepayer", "total_resource"])):
        tests = all_tests(yearly, **({"participant": 0, "cooperative": 0, "societal": 0}
                                     | {which: 10}))
        for name in ("participant", "ratepayer", "total_resource", "societal"):
            expected = 100 if name in names else 121
            assert tests[name].benefits_usd == pytest.approx(expected)


amounts = arrays(float, (4, 6), elements=st.floats(0, 1e5))


@settings(max_examples=60, deadline=None)
@given(st.fixed_dictionaries({name[:-4]: amounts for name in NAMES}), st.floats(0, 20))
def test_total_resource_is_participant_plus_ratepayer(random_amounts, rate):
    # Source: the manual's equations with one discount rate: transfers cancel. Counting a grant as a
    # lower cost of the total resource test keeps the identity with grants as well.
    tests = all_tests(items(**random_amounts), rate, rate, rate)
    together = tests["participant"].npv_usd + tests["ratepayer"].npv_usd
    np.testing.assert_allclose(tests["total_resource"].npv_usd, together, atol=0.005)


def test_identity_does_not_hold_with_two_discount_rates():
    yearly = items(shape=(3,), electric_bill_added=[100, 100, 100])
    tests = all_tests(yearly, participant=10, cooperative=2)
    difference = (tests["total_resource"].npv_usd - tests["participant"].npv_usd
                  - tests["ratepayer"].npv_usd)
    assert abs(difference) > 1


def test_administrator_test_has_no_benefits_and_says_so():
    # Source: the manual, chapter 5: benefits are avoided supply costs; fuel is not sold here.
    test = all_tests(one_year())["administrator"]
    assert test.benefits_usd == 0 and test.ratio == 0
    assert "Zero by construction" in benefit_tests.ADMINISTRATOR_STATEMENT
    assert np.isnan(all_tests(one_year(supply_cost=[np.nan]))["administrator"].ratio)


def test_ratio_without_costs_is_unknown_and_npv_is_not():
    # By hand: a contribution above all costs makes the ratepayer's costs negative.
    test = all_tests(one_year(member_contribution=[500]))["ratepayer"]
    assert test.costs_usd == -415 and test.npv_usd == 515 and np.isnan(test.ratio)
    assert np.isnan(all_tests(one_year(member_contribution=[85]))["ratepayer"].ratio)


def test_unknown_item_spoils_only_the_tests_that_count_it():
    tests = all_tests(one_year(member_equipment=[np.nan]))
    unknown = {name for name in benefit_tests.TESTS if np.isnan(tests[name].npv_usd)}
    assert unknown == {"participant", "total_resource", "societal"}


def test_largest_incentive_brings_the_ratepayer_test_to_one():
    # By hand: 100 = 60 + 5 + 35, so 35 instead of 20; checked by running the test with it.
    before = all_tests(one_year())["ratepayer"]
    largest = benefit_tests.largest_incentive_usd(ratepayer_npv_usd=before.npv_usd,
                                                  incentive_usd=20.0)
    assert largest == pytest.approx(35)
    assert all_tests(one_year(incentive=[float(largest)]))["ratepayer"].ratio == pytest.approx(1)


@settings(max_examples=40, deadline=None)
@given(st.fixed_dictionaries({name[:-4]: amounts for name in NAMES}), st.floats(0, 20))
def test_largest_incentive_for_any_flows(random_amounts, rate):
    # Source: definition: benefits equal costs.
    random_amounts["incentive"][:, 1:] = 0
    yearly = items(**random_amounts)
    largest = benefit_tests.largest_incentive_usd(
        ratepayer_npv_usd=all_tests(yearly, cooperative=rate)["ratepayer"].npv_usd,
        incentive_usd=yearly.incentive_usd[:, 0])
    paid = np.zeros((4, 6))
    paid[:, 0] = largest
    after = all_tests(replace(yearly, incentive_usd=paid), cooperative=rate)["ratepayer"]
    np.testing.assert_allclose(after.benefits_usd, after.costs_usd, atol=0.005)


def test_lifecycle_rate_impact_balances_the_ratepayer_test():
    # Source: California Standard Practice Manual, 2001, appendix C: the change of rates whose
    # present value equals minus the NPV. By hand: NPV 15, sales 1,000 kWh a year for two years at
    # 25 %: 1,000 + 800 = 1,800 kWh; -15 / 1,800 = -0.008333.
    impact = benefit_tests.lifecycle_rate_impact_usd_kwh(
        ratepayer_npv_usd=15.0, system_sales_kwh=[1000.0, 1000.0], cooperative_discount_rate_pct=25)
    assert impact == pytest.approx(-15 / 1800)


def test_groups_add_present_values_before_they_divide():
    # By hand: feeder 0 holds the first and third candidates.
    test = benefit_tests.BenefitTest(np.array([10.0, 5, 30]), np.array([20.0, 5, 20]))
    feeders = benefit_tests.grouped_test(test=test, group_code=np.array([0, 1, 0]), group_count=3)
    np.testing.assert_array_equal(feeders.benefits_usd, [40, 5, 0])
    np.testing.assert_array_equal(feeders.ratio, [1, 1, np.nan])


def test_vector_equals_scalar():
    random = np.random.default_rng(1)
    yearly = items(**{name[:-4]: random.uniform(0, 100, (3, 5)) for name in NAMES})
    together = all_tests(yearly)
    for row in range(3):
        alone = all_tests(YearlyItems(*[getattr(yearly, name)[row] for name in NAMES]))
        for name in benefit_tests.TESTS:
            assert together[name].npv_usd[row] == pytest.approx(alone[name].npv_usd)
