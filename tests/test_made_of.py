"""What columns are made of: tried on the demo, by mixing up among farms what a step is given.

The declared parts are held against what the steps do: a value must stay where everything is mixed
up that it is not made of, and must change where a part of it is.
"""

import re
from dataclasses import dataclass, fields, replace

import numpy as np
import pandas as pd
import pytest

from batch.columns import (
    CANDIDATES,
    EVERY_SHEET,
    PROGRAM,
    RATES,
    RESULTS,
    SHARED_LINES,
    STUDY,
    UNIT_COSTS,
    WORKING,
)
from batch.columns.column import ByFarm, Column
from batch.columns.program import (
    ADDED_LOAD,
    ALL_PAID_FOR_LINE,
    AT_SERVICE,
    BASE_REVENUE,
    COST_ITEMS,
    INCENTIVE_AND_SHARE,
    MARGIN,
    MEMBERS_NPV,
    REVENUE,
    STRETCH_JOINED,
    item_key,
)
from batch.columns.working import CHOICE, TYPED_NAMES
from batch.economics.incentive import PER_HP, PERCENT
from batch.reading.validate import validate
from batch.rules import Rule
from batch.study import CHANGE, FLOW, RANK, REASON, run_study
from batch.supply.chain import Chain
from tests.conftest import DEMO, missing

STEPS = [one for stage in FLOW[:FLOW.index(RANK) + 1] for one in stage.steps]
OF_OPTIONS = {one.name for stage in FLOW if stage.row != "farm" for one in stage.steps}
STEP = {one.name: one for one in STEPS}
COLUMN = SHARED_LINES.by_key | WORKING.by_key | CHOICE.by_key | RESULTS.by_key
TYPED = {TYPED_NAMES.get(key, key): column for key, column in CANDIDATES.by_key.items()}
NAME = re.compile(r"\b[a-z][a-z0-9_]*\b")
# Which row a row is of: in no list, and never mixed up.
IDENTITY = {"candidate_id", "excel_row"}
# Columns that have no parts.
NO_PARTS = {"excel_row": "the row itself", "losses_pct": "a cell of the Rates sheet",
            "shared_single_phase_ft": "a cell of the Shared lines sheet",
            "shared_three_phase_ft": "the same",
            "administrator_benefits_usd": "always zero"}
# Cells that fit each other: neither is mixed up without the other.
TOGETHER = {"is_priced", "missing_items"}
# Columns of tables, which name what picked the row for its farm.
PICKED = {"variant": "best_variants", "supply_option": "choose_option"}
# Steps that are not tried by mixing up.
NOT_TRIED = {"candidates_by_variant": "what it makes comes from tables",
             "stand_in_program": "it lays down what was decided for all farms together",
             "withhold_incentive": "it does again what grant_incentive and value_designs do"}
ANSWERS_MADE = STEP["answers_of"].makes
SLOW = ("size_service",)  # every second option is tried
# Steps whose makings are counted as one: each part must change one of them.
AS_ONE = ("answers_of", "count_criteria")
# What a step is given beside its frame stands for these columns.
GIVEN = {"price_list": set(UNIT_COSTS.by_key), "rates": set(RATES.by_key),
         "study": set(STUDY.by_key), "checks": set(ANSWERS_MADE),
         "place": {*RESULTS.by_key, *STUDY.by_key, *PROGRAM.by_key, *CANDIDATES.by_key,
                   "builders"}}
CHAIN_MADE = set(STEP["chain_results"].makes)
OHMS = {f"{place}_{letter}_ohm" for place in ("source", "line", "transformer", "service")
        for letter in "rx"}
# Rules under which more is counted than under those of the demo.
HALF = {f"share_{item_key(item)}_{part}": usd for item in COST_ITEMS
        for part, usd in (("member_pct", 50.0), ("free_usd", 100.0))}
