"""Futures of a set, against the whole study of exactly its farms at each future's prices."""

import os
from dataclasses import replace

import numpy as np
import pytest

from batch.audit.trace import Tracer
from batch.findings import Findings
from batch.portfolio import uncertainty
from batch.portfolio.uncertainty import CONSTRUCTION
from batch.program import futures, set_futures
from batch.reading.validate import validate
from batch.study import run_study
from batch.trail.lines import FIGURE
from tests.workbooks.make import candidate_workbook

FUTURES = 30 if os.environ.get("FARMBATCH_EXAMPLES") == "all" else 2
ONE = {"load_control": True, "supply_option": "single-phase drive"}
FARMS = [ONE, ONE | {"single_phase_distance_ft": 3_500, "flow_gpm": 500},
         ONE | {"single_phase_distance_ft": 5_400}]


def made(folder, rows):
    return validate(candidate_workbook(folder, rows, study={"program_budget_usd": 1e6}))


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    rows = [row | {"candidate_id": f"F-{k}"} for k, row in enumerate(FARMS)]
    return run_study(made(tmp_path_factory.mktemp("set"), rows))


def test_each_future_is_what_the_whole_study_gives_there(study):
    """Every farm alone in a workbook whose prices, hours, fuel and supply are those of the future:
    money within what a straight line between the module's factors may err, verdicts the same. What
    was granted stays: it is that of a study with the future's construction prices alone, and the
    payback is the outlay with it over the yield of the future."""
    farms = study.sets.rows_of(list(study.funding.funded))
    assert len(farms) == 3
    cost, worth, still = set_futures.drawn(farms, study.inputs, FUTURES)
    factors = futures.draws_of(farms, study.inputs.rules, FUTURES)
    hours = study.results["season_hours"]
    longest_yr, flips = study.inputs.rules["maximum_cooperative_payback_yr"], 0
    for k, (row, name) in enumerate(zip(farms.index, farms["candidate_id"])):
        for d in range(FUTURES):
            at = {driver: float(np.broadcast_to(factor, (len(farms), FUTURES))[k, d])
                  for driver, factor in factors.factor.items()}
            built = {**dict.fromkeys(at, 1.0), CONSTRUCTION: at[CONSTRUCTION]}
            granted, anew = (studied_at(study.inputs, name, hours[row], one).options.query(
                "is_chosen").iloc[0] for one in (built, at))
            assert cost[k, d] == pytest.approx(granted["incentive_cost_usd"], rel=0.03), (name, d)
            both = anew["member_npv_usd"] + anew["cooperative_npv_usd"]
            assert worth[k, d] == pytest.approx(both, rel=0.02, abs=500), (name, d)
            outlay = (anew["cooperative_outlay_usd"] + granted["incentive_usd"]
                      - anew["incentive_usd"])
            room = longest_yr * (anew["margin_usd_yr"] - anew["carrying_cost_usd_yr"]) - outlay
            if abs(room) > 0.02 * outlay:  # what the straight lines may err
                assert still[k, d] == (room > 0), (name, d)
                flips += not still[k, d]
    assert FUTURES < 30 or flips


def studied_at(inputs, name, hours, at):
    """The study of a workbook with one farm only, at factors of the four drivers."""
    rates, prices = inputs.rates, inputs.unit_costs
    dear = {key: rates[key] * at[uncertainty.WHOLESALE]
            for key in ("wholesale_energy_usd_kwh", "wholesale_demand_usd_kw")}
    farms = inputs.candidates[inputs.candidates["candidate_id"] == name]
    return run_study(replace(
        inputs, findings=Findings(), rates=rates.assign(**dear),
        unit_costs=prices.assign(price_usd=prices["price_usd"] * at[CONSTRUCTION]),
        candidates=farms.assign(
            season_hours=hours * at[uncertainty.HOURS],
            fuel_price_usd=farms["fuel_price_usd"] * at[uncertainty.FUEL]),
        has_error=inputs.has_error[farms.index]))


def test_the_sets_row_is_the_sum_of_its_farms(study):
    farms = study.sets.rows_of(list(study.funding.funded)).sort_values("candidate_id")
    draws = int(study.portfolio.draws)
    cost, _, still = set_futures.drawn(farms, study.inputs, draws)
    [row] = study.portfolio.set_futures.itertuples()
    assert (row.set, row.farms, row.futures) == (set_futures.FUNDED, 3, draws)
    assert row.incentive_cost_p50_usd == pytest.approx(np.percentile(cost.sum(axis=0), 50))
    assert row.budget_chance_pct == 100
    assert row.all_qualify_chance_pct == pytest.approx(100 * still.all(axis=0).mean())
    chance = study.results.set_index("candidate_id")["still_qualifies_chance_pct"]
    assert chance.tolist() == pytest.approx((100 * still.mean(axis=1)).tolist())


def test_a_budget_of_just_the_cost_suffices_in_about_half_of_the_futures(study):
    spent = study.results["incentive_cost_usd"].sum()
    asked = replace(study.funding.asked, budgets_usd=np.array([spent]))
    table, _ = set_futures.of_sets(replace(study.funding, asked=asked), study.inputs, 400)
    assert 25 < table["budget_chance_pct"].iloc[0] < 75


def test_every_figure_is_told(study, tmp_path):
    tracer = Tracer(study, tmp_path)
    for key in study.portfolio.set_futures:
        line = tracer.trail((FIGURE, "set_futures", set_futures.FUNDED, key)).lines[0]
        assert line.value, key
