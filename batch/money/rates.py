"""Bills under the farm's rate and the cooperative's own cost of the same power."""

import numpy as np
import pandas as pd

from batch.columns.candidates import ROTARY
from batch.columns.lists import months, shares
from batch.economics import bills
from batch.step import step

BILL_LINES = ("customer", "facilities", "demand", "energy", "load_control_credit",
              "minimum_bill_adjustment")


@step(
    needs="""
        rate_id present_power present_demand_used_kw season_hours load_control connected_hp
        service_demand_kw""",
    rules="season_share_pct",
    makes="""
        present_bill_usd_yr revenue_usd_yr wholesale_cost_usd_yr bill_customer_usd_yr
        bill_facilities_usd_yr bill_demand_usd_yr bill_energy_usd_yr
        bill_load_control_credit_usd_yr bill_minimum_bill_adjustment_usd_yr bill_usd_yr
        base_revenue_usd_yr controlled_revenue_usd_yr controlled_wholesale_cost_usd_yr
        uncontrolled_revenue_usd_yr uncontrolled_wholesale_cost_usd_yr margin_usd_yr losses_pct""")
def bills_and_supply(designs: pd.DataFrame, rules, rates: pd.DataFrame) -> pd.DataFrame:
    """Electric bill by line, added revenue, added wholesale cost and margin of each design.

    Base revenue is the added energy and demand charges, no credit off them. Revenue and wholesale
    cost stand as well with and without load control, whatever the farm has agreed to.
    """
    designs = designs.copy()
    rate = rates.set_index("rate_id").reindex(designs["rate_id"])
    is_rotary = (designs["present_power"] == ROTARY).to_numpy()
    uncontrolled = np.zeros(len(designs), bool)
    old = bill_of(designs, designs["present_demand_used_kw"], uncontrolled, rate, rules)
    designs["present_bill_usd_yr"] = np.where(is_rotary, old.total_usd_yr, 0.0)
    supply_old = np.where(
        is_rotary,
        _wholesale(designs, designs["present_demand_used_kw"], uncontrolled, rate, rules), 0.0)
    for name, controlled in (("", (designs["load_control"] == 1).to_numpy()),
                             ("controlled_", ~uncontrolled), ("uncontrolled_", uncontrolled)):
        new = bill_of(designs, designs["service_demand_kw"], controlled, rate, rules)
        designs[f"{name}revenue_usd_yr"] = new.total_usd_yr - designs["present_bill_usd_yr"]
        designs[f"{name}wholesale_cost_usd_yr"] = _wholesale(
            designs, designs["service_demand_kw"], controlled, rate, rules) - supply_old
        if not name:
            for line in BILL_LINES:
                designs[f"bill_{line}_usd_yr"] = getattr(new, f"{line}_usd_yr")
            designs["bill_usd_yr"] = new.total_usd_yr
            designs["base_revenue_usd_yr"] = new.energy_usd_yr + new.demand_usd_yr - np.where(
                is_rotary, old.energy_usd_yr + old.demand_usd_yr, 0.0)
    designs["margin_usd_yr"] = designs["revenue_usd_yr"] - designs["wholesale_cost_usd_yr"]
    designs["losses_pct"] = rate["losses_pct"].to_numpy()
    return designs


def _monthly(demand_kw, hours, rules):
    """Hours and demand of each month from the season profile, (n, 12)."""
    share = np.array(shares(rules["season_share_pct"])) / 100
    monthly_hours = bills.spread_over_months(season_total=hours.to_numpy(float),
                                             season_share_by_month=share)
    demand = bills.demand_by_month_kw(service_demand_kw=demand_kw.to_numpy(float),
                                      monthly_hours=monthly_hours)
    return monthly_hours * demand, demand


def _masks(texts):
    """Month texts as (n, 12) of 0 and 1; each text is read once."""
    read = {text: np.array(months(text), float) for text in set(texts.dropna())}
    unknown = np.full(12, np.nan)
    return np.array([read.get(text, unknown) for text in texts]).reshape(-1, 12)


def bill_of(designs, demand_kw, controlled, rate, rules) -> bills.Bill:
    """One year's bill of each row at that demand, in cents; `rate` has the row's rate."""
    energy, demand = _monthly(demand_kw, designs["season_hours"], rules)
    demand_mask, hp = _masks(rate["demand_months"]), designs["connected_hp"].to_numpy(float)
    billing = bills.billed_demand_by_month_kw(
        monthly_demand_kw=demand, ratchet_pct=rate["demand_ratchet_pct"].to_numpy(),
        ratchet_month_mask=np.ones(12))
    size = np.column_stack([*(rate[f"block_{n}_size"].fillna(np.inf) for n in (1, 2, 3)),
                            np.full(len(rate), np.inf)])
    price = rate[[f"block_{n}_usd_kwh" for n in (1, 2, 3, 4)]].ffill(axis=1).to_numpy(float)
    has_off_peak = rate["off_peak_usd_kwh"].notna()
    summer = _masks(rate["summer_months"]) * rate[["summer_adder_usd_kwh"]].to_numpy(float)
    charge = bills.energy_charge_usd(
        monthly_energy_kwh=energy, billing_demand_kw=billing, billed_hp=hp,
        block_basis=rate["block_basis"].to_numpy(str), block_size=size, block_price_usd_kwh=price,
        month_price_usd_kwh=summer,
        off_peak_share_pct=rate["off_peak_share_pct"].where(has_off_peak, 0.0).to_numpy(),
        off_peak_price_usd_kwh=rate["off_peak_usd_kwh"].fillna(0.0).to_numpy())
    return bills.bill_in_cents(bills.annual_bill(
        monthly_energy_charge_usd=charge, monthly_demand_kw=demand, billing_demand_kw=billing,
        billed_hp=hp, customer_charge_usd_month=rate["customer_charge_usd_month"].to_numpy(),
        facilities_charge_usd_hp=rate["facilities_charge_usd_hp_yr"].to_numpy(),
        facilities_charge_usd_kw=12 * rate["facilities_charge_usd_kw_month"].to_numpy(),
        demand_charge_usd_kw=rate["demand_charge_usd_kw"].to_numpy(), demand_month_mask=demand_mask,
        load_control_credit_usd_kw=rate["control_credit_usd_kw_month"].to_numpy(),
        load_control_month_mask=demand_mask, has_load_control=controlled,
        minimum_bill_usd_yr=rate["minimum_bill_usd_yr"].to_numpy()))


def _wholesale(designs, demand_kw, controlled, rate, rules):
    energy, demand = _monthly(demand_kw, designs["season_hours"], rules)
    return bills.wholesale_cost(
        monthly_energy_kwh=energy, monthly_demand_kw=demand,
        wholesale_energy_usd_kwh=rate["wholesale_energy_usd_kwh"].to_numpy(),
        wholesale_demand_usd_kw=rate["wholesale_demand_usd_kw"].to_numpy(),
        wholesale_demand_month_mask=_masks(rate["wholesale_demand_months"]),
        coincidence_factor=rate["coincidence_pct"].to_numpy() / 100,
        coincidence_factor_controlled=rate["coincidence_controlled_pct"].to_numpy() / 100,
        has_load_control=controlled, energy_loss_pct=rate["losses_pct"].to_numpy(),
        demand_loss_pct=rate["losses_pct"].to_numpy()).total_usd_yr
