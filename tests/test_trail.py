"""Trails: from a figure of the board or of the workbook to cells, rules, prices, rates and tables.

A trail is held to itself: every line that is no end has parts or arithmetic, the printed arithmetic
gives the printed value, and what is no end of a trail may be changed without moving the figure.
"""

import json
import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from batch.audit import trace
from batch.audit.trace import SHEETS, Tracer
from batch.cli import main
from batch.columns import CANDIDATES, FEEDERS, PROGRAM, RATES, RESULTS
from batch.columns.program import REVENUE
from batch.findings import StudyError
from batch.reading.header import column_letter
from batch.rules import Rule
from batch.study import run_study
from batch.tables import table
from batch.trail.farm_figures import FarmFigures
from batch.trail.lines import (
    CELL,
    FIGURE,
    PRICE,
    RATE,
    RULE,
    Line,
    Trail,
    formula,
    row_names,
    trail_data,
    trail_text,
)
from tests.test_made_of import same
from tests.test_pages import Figures
from tests.test_worked import evaluated

FARM_KEYS = ("incentive_usd_per_kw", "member_npv_usd", "transformer_kva", "voltage_thd_pct")
FUNDED = "program: farms in the budget"
CELLS = 200
TABLE_SHEETS = ("Program totals", "Budget sets", "Budget limits", "Shared line parts",
                "Line answers", "Line crossover", "Feeders", "Drivers", "Benefit by year",
                "Dearest rules", "Cost lines", "Approvals")
OF_ONE_FARM = ("farm", "design", "checks", "cost_shares", "cost_lines", "cash_flows", "approvals")
# What a study says of the chosen options alone, and which they are: that rests on all options.
TOLD_LATE = ("is_chosen", "member_irr_pct", "breakeven_hours",
             "breakeven_line_npv_ft")


@pytest.fixture(scope="module")
def tracer(demo_run):
    return Tracer(demo_run.study, demo_run.folder / "result.xlsx")


def must_end(trail, seen):
    """Every line that is no end has something under it, and its arithmetic gives its value; those
    that were `seen` are not worked again."""
    marks = trail.marks
    for line in trail.of(FIGURE):
        if line.id in seen:
            continue
        seen.add(line.id)
        assert line.parts or line.arithmetic or line.source, line
        assert all(part in marks for part in line.parts), line
        if line.arithmetic is None or not re.match(r"-?[\d,.]+", line.value):
            continue
        plain = formula(replace(line), {})
        if re.search(r"unknown|without a price|average", plain):
            continue
        if " by year" in plain or not plain:
            continue
        shown = re.match(r"-?[\d,]+(\.\d+)?", line.value)
        value = float(shown.group().replace(",", ""))
        step = 0.5 * 10.0 ** -len((shown.group(1) or ".")[1:])
        worked = evaluated(plain)
        assert abs(worked - value) <= step + 1e-4 * abs(value) + 0.011, (plain, line.value)


@pytest.fixture(scope="module")
def board(demo_run, tracer):
    """The trail of every figure of the board's first page."""
    text = (demo_run.folder / "board.html").read_text(encoding="utf-8")
    first = text[text.index('id="at-a-glance"'):text.index('id="who-pays"')]
    figures = {figure[:3] for figure in Figures(first).figures}
    assert len(figures) > 25
    return {(file, row, one): tracer.trail(tracer.of_file(file, row, one))
            for file, row, key in sorted(figures) for one in key.split(" - ")}


def test_every_figure_of_the_boards_first_page_is_walked(board):
    seen = set()
    for figure, trail in board.items():
        must_end(trail, seen)
        kinds = {line.kind for line in trail.lines}
        assert kinds & {CELL, RULE}, figure


def cells_with_figures(tracer):
    """Addresses of numbers on the sheets that have a way back."""
    return [f"{name}!{column_letter(place)}{row}"
            for name in (*SHEETS, *TABLE_SHEETS)
            for row, values in enumerate(tracer.rows_of(name), start=1)
            for place, value in enumerate(values)
            if isinstance(value, (int, float)) and not isinstance(value, bool)]


@pytest.fixture(scope="module")
def cells(tracer):
    """The trails of random cells of the result workbook, and of some of each smaller sheet."""
    tracer.read((*SHEETS, *TABLE_SHEETS))
    every = cells_with_figures(tracer)
    random = np.random.default_rng(5)
    drawn = [every[place] for place in random.choice(len(every), size=CELLS * 2, replace=False)]
    for name in TABLE_SHEETS:
        mine = [cell for cell in every if cell.startswith(f"{name}!")]
        drawn[:0] = [mine[place] for place in random.choice(len(mine), size=2)]
    trails = {}
    for cell in drawn:
        try:
            trails[cell] = tracer.trail(tracer.of_cell(cell))
        except StudyError as fault:
            assert "holds no figure" in str(fault), cell  # above a header, chart's data
        if len(trails) == CELLS:
            break
    return trails


