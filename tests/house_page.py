"""What the developers' page says of the rooms and of the flow through them, made from the source.

    python -m tests.house_page

writes both tables into DEVELOPERS.md; test_developers.py holds the page to them.
"""

import ast
from pathlib import Path

from batch.step import drawing
from batch.study import FLOW
from tests.test_house import PACKAGE, ROOMS

PAGE = PACKAGE.parent / "DEVELOPERS.md"


def first_line(path: Path) -> str:
    """The first sentence of a module's docstring, on one line."""
    text = " ".join((ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or "").split())
    return text.split(". ")[0].rstrip(".")


def rooms_table() -> list[str]:
    """A line for each room in the order in which rooms may import, with its modules."""
    lines = ["| room | what is in it | modules |", "| --- | --- | --- |"]
    for name in ROOMS:
        folder, module = PACKAGE / name, PACKAGE / f"{name}.py"
        if module.exists():
            lines.append(f"| `{name}.py` | {first_line(module)} | |")
            continue
        for place in [folder, *sorted(p for p in folder.iterdir() if (p / "__init__.py").exists())]:
            modules = sorted(p.stem for p in place.glob("*.py") if p.stem != "__init__")
            lines.append(f"| `{place.relative_to(PACKAGE).as_posix()}/` "
                         f"| {first_line(place / '__init__.py')} | {', '.join(modules)} |")
    return lines


def block(page: str, name: str) -> str:
    """What stands between two marks of the page."""
    return page.split(f"<!-- {name} -->\n")[1].split(f"\n<!-- end of {name} -->")[0]


def blocks() -> dict[str, str]:
    """What must stand between the marks, by their names."""
    return {"rooms": "\n".join(rooms_table()), "flow": "\n".join(drawing(FLOW))}


if __name__ == "__main__":
    page = PAGE.read_text(encoding="utf-8")
    for name, text in blocks().items():
        before, rest = page.split(f"<!-- {name} -->\n")
        after = rest.split(f"<!-- end of {name} -->")[1]
        page = f"{before}<!-- {name} -->\n{text}\n<!-- end of {name} -->{after}"
    PAGE.write_text(page, encoding="utf-8")
