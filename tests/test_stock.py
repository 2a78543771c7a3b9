"""Crews and stock: what rows of the Limits sheet count, how the best set keeps them, and what the
funded farms need bought."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from batch.audit.trace import Tracer
from batch.columns import LIMITS
from batch.columns.limits import Counted, counted, in_words, unit_of
from batch.findings import Findings
from batch.money.quantities import SHARED_JOB, SHARED_LINE, _shared
from batch.program import budgeting, standing
from batch.program.stock import buying_list
from batch.reading.validate import examine, validate
from batch.rules import Rule
from batch.study import run_study
from batch.writing.portfolio_tables import portfolio_tables
from tests.test_trail import must_end
from tests.workbooks.make import candidate_workbook, findings, read

LINE_FT, OWN_FT = 2_000, 500


# --- what a row says ------------------------------------------------------------------------------

@pytest.mark.parametrize("text, parts", [
    ("line", [Counted("line")]),
    ("Line job, overhead", [Counted("line job", line_build="overhead")]),
    ("line, three phase underground", [Counted("line", phases=3, line_build="underground")]),
    ("transformer of 50 kVA, single-phase", [Counted("transformer", 50.0, 1)]),
    ("drive, 75hp + drive, 100", [Counted("drive", 75.0), Counted("drive", 100.0)]),
    ("line reactor 3 %, 50 hp", [Counted("line reactor 3 %", 50.0)]),
    ("0.001 x line + 2 x motor change", [Counted("line", factor=0.001),
                                         Counted("motor change", factor=2.0)])])
def test_words_of_a_row(text, parts):
    assert list(counted(text)) == parts
    # What the results print can be typed again.
    again = " + ".join(in_words(p.item, p.size, p.phases, p.line_build) for p in parts)
    assert list(counted(again)) == [replace(part, factor=None) for part in parts]


@pytest.mark.parametrize("text", ["lines", "drive, overhead", "line, 50", "drive, 50 kVA", "line +",
                                  "line, single-phase, three-phase", "-1 x line"])
def test_words_that_say_nothing_are_told(text):
    with pytest.raises(ValueError):
        counted(text)


def test_units_of_what_is_counted():
    assert unit_of(counted("line + service conductor")) == "ft"
    assert unit_of(counted("drive, 50 hp + transformer")) == "each"
    assert unit_of(counted("0.5 x line + drive")) == ""
    with pytest.raises(ValueError):
        unit_of(counted("line + drive"))


def row(name, unit, available, counts):
    return {"name": name, "unit": unit, "available": available, "counts": counts}


def test_rows_with_faults_are_told_by_cell_and_left_out(tmp_path):
    inputs = read(tmp_path, limits=[
        row("Line", "feet", 100, "line"), row("a", "m", 100, "line, overhead"),
        row("b", "each", -1, "drive"), row("c", "each", None, "drive"),
        row("d", "each", 1, "windmill"), row("e", "each", 1, "drive, 33 hp"),
        row("f", "ft", 1, " LINE"), row("Line", "ft", 1, "service conductor"),
        row("g", "ft", 1, "line + drive"), row("Crew", "days", 9, "0.1 x line + drive")])
    assert inputs.limits["name"].tolist() == ["Line", "Crew"]
    assert inputs.limits["unit"].tolist() == ["ft", "days"]
    told = {(f["column"], f["row"]): f["slug"] for f in findings(inputs, severity="error")
            if f["sheet"] == LIMITS.name}
    assert told == {
        ("B", 3): "limit-unusable", ("C", 4): "below-minimum", ("C", 5): "value-missing",
        ("D", 6): "list-unreadable", ("D", 7): "limit-unusable", ("D", 8): "limit-unusable",
        ("A", 9): "id-repeated", ("D", 10): "limit-unusable"}
    assert not inputs.has_error.any()


@pytest.mark.parametrize("column", range(1, 5))
def test_sheet_without_a_column_is_told(tmp_path, column):
    path = candidate_workbook(tmp_path, limits=[row("Line", "ft", 100, "line")],
                              edit=lambda book: book["Limits"].delete_cols(column))
    found = examine(path)
    assert found.inputs.limits.empty
    assert [LIMITS.name in str(fault) for fault in found.stops.faults] == [True]


# --- a shared line counted once -------------------------------------------------------------------

def test_shared_line_of_both_kinds_is_counted_once():
    """By hand: 1,000 ft; the one by a single phase uses all of it, the one by three its first
    600. These are built with three phases, and half of them is each one's part; 400 ft are left."""
    one, three, alone = 700.0, 300.0, 1000.0  # parts of the two together, and of the one alone
    farms = pd.DataFrame({
        "excel_row": [7, 8, 9], "builders": ["2 3", "2 3", "2"], "line_build": "overhead",
        "service_phases": [1.0, 3.0, 1.0], "shared_single_phase_ft": 1000.0,
        "shared_three_phase_ft": 1000.0, "trunk_ft": [1000.0, 600.0, 1000.0],
        "trunk_part_ft": [one, three, alone], "trunk_part_usd": [5000.0, 9000.0, 8000.0]},
        index=[7, 8, 9])
    things = pd.concat(_shared(farms))
    both = things[things["place"] < 2]
    line = both[both["item"] == SHARED_LINE].groupby("phases")[["quantity", "amount_usd"]].sum()
    assert line["quantity"].tolist() == pytest.approx([400, 600])
    assert line["amount_usd"].tolist() == [0.0, 14_000.0]
    job = both[both["item"] == SHARED_JOB]
    assert job["quantity"].sum() == 1 and set(job["phases"]) == {3.0}
    mine = things[(things["place"] == 2) & (things["quantity"] != 0)]
    assert mine[["phases", "quantity", "amount_usd"]].to_numpy().tolist() == [
        [1, 1000, 8000], [1, 1, 0]]


