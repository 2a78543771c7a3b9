"""What several test files share: outside programs, and one run of the demo portfolio."""

import os
import pickle
import shutil
import subprocess
from dataclasses import dataclass, replace
from pathlib import Path

from batch.memory import spare_the_processor

spare_the_processor()  # as commands do, before numpy is loaded

import numpy as np  # noqa: E402
import pytest  # noqa: E402

MOST_BRIDGES = 500  # calls that are kept, each of up to some hundred drives
MOST_STUDIES = 40
# Where inputs were read from, and what else stands there: no study looks at it.
NO_INPUTS = ("path", "file_sha256", "workbook", "price_list")
ROOT = Path(__file__).parents[1]
DEMO = ROOT / "input_workbooks" / "demo_portfolio.xlsx"


def tool(name: str) -> str:
    """The path of an outside program; without it the test is skipped, or fails where the
    environment says REQUIRE_TOOLS=1."""
    path = shutil.which(name)
    if path is None:
        missing(f"{name} is not installed")
    return path


def missing(what: str):
    """Skip the test, or fail it where every tool must be there."""
    if os.environ.get("REQUIRE_TOOLS") == "1":
        pytest.fail(what)
    pytest.skip(what)


@pytest.fixture(name="tool", scope="session")
def tool_finder():
    """The function `tool`, for tests that need an outside program."""
    return tool


@pytest.fixture(autouse=True, scope="session")
def bridges_solved_once():
    """A drive's bridge that was solved is not solved again: most tests study the same few farms,
    and the solver takes a third of such a study. It is a function of numbers alone, and is given
    exactly the same ones. Its own tests, and programs that tests start, call it as it is."""
    from batch.engineering import rectifier
    from batch.supply import spectrum

    kept = {}

    def solved(**given):
        key = tuple((name, np.asarray(value).tobytes()) for name, value in sorted(given.items()))
        if key not in kept:
            if len(kept) == MOST_BRIDGES:
                kept.clear()
            kept[key] = rectifier.bridge_waveform(**given)
            for values in vars(kept[key]).values():
                values.flags.writeable = False
        return kept[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(spectrum, "bridge_waveform", solved)
        yield


@pytest.fixture(scope="session")
def results_by_inputs():
    """What was computed for `studied_once`: what a study is computed of -> the study."""
    return {}


def computed_of(inputs) -> bytes:
    """All that a study is computed of."""
    return pickle.dumps({name: value for name, value in vars(inputs).items()
                         if name not in NO_INPUTS})


@pytest.fixture(scope="module")
def studied_once(results_by_inputs):
    """In commands, re-runs and comparisons that tests call, a study of inputs that were studied is
    not computed again: most of these tests touch what is no input, such as a result or a template.
    It is a function of its inputs, all of which stand in the key; tests that call `run_study` show
    that it gives the same again."""
    from batch import study
    from batch.audit import compare, rerun
    from batch.findings import Findings

    def studied(inputs, on_step=lambda name: None):
        key = computed_of(inputs)
        if key not in results_by_inputs:
            if len(results_by_inputs) == MOST_STUDIES:
                results_by_inputs.clear()
            made = compute(inputs)
            results_by_inputs[key] = replace(made, findings=Findings(list(made.findings.rows)))
        for name in study.STEPS:
            on_step(name)
        kept = results_by_inputs[key]
        inputs.findings.rows[:] = kept.findings.rows
        return replace(kept, inputs=inputs, findings=inputs.findings)

    compute = study.run_study
    with pytest.MonkeyPatch.context() as patch:
        for module in (compare, rerun, study):
            patch.setattr(module, "run_study", studied)
        yield


@pytest.fixture
def found_by(monkeypatch):
    """A function that calls a command and returns what it said, and the comparison or re-run that
    it said it of: one computation for both."""
    from click.testing import CliRunner

    from batch.audit import compare, rerun
    from batch.cli import main

    found = []

    def kept(function):
        def call(*args):
            found.append(function(*args))
            return found[-1]
        return call

    for module, name in ((compare, "compare"), (rerun, "rerun")):
        monkeypatch.setattr(module, name, kept(getattr(module, name)))

    def called(*args):
        found.clear()
        said = CliRunner().invoke(main, [str(arg) for arg in args])
        [one] = found
        return said, one
    return called


@dataclass(frozen=True)
class Run:
    """A study and the folder that was written from it."""

    workbook: Path
    study: object
    folder: Path


@pytest.fixture(scope="session")
def demo_run(tmp_path_factory, results_by_inputs) -> Run:
    """The demo portfolio, studied and written once for all tests. They must not change it."""
    from batch.findings import Findings
    from batch.reading.validate import validate
    from batch.study import run_study
    from batch.writing.run_folder import write_run

    if not DEMO.exists():
        missing("the demo portfolio is not made yet")
    inputs = validate(DEMO)
    key = computed_of(inputs)
    study = run_study(inputs)
    results_by_inputs[key] = replace(study, findings=Findings(list(study.findings.rows)))
    folder = write_run(study, tmp_path_factory.mktemp("demo"), overwrite=False, options={})
    return Run(DEMO, study, folder)


@pytest.fixture(scope="session")
def demo_saved(demo_run, tmp_path_factory) -> Path:
    """The demo's result workbook as a spreadsheet program saves it."""
    out = tmp_path_factory.mktemp("saved")
    subprocess.run([tool("soffice"), f"-env:UserInstallation={(out / 'profile').as_uri()}",
                    "--headless", "--convert-to", "xlsx", "--outdir", str(out),
                    str(demo_run.folder / "result.xlsx")],
                   check=True, capture_output=True, timeout=240)
    return out / "result.xlsx"
