"""Why no set keeps all limits, in words; the numbers are worked by hand."""

from types import SimpleNamespace

import numpy as np
import pandas as pd

from batch.portfolio.settled_ranking import Line, settled_ranking
from batch.program.best_set import Asked, best_set
from batch.program.conflict import conflict

# Two lines: stretches of 30,000, 24,000 and 18,000 USD to A, B, C; 20,000 and 16,000 to D, E. Of a
# share s the cooperative pays min(s, 8,000) and half of the rest up to 6,000, and each stretch is
# shared by those who build beyond it. Cost of each set of builders in whole dollars, by hand: one
# farm 14,000 each; A and B 10,000 less their shares, and so on.
SHARES = ((30_000, 24_000, 18_000), (20_000, 16_000))


def cost_usd(stretches, number):
    """What the cooperative pays for a set of builders, stretch by stretch."""
    builders = [k for k in range(len(stretches)) if number >> k & 1]
    shares = {k: sum(usd / sum(other >= at for other in builders)
                     for at, usd in enumerate(stretches) if at <= k) for k in builders}
    return sum(min(s, 8000) + min(0.5 * max(0, s - 8000), 6000) for s in shares.values())


def asked_for(must, budget_usd, feeders=(), kw=10.0):
    """The question of the two lines' farms A to E, rows 2 to 6."""
    lines, groups, chosen, first = [], [], [], 2
    for names, stretches in zip((("A", "B", "C"), ("D", "E")), SHARES):
        rows = tuple(range(first, first + len(names)))
        first += len(names)
        sets = np.arange(2 ** len(names))
        cents = np.array([round(100 * cost_usd(stretches, n)) for n in sets])
        watts = np.array([1000 * int(n).bit_count() for n in sets])
        yes = np.ones(len(sets), bool)
        lines.append(Line(names, sets, cents, watts, yes, yes))
        groups.append((rows, names, {int(n): [row for k, row in enumerate(rows) if n >> k & 1]
                                     for n in sets if n}))
        chosen += [{"row": row, "feeder_id": "F1", "added_load_kw": kw} for row in rows]
    rows = [row for mine, names, _ in groups for row, name in zip(mine, names) if name in must]
    return Asked(
        SimpleNamespace(groups=groups, limited={},
                        chosen=pd.DataFrame(chosen).set_index("row")), lines,
        [line.watts.astype(float) for line in lines], settled_ranking(lines),
        np.array([float(budget_usd)]), pd.DataFrame(
            feeders, columns=["feeder_id", "spare_capacity_kw"]), 1.0, frozenset(rows))


def test_costs_of_the_builder_sets():
    # By hand: A and B share the first stretch: 15,000 and 39,000, of which 11,500 and 14,000.
    assert [cost_usd(SHARES[0], n) for n in (1, 2, 4, 3, 5, 6, 7)] == [
        14_000, 14_000, 14_000, 25_500, 25_500, 28_000, 37_000]
    assert [cost_usd(SHARES[1], n) for n in (1, 2, 3)] == [14_000, 14_000, 23_000]


def test_three_farms_that_do_not_fit_and_any_two_of_them_do():
    # A and B 25,500, E 14,000: 39,500 against 39,000. A and E, B and E 28,000 each: all three are
    # needed for the conflict, D that must not is not named.
    asked = asked_for("ABE", 39_000)
    assert not best_set(asked, budget_cents=asked.budget_cents)[0].is_feasible
    assert conflict(asked) == (
        "The must-fund farms A, B and E cost 39,500.00 USD together; the budget is 39,000.00 USD. "
        "Add 500.00 USD, or release one.")
    assert best_set(asked_for("ABE", 39_500), budget_cents=np.array([3_950_000.0]))[0].is_feasible


def test_farms_that_take_no_part_in_the_conflict_are_not_named():
    # E alone costs 14,000 of 13,000; A fits neither, and one farm is enough to break the budget.
    text = conflict(asked_for("AE", 13_000))
    assert text == ("The must-fund farm E costs 14,000.00 USD; the budget is 13,000.00 USD. Add "
                    "1,000.00 USD, or release it.")


def test_feeder_without_room():
    # Three farms of 10 kW on a feeder with 25 kW.
    text = conflict(asked_for("ABE", 100_000, [("F1", 25.0)]))
    assert text == ("The must-fund farms A, B and E together put 30.0 kW on feeder F1; 25.0 kW are "
                    "spare. Free 5.0 kW, or release one.")
