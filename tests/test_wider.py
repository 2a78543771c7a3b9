"""Sets that choose how their farms are supplied: against every set with every option or design
typed into a workbook of its own, by hand, and farm by farm as a study of only the set.
"""

from dataclasses import replace
from itertools import product

import numpy as np
import pandas as pd
import pytest

from batch import rules
from batch.columns.candidates import SUPPLY_OPTIONS
from batch.columns.program import DESIGNS, OPTIONS, PARTNERS
from batch.findings import Findings
from batch.program import wider
from batch.program.best_set import Asked, best_set, goal_key
from batch.program.budgeting import BEST_WITHIN, OWN_RULE, give_out
from batch.program.set_groups import qualifies
from batch.program.sets import StudiedSets, by_builders, every_set
from batch.program.wider import that_chooses, with_ways
from batch.reading.validate import validate
from batch.study import assessable, run_study, study_sets
from batch.tables import table
from tests.test_settled_sets import differences
from tests.workbooks.make import candidate_workbook

CENT = 0.005
EVERY = {OPTIONS: [(option, None) for option in SUPPLY_OPTIONS],
         DESIGNS: [(row.supply_option, row.variant)
                   for row in table("supply_variants").itertuples()]}
LINE = {"shared_line_id": "L", "shared_single_phase_ft": 2000, "shared_three_phase_ft": 2600}


def farm(draw, name, line):
    return {"candidate_id": name, "farm_label": "Field", "flow_gpm": int(draw.integers(300, 1000)),
            "is_inverter_duty": "yes", "pivot_lead_ft": 60, "source_fault_a": 2500,
            "load_control": True, "shared_line_id": line, "feeder_id": "F1",
            "shared_line_use_ft": int(draw.integers(5, 21)) * 100 if line else None,
            "single_phase_distance_ft": int(draw.integers(0, 4)) * 300,
            "three_phase_distance_ft": int(draw.integers(0, 12)) * 300}


def sheets(lines, **program):
    return {"study": {"program_budget_usd": 60_000}, "shared_lines": lines,
            "feeders": [{"feeder_id": "F1", "spare_capacity_kw": 150}],
            "program": {"member_npv_floor_usd": -10_000_000, "set_goal": "cooperative NPV",
                        "maximum_cooperative_payback_yr": 60, "uncertainty_draws": 0, **program}}


def every_choice(folder, rows, on_line, choices):
    """Every set of the farms with every choice, as a workbook has it in which the choices are typed
    and each choice of a line's farms has a line of its own: lists of the choices' figures."""
    typed, lines, cases = [], [], []
    for n, chosen in enumerate(product(choices, repeat=on_line)):
        lines.append(LINE | {"shared_line_id": f"L{n}"})
        typed += [row | {"candidate_id": f"{row['candidate_id']}-{n}", "shared_line_id": f"L{n}",
                         "supply_option": option, "supply_design": design}
                  for row, (option, design) in zip(rows, chosen)]
    for row in rows[on_line:]:
        typed += [row | {"candidate_id": f"{row['candidate_id']}-{n}", "supply_option": option,
                         "supply_design": design} for n, (option, design) in enumerate(choices)]
    inputs = validate(candidate_workbook(folder, typed, name="typed.xlsx", **sheets(lines)))
    sets = study_sets(assessable(inputs), inputs)
    chosen = sets.chosen
    figures = pd.DataFrame({
        "cents": (100 * chosen["incentive_cost_usd"]).round(), "kw": chosen["added_load_kw"],
        "goal": chosen[goal_key(inputs.rules)],
        "may": qualifies(chosen) & (chosen["may_be_funded"] == 1)})
    for _, farms in sets.farms.groupby(["shared_line_id", "builders"]):
        cases.append(("line", figures.reindex(farms.index)))
    for row in rows[on_line:]:
        mine = sets.farms[sets.farms["candidate_id"].str.startswith(row["candidate_id"] + "-")]
        cases += [(row["candidate_id"], figures.reindex([number])) for number in mine.index]
    summed = {}
    for name, some in cases:
        if some.notna().all(axis=None) and some["may"].all():
            summed.setdefault(name, []).append(some[["cents", "kw", "goal"]].sum().to_numpy())
    return [[np.zeros(3), *summed.get(name, [])]
            for name in ("line", *(row["candidate_id"] for row in rows[on_line:]))]