def test_random_cells_of_the_result_workbook_are_walked(cells):
    assert len(cells) == CELLS
    seen = set()
    for trail in cells.values():
        must_end(trail, seen)


def test_every_figure_of_the_smaller_tables_is_worked(tracer):
    """Each figure's own line; what it is made of is worked in the other trails."""
    for file, (sheet, frame) in tracer.tables.items():
        for name in row_names(sheet, frame) if file != "cost_lines" else ():
            for column in sheet.columns:
                if column.is_numeric:
                    line = tracer.program.line((FIGURE, file, name, column.key))
                    parts = (Line(part, CELL, str(part), "", "") for part in line.parts)
                    must_end(Trail((line.id,), (line, *parts)), set())


def test_a_chance_is_a_number_of_drawn_futures(demo_run, tracer):
    """A share of futures is one of so many, and each future is counted whole."""
    study = demo_run.study
    assert study.portfolio.draws == study.inputs.rules["uncertainty_draws"]
    ranked = study.results[study.results["rank"].notna()]
    assert len(ranked) > 20
    for row, pct in ranked["budget_chance_pct"].items():
        line = tracer.farms.line((FIGURE, "farm", int(row), "budget_chance_pct"))
        held, draws = map(int, re.fullmatch(r"100 x (\d+) futures / (\d+)",
                                            formula(line, {})).groups())
        assert draws == study.portfolio.draws and 100 * held / draws == pct
        assert f"seed {study.inputs.rules['uncertainty_seed']:g}" in line.source


@pytest.mark.parametrize("order", ["allowance then percent", "percent then allowance"])
def test_the_split_of_an_item_counts_all_that_is_free(demo_run, order):
    """Free feet, a free size and years of revenue are taken off before or after the split; a cap
    per farm is either told or leaves the item to its row of cost_shares.csv."""
    rules = {"share_order": order, "allowance_basis": REVENUE, "allowance_years": 0.4,
             "line_free_single_phase_ft": 400.0, "transformer_free_kva": 25.0,
             "share_line_member_pct": 50.0, "share_transformer_member_pct": 50.0}
    inputs = demo_run.study.inputs
    farms = inputs.candidates.index[:8]
    study = run_study(replace(
        inputs, candidates=inputs.candidates.loc[farms], has_error=inputs.has_error.loc[farms],
        rules=inputs.rules.replaced({key: Rule(value, "test") for key, value in rules.items()})))
    figures, with_allowance = FarmFigures(study), 0
    for design in study.options.index:
        for key in ("member_line_usd", "member_transformer_usd"):
            line = figures.line((FIGURE, "design", design, key))
            parts = (Line(part, CELL, str(part), "", "") for part in line.parts)
            must_end(Trail((line.id,), (line, *parts)), set())
            with_allowance += line.arithmetic is not None and any(
                part[-1].startswith("allowance_") for part in line.parts)
    assert with_allowance > 10


# --- from the ends alone --------------------------------------------------------------------------

def only_the_ends(inputs, ends):
    """The inputs with all cells blank that are no ends, farms without any, and prices and rates
    that are none, gone, and other numbers among the rules changed."""
    def blanked(sheet, frame, names):
        is_end = {key: [key in names or (CELL, sheet.name, row, key) in ends
                        for row in frame.index] for key in frame}
        return pd.DataFrame({key: frame[key].where(
            is_end[key], np.nan if frame[key].dtype == float else None) for key in frame})

    rows = sorted({end[2] for end in ends if end[:2] == (CELL, CANDIDATES.name)})
    rules = {}
    for key, rule in inputs.rules.by_key.items():
        column = PROGRAM.by_key[key]
        if (RULE, key) not in ends and type(rule.value) is float and np.isfinite(rule.value):
            rules[key] = Rule(min(max(rule.value * 1.07, column.minimum), column.maximum), "other")
    prices = [place for place in inputs.unit_costs.index if (PRICE, place) in ends]
    rates = inputs.rates.copy()
    for place in rates.index:
        for key in rates:
            if (RATE, place, key) not in ends and key != "rate_id":
                rates.loc[place, key] = (np.nan if rates[key].dtype == float
                                         else RATES.by_key[key].default)
    return replace(
        inputs, candidates=blanked(CANDIDATES, inputs.candidates.loc[rows],
                                   ("candidate_id", "rate_id")),
        feeders=blanked(FEEDERS, inputs.feeders, ("feeder_id",)), rates=rates,
        has_error=inputs.has_error.loc[rows], unit_costs=inputs.unit_costs.loc[prices],
        rules=inputs.rules.replaced(rules))


