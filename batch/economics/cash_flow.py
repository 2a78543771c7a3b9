"""Money over the years: flows, present value, payback, break-even.

Convention of all functions here, to be printed with their results: prices are those of the base
date; year 0 is the day of the investment and is not discounted; yearly amounts fall at the end of
years 1 to N, so the first of them has escalated and is discounted by one year. A spreadsheet's
NPV() differs: it discounts its first value by a year.
The discount rate and the escalations are either all nominal or all real.
"""

import numpy as np


def yearly_flow_usd(*, base_amount_usd_yr, escalation_pct, study_years):
    """A yearly amount over the study, escalated from its base-date price [USD].

    Parameters
    ----------
    base_amount_usd_yr : array (n,) [USD/yr]; at base-date prices
    escalation_pct : array (n,) [%/yr]
    study_years : int [yr]

    Returns
    -------
    array (n, study_years + 1) [USD]; column t is year t, year 0 is zero

    Equation: flow_t = base x (1 + e / 100)^t for t = 1 ... N
    Sources: NIST Handbook 135, Life Cycle Costing Manual for the Federal Energy Management
    Program (base-date prices, end-of-year flows).
    """
    year = np.arange(study_years + 1)
    growth = _column(1 + np.asarray(escalation_pct, float) / 100) ** year
    return np.where(year == 0, 0 * growth, _column(base_amount_usd_yr) * growth)


def replacement_flow_usd(*, replacement_usd, first_replacement_yr, replacement_life_yr,
                         escalation_pct, study_years):
    """Cost of replacing a piece of equipment in the years in which it wears out [USD].

    A replacement that would fall on or after the end of the study is not made. A remaining life
    inside a year puts the replacement at the end of that year.

    Parameters
    ----------
    replacement_usd : array (n,) [USD]; at base-date prices
    first_replacement_yr : array (n,) [yr]; remaining life today; infinite = never
    replacement_life_yr : array (n,) [yr]; life of each new unit, above zero
    escalation_pct : array (n,) [%/yr]
    study_years : int [yr]

    Returns
    -------
    array (n, study_years + 1) [USD]; column t is year t

    Equation: cost x (1 + e / 100)^t x replacements due in year t
    Sources: NIST Handbook 135 (capital replacement costs).
    """
    year = np.arange(study_years + 1)
    first = np.maximum(np.ceil(_column(first_replacement_yr)), 0)
    life = _column(replacement_life_yr)
    due_by_year = np.maximum(np.floor((year - first) / np.where(life > 0, life, np.nan)) + 1, 0)
    due = np.diff(due_by_year, axis=-1, prepend=0.0)
    growth = _column(1 + np.asarray(escalation_pct, float) / 100) ** year
    flow = _column(replacement_usd) * growth * due
    return np.where(year < study_years, flow, 0 * flow)


def residual_value_usd(*, asset_cost_usd, asset_life_yr, first_replacement_yr, study_years,
                       escalation_pct=0.0):
    """Value left at the end of the study by straight-line depreciation [USD], prices of that year.

    Parameters
    ----------
    asset_cost_usd : array (n,) [USD]; of one unit, at base-date prices
    asset_life_yr : array (n,) [yr]
    first_replacement_yr : array (n,) [yr]; the asset's life for one bought in year 0; infinite for
        one that is never replaced
    study_years : int [yr]
    escalation_pct : array (n,) [%/yr]; of the price of a new unit

    Returns
    -------
    array (n,) [USD]; of the unit in use at the end; never below zero

    Equation: value = cost x (1 + e / 100)^N x (1 - age / life)
    Sources: NIST Handbook 135 (residual values, prorated by remaining life); NIST BLCC help (the
    price increase goes before the residual). Tested by an avoided replacement and two assets.
    """
    life = np.asarray(asset_life_yr, float)
    first = np.ceil(np.asarray(first_replacement_yr, float))
    # Replacements come strictly before the end, as in `replacement_flow_usd`.
    is_replaced = first < study_years
    since_first = study_years - np.where(is_replaced, first, 0)
    age_replaced = since_first - life * (np.ceil(since_first / life) - 1)
    first_age = np.maximum(study_years - (first - life), 0)
    age = np.where(is_replaced, age_replaced, np.where(np.isinf(first), study_years, first_age))
    growth = (1 + np.asarray(escalation_pct, float) / 100) ** study_years
    value = np.asarray(asset_cost_usd, float) * growth * np.maximum(1 - age / life, 0)
    return np.where(np.isnan(first), np.nan, value)


def npv_usd(*, flow_usd, discount_rate_pct):
    """Net present value at year 0 [USD].

    Parameters
    ----------
    flow_usd : array (n, years + 1) [USD]; year 0 first
    discount_rate_pct : array (n,) [%/yr]

    Returns
    -------
    array (n,) [USD]

    Equation: NPV = sum of flow_t / (1 + d)^t, t = 0 ... N
    Sources: engineering-economics texts; numpy-financial `npv` is the reference and holds the
    tested example.
    """
    flow = np.asarray(flow_usd, float)
    growth = _column(1 + np.asarray(discount_rate_pct, float) / 100)
    return (flow / growth ** np.arange(flow.shape[-1])).sum(axis=-1)


