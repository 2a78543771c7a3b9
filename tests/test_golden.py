"""Closed years approve the same farms for the same money, whatever the program has become.

The golden files are the program's own answers of their time. They do not show that these were
right; that is what tests/published is for. They show that no later change reaches back.
"""

import shutil
from pathlib import Path

import pandas as pd
import pytest

from batch import rules
from batch.audit.answers import GRAVE, differences, keys_apart
from batch.columns.candidates import SUPPLY_OPTIONS
from batch.columns.results import VERDICTS
from tests.golden import make_golden

YEARS = make_golden.closed_years()


def read(text_or_path) -> pd.DataFrame:
    return pd.read_csv(text_or_path, dtype=str, keep_default_na=False)


@pytest.fixture(scope="module", params=YEARS)
def year(request, tmp_path_factory):
    """A closed year's folder, and the folder of what is approved now from its workbook."""
    kept = make_golden.HERE / str(request.param)
    now = tmp_path_factory.mktemp(str(request.param))
    for name, text in make_golden.approvals(kept / make_golden.WORKBOOK).items():
        (now / name).write_text(text, encoding="utf-8", newline="")
    return kept, now


def test_two_closed_years_are_kept():
    assert len(YEARS) >= 2 and rules.years()[-1] not in YEARS


def test_results_are_as_they_were_approved(year):
    kept, now = (read(folder / "results.csv") for folder in year)
    assert keys_apart(kept, now)[0] == []  # a later program may add results, not drop them
    assert len(kept) == len(now)
    assert [d for d in differences(kept, now) if d.answer in GRAVE] == []


def test_every_check_answers_as_it_did(year):
    names = ["candidate_id", "supply_option", "variant", "check"]
    kept, now = (read(folder / "checks.csv").set_index(names)["answer"] for folder in year)
    assert kept.index.is_unique and set(kept.index) <= set(now.index)
    changed = kept[kept != now.reindex(kept.index)]
    assert changed.empty, changed


def test_every_share_is_as_it_was(year):
    names = ["candidate_id", "item"]
    kept, now = (read(folder / "cost_shares.csv").set_index(names) for folder in year)
    assert kept.equals(now.reindex(kept.index))


def test_golden_farms_have_every_option_verdict_and_some_faults(year):
    kept = read(year[0] / "results.csv")
    assert set(SUPPLY_OPTIONS) <= set(kept["supply_option"])
    assert set(VERDICTS) == set(kept["verdict"])
    assert 8 <= len(kept) <= 12


def test_approvals_of_a_closed_year_are_not_written_again_without_the_flag(tmp_path, monkeypatch):
    monkeypatch.setattr(make_golden, "HERE", tmp_path)
    first = YEARS[0]
    shutil.copytree(Path(make_golden.__file__).parent / str(first), tmp_path / str(first))
    results = tmp_path / str(first) / "results.csv"
    results.write_text("an older approval")
    assert make_golden.make(first, is_forced=False) == []
    assert results.read_text() == "an older approval"
    assert "results.csv" in make_golden.make(first, is_forced=True)
    assert make_golden.WORKBOOK not in make_golden.make(first, is_forced=True)
