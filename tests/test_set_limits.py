"""Limits on a set as a whole: against all sets of small programs, and by hand on three farms."""

from dataclasses import replace
from itertools import product
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from batch.findings import Findings
from batch.portfolio.exact_set import Limit, best_selection
from batch.portfolio.settled_ranking import Line, settled_ranking
from batch.program import budgeting
from batch.program.best_set import Asked, best_set
from batch.program.conflict import conflict
from batch.program.set_limits import RULES, accounts_of
from batch.program.stock import StockRow
from batch.reading.validate import validate
from batch.rules import Rule
from batch.study import run_study
from tests.workbooks.make import candidate_workbook

STOCK = ("wire", "drives")  # what a farm takes of two rows of the Limits sheet
FIGURES = ("ratepayer_benefits_usd", "ratepayer_costs_usd", "total_resource_benefits_usd",
           "total_resource_costs_usd")


def drawn(seed):
    """A question of at most six farms on one to three lines: what a farm costs, gives and takes
    hangs on who builds, in round numbers, so that sets are often alike."""
    draw = np.random.default_rng(seed)
    lines, groups, chosen, values, first = [], [], [], [], 2
    for k in range(draw.integers(1, 4)):
        m = int(draw.integers(1, 3 if k else 4))
        rows, numbers = tuple(range(first, first + m)), {}
        first += m
        for number in range(1, 2 ** m):
            numbers[number] = []
            for row in (rows[j] for j in range(m) if number >> j & 1):
                numbers[number].append(len(chosen))
                chosen.append({
                    "farm_row": row, "feeder_id": "FG"[row % 2], "value": draw.integers(-2, 9),
                    "added_load_kw": draw.integers(1, 6) * 10.0, **dict(zip(
                        FIGURES, draw.integers(0, 9, 4) * 100.0)),
                    "incentive_cost_usd": draw.integers(1, 9) * 10.0,
                    "wire": draw.integers(0, 9) / 4, "drives": float(draw.integers(0, 3))})
        mine = [pd.DataFrame(chosen).loc[numbers[n]] for n in numbers]
        yes, some = np.ones(2 ** m, bool), np.append(True, draw.random(2 ** m - 1) < 0.9)
        lines.append(Line(tuple(f"{'abc'[k]}{j}" for j in range(m)), np.arange(2 ** m),
                          *(np.array([0.0, *(one[key].sum() * unit for one in mine)])
                            for key, unit in (("incentive_cost_usd", 100),
                                              ("added_load_kw", 1000))), some, yes))
        values.append(np.array([0.0, *(float(one["value"].sum()) for one in mine)]))
        groups.append((rows, lines[-1].names, numbers))
    rows = range(2, first)
    must = frozenset(row for row in rows if draw.random() < 0.1)
    rules = {rule: most for rule, most in zip(RULES, (
        draw.integers(5, 15) / 10, draw.integers(5, 15) / 10, draw.integers(10, 40) / 10,
        draw.integers(5, 20) * 10.0)) if draw.random() < 0.5}
    limits = [StockRow(2 + k, name, "ft", draw.integers(0, 12) / 2, ())
              for k, name in enumerate(STOCK) if draw.random() < 0.5]
    stock = SimpleNamespace(rows=limits, amounts=lambda chosen: [
        chosen[row.name].to_numpy(float) for row in limits])
    return Asked(
        SimpleNamespace(groups=groups, chosen=pd.DataFrame(chosen), limited={}), lines, values,
        settled_ranking(lines), draw.integers(5, 25, draw.integers(1, 3)) * 10.0,
        pd.DataFrame({"feeder_id": ["F"], "spare_capacity_kw": [draw.integers(2, 12) * 10.0]}),
        1.0, must, rules, pd.Series([f"owner {row % 3}" for row in rows], rows),
        stock)


def counted_out(asked):
    """The best by the stated order, of all sets of all lines in all years: value, cost, farms and
    places in order; None where none keeps all limits."""
    years, chosen = len(asked.budgets_usd), asked.sets.chosen
    places = {pair: k + 1 for k, pair in enumerate(zip(asked.configurations["line"],
                                                       asked.configurations["number"]))}
    best = None
    choices = [[(0, 0)] + [(number, year) for number in map(int, line.sets[1:])
                           if line.may_fund(number) for year in range(years)]
               for line in asked.lines]
    for pick in product(*choices):
        taken = [(k, number, year) for k, (number, year) in enumerate(pick) if number]
        flat = [n for k, number, _ in taken for n in asked.sets.groups[k][2][number]]
        rows = chosen.loc[flat].to_dict("list") if flat else {}
        if not flat:
            rows = {key: [] for key in chosen}
        if not asked.must & set(asked.names_rows) <= set(rows["farm_row"]):
            continue
        spent = [sum(sum(chosen.at[n, "incentive_cost_usd"]
                         for n in asked.sets.groups[k][2][number])
                     for k, number, y in taken if y == year) for year in range(years)]
        if keeps(asked, rows) and all(np.array(spent) <= asked.budgets_usd):
            this = (sum(rows["value"]), -sum(rows["incentive_cost_usd"]), -len(flat),
                    -sum(places[k, number] for k, number, _ in taken))
            best = this if best is None else max(best, this)
    return best


