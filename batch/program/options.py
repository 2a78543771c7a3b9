"""The options of each farm: the best design of each, with incentive, yearly money and criteria."""

import pandas as pd

from batch.findings import FAILS
from batch.money import valuation
from batch.program import choosing, granting
from batch.supply import judging


def value_options(designs: pd.DataFrame, rules, unit_costs):
    """The best variant of each option, with incentive and yearly money, and its criteria checks.

    The incentive is granted to an option that fails no technical check, pays the cooperative back
    in time without one, and by which the grower gains with it where the rules ask for that: the
    money shown is that of the final verdict.
    """
    options = choosing.best_variants(designs, unit_costs)
    may_have = choosing.meets_limits(options)
    valued = _granted(options, may_have, rules)
    gains = choosing.npv_floor_checks(valued, rules)
    loses = options.index.isin(gains.loc[gains["answer"] == FAILS, "design"])
    if (loses & may_have).any():
        valued = _granted(options, may_have & ~loses, rules)
    criteria = pd.concat([choosing.criteria_checks(valued, rules), gains], ignore_index=True)
    counted = judging.answers_by_design(criteria, valued)
    for column in counted.filter(like="_count"):
        valued[column] = valued[column] + counted[column]
    both = (valued["fails_names"] + ", " + counted["fails_names"]).str.strip(", ")
    return valued.assign(fails_names=both), criteria


def _granted(options, may_have_incentive, rules):
    """Options with the incentive of those that may have one, and what both parties gain."""
    granted = granting.grant_incentive(options, rules, may_have_incentive.to_numpy(float))
    return valuation.value_designs(granted, rules)
