"""First-year figures, cash flows, NPV and the five benefit tests of each option."""

import numpy as np
import pandas as pd

from batch.columns.candidates import ENGINES, GENERATOR, NO_POWER
from batch.columns.lists import work_items
from batch.columns.program import item_key
from batch.economics import benefit_tests, cash_flow, cost_share, emissions, rate_of_return
from batch.farm.present_plant import engine_of
from batch.money.sharing import MEMBER_EQUIPMENT
from batch.step import step
from batch.tables import table


@step(
    needs="""
        present_power engine_replacement_usd engine_remaining_yr season_hours other_funding_usd
        present_fuel_per_yr fuel_cost_usd_yr upkeep_cost_usd_yr added_load_kw present_bill_usd_yr
        revenue_usd_yr wholesale_cost_usd_yr bill_usd_yr controlled_revenue_usd_yr
        controlled_wholesale_cost_usd_yr uncontrolled_revenue_usd_yr
        uncontrolled_wholesale_cost_usd_yr margin_usd_yr losses_pct member_line_usd
        member_transformer_usd member_service_usd cost_drive_usd member_drive_usd cost_filter_usd
        member_filter_usd member_converter_usd member_starter_usd member_leads_usd
        member_motor_change_usd member_engineering_usd equipment_cost_usd member_cost_usd
        contribution_usd cooperative_cost_usd cooperative_work_usd incentive_usd
        member_net_cost_usd""",
    rules="""
        drive_life_yr contribution_months contribution_interest_pct refund_credit_years
        refund_credit_items refund_credit_pct refund_credit_base_usd_yr refund_credit_usd_kwh
        administration_usd study_years discount_rate_cooperative_pct discount_rate_member_pct
        fuel_escalation_pct rate_escalation_pct wholesale_escalation_pct upkeep_escalation_pct
        engine_life_yr electric_upkeep_pct plant_life_yr residual_value_counts test_timing
        emission_damage_usd_t discount_rate_societal_pct carrying_cost_pct co2_diesel_kg_gal
        co2_propane_kg_gal co2_gasoline_kg_gal co2_natural_gas_kg_mcf co2_grid_lb_mwh""",
    makes="""
        present_cost_usd_yr electric_upkeep_usd_yr electric_cost_usd_yr member_saving_usd_yr
        member_payback_yr breakeven_fuel_price_usd refund_credit_usd_yr refund_credit_usd
        cooperative_outlay_usd carrying_cost_usd_yr cooperative_payback_yr co2_present_t_yr
        co2_added_t_yr co2_avoided_t_yr member_npv_usd member_discounted_payback_yr
        member_flow_usd cooperative_discounted_payback_yr cooperative_npv_usd together_npv_usd
        cooperative_flow_usd participant_ratio participant_npv_usd participant_benefits_usd
        participant_costs_usd ratepayer_ratio ratepayer_npv_usd ratepayer_benefits_usd
        ratepayer_costs_usd total_resource_ratio total_resource_npv_usd
        total_resource_benefits_usd total_resource_costs_usd administrator_ratio
        administrator_npv_usd administrator_benefits_usd administrator_costs_usd societal_ratio
        societal_npv_usd societal_benefits_usd societal_costs_usd life_cost_usd
        controlled_ratepayer_npv_usd controlled_largest_incentive_usd
        uncontrolled_ratepayer_npv_usd uncontrolled_largest_incentive_usd""")
def value_designs(designs: pd.DataFrame, rules) -> pd.DataFrame:
    """First-year saving and margin, paybacks, NPV, the five benefit tests and CO2.

    Yearly amounts are at base-date prices and fall at the end of each year, with nominal
    escalation; outlays fall at year 0. The tests count alike unless the rules have their first
    year undiscounted.
    """
    designs = first_year(designs, rules)
    flows = yearly_flows(designs, rules)
    _value(designs, "member", member_flow(flows), rules)
    _value(designs, "cooperative", cooperative_flow(flows), rules)
    designs["together_npv_usd"] = designs["member_npv_usd"] + designs["cooperative_npv_usd"]
    _benefit_tests(designs, flows, rules)
    _load_control(designs, rules)
    return designs


