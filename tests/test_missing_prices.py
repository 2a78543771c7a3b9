"""A price that the list lacks is no verdict: farms of which an open option has none are not
assessed while none meets; the check of a workbook and its run agree.

Rule of these tests: what is unknown is neither a pass nor a fail (the project's own). Sizes by hand
beside each case.
"""

import re

import pytest

from batch.reading.validate import validate
from batch.study import check_workbook, run_study
from tests.workbooks.make import candidate_workbook, unit_cost_rows

EASY = {"is_inverter_duty": "yes", "source_fault_a": 2500, "pivot_lead_ft": 60,
        "single_phase_distance_ft": 200}
# Neither line nor converter meets: 40,000 ft of line never pay back, a motor of that code letter
# does not start on a converter.
NO_OTHER = EASY | {"three_phase_distance_ft": 40_000, "motor_code_letter": "V"}


def list_without(*items):
    return [row for row in unit_cost_rows() if row["item"] not in items]


def studied(folder, rows, without=(), **more):
    path = candidate_workbook(folder, rows, unit_costs=list_without(*without), **more)
    return run_study(validate(path)), path


def told(study):
    return [f for f in study.findings.rows if f["slug"] == "price-missing"]


def test_farm_waits_for_the_price_of_an_option_that_may_meet(tmp_path):
    study, _ = studied(tmp_path, [NO_OTHER], without=("drive",))
    farm = study.results.iloc[0]
    priced = study.options[study.options["project_cost_usd"].notna()]
    assert len(priced) == 2 and (priced["fails_count"] > 0).all()
    assert farm["verdict"] == "incomplete" and study.counts["not_assessed"] == 1
    # On single-phase input a drive of about twice the motor's power is needed.
    [finding] = told(study)
    hp = float(re.search(r"no price for drive of (\d+) hp", finding["message"])[1])
    assert 1.5 < hp / farm["pump_motor_hp"] < 3
    assert "F-1 asks for" in finding["message"]
    assert "no price for drive of" in farm["verdict_reason"]
    assert "and this one has none" in farm["option_reason"]


def test_fails_for_good_once_every_option_is_priced(tmp_path):
    # The same farm with the whole list, and a drive that cannot be, since its line is too long.
    rows = [NO_OTHER | {"single_phase_distance_ft": 40_000}]
    study, _ = studied(tmp_path, rows)
    assert study.options["project_cost_usd"].notna().all()
    assert study.results.iloc[0]["verdict"] == "does not qualify" and not told(study)


def test_option_that_meets_needs_no_other_price(tmp_path):
    study, _ = studied(tmp_path, [EASY], without=("rotary converter",))
    assert study.results.iloc[0]["verdict"].startswith("qualifies") and not told(study)
    converter = study.options[study.options["supply_option"] == "rotary converter"].iloc[0]
    assert converter["missing_items"].startswith("no price for rotary converter of")


# What is taken off the list, and how it is named.
@pytest.mark.parametrize("item, named", (
    ("transformer", r"transformer of \d+ kVA, single-phase"),
    ("disconnect", r"disconnect of \d+ A, single-phase"),
    ("meter and service", "meter and service, single-phase"),
    ("service conductor", r"service conductor of [\d.]+ A, single-phase, underground"),
    ("line", "line, single-phase, overhead"),
    ("line job", "line job, single-phase, overhead"),
    ("motor change", r"motor change of \d+ hp"),
    ("motor lead", r"motor lead of [\d.]+ A, three-phase, underground"),
    ("engineering", "engineering, single-phase"),
    ("drive", r"drive of \d+ hp")))
def test_each_item_is_named_with_its_size(tmp_path, item, named):
    farm = EASY | {"supply_option": "single-phase drive", "service_build": "conduit",
                   "line_build": "overhead", "has_motor_lead": "no"}
    study, _ = studied(tmp_path, [farm], without=(item,))
    messages = [f["message"] for f in told(study)]
    assert len(messages) == 1
    assert re.search(f"no price for {named}, which F-1 asks for", messages[0]), messages


def test_size_beyond_the_list_is_named_by_what_it_must_cover(tmp_path):
    # Only a converter of 10 hp is on the list: 1.25 times the motor's power is more.
    small = [row for row in unit_cost_rows()
             if row["item"] != "rotary converter" or row["size"] == min(
                 r["size"] for r in unit_cost_rows() if r["item"] == "rotary converter")]
    path = candidate_workbook(tmp_path, [EASY | {"supply_option": "rotary converter"}],
                              unit_costs=small)
    study = run_study(validate(path))
    [finding] = told(study)
    need = study.options["converter_need_hp"].max()
    assert need >= 1.25 * study.results["pump_motor_hp"].iloc[0]
    assert f"rotary converter for {need:,.0f} hp" in finding["message"]


def test_farms_that_lack_the_same_price_stand_in_one_finding(tmp_path):
    study, _ = studied(tmp_path, [NO_OTHER, NO_OTHER], without=("drive",))
    [finding] = told(study)
    assert "F-1, F-2 ask for" in finding["message"]


@pytest.mark.parametrize("without", [(), ("drive",), ("line",), ("drive", "rotary converter")])
def test_check_and_run_agree(tmp_path, without):
    rows = [NO_OTHER, EASY, EASY | {"flow_gpm": None}, EASY | {"fuel_price_usd": None}]
    study, path = studied(tmp_path, rows, without)
    checked = check_workbook(path)
    findings, counts = checked.findings, checked.counts
    assert counts == study.counts and counts["read"] == 4
    assert {f["message"] for f in told(study)} == {
        f["message"] for f in findings.rows if f["slug"] == "price-missing"}
