"""The rule years: closed files stay as they are, and a method that changed keeps its year."""

import hashlib

import numpy as np
import pytest

from batch import rules
from batch.columns import PROGRAM
from batch.columns.program import CONSTANT_IMPEDANCE, FAULT_LEVEL_RATIO
from batch.findings import StudyError
from batch.reading.validate import validate
from batch.rules import Rule
from batch.study import run_study
from tests.workbooks.make import candidate_workbook

# The files of closed years, by the SHA-256 of their text. These lines are written once, when the
# board has closed the year; a file that no longer fits was changed and must be put back.
CLOSED = {
    2024: "e4ddd4804543bd6354d74cf3f7e283aa45d704cd553f0db7e214b444bd11f829",
    2025: "b8a46dd74f736cdb95f0a9cab6a00de64880ebddf7e7198c38d3f5b7537f7397",
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


def test_neighbouring_years_differ_in_values_and_once_in_method():
    by_year = {year: rules.load(year) for year in rules.years()}
    assert {year: loaded["starting_dip_method"] for year, loaded in by_year.items()} == {
        2024: FAULT_LEVEL_RATIO, 2025: CONSTANT_IMPEDANCE, 2026: CONSTANT_IMPEDANCE}
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
    ("starting_dip_method", "by feeling"), ("residual_value_counts", "maybe"),
    ("study_years", "twenty")])
def test_text_that_is_no_value_is_refused(key, text):
    with pytest.raises(ValueError):
        rules.value_of(text, PROGRAM.by_key[key])


def test_replaced_rules_keep_year_and_source():
    changed = rules.load(2024).replaced({"study_years": Rule(9, "clause 9", rules.WORKBOOK)})
    assert (changed.year, changed["study_years"], changed.source("study_years")) == (
        2024, 9, "clause 9")


# --- the method of the starting dip ---------------------------------------------------------------

TAP_FAULT_A, PRIMARY_KV, MOTOR_HP = 1438, 7.2, 10
# Source: NEC Table 430.7(B), letter G: up to 6.29 kVA per hp.
START_KVA = MOTOR_HP * 6.29


@pytest.fixture(scope="module")
def options(tmp_path_factory):
    """A 10 hp motor behind 1,438 A at 7.2 kV, by year: its supply options."""
    row = {"pump_motor_hp": MOTOR_HP, "flow_gpm": 120, "pumping_lift_ft": 40, "pivot_length_ft": 0,
           "tower_count": None, "motor_code_letter": "G", "source_fault_a": TAP_FAULT_A,
           "primary_kv": PRIMARY_KV, "irrigated_area_acre": 20}
    found = {}
    for year in (2024, 2025):
        path = candidate_workbook(tmp_path_factory.mktemp(str(year)), rows=[row],
                                  study={"rules_year": year})
        variants = run_study(validate(path)).variants
        is_direct = variants["starter_share"] == 1
        found[year] = variants[is_direct].set_index("supply_option")
    return found


def test_method_of_2024_gives_the_published_dip(options):
    # Source: distribution-engineering textbook example: 63 kVA against 7.2 kV x 1,438 A is a dip
    # of 0.73 V on 120 V.
    dip_v = options[2024].loc["rotary converter", "starting_dip_pct"] / 100 * 120
    assert START_KVA == pytest.approx(63, rel=0.002)
    assert dip_v == pytest.approx(0.73, abs=0.005)


def test_three_phases_share_the_start_among_them(options):
    # Source: three-phase fault power is 3 x line-to-ground voltage x fault current.
    expected = 100 * START_KVA / (3 * PRIMARY_KV * TAP_FAULT_A)
    assert options[2024].loc["three-phase line", "starting_dip_pct"] == pytest.approx(expected,
                                                                                      rel=1e-6)


def test_method_of_2025_is_the_voltage_divider(options):
    # Source: IEEE 399, impedance method; written out here from the chain's own impedances.
    row = options[2025].loc["rotary converter"]
    chain = sum(row[f"{part}_r_ohm"] + 1j * row[f"{part}_x_ohm"]
                for part in ("source", "line", "transformer", "service"))
    source = row["source_r_ohm"] + 1j * row["source_x_ohm"]
    sine = np.sqrt(1 - 0.30 ** 2)
    motor = 480 ** 2 / 1000 / START_KVA * (0.30 + 1j * sine)
    expected = 100 * (1 - abs((motor + chain - source) / (motor + chain)))
    assert row["starting_dip_pct"] == pytest.approx(expected, rel=1e-6)


def test_old_method_is_the_upper_estimate_and_shows_no_motor_impedance(options):
    for option in ("rotary converter", "three-phase line"):
        old, new = options[2024].loc[option], options[2025].loc[option]
        assert old["starting_dip_pct"] > new["starting_dip_pct"]
        assert np.isnan(old["start_r_ohm"]) and not np.isnan(new["start_r_ohm"])