def of_design(tracer, one):
    """The id of a farm's figure in its own design, which may not be chosen where rules that are no
    ends are changed; None for what tells of the choice, and of other farms."""
    _, of, place, key = one
    design = tracer.farms.chosen.get(place) if of == "farm" else place if of == "design" else None
    in_design = design in tracer.study.options.index and key in tracer.study.options
    return (FIGURE, "design", design, key) if in_design and key not in TOLD_LATE else None


def must_be_recomputed(tracer, trails):
    """All figures of farms in some trails, worked again by a study of their ends alone. What stands
    above them, as sums, is worked from them by its printed arithmetic (`must_end`)."""
    lines = {line.id: line for trail in trails for line in trail.lines}
    ends = {one for one in lines if one[0] != FIGURE}
    study = tracer.study
    again = run_study(only_the_ends(study.inputs, ends))
    asked = {of_design(tracer, one) for one in lines if one[0] == FIGURE} - {None}
    kept = {one: now for one in asked if (now := with_the_same_builders(study, again, one))}
    assert len(kept) > 0.9 * len(asked)  # of the others another variant is best
    by_key = {}
    for (_, _, design, key), now in kept.items():
        by_key.setdefault(key, []).append((study.options.at[design, key], *now))
    moved = {key: values for key, values in by_key.items()
             if not same(*(pd.Series([pair[n] for pair in values]) for n in (0, 1)))}
    assert not moved
    return kept


