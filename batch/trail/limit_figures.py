"""The figures of limits that the rules set to a set of farms as a whole, and of what budgets count.
"""

from batch.columns import CANDIDATES
from batch.program.set_limits import ACCOUNT_CAP, CEILING, FLOORS, IN_WORDS, RULES, accounts_of
from batch.trail.lines import CELL, FIGURE, RULE

BUDGET_ADDS = ("budget_adds_administration", "budget_adds_refunds")
RULE_OF_LIMIT = {IN_WORDS[rule]: rule for rule in (*FLOORS, CEILING)}


def of_set_rules() -> tuple:
    """Ids of the rules by which the best set is sought."""
    return tuple((RULE, rule) for rule in ("set_goal", "feeder_coincidence_pct", *RULES,
                                           *BUDGET_ADDS))


def rule_of(name: str) -> str | None:
    """The rule of a limit, by its name in the table; None for a budget or feeder."""
    return RULE_OF_LIMIT.get(name, ACCOUNT_CAP if name.startswith("account ") else None)


def counted_by_budget(farms, members, rules) -> tuple:
    """What a budget counts beside the incentive cost of some farms, where the rules add any."""
    adds = [(RULE, rule) for rule in BUDGET_ADDS if rules[rule]]
    if not adds:
        return ()
    return (*farms.sum_over(members, "refund_credit_usd")[0], *adds, (RULE, "administration_usd"))


def limit_of_rule(study, farms, best, name, key) -> tuple:
    """Parts, arithmetic and words of what such a limit allows, or of what the best set's farms
    `best` have of it: a sum, or one over another."""
    rule = rule_of(name)
    if key == "limit":
        return ((RULE, rule),), None, ""
    if rule == ACCOUNT_CAP:
        accounts = accounts_of(study.inputs.candidates)
        mine = best[[f"account {accounts[row]}" == name for row in best.index]]
        parts, added = farms.sum_over(mine, "incentive_cost_usd")
        told_by = [one for row in mine.index for one in (
            (CELL, CANDIDATES.name, int(row), "member_account"),
            (FIGURE, "farm", int(row), "in_best_set"))]
        return (*parts, *told_by), added, ""
    over, under = ("incentive_cost_usd", "counted_load_kw") if rule == CEILING else (
        f"{FLOORS[rule]}_{side}_usd" for side in ("benefits", "costs"))
    (gains, gained), (costs, cost) = (farms.sum_over(best, of) for of in (over, under))
    return (*gains, *costs), lambda marked: f"({gained(marked)}) / ({cost(marked)})", ""
