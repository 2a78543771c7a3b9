"""How commands end where their output cannot be printed, or the program has a fault."""

import os
import signal
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner

from batch.cli import main
from tests.conftest import ROOT
from tests.warm_program import WarmProgram
from tests.workbooks.make import candidate_workbook

DONE, WRONG_USAGE, CANNOT_GO_ON, OWN_FAULT, BY_HAND = 0, 2, 3, 4, 130


@pytest.fixture(scope="module")
def workbook(tmp_path_factory):
    return candidate_workbook(tmp_path_factory.mktemp("in"))


@contextmanager
def broken_output(how):
    """A file that takes nothing: a full device, or a pipe that nobody reads any more."""
    if how == FULL:
        if not Path("/dev/full").exists():
            pytest.skip("there is no full device here")
        target = os.open("/dev/full", os.O_WRONLY)
    else:
        reader, target = os.pipe()
        os.close(reader)
    yield target
    os.close(target)


@pytest.fixture(scope="module")
def program(workbook, tmp_path_factory):
    """The program, in a process of its own for each call. That `python -m batch` itself ends so is
    shown by the streams that a shell closes, and by a run that is stopped."""
    if not hasattr(os, "fork"):
        pytest.skip("processes are forked on POSIX systems only")
    called = WarmProgram("run", workbook, "--quiet", "--out", tmp_path_factory.mktemp("first"))
    yield called
    called.close()


FULL, CLOSED = "full device", "closed pipe"
# What is asked, and on which outputs: on one of the two where a study takes its time.
COMMANDS = [(args, how) for how in (FULL, CLOSED) for args in (
    ("--help",), ("--version",), ("run", "--help"), ("columns",), ("columns", "--format", "json"),
    ("findings",), ("explain", "rank"), ("blank", "OUT/blank.xlsx"))] + [
    (("check", "WORKBOOK"), FULL), (("check", "WORKBOOK", "--json"), CLOSED),
    (("compare", "WORKBOOK", "WORKBOOK"), FULL), (("run", "WORKBOOK", "--out", "OUT"), CLOSED)]


@pytest.fixture
def filled(workbook, tmp_path):
    """The words of a command with its places: a workbook and a new folder."""
    places = {"OUT": tmp_path, "WORKBOOK": workbook}

    def fill(args):
        for name, place in places.items():
            args = [str(arg).replace(name, str(place)) for arg in args]
        return args
    return fill


@pytest.mark.parametrize("args, how", COMMANDS, ids=str)
def test_output_that_cannot_be_printed(program, filled, tmp_path, args, how):
    """Never 0, for nothing was told, and never 1, which says that something differs."""
    with broken_output(how) as target:
        done = program(*filled(args), stdout=target)
    assert done.returncode == CANNOT_GO_ON
    lines = [line for line in done.stderr.decode().splitlines() if line.startswith("Cannot go on")]
    assert len(lines) == 1 and lines[0].endswith(".")
    assert b"Traceback" not in done.stderr and b"Exception ignored" not in done.stderr
    if args[0] == "run" and "--out" in args:  # what was written before is whole
        assert (tmp_path / "test-study" / "record.json").exists()


@pytest.mark.parametrize("args, code, how", [
    (("fly",), WRONG_USAGE, FULL), (("fly",), WRONG_USAGE, CLOSED), (("columns",), DONE, FULL),
    (("columns",), DONE, CLOSED), (("check", "missing.xlsx"), CANNOT_GO_ON, FULL),
    (("check", "missing.xlsx"), CANNOT_GO_ON, CLOSED),
    (("run", "WORKBOOK", "--out", "OUT"), DONE, CLOSED)], ids=str)
def test_exit_code_is_the_same_where_nobody_reads_the_reason(program, filled, args, code, how):
    with broken_output(how) as target:
        assert program(*filled(args), stderr=target).returncode == code


def test_difference_that_cannot_be_printed_is_no_difference(program, workbook, tmp_path):
    other = candidate_workbook(tmp_path, [{"flow_gpm": 700}])
    assert program("compare", workbook, other).returncode == 1
    with broken_output(CLOSED) as target:
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


# A run that says on its output that its new folder is there, and then takes its time.
LINGERING = """
import signal, time
from batch.cli import main
from batch.writing import run_folder

def linger(*_):
    print("now", flush=True)
    time.sleep(600)

run_folder.write_pages = linger
signal.signal(signal.SIGINT, signal.default_int_handler)  # ignored where a shell started it with &
main()
"""


@pytest.mark.skipif(os.name != "posix", reason="a signal of POSIX systems")
def test_run_that_is_stopped_by_hand_leaves_nothing(workbook, tmp_path):
    running = subprocess.Popen([sys.executable, "-c", LINGERING, "run", workbook, "--out",
                                tmp_path], cwd=ROOT, stderr=subprocess.PIPE,
                               stdout=subprocess.PIPE)
    assert running.stdout.readline() == b"now\n"
    assert os.listdir(tmp_path) != []
    running.send_signal(signal.SIGINT)
    _, said = running.communicate(timeout=60)
    assert running.returncode == BY_HAND and said.decode().splitlines()[-1].startswith("Stopped")
    assert os.listdir(tmp_path) == [] and b"Traceback" not in said
