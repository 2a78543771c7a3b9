"""Worked lines: what is printed, worked with a pocket calculator, gives what is reported."""

import math
import re

import pytest

from batch.columns import RESULTS
from batch.columns.candidates import SUPPLY_OPTIONS
from batch.columns.column import ByFarm
from batch.columns.program import COST_ITEMS, item_key
from batch.columns.worked_by_rule import DECIDED
from batch.reading.validate import validate
from batch.study import run_study
from batch.trail.worked import worked_line
from tests.test_study import FARMS
from tests.workbooks.make import candidate_workbook

# A number as it is printed; a power's exponent and a name's digits are no measurements.
NUMBER = re.compile(r"(?<![\w.^])(?<!\^ )\d+(?:\.\d+)?(?:e[+-]?\d+)?(?![\w.])")
YEARLY = re.compile(r"(\d+\.?\d*)\)? USD / [\d.]+ \^ \d+")
WORKED = [column.key for column in RESULTS.columns if column.worked]


# Rules under which no term of a sum is zero, and dollars alone are free.
EVERY_TERM = {
    "overhead_adder_pct": 7, "line_free_single_phase_ft": 0, "line_free_three_phase_ft": 0,
    "transformer_free_kva": 0, "line_free_job": "no", "administration_usd": 410,
    "electric_upkeep_pct": 1.3, "carrying_cost_pct": 4.2, "refund_credit_years": 4,
    "refund_credit_pct": 3, "contribution_months": 48, "contribution_interest_pct": 4.5}
# And rules by which incentive and shares have other arithmetic: what decides, and how it is split.
SPLIT = {f"share_{item_key(item)}_{part}": value for item in COST_ITEMS
         for part, value in (("member_pct", 40), ("free_usd", 300), ("member_cap_usd", 1e6),
                             ("cap_usd", 1e6))}
WIDE = {"incentive_minimum_usd": 0, "incentive_maximum_usd": 1e6, "farm_cap_usd": 5e6,
        "maximum_cooperative_payback_yr": 60, "allowance_basis": "none",
        "incentive_cap_usd_per_kw": 0, "incentive_cap_cost_pct": 0, "transformer_free_kva": 0,
        "line_free_single_phase_ft": 0, "line_free_three_phase_ft": 0,
        "share_line_member_pct": 100, "share_service_member_pct": 100,
        "incentive_cost_counts": "incentive"}
RULE_SETS = {
    "flat": WIDE | {"incentive_basis": "flat", "incentive_amount": 777.5},
    "per hp": WIDE | SPLIT | {"incentive_basis": "per hp", "incentive_amount": 12.5,
                              "contribution_months": 48, "contribution_interest_pct": 0},
    "per kW": WIDE | SPLIT | {"incentive_basis": "per kW", "incentive_amount": 9.3,
                              "share_order": "percent then allowance", "free_limit_pct": 30},
    "percent": WIDE | {"incentive_basis": "percent of eligible cost", "incentive_amount": 4,
                       "incentive_eligible_items": "drive, starter, leads, engineering"},
    "tiers": WIDE | {"incentive_basis": "tiers", "incentive_tiers": "8: 31, 30: 21.5, 500: 6"},
    "minimum": WIDE | {"incentive_basis": "flat", "incentive_amount": 5,
                       "incentive_minimum_usd": 333},
    "maximum": WIDE | SPLIT | {"incentive_basis": "flat", "incentive_amount": 5_000,
                               "incentive_maximum_usd": 666,
                               **{f"share_{item_key(item)}_cap_usd": 900 for item in COST_ITEMS}},
    "cap per kW": WIDE | {"incentive_basis": "flat", "incentive_amount": 100_000,
                          "incentive_cap_usd_per_kw": 8.7},
    "cap by project cost": WIDE | {"incentive_basis": "flat", "incentive_amount": 100_000,
                                   "incentive_cap_cost_pct": 2.5},
    "cap per farm": WIDE | {"incentive_basis": "flat", "incentive_amount": 100_000,
                            "farm_cap_usd": 15_000},
    "cooperative payback": WIDE | {"incentive_basis": "flat", "incentive_amount": 100_000,
                                   "maximum_cooperative_payback_yr": 9},
    "member's cost": WIDE | {"incentive_basis": "flat", "incentive_amount": 1_000_000,
                             **{f"share_{item_key(item)}_member_cap_usd": 450
                                for item in COST_ITEMS}}}


