"""Both sides' yearly money: the present plant, the electric bill, wholesale power, cash flows."""

import numpy as np
import pandas as pd

from batch.columns.candidates import ENGINES, GENERATOR, NO_POWER, ROTARY
from batch.columns.lists import months, shares
from batch.columns.program import item_key
from batch.economics import benefit_tests, bills, cash_flow, cost_share, emissions, fuel
from batch.steps.sharing import MEMBER_EQUIPMENT
from batch.steps.water import given_or
from batch.tables import table, value_at

GENERATOR_LOAD_SHARE = 0.75  # a set is bought to carry its load at three quarters of its rating
LOAD_COLUMNS = {"half": 0.5, "three_quarter": 0.75, "full": 1.0}
# New irrigation is compared with the engine that would be bought if electric service were not.
COMPARED_ENGINE = "diesel engine"


# --- the present plant ---------------------------------------------------------------------------

def present_plant(candidates: pd.DataFrame, load: pd.DataFrame, rules) -> pd.DataFrame:
    """Fuel, upkeep and emissions basis of the present plant of each farm (index as given)."""
    c = candidates
    engine = c["present_power"].where(c["present_power"] != NO_POWER, COMPARED_ENGINE)
    rating_pct = c["performance_rating_pct"].where(c["present_power"] != NO_POWER, 100.0)
    by_criteria = fuel.engine_fuel_rate(
        water_power_hp=load["water_power_hp"].to_numpy(),
        other_shaft_power_hp=load["pivot_demand_kw"].to_numpy() / 0.7457,
        water_hp_h_per_unit=value_at("fuels", "present_power", engine, "water_hp_h_per_unit"),
        shaft_hp_h_per_unit=value_at("fuels", "present_power", engine, "shaft_hp_h_per_unit"),
        performance_rating_pct=rating_pct.to_numpy())
    by_set = _generator_fuel(c["generator_kw"].to_numpy(),
                             (load["motor_input_kw"] + load["pivot_demand_kw"]).to_numpy())
    computed = np.where(c["present_power"] == GENERATOR, by_set, by_criteria)
    out = pd.DataFrame(index=c.index)
    out["computed_fuel_rate"] = computed
    out["used_fuel_rate"] = fuel.used_fuel_rate(
        measured_fuel_rate=c["fuel_rate"].to_numpy(), criteria_fuel_rate=computed)
    is_rotary = (c["present_power"] == ROTARY).to_numpy()
    out["present_fuel_per_yr"] = np.where(is_rotary, 0.0, fuel.season_fuel(
        fuel_rate=out["used_fuel_rate"].to_numpy(), season_hours=load["season_hours"].to_numpy()))
    out["fuel_cost_usd_yr"] = np.where(
        is_rotary, 0.0, out["present_fuel_per_yr"] * c["fuel_price_usd"])
    out["used_upkeep_usd_h"] = given_or(
        c["engine_upkeep_usd_h"], np.where(is_rotary, 0.0, rules["engine_upkeep_usd_h"]))
    out["upkeep_cost_usd_yr"] = load["season_hours"] * out["used_upkeep_usd_h"]
    return out


def _generator_fuel(rated_kw, load_kw):
    """Fuel of a generator set from the published part-load chart [gal/h]."""
    chart = table("generator_fuel")
    listed_kw = chart["kW"].to_numpy(float)
    place = np.searchsorted(listed_kw, load_kw / GENERATOR_LOAD_SHARE)
    by_load = np.append(listed_kw, np.nan)[np.where(np.isnan(load_kw), len(listed_kw), place)]
    rated_kw = np.where(np.isnan(rated_kw), by_load, rated_kw)
    curve = fuel.generator_fuel_curve(
        generator_rated_kw=rated_kw, table_rated_kw=listed_kw,
        table_fuel_rate=chart[list(LOAD_COLUMNS)].to_numpy(float))
    return fuel.generator_fuel_rate(
        load_fraction=load_kw / rated_kw, curve_fuel_rate=curve,
        curve_load_fraction=np.array(list(LOAD_COLUMNS.values())))


