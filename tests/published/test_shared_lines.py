"""Parts of a shared line, and from how many farms on three phases cost less."""

from itertools import permutations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from batch.portfolio import line_parts, shared_lines
from batch.reading.validate import validate
from batch.study import run_study
from tests.workbooks.make import candidate_workbook, unit_cost_rows

FAR_FT = 1e6  # a line whose end lies beyond all farms


def users(used_ft, is_three=False, line_ft=FAR_FT, three_ft=None):
    """Farms of one line that use so much of it from its tap; a three-phase line may be longer."""
    three = np.broadcast_to(is_three, len(used_ft))
    reach = np.where(three, line_ft if three_ft is None else three_ft, line_ft)
    return pd.DataFrame({
        "builders": "all", "line_build": "overhead", "excel_row": np.arange(len(used_ft)),
        "candidate_id": [f"F{n}" for n in range(len(used_ft))], "is_three": three,
        "reach_ft": reach, "unused_ft": reach - np.asarray(used_ft, float)})


def parts(used_ft):
    farms = users(used_ft)
    return line_parts.part_ft(line_parts.stretches_of(farms, farms))


def priced(steps, n, length_ft=FAR_FT):
    """The same stepped price, (from, USD a foot) of each step, for n rows."""
    start, price = np.array(steps, float).T
    return np.full(n, length_ft), {"step_from_ft": np.tile(start, (n, 1)),
                                   "step_usd_ft": np.tile(price, (n, 1))}


def usd(farms, one_steps, three_steps=((0, 0),), one_ft=FAR_FT, three_ft=FAR_FT, **more):
    n = len(farms)
    prices = {1: priced(one_steps, n, one_ft), 3: priced(three_steps, n, three_ft)}
    return line_parts.part_usd(line_parts.stretches_of(farms, farms), prices, **more)


def test_line_shared_by_three():
    # Source: published airport-problem example: 1,500, 2,200 and 3,000 m at 1,000 a metre; shares
    # in thousands 500, 850, 1,650.
    np.testing.assert_allclose(parts([2200.0, 1500, 3000]), [850, 500, 1650])


@pytest.mark.parametrize("used_ft, part_ft", [
    # Source: published airport-problem examples: costs to each plane's need of 8, 11, 13, 18 are
    # shared 2, 3, 4, 9; and 1,500, 2,200, 3,500 m as 500, 850, 2,150.
    ([8.0, 11, 13, 18], [2, 3, 4, 9]), ([1500.0, 2200, 3500], [500, 850, 2150])])
def test_published_airport_games(used_ft, part_ft):
    np.testing.assert_allclose(parts(used_ft), part_ft)


def test_main_shared_by_two_with_an_allowance_for_each():
    # Source: Maine Public Utilities Commission, chapter 65 (water main extension rule), section 1:
    # users at 200 and 120 ft; $30 a foot, allowance $600 each. Answers derived: 3,600 and 1,200.
    np.testing.assert_allclose(30 * parts([200.0, 120]) - 600, [3600, 1200])


def shapley(n, cost):
    """The Shapley value of a cost game: mean over all orders of joining of what each adds."""
    added = np.zeros(n)
    orders = list(permutations(range(n)))
    for order in orders:
        for k, member in enumerate(order):
            added[member] += cost(order[:k + 1]) - cost(order[:k])
    return added / len(orders)


def stepped(steps, length):
    """Cost of a line by plain arithmetic."""
    ends = [start for start, _ in steps[1:]] + [np.inf]
    return sum(price * max(min(length, end) - start, 0) for (start, price), end in zip(steps, ends))


# 2 USD a foot to 1,000 ft, 4 USD beyond.
STEPS = [(0, 2), (1000, 4)]


@pytest.mark.parametrize("used_ft, paid", [
    # Source: the segment rule by hand. The first 1,000 ft cost 2,000, the next 2,000 ft 8,000.
    ([3000, 3000], [5000, 5000]),
    ([3000, 3000, 3000], [10_000 / 3] * 3),
    # To 500 ft 1,000 by three; to 1,000 ft 1,000 and to 2,000 ft 4,000 by two; 4,000 by one.
    ([500, 3000, 2000], [1000 / 3, 1000 / 3 + 2500 + 4000, 1000 / 3 + 2500]),
    ([3000] * 6, [10_000 / 6] * 6)])
