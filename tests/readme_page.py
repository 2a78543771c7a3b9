"""What the README shows of the demo, made from a run of it: the terminal's texts and a picture.

    python -m tests.readme_page

runs the demo and writes the texts into README.md and, with Chromium, the first page for the board
into input_workbooks/demo_board.png; test_readme.py holds all of them to the demo.
"""

import html
import re
import subprocess
import tempfile
from pathlib import Path

from PIL import Image, ImageChops
from PIL.PngImagePlugin import PngInfo

from batch.audit.explain import explain_text
from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.run_folder import write_run
from batch.writing.terminal import run_text
from tests.conftest import DEMO, ROOT, tool
from tests.house_page import block

PAGE = ROOT / "README.md"
PICTURE = ROOT / "input_workbooks" / "demo_board.png"
PRINTED = "Description"  # the picture's own note of what is printed on it
SHOWN_LINES = 4  # of each list of the terminal
EXPLAINED, OF_FARM = "shaft_power_hp", "A26-013"
DOTS_PER_INCH, COLOURS, ABOVE_THE_FOOT, MARGIN = 110, 64, 0.93, 12


def output_block(study, folder: Path) -> str:
    """What a run of the demo prints; long lists are cut, and what is cut is counted."""
    shown = []
    for part in run_text(study, Path("out") / folder.name).strip("\n").split("\n\n"):
        lines = part.split("\n")
        if len(lines) > 2 * SHOWN_LINES:
            lines[SHOWN_LINES:] = [f"[{len(lines) - SHOWN_LINES} more lines]"]
        shown.append("\n".join(lines))
    return "\n".join(["```text", "\n\n".join(shown), "```"])


def explained_block(run: Path) -> str:
    """A figure of the demo explained: the command and what it prints."""
    return "\n".join([
        "```sh", f"farmbatch explain {EXPLAINED} --run out/{run.name} --candidate {OF_FARM}", "```",
        "", "```text", explain_text(EXPLAINED, run, OF_FARM), "```"])


def plain(markup: str) -> str:
    """The words of a piece of a page."""
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", markup)).split())


def first_page(board: str) -> str:
    """The board's first page without its table of contents, which is not printed."""
    return board.split('id="at-a-glance">')[1].split("<nav")[0]


def picture_block(board: str) -> str:
    """The picture, with the page's large figures for those who do not see it."""
    figures = first_page(board).split('<ul class="numbers">')[1].split("</ul>")[0]
    said = ". ".join(plain(figure) for figure in re.findall(r"<li>(.*?)</li>", figures))
    place = PICTURE.relative_to(ROOT).as_posix()
    return f"![First page for the board of the demo. {said}.]({place})"


def draw(board: Path):
    """Print the board's page with Chromium and keep its first page, without the paper's edge."""
    with tempfile.TemporaryDirectory() as folder:
        paper = Path(folder) / "board"
        subprocess.run([tool("chromium"), "--headless", "--no-sandbox", "--disable-gpu",
                        "--disable-background-networking", "--no-pdf-header-footer",
                        f"--print-to-pdf={paper}.pdf", board.resolve().as_uri()],
                       check=True, capture_output=True, timeout=180)
        subprocess.run([tool("pdftoppm"), "-png", "-singlefile", "-r", str(DOTS_PER_INCH),
                        f"{paper}.pdf", str(paper)], check=True, capture_output=True, timeout=60)
        page = Image.open(f"{paper}.png").convert("RGB")
    page = page.crop((0, 0, page.width, int(page.height * ABOVE_THE_FOOT)))
    left, top, right, low = ImageChops.invert(page).getbbox()
    page = page.crop((left - MARGIN, top - MARGIN, right + MARGIN, low + MARGIN))
    note = PngInfo()
    note.add_itxt(PRINTED, plain(first_page(board.read_text(encoding="utf-8"))))
    page.quantize(COLOURS, dither=Image.Dither.NONE).save(PICTURE, optimize=True, pnginfo=note)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as out:
        demo = run_study(validate(DEMO))
        run = write_run(demo, Path(out), overwrite=False, options={})
        draw(run / "board.html")
        readme = PAGE.read_text(encoding="utf-8")
        made = {"output": output_block(demo, run), "explained": explained_block(run),
                "picture": picture_block((run / "board.html").read_text(encoding="utf-8"))}
        for name, text in made.items():
            readme = readme.replace(f"<!-- {name} -->\n{block(readme, name)}\n<!-- end",
                                    f"<!-- {name} -->\n{text}\n<!-- end")
        PAGE.write_text(readme, encoding="utf-8", newline="")
