"""Line prices in steps against a published price list, and back from a sum to a length."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from batch.economics import line_cost

# Source: White River Valley Electric Cooperative, "Line Extension Policy" (public page, rates of
# March 2020): single-phase overhead 0 to 100 ft nothing, 101 to 1,000 ft 2 USD a foot, 1,001 ft and
# more 4 USD a foot; underground the same steps at 5 and 10 USD. Sums by hand.
OVERHEAD = ([0.0, 100.0, 1000.0], [0.0, 2.0, 4.0])
UNDERGROUND = ([0.0, 100.0, 1000.0], [0.0, 5.0, 10.0])


def cost(length_ft, steps):
    return line_cost.stepped_line_usd(length_ft=length_ft, step_from_ft=steps[0],
                                      step_usd_ft=steps[1])


@pytest.mark.parametrize("length_ft, overhead_usd, underground_usd", [
    (0, 0, 0), (99, 0, 0), (100, 0, 0), (101, 2, 5), (999, 1798, 4495), (1000, 1800, 4500),
    (1001, 1804, 4510), (1300, 3000, 7500), (5280, 18_920, 47_300)])
def test_cost_on_both_sides_of_each_step(length_ft, overhead_usd, underground_usd):
    assert cost(length_ft, OVERHEAD) == overhead_usd
    assert cost(length_ft, UNDERGROUND) == underground_usd


def test_rows_with_fewer_steps_and_unknown_prices():
    # By hand. A missing step begins at infinity; a foot without a price makes the sum unknown.
    start = np.array([[0, 500, np.inf], [0, np.inf, np.inf], [0, 100, 200], [0, np.inf, np.inf]])
    price = np.array([[3, 5, np.nan], [8, np.nan, np.nan], [np.nan, 2, 3], [8, np.nan, np.nan]])
    total = cost(np.array([700, 700, 700, np.nan]), (start, price))
    np.testing.assert_array_equal(total, [500 * 3 + 200 * 5, 5600, np.nan, np.nan])
    back = line_cost.stepped_line_ft(line_usd=total[:2], step_from_ft=start[:2],
                                     step_usd_ft=price[:2])
    np.testing.assert_array_equal(back, [700, 700])


@pytest.mark.parametrize("usd, length_ft", [(2, 101), (1800, 1000), (1804, 1001), (3000, 1300)])
def test_length_that_a_sum_builds(usd, length_ft):
    assert line_cost.stepped_line_ft(line_usd=usd, step_from_ft=OVERHEAD[0],
                                     step_usd_ft=OVERHEAD[1]) == pytest.approx(length_ft)


def test_length_of_a_short_sum_and_of_a_free_line():
    # By hand: 60 USD short at 3 USD a foot is 20 ft short; a line that costs nothing has no length.
    assert line_cost.stepped_line_ft(line_usd=-60.0, step_from_ft=[0.0, 10.0],
                                     step_usd_ft=[3.0, 9.0]) == -20
    assert np.isnan(line_cost.stepped_line_ft(line_usd=5.0, step_from_ft=[0.0],
                                              step_usd_ft=[0.0]))


step_prices = st.lists(st.tuples(st.floats(1, 2000), st.floats(0.5, 60)), min_size=1, max_size=4)


@settings(max_examples=100, deadline=None)
@given(step_prices, st.floats(0, 30_000))
def test_sum_and_length_belong_together(widths_and_prices, length_ft):
    # Source: each foot added up by itself, as a price list is read.
    width, price = np.array(widths_and_prices).T
    start = np.concatenate([[0.0], np.cumsum(np.round(width))[:-1]])
    total = cost(length_ft, (start, price))
    whole = np.arange(np.floor(length_ft))
    by_foot = price[np.searchsorted(start, whole, side="right") - 1].sum()
    last = price[np.searchsorted(start, np.floor(length_ft), side="right") - 1]
    assert total == pytest.approx(by_foot + (length_ft - np.floor(length_ft)) * last, rel=1e-9,
                                  abs=1e-6)
    assert line_cost.stepped_line_ft(line_usd=total, step_from_ft=start,
                                     step_usd_ft=price) == pytest.approx(length_ft, rel=1e-9,
                                                                         abs=1e-6)
