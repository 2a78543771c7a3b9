"""Who pays for what: shares of each cost item, contributions, refunds and shared lines.

The steps of one cost item, in this order:
1. overhead is added to the cost, which is then rounded to the cent;
2. the allowance (feet, dollars, years of revenue, a transformer up to a size) and the percent
   split are applied, in the order that the rules state;
3. the cooperative's share is capped, then the member's share is capped (the member's cap is
   applied last, so it prevails where the two meet);
4. the member's share is rounded to the cent; the cooperative pays the rest.
What the cooperative pays for all items together is then cut to the cap per farm.
"""

from dataclasses import dataclass, replace

import numpy as np

from batch.economics.line_cost import stepped_line_usd

ALLOWANCE_THEN_PERCENT = "allowance then percent"
PERCENT_THEN_ALLOWANCE = "percent then allowance"
HALF_A_CENT = 0.005  # a cap that cuts less leaves the share in cents as it is
ORDERS = (ALLOWANCE_THEN_PERCENT, PERCENT_THEN_ALLOWANCE)


@dataclass(frozen=True)
class ItemShare:
    """One line of the ledger per array element [USD], in whole cents.

    item_cost_usd = cooperative_usd + member_usd; overhead is inside item_cost_usd. Where a cap has
    cut a share that is told, of the member's and the cooperative's the one that prevails.
    above_farm_cap_usd is what the cap per farm has moved to the member; inside member_usd.
    """
    overhead_usd: np.ndarray
    item_cost_usd: np.ndarray
    allowance_used_usd: np.ndarray
    cooperative_usd: np.ndarray
    member_usd: np.ndarray
    is_cooperative_capped: np.ndarray
    is_member_capped: np.ndarray
    above_farm_cap_usd: np.ndarray


def item_share(*, item_cost_usd, overhead_pct, allowance_usd, cooperative_pct, order,
               cooperative_cap_usd=np.inf, member_cap_usd=np.inf):
    """Shares of one cost item [USD], adding up to its cost to the cent.

    Parameters
    ----------
    item_cost_usd : array (n,) [USD]; before overhead
    overhead_pct : array (n,) [%]; added to the cost
    allowance_usd : array (n,) [USD]; what the cooperative gives first; negative counts as zero.
        Compared with the cost including overhead
    cooperative_pct : array (n,) [%]; the cooperative's part of the split, 0 to 100
    order : array (n,) of text, one of ORDERS. "allowance then percent": what the allowance leaves
        is split. "percent then allowance": the whole is split, and the allowance lowers the
        member's part
    cooperative_cap_usd : array (n,) [USD]; infinite = no cap
    member_cap_usd : array (n,) [USD]; infinite = no cap

    Returns
    -------
    ItemShare, arrays (n,) [USD]

    Equation: cost = item x (1 + overhead / 100);
    allowance then percent: member = (cost - allowance) x (1 - cooperative / 100);
    percent then allowance: member = cost x (1 - cooperative / 100) - allowance; never below zero
    Sources: structures of published line-extension policies, which are the tested cases.
    Errors: ValueError for an order that is not in ORDERS.
    """
    order = np.asarray(order)
    if not np.all(np.isin(order, ORDERS)):
        raise ValueError(f"order must be one of: {', '.join(ORDERS)}")
    item = np.asarray(item_cost_usd, float)
    cost_cents = np.rint(item * (1 + np.asarray(overhead_pct, float) / 100) * 100)
    cost = cost_cents / 100
    member_part = 1 - np.asarray(cooperative_pct, float) / 100
    allowance = np.maximum(allowance_usd, 0)

    split_base = np.where(order == ALLOWANCE_THEN_PERCENT, cost, cost * member_part)
    allowance_used = np.minimum(allowance, split_base)
    after_allowance = split_base - allowance_used
    member = np.where(order == ALLOWANCE_THEN_PERCENT, after_allowance * member_part,
                      after_allowance)

    cooperative = np.minimum(cost - member, cooperative_cap_usd)
    is_member_capped = cost - cooperative > member_cap_usd + HALF_A_CENT
    is_cooperative_capped = (cost - member > cooperative_cap_usd + HALF_A_CENT) & ~is_member_capped
    member = np.minimum(cost - cooperative, member_cap_usd)

    member_cents = np.minimum(np.rint(member * 100), cost_cents)
    return ItemShare(overhead_usd=(cost_cents - np.rint(item * 100)) / 100,
                     item_cost_usd=cost_cents / 100,
                     allowance_used_usd=np.rint(allowance_used * 100) / 100,
                     cooperative_usd=(cost_cents - member_cents) / 100,
                     member_usd=member_cents / 100,
                     is_cooperative_capped=is_cooperative_capped,
                     is_member_capped=is_member_capped,
                     above_farm_cap_usd=np.zeros(cost.shape))


