"""Pages where the board has chosen, no set fits, budgets run over years, or farms share a line."""

import re

import pytest

from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.pages.pages import write_pages
from tests.workbooks.make import candidate_workbook


def page_text(html):
    """What a reader sees of a page."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", re.sub(
        r"<(style|svg).*?</\1>", "", html, flags=re.DOTALL)))


def board_of(tmp_path, rows, study=None, **more):
    made = run_study(validate(candidate_workbook(tmp_path, rows, study=study, **more)))
    folder = tmp_path / "out"
    folder.mkdir()
    write_pages(made, folder, "fingerprint")
    return made, folder, page_text((folder / "board.html").read_text(encoding="utf-8"))


NO_FLOOR = {"member_npv_floor_usd": -10_000_000}  # a grower who loses gets a letter too
WANTED = {"load_control": True, "funding_choice": "must fund"}


def test_board_where_no_set_keeps_all_limits_funds_nothing_beyond_the_budget(tmp_path):
    made, folder, board = board_of(tmp_path, [WANTED, WANTED], {"program_budget_usd": 100},
                                   program={"budget_method": "best set"})
    assert (made.results["rank"] > 0).all() and "no set of farms keeps all limits" in board
    assert "0farms funded of 2" in board and "$0of a budget of $100" in board
    assert "F-1, F-2 must be funded; they are not among the funded farms" in board
    sets = made.portfolio.sets.set_index("method")
    within = sets.loc["best set within all limits"]
    assert within[["farms", "added_load_kw", "goal_value", "goal_gain"]].isna().all()
    assert (sets.drop(within.name)["farms"] >= 0).all()
    for letter in (folder / "offers").iterdir():
        assert "the budget reaches it" not in letter.read_text(encoding="utf-8")


def test_board_names_the_farms_that_it_has_decided_on(tmp_path):
    rows = [{"load_control": True}, WANTED | {"funding_choice": "must not fund"}]
    _, folder, board = board_of(tmp_path, rows, {"program_budget_usd": 1e6})
    assert "2 farms applied" in board
    assert "1 qualifies, besides 1 that the board has decided not to fund" in board
    assert "the board has decided not to fund it: F-2." in board
    assert len(list((folder / "offers").iterdir())) == 1


def test_ranking_that_looks_better_by_a_broken_limit_says_by_how_much(tmp_path):
    # The smaller farm must be funded and takes the place of the larger one.
    rows = [{"load_control": True, "flow_gpm": 500} | WANTED, {"load_control": True,
                                                               "flow_gpm": 900}]
    whole = run_study(validate(candidate_workbook(tmp_path, rows)))
    cost = whole.results["incentive_cost_usd"]
    (tmp_path / "b").mkdir()
    made, _, board = board_of(tmp_path / "b", rows, {"program_budget_usd": float(cost.max())})
    load = made.results["added_load_kw"]
    assert list(made.results["in_best_set"]) == [1, 0]
    better = (load.iloc[1] - load.iloc[0]).round()
    assert f"The ranking looks better by {better:.0f} kW only because" in board


def test_budgets_of_several_years_are_told_apart(tmp_path):
    year = {"program_budget_usd": 22_000, "program_budget_year_2_usd": 22_000}
    rows = [{"load_control": True, "flow_gpm": flow} for flow in (500, 600, 700)]
    made, folder, board = board_of(tmp_path, rows, year, program={"budget_method": "best set"})
    assert sorted(made.results["best_set_year"].dropna()) == [1, 2]
    assert "over the budgets of 2 years; all are valued as if built at once" in board
    [late] = made.results.loc[made.results["best_set_year"] == 2, "candidate_id"].str.lower()
    letter = page_text((folder / "offers" / f"{late}.html").read_text(encoding="utf-8"))
    assert "the budget of program year 2" in letter


# Farms under the plain rules, each of them looked at by a test of its own.
READY = {"is_inverter_duty": "yes", "pivot_lead_ft": 60, "source_fault_a": 2500}
PLAIN = {
    "gas": READY | {"present_power": "natural gas engine", "fuel_rate": None,
                    "fuel_price_usd": 4},
    "decided": READY | {"funding_choice": "must not fund"},
    "far": READY | {"single_phase_distance_ft": 90_000, "three_phase_distance_ft": 90_000},
    "open": {"is_inverter_duty": None, "source_fault_a": 2500, "motor_lead_ft": 140,
             "pivot_length_ft": None, "pivot_lead_ft": None},  # no sine filter: the class matters
}


@pytest.fixture(scope="module")
def plain(tmp_path_factory):
    """The study of these farms, the board's page, and each farm's page by its name."""
    rows = [row | {"candidate_id": name} for name, row in PLAIN.items()]
    made, folder, board = board_of(tmp_path_factory.mktemp("plain"), rows,
                                   program={"knowledge_for_money": "screening"})
    return made, board, {name: page_text((folder / "farms" / f"{name}.html").read_text(
        encoding="utf-8")) for name in PLAIN}


# Source: the trade sells natural gas by the thousand cubic feet, Mcf; common practice, no source.
def test_natural_gas_is_counted_in_mcf_and_water_in_gallons(plain):
    farm = plain[2]["gas"]
    assert "USD per Mcf" in farm and "Mcf/yr x 4 USD/Mcf" in farm and "gal/min" in farm
    assert not re.search(r"gal/yr|gal/h|USD/gal|per gallon", farm)


def test_farms_that_need_each_other_are_funded_together_or_not_at_all(tmp_path):
    # By hand: 4,000 ft at 7.50 USD, 30,000 USD, half of it the cooperative's. Shared by two farms
    # its payback is within 15 years; for one farm alone it is not.
    line = [{"shared_line_id": "L", "shared_single_phase_ft": 4000, "shared_three_phase_ft": 4000}]
    row = {"shared_line_id": "L", "single_phase_distance_ft": 200, "source_fault_a": 2500,
           "supply_option": "single-phase drive", "is_inverter_duty": "yes", "pivot_lead_ft": 60}
    one, _, _ = board_of(tmp_path, [row, row], {"program_budget_usd": 25_000}, shared_lines=line)
    assert list(one.results["funded"]) == [0, 0] and list(one.results["qualifies_alone"]) == [0, 0]
    assert one.results["why_not"].str.contains("The budget ends before it").all()
    both, folder, _ = board_of(_folder(tmp_path, "b"), [row, row], {"program_budget_usd": 1e6},
                               shared_lines=line)
    assert list(both.results["funded"]) == [1, 1]
    assert list(both.results["funded_with"]) == ["F-2", "F-1"]
    letter = page_text((folder / "offers" / "f-1.html").read_text(encoding="utf-8"))
    assert "reckoned with 1 farm that builds beside you" in letter
    assert re.search(r"your part rises \(if one of them withdraws you would pay \$[\d,]+ in place "
                     r"of \$[\d,]+\), and alone your farm would not qualify\.", letter)


def _folder(tmp_path, name):
    (tmp_path / name).mkdir()
    return tmp_path / name


def letters_of(tmp_path, *rows):
    _, folder, board = board_of(tmp_path, rows, program=NO_FLOOR)
    return board, [page_text(path.read_text(encoding="utf-8"))
                   for path in sorted((folder / "offers").iterdir())]


def test_letter_fits_what_the_grower_has_today(tmp_path):
    engine = {"is_inverter_duty": "yes", "pivot_lead_ft": 60, "source_fault_a": 2500,
              "single_phase_distance_ft": 200}
    _, [diesel, new, rotary] = letters_of(
        tmp_path, engine,
        engine | {"present_power": "none", "fuel_rate": None, "engine_replacement_usd": 30_000},
        engine | {"present_power": "rotary converter", "present_demand_kw": 8, "fuel_rate": None,
                  "fuel_price_usd": None})
    assert "Your pumping costs $" in diesel and "The diesel engine is removed" in diesel
    assert "Pumping with a new engine would cost $" in new and "is removed" not in new
    assert "The rotary converter is disconnected and removed." in rotary
    assert "transfer switch" not in rotary.split("Please note")[0] and "diesel" not in rotary


def test_new_irrigation_without_a_fuel_price_and_the_program_sums(tmp_path):
    open_row = {"present_power": "none", "fuel_rate": None, "fuel_price_usd": None,
                "single_phase_distance_ft": 200}
    known = {"single_phase_distance_ft": 300, "is_inverter_duty": "yes", "pivot_lead_ft": 60,
             "source_fault_a": 2500}
    made, folder, board = board_of(tmp_path, [known, open_row | known | open_row])
    assert made.results["member_npv_usd"].isna().tolist() == [False, True]
    letter = page_text((folder / "offers" / "f-2.html").read_text(encoding="utf-8"))
    assert "a figure of the new engine, such as the fuel price, is missing" in letter
    assert "present fuel" not in letter
    # What is unknown of the farm is in no sum, as the board says, and takes none of them away.
    assert "Of 1 funded farm a figure is unknown." in board
    assert "less than not assessed" not in board
    assert made.portfolio.years["p50_usd"].notna().all()
    alone = run_study(validate(candidate_workbook(_folder(tmp_path, "b"), [known])))
    last = made.portfolio.years["base_usd"].iloc[-1]
    assert abs(last - alone.portfolio.years["base_usd"].iloc[-1]) < 0.01


def test_farm_that_is_not_to_be_funded_is_no_unfit_farm(plain):
    chosen, unfit = plain[2]["decided"], plain[2]["far"]
    assert "The board has decided not to fund this farm." in chosen and "unfit" not in chosen
    assert "Nothing is offered to this farm as it stands" in unfit


def test_grower_who_loses_as_studied_is_told_so_and_so_is_the_board(tmp_path):
    poor = {"is_inverter_duty": "yes", "pivot_lead_ft": 60, "source_fault_a": 2500,
            "fuel_price_usd": 0.4, "engine_upkeep_usd_h": 0, "engine_replacement_usd": None}
    board, [letter] = letters_of(tmp_path, poor)
    assert "the grower loses over the" in board and "even as studied" in board
    assert "to you as studied: you would lose by it." in letter


def test_check_that_is_not_assessed_asks_for_its_cell_and_not_for_a_remedy(plain):
    made, board, pages = plain
    peak = made.checks[(made.checks["check"] == "peak at the motor")
                       & (made.checks["candidate_id"] == "open")
                       & (made.checks["supply_option"] == "single-phase drive")].iloc[0]
    assert (peak["answer"], peak["remedy"]) == ("not assessed", "Fill: Inverter-duty motor.")
    farm = pages["open"]
    assert "Fill: Inverter-duty motor." in farm and "Confirm inverter-duty motors" not in farm
    assert "a limit was not assessed" in board and "that is no pass" in board
    results = made.results.set_index("candidate_id")
    assert "(2 not assessed)" in results.loc["open", "option_reason"]


def test_rule_of_a_share_names_the_cap_that_cut_it(tmp_path):
    # By hand: 1,450 ft at 7.50 USD and a job of 900 USD, 11,775 USD; half is 5,887.50 each.
    row = {"single_phase_distance_ft": 1450, "supply_option": "single-phase drive"}
    rules = {}
    for name, caps in {"none": {}, "cooperative": {"share_line_cap_usd": 3000},
                       "member": {"share_line_member_cap_usd": 2000, "share_line_cap_usd": 3000}
                       }.items():
        made = run_study(validate(candidate_workbook(tmp_path, [row], program=caps)))
        share = made.ledger[made.ledger["item"] == "line"].iloc[0]
        rules[name] = share["rule"], share["member_usd"]
    plain = "member pays 50 %, allowance then percent"
    assert rules == {"none": (plain, 5887.50),
                     "cooperative": (plain + "; cooperative's share cut to 3,000 USD", 8775.00),
                     "member": (plain + "; member's share cut to 2,000 USD", 2000.00)}