def with_the_same_builders(study, again, one):
    """The value of a design's figure in another study, where it builds its line with the same
    farms if that study has them; nothing where another variant is best there."""
    _, _, design, key = one
    variants, options = len(table("supply_variants")), again.sets.options
    builders = study.options.at[design, "builders"]
    number = again.sets.number_of.get((design // variants, builders))
    there = None if number is None else number * variants + design % variants
    if there in options.index and key in options:
        return (options.at[there, key],)
    return (again.options.at[design, key],) if design in again.options.index else None


def test_the_boards_first_page_comes_of_its_ends(tracer, board):
    assert len(must_be_recomputed(tracer, list(board.values()))) > 5_000


def test_random_cells_come_of_their_ends(tracer, cells):
    """Those of single farms, under which little else stands."""
    own = [trail for trail in cells.values() if all(
        line.kind != FIGURE or line.id[1] in OF_ONE_FARM for line in trail.lines)
        and len({line.farm for line in trail.of(FIGURE)}) < 10]
    assert len(own) > CELLS / 2
    assert len(must_be_recomputed(tracer, own)) > 1_000


@pytest.mark.parametrize("candidate", ["A26-003", "A26-010", "A26-040"])
@pytest.mark.parametrize("key", FARM_KEYS)
def test_what_is_no_end_of_a_trail_moves_nothing(demo_run, tracer, candidate, key):
    asked = tracer.of_file("results", candidate, key)
    trail, row = tracer.trail(asked), asked[2]
    before = demo_run.study.results.at[row, key]
    ends = {line.id for line in trail.lines if line.kind != FIGURE and (
        line.kind != CELL or line.id[1] != CANDIDATES.name or line.id[2] == row)}
    inputs = only_the_ends(demo_run.study.inputs, ends)
    after = run_study(inputs).results.at[row, key]
    assert after == pytest.approx(before, rel=1e-9, nan_ok=True)


@pytest.fixture
def called(demo_run, monkeypatch):
    """What a command says of the demo's run, which is not studied again for each."""
    monkeypatch.setattr(trace, "run_study", lambda _: demo_run.study)
    monkeypatch.setattr(trace, "validate", lambda path: path)
    return lambda *args: CliRunner().invoke(main, [str(arg) for arg in args])


def test_command_traces_a_key_a_row_and_a_cell(called, demo_run):
    folder = demo_run.folder
    said = called("explain", "total_head_ft", "--run", folder, "--candidate", "A26-003", "--trace")
    assert said.exit_code == 0 and "Candidates!" in said.stdout and "Total head = " in said.stdout
    said = called("explain", "incentive_usd", "--run", folder, "--of", "totals", FUNDED, "--json")
    lines = json.loads(said.stdout)
    assert {line["kind"] for line in lines} >= {FIGURE, CELL, RULE}
    # Beside the sums of the farms the figure that tells which farms they are.
    assert lines[0]["how"].count(" + ") == len(lines[0]["parts"]) - 2


@pytest.mark.parametrize("args, words", [
    (("total_head_ft", "--trace"), "Add --run FOLDER"),
    (("total_head_ft", "--trace", "--run", "FOLDER"), "--candidate ID"),
    (("total_haed_ft", "--trace", "--run", "FOLDER", "--candidate", "A26-003"), "total_head_ft"),
    (("total_head_ft", "--trace", "--run", "FOLDER", "--candidate", "A26-0033"), "A26-003"),
    (("Ranking!A1", "--trace", "--run", "FOLDER"), "holds no figure"),
    (("Rankin!A9", "--trace", "--run", "FOLDER"), "Closest is 'Ranking'"),
    (("Candidates!T9999", "--trace", "--run", "FOLDER"), "holds no figure"),
    (("member_usd", "--run", "FOLDER", "--of", "cash_flows", "A26-003|x"), "no row 'A26-003|x'"),
    (("member_usd", "--run", "FOLDER", "--of", "cash_flows", "A26-003|99"), "no row"),
    (("member_usd", "--run", "FOLDER", "--of", "cash_flows", "A26-007|1"), "no row"),
    (("foo", "--run", "FOLDER", "--of", "checks", "A26-003|starting dip"), "no key 'foo'"),
    (("farms", "--run", "FOLDER", "--of", "totals", "program"), "no row 'program'"),
    (("farms", "--run", "FOLDER", "--of", "total", FUNDED), "no file 'total'")])
def test_what_cannot_be_traced_is_said(called, demo_run, args, words):
    said = called("explain", *(demo_run.folder if arg == "FOLDER" else arg for arg in args))
    assert said.exit_code == 3 and words in said.stderr


def test_a_trail_is_printed_with_each_mark_once(tracer):
    trail = tracer.trail(tracer.of_file("results", "A26-003", "incentive_usd_per_kw"))
    marks = list(trail.marks.values())
    assert len(marks) == len(set(marks)) == len(trail_data(trail))
    first = trail_text(trail).splitlines()[0]
    assert RESULTS.by_key["incentive_usd_per_kw"].label in first and "results.csv" in first


def test_a_shared_lines_part_is_followed_stretch_by_stretch(demo_run, tracer):
    """Of each stretch a farm pays one part among the farms beyond it, and an equal part of the job:
    worked here from the printed line alone."""
    shared = demo_run.study.portfolio.shared
    paying = shared[(shared["pays"] == 1) & (shared["members"] > 1)]
    assert len(paying) > 2
    for farm in paying["candidate_id"]:
        trail = tracer.trail(tracer.of_file("results", farm, "trunk_part_usd"))
        [line] = [line for line in trail.of(FIGURE) if line.id == trail.asked[0]]
        feet = re.findall(r"([\d.]+) ft / (\d+) farms", formula(line, {}))
        foot_usd, job_usd, builders = re.search(
            r"\) x ([\d.]+) USD \+ ([\d.]+) USD / (\d+)$", formula(line, {})).groups()
        usd = sum(float(ft) / int(n) for ft, n in feet) * float(foot_usd)
        usd += float(job_usd) / int(builders)
        assert usd == pytest.approx(float(line.value.replace(",", "").split()[0]), abs=0.02)


def test_a_farm_whose_name_is_typed_twice_is_the_one_that_is_studied(demo_run, tracer):
    """Row 35 repeats the name of row 10, and is not assessed."""
    results = demo_run.study.results
    assert list(results.index[results["candidate_id"] == "A26-006"]) == [10, 35]
    for asked in (tracer.of_file("results", "A26-006", "project_cost_usd"),
                  tracer.of_file("cost_shares", "A26-006|line", "item_cost_usd")):
        places = {line.id[2] for line in tracer.trail(asked).of(FIGURE) if line.id[1] == "farm"}
        assert 10 in places and 35 not in places


def test_unknown_amounts_are_never_printed_as_numbers(tracer):
    """A26-001 has no price for its drive, so that no flow is known."""
    text = trail_text(tracer.trail(tracer.of_file("cash_flows", "A26-001|1", "member_usd")))
    assert "not known" in text and not re.search(r"\bnan\b", text, re.IGNORECASE)
