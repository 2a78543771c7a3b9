"""The settled ranking against its definition, worked out in fractions by plain enumeration."""

from fractions import Fraction

import numpy as np
import pytest

from batch.portfolio.settled_ranking import (
    Line,
    down_the_ranking,
    settled_ranking,
    whole_cents,
    whole_watts,
)


def line_of(names, cents, watts, holds=True, funds=True):
    """A group of farms; the values of its sets 1, 2, 3, ... in the order of their numbers."""
    n = 2 ** len(names)
    return Line(tuple(names), np.arange(n), np.array([0, *cents]), np.array([0, *watts]),
                np.broadcast_to(np.append(True, np.broadcast_to(holds, n - 1)), n),
                np.broadcast_to(np.append(True, np.broadcast_to(funds, n - 1)), n))


def alone(name, cents, watts, **more):
    return line_of([name], [cents], [watts], **more)


def order_of(lines):
    """The names in the order of entry, those of a group together."""
    return [lines[entry.line].members(entry.after ^ entry.before)
            for entry in settled_ranking(lines)]


def by_definition(lines):
    """Groups in the order of entry and their figures, by looking at every group each time."""
    now, entered = [0] * len(lines), []
    for may in ("may_be_funded", "holds"):
        while True:
            open_to = []
            for k, line in enumerate(lines):
                for after in range(1, 2 ** len(line.names)):
                    watts = int(line.watts[after]) - int(line.watts[now[k]])
                    if (after & now[k] != now[k] or watts <= 0 or not line.holds[after]
                            or not getattr(line, may)[after]):
                        continue
                    figure = Fraction(int(line.cents[after]) - int(line.cents[now[k]]), watts)
                    group = line.members(after ^ now[k])
                    open_to.append((figure, len(group), group, k, after))
            if not open_to:
                break
            figure, _, group, k, after = min(open_to)
            now[k] = after
            entered.append((group, figure))
    return entered


def random_program(seed):
    """Lines of one to four farms, whose sets have any costs and loads; some do not qualify, and of
    some too little is known."""
    draw = np.random.default_rng(seed)
    lines = []
    for k in range(draw.integers(1, 5)):
        m = int(draw.integers(1, 5))
        names = [f"{chr(97 + k)}{j}" for j in range(m)]
        own_kw = draw.integers(1, 9, m) * 1000
        share = int(draw.integers(0, 30)) * 100
        cents, watts = [], []
        for number in range(1, 2 ** m):
            mine = [j for j in range(m) if number >> j & 1]
            watts.append(int(own_kw[mine].sum()))
            cents.append(share + int(draw.integers(1, 6)) * 100 * len(mine))
        knows = draw.random(m) < 0.85
        funds = [all(knows[j] for j in range(m) if number >> j & 1) for number in range(1, 2 ** m)]
        lines.append(line_of(names, cents, watts, draw.random(2 ** m - 1) < 0.8, funds))
    return lines


@pytest.mark.parametrize("seed", range(300))
def test_ranking_is_the_one_of_the_definition(seed):
    lines = random_program(seed)
    entries = settled_ranking(lines)
    assert order_of(lines) == [group for group, _ in by_definition(lines)]
    figures = [entry.cents_per_watt for entry in entries]
    assert figures == pytest.approx([float(figure) for _, figure in by_definition(lines)])
    # The running total is what exactly the farms so far cost.
    now = [0] * len(lines)
    for entry in entries:
        now[entry.line] = entry.after
        assert entry.running_cents == sum(
            int(line.cents[number]) for line, number in zip(lines, now))
    # The figure never falls within a pass.
    for funded in (True, False):
        mine = [entry.cents_per_watt for entry in entries
                if lines[entry.line].may_be_funded[entry.after] == funded]
        assert mine == sorted(mine)
    # The order of the lines does not matter.
    assert order_of(lines[::-1]) == order_of(lines)


def test_farms_on_no_shared_line_stand_by_their_own_figure():
    lines = [alone("b", 900, 10), alone("d", 100, 2), alone("a", 180, 2), alone("c", 70, 1)]
    assert order_of(lines) == [("d",), ("c",), ("a",), ("b",)]


def test_equal_figures_smaller_group_first_then_by_name():
    # By hand: both of a line together 20 for 2 W, as each of the others 10 for 1 W.
    together = line_of(["p", "q"], [15, 15, 20], [1, 1, 2])
    lines = [together, alone("z", 10, 1), alone("c", 10, 1)]
    assert order_of(lines) == [("c",), ("z",), ("p", "q")]


def test_equal_cents_over_watts_are_a_tie_whatever_their_binary_tails():
    # 0.10 + 0.20 and 0.30 USD differ as binary fractions; over 100 W both are 0.3 cents a watt.
    assert 0.1 + 0.2 != 0.3
    assert (whole_cents([0.1 + 0.2, 0.6]) / whole_watts([0.1, 0.2])).tolist() == [0.3, 0.3]


def test_line_mates_enter_together_where_one_alone_would_be_dear():
    # By hand, a line of 100 shared by all who build: one alone 110 for 1 W, both 120 for 2 W.
    lines = [line_of(["p", "q"], [110, 110, 120], [1, 1, 2]), alone("x", 80, 1)]
    entries = settled_ranking(lines)
    assert order_of(lines) == [("p", "q"), ("x",)]
    assert [entry.running_cents for entry in entries] == [120, 200]


def test_farms_of_which_too_little_is_known_stand_behind_all_others():
    lines = [alone("a", 1, 1, funds=False), alone("b", 9, 1), alone("c", 5, 1, funds=False)]
    assert order_of(lines) == [("b",), ("a",), ("c",)]


def funded(lines, budget_cents, **more):
    taken = down_the_ranking(settled_ranking(lines), lines, budget_cents=budget_cents, **more)
    return {name: year for line, (year, number) in taken.items()
            for name in lines[line].members(number)}


def test_budget_line_stops_at_the_first_group_that_does_not_fit():
    # Running totals 600, 1,000, 1,500, 1,550: the fourth alone would still fit.
    lines = [alone("a", 600, 60), alone("b", 400, 20), alone("c", 500, 16), alone("d", 50, 1)]
    assert funded(lines, [1000], skips_misfits=False) == {"a": 0, "b": 0}
    assert funded(lines, [1050], skips_misfits=True) == {"a": 0, "b": 0, "d": 0}
    assert funded(lines, [599], skips_misfits=False) == {}
    assert funded(lines, [600, 900], skips_misfits=False) == {"a": 0, "b": 1, "c": 1}


def test_group_that_counts_on_a_skipped_one_is_left_or_priced_anew():
    # q alone costs 90 and does not qualify; with p it adds 10. p does not fit: neither is taken.
    pair = line_of(["p", "q"], [100, 90, 110], [10, 1, 11], holds=[True, False, True])
    assert order_of([pair]) == [("p",), ("q",)] or order_of([pair]) == [("p", "q")]
    assert funded([pair], [95], skips_misfits=True) == {}


def test_limits_beside_the_money():
    lines = [alone("a", 10, 1), alone("b", 20, 1)]
    loads = {(0, 1): np.array([5.0]), (1, 1): np.array([2.0])}

    def uses(line, number):
        return loads.get((line, number), np.zeros(1))

    assert funded(lines, [100], skips_misfits=True, uses=uses, room=np.array([4.0])) == {"b": 0}