def cut_to_farm_cap(*, shares, farm_cap_usd):
    """Shares of a farm's items, what the cooperative pays above its cap moved to the member [USD].

    Parameters
    ----------
    shares : list of ItemShare, arrays (n,) [USD]; the items in the order in which the member takes
        them over
    farm_cap_usd : array (n,) [USD]; the most that the cooperative pays for all items together

    Returns
    -------
    list of ItemShare, in the same order; an item without a cost stays as it is, and counts as
    nothing

    Equation: moved = sum of the cooperative's shares - cap, taken from the items from first to last
    Sources: common practice, no source; worked by hand in the tests.
    """
    cents = np.stack([np.rint(np.nan_to_num(share.cooperative_usd) * 100) for share in shares], -1)
    above = cents.sum(axis=-1) - np.rint(np.asarray(farm_cap_usd, float) * 100)
    moved = pooled_allowance_usd(pool_usd=above, item_cost_usd=cents)
    return [replace(share,
                    cooperative_usd=np.rint(share.cooperative_usd * 100 - moved[..., k]) / 100,
                    member_usd=np.rint(share.member_usd * 100 + moved[..., k]) / 100,
                    above_farm_cap_usd=moved[..., k] / 100)
            for k, share in enumerate(shares)]


def footage_allowance_usd(*, quantity_ft, free_ft, step_from_ft, step_usd_ft):
    """Allowance of free line footage, in dollars: the first feet are free [USD].

    Parameters
    ----------
    quantity_ft : array (n,) [ft]; line to build
    free_ft : array (n,) [ft]; free footage
    step_from_ft : array (k,) or (n, k) [ft]; where each price per foot begins, the first at 0
    step_usd_ft : array (k,) or (n, k) [USD/ft]; including overhead where the policy frees that too

    Returns
    -------
    array (n,) [USD]

    Equation: allowance = cost of min(quantity, free footage)
    Sources: line-extension page of a Great Plains cooperative (first quarter mile free), which is
    also the tested case.
    """
    return stepped_line_usd(length_ft=np.minimum(quantity_ft, np.asarray(free_ft, float)),
                            step_from_ft=step_from_ft, step_usd_ft=step_usd_ft)


def revenue_allowance_usd(*, annual_revenue_usd, allowance_years):
    """Allowance of so many years of base revenue or margin [USD], for the job as one pool.

    Parameters
    ----------
    annual_revenue_usd : array (n,) [USD/yr]; revenue or margin, as the rules state
    allowance_years : array (n,) [yr]

    Returns
    -------
    array (n,) [USD]; zero where the margin is negative

    Equation: allowance = years x yearly revenue
    Sources: Florida Administrative Code 25-6.064 (four years of base revenue), which is also the
    tested case.
    """
    return np.maximum(np.asarray(annual_revenue_usd, float) * allowance_years, 0)


