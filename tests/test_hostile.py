"""Text that would be a formula, markup, a path or a trick in an output stays plain text in all."""

import csv
import json
import re
import zipfile
from html.parser import HTMLParser

import openpyxl
import pytest
from click.testing import CliRunner

from batch.cli import main
from batch.columns.lists import READERS
from batch.findings import StudyError
from batch.reading.validate import validate
from batch.run_names import farm_file_names, folder_name
from batch.study import run_study
from batch.writing.run_folder import refuse_existing, write_run
from tests.workbooks.make import RATE, candidate_workbook, unit_cost_rows

FORMULAS = ("=1+1", "=cmd|' /C calc'!A0", "+1+1", "-2+3", "@SUM(1)", "=HYPERLINK(\"http://x\",1)",
            "\uff1dSUM(1)", "=1\n=2", "'=1", "-1+cmd|' /C calc'!A0")
MARKUP = ("<script>alert(1)</script>", "<img src=x onerror=alert(1)>", "{{ 7*7*7*7*7 }}{% raw %}",
          "\"><b onmouseover=x>", "&lt;i&gt;&amp;", "]]><!--", "</table></main><h1>x")
IDS = (*FORMULAS[:6], *MARKUP, "../x", "..\\x", "a/b", "/etc/passwd", "C:x", "CON", "con.html",
       "nul", "lpt1", ".hidden", "..", "x" * 300, "x" * 299 + "y", "\U0001f33d", "\U0001f33f",
       "\u0645\u0632\u0631\u0639\u0629", "\u202egnp.exe", "a\u200bb", "ab", "A B", "a_b", "e\u0301",
       "\xe9", "#DIV/0!", "TRUE", "007", "7", "_x0041_", "_x001b_[31m", "%2e%2e", "a\nb", "-")


def hostile_book(folder, texts):
    """A workbook with such texts in every place where a text may stand."""
    ids, texts = texts, [text for text in texts if not text.startswith("#")]
    rows = [{"candidate_id": name, "farm_label": texts[k % len(texts)],
             "crop": texts[(k + 1) % len(texts)], "feeder_id": texts[k % 3], "rate_id": texts[0],
             "shared_line_id": texts[1] if k < 2 else None,
             "flow_gpm": name if k % 5 == 4 else 800, texts[0]: name, texts[-1]: texts[1]}
            for k, name in enumerate(ids)]
    prices = [row | {"price_source": texts[k % len(texts)]}
              for k, row in enumerate(unit_cost_rows())]

    def more(book):
        for k, text in enumerate(texts[:4]):
            sheet = book.create_sheet(re.sub(r"[\\[\]*?:/\\\\]", "_", text)[:25] + f" {k}")
            sheet["A1"] = text
        for sheet in book:
            for row in sheet.iter_rows():
                for cell in row:
                    if cell.data_type in ("f", "e"):
                        cell.data_type = "s"

    text = texts[2]
    return candidate_workbook(
        folder, rows, edit=more, unit_costs=prices, rates=[RATE | {"rate_id": texts[0]}],
        feeders=[{"feeder_id": t, "spare_capacity_kw": 90} for t in texts[:3]],
        shared_lines=[{"shared_line_id": texts[1], "shared_single_phase_ft": 500}],
        study={"study_name": texts[0], "cooperative_name": texts[1], "prepared_by": text,
               "notes": text, "study_date": "2026-03-02"},
        program={"tower_span_ft": (181, "ft", text), texts[3]: texts[1]})


@pytest.fixture(scope="module", params=["formulas", "markup", "names"])
def run(request, tmp_path_factory):
    texts = {"formulas": FORMULAS, "markup": MARKUP, "names": IDS}[request.param]
    folder = tmp_path_factory.mktemp(request.param)
    study = run_study(validate(hostile_book(folder, texts)))
    return study, write_run(study, folder / "out", overwrite=False, options={}), texts


def test_run_is_inside_its_place(run):
    _, folder, texts = run
    assert folder.name == folder_name(texts[0]) and re.fullmatch(r"[a-z0-9-]{1,70}", folder.name)
    assert sorted(p.name for p in folder.parent.iterdir()) == [folder.name]
    assert json.loads((folder / "record.json").read_text(encoding="utf-8"))["fingerprint"]


def test_every_farm_has_a_file_with_a_plain_name(run):
    study, folder, _ = run
    names = [path.name for path in (folder / "farms").iterdir()]
    assert len(names) == len(study.results)
    reserved = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\.|$)")
    for name in names:
        assert re.fullmatch(r"[a-z0-9][a-z0-9-]{0,80}\.html", name), name
        assert not reserved.match(name), name


