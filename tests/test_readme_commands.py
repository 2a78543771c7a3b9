"""Every command that README and manual show is run, and ends with an exit code of the README.

What is read here is held to the program: its commands and its codes.
"""

import re
import shlex
import shutil
import subprocess
import sys

import pytest
from click.testing import CliRunner

from batch import ending, study
from batch.audit import compare, explain, rerun, trace
from batch.cli import main
from tests.conftest import ROOT
from tests.readme_page import EXPLAINED, OF_FARM
from tests.test_readme import FENCED, README, TEXTS
from tests.workbooks.make import candidate_workbook, unit_cost_rows

CODES = dict(re.findall(r"^\| (\d+) \| (.*) \|$", TEXTS[README], re.MULTILINE))
DONE, NOT_ASSESSED, DIFFERENT = 0, 1, 1
LAST_SEASON = "out/season-2025-demo-055713"
DEMO_FOLDER = "out/irrigation-round-2026-demo-9ce1ea"
# What stands in the texts for something of the reader's, and what the tests put there.
FILLED = {"KEY": "incentive_usd_per_kw", "FOLDER": "out/test-study", "ID": "F-1",
          "FILE": "results", "ROW": "F-1",
          "SLUG": "value-missing", "RESULT": "out/test-study", "ONE": "out/test-study",
          "OTHER": "other.xlsx", "N": "1", "MY_TEMPLATES": "my_templates",
          DEMO_FOLDER: "out/test-study", OF_FARM: "F-1",
          LAST_SEASON: "out/last-season", "LAST_RUN": "out/last-season"}
# The exit code of every command that README and manual show, of a program of three farms of which
# one lacks its flow.
ENDS = {
    "farmbatch blank my_program.xlsx": DONE,
    "farmbatch blank next_year.xlsx --prices my_program.xlsx": DONE,
    "farmbatch blank next_year.xlsx --with program,feeders,lines,limits": DONE,
    "farmbatch form my_forms": DONE,
    "farmbatch form my_forms --cooperative 'Example Electric Cooperative'": DONE,
    "farmbatch adopt my_list.csv --into my_program.xlsx": DONE,
    "farmbatch adopt my_list.csv --into my_program.xlsx --mapping last_program.xlsx": DONE,
    "farmbatch adopt my_list.csv --into my_program.xlsx --dates month-first": DONE,
    "farmbatch check my_program.xlsx": DONE,
    "farmbatch check my_program.xlsx --prices": DONE,
    "farmbatch check my_program.xlsx --strict": NOT_ASSESSED,
    "farmbatch run my_program.xlsx --out out": DONE,
    "farmbatch run my_program.xlsx --out out --overwrite": DONE,
    "farmbatch run my_program.xlsx --strict": NOT_ASSESSED,
    "farmbatch run my_program.xlsx --farm-pages N": DONE,
    "farmbatch run my_program.xlsx --templates MY_TEMPLATES": DONE,
    "farmbatch run my_program.xlsx --scenario policy.toml": DONE,
    "farmbatch run my_program.xlsx --scenario policy.toml --scenario other_policy.toml": DONE,
    'farmbatch run my_program.xlsx --scenario "Tight budget"': DONE,
    "farmbatch run my_program.xlsx --scenario all": DONE,
    "farmbatch run my_program.xlsx --set program_budget_usd=500000": DONE,
    "farmbatch run input_workbooks/season_2026.xlsx --out out --overwrite": DONE,
    "farmbatch run input_workbooks/season_2025.xlsx --out out --overwrite": DONE,
    "farmbatch carry LAST_RUN --into next_season.xlsx": DONE,
    f"farmbatch carry {LAST_SEASON} --into next_season.xlsx": DONE,
    "farmbatch blank next_year.xlsx --with delivered": DONE,
    "farmbatch columns": DONE,
    "farmbatch columns --format csv": DONE,
    "farmbatch columns --format json": DONE,
    "farmbatch findings": DONE,
    "farmbatch findings SLUG": DONE,
    "farmbatch explain KEY": DONE,
    "farmbatch explain KEY --run FOLDER --candidate ID": DONE,
    f"farmbatch explain {EXPLAINED} --run {DEMO_FOLDER} --candidate {OF_FARM}": DONE,
    "farmbatch explain KEY --run FOLDER --candidate ID --trace": DONE,
    "farmbatch explain KEY --run FOLDER --of FILE ROW --trace": DONE,
    "farmbatch explain 'Ranking!H9' --run FOLDER --trace": DONE,
    "farmbatch rerun RESULT": DONE,
    "farmbatch rerun RESULT --rules 2025": DIFFERENT,
    "farmbatch rerun RESULT --prices other.xlsx": DIFFERENT,
    "farmbatch compare ONE OTHER": DIFFERENT,
    "farmbatch compare ONE OTHER --workbook differences.xlsx": DIFFERENT,
    "farmbatch sample RESULT --count 12 --seed 1": DONE,
}
# What may not be there before.
MAKES = {command: "my_program.xlsx" for command in ENDS
         if command.split()[1] in ("blank", "adopt") and "next_year.xlsx" not in command}
