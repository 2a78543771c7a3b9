"""The program's incentive for each option: the formula, its caps, and who gets it."""

import numpy as np
import pandas as pd

from batch.columns.lists import cost_items, tiers
from batch.columns.program import INCENTIVE_ONLY, item_key
from batch.economics import incentive
from batch.findings import FAILS
from batch.money import valuation
from batch.program import choosing
from batch.step import step


@step(
    needs="""
        present_power season_hours pump_motor_hp other_funding_usd present_fuel_per_yr
        fuel_cost_usd_yr upkeep_cost_usd_yr added_load_kw counted_load_kw present_bill_usd_yr
        revenue_usd_yr bill_usd_yr margin_usd_yr losses_pct member_line_usd
        member_transformer_usd member_service_usd member_drive_usd member_filter_usd
        member_converter_usd member_starter_usd member_leads_usd member_motor_change_usd
        member_engineering_usd equipment_cost_usd project_cost_usd member_cost_usd
        contribution_usd cooperative_cost_usd cooperative_work_usd may_have_incentive""",
    rules="""
        contribution_months contribution_interest_pct refund_credit_years refund_credit_items
        refund_credit_pct refund_credit_base_usd_yr refund_credit_usd_kwh incentive_basis
        incentive_amount incentive_tiers incentive_eligible_items incentive_minimum_usd
        incentive_maximum_usd farm_cap_usd incentive_cap_usd_per_kw incentive_cap_cost_pct
        incentive_cost_counts administration_usd maximum_cooperative_payback_yr study_years
        rate_escalation_pct electric_upkeep_pct plant_life_yr carrying_cost_pct co2_diesel_kg_gal
        co2_propane_kg_gal co2_gasoline_kg_gal co2_natural_gas_kg_mcf co2_grid_lb_mwh""",
    makes="""
        incentive_usd incentive_decided_by incentive_cost_usd incentive_usd_per_kw
        member_net_cost_usd""")
def grant_incentive(designs: pd.DataFrame, rules) -> pd.DataFrame:
    """The program's incentive, what the ranking counts, and the member's net cost.

    The designs that `may_have_incentive` meet all but the cooperative's payback, which is held here
    against its limit without any incentive; what it then leaves is one of the incentive's caps.
    """
    designs = designs.copy()
    bare = valuation.first_year(designs.assign(incentive_usd=0.0, member_net_cost_usd=np.nan),
                                rules)
    pays_back = choosing.payback_answer(bare, choosing.COOPERATIVE, rules)
    longest_yr = rules["maximum_cooperative_payback_yr"]
    room = longest_yr if np.isinf(longest_yr) else (
        longest_yr * (bare["margin_usd_yr"] - bare["carrying_cost_usd_yr"])
        - bare["cooperative_outlay_usd"])
    eligible = [f"member_{item_key(item)}_usd"
                for item in cost_items(rules["incentive_eligible_items"])]
    upper_kw, tier_usd = zip(*tiers(rules["incentive_tiers"]))
    granted = incentive.incentive_usd(
        incentive_basis=rules["incentive_basis"], incentive_rate=rules["incentive_amount"],
        pump_motor_hp=designs["pump_motor_hp"], added_load_kw=designs["added_load_kw"],
        eligible_cost_usd=designs[eligible].sum(axis=1, skipna=False),
        tier_upper_kw=np.array(upper_kw), tier_usd_per_kw=np.array(tier_usd),
        incentive_minimum_usd=rules["incentive_minimum_usd"],
        incentive_maximum_usd=rules["incentive_maximum_usd"],
        per_kw_cap_usd=_cap(rules["incentive_cap_usd_per_kw"]) * designs["added_load_kw"],
        project_cap_usd=_cap(rules["incentive_cap_cost_pct"]) / 100 * designs["project_cost_usd"],
        per_farm_cap_usd=rules["farm_cap_usd"] - designs["cooperative_cost_usd"],
        member_cost_usd=np.maximum(designs["member_cost_usd"] - designs["other_funding_usd"], 0),
        payback_room_usd=room,
        is_qualified=np.where(pays_back == FAILS, 0.0, designs["may_have_incentive"]))
    designs["incentive_usd"] = granted.incentive_usd
    designs["incentive_decided_by"] = granted.decided_by
    counts_share = rules["incentive_cost_counts"] != INCENTIVE_ONLY
    designs["incentive_cost_usd"] = np.round(
        designs["incentive_usd"] + (designs["cooperative_cost_usd"] if counts_share else 0.0), 2)
    load_kw = designs["counted_load_kw"].where(designs["counted_load_kw"] > 0)
    designs["incentive_usd_per_kw"] = designs["incentive_cost_usd"] / load_kw
    designs["member_net_cost_usd"] = np.round(np.maximum(
        0.0, designs["member_cost_usd"] - designs["incentive_usd"] - designs["other_funding_usd"]),
        2)
    return designs


def _cap(amount):
    """A cap of the rules, where 0 is none."""
    return amount or np.inf
