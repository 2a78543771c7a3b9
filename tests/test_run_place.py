"""The place of a run folder: one study's, nobody else's files, no links, one run at a time."""

import json
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from batch.cli import main
from batch.findings import StudyError
from batch.reading.validate import validate
from batch.study import run_study
from batch.writing import run_place
from batch.writing.run_folder import RECORD, write_run
from batch.writing.run_place import refuse_existing
from tests.workbooks.make import candidate_workbook

pytestmark = pytest.mark.usefixtures("studied_once")

CANNOT_STUDY = 3


def call(*args):
    return CliRunner().invoke(main, [str(arg) for arg in args])


def files_of(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes()
            for path in sorted(folder.rglob("*")) if path.is_file()}


@pytest.fixture(scope="module")
def workbook(tmp_path_factory):
    return candidate_workbook(tmp_path_factory.mktemp("input"))


@pytest.fixture(scope="module")
def study(workbook):
    return run_study(validate(workbook))


@pytest.fixture(scope="module")
def made(study, tmp_path_factory):
    return write_run(study, tmp_path_factory.mktemp("out"), overwrite=False, options={})


@pytest.fixture
def folder(made, tmp_path):
    """A run folder of the study, to be replaced."""
    return Path(shutil.copytree(made, tmp_path / made.name))


def refused(study, folder, match) -> str:
    """An overwriting run is refused and changes nothing."""
    before = {path: path.lstat().st_mtime_ns for path in sorted(folder.parent.rglob("*"))}
    with pytest.raises(StudyError, match=match) as stop:
        write_run(study, folder.parent, overwrite=True, options={})
    assert {path: path.lstat().st_mtime_ns for path in sorted(folder.parent.rglob("*"))} == before
    return str(stop.value)


# --- whose it is ----------------------------------------------------------------------------------

@pytest.mark.parametrize("own", ["notes.txt", "farms/photo.jpg", "minutes/2026/board.txt",
                                 "results.csv.bak", ".hidden"])
def test_file_of_the_user_in_a_run_folder_survives_and_is_named(study, folder, own):
    (folder / own).parent.mkdir(parents=True, exist_ok=True)
    (folder / own).write_text("mine")
    assert f"'{own}'" in refused(study, folder, "belongs to no run")
    assert (folder / own).read_text() == "mine"


def test_file_that_comes_while_the_run_is_written_survives(study, folder):
    """The place is looked at again right before the move."""
    def add(step):
        if step == "pages":
            (folder / "notes.txt").write_text("mine")

    with pytest.raises(StudyError, match="notes.txt"):
        write_run(study, folder.parent, overwrite=True, options={}, on_step=add)
    assert (folder / "notes.txt").read_text() == "mine" and (folder / RECORD).exists()
    assert os.listdir(folder.parent) == [folder.name]


def test_file_that_comes_at_the_last_moment_survives_beside_the_new_run(study, folder,
                                                                        monkeypatch):
    """After the last look, and before the folder is set aside."""
    true_look = run_place.must_be_free

    def look(*args, **more):
        true_look(*args, **more)
        (folder / "notes.txt").write_text("mine")

    refuse_existing("Test study", folder.parent, True)
    monkeypatch.setattr(run_place, "must_be_free", look)
    monkeypatch.setattr("batch.writing.run_folder.refuse_existing", lambda **_: folder)
    write_run(study, folder.parent, overwrite=True, options={"which": "new"})
    monkeypatch.undo()
    aside = folder.with_name(".test-study.old")
    assert (aside / "notes.txt").read_text() == "mine"
    assert "new" in (folder / RECORD).read_text(encoding="utf-8")
    with pytest.raises(StudyError, match="notes.txt.*belongs to no run"):
        write_run(study, folder.parent, overwrite=True, options={})
    (aside / "notes.txt").unlink()
    write_run(study, folder.parent, overwrite=True, options={})
    assert os.listdir(folder.parent) == [folder.name]


