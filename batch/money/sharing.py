"""Who pays what: the program's cost-share rules applied to every item of every design."""

import numpy as np
import pandas as pd

from batch.columns.program import (
    BASE_REVENUE,
    BY_BANK,
    COOPERATIVE_WORK,
    COST_ITEMS,
    LEADS,
    MARGIN,
    NOTHING,
    REVENUE,
    item_key,
)
from batch.columns.unit_costs import TRANSFORMER
from batch.economics import cost_share
from batch.money.prices import free_line_ft
from batch.step import step
from batch.supply.designs import transformer_units
from batch.tables import sizes

MEMBER_EQUIPMENT = ("drive", "filter", "converter", "starter", LEADS, "motor change")

SHARE_RULES = " ".join(f"share_{item_key(item)}_{part}" for item in COST_ITEMS for part in (
    "member_pct", "free_usd", "cap_usd", "member_cap_usd"))
ALLOWANCE_OF = {REVENUE: "revenue_usd_yr", BASE_REVENUE: "base_revenue_usd_yr",
                MARGIN: "margin_usd_yr"}


@step(
    needs="""
        candidate_id line_build supply_option excel_row variant service_phases own_line_ft
        transformer_kva revenue_usd_yr base_revenue_usd_yr margin_usd_yr trunk_part_ft
        trunk_free_usd line_job_usd base_line_usd base_transformer_usd base_service_usd
        base_drive_usd base_filter_usd base_converter_usd base_starter_usd base_leads_usd
        base_motor_change_usd base_engineering_usd""",
    rules=SHARE_RULES + """
        share_order line_free_single_phase_ft line_free_three_phase_ft line_free_job
        transformer_free_kva transformer_free_method allowance_basis allowance_years
        overhead_adder_pct free_limit_pct farm_cap_usd""",
    makes="""
        cost_line_usd member_line_usd cost_transformer_usd member_transformer_usd
        cost_service_usd member_service_usd cost_drive_usd member_drive_usd cost_filter_usd
        member_filter_usd cost_converter_usd member_converter_usd cost_starter_usd
        member_starter_usd cost_leads_usd member_leads_usd cost_motor_change_usd
        member_motor_change_usd cost_engineering_usd member_engineering_usd allowance_usd
        line_cost_usd transformer_cost_usd equipment_cost_usd project_cost_usd member_cost_usd
        contribution_usd cooperative_cost_usd cooperative_work_usd above_farm_cap_usd""",
    gives="ledger")
def share_costs(designs: pd.DataFrame, rules, price_list) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Each party's share of every cost item, and the ledger (a row per design and item).

    Order of operations: overhead; free feet, free dollars and free transformer size; years of
    revenue or margin over the cooperative's work, in the order line, transformer, service,
    engineering; percent split before or after these, as the rules say; the cooperative's cap, then
    the member's; cents; the cap per farm, above which the member takes over in the order line,
    transformer, service, engineering, then the member's own equipment.
    """
    shares = item_shares(designs, rules, price_list)
    ledger = pd.concat([_ledger_rows(designs, item, share, rules)
                        for item, share in shares.items()], ignore_index=True)
    return with_shares(designs, shares), ledger


def with_shares(designs: pd.DataFrame, shares: dict[str, cost_share.ItemShare]) -> pd.DataFrame:
    """The designs with each item's cost and the member's share of it, and what they add up to."""
    designs = designs.copy()
    for item, share in shares.items():
        key = item_key(item)
        designs[f"cost_{key}_usd"] = share.item_cost_usd
        designs[f"member_{key}_usd"] = share.member_usd
    designs["allowance_usd"] = np.round(sum(share.allowance_used_usd for share in shares.values()),
                                        2)
    designs["line_cost_usd"] = designs["cost_line_usd"]
    designs["transformer_cost_usd"] = designs["cost_transformer_usd"]
    designs["equipment_cost_usd"] = _sum(designs, "cost", MEMBER_EQUIPMENT)
    designs["project_cost_usd"] = _sum(designs, "cost", COST_ITEMS)
    designs["member_cost_usd"] = _sum(designs, "member", COST_ITEMS)
    designs["contribution_usd"] = _sum(designs, "member", COOPERATIVE_WORK)
    designs["cooperative_cost_usd"] = np.round(designs["project_cost_usd"]
                                               - designs["member_cost_usd"], 2)
    designs["cooperative_work_usd"] = _sum(designs, "cost", COOPERATIVE_WORK)
    designs["above_farm_cap_usd"] = np.round(
        sum(share.above_farm_cap_usd for share in shares.values()), 2)
    return designs


def item_shares(designs: pd.DataFrame, rules, price_list,
                price_factor=1.0) -> dict[str, cost_share.ItemShare]:
    """Each party's share of every cost item, by item. `price_factor`, array (n,), makes the price
    list dearer by row, as the designs' own costs already are."""
    overhead = 1 + rules["overhead_adder_pct"] / 100
    free = {item: np.minimum(_free_usd(designs, item, rules, price_list, price_factor),
                             designs[f"base_{item_key(item)}_usd"].to_numpy(float) * overhead)
            for item in COST_ITEMS}
    pooled = _allowance_by_item(designs, free, overhead, rules)
    shares = {}
    for item in COST_ITEMS:
        key = item_key(item)
        shares[item] = cost_share.item_share(
            item_cost_usd=designs[f"base_{key}_usd"].to_numpy(float),
            overhead_pct=rules["overhead_adder_pct"],
            allowance_usd=np.asarray(free[item] + pooled[item], float),
            cooperative_pct=100 - rules[f"share_{key}_member_pct"], order=rules["share_order"],
            cooperative_cap_usd=rules[f"share_{key}_cap_usd"],
            member_cap_usd=rules[f"share_{key}_member_cap_usd"])
    order = (*COOPERATIVE_WORK, *MEMBER_EQUIPMENT)
    cut = dict(zip(order, cost_share.cut_to_farm_cap(
        shares=[shares[item] for item in order], farm_cap_usd=rules["farm_cap_usd"])))
    return {item: cut[item] for item in COST_ITEMS}


