"""What free options would bring the best set, against a study with these options typed in."""

from dataclasses import replace

import pytest

from batch.findings import Findings
from batch.program.best_set import Asked, best_set, goal_key
from batch.program.budgeting import BEST_WITHIN, OWN_OPTION, give_out
from batch.program.wider import with_free_options
from batch.reading.validate import validate
from batch.study import assessable, study_sets
from tests.workbooks.make import candidate_workbook

CENT = 0.005


def test_free_options_bring_what_a_study_with_them_typed_in_says(tmp_path):
    # Farms ever farther from three phases: least first cost is not always the cooperative's best.
    rows = [{"candidate_id": f"F-{ft}", "load_control": True, "three_phase_distance_ft": ft}
            for ft in (200, 600, 1000, 1500, 2500, 4000)]
    inputs = validate(candidate_workbook(
        tmp_path, rows, study={"program_budget_usd": 1e6},
        program={"set_goal": "cooperative NPV"}))
    sets, goal = study_sets(assessable(inputs), inputs), goal_key(inputs.rules)
    asked = Asked.of(sets, inputs)
    wider = with_free_options(asked, inputs)
    found, taken = best_set(wider, budget_cents=asked.budget_cents)
    numbers = [n for k, (_, number) in taken.items() for n in wider.sets.groups[k][2][number]]
    farms = wider.sets.chosen.loc[numbers].set_index("farm_row")["supply_option"].sort_index()
    assert (farms != sets.rows_of(list(farms.index))["supply_option"]).any()
    candidates = inputs.candidates.copy()
    candidates.loc[farms.index, "supply_option"] = farms
    typed = replace(inputs, candidates=candidates, findings=Findings())
    settled = study_sets(assessable(typed), typed).rows_of(list(farms.index))
    assert settled["supply_option"].tolist() == farms.tolist()
    assert settled["verdict"].str.startswith("qualifies").all()
    assert settled["incentive_cost_usd"].sum() <= inputs.study["program_budget_usd"] + CENT
    assert settled[goal].sum() == pytest.approx(found.value)
    given = give_out(sets, inputs)
    reached = given.sets.set_index("method").loc[BEST_WITHIN, "goal_value"]
    gain = given.limits.set_index("constraint").loc[OWN_OPTION, "gain_if_lifted"]
    assert gain > 0 and gain == pytest.approx(settled[goal].sum() - reached, abs=2 * CENT)
