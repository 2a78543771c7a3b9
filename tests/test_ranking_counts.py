"""What the ranking counts: useful load, without the losses of drive or converter, or added load.

Two invented farms without a pivot, of the 10 hp class and alike but for their flow. The head is
62 ft and 20 psi of 2.31 ft, 108.2 ft; the pump's efficiency 70 %, the motor's 91.7 % (10 CFR
431.25 Table 1). Each gets the same flat incentive, so that the larger counted load ranks first.
"""

import openpyxl
import pytest

from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.run_folder import write_run
from batch.writing.terminal import run_summary, run_text
from tests.published.hand_calculation import PRICES, RATE, RULES, SMALL
from tests.test_pages_choices import page_text
from tests.workbooks.make import candidate_workbook

FLAT_USD = 600
DRIVE = SMALL | {"candidate_id": "drive", "flow_gpm": 240, "supply_option": "single-phase drive",
                 "is_inverter_duty": "yes", "load_control": "no"}
CONVERTER = SMALL | {"candidate_id": "converter", "flow_gpm": 216, "load_control": "no"}
POLICY = RULES | {"incentive_basis": "flat", "incentive_amount": FLAT_USD,
                  "incentive_cost_counts": "incentive", "minimum_added_load_kw": 0}


def load_kw(flow_gpm):
    """Motor input by hand: gpm x ft / 3960, over both efficiencies, 0.7457 kW per hp."""
    return flow_gpm * (62 + 20 * 2.31) / 3960 / 0.70 / 0.917 * 0.7457


def study_of(folder, rows, counts, study=None, shared_lines=None, **program):
    prices = [{"item": item, "phases": phases, "size": size, "price_usd": usd, "price_year": 2026}
              for item, phases, size, usd in PRICES]
    return run_study(validate(candidate_workbook(
        folder, rows, rates=[RATE], unit_costs=prices, study=study, shared_lines=shared_lines,
        program=POLICY | {"ranking_counts": counts} | program)))


def by_name(study):
    return study.results.set_index("candidate_id")


# Drive, 96.5 % efficient: useful 7.62 kW, added 7.62 / 0.965 = 7.89 kW. Converter, 80 % efficient:
# useful 6.86 kW, added 6.86 / 0.80 = 8.57 kW. By useful load the drive is first, by added load
# the converter: its losses are what make it the larger load.
@pytest.mark.parametrize("counts, order, kw", (
    ("useful load", ["drive", "converter"], (load_kw(240), load_kw(216))),
    ("added load", ["converter", "drive"], (load_kw(216) / 0.80, load_kw(240) / 0.965))))
def test_order_follows_what_the_ranking_counts(tmp_path, counts, order, kw):
    # A payback limit that no future reaches, which would cut the flat incentive.
    study = study_of(tmp_path, [CONVERTER, DRIVE], counts, maximum_cooperative_payback_yr=60,
                     carrying_cost_pct=0)
    farms = by_name(study)
    assert farms["useful_load_kw"].to_dict() == pytest.approx(
        {"drive": load_kw(240), "converter": load_kw(216)})
    assert farms["added_load_kw"].to_dict() == pytest.approx(
        {"drive": load_kw(240) / 0.965, "converter": load_kw(216) / 0.80})
    ranked = farms.sort_values("rank")
    assert ranked["rank"].tolist() == [1, 2] and ranked.index.tolist() == order
    assert ranked["incentive_usd_per_kw"].tolist() == pytest.approx(
        [FLAT_USD / part for part in kw])
    # A flat incentive does not move with construction cost: every future has the same ranks.
    assert ranked["rank_p10"].tolist() == ranked["rank_p90"].tolist() == [1, 2]


def test_years_rule_is_useful_load_and_closed_years_take_it_too(tmp_path):
    for year in (2024, 2025, 2026):
        (tmp_path / str(year)).mkdir()
        book = candidate_workbook(tmp_path / str(year), study={"rules_year": year})
        assert validate(book).rules["ranking_counts"] == "useful load"


# The present converter takes 4 kW and gives 80 % of them, 3.2 kW. Useful are the 6.67 kW of the
# motor less 3.2 kW; added is the new service's demand less the 4 kW.
@pytest.mark.parametrize("option, efficiency", (
    ("rotary converter", 0.80), ("single-phase drive", 0.965)))
def test_present_converter_counts_by_what_it_gives(tmp_path, option, efficiency):
    row = DRIVE | {"present_power": "rotary converter", "present_demand_kw": 4,
                   "flow_gpm": 210, "fuel_rate": None, "supply_option": option}
    farm = study_of(tmp_path, [row], "useful load",
                    incentive_cost_counts="incentive and cooperative share").results.iloc[0]
    useful_kw = load_kw(210) - 4 * 0.80
    assert farm["useful_load_kw"] == pytest.approx(useful_kw)
    assert farm["added_load_kw"] == pytest.approx(load_kw(210) / efficiency - 4)
    assert farm["incentive_cost_usd"] > 0
    assert farm["incentive_usd_per_kw"] == pytest.approx(farm["incentive_cost_usd"] / useful_kw)