# --- bills and wholesale power -------------------------------------------------------------------

def bills_and_supply(designs: pd.DataFrame, rules, rates: pd.DataFrame) -> pd.DataFrame:
    """Electric bill by line, added revenue, added wholesale cost and margin of each design."""
    d = designs.copy()
    rate = rates.set_index("rate_id").reindex(d["rate_id"])
    hp, controlled = d["connected_hp"], (d["load_control"] == 1).to_numpy()
    new = _bill(d["service_demand_kw"], d["season_hours"], hp, controlled, rate, rules)
    old = _bill(d["present_demand_kw"], d["season_hours"], hp, np.zeros(len(d), bool), rate, rules)
    is_rotary = (d["present_power"] == ROTARY).to_numpy()
    for field in ("customer", "facilities", "demand", "energy", "load_control_credit",
                  "minimum_bill_adjustment"):
        d[f"bill_{field}_usd_yr"] = getattr(new, f"{field}_usd_yr")
    d["bill_usd_yr"] = new.total_usd_yr
    d["present_bill_usd_yr"] = np.where(is_rotary, old.total_usd_yr, 0.0)
    d["revenue_usd_yr"] = d["bill_usd_yr"] - d["present_bill_usd_yr"]
    supply_new = _wholesale(d["service_demand_kw"], d["season_hours"], controlled, rate, rules)
    supply_old = _wholesale(d["present_demand_kw"], d["season_hours"], np.zeros(len(d), bool), rate,
                            rules)
    d["wholesale_cost_usd_yr"] = supply_new - np.where(is_rotary, supply_old, 0.0)
    d["margin_usd_yr"] = d["revenue_usd_yr"] - d["wholesale_cost_usd_yr"]
    d["losses_pct"] = rate["losses_pct"].to_numpy()
    return d


def _monthly(demand_kw, hours, rules):
    """Hours and demand of each month from the season profile, (n, 12)."""
    share = np.array(shares(rules["season_share_pct"])) / 100
    monthly_hours = bills.spread_over_months(season_total=hours.to_numpy(float),
                                             season_share_by_month=share)
    demand = bills.demand_by_month_kw(service_demand_kw=demand_kw.to_numpy(float),
                                      monthly_hours=monthly_hours)
    return monthly_hours * demand, demand


def _masks(texts):
    """Month texts as (n, 12) of 0 and 1; each text is read once."""
    read = {text: np.array(months(text), float) for text in set(texts.dropna())}
    unknown = np.full(12, np.nan)
    return np.stack([read.get(text, unknown) for text in texts]) if len(texts) else np.zeros((0, 12))


def _bill(demand_kw, hours, hp, controlled, rate, rules):
    energy, demand = _monthly(demand_kw, hours, rules)
    demand_mask, hp = _masks(rate["demand_months"]), hp.to_numpy(float)
    billing = bills.billed_demand_by_month_kw(
        monthly_demand_kw=demand, ratchet_pct=rate["demand_ratchet_pct"].to_numpy(),
        ratchet_month_mask=np.ones(12))
    size = np.column_stack([*(rate[f"block_{n}_size"].fillna(np.inf) for n in (1, 2, 3)),
                            np.full(len(rate), np.inf)])
    price = rate[[f"block_{n}_usd_kwh" for n in (1, 2, 3, 4)]].ffill(axis=1).to_numpy(float)
    has_off_peak = rate["off_peak_usd_kwh"].notna()
    summer = _masks(rate["summer_months"]) * rate[["summer_adder_usd_kwh"]].to_numpy(float)
    charge = bills.energy_charge_usd(
        monthly_energy_kwh=energy, billing_demand_kw=billing, billed_hp=hp,
        block_basis=rate["block_basis"].to_numpy(str), block_size=size, block_price_usd_kwh=price,
        month_price_usd_kwh=summer,
        off_peak_share_pct=rate["off_peak_share_pct"].where(has_off_peak, 0.0).to_numpy(),
        off_peak_price_usd_kwh=rate["off_peak_usd_kwh"].fillna(0.0).to_numpy())
    return bills.bill_in_cents(bills.annual_bill(
        monthly_energy_charge_usd=charge, monthly_demand_kw=demand, billing_demand_kw=billing,
        billed_hp=hp, customer_charge_usd_month=rate["customer_charge_usd_month"].to_numpy(),
        facilities_charge_usd_hp=rate["facilities_charge_usd_hp_yr"].to_numpy(),
        facilities_charge_usd_kw=12 * rate["facilities_charge_usd_kw_month"].to_numpy(),
        demand_charge_usd_kw=rate["demand_charge_usd_kw"].to_numpy(), demand_month_mask=demand_mask,
        load_control_credit_usd_kw=rate["control_credit_usd_kw_month"].to_numpy(),
        load_control_month_mask=demand_mask, has_load_control=controlled,
        minimum_bill_usd_yr=rate["minimum_bill_usd_yr"].to_numpy()))


