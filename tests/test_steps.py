"""The steps against what they declare: in their table, on the demo, and made-up ones."""

from dataclasses import replace

import pandas as pd
import pytest

from batch import rules as rule_sets
from batch.columns import CANDIDATES
from batch.columns.program import COST_ITEMS, PROGRAM
from batch.columns.results import RESULTS
from batch.columns.working import TYPED_NAMES
from batch.findings import Findings
from batch.reading.validate import validate
from batch.rules import Rule
from batch.step import Stage, Step, Undeclared, drawing, run, step
from batch.study import FLOW, run_study
from tests.conftest import DEMO, missing

# `by_builders` tells of each row with whom the farm builds.
FROM_THE_WORKBOOK = {"farm_label", "feeder_id", "builders", "farm_row"} | {
    TYPED_NAMES.get(key, key) for key in CANDIDATES.by_key}
STEPS = [one for stage in FLOW for one in stage.steps]
NAMES = [one.name for one in STEPS]

# Columns that no later step needs and that are no result: who reads them.
READ_ELSEWHERE = {
    "tower_table_a": "cross-checks of the engineer's cells", "booster_table_a": "the same",
    "computed_fuel_rate": "the same", "season_fuel_rate": "the same",
    "load_kw": "the first step of a design's sizing alone; said in the dictionary",
    "trunk_alone_usd": "table of the three-phase crossover",
    "above_farm_cap_usd": "finding about a share above the cap",
    "option_place": "order of the options", "missing_prices": "finding about missing prices",
    "open_limits_count": "best variant, before the criteria are counted",
    "cooperative_flow_usd": "table of cash flows",
    **{f"{test}_{side}_usd": "totals of the program"
       for test in ("participant", "ratepayer", "administrator", "total_resource", "societal")
       for side in ("benefits", "costs")},
    "irr_root_count": "finding about several rates of return", "flow_sign_changes": "the same"}

# What the demo does not read, since it is asked for by rules that differ from the demo's.
CREDIT = {"contribution_interest_pct", "refund_credit_items", "refund_credit_pct",
          "refund_credit_base_usd_yr", "refund_credit_usd_kwh"}
WORK = {"member_line_usd", "member_transformer_usd", "member_service_usd", "member_engineering_usd"}
FREE_FEET = {"line_build", "own_line_ft", "trunk_part_ft", "trunk_free_usd", "line_job_usd",
             "line_free_job"}
UNDER_OTHER_RULES = {
    "distortion_results": {"fault_current_a"},
    "share_costs": FREE_FEET | {"revenue_usd_yr", "base_revenue_usd_yr", "margin_usd_yr",
                                "allowance_years"},
    "grant_incentive": WORK | CREDIT | {
        "member_converter_usd", "member_starter_usd", "member_leads_usd",
        "member_motor_change_usd", "contribution_usd", "contribution_months",
        "rate_escalation_pct"},
    "value_designs": WORK | CREDIT,
    "choose_option": {"member_npv_usd"}, "option_reasons": {"member_npv_usd"},
    "break_evens": CREDIT | {"shared_line_members", "line_free_job", "allowance_years",
                             "rate_escalation_pct"},
    "draw_futures": WORK | FREE_FEET | {"base_revenue_usd_yr", "allowance_years",
                                        "project_cost_usd", "may_have_incentive",
                                        "refund_credit_usd"}}


def every(nth, first=0):
    """The inputs of the demo with every n-th of its farms."""
    if not DEMO.exists():
        missing("the demo portfolio is not made yet")
    inputs = validate(DEMO)
    some = inputs.candidates.iloc[first::nth]
    return replace(inputs, findings=Findings(), candidates=some,
                   has_error=inputs.has_error[some.index])


@pytest.fixture(scope="module")
def calls():
    """What each step's function was given, and what came of it, as every third farm of the
    demo was studied."""
    seen = {}

    def spy(one, function):
        def call(frame, **given):
            out = function(frame, **given)
            seen.setdefault(one.name, (function, frame, given, out))
            return out
        return call

    with pytest.MonkeyPatch.context() as patch:
        for one in STEPS:
            patch.setattr(one, "function", spy(one, one.function))
        run_study(every(3))
    return seen


# --- the demo -------------------------------------------------------------------------------------

def test_every_step_of_the_table_runs_and_only_those(calls):
    assert len(set(NAMES)) == len(NAMES) > 25
    assert set(calls) == set(NAMES)


