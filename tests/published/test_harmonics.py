"""Harmonic formulas against identities and published cases."""

import numpy as np
import pytest

from batch.engineering.harmonics import (
    filtered_harmonics_a,
    harmonic_loss_factor,
    harmonic_voltage_pct,
    limits_by_ratio,
    tdd_pct,
    thd_pct,
    transformer_harmonic_capacity_pu,
    voltage_thd_pct,
)

# Source: IEEE 519-2022, Table 2, 120 V through 69 kV (public copies).
RATIO_LOWER_BOUND = np.array([0.0, 20.0, 50.0, 100.0, 1000.0])
TDD_LIMIT = np.array([5.0, 8.0, 12.0, 15.0, 20.0])
LIMITS = np.column_stack([[4.0, 7.0, 10.0, 12.0, 15.0], TDD_LIMIT])  # orders 3 to 10, and TDD


def square_wave(highest_order):
    orders = np.arange(1, highest_order + 1)
    return np.where(orders % 2 == 1, 1.0 / orders, 0.0)


def test_distortion_of_a_square_wave():
    # Source: Fourier identity, sqrt(pi^2/8 - 1) = 48.34 %; cut at 20,001 the sum misses 0.01 %.
    assert thd_pct(harmonic_a=square_wave(20001)) == pytest.approx(48.34, abs=0.005)


@pytest.mark.parametrize("highest_order, published", [(25, 10.7), (49, 20.4)])
def test_loss_factor_of_a_square_wave(highest_order, published):
    # Source: published figures for a square wave; each odd order adds exactly 1 to sum(I^2 h^2).
    factor = harmonic_loss_factor(harmonic_a=square_wave(highest_order))
    assert factor == pytest.approx(published, abs=0.05)
    terms = np.sum(square_wave(highest_order) ** 2)
    assert factor == pytest.approx((highest_order + 1) / 2 / terms, rel=1e-12)


def sample_spectrum():
    current = np.zeros(19)
    current[[0, 4, 6, 10, 12, 16, 18]] = [0.978, 0.171, 0.108, 0.044, 0.028, 0.015, 0.0098]
    return current


def test_loss_factor_of_the_sample_spectrum():
    # Source: IEEE C57.110 sample calculation (memory): F_HL 2.72.
    assert harmonic_loss_factor(harmonic_a=sample_spectrum()) == pytest.approx(2.724, abs=0.001)


def test_loss_factor_does_not_depend_on_the_base():
    # Source: IEEE C57.110: F_HL is the same from amperes, the fundamental or the rms.
    amperes = harmonic_loss_factor(harmonic_a=137.0 * sample_spectrum())
    assert amperes == pytest.approx(harmonic_loss_factor(harmonic_a=sample_spectrum()))


def test_capacity_keeps_the_rated_loss():
    # Source: definition in IEEE C57.110: at I_max the hot-spot loss I^2 (1 + F_HL P_EC) equals the
    # rated loss 1 + P_EC.
    factor, eddy = np.array([1.0, 2.724, 13.0]), np.array([0.05, 0.15, 0.05])
    capacity = transformer_harmonic_capacity_pu(harmonic_loss_factor=factor, eddy_loss_pu=eddy)
    np.testing.assert_allclose(capacity**2 * (1 + factor * eddy), 1 + eddy)
    assert capacity[0] == 1.0


def test_demand_distortion():
    # Source: definitions of IEEE 519: with I_L equal to the fundamental both distortions agree;
    # twice the demand halves it.
    current = np.array([100.0, 0.0, 70.0, 0.0, 40.0])
    both = tdd_pct(harmonic_a=current, demand_current_a=np.array([100.0, 200.0]))
    assert both == pytest.approx([thd_pct(harmonic_a=current), 40.3113], rel=1e-5)


def test_limit_row_of_a_published_case():
    # Source: public course assignment on IEEE 519: 56,000 A / 1,120 A = 50, limit 12 %.
    limit = limits_by_ratio(
        short_circuit_ratio=56000.0 / 1120.0,
        ratio_lower_bound=RATIO_LOWER_BOUND,
        limit_pct=TDD_LIMIT,
    )
    assert limit == 12.0


def test_limit_row_on_both_sides_of_each_boundary():
    # Source: IEEE 519-2022, Table 2 headings: a ratio on a boundary belongs to the higher row.
    ratio = np.array([0.0, 19.999, 20.0, 49.999, 50.0, 99.999, 100.0, 999.9, 1000.0, 1e6])
    limit = limits_by_ratio(
        short_circuit_ratio=ratio, ratio_lower_bound=RATIO_LOWER_BOUND, limit_pct=LIMITS
    )
    assert limit[:, 1].tolist() == [5, 5, 8, 8, 12, 12, 15, 15, 20, 20]
    assert limit[:, 0].tolist() == [4, 4, 7, 7, 10, 10, 12, 12, 15, 15]


def test_unknown_ratio_has_no_limit():
    limit = limits_by_ratio(
        short_circuit_ratio=np.array([np.nan, -1.0, np.inf]),
        ratio_lower_bound=RATIO_LOWER_BOUND,
        limit_pct=LIMITS,
    )
    assert np.isnan(limit).all()


def test_voltage_harmonics_by_hand():
    # Source: V_h = h X I_h: 3 x 0.08 ohm x 60 A = 14.4 V, 5 x 0.08 x 48 A = 19.2 V of 480 V:
    # 3 % and 4 %, together 5 %.
    current = np.array([[90.0, 0.0, 60.0, 0.0, 48.0]])
    voltage = harmonic_voltage_pct(
        harmonic_a=current, reactance_ohm=np.array([0.08]), voltage_v=480.0
    )
    np.testing.assert_allclose(voltage[0, [2, 4]], [3.0, 4.0])
    assert voltage_thd_pct(harmonic_voltage_pct=voltage)[0] == pytest.approx(5.0)


def test_filter_keeps_and_removes():
    current = np.array([[100.0, 0.0, 80.0], [50.0, 0.0, 20.0]])
    kept = filtered_harmonics_a(harmonic_a=current, remaining_ratio=np.array([1.0, 1.0, 0.25]))
    assert kept.tolist() == [[100.0, 0.0, 20.0], [50.0, 0.0, 5.0]]


def test_vector_equals_scalar_and_unknown_stays_unknown():
    rows = np.array([sample_spectrum(), square_wave(19)])
    unknown = np.array([sample_spectrum() * np.nan])
    for formula in (thd_pct, harmonic_loss_factor):
        both = formula(harmonic_a=rows)
        assert both.tolist() == [formula(harmonic_a=row) for row in rows]
        assert np.isnan(formula(harmonic_a=unknown)).all()
    one = harmonic_voltage_pct(harmonic_a=rows[0], reactance_ohm=0.1, voltage_v=480.0)
    both = harmonic_voltage_pct(
        harmonic_a=rows, reactance_ohm=np.array([0.1, np.nan]), voltage_v=np.array([480.0, 480.0])
    )
    np.testing.assert_array_equal(both[0], one)
    assert np.isnan(both[1]).all()
    assert np.isnan(tdd_pct(harmonic_a=rows[0], demand_current_a=np.nan))
    assert np.isnan(transformer_harmonic_capacity_pu(harmonic_loss_factor=2.0, eddy_loss_pu=np.nan))
    assert np.isnan(transformer_harmonic_capacity_pu(harmonic_loss_factor=np.nan, eddy_loss_pu=0.1))
