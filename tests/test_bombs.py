"""Workbooks made to fill the memory or the day: what each costs is measured in its own process."""

import os
import subprocess
import sys

import pytest

from tests.workbooks.bombs import BOMBS, ROOT, measured
from tests.workbooks.make import candidate_workbook, with_part

# What a check of a workbook may cost on top of the bare program.
MOST_MB, MOST_S = 700, 90  # on a machine that does other work, too


@pytest.mark.parametrize("name", BOMBS)
def test_bomb_is_bounded_in_memory_and_time(tmp_path, name):
    make, told = BOMBS[name]
    path = make(candidate_workbook(tmp_path))
    cost = measured(path)
    assert cost["mb"] < MOST_MB and cost["s"] < MOST_S, cost
    if told is None:
        assert cost["counts"] == {"read": 1, "assessed": 1, "not_assessed": 0}
    else:
        assert told in cost["told"]


def test_links_to_files_elsewhere_are_never_followed(tmp_path):
    """An external link or picture of another computer is not asked for: nothing is opened but the
    workbook."""
    relations = (b'<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/'
                 b'relationships"><Relationship Id="rId1" TargetMode="External" Target="%s" '
                 b'Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/'
                 b'externalLinkPath"/></Relationships>')
    outside = tmp_path / "outside.xlsx"
    path = with_part(candidate_workbook(tmp_path), "xl/externalLinks/_rels/externalLink1.xml.rels",
                     lambda _: relations % outside.as_uri().encode())
    script = ("import sys\nfrom batch.study import check_workbook\nopened = []\n"
              "watched = ('open', 'socket.connect', 'socket.getaddrinfo')\n"
              "sys.addaudithook(lambda event, args: event in watched and "
              "opened.append(f'{event} {args[0]}'))\n"
              "check_workbook(sys.argv[1])\nprint(*opened, sep='\\n')")
    done = subprocess.run([sys.executable, "-c", script, path], capture_output=True, text=True,
                          env=os.environ | {"PYTHONPATH": str(ROOT)}, check=True)
    assert "study.xlsx" in done.stdout and "outside" not in done.stdout
    assert "socket" not in done.stdout


@pytest.mark.skipif(not hasattr(os, "symlink"), reason="no symbolic links on this system")
def test_symbolic_link_as_input_is_read_like_its_target_and_kept(tmp_path):
    target = candidate_workbook(tmp_path)
    link = tmp_path / "link.xlsx"
    link.symlink_to(target)
    from batch.study import check_workbook

    assert check_workbook(link).counts["read"] == 1
    assert link.is_symlink() and target.exists()