# --- farms of a workbook --------------------------------------------------------------------------

@pytest.fixture(scope="module")
def four(tmp_path_factory):
    """Four farms alike, two of them on one shared line of 2,000 ft; each has 500 ft of its own."""
    rows = [{"candidate_id": f"F-{n}", "load_control": True, "shared_line_id": line,
             "single_phase_distance_ft": OWN_FT, "three_phase_distance_ft": None,
             "shared_line_use_ft": None}
            for n, line in ((1, "L"), (2, "L"), (3, None), (4, None))]
    return run_study(validate(candidate_workbook(
        tmp_path_factory.mktemp("four"), rows, study={"program_budget_usd": 1e6},
        program={"budget_method": "best set"}, shared_lines=[
            {"shared_line_id": "L", "shared_single_phase_ft": LINE_FT}],
        limits=[row("Line", "ft", 10_000, "line"), row("Drives", "each", 9, "drive"),
                row("Crew", "days", 99, "0.001 x line + 0.5 x transformer")])))


def given(four, available, must=()):
    """Who is funded, and the inputs, where so much is available of the three."""
    candidates = four.inputs.candidates.copy()
    candidates.loc[list(must), "funding_choice"] = "must fund"
    inputs = replace(four.inputs, findings=Findings(), candidates=candidates,
                     limits=four.inputs.limits.assign(available=available))
    return budgeting.give_out(four.sets, inputs), inputs


def test_best_set_takes_no_more_than_there_is(four):
    """By hand: all four take 2,000 + 4 x 500 = 4,000 ft, four drives, 4 + 0.5 x 4 = 6 days."""
    everything, _ = given(four, [4_000, 4, 6])
    assert everything.funded == (2, 3, 4, 5)
    used = everything.limits.set_index("constraint")
    assert used.loc[["limit Line", "limit Drives", "limit Crew"], "used"].tolist() == [4000, 4, 6]
    assert not used.loc[["limit Line", "limit Drives", "limit Crew"], "binds"].any()
    # A foot less: one farm has 500 ft less, of the line or not; two on the line save 3,000.
    assert len(given(four, [3_999, 4, 6])[0].funded) == 3
    assert given(four, [1_000, 4, 6])[0].funded == (4, 5)
    assert len(given(four, [4_000, 2, 6])[0].funded) == 2
    # Without the line's farms two take 1,000 ft and 2 days; with one of them 3,500 ft, 5 days.
    assert given(four, [4_000, 4, 4.9])[0].funded == (4, 5)


def test_table_says_what_binds_and_what_lifting_gains(four):
    by_feet, inputs = given(four, [1_000, 4, 6])
    limits = by_feet.limits.set_index("constraint")
    assert limits.loc["limit Line", ["limit", "used", "unit"]].tolist() == [1000, 1000, "ft"]
    assert limits.loc[["limit Line", "limit Drives", "limit Crew"], "binds"].tolist() == [1, 0, 0]
    goal = by_feet.sets.set_index("method")["goal_value"][budgeting.BEST_WITHIN]
    # Twice as many farms, all alike: the gain is what the best set has now.
    assert limits.loc["limit Line", "gain_if_lifted"] == pytest.approx(goal)
    assert limits.loc["crews and stock", "gain_if_lifted"] == pytest.approx(goal)
    walk = by_feet.year_by[budgeting.WITHIN]
    assert sorted(walk) == [4, 5]  # the walk down the ranking keeps the same rows
    why = standing.of(by_feet, inputs).table["why_not"]
    assert why[2] == ("It would take 2,500 ft of limit Line; 0 ft are left, and no exchange for it "
                      "reaches more of the goal.")


def test_farms_that_must_be_funded_and_lack_stock_are_told(four):
    short, _ = given(four, [3_900, 4, 6], must=(2, 3, 4, 5))
    assert short.conflict == (
        "The must-fund farms F-1, F-2, F-3 and F-4 together take 4,000 ft of limit Line; 3,900 ft "
        "are available. Provide for 100 ft more, or release one.")
    assert short.by == budgeting.STOPS


