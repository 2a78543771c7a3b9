"""Rules over several cells and sheets: references, Study, Program, Rates, Unit costs."""

import datetime

import numpy as np
import pytest
from workbooks.make import RATE, findings, read, unit_cost_rows

from batch import rules
from batch.columns import INPUT_SHEETS, PROGRAM
from batch.findings import CATALOGUE, ERROR, StudyError

YEAR = rules.load(2026)


def only(inputs, slug):
    found = findings(inputs, slug)
    assert len(found) == 1, inputs.findings.rows
    return found[0]


def refusal(folder, **options) -> str:
    with pytest.raises(StudyError) as caught:
        read(folder, **options)
    return str(caught.value)


# Cells of a row

@pytest.mark.parametrize("changes, slug, key", [
    ({"gross_depth_in": None}, "depth-or-hours-missing", "gross_depth_in"),
    ({"fuel_price_usd": None}, "fuel-price-missing", "fuel_price_usd"),
    ({"present_power": "diesel generator", "fuel_price_usd": None}, "fuel-price-missing",
     "fuel_price_usd"),
    ({"pipe_diameter_in": None}, "pipe-diameter-missing", "pipe_diameter_in"),
    ({"present_power": "rotary converter"}, "present-demand-missing", "present_demand_kw"),
    ({"engine_remaining_yr": None}, "engine-life-missing", "engine_remaining_yr"),
])
def test_cells_that_the_rest_of_the_row_asks_for(tmp_path, changes, slug, key):
    inputs = read(tmp_path, [changes, {}])
    finding = only(inputs, slug)
    assert (finding["row"], finding["key"], finding["candidate_id"]) == (2, key, "F-1")
    assert inputs.has_error[2] == (CATALOGUE[slug].severity == ERROR) and not inputs.has_error[3]


def test_cells_that_the_rest_of_the_row_does_not_ask_for(tmp_path):
    inputs = read(tmp_path, [
        {"present_power": "none", "fuel_price_usd": None, "engine_remaining_yr": None},
        {"present_power": "rotary converter", "present_demand_kw": 20, "fuel_price_usd": None},
        {"pipe_length_ft": 0, "pipe_diameter_in": None},
        {"gross_depth_in": None, "season_hours": 900}])
    assert not findings(inputs, severity=ERROR)


def test_a_faulty_cell_is_not_reported_as_missing_too(tmp_path):
    inputs = read(tmp_path, [{"fuel_price_usd": "dear", "gross_depth_in": -1}])
    assert {f["slug"] for f in findings(inputs, severity=ERROR)} == {"not-a-number",
                                                                     "below-minimum"}


# References

def test_rate_that_is_not_listed(tmp_path):
    finding = only(read(tmp_path, [{"rate_id": "IRRR"}, {}]), "reference-unknown")
    assert (finding["row"], finding["limit"]) == (2, "IRR")
    assert "Closest is 'IRR'" in finding["message"]


def test_blank_rate_takes_the_only_rate(tmp_path):
    inputs = read(tmp_path, [{"rate_id": None}, {}])
    assert inputs.candidates["rate_id"].tolist() == ["IRR", "IRR"]
    told = [f for f in findings(inputs, "defaults-taken") if f["sheet"] == "Candidates"]
    assert [f["row"] for f in told] == [2, 3]
    assert "Rate IRR" in told[0]["message"] and "Rate IRR" not in told[1]["message"]


def test_blank_rate_is_an_error_where_there_are_several(tmp_path):
    inputs = read(tmp_path, [{"rate_id": None}, {}], rates=[RATE, RATE | {"rate_id": "TOU"}])
    finding = only(inputs, "value-missing")
    assert (finding["row"], finding["key"]) == (2, "rate_id")
    assert inputs.has_error.tolist() == [True, False]


@pytest.mark.parametrize("change", [
    {"demand_charge_usd_kw": "six"}, {"demand_months": "summer"}, {"block_1_usd_kwh": None},
    {"demand_months": datetime.datetime(2026, 6, 9)}])
def test_faulty_rate_makes_its_candidates_faulty_and_no_others(tmp_path, change):
    rates = [RATE, RATE | {"rate_id": "TOU"} | change]
    inputs = read(tmp_path, [{"rate_id": "TOU"}, {}], rates=rates)
    finding = only(inputs, "reference-faulty")
    assert finding["row"] == 2 and "row 3 on the Rates sheet" in finding["message"]
    assert inputs.has_error.tolist() == [True, False]


