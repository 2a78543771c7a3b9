"""The auditor's sample: the largest surely, the rest by lot, the same lot each time."""

import io

import pandas as pd
import pytest
from click.testing import CliRunner

from batch.audit.sampling import LARGEST, draw
from batch.cli import main
from batch.findings import StudyError


def farms(amounts):
    """Results in canonical text with these dollars at stake; the last farm is unranked."""
    rows = [{"candidate_id": f"F-{n}", "rank": str(n), "incentive_cost_usd": f"{amount:.2f}"}
            for n, amount in enumerate(amounts, start=1)]
    rows.append({"candidate_id": "F-out", "rank": "", "incentive_cost_usd": "90000.00"})
    return pd.DataFrame(rows)


def names(sample):
    return set(sample.rows["candidate_id"])


def test_farm_above_the_sampling_interval_is_surely_drawn():
    # Source: monetary-unit sampling (audit textbooks): 60,000 USD over 6 farms is an interval of
    # 10,000; the farm of 40,000 reaches it. Of the 20,000 left over 5, the interval is 4,000.
    amounts = [40_000, 4_500, *[500] * 31]
    for seed in range(5):
        sample = draw(farms(amounts), count=6, seed=seed)
        largest = sample.rows[sample.rows["stratum"] == LARGEST]
        assert set(largest["candidate_id"]) == {"F-1", "F-2"}
        assert set(largest["chance_pct"]) == {"100.00"}
        assert len(sample.rows) == 6 == len(names(sample))


def test_same_seed_draws_the_same_whatever_the_order():
    results = farms(range(1000, 1040))
    one = draw(results, count=12, seed=5)
    other = draw(results.sample(frac=1, random_state=1), count=12, seed=5)
    assert one.rows.equals(other.rows)
    assert any(names(draw(results, count=12, seed=seed)) != names(one) for seed in range(6, 9))


def test_chance_is_that_of_the_stratum():
    results = farms([1000.0] * 40)
    counts = dict.fromkeys(results["candidate_id"], 0)
    seeds = 400
    for seed in range(seeds):
        sample = draw(results, count=4, seed=seed)
        by_lot = sample.rows[sample.rows["stratum"] != LARGEST]
        assert len(by_lot) == len(sample.rows) == 4
        for name in by_lot["candidate_id"]:
            counts[name] += 1
    # Source: mean of a binomial; 400 draws at 4 in 40 are 40 +- 6 (one standard deviation).
    drawn = [count for name, count in counts.items() if name != "F-out"]
    assert sum(drawn) == 4 * seeds and max(abs(count - 40) for count in drawn) < 5 * 6


def test_unranked_farms_are_never_drawn_and_all_ranked_ones_can_be():
    results = farms([500, 700, 900])
    assert names(draw(results, count=50, seed=1)) == {"F-1", "F-2", "F-3"}


def test_chances_times_farms_add_up_to_the_number_drawn():
    results = farms([30_000, 9_000, *range(500, 4_000, 100)])
    sample = draw(results, count=10, seed=3)
    for _, stratum in sample.rows.groupby("stratum"):
        chance = float(stratum["chance_pct"].iloc[0]) / 100
        assert len(stratum) / chance == pytest.approx(round(len(stratum) / chance), rel=2e-3)
    assert len(sample.rows) == 10


@pytest.mark.parametrize("results, count", [(farms([]), 3), (farms([1000]), 0)])
def test_nothing_to_draw_is_said(results, count):
    with pytest.raises(StudyError):
        draw(results, count=count, seed=1)


def test_command_writes_csv_to_stdout_and_the_words_beside_it(demo_run):
    args = ["sample", str(demo_run.folder), "--count", "7", "--seed", "11"]
    result = CliRunner().invoke(main, args)
    assert result.exit_code == 0
    drawn = pd.read_csv(io.StringIO(result.stdout), dtype=str)
    assert len(drawn) == 7 and {"stratum", "chance_pct", "incentive_cost_usd"} <= set(drawn)
    results = demo_run.study.results.set_index("candidate_id")
    assert results.loc[drawn["candidate_id"], "rank"].notna().all()
    assert "seed 11" in result.stderr
    assert CliRunner().invoke(main, args).stdout == result.stdout
    args[1] = str(demo_run.folder / "result.xlsx")
    assert CliRunner().invoke(main, args).stdout == result.stdout
