"""Scenarios: what a file may say, what a run makes of it, and that its result carries it on."""

import json

import openpyxl
import pandas as pd
import pytest
from click.testing import CliRunner

from batch.cli import main
from batch.columns import PROGRAM
from batch.findings import StudyError
from batch.reading.scenario import apply, read_scenario, record_options
from batch.reading.validate import validate
from batch.rules import WORKBOOK, YEAR
from batch.run_names import folder_name
from batch.study import run_study
from tests.workbooks.make import candidate_workbook, unit_cost_rows

pytestmark = pytest.mark.usefixtures("studied_once")

DONE, CANNOT_STUDY = 0, 3
PROGRAM_SHEET = {"share_line_member_pct": 40, "incentive_maximum_usd": 4500}
# Every kind of value and every table. `shares` and `tiers` are lists written as text.
ALL_KINDS = """
name = "Dear copper"
[rules]
share_line_member_pct = 30
current_limits_apply = "off"
conductor_material = "Aluminum"
incentive_basis = "tiers"
incentive_tiers = "20: 90, 80: 45.5"
minimum_added_load_kw = 2.5
[sources]
share_line_member_pct = "board minutes, item 4"
[prices]
"service conductor" = 1.3
drive = 1.0333333333333333
[rates]
block_1_usd_kwh = 1.1
[candidates]
fuel_price_usd = 0.9
"""


def written(folder, text, name="dear.toml"):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def call(*args):
    return CliRunner().invoke(main, [str(arg) for arg in args])


@pytest.fixture(scope="module")
def workbook(tmp_path_factory):
    return candidate_workbook(tmp_path_factory.mktemp("book"), program=PROGRAM_SHEET, rows=[
        {"is_inverter_duty": "yes"}, {"flow_gpm": 240, "irrigated_area_acre": 40,
                                      "pivot_length_ft": None, "fuel_rate": None}])


@pytest.fixture(scope="module")
def runs(workbook, tmp_path_factory):
    """Folders of the base run, of the scenario run, and of its result workbook studied again."""
    out = tmp_path_factory.mktemp("out")
    file = written(out, ALL_KINDS)
    again = tmp_path_factory.mktemp("again")
    assert call("run", workbook, "--out", out).exit_code == DONE
    assert call("run", workbook, "--out", out, "--scenario", file).exit_code == DONE
    base, scenario = out / "test-study", out / "test-study-dear-copper"
    assert call("run", scenario / "result.xlsx", "--out", again).exit_code == DONE
    return base, scenario, again / "test-study-dear-copper"


def record(folder):
    return json.loads((folder / "record.json").read_text(encoding="utf-8"))


def program_used(folder):
    """Key -> (value, set by, source) of the Program used sheet."""
    sheet = openpyxl.load_workbook(folder / "result.xlsx")["Program used"]
    rows = [[cell.value for cell in row] for row in sheet.iter_rows()]
    return {row[0]: (row[2], row[4], row[5]) for row in rows if row[0] in PROGRAM.by_key}


# --- the order, and what is printed ---------------------------------------------------------------

def test_scenario_goes_over_the_program_sheet_which_goes_over_the_year(runs):
    base, scenario, _ = map(program_used, runs)
    assert base["share_line_member_pct"][:2] == ("40.0", WORKBOOK)
    assert scenario["share_line_member_pct"] == (
        "30.0", "scenario Dear copper", "board minutes, item 4")
    assert scenario["incentive_maximum_usd"][:2] == ("4500.0", WORKBOOK)
    assert scenario["share_line_cap_usd"] == base["share_line_cap_usd"]
    assert scenario["share_line_cap_usd"][1] == YEAR
    assert scenario["conductor_material"][:2] == ("aluminum", "scenario Dear copper")
    assert "no source given" in scenario["conductor_material"][2]
    assert scenario["current_limits_apply"][0] == "off"


def test_scenario_is_named_where_a_reader_looks(runs):
    base, scenario, _ = runs
    top = [openpyxl.load_workbook(folder / "result.xlsx")["Ranking"]["A2"].value
           for folder in (base, scenario)]
    assert "cenario" not in top[0] and top[1].startswith("Scenario: Dear copper. ")
    assert "Dear copper" in (scenario / "board.html").read_text(encoding="utf-8")
    findings = pd.read_csv(scenario / "findings.csv", keep_default_na=False)
    changes = findings[findings["slug"] == "scenario-changed"]
    assert len(changes) == 10  # one of each entry
    assert changes["message"].str.contains("'Dear copper'").all()


