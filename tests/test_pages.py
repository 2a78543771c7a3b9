"""Pages: every figure is the one of the CSV files, and templates of the user's own."""

import json
import re
import shutil
from decimal import ROUND_HALF_UP, Decimal
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

import batch
from batch.cli import main
from batch.findings import StudyError
from batch.reading.scenario import read_scenarios
from batch.reading.validate import validate
from batch.study import run_scenarios, run_study
from batch.writing.pages.charts import short
from batch.writing.pages.figures import Row, shown
from batch.writing.pages.flow_picture import flow_picture
from batch.writing.pages.pages import write_pages
from batch.writing.pages.templates import read_templates
from batch.writing.run_folder import write_run
from tests.workbooks.make import candidate_workbook

pytestmark = pytest.mark.usefixtures("studied_once")

TEMPLATES = Path(batch.__file__).parents[1] / "templates"
ROWS = [{"is_inverter_duty": "yes"}, {"flow_gpm": None}]
# What names a row of each file; the run's own files name theirs by their first column.
PART = {"checks": "check", "cost_shares": "item", "cash_flows": "year",
        "cost_lines": "line_number"}


class Figures(HTMLParser):
    """Collects what a page says of figures: (file, row, key, shown text), and numbers in tables
    that say no source."""

    def __init__(self, page):
        super().__init__()
        self.figures, self.unmarked, self.ids, self.links = [], [], [], []
        self.table, self.row, self.column, self.cell, self.data = {}, "", 0, None, None
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        attrs = dict(attrs)
        if "id" in attrs:
            self.ids.append(attrs["id"])
        if tag == "a":
            self.links.append(attrs["href"])
        if tag == "table":
            self.table = {"file": attrs.get("data-file"), "of": attrs.get("data-of"), "keys": []}
        elif tag == "th":
            self.table["keys"].append(attrs.get("data-key"))
        elif tag == "tr":
            self.row, self.column = attrs.get("data-id"), -1
        elif tag == "td":
            self.column += 1
            self.cell = {"css": attrs.get("class", ""), "text": "", "has_data": False}
        elif tag == "data":
            self.data = {**attrs, "text": ""}
            if self.cell is not None:
                self.cell["has_data"] = True

    def handle_data(self, data):
        for place in (self.cell, self.data):
            if place is not None:
                place["text"] += data

    def handle_endtag(self, tag):
        if tag == "data":
            self.figures.append((self.data["data-file"], self.data["data-id"],
                                 self.data["data-key"], self.data["text"]))
            self.data = None
        elif tag == "td":
            self._end_of_cell()
            self.cell = None

    def _end_of_cell(self):
        cell, text = self.cell, self.cell["text"].strip()
        if self.table["file"] and cell["css"] == "n":
            self.figures.append((self.table["file"], self.row, self.table["keys"][self.column],
                                 text, self.table["of"]))
        elif cell["css"] == "n" and not cell["has_data"] and re.fullmatch(r"-?\$?[\d,.]+", text):
            self.unmarked.append(text)


class Files:
    """The run's files as text, to look a figure up in."""

    def __init__(self, folder):
        self.folder, self.frames, self.rows = folder, {}, {}
        self.record = json.loads((folder / "record.json").read_text(encoding="utf-8"))

    def frame(self, name):
        if name not in self.frames:
            self.frames[name] = pd.read_csv(self.folder / f"{name}.csv", dtype=str,
                                            keep_default_na=False, encoding="utf-8-sig")
        return self.frames[name]

    def values(self, name, row, key, of=None):
        """The canonical texts of a figure: several where rows share a name, as farms do whose name
        is typed twice. A key may be 'one - other - other'."""
        if name == "record":
            return [str(self.record["content"][row][key])]
        if (name, row, of) not in self.rows:
            self.rows[name, row, of] = self._rows(name, row, of)
        mine = self.rows[name, row, of]
        columns = [[Decimal(text or "NaN") for text in mine[k]] for k in key.split(" - ")]
        return [str(first - sum(others)) for first, *others in zip(*columns)]

    def _rows(self, name, row, of):
        frame = self.frame(name)
        if name in PART:
            candidate, part = row.rsplit("|", 1)
            mine = frame[(frame["candidate_id"] == candidate) & (frame[PART[name]] == part)]
            if name == "checks":
                results = self.frame("results")
                chosen = results.loc[results["candidate_id"] == candidate, "supply_option"]
                mine = mine[mine["supply_option"].isin(chosen)]
        elif name == "line_crossover":
            mine = frame[frame["shared_line_id"] + "|" + frame["farms"] == row]
        else:
            mine = frame[frame.iloc[:, 0] == row]
            mine = mine if of is None else mine[mine["group"] == of]
        return mine