def test_each_stretch_is_split_at_the_price_of_its_place(used_ft, paid):
    np.testing.assert_allclose(usd(users(used_ft, line_ft=3000), STEPS, one_ft=3000), paid)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 1e4), st.booleans()), min_size=1, max_size=5),
       st.lists(st.tuples(st.floats(1, 2000), st.floats(0, 60), st.floats(0, 60)), min_size=1,
                max_size=3), st.floats(0, 5000))
def test_parts_are_the_shapley_value_of_both_halves(farms, widths, longer_ft):
    # Source: the definition of the Shapley value. Two games are played: the single-phase line as
    # far as the farthest farm, by all, and what three phases cost more as far as the farthest farm
    # that takes them, by those. The three-phase line begins at a farther tap.
    used, three = np.array([ft for ft, _ in farms]), np.array([is_three for _, is_three in farms])
    starts = np.cumsum([0, *(width for width, _, _ in widths[:-1])])
    one_steps = [(start, price) for start, (_, price, _) in zip(starts, widths)]
    three_steps = [(start, price + more) for start, (_, price, more) in zip(starts, widths)]
    line_ft, three_ft = 10_000.0, 10_000.0 + longer_ft

    def one_usd(length):
        return stepped(one_steps, length)

    def cost(together):
        return one_usd(max((used[k] for k in together if used[k] > 0), default=0.0))

    def more(together):
        last = max((used[k] + longer_ft for k in together if three[k] and used[k] + longer_ft > 0),
                   default=0.0)
        return stepped(three_steps, last) - one_usd(max(last - longer_ft, 0.0))

    both = shapley(len(used), cost) + shapley(len(used), more)
    table = users(np.where(three, used + longer_ft, used), three, line_ft, three_ft)
    paid = usd(table, one_steps, three_steps, line_ft, three_ft)
    np.testing.assert_allclose(paid, both, rtol=1e-9, atol=1e-5)


def test_line_by_three_phases_as_far_as_the_last_farm_that_takes_them():
    # By hand: three farms at 1,000, 2,000 and 3,000 ft; the second takes three phases. Single
    # phase 3 USD a foot, three phases 5. To 1,000 ft: 3,000 by three and 2,000 more by one; to
    # 2,000 ft: 3,000 by two and 2,000 more by one; to 3,000 ft 3,000 by one.
    farms = users([1000.0, 2000, 3000], [False, True, False])
    paid = usd(farms, [(0, 3)], [(0, 5)])
    np.testing.assert_allclose(paid, [1000, 1000 + 2000 + 1500 + 2000, 1000 + 1500 + 3000])
    assert paid.sum() == pytest.approx(2000 * 5 + 1000 * 3)


def test_farther_three_phase_tap_is_paid_by_three_phases_alone():
    # By hand: the three-phase tap lies 500 ft behind the single-phase one. Two farms at 1,000 ft
    # from the nearer tap, one by three phases: 500 ft x 5 by it alone, then 3,000 by both and
    # 2,000 more by it.
    farms = users([1000.0, 1500.0], [False, True], line_ft=1000, three_ft=1500)
    paid = usd(farms, [(0, 3)], [(0, 5)], 1000, 1500)
    np.testing.assert_allclose(paid, [1500, 2500 + 1500 + 2000])


def test_free_feet_are_the_first_of_a_farms_part_from_the_tap():
    # By hand, two farms to the end of 3,000 ft: 1,500 ft each. The first 600 ft of a part are the
    # line's first 1,200 ft: (1,000 x 2 + 200 x 4) / 2. All 1,500 ft are the whole part.
    paid = usd(users([3000.0, 3000.0], line_ft=3000), STEPS, one_ft=3000,
               free_ft=np.array([600.0, 9999.0]))
    assert paid.tolist() == pytest.approx([1400, 5000])


def test_alone_a_farm_pays_all_that_it_uses_and_the_unknown_stays_unknown():
    farms = users([700.0, np.nan])
    none = farms.iloc[:0]
    np.testing.assert_array_equal(
        line_parts.part_ft(line_parts.stretches_of(farms, none)), [700, np.nan])


def trunk_parts(farms, payers, steps=((0, 2),), job_usd=90.0, free_ft=100.0, overhead=1.0,
                job_is_free=False, line_ft=FAR_FT):
    n = len(farms)
    return line_parts.parts(
        farms, payers, prices=dict.fromkeys((1, 3), priced(steps, n, line_ft)),
        job_usd=dict.fromkeys((1, 3), np.full(n, job_usd)), free_ft=np.full(n, free_ft),
        overhead=overhead, job_is_free=job_is_free)


