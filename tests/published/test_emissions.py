"""Carbon dioxide against published emission factors."""

import numpy as np
import pytest

from batch.economics import emissions


@pytest.mark.parametrize("heat_mmbtu, kg_per_mmbtu, kg, digit", [
    # Source: U.S. EPA, Emission Factors for Greenhouse Gas Inventories, 2022, Table 1.
    (1026e-6, 53.06, 0.05444, 0.000005),   # natural gas, scf
    (0.138, 73.96, 10.21, 0.005),          # distillate fuel oil no. 2, gallon
])
def test_factor_per_unit_of_fuel(heat_mmbtu, kg_per_mmbtu, kg, digit):
    factor = emissions.co2_kg_per_unit(heat_mmbtu_per_unit=heat_mmbtu,
                                       co2_kg_per_mmbtu=kg_per_mmbtu)
    assert factor == pytest.approx(kg, abs=digit)


def test_diesel_of_a_season():
    # Source: the factor above; 1,000 gallons are 10.21 metric tons.
    assert emissions.fuel_co2_t_yr(fuel_per_yr=1000, co2_kg_per_unit=10.21) == pytest.approx(10.21)


def test_grid_energy_in_pounds_and_metric_tons():
    # Source: international pound, 0.45359237 kg; eGRID2022 national average 823.1 lb/MWh. By hand:
    # 19,000 kWh sold at 5 % losses of purchases are 20 MWh; 20 x 823.1 lb = 16,462 lb = 7.4670 t.
    tons = emissions.grid_co2_t_yr(annual_energy_kwh=19_000, energy_loss_pct=5,
                                   grid_co2_lb_mwh=823.1)
    assert tons == pytest.approx(7.4670, abs=0.0001)


def test_avoided_may_be_negative_and_unknown_stays_unknown():
    avoided = emissions.co2_avoided_t_yr(present_co2_t_yr=np.array([10.0, 0.0, np.nan]),
                                         new_co2_t_yr=np.array([7.0, 3.0, 1.0]))
    np.testing.assert_array_equal(avoided, [3.0, -3.0, np.nan])
