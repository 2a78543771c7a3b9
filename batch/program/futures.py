"""How each farm's money answers to pumping hours and construction cost, with fuel and wholesale
price beside them: the responses that the draws read, computed by the study's own steps."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from batch.columns.program import COST_ITEMS, item_key
from batch.economics import cash_flow
from batch.money import rates, sharing, valuation
from batch.portfolio import uncertainty
from batch.portfolio.uncertainty import (
    CONSTRUCTION,
    DRIVERS,
    FUEL,
    HOURS,
    WHOLESALE,
    Response,
)
from batch.program import granting
from batch.program.season import first_budget_usd
from batch.program.set_groups import counted_by_budget

HOURS_FACTORS = np.linspace(0.4, 1.6, 7)
COST_FACTORS = np.linspace(0.5, 1.5, 9)
AS_STUDIED = len(COST_FACTORS) // 2
FARMS_AT_ONCE = 1_000
TEN_PERCENT_POINT = 1.2816  # standard deviations; normal distribution
MEMBER, COOPERATIVE, TOGETHER = PARTIES = ("member", "cooperative", "together")
SECOND = {MEMBER: (FUEL,), COOPERATIVE: (WHOLESALE,), TOGETHER: (FUEL, WHOLESALE)}
RULE_OF = {FUEL: "fuel_price", HOURS: "hours", CONSTRUCTION: "construction",
           WHOLESALE: "wholesale"}
BAND_COLUMNS = ("rank_p10", "rank_p90", "budget_chance_pct", "cooperative_payback_chance_pct",
                "member_payback_chance_pct", "member_loss_chance_pct",
                *(f"{party}_npv_p{point}_usd" for party in (MEMBER, COOPERATIVE)
                  for point in uncertainty.PERCENTILES))


@dataclass(frozen=True)
class Sensitivity:
    """NPV of farms by party at some factors (n, g), the part of it that goes with the fuel and the
    wholesale price, likewise what its longest payback leaves over its outlay, the incentive cost,
    and the funded farms' flow to both parties together by year (g, years + 1), discounted, with the
    same parts."""

    npv: dict[str, np.ndarray]
    part: dict[tuple[str, str], np.ndarray]
    spare: dict[str, np.ndarray]
    spare_part: dict[str, np.ndarray]
    incentive_cost: np.ndarray
    joint: np.ndarray
    joint_part: dict[str, np.ndarray]


@dataclass(frozen=True)
class Futures:
    """What the pages and sheets show of the draws; every frame is empty without them."""

    by_farm: pd.DataFrame
    tornado: pd.DataFrame
    years: pd.DataFrame
    draws: int
    of_sets: pd.DataFrame | None = None


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
    # As in the totals, a farm whose figure is not known stands in no sum of it.
    funded = {party: np.asarray(is_funded, bool) & ranked[f"{party}_npv_usd"].notna().to_numpy()
              for party in PARTIES}
    by_hours, by_cost = worth_by_drivers(ranked, funded[TOGETHER], inputs)
    spread, drawn = effective_spreads(rules), draws_of(ranked, rules, draws)
    bands = uncertainty.npv_bands(draws=drawn, responses={
        party: npv_responses(by_hours, by_cost, party) for party in (MEMBER, COOPERATIVE)})
    pays = {party: uncertainty.holds(
        spare=spare_of(by_hours, by_cost, party), second=SECOND[party][0], draws=drawn)
        for party in (MEMBER, COOPERATIVE)}
    spans = uncertainty.rank_spans(
        cost_response=flat(COST_FACTORS, by_cost.incentive_cost * _of_group(ranked)),
        counted_load_kw=ranked["counted_load_kw"], draws=drawn,
        budget_usd=first_budget_usd(inputs),
        tie_order=ranked["rank"].to_numpy(), qualifies=pays[COOPERATIVE][0],
        may_be_funded=ranked["may_be_funded"] == 1, budget_adds_usd=(
            counted_by_budget(ranked, rules) - ranked["incentive_cost_usd"]).to_numpy())
    chances = pd.DataFrame({f"{party}_payback_chance_pct": pays[party][1] for party in pays})
    by_farm = pd.concat([spans, chances, bands], axis=1).set_axis(ranked.index)[list(BAND_COLUMNS)]
    by_farm = by_farm.loc[given_order]
    if not funded[TOGETHER].any():
        return Futures(by_farm, pd.DataFrame(), pd.DataFrame(), draws)
    return Futures(by_farm, _tornado(by_hours, by_cost, funded, spread, rules),
                   _years(by_hours, by_cost, funded[TOGETHER], drawn), draws)


def draws_of(farms, rules, draws: int) -> uncertainty.Draws:
    """The factors of so many futures for some farms; a farm's hang on the seed and its name."""
    return uncertainty.draw_factors(
        spread_pct=effective_spreads(rules), candidate_ids=farms["candidate_id"].tolist(),
        draws=draws, seed=int(rules["uncertainty_seed"]),
        farm_correlation_pct=rules["farm_correlation_pct"])