def keeps(asked, rows):
    """Whether the farms keep feeder and rules, by plain sums."""
    rules, cost = asked.rules, rows["incentive_cost_usd"]
    on_feeder = sum(kw for kw, feeder in zip(rows["added_load_kw"], rows["feeder_id"])
                    if feeder == "F")
    by_owner = {owner: sum(usd for usd, row in zip(cost, rows["farm_row"])
                           if asked.accounts[row] == owner) for owner in asked.accounts}
    return (all(sum(rows[row.name]) <= row.available for row in asked.stock.rows)
            and on_feeder <= asked.feeders["spare_capacity_kw"][0]
            and all(10 * sum(rows[f"{test}_benefits_usd"])
                    >= round(10 * rules.get(f"{test}_ratio_floor", 0))
                    * sum(rows[f"{test}_costs_usd"]) for test in ("ratepayer", "total_resource"))
            and 10 * sum(cost) <= round(10 * rules.get("usd_per_kw_ceiling", 1e6))
            * sum(rows["added_load_kw"])
            and max(by_owner.values()) <= rules.get("member_account_cap_usd", np.inf))


@pytest.mark.parametrize("seed", range(150))
def test_best_set_within_all_limits_is_the_best_of_all_sets(seed):
    asked = drawn(seed)
    possible = {row for k in asked.must_lines for row in asked.farms_of(k, asked.must_of(k))}
    asked.names_rows = possible  # farms that no set could fund bind nothing
    best, found = counted_out(asked), None
    selection, taken = best_set(asked, budget_cents=asked.budget_cents)
    assert selection.is_proven and selection.is_feasible == (best is not None)
    if best is None:
        assert conflict(asked).endswith(".") and "must-fund" in conflict(asked)
        return
    every = asked.configurations.reset_index().set_index(["line", "number"])
    rows = every.loc[[(k, number) for k, (_, number) in taken.items()]]
    found = (rows["value"].sum(), -rows["cents"].sum() / 100, -rows["farms"].sum(),
             -(rows["index"] + 1).sum())
    assert found == pytest.approx(best)


def test_set_that_gives_room_is_taken_with_the_one_that_needs_it():
    # By hand: 0 needs 5 and 1 gives 3, 2 gives 2; all three fit together, and no two with 0.
    best = best_selection(value=[10.0, -1.0, -1.0], line=[0, 1, 2], limits=[
        Limit("floor", np.array([5.0, -3.0, -2.0]), 0.0)])
    assert best.value == 8.0 and (best.year == 0).all()


# --- three farms of a workbook --------------------------------------------------------------------

@pytest.fixture(scope="module")
def three(tmp_path_factory):
    """Three farms alike, the first two of one member's account, the third of none."""
    rows = [{"candidate_id": f"F-{n}", "load_control": True, "member_account": account}
            for n, account in ((1, "Larch 7"), (2, "larch  7"), (3, None))]
    return run_study(validate(candidate_workbook(
        tmp_path_factory.mktemp("three"), rows, study={"program_budget_usd": 1e6})))


def funded(three, budget_usd=1e6, **rules):
    """The best set and the ranking's line under other rules, and the rules that no set meets."""
    changed = three.inputs.rules.replaced({key: Rule(value, "test")
                                           for key, value in rules.items()})
    inputs = replace(three.inputs, rules=changed, findings=Findings(),
                     study={**three.inputs.study, "program_budget_usd": budget_usd})
    given = budgeting.give_out(replace(three.sets, rules=changed), inputs)
    return (len(given.year_by[budgeting.BEST_WITHIN]), len(given.year_by[budgeting.STOPS]), given,
            {unmet.rule for unmet in given.unmet})


def test_cap_per_account_holds_its_farms_together(three):
    assert accounts_of(three.inputs.candidates).tolist() == ["Larch 7", "Larch 7", "of F-3"]
    cost = three.results["incentive_cost_usd"].iloc[0]
    best, line, given, _ = funded(three, member_account_cap_usd=round(1.5 * cost))
    assert (best, line) == (2, 3)  # one of two farms of the account, and the one without
    limits = given.limits.set_index("constraint")
    assert limits.loc["account Larch 7", "used"] == pytest.approx(cost)
    assert limits.loc["account Larch 7", "binds"] == 1
    assert limits.loc["cap of member accounts", "gain_if_lifted"] > 0
    assert "account of F-3" not in limits.index  # it could not exceed the cap


def test_budget_pays_administration_where_the_rules_say_so(three):
    cost = three.results["incentive_cost_usd"].iloc[0]
    both = round(2 * cost, 2)
    assert funded(three, both)[:2] == (2, 2)
    more = {"administration_usd": 100.0, "budget_adds_administration": True}
    assert funded(three, both, **more)[:2] == (1, 1)
    assert funded(three, both + 199.99, **more)[:2] == (1, 1)
    best, line, given, _ = funded(three, both + 200, **more)
    assert (best, line) == (2, 2)
    assert given.limits["used"].iloc[0] == pytest.approx(both + 200)


def test_ratio_of_the_set_is_held_and_shown(three):
    one = three.results.iloc[0]
    ratio = one["ratepayer_benefits_usd"] / one["ratepayer_costs_usd"]
    floor = np.floor(100 * ratio) / 100
    best, line, given, unmet = funded(three, ratepayer_ratio_floor=floor)
    assert (best, line) == (3, 3) and not unmet
    limits = given.limits.set_index("constraint")
    assert limits.loc["ratepayer ratio, at least", "used"] == pytest.approx(ratio)
    best, line, given, unmet = funded(three, ratepayer_ratio_floor=floor + 0.01)
    assert (best, line) == (0, 3) and unmet == {"ratepayer_ratio_floor"}


def test_ceiling_of_cost_per_kw(three):
    one = three.results.iloc[0]
    figure = one["incentive_cost_usd"] / one["counted_load_kw"]
    cent = np.ceil(100 * figure) / 100
    assert funded(three, usd_per_kw_ceiling=cent)[0] == 3
    best, _, _, unmet = funded(three, usd_per_kw_ceiling=cent - 0.01)
    assert best == 0 and unmet == {"usd_per_kw_ceiling"}