def first_year(designs: pd.DataFrame, rules) -> pd.DataFrame:
    """Saving, margin, simple paybacks and CO2 of the first year, at base-date prices."""
    designs = designs.copy()
    designs["present_cost_usd_yr"] = (designs["fuel_cost_usd_yr"] + designs["upkeep_cost_usd_yr"]
                                      + designs["present_bill_usd_yr"])
    designs["electric_upkeep_usd_yr"] = (
        designs["equipment_cost_usd"] * rules["electric_upkeep_pct"] / 100)
    designs["electric_cost_usd_yr"] = designs["bill_usd_yr"] + designs["electric_upkeep_usd_yr"]
    designs["member_saving_usd_yr"] = (
        designs["present_cost_usd_yr"] - designs["electric_cost_usd_yr"])
    designs["member_payback_yr"] = cash_flow.simple_payback_yr(
        first_cost_usd=designs["member_net_cost_usd"].to_numpy(),
        yearly_saving_usd=designs["member_saving_usd_yr"].to_numpy(),
        life_yr=rules["plant_life_yr"])
    burns = designs["present_fuel_per_yr"].where(designs["present_fuel_per_yr"] > 0)
    designs["breakeven_fuel_price_usd"] = (designs["electric_cost_usd_yr"]
                                           - designs["upkeep_cost_usd_yr"]) / burns
    refund = _refund(designs, rules, designs["revenue_usd_yr"])
    designs["refund_credit_usd_yr"], designs["refund_credit_usd"] = refund[:, 1], refund.sum(axis=1)
    designs["cooperative_outlay_usd"] = (designs["cooperative_cost_usd"] + designs["incentive_usd"]
                                         + rules["administration_usd"]
                                         + designs["refund_credit_usd"])
    designs["carrying_cost_usd_yr"] = (
        designs["cooperative_work_usd"] * rules["carrying_cost_pct"] / 100)
    designs["cooperative_payback_yr"] = cash_flow.simple_payback_yr(
        first_cost_usd=designs["cooperative_outlay_usd"].to_numpy(),
        yearly_saving_usd=(designs["margin_usd_yr"] - designs["carrying_cost_usd_yr"]).to_numpy(),
        life_yr=rules["plant_life_yr"])
    _co2(designs, rules)
    return designs


def yearly_flows(designs: pd.DataFrame, rules) -> dict[str, np.ndarray]:
    """Amounts by year, (n, years + 1) with year 0 first [USD], all above zero in their names'
    sense."""
    years = int(rules["study_years"])

    def escalated(amount, rate_key):
        return cash_flow.yearly_flow_usd(
            base_amount_usd_yr=np.asarray(amount, float), escalation_pct=rules[rate_key],
            study_years=years)

    def at_start(amount):
        flow = np.zeros((len(designs), years + 1))
        flow[:, 0] = amount
        return flow

    def at_end(amount):
        flow = np.zeros((len(designs), years + 1))
        flow[:, -1] = amount
        return flow

    return {
        "bill": escalated(designs["revenue_usd_yr"], "rate_escalation_pct"),
        "fuel": escalated(designs["fuel_cost_usd_yr"], "fuel_escalation_pct"),
        "engine_upkeep": escalated(designs["upkeep_cost_usd_yr"], "upkeep_escalation_pct"),
        **_engine_flows(designs, rules, at_start, at_end),
        "electric_upkeep": escalated(designs["electric_upkeep_usd_yr"], "upkeep_escalation_pct"),
        **_drive_flows(designs, rules, at_end),
        "equipment": at_start(designs["equipment_cost_usd"]),
        "equipment_by_member": at_start(_member_equipment(designs)),
        "incentive": at_start(designs["incentive_usd"]),
        "grant": at_start(np.minimum(designs["other_funding_usd"],
                                     np.maximum(designs["member_cost_usd"]
                                                - designs["incentive_usd"], 0))),
        "supply": escalated(designs["wholesale_cost_usd_yr"], "wholesale_escalation_pct"),
        "administration": at_start(rules["administration_usd"]),
        **plant_flows(designs, rules),
    }


def _upkeep(rules):
    """How prices of what is replaced rise, and over how many years."""
    return {"escalation_pct": rules["upkeep_escalation_pct"],
            "study_years": int(rules["study_years"])}


def _engine_flows(designs, rules, at_start, at_end):
    """Engines that the member need not buy, and what they would be worth at the end."""
    is_new = (designs["present_power"] == NO_POWER).to_numpy()
    has_engine = designs["present_power"].isin([*ENGINES, GENERATOR, NO_POWER]).to_numpy()
    usd = np.where(has_engine, designs["engine_replacement_usd"].fillna(0.0), 0.0)
    left_yr = np.where(is_new, rules["engine_life_yr"], designs["engine_remaining_yr"])
    # Without its remaining life the replacement is left out, which a finding says.
    usd = np.where(np.isnan(left_yr), 0.0, usd)
    first_yr = np.where(np.isnan(left_yr), np.inf, left_yr)
    return {
        "engine": at_start(np.where(is_new, usd, 0.0)) + cash_flow.replacement_flow_usd(
            replacement_usd=usd, replacement_life_yr=rules["engine_life_yr"],
            first_replacement_yr=first_yr, **_upkeep(rules)),
        # An engine that stands at year 0 is sold or stays with the member: no value of it counts.
        "engine_left": at_end(np.where(
            is_new | (np.ceil(first_yr) < rules["study_years"]), cash_flow.residual_value_usd(
                asset_cost_usd=usd, asset_life_yr=rules["engine_life_yr"],
                first_replacement_yr=first_yr, **_upkeep(rules)), 0.0))}


