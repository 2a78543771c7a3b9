"""Arithmetic that hangs on the rules, or on what decided for a farm.

Each function gives the arithmetic that holds for a row of the options and the rules, as `worked`
has it elsewhere; blank where there is none of one line. What is paid is in whole cents.
"""

from batch.columns.column import ByFarm
from batch.columns.lists import cost_items, tiers
from batch.columns.program import COOPERATIVE_WORK, INCENTIVE_ONLY, NOTHING, USEFUL_LOAD, item_key
from batch.economics import cost_share, incentive

CENT = 0.01
DECIDED = {
    "minimum": "incentive_minimum_usd",
    "maximum": "incentive_maximum_usd",
    "cap per kW": "incentive_cap_usd_per_kw * added_load_kw",
    "cap by project cost": "incentive_cap_cost_pct / 100 * project_cost_usd",
    "cap per farm": "max(0, farm_cap_usd - cooperative_cost_usd)",
    "cooperative payback":
        "max(0, maximum_cooperative_payback_yr * (margin_usd_yr - carrying_cost_usd_yr)"
        " - cooperative_cost_usd - administration_usd - refund_credit_usd)",
    "member's cost": "max(0, member_cost_usd - other_funding_usd)"}
FORMULAS = {incentive.FLAT: "incentive_amount",
            incentive.PER_HP: "incentive_amount * pump_motor_hp",
            incentive.PER_KW: "incentive_amount * added_load_kw"}


def _incentive(row, rules):
    if row["incentive_decided_by"] != "formula":
        return DECIDED.get(row["incentive_decided_by"], "")
    basis = rules["incentive_basis"]
    if basis == incentive.PERCENT:
        items = " + ".join(f"member_{item_key(item)}_usd"
                           for item in cost_items(rules["incentive_eligible_items"]))
        return f"incentive_amount / 100 * ({items})"
    return FORMULAS[basis] if basis in FORMULAS else _tiers(row, rules)


def _tiers(row, rules):
    """Each kW at the rate of the tier that it falls in."""
    terms, lower = [], 0.0
    for upper, usd in tiers(rules["incentive_tiers"]):
        if row["added_load_kw"] > lower:
            terms.append(f"(min(added_load_kw, {upper:.10g}) - {lower:.10g}) * {usd:.10g}")
        lower = upper
    return " + ".join(terms)


def _incentive_cost(row, rules):
    share = "" if rules["incentive_cost_counts"] == INCENTIVE_ONLY else " + cooperative_cost_usd"
    return f"incentive_usd{share}"


def _counted(row, rules):
    return "useful_load_kw" if rules["ranking_counts"] == USEFUL_LOAD else "added_load_kw"


def _monthly(row, rules):
    if rules["contribution_months"] == 0:
        return ""
    if rules["contribution_interest_pct"] == 0:
        return "contribution_usd / contribution_months"
    return ("contribution_usd * contribution_interest_pct / 1200"
            " / (1 - (1 + contribution_interest_pct / 1200) ** (0 - contribution_months))")


INCENTIVE = ByFarm("the formula by incentive_basis, or the bound that incentive_decided_by names",
                   _incentive)
INCENTIVE_COST = ByFarm("incentive_usd; with cooperative_cost_usd where incentive_cost_counts "
                        "says so", _incentive_cost)
COUNTED_LOAD = ByFarm("useful_load_kw or added_load_kw, as ranking_counts says", _counted)
CONTRIBUTION_MONTHLY = ByFarm("contribution_usd over contribution_months, as an annuity where "
                              "there is interest", _monthly)


def item_cost(item, arithmetic="") -> ByFarm:
    """Cost of an item with overhead; none where the farm has no such item."""
    key = item_key(item)
    text = arithmetic or f"base_{key}_usd * (1 + overhead_adder_pct / 100)"
    return ByFarm(text, lambda row, rules: text if row[f"cost_{key}_usd"] else "")


def member_share(item) -> ByFarm:
    """The member's share of an item: what free dollars leave, split, or a cap that cuts it. Where
    feet, a transformer's size or years of revenue are free as well, what is free stands in the row
    under `allowance_key`; without it, or where the cap per farm moves some of the item to the
    member, there is no arithmetic, and the row of cost_shares.csv tells."""
    key = item_key(item)
    return ByFarm(f"cost_{key}_usd less free dollars, split by share_{key}_member_pct, within the "
                  "caps of both", lambda row, rules: _member_share(item, row, rules))


def allowance_key(item) -> str:
    """What is free of an item, as cost_shares.csv has it, in a row that is handed along with it."""
    return f"allowance_{item_key(item)}_usd"


def _member_share(item, row, rules):
    key = item_key(item)
    cost, cost_usd = f"cost_{key}_usd", row[f"cost_{key}_usd"]
    if not cost_usd > 0:
        return ""
    part, free, text = rules[f"share_{key}_member_pct"] / 100, 0.0, ""
    if _is_free_otherwise(item, rules):
        if allowance_key(item) not in row:
            return ""
        free = row[allowance_key(item)]
        text = f" - {allowance_key(item)}" if free else ""
    elif rules[f"share_{key}_free_usd"]:
        free = min(rules[f"share_{key}_free_usd"], cost_usd * rules["free_limit_pct"] / 100)
        text = f" - min(share_{key}_free_usd, {cost} * free_limit_pct / 100)"
    if rules["share_order"] == cost_share.ALLOWANCE_THEN_PERCENT:
        member_usd = max(0.0, cost_usd - free) * part
        text = (f"max(0, {cost}{text})" if text else cost) + f" * share_{key}_member_pct / 100"
    else:
        member_usd = max(0.0, cost_usd * part - free)
        split = f"{cost} * share_{key}_member_pct / 100"
        text = f"max(0, {split}{text})" if text else split
    if cost_usd - member_usd > rules[f"share_{key}_cap_usd"]:
        member_usd = cost_usd - rules[f"share_{key}_cap_usd"]
        text = f"{cost} - share_{key}_cap_usd"
    if member_usd > rules[f"share_{key}_member_cap_usd"]:
        member_usd, text = rules[f"share_{key}_member_cap_usd"], f"share_{key}_member_cap_usd"
    is_moved = row["above_farm_cap_usd"] and abs(row[f"member_{key}_usd"] - member_usd) > CENT
    return "" if is_moved else text


def _is_free_otherwise(item, rules):
    """Whether more than dollars is free of an item."""
    if item in COOPERATIVE_WORK and rules["allowance_basis"] != NOTHING:
        return True
    if item == "line":
        return bool(rules["line_free_single_phase_ft"] or rules["line_free_three_phase_ft"])
    return item == "transformer" and bool(rules["transformer_free_kva"])
