"""The rule years: closed files stay as they are, and later keys take their defaults in them."""

import hashlib

import pytest

from batch import rules
from batch.columns import PROGRAM
from batch.findings import StudyError
from batch.rules import Rule

# The files of closed years, by the SHA-256 of their text. These lines are written once, when the
# board has closed the year; a file that no longer fits was changed and must be put back.
CLOSED = {
    2024: "ef84f1819e0a9693a9363dec05be0316f3257ea507d9bca303b7ff203e4d46db",
    2025: "aa880ea84b7ffca633bfeee861d84f696fa299589578bd053d4a3f5f524142fa",
}


def text_of(year: int) -> str:
    return (rules.FOLDER / f"{year}.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("year", CLOSED)
def test_file_of_a_closed_year_never_changes(year):
    assert hashlib.sha256(text_of(year).encode()).hexdigest() == CLOSED[year]


def test_every_year_but_the_newest_is_closed_and_locked():
    *closed, newest = rules.years()
    assert closed == list(CLOSED)
    assert all(rules.load(year).is_closed for year in closed)
    assert not rules.load(newest).is_closed


def test_a_year_without_a_file_is_refused_with_the_known_ones():
    with pytest.raises(StudyError, match="2024, 2025"):
        rules.load(2001)


def test_neighbouring_years_differ_in_values():
    by_year = {year: rules.load(year) for year in rules.years()}
    for one, other in ((2024, 2025), (2025, 2026)):
        changed = [key for key in PROGRAM.by_key if by_year[one][key] != by_year[other][key]]
        assert len(changed) >= 3, (one, other)


def test_rule_that_comes_later_takes_its_default_in_closed_years(monkeypatch):
    from dataclasses import replace

    later = replace(PROGRAM.by_key["study_years"], key="later_rule", default=7, source="clause 7")
    sheet = replace(PROGRAM, columns=(*PROGRAM.columns, later))
    monkeypatch.setattr(rules, "PROGRAM", sheet)
    assert rules.load(2024)["later_rule"] == 7
    assert "clause 7" in rules.load(2024).source("later_rule")
    with pytest.raises(ValueError, match="later_rule"):
        rules.load(2026)  # an open year's file must say it


@pytest.mark.parametrize("key", PROGRAM.by_key)
def test_value_as_text_gives_the_value_back(key):
    value = rules.load(2026)[key]
    again = rules.value_of(rules.value_text(value), PROGRAM.by_key[key])
    assert again == value and type(again) is type(value)


@pytest.mark.parametrize("key, text", [
    ("conduit", "by feeling"), ("residual_value_counts", "maybe"),
    ("study_years", "twenty")])
def test_text_that_is_no_value_is_refused(key, text):
    with pytest.raises(ValueError):
        rules.value_of(text, PROGRAM.by_key[key])


def test_replaced_rules_keep_year_and_source():
    changed = rules.load(2024).replaced({"study_years": Rule(9, "clause 9", rules.WORKBOOK)})
    assert (changed.year, changed["study_years"], changed.source("study_years")) == (
        2024, 9, "clause 9")