def _wholesale(demand_kw, hours, controlled, rate, rules):
    energy, demand = _monthly(demand_kw, hours, rules)
    return bills.wholesale_cost(
        monthly_energy_kwh=energy, monthly_demand_kw=demand,
        wholesale_energy_usd_kwh=rate["wholesale_energy_usd_kwh"].to_numpy(),
        wholesale_demand_usd_kw=rate["wholesale_demand_usd_kw"].to_numpy(),
        wholesale_demand_month_mask=_masks(rate["wholesale_demand_months"]),
        coincidence_factor=rate["coincidence_pct"].to_numpy() / 100,
        coincidence_factor_controlled=rate["coincidence_controlled_pct"].to_numpy() / 100,
        has_load_control=controlled, energy_loss_pct=rate["losses_pct"].to_numpy(),
        demand_loss_pct=rate["losses_pct"].to_numpy()).total_usd_yr


# --- first-year figures and cash flows -----------------------------------------------------------

def value_designs(designs: pd.DataFrame, rules) -> pd.DataFrame:
    """First-year saving and margin, paybacks, NPV, the five benefit tests and CO2.

    Yearly amounts are at base-date prices and fall at the end of each year, with nominal
    escalation; outlays fall at year 0.
    """
    d = designs.copy()
    d["present_cost_usd_yr"] = (d["fuel_cost_usd_yr"] + d["upkeep_cost_usd_yr"]
                                + d["present_bill_usd_yr"])
    d["electric_upkeep_usd_yr"] = d["equipment_cost_usd"] * rules["electric_upkeep_pct"] / 100
    d["electric_cost_usd_yr"] = d["bill_usd_yr"] + d["electric_upkeep_usd_yr"]
    d["member_saving_usd_yr"] = d["present_cost_usd_yr"] - d["electric_cost_usd_yr"]
    d["member_payback_yr"] = cash_flow.simple_payback_yr(
        first_cost_usd=d["member_net_cost_usd"].to_numpy(),
        yearly_saving_usd=d["member_saving_usd_yr"].to_numpy())
    burns = d["present_fuel_per_yr"].where(d["present_fuel_per_yr"] > 0)
    d["breakeven_fuel_price_usd"] = (d["electric_cost_usd_yr"] - d["upkeep_cost_usd_yr"]) / burns
    d["cooperative_outlay_usd"] = (d["cooperative_cost_usd"] + d["incentive_usd"]
                                   + rules["administration_usd"])
    d["carrying_cost_usd_yr"] = d["cooperative_work_usd"] * rules["carrying_cost_pct"] / 100
    d["cooperative_payback_yr"] = cash_flow.simple_payback_yr(
        first_cost_usd=d["cooperative_outlay_usd"].to_numpy(),
        yearly_saving_usd=(d["margin_usd_yr"] - d["carrying_cost_usd_yr"]).to_numpy())
    flows = yearly_flows(d, rules)
    _member_value(d, flows, rules)
    _cooperative_value(d, flows, rules)
    _benefit_tests(d, flows, rules)
    return _co2(d, rules)