def worked_under(folder, rules):
    """The rows of all options of all farms under some rules, and their known worked lines as
    (candidate, option, line)."""
    rows = [farm | {"supply_option": "auto", "other_funding_usd": 90} for farm in FARMS]
    book = candidate_workbook(folder, rows=rows, study={"program_budget_usd": 90_000},
                              program=rules)
    study = run_study(validate(book))
    records = study.options.to_dict("records")
    return records, [
        (row["candidate_id"], row["supply_option"], line) for row in records for key in WORKED
        if (line := worked_line(key, row, study.inputs.rules)) and line.value is not None]


@pytest.fixture(scope="module")
def lines(tmp_path_factory):
    """(candidate, option, line) of every known result with arithmetic, all options of all farms."""
    records, lines = worked_under(tmp_path_factory.mktemp("worked"), EVERY_TERM)
    assert {row["supply_option"] for row in records} == set(SUPPLY_OPTIONS)
    return lines


def evaluated(line: str) -> float:
    """The value of a printed line's arithmetic, units dropped."""
    arithmetic = line.replace("^", "**")
    arithmetic = re.sub(r"(?<=[\d)]) (?!x |/ |\+ |- |\*|if |else )[A-Za-z%$][A-Za-z%$/0-9-]*", "",
                        arithmetic)
    arithmetic = re.sub(r"(?<![a-z])x(?![a-z])", "*", arithmetic)
    return float(eval(arithmetic, {"__builtins__": {}, "max": max, "min": min}))  # noqa: S307


def slack(arithmetic: str) -> float:
    """How far the result may be off by the rounding of what is printed: half of the seventh
    significant digit of each number, half a cent of each larger sum of money."""
    worked, total = evaluated(arithmetic), 0.0
    for found in NUMBER.finditer(arithmetic):
        value = float(found.group())
        is_money = re.match(r"\)? USD", arithmetic[found.end():]) and value >= 100
        step = 0.005 if is_money else 0.5 * 10.0 ** (math.floor(math.log10(value or 1)) - 6)
        moved = arithmetic[:found.start()] + repr(value + step) + arithmetic[found.end():]
        total += abs(evaluated(moved) - worked)
    return total


def test_every_number_has_its_arithmetic_or_its_source():
    assert not [column.key for column in RESULTS.columns
                if column.is_numeric and not column.worked and not column.source]


def test_every_arithmetic_of_the_dictionary_is_worked_for_some_farm(lines):
    assert {line.key for *_, line in lines} == set(WORKED)


@pytest.mark.parametrize("key", WORKED)
def test_printed_arithmetic_gives_the_reported_value(lines, key):
    mine = [(name, option, line) for name, option, line in lines if line.key == key]
    assert mine
    hold(mine)


def allowed_of(line) -> float:
    """How far a line's value may be off: what is paid is in whole cents."""
    is_paid = isinstance(RESULTS.by_key[line.key].worked, ByFarm) and line.unit == "USD"
    return 1.5 * slack(line.arithmetic) + 1e-9 * abs(line.value) + 1e-9 + 0.01 * is_paid


def hold(lines):
    for name, option, line in lines:
        allowed = allowed_of(line)
        worked = evaluated(line.arithmetic)
        assert math.isfinite(worked)
        # The printed numbers must be fine enough to tell the value to one part in 5,000; a sum over
        # years, to that part of its largest amount.
        sums = [float(amount) for amount in YEARLY.findall(line.arithmetic)]
        size = max([abs(line.value), *sums])
        assert allowed <= max(2e-4 * size, 0.02), (name, option, str(line))
        assert abs(worked - line.value) <= allowed, (name, option, worked, str(line))


@pytest.mark.parametrize("name", RULE_SETS)
def test_arithmetic_that_hangs_on_rules_gives_the_reported_value(tmp_path, name):
    """Under other rules as well, and some farm's incentive is decided as the set is named for."""
    records, lines = worked_under(tmp_path, RULE_SETS[name])
    decided = name if name in DECIDED else "formula"
    deciding = {(row["candidate_id"], row["supply_option"]) for row in records
                if row["incentive_decided_by"] == decided}
    by_rule = [one for one in lines if isinstance(RESULTS.by_key[one[2].key].worked, ByFarm)]
    assert deciding and deciding <= {one[:2] for one in by_rule if one[2].key == "incentive_usd"}
    hold(by_rule)