OTHER_RULES = (
    HALF | {"common_coupling_point": AT_SERVICE, "ranking_counts": ADDED_LOAD,
            "line_free_single_phase_ft": 400.0, "line_free_three_phase_ft": 400.0,
            "line_free_job": True, "allowance_basis": REVENUE, "allowance_years": 2.0,
            "farm_cap_usd": 20_000.0, "refund_credit_years": 4, "refund_credit_pct": 3.0,
            "refund_credit_usd_kwh": 0.01, "contribution_months": 60,
            "contribution_interest_pct": 5.0, "refund_credit_items":
            "line, transformer, service, engineering", "incentive_basis": PER_HP,
            "incentive_amount": 30.0, "option_chosen_by": MEMBERS_NPV,
            "refund_method": ALL_PAID_FOR_LINE, "incentive_cost_counts": INCENTIVE_AND_SHARE,
            "residual_value_counts": True, "emission_damage_usd_t": 50.0,
            "refund_window_yr": 5},
    HALF | {"allowance_basis": MARGIN, "allowance_years": 0.5, "farm_cap_usd": 20_000.0,
            "transformer_free_kva": 25.0, "refund_method": STRETCH_JOINED,
            "refund_window_yr": 5, "incentive_basis": PERCENT, "incentive_amount": 1.0,
            "incentive_eligible_items": ", ".join(COST_ITEMS)},
    HALF | {"allowance_basis": BASE_REVENUE, "allowance_years": 0.5, "farm_cap_usd": 2_000.0})
# Parts that change nothing in the demo: (part, column or step) and why.
IDLE = {
    "supply_option": "rows are mixed up within an option",
    "service_build": "every service of the demo is in conduit, and the price list has one price",
    ("electrode_conductor", "disconnect_at"): "no run is so much larger than its load asks",
    ("tower_reflection_factor", "end_tower_lead_ft"): "all long leads have a sine filter",
    ("breakeven_line_npv_ft", "base_revenue_usd_yr"): "a low cap per farm hides it",
    ("pivot_lead_used_ft", "pipe_length_ft"): "every farm with a pivot gives its lead",
    **{(f"{case}wholesale_cost_usd_yr", "rate_id"): "under all rates power is bought alike"
       for case in ("", "controlled_", "uncontrolled_")},
    **{("bill_minimum_bill_adjustment_usd_yr", part): "one rate alone has a minimum"
       for part in ("rate_id", "bill_customer_usd_yr")},
    **{("missing_items", part): "options without a price lack other items"
       for part in ("line_build", "lead_filter", "starter_item", "has_motor_lead",
                    "has_pivot_lead", "present_power")},
    **{("known_enough_for", part): "no farm gives every nameplate, all give feeder and rate"
       for part in ("booster_hp", "booster_motor_a", "tower_motor_a", "tower_count", "fuel_rate",
                    "nameplate_motor_hp", "motor_efficiency_pct", "motor_full_load_a",
                    "motor_code_letter", "feeder_id", "rate_id", "present_power")},
    **{("known_enough_for", part): "the open checks that name the cell are given"
       for part in ("is_inverter_duty", "is_tower_inverter_duty", "not_assessed_count")}}


@dataclass(frozen=True)
class Case:
    """A call of a step's function: its frame, what it was given beside it, and the rows that may
    be exchanged for each other."""

    name: str
    function: object
    frame: pd.DataFrame
    given: dict
    groups: np.ndarray

    def made(self, frame):
        out = self.function(frame, **self.given)
        out = out[0] if STEP[self.name].gives else out
        return out.to_frame() if isinstance(out, pd.Series) else out

    def mixed(self, keys, seed=1):
        """What comes of the frame with the cells of some columns moved to other rows."""
        place, draw = np.arange(len(self.frame)), np.random.default_rng(seed)
        for group in np.unique(self.groups):
            rows = np.flatnonzero(self.groups == group)
            place[rows] = draw.permutation(rows)
        return self.made(self.frame.assign(**{
            key: pd.Series(self.frame[key].array[place], self.frame.index) for key in keys}))

    def raised(self, keys):
        """What comes of the frame with columns far larger in all rows, or at the next choice."""
        return self._other(keys, 100.0, 10_000.0)

    def emptied(self, keys):
        """The same with zero where there was a number, and 1 where it was blank."""
        return self._other(keys, 0.0, 0.0, 1.0)

    def _other(self, keys, factor, more, blank=10_000.0):
        return self.made(self.frame.assign(**{
            key: _other(key, self.frame[key], factor, more, blank) for key in keys}))


