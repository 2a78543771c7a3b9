"""Pages in a real browser: on a narrow screen, in colour contrast, and printed on letter paper."""

import html
import json
import re
import subprocess

import pytest

NARROW_PX, SMALLEST_TEXT_PX = 390, 7.5
LEAST_CONTRAST = 4.5  # Source: WCAG 2.1, success criterion 1.4.3, level AA, text of normal size
LETTER_PT = (612, 792)  # Source: US letter paper, 8.5 x 11 in of 72 pt each

# Looks at a page in a frame of the narrow screen and tells what it finds wrong. Contrast by
# Source: WCAG 2.1, definitions of relative luminance and contrast ratio.
LOOK = """
function luminance(rgb) {
  const part = rgb.slice(0, 3).map(v => v / 255)
    .map(v => v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
  return 0.2126 * part[0] + 0.7152 * part[1] + 0.0722 * part[2];
}
function rgb(text) { return (text.match(/[\\d.]+/g) || []).map(Number); }
function behind(element, view) {
  for (let e = element; e; e = e.parentElement) {
    const color = rgb(view.getComputedStyle(e).backgroundColor);
    if (color.length === 3 || color[3] > 0) return color;
  }
  return [255, 255, 255];
}
function look(frame) {
  const doc = frame.contentDocument, view = frame.contentWindow;
  const found = {wide: [], contrast: [], small: [], cut: [], headings: [], anchors: []};
  if (doc.documentElement.scrollWidth > doc.documentElement.clientWidth) {
    found.wide.push(doc.documentElement.scrollWidth);
  }
  found.headings = [...doc.querySelectorAll("h1,h2,h3,h4,h5,h6")].map(h => Number(h.tagName[1]));
  for (const link of doc.querySelectorAll('a[href^="#"]')) {
    if (!doc.getElementById(link.getAttribute("href").slice(1))) found.anchors.push(link.href);
  }
  doc.querySelectorAll("details").forEach(d => { d.open = true; });
  const walk = doc.createTreeWalker(doc.body, NodeFilter.SHOW_TEXT);
  let texts = 0;
  for (let node = walk.nextNode(); node; node = walk.nextNode()) {
    const parent = node.parentElement, style = view.getComputedStyle(parent);
    if (!node.textContent.trim() || ["STYLE", "title", "desc"].includes(parent.tagName)) continue;
    texts += 1;
    const picture = parent.closest("svg");
    const ink = rgb(picture ? style.fill : style.color);
    const pair = [luminance(ink), luminance(behind(picture || parent, view))];
    const ratio = (Math.max(...pair) + 0.05) / (Math.min(...pair) + 0.05);
    if (ratio < LEAST) found.contrast.push(node.textContent.trim().slice(0, 40) + " " + ratio);
    const scale = picture ? picture.getBoundingClientRect().width / picture.viewBox.baseVal.width
                          : 1;
    if (parseFloat(style.fontSize) * scale < SMALLEST) {
      found.small.push(node.textContent.trim() + " " + parseFloat(style.fontSize) * scale);
    }
    if (picture && parent.tagName === "text") {
      const box = picture.getBoundingClientRect(), mine = parent.getBoundingClientRect();
      if (mine.left < box.left - 1 || mine.right > box.right + 1 || mine.top < box.top - 1 ||
          mine.bottom > box.bottom + 1) found.cut.push(node.textContent.trim());
    }
  }
  found.texts = texts;
  return found;
}
"""


