"""What a command loads: none loads what it does not use. Independent of the machine's speed; what
is loaded is asked of Python itself (`sys.modules`) when the command has ended.

Which libraries are heavy is common practice, no source.
"""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.workbooks.make import candidate_workbook

ROOT = Path(__file__).parents[1]
HEAVY = {"jinja2", "matplotlib", "numpy", "openpyxl", "pandas", "pint", "scipy.optimize"}
LOADED = """
import json, sys
from batch.cli import main
sys.argv[0] = "farmbatch"
try:
    main()
finally:
    print(json.dumps(sorted(sys.modules)), file=sys.stderr)
"""


@pytest.fixture(scope="module")
def workbook(tmp_path_factory):
    """One farm, and a budget to be given out."""
    return candidate_workbook(tmp_path_factory.mktemp("in"), study={"program_budget_usd": 40_000})


def loaded_by(*words) -> set[str]:
    """The heavy libraries that a command has loaded by its end."""
    done = subprocess.run([sys.executable, "-c", LOADED, *map(str, words)], check=True,
                          capture_output=True, text=True, cwd=ROOT)
    return HEAVY & set(json.loads(done.stderr.splitlines()[-1]))


@pytest.mark.parametrize("words", [["--help"], ["--version"], ["run", "--help"],
                                   ["check", "--help"]], ids=" ".join)
def test_help_loads_no_table_library(words):
    assert loaded_by(*words) == set()


def test_check_loads_no_page_and_no_solver(workbook):
    assert not loaded_by("check", workbook) & {"jinja2", "matplotlib", "scipy.optimize"}


def test_run_loads_the_solver_only_where_a_budget_is_given_out(workbook, tmp_path):
    for source, solver in ((workbook, {"scipy.optimize"}), (candidate_workbook(tmp_path), set())):
        loaded = loaded_by("run", source, "--out", tmp_path, "--overwrite", "--quiet")
        assert loaded & {"scipy.optimize"} == solver


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="asks the kernel of Linux")
def test_check_takes_one_thread(workbook):
    """The kernel counts a process's threads in its status (proc(5), Threads)."""
    count = LOADED.replace("json.dumps(sorted(sys.modules))", "open('/proc/self/status').read()")
    environment = {key: value for key, value in os.environ.items() if "THREADS" not in key}
    done = subprocess.run([sys.executable, "-c", count, "check", str(workbook)], check=True,
                          capture_output=True, text=True, env=environment, cwd=ROOT)
    assert "\nThreads:\t1\n" in done.stderr