def test_files_of_file_managers_do_not_keep_a_run_from_being_replaced(study, folder):
    (folder / ".DS_Store").write_bytes(b"\0")
    write_run(study, folder.parent, overwrite=True, options={})
    assert not (folder / ".DS_Store").exists()


def test_run_of_another_study_is_not_replaced(study, folder):
    """As where somebody has renamed a run folder, or two hashes meet."""
    whole = json.loads((folder / RECORD).read_text(encoding="utf-8"))
    whole["content"]["study"]["study_name"] = "The other study"
    (folder / RECORD).write_text(json.dumps(whole), encoding="utf-8")
    assert "'the other study'" in refused(study, folder, "another study")


def test_scenario_does_not_replace_a_study_of_the_same_words(workbook, tmp_path):
    """The study 'Test study dear' and the scenario 'dear' of 'Test study'."""
    named = candidate_workbook(tmp_path, study={"study_name": "Test study dear"}, name="n.xlsx")
    scenario = tmp_path / "dear.toml"
    scenario.write_text('name = "dear"\n[prices]\nline = 2\n')
    assert call("run", named, "--out", tmp_path / "out", "--quiet").exit_code == 0
    before = files_of(tmp_path / "out")
    result = call("run", workbook, "--out", tmp_path / "out", "--scenario", scenario,
                  "--overwrite")
    assert result.exit_code == CANNOT_STUDY and "another study" in result.stderr
    assert files_of(tmp_path / "out") == before


@pytest.mark.parametrize("content", [
    b"", b"\0\xff", b"[]", b"{}", b"[" * 100_000, b'{"a":' * 100_000, b"null", b"1" * 10_000,
    b'{"fingerprint": "a", "content": {"study": {"study_name": 3}}, "files_sha256": {}}',
    b'{"fingerprint": "a", "content": {"study": {"study_name": "x"}}, "files_sha256": [1]}',
    b'{"fingerprint": "a", "content": [], "files_sha256": {}}', None])
def test_folder_whose_record_cannot_be_read_is_not_replaced(study, folder, content):
    (folder / RECORD).unlink()
    if content is None:
        (folder / RECORD).mkdir()
    else:
        (folder / RECORD).write_bytes(content)
    refused(study, folder, "record of a run")


def test_record_that_lists_a_file_elsewhere_does_not_reach_it(study, folder, tmp_path):
    (tmp_path / "thesis.txt").write_text("mine")
    whole = json.loads((folder / RECORD).read_text(encoding="utf-8"))
    whole["files_sha256"]["../thesis.txt"] = "0" * 64
    (folder / RECORD).write_text(json.dumps(whole), encoding="utf-8")
    write_run(study, tmp_path, overwrite=True, options={})
    assert (tmp_path / "thesis.txt").read_text() == "mine"


@pytest.mark.parametrize("one, other", [("Half/half", "half half"), ("twice", "Twice!")])
def test_scenarios_whose_names_fold_together_are_refused(workbook, tmp_path, one, other):
    files = []
    for number, name in enumerate((one, other)):
        files += ["--scenario", tmp_path / f"{number}.toml"]
        files[-1].write_text(f'name = "{name}"\n[prices]\nline = {number + 2}\n')
    result = call("run", workbook, "--out", tmp_path / "out", *files)
    assert result.exit_code == CANNOT_STUDY and "Two scenarios" in result.stderr
    assert one in result.stderr and other in result.stderr
    assert not (tmp_path / "out").exists()


# --- links ----------------------------------------------------------------------------------------

@pytest.mark.parametrize("where", ["the run folder", "nowhere", ".test-study.old", "a folder in it",
                                   "a file", ".test-study.lock"])