def same(page_text, canonical):
    """The text on the page is the canonical number, rounded to the digits that it shows; nothing
    for an unknown one."""
    if page_text == "" or canonical == "NaN":
        return page_text == "" and canonical == "NaN"
    plain = page_text.replace(",", "").replace("$", "")
    digits = len(plain.partition(".")[2])
    rounded = Decimal(canonical).quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP)
    return Decimal(plain) == rounded


@pytest.fixture(scope="module")
def pages(demo_run):
    return {path.relative_to(demo_run.folder).as_posix(): path.read_text(encoding="utf-8")
            for path in sorted(demo_run.folder.rglob("*.html"))}


# Source: the run's own CSV files, which other programs read; the page must not say another number.
def test_every_figure_on_every_page_is_the_one_of_the_csv_file(demo_run, pages):
    files, seen = Files(demo_run.folder), set()
    for name, page in pages.items():
        found = Figures(page)
        assert found.unmarked == [], name
        for file, row, key, text, *of in found.figures:
            seen.add(file)
            canonical = files.values(file, row, key, *of)
            assert any(same(text, value) for value in canonical), (name, file, row, key, text)
    assert {"record", "results", "totals", "budget_sets", "feeders", "drivers", "checks",
            "benefit_by_year", "cost_shares", "cash_flows", "line_crossover"} <= seen


def test_board_of_a_scenario_that_funds_the_best_set(demo_run, tmp_path):
    path = tmp_path / "best.toml"
    path.write_text('name = "Best"\n[rules]\nbudget_method = "best set"\n[sources]\n'
                    'budget_method = "minutes"\n', encoding="utf-8")
    [study] = run_scenarios(validate(demo_run.workbook), read_scenarios([path]))
    folder = write_run(study, tmp_path / "out", overwrite=False, options={}, farm_pages=0)
    files = Files(folder)
    found = Figures((folder / "board.html").read_text(encoding="utf-8"))
    for file, row, key, text, *of in found.figures:
        assert any(same(text, v) for v in files.values(file, row, key, *of)), (file, row, key)
    assert "scenario_totals" in {file for file, *_ in found.figures}
    assert not any(link.startswith("farms/") for link in found.links)
    best = files.frame("totals").set_index("group").loc["program: best set within all limits"]
    assert ("totals", best.name, "incentive_cost_usd") in {figure[:3] for figure in found.figures}


def test_line_crossover_is_shown_in_the_order_of_its_file(demo_run, pages):
    rows = [(text, key) for file, _, key, text, *_ in Figures(pages["board.html"]).figures
            if file == "line_crossover" and not key.endswith("_failing")]
    frame = Files(demo_run.folder).frame("line_crossover")
    assert len(rows) == 5 * len(frame)
    for key in {key for _, key in rows}:
        shown_here = [text for text, mine in rows if mine == key]
        assert all(map(same, shown_here, frame[key])), key


def test_a_wrong_figure_would_be_found(demo_run, pages):
    files = Files(demo_run.folder)
    first = Figures(pages["board.html"]).figures[3]
    [canonical] = files.values(*first[:3])
    assert not same(shown(str(Decimal(canonical) + 1), 0), canonical)


def test_links_lead_somewhere_and_names_are_unique(demo_run, pages):
    for name, page in pages.items():
        found = Figures(page)
        assert len(set(found.ids)) == len(found.ids), name
        for link in found.links:
            file, _, anchor = link.partition("#")
            target = (demo_run.folder / name).parent / file if file else demo_run.folder / name
            assert target.is_file(), (name, link)
            assert not anchor or anchor in found.ids, (name, link)
    used = set(re.findall(r'(?:url\(#|aria-labelledby=")([\w-]+)', pages["board.html"]))
    assert used and used <= set(Figures(pages["board.html"]).ids)


def test_pages_need_no_network_and_no_script(pages):
    for name, page in pages.items():
        assert not re.search(r"<script|<link|<img|@import|https?://(?!www\.w3\.org)|\son\w+=",
                             page), name
        assert page.count("<style>") == 1, name


def test_every_chart_has_words_in_its_stead(pages):
    board = pages["board.html"]
    charts = re.findall(r"<svg.*?</svg>", board, re.DOTALL)
    assert len(charts) == 8
    for chart in charts:
        assert 'role="img"' in chart
        assert re.search(r"<title[^>]*>[^<]{10,}</title><desc[^>]*>[^<]{20,}</desc>", chart)