ACTIVATE, ON_WINDOWS = ". .venv/bin/activate", r".venv\Scripts\activate"


def shown(language):
    """The lines of all fenced blocks of a language in README and manual."""
    return [line.strip() for text in TEXTS.values() for kind, lines in FENCED.findall(text)
            if kind == language for line in lines.strip().splitlines()]


def behind(mark):
    """The first line behind a mark that begins with python3, which is what .ci/run takes."""
    rest = TEXTS[README].split(f"<!-- {mark} -->")[1]
    return next(line for line in rest.splitlines() if line.startswith("python3 "))


def inline():
    """Every command inside a sentence or a table, its name alone left out."""
    spans = re.findall(r"`([^`\n]+)`", "\n".join(FENCED.sub("", t) for t in TEXTS.values()))
    return [span for span in spans if span.startswith("farmbatch ")]


@pytest.fixture(scope="module", autouse=True)
def studied_once():
    """What was studied is not studied again: most of these commands study one workbook. Its file,
    scenario, rules and prices are all that the commands tell apart."""
    kept, run_study = {}, study.run_study

    def studied(inputs, *more):
        rules = tuple((key, repr(rule.value)) for key, rule in inputs.rules.by_key.items())
        key = (inputs.file_sha256, inputs.scenario and inputs.scenario.name, rules,
               inputs.unit_costs.to_csv(), inputs.rates.to_csv())
        if key not in kept:
            kept[key] = run_study(inputs, *more)
        return kept[key]

    with pytest.MonkeyPatch.context() as patch:
        for module in (study, compare, explain, rerun, trace):
            patch.setattr(module, "run_study", studied)
        yield


def with_scenarios(book):
    """The Scenarios sheet of the manual, shorter."""
    book.create_sheet("Scenarios")
    for row in (("Sheet", "Row", "Key", "Tight budget", "Dear fuel"),
                ("Study", None, "program_budget_usd", 300_000, None),
                ("Candidates", "all", "fuel_price_usd", None, "x1.2")):
        book["Scenarios"].append(row)


