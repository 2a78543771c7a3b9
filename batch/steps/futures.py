"""How each farm's money answers to pumping hours and construction cost, with fuel and wholesale
price beside them: the responses that the draws read, computed by the study's own steps."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from batch.columns.program import COST_ITEMS, item_key
from batch.economics import benefit_tests, cash_flow
from batch.portfolio import uncertainty
from batch.portfolio.uncertainty import (
    CONSTRUCTION,
    DRIVERS,
    FUEL,
    HOURS,
    WHOLESALE,
    Response,
)
from batch.steps import rates, sharing, valuation

HOURS_FACTORS = np.linspace(0.4, 1.6, 7)
COST_FACTORS = np.linspace(0.5, 1.5, 9)
TEN_PERCENT_POINT = 1.2816  # standard deviations; normal distribution
MEMBER, COOPERATIVE, RESOURCE = PARTIES = ("member", "cooperative", "total_resource")
SECOND = {MEMBER: (FUEL,), COOPERATIVE: (WHOLESALE,), RESOURCE: (FUEL, WHOLESALE)}
RULE_OF = {FUEL: "fuel_price", HOURS: "hours", CONSTRUCTION: "construction",
           WHOLESALE: "wholesale"}
BAND_COLUMNS = ("rank_p10", "rank_p90", "budget_chance_pct", "member_loss_chance_pct",
                *(f"{party}_npv_p{point}_usd" for party in (MEMBER, COOPERATIVE)
                  for point in uncertainty.PERCENTILES))


@dataclass(frozen=True)
class Worth:
    """NPV of farms (n,) by party at one factor, the part of it that goes with the fuel and the
    wholesale price, and the funded farms' flow to both parties together by year (years + 1,)."""

    npv: dict[str, np.ndarray]
    part: dict[tuple[str, str], np.ndarray]
    joint: np.ndarray
    joint_part: dict[str, np.ndarray]
    incentive_cost: np.ndarray


@dataclass(frozen=True)
class Futures:
    """What the pages and sheets show of the draws; every frame is empty without them."""

    by_farm: pd.DataFrame
    tornado: pd.DataFrame
    years: pd.DataFrame
    draws: int


