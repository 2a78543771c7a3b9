"""The ratio of sums against published and hand-worked examples."""

import numpy as np
import pytest

from batch.portfolio.realization import ratio_of_sums


def test_textbook_example_of_a_ratio_estimate():
    """Scheaffer, Mendenhall and Ott, "Elementary Survey Sampling", ratio estimation of sugar in
    oranges, as solved in public course notes: r 21.1940, variance of the total 8,678.564, twice its
    root 186.317, for N 250 and a total of x of 75."""
    x = [.3, .5, .4, .9, .7, .2, .6, .5, .8, .4, .8, .6]
    y = [6, 9, 7, 19, 15, 5, 12, 9, 20, 9, 18, 13]
    found = ratio_of_sums(promised=x, delivered=y, population=250)
    assert found.ratio == pytest.approx(21.1940, abs=5e-5)
    total_error = found.standard_error * np.mean(x) * 250
    assert total_error ** 2 == pytest.approx(8678.564, rel=1e-5)
    assert 2 * total_error == pytest.approx(186.317, rel=1e-5)
    assert found.ratio != pytest.approx(np.mean(np.divide(y, x)), rel=1e-3)  # 21.0589


def test_realization_of_four_and_of_eight_farms():
    """Worked by hand: 141 of 160 kWh, where the mean of the ratios would say 0.975; and a sample of
    eight of forty, 0.9000 with a standard error of 0.043346 and, with t of 7 degrees (1.8946),
    9.12 percent either way."""
    few = ratio_of_sums(promised=[100, 40, 10, 10], delivered=[80, 40, 12, 9])
    assert few.ratio == pytest.approx(0.88125)
    x = np.array([120, 80, 60, 45, 40, 30, 25, 20])
    found = ratio_of_sums(promised=x, delivered=[102, 84, 45, 47, 30, 31, 20, 19], population=40)
    assert found.ratio == pytest.approx(0.9000, abs=5e-5)
    assert found.standard_error == pytest.approx(0.043346, abs=5e-7)
    assert (found.high - found.ratio) / found.ratio == pytest.approx(0.0912, abs=5e-5)


def test_what_the_rows_do_not_tell_is_not_known():
    assert np.isnan(ratio_of_sums(promised=[], delivered=[]).ratio)
    assert np.isnan(ratio_of_sums(promised=[0.0], delivered=[3.0]).ratio)
    one = ratio_of_sums(promised=[10.0], delivered=[-2.0])
    assert one.ratio == -0.2 and np.isnan(one.standard_error)