def test_record_names_the_scenario_and_its_content(runs):
    base, scenario, again = map(record, runs)
    assert base["content"]["options"] == {}
    options = scenario["content"]["options"]["scenario"]
    assert options["name"] == "Dear copper" and len(options["sha256"]) == 64
    assert again["content"]["options"] == scenario["content"]["options"]
    assert base["fingerprint"] != scenario["fingerprint"]


def test_hash_goes_by_what_is_said_and_not_by_how(tmp_path):
    def options(text):
        return record_options(read_scenario(written(tmp_path, text)))

    one = options('name = "a"\n[rules]\nfarm_cap_usd = 100\nstudy_years = 9\n')
    assert one == options('# why\nname = "a"\n[rules]\nstudy_years = 9.0\nfarm_cap_usd = 1e2\n')
    assert one != options('name = "a"\n[rules]\nfarm_cap_usd = 101\nstudy_years = 9\n')
    assert one != options('name = "b"\n[rules]\nfarm_cap_usd = 100\nstudy_years = 9\n')
    assert one != options('name = "a"\n[rules]\nfarm_cap_usd = 100\nstudy_years = 9\n'
                          '[prices]\nline = 1\n')


# --- the result workbook --------------------------------------------------------------------------

@pytest.mark.parametrize("name", ["results.csv", "options.csv", "checks.csv", "cost_shares.csv"])
def test_result_of_a_scenario_studied_again_gives_the_same(runs, name):
    base, scenario, again = (folder / name for folder in runs)
    assert again.read_bytes() == scenario.read_bytes() != base.read_bytes()


def test_result_without_its_scenario_sheet_gives_something_else(runs, tmp_path):
    """So that it is this sheet which carries the scenario."""
    base, scenario, _ = runs
    book = openpyxl.load_workbook(scenario / "result.xlsx")
    names = book.sheetnames
    assert names[names.index("Scenario") - 1] == "Record"
    del book["Scenario"]
    book.save(tmp_path / "bare.xlsx")
    assert call("run", tmp_path / "bare.xlsx", "--out", tmp_path / "o").exit_code == DONE
    bare = tmp_path / "o" / "test-study" / "results.csv"
    assert bare.read_bytes() == (base / "results.csv").read_bytes()
    assert "Scenario" not in openpyxl.load_workbook(base / "result.xlsx").sheetnames


def test_scenario_over_the_result_of_another_is_refused(runs, tmp_path):
    file = written(tmp_path, 'name = "two"\n')
    result = call("run", runs[1] / "result.xlsx", "--out", tmp_path, "--scenario", file)
    assert result.exit_code == CANNOT_STUDY
    assert "Dear copper" in result.stderr and "Traceback" not in result.stderr


def test_own_sheet_called_scenario_is_only_a_sheet_that_is_not_used(tmp_path):
    def add(book):
        book.create_sheet("Scenario").append(["Key", "Value"])
        book["Scenario"].append(["rules.farm_cap_usd", 1])

    inputs = validate(candidate_workbook(tmp_path, edit=add))
    assert inputs.scenario is None and inputs.rules["farm_cap_usd"] != 1
    assert "sheet-unknown" in {f["slug"] for f in inputs.findings.rows}


def test_long_study_names_do_not_put_a_scenario_into_the_base_folder():
    study = "An irrigation study with a name that goes on and on and on for ever"
    names = {folder_name(name) for name in (study, f"{study} one", f"{study} two")}
    assert len(names) == 3


# --- factors --------------------------------------------------------------------------------------

def test_factors_multiply_their_own_numbers_only(workbook, tmp_path):
    base = validate(workbook)
    before = (base.unit_costs.copy(), base.rates.copy(), base.candidates.copy(), len(
        base.findings.rows))
    changed = apply(base, read_scenario(written(tmp_path, 'name = "x"\n[prices]\nline = 1.5\n'
                                                '[rates]\ncoincidence_pct = 0.5\n[candidates]\n'
                                                'fuel_price_usd = 2\ngross_depth_in = 1.25\n')))
    ratio = changed.unit_costs["price_usd"] / base.unit_costs["price_usd"]
    assert ratio[base.unit_costs["item"] == "line"].tolist() == [1.5, 1.5]
    assert set(ratio[base.unit_costs["item"] != "line"]) == {1.0}
    assert changed.rates["coincidence_pct"].tolist() == [40]
    assert changed.rates.drop(columns="coincidence_pct").equals(
        base.rates.drop(columns="coincidence_pct"))
    assert changed.candidates["fuel_price_usd"].tolist() == [7.2, 7.2]
    assert changed.candidates["gross_depth_in"].tolist() == [20, 20]
    assert changed.candidates["season_hours"].isna().all()  # not given: nothing to multiply
    # What was given is not touched.
    assert base.unit_costs.equals(before[0]) and base.rates.equals(before[1])
    assert base.candidates.equals(before[2]) and len(base.findings.rows) == before[3]
    assert base.scenario is None and base.study["study_name"] == "Test study"


