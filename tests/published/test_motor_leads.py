"""Motor leads against published lengths and a lattice of reflections."""

import numpy as np
import pytest

from batch.engineering.motor_leads import (
    PART_30_PEAK_V,
    PART_30_RISE_US,
    PART_31_PEAK_RATIO,
    PART_31_RISE_US,
    critical_length_ft,
    inverter_duty_peak_limit_v,
    motor_peak_v,
)


def test_published_critical_lengths():
    # Source: published table of rise time and critical lead length, velocity half of light.
    rise_us = np.array([0.05, 0.1, 0.2, 0.4, 2.0])
    published_ft = [12, 25, 49, 98, 492]
    np.testing.assert_allclose(critical_length_ft(rise_time_us=rise_us), published_ft, atol=0.5)


def test_critical_length_of_a_published_case_study():
    # Source: published case study of a long motor lead: 0.10 us and 1.5e8 m/s. The critical
    # length is 7.5 m (velocity x rise time / 2 in metres, by hand).
    length = critical_length_ft(rise_time_us=0.10, velocity_ft_us=150.0 / 0.3048)
    assert length * 0.3048 == pytest.approx(7.5)


def test_doubling_on_a_long_lead():
    # Source: 480 V supply: 679 V bus, 1358 V peak (travelling-wave theory, published figures).
    peak = motor_peak_v(bus_v=679.0, motor_lead_ft=1200.0, critical_length_ft=25.0)
    assert peak == pytest.approx(1358.0)


def test_both_sides_of_the_critical_length():
    lengths = np.array([0.0, 12.5, 25.0, 25.1])
    peak = motor_peak_v(bus_v=679.0, motor_lead_ft=lengths, critical_length_ft=25.0)
    np.testing.assert_allclose(peak, [679.0, 1018.5, 1358.0, 1358.0])


def lattice_peak(length_over_critical):
    """Peak at an open end fed by a ramp through a lossless line from a stiff source.

    v(t) = 2 sum_k (-1)^k f(t - (2k+1) T); ramp time 1, and length / critical = 2 T.
    """
    travel = length_over_critical / 2.0
    time = np.linspace(0.0, 6.0, 60001)
    passes = np.arange(int(6.0 / (2 * travel)) + 1)
    ramp = np.clip(time - (2 * passes[:, None] + 1) * travel, 0.0, 1.0)
    return np.max(2.0 * np.sum((-1.0) ** passes[:, None] * ramp, axis=0))


def test_linear_rise_is_the_bound_of_the_lattice():
    # Source: travelling-wave theory (lattice diagram), summed here independently: the peak never
    # exceeds 1 + length/critical, reaches it where the ramp ends on a reflection (the ratio is one
    # over an odd number), and is 2 beyond the critical length.
    ratios = np.array([1 / 9, 0.15, 0.2, 0.27, 1 / 3, 0.4, 0.5, 0.7, 0.85, 1.0, 1.3, 2.5])
    lattice = np.array([lattice_peak(ratio) for ratio in ratios])
    bound = motor_peak_v(bus_v=1.0, motor_lead_ft=ratios, critical_length_ft=1.0)
    assert (lattice <= bound + 1e-3).all()
    is_reached = np.isin(np.round(1 / ratios, 6), [9, 5, 3, 1]) | (ratios > 1)
    np.testing.assert_allclose(lattice[is_reached], bound[is_reached], atol=2e-3)


def test_motor_insulation_limits():
    # Source: NEMA MG 1 Part 30 as reproduced by a reactor maker: 1000 V peak, 2 us.
    assert (PART_30_PEAK_V, PART_30_RISE_US) == (1000.0, 2.0)
    # Source: NEMA MG 1 Part 31 as reproduced in IEEE PCIC-2004-27: 1.1 x 2 x sqrt(2) = 3.1 times
    # rated, 0.1 us; 1426 V at 460 V.
    assert PART_31_PEAK_RATIO == pytest.approx(1.1 * 2 * np.sqrt(2), abs=0.05)
    assert PART_31_RISE_US == 0.1
    assert inverter_duty_peak_limit_v(motor_rated_v=460.0) == pytest.approx(1426.0)


@pytest.mark.parametrize(
    "formula, values",
    [
        (critical_length_ft, [0.1, 492.0]),
        (motor_peak_v, [679.0, 10.0, 25.0]),
        (inverter_duty_peak_limit_v, [460.0]),
    ],
)
def test_vector_equals_scalar_and_unknown_stays_unknown(formula, values):
    names = formula.__code__.co_varnames[: formula.__code__.co_kwonlyargcount]
    scalar = formula(**dict(zip(names, values, strict=True)))
    vector = formula(**{n: np.array([v, v]) for n, v in zip(names, values, strict=True)})
    np.testing.assert_array_equal(vector, [scalar, scalar])
    for unknown in names:
        inputs = dict(zip(names, values, strict=True)) | {unknown: np.array([np.nan])}
        assert np.isnan(formula(**inputs)).all(), unknown
