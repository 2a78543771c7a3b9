"""The example policies, each run as a scenario over a workbook that meets a published case."""

from pathlib import Path

import numpy as np
import pytest

from batch.reading.scenario import apply, read_scenario
from batch.reading.validate import validate
from batch.study import run_study
from tests.workbooks.make import RATE, candidate_workbook, unit_cost_rows

POLICIES = Path(__file__).parents[2] / "input_workbooks" / "policies"
# Nothing but the policy shares a cost with the member, and a long payback bars no farm.
PLAIN = {"share_service_member_pct": 0, "overhead_adder_pct": 0, "current_limits_apply": "off",
         "maximum_cooperative_payback_yr": 60, "farm_cap_usd": 5_000_000}
FARM = {"is_inverter_duty": "yes", "supply_option": "single-phase drive", "pivot_lead_ft": 60}


def prices(**by_item):
    """The short price list with other prices; an underscore stands for a blank in an item."""
    new = {item.replace("_", " "): usd for item, usd in by_item.items()}
    kept = [row for row in unit_cost_rows() if row["item"] not in new]
    return kept + [{"item": item, "price_usd": usd, "price_year": 2026}
                   for item, usd in new.items()]


def run_policy(folder, policy, rows, *, changes=(), **sheets):
    """The study of a workbook under a policy file, some of its lines changed as (old, new)."""
    text = (POLICIES / policy).read_text(encoding="utf-8")
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    file = folder / policy
    file.write_text(text, encoding="utf-8")
    book = candidate_workbook(folder, rows=[FARM | row for row in rows], program=PLAIN, **sheets)
    return run_study(apply(validate(book), read_scenario(file)))


def ledger_of(study, row):
    """The ledger of a farm's chosen option by item, once its sums are found right."""
    chosen = study.options[study.options["is_chosen"] & (study.options["excel_row"] == row)]
    ledger = study.ledger[study.ledger["design"] == chosen.index[0]].set_index("item")
    cents = np.rint(100 * ledger[["cooperative_usd", "member_usd", "item_cost_usd"]])
    assert (cents["cooperative_usd"] + cents["member_usd"] == cents["item_cost_usd"]).all()
    assert round(ledger["member_usd"].sum(), 2) == chosen["member_cost_usd"].item()
    assert round(ledger["item_cost_usd"].sum(), 2) == chosen["project_cost_usd"].item()
    return ledger


