"""Interrupted runs: killed, out of space, without rights, two at once. Never half a run."""

import hashlib
import json
import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from batch.cli import main
from batch.findings import StudyError
from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.run_folder import RECORD, write_run
from batch.writing.run_place import LEAVING
from tests.workbooks.make import candidate_workbook

pytestmark = pytest.mark.usefixtures("studied_once")

ROOT = Path(__file__).parents[1]
CANNOT_STUDY = 3


def call(*args):
    return CliRunner().invoke(main, [str(arg) for arg in args])


@pytest.fixture(scope="module")
def workbook(tmp_path_factory):
    return candidate_workbook(tmp_path_factory.mktemp("input"))


@pytest.fixture(scope="module")
def study(workbook):
    return run_study(validate(workbook))


def stopped(result) -> str:
    """The one sentence with which a command stopped."""
    assert result.exit_code == CANNOT_STUDY, result.output
    said = [line for line in result.stderr.splitlines() if "Cannot go on" in line]
    assert len(said) == 1 and "Traceback" not in result.output
    return said[0]


# --- killed ---------------------------------------------------------------------------------------

@pytest.fixture(scope="module")
def told(workbook, tmp_path_factory):
    """What killed_runs.py tells of each run that it killed."""
    if not hasattr(os, "fork"):
        pytest.skip("processes are killed and forked on POSIX systems only")
    place = tmp_path_factory.mktemp("killed")
    done = subprocess.run(
        [sys.executable, "-W", "ignore", ROOT / "tests" / "killed_runs.py", workbook,
         place / "out"], capture_output=True, text=True, timeout=300,
        env=os.environ | {"PYTHONPATH": str(ROOT), "TMPDIR": str(place)})
    assert done.returncode == 0, done.stderr
    return [json.loads(line) for line in done.stdout.splitlines()]


def points(told, how):
    """The lines of one watched run; its real kills left the same as the copies."""
    lines = [line for line in told if line["how"] == how]
    kills = [line["kill_leaves_the_same"] for line in lines if "kill_leaves_the_same" in line]
    assert len(kills) > 2 and all(kills)
    assert [line["is_end"] for line in lines] == [False] * (len(lines) - 1) + [True]
    return lines


def test_killed_first_run_leaves_nothing_or_the_whole_run(told):
    first = points(told, "first")
    assert len(first) > 30 and first[-1]["left"] == "new"
    assert {line["left"] for line in first} == {"absent", "new"}
    then = [(line["left"], line["then"]) for line in first if "then" in line]
    # A next run works, whatever was left behind.
    assert set(then) == {("absent", "second"), ("new", "new")}
    assert then.count(("absent", "second")) > 2


def test_killed_overwriting_run_leaves_the_old_run_or_the_new_one(told):
    replaced = points(told, "replace")
    assert len(replaced) > 45 and replaced[-1]["left"] == "new"
    lefts = [line["left"] for line in replaced]
    assert set(lefts) == {"old", "absent", "new"}
    # Between two renames the old run has a hidden name; the next run puts it back and keeps it.
    assert lefts.count("absent") == 1
    for line in replaced:
        assert line["refused"] and line["then"] == ("old" if line["left"] != "new" else "new")


def test_two_runs_at_once_do_not_mix(told):
    two = [line for line in told if line["how"] == "two"]
    assert [line["overwrite"] for line in two] == [False, True]
    for line in two:
        assert line["left"] in ("one", "two") and set(line["codes"]) <= {0, CANNOT_STUDY}
        assert 0 in line["codes"]
    # Without leave to overwrite, the second to end is refused.
    assert sorted(two[0]["codes"]) == [0, CANNOT_STUDY]
    assert all("exist" in line["why"] or "meanwhile" in line["why"] or "not empty" in line["why"]
               for line in told if line["how"] == "stopped")


def test_leftovers_of_killed_runs_are_no_runs(study, tmp_path):
    folder = write_run(study, tmp_path, overwrite=False, options={})
    half = tmp_path / ".test-study.old"
    half.mkdir()
    (half / "results.csv").write_text("half")
    (half / LEAVING).write_bytes((folder / RECORD).read_bytes())
    (tmp_path / ".test-study.new-abcd1234").mkdir()
    (tmp_path / ".test-study.lock").touch()
    assert write_run(study, tmp_path, overwrite=True, options={}) == folder
    assert sorted(os.listdir(tmp_path)) == [".test-study.new-abcd1234", "test-study"]


