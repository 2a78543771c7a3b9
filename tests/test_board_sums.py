"""The board's page added up as a reader does it, with the figures as they are printed."""

import re
from decimal import Decimal

import pytest

from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.run_folder import write_run
from tests.workbooks.make import candidate_workbook

FIGURE = re.compile(r'<data value="[^"]*" data-file="([^"]*)" data-key="([^"]*)"[^>]*>'
                    r"([^<]*)</data>")
GRANTS = "project_cost_usd - cooperative_cost_usd - incentive_usd - member_net_cost_usd"
PARTS = ("incentive_usd", "cooperative_cost_usd", "member_net_cost_usd", GRANTS)
# Farms whose cents and halves do not come out even, two of them with a grant.
ROWS = [{"load_control": True, "flow_gpm": 500 + 37 * k, "pivot_lead_ft": 60 + 7 * k,
         "single_phase_distance_ft": 333 + 111 * k, "other_funding_usd": 1234 * (k > 3),
         "supply_option": "single-phase drive", "is_inverter_duty": True}
        for k in range(6)]


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    folder = tmp_path_factory.mktemp("board")
    study = run_study(validate(candidate_workbook(
        folder, ROWS, study={"program_budget_usd": 60_000}, program={"overhead_adder_pct": 13.7})))
    text = (write_run(study, folder / "out", overwrite=False, options={}) / "board.html").read_text(
        encoding="utf-8")
    assert study.totals["farms"].iloc[0] >= 2
    return study, text


def first_page(text):
    return text[text.index('id="at-a-glance"'):text.index('id="who-pays"')]


def who_pays(text):
    return text[text.index('id="who-pays"'):text.index('id="tests"')]


def usd(printed):
    return Decimal(re.sub(r"[$,]", "", printed))


def printed(text, key, file=None):
    """Every form in which a figure stands in a part of the page, as numbers; where it stands to the
    cent and rounded to dollars, those to the cent."""
    forms = [shown for of, k, shown in FIGURE.findall(text) if k == key and file in (None, of)]
    return {usd(shown) for shown in [form for form in forms if "." in form] or forms}


def test_parts_of_the_cost_add_up_to_the_whole(page):
    for part in (first_page(page[1]), who_pays(page[1])):
        (whole,) = printed(part, "project_cost_usd", "totals")
        assert sum(sum(printed(part, key, "totals")) for key in PARTS) == whole
    (counted,) = printed(first_page(page[1]), "incentive_cost_usd", "totals")
    assert counted == sum(sum(printed(first_page(page[1]), key, "totals")) for key in PARTS[:2])


def test_items_of_the_cost_add_up_to_the_whole(page):
    found = FIGURE.findall(who_pays(page[1]))
    for side, whole_key in (("cost", "project_cost_usd"), ("member", "member_cost_usd")):
        items = [usd(shown) for _, key, shown in found
                 if re.fullmatch(rf"{side}_\w+_usd", key)
                 and key not in (whole_key, "member_net_cost_usd")]
        (whole,) = printed(who_pays(page[1]), whole_key)
        assert len(items) == 10 and sum(items) == whole


def test_first_page_has_one_sum_of_both_parties(page):
    first = first_page(page[1])
    (member,), (cooperative,) = (printed(first, f"{party}_npv_usd")
                                 for party in ("member", "cooperative"))
    assert printed(first, "together_npv_usd", "totals") == {member + cooperative}
    # No other basis beside it: neither the test's sum nor another year's end.
    assert not printed(first, "total_resource_npv_usd") and not printed(first, "base_usd")
    assert not printed(first, "goal_gain")


def test_years_and_drivers_end_at_the_same_sum(page):
    study, text = page
    (together,) = printed(first_page(text), "together_npv_usd", "totals")
    assert float(together) == pytest.approx(study.portfolio.years["base_usd"].iloc[-1], abs=1)
    drivers = study.portfolio.tornado
    for side in ("low", "high"):
        apart = drivers[f"member_npv_{side}_usd"] + drivers[f"cooperative_npv_{side}_usd"]
        assert drivers[f"together_npv_{side}_usd"].to_numpy() == pytest.approx(apart.to_numpy())


def test_administration_stands_beside_the_budget_with_its_sum(page):
    # By hand: so many farms at the rule's dollars each.
    study, text = page
    rules, funded = study.inputs.rules, study.results["in_budget"] == 1
    words = re.sub(r"<[^>]+>", "", first_page(text))
    all_usd = funded.sum() * rules["administration_usd"]
    assert f"${rules['administration_usd']:,.0f} a farm and ${all_usd:,.0f} for all" in words
