"""What would change the answer: hours, line length, and money back as others join a line."""

import numpy as np
import pandas as pd

from batch.economics import cash_flow, cost_share
from batch.steps.rates import bill_of

POINTS = 41
LEAST_SPAN_H = 2_000


def break_evens(options: pd.DataFrame, rules, rates: pd.DataFrame) -> pd.DataFrame:
    """Break-even hours of the chosen options, break-even line length and refund of all."""
    o = options.copy()
    chosen = o[o["is_chosen"]]
    o["breakeven_hours"] = pd.Series(_hours(chosen, rules, rates), chosen.index).reindex(o.index)
    o["breakeven_line_ft"] = _line_ft(o, rules)
    members = o["shared_line_members"].to_numpy(float)
    o["refund_if_joined_usd"] = np.where(
        rules["refund_window_yr"] > 0,
        cost_share.refund_usd(
            segment_cost_usd=o["member_line_usd"].to_numpy() * members, users_after=members + 1,
            contribution_paid_usd=o["member_line_usd"].to_numpy(), refunded_before_usd=0.0,
            elapsed_yr=0.0, refund_window_yr=rules["refund_window_yr"]), 0.0)
    months = int(rules["contribution_months"])
    o["contribution_monthly_usd"] = np.nan if months == 0 else cost_share.monthly_contribution_usd(
        contribution_usd=o["contribution_usd"].to_numpy(), contribution_months=months,
        interest_pct_yr=rules["contribution_interest_pct"])
    return o


def _hours(chosen, rules, rates):
    """Pumping hours at which the member's first-year saving is zero: the bill is evaluated at
    evenly spread hours and taken as straight between them."""
    n = len(chosen)
    span = np.maximum(2 * chosen["season_hours"].to_numpy(float), LEAST_SPAN_H)
    hours = np.linspace(0, 1, POINTS) * span[:, np.newaxis]
    many = chosen.loc[chosen.index.repeat(POINTS)].assign(season_hours=hours.ravel())
    rate = rates.set_index("rate_id").reindex(many["rate_id"])
    controlled = (many["load_control"] == 1).to_numpy()
    uncontrolled = np.zeros(len(many), bool)
    new = bill_of(many, many["service_demand_kw"], controlled, rate, rules).total_usd_yr
    old = np.where(many["present_bill_usd_yr"] > 0, bill_of(
        many, many["present_demand_kw"], uncontrolled, rate, rules).total_usd_yr, 0.0)
    price = many["fuel_price_usd"].to_numpy()
    hourly = np.where(many["used_fuel_rate"].isna() & (many["present_bill_usd_yr"] > 0), 0.0,
                      many["used_fuel_rate"] * price) + many["used_upkeep_usd_h"]
    saving = (hours.ravel() * hourly + old - new - many["electric_upkeep_usd_yr"]).to_numpy()
    return cash_flow.breakeven_piecewise(x_points=hours, value_points=saving.reshape(n, POINTS))


def _line_ft(o, rules):
    """Line length at which the cooperative's simple payback reaches the program's limit, if all
    more feet are shared by the percent split."""
    overhead = 1 + rules["overhead_adder_pct"] / 100
    cost_ft = o["line_usd_ft"] * overhead
    outlay_ft = cost_ft * (1 - rules["share_line_member_pct"] / 100)
    carrying_ft = cost_ft * rules["carrying_cost_pct"] / 100
    limit = rules["maximum_cooperative_payback_yr"]
    left = limit * (o["margin_usd_yr"] - o["carrying_cost_usd_yr"]) - o["cooperative_outlay_usd"]
    return o["paid_line_ft"] + cash_flow.breakeven_linear(
        value_at_zero=left.to_numpy(), value_per_unit=-(outlay_ft + limit * carrying_ft).to_numpy())
