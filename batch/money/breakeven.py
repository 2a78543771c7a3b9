"""What would change the answer: hours, line length, and money back as others join a line."""

import numpy as np
import pandas as pd

from batch.columns.program import ALL_PAID_FOR_LINE, COST_ITEMS, STRETCH_JOINED, item_key
from batch.economics import cash_flow, cost_share, line_cost
from batch.money import sharing, valuation
from batch.money.prices import line_base_usd
from batch.money.rates import bill_of
from batch.step import step

POINTS = 41
LEAST_SPAN_H = 2_000
LONGEST_LINE_FT = 250_000  # the dictionary's own bound of a distance
LINE_POINTS_FT = np.concatenate([[0.0], np.geomspace(30, LONGEST_LINE_FT, 12)])
FINER_LOOKS, FARMS_AT_ONCE = 4, 1_000


@step(
    needs="""
        shared_line_id rate_id fuel_price_usd present_demand_used_kw season_hours line_build
        load_control used_fuel_rate used_upkeep_usd_h service_phases connected_hp
        service_demand_kw added_load_kw own_line_ft transformer_kva present_bill_usd_yr
        revenue_usd_yr base_revenue_usd_yr margin_usd_yr shared_line_members trunk_relieved_usd
        line_job_usd own_line_usd base_line_usd base_transformer_usd base_service_usd
        base_drive_usd base_filter_usd base_converter_usd base_starter_usd base_leads_usd
        base_motor_change_usd base_engineering_usd member_line_usd member_transformer_usd
        member_service_usd member_engineering_usd contribution_usd cooperative_work_usd
        incentive_usd electric_upkeep_usd_yr cooperative_outlay_usd carrying_cost_usd_yr
        cooperative_npv_usd is_chosen""",
    rules=sharing.SHARE_RULES + """
        season_share_pct share_order line_free_single_phase_ft line_free_three_phase_ft
        line_free_job transformer_free_kva transformer_free_method allowance_basis
        allowance_years overhead_adder_pct free_limit_pct contribution_months
        contribution_interest_pct refund_window_yr refund_method refund_credit_years
        refund_credit_items refund_credit_pct refund_credit_base_usd_yr refund_credit_usd_kwh
        farm_cap_usd maximum_cooperative_payback_yr study_years discount_rate_cooperative_pct
        rate_escalation_pct upkeep_escalation_pct plant_life_yr residual_value_counts
        carrying_cost_pct""",
    makes="""
        breakeven_hours breakeven_line_ft breakeven_line_npv_ft refund_if_joined_usd
        contribution_monthly_usd""")
def break_evens(options: pd.DataFrame, rules, rates: pd.DataFrame, price_list) -> pd.DataFrame:
    """Break-even hours and line length by NPV of the chosen options; by payback, and the refund, of
    all."""
    options = options.copy()
    chosen = options[options["is_chosen"]]
    parts = [_hours(chosen[k:k + FARMS_AT_ONCE], rules, rates)
             for k in range(0, len(chosen), FARMS_AT_ONCE)]
    options["breakeven_hours"] = pd.Series(
        np.concatenate([np.empty(0), *parts]), chosen.index).reindex(options.index)
    options["breakeven_line_ft"] = _payback_line_ft(options, rules, price_list)
    parts = [_npv_line_ft(chosen[k:k + FARMS_AT_ONCE], rules, price_list)
             for k in range(0, len(chosen), FARMS_AT_ONCE)]
    options["breakeven_line_npv_ft"] = pd.Series(
        np.concatenate([np.empty(0), *parts]), chosen.index).reindex(options.index)
    options["refund_if_joined_usd"] = np.where(
        rules["refund_window_yr"] > 0, REFUND_IF_JOINED[rules["refund_method"]](options, rules),
        0.0)
    months = int(rules["contribution_months"])
    options["contribution_monthly_usd"] = np.nan
    if months:
        options["contribution_monthly_usd"] = cost_share.monthly_contribution_usd(
            contribution_usd=options["contribution_usd"].to_numpy(), contribution_months=months,
            interest_pct_yr=rules["contribution_interest_pct"])
    return options


def _refund_of_all(options, rules):
    """All that the member pays for line is shared in equal parts with the newcomer."""
    members = options["shared_line_members"].to_numpy(float)
    return cost_share.refund_usd(
        segment_cost_usd=options["member_line_usd"].to_numpy() * members, users_after=members + 1,
        contribution_paid_usd=options["member_line_usd"].to_numpy(), refunded_before_usd=0.0,
        elapsed_yr=0.0, refund_window_yr=rules["refund_window_yr"])


def _refund_of_stretch(options, rules):
    """The newcomer uses as much of the shared line as the farm, or all of the farm's own line where
    it shares none, and takes over its part of what that costs, by the segment rule; the member gets
    back as much of it as it pays of its line. The job itself, and a spur off a shared line, are not
    shared."""
    own_usd = options["own_line_usd"] - np.where(options["own_line_ft"] == 0, 0.0,
                                                 options["line_job_usd"])
    relieved_usd = np.where(options["shared_line_id"].notna(), options["trunk_relieved_usd"],
                            own_usd / 2)
    base_usd = options["base_line_usd"]
    member_share = options["member_line_usd"] / base_usd.where(base_usd != 0)
    return np.where(base_usd == 0, 0.0, member_share * relieved_usd)