def payback_yr(*, flow_usd, discount_rate_pct):
    """Years until the flows, discounted, first add up to zero; simple payback at a rate of 0 [yr].

    Within a year the flow is taken as even, so the year is interpolated. Looks at the first
    crossing only: a later replacement may bring the sum below zero again.

    Parameters
    ----------
    flow_usd : array (n, years + 1) [USD]; year 0 first
    discount_rate_pct : array (n,) [%/yr]; 0 for simple payback

    Returns
    -------
    array (n,) [yr]; 0 where nothing is to be paid back; NaN where it never is within the study

    Equation: t such that sum to t of flow / (1 + d)^t = 0
    Sources: engineering-economics text, discounted payback of 5,000 by 2,000 a year, which is
    also the tested case.
    """
    flow = np.asarray(flow_usd, float)
    growth = _column(1 + np.asarray(discount_rate_pct, float) / 100)
    discounted = flow / growth ** np.arange(flow.shape[-1])
    balance = discounted[..., 0]
    payback = np.where(balance >= 0, 0.0, np.nan)
    for year in range(1, flow.shape[-1]):
        amount = discounted[..., year]
        crosses = np.isnan(payback) & (balance < 0) & (balance + amount >= 0)
        part = -balance / np.where(crosses, amount, 1.0)
        payback = np.where(crosses, year - 1 + part, payback)
        balance = balance + amount
    return np.where(np.isnan(flow).any(axis=-1), np.nan, payback)


def simple_payback_yr(*, first_cost_usd, yearly_saving_usd, life_yr):
    """First cost over the saving of a year at base-date prices [yr], the trade's quick figure.

    Parameters
    ----------
    first_cost_usd : array (n,) [USD]
    yearly_saving_usd : array (n,) [USD/yr]
    life_yr : float [yr]; what is bought is worn out by then and pays nothing back later

    Returns
    -------
    array (n,) [yr]; 0 where there is no cost; NaN where there is a cost that no saving pays back
    within the life

    Equation: payback = first cost / yearly saving
    Sources: engineering-economics texts; Georgia extension example in the farm press, 2008.
    """
    cost = np.asarray(first_cost_usd, float)
    saving = np.asarray(yearly_saving_usd, float)
    payback = cost / np.where(saving > 0, saving, np.nan)
    payback = np.where(payback <= life_yr, payback, np.nan)
    return np.where((cost <= 0) & ~np.isnan(saving), 0.0, payback)


def breakeven_linear(*, value_at_zero, value_per_unit):
    """Where a straight line crosses zero: break-even fuel price, distance or hours [unit of x].

    Valid for a value that is a straight line in x, as the NPV is in the fuel price.

    Parameters
    ----------
    value_at_zero : array (n,) [USD]; value with x = 0
    value_per_unit : array (n,) [USD per unit of x]

    Returns
    -------
    array (n,) [unit of x]; NaN for a flat line; negative where the crossing lies below zero

    Equation: x = -value at zero / value per unit
    Sources: algebra.
    """
    slope = np.asarray(value_per_unit, float)
    return -np.asarray(value_at_zero, float) / np.where(slope == 0, np.nan, slope)


def breakeven_piecewise(*, x_points, value_points):
    """Smallest x at which a value of straight pieces rises from below zero to zero [unit of x].

    Exact where the points hold every kink, as the hours at which an energy block is used up.

    Parameters
    ----------
    x_points : array (k,) or (n, k) [unit of x]; rising
    value_points : array (n, k) [USD]; value at each point

    Returns
    -------
    array (n,) [unit of x]; the first point where the value is zero or more there already; NaN
    where it stays below zero, or a value up to the crossing is unknown

    Equation: x = x1 - v1 (x2 - x1) / (v2 - v1) in the piece with v1 < 0 <= v2
    Sources: algebra.
    """
    value = np.asarray(value_points, float)
    x = np.broadcast_to(np.asarray(x_points, float), value.shape)
    crossing = np.where(value[..., 0] >= 0, x[..., 0], np.nan)
    known = ~np.isnan(value[..., 0])
    for right in range(1, value.shape[-1]):
        low, high = value[..., right - 1], value[..., right]
        known = known & ~np.isnan(high)
        crosses = known & np.isnan(crossing) & (low < 0) & (high >= 0)
        part = -low / np.where(crosses, high - low, 1.0)
        on_line = x[..., right - 1] + part * (x[..., right] - x[..., right - 1])
        crossing = np.where(crosses, on_line, crossing)
    return crossing


def _column(value):
    return np.asarray(value, float)[..., np.newaxis]