def test_links_are_refused_and_their_targets_untouched(study, folder, tmp_path, where):
    elsewhere = tmp_path.with_name(tmp_path.name + "-elsewhere")
    shutil.copytree(folder, elsewhere)
    target = {"nowhere": elsewhere / "nowhere", "a file": elsewhere / RECORD,
              "a folder in it": elsewhere / "farms", ".test-study.lock": elsewhere / RECORD}.get(
                  where, elsewhere)
    link = {"a folder in it": folder / "farms", ".test-study.old": tmp_path / ".test-study.old",
            ".test-study.lock": tmp_path / ".test-study.lock"}.get(where, folder)
    if link == folder or where == "a folder in it":
        shutil.rmtree(link)
    link.symlink_to(target)
    before = files_of(elsewhere)
    with pytest.raises(StudyError):
        write_run(study, tmp_path, overwrite=True, options={})
    assert files_of(elsewhere) == before and link.is_symlink()
    shutil.rmtree(elsewhere)


def test_out_that_is_a_link_is_followed_as_a_whole(study, tmp_path):
    """--out is the user's own choice of a place."""
    (tmp_path / "there").mkdir()
    (tmp_path / "out").symlink_to(tmp_path / "there")
    for overwrite in (False, True):
        write_run(study, tmp_path / "out", overwrite=overwrite, options={})
    assert os.listdir(tmp_path / "there") == ["test-study"]
    assert (tmp_path / "there" / "test-study" / RECORD).exists()


@pytest.mark.parametrize("target", ["mine.xlsx", "missing.xlsx"])
def test_blank_does_not_write_through_or_over_a_link(tmp_path, target):
    (tmp_path / "mine.xlsx").write_text("mine")
    link = tmp_path / "blank.xlsx"
    link.symlink_to(tmp_path / target)
    for more in ((), ("--overwrite",)):
        result = call("blank", link, *more)
        assert result.exit_code == CANNOT_STUDY and "is a link" in result.stderr
    assert link.is_symlink() and (tmp_path / "mine.xlsx").read_text() == "mine"
    assert sorted(os.listdir(tmp_path)) == ["blank.xlsx", "mine.xlsx"]


# --- two at once ----------------------------------------------------------------------------------

HOLD = """
import sys, time
from pathlib import Path
from batch.writing import run_place
with run_place._alone_at(Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.read()
"""


@pytest.fixture
def holder(folder):
    """Another process that is moving the folder at this moment."""
    process = subprocess.Popen([sys.executable, "-c", HOLD, folder], stdin=subprocess.PIPE,
                               stdout=subprocess.PIPE, text=True)
    assert process.stdout.readline() == "held\n"
    yield process
    process.kill()
    process.wait()
    process.stdin.close()
    process.stdout.close()


def test_second_run_does_not_undo_a_first_between_its_two_renames(study, folder, holder,
                                                                  monkeypatch):
    """The first has set the old run aside and not yet put the new one in its place: a second that
    took this for a killed run would put the old one back under the first one's feet."""
    aside = folder.with_name(".test-study.old")
    os.replace(folder, aside)
    monkeypatch.setattr(run_place, "LOCK_WAIT_S", 0.3)
    with pytest.raises(StudyError, match="Another run"):
        write_run(study, folder.parent, overwrite=True, options={})
    assert (aside / RECORD).exists() and not folder.exists()
    holder.kill()  # the system lets go of its lock
    holder.wait()
    monkeypatch.setattr(run_place, "LOCK_WAIT_S", 30)
    assert refuse_existing("Test study", folder.parent, True) == folder
    assert (folder / RECORD).exists() and not aside.exists()


def test_second_run_waits_for_the_first_and_looks_again(study, folder, holder, tmp_path):
    """Without leave to overwrite it is refused when the first has put its folder there."""
    kept = tmp_path / "kept"
    os.replace(folder, kept)
    began = time.monotonic()

    def release(step):
        if step == "record":
            os.replace(kept, folder)
            holder.stdin.close()

    with pytest.raises(StudyError, match="exists"):
        write_run(study, tmp_path, overwrite=False, options={}, on_step=release)
    assert time.monotonic() - began < 50
    assert [name for name in os.listdir(tmp_path) if "new" in name] == []
