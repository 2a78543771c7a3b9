"""Whatever is said of a set of farms is said alike in every file and on every page of a run."""

import shutil

import openpyxl
import pandas as pd
import pytest

from batch.columns.portfolio import BUDGET_SETS, OF_A_SET, SET_FARMS
from batch.columns.results import RESULTS
from batch.program.budgeting import BEST_WITHIN, METHODS, STOPS, SUMMED
from batch.program.set_tables import TOGETHER
from batch.program.totals import BEST_SET, IN_BUDGET
from tests.test_pages import Figures

SUMS = [key for key in SUMMED if key not in ("together_npv_usd",)]


def table(folder, name):
    """A CSV file of the run as it is written."""
    return pd.read_csv(folder / f"{name}.csv", encoding="utf-8-sig", dtype=str,
                       keep_default_na=False)


def unit(text) -> float:
    """What the last printed digit counts."""
    return 10.0 ** -len(text.partition(".")[2])


def must_be_sum(whole, parts, what):
    """A printed sum of printed figures: each is rounded to its last digit."""
    parts = [text for text in parts if text]
    slack = 0.5 * (unit(whole) + sum(map(unit, parts))) + 1e-6
    assert abs(float(whole) - sum(map(float, parts))) <= slack, what


def cross(folder):
    """Hold every file of a run that tells of sets to the others. Errors: AssertionError."""
    results, ranking, sets, farms, exchange, totals, budget, waiting = (
        table(folder, name) for name in (
            "results", "ranking", "budget_sets", "set_farms", "set_exchange", "totals", "budget",
            "waiting_list"))
    by_id = results.set_index("candidate_id")
    members = {method: farms[farms["method"] == method] for method in METHODS}
    for mark, method in (("in_budget", STOPS), ("in_best_set", BEST_WITHIN)):
        for name, frame in (("results", results), ("ranking", ranking)):
            marked = frame.loc[frame[mark] == "yes", "candidate_id"]
            assert sorted(marked) == sorted(members[method]["candidate_id"]), (name, mark)
    funded = results[results["funded"] == "yes"]
    assert sorted(funded["candidate_id"]) == sorted(members[STOPS]["candidate_id"])
    for row in members[STOPS].to_dict("records"):
        for key in OF_A_SET:
            assert row[key] == by_id.at[row["candidate_id"], key], (row["candidate_id"], key)
    for row in sets.to_dict("records"):
        mine = members[row["method"]]
        assert float(row["farms"]) == len(mine), row["method"]
        for key in SUMS:
            must_be_sum(row[key], mine[key], ("budget_sets", row["method"], key))
    of_group = totals.set_index("group")
    for group, method in ((IN_BUDGET, STOPS), (BEST_SET, BEST_WITHIN)):
        for key in SUMS:
            must_be_sum(of_group.at[group, key], members[method][key], ("totals", group, key))
    last = ranking[ranking["in_budget"] == "yes"].iloc[-1]
    must_be_sum(last["running_incentive_cost_usd"], funded["incentive_cost_usd"], "running total")
    must_be_sum(budget["funded_now_usd"].iloc[0], funded["incentive_cost_usd"], "budget")
    must_be_sum(budget["waiting_usd"].iloc[0], waiting["asks_usd"], "waiting")
    _cross_exchange(exchange, members)
    _cross_workbook(folder / "result.xlsx", {"Budget sets": (BUDGET_SETS, sets),
                                             "Set farms": (SET_FARMS, farms)})
    _cross_pages(folder, by_id, funded, of_group)


def _cross_exchange(exchange, members):
    """The best set's figure less the ranking's, farm by farm and together."""
    keys = [key for key in exchange if key in OF_A_SET]
    best, line = (members[method].set_index("candidate_id") for method in (BEST_WITHIN, STOPS))
    for row in exchange.to_dict("records"):
        name = row["candidate_id"]
        for key in keys:
            parts = [frame[key] if name == TOGETHER else frame.loc[[name], key]
                     for frame in (best, line) if name == TOGETHER or name in frame.index]
            signs = [1 if frame is best else -1 for frame in (best, line)
                     if name == TOGETHER or name in frame.index]
            texts = [f"{sign * float(text):.{len(text.partition('.')[2])}f}"
                     for sign, part in zip(signs, parts) for text in part]
            must_be_sum(row[key], texts, ("exchange", name, key))


def _cross_workbook(path, sheets):
    """The result workbook's sheets show the same numbers as the files."""
    book = openpyxl.load_workbook(path, read_only=True)
    for name, (sheet, frame) in sheets.items():
        rows = [row for row in book[name].iter_rows(values_only=True)]
        first = next(k for k, row in enumerate(rows) if row and row[0] == sheet.columns[0].header)
        shown = rows[first + 1:first + 1 + len(frame)]
        for texts, values in zip(frame.to_dict("records"), shown, strict=True):
            for column, value in zip(sheet.columns, values):
                text = texts[column.key]
                if column.is_numeric and text:
                    assert abs(float(value) - float(text)) <= 0.5 * unit(text) + 1e-9, (
                        name, column.key)


def _cross_pages(folder, by_id, funded, of_group):
    """The board's sums are those of the funded farms, and each letter has its farm's money."""
    glance = {key: shown for file, row, key, shown, *_ in Figures(
        (folder / "board.html").read_text(encoding="utf-8")).figures
        if (file, row) == ("totals", IN_BUDGET)}
    for key in ("incentive_cost_usd", "added_load_kw", "member_saving_usd_yr"):
        told = float(glance[key].replace("$", "").replace(",", ""))
        assert abs(told - funded[key].astype(float).sum()) <= 0.5 + 0.5 * len(funded), key
    letters = {path.stem: Figures(path.read_text(encoding="utf-8")).figures
               for path in (folder / "offers").glob("*.html")}
    for name in funded["candidate_id"]:
        figures = {key: shown for file, row, key, shown, *_ in letters[name.lower()]
                   if (file, row) == ("results", name)}
        told = float(figures["incentive_usd"].replace("$", "").replace(",", ""))
        assert told == pytest.approx(float(by_id.at[name, "incentive_usd"]), abs=0.5), name


def test_every_file_and_page_agrees_on_every_set(demo_run):
    assert set(SUMS) <= set(RESULTS.by_key)
    cross(demo_run.folder)


@pytest.mark.parametrize("name, row, key", [
    ("results", 0, "funded"), ("set_farms", 3, "incentive_cost_usd"),
    ("budget_sets", 4, "cooperative_npv_usd"), ("set_exchange", 1, "added_load_kw"),
    ("totals", 0, "incentive_cost_usd"), ("budget", 0, "funded_now_usd"),
    ("waiting_list", 1, "asks_usd")])
def test_a_figure_that_differs_is_found(demo_run, tmp_path, name, row, key):
    """The crossing can fail: one figure of one file is changed in a copy."""
    folder = shutil.copytree(demo_run.folder, tmp_path / "run",
                             ignore=shutil.ignore_patterns("farms"))
    changed = table(folder, name)
    if key == "funded":
        row = int(changed.index[changed["funded"] == "yes"][0])
        changed.at[row, key] = "no"
    else:
        changed.at[row, key] = f"{float(changed.at[row, key] or 0) + 1000:.2f}"
    changed.to_csv(folder / f"{name}.csv", index=False, encoding="utf-8-sig")
    with pytest.raises(AssertionError):
        cross(folder)