def test_ranking_that_takes_too_much_is_told(tmp_path):
    study = run_study(read(tmp_path, [{"load_control": True}] * 2, study={
        "program_budget_usd": 1e6}, limits=[row("Drives", "each", 1, "drive")],
        program={"budget_method": "ranking"}))
    assert study.results["funded"].tolist() == [1, 1]
    [told] = [f for f in study.findings.rows if f["slug"] == "limit-exceeded"]
    assert told["message"].startswith("Limits row 2: the funded farms take 2 each of 'Drives'; 1")


def test_buying_list_is_the_ledger_of_a_workbook_with_only_the_funded_farms(four, tmp_path):
    """Two funded farms of the line and one beside it, against a study of just these: dollars item
    by item, and feet and pieces by hand."""
    funding, inputs = given(four, [3_500, 9, 99])
    funding = replace(funding, funded=(2, 3, 4))
    bought = buying_list(four.sets, funding, inputs).set_index("thing")
    rows = [{"candidate_id": f"F-{n}", "load_control": True, "shared_line_id": line,
             "single_phase_distance_ft": OWN_FT, "three_phase_distance_ft": None,
             "shared_line_use_ft": None} for n, line in ((1, "L"), (2, "L"), (3, None))]
    only = run_study(read(tmp_path, rows, shared_lines=[
        {"shared_line_id": "L", "shared_single_phase_ft": LINE_FT}]))
    chosen = only.options.index[only.options["is_chosen"]]
    ledger = only.ledger[only.ledger["design"].isin(chosen)]
    overhead = 1 + only.inputs.rules["overhead_adder_pct"] / 100
    assert bought["bought_usd"].sum() * overhead == pytest.approx(ledger["item_cost_usd"].sum(),
                                                                  abs=0.02)
    line = bought.index.str.startswith(("line", "shared line", "job"))
    assert bought["bought_usd"][line].sum() * overhead == pytest.approx(
        ledger.loc[ledger["item"] == "line", "item_cost_usd"].sum(), abs=0.02)
    assert bought.loc["line, single-phase, overhead", "quantity"] == 3 * OWN_FT
    assert bought.loc["line, single-phase, overhead", "least_price_usd"] == 7.5
    assert bought.loc["shared line, single-phase, overhead", "quantity"] == LINE_FT
    assert bought.loc["job of a shared line, single-phase, overhead", "quantity"] == 1
    assert bought.loc["shared line, single-phase, overhead", "needed_by"] == "F-1, F-2"
    drives = bought[bought.index.str.startswith("drive")]
    assert drives["quantity"].tolist() == [3] and drives["farms"].tolist() == [3]
    assert drives["in_stock"].tolist() == ["Drives: 3 of 9 each"]
    assert bought["in_stock"].iloc[0].startswith("Line: 3,500 of 3,500 ft; Crew: 5 of 99 days")


def test_nothing_funded_buys_nothing(four):
    funding, inputs = given(four, [0, 0, 0])
    assert funding.funded == () and buying_list(four.sets, funding, inputs).empty
    empty = replace(four, portfolio=replace(four.portfolio, buying_list=buying_list(
        four.sets, funding, inputs)))
    assert "buying_list.csv" not in [name for _, name, _ in portfolio_tables(empty)]
    assert "buying_list.csv" in [name for _, name, _ in portfolio_tables(four)]


def test_figures_lead_to_the_farms_and_the_sheet(four):
    tracer, seen = Tracer(four, None), set()
    for name in four.portfolio.buying_list["thing"]:
        for key in ("quantity", "farms", "size", "least_price_usd", "bought_usd"):
            trail = tracer.trail(("figure", "buying_list", name, key))
            assert {line.kind for line in trail.lines} & {"cell", "price"}, (name, key)
            must_end(trail, seen)
    for name, cell in (("limit Line", "Limits!C2"), ("limit Crew", "Limits!C4")):
        trail = tracer.trail(("figure", "budget_limits", name, "limit"))
        assert cell in [line.place for line in trail.lines]
        trail = tracer.trail(("figure", "budget_limits", name, "used"))
        assert cell.replace("C", "D") in [line.place for line in trail.lines]
        must_end(trail, seen)


def test_nothing_of_what_nobody_needs_holds_nobody_back(four):
    rules = four.inputs.rules.replaced({"set_goal": Rule("farms served", "test")})
    limits = four.inputs.limits.assign(counts=["rotary converter"] * 3, available=0.0)
    inputs = replace(four.inputs, findings=Findings(), rules=rules, limits=limits)
    funding = budgeting.give_out(replace(four.sets, rules=rules), inputs)
    assert len(funding.funded) == 4
    assert np.allclose(funding.limits["used"][funding.limits["constraint"] == "limit Line"], 0)
