"""What no farm alone can tell: budget, feeders, shared lines and futures, and each farm in them."""

from dataclasses import dataclass

import pandas as pd

from batch.money.rates import bills_and_supply
from batch.money.sharing import SHARE_RULES
from batch.program import budgeting, futures, lines
from batch.program.feeders import feeder_loads
from batch.program.granting import grant_incentive
from batch.step import step


@dataclass
class Portfolio:
    """What no farm alone can tell; any table may be empty. Their columns stand in
    `batch/columns/portfolio.py`. `funded_by` has the Excel rows of the farms that each way to give
    out the budget funds, `rule_farms` the farms behind each row of `rule_costs`; `draws` is how
    many futures were drawn."""

    sets: pd.DataFrame
    funded_by: dict[str, pd.Index]
    limits: pd.DataFrame
    shared: pd.DataFrame
    crossover: pd.DataFrame
    tornado: pd.DataFrame
    years: pd.DataFrame
    rule_costs: pd.DataFrame
    rule_farms: pd.DataFrame
    draws: int


@step(
    needs="""
        candidate_id feeder_id shared_line_id line_build service_phases added_load_kw
        useful_load_kw shared_line_members incentive_cost_usd member_saving_usd_yr member_npv_usd
        cooperative_npv_usd together_npv_usd total_resource_npv_usd verdict rank may_be_funded""",
    rules="budget_goal feeder_coincidence_pct",
    makes="best_set_year in_best_set",
    gives="given_out")
def find_best_set(results: pd.DataFrame, inputs):
    """The farms of the best set within budget and limits, and their year."""
    given = budgeting.allocate_budget(results, inputs)
    in_set = given.best_year.notna().astype(float).where(given.is_known)
    return pd.DataFrame({"best_set_year": given.best_year, "in_best_set": in_set}), given


@step(
    needs="""
        candidate_id feeder_id source_fault_a service_phases added_load_kw rank in_budget
        in_best_set may_be_funded""",
    rules="budget_method feeder_coincidence_pct voltage_unbalance_limit_pct",
    makes="assigned_phase",
    gives="feeders")
def load_feeders(results: pd.DataFrame, inputs):
    """The phase of each funded farm on its feeder, and the feeders' loads."""
    is_funded = budgeting.is_funded(results, inputs.rules)
    feeders, phase = feeder_loads(results, is_funded, inputs.feeders, inputs.rules)
    return phase.rename("assigned_phase"), feeders


@step(
    needs=" ".join((*bills_and_supply.needs, *grant_incentive.needs)) + """
        candidate_id engine_replacement_usd engine_remaining_yr line_build service_phases
        annual_energy_kwh own_line_ft transformer_kva wholesale_cost_usd_yr base_revenue_usd_yr
        trunk_part_ft trunk_free_usd line_job_usd base_line_usd base_transformer_usd
        base_service_usd base_drive_usd base_filter_usd base_converter_usd base_starter_usd
        base_leads_usd base_motor_change_usd base_engineering_usd cost_drive_usd cost_filter_usd
        member_leads_usd member_motor_change_usd incentive_usd incentive_cost_usd
        member_net_cost_usd member_npv_usd cooperative_npv_usd together_npv_usd rank in_budget
        in_best_set may_be_funded""",
    rules=" ".join((SHARE_RULES, *bills_and_supply.rules, *grant_incentive.rules)) + """
        drive_life_yr share_order line_free_single_phase_ft line_free_three_phase_ft line_free_job
        transformer_free_kva transformer_free_method allowance_basis allowance_years
        overhead_adder_pct free_limit_pct maximum_member_payback_yr discount_rate_cooperative_pct
        discount_rate_member_pct fuel_escalation_pct wholesale_escalation_pct upkeep_escalation_pct
        engine_life_yr residual_value_counts budget_method uncertainty_draws uncertainty_seed
        fuel_price_spread_pct hours_spread_pct construction_spread_pct wholesale_spread_pct
        farm_correlation_pct yearly_correlation_pct""",
    makes="""
        rank_p10 rank_p90 budget_chance_pct cooperative_payback_chance_pct
        member_payback_chance_pct member_loss_chance_pct member_npv_p10_usd member_npv_p50_usd
        member_npv_p90_usd cooperative_npv_p10_usd cooperative_npv_p50_usd
        cooperative_npv_p90_usd""",
    gives="ahead")
def draw_futures(results: pd.DataFrame, inputs):
    """Bands and chances of the ranked farms from drawn futures."""
    ranked = results[results["rank"].notna()]
    is_funded = budgeting.is_funded(results, inputs.rules)
    ahead = futures.look_ahead(ranked, is_funded[ranked.index], inputs)
    return ahead.by_farm.reindex(results.index), ahead


@step(makes="qualifies_alone")
def qualify_alone(results: pd.DataFrame, options_alone) -> pd.Series:
    """Whether a farm of a shared line would qualify if no other farm built."""
    return lines.qualifies_alone(options_alone).reindex(results.index).rename("qualifies_alone")


def portfolio_of(options, costs_of_rules, at_hand) -> Portfolio:
    """The portfolio's tables, from the options, what the rules cost with the farms behind it, and
    what the steps gave."""
    rules, given, ahead = at_hand["rules"], at_hand["given_out"], at_hand["ahead"]
    shared = lines.shared_costs(options[options["is_chosen"]], at_hand["options_alone"], rules)
    return Portfolio(given.sets, given.funded_by, given.limits, shared,
                     lines.crossover(options, rules),
                     ahead.tornado, ahead.years, *costs_of_rules, ahead.draws)