def test_farms_share_with_the_builders_of_the_same_construction():
    farms = users([600.0, 900, 1000, 900])
    farms["line_build"] = ["overhead", "overhead", "overhead", "underground"]
    farms["builders"] = ["a", "a", "b", "a"]
    shared = trunk_parts(farms, farms)
    assert shared["part_ft"].tolist() == [300, 600, 1000, 900]
    assert shared["members"].tolist() == [2, 2, 1, 1]
    # 2 USD a foot, and one job of 90 USD in equal parts among those who build; 100 ft are free.
    assert shared["part_usd"].tolist() == [645, 1245, 2090, 1890]
    assert shared["free_usd"].tolist() == [200] * 4
    # Where the free feet free the job, too: 45 of it for each of two, 90 for one.
    with_job = trunk_parts(farms, farms, job_is_free=True)
    assert with_job["free_usd"].tolist() == [245, 245, 290, 290]
    assert trunk_parts(farms, farms, free_ft=0.0, job_is_free=True)["free_usd"].tolist() == [0] * 4
    # One more farm beyond the farm's own end: 600 ft by three; 600 by three and 300 by two; half.
    np.testing.assert_allclose(shared["relieved_usd"], [200, 500, 1000, 900])
    alone = trunk_parts(farms, farms.iloc[:0])
    assert alone["part_ft"].tolist() == [600, 900, 1000, 900]
    assert alone["members"].tolist() == [1, 1, 1, 1]
    assert alone["part_usd"].tolist() == [1290, 1890, 2090, 1890]


def test_job_of_a_line_by_both():
    # By hand: a job of 500 by single phase and 800 by three. Of three farms one takes three
    # phases: 500 / 3 each, and 300 more by that one. All by three: 800 / 3 each.
    for three, expected in (([False, False, True], [500 / 3, 500 / 3, 500 / 3 + 300]),
                            ([True] * 3, [800 / 3] * 3)):
        farms = users([100.0] * 3, three)
        out = line_parts.parts(
            farms, farms, prices=dict.fromkeys((1, 3), priced([(0, 0)], 3)),
            job_usd={1: np.full(3, 500.0), 3: np.full(3, 800.0)}, free_ft=np.zeros(3),
            overhead=1.0, job_is_free=False)
        np.testing.assert_allclose(out["part_usd"], expected, atol=0.011)


@pytest.mark.parametrize("farms", (2, 3, 6))
@pytest.mark.parametrize("overhead", (1.0, 1.13))
def test_parts_add_up_to_the_line_to_the_cent(farms, overhead):
    # By hand: 1,000 x 2 + 2,000 x 4 = 10,000 USD and one job of 1,000.01 USD; overhead on top. A
    # farm that leaves at the tap builds nothing of it.
    line_usd = round((10_000 + 1000.01) * overhead, 2)
    table = users([0.0] + [3000.0] * farms, line_ft=3000)
    table["candidate_id"] = list("gfedcba")[:farms + 1]
    out = trunk_parts(table, table, STEPS, 1000.01, overhead=overhead, line_ft=3000)
    paid = out["part_usd"] * overhead
    cents = (paid * 100).round().astype(int)
    np.testing.assert_allclose(paid * 100, cents, atol=1e-6)
    assert cents.sum() == round(line_usd * 100) and cents.iloc[0] == 0
    assert cents.iloc[1:].max() - cents.iloc[1:].min() <= 1


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
                         "trunk_part_usd": foot * part,
                         "trunk_alone_usd": foot * length, "overhead": 1.0,
                         "counted_load_kw": kw, "fails_count": 0,
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


def test_shared_line_of_the_crossover_is_priced_by_its_own_steps(tmp_path):
    """Two farms at the end of 3,000 ft: single-phase 1,000 x 2 + 2,000 x 4 and one job of 500,
    three phases 3,000 x 5 and a job of 500; neither has a line of its own."""
    farm = {"shared_line_id": "L", "single_phase_distance_ft": 0, "three_phase_distance_ft": 0,
            "source_fault_a": 2500}
    study = stepped_study(tmp_path, [farm] * 2)
    at_two = study.portfolio.crossover.iloc[1]
    by_option = study.options.groupby("supply_option")
    for option, key, line_usd in (("single-phase drive", "single_phase_cost_usd", 10_500),
                                  ("three-phase line", "three_phase_cost_usd", 15_500)):
        o = by_option.get_group(option)
        other_usd = (o["project_cost_usd"] - o["line_cost_usd"]).sum()
        assert at_two[key] == pytest.approx(other_usd + line_usd, abs=0.02)


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