def test_csv_files_hold_no_formula(run):
    _, folder, _ = run
    number = re.compile(r"-?\d+(\.\d+)?(e[+-]?\d+)?")
    for path in folder.glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as stream:
            rows = list(csv.reader(stream))
        assert len({len(row) for row in rows}) == 1, path.name
        for text in (text for row in rows for text in row):
            is_risky = re.match(r"[=+\-@\t\r\uff1d\uff0b\uff0d\uff20]", text)
            assert not is_risky or number.fullmatch(text), (path.name, text)


def test_result_workbook_holds_no_formula_and_no_link(run):
    study, folder, texts = run
    with zipfile.ZipFile(folder / "result.xlsx") as archive:
        for name in archive.namelist():
            content = archive.read(name)
            if name.startswith("xl/worksheets/"):
                assert b"<f>" not in content and b"<f " not in content, name
                # The contents lead to other sheets of the file, nothing leads out of it.
                assert not re.search(rb"<hyperlink[^>]*r:id", content), name
                assert b"TargetMode" not in content, name
            assert "externalLink" not in name and "vba" not in name
    book = openpyxl.load_workbook(folder / "result.xlsx")
    candidates = book["Candidates"]
    for row, name in study.results["candidate_id"].items():
        cell = candidates.cell(row, 1)
        if name is None:  # an error code is no name, and stands there as text
            assert (cell.data_type, cell.value) in (("s", "#DIV/0!"), ("e", "#DIV/0!"))
            continue
        assert cell.data_type == "s" and cell.value.strip() == name.strip()
        if name.startswith(("=", "+", "-", "@")):
            assert cell.quotePrefix  # typed on, it stays text
    assert not any(re.search(r"[\[\]*?:/\\]", title) for title in book.sheetnames)
    assert not any(text in title for text in texts for title in book.sheetnames if len(text) > 3)


class Tags(HTMLParser):
    """Collects the tags, and the texts between them."""

    def __init__(self, page):
        super().__init__()
        self.tags, self.texts = set(), []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.add((tag, *(name for name, _ in attrs)))

    def handle_data(self, data):
        self.texts.append(data)


@pytest.fixture(scope="module")
def known_tags(tmp_path_factory):
    """The tags of a run without anything hostile."""
    plain = candidate_workbook(tmp_path_factory.mktemp("plain"), [{}, {"flow_gpm": None}])
    clean = write_run(run_study(validate(plain)), plain.parent, overwrite=False, options={})
    return {tag for page in clean.rglob("*.html")
            for tag in Tags(page.read_text(encoding="utf-8")).tags}


def test_pages_hold_no_markup_of_the_workbook(run, known_tags):
    study, folder, texts = run
    for path in folder.rglob("*.html"):
        page = path.read_text(encoding="utf-8")
        assert Tags(page).tags <= known_tags, path.name
        assert "16807" not in Tags(page).texts  # a template in a text is not worked out
    board = "".join(Tags((folder / "board.html").read_text(encoding="utf-8")).texts)
    assert texts[0] in board and study.results["candidate_id"].iloc[0] in board


def test_hostile_workbook_can_be_read_again(run):
    study, folder, _ = run
    again = validate(folder / "result.xlsx")
    assert again.candidates["candidate_id"].tolist() == study.results["candidate_id"].tolist()
    assert again.study["study_name"] == study.inputs.study["study_name"]


def test_terminal_shows_no_control_characters(run):
    study, _, _ = run
    for args in (("check",), ("check", "--json")):
        told = CliRunner().invoke(main, [args[0], str(study.inputs.path), *args[1:]])
        assert told.exit_code == 0
        assert not re.search(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]", told.stdout)


# --- names ----------------------------------------------------------------------------------------

def test_file_names_of_all_ids_differ_and_are_plain():
    names = farm_file_names(IDS)
    assert len(set(names)) == len(IDS) == len({name.casefold() for name in names})
    assert all(re.fullmatch(r"[a-z0-9][a-z0-9-]{0,79}", name) for name in names)


@pytest.mark.parametrize("name", ["..", "../../x", "/", "a/../b", "CON", "\U0001f33d", "x" * 300])
def test_study_named_like_a_path_stays_in_out(tmp_path, name):
    folder = refuse_existing(name, tmp_path, overwrite=False)
    assert folder.parent == tmp_path and folder.resolve().parent == tmp_path.resolve()
    assert re.fullmatch(r"[a-z0-9][a-z0-9-]{2,70}|x", folder.name) and folder.name != "con"


def test_faulty_list_in_a_rule_is_quoted_not_run(tmp_path):
    key = next(iter(READERS.keys() & {"season_share_pct"}))
    with pytest.raises(StudyError) as stop:
        validate(candidate_workbook(tmp_path, program={key: "__import__('os').system('x')"}))
    assert "__import__" in str(stop.value)