def test_same_study_gives_the_same_bytes(demo_run, pages, tmp_path):
    record = json.loads((demo_run.folder / "record.json").read_text(encoding="utf-8"))
    write_pages(run_study(validate(demo_run.workbook)), tmp_path, record["fingerprint"])
    for name, page in pages.items():
        assert (tmp_path / name).read_text(encoding="utf-8") == page, name


def test_only_ranked_farms_get_a_letter(demo_run, pages):
    results = Files(demo_run.folder).frame("results")
    letters = {name.removeprefix("offers/") for name in pages if name.startswith("offers/")}
    sheets = [name.removeprefix("farms/") for name in pages if name.startswith("farms/")]
    assert len(letters) == (results["rank"] != "").sum() and letters <= set(sheets)
    waits = [pages[f"offers/{name}.html"] for name in
             results.loc[results["in_budget"] == "no", "candidate_id"].str.lower()]
    assert waits and all("waits for the budget" in page for page in waits)


# --- pieces ---------------------------------------------------------------------------------------

# Source: rounding half up by hand, and the thousands of every invoice (common practice, no source).
@pytest.mark.parametrize("text, decimals, page", [
    ("340017.50", 0, "340,018"), ("0.4999", 0, "0"), ("-0.4", 0, "0"),
    ("-1234.5", None, "-1,234.5"), ("1506829", None, "1,506,829"), ("2.675", 2, "2.68")])
def test_number_as_a_page_shows_it(text, decimals, page):
    assert shown(text, decimals) == page


def test_row_marks_figures_and_says_what_is_unknown():
    row = Row("results", '<b>"x"', {"a_usd": "-12.50", "b_usd": "", "c_kva": "7.50"})
    assert row.usd("a_usd", 2) == ('<data value="-12.50" data-file="results" data-key="a_usd" '
                                   'data-id="&lt;b&gt;&#34;x&#34;">-$12.50</data>')
    assert "not assessed" in row("b_usd") and "not assessed" in row.usd_left("a_usd", "b_usd")
    assert ">7.5<" in row.plain("c_kva") and np.isnan(row.value("b_usd"))
    with pytest.raises(LookupError, match="no figure 'd'"):
        row("d")


@pytest.mark.parametrize("value, text", [(950, "$950"), (12_345, "$12.3k"), (-1.3e6, "-$1.3M"),
                                         (999_900, "$1M"), (0, "$0")])
def test_short_number(value, text):
    assert short(value, "$") == text


def test_picture_of_a_cash_flow_holds_every_bar_and_knows_no_unknown():
    picture = flow_picture([-1000.0, 300, 450, 0], [-1000.0, -720, -340, -340])
    assert [bar["is_cost"] for bar in picture["bars"]] == [True, False, False, False]
    for bar in picture["bars"]:
        assert 0 <= bar["y"] and bar["y"] + bar["height"] <= picture["height"]
    heights = [bar["height"] for bar in picture["bars"]]
    # A bar's length is in proportion to its amount; tenths of a unit are drawn.
    assert heights[0] / heights[1] == pytest.approx(1000 / 300, rel=0.01) and heights[3] == 0
    assert flow_picture([1.0, np.nan], [1.0, 2]) is None
    assert flow_picture([0.0, 0], [0.0, 0])["zero"] > 0


# --- few farms, none, no budget -------------------------------------------------------------------

@pytest.mark.parametrize("rows, study, words", [
    ([{"flow_gpm": None}], {}, "No farm is ranked."),
    ([{}], {}, "No budget was given"),
    ([{}, {}], {"program_budget_usd": 1}, "nothing to divide"),
    ([{"fuel_rate": None, "fuel_price_usd": 3, "source_fault_a": None, "feeder_id": None}], {},
     "No feeder is named")])
def test_a_section_without_figures_says_why(tmp_path, rows, study, words):
    made = run_study(validate(candidate_workbook(tmp_path, rows=rows, study=study)))
    write_pages(made, tmp_path, "fingerprint")
    board = (tmp_path / "board.html").read_text(encoding="utf-8")
    text = re.sub(r"<style.*?</style>", "", board, flags=re.DOTALL)
    assert words in board and not re.search(r"\bnan\b", text)


# --- templates of the user's own ------------------------------------------------------------------

@pytest.fixture(scope="module")
def small(tmp_path_factory):
    return candidate_workbook(tmp_path_factory.mktemp("small"), rows=ROWS)


def run_with(templates, workbook, out):
    return CliRunner().invoke(main, ["run", str(workbook), "--out", str(out), "--quiet",
                                     "--templates", str(templates)])