def _drive_flows(designs, rules, at_end):
    """Drives and filters bought again, and what they are worth at the end. Leads, converters,
    starters and motors last the study and have no value left then; common practice, no source."""
    usd = (designs["cost_drive_usd"] + designs["cost_filter_usd"]).to_numpy()
    life_yr = rules["drive_life_yr"]
    return {
        "drive": cash_flow.replacement_flow_usd(
            replacement_usd=usd, first_replacement_yr=life_yr, replacement_life_yr=life_yr,
            **_upkeep(rules)),
        "drive_left": at_end(cash_flow.residual_value_usd(
            asset_cost_usd=usd, asset_life_yr=life_yr, first_replacement_yr=life_yr,
            **_upkeep(rules)))}


def plant_flows(designs: pd.DataFrame, rules) -> dict[str, np.ndarray]:
    """The flows of what the cooperative builds, as in `yearly_flows`: the work, its carrying cost
    and residual value, the member's contribution and what of it comes back."""
    years = int(rules["study_years"])
    work = np.zeros((len(designs), years + 1))
    work[:, 0] = designs["cooperative_work_usd"]
    return {"work": work, "residual": _residual(designs, rules, years),
            "carrying": cash_flow.yearly_flow_usd(
                base_amount_usd_yr=designs["carrying_cost_usd_yr"].to_numpy(float),
                study_years=years,
                escalation_pct=rules["upkeep_escalation_pct"]),
            "contribution": _contribution(designs, rules, years),
            "refund": _refund(designs, rules, designs["revenue_usd_yr"])}


def _member_equipment(designs):
    return designs[[f"member_{item_key(item)}_usd" for item in MEMBER_EQUIPMENT]].sum(
        axis=1, skipna=False).to_numpy()


def _contribution(designs, rules, years):
    """The member's share of the cooperative's work: at once, or in equal months with interest. What
    is owed at the end of the study falls in its last year."""
    flow = np.zeros((len(designs), years + 1))
    total = designs["contribution_usd"].to_numpy()
    term = int(rules["contribution_months"])
    if term == 0:
        flow[:, 0] = total
        return flow
    monthly = cost_share.monthly_contribution_usd(
        contribution_usd=total, contribution_months=term,
        interest_pct_yr=rules["contribution_interest_pct"])
    months_in_year = np.clip(term - 12 * np.arange(years), 0, 12)
    flow[:, 1:] = monthly[:, np.newaxis] * months_in_year
    flow[:, -1] += cost_share.contribution_balance_usd(
        monthly_usd=monthly, months_left=term - 12 * years,
        interest_pct_yr=rules["contribution_interest_pct"])
    return flow


def _refund(designs, rules, revenue_usd_yr):
    """What comes back of the contribution as yearly credits for use, (n, years + 1) [USD]."""
    years = int(rules["study_years"])
    if rules["refund_credit_years"] == 0:
        return np.zeros((len(designs), years + 1))
    revenue = cash_flow.yearly_flow_usd(
        base_amount_usd_yr=np.asarray(revenue_usd_yr, float), study_years=years,
        escalation_pct=rules["rate_escalation_pct"])
    added_kwh = (designs["added_load_kw"] * designs["season_hours"]).to_numpy(float)[:, np.newaxis]
    credit = (np.maximum(revenue - rules["refund_credit_base_usd_yr"], 0)
              * rules["refund_credit_pct"] / 100 + added_kwh * rules["refund_credit_usd_kwh"])
    # Each payment goes to all items of the contribution in proportion.
    whole = designs[["contribution_usd"]].to_numpy(float)
    back = designs[[f"member_{item}_usd" for item in work_items(rules["refund_credit_items"])]].sum(
        axis=1, skipna=False).to_numpy(float)[:, np.newaxis]
    paid = (np.minimum(np.cumsum(_contribution(designs, rules, years), axis=1), whole)
            * back / np.where(whole == 0, 1.0, whole))
    return cost_share.refund_by_credit_usd(
        yearly_credit_usd=credit, contribution_paid_usd=paid,
        credit_years=rules["refund_credit_years"])