def test_months_that_became_a_date_are_explained(tmp_path):
    rates = [RATE | {"demand_months": datetime.datetime(2026, 6, 9)}]
    finding = only(read(tmp_path, rates=rates), "list-unreadable")
    assert "date 2026-06-09" in finding["message"] and "Text" in finding["message"]


def test_rate_of_two_rows_is_faulty_and_stands_once_in_the_table(tmp_path):
    inputs = read(tmp_path, rates=[RATE, RATE | {"block_1_usd_kwh": 0.2}])
    assert only(inputs, "id-repeated")["sheet"] == "Rates"
    assert inputs.has_error.all() and inputs.rates["rate_id"].tolist() == ["IRR"]


def test_shared_line_that_is_not_listed(tmp_path):
    inputs = read(tmp_path, [{"shared_line_id": "S1"}, {"shared_line_id": "S2"}],
                  shared_lines=[{"shared_line_id": "S1", "shared_single_phase_ft": 2000}])
    assert only(inputs, "reference-unknown")["row"] == 3
    assert inputs.shared_lines["shared_single_phase_ft"].tolist() == [2000]


def test_shared_line_without_its_sheet(tmp_path):
    only(read(tmp_path, [{"shared_line_id": "S1"}]), "reference-unknown")


def test_feeder_that_is_not_listed_is_a_watch(tmp_path):
    feeders = [{"feeder_id": "F1", "spare_capacity_kw": 900}]
    inputs = read(tmp_path, [{"feeder_id": "F2"}, {"feeder_id": "F1"}], feeders=feeders)
    assert only(inputs, "feeder-unknown")["row"] == 2 and not inputs.has_error.any()


def test_feeders_without_rows_are_not_missed(tmp_path):
    for feeders in (None, []):
        assert not findings(read(tmp_path, feeders=feeders), "feeder-unknown")


# Study

def test_year_without_rules(tmp_path):
    assert "1999" not in refusal(tmp_path, study={"rules_year": 2099})
    assert "no rules for the year 2099" in refusal(tmp_path, study={"rules_year": 2099})


def test_study_without_its_needed_values(tmp_path):
    text = refusal(tmp_path, study={"rules_year": None, "study_name": None})
    assert "Rules year" in text and "Study name" in text


def test_all_bad_study_cells_are_named_at_once(tmp_path):
    text = refusal(tmp_path, study={"study_date": "soon", "program_budget_usd": "much"})
    assert "Study!B4" in text and "Study!B5" in text and "Type a date" in text


def test_study_values(tmp_path):
    inputs = read(tmp_path, study={"study_date": datetime.date(2026, 4, 30), "notes": "  ",
                                   "program_budget_usd": "$250,000"})
    assert inputs.study["study_date"] == "2026-04-30" and inputs.study["notes"] is None
    assert inputs.study["program_budget_usd"] == 250_000 and inputs.study["currency"] == "USD"
    assert inputs.study["rules_year"] == 2026 and isinstance(inputs.study["rules_year"], int)


def test_study_without_a_header_row_and_with_labels(tmp_path):
    def rewrite(book):
        worksheet = book["Study"]
        worksheet.delete_rows(1, 9)
        worksheet.append(["Study name", "By labels"])
        worksheet.append(["RULES YEAR", 2026])

    assert read(tmp_path, edit=rewrite).study["study_name"] == "By labels"


# Program

def test_no_program_sheet_and_blank_values_keep_the_years_rules(tmp_path):
    assert read(tmp_path).rules == YEAR
    blank = {key: None for key in PROGRAM.by_key}
    inputs = read(tmp_path, program=blank)
    assert inputs.rules == YEAR and not findings(inputs, "rule-changed")


def test_the_years_own_values_are_no_change(tmp_path):
    inputs = read(tmp_path, program={key: (YEAR[key], PROGRAM.by_key[key].unit)
                                     for key in PROGRAM.by_key})
    assert inputs.rules == YEAR
    assert not [f for f in inputs.findings.rows if f["sheet"] == "Program"]


def test_changed_rule(tmp_path):
    inputs = read(tmp_path, program={
        "service_drop_limit_pct": (5, "%", "Resolution 7"), "current_limits_apply": "off",
        "allowance_basis": "Margin", "incentive_tiers": "30: 100"})
    rule = inputs.rules.by_key["service_drop_limit_pct"]
    assert (rule.value, rule.source, rule.origin) == (5, "Resolution 7", rules.WORKBOOK)
    assert inputs.rules["current_limits_apply"] == "off"
    assert inputs.rules["incentive_tiers"] == "30: 100"
    assert inputs.rules.by_key["incentive_tiers"].source == "Program sheet, no source given"
    notes = {f["key"]: f for f in findings(inputs, "rule-changed")}
    assert notes["service_drop_limit_pct"]["limit"] == f"{YEAR['service_drop_limit_pct']} %"
    assert "Program!B2" in notes["service_drop_limit_pct"]["message"]
    assert inputs.rules["service_voltage_v"] == YEAR["service_voltage_v"]