def yearly_flows(d: pd.DataFrame, rules) -> dict[str, np.ndarray]:
    """Amounts by year, (n, years + 1) with year 0 first [USD], all above zero in their names'
    sense."""
    years = int(rules["study_years"])

    def escalated(amount, rate_key):
        flow = cash_flow.yearly_flow_usd(
            base_amount_usd_yr=np.asarray(amount, float), escalation_pct=rules[rate_key],
            study_years=years)
        return flow

    def at_start(amount):
        flow = np.zeros((len(d), years + 1))
        flow[:, 0] = amount
        return flow

    is_new = (d["present_power"] == NO_POWER).to_numpy()
    has_engine = d["present_power"].isin([*ENGINES, GENERATOR, NO_POWER]).to_numpy()
    engine_usd = np.where(has_engine, d["engine_replacement_usd"].fillna(0.0), 0.0)
    engine_left_yr = np.where(is_new, rules["engine_life_yr"], d["engine_remaining_yr"])
    # Without its remaining life the replacement is left out, which a finding says.
    engine_usd = np.where(np.isnan(engine_left_yr), 0.0, engine_usd)
    drive_usd = (d["cost_drive_usd"] + d["cost_filter_usd"]).to_numpy()
    upkeep = {"escalation_pct": rules["upkeep_escalation_pct"], "study_years": years}
    return {
        "bill": escalated(d["revenue_usd_yr"], "rate_escalation_pct"),
        "fuel": escalated(d["fuel_cost_usd_yr"], "fuel_escalation_pct"),
        "engine_upkeep": escalated(d["upkeep_cost_usd_yr"], "upkeep_escalation_pct"),
        "engine": at_start(np.where(is_new, engine_usd, 0.0)) + cash_flow.replacement_flow_usd(
            replacement_usd=engine_usd, replacement_life_yr=rules["engine_life_yr"],
            first_replacement_yr=np.where(np.isnan(engine_left_yr), np.inf, engine_left_yr),
            **upkeep),
        "electric_upkeep": escalated(d["electric_upkeep_usd_yr"], "upkeep_escalation_pct"),
        "drive": cash_flow.replacement_flow_usd(
            replacement_usd=drive_usd, first_replacement_yr=rules["drive_life_yr"],
            replacement_life_yr=rules["drive_life_yr"], **upkeep),
        "equipment": at_start(d["equipment_cost_usd"]),
        "equipment_by_member": at_start(_member_equipment(d)),
        "contribution": _contribution(d, rules, years),
        "incentive": at_start(d["incentive_usd"]),
        "grant": at_start(np.minimum(d["other_funding_usd"],
                                     np.maximum(d["member_cost_usd"] - d["incentive_usd"], 0))),
        "work": at_start(d["cooperative_work_usd"]),
        "carrying": escalated(d["carrying_cost_usd_yr"], "upkeep_escalation_pct"),
        "supply": escalated(d["wholesale_cost_usd_yr"], "wholesale_escalation_pct"),
        "administration": at_start(rules["administration_usd"]),
    }


def _member_equipment(d):
    return d[[f"member_{item_key(item)}_usd" for item in MEMBER_EQUIPMENT]].sum(
        axis=1, skipna=False).to_numpy()


def _contribution(d, rules, years):
    """The member's share of the cooperative's work: at once, or in equal months with interest."""
    flow = np.zeros((len(d), years + 1))
    total = d["contribution_usd"].to_numpy()
    term = int(rules["contribution_months"])
    if term == 0:
        flow[:, 0] = total
        return flow
    monthly = cost_share.monthly_contribution_usd(
        contribution_usd=total, contribution_months=term,
        interest_pct_yr=rules["contribution_interest_pct"])
    months_in_year = np.clip(term - 12 * np.arange(years), 0, 12)
    flow[:, 1:] = monthly[:, np.newaxis] * months_in_year
    return flow