@pytest.mark.parametrize("seed, chooses, on_line, alone", [
    (2, OPTIONS, 3, 1), (3, DESIGNS, 2, 1)])
def test_best_set_is_the_best_of_all_sets_with_all_choices(
        tmp_path, monkeypatch, seed, chooses, on_line, alone):
    draw = np.random.default_rng(seed)
    rows = [farm(draw, f"F-{n}", "L" if n < on_line else None) for n in range(on_line + alone)]
    inputs = validate(candidate_workbook(tmp_path, rows, **sheets([LINE], set_chooses=chooses)))
    farms = assessable(inputs)
    asked = Asked.of(study_sets(farms, inputs), inputs)
    searched = that_chooses(asked, farms, inputs, study_sets)
    monkeypatch.setattr(wider, "MOST_PHASED", 1)  # of longer lines each farm keeps its phases
    kept = that_chooses(asked, farms, inputs, study_sets)
    assert searched.sets.limited == {} and list(kept.sets.limited) == ["L"]
    every = np.array([np.sum(some, axis=0) for some in product(
        *every_choice(tmp_path, rows, on_line, EVERY[chooses]))])
    gained = 0
    for budget in range(10_000, 100_000, 10_000):
        found, _ = best_set(searched, budget_cents=np.array([100.0 * budget]))
        may = (every[:, 0] <= 100 * budget) & (0.9 * every[:, 1] <= 150)
        assert found.is_proven and found.value == pytest.approx(every[may, 2].max(), abs=1e-6)
        by_rule, _ = best_set(asked, budget_cents=np.array([100.0 * budget]))
        with_phases_kept, _ = best_set(kept, budget_cents=np.array([100.0 * budget]))
        assert not with_phases_kept.is_proven
        assert by_rule.value - CENT <= with_phases_kept.value <= found.value + CENT
        gained += found.value > by_rule.value + 1
    assert gained  # else this shows nothing


@pytest.mark.parametrize("seed, chooses", [(4, OPTIONS), (5, DESIGNS)])
def test_best_set_that_chooses_is_a_study_of_its_farms_with_these_typed_in(
        tmp_path, seed, chooses):
    draw = np.random.default_rng(seed)
    rows = [farm(draw, f"F-{n}", "L" if n < 3 else None) for n in range(4)]
    draw.shuffle(rows)
    book = sheets([LINE], set_chooses=chooses, budget_method="best set")
    study = run_study(validate(candidate_workbook(tmp_path, rows, **book)))
    funded = study.results[study.results["funded"] == 1]
    by_rule = study.funding.asked.sets.rows_of(list(funded.index))
    assert (funded["variant"] != by_rule["variant"]).any()  # else this shows nothing
    by_name = funded.set_index("candidate_id")
    kept = [row | {"supply_option": by_name.at[row["candidate_id"], "supply_option"],
                   "supply_design": by_name.at[row["candidate_id"], "variant"]
                   if chooses == DESIGNS else None}
            for row in rows if row["candidate_id"] in by_name.index]
    book["program"]["set_chooses"] = PARTNERS
    alone = run_study(validate(candidate_workbook(tmp_path, kept, name="only.xlsx", **book)))
    assert len(kept) and alone.results["funded"].eq(1).all()
    assert (funded["option_reason"].str.startswith("Chosen by the best set. ")).all()
    said = funded.assign(option_reason=funded["option_reason"].str.replace(
        "Chosen by the best set.", "Asked for in the workbook."))
    assert differences(said, alone.results) == []
    best = study.portfolio.sets.set_index("method").loc[BEST_WITHIN]
    only = alone.portfolio.sets.set_index("method").loc[BEST_WITHIN]
    for key in ("farms", "incentive_cost_usd", "goal_value", "worst_withdrawal_usd"):
        assert best[key] == pytest.approx(only[key], abs=1e-6)
    assert best["goal_bound"] == pytest.approx(best["goal_value"]) and best["is_proven"] == 1