def test_caps_and_free_dollars_stand_in_the_arithmetic_of_a_share():
    # By hand: of 1,000 USD the member pays 40 %; with 300 USD free, 40 % of 700 USD; with at most
    # 500 USD from the cooperative, 500 USD; and never more than 450 USD.
    column = RESULTS.by_key["member_drive_usd"]
    row = {"cost_drive_usd": 1000.0, "above_farm_cap_usd": 0.0}
    rules = {"share_drive_member_pct": 40, "share_drive_free_usd": 0, "free_limit_pct": 100,
             "share_order": "allowance then percent", "share_drive_cap_usd": 10_000,
             "share_drive_member_cap_usd": 10_000}
    for more, usd in (({}, 400), ({"share_drive_free_usd": 300}, 280),
                      ({"share_drive_cap_usd": 500}, 500),
                      ({"share_drive_member_cap_usd": 450, "share_drive_cap_usd": 500}, 450)):
        names = {**row, **rules, **more, "max": max, "min": min}
        arithmetic = column.worked_for(row, rules | more)
        assert eval(arithmetic, {"__builtins__": {}}, names) == pytest.approx(usd)  # noqa: S307


def test_a_changed_number_is_found_out(lines):
    """In every line at least one number, changed by 1 %, moves the result beyond what it may."""
    for name, option, line in lines:
        if line.value == 0:
            continue
        allowed = allowed_of(line)
        moved = []
        for found in NUMBER.finditer(line.arithmetic):
            other = (line.arithmetic[:found.start()] + repr(float(found.group()) * 1.01)
                     + line.arithmetic[found.end():])
            moved.append(abs(evaluated(other) - line.value) > allowed)
        assert any(moved), (name, option, str(line))


def test_line_says_label_value_unit_and_source(lines):
    line = next(line for *_, line in lines if line.key == "water_power_hp")
    text = str(line)
    assert text.startswith("Water power = ") and " gal/min x " in text and " / 3960 = " in text
    assert f" = {line.value:,.2f} hp" in text and line.source in text


@pytest.mark.parametrize("text, value", [
    ("640 gal/min x 187 ft / 3960", 640 * 187 / 3960),  # handbook: water hp = gpm x ft / 3960
    ("100 % - 96.5 %", 3.5), ("max(0, 1200.50 USD - 2000.00 USD)", 0.0),
    ("2 ^ 3 + (-4) ft", 4.0), ("1.25 x max(129.2 A, 1.7320508 x 76 A x 460 V / 480 V)", 161.5)])
def test_arithmetic_is_read_with_units_dropped(text, value):
    assert evaluated(text) == pytest.approx(value)


def test_sum_over_years_shows_every_year():
    # By hand: -100 + 60 / 1.1 + 60 / 1.21 = 4.13.
    row = {"member_flow_usd": [-100.0, 60.0, 60.0], "member_npv_usd": 4.132231,
           "supply_option": SUPPLY_OPTIONS[0]}
    line = worked_line("member_npv_usd", row, {"discount_rate_member_pct": 10})
    assert line.arithmetic == ("(-100.00) USD / 1.1 ^ 0 + 60 USD / 1.1 ^ 1 + 60 USD / 1.1 ^ 2")
    assert evaluated(line.arithmetic) == pytest.approx(4.132231)
    row |= {"member_flow_usd": [-100.0, math.nan, 60.0], "member_npv_usd": math.nan}
    assert "unknown = not assessed" in str(
        worked_line("member_npv_usd", row, {"discount_rate_member_pct": 10}))


def test_unknown_value_has_no_wrong_line(tmp_path):
    book = candidate_workbook(tmp_path, rows=[{"source_fault_a": None}])
    study = run_study(validate(book))
    row = study.options.to_dict("records")[0]
    line = worked_line("fault_current_a", row, study.inputs.rules)
    assert line is None or line.value is None and "not assessed" in str(line)