def worth_by_drivers(farms, funded, inputs) -> tuple:
    """What farms are worth by hours, and by the cost of what is built."""
    return (worth_at(with_hours, HOURS_FACTORS, farms, funded, inputs),
            worth_at(with_cost, COST_FACTORS, farms, funded, inputs))


def npv_responses(by_hours, by_cost, party) -> tuple[Response, Response]:
    """A party's NPV by hours and its second driver, and its change with construction cost."""
    return response_of(by_hours, party, SECOND[party][0]), change_of(by_cost, party)


def _of_group(ranked):
    """What the farm adds to the ranking's running total over its own incentive cost (n, 1): farms
    that enter with others of their line share what the group adds, by their loads."""
    adds = ranked["ranking_usd_per_kw"] * ranked["counted_load_kw"]
    own = ranked["incentive_cost_usd"]
    return (adds / own.where(own > 0)).fillna(1.0).to_numpy()[:, np.newaxis]


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

def worth_at(change, factors, ranked, funded, inputs) -> Sensitivity:
    """What the farms are worth at each factor of what `change` changes, by the study's own steps:
    each farm stands in the table once for each factor."""
    parts = []
    for start in range(0, len(ranked), FARMS_AT_ONCE):
        some = slice(start, start + FARMS_AT_ONCE)
        farms = ranked.iloc[some]
        many = farms.loc[farms.index.repeat(len(factors))].reset_index(drop=True)
        changed = change(many, np.tile(factors, len(farms)), inputs)
        parts.append(_sensitivity_of(changed, inputs.rules, funded[some], len(factors)))
    first = parts[0]
    return Sensitivity(
        npv={key: np.concatenate([p.npv[key] for p in parts]) for key in first.npv},
        part={key: np.concatenate([p.part[key] for p in parts]) for key in first.part},
        spare={key: np.concatenate([p.spare[key] for p in parts]) for key in first.spare},
        spare_part={key: np.concatenate([p.spare_part[key] for p in parts])
                    for key in first.spare_part},
        incentive_cost=np.concatenate([p.incentive_cost for p in parts]),
        joint=sum(p.joint for p in parts),
        joint_part={key: sum(p.joint_part[key] for p in parts) for key in first.joint_part})


def with_hours(farms, factor, inputs):
    """The farms with other pumping hours; what was shared and granted stays as it was."""
    per_season = ["season_hours", "present_fuel_per_yr", "fuel_cost_usd_yr", "upkeep_cost_usd_yr",
                  "annual_energy_kwh"]
    designs = farms.assign(**{key: farms[key] * factor for key in per_season})
    return rates.bills_and_supply(designs, inputs.rules, inputs.rates)


def with_cost(farms, factor, inputs):
    """The farms with all prices of what is built times a factor, shared and granted anew."""
    scaled = [f"base_{item_key(item)}_usd" for item in COST_ITEMS]
    designs = farms.assign(**{key: farms[key] * factor for key in scaled})
    shares = sharing.item_shares(designs, inputs.rules, inputs.price_list, price_factor=factor)
    designs = sharing.with_shares(designs, shares)
    return granting.grant_incentive(designs.assign(may_have_incentive=1.0), inputs.rules)


def _sensitivity_of(designs, rules, funded, count) -> Sensitivity:
    designs = valuation.first_year(designs, rules)
    flows = valuation.yearly_flows(designs, rules)
    member_rate = rules["discount_rate_member_pct"]
    rate = rules["discount_rate_cooperative_pct"]
    member, cooperative = valuation.member_flow(flows), valuation.cooperative_flow(flows)

    def by_factor(values):
        return np.reshape(values, (-1, count))

    def npv(flow, at_rate):
        return by_factor(cash_flow.npv_usd(flow_usd=flow, discount_rate_pct=at_rate))

    def of_funded(flow, at_rate):
        discounted = flow * (1 + at_rate / 100) ** -np.arange(flow.shape[1])
        return discounted.reshape(len(funded), count, -1)[funded].sum(axis=0)

    worth = {MEMBER: npv(member, member_rate), COOPERATIVE: npv(cooperative, rate)}
    fuel, supply = npv(flows["fuel"], member_rate), npv(-flows["supply"], rate)
    spare, spare_part = _payback_room(designs, rules)
    return Sensitivity(
        npv=worth | {TOGETHER: worth[MEMBER] + worth[COOPERATIVE]},
        part={(MEMBER, FUEL): fuel, (COOPERATIVE, WHOLESALE): supply,
              (TOGETHER, FUEL): fuel, (TOGETHER, WHOLESALE): supply},
        spare={party: by_factor(values) for party, values in spare.items()},
        spare_part={party: by_factor(values) for party, values in spare_part.items()},
        incentive_cost=by_factor(designs["incentive_cost_usd"].to_numpy(float)),
        joint=of_funded(member, member_rate) + of_funded(cooperative, rate),
        joint_part={FUEL: of_funded(flows["fuel"], member_rate),
                    WHOLESALE: of_funded(-flows["supply"], rate)})


