"""Random mutants of the formulas: each changes one operator, comparison or constant, and the tests
should notice.

    python -m tests.bench.mutate [NUMBER] [--seed SEED] [--file PATH]

Each mutant is made in a temporary copy of the checkout. The test files that import its module run
against it, then the published checks, then the files that say its name. A test kills a mutant only
if it passes without it; one that fails anyway is named and left out. Prints killed or survived; no
pass or fail. "Survived" says that these tests are silent, not that all are.
"""

import argparse
import ast
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
FOLDERS = ("engineering", "economics", "portfolio", "farm", "supply", "money", "program")
KEPT_OUT = shutil.ignore_patterns(".git", ".venv", "__pycache__", ".pytest_cache", ".hypothesis")
OPERATORS = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
             ast.Pow: ast.Mult}
COMPARISONS = {ast.Lt: ast.GtE, ast.LtE: ast.Lt, ast.Gt: ast.LtE, ast.GtE: ast.Gt,
               ast.Eq: ast.NotEq, ast.NotEq: ast.Eq}
SIGNS = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/", ast.Pow: "**"}
SIGNS |= {ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "==", ast.NotEq: "!="}
PERCENT = 3  # what a constant is changed by


def mutants(source: str) -> list[tuple[int, str, str]]:
    """Every mutant of a source text as (line, what is changed, new source)."""
    tree, found = ast.parse(source), []
    starts = [0]
    for line in source.splitlines(keepends=True):
        starts.append(starts[-1] + len(line.encode()))
    text = source.encode()

    def place(line, column):
        return starts[line - 1] + column

    def put(line, at, old, new):
        changed = text[:at] + new.encode() + text[at + len(old.encode()):]
        found.append((line, f"{old} to {new}", changed.decode()))

    def between(left, right, kind, other):
        """Swap the sign that stands between two operands."""
        first, last = place(left.end_lineno, left.end_col_offset), place(
            right.lineno, right.col_offset)
        at = text.find(SIGNS[kind].encode(), first, last)
        if at >= 0:
            put(left.end_lineno, at, SIGNS[kind], SIGNS[other])

    for node in ast.walk(tree):
        if isinstance(node, ast.BinOp) and type(node.op) in OPERATORS:
            between(node.left, node.right, type(node.op), OPERATORS[type(node.op)])
        elif isinstance(node, ast.Compare) and type(node.ops[0]) in COMPARISONS:
            between(node.left, node.comparators[0], type(node.ops[0]),
                    COMPARISONS[type(node.ops[0])])
        elif (isinstance(node, ast.Constant) and type(node.value) in (int, float)
              and node.value not in (0, 1, 2, 3) and node.lineno == node.end_lineno):
            old = text[place(node.lineno, node.col_offset):
                       place(node.end_lineno, node.end_col_offset)].decode()
            put(node.lineno, place(node.lineno, node.col_offset), old,
                repr(node.value * (1 + PERCENT / 100)))
    return found


def imported(path: Path) -> set[str]:
    """Full names of the modules, and of what is taken from them, that a file imports."""
    names = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            names |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return names


def groups_of_tests(module: Path) -> list[list[str]]:
    """Test files for a module, nearest first: they import it, are published, or say its name."""
    published = sorted((ROOT / "tests" / "published").glob("test_*.py"))
    others = sorted((ROOT / "tests").glob("test_*.py"))
    full_name = ".".join(module.with_suffix("").parts)
    name = re.compile(rf"\b{module.stem}\b")
    near = [path for path in published + others if full_name in imported(path)]
    named = [path for path in others if name.search(path.read_text(encoding="utf-8"))]
    groups = [near, [path for path in published if path not in near],
              [path for path in named if path not in near]]
    return [[str(path.relative_to(ROOT)) for path in group] for group in groups if group]


def first_failure(copy: Path, tests: list[str], left_out: set[str]) -> str:
    """The first test that fails; blank where all pass."""
    run = subprocess.run(
        [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider",
         *(f"--deselect={test}" for test in sorted(left_out)), *tests],
        cwd=copy, env={**os.environ, "PYTHONPATH": str(copy)},
        capture_output=True, text=True, check=False)
    if run.returncode < 0:
        raise SystemExit(f"the tests were stopped by signal {-run.returncode}: no answer")
    if run.returncode in (0, 5):  # 5: all were left out
        return ""
    failed = re.search(r"^(?:FAILED|ERROR) (.+?\.py(?:::[^\[\n]+?(?:\[.*?\])?)?)(?: - .*)?$",
                       run.stdout, re.MULTILINE)
    if not failed:
        raise SystemExit(f"the tests do not run:\n{run.stdout[-2000:]}{run.stderr[-2000:]}")
    return failed[1]


def killer(copy: Path, module: Path, source: str, left_out: set[str]) -> str:
    """The first test that fails on the mutant alone; blank where it survives. Tests that fail
    without it are added to `left_out`."""
    original = (copy / module).read_text(encoding="utf-8")
    for tests in groups_of_tests(module):
        for _ in range(100):
            (copy / module).write_text(source, encoding="utf-8")
            failed = first_failure(copy, tests, left_out)
            (copy / module).write_text(original, encoding="utf-8")
            if not failed:
                break
            if not first_failure(copy, [failed], set()):
                return failed
            print(f"left out, because it fails without a mutant: {failed}", flush=True)
            left_out.add(failed)
    return ""


def main():
    """Print a line for each mutant, and how many survived."""
    parser = argparse.ArgumentParser()
    parser.add_argument("number", nargs="?", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--file", help="one module, as batch/program/totals.py; else all formulas")
    asked = parser.parse_args()
    files = [Path(asked.file)] if asked.file else [
        path.relative_to(ROOT) for folder in FOLDERS
        for path in sorted((ROOT / "batch" / folder).glob("*.py"))]
    every = [(path, *mutant) for path in files
             for mutant in mutants((ROOT / path).read_text(encoding="utf-8"))]
    chosen = random.Random(asked.seed).sample(every, min(asked.number, len(every)))
    survived, left_out = 0, set()
    with tempfile.TemporaryDirectory() as folder:
        copy = shutil.copytree(ROOT, Path(folder) / "copy", ignore=KEPT_OUT)
        for path, line, change, source in chosen:
            by = killer(copy, path, source, left_out)
            survived += not by
            print(f"{'killed  ' if by else 'SURVIVED'} {path}:{line} {change}  {by}", flush=True)
    print(f"{survived} of {len(chosen)} survived (seed {asked.seed}, {len(every)} possible)")


if __name__ == "__main__":
    main()
