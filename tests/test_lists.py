"""Lists in one cell, and numbers in text."""

import pytest

from batch import rules
from batch.columns import INPUT_SHEETS
from batch.columns.lists import READERS, cost_items, months, shares, tiers
from batch.reading.number_text import AmbiguousNumber, NotANumber, NumberText, read_number

YEAR = set(range(1, 13))


@pytest.mark.parametrize("text, expected", [
    ("6-9", {6, 7, 8, 9}), ("6,7,8", {6, 7, 8}), ("Jun-Sep", {6, 7, 8, 9}),
    ("June to September", {6, 7, 8, 9}), ("11-2", {11, 12, 1, 2}), ("6", {6}),
    ("1, 7-8", {1, 7, 8}), ("all", YEAR), ("1-12", YEAR), ("none", set()), (" ALL ", YEAR),
    ("12-1", {12, 1}), ("6–9", {6, 7, 8, 9}),
])
def test_months(text, expected):
    assert {number for number, is_in in enumerate(months(text), start=1) if is_in} == expected


@pytest.mark.parametrize("text", ["13", "0", "6-", "6-9-12", "summer", "", "6.5", "6,,7", "-6"])
def test_months_that_are_none(text):
    with pytest.raises(ValueError):
        months(text)


def test_shares():
    assert shares("0,0,0,2,8,22,31,27,9,1,0,0") == (0, 0, 0, 2, 8, 22, 31, 27, 9, 1, 0, 0)


@pytest.mark.parametrize("text", ["", "50, 50", "0,0,0,2,8,22,31,27,9,2,0,0", "x" * 12,
                                  "-10,10,0,0,0,0,50,50,0,0,0,0", "0,0,0,0,0,0,nan,0,0,0,0,100"])
def test_shares_that_are_none(text):
    with pytest.raises(ValueError):
        shares(text)


def test_tiers():
    assert tiers("20: 150, 50: 120; 100:80") == ((20, 150), (50, 120), (100, 80))


@pytest.mark.parametrize("text", ["", "20", "50: 120, 20: 150", "20: 150, 20: 120", "-5: 10",
                                  "20: x", "20: 1: 2", "20: inf"])
def test_tiers_that_are_none(text):
    with pytest.raises(ValueError):
        tiers(text)


def test_cost_items():
    assert cost_items("Filter, drive,motor  change") == ("drive", "filter", "motor change")
    with pytest.raises(ValueError, match="fence.*drive"):
        cost_items("drive, fence")


def test_every_list_key_is_in_the_dictionary_and_its_example_and_default_can_be_read():
    columns = {c.key: c for sheet in INPUT_SHEETS for c in sheet.columns}
    year = rules.load(rules.years()[-1])
    for key, (reader, example) in READERS.items():
        assert columns[key].kind == "text"
        reader(example)
        if not columns[key].required:
            reader(columns[key].default if columns[key].default is not None else year[key])


@pytest.mark.parametrize("text, expected", [
    ("1,300", NumberText(1300, "")), ("1,300.5", NumberText(1300.5, "")),
    ("1,234,567", NumberText(1234567, "")), ("1,300 ft", NumberText(1300, "ft")),
    ("12 L/s", NumberText(12, "L/s")), ("800gpm", NumberText(800, "gpm")),
    ("1\xa0300", NumberText(1300, "")), ("1\u202f300 ft", NumberText(1300, "ft")),
    ("\xa0 75 %\u200b", NumberText(75, "%")), ("$3.60", NumberText(3.6, "USD")),
    ("$3.60/gal", NumberText(3.6, "USD/gal")), ("USD 1,200", NumberText(1200, "USD")),
    ("-5", NumberText(-5, "")), ("\u22125", NumberText(-5, "")), ("+5", NumberText(5, "")),
    (".5", NumberText(0.5, "")), ("5.", NumberText(5, "")), ("0.125", NumberText(0.125, "")),
    ("1e3", NumberText(1000, "")), ("2.5E-1 hp", NumberText(0.25, "hp")),
    ("5 or so", NumberText(5, "or so")),
])
def test_numbers_in_text(text, expected):
    assert read_number(text) == expected


@pytest.mark.parametrize("text", ["1.300,5", "1.300", "1.300.000", "12,5", "0,5", ",5",
                                  "1,30,000", "1,3000", "1.300,5 ft"])
def test_numbers_that_can_be_read_in_two_ways(text):
    with pytest.raises(AmbiguousNumber):
        read_number(text)


@pytest.mark.parametrize("text", ["", "NA", "n/a", "about 800", "100-200", "1/2", "1 1/2", "..5",
                                  "--5", "1e999", "nan", "inf", "2026-04-30", "13 00", "(500)",
                                  "\u0663", "=2*3", "10:30"])
def test_text_that_holds_no_number(text):
    with pytest.raises(NotANumber):
        read_number(text)
