"""Trails: from a figure of the board or of the workbook to cells, rules, prices, rates and tables.

A trail is held to itself: every line that is no end has parts or arithmetic, the printed arithmetic
gives the printed value, and what is no end of a trail may be changed without moving the figure.
"""

import json
import re
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner

from batch.audit import trace
from batch.audit.trace import SHEETS, Tracer
from batch.cli import main
from batch.columns import CANDIDATES, PROGRAM, RESULTS
from batch.findings import StudyError
from batch.reading.header import column_letter
from batch.rules import Rule
from batch.study import run_study
from batch.trail.lines import CELL, FIGURE, PRICE, RATE, RULE, formula, trail_data, trail_text
from tests.test_pages import Figures
from tests.test_worked import evaluated

FARM_KEYS = ("incentive_usd_per_kw", "member_npv_usd", "transformer_kva", "voltage_thd_pct")
FUNDED = "program: farms in the budget"
CELLS = 100


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
        worked = evaluated(plain.replace(" allowance", ""))
        assert abs(worked - value) <= step + 1e-4 * abs(value) + 0.011, (plain, line.value)


def test_every_figure_of_the_boards_first_page_is_walked(demo_run, tracer):
    text = (demo_run.folder / "board.html").read_text(encoding="utf-8")
    first = text[text.index('id="at-a-glance"'):text.index('id="who-pays"')]
    figures = {figure[:3] for figure in Figures(first).figures}
    assert len(figures) > 25
    seen = set()
    for file, row, key in sorted(figures):
        for one in key.split(" - "):
            trail = tracer.trail(tracer.of_file(file, row, one))
            must_end(trail, seen)
            kinds = {line.kind for line in trail.lines}
            assert kinds & {CELL, RULE}, (file, row, one)


def cells_with_figures(tracer):
    """Addresses of numbers on the sheets that have a way back."""
    return [f"{name}!{column_letter(place)}{row}"
            for name in (*SHEETS, "Program totals", "Budget sets", "Cost lines")
            for row, values in enumerate(tracer.rows_of(name), start=1)
            for place, value in enumerate(values)
            if isinstance(value, (int, float)) and not isinstance(value, bool)]


def test_random_cells_of_the_result_workbook_are_walked(tracer):
    cells = cells_with_figures(tracer)
    drawn = np.random.default_rng(5).choice(len(cells), size=CELLS * 2, replace=False)
    walked, seen = 0, set()
    for place in drawn:
        try:
            asked = tracer.of_cell(cells[place])
        except StudyError as fault:
            assert "holds no figure" in str(fault), cells[place]  # above a header, chart's data
            continue
        must_end(tracer.trail(asked), seen)
        walked += 1
        if walked == CELLS:
            break
    assert walked == CELLS


def only_the_ends(inputs, trail, row):
    """The inputs with all other cells of the farm blank, other prices and rates gone, and other
    numbers among the rules changed."""
    ends = {line.id for line in trail.lines if line.kind != FIGURE}
    candidates = inputs.candidates.loc[[row]].copy()
    for key in CANDIDATES.by_key:
        if (CELL, CANDIDATES.name, row, key) not in ends and key != "candidate_id":
            candidates[key] = np.nan if candidates[key].dtype == float else None
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
                rates.loc[place, key] = np.nan if rates[key].dtype == float else None
    return replace(inputs, candidates=candidates, rates=rates,
                   has_error=inputs.has_error.loc[[row]], unit_costs=inputs.unit_costs.loc[prices],
                   rules=inputs.rules.replaced(rules))


@pytest.mark.parametrize("candidate", ["A26-003", "A26-010", "A26-040"])
@pytest.mark.parametrize("key", FARM_KEYS)
def test_what_is_no_end_of_a_trail_moves_nothing(demo_run, tracer, candidate, key):
    asked = tracer.of_file("results", candidate, key)
    trail, row = tracer.trail(asked), asked[2]
    before = demo_run.study.results.at[row, key]
    inputs = only_the_ends(demo_run.study.inputs, trail, row)
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
    assert lines[0]["how"].count(" + ") == len(lines[0]["parts"]) - 1


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