def _residual(designs, rules, years):
    """Value left in the cooperative's plant at the end, at prices of then, where the rules count
    it."""
    flow = np.zeros((len(designs), years + 1))
    if rules["residual_value_counts"]:
        flow[:, -1] = cash_flow.residual_value_usd(
            asset_cost_usd=designs["cooperative_work_usd"].to_numpy(), study_years=years,
            asset_life_yr=rules["plant_life_yr"], first_replacement_yr=rules["plant_life_yr"],
            escalation_pct=rules["upkeep_escalation_pct"])
    return flow


def member_flow(flows) -> np.ndarray:
    """The member's net flow by year, (n, years + 1) [USD], from the yearly flows."""
    return (flows["fuel"] + flows["engine_upkeep"] + flows["engine"] - flows["engine_left"]
            - flows["bill"] - flows["electric_upkeep"] - flows["drive"] + flows["drive_left"]
            - flows["equipment_by_member"] - flows["contribution"] + flows["refund"]
            + flows["incentive"] + flows["grant"])


def cooperative_flow(flows) -> np.ndarray:
    """The cooperative's net flow by year, (n, years + 1) [USD], from the yearly flows."""
    equipment_by_cooperative = flows["equipment"] - flows["equipment_by_member"]
    return (flows["bill"] - flows["supply"] - flows["carrying"] - flows["work"]
            + flows["contribution"] - flows["refund"] - equipment_by_cooperative
            - flows["incentive"] - flows["administration"] + flows["residual"])


def _value(designs, party, flow, rules):
    """A party's NPV and discounted payback by its own rate, and its net flow by year."""
    by_rate = {"flow_usd": flow, "discount_rate_pct": rules[f"discount_rate_{party}_pct"]}
    designs[f"{party}_npv_usd"] = cash_flow.npv_usd(**by_rate)
    designs[f"{party}_discounted_payback_yr"] = cash_flow.payback_yr(**by_rate)
    designs[f"{party}_flow_usd"] = list(flow)


def _benefit_tests(designs, flows, rules):
    """The five tests. What the cooperative pays for member-side equipment counts as incentive."""
    def by_program_year(flow):
        return benefit_tests.in_program_years_usd(
            flow_usd=flow, test_timing=rules["test_timing"])

    def damage(t_yr):
        return by_program_year(cash_flow.yearly_flow_usd(
            base_amount_usd_yr=rules["emission_damage_usd_t"] * t_yr.to_numpy(float),
            escalation_pct=0.0, study_years=int(rules["study_years"])))
    items = benefit_tests.YearlyItems(
        electric_bill_added_usd=by_program_year(flows["bill"]),
        present_supply_avoided_usd=by_program_year(
            flows["fuel"] + flows["engine_upkeep"] + flows["engine"] - flows["engine_left"]),
        member_equipment_usd=by_program_year(
            flows["equipment"] + flows["electric_upkeep"] + flows["drive"] - flows["drive_left"]),
        cooperative_construction_usd=by_program_year(flows["work"] + flows["carrying"]
                                                     - flows["residual"]),
        member_contribution_usd=by_program_year(flows["contribution"] - flows["refund"]),
        incentive_usd=by_program_year(
            flows["incentive"] + flows["equipment"] - flows["equipment_by_member"]),
        outside_grant_usd=by_program_year(flows["grant"]),
        supply_cost_usd=by_program_year(flows["supply"]),
        administration_usd=by_program_year(flows["administration"]),
        emission_damage_avoided_usd=damage(designs["co2_present_t_yr"]),
        emission_damage_added_usd=damage(designs["co2_added_t_yr"]))
    tests = benefit_tests.benefit_tests(
        items=items, participant_discount_rate_pct=rules["discount_rate_member_pct"],
        cooperative_discount_rate_pct=rules["discount_rate_cooperative_pct"],
        societal_discount_rate_pct=rules["discount_rate_societal_pct"])
    for name, test in tests.items():
        designs[f"{name}_ratio"], designs[f"{name}_npv_usd"] = test.ratio, test.npv_usd
        designs[f"{name}_benefits_usd"] = test.benefits_usd
        designs[f"{name}_costs_usd"] = test.costs_usd
    designs["life_cost_usd"] = designs["total_resource_costs_usd"]


