"""The rules of the house, read from the source."""

import ast
import re
import tomllib
from pathlib import Path

import pytest

import batch
from batch import rules, tables
from batch.cli import main
from batch.columns import EVERY_SHEET, PROGRAM
from batch.findings import CATALOGUE

ROOT = Path(__file__).parents[1]
PACKAGE = Path(batch.__file__).parent
SOURCES = sorted(PACKAGE.rglob("*.py"))
TESTS = sorted((ROOT / "tests").rglob("*.py"))
FORMULAS = [path for path in SOURCES if path.parent.name in ("engineering", "economics")]
LONGEST_FILE, LONGEST_LINE, LONGEST_FUNCTION = 400, 100, 40
# Libraries and the only place that may import each.
HOMES = {"openpyxl": ("batch/reading", "batch/writing/workbook", "batch/audit/stored.py"),
         "pint": "batch/units.py", "jinja2": "batch/writing/pages",
         "matplotlib": "batch/writing/pages/charts.py",
         "click": ("batch/cli.py", "batch/ending.py", "batch/writing/terminal.py"),
         "scipy": "batch/portfolio", "rapidfuzz": "batch/adopting",
         "filelock": "batch/writing/run_place.py"}
# A room imports only from itself and from rooms before it.
ROOMS = ("engineering", "economics", "units", "tables", "shown_text", "study_error", "memory",
         "columns", "price_list", "canonical", "finding_kind", "finding_kinds_season",
         "finding_kinds", "finding_examples", "findings",
         "rules", "step", "run_names", "portfolio", "reading", "adopting", "farm",
         "supply", "money", "program", "study", "trail", "writing", "audit", "ending", "cli",
         "__main__")


def name_of(path):
    return path.relative_to(PACKAGE.parent).as_posix()


def tree_of(path):
    return ast.parse(path.read_text(encoding="utf-8"))


def imported(path):
    """Full names of all modules that a file imports, wherever the import stands."""
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


# --- files ----------------------------------------------------------------------------------------