def test_dearer_line_reaches_the_ledger(workbook, tmp_path):
    base = validate(workbook)
    dear = apply(base, read_scenario(written(
        tmp_path, 'name = "x"\n[prices]\nline = 1.5\n"line job" = 0\n')))
    one, two = (run_study(inputs).variants.set_index(["excel_row", "variant", "supply_option"])
                for inputs in (base, dear))
    # By hand: the job of 900 USD goes, the feet cost half as much again.
    assert two["cost_line_usd"].tolist() == pytest.approx(
        (1.5 * (one["cost_line_usd"] - 900)).tolist(), abs=0.011)


@pytest.mark.parametrize("text, named", [
    ("[rates]\noff_peak_share_pct = 1\ncoincidence_pct = 1.5\n", "'coincidence_pct'"),
    ("[candidates]\nfuel_price_usd = 20\n", "'fuel_price_usd'"),
    ("[candidates]\ngross_depth_in = 0\n", "'gross_depth_in'"),
    ("[prices]\n\"active front end\" = 100\n", "'active front end'")])
def test_factor_beyond_the_bounds_of_the_dictionary_is_refused(workbook, tmp_path, text, named):
    scenario = read_scenario(written(tmp_path, f'name = "far"\n{text}'))
    with pytest.raises(StudyError, match="beyond") as stop:
        apply(validate(workbook), scenario)
    assert named in str(stop.value) and "'far'" in str(stop.value)


def test_factor_that_changes_nothing_is_said(tmp_path):
    # The list has no rotary converter, no rate a summer price (its default is zero) nor a third
    # block, no farm its hours: known to the dictionary all the same.
    prices = [row for row in unit_cost_rows() if row["item"] != "rotary converter"]
    base = validate(candidate_workbook(tmp_path, unit_costs=prices))
    text = ('name = "x"\n[prices]\n"rotary converter" = 1.2\ndrive = 1.2\n[rates]\n'
            'block_3_usd_kwh = 2\nsummer_adder_usd_kwh = 2\nblock_1_usd_kwh = 1.1\n'
            '[candidates]\nseason_hours = 1.1\ngross_depth_in = 1.1\n')
    changed = apply(base, read_scenario(written(tmp_path, text)))
    idle = {f["key"]: f["message"] for f in changed.findings.rows
            if f["slug"] == "scenario-without-effect"}
    assert list(idle) == ["rotary converter", "block_3_usd_kwh", "summer_adder_usd_kwh",
                          "season_hours"]
    assert "no row of the Unit costs sheet" in idle["rotary converter"]
    assert "only zeros" in idle["summer_adder_usd_kwh"]
    assert "'Pumping hours per season'" in idle["season_hours"]
    assert "sheet has no number" in idle["season_hours"]
    # And it is true: without these entries the numbers are the same.
    text = ('name = "x"\n[prices]\ndrive = 1.2\n[rates]\nblock_1_usd_kwh = 1.1\n'
            '[candidates]\ngross_depth_in = 1.1\n')
    same = apply(base, read_scenario(written(tmp_path, text)))
    for table in ("unit_costs", "rates", "candidates"):
        assert getattr(same, table).equals(getattr(changed, table))
    assert "scenario-without-effect" not in {f["slug"] for f in same.findings.rows}


# --- faults of a file -----------------------------------------------------------------------------

