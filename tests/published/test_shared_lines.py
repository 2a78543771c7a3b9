"""Parts of a shared line, and from how many farms on three phases cost less."""

from itertools import permutations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from batch.portfolio import shared_lines
from batch.portfolio.shared_lines import segment_part_ft


def parts(used_ft):
    """Each farm's part where all of them build."""
    n = len(used_ft)
    mine, other = np.nonzero(~np.eye(n, dtype=bool))
    return segment_part_ft(used_ft=used_ft, other_place=mine, other_used_ft=np.take(used_ft, other))


def test_line_shared_by_three():
    # Source: published airport-problem example: 1,500, 2,200 and 3,000 m at 1,000 a metre; shares
    # in thousands 500, 850, 1,650.
    np.testing.assert_allclose(parts([2200.0, 1500, 3000]), [850, 500, 1650])


def test_main_shared_by_two_with_an_allowance_for_each():
    # Source: Maine Public Utilities Commission, chapter 65 (water main extension rule), section 1:
    # users at 200 and 120 ft; $30 a foot, allowance $600 each. Answers derived: 3,600 and 1,200.
    np.testing.assert_allclose(30 * parts([200.0, 120]) - 600, [3600, 1200])


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0, 1e5), min_size=1, max_size=6))
def test_segment_rule_is_the_shapley_value(used_ft):
    # Source: definition of the Shapley value: mean over all orders of joining of what each member
    # adds to the line, which is as long as the farthest of those who have joined.
    added = np.zeros(len(used_ft))
    orders = list(permutations(range(len(used_ft))))
    for order in orders:
        built = 0.0
        for member in order:
            added[member] += max(used_ft[member] - built, 0)
            built = max(built, used_ft[member])
    np.testing.assert_allclose(parts(used_ft), added / len(orders), rtol=1e-9, atol=1e-6)
    np.testing.assert_allclose(parts(used_ft).sum(), max(used_ft), rtol=1e-9, atol=1e-6)


def test_alone_a_farm_pays_all_that_it_uses_and_the_unknown_stays_unknown():
    np.testing.assert_array_equal(
        segment_part_ft(used_ft=[700.0, np.nan], other_place=[], other_used_ft=[]), [700, np.nan])
    shared = segment_part_ft(used_ft=[100.0, 50.0], other_place=[0, 1],
                             other_used_ft=[np.nan, 50.0])
    assert np.isnan(shared[0]) and shared[1] == 25


def designs(**more):
    return pd.DataFrame({"excel_row": [2, 3, 4, 5], "service_phases": [1, 1, 3, 1],
                         "shared_line_id": ["L", "L", "L", None],
                         "trunk_ft": [600.0, 900, 1000, 0]} | more)


def test_farms_share_with_those_of_the_same_line_and_phases():
    d = designs()
    shared = shared_lines.trunk_parts(d, d.iloc[[0, 1, 2]])
    assert shared["part_ft"].tolist() == [300, 600, 1000, 0]
    assert shared["members"].tolist() == [2, 2, 1, 1]
    # One more farm beyond the farm's own end: 600 ft by three; 600 by three and 300 by two; half.
    assert shared["part_if_joined_ft"].tolist() == [200, 350, 500, 0]
    alone = shared_lines.trunk_parts(d, d.iloc[:0])
    assert alone["part_ft"].tolist() == d["trunk_ft"].tolist()
    assert alone["members"].tolist() == [1, 1, 1, 1]


# --- the three-phase question ---------------------------------------------------------------------

def options(farms, single_ft, three_ft, drive_usd, spur_ft=100.0):
    """Equal farms of 50 kW: a drive each on a single-phase line at 6 USD/ft, or a starter of
    2,000 USD on a three-phase line at 15 USD/ft."""
    rows = []
    for n in range(farms):
        for option, length, foot, own, kw in (
                ("single-phase drive", single_ft, 6.0, drive_usd, 52.0),
                ("three-phase line", three_ft, 15.0, 2_000.0, 50.0)):
            part = length / farms
            rows.append({"candidate_id": f"F{n}", "shared_line_id": "L", "supply_option": option,
                         "trunk_ft": length, "trunk_part_ft": part, "line_usd_ft": foot,
                         "overhead": 1.0, "counted_load_kw": kw, "fails_count": 0,
                         "project_cost_usd": own + foot * (part + spur_ft)})
    return pd.DataFrame(rows)


def test_crossover_against_arithmetic_by_hand():
    """Trunk 6 x 3,000 = 18,000 against 15 x 4,000 = 60,000; each farm 10,600 against 3,500. Three
    phases are cheaper from n (10,600 - 3,500) > 42,000 on: 5.92, so from 6 farms."""
    # Source: arithmetic of the costs above, no published case.
    table = shared_lines.line_crossover(options(8, 3000, 4000, 10_000))
    assert table["farms"].tolist() == [1, 2, 3, 4, 5, 6, 7, 8]
    np.testing.assert_allclose(table["single_phase_cost_usd"], 18_000 + 10_600 * table["farms"])
    np.testing.assert_allclose(table["three_phase_cost_usd"], 60_000 + 3_500 * table["farms"])
    np.testing.assert_allclose(table["single_phase_usd_per_kw"],
                               table["single_phase_cost_usd"] / (52 * table["farms"]))
    assert table["least"].tolist() == ["single-phase drive"] * 5 + ["three-phase line"] * 3
    summary = shared_lines.crossover_summary(table).iloc[0]
    assert summary["crossover_farms"] == 6 and summary["crossover_if_alike"] == 6


@pytest.mark.parametrize("farms", (3, 5))
def test_crossover_beyond_the_farms_there_are_is_only_for_more_alike(farms):
    summary = shared_lines.crossover_summary(
        shared_lines.line_crossover(options(farms, 3000, 4000, 10_000))).iloc[0]
    assert np.isnan(summary["crossover_farms"]) and summary["crossover_if_alike"] == 6


def test_no_crossover_where_each_farm_makes_three_phases_dearer():
    summary = shared_lines.crossover_summary(
        shared_lines.line_crossover(options(4, 3000, 4000, 1_000))).iloc[0]
    assert np.isnan(summary["crossover_farms"]) and np.isnan(summary["crossover_if_alike"])


def test_three_phases_from_the_first_farm_on():
    summary = shared_lines.crossover_summary(
        shared_lines.line_crossover(options(4, 3000, 500, 10_000))).iloc[0]
    assert summary["crossover_farms"] == 1 and summary["crossover_if_alike"] == 1


def test_farms_without_a_price_do_not_count():
    o = options(4, 3000, 4000, 10_000)
    o.loc[o["candidate_id"] == "F2", "project_cost_usd"] = [np.nan, 1.0]
    table = shared_lines.line_crossover(o)
    assert table["last_farm"].tolist() == ["F0", "F1", "F3"]
    assert shared_lines.line_crossover(o[o["candidate_id"] == "F0"]).empty