def look_ahead(ranked: pd.DataFrame, is_funded, inputs) -> Futures:
    """Bands and chances of the ranked farms (index as given), and tornado and yearly band of those
    that are funded. `ranked` has all columns of the chosen options, the rank included."""
    rules = inputs.rules
    draws = int(min(rules["uncertainty_draws"],
                    uncertainty.MOST_VALUES // max(len(ranked), 1)))
    if draws == 0 or ranked.empty:
        return Futures(pd.DataFrame(columns=BAND_COLUMNS, index=ranked.index, dtype=float),
                       pd.DataFrame(), pd.DataFrame(), 0)
    # By name, so that the order of the rows changes no farm's draws.
    given_order, ranked = ranked.index, ranked.sort_values("candidate_id", kind="stable")
    is_funded = is_funded[ranked.index]
    funded = np.asarray(is_funded, bool)
    by_hours = [_worth(_with_hours(ranked, factor, inputs), rules, funded)
                for factor in HOURS_FACTORS]
    by_cost = [_worth(_with_cost(ranked, factor, inputs), rules, funded)
               for factor in COST_FACTORS]
    spread = effective_spreads(rules)
    drawn = uncertainty.draw_factors(
        spread_pct=spread, farms=len(ranked), draws=draws, seed=int(rules["uncertainty_seed"]),
        farm_correlation_pct=rules["farm_correlation_pct"])
    bands = uncertainty.npv_bands(
        draws=drawn, responses={party: (_response(by_hours, party, SECOND[party][0]),
                                        _change(by_cost, party))
                                for party in (MEMBER, COOPERATIVE)})
    spans = uncertainty.rank_spans(
        cost_response=_flat(COST_FACTORS, [w.incentive_cost for w in by_cost]),
        added_load_kw=ranked["added_load_kw"], draws=drawn,
        budget_usd=inputs.study["program_budget_usd"],
        tie_order=ranked["candidate_id"].rank().to_numpy())
    by_farm = pd.concat([spans, bands], axis=1).set_axis(ranked.index)[list(BAND_COLUMNS)]
    by_farm = by_farm.loc[given_order]
    if not funded.any():
        return Futures(by_farm, pd.DataFrame(), pd.DataFrame(), draws)
    return Futures(by_farm, _tornado(by_hours, by_cost, funded, spread, rules),
                   _years(by_hours, by_cost, funded, drawn, rules), draws)


def effective_spreads(rules) -> dict[str, float]:
    """Spread of each driver over the whole study, by the correlation between years. Yearly weights
    are present values: fuel and hours at the member's rate, wholesale at the cooperative's;
    construction comes once."""
    years = np.arange(1, int(rules["study_years"]) + 1)

    def weight(escalation_key, rate_key):
        return ((1 + rules[escalation_key] / 100) / (1 + rules[rate_key] / 100)) ** years

    member = weight("fuel_escalation_pct", "discount_rate_member_pct")
    weights = {FUEL: member, HOURS: member, CONSTRUCTION: np.ones(1),
               WHOLESALE: weight("wholesale_escalation_pct", "discount_rate_cooperative_pct")}
    return {driver: uncertainty.effective_spread_pct(
        spread_pct=rules[f"{RULE_OF[driver]}_spread_pct"], year_weight=weights[driver],
        yearly_correlation_pct=rules["yearly_correlation_pct"]) for driver in DRIVERS}


# --- responses ------------------------------------------------------------------------------------

def _with_hours(ranked, factor, inputs):
    """The farms with other pumping hours; what was shared and granted stays as it was."""
    per_season = ["season_hours", "present_fuel_per_yr", "fuel_cost_usd_yr", "upkeep_cost_usd_yr",
                  "annual_energy_kwh"]
    d = ranked.assign(**{key: ranked[key] * factor for key in per_season})
    return rates.bills_and_supply(d, inputs.rules, inputs.rates)


def _with_cost(ranked, factor, inputs):
    """The farms with all prices of what is built times a factor, shared and granted anew."""
    scaled = [f"base_{item_key(item)}_usd" for item in COST_ITEMS]
    d = ranked.assign(**{key: ranked[key] * factor for key in scaled})
    dearer = inputs.unit_costs.assign(price_usd=inputs.unit_costs["price_usd"] * factor)
    d, _ = sharing.share_costs(d, inputs.rules, dearer)
    return sharing.grant_incentive(d, inputs.rules, np.ones(len(d)))


def _worth(d, rules, funded) -> Worth:
    d = valuation.first_year(d, rules)
    f = valuation.yearly_flows(d, rules)
    member_rate = rules["discount_rate_member_pct"]
    rate = rules["discount_rate_cooperative_pct"]
    member, cooperative = valuation.member_flow(f), valuation.cooperative_flow(f)

    def npv(flow, at_rate):
        return cash_flow.npv_usd(flow_usd=flow, discount_rate_pct=at_rate)

    def resource(flow):
        return benefit_tests.present_value_usd(
            yearly_usd=benefit_tests.in_program_years_usd(flow_usd=flow), discount_rate_pct=rate)

    return Worth(
        npv={MEMBER: npv(member, member_rate), COOPERATIVE: npv(cooperative, rate),
             RESOURCE: resource(member + cooperative)},
        part={(MEMBER, FUEL): npv(f["fuel"], member_rate),
              (COOPERATIVE, WHOLESALE): npv(-f["supply"], rate),
              (RESOURCE, FUEL): resource(f["fuel"]), (RESOURCE, WHOLESALE): resource(-f["supply"])},
        joint=(member + cooperative)[funded].sum(axis=0),
        joint_part={FUEL: f["fuel"][funded].sum(axis=0),
                    WHOLESALE: -f["supply"][funded].sum(axis=0)},
        incentive_cost=d["incentive_cost_usd"].to_numpy(float))


def _response(by_hours, party, second):
    return Response(HOURS_FACTORS, np.stack([w.npv[party] for w in by_hours], axis=1),
                    np.stack([w.part[party, second] for w in by_hours], axis=1))


def _change(by_cost, party):
    """Change of an NPV with construction cost, from the study's own cost."""
    npv = np.stack([w.npv[party] for w in by_cost], axis=1)
    return Response(COST_FACTORS, npv - npv[:, [len(COST_FACTORS) // 2]], np.zeros(npv.shape))


def _flat(factors, values):
    value = np.stack(values, axis=1)
    return Response(factors, value, np.zeros(value.shape))


# --- the program ----------------------------------------------------------------------------------

def _tornado(by_hours, by_cost, funded, spread, rules):
    """Program sums at the 10 and 90 percent points of each driver alone, others as in the study:
    all farms move together. The largest swing of both parties together stands first."""
    rows = []
    for driver in DRIVERS:
        row = {"driver": driver, "spread_pct": rules[f"{RULE_OF[driver]}_spread_pct"]}
        for side, sign in (("low", -1), ("high", 1)):
            factor = max(1 + sign * TEN_PERCENT_POINT * spread[driver] / 100,
                         uncertainty.LEAST_FACTOR)
            row[f"{side}_pct"] = 100 * (factor - 1)
            for party in PARTIES:
                row[f"{party}_npv_{side}_usd"] = _program_npv(
                    by_hours, by_cost, funded, party, driver, factor)
        rows.append(row)
    out = pd.DataFrame(rows)
    swing = (out["total_resource_npv_high_usd"] - out["total_resource_npv_low_usd"]).abs()
    return out.assign(swing_usd=swing).sort_values(
        "swing_usd", ascending=False, kind="stable").reset_index(drop=True)


def _program_npv(by_hours, by_cost, funded, party, driver, factor):
    """Sum over the funded farms of a party's NPV, one driver at a factor."""
    at = {name: 1.0 for name in DRIVERS} | {driver: factor}
    total = 0.0
    for k, second in enumerate(SECOND[party]):
        response = _response(by_hours, party, second).of(funded)
        if k:  # the second price only adds its own part
            response = response.of_second()
        total += response.at(np.array([at[HOURS]]), at[second]).sum()
    return total + _change(by_cost, party).of(funded).at(np.array([at[CONSTRUCTION]])).sum()


def _years(by_hours, by_cost, funded, drawn, rules):
    """Cumulative discounted benefit of members and cooperative together, year by year, with its 10,
    50 and 90 percent points. Farms' own luck evens out: the mean factor of the farms is drawn."""
    discount = (1 + rules["discount_rate_cooperative_pct"] / 100) ** -np.arange(
        len(by_hours[0].joint))

    def so_far(flow):
        return np.cumsum(flow * discount)

    joint = np.stack([so_far(w.joint) for w in by_hours], axis=1)
    part = {price: np.stack([so_far(w.joint_part[price]) for w in by_hours], axis=1)
            for price in (FUEL, WHOLESALE)}
    by_cost_sum = np.stack([so_far(w.joint) for w in by_cost], axis=1)
    base = by_cost_sum[:, len(COST_FACTORS) // 2]
    mean = {driver: factor if factor.ndim == 1 else factor[funded].mean(axis=0)
            for driver, factor in drawn.factor.items()}
    total = (Response(HOURS_FACTORS, joint, part[FUEL]).at(mean[HOURS], mean[FUEL])
             + Response(HOURS_FACTORS, joint, part[WHOLESALE]).of_second().at(
                 mean[HOURS], mean[WHOLESALE])
             + _flat(COST_FACTORS, [*by_cost_sum.T]).at(mean[CONSTRUCTION]) - base[:, np.newaxis])
    points = np.percentile(total, uncertainty.PERCENTILES, axis=1)
    return pd.DataFrame({"year": np.arange(len(base), dtype=float), "base_usd": base,
                         **{f"p{point}_usd": values
                            for point, values in zip(uncertainty.PERCENTILES, points)}})
