"""README and manual: short sentences, links that lead somewhere, and what the demo really shows.

Limit of 40 words a sentence: the project's own.
"""

import re

import openpyxl
import pytest
from PIL import Image

from batch.audit import explain
from tests.conftest import ROOT
from tests.house_page import block
from tests.readme_page import (
    PICTURE,
    PRINTED,
    explained_block,
    first_page,
    output_block,
    picture_block,
    plain,
)

README, MANUAL = ROOT / "README.md", ROOT / "input_workbooks" / "manual.md"
TEXTS = {path: path.read_text(encoding="utf-8") for path in (README, MANUAL)}
MOST_WORDS, MOST_PICTURE_BYTES = 40, 200_000
FENCED = re.compile(r"^ *```(\w+)\n(.*?)^ *```$", re.DOTALL | re.MULTILINE)


# --- sentences ------------------------------------------------------------------------------------

def pieces(text):
    """Paragraphs, list items, headings and cells of tables, each as one line without marks."""
    text = re.sub(r"<!--.*?-->", "", FENCED.sub("", text))
    for part in re.split(r"\n\s*\n|\n(?= *(?:[-|#]|\d+\.) ?)", text):
        is_row = part.lstrip().startswith("|")
        for piece in part.strip().strip("|").split("|") if is_row else [part]:
            piece = re.sub(r"!?\[([^\]]*)\]\([^)]*\)", r"\1", piece)
            yield " ".join(re.sub(r"^ *(?:[-#]+|\d+\.) ", "", piece).split())


def sentences(text):
    """Only a full stop, question or exclamation mark ends one: no colon and no semicolon."""
    for piece in pieces(text):
        yield from re.split(r"(?<=[.!?])[*)]* ", piece)


@pytest.mark.parametrize("path", TEXTS, ids=lambda path: path.name)
def test_no_sentence_is_long(path):
    found = [sentence for sentence in sentences(TEXTS[path]) if sentence]
    assert len(found) > 80
    assert [s for s in found if len(s.split()) > MOST_WORDS] == []


def test_a_long_sentence_is_found_wherever_it_stands():
    long = " ".join(["word"] * (MOST_WORDS + 1))
    for text in (f"{long}.", f"- Short.\n- {long}", f"| a | {long} |", f"1. **So.** {long}; end.",
                 f"Short. [{long}](manual.md) it is.", f"![{long}](x.png)"):
        assert max(len(s.split()) for s in sentences(text)) > MOST_WORDS, text
    assert max(len(s.split()) for s in sentences(f"```sh\n{long}\n```\nShort.")) == 1


def test_the_job_is_told_in_one_paragraph_before_all_else():
    title, job, caution = TEXTS[README].split("\n\n")[:3]
    assert title == "# farmbatch" and caution.startswith("**Screening only.**")
    for word in ("one row per farm", "checks", "sizes", "judges", "splits the cost", "ranks",
                 "budget", "at risk", "result workbook", "the board"):
        assert word in job, word


# --- links ----------------------------------------------------------------------------------------

def anchors(text):
    """The anchors of a text's headings, as the places that show such files make them:
    common practice, no source."""
    heads = re.findall(r"^#+ (.*)$", FENCED.sub("", text), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", head.lower()).replace(" ", "-") for head in heads}


@pytest.mark.parametrize("path", TEXTS, ids=lambda path: path.name)
def test_every_link_leads_somewhere(path):
    links = re.findall(r"\]\(([^)]*)\)", TEXTS[path])
    assert len(links) > 5
    for link in links:
        name, _, anchor = link.partition("#")
        target = (path.parent / name).resolve() if name else path
        assert target.is_file(), link
        assert not anchor or anchor in anchors(target.read_text(encoding="utf-8")), link


# --- the demo -------------------------------------------------------------------------------------

def test_output_is_what_the_demo_prints(demo_run):
    assert block(TEXTS[README], "output") == output_block(demo_run.study, demo_run.folder), (
        "run python -m tests.readme_page")


def test_explained_figure_is_of_the_demo(demo_run, monkeypatch):
    monkeypatch.setattr(explain, "validate", lambda path: path)
    monkeypatch.setattr(explain, "run_study", lambda _: demo_run.study)  # not studied once more
    assert block(TEXTS[README], "explained") == explained_block(demo_run.folder), (
        "run python -m tests.readme_page")


def test_picture_is_of_the_demo(demo_run):
    board = (demo_run.folder / "board.html").read_text(encoding="utf-8")
    assert block(TEXTS[README], "picture") == picture_block(board)
    assert PICTURE.stat().st_size < MOST_PICTURE_BYTES
    with Image.open(PICTURE) as picture:
        assert picture.text[PRINTED] == plain(first_page(board)), "run python -m tests.readme_page"
        assert picture.width > 600 and picture.height > 600


def test_manual_names_every_file_and_sheet_of_a_run(demo_run):
    section = TEXTS[MANUAL].split("\n## The run folder\n")[1].split("\n## ")[0]
    book = openpyxl.load_workbook(demo_run.folder / "result.xlsx", read_only=True)
    sheets = {name for name in book.sheetnames if not name.startswith("Input ")}
    book.close()
    files = {path.name + "/" * path.is_dir() for path in demo_run.folder.iterdir()}
    assert {name for name in sheets | files if f"`{name}`" not in section} == set()