@pytest.mark.parametrize("path", SOURCES + TESTS, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_file_is_short_clean_and_free_of_machine_paths(path):
    text = path.read_text(encoding="utf-8")
    lines = text.splitlines()
    if "columns" not in path.parts:
        assert len(lines) <= LONGEST_FILE
    unfinished = re.compile(r"\b(" + "TO" + r"DO|FIX" + r"ME|X" + r"XX)\b")
    assert not unfinished.search(text)
    machine = re.compile(r"(?<![\w.])/(?:work|home|opt|Users|root)/|[A-Z]:\\\\Users")
    if path.name != Path(__file__).name:
        assert not machine.search(text)


@pytest.mark.parametrize("folder", [PACKAGE, ROOT / "tests"], ids=lambda p: p.name)
def test_lines_fit(folder):
    long = [f"{path.relative_to(ROOT).as_posix()}:{n}" for path in sorted(folder.rglob("*.py"))
            for n, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
            if len(line) > LONGEST_LINE]
    assert long == []


def code_lines(node):
    """Lines of a function without its docstring and its declaration as a step."""
    doc = node.body[0] if ast.get_docstring(node) else None
    return node.end_lineno - node.lineno + 1 - (doc.end_lineno - doc.lineno + 1 if doc else 0)


def test_functions_are_short():
    long = [(name_of(path), node.name, code_lines(node)) for path in SOURCES
            for node in ast.walk(tree_of(path))
            if isinstance(node, ast.FunctionDef) and code_lines(node) > LONGEST_FUNCTION]
    assert long == []


# --- imports --------------------------------------------------------------------------------------

@pytest.mark.parametrize("library", HOMES)
def test_library_is_imported_in_its_home_only(library):
    homes = (HOMES[library],) if isinstance(HOMES[library], str) else HOMES[library]
    users = {name_of(p) for p in SOURCES if any(m.split(".")[0] == library for m in imported(p))}
    assert users, "the library is used nowhere"
    assert {user for user in users if not user.startswith(homes)} == set()


def room_of(module):
    return module.split(".")[1]


def test_every_import_goes_to_a_room_before():
    wrong, seen = [], set()
    for path in SOURCES:
        mine = path.relative_to(PACKAGE).with_suffix("").parts[0]
        seen.add(mine)
        wrong += [(name_of(path), module) for module in imported(path)
                  if module.startswith("batch.") and room_of(module) in ROOMS
                  and ROOMS.index(room_of(module)) > ROOMS.index(mine)] if mine in ROOMS else []
    assert wrong == []
    assert seen - {"__init__", "data"} == set(ROOMS)


def test_no_test_library_is_imported_by_the_package():
    tools = {"pytest", "hypothesis", "pandapower", "numpy_financial"}
    assert [(name_of(p), m) for p in SOURCES for m in imported(p) if m.split(".")[0] in tools] == []


# --- formulas -------------------------------------------------------------------------------------

# A loop may run over orders, years, months, tiers, blocks or names; these are rows of candidates.
OVER_ROWS = re.compile(r"candidates|designs|farms|\.index\b|shape\[0\]|len\(|\bn\b|tolist")
# Each group that enters a ranking depends on those that entered before it.
IN_TURN = ("settled_ranking.py",)


@pytest.mark.parametrize("folder", ["engineering", "economics", "portfolio"])
def test_no_loop_over_candidates(folder):
    for path in sorted((PACKAGE / folder).glob("*.py")):
        text = path.read_text(encoding="utf-8")
        for word in ("iterrows", "itertuples", ".apply(", ".applymap(", "vectorize(", "frompyfunc"):
            assert word not in text, (path.name, word)
        for node in ast.walk(tree_of(path)):
            is_loop = isinstance(node, ast.While) and path.name not in IN_TURN
            assert not is_loop, f"{path.name}:{node.lineno}: a while loop"
            loops = [node] if isinstance(node, ast.For) else getattr(node, "generators", [])
            over = [ast.unparse(loop.iter) for loop in loops]
            assert path.name in IN_TURN or not any(map(OVER_ROWS.search, over)), (path.name, over)


def public_functions(path):
    return [node for node in tree_of(path).body
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")]


FUNCTIONS = [(path, node) for path in FORMULAS for node in public_functions(path)]


@pytest.mark.parametrize("path, node", FUNCTIONS, ids=lambda v: getattr(v, "name", None))
def test_public_formula_says_what_it_is(path, node):
    doc = ast.get_docstring(node) or ""
    for part in ("Parameters\n----------", "Returns\n-------", "Sources:"):
        assert part in doc or part == "Sources:" and "ources:" in doc, part
    arguments = node.args
    plain = [argument.arg for argument in arguments.posonlyargs + arguments.args]
    assert plain in ([], ["bill"]), "arrays are given by keyword"  # a bill is one object
    documented = doc.split("Parameters\n----------")[1].split("Returns\n-------")[0]
    for argument in arguments.args + arguments.kwonlyargs:
        assert re.search(rf"\b{argument.arg}\b", documented), argument.arg


# --- data -----------------------------------------------------------------------------------------

@pytest.mark.parametrize("name", tables.names())
def test_table_names_its_source_first(name):
    first, second, *_ = tables.text(name).splitlines()
    assert first.startswith("# ") and len(first) > 20
    assert not second.startswith("#")
    widths = {line.count(",") for line in tables.text(name).splitlines()[1:] if '"' not in line}
    assert len(widths) == 1  # every row has every column


@pytest.mark.parametrize("year", rules.years())
def test_rules_of_a_year_fit_the_dictionary(year):
    loaded = rules.load(year)
    assert loaded.year == year and loaded.title
    assert loaded.by_key.keys() == PROGRAM.by_key.keys()
    for key, rule in loaded.by_key.items():
        assert rule.source.strip(), key
        column = PROGRAM.by_key[key]
        if column.is_numeric:
            assert column.minimum <= rule.value <= column.maximum, key
        if column.choices:
            assert rule.value in column.choices, key


def test_keys_are_snake_case_with_units_and_labels_are_unique_on_their_sheet():
    for sheet in EVERY_SHEET:
        labels = [column.label for column in sheet.columns]
        assert len(set(labels)) == len(labels), sheet.name
        for column in sheet.columns:
            assert re.fullmatch(r"[a-z][a-z0-9_]*", column.key), column.key
            assert column.help, column.key
            if column.unit == "%":
                assert column.key.endswith("_pct"), column.key
            if column.kind == "yes/no":
                assert column.default in (None, True, False), column.key


# --- findings -------------------------------------------------------------------------------------

def slugs_in_code():
    """Texts in the package, outside of the catalogue, that are slugs."""
    found = set()
    for path in SOURCES:
        if path.name == "finding_examples.py":
            continue
        tree = tree_of(path)
        if path.name.startswith("finding_kinds"):
            tree.body = [n for n in tree.body if not (
                isinstance(n, ast.Assign) and ast.unparse(n.targets[0]) == "CATALOGUE")]
        found |= {node.value for node in ast.walk(tree)
                  if isinstance(node, ast.Constant) and isinstance(node.value, str)}
    return found


def test_every_kind_of_finding_is_made_somewhere():
    assert set(CATALOGUE) - slugs_in_code() == set()


def test_every_slug_in_code_is_in_the_catalogue():
    """Slugs are the first texts given to the functions that add or report findings."""
    used = set()
    for path in SOURCES:
        for node in ast.walk(tree_of(path)):
            called = node.func if isinstance(node, ast.Call) else None
            name = getattr(called, "attr", getattr(called, "id", ""))
            if name in ("add", "report", "outside", "_add", "_need", "_unknown_name"):
                used |= {a.value for a in node.args if isinstance(a, ast.Constant)
                         and re.fullmatch(r"[a-z]+(-[a-z]+)+", str(a.value))}
    assert len(used) > 20 and used - set(CATALOGUE) == set()


@pytest.mark.parametrize("slug", CATALOGUE)
def test_kind_of_finding_is_whole(slug):
    kind = CATALOGUE[slug]
    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", slug)
    assert kind.severity in ("error", "watch", "note")
    assert kind.cause.endswith(".") and kind.remedy.endswith(".") and kind.title[0].isupper()


# --- versions -------------------------------------------------------------------------------------

def test_lowest_versions_are_those_that_the_project_allows():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    allowed = project["dependencies"] + project["optional-dependencies"]["test"]
    tried = (ROOT / ".ci" / "lowest.txt").read_text(encoding="utf-8").splitlines()
    assert {each.replace(">=", "==") for each in allowed} - set(tried) == set()


# --- documents ------------------------------------------------------------------------------------

def test_readme_mentions_every_command():
    readme = ROOT / "README.md"
    if not readme.exists():
        pytest.skip("there is no README yet")
    text = readme.read_text(encoding="utf-8")
    assert [name for name in main.commands if f"farmbatch {name}" not in text] == []
