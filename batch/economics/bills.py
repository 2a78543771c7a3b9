"""The farm's electric bill, month by month, and what the cooperative pays for the same energy.

Shapes: a value per candidate is (n,) or one plain number; a value per candidate and month is
(n, 12), or (12,) where the parameter says so. January is month 0.
"""

from dataclasses import dataclass, fields

import numpy as np

MONTHS = 12

# What the size of an energy block is counted in, and whether it is used up per month or season.
BLOCK_BASES = ("kWh per month", "kWh per season",
               "kWh per hp per month", "kWh per hp per season",
               "kWh per kW per month", "kWh per kW per season")


@dataclass(frozen=True)
class Bill:
    """One year's bill, a line per array (n,) [USD/yr]; the credit line is zero or negative.

    `total_usd_yr` is the sum of the lines above it, in the order in which they stand.
    """
    customer_usd_yr: np.ndarray
    facilities_usd_yr: np.ndarray
    demand_usd_yr: np.ndarray
    energy_usd_yr: np.ndarray
    load_control_credit_usd_yr: np.ndarray
    minimum_bill_adjustment_usd_yr: np.ndarray
    total_usd_yr: np.ndarray


@dataclass(frozen=True)
class WholesaleCost:
    """What the cooperative pays for the candidate's energy and demand, arrays (n,) [USD/yr]."""
    energy_usd_yr: np.ndarray
    demand_usd_yr: np.ndarray
    total_usd_yr: np.ndarray


def spread_over_months(*, season_total, season_share_by_month):
    """A season's hours or energy in each month [same unit, per month].

    Parameters
    ----------
    season_total : array (n,) [h/yr or kWh/yr]
    season_share_by_month : array (12,) or (n, 12) [1]; adds to 1

    Returns
    -------
    array (n, 12) [h/month or kWh/month]

    Equation: of the month = of the season x share of the month
    Sources: common practice, no source (a season profile).
    Errors: ValueError where there are not twelve shares from zero up that add to 1.
    """
    share = np.asarray(season_share_by_month, float)
    if share.shape[-1] != MONTHS:
        raise ValueError(f"season_share_by_month has {share.shape[-1]} values, not 12")
    total = share.sum(axis=-1)
    if np.any(share < 0) or np.any(np.abs(total - 1) > 1e-9):
        raise ValueError(f"season_share_by_month must be twelve shares adding to 1; sum is {total}")
    return _for_each_month(season_total) * share


def demand_by_month_kw(*, service_demand_kw, monthly_hours):
    """Highest demand of each month: the service demand where the pump runs at all, else 0 [kW].

    Valid for a load that runs at one level, as a pivot with its pump does.

    Parameters
    ----------
    service_demand_kw : array (n,) [kW]
    monthly_hours : array (n, 12) [h/month]

    Returns
    -------
    array (n, 12) [kW]

    Equation: demand of the month = service demand where hours > 0, else 0
    Sources: common practice, no source.
    """
    hours = np.asarray(monthly_hours, float)
    demand = np.where(hours == 0, 0.0, _for_each_month(service_demand_kw))
    return np.where(np.isnan(hours), np.nan, demand)


def billed_demand_by_month_kw(*, monthly_demand_kw, ratchet_pct, ratchet_month_mask=1):
    """Demand that is billed in each month: its own, or the ratchet where that is higher [kW].

    Valid for a settled year, in which the highest demand of the last twelve months is that of
    the year itself.

    Parameters
    ----------
    monthly_demand_kw : array (n, 12) [kW]
    ratchet_pct : array (n,) [%]; of the highest demand of the months that set it, 0 = none
    ratchet_month_mask : array (12,) or (n, 12) [1]; 1 for months whose demand sets the ratchet

    Returns
    -------
    array (n, 12) [kW]

    Equation: billed = max(demand of the month, ratchet / 100 x highest demand)
    Sources: Pacific Northwest National Laboratory, federal energy management answers, "What is a
    demand ratchet?", which is also the tested case.
    """
    demand = np.asarray(monthly_demand_kw, float)
    highest = (demand * ratchet_month_mask).max(axis=-1, keepdims=True)
    return np.maximum(demand, _for_each_month(ratchet_pct) / 100 * highest)


