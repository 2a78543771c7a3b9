"""Each check on both sides of its limit, and what stays open without a cell."""

import numpy as np
import pytest

from batch.columns import CANDIDATES
from batch.findings import judge
from batch.reading.validate import validate
from batch.study import run_study
from batch.supply import checks as check_list
from batch.supply import judging
from batch.supply.checks import LOOSEST_TDD_PCT
from tests.workbooks.make import candidate_workbook


def study_of(folder, rows, **more):
    rows = [{"farm_label": "Field"} | row for row in rows]  # else numbered by the builder
    more = {"study": {"program_budget_usd": 60_000}} | more
    return run_study(validate(candidate_workbook(folder, rows=rows, **more)))


@pytest.mark.parametrize("beyond, sense", [(1, "at_most"), (-1, "at_least")])
def test_a_limit_holds_on_both_sides(beyond, sense):
    limit, step = 5.0, 1e-9
    value = [limit - beyond, limit, limit + beyond * step, np.nan, limit]
    limits = [limit, limit, limit, limit, np.nan]
    answers = judge(value, **{sense: limits})
    assert answers.tolist() == ["meets", "meets", "fails", "not assessed", "not assessed"]
    watch = limit - beyond
    with_watch = judge([watch, watch + beyond * step, limit, limit + beyond * step],
                       **{sense: limit}, watch_beyond=watch)
    assert with_watch.tolist() == ["meets", "watch", "watch", "fails"]
    assert judge([1.0], **{sense: 5.0}, watch_beyond=np.nan).tolist() == ["not assessed"]


def test_judge_wants_one_limit():
    for limits in ({}, {"at_most": 1, "at_least": 1}):
        with pytest.raises(ValueError, match="one of"):
            judge([1.0], **limits)


@pytest.fixture(scope="module")
def complete(tmp_path_factory):
    """A farm with every optional cell of the checks filled, under rules that ask for all checks."""
    study = study_of(tmp_path_factory.mktemp("complete"), [COMPLETE], program=ALL_CHECKS)
    is_open = study.checks["answer"] == "not assessed"
    assert set(study.checks.loc[is_open, "check"]) == TO_BE_MEASURED
    return study


TO_BE_MEASURED = {"converter output unbalance"}  # no model gives it
# A very short pivot: behind an output reactor, so that the motors' class matters.
COMPLETE = {"is_inverter_duty": "yes", "is_tower_inverter_duty": "yes", "motor_lead_ft": 140,
            "pivot_lead_ft": 30, "pivot_length_ft": 110, "irrigated_area_acre": 3,
            "tower_count": 1, "three_phase_distance_ft": 2000, "source_fault_a": 620}
ALL_CHECKS = {"current_limits_apply": "applied"}


def of_check(checks, check):
    """The rows of a check; one name may stand for several options, each with a limit of its own."""
    mine = checks[checks["check"] == check.name]
    others = {option for c in check_list.CHECKS if c.name == check.name and c is not check
              for option in c.options}
    return mine[~mine["supply_option"].isin(others)]


@pytest.mark.parametrize("check", [c for c in check_list.CHECKS if c.name not in TO_BE_MEASURED],
                         ids=lambda check: check.name)
def test_each_check_on_both_sides_of_its_limit(complete, check):
    designs, rules = complete.variants.copy(), complete.inputs.rules
    known = of_check(judging.checks_table(designs, rules), check)
    assert set(known["supply_option"]) == set(check.options)
    limit = known.set_index("design")["limit"]
    place = limit.index
    outwards = 1 if check.sense == check_list.AT_MOST else -1
    bad = "watch" if check.advice_only else "fails"
    if check.unsure_by:
        designs[check.unsure_by] = 0.0  # a bound that is known to be reached
    for shift, allowed in ((-0.5, {"meets"}), (0, {"meets", "watch"}), (1e-6, {bad}),
                           (np.nan, {"not assessed"})):
        for key in filter(None, (check.value, check.watch_value)):
            designs.loc[place, key] = limit * (1 + outwards * shift)
        answers = of_check(judging.checks_table(designs, rules), check)["answer"]
        assert set(answers) <= allowed, shift


def checks_by_farm(study):
    """By candidate, the checks of every variant of every option, not only of the best of each."""
    checks = judging.checks_table(study.variants, study.inputs.rules)
    return {name: mine.copy() for name, mine in checks.groupby("candidate_id")}