def test_program_value_in_another_unit(tmp_path):
    # Source: 1 ft = 0.3048 m exactly (NIST Special Publication 811, appendix B.8).
    inputs = read(tmp_path, program={"tower_span_ft": (60.96, "m")})
    assert inputs.rules["tower_span_ft"] == pytest.approx(200)


def test_program_label_instead_of_key(tmp_path):
    label = PROGRAM.by_key["tower_span_ft"].label
    assert read(tmp_path, program={label: 201}).rules["tower_span_ft"] == 201


def test_all_bad_program_cells_are_named_at_once(tmp_path):
    text = refusal(tmp_path, program={
        "tower_span_ft": "wide", "discount_rate_member_pct": 300, "allowance_basis": "half",
        "season_share_pct": "50, 50", "service_voltage_v": (440, "furlong")})
    for place in ("Program!B2", "Program!B3", "Program!B4", "Program!B5", "Program!B6"):
        assert place in text
    assert CATALOGUE["unknown-choice"].remedy in text


def test_formula_without_a_stored_value_in_a_rule_is_no_blank(tmp_path):
    assert "Program!B2" in refusal(tmp_path, program={"tower_span_ft": "=100+80"})


def test_key_on_two_lines(tmp_path):
    def repeat(book):
        book["Program"].append(["tower_span_ft", 190])

    assert "row 2" in refusal(tmp_path, program={"tower_span_ft": 185}, edit=repeat)


def test_unknown_key(tmp_path):
    inputs = read(tmp_path, program={"tower_spam_ft": 150, "a heading": None})
    finding = only(inputs, "key-unknown")
    assert finding["limit"] == "tower_span_ft" and "'tower_spam_ft'" in finding["message"]


def test_fraction_for_a_percent_rule(tmp_path):
    inputs = read(tmp_path, program={"discount_rate_member_pct": 0.07})
    assert only(inputs, "fraction-for-percent")["sheet"] == "Program"


def test_percent_formatted_rule(tmp_path):
    def show_as_percent(book):
        book["Program"]["B2"].number_format = "0%"

    inputs = read(tmp_path, program={"discount_rate_member_pct": 0.09}, edit=show_as_percent)
    assert inputs.rules["discount_rate_member_pct"] == pytest.approx(9)


# Rates and Unit costs

def test_defaults_of_a_rate(tmp_path):
    inputs = read(tmp_path)
    assert inputs.rates.at[2, "summer_months"] == "6-9"
    assert inputs.rates.at[2, "coincidence_pct"] == 80
    assert np.isnan(inputs.rates.at[2, "block_2_usd_kwh"])


@pytest.mark.parametrize("sheet", ["rates", "unit_costs"])
def test_no_rate_or_no_price(tmp_path, sheet):
    assert "holds no row" in refusal(tmp_path, **{sheet: []})


def test_faulty_prices_stop_the_study_and_are_all_named(tmp_path):
    rows = unit_cost_rows()
    rows[0]["price_usd"], rows[2]["item"] = "seven", "fence"
    text = refusal(tmp_path, unit_costs=rows)
    assert "Unit costs!F2" in text and "Unit costs!A4" in text


def test_price_per_meter_is_not_taken_for_a_price_per_foot(tmp_path):
    def rename(book):
        book["Unit costs"]["F1"] = "Price [USD/m]"

    assert "Unit costs!F1" in refusal(tmp_path, edit=rename)


def test_every_sheet_of_the_dictionary_can_be_filled(tmp_path):
    inputs = read(tmp_path, program={}, feeders=[{"feeder_id": "F1"}],
                  shared_lines=[{"shared_line_id": "S", "shared_single_phase_ft": 1}],
                  limits=[{"name": "wire", "unit": "ft", "available": 1, "counts": "line"}],
                  delivered=[{"candidate_id": "F-1", "program_year": 2026, "season": 2026}])
    assert set(inputs.cells) == {sheet.name for sheet in INPUT_SHEETS}
    assert not findings(inputs, severity=ERROR)