def _sum(designs, prefix, items):
    """Sum of cents: rounded, so that no tail of a binary fraction is left."""
    return np.round(designs[[f"{prefix}_{item_key(item)}_usd" for item in items]].sum(
        axis=1, skipna=False), 2)


def _free_usd(designs, item, rules, price_list, price_factor):
    """Free feet and their job, free transformer size and free dollars of one item."""
    key, overhead = item_key(item), 1 + rules["overhead_adder_pct"] / 100
    listed_factor = np.broadcast_to(overhead * price_factor, len(designs))
    free = cost_share.lesser_allowance_usd(
        allowance_usd=float(rules[f"share_{key}_free_usd"]),
        item_cost_usd=designs[f"base_{key}_usd"].to_numpy() * overhead,
        allowance_limit_pct=rules["free_limit_pct"])
    if item == "line" and (rules["line_free_single_phase_ft"] or rules["line_free_three_phase_ft"]):
        # Counted from the tap: the part of a shared line comes before the farm's own.
        left_ft = np.maximum(free_line_ft(designs, rules) - designs["trunk_part_ft"].to_numpy(), 0)
        steps = price_list.line_steps(designs["service_phases"], designs["line_build"])
        own_usd = cost_share.footage_allowance_usd(
            quantity_ft=designs["own_line_ft"], free_ft=left_ft, step_from_ft=steps["step_from_ft"],
            step_usd_ft=steps["step_usd_ft"] * listed_factor[:, np.newaxis])
        free = free + own_usd + designs["trunk_free_usd"].to_numpy() * listed_factor
        if rules["line_free_job"]:
            own_job_usd = np.where((left_ft > 0) & (designs["own_line_ft"] > 0),
                                   designs["line_job_usd"], 0.0)
            free = free + own_job_usd * listed_factor
    if item == "transformer":
        free_kva = float(rules["transformer_free_kva"])
        units = (transformer_units(designs) if rules["transformer_free_method"] == BY_BANK
                 else np.ones(len(designs)))
        bank_kva = units[:, np.newaxis] * sizes("transformer_kVA")
        largest_free = np.where(bank_kva <= free_kva, bank_kva, 0.0).max(axis=1, initial=0.0)
        credit = np.where(largest_free == 0, 0.0, price_list.usd(
            TRANSFORMER, size=largest_free, phases=designs["service_phases"]))
        free = free + cost_share.transformer_allowance_usd(
            transformer_cost_usd=designs["base_transformer_usd"] * overhead,
            transformer_kva=designs["transformer_kva"], free_kva=free_kva,
            free_size_cost_usd=credit * listed_factor)
    return free


def _allowance_by_item(designs, free, overhead, rules):
    """Years of revenue or margin, used up by the cooperative's work from left to right."""
    pooled = {item: np.zeros(len(designs)) for item in COST_ITEMS}
    if rules["allowance_basis"] == NOTHING:
        return pooled
    yearly = designs[ALLOWANCE_OF[rules["allowance_basis"]]]
    # The pool only goes where the member would pay: not to items that are free to the member, and
    # after a percent split not beyond the member's part.
    percent_first = rules["share_order"] == cost_share.PERCENT_THEN_ALLOWANCE
    left_to_pay = []
    for item in COOPERATIVE_WORK:
        member_part = rules[f"share_{item_key(item)}_member_pct"] / 100
        part = member_part if percent_first else float(member_part > 0)
        cost = designs[f"base_{item_key(item)}_usd"].to_numpy() * overhead
        left_to_pay.append(np.maximum(cost * part - free[item], 0))
    left_to_pay = np.stack(left_to_pay, axis=-1)
    by_item = cost_share.pooled_allowance_usd(
        pool_usd=cost_share.revenue_allowance_usd(
            annual_revenue_usd=yearly, allowance_years=rules["allowance_years"]),
        item_cost_usd=left_to_pay)
    return {**pooled, **{item: by_item[:, k] for k, item in enumerate(COOPERATIVE_WORK)}}


def _ledger_rows(designs, item, share, rules):
    key = item_key(item)
    split = f"member pays {rules[f'share_{key}_member_pct']:g} %, {rules['share_order']}"
    caps = [(share.is_cooperative_capped, "cooperative's", rules[f"share_{key}_cap_usd"]),
            (share.is_member_capped, "member's", rules[f"share_{key}_member_cap_usd"])]
    rule = np.select([is_capped for is_capped, _, _ in caps],
                     [f"{split}; {whose} share cut to {usd:,.0f} USD" for _, whose, usd in caps],
                     split)
    rule = np.where(share.above_farm_cap_usd > 0, rule.astype(object) + (
        f"; the member takes what is above the cap per farm of {rules['farm_cap_usd']:,.0f} USD"),
        rule)
    return pd.DataFrame({
        "design": designs.index, "candidate_id": designs["candidate_id"],
        "excel_row": designs["excel_row"],
        "supply_option": designs["supply_option"], "variant": designs["variant"], "item": item,
        "overhead_usd": share.overhead_usd, "item_cost_usd": share.item_cost_usd,
        "allowance_usd": share.allowance_used_usd, "cooperative_usd": share.cooperative_usd,
        "member_usd": share.member_usd,
        "rule": rule,
        "source": rules.source(f"share_{key}_member_pct")})