def does_not_need(check, need, rows):
    """Designs that the check judges without the cell: the pump motor's lead decides the output
    filter, which feeds the pivot with a drive only; an active front end holds its bus itself; what
    any motor stands needs no class."""
    if need in ("is_inverter_duty", "is_tower_inverter_duty"):
        return rows["answer"] == "meets"
    if check.name == "end tower voltage" and need == "motor_lead_ft":
        return rows["supply_option"] != "single-phase drive"
    holds_bus = check.name in ("motor voltage from the drive", "current from the drive",
                               "end tower voltage")
    return (rows["variant"] == "active front end") & holds_bus & (need == "source_fault_a")


# IEEE 519-2022, Table 2, its loosest row; NEMA MG 1 Part 31, 3.1 times the rated voltage.
LOOSEST = {"current distortion": LOOSEST_TDD_PCT, "peak at the motor": 3.1 * 460,
           "peak at the tower motors": 3.1 * 460}
BLANKS = [(check, need) for check in check_list.CHECKS for need in check.needs]


@pytest.fixture(scope="module")
def with_blank(tmp_path_factory):
    """The checks of the complete farm with one cell blank, by its key."""
    keys = dict.fromkeys([need for _, need in BLANKS] + list(OTHER_VALUES))
    return checks_by_farm(study_of(tmp_path_factory.mktemp("blank"), [
        COMPLETE | {"candidate_id": key, key: None} for key in keys], program=ALL_CHECKS))


@pytest.mark.parametrize("check, need", BLANKS, ids=lambda v: v if isinstance(v, str) else v.name)
def test_a_blank_cell_is_not_assessed_and_is_named(with_blank, check, need):
    checks = of_check(with_blank[need], check)
    checks = checks[~does_not_need(check, need, checks)]
    if check.unsure_by and need == "source_fault_a":
        # Behind an infinite source the fault current is an upper bound, which may be within.
        assert (checks["answer"].eq("meets") == (checks["value"] <= checks["limit"])).all()
        checks = checks[checks["value"] > checks["limit"]]
        if checks.empty:
            return
    # Beyond the loosest limit of all a value fails, whatever the farm's own limit.
    fails = checks["answer"] == "fails"
    assert not fails.any() or (checks.loc[fails, "value"] > LOOSEST[check.name]).all()
    checks = checks[~fails]
    assert set(checks["answer"]) == {"not assessed"}
    label = CANDIDATES.by_key[need].label
    assert checks["blank_inputs"].str.contains(label, regex=False).all()


# An unknown source counts as infinitely strong for the sizes: the most distorted current and so the
# largest equipment. The drops move with the displacement power factor alone, by less than a tenth.
HELD_BY_THE_STRONGEST_SOURCE = {"transformer loading", "service ampacity", "service drop",
                                "new line drop"}
# An upper bound of the fault current that is within a rating needs no better one.
HELD_BY_THE_STRONGEST_SOURCE |= {check.name for check in check_list.CHECKS if check.unsure_by}
OTHER_VALUES = {"source_fault_a": 4000, "motor_lead_ft": 90, "pivot_lead_ft": 300,
                "is_inverter_duty": "no", "is_tower_inverter_duty": "no"}


def is_good_for_any_class(key, one, two):
    """Whether a check of a motor passes in either class."""
    return key.endswith("inverter_duty") and one["answer"] == two["answer"] == "meets"


@pytest.fixture(scope="module")
def with_other(tmp_path_factory):
    """The checks of the complete farm with another value in one cell, by its key."""
    return checks_by_farm(study_of(tmp_path_factory.mktemp("other"), [
        COMPLETE | {"candidate_id": key, key: value} for key, value in OTHER_VALUES.items()]))


@pytest.mark.parametrize("key", OTHER_VALUES)
def test_what_depends_on_a_cell_is_not_assessed_where_it_is_blank(complete, with_blank, with_other,
                                                                  key):
    """Found without the list of needs: a check whose value or limit moves with the cell."""
    [as_it_is] = checks_by_farm(complete).values()
    names = [check.name for check in check_list.CHECKS]  # the program's criteria are about money
    one, two, blank = (c[c["check"].isin(names)].set_index(["supply_option", "variant", "check"])
                       for c in (as_it_is, with_other[key], with_blank[key]))
    two = two.reindex(one.index)
    # A lead decides the output filter; without it the one of the largest loss is counted, which
    # moves the load by a hundredth.
    near = 0.03 if key.endswith("lead_ft") else 1e-5
    moves = ~(np.isclose(one["value"], two["value"], rtol=near)
              & np.isclose(one["limit"], two["limit"], rtol=near))
    moved = one.index[moves]
    assert len(moved)
    answers = blank["answer"].reindex(moved)
    passed = [place for place in moved if answers[place] == "meets"
              and place[2] not in HELD_BY_THE_STRONGEST_SOURCE
              and not is_good_for_any_class(key, one.loc[place], two.loc[place])]
    assert passed == []
