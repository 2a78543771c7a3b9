"""Fuel of a year and fuel per running hour; percentages that are none."""

import pytest

from batch import units
from batch.findings import StudyError
from batch.reading.validate import validate
from batch.study import run_study
from tests.workbooks.make import candidate_workbook, findings, read

FARM = {"gross_depth_in": None, "season_hours": 1000, "fuel_rate": None, "fuel_price_usd": 3.5}
GAS = {"present_power": "natural gas engine"}


def results(folder, rows, **more):
    return run_study(validate(candidate_workbook(folder, rows, **more))).results


def test_fuel_of_a_year_is_burnt_in_the_hours_of_the_season(tmp_path):
    # By hand: 6,800 gal in 1,000 h are 6.8 gal an hour, 23,800 USD a year at 3.50; and 776 gal,
    # which 6,800 / 8,766 x 1,000 would be, are not the year's.
    farms = results(tmp_path, [FARM | {"annual_fuel_use": 6800},
                               FARM | GAS | {"annual_fuel_use": 1500, "fuel_price_usd": 5}])
    assert farms["used_fuel_rate"].tolist() == [6.8, 1.5]
    assert farms["present_fuel_per_yr"].tolist() == [6800, 1500]
    assert farms["fuel_cost_usd_yr"].tolist() == [23_800, 7_500]


def test_measured_rate_counts_before_the_fuel_of_a_year(tmp_path):
    farm = results(tmp_path, [FARM | {"annual_fuel_use": 6800, "fuel_rate": 4}]).iloc[0]
    assert farm["present_fuel_per_yr"] == 4000


@pytest.mark.parametrize("gal_yr, is_said", [(4390, False), (4410, True), (3590, True),
                                             (3610, False)])
def test_fuel_of_a_year_beyond_a_tenth_of_what_the_rate_burns_is_said(tmp_path, gal_yr, is_said):
    # By hand: 4 gal an hour over 1,000 h are 4,000 gal; a tenth of it is 400.
    book = candidate_workbook(tmp_path, [FARM | {"annual_fuel_use": gal_yr, "fuel_rate": 4}])
    said = findings(run_study(validate(book)), "fuel-use-against-rate")
    assert bool(said) == is_said
    if said:
        assert f"{gal_yr:,} a year" in said[0]["message"] and "4,000" in said[0]["message"]


def test_fuel_of_a_year_is_held_to_the_pumping_work(tmp_path):
    book = candidate_workbook(tmp_path, [FARM | {"annual_fuel_use": 90_000}])
    said = findings(run_study(validate(book)), "fuel-against-criteria")
    assert [f["key"] for f in said] == ["annual_fuel_use"]


def test_hourly_column_refuses_a_rate_per_year_and_names_the_column_for_it(tmp_path):
    with pytest.raises(StudyError) as refused:
        read(tmp_path, [FARM], headers={"fuel_rate": "Measured fuel rate [gal/yr]"})
    assert "'Annual fuel use [gal/yr or Mcf/yr]'" in str(refused.value)


def test_cell_of_the_hourly_column_refuses_a_rate_per_year(tmp_path):
    inputs = read(tmp_path, [FARM | {"fuel_rate": "6800 gal/yr"}])
    said = findings(inputs, "unit-unknown")
    assert "'Annual fuel use [gal/yr or Mcf/yr]'" in said[0]["message"]


@pytest.mark.parametrize("unit, number, gal_yr", [("L/yr", 3.785412, 1), ("gal/yr", 6800, 6800)])
def test_units_of_the_fuel_of_a_year(unit, number, gal_yr):
    # Source: NIST Special Publication 811 (2008), appendix B.8: a gallon is 3.785412 L.
    assert units.convert(number, unit, "gal/yr") == pytest.approx(gal_yr, rel=1e-6)


@pytest.mark.parametrize("unit, house_unit", [("USD/yr", "USD/h"), ("kWh/yr", "kW"),
                                              ("gal/h", "gal/yr"), ("USD/month", "USD/h")])
def test_no_year_is_made_of_hours(unit, house_unit):
    # A plant that runs in the season alone has no 8,766 hours a year.
    with pytest.raises(units.UnknownUnit):
        units.convert(1.0, unit, house_unit)


def test_months_of_a_year_are_converted():
    assert units.convert(12.0, "USD/yr", "USD/month") == pytest.approx(1)


@pytest.mark.parametrize("basis, amount, is_refused", [
    ("percent of eligible cost", 101, True), ("percent of eligible cost", 100, False),
    ("per kW", 101, False)])
def test_percentage_of_cost_is_no_more_than_all_of_it(tmp_path, basis, amount, is_refused):
    program = {"incentive_basis": basis, "incentive_amount": amount}
    if not is_refused:
        assert read(tmp_path, program=program).rules["incentive_amount"] == amount
        return
    with pytest.raises(StudyError) as refused:
        read(tmp_path, program=program)
    assert "Incentive amount is 101" in str(refused.value)


def test_share_above_all_of_it_is_refused(tmp_path):
    with pytest.raises(StudyError):
        read(tmp_path, program={"share_line_member_pct": 120})