def _payback_room(designs, rules):
    """What each party's yield leaves of its outlay within the longest payback, and the part of it
    that goes with the price of fuel or of supply, (n,) [USD] by party."""
    outlay = {MEMBER: designs["member_net_cost_usd"],
              COOPERATIVE: designs["cooperative_outlay_usd"]}
    yearly = {MEMBER: designs["member_saving_usd_yr"],
              COOPERATIVE: designs["margin_usd_yr"] - designs["carrying_cost_usd_yr"]}
    priced = {MEMBER: designs["fuel_cost_usd_yr"], COOPERATIVE: -designs["wholesale_cost_usd_yr"]}
    spare, spare_part = {}, {}
    for party, usd in outlay.items():
        longest_yr = rules[f"maximum_{party}_payback_yr"]
        # Where there is no outlay the payback is 0 whatever the yield, as in the study.
        is_free = usd <= 0
        spare[party] = np.where(is_free, 0.0, longest_yr * yearly[party] - usd)
        spare_part[party] = np.where(is_free, 0.0, longest_yr * priced[party])
    return spare, spare_part


def response_of(by_hours, party, second) -> Response:
    """A party's NPV by hours, and what the price of fuel or supply adds."""
    return Response(HOURS_FACTORS, by_hours.npv[party], by_hours.part[party, second])


def change_of(by_cost, party):
    """Change of an NPV with construction cost, from the study's own cost."""
    npv = by_cost.npv[party]
    return flat(COST_FACTORS, npv - npv[:, [AS_STUDIED]])


def spare_of(by_hours, by_cost, party):
    """What a party's longest payback leaves over its outlay: the payback holds where that is not
    below zero."""
    spare = by_cost.spare[party]
    return (Response(HOURS_FACTORS, by_hours.spare[party], by_hours.spare_part[party]),
            flat(COST_FACTORS, spare - spare[:, [AS_STUDIED]]))


def flat(factors, value) -> Response:
    """Values by one driver alone."""
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
                    by_hours, by_cost, funded[party], party, driver, factor)
        rows.append(row)
    out = pd.DataFrame(rows)
    swing = (out["together_npv_high_usd"] - out["together_npv_low_usd"]).abs()
    return out.assign(swing_usd=swing).sort_values(
        "swing_usd", ascending=False, kind="stable").reset_index(drop=True)


def _program_npv(by_hours, by_cost, funded, party, driver, factor):
    """Sum over the funded farms of a party's NPV, one driver at a factor."""
    at = {name: 1.0 for name in DRIVERS} | {driver: factor}
    total = 0.0
    for k, second in enumerate(SECOND[party]):
        response = response_of(by_hours, party, second).of(funded)
        if k:  # the second price only adds its own part
            response = response.of_second()
        total += response.at(np.array([at[HOURS]]), at[second]).sum()
    return total + change_of(by_cost, party).of(funded).at(np.array([at[CONSTRUCTION]])).sum()


def _years(by_hours, by_cost, funded, drawn):
    """Cumulative discounted benefit of members and cooperative together, year by year, with its 10,
    50 and 90 percent points. Farms' own luck evens out: the mean factor of the farms is drawn."""
    def so_far(flow):
        """By year and factor, (years + 1, g)."""
        return np.cumsum(flow, axis=1).T

    joint, by_cost_sum = so_far(by_hours.joint), so_far(by_cost.joint)
    part = {price: so_far(by_hours.joint_part[price]) for price in (FUEL, WHOLESALE)}
    base = by_cost_sum[:, AS_STUDIED]
    mean = {driver: factor if factor.ndim == 1 else factor[funded].mean(axis=0)
            for driver, factor in drawn.factor.items()}
    total = (Response(HOURS_FACTORS, joint, part[FUEL]).at(mean[HOURS], mean[FUEL])
             + Response(HOURS_FACTORS, joint, part[WHOLESALE]).of_second().at(
                 mean[HOURS], mean[WHOLESALE])
             + flat(COST_FACTORS, by_cost_sum).at(mean[CONSTRUCTION]) - base[:, np.newaxis])
    points = np.percentile(total, uncertainty.PERCENTILES, axis=1)
    return pd.DataFrame({"year": np.arange(len(base), dtype=float), "base_usd": base,
                         **{f"p{point}_usd": values
                            for point, values in zip(uncertainty.PERCENTILES, points)}})