@pytest.mark.parametrize("one", STEPS, ids=NAMES)
def test_step_gets_its_needs_and_makes_what_it_declares(calls, one):
    _, frame, given, out = calls[one.name]
    assert list(frame) == list(one.needs)
    assert set(given) == set(one.takes)
    rules = given["rules"] if "rules" in given else (
        given["inputs"].rules if "inputs" in given else None)
    assert set(rules.by_key if rules else ()) == set(one.rules)
    table = out[0] if one.gives else out
    made = {table.name} if isinstance(table, pd.Series) else set(table)
    assert made - set(one.needs) <= set(one.makes) <= made
    assert len(out) == 1 + len(one.gives) if one.gives else True


@pytest.mark.parametrize("one", STEPS, ids=NAMES)
def test_step_reads_all_that_it_needs(calls, one):
    """With any column or rule left out of the declaration the step fails: none is superfluous."""
    function, frame, given, _ = calls[one.name]
    unread = set()
    for key in (*one.needs, *one.rules):
        less = Step(function, *(tuple(name for name in names if name != key)
                                for names in (one.needs, one.rules)),
                    one.makes, (), one.gives, one.rows_of)
        try:
            less(frame, **given)
        except Exception as fault:  # a step may read what was left out in one of its own steps
            assert key in str(fault), fault
        else:
            unread.add(key)
    if one.name == "withhold_incentive":  # it hands on what was made of farms that keep theirs
        unread -= set(one.anew)
    expected = UNDER_OTHER_RULES.get(one.name, set())
    assert unread == expected, f"{one.name} declares and does not read {unread - expected}"


