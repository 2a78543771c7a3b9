"""Transformer formulas against standards' figures."""

import numpy as np
import pytest

from batch.engineering.transformer import (
    annual_loss_kwh,
    next_standard_size,
    transformer_loading_pct,
    transformer_loss_w,
)

SIZES_KVA = [5, 10, 15, 25, 37.5, 50, 75, 100, 167, 250, 333, 500]  # common single-phase sizes


def test_next_size_on_both_sides_of_a_rating():
    # Source: common practice, no source: the smallest rating not below the need.
    need = np.array([0.0, 24.999, 25.0, 25.001, 500.0, 500.001, np.nan, np.inf])
    size = next_standard_size(required=need, sizes=SIZES_KVA)
    np.testing.assert_array_equal(size, [5, 25, 25, 37.5, 500, np.nan, np.nan, np.nan])


def test_next_device_of_a_published_rule():
    # Source: NFPA 70 (NEC) 240.4(B), 240.6(A): 131 A takes the next standard device, 150 A.
    assert next_standard_size(required=131.0, sizes=[100, 110, 125, 150, 175]) == 150.0


def test_loss_from_the_efficiency_rule():
    # Source: 10 CFR 431.196(b), 25 kVA single-phase liquid-immersed, 98.95 % at half load (value
    # from memory). Loss at half load = 12,500 W (1/0.9895 - 1) = 132.6 W, whatever the split.
    for no_load_w in (20.0, 66.3, 100.0):
        loss_w = transformer_loss_w(no_load_loss_w=no_load_w, load_pct=50.0,
                                    load_loss_w=4.0 * (132.6 - no_load_w))
        assert 100 * 12500.0 / (12500.0 + loss_w) == pytest.approx(98.95, abs=0.005)


def test_annual_loss_by_hand():
    # Source: hand calculation: 100 W x 8760 h + 400 W x 0.25 x 1000 h = 876 + 100 kWh.
    loss = annual_loss_kwh(
        no_load_loss_w=100.0, load_loss_w=400.0, load_pct=50.0, energized_hours=8760.0,
        season_hours=1000.0,
    )
    assert loss == pytest.approx(976.0)


def test_loading_by_hand():
    # Source: hand calculation: 45 kVA on 50 kVA that may carry 0.9 of its rating is 100 %.
    loading = transformer_loading_pct(
        service_kva=45.0, transformer_kva=50.0, harmonic_capacity_pu=np.array([0.9, 1.0])
    )
    np.testing.assert_allclose(loading, [100.0, 90.0])


@pytest.mark.parametrize(
    "formula, values",
    [
        (transformer_loading_pct, [45.0, 50.0, 0.9, 97.0]),
        (transformer_loss_w, [66.0, 265.0, 80.0]),
        (annual_loss_kwh, [66.0, 265.0, 80.0, 8760.0, 900.0]),
    ],
)
def test_vector_equals_scalar_and_unknown_stays_unknown(formula, values):
    names = formula.__code__.co_varnames[: formula.__code__.co_kwonlyargcount]
    scalar = formula(**dict(zip(names, values, strict=True)))
    vector = formula(**{n: np.array([v, v]) for n, v in zip(names, values, strict=True)})
    np.testing.assert_allclose(vector, [scalar, scalar], rtol=1e-14)
    for unknown in names:
        inputs = dict(zip(names, values, strict=True)) | {unknown: np.array([np.nan])}
        assert np.isnan(formula(**inputs)).all(), unknown