def energy_charge_usd(*, monthly_energy_kwh, billing_demand_kw, billed_hp, block_basis,
                      block_size, block_price_usd_kwh, month_price_usd_kwh=0.0,
                      off_peak_share_pct=0.0, off_peak_price_usd_kwh=0.0):
    """Energy charge of each month [USD/month].

    The off-peak share of each month is priced at the off-peak price alone. The rest runs through
    the blocks; the price of the month (season, fuel adjustment) is added to each of its kWh.
    A block that counts per season is used up from January on. Energy beyond the last block has
    no price, so the charge is NaN: the size of the last block is meant to be infinite.

    Parameters
    ----------
    monthly_energy_kwh : array (n, 12) [kWh/month]
    billing_demand_kw : array (n, 12) [kW]; for blocks per kW: of the month, or highest of the year
    billed_hp : array (n,) [hp]; for blocks per hp
    block_basis : array (n,) of text, one of BLOCK_BASES
    block_size : array (n, b) [kWh, kWh/hp or kWh/kW by the basis]; infinite = all the rest
    block_price_usd_kwh : array (n, b) [USD/kWh]
    month_price_usd_kwh : array (12,) or (n, 12) [USD/kWh]
    off_peak_share_pct : array (n,) [%]
    off_peak_price_usd_kwh : array (n,) [USD/kWh]

    Returns
    -------
    array (n, 12) [USD/month]

    Equation: charge = sum over blocks of (kWh in the block x price) + other kWh x price of the
    month + off-peak kWh x off-peak price
    Sources: published irrigation rates of electric cooperatives, which are the tested cases.
    Errors: ValueError for a block basis that is not in BLOCK_BASES.
    """
    energy = np.asarray(monthly_energy_kwh, float)
    off_peak = energy * _for_each_month(off_peak_share_pct) / 100
    rest = energy - off_peak
    blocks = _block_charge_usd(rest, np.asarray(billing_demand_kw, float), billed_hp,
                               np.asarray(block_basis), np.asarray(block_size, float),
                               np.asarray(block_price_usd_kwh, float))
    return (blocks + _priced(rest, month_price_usd_kwh)
            + _priced(off_peak, _for_each_month(off_peak_price_usd_kwh)))


def annual_bill(*, monthly_energy_charge_usd, monthly_demand_kw, billing_demand_kw, billed_hp,
                customer_charge_usd_month,
                facilities_charge_usd_hp=0.0, facilities_charge_usd_kw=0.0,
                demand_charge_usd_kw=0.0, demand_month_mask=1,
                load_control_credit_usd_kw=0.0, load_control_month_mask=1, has_load_control=False,
                minimum_bill_usd_yr=0.0):
    """One year's bill, line by line [USD/yr].

    The facilities charge per kW takes the highest billing demand of the year. The credit takes
    the month's own demand, not the ratchet. The customer charge is billed in all months.
    Leaves out taxes and capital credits.

    Parameters
    ----------
    monthly_energy_charge_usd : array (n, 12) [USD/month]; from `energy_charge_usd`
    monthly_demand_kw : array (n, 12) [kW]; own demand of the month
    billing_demand_kw : array (n, 12) [kW]; from `billed_demand_by_month_kw`
    billed_hp : array (n,) [hp]; connected horsepower by the rate's own rule
    customer_charge_usd_month : array (n,) [USD/month]
    facilities_charge_usd_hp : array (n,) [USD/hp per year]
    facilities_charge_usd_kw : array (n,) [USD/kW per year]
    demand_charge_usd_kw : array (n,), or price by month as (n, 12) [USD/kW per month]
    demand_month_mask : array (12,) or (n, 12) [1]
    load_control_credit_usd_kw : array (n,) [USD/kW per month]
    load_control_month_mask : array (12,) or (n, 12) [1]
    has_load_control : array (n,) [yes/no]
    minimum_bill_usd_yr : array (n,) [USD/yr]

    Returns
    -------
    Bill, arrays (n,) [USD/yr]

    Equation: total = customer + facilities + demand + energy + credit + minimum adjustment
    Sources: published irrigation rates of electric cooperatives, which are the tested cases.
    """
    billed = np.asarray(billing_demand_kw, float)
    customer = np.broadcast_to(_for_each_month(customer_charge_usd_month), billed.shape)
    facilities = (np.asarray(billed_hp, float) * facilities_charge_usd_hp
                  + billed.max(axis=-1) * facilities_charge_usd_kw)
    demand = billed * _for_each_month(demand_charge_usd_kw) * demand_month_mask
    energy = np.asarray(monthly_energy_charge_usd, float)
    credit = (-_for_each_month(np.where(has_load_control, load_control_credit_usd_kw, 0.0))
              * monthly_demand_kw * load_control_month_mask)

    year = (customer + demand + energy + credit).sum(axis=-1) + facilities
    return _bill_from_lines([customer.sum(axis=-1), facilities, demand.sum(axis=-1),
                             energy.sum(axis=-1), credit.sum(axis=-1),
                             np.maximum(minimum_bill_usd_yr - year, 0)])


def bill_in_cents(bill):
    """The same bill with each line rounded to the cent and the total added up from them [USD/yr].

    Parameters
    ----------
    bill : Bill

    Returns
    -------
    Bill, arrays (n,) [USD/yr]; for print: the lines of the statement add up to its total

    Equation: total = sum of the rounded lines
    Sources: common practice, no source.
    """
    lines = [getattr(bill, field.name) for field in fields(Bill)[:-1]]
    rounded = _bill_from_lines([np.round(line, 2) for line in lines])
    return Bill(*[getattr(rounded, field.name) for field in fields(Bill)[:-1]],
                total_usd_yr=np.round(rounded.total_usd_yr, 2))


