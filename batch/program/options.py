"""What an option's grower gains with the incentive, and the criteria that count as its checks."""

import pandas as pd

from batch.findings import FAILS
from batch.money.valuation import value_designs
from batch.program import choosing
from batch.program.granting import grant_incentive
from batch.step import step
from batch.supply.judging import answers_by_design

GRANTED = " ".join(("may_have_incentive", *grant_incentive.makes, *value_designs.makes))


@step(
    needs=" ".join(("candidate_id excel_row supply_option variant", GRANTED,
                    *grant_incentive.needs, *value_designs.needs)),
    rules=" ".join(("member_npv_floor_usd", *grant_incentive.rules, *value_designs.rules)),
    anew=GRANTED, gives="gains")
def withhold_incentive(options: pd.DataFrame, rules):
    """No incentive where the grower loses even with it, if the rules ask for his gain.

    The money of these options is worked out anew, so that what is shown is that of the final
    verdict; the check of the grower's gain stays the one with the incentive.
    """
    gains = choosing.npv_floor_checks(options, rules)
    loses = options.index.isin(gains.loc[gains["answer"] == FAILS, "design"])
    may_have = options["may_have_incentive"].where(~loses, 0.0)
    if not may_have.equals(options["may_have_incentive"]):
        options = value_designs(grant_incentive(
            options.assign(may_have_incentive=may_have), rules), rules)
    return options, gains


@step(
    needs="""
        candidate_id supply_option excel_row variant meets_count watch_count fails_count
        not_assessed_count open_limits_count fails_names margin_usd_yr member_net_cost_usd
        member_saving_usd_yr member_payback_yr cooperative_outlay_usd cooperative_payback_yr""",
    rules="maximum_cooperative_payback_yr maximum_member_payback_yr",
    anew="meets_count watch_count fails_count not_assessed_count open_limits_count fails_names",
    gives="criteria")
def count_criteria(options: pd.DataFrame, rules, gains):
    """The program's economic criteria, counted with the other checks of each option."""
    criteria = pd.concat([choosing.criteria_checks(options, rules), gains], ignore_index=True)
    counted = answers_by_design(criteria, options)
    counts = list(counted.filter(like="_count"))
    both = (options["fails_names"] + ", " + counted["fails_names"]).str.strip(", ")
    return options[counts].add(counted[counts]).assign(fails_names=both), criteria


# The steps by which each farm gets one of its priced designs.
CHOOSE = (choosing.best_variants, grant_incentive, value_designs, withhold_incentive,
          count_criteria, choosing.choose_option)