def _other(key, values, factor, more, blank):
    if pd.api.types.is_numeric_dtype(values):
        return (values.astype(float) * factor + more).fillna(blank)
    choices = TYPED[key].choices if key in TYPED else ()
    return values.map(dict(zip(choices, (*choices[1:], *choices[:1])))) if choices else values


@pytest.fixture(scope="module")
def cases():
    """The calls of each step of a real run, cut to the best variant of each option."""
    if not DEMO.exists():
        missing("the demo portfolio is not made yet")
    seen = {}

    def spy(one, function):
        def call(frame, **given):
            seen.setdefault(one.name, []).append((function, frame, given))
            return function(frame, **given)
        return call

    with pytest.MonkeyPatch.context() as patch:
        for one in STEPS:
            patch.setattr(one, "function", spy(one, one.function))
        study = run_study(validate(DEMO))
    uncut = Case("best_variants", *seen["best_variants"][0],
                 seen["best_variants"][0][1]["supply_option"].to_numpy(str))
    options = of_whole_lines(study.sets)
    later = {one.name for stage in (CHANGE, REASON) for one in stage.steps}
    return {name: _cases(name, calls, study.options if name in later else options)
            for name, calls in seen.items()} | {
        "all variants": [uncut]}


def of_whole_lines(sets):
    """The options of the farms on no shared line, and of those of lines that all of them build."""
    size = sets.farms["builders"].str.split().str.len()
    most = size.groupby(sets.farms["shared_line_id"]).transform("max")
    rows = sets.farms.index[sets.farms["builders"].isna() | (size == most)]
    return sets.options[sets.options["excel_row"].isin(rows)]


def _cases(name, calls, options):
    """The first call of a step, and the last one for the farms of shared lines, each under other
    rules and the first under the demo's as well."""
    on_line = set(options.index[options["shared_line_id"].notna()])
    of_lines = [call for call in calls[1:] if on_line <= set(call[1].index)]
    cases = []
    for sets, (function, frame, given) in zip((4, 2), (calls[0], *of_lines[-1:])):
        groups = np.full(len(frame), "farm")
        if name in OF_OPTIONS:
            rows = frame.index.isin(options.index[::2 if name in SLOW else 1])
            frame, given = frame[rows], _cut(given, rows, frame.index[rows])
            groups = options["supply_option"].reindex(frame.index).to_numpy(str)
        cases += [Case(name, function, frame, given | rules, groups)
                  for rules in _rule_sets(name, given)[:sets]]
    return cases


def _cut(given, rows, designs):
    """What goes with the rows of a frame, for some of them."""
    cut = {key: value.of(rows) if isinstance(value, Chain) else replace(value, **{
        field.name: getattr(value, field.name)[rows] for field in fields(value)})
        for key, value in given.items() if key in ("chain", "spectrum")}
    if "gains" in given:
        cut["gains"] = given["gains"][given["gains"]["design"].isin(designs)]
    return given | cut


def _rule_sets(name, given):
    """Each set of other rules of which the step reads some, and the rules as they are."""
    sets = [{key: Rule(value, "test") for key, value in values.items() if key in STEP[name].rules}
            for values in OTHER_RULES]
    return [*({"rules": given["rules"].replaced(values)} for values in sets if values), {}]


# --- the names ------------------------------------------------------------------------------------

def worked_texts(column: Column):
    if isinstance(column.worked, ByFarm):
        return []  # its parts are listed
    return [column.worked] if isinstance(column.worked, str) else [
        text for _, text in column.worked]


def parts_of(key):
    """The names that a column's arithmetic or its list has."""
    column = COLUMN.get(key)
    if column is None:
        return set()
    texts = " ".join((column.made_of, *worked_texts(column)))
    return {name for name in NAME.findall(texts) if name in KNOWN}


KNOWN = {key for sheet in EVERY_SHEET for key in sheet.by_key} | set(TYPED_NAMES.values())


def closure(one, key):
    """What of a step's needs a column is made of, in the end."""
    opened = set(one.makes) | (OHMS if "chain" in one.gives else set())
    found, todo = set(), [key]
    while todo:
        new = parts_of(todo.pop()) - found
        found |= new
        todo += new & opened
    return (found | {key}) & set(one.needs)


