"""What the developers' page says of the rooms and of the flow through them, made from the source.

    python -m tests.house_page

prints both tables; test_developers.py holds the page to the first.
"""

import ast
from pathlib import Path

from batch.step import drawing
from batch.study import FLOW
from tests.test_house import PACKAGE, ROOMS


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


if __name__ == "__main__":
    print("\n".join([*rooms_table(), "", *drawing(FLOW)]))