# --- a whole study --------------------------------------------------------------------------------

def stepped_study(tmp_path, rows, **program):
    """A study with single-phase line at 2 USD to 1,000 ft and 4 beyond, three-phase at 5, a job of
    500, and 3,000 ft of shared line."""
    prices = [row for row in unit_cost_rows() if row["item"] not in ("line", "line job")] + [
        {"item": "line", "phases": 1, "from_ft": 0, "price_usd": 2},
        {"item": "line", "phases": 1, "from_ft": 1000, "price_usd": 4},
        {"item": "line", "phases": 3, "price_usd": 5}, {"item": "line job", "price_usd": 500}]
    return run_study(validate(candidate_workbook(
        tmp_path, rows, unit_costs=prices, program={"overhead_adder_pct": 0} | program,
        shared_lines=[{"shared_line_id": "L", "shared_single_phase_ft": 3000,
                       "shared_three_phase_ft": 3000}])))


ON_LINE = {"shared_line_id": "L", "supply_option": "single-phase drive", "source_fault_a": 2500,
           "single_phase_distance_ft": 0}


@pytest.mark.parametrize("farms", (2, 3, 6))
def test_line_for_several_farms_costs_what_they_pay(tmp_path, farms):
    """3,000 ft at 2 USD to 1,000 ft and 4 beyond are 10,000, and one job of 500. The first farm's
    spur of 1,200 ft is 2,800, with a job of its own: its feet are counted anew."""
    rows = [ON_LINE] * (farms - 1)
    study = stepped_study(tmp_path, [ON_LINE | {"single_phase_distance_ft": 1200}, *rows])
    assert set(study.options.loc[study.options["is_chosen"], "fails_names"]) == {""}
    line = study.results["line_cost_usd"]
    assert (line.sum() * 100).round() == 1_050_000 + 330_000
    assert line.iloc[0] == pytest.approx(10_500 / farms + 3300, abs=0.01)
    assert study.portfolio.shared["trunk_part_usd"].sum() == pytest.approx(10_500)


def test_free_feet_of_a_shared_line_and_a_spur(tmp_path):
    """Each of two farms has 1,500 ft of the line, 5,000 USD. 1,600 ft are free: all of that, and
    100 ft of a spur at 2 USD."""
    study = stepped_study(tmp_path, [ON_LINE | {"single_phase_distance_ft": 1200}, ON_LINE],
                          line_free_single_phase_ft=1600, share_line_member_pct=100,
                          share_line_free_usd=0, allowance_basis="none")
    lines = study.ledger[study.ledger["item"] == "line"].set_index(["excel_row", "supply_option"])
    free = lines["allowance_usd"].xs("single-phase drive", level="supply_option")
    assert free.tolist() == [5200, 5000]


def test_farms_that_must_not_be_funded_or_do_not_qualify_pay_nothing(tmp_path):
    """By hand: F-1 and F-2 leave the line at 1,000 ft: 1,000 x 2 and one job of 500, half each.
    F-3 would use all 3,000 ft but must not be funded, F-4 would but its motor cannot start at so
    weak a source: nobody builds beyond 1,000 ft. F-3 is shown what joining the two would cost: a
    third of 2,000 and of the job, and 2,000 x 4 alone."""
    to_1000 = ON_LINE | {"shared_line_use_ft": 1000}
    study = stepped_study(tmp_path, [
        to_1000, to_1000, ON_LINE | {"funding_choice": "must not fund"},
        ON_LINE | {"source_fault_a": 60, "supply_option": "rotary converter"}])
    assert study.results["verdict"].tolist()[3] == "does not qualify"
    assert study.results["line_cost_usd"].tolist()[:2] == [1250, 1250]
    assert study.results["shared_line_members"].tolist()[:3] == [2, 2, 3]
    assert study.results["line_cost_usd"].iloc[2] == pytest.approx(2500 / 3 + 8000, abs=0.01)
    shared = study.portfolio.shared
    assert shared["pays"].tolist() == [1, 1, 0, 0]
    assert shared.loc[shared["pays"] == 1, "trunk_part_usd"].sum() == 2500