def chromium(tool, *arguments):
    """Run the browser without a window; its two outputs."""
    done = subprocess.run(
        [tool("chromium"), "--headless", "--no-sandbox", "--disable-gpu", "--enable-logging=stderr",
         "--disable-background-networking", *map(str, arguments)],
        capture_output=True, encoding="utf-8", errors="replace", timeout=180, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    return done.stdout, done.stderr


@pytest.fixture(scope="module")
def pages(demo_run):
    """The board's page; a sheet of each supply option, and of a faulty row; a letter of each."""
    study, chosen = demo_run.study, {}
    for row, result in study.results.iterrows():
        kind = result["supply_option"] if isinstance(result["supply_option"], str) else "faulty"
        if kind == "faulty" or result["rank"] > 0:
            chosen.setdefault(kind, result["candidate_id"].lower())
    assert len(chosen) == 4
    names = ["board.html", *(f"farms/{name}.html" for name in chosen.values()),
             *(f"offers/{name}.html" for kind, name in chosen.items() if kind != "faulty")]
    return {name: demo_run.folder / name for name in names}


@pytest.fixture(scope="module")
def looked(pages, tool, tmp_path_factory):
    """What the browser finds on every page, opened at the width of a narrow screen."""
    frames = "".join(
        f'<iframe name="{name}" width="{NARROW_PX}" height="800" style="border:0" srcdoc="'
        f'{html.escape(path.read_text(encoding="utf-8"))}"></iframe>'
        for name, path in pages.items())
    script = LOOK.replace("LEAST", str(LEAST_CONTRAST)).replace("SMALLEST", str(SMALLEST_TEXT_PX))
    page = tmp_path_factory.mktemp("look") / "look.html"
    page.write_text(
        f'<!doctype html><meta charset="utf-8"><body>{frames}<pre id="found"></pre><script>{script}'
        'window.onload = () => { const all = {}; document.querySelectorAll("iframe").forEach('
        "f => { all[f.name] = look(f); }); document.getElementById('found').textContent = "
        "JSON.stringify(all); };</script>", encoding="utf-8")
    dom, _ = chromium(tool, "--virtual-time-budget=20000", "--dump-dom", page.as_uri())
    text = re.search(r'<pre id="found">(.*?)</pre>', dom, re.DOTALL).group(1)
    return json.loads(html.unescape(text))


def test_every_page_was_looked_at(looked, pages):
    assert looked.keys() == pages.keys()
    assert all(found["texts"] > 30 for found in looked.values())
    assert looked["board.html"]["texts"] > 800


@pytest.mark.parametrize("fault", ["wide", "contrast", "small", "cut", "anchors"])
def test_narrow_page_has_no_such_fault(looked, fault):
    assert {name: found[fault][:5] for name, found in looked.items() if found[fault]} == {}


def test_headings_step_down_one_at_a_time(looked):
    for name, found in looked.items():
        levels = found["headings"]
        assert levels[0] == 1 and levels.count(1) == 1, name
        assert all(after <= before + 1 for before, after in zip(levels, levels[1:])), name


def test_the_look_finds_faults(tool, tmp_path):
    """Each kind of fault, made on purpose, is found."""
    bad = ('<body style="margin:0"><div style="width:500px;color:#999">pale</div><a href="#x">a</a>'
           '<svg viewBox="0 0 100 20" width="390"><text x="90" y="10" font-size="9">too long'
           '</text></svg><p style="font-size:5px">small</p></body>')
    script = LOOK.replace("LEAST", str(LEAST_CONTRAST)).replace("SMALLEST", str(SMALLEST_TEXT_PX))
    page = tmp_path / "bad.html"
    page.write_text(
        f'<!doctype html><iframe width="390" srcdoc="{html.escape(bad)}"></iframe><pre id="found">'
        f"</pre><script>{script}window.onload = () => {{ document.getElementById('found')"
        ".textContent = JSON.stringify(look(document.querySelector('iframe'))); };</script>",
        encoding="utf-8")
    dom, _ = chromium(tool, "--virtual-time-budget=5000", "--dump-dom", page.as_uri())
    found = json.loads(html.unescape(re.search(r'found">(.*?)</pre>', dom, re.DOTALL).group(1)))
    assert all(found[fault] for fault in ("wide", "contrast", "small", "cut", "anchors"))


def test_console_stays_empty(pages, tool):
    for path in list(pages.values())[:3]:
        _, log = chromium(tool, "--dump-dom", path.as_uri())
        assert "CONSOLE" not in log, path.name


# --- printed --------------------------------------------------------------------------------------

def printed(tool, path, folder):
    """The text of each printed page, its lines without the blank ones and the foot's."""
    out = folder / f"{path.parent.name}-{path.stem}.pdf"
    chromium(tool, "--no-pdf-header-footer", f"--print-to-pdf={out}", path.as_uri())
    done = subprocess.run([tool("pdftotext"), "-layout", str(out), "-"], capture_output=True,
                          encoding="utf-8", timeout=60, check=True)
    box = re.search(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)", out.read_bytes())
    assert [round(float(v)) for v in box.groups()] == list(LETTER_PT)
    return [[" ".join(line.split()) for line in page.splitlines() if line.strip()]
            for page in done.stdout.split("\f")[:-1]]


@pytest.fixture(scope="module")
def board(pages, tool, tmp_path_factory):
    return printed(tool, pages["board.html"], tmp_path_factory.mktemp("print"))


def sections(path):
    """(begins a page, heading) of each section of a page."""
    text = path.read_text(encoding="utf-8")
    found = re.findall(r'<section class="?([^">]*)"?[^>]*>\s*<h[12]>(.*?)</h[12]>|'
                       r"<section id=[^>]*>\s*<h[12]>(.*?)</h[12]>", text)
    return [(not {"same", "caution"} & set(css.split()), html.unescape(one or other))
            for css, one, other in found]


def test_each_topic_begins_a_page(board, pages):
    heads = [head for begins, head in sections(pages["board.html"]) if begins]
    assert len(heads) >= 12
    firsts = [page[0] for page in board]
    assert [first for first in firsts if first in heads] == heads


def test_no_page_ends_with_a_heading_and_all_are_numbered(board, pages):
    text = pages["board.html"].read_text(encoding="utf-8")
    heads = {html.unescape(head) for head in re.findall(
        r"<(?:h[123]|caption)>(.*?)</(?:h[123]|caption)>", text)}
    for number, page in enumerate(board, 1):
        foot = page[-1]
        assert foot.startswith("Fingerprint ") and foot.endswith(f"{number} of {len(board)}")
        assert page[-2] not in heads, page[-2]
        assert len(page) > 6, page  # no page for the last line of the one before it


def test_first_page_says_cost_benefit_and_risk(board):
    first = " ".join(board[0])
    for words in ("What it costs", "What it brings", "What could go wrong", "To decide"):
        assert words in first


def test_no_chart_is_cut_by_the_end_of_a_page(board, pages):
    text = pages["board.html"].read_text(encoding="utf-8")
    charts = re.findall(r'<svg class="chart".*?</svg>', text, re.DOTALL)
    assert charts
    pages_text = [" ".join(page) for page in board]
    for chart in charts:
        words = {html.unescape(" ".join(w.split()))
                 for w in re.findall(r"<text[^>]*>(.*?)</text>", chart, re.DOTALL)}
        words = {word for word in words if "<" not in word and len(word) > 3}
        assert any(all(word in page for word in words) for page in pages_text), words


def test_letter_is_one_page(demo_run, tool, tmp_path):
    longest = sorted((demo_run.folder / "offers").iterdir(), key=lambda p: -p.stat().st_size)
    for path in (longest[0], longest[1], longest[-1]):
        [page] = printed(tool, path, tmp_path)
        text = " ".join(page)
        for words in ("For the cooperative, date", "Member, date", "Still to be approved", "Draft"):
            assert words in text


def test_farm_sheet_is_printed_whole(pages, tool, tmp_path):
    name = next(name for name in pages if name.startswith("farms/"))
    page_list = printed(tool, pages[name], tmp_path)
    assert 3 <= len(page_list) <= 17
    text = " ".join(" ".join(page) for page in page_list)
    for begins, head in sections(pages[name]):
        assert head in text
        assert not begins or any(page[0] == head for page in page_list), head
    assert "Engineer, date" in text and "Member, date" in text