def _member_value(d, f, rules):
    flow = (f["fuel"] + f["engine_upkeep"] + f["engine"] - f["bill"] - f["electric_upkeep"]
            - f["drive"] - f["equipment_by_member"] - f["contribution"] + f["incentive"]
            + f["grant"])
    d["member_npv_usd"] = cash_flow.npv_usd(
        flow_usd=flow, discount_rate_pct=rules["discount_rate_member_pct"])
    rate = cash_flow.internal_rate_of_return(flow_usd=flow)
    d["member_irr_pct"], d["has_several_irr"] = rate.irr_pct, rate.several_roots


def _cooperative_value(d, f, rules):
    equipment_by_cooperative = f["equipment"] - f["equipment_by_member"]
    flow = (f["bill"] - f["supply"] - f["carrying"] - f["work"] + f["contribution"]
            - equipment_by_cooperative - f["incentive"] - f["administration"])
    d["cooperative_npv_usd"] = cash_flow.npv_usd(
        flow_usd=flow, discount_rate_pct=rules["discount_rate_cooperative_pct"])


def _benefit_tests(d, f, rules):
    """The five tests. What the cooperative pays for member-side equipment counts as incentive."""
    def by_program_year(flow):
        return benefit_tests.in_program_years_usd(flow_usd=flow)

    nothing = np.zeros((len(d), int(rules["study_years"])))
    items = benefit_tests.YearlyItems(
        electric_bill_added_usd=by_program_year(f["bill"]),
        present_supply_avoided_usd=by_program_year(f["fuel"] + f["engine_upkeep"] + f["engine"]),
        member_equipment_usd=by_program_year(f["equipment"] + f["electric_upkeep"] + f["drive"]),
        cooperative_construction_usd=by_program_year(f["work"] + f["carrying"]),
        member_contribution_usd=by_program_year(f["contribution"]),
        incentive_usd=by_program_year(
            f["incentive"] + f["equipment"] - f["equipment_by_member"]),
        outside_grant_usd=by_program_year(f["grant"]),
        supply_cost_usd=by_program_year(f["supply"]),
        administration_usd=by_program_year(f["administration"]),
        emission_damage_avoided_usd=nothing, emission_damage_added_usd=nothing)
    tests = benefit_tests.benefit_tests(
        items=items, participant_discount_rate_pct=rules["discount_rate_member_pct"],
        cooperative_discount_rate_pct=rules["discount_rate_cooperative_pct"],
        societal_discount_rate_pct=rules["discount_rate_cooperative_pct"])
    for name, test in tests.items():
        d[f"{name}_ratio"] = test.ratio


def _co2(d, rules):
    """CO2 of the present fuel less that of the added electric energy."""
    engine = d["present_power"].where(d["present_power"] != NO_POWER, COMPARED_ENGINE)
    kg_per_unit = engine.map(table("fuels").set_index("present_power")["fuel"]).map(
        {"diesel": rules["co2_diesel_kg_gal"], "propane": rules["co2_propane_kg_gal"],
         "gasoline": rules["co2_gasoline_kg_gal"],
         "natural gas": rules["co2_natural_gas_kg_mcf"]}).to_numpy(float)
    burnt = d["present_fuel_per_yr"].to_numpy()
    present = np.where(burnt == 0, 0.0, emissions.fuel_co2_t_yr(
        fuel_per_yr=burnt, co2_kg_per_unit=kg_per_unit))
    added_kwh = d["added_load_kw"] * d["season_hours"]
    new = emissions.grid_co2_t_yr(annual_energy_kwh=added_kwh.to_numpy(),
                                  energy_loss_pct=d["losses_pct"].to_numpy(),
                                  grid_co2_lb_mwh=rules["co2_grid_lb_mwh"])
    d["co2_avoided_t_yr"] = emissions.co2_avoided_t_yr(present_co2_t_yr=present, new_co2_t_yr=new)
    return d