def test_folder_that_appears_while_a_run_is_written_is_not_replaced(study, tmp_path):
    def appear(step):
        if step == "pages":
            write_run(study, tmp_path, overwrite=False, options={"which": "other"})

    with pytest.raises(StudyError, match="exists"):
        write_run(study, tmp_path, overwrite=False, options={}, on_step=appear)
    whole = json.loads((tmp_path / "test-study" / RECORD).read_text(encoding="utf-8"))
    assert whole["content"]["options"] == {"which": "other"}
    assert os.listdir(tmp_path) == ["test-study"]


# --- no space, no rights --------------------------------------------------------------------------

@pytest.mark.parametrize("most_bytes", [100, 4_000])
def test_file_that_cannot_grow(workbook, tmp_path, most_bytes):
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, hard))
    try:
        result = call("run", workbook, "--out", tmp_path)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert "File too large" in stopped(result) and os.listdir(tmp_path) == []


@pytest.fixture
def small_disk(tmp_path):
    """A disk of 120 kB, where one may be mounted."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=120k", "none", disk],
                             capture_output=True, check=False) if os.geteuid() == 0 else None
    if mounted is None or mounted.returncode:
        pytest.skip("a small disk cannot be mounted here")
    yield disk
    subprocess.run(["umount", disk], check=True)


def test_full_disk(workbook, study, small_disk):
    assert "No space left" in stopped(call("run", workbook, "--out", small_disk))
    assert os.listdir(small_disk) == []
    (small_disk / "ballast").write_bytes(b"x" * 100_000)
    assert "No space left" in stopped(call("blank", small_disk / "blank.xlsx"))
    assert os.listdir(small_disk) == ["ballast"]


@pytest.fixture
def locked_folder(tmp_path):
    """A folder into which not even the superuser may write, where there is such a thing."""
    folder = tmp_path / "locked"
    folder.mkdir()
    try:
        done = subprocess.run(["chattr", "+i", folder], capture_output=True, check=False)
    except FileNotFoundError:
        done = None
    is_locked = done is not None and done.returncode == 0
    if not is_locked and os.geteuid() == 0:
        pytest.skip("a folder cannot be locked here")
    folder.chmod(0o500) if not is_locked else None
    yield folder
    subprocess.run(["chattr", "-i", folder], check=True) if is_locked else folder.chmod(0o700)


def test_read_only_folder(workbook, locked_folder):
    for result in (call("run", workbook, "--out", locked_folder),
                   call("blank", locked_folder / "blank.xlsx")):
        assert "not permitted" in stopped(result) or "denied" in stopped(result)
    assert os.listdir(locked_folder) == []


@pytest.mark.parametrize("place", ["a file", "below a file", "a name too long"])
def test_place_where_no_folder_can_be(workbook, tmp_path, place):
    (tmp_path / "file").touch()
    out = tmp_path / {"a file": "file", "below a file": "file/deep",
                      "a name too long": "x" * 300}[place]
    result = call("run", workbook, "--out", out)
    if place == "a file":
        assert result.exit_code == 2 and "is a file" in result.stderr
    else:
        stopped(result)
    assert os.listdir(tmp_path) == ["file"]


@pytest.mark.parametrize("target", ["missing/blank.xlsx", "folder.xlsx"])
def test_blank_that_cannot_be_written(tmp_path, target):
    (tmp_path / "folder.xlsx").mkdir()
    assert "cannot be written" in stopped(call("blank", tmp_path / target, "--overwrite"))
    assert os.listdir(tmp_path) == ["folder.xlsx"]


# --- the input ------------------------------------------------------------------------------------

@pytest.mark.parametrize("then", ["is deleted", "is changed"])
def test_record_has_the_hash_of_what_was_read(tmp_path, then):
    """The engineer saves or moves the workbook while it is studied."""
    path = candidate_workbook(tmp_path)
    was = hashlib.sha256(path.read_bytes()).hexdigest()
    study = run_study(validate(path))
    path.unlink() if then == "is deleted" else path.write_bytes(b"another file")
    folder = write_run(study, tmp_path / "out", overwrite=False, options={})
    whole = json.loads((folder / RECORD).read_text(encoding="utf-8"))
    assert whole["content"]["sha256"]["input_file"] == was


def test_output_in_a_code_page_that_lacks_the_letters(tmp_path):
    """As where a Windows command's output goes into a file."""
    path = candidate_workbook(tmp_path, [{"flow_gpm": "zwölf \U0001f33d"}])
    done = subprocess.run([sys.executable, "-m", "batch", "check", path], capture_output=True,
                          cwd=ROOT, env=os.environ | {"PYTHONIOENCODING": "cp1252"})
    assert done.returncode == 0 and done.stderr == b""
    assert "zwölf \\U0001f33d".encode("cp1252") in done.stdout
