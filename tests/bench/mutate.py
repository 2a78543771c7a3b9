"""Random mutants of the formulas: each changes one operator, comparison or constant, and the tests
should notice.

    python -m tests.bench.mutate [NUMBER] [--seed SEED] [--file PATH]

Each mutant is made in a temporary copy of the checkout. The published checks run against it, then
the other test files that name its module. Prints killed or survived; no pass or fail.
"""

import argparse
import ast
import random
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
FOLDERS = ("engineering", "economics", "portfolio", "steps")
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


def killer(copy: Path, module: Path) -> str:
    """The first test that fails on the mutant; blank where it survives."""
    named = [path for path in sorted((copy / "tests").glob("test_*.py"))
             if module.stem in path.read_text(encoding="utf-8")]
    for paths in (["tests/published"], [str(path.relative_to(copy)) for path in named]):
        if not paths:
            continue
        run = subprocess.run(
            [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *paths],
            cwd=copy, env={"PYTHONPATH": str(copy), "PATH": "/usr/bin:/bin"},
            capture_output=True, text=True, check=False)
        if run.returncode < 0:
            raise SystemExit(f"the tests were stopped by signal {-run.returncode}: no answer")
        if run.returncode:
            failed = [line for line in run.stdout.splitlines()
                      if line.startswith(("FAILED", "ERROR"))]
            return failed[0].split(" - ")[0] if failed else "the tests do not run"
    return ""


def main():
    """Print a line for each mutant, and how many survived."""
    parser = argparse.ArgumentParser()
    parser.add_argument("number", nargs="?", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--file", help="one module, as batch/steps/totals.py; else all formulas")
    asked = parser.parse_args()
    files = [Path(asked.file)] if asked.file else [
        path.relative_to(ROOT) for folder in FOLDERS
        for path in sorted((ROOT / "batch" / folder).glob("*.py"))]
    every = [(path, *mutant) for path in files
             for mutant in mutants((ROOT / path).read_text(encoding="utf-8"))]
    chosen = random.Random(asked.seed).sample(every, min(asked.number, len(every)))
    survived = 0
    with tempfile.TemporaryDirectory() as folder:
        copy = shutil.copytree(ROOT, Path(folder) / "copy", ignore=KEPT_OUT)
        for path, line, change, source in chosen:
            kept = (copy / path).read_text(encoding="utf-8")
            (copy / path).write_text(source, encoding="utf-8")
            by = killer(copy, path)
            (copy / path).write_text(kept, encoding="utf-8")
            survived += not by
            print(f"{'killed  ' if by else 'SURVIVED'} {path}:{line} {change}  {by}", flush=True)
    print(f"{survived} of {len(chosen)} survived (seed {asked.seed}, {len(every)} possible)")


if __name__ == "__main__":
    main()