FAULTS = {
    "no name": ("[rules]\nfarm_cap_usd = 1\n", ["name"]),
    "a blank name": ('name = "  "\n', ["name"]),
    "a name that is a number": ("name = 3\n", ["name"]),
    "an unknown table": ('name = "x"\n[rule]\n', ["'rule'", "Closest is 'rules'", "candidates"]),
    "a table that is a value": ('name = "x"\nrules = 3\n', ["'rules'", "[rules]"]),
    "an unknown rule": ('name = "x"\n[rules]\nshare_lines_member_pct = 3\n',
                        ["'share_lines_member_pct'", "share_line_member_pct"]),
    "below a bound": ('name = "x"\n[rules]\nshare_line_member_pct = -1\n',
                      ["share_line_member_pct", "-1 %", "0 %"]),
    "above a bound": ('name = "x"\n[rules]\nshare_line_member_pct = 101\n',
                      ["share_line_member_pct", "101 %", "100 %"]),
    "text for a number": ('name = "x"\n[rules]\nstudy_years = "many"\n', ["study_years", "many"]),
    "yes for a number": ('name = "x"\n[rules]\nstudy_years = true\n', ["study_years", "TRUE"]),
    "an array for a number": ('name = "x"\n[rules]\nstudy_years = [1]\n', ["study_years"]),
    "a date for a number": ('name = "x"\n[rules]\nstudy_years = 2026-01-01\n', ["study_years"]),
    "not a number": ('name = "x"\n[rules]\nstudy_years = nan\n', ["study_years"]),
    "infinity": ('name = "x"\n[rules]\nstudy_years = inf\n', ["study_years"]),
    "a blank value": ('name = "x"\n[rules]\nincentive_tiers = ""\n', ["incentive_tiers"]),
    "an unknown choice": ('name = "x"\n[rules]\nallowance_basis = "profit"\n',
                          ["allowance_basis", "profit",
                            "none, revenue, base energy and demand, margin"]),
    "neither yes nor no": ('name = "x"\n[rules]\nresidual_value_counts = "perhaps"\n',
                           ["residual_value_counts", "perhaps"]),
    "a list that is none": ('name = "x"\n[rules]\nseason_share_pct = "50, 50"\n',
                            ["season_share_pct", "not twelve", "Example"]),
    "a source without its rule": ('name = "x"\n[sources]\nfarm_cap_usd = "p. 3"\n',
                                  ["farm_cap_usd", "[sources]"]),
    "a source that is no text": ('name = "x"\n[rules]\nfarm_cap_usd = 3\n[sources]\n'
                                 'farm_cap_usd = 3\n', ["farm_cap_usd", "source"]),
    "an unknown item": ('name = "x"\n[prices]\ndrives = 2\n', ["'drives'", "drive"]),
    "a factor below zero": ('name = "x"\n[prices]\ndrive = -1\n', ["drive", "-1", "0 to 100"]),
    "a factor that is text": ('name = "x"\n[prices]\ndrive = "2"\n', ["drive", "0 to 100"]),
    "a factor that is no number": ('name = "x"\n[rates]\nlosses_pct = nan\n', ["losses_pct"]),
    "a rate's text column": ('name = "x"\n[rates]\ndemand_months = 2\n', ["'demand_months'"]),
    "a column that takes no factor": ('name = "x"\n[candidates]\nflow_gpm = 2\n',
                                      ["'flow_gpm'", "fuel_price_usd"]),
    "not in the form": ("name = dear\n", ["TOML"]),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_fault_is_told_with_file_key_and_what_is_allowed(tmp_path, fault):
    text, words = FAULTS[fault]
    with pytest.raises(StudyError) as stop:
        read_scenario(written(tmp_path, text))
    for word in ("dear.toml", *words):
        assert word in str(stop.value), str(stop.value)


def test_all_faults_of_a_file_are_told_at_once(tmp_path):
    text = ('name = "x"\n[rules]\nshare_line_member_pct = 101\nallowance_basis = "profit"\n'
            '[prices]\ndrive = -1\n')
    with pytest.raises(StudyError) as stop:
        read_scenario(written(tmp_path, text))
    for key in ("share_line_member_pct", "allowance_basis", "drive"):
        assert key in str(stop.value)


def test_command_stops_before_it_writes(workbook, tmp_path):
    for scenario in (written(tmp_path, "name = 1\n"), tmp_path / "missing.toml", tmp_path):
        result = call("run", workbook, "--out", tmp_path / "out", "--scenario", scenario)
        assert result.exit_code == CANNOT_STUDY and "Cannot go on" in result.stderr
        assert "Traceback" not in result.output
    assert not (tmp_path / "out").exists()


def test_unusual_but_possible_values_are_remarked_on(workbook, tmp_path):
    scenario = read_scenario(written(
        tmp_path, 'name = "x"\n[rules]\nshare_line_member_pct = 0.5\n'))
    inputs = apply(validate(workbook), scenario)
    assert inputs.rules["share_line_member_pct"] == 0.5
    found = [f for f in inputs.findings.rows if f["slug"] == "fraction-for-percent"]
    assert [f["key"] for f in found] == ["share_line_member_pct"]
