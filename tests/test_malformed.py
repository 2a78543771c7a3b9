"""Every command with every malformed input: its exit code, one sentence, no traceback."""

import os
import shutil

import openpyxl
import pytest
from click.testing import CliRunner

from batch.cli import main
from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.run_folder import write_run
from tests import malformed
from tests.workbooks.make import candidate_workbook

pytestmark = pytest.mark.usefixtures("studied_once")

DONE, DIFFERENT, WRONG_USAGE, CANNOT_GO_ON = 0, 1, 2, 3
PLAIN = ("a name too long", "a path too long", "missing", "a device", "below a file", "empty",
         "text", "binary", "broken zip", "a link to itself", "a pipe", "an empty folder")
# Each place where a command takes a file of the user's. X is the malformed one, W a good workbook.
READS = [("carry", "X", "--into", "NEW.xlsx"), ("check", "X"), ("run", "X", "--out", "OUT"),
         ("rerun", "X"), ("compare", "X", "W"),
         ("compare", "W", "X"), ("sample", "X", "--count", "1"), ("rerun", "RUN", "--prices", "X"),
         ("explain", "rank", "--run", "X", "--candidate", "F-1"),
         ("run", "W", "--out", "OUT", "--scenario", "X"),
         ("run", "W", "--out", "OUT", "--templates", "X"), ("adopt", "X", "--into", "NEW.xlsx"),
         ("adopt", "W", "--into", "NEW.xlsx", "--mapping", "X")]
# Commands that take no file.
WORDS = [("columns", "--sheet", "X"), ("findings", "X"), ("explain", "X")]


@pytest.fixture(scope="module")
def good(tmp_path_factory):
    """A good workbook and its run folder."""
    path = candidate_workbook(tmp_path_factory.mktemp("good"))
    return path, write_run(run_study(validate(path)), path.parent, overwrite=False, options={})


@pytest.fixture(scope="module")
def book(good):
    """The result workbook of the run as openpyxl holds it; `malformed.edited` puts back what it
    changes."""
    return openpyxl.load_workbook(good[1] / "result.xlsx")


def ended(args, code, **places):
    """A command ends with a code and, where it cannot go on, with one sentence."""
    result = CliRunner().invoke(main, [str(places.get(arg, arg)) for arg in args])
    assert result.exit_code == code, (args, result.output[-600:])
    assert "Traceback" not in result.output and isinstance(result.exception, SystemExit)
    if code == CANNOT_GO_ON:
        [line] = [line for line in result.stderr.splitlines() if line.strip() != "Studying"]
        assert line.startswith("Cannot go on: ") and line.endswith(".") and result.stdout == ""
    return result


def test_every_command_stands_in_the_table():
    """`blank` and `form` have tables of their own below."""
    assert {args[0] for args in (*READS, *WORDS)} | {"blank", "form"} == set(main.commands)


@pytest.mark.skipif(os.name != "posix", reason="devices, pipes and links of POSIX systems")
@pytest.mark.parametrize("args", READS, ids=" ".join)
@pytest.mark.parametrize("name", PLAIN)
def test_any_file_that_is_none(good, tmp_path, args, name):
    files = malformed.plain_files(tmp_path)
    assert set(files) == set(PLAIN)
    new = tmp_path / "new.xlsx"
    ended(args, CANNOT_GO_ON, X=files[name], W=good[0], RUN=good[1], OUT=tmp_path / "out",
          **{"NEW.xlsx": new})
    assert not (tmp_path / "out").exists() and not new.exists()


@pytest.mark.skipif(os.name != "posix", reason="devices, pipes and links of POSIX systems")
@pytest.mark.parametrize("name", [name for name in PLAIN if name != "missing"])
def test_places_where_no_file_or_folder_can_be_written(good, tmp_path, name):
    files = malformed.plain_files(tmp_path)
    ended(("blank", "X"), CANNOT_GO_ON, X=files[name])
    if name not in ("a name too long", "an empty folder"):
        for args in (("run", str(good[0]), "--out"), ("form",)):
            result = CliRunner().invoke(main, [*args, str(files[name])])
            assert result.exit_code in (WRONG_USAGE, CANNOT_GO_ON), result.output
            assert "Traceback" not in result.output