def wholesale_cost(*, monthly_energy_kwh, monthly_demand_kw, wholesale_energy_usd_kwh,
                   wholesale_demand_usd_kw, wholesale_demand_month_mask, coincidence_factor,
                   coincidence_factor_controlled, has_load_control, energy_loss_pct,
                   demand_loss_pct):
    """What the cooperative pays its supplier for the candidate's load [USD/yr].

    Losses are in percent of what is purchased, so purchases = sales / (1 - loss). The coincidence
    factor is the part of the farm's own highest demand of a month that stands at the hour of the
    supplier's peak; load control lowers it.

    Parameters
    ----------
    monthly_energy_kwh : array (n, 12) [kWh/month]; at the farm's meter
    monthly_demand_kw : array (n, 12) [kW]; at the farm's meter
    wholesale_energy_usd_kwh : array (n,), or by month as (n, 12) [USD/kWh]
    wholesale_demand_usd_kw : array (n,), or by month as (n, 12) [USD/kW per month]
    wholesale_demand_month_mask : array (12,) or (n, 12) [1]
    coincidence_factor : array (n,) [1]; 0 to 1
    coincidence_factor_controlled : array (n,) [1]; the same under load control
    has_load_control : array (n,) [yes/no]
    energy_loss_pct : array (n,) [%]; of purchased energy
    demand_loss_pct : array (n,) [%]; of purchased demand, at the peak

    Returns
    -------
    WholesaleCost, arrays (n,) [USD/yr]

    Equation: energy = sum of kWh / (1 - loss / 100) x price;
    demand = sum of kW x coincidence / (1 - loss / 100) x price, over the months of the mask
    Sources: common practice, no source; worked by hand in the test.
    """
    factor = np.where(has_load_control, coincidence_factor_controlled, coincidence_factor)
    purchased_kwh = (np.asarray(monthly_energy_kwh, float)
                     / _for_each_month(1 - np.asarray(energy_loss_pct, float) / 100))
    coincident_kw = (np.asarray(monthly_demand_kw, float) * _for_each_month(factor)
                     / _for_each_month(1 - np.asarray(demand_loss_pct, float) / 100))
    energy = (purchased_kwh * _for_each_month(wholesale_energy_usd_kwh)).sum(axis=-1)
    demand = (coincident_kw * _for_each_month(wholesale_demand_usd_kw)
              * wholesale_demand_month_mask).sum(axis=-1)
    return WholesaleCost(energy, demand, energy + demand)


def _for_each_month(value):
    """A value per candidate as a column, so that it repeats over months; (n, 12) stays."""
    value = np.asarray(value, float)
    return value if value.ndim == 2 else value[..., np.newaxis]


def _column(flags):
    return np.asarray(flags)[..., np.newaxis]


def _priced(kwh, price):
    """kWh x price, where a price that no kWh meets may stay unknown."""
    return np.where(kwh == 0, 0.0, kwh * price)


def _block_charge_usd(energy, billing_demand, billed_hp, basis, size, price):
    """Charge of each month for energy that runs through blocks; see `energy_charge_usd`."""
    if not np.all(np.isin(basis, BLOCK_BASES)):
        raise ValueError(f"block_basis must be one of: {', '.join(BLOCK_BASES)}")
    is_seasonal = _column(np.isin(basis, [name for name in BLOCK_BASES if "season" in name]))
    multiplier = _block_multiplier(billing_demand, billed_hp, basis, is_seasonal)
    # A seasonal block is filled by the energy from January through the month.
    remaining = np.where(is_seasonal, np.cumsum(energy, axis=-1), energy)
    charge = np.zeros(energy.shape)
    for block in range(size.shape[-1]):
        block_size = _for_each_month(size[..., block])
        is_the_rest = np.isinf(block_size)
        capacity = np.where(is_the_rest, np.inf, np.where(is_the_rest, 0, block_size) * multiplier)
        used = np.minimum(remaining, capacity)
        remaining = remaining - used
        in_month = np.where(is_seasonal, np.diff(used, axis=-1, prepend=0.0), used)
        charge = charge + _priced(in_month, _for_each_month(price[..., block]))
    return np.where(remaining > 0, np.nan, charge)


def _block_multiplier(billing_demand, billed_hp, basis, is_seasonal):
    """What a block's size is multiplied with: 1, the horsepower, or the kW of month or year."""
    highest = billing_demand.max(axis=-1, keepdims=True)
    kw = np.where(is_seasonal, highest, billing_demand)
    is_per_hp = _column(np.char.find(basis, "per hp") >= 0)
    is_per_kw = _column(np.char.find(basis, "per kW") >= 0)
    return np.where(is_per_hp, _for_each_month(billed_hp), np.where(is_per_kw, kw, 1.0))


def _bill_from_lines(lines):
    total = lines[0]
    for line in lines[1:]:
        total = total + line
    return Bill(*lines, total_usd_yr=total)