def by_hand(option, cost, goal, row):
    return {"candidate_id": f"F-{row}", "excel_row": row, "farm_row": row, "builders": None,
            "feeder_id": None, "supply_option": option, "verdict": "qualifies",
            "funding_choice": None, "status": None, "known_enough_for": "construction",
            "incentive_cost_usd": cost, "refund_credit_usd": 0.0, "counted_load_kw": 10.0,
            "added_load_kw": 10.0, "cooperative_npv_usd": goal, "service_phases": 1}


@pytest.mark.parametrize("budget, value, options", [
    # By hand: a drive costs 100 and brings 10, a line costs 220 and brings 25, of either farm. The
    # rotary converter costs more than the drive and brings less, so that it is never worth having.
    (100, 10, ["drive"]), (219, 20, ["drive", "drive"]), (220, 25, ["line"]),
    (319, 25, ["line"]), (320, 35, ["drive", "line"]), (440, 50, ["line", "line"])])
def test_choice_of_options_by_hand(budget, value, options):
    of_2026 = rules.load(2026).replaced({"set_goal": rules.Rule("cooperative NPV", "by hand")})
    farms = pd.DataFrame({"candidate_id": ["F-1", "F-2"], "shared_line_id": None, "status": None},
                         index=[1, 2])
    sets = StudiedSets(by_builders(farms, every_set), *[None] * 5, pd.DataFrame(
        [by_hand("drive", 100.0, 10.0, row) for row in (1, 2)], index=[10, 20]), of_2026)
    others = pd.DataFrame([by_hand(*one, row) for row in (1, 2) for one in (
        ("line", 220.0, 25.0), ("rotary", 120.0, 9.0))], index=[12, 11, 22, 21])
    lines, values = sets.lines("cooperative_npv_usd")
    asked = Asked(sets, lines, values, [], np.array([budget]), pd.DataFrame(
        {"feeder_id": [], "spare_capacity_kw": []}), 1.0, frozenset())
    searched = with_ways(asked, others)
    found, taken = best_set(searched, budget_cents=asked.budget_cents)
    numbers = [n for k, (_, number) in taken.items() for n in searched.sets.groups[k][2][number]]
    assert found.value == value
    assert sorted(searched.sets.chosen.loc[numbers, "supply_option"]) == options


def test_what_choosing_would_bring_is_said_where_the_rule_does_not(tmp_path):
    # Farms ever farther from three phases: least first cost is not always the cooperative's best.
    rows = [{"candidate_id": f"F-{ft}", "load_control": True, "three_phase_distance_ft": ft}
            for ft in (600, 1500, 2500)]
    inputs = validate(candidate_workbook(
        tmp_path, rows, study={"program_budget_usd": 1e6},
        program={"set_goal": "cooperative NPV"}))
    farms = assessable(inputs)
    sets = study_sets(farms, inputs)
    by_rule = give_out(sets, inputs)
    reached = by_rule.sets.set_index("method").loc[BEST_WITHIN, "goal_value"]
    gains = by_rule.limits.set_index("constraint")["gain_if_lifted"]
    for chooses in (OPTIONS, DESIGNS):
        changed = inputs.rules.replaced({"set_chooses": rules.Rule(chooses, "test")})
        chosen = give_out(sets, replace(inputs, rules=changed, findings=Findings()), farms,
                          study_sets)
        best = chosen.sets.set_index("method").loc[BEST_WITHIN, "goal_value"]
        assert gains[OWN_RULE[chooses]] > 0
        assert gains[OWN_RULE[chooses]] == pytest.approx(best - reached, abs=2 * CENT)