@pytest.mark.parametrize("args", WORDS, ids=" ".join)
@pytest.mark.parametrize("word", ["", "x" * 100_000, "\x1b[31m", "../..", "\udcff", "a\nb"])
def test_words_that_name_nothing(args, word):
    ended(args, CANNOT_GO_ON, X=word)


@pytest.mark.parametrize("name", malformed.RECORDS)
@pytest.mark.parametrize("args", [("rerun", "X"), ("compare", "X", "W"), ("compare", "W", "X")],
                         ids=" ".join)
def test_record_that_is_none(good, tmp_path, args, name):
    run = malformed.changed_run(good[1], tmp_path, "record.json", malformed.RECORDS[name])
    assert "record.json" in ended(args, CANNOT_GO_ON, X=run, W=good[0]).stderr


@pytest.mark.parametrize("name", malformed.RESULTS)
@pytest.mark.parametrize("args", [("rerun", "X"), ("compare", "X", "W"),
                                  ("sample", "X", "--count", "1")], ids=" ".join)
def test_results_file_that_is_none(good, tmp_path, args, name):
    run = malformed.changed_run(good[1], tmp_path, "results.csv", malformed.RESULTS[name])
    assert "results.csv" in ended(args, CANNOT_GO_ON, X=run, W=good[0]).stderr


@pytest.mark.parametrize("amount", ["abc", "1e999", "nan", "-1", ""])
def test_sample_of_amounts_that_are_none(good, tmp_path, amount):
    lines = [line.split(",") for line in (good[1] / "results.csv").read_text().splitlines()]
    table = f"candidate_id,verdict,rank,in_budget,incentive_cost_usd\nF-1,a,1,yes,{amount}\n"
    assert len(lines) == 2
    run = malformed.changed_run(good[1], tmp_path, "results.csv", table.encode())
    ended(("sample", "X", "--count", "1"), CANNOT_GO_ON, X=run)


@pytest.mark.parametrize("name", malformed.EDITS)
def test_result_edited_so_that_it_cannot_be_computed(book, tmp_path, name):
    path = malformed.edited(book, tmp_path, malformed.EDITS[name])
    ended(("rerun", "X"), CANNOT_GO_ON, X=path)


@pytest.mark.parametrize("name", malformed.TOLD)
def test_result_edited_is_told_as_changed(book, tmp_path, name):
    path = malformed.edited(book, tmp_path, malformed.TOLD[name])
    assert "has been changed" in ended(("rerun", "X"), DIFFERENT, X=path).stdout


@pytest.mark.parametrize("name", malformed.SCENARIOS)
def test_scenario_that_is_none(good, tmp_path, name):
    (tmp_path / "s.toml").write_bytes(malformed.SCENARIOS[name])
    ended(("run", "W", "--out", "OUT", "--scenario", "X"), CANNOT_GO_ON, W=good[0],
          X=tmp_path / "s.toml", OUT=tmp_path / "out")
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("name", malformed.TEMPLATES)
def test_template_that_is_none(good, tmp_path, name):
    content = malformed.TEMPLATES[name]
    path = tmp_path / "own" / "board.html"
    path.parent.mkdir()
    path.mkdir() if content is None else path.write_bytes(content)
    ended(("run", "W", "--out", "OUT", "--templates", "X"), CANNOT_GO_ON, W=good[0],
          X=path.parent, OUT=tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_book_that_was_edited_is_what_it_was(good, book, tmp_path):
    """The result as openpyxl opens and saves it is the same run; the tests above have changed and
    put back every sheet that they name."""
    path = malformed.edited(book, tmp_path, lambda _: None)
    assert CliRunner().invoke(main, ["rerun", str(path)]).exit_code == DONE


def test_result_workbook_of_a_run_that_is_an_input(good, tmp_path):
    run = tmp_path / "run"
    shutil.copytree(good[1], run)
    shutil.copy(good[0], run / "result.xlsx")
    ended(("rerun", "X"), CANNOT_GO_ON, X=run)