REFUND_IF_JOINED = {ALL_PAID_FOR_LINE: _refund_of_all, STRETCH_JOINED: _refund_of_stretch}


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
        many, many["present_demand_used_kw"], uncontrolled, rate, rules).total_usd_yr, 0.0)
    price = many["fuel_price_usd"].to_numpy()
    hourly = np.where(many["used_fuel_rate"].isna() & (many["present_bill_usd_yr"] > 0), 0.0,
                      many["used_fuel_rate"] * price) + many["used_upkeep_usd_h"]
    saving = (hours.ravel() * hourly + old - new - many["electric_upkeep_usd_yr"]).to_numpy()
    return cash_flow.breakeven_piecewise(x_points=hours, value_points=saving.reshape(n, POINTS))


def _payback_line_ft(options, rules, price_list):
    """Length of one line of its own at which the cooperative's simple payback reaches the
    program's limit without an incentive, which would be cut first, if all that it costs more than
    the line as it is goes by the percent split."""
    overhead = 1 + rules["overhead_adder_pct"] / 100
    limit = rules["maximum_cooperative_payback_yr"]
    left = (limit * (options["margin_usd_yr"] - options["carrying_cost_usd_yr"])
            - (options["cooperative_outlay_usd"] - options["incentive_usd"]))
    # A dollar of line takes its part of the outlay, and its carrying cost in each year.
    per_usd = overhead * ((1 - rules["share_line_member_pct"] / 100)
                          + limit * rules["carrying_cost_pct"] / 100)
    more_usd = cash_flow.breakeven_linear(value_at_zero=left.to_numpy(), value_per_unit=-per_usd)
    steps = price_list.line_steps(options["service_phases"], options["line_build"])
    feet_usd = options["base_line_usd"] + more_usd - options["line_job_usd"]
    return line_cost.stepped_line_ft(line_usd=feet_usd, **steps)


def _npv_line_ft(options, rules, price_list):
    """Length of one line of its own beyond which the cooperative's NPV is below zero, shared by all
    of the rules; 0 where it is so without a line, NaN where no length within the dictionary's bound
    makes it so.

    Sizes, the other items and the incentive stay as they are. The first fall below zero is looked
    for at widely spread lengths, then ever closer. Between the last of them the NPV is taken as a
    straight line, as it is but where a price step, a free part, an allowance or a cap ends.
    """
    parts = ["service_phases", "line_build", "transformer_kva", *sharing.ALLOWANCE_OF.values(),
             "line_job_usd", "added_load_kw", "season_hours",
             *(f"base_{item_key(item)}_usd" for item in COST_ITEMS),
             *(f"member_{item}_usd" for item in sharing.COOPERATIVE_WORK)]
    farms = options[parts].assign(other_npv_usd=options["cooperative_npv_usd"]
                                  - _plant_npv(options, rules))
    many = farms.loc[farms.index.repeat(len(LINE_POINTS_FT))]
    steps = price_list.line_steps(many["service_phases"], many["line_build"])

    def npv(length_ft):
        built = _with_line(many, length_ft.ravel(), steps, rules, price_list)
        total = built["other_npv_usd"] + _plant_npv(built, rules)
        return total.to_numpy().reshape(length_ft.shape)

    length = np.tile(LINE_POINTS_FT, (len(farms), 1))
    value = npv(length)
    is_known, is_paid = ~np.isnan(value).any(axis=1), value[:, 0] >= 0
    has_end = ((value[:, :-1] >= 0) & (value[:, 1:] < 0)).any(axis=1)
    for look in range(FINER_LOOKS + 1):
        place = ((value[:, :-1] >= 0) & (value[:, 1:] < 0)).argmax(axis=1)
        low, high = _two_points(length, place)
        value_low, value_high = _two_points(value, place)
        if look < FINER_LOOKS:
            length = low + (high - low) * np.linspace(0, 1, length.shape[1])
            value = npv(length)
    drop = np.where(value_low == value_high, np.nan, value_low - value_high)
    crossing = (low + (high - low) * value_low / drop).ravel()
    return np.select([~is_known, ~is_paid, has_end], [np.nan, 0.0, crossing], np.nan)


def _two_points(values, place):
    """The value at a place of each row and the next one, two arrays (n, 1)."""
    at = place[:, np.newaxis]
    return np.take_along_axis(values, at, axis=1), np.take_along_axis(values, at + 1, axis=1)


def _with_line(farms, length_ft, steps, rules, price_list):
    """The farms with one line of their own of another length, and what its sharing makes of the
    other work."""
    designs = farms.assign(own_line_ft=length_ft, trunk_part_ft=0.0, trunk_free_usd=0.0,
                           base_line_usd=line_base_usd(length_ft, steps, farms["line_job_usd"]))
    shares = sharing.item_shares(designs, rules, price_list)
    work = [shares[item] for item in sharing.COOPERATIVE_WORK]
    cost_usd = sum(share.item_cost_usd for share in work)
    mine = {f"member_{item}_usd": shares[item].member_usd for item in sharing.COOPERATIVE_WORK}
    return designs.assign(**mine, cooperative_work_usd=cost_usd,
                          contribution_usd=sum(share.member_usd for share in work),
                          carrying_cost_usd_yr=cost_usd * rules["carrying_cost_pct"] / 100)


def _plant_npv(designs, rules):
    """What the plant that the cooperative builds adds to its NPV, with contribution and refund."""
    flows = valuation.plant_flows(designs, rules)
    flow = (flows["contribution"] - flows["refund"] - flows["work"] - flows["carrying"]
            + flows["residual"])
    return cash_flow.npv_usd(flow_usd=flow,
                             discount_rate_pct=rules["discount_rate_cooperative_pct"])