MADE = list(dict.fromkeys((one.name, key) for one in STEPS for key in one.makes))


def test_every_column_without_arithmetic_has_its_parts():
    bare = {key for _, key in MADE if not COLUMN[key].made_of
            and not any(worked_texts(COLUMN[key]))}
    assert bare == set(NO_PARTS)


def test_parts_are_declared_by_a_step_that_makes_the_column():
    of_chain = {*STEP["size_service"].needs, *STEP["size_service"].rules,
                *STEP["size_service"].makes, *CHAIN_MADE}
    for column in COLUMN.values():
        if column.key in PICKED:
            continue
        names = column.made_of.split()
        assert len(names) == len(set(names)), column.key
        makers = [one for one in STEPS if column.key in one.makes]
        allowed = set().union(*({*one.needs, *one.rules, *one.makes, *(
            name for what in one.takes for name in GIVEN.get(what, ()))} for one in makers))
        if any({"chain", "spectrum"} & {*one.takes, *one.gives} for one in makers):
            allowed |= of_chain
        assert set(names) <= allowed, (column.key, set(names) - allowed)


# --- the demo -------------------------------------------------------------------------------------

def same(one, other):
    """Which values are the same."""
    if len(one) != len(other) or not one.index.equals(other.index):
        return False
    if pd.api.types.is_float_dtype(one) and pd.api.types.is_float_dtype(other):
        return np.allclose(one, other, rtol=1e-9, atol=1e-9, equal_nan=True)
    return all(np.allclose(a, b, equal_nan=True) if isinstance(a, np.ndarray)
               else a == b or a != a and b != b for a, b in zip(one, other))


TRIED = [name for name in STEP if name not in NOT_TRIED]


@pytest.mark.parametrize("name", TRIED)
def test_what_is_no_part_changes_nothing(cases, name):
    one = STEP[name]
    by_closure = {}
    for key in one.makes:
        if COLUMN[key].made_of:
            by_closure.setdefault(frozenset(closure(one, key)), []).append(key)
    for case in cases[name]:
        before = case.made(case.frame)
        for parts, keys in by_closure.items():
            others = set(one.needs) - parts - IDENTITY
            after = case.mixed(others - TOGETHER if parts & TOGETHER else others)
            moved = [key for key in keys if not same(before[key], after[key])]
            assert not moved, (moved, sorted(parts))


def test_nothing_else_picks_the_variant(cases):
    one, case = STEP["best_variants"], cases["all variants"][0]
    others = set(one.needs) - IDENTITY - TOGETHER - {"project_cost_usd", "added_load_kw"}
    parts = set(COLUMN["variant"].made_of.split())
    assert case.made(case.frame).index.equals(case.mixed(others - parts).index)
    # The demo asks for no design; tests/test_supply_design.py does.
    for part in parts - {"is_priced", "wanted_option", "supply_design"}:
        assert not case.made(case.frame).index.equals(case.mixed([part]).index), part


@pytest.mark.parametrize("name", TRIED)
def test_every_part_changes_the_value_of_some_farm(cases, name):
    """A need alone; of what the step makes itself, one of its own needs."""
    one = STEP[name]
    asked = {(key, part): {part} if part in one.needs else closure(one, part)
             for key in one.makes if COLUMN[key].made_of
             for part in parts_of(key) & {*one.needs, *one.makes} - IDENTITY - {key}}
    idle = {(key, part) for (key, part), needs in asked.items()
            if needs and not OHMS & {key, part} and not {part, (key, part)} & set(IDLE)}
    for case in cases[name]:
        if not idle:
            break
        before = case.made(case.frame)
        for change in (case.mixed, case.raised, case.emptied):
            for need in sorted(set().union(*(asked[pair] for pair in idle))):
                after = _changed(change, need)
                moved = {key for key in one.makes
                         if after is None or not same(before[key], after[key])}
                moved = moved if name not in AS_ONE or not moved else set(one.makes)
                idle -= {(key, part) for key, part in idle
                         if need in asked[key, part] and key in moved}
    assert not idle, idle


def _changed(change, need):
    """What comes of a changed column; None where the step cannot do with it, and so reads it."""
    try:
        return change([need])
    except (TypeError, ValueError, KeyError, IndexError):
        return None