@pytest.fixture(scope="module")
def program(tmp_path_factory):
    """A folder with a filled workbook, all that the commands name, and a run."""
    folder = tmp_path_factory.mktemp("program")
    dear = [row | {"price_usd": 2 * row["price_usd"]} for row in unit_cost_rows()]
    for name, prices in (("my_program.xlsx", None), ("other.xlsx", dear)):
        candidate_workbook(folder, [{}, {"flow_gpm": 765}, {"flow_gpm": None}], name=name,
                           unit_costs=prices, study={"program_budget_usd": 60_000},
                           edit=with_scenarios)
    (folder / "my_list.csv").write_text("Farm,Acres,GPM\nA,100,800\n", encoding="utf-8")
    adopted = CliRunner().invoke(main, ["adopt", str(folder / "my_list.csv"), "--into",
                                        str(folder / "last_program.xlsx")])
    assert adopted.exit_code == 0, adopted.output
    policies = sorted((ROOT / "input_workbooks" / "policies").glob("*.toml"))
    for source, name in zip(policies, ("policy.toml", "other_policy.toml")):
        shutil.copy(source, folder / name)
    (folder / "my_templates").mkdir()
    shutil.copy(ROOT / "templates" / "offer.html", folder / "my_templates")
    candidate_workbook(folder, name="last.xlsx", study={
        "study_name": "Last season", "rules_year": 2025, "program_budget_usd": 60_000})
    for name in ("my_program.xlsx", "last.xlsx"):
        made = CliRunner().invoke(main, ["run", str(folder / name), "--out", str(folder / "out")])
        assert made.exit_code == 0, made.output
    (folder / "input_workbooks").mkdir()
    for path in (ROOT / "input_workbooks").glob("season_*.xlsx"):
        shutil.copy(path, folder / "input_workbooks")
    return folder


def test_every_command_that_is_shown_has_its_end_here():
    installing = {behind("demo"), behind("tests")}
    commands = {line for line in shown("sh") if line not in {*installing, ACTIVATE}}
    assert commands | set(inline()) == set(ENDS)
    assert {language for text in TEXTS.values() for language, _ in FENCED.findall(text)} <= {
        "sh", "bat", "text", "toml"}


@pytest.mark.parametrize("command", ENDS)
def test_command_ends_as_the_readme_says(command, program, tmp_path, monkeypatch):
    place = shutil.copytree(program, tmp_path / "place")
    if command in MAKES:
        (place / MAKES[command]).unlink()
    elif command.startswith("farmbatch run") and "--overwrite" not in command:
        shutil.rmtree(place / "out")
    monkeypatch.chdir(place)
    words = [FILLED.get(word, word) for word in shlex.split(command)]
    said = CliRunner().invoke(main, words[1:])
    assert said.exit_code == ENDS[command], said.output
    assert str(said.exit_code) in CODES
    assert said.stdout.strip()


def test_codes_of_the_readme_are_those_of_the_program():
    ends = (ending.DONE, ending.NOT_ASSESSED, ending.DIFFERENT, ending.WRONG_USAGE,
            ending.CANNOT_GO_ON, ending.OWN_FAULT, ending.BY_HAND)
    assert set(CODES) == {str(code) for code in ends}
    assert CODES["0"].startswith("done") and "--strict" in CODES["1"]


def test_installing_commands_stand_behind_their_marks():
    """`.ci/run` runs them; the lines for Windows are the same but for their paths."""
    for mark, end in (("demo", "farmbatch run input_workbooks/demo_portfolio.xlsx --out out "
                               "--overwrite"), ("tests", "python -m pytest -n auto")):
        line = behind(mark)
        assert line.startswith("python3 -m venv .venv && .venv/bin/pip install --quiet -e ")
        assert line.endswith(f" && .venv/bin/{end}")
        windows = line.replace("python3", "py", 1).replace("/bin/", "/Scripts/")
        paths = re.sub(r"\S*/\S*", lambda path: path[0].replace("/", "\\"), windows)
        assert paths in shown("bat")
    assert len(shown("bat")) == 3  # with the one that switches on


@pytest.mark.skipif(sys.platform == "win32", reason="the line is for a Unix shell")
def test_environment_is_switched_on(tmp_path):
    assert ACTIVATE in shown("sh") and ON_WINDOWS in shown("bat")
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", ".venv"], cwd=tmp_path,
                   check=True, timeout=60)
    done = subprocess.run(["sh", "-c", f"{ACTIVATE} && command -v python"], cwd=tmp_path,
                          capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout.strip() == str(tmp_path / ".venv" / "bin" / "python")
