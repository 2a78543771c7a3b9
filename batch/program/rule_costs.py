"""What the dearest rules in force cost: what the farms that qualify would be without each.

Without a rule none of its checks bars a design, and every farm that it touches chooses anew.
Nothing is sized anew, farms keep their parts of shared lines, and the budget is not looked at.
"""

import numpy as np
import pandas as pd

from batch.columns.portfolio import RULE_COSTS
from batch.columns.program import NO_FLOOR, PROGRAM
from batch.columns.working import RULE_FARMS
from batch.findings import FAILS
from batch.program import choosing
from batch.program.knowledge import is_closed_out
from batch.rules import Rule, value_text
from batch.step import run
from batch.supply.checks import CHECKS

MOST_RULES = 5
MOST_FARMS = 2_000
CRITERION_RULES = {choosing.COOPERATIVE_PAYBACK: "maximum_cooperative_payback_yr",
                   choosing.MEMBER_NPV: "member_npv_floor_usd"}
LIFTED = {"maximum_cooperative_payback_yr": np.inf, "member_npv_floor_usd": NO_FLOOR}
SUMMED = ("added_load_kw", "project_cost_usd", "together_npv_usd")


def rule_costs(designs: pd.DataFrame, options: pd.DataFrame, checks: pd.DataFrame,
               inputs, steps) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The rules without which members and cooperative together would gain most, dearest first, and
    the farms behind each with what they have and what they would choose.

    `designs` are all priced designs with their checks counted, `options` and `checks` the study's,
    and `steps` those by which a study chooses from its priced designs.
    Columns of the first as `RULE_COSTS` has them, of the second as `RULE_FARMS`; both empty where
    no rule costs anything, and for workbooks of more than 2,000 farms.
    """
    empty = tuple(pd.DataFrame(columns=list(sheet.by_key)) for sheet in (RULE_COSTS, RULE_FARMS))
    if options["excel_row"].nunique() > MOST_FARMS:
        return empty
    now = options[options["is_chosen"]].set_index("excel_row")
    lifted = {}
    for key, failing in _failing_by_rule(designs, checks, inputs.rules).items():
        fewer = designs["fails_count"] - failing.reindex(designs.index, fill_value=0)
        touched = _farms_at_stake(key, designs, fewer, options, failing)
        mine = designs["excel_row"].isin(touched)
        if mine.any():
            lifted[key] = designs[mine].assign(
                design=designs.index[mine],
                fails_count=fewer if key not in LIFTED else designs["fails_count"])
    now = now.assign(design=options.index[options["is_chosen"]])
    choices = [(key, now.loc[after.index], after) for key, after in _chosen(lifted, inputs, steps)]
    if not choices:
        return empty
    table = pd.DataFrame([_row(*one, inputs) for one in choices],
                         columns=list(RULE_COSTS.by_key))
    costs = table[(table["farms"] > 0) | (table["together_npv_usd"] > 0)]
    costs = costs.sort_values(["together_npv_usd", "added_load_kw", "key"], ascending=[
        False, False, True]).head(MOST_RULES).reset_index(drop=True)
    farms = pd.concat([_farms(*one) for one in choices], ignore_index=True)
    return costs, farms[farms["key"].isin(costs["key"])]


def _failing_by_rule(designs, checks, rules):
    """How many checks of each rule every design fails, by rule; a criterion's are of options."""
    rule_of = {check.name: key for check in CHECKS
               if (key := check.asked_by if check.asked_by in rules.by_key else check.limit)
               in rules.by_key} | CRITERION_RULES
    failed = designs["fails_names"].str.split(", ").explode()
    technical = pd.DataFrame({"design": failed.index, "check": failed.to_numpy()})
    criteria = checks[checks["check"].isin(CRITERION_RULES) & (checks["answer"] == FAILS)]
    every = pd.concat([technical, criteria[["design", "check"]]])
    keys = every["check"].map(rule_of)  # of no name there is no rule
    return {key: every.loc[keys == key, "design"].value_counts()
            for key in sorted(keys.dropna().unique())}


def _farms_at_stake(key, designs, fewer, options, failing):
    """Farms with an option that fails nothing but this rule."""
    if key in LIFTED:
        alone = options["is_priced"] & (options["fails_count"] == 1) & options.index.isin(
            failing.index)
        return set(options.loc[alone & choosing.may_be_chosen(options), "excel_row"])
    is_priced = designs["project_cost_usd"].notna() & designs["added_load_kw"].notna()
    alone = is_priced & (designs["fails_count"] > 0) & (fewer == 0)
    return set(designs.loc[alone & choosing.may_be_chosen(designs), "excel_row"])


def _chosen(lifted, inputs, steps):
    """What the farms of each rule's designs choose without it: (rule, choice by Excel row).

    Rules without which a check is away are asked together, with each farm once for each rule.
    """
    for keys in ([key for key in lifted if key not in LIFTED],
                 *([key] for key in lifted if key in LIFTED)):
        if not keys:
            continue
        asked = pd.concat([lifted[key].assign(without=key) for key in keys], ignore_index=True)
        asked = asked.assign(farm=asked["excel_row"], excel_row=asked.groupby(
            ["without", "excel_row"]).ngroup())
        rules = inputs.rules.replaced({key: Rule(LIFTED[key], inputs.rules.source(key))
                                       for key in keys if key in LIFTED})
        options = run(steps, asked, {"rules": rules, "price_list": inputs.price_list})
        for key, chosen in options[options["is_chosen"]].groupby("without"):
            yield key, chosen.set_index("farm").sort_index()


def _row(key, before, after, inputs):
    """One rule with the change of the farms that qualify."""
    column, rules = PROGRAM.by_key[key], inputs.rules
    was, will = _qualifies(before), _qualifies(after)
    differs = was & will & ((before["supply_option"] != after["supply_option"])
                            | (before["variant"] != after["variant"]))
    gain = {name: after.loc[will, name].sum() - before.loc[was, name].sum() for name in SUMMED}
    return {"key": key, "rule": column.label, "value": value_text(rules[key]),
            "unit": column.unit, "source": rules.source(key),
            "farms": float(will.sum() - was.sum()), "farms_changed": float(differs.sum())} | gain


def _farms(key, before, after):
    """The farms of one rule whose figures are others without it."""
    was, will = _qualifies(before), _qualifies(after)
    out = pd.DataFrame({"key": key} | {
        f"{name}_{side}": chosen[name].where(counts).to_numpy()
        for name in ("design", *SUMMED)
        for side, chosen, counts in (("before", before, was), ("after", after, will))},
        index=after.index)
    alike = [np.isclose(out[f"{name}_before"], out[f"{name}_after"], atol=1e-9, equal_nan=True)
             for name in ("design", *SUMMED)]
    return out[~np.logical_and.reduce(alike)]


def _qualifies(chosen):
    return (choosing.meets_limits(chosen) & (chosen["counted_load_kw"] > 0)
            & ~is_closed_out(chosen))
