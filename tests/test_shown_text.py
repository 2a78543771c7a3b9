"""What reaches a terminal or a page moves no cursor, colours nothing and turns no direction."""

import json
import unicodedata

import pytest
from click.testing import CliRunner

from batch.cli import main
from batch.reading.validate import validate
from batch.shown_text import cleaned, in_one_line
from batch.study import run_study
from batch.writing.run_folder import write_run
from tests.workbooks.make import candidate_workbook

pytestmark = pytest.mark.usefixtures("studied_once")

# ECMA-48 (C1 as single signs), ASCII's C0 and DEL; UAX 9 table 3: ALM, LRM, RLM, LRE, RLE, PDF,
# LRO, RLO, LRI, RLI, FSI, PDI.
CONTROLS = [chr(code) for code in (*range(0x20), *range(0x7f, 0xa0))]
BIDI = [chr(code) for code in (0x61c, 0x200e, 0x200f, *range(0x202a, 0x202f),
                               *range(0x2066, 0x206a))]
# XML, and so a workbook, takes tab and line ends, DEL, C1 and the bidirectional signs.
NASTY = "".join(BIDI) + "\x7f\x85\x9b31mred\x9d0;title\x9c"
ALLOWED = "\t\n"


def controls_in(text: str) -> set[str]:
    """Signs of the categories Cc and Cf that move or turn what is around them."""
    return {f"U+{ord(sign):04X}" for sign in text if sign not in ALLOWED
            and (unicodedata.category(sign) == "Cc" or sign in BIDI)}


def call(*args):
    return CliRunner().invoke(main, [str(arg) for arg in args])


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    """A workbook with such signs in every text, studied under a scenario with them."""
    folder = tmp_path_factory.mktemp("nasty")
    rows = [{"candidate_id": f"{NASTY}{k}", "farm_label": NASTY, "crop": NASTY,
             "feeder_id": NASTY, NASTY: 1} for k in range(2)]
    path = candidate_workbook(
        folder, [*rows, {"candidate_id": f"{NASTY}x", "flow_gpm": NASTY}],
        feeders=[{"feeder_id": NASTY, "spare_capacity_kw": 90}],
        study={"study_name": f"Study {NASTY}", "cooperative_name": NASTY, "prepared_by": NASTY},
        program={NASTY: 1}, name=f"w{BIDI[6]}.xlsx")
    study = run_study(validate(path))
    return path, write_run(study, folder / f"out{BIDI[6]}\x1b[31m", overwrite=False, options={})


def test_every_sign_that_controls_is_shown_as_an_escape():
    for sign in (*CONTROLS, *BIDI, "\udc9b"):
        if sign not in ALLOWED:
            assert cleaned(f"a{sign}b") == f"a\\u{ord(sign):04x}b"
    assert cleaned("Año 2026\t✓ \U0001f33d\n") == "Año 2026\t✓ \U0001f33d\n"
    assert in_one_line("a\r\nb\u2028c") == "a\\u000d b c"


def test_json_with_escapes_is_the_same_json():
    """RFC 8259, section 7: any sign may stand as \\uXXXX."""
    data = {"key" + "".join(CONTROLS + BIDI): ["".join(CONTROLS + BIDI)]}
    assert json.loads(cleaned(json.dumps(data, ensure_ascii=False))) == data


@pytest.mark.parametrize("args", [
    ("check", "WORKBOOK"), ("check", "WORKBOOK", "--json"),
    ("run", "WORKBOOK", "--out", "OUT"), ("run", "WORKBOOK", "--out", "OUT", "--json"),
    ("run", "WORKBOOK", "--out", "FOLDER", "--overwrite"), ("rerun", "FOLDER"),
    ("rerun", "FOLDER", "--json"), ("compare", "WORKBOOK", "FOLDER"),
    ("compare", "WORKBOOK", "FOLDER", "--json"), ("sample", "FOLDER", "--count", "2"),
    ("explain", "rank", "--run", "FOLDER", "--candidate", NASTY + "0"),
    ("explain", "crop", "--run", "FOLDER", "--candidate", NASTY + "0"),
    ("explain", NASTY), ("findings", NASTY), ("columns", "--sheet", NASTY), (NASTY,),
    ("check", NASTY), ("check", "x", NASTY), ("blank", NASTY), ("rerun", NASTY),
    ("columns", "--format", NASTY), ("run", "WORKBOOK", "--templates", NASTY),
    ("run", "WORKBOOK", "--scenario", "SCENARIO"), ("run", "WORKBOOK", "--scenario", "KEYS")])
def test_nothing_that_controls_reaches_the_terminal(run, tmp_path, args):
    workbook, folder = run
    scenario, keys = tmp_path / "s.toml", tmp_path / "k.toml"
    name = "".join(f"\\u{ord(sign):04x}" for sign in NASTY[:30])
    scenario.write_text(f'name = "{name}"\n[prices]\nline = -1\n', encoding="utf-8")
    keys.write_text(f'name = "a"\n[rules]\n"{name}" = 1\n', encoding="utf-8")
    told = call(*({"WORKBOOK": workbook, "FOLDER": folder, "OUT": tmp_path,
                   "SCENARIO": scenario, "KEYS": keys}.get(arg, arg) for arg in args))
    assert told.exit_code in (0, 1, 2, 3) and told.output
    assert controls_in(told.stdout) | controls_in(told.stderr) == set()


def test_nothing_that_controls_reaches_a_page(run):
    pages = list(run[1].rglob("*.html"))
    assert len(pages) > 3
    for page in pages:
        assert controls_in(page.read_text(encoding="utf-8")) == set(), page.name


def test_text_of_a_cell_begins_no_line_of_its_own(tmp_path):
    """As if the program had said it."""
    path = candidate_workbook(tmp_path, [{"flow_gpm": "8\nCannot go on: pay first.\n"},
                                         {"candidate_id": "A\n99 read = 99 assessed"}])
    for args in (("check", path), ("run", path, "--out", tmp_path)):
        lines = call(*args).output.splitlines()
        assert not [line for line in lines if line.startswith(("Cannot", "99 read"))]
    assert len(call("check", tmp_path / "a\nCannot.xlsx").stderr.splitlines()) == 1
