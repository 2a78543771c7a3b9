"""How commands end where their output cannot be printed, or the program has a fault."""

import os
import signal
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner

from batch.cli import main
from tests.conftest import ROOT
from tests.workbooks.make import candidate_workbook

DONE, WRONG_USAGE, CANNOT_GO_ON, OWN_FAULT, BY_HAND = 0, 2, 3, 4, 130


@pytest.fixture(scope="module")
def workbook(tmp_path_factory):
    return candidate_workbook(tmp_path_factory.mktemp("in"))


@contextmanager
def broken_output(how):
    """A file that takes nothing: a full device, or a pipe that nobody reads any more."""
    if how == "full device":
        if not Path("/dev/full").exists():
            pytest.skip("there is no full device here")
        target = os.open("/dev/full", os.O_WRONLY)
    else:
        reader, target = os.pipe()
        os.close(reader)
    yield target
    os.close(target)


def program(*args, **streams):
    return subprocess.run([sys.executable, "-m", "batch", *map(str, args)], cwd=ROOT, timeout=120,
                          **{"stdout": subprocess.PIPE, "stderr": subprocess.PIPE} | streams)


COMMANDS = [("--help",), ("--version",), ("run", "--help"), ("columns",),
            ("columns", "--format", "json"), ("findings",), ("explain", "rank"),
            ("check", "WORKBOOK"), ("check", "WORKBOOK", "--json"),
            ("compare", "WORKBOOK", "WORKBOOK"), ("blank", "OUT/blank.xlsx"),
            ("run", "WORKBOOK", "--out", "OUT")]


def filled(args, workbook, out):
    return [str(arg).replace("OUT", str(out)).replace("WORKBOOK", str(workbook)) for arg in args]


@pytest.mark.parametrize("how", ["full device", "closed pipe"])
@pytest.mark.parametrize("args", COMMANDS, ids=" ".join)
def test_output_that_cannot_be_printed(workbook, tmp_path, args, how):
    """Never 0, for nothing was told, and never 1, which says that something differs."""
    with broken_output(how) as target:
        done = program(*filled(args, workbook, tmp_path), stdout=target)
    assert done.returncode == CANNOT_GO_ON
    lines = [line for line in done.stderr.decode().splitlines() if line.startswith("Cannot go on")]
    assert len(lines) == 1 and lines[0].endswith(".")
    assert b"Traceback" not in done.stderr and b"Exception ignored" not in done.stderr
    if args[0] == "run" and "--out" in args:  # what was written before is whole
        assert (tmp_path / "test-study" / "record.json").exists()


@pytest.mark.parametrize("how", ["full device", "closed pipe"])
@pytest.mark.parametrize("args, code", [
    (("fly",), WRONG_USAGE), (("check", "missing.xlsx"), CANNOT_GO_ON),
    (("columns",), DONE), (("run", "WORKBOOK", "--out", "OUT"), DONE)], ids=str)
def test_exit_code_is_the_same_where_nobody_reads_the_reason(workbook, tmp_path, args, code, how):
    with broken_output(how) as target:
        assert program(*filled(args, workbook, tmp_path), stderr=target).returncode == code


def test_difference_that_cannot_be_printed_is_no_difference(workbook, tmp_path):
    other = candidate_workbook(tmp_path, [{"flow_gpm": 700}])
    assert program("compare", workbook, other).returncode == 1
    with broken_output("closed pipe") as target:
        assert program("compare", workbook, other, stdout=target).returncode == CANNOT_GO_ON


@pytest.mark.skipif(os.name != "posix", reason="streams are closed by a POSIX shell")
@pytest.mark.parametrize("stream, code", [(1, CANNOT_GO_ON), (2, DONE)])
def test_stream_that_is_closed(stream, code):
    done = subprocess.run(["sh", "-c", f'exec "$@" {stream}>&-', "sh", sys.executable, "-m",
                           "batch", "columns"], cwd=ROOT, capture_output=True, timeout=60)
    assert done.returncode == code and b"Traceback" not in done.stderr


@pytest.mark.parametrize("fault, code, words", [
    (KeyError("rank"), OWN_FAULT, "report"), (RecursionError("deep"), OWN_FAULT, "report"),
    (MemoryError(), CANNOT_GO_ON, "memory"), (KeyboardInterrupt(), BY_HAND, "Stopped"),
    (PermissionError(13, "Permission denied", "a\x1bb"), CANNOT_GO_ON, "'a\\u001bb'")])
def test_whatever_happens_ends_in_a_sentence(workbook, monkeypatch, fault, code, words):
    def fail(_):
        raise fault

    monkeypatch.setattr("batch.study.check_workbook", fail)
    result = CliRunner().invoke(main, ["check", str(workbook)])
    assert result.exit_code == code and words in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1 and result.stdout == ""


@pytest.mark.skipif(os.name != "posix", reason="a signal of POSIX systems")
def test_run_that_is_stopped_by_hand_leaves_nothing(tmp_path):
    workbook = candidate_workbook(tmp_path, [{}] * 60)
    out = tmp_path / "out"
    running = subprocess.Popen([sys.executable, "-m", "batch", "run", workbook, "--out", out],
                               cwd=ROOT, stderr=subprocess.PIPE, stdout=subprocess.PIPE)
    began = time.monotonic()
    while not (out.exists() and os.listdir(out)):  # its new folder is being written
        assert running.poll() is None and time.monotonic() - began < 100
        time.sleep(0.02)
    running.send_signal(signal.SIGINT)
    _, said = running.communicate(timeout=60)
    assert running.returncode == BY_HAND and said.decode().splitlines()[-1].startswith("Stopped")
    assert os.listdir(out) == [] and b"Traceback" not in said