def _load_control(designs, rules):
    """The ratepayer test with and without load control, side by side, and the largest incentive
    at which each is just 1: revenue and wholesale cost change, all else stays."""
    years = int(rules["study_years"])

    def present_value(flow):
        return benefit_tests.present_value_usd(
            yearly_usd=benefit_tests.in_program_years_usd(
                flow_usd=flow, test_timing=rules["test_timing"]),
            discount_rate_pct=rules["discount_rate_cooperative_pct"])

    def present_value_of_one(escalation_key):
        return present_value(cash_flow.yearly_flow_usd(
            base_amount_usd_yr=np.ones(1), study_years=years,
            escalation_pct=rules[escalation_key]))[0]

    refunded = present_value(_refund(designs, rules, designs["revenue_usd_yr"]))
    of_revenue = present_value_of_one("rate_escalation_pct")
    of_supply = present_value_of_one("wholesale_escalation_pct")
    for name in ("controlled", "uncontrolled"):
        npv = (designs["ratepayer_npv_usd"]
               + (designs[f"{name}_revenue_usd_yr"] - designs["revenue_usd_yr"]) * of_revenue
               - (designs[f"{name}_wholesale_cost_usd_yr"] - designs["wholesale_cost_usd_yr"])
               * of_supply
               - (present_value(_refund(designs, rules, designs[f"{name}_revenue_usd_yr"]))
                  - refunded))
        designs[f"{name}_ratepayer_npv_usd"] = npv
        designs[f"{name}_largest_incentive_usd"] = benefit_tests.largest_incentive_usd(
            ratepayer_npv_usd=npv, incentive_usd=designs["incentive_usd"])


def _co2(designs, rules):
    """CO2 of the present fuel, of the added electric energy, and the difference."""
    kg_per_unit = engine_of(designs).map(table("fuels").set_index("present_power")["fuel"]).map(
        {"diesel": rules["co2_diesel_kg_gal"], "propane": rules["co2_propane_kg_gal"],
         "gasoline": rules["co2_gasoline_kg_gal"],
         "natural gas": rules["co2_natural_gas_kg_mcf"]}).to_numpy(float)
    # New irrigation burns nothing today: the compared engine's fuel is not avoided.
    burnt = designs["present_fuel_per_yr"].where(designs["present_power"] != NO_POWER,
                                                 0.0).to_numpy()
    designs["co2_present_t_yr"] = np.where(burnt == 0, 0.0, emissions.fuel_co2_t_yr(
        fuel_per_yr=burnt, co2_kg_per_unit=kg_per_unit))
    added_kwh = designs["added_load_kw"] * designs["season_hours"]
    designs["co2_added_t_yr"] = emissions.grid_co2_t_yr(
        annual_energy_kwh=added_kwh.to_numpy(), energy_loss_pct=designs["losses_pct"].to_numpy(),
        grid_co2_lb_mwh=rules["co2_grid_lb_mwh"])
    designs["co2_avoided_t_yr"] = emissions.co2_avoided_t_yr(
        present_co2_t_yr=designs["co2_present_t_yr"], new_co2_t_yr=designs["co2_added_t_yr"])


@step(
    needs="member_flow_usd",
    rules="study_years",
    makes="member_irr_pct irr_root_count flow_sign_changes")
def rates_of_return(options: pd.DataFrame, rules) -> pd.DataFrame:
    """The member's internal rate of return, how many there are, and how often the flow turns.
    No choice hangs on them, so they are computed once, at the end."""
    flow = _by_year(options["member_flow_usd"], rules)
    rate = rate_of_return.internal_rate_of_return(flow_usd=flow)
    return options.assign(member_irr_pct=rate.irr_pct, irr_root_count=rate.root_count,
                          flow_sign_changes=rate_of_return.sign_changes(flow_usd=flow))


def _by_year(flows: pd.Series, rules) -> np.ndarray:
    """A column of flows as an array (n, years + 1)."""
    return np.array([*flows], float).reshape(len(flows), int(rules["study_years"]) + 1)


def cash_flows(options: pd.DataFrame, rules) -> pd.DataFrame:
    """Net flow of each option by year, both parties, and what they add up to by then, discounted:
    the last year's sums are the NPVs. A row per option and year [USD], year 0 first."""
    years = np.arange(int(rules["study_years"]) + 1)
    out = pd.DataFrame({key: np.repeat(options[key].to_numpy(), len(years))
                        for key in ("candidate_id", "supply_option")})
    out["year"] = np.tile(years, len(options))
    for party in ("member", "cooperative"):
        flow = _by_year(options[f"{party}_flow_usd"], rules)
        growth = (1 + rules[f"discount_rate_{party}_pct"] / 100) ** years
        out[f"{party}_usd"] = flow.ravel()
        out[f"{party}_discounted_sum_usd"] = np.cumsum(flow / growth, axis=1).ravel()
    return out
