"""What no farm alone can tell: budget, feeders, shared lines and futures, and each farm in them."""

from dataclasses import dataclass, replace

import pandas as pd

from batch.money.rates import bills_and_supply
from batch.money.sharing import SHARE_RULES
from batch.program import futures, lines, set_futures, set_tables, stock
from batch.program.feeders import feeder_loads
from batch.program.granting import grant_incentive
from batch.program.season import is_standing
from batch.step import step


@dataclass
class Portfolio:
    """What no farm alone can tell; any table may be empty. Their columns stand in
    `batch/columns/portfolio.py`. `rule_farms` has the farms behind each row of `rule_costs`;
    `draws` is how many futures were drawn."""

    sets: pd.DataFrame
    limits: pd.DataFrame
    shared: pd.DataFrame
    crossover: pd.DataFrame
    tornado: pd.DataFrame
    years: pd.DataFrame
    rule_costs: pd.DataFrame
    rule_farms: pd.DataFrame
    draws: int
    set_farms: pd.DataFrame
    exchange: pd.DataFrame
    budget_steps: pd.DataFrame
    withdrawals: pd.DataFrame
    buying_list: pd.DataFrame
    set_futures: pd.DataFrame


@step(
    needs="""
        candidate_id feeder_id source_fault_a service_phases added_load_kw rank funded""",
    rules="feeder_coincidence_pct voltage_unbalance_limit_pct",
    makes="assigned_phase",
    gives="feeders")
def load_feeders(results: pd.DataFrame, inputs):
    """The phase of each farm that builds on its feeder, and the feeders' loads."""
    is_funded = results["funded"] == 1
    feeders, phase = feeder_loads(results, is_funded, is_standing(inputs.candidates),
                                  inputs.feeders, inputs.rules)
    return phase.rename("assigned_phase"), feeders


@step(
    needs=" ".join((*bills_and_supply.needs, *grant_incentive.needs)) + """
        candidate_id engine_replacement_usd engine_remaining_yr line_build service_phases
        annual_energy_kwh own_line_ft transformer_kva wholesale_cost_usd_yr base_revenue_usd_yr
        trunk_part_ft trunk_free_usd line_job_usd base_line_usd base_transformer_usd
        base_service_usd base_drive_usd base_filter_usd base_converter_usd base_starter_usd
        base_leads_usd base_motor_change_usd base_engineering_usd cost_drive_usd cost_filter_usd
        member_leads_usd member_motor_change_usd incentive_usd incentive_cost_usd
        member_net_cost_usd member_npv_usd cooperative_npv_usd together_npv_usd rank
        ranking_usd_per_kw funded may_be_funded refund_credit_usd""",
    rules=" ".join((SHARE_RULES, *bills_and_supply.rules, *grant_incentive.rules)) + """
        drive_life_yr share_order line_free_single_phase_ft line_free_three_phase_ft line_free_job
        transformer_free_kva transformer_free_method allowance_basis allowance_years
        overhead_adder_pct free_limit_pct maximum_member_payback_yr discount_rate_cooperative_pct
        discount_rate_member_pct fuel_escalation_pct wholesale_escalation_pct upkeep_escalation_pct
        engine_life_yr residual_value_counts uncertainty_draws uncertainty_seed
        fuel_price_spread_pct hours_spread_pct construction_spread_pct wholesale_spread_pct
        farm_correlation_pct yearly_correlation_pct budget_adds_administration
        budget_adds_refunds administration_usd member_npv_floor_usd""",
    makes="""
        still_qualifies_chance_pct rank_p10 rank_p90 budget_chance_pct
        cooperative_payback_chance_pct
        member_payback_chance_pct member_loss_chance_pct member_npv_p10_usd member_npv_p50_usd
        member_npv_p90_usd cooperative_npv_p10_usd cooperative_npv_p50_usd
        cooperative_npv_p90_usd""",
    gives="ahead")
def draw_futures(results: pd.DataFrame, inputs, funding):
    """Bands and chances of the ranked farms from drawn futures, and of the funded set as one."""
    ranked = results[results["rank"].notna()]
    is_funded = results["funded"] == 1
    ahead = futures.look_ahead(ranked, is_funded[ranked.index], inputs)
    of_sets, chance = set_futures.of_sets(funding, inputs, ahead.draws)
    by_farm = ahead.by_farm.reindex(results.index)
    return by_farm.assign(still_qualifies_chance_pct=chance.reindex(results.index)), replace(
        ahead, of_sets=of_sets)


@step(makes="qualifies_alone")
def qualify_alone(results: pd.DataFrame, options_alone) -> pd.Series:
    """Whether a farm of a shared line would qualify if no other farm built."""
    return lines.qualifies_alone(options_alone).reindex(results.index).rename("qualifies_alone")


def portfolio_of(options, costs_of_rules, at_hand) -> Portfolio:
    """The portfolio's tables, from the options, what the rules cost with the farms behind it, and
    what the steps gave."""
    rules, given, ahead = at_hand["rules"], at_hand["funding"], at_hand["ahead"]
    chosen = options[options["is_chosen"]]
    chosen = chosen.assign(is_funded=chosen["excel_row"].isin(given.funded))
    shared = lines.shared_costs(chosen, at_hand["options_alone"], rules)
    return Portfolio(given.sets, given.limits, shared,
                     lines.crossover(options, rules),
                     ahead.tornado, ahead.years, *costs_of_rules, ahead.draws,
                     *set_tables.all_of(given, at_hand["inputs"]),
                     stock.buying_list(given.funded_sets, given, at_hand["inputs"]), ahead.of_sets)