def pooled_allowance_usd(*, pool_usd, item_cost_usd):
    """One allowance for the whole job, used up by its items from left to right [USD].

    Parameters
    ----------
    pool_usd : array (n,) [USD]
    item_cost_usd : array (n, k) [USD]; the items that the pool may pay, in the order of the
        ledger, including overhead; 0 for an item outside the pool

    Returns
    -------
    array (n, k) [USD]; goes into `item_share` as the allowance of each item

    Equation: of an item = min(cost of the item, what the earlier items left of the pool)
    Sources: as `revenue_allowance_usd`; the order changes no total, only the ledger lines.
    """
    cost = np.asarray(item_cost_usd, float)
    left = np.maximum(np.asarray(pool_usd, float), 0)
    used = []
    for item in range(cost.shape[-1]):
        used.append(np.minimum(cost[..., item], left))
        left = left - used[-1]
    return np.stack(used, axis=-1)


def lesser_allowance_usd(*, allowance_usd, item_cost_usd, allowance_limit_pct):
    """The lesser of a dollar allowance and a percentage of the cost [USD].

    Parameters
    ----------
    allowance_usd : array (n,) [USD]
    item_cost_usd : array (n,) [USD]; including overhead
    allowance_limit_pct : array (n,) [%]

    Returns
    -------
    array (n,) [USD]

    Equation: allowance = min(dollars, limit / 100 x cost)
    Sources: common practice, no source; worked by hand in the test.
    """
    return np.minimum(allowance_usd,
                      np.asarray(item_cost_usd, float) * allowance_limit_pct / 100)


def transformer_allowance_usd(*, transformer_cost_usd, transformer_kva, free_kva,
                              free_size_cost_usd):
    """Allowance of a transformer that is free up to a size [USD].

    Parameters
    ----------
    transformer_cost_usd : array (n,) [USD]
    transformer_kva : array (n,) [kVA]
    free_kva : array (n,) [kVA]; a unit of just this size is free
    free_size_cost_usd : array (n,) [USD]; what a larger unit is credited with: 0 where it is not
        free at all, the cost of the largest free unit where the member pays the difference

    Returns
    -------
    array (n,) [USD]; NaN where size or limit is unknown

    Equation: whole cost up to the free size, else the credit, never more than the cost
    Sources: REA Energy Cooperative, "Line Extension Requests", II (single-phase transformer of
    50 kVA or less at no cost to the member), which is also the tested case.
    """
    cost = np.asarray(transformer_cost_usd, float)
    spare_kva = np.asarray(free_kva, float) - transformer_kva
    allowance = np.where(spare_kva >= 0, cost, np.minimum(cost, free_size_cost_usd))
    return np.where(np.isnan(spare_kva), np.nan, allowance)


def monthly_contribution_usd(*, contribution_usd, contribution_months, interest_pct_yr):
    """Equal monthly payment of a contribution, first one a month after the start [USD/month].

    Parameters
    ----------
    contribution_usd : array (n,) [USD]; as if paid at once
    contribution_months : array (n,) [months]; 1 or more
    interest_pct_yr : array (n,) [%/yr]; nominal yearly rate, a twelfth of it each month

    Returns
    -------
    array (n,) [USD/month]; NaN where there are fewer months than one

    Equation: payment = contribution x i / (1 - (1 + i)^-months), i = interest / 1200;
    without interest contribution / months
    Sources: annuity formula of engineering-economics texts; a Great Plains cooperative's
    line-extension page (60 months without interest) is the tested case, numpy-financial `pmt` the
    reference with interest.
    """
    months = np.asarray(contribution_months, float)
    months = np.where(months >= 1, months, np.nan)
    return np.asarray(contribution_usd, float) / contribution_balance_usd(
        monthly_usd=1.0, months_left=months, interest_pct_yr=interest_pct_yr)


