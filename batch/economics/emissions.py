"""Carbon dioxide of the fuel that is no longer burned and of the electricity that replaces it."""

import numpy as np

# International yard and pound agreement, 1959: one avoirdupois pound, exact.
KG_PER_LB = 0.45359237


def co2_kg_per_unit(*, heat_mmbtu_per_unit, co2_kg_per_mmbtu):
    """Emission factor of a fuel from its heat content [kg/unit].

    Parameters
    ----------
    heat_mmbtu_per_unit : array (n,) [MMBtu/unit]; higher heating value
    co2_kg_per_mmbtu : array (n,) [kg/MMBtu]

    Returns
    -------
    array (n,) [kg/unit]

    Equation: factor = heat content x factor per heat
    Sources: U.S. EPA, Emission Factors for Greenhouse Gas Inventories, 2022, Table 1, whose
    natural gas and diesel rows are the tested cases.
    """
    return np.asarray(heat_mmbtu_per_unit, float) * co2_kg_per_mmbtu


def fuel_co2_t_yr(*, fuel_per_yr, co2_kg_per_unit):
    """Carbon dioxide from burning a season's fuel [metric t/yr].

    Leaves out methane and nitrous oxide and the making and hauling of the fuel.

    Parameters
    ----------
    fuel_per_yr : array (n,) [unit/yr]
    co2_kg_per_unit : array (n,) [kg/unit]

    Returns
    -------
    array (n,) [metric t/yr]

    Equation: t = fuel x factor / 1000
    Sources: U.S. EPA, Emission Factors for Greenhouse Gas Inventories, 2022.
    """
    return np.asarray(fuel_per_yr, float) * co2_kg_per_unit / 1000


def grid_co2_t_yr(*, annual_energy_kwh, energy_loss_pct, grid_co2_lb_mwh):
    """Carbon dioxide of the electricity bought for the farm [metric t/yr].

    Valid with an output emission rate at the generators, so the energy includes line losses,
    given in percent of purchases.

    Parameters
    ----------
    annual_energy_kwh : array (n,) [kWh/yr]; at the farm's meter
    energy_loss_pct : array (n,) [%]; of what is purchased
    grid_co2_lb_mwh : array (n,) [lb/MWh]

    Returns
    -------
    array (n,) [metric t/yr]

    Equation: t = kWh / 1000 / (1 - loss / 100) x lb/MWh x 0.45359237 / 1000
    Sources: U.S. EPA, eGRID (total output emission rates; line losses are not in the rate).
    """
    purchased_mwh = (np.asarray(annual_energy_kwh, float) / 1000
                     / (1 - np.asarray(energy_loss_pct, float) / 100))
    return purchased_mwh * grid_co2_lb_mwh * KG_PER_LB / 1000


def co2_avoided_t_yr(*, present_co2_t_yr, new_co2_t_yr):
    """Carbon dioxide avoided by the change; negative where the change adds some [metric t/yr].

    Parameters
    ----------
    present_co2_t_yr : array (n,) [metric t/yr]
    new_co2_t_yr : array (n,) [metric t/yr]

    Returns
    -------
    array (n,) [metric t/yr]

    Equation: avoided = present - new
    Sources: definition.
    """
    return np.asarray(present_co2_t_yr, float) - new_co2_t_yr
