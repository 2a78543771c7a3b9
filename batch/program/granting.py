"""The program's incentive for each option: the formula, its caps, and who gets it."""

import numpy as np
import pandas as pd

from batch.columns.lists import cost_items, tiers
from batch.columns.program import INCENTIVE_ONLY, item_key
from batch.economics import incentive
from batch.findings import FAILS
from batch.money import valuation
from batch.program import choosing


def grant_incentive(designs: pd.DataFrame, rules, is_qualified) -> pd.DataFrame:
    """The program's incentive, what the ranking counts, and the member's net cost.

    `is_qualified` tells which designs meet all but the cooperative's payback, which is held here
    against its limit without any incentive; what it then leaves is one of the incentive's caps.
    """
    d = designs.copy()
    bare = valuation.first_year(d.assign(incentive_usd=0.0, member_net_cost_usd=np.nan), rules)
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
        pump_motor_hp=d["pump_motor_hp"], added_load_kw=d["added_load_kw"],
        eligible_cost_usd=d[eligible].sum(axis=1, skipna=False),
        tier_upper_kw=np.array(upper_kw), tier_usd_per_kw=np.array(tier_usd),
        incentive_minimum_usd=rules["incentive_minimum_usd"],
        incentive_maximum_usd=rules["incentive_maximum_usd"],
        per_kw_cap_usd=_cap(rules["incentive_cap_usd_per_kw"]) * d["added_load_kw"],
        project_cap_usd=_cap(rules["incentive_cap_cost_pct"]) / 100 * d["project_cost_usd"],
        per_farm_cap_usd=rules["farm_cap_usd"] - d["cooperative_cost_usd"],
        member_cost_usd=np.maximum(d["member_cost_usd"] - d["other_funding_usd"], 0),
        payback_room_usd=room, is_qualified=np.where(pays_back == FAILS, 0.0, is_qualified))
    d["incentive_usd"], d["incentive_decided_by"] = granted.incentive_usd, granted.decided_by
    counts_share = rules["incentive_cost_counts"] != INCENTIVE_ONLY
    d["incentive_cost_usd"] = np.round(
        d["incentive_usd"] + (d["cooperative_cost_usd"] if counts_share else 0.0), 2)
    d["incentive_usd_per_kw"] = d["incentive_cost_usd"] / d["counted_load_kw"].where(
        d["counted_load_kw"] > 0)
    d["member_net_cost_usd"] = np.round(np.maximum(
        0.0, d["member_cost_usd"] - d["incentive_usd"] - d["other_funding_usd"]), 2)
    return d


def _cap(amount):
    """A cap of the rules, where 0 is none."""
    return amount or np.inf
