"""The wheel holds what it needs, and works away from the checkout without development tools."""

import csv
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import openpyxl
import pytest

from tests.conftest import missing
from tests.workbooks.make import candidate_workbook

ROOT = Path(__file__).parents[1]
DEVELOPMENT_TOOLS = {"pytest", "hypothesis", "pandapower", "numpy_financial", "setuptools", "pip"}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """A wheel built from a copy of what the build reads, so that the checkout stays clean."""
    if os.environ.get("FARMBATCH_OFFLINE"):
        missing("building a wheel needs its build backend, and FARMBATCH_OFFLINE is set")
    folder = tmp_path_factory.mktemp("wheel")
    built = subprocess.run(
        [sys.executable, "-m", "pip", "wheel", str(_copy(folder / "source")), "--no-deps",
         "--quiet", "--disable-pip-version-check", "-w", str(folder)], check=False,
        capture_output=True, text=True, timeout=300)
    if built.returncode and "connection" in built.stderr.lower():
        missing("pip cannot reach the build backend")
    assert built.returncode == 0, built.stderr[-2000:]
    found, = folder.glob("*.whl")
    return found


def _copy(target: Path) -> Path:
    target.mkdir()
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, target / name)
    for name in ("batch", "templates"):
        shutil.copytree(ROOT / name, target / name,
                        ignore=shutil.ignore_patterns("__pycache__", "*.egg-info"))
    return target


@pytest.fixture(scope="module")
def unpacked(wheel):
    folder = wheel.parent / "unpacked"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(folder)
    return folder


def python(code_or_module, *args, unpacked, cwd):
    """Python with the unpacked wheel first on its path; modules it loaded are told in the end."""
    environment = {k: v for k, v in os.environ.items() if not k.startswith(("PYTEST", "COV"))}
    return subprocess.run([sys.executable, *code_or_module, *map(str, args)], cwd=cwd, text=True,
                          env=environment | {"PYTHONPATH": str(unpacked)}, capture_output=True,
                          check=False, timeout=120)


def test_wheel_holds_templates_rules_and_tables(wheel):
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
    for folder, ending, source in (("batch/templates", ".html", "templates"),
                                   ("batch/data/rules", ".toml", "batch/data/rules"),
                                   ("batch/data/tables", ".csv", "batch/data/tables")):
        wanted = {f"{folder}/{path.name}" for path in (ROOT / source).glob(f"*{ending}")}
        assert wanted and wanted <= names, folder
    modules = {path.relative_to(ROOT).as_posix() for path in (ROOT / "batch").rglob("*.py")}
    assert modules <= names
    assert not [name for name in names if name.startswith(("tests/", "input_workbooks/"))]


def test_wheel_declares_the_command_and_no_development_tool(wheel):
    with zipfile.ZipFile(wheel) as archive:
        texts = {Path(name).name: archive.read(name).decode() for name in archive.namelist()
                 if ".dist-info/" in name and not name.endswith("RECORD")}
    assert "farmbatch = batch.cli:main" in texts["entry_points.txt"]
    needed = [line.split(":")[1].strip() for line in texts["METADATA"].splitlines()
              if line.startswith("Requires-Dist:") and "extra ==" not in line]
    assert needed and not DEVELOPMENT_TOOLS & {name.split(">")[0].replace("-", "_")
                                               for name in needed}


def test_blank_and_run_from_the_unpacked_wheel(unpacked, tmp_path):
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    blank = python(["-m", "batch"], "blank", "mine.xlsx", unpacked=unpacked, cwd=elsewhere)
    assert blank.returncode == 0, blank.stderr
    assert "Candidates" in openpyxl.load_workbook(elsewhere / "mine.xlsx").sheetnames
    candidate_workbook(elsewhere, rows=[{}, {"flow_gpm": None}])
    run = python(["-W", "error", "-m", "batch"], "run", "study.xlsx", "--out", "out", "--quiet",
                 unpacked=unpacked, cwd=elsewhere)
    assert (run.returncode, run.stdout, run.stderr) == (0, "", "")
    with open(elsewhere / "out" / "test-study" / "results.csv", encoding="utf-8") as stream:
        assert len(list(csv.DictReader(stream))) == 2
    assert (elsewhere / "out" / "test-study" / "board.html").exists()


def test_a_run_imports_this_wheel_and_no_development_tool(unpacked, tmp_path):
    candidate_workbook(tmp_path, rows=[{}])
    code = ("import sys, batch; from batch.cli import main\n"
            "try: main(['run', 'study.xlsx', '--quiet'])\n"
            "except SystemExit as end: assert not end.code, end.code\n"
            "print(batch.__file__); print(*{m.split('.')[0] for m in sys.modules})")
    told = python(["-c", code], unpacked=unpacked, cwd=tmp_path)
    assert told.returncode == 0, told.stderr
    place, loaded = told.stdout.strip().splitlines()
    assert place.startswith(str(unpacked))
    assert not DEVELOPMENT_TOOLS & set(loaded.split())