@pytest.mark.parametrize("policy", sorted(POLICIES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_policy_is_read_and_names_its_sources(policy):
    scenario = read_scenario(policy)
    assert "# Source: " in policy.read_text(encoding="utf-8")
    assert scenario.rules and not any(scenario.factors.values())
    assert any("no source given" not in rule.source for rule in scenario.rules.values())


# --- free feet ------------------------------------------------------------------------------------

# Source: "Line Extension Cost", an electric cooperative's page: single-phase at 6.50 USD a foot,
# the first 1,320 ft free. (feet, left to pay, 90 % of it, 80 % of it), as printed for a half,
# three quarters of and a whole mile; nothing for a quarter.
SINGLE_PHASE = [(1320, 0, 0, 0), (2640, 8580, 7722, 6864), (3960, 17_160, 15_444, 13_728),
                (5280, 25_740, 23_166, 20_592)]
AT_ONCE = [("share_line_member_pct = 90", "share_line_member_pct = 80"),
           ("contribution_months = 60", "contribution_months = 0")]
WHOLE = [("share_line_member_pct = 90", "share_line_member_pct = 100")]


def quarter_mile(folder, changes=()):
    return run_policy(
        folder, "quarter_mile_free.toml", changes=changes,
        unit_costs=prices(line=6.50, line_job=850),
        rows=[{"single_phase_distance_ft": case[0]} for case in SINGLE_PHASE])


@pytest.fixture(scope="module")
def by_the_month(tmp_path_factory):
    """The study of these farms under the policy as it is."""
    return quarter_mile(tmp_path_factory.mktemp("months"))


@pytest.mark.parametrize("changes, place", [(WHOLE, 1), ((), 2), (AT_ONCE, 3)],
                         ids=["the rest", "over 60 months", "at once"])
def test_quarter_mile_free(tmp_path, by_the_month, changes, place):
    study = quarter_mile(tmp_path, changes) if changes else by_the_month
    # The page has no charge but that by the foot: a quarter mile is without any cost, so that the
    # cooperative's 850 USD of the job are free with it. Numbers of the job ours.
    for row, case in enumerate(SINGLE_PHASE, start=2):
        line = ledger_of(study, row).loc["line"]
        assert line["item_cost_usd"] == case[0] * 6.50 + 850
        assert line["member_usd"] == case[place]
        assert line["allowance_usd"] == 1320 * 6.50 + 850


def test_quarter_mile_free_by_the_month(tmp_path, by_the_month):
    # Source: the same page, half a mile: 7,722 over 60 months, 128.70 a month (printed as 129).
    farm = by_the_month.results.iloc[[case[0] for case in SINGLE_PHASE].index(2640)]
    assert farm["contribution_usd"] == 7722  # the line alone: the rest is the cooperative's
    assert farm["contribution_monthly_usd"] == pytest.approx(128.70, abs=1e-9)
    # By hand: 5 years of 12 x 128.70 at the member's 7 %: 1,544.40 x (1 - 1.07^-5) / 0.07.
    at_once = run_policy(tmp_path, "quarter_mile_free.toml", rows=[
        {"single_phase_distance_ft": 2640}], unit_costs=prices(line=6.50, line_job=850),
        changes=[("contribution_months = 60", "contribution_months = 0")]).results.iloc[0]
    saved = 7722 - 1544.40 * (1 - 1.07 ** -5) / 0.07
    assert farm["member_npv_usd"] - at_once["member_npv_usd"] == pytest.approx(saved, abs=0.01)


def test_three_phase_line_is_not_free(tmp_path):
    # Source: the same page: half a mile of three-phase line at 9.50 USD a foot, 25,080 USD; 90 % of
    # it 22,572 over 60 months.
    study = run_policy(
        tmp_path, "quarter_mile_free.toml", unit_costs=prices(line=9.50, line_job=0),
        rows=[{"three_phase_distance_ft": 2640, "supply_option": "three-phase line"}])
    line = ledger_of(study, 2).loc["line"]
    assert (line["item_cost_usd"], line["allowance_usd"], line["member_usd"]) == (25_080, 0, 22_572)


# --- years of revenue -----------------------------------------------------------------------------

# 625 USD a month of customer charge and the 2 USD/hp of facilities are no base revenue.
FOUR_YEARS_RATE = RATE | {"customer_charge_usd_month": 625, "facilities_charge_usd_hp_yr": 2}


@pytest.mark.parametrize("usd_ft, jobs", [(4.50, {12_000: 60_000}),
                                          (4.75, {4000: 25_000, 400: 7900})])
def test_four_years_of_revenue(tmp_path, usd_ft, jobs):
    # Source: Florida Administrative Code 25-6.064 (2): job less four years of base energy and four
    # years of base demand revenue, (d) not below zero. By hand: 9.5 cents for each kWh; 6 USD for
    # each kW in June to September. Line, transformer 5,000 and engineering 1,000 are the job;
    # (2)(a) leaves service drop and meter out of it.
    study = run_policy(tmp_path, "four_years_of_revenue.toml", rates=[FOUR_YEARS_RATE],
                       rows=[{"single_phase_distance_ft": feet} for feet in jobs],
                       unit_costs=prices(line=usd_ft, line_job=0, transformer=5000,
                                         engineering=1000))
    for (row, farm), job_usd in zip(study.results.iterrows(), jobs.values(), strict=True):
        check_four_years(farm, ledger_of(study, row), job_usd)


def check_four_years(farm, ledger, job_usd):
    energy, demand = 0.095 * farm["annual_energy_kwh"], 4 * 6 * farm["service_demand_kw"]
    assert energy > 5000 and demand > 1000
    assert farm["revenue_usd_yr"] > energy + demand + 7500
    allowance = min(4 * (energy + demand), job_usd)
    job = ledger.loc[["line", "transformer", "engineering"]]
    assert job["item_cost_usd"].sum() == job_usd
    # Each month is billed in cents.
    assert job["allowance_usd"].sum() == pytest.approx(allowance, abs=0.10)
    assert job["member_usd"].sum() == pytest.approx(job_usd - allowance, abs=0.10)
    assert job["member_usd"].sum() == pytest.approx(farm["contribution_usd"], abs=0.001)
    assert ledger.loc["service", "item_cost_usd"] > 0 == ledger.loc["service", "member_usd"]


def test_only_added_base_revenue_counts(tmp_path):
    # Source: the same rule: incremental revenue. By hand: a rotary converter that pays for 30 kW
    # today is billed in the new year for its whole demand less those.
    rows = [{"present_power": "rotary converter", "present_demand_kw": 30, "fuel_rate": None,
             "fuel_price_usd": None, "single_phase_distance_ft": 12_000}]
    study = run_policy(tmp_path, "four_years_of_revenue.toml", rates=[FOUR_YEARS_RATE], rows=rows,
                       unit_costs=prices(line=4.50, line_job=0, transformer=5000, engineering=1000))
    farm = study.results.iloc[0]
    added_kw = farm["service_demand_kw"] - 30
    by_hand = 4 * added_kw * (0.095 * farm["season_hours"] + 4 * 6)
    assert farm["allowance_usd"] == pytest.approx(by_hand, abs=0.5)


def test_without_revenue_the_member_pays_the_job(tmp_path):
    # Source: the same rule, by hand: no revenue, no allowance.
    rate = RATE | {"customer_charge_usd_month": 0, "demand_charge_usd_kw": 0, "block_1_usd_kwh": 0}
    study = run_policy(tmp_path, "four_years_of_revenue.toml", rates=[rate],
                       rows=[{"single_phase_distance_ft": 4000}],
                       unit_costs=prices(line=4.75, line_job=0, transformer=5000, engineering=1000))
    assert study.results.iloc[0]["contribution_usd"] == 25_000


# --- a flat allowance, and equal parts of a segment -----------------------------------------------

def test_flat_allowance_and_a_shared_segment(tmp_path):
    # Source: Maine Public Utilities Commission, chapter 65, section 1: users at 200 and 120 ft of a
    # main of 30 USD a foot, 600 USD for each. Derived: 120 ft shared (1,800 each), 80 ft alone
    # (2,400): 4,200 - 600 = 3,600 and 1,800 - 600 = 1,200.
    study = run_policy(
        tmp_path, "flat_allowance_by_segments.toml", unit_costs=prices(line=30, line_job=0),
        shared_lines=[{"shared_line_id": "L1", "shared_single_phase_ft": 120,
                       "shared_three_phase_ft": 120}],
        rows=[{"shared_line_id": "L1", "single_phase_distance_ft": 80},
              {"shared_line_id": "L1", "single_phase_distance_ft": 0}])
    assert set(study.options.loc[study.options["is_chosen"], "fails_names"]) == {""}
    shares = [ledger_of(study, row).loc["line"] for row in (2, 3)]
    assert [share["item_cost_usd"] for share in shares] == [4200, 1800]
    assert [share["member_usd"] for share in shares] == [3600, 1200]
    assert [share["cooperative_usd"] for share in shares] == [600, 600]


def test_flat_allowance_of_one_who_comes_alone(tmp_path):
    # Source: the same section, by hand: 200 ft at 30 less 600.
    study = run_policy(tmp_path, "flat_allowance_by_segments.toml", rows=[
        {"single_phase_distance_ft": 200}], unit_costs=prices(line=30, line_job=0))
    assert ledger_of(study, 2).loc["line", "member_usd"] == 5400


def test_segments_by_their_users_and_refund_within_ten_years(tmp_path):
    # Source: the same chapter, equal parts of each segment by its users and section 2 (B): 10 years
    # from the first user. By hand, 30 USD a foot: users at 100, 200 and 300 ft of a main share
    # 100 ft by three (1,000 each), 100 ft by two (1,500 each) and one has 100 ft alone (3,000):
    # 1,000, 2,500 and 5,500, less 600 each.
    study = run_policy(
        tmp_path, "flat_allowance_by_segments.toml", unit_costs=prices(line=30, line_job=0),
        shared_lines=[{"shared_line_id": "L1", "shared_single_phase_ft": 300,
                       "shared_three_phase_ft": 300}],
        rows=[{"shared_line_id": "L1", "single_phase_distance_ft": 0, "shared_line_use_ft": feet}
              for feet in (100, 200, 300)])
    shares = [ledger_of(study, row).loc["line"] for row in (2, 3, 4)]
    assert [share["item_cost_usd"] for share in shares] == [1000, 2500, 5500]
    assert [share["member_usd"] for share in shares] == [400, 1900, 4900]
    assert study.inputs.rules["refund_window_yr"] == 10
    assert (study.results["refund_if_joined_usd"] > 0).all()


# --- credit for use -------------------------------------------------------------------------------

def test_credit_for_use_leaves_the_transformer_out(tmp_path):
    # Source: "Help Us Help You", a public page: all contributions for new services but transformer
    # and underground conversion charges are refundable. 200 ft at 5.75 USD and 1,575 USD are
    # 2,725 USD; transformer ours. By hand: 3 cents for each kWh pay 2,725 and 600 of engineering
    # back within
    # three years, and nothing of the 2,000 of the transformer.
    study = run_policy(
        tmp_path, "credit_for_use.toml", rows=[{"single_phase_distance_ft": 200}],
        changes=[("refund_credit_usd_kwh = 0.03", "refund_credit_usd_kwh = 0.03\n"
                  "share_transformer_member_pct = 100\nshare_transformer_free_usd = 0\n"
                  "transformer_free_kva = 0\nshare_transformer_cap_usd = 10_000_000\n"
                  "share_engineering_member_pct = 100")],
        unit_costs=prices(line=5.75, line_job=1575, transformer=2000, engineering=600))
    farm = study.results.iloc[0]
    assert farm["contribution_usd"] == 2725 + 2000 + 600
    assert 3 * 0.03 * farm["annual_energy_kwh"] > farm["contribution_usd"]
    assert farm["refund_credit_usd"] == pytest.approx(2725 + 600, abs=0.01)
    # The page has no refund as others join.
    assert farm["refund_if_joined_usd"] == 0


# --- wire half and half ---------------------------------------------------------------------------

def test_wire_half_and_half_and_a_free_transformer(tmp_path):
    # Source: common practice, no source: 1,300 ft for 8,000 USD, half and half; a transformer up to
    # 50 kVA at no charge. By hand: 1,300 x 6.00 + 200; of a larger one the difference of price.
    listed = {25: 2400, 50: 3600, 75: 4700, 100: 5900, 167: 8800, 250: 13_000}
    study = run_policy(tmp_path, "wire_half_transformer_free.toml", rows=[
        {"single_phase_distance_ft": 1300, "flow_gpm": gpm, "fuel_rate": None,
         "irrigated_area_acre": min(gpm / 7, 126), "pipe_diameter_in": 10} for gpm in (240, 1100)],
        unit_costs=prices(line=6, line_job=200))
    for row, is_free in ((2, True), (3, False)):
        ledger, kva = ledger_of(study, row), study.results.loc[row, "transformer_kva"]
        assert ledger.loc["line", ["item_cost_usd", "cooperative_usd", "member_usd"]].tolist() == [
            8000, 4000, 4000]
        assert (kva <= 50) == is_free
        price = next(usd for size, usd in listed.items() if size >= kva)
        assert ledger.loc["transformer", "item_cost_usd"] == price
        assert ledger.loc["transformer", "member_usd"] == (0 if is_free else price - 3600)
