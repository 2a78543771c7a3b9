"""How a farm's option is chosen: by first cost, by cost over life, or by the member's NPV.

One invented farm of the hand calculation with a drive of 3,900 USD: converter and drive both meet
every limit. The converter costs a little less to build and loses a fifth of its energy, so that the
more the farm pumps, the sooner the drive is the better one.
"""

import pytest

from batch import rules
from batch.reading.validate import validate
from batch.study import run_study
from tests.published.hand_calculation import PRICES, RATE, RULES, SMALL
from tests.workbooks.make import candidate_workbook

DRIVE, CONVERTER = "single-phase drive", "rotary converter"
FIRST, LIFE, MEMBER = "least first cost", "least cost over life", "member's NPV"
DRIVE_USD = 3900
YEARS, PLANT_YEARS = 20, 35


def options_of(folder, hours, by=None):
    prices = [{"item": item, "phases": phases, "size": size, "price_year": 2026,
               "price_usd": DRIVE_USD if item == "drive" else usd}
              for item, phases, size, usd in PRICES]
    program = RULES | {"minimum_added_load_kw": 0} | ({"option_chosen_by": by} if by else {})
    study = run_study(validate(candidate_workbook(
        folder, [SMALL | {"is_inverter_duty": "yes", "load_control": "no", "season_hours": hours,
                          "supply_option": "auto"}],
        rates=[RATE], unit_costs=prices, program=program)))
    return study.options.set_index("supply_option"), study.results.iloc[0]


def life_cost_by_hand(o):
    """Life-cycle cost, 10 CFR 436.19: what is built and replaced less what is left, upkeep and
    power, at 5 % and end of year; upkeep rises by 3 % a year, wholesale power by 1.5 %."""
    def worth(usd, escalation, year):
        return usd * ((1 + escalation) / 1.05) ** year

    yearly = sum(worth(o["electric_upkeep_usd_yr"] + o["carrying_cost_usd_yr"], 0.03, year)
                 + worth(o["wholesale_cost_usd_yr"], 0.015, year) for year in range(1, YEARS + 1))
    # A drive lasts ten years: bought again in year 10, worn out in year 20. Of the line and
    # transformer 15 of 35 years are left.
    drive_again = worth(o["cost_drive_usd"] + o["cost_filter_usd"], 0.03, 10)
    work = sum(o[f"cost_{item}_usd"] for item in ("line", "transformer", "service", "engineering"))
    left = worth(work, 0.03, YEARS) * (PLANT_YEARS - YEARS) / PLANT_YEARS
    return o["project_cost_usd"] + 400 + yearly + drive_again - left


@pytest.mark.parametrize("hours, by, chosen", (
    (2000, FIRST, CONVERTER), (2000, LIFE, CONVERTER), (2000, MEMBER, DRIVE),
    (3500, FIRST, CONVERTER), (3500, LIFE, DRIVE), (3500, MEMBER, DRIVE)))
def test_rule_decides_between_options_that_meet(tmp_path, hours, by, chosen):
    options, farm = options_of(tmp_path, hours, by)
    meeting = options.loc[[DRIVE, CONVERTER]]
    assert (meeting["fails_count"] == 0).all() and meeting["project_cost_usd"].notna().all()
    figure = {FIRST: lambda o: o["project_cost_usd"], LIFE: life_cost_by_hand,
              MEMBER: lambda o: -o["member_npv_usd"]}[by]
    by_hand = {option: figure(o) for option, o in meeting.iterrows()}
    assert min(by_hand, key=by_hand.get) == chosen == farm["supply_option"]
    why = {FIRST: "Least first cost", LIFE: "Least cost over life",
           MEMBER: "Largest NPV of the member"}[by]
    assert farm["option_reason"].startswith(f"{why} among the options that fail no check.")
    assert ("over life" in farm["option_reason"].split("Compared")[1]) == (by == LIFE)


@pytest.mark.parametrize("option", (DRIVE, CONVERTER))
def test_cost_over_life_is_the_sum_by_hand(tmp_path, option):
    options, _ = options_of(tmp_path, 2000)
    o = options.loc[option]
    assert o["life_cost_usd"] == pytest.approx(life_cost_by_hand(o), abs=0.02)


def test_unknown_npv_of_all_options_leaves_the_choice_to_first_cost(tmp_path):
    study = run_study(validate(candidate_workbook(
        tmp_path, [SMALL | {"is_inverter_duty": "yes", "fuel_price_usd": None}], rates=[RATE],
        unit_costs=[{"item": item, "phases": phases, "size": size, "price_usd": usd,
                     "price_year": 2026} for item, phases, size, usd in PRICES],
        program=RULES | {"option_chosen_by": MEMBER, "minimum_added_load_kw": 0})))
    meeting = study.options[study.options["fails_count"] == 0]
    assert len(meeting) > 1 and meeting["member_npv_usd"].isna().all()
    least = meeting.loc[meeting["project_cost_usd"].idxmin(), "supply_option"]
    assert study.results["supply_option"].iloc[0] == least


@pytest.mark.parametrize("year, by", ((2024, FIRST), (2025, FIRST), (2026, LIFE)))
def test_rule_of_each_year(year, by):
    assert rules.load(year)["option_chosen_by"] == by