def contribution_balance_usd(*, monthly_usd, months_left, interest_pct_yr):
    """What is still owed of a contribution that is paid in equal months [USD].

    Parameters
    ----------
    monthly_usd : array (n,) [USD/month]
    months_left : array (n,) [months]; below zero counts as none
    interest_pct_yr : array (n,) [%/yr]; nominal yearly rate, a twelfth of it each month

    Returns
    -------
    array (n,) [USD]

    Equation: balance = payment x (1 - (1 + i)^-months left) / i, i = interest / 1200;
    without interest payment x months left
    Sources: annuity formula of engineering-economics texts. Tested by the balances of a published
    loan schedule.
    """
    months = np.maximum(np.asarray(months_left, float), 0)
    rate = np.asarray(interest_pct_yr, float) / 1200
    some_rate = np.where(rate == 0, 1.0, rate)
    annuity = np.where(rate == 0, months, -np.expm1(-months * np.log1p(rate)) / some_rate)
    return np.asarray(monthly_usd, float) * annuity


def refund_usd(*, segment_cost_usd, users_after, contribution_paid_usd, refunded_before_usd,
               elapsed_yr, refund_window_yr):
    """Refund to each earlier user of a line segment when one more member joins it [USD].

    The newcomer pays an equal part of the segment; the earlier users get it back in equal parts.

    Parameters
    ----------
    segment_cost_usd : array (n,) [USD]; what the users share, of the segment that the newcomer uses
    users_after : array (n,) [1]; users with the newcomer, 2 or more
    contribution_paid_usd : array (n,) [USD]; what the earlier user paid
    refunded_before_usd : array (n,) [USD]; what this user has had back
    elapsed_yr : array (n,) [yr]; since the line was built
    refund_window_yr : array (n,) [yr]; the last day still counts

    Returns
    -------
    array (n,) [USD]; zero after the window, never more than was paid; NaN for fewer than two users

    Equation: refund = segment / (k - 1) - segment / k = segment / (k (k - 1)), k users after
    Sources: Wisconsin Administrative Code PSC 113.1007 (refunds within five years, never more than
    the contribution); Maine Public Utilities Commission, chapter 395 (reapportioning among the
    customers of a line extension). The test compares it with the segment rule.
    """
    users = np.asarray(users_after, float)
    users = np.where(users >= 2, users, np.nan)
    refund = np.asarray(segment_cost_usd, float) / (users * (users - 1))
    still_open = np.asarray(contribution_paid_usd, float) - refunded_before_usd
    limited = np.clip(refund, 0, np.maximum(still_open, 0))
    years_left = np.asarray(refund_window_yr, float) - elapsed_yr
    return np.where(years_left >= 0, limited, np.where(years_left < 0, 0.0, np.nan))


def refund_by_credit_usd(*, yearly_credit_usd, contribution_paid_usd, credit_years):
    """Refund of a contribution by yearly credits, until it is paid back or the years end [USD].

    Parameters
    ----------
    yearly_credit_usd : array (n, years + 1) [USD]; what the member's use earns in each year, year 0
        first; below zero counts as nothing
    contribution_paid_usd : array (n, years + 1) [USD]; what of the contribution is paid by the end
        of each year, all years before it included, without interest
    credit_years : array (n,) [yr]; the credits of years 1 to this one count

    Returns
    -------
    array (n, years + 1) [USD]; the sum to the end of a year never exceeds what was paid by then

    Equation: refund_t = min(credit_t, paid by t - refunded before t), 1 <= t <= credit years
    Sources: "Help Us Help You", an electric cooperative's public page on home construction (3
    cents per kilowatt hour for three years or until fully refunded), which is also the tested case;
    Code of Ordinances of La Grange, Kentucky, 52.040 (C) (20 % of yearly revenue for five years,
    not above the deposit).
    """
    paid = np.asarray(contribution_paid_usd, float)
    credit = np.maximum(yearly_credit_usd, 0)
    refund = np.zeros(np.broadcast_shapes(paid.shape, np.shape(credit)))
    refunded = refund[..., 0]
    for year in range(1, refund.shape[-1]):
        open_usd = np.maximum(paid[..., year] - refunded, 0)
        in_time = year <= np.asarray(credit_years, float)
        refund[..., year] = np.where(in_time, np.minimum(credit[..., year], open_usd), 0.0)
        refunded = refunded + refund[..., year]
    return refund