@pytest.mark.parametrize("turn", range(6))
def test_any_choice_of_the_rules_runs_with_what_is_declared(turn):
    """Every choice of every rule is taken in some turn, and what is zero is not in every other."""
    inputs = every(5, first=turn)
    every_item = ", ".join(COST_ITEMS)
    values = {"incentive_eligible_items": every_item if turn % 2 else "line, leads",
              "primary_conductor": "4 ACSR"}
    for n, column in enumerate(PROGRAM.columns):
        choices = (False, True) if column.kind == "yes/no" else column.choices
        if choices and column.key not in values:
            values[column.key] = choices[(turn + n) % len(choices)]
        elif column.is_numeric and inputs.rules[column.key] == 0 and (turn + n // 2) % 2:
            values[column.key] = min(column.maximum, 10)
    other = inputs.rules.replaced({key: Rule(value, "test") for key, value in values.items()})
    study = run_study(replace(inputs, rules=other))
    assert study.counts["assessed"] > 5


# --- the table ------------------------------------------------------------------------------------

def test_every_column_that_is_made_is_for_something():
    idle = {key for n, one in enumerate(STEPS) for key in one.makes
            if key not in RESULTS.by_key and not any(key in later.needs for later in STEPS[n + 1:])}
    assert idle == set(READ_ELSEWHERE)


def test_no_column_is_made_twice_unless_declared():
    stood = FROM_THE_WORKBOOK
    for one in STEPS:
        assert {key for key in one.makes if key in stood} == set(one.anew), one.name
        stood = stood | set(one.makes)


def test_every_need_comes_from_the_workbook_or_an_earlier_step():
    stood = FROM_THE_WORKBOOK
    for one in STEPS:
        assert set(one.needs) <= stood, (one.name, set(one.needs) - stood)
        stood = stood | set(one.makes)


def test_rooms_come_in_the_order_of_the_flow():
    order = ["farm", "supply", "money", "program"]
    first = [next(n for n, one in enumerate(STEPS) if one.room == room) for room in order]
    assert first == sorted(first)


def test_drawing_has_a_line_for_each_step():
    lines = drawing(FLOW)[2:]
    assert [line.split(" | ")[3] for line in lines] == [f"`{name}`" for name in NAMES]
    load = lines[NAMES.index("pump_load")]
    assert load.startswith("| what the water asks | farm | `farm/` |") and "workbook 21" in load
    assert sum("until no farm leaves three phases" in line for line in lines) == 3


# --- made-up steps --------------------------------------------------------------------------------

TANKS = pd.DataFrame({"side_ft": [2.0, 3.0], "depth_ft": [1.0, 4.0], "colour": ["red", "blue"]},
                     index=[7, 9])
RULES = rule_sets.load(2026)


@step(needs="side_ft depth_ft", rules="fittings_allowance_pct", makes="volume_ft3")
def fill(tanks, rules):
    """What a tank holds."""
    more = 1 + 0 * rules["fittings_allowance_pct"]
    return tanks.assign(volume_ft3=more * tanks["side_ft"] ** 2 * tanks["depth_ft"])


def test_a_step_joins_what_it_makes_to_the_whole_frame():
    # By hand: 2 x 2 x 1 and 3 x 3 x 4.
    whole = fill(TANKS, RULES)
    assert whole["volume_ft3"].tolist() == [4, 36] and whole["colour"].tolist() == ["red", "blue"]
    assert list(TANKS) == ["side_ft", "depth_ft", "colour"]


def test_a_run_hands_on_what_steps_give():
    @step(needs="side_ft", gives="widest_ft")
    def measure(tanks):
        """The widest tank."""
        return tanks, tanks["side_ft"].max()

    @step(needs="side_ft", makes="share")
    def compare(tanks, widest_ft):
        """Width beside the widest."""
        return (tanks["side_ft"] / widest_ft).rename("share")

    at_hand = {"rules": RULES}
    stage = Stage("tanks", "tank", (fill, measure, compare))
    out = run(stage.steps, TANKS, at_hand)
    assert at_hand["widest_ft"] == 3 and out["share"].tolist() == [2 / 3, 1]


def test_a_step_may_keep_some_rows_or_make_several_of_each():
    @step(needs="depth_ft", makes="is_deep")
    def deep(tanks):
        """The deep tanks alone."""
        return tanks[tanks["depth_ft"] > 2].assign(is_deep=True)

    @step(makes="tank half", rows_of="tank")
    def halves(tanks):
        """Each tank in two halves."""
        return pd.DataFrame({"tank": [7, 7, 9, 9], "half": list("abab")})

    assert deep(TANKS)["colour"].to_dict() == {9: "blue"}
    assert halves(TANKS)[["colour", "half"]].to_numpy().tolist() == [
        ["red", "a"], ["red", "b"], ["blue", "a"], ["blue", "b"]]


def told(function, frame=TANKS, *others, **declared):
    with pytest.raises(Undeclared) as fault:
        step(**declared)(function)(frame, *others)
    return str(fault.value)


def paint(tanks):
    """A tank's colour."""
    return tanks.assign(is_red=tanks["colour"] == "red")


def paint_rows(tanks):
    """The same, row by row."""
    return tanks.assign(is_red=[row.colour == "red" for row in tanks.itertuples()])


def rule_of(tanks, rules):
    """A rule's value, and whether there is one."""
    return tanks.assign(is_red="study_years" in rules.by_key)


def overwrite(tanks):
    """A cell changed in place."""
    tanks = tanks.copy()
    tanks.loc[7, "side_ft"] = 5.0
    return tanks


@pytest.mark.parametrize("function", [paint, paint_rows], ids=["by column", "by row"])
def test_a_column_that_is_read_and_not_declared(function):
    assert told(function, needs="side_ft", makes="is_red") == (
        f"{function.__name__} reads the column 'colour' and does not declare that it needs it")


def test_a_rule_that_is_read_and_not_declared():
    said = "reads the rule 'fittings_allowance_pct' and does not declare it"
    assert told(fill.function, TANKS, RULES, needs="side_ft depth_ft", makes="volume_ft3") == (
        f"fill {said}")
    assert told(rule_of, TANKS, RULES, needs="side_ft", makes="is_red") == (
        "rule_of reads the rule 'study_years' and does not declare it")
    declared = step(needs="side_ft", rules="study_years", makes="is_red")(rule_of)
    assert declared(TANKS, RULES)["is_red"].all()


def test_a_column_that_is_needed_and_missing():
    assert told(paint, TANKS.drop(columns="colour"), needs="colour", makes="is_red") == (
        "paint needs the column 'colour', which nothing has made")


def test_a_column_that_is_made_and_not_declared():
    assert told(paint, needs="colour") == (
        "paint makes the column 'is_red' and does not declare it")
    assert told(overwrite, needs="side_ft") == (
        "overwrite makes the column 'side_ft' and does not declare it")


def test_a_column_that_is_declared_and_not_made():
    assert told(paint, needs="colour", makes="is_red is_blue") == (
        "paint declares the column 'is_blue' and does not make it")


def test_other_faults_stay_what_they_are():
    def broken(tanks):
        """A plain mistake."""
        return tanks["no_such_column"]

    with pytest.raises(KeyError, match="no_such_column"):
        step(needs="side_ft", makes="x")(broken)(TANKS)


def test_rules_of_the_workbook_reach_a_step():
    other = replace(RULES, by_key=RULES.by_key | {"study_years": Rule(3, "test")})

    def years(tanks, rules):
        """The rule's value."""
        return tanks.assign(years=rules["study_years"])

    assert step(needs="side_ft", rules="study_years", makes="years")(years)(
        TANKS, other)["years"].tolist() == [3, 3]
