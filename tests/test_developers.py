"""The developers' page against the source: its table of rooms, its paths, its names of tests."""

import re
from pathlib import Path

import pytest

from tests.house_page import block, blocks
from tests.test_house import ROOT

PAGE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["rooms", "flow"])
def test_table_is_that_of_the_source(name):
    assert block(PAGE, name) == blocks()[name], "run python -m tests.house_page"


def test_every_path_exists():
    named = re.findall(r"`((?:batch|tests|templates|input_workbooks|\.ci)/[\w./<>-]*)`", PAGE)
    paths = {name.replace("<year>", "2026").rstrip("/") for name in named}
    assert len(paths) > 20
    golden = {name for name in paths if "golden/2026" in name}  # the open year has none yet
    missing = sorted(name for name in paths - golden if not (ROOT / name).exists())
    assert missing == []


def test_every_test_file_that_is_named_exists():
    files = {path.stem for path in Path(ROOT, "tests").rglob("test_*.py")}
    named = set(re.findall(r"`(?:tests/)?(test_\w+?)(?:\.py)?`", PAGE))
    assert len(named) > 15 and named <= files, named - files