# Useful 6.67 - 8 x 0.80 = 0.27 kW, added 6.67 / 0.965 - 8 = -1.09 kW: a finding says that nothing
# is added, and the check of the least added load fails, whatever the ranking counts.
@pytest.mark.parametrize("counts", ("useful load", "added load"))
def test_better_device_that_adds_nothing_does_not_qualify(tmp_path, counts):
    row = DRIVE | {"present_power": "rotary converter", "present_demand_kw": 8,
                   "flow_gpm": 210, "fuel_rate": None}
    study = study_of(tmp_path, [row], counts)
    farm = study.results.iloc[0]
    assert farm["useful_load_kw"] > 0 > farm["added_load_kw"]
    assert farm["verdict"] == "does not qualify" and "least added load" in farm["verdict_reason"]
    assert ("No added load." in farm["verdict_reason"]) == (counts == "added load")
    slugs = {f["slug"] for f in study.findings.rows}
    assert "no-added-load" in slugs and "no-useful-load" not in slugs


@pytest.mark.parametrize("counts", ("useful load", "added load"))
def test_incentive_per_kw_counts_added_load_either_way(tmp_path, counts):
    study = study_of(tmp_path, [CONVERTER], counts, incentive_basis="per kW", incentive_amount=100,
                     incentive_minimum_usd=0)
    assert study.results.iloc[0]["incentive_usd"] == pytest.approx(
        100 * load_kw(216) / 0.80, abs=0.005)


# Three phases have no losses to count. With drives the load is larger by 1 / 0.965 if the losses
# count, and cost per kW less by 0.965.
def test_crossover_of_a_shared_line_divides_by_the_same_load(tmp_path):
    line = [{"shared_line_id": "L", "shared_single_phase_ft": 500, "shared_three_phase_ft": 800}]
    rows = [row | {"shared_line_id": "L", "three_phase_distance_ft": 300,
                   "supply_option": "single-phase drive"} for row in (DRIVE, CONVERTER)]
    useful, added = (study_of(tmp_path, rows, counts, shared_lines=line).portfolio.crossover
                     for counts in ("useful load", "added load"))
    assert len(useful) == 2
    single, three = "single_phase_usd_per_kw", "three_phase_usd_per_kw"
    assert added[single].tolist() == pytest.approx((useful[single] * 0.965).tolist())
    assert added[three].tolist() == pytest.approx(useful[three].tolist())


@pytest.mark.parametrize("counts, other, kw", (
    ("useful load", "added load", load_kw(240)),
    ("added load", "useful load", load_kw(240) / 0.965)))
def test_pages_sheets_and_terminal_say_what_is_counted(tmp_path, counts, other, kw):
    study = study_of(tmp_path, [CONVERTER, DRIVE], counts, study={"program_budget_usd": 5_000})
    folder = write_run(study, tmp_path / "out", overwrite=False, options={})
    sheet = openpyxl.load_workbook(folder / "result.xlsx")["Ranking"]
    head = " ".join(str(row[0]) for row in sheet.iter_rows(max_row=5, max_col=1, values_only=True))
    headers = [cell.value for cell in sheet[6]]
    board_html = (folder / "board.html").read_text(encoding="utf-8")
    board = page_text(board_html)
    for text in (head, board):
        assert f"Ranked by incentive cost per kW of {counts}" in text
        assert f"per kW of {other}" not in text
    assert f"one kW of {counts}" in board
    assert f"from the least to the highest incentive cost per kW of {counts}" in board_html
    assert {"Added load [kW]", "Useful load [kW]"} <= set(headers)
    # By hand: both services take 7.89 + 8.57 = 16.46 kW, both motors 7.62 + 6.86 = 14.48 kW.
    assert "16 kW of added load and 14 kW of useful load" in head
    assert "Added load" in board and "Useful load" in board
    farm = page_text((folder / "farms" / "drive.html").read_text(encoding="utf-8"))
    assert "Added load" in farm and "Useful load" in farm
    assert f"Incentive cost per kW = {FLAT_USD}.00 USD / {kw:.7g} kW" in farm
    header, *lines = run_text(study, "out").splitlines()[1:]
    assert counts.replace("load", "kW") in header and other.replace("load", "kW") not in header
    [drive] = [line for line in lines if " drive " in line]
    assert f" {kw:.1f} " in drive and len(drive) <= 100
    ranking = run_summary(study, "out")["ranking"]
    assert all({"added_load_kw", "useful_load_kw"} <= farm.keys() for farm in ranking)