def test_own_template_takes_the_place_of_the_programs(small, tmp_path):
    own = tmp_path / "own"
    own.mkdir()
    (own / ".hidden").write_text("of the file system", encoding="utf-8")
    text = (TEMPLATES / "farm.html").read_text(encoding="utf-8")
    (own / "farm.html").write_text(text.replace("For the grower", "Your money"), encoding="utf-8")
    done = run_with(own, small, tmp_path / "out")
    assert done.exit_code == 0, done.output
    [folder] = (tmp_path / "out").iterdir()
    pages = "".join(path.read_text(encoding="utf-8") for path in (folder / "farms").iterdir())
    assert "Your money" in pages and "For the grower" not in pages
    record = json.loads((folder / "record.json").read_text(encoding="utf-8"))
    assert list(record["content"]["options"]["templates"]) == ["farm.html"]
    assert CliRunner().invoke(main, ["rerun", str(folder)]).exit_code == 0
    plain = CliRunner().invoke(main, ["run", str(small), "--out", str(tmp_path / "b"), "--quiet"])
    assert plain.exit_code == 0
    [other] = (tmp_path / "b").iterdir()
    other = json.loads((other / "record.json").read_text(encoding="utf-8"))
    assert "templates" not in other["content"]["options"]
    assert other["fingerprint"] != record["fingerprint"]
    assert other["content"]["sha256"]["results"] == record["content"]["sha256"]["results"]


@pytest.mark.parametrize("name, text, told", [
    ("farm.html", "line one\n{{ no_such_name }}", "farm.html, line 2: 'no_such_name' is undefined"),
    ("farm.html", "\n\n{% if %}", "farm.html, line 3"),
    ("offer.html", "{{ farm('no_such_figure') }}", "offer.html, line 1: there is no figure"),
    ("board.html", "{{ 1 / 0 }}", "board.html, line 1: division by zero"),
    ("board.html", "{{ years.__class__.__mro__ }}", "board.html, line 1: access to attribute"),
    ("board.html", "{% include '../secret.txt' %}", "board.html, line 1: ../secret.txt"),
    ("parts.html", "{# nothing #}", "board.html, line"),
    ("letter.html", "x", "'letter.html' in"),
    ("page.htm", "x", "known names are application.html")])
def test_fault_in_a_template_is_one_sentence_and_leaves_nothing(small, tmp_path, name, text, told):
    own = tmp_path / "own"
    own.mkdir()
    (own / name).write_text(text, encoding="utf-8")
    done = run_with(own, small, tmp_path / "out")
    assert done.exit_code == 3 and told in done.stderr and "Traceback" not in done.stderr
    assert len(done.stderr.splitlines()) == 1
    assert not (tmp_path / "out").exists() or list((tmp_path / "out").iterdir()) == []


def test_fault_in_a_template_keeps_the_old_run(small, tmp_path):
    out, own = tmp_path / "out", tmp_path / "own"
    first = CliRunner().invoke(main, ["run", str(small), "--out", str(out), "--quiet"])
    assert first.exit_code == 0
    [folder] = out.iterdir()
    before = (folder / "record.json").read_bytes()
    own.mkdir()
    (own / "farm.html").write_text("{{ no_such_name }}", encoding="utf-8")
    done = CliRunner().invoke(main, ["run", str(small), "--out", str(out), "--overwrite",
                                     "--templates", str(own)])
    assert done.exit_code == 3 and (folder / "record.json").read_bytes() == before
    assert list(out.iterdir()) == [folder]


def test_folder_that_is_none(tmp_path):
    with pytest.raises(StudyError, match="cannot be read"):
        read_templates(tmp_path / "nowhere")
    with pytest.raises(StudyError, match="holds no page template"):
        read_templates(tmp_path)
    (tmp_path / "farm.html").write_bytes(b"\xff\xfe\x00x")
    with pytest.raises(StudyError, match="not UTF-8"):
        read_templates(tmp_path)


def test_copy_of_all_templates_gives_the_same_pages(small, tmp_path):
    own = tmp_path / "own"
    shutil.copytree(TEMPLATES, own, ignore=shutil.ignore_patterns("*.py", "__pycache__"))
    study = run_study(validate(small))
    plain = write_run(study, tmp_path / "a", overwrite=False, options={})
    other = write_run(study, tmp_path / "b", overwrite=False, options={},
                      templates=read_templates(own))
    marks = [json.loads((run / "record.json").read_text(encoding="utf-8"))["fingerprint"]
             for run in (plain, other)]
    for path in plain.rglob("*.html"):
        twin = (other / path.relative_to(plain)).read_text(encoding="utf-8")
        assert twin.replace(marks[1], marks[0]) == path.read_text(encoding="utf-8")
