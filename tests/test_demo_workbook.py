"""The demo portfolio: what it must contain, and that each of its mistakes is found as such."""

import os
import shutil
import subprocess
import zipfile
from pathlib import Path

import pytest

from batch.columns import CANDIDATES, UNIT_COSTS
from batch.columns.candidates import PRESENT_POWER
from batch.columns.results import VERDICTS
from batch.columns.unit_costs import ITEMS
from batch.findings import ERROR
from batch.reading.validate import validate
from batch.study import run_study

FOLDER = Path(__file__).parent.parent / "input_workbooks"
DEMO = FOLDER / "demo_portfolio.xlsx"
# What was done to a row on purpose -> the column and the slug that must tell of it.
MISTAKES = {
    "flow is blank": ("flow_gpm", "value-missing"),
    "flow is 'abt 900'": ("flow_gpm", "not-a-number"),
    "a misspelt engine": ("present_power", "unknown-choice"),
    "an area beyond the circle": ("irrigated_area_acre", "area-exceeds-circle"),
    "a negative distance": ("single_phase_distance_ft", "below-minimum"),
    "a candidate twice": ("candidate_id", "id-repeated"),
    "a rate that is not listed": ("rate_id", "reference-unknown"),
    "an engine without fuel price": ("fuel_price_usd", "fuel-price-missing"),
    "hours against depth": ("season_hours", "hours-against-depth"),
    "a cell in percent format": ("pump_efficiency_pct", "percent-cell"),
    "a distance with its unit": ("single_phase_distance_ft", "number-from-text"),
    "a number stored as text": ("pumping_lift_ft", "number-from-text"),
    "heights in meters": ("elevation_gain_ft", "unit-converted"),
}


@pytest.fixture(scope="module")
def study():
    return run_study(validate(DEMO))


@pytest.fixture
def make_demo(monkeypatch):
    """The script beside the workbooks, as a module."""
    monkeypatch.syspath_prepend(str(FOLDER))
    import make_demo

    return make_demo


def parts(path):
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def test_script_writes_the_committed_files(make_demo, tmp_path):
    make_demo.write_all(tmp_path)
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(
        p.name for p in FOLDER.glob("*.xlsx") if not p.name.startswith("season_"))
    for path in tmp_path.iterdir():
        assert parts(path) == parts(FOLDER / path.name), "run input_workbooks/make_demo.py"


def test_script_of_the_seasons_writes_the_committed_files(make_demo, tmp_path):
    import make_seasons

    make_seasons.write_seasons(tmp_path)
    for path in sorted(tmp_path.iterdir()):
        assert parts(path) == parts(FOLDER / path.name), "run input_workbooks/make_seasons.py"


def test_two_runs_of_the_script_give_the_same_bytes(make_demo, tmp_path):
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        make_demo.write_all(tmp_path / name)
    for path in (tmp_path / "one").iterdir():
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes()


@pytest.mark.parametrize("mistake", MISTAKES)
def test_each_mistake_is_found_on_its_column(study, mistake):
    key, slug = MISTAKES[mistake]
    found = [f for f in study.findings.rows if (f["key"], f["slug"]) == (key, slug)]
    assert len(found) == 1, mistake


def test_errors_are_those_that_were_made_and_no_others(study):
    errors = [f for f in study.findings.rows if f["severity"] == ERROR]
    assert {(f["key"], f["slug"]) for f in errors} <= set(MISTAKES.values())
    assert len({f["row"] for f in errors}) == len(errors) == 7


def test_near_match_is_offered(study):
    finding = next(f for f in study.findings.rows if f["slug"] == "unknown-choice")
    assert "deisel engine" in finding["message"] and "'diesel engine'" in finding["message"]


def test_converted_and_text_cells_have_their_values(study):
    candidates = study.inputs.candidates
    at = {(f["key"], f["slug"]): f["row"] for f in study.findings.rows}
    assert candidates.loc[at["single_phase_distance_ft", "number-from-text"],
                          "single_phase_distance_ft"] == 1300
    assert candidates.loc[at["pump_efficiency_pct", "percent-cell"], "pump_efficiency_pct"] == 72
    row = candidates.index[0]
    cells = study.inputs.cells["Candidates"]
    header = next(h for h in cells.headers if h.key == "elevation_gain_ft")
    meters = dict(cells.rows)[row][header.index]
    # Source: NIST Special Publication 811 (2008), appendix B.8: 1 ft = 0.3048 m exactly.
    assert candidates.loc[row, "elevation_gain_ft"] == pytest.approx(meters / 0.3048, rel=1e-12)


