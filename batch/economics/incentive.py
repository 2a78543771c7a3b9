"""The incentive of the program: its formula and its bounds."""

from dataclasses import dataclass

import numpy as np

BASES = FLAT, PER_HP, PER_KW, PERCENT, TIERS = (
    "flat", "per hp", "per kW", "percent of eligible cost", "tiers")
BINARY_TAIL = 1e-6  # of a cent: 0.29 x 100 is 28.999999999999996 in binary


@dataclass(frozen=True)
class Incentive:
    """Incentive per candidate.

    incentive_usd : array (n,) [USD]; what is paid, in whole cents
    formula_usd : array (n,) [USD]; before any bound
    decided_by : array (n,) of text; what set the amount
    """
    incentive_usd: np.ndarray
    formula_usd: np.ndarray
    decided_by: np.ndarray


def tiered_incentive_usd(*, added_load_kw, tier_upper_kw, tier_usd_per_kw):
    """Incentive in which each kW is paid at the rate of the tier it falls in [USD].

    Parameters
    ----------
    added_load_kw : array (n,) [kW]
    tier_upper_kw : array (k,) [kW]; rising; the last one is infinite where there is no end
    tier_usd_per_kw : array (k,) [USD/kW]

    Returns
    -------
    array (n,) [USD]; kW above the last tier earn nothing; zero for no or negative added load

    Equation: sum over tiers of (kW inside the tier x rate of the tier)
    Sources: common practice, no source; worked by hand in the test.
    """
    load = np.asarray(added_load_kw, float)
    total = np.zeros(load.shape)
    lower = 0.0
    for upper, rate in zip(tier_upper_kw, tier_usd_per_kw):
        total = total + np.clip(load - lower, 0, upper - lower) * rate
        lower = upper
    return total


def incentive_usd(*, incentive_basis, incentive_rate, pump_motor_hp, added_load_kw,
                  eligible_cost_usd, tier_upper_kw, tier_usd_per_kw, incentive_minimum_usd,
                  incentive_maximum_usd, per_kw_cap_usd, project_cap_usd, per_farm_cap_usd,
                  payback_room_usd, member_cost_usd, is_qualified):
    """Incentive by the formula of the rules, within its bounds.

    The minimum comes first; then the smallest of all caps holds, also where it is below the
    minimum. A candidate that does not qualify gets zero, whatever the minimum says, and so does
    one without any eligible cost where the formula is a percent of that.

    Parameters
    ----------
    incentive_basis : array (n,) of text, one of BASES
    incentive_rate : array (n,) [USD, USD/hp, USD/kW or % by the basis]; not used for tiers
    pump_motor_hp : array (n,) [hp]
    added_load_kw : array (n,) [kW]
    eligible_cost_usd : array (n,) [USD]; what the member pays of the items that the rules count
    tier_upper_kw : array (k,) [kW]
    tier_usd_per_kw : array (k,) [USD/kW]
    incentive_minimum_usd : array (n,) [USD]; 0 = none
    incentive_maximum_usd : array (n,) [USD]; infinite = none
    per_kw_cap_usd : array (n,) [USD]; cap by the added load; infinite = none
    project_cap_usd : array (n,) [USD]; cap by the project's cost; infinite = none
    per_farm_cap_usd : array (n,) [USD]; what the farm may still get; infinite = none
    payback_room_usd : array (n,) [USD]; what the cooperative's payback limit still allows
    member_cost_usd : array (n,) [USD]; member's share before the incentive
    is_qualified : array (n,) [1 yes, 0 no, NaN unknown]

    Returns
    -------
    Incentive, arrays (n,)

    Equation: min(max(formula, minimum), maximum, caps, room, member's cost), not below zero, then
    down to a whole cent, so that no bound is passed
    Sources: common practice, no source; worked by hand in the tests.
    Errors: ValueError for a basis that is not in BASES.
    """
    basis = np.asarray(incentive_basis)
    if not np.all(np.isin(basis, BASES)):
        raise ValueError(f"incentive_basis must be one of: {', '.join(BASES)}")
    rate = np.asarray(incentive_rate, float)
    tiers = tiered_incentive_usd(added_load_kw=added_load_kw, tier_upper_kw=tier_upper_kw,
                                 tier_usd_per_kw=tier_usd_per_kw)
    formula = np.select([basis == name for name in BASES],
                        [rate, rate * pump_motor_hp, rate * added_load_kw,
                         rate / 100 * eligible_cost_usd, tiers], np.nan)

    amount = np.maximum(formula, 0)
    decided_by = np.full(amount.shape, "formula", dtype=object)
    for name, bound, apply in (("minimum", incentive_minimum_usd, np.maximum),
                               ("maximum", incentive_maximum_usd, np.minimum),
                               ("cap per kW", per_kw_cap_usd, np.minimum),
                               ("cap by project cost", project_cap_usd, np.minimum),
                               ("cap per farm", per_farm_cap_usd, np.minimum),
                               ("cooperative payback", payback_room_usd, np.minimum),
                               ("member's cost", member_cost_usd, np.minimum)):
        bounded = apply(amount, np.maximum(bound, 0))
        decided_by = np.where(bounded != amount, name, decided_by)
        amount = bounded

    is_without = (basis == PERCENT) & (np.asarray(eligible_cost_usd, float) == 0)
    amount = np.where(is_without, 0.0, amount)
    decided_by = np.where(is_without, "no eligible cost", decided_by)
    qualified = np.asarray(is_qualified, float)
    amount = np.where(qualified == 1, amount, np.where(qualified == 0, 0.0, np.nan))
    decided_by = np.where(qualified == 0, "not qualified", decided_by)
    decided_by = np.where(np.isnan(amount), "not assessed", decided_by)
    cents = np.floor(amount * 100 + BINARY_TAIL)
    return Incentive(cents / 100, formula, decided_by)