def test_no_column_sheet_or_key_is_unknown(study):
    slugs = {f["slug"] for f in study.findings.rows}
    assert not slugs & {"column-unknown", "sheet-unknown", "key-unknown",
                        "example-row-skipped"}


def test_every_present_power_build_and_rate_occurs(study):
    candidates = study.inputs.candidates
    assert len(candidates) >= 60
    assert set(PRESENT_POWER) <= set(candidates["present_power"])
    assert set(CANDIDATES.by_key["line_build"].choices) == set(candidates["line_build"])
    assert set(study.inputs.rates["rate_id"]) <= set(candidates["rate_id"])
    assert len(study.inputs.rates) >= 3 and candidates["feeder_id"].nunique() >= 4
    assert candidates["primary_kv"].nunique() == 2
    assert {0.0, 1.0} <= set(candidates["is_inverter_duty"])
    assert candidates["is_inverter_duty"].isna().any()
    assert candidates["source_fault_a"].isna().any()
    assert set(CANDIDATES.by_key["supply_option"].choices) == set(candidates["supply_option"])


def test_shared_lines_are_used_and_one_has_many_farms(study):
    members = study.inputs.candidates["shared_line_id"].value_counts()
    assert len(members) == 3 and members.max() >= 4
    many = study.inputs.candidates["shared_line_id"] == members.idxmax()
    chosen = study.results.loc[many, "supply_option"]
    assert (chosen == "three-phase line").sum() >= 3 and chosen.nunique() > 1


def test_price_list_holds_every_item(study):
    costs = study.inputs.unit_costs
    assert set(costs["item"]) == set(ITEMS), "price it in input_workbooks/demo_prices.py"
    assert set(ITEMS) == set(UNIT_COSTS.by_key["item"].choices)
    assert costs["price_year"].notna().all() and costs["price_source"].notna().all()


def test_single_phase_line_is_cheaper_than_three_phase(study):
    lines = study.inputs.unit_costs.query("item == 'line'").set_index(["line_build", "phases"])
    for build in ("overhead", "underground"):
        assert lines.loc[(build, 1), "price_usd"] < lines.loc[(build, 3), "price_usd"]


def test_verdicts_are_mixed_and_every_option_wins_somewhere(study):
    """No figure of our own is pinned: each kind must be there, and none may fill the board."""
    results = study.results
    good = results[results["verdict"].isin(["qualifies", "qualifies with conditions"])]
    shares = results["verdict"].value_counts(normalize=True)
    assert set(shares.index) == set(VERDICTS) and shares.max() < 0.65
    assert {"single-phase drive", "rotary converter", "three-phase line"} == set(
        good["supply_option"])
    assert any(f["slug"] == "nothing-meets" for f in study.findings.rows)
    assert 0.3 < good["in_budget"].mean() < 0.7


def test_counts_add_up(study):
    counts = study.counts
    assert counts["read"] == counts["assessed"] + counts["not_assessed"] == 68


def test_libreoffice_keeps_the_demo(tmp_path):
    soffice = shutil.which("soffice")
    if not soffice and os.environ.get("REQUIRE_TOOLS") != "1":
        pytest.skip("LibreOffice is not installed")
    profile = (tmp_path / "profile").as_uri()
    subprocess.run([soffice, f"-env:UserInstallation={profile}", "--headless", "--convert-to",
                    "xlsx", "--outdir", str(tmp_path), str(DEMO)],
                   check=True, capture_output=True, timeout=180)
    before, after = validate(DEMO), validate(tmp_path / DEMO.name)
    assert after.candidates.equals(before.candidates)
    assert after.unit_costs.equals(before.unit_costs) and after.rates.equals(before.rates)
    assert [f["slug"] for f in after.findings.rows] == [f["slug"] for f in before.findings.rows]
