"""Every column of every frame of the demo has one name in the dictionary, and one meaning.

What a column must be called is held to the frames; that a name has one meaning is held to the
workbook (what is typed stays as typed) and to sums and quotients worked here from other columns.
"""

import csv
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from batch.columns import (
    CANDIDATES,
    DELIVERED,
    FEEDERS,
    LIMITS,
    PROGRAM,
    RATES,
    RESULTS,
    SHARED_LINES,
    UNIT_COSTS,
    WORKING,
)
from batch.columns import working as w
from batch.columns.list_spread import LIST_SPREAD
from batch.findings import Findings
from batch.money.valuation import cash_flows
from batch.program.approvals import approvals
from batch.study import assessable
from batch.writing.portfolio_tables import portfolio_tables

OF_A_DESIGN = (CANDIDATES, SHARED_LINES, RESULTS, WORKING, w.CHOICE)


@pytest.fixture(scope="module")
def frames(demo_run):
    """(name, frame, sheets that may name its columns) of every frame of the demo's study."""
    study = demo_run.study
    inputs = replace(study.inputs, findings=Findings())
    farms = assessable(inputs)
    typed = (("candidates", CANDIDATES), ("rates", RATES), ("unit_costs", UNIT_COSTS),
             ("feeders", FEEDERS), ("shared_lines", SHARED_LINES), ("limits", LIMITS),
             ("delivered", DELIVERED))
    return [
        *((name, getattr(inputs, name), (sheet,)) for name, sheet in typed),
        ("pump load and present plant", farms, (CANDIDATES, RESULTS, WORKING)),
        *((name, getattr(study, name), OF_A_DESIGN) for name in ("variants", "options", "results")),
        ("checks", study.checks, (w.CHECKS,)),
        ("ledger", study.ledger, (w.COST_SHARES,)),
        ("cash flows", cash_flows(study.options, inputs.rules), (w.CASH_FLOWS,)),
        ("findings", study.findings.frame(), (w.FINDINGS,)),
        ("approvals", approvals(study), (w.APPROVALS,)),
        ("list spread", study.list_spread, (LIST_SPREAD,)),
        ("farms of rules", study.portfolio.rule_farms, (w.RULE_FARMS,)),
        # A row of a feeder goes on with what the Feeders sheet says of it.
        *((name, frame, (sheet, FEEDERS) if name == "feeders.csv" else (sheet,))
          for sheet, name, frame in portfolio_tables(study))]


def unnamed(frame, sheets):
    return [key for key in frame if not any(key in sheet.by_key for sheet in sheets)]


def test_every_column_of_every_frame_is_named(frames):
    missing = {name: keys for name, frame, sheets in frames if (keys := unnamed(frame, sheets))}
    assert not missing, f"no Column of results.py or working.py names these: {missing}"


def test_a_column_that_nobody_named_is_found():
    """The rule above can fail: a made-up column, and one that only another frame's sheet names."""
    frame = pd.DataFrame(columns=["flow_gpm", "of_no_sheet", "remedy"])
    assert unnamed(frame, OF_A_DESIGN) == ["of_no_sheet", "remedy"]


@pytest.mark.parametrize("sheet", w.WORKING_SHEETS, ids=lambda sheet: sheet.name)
def test_every_name_of_a_working_sheet_is_in_a_frame(frames, sheet):
    seen = {key for _, frame, sheets in frames if sheet in sheets for key in frame}
    assert set(sheet.by_key) - seen == set()


def test_frames_of_the_study_are_all_looked_at(demo_run, frames):
    """Any frame that study, inputs or portfolio hold is in the list above, by itself."""
    study = demo_run.study
    held = [(f"{type(owner).__name__}.{name}", value)
            for owner in (study, study.inputs, study.portfolio)
            for name, value in vars(owner).items() if isinstance(value, pd.DataFrame)]
    assert len(held) > 15
    looked = [frame for _, frame, _ in frames]
    assert [name for name, value in held if not any(value is frame for frame in looked)] == []


# --- none is written to results -------------------------------------------------------------------

@pytest.mark.parametrize("file", ["results.csv", "options.csv", "ranking.csv"])
def test_no_working_column_is_written_with_the_results(demo_run, file):
    with (demo_run.folder / file).open(encoding="utf-8-sig", newline="") as stream:
        header = next(csv.reader(stream))
    assert len(header) > 10
    assert set(header) & set(WORKING.by_key) == set()


@pytest.mark.parametrize("file, sheet, hidden", [
    ("checks.csv", w.CHECKS, {"design", "excel_row", "is_advice"}),
    ("cost_shares.csv", w.COST_SHARES, {"design", "excel_row"}),
    ("cash_flows.csv", w.CASH_FLOWS, set()), ("findings.csv", w.FINDINGS, set()),
    ("approvals.csv", w.APPROVALS, set())])
def test_keys_of_a_long_file_are_those_of_its_sheet(demo_run, file, sheet, hidden):
    with (demo_run.folder / file).open(encoding="utf-8-sig", newline="") as stream:
        header = next(csv.reader(stream))
    assert set(header) == set(sheet.by_key) - hidden


# --- none means two things ------------------------------------------------------------------------

def of_its_farm(frame, typed):
    """The typed cells of the farm of each row, as they are read."""
    return typed.reindex(frame["excel_row"]).set_axis(frame.index)


@pytest.mark.parametrize("frame_name", ["variants", "options"])
def test_what_is_typed_stays_as_typed(demo_run, frame_name):
    """A key of the Candidates sheet holds in a frame of designs what the farm's row says, or, where
    a result has that key, what the study makes of it; the typed value then has its own name."""
    frame, typed = getattr(demo_run.study, frame_name), demo_run.study.inputs.candidates
    typed = of_its_farm(frame, typed)
    for key in typed:
        own = w.TYPED_NAMES.get(key, key)
        pd.testing.assert_series_equal(frame[own], typed[key], check_names=False,
                                       check_dtype=False, obj=key)
    both = set(w.TYPED_NAMES)
    assert both == {key for key in set(CANDIDATES.by_key) & set(RESULTS.by_key)
                    if not _same(frame[key], typed[key])}
    assert not both & set(WORKING.by_key)


def _same(one, other):
    return bool(((one == other) | (one.isna() & other.isna())).all())


def test_a_name_has_one_meaning_for_a_design():
    """No working column has the key of an input or a result, but for those carried from a sheet."""
    shown = set(CANDIDATES.by_key) | set(SHARED_LINES.by_key) | set(RESULTS.by_key) | set(
        w.CHOICE.by_key) | set(PROGRAM.by_key)
    assert set(WORKING.by_key) & shown == set()


def test_present_demand_counts_for_rotary_converters_alone(demo_run):
    """By hand: a farm without a rotary converter has no electric pump load today, whatever its row
    says; else the demand is the typed one."""
    o = demo_run.study.options
    is_rotary = o["present_power"] == "rotary converter"
    assert is_rotary.any() and (~is_rotary).any()
    assert (o.loc[~is_rotary, "present_demand_used_kw"] == 0).all()
    pd.testing.assert_series_equal(o.loc[is_rotary, "present_demand_used_kw"],
                                   o.loc[is_rotary, "present_demand_kw"], check_names=False)


@pytest.mark.parametrize("key", [c.key for c in WORKING.columns if c.worked])
def test_arithmetic_of_a_working_column_gives_it(demo_run, key):
    """The line of arithmetic, worked by Python from the columns and rules that it names."""
    o, rules = demo_run.study.options, demo_run.study.inputs.rules
    known = {name: o[name] for name in o} | {name: rules[name] for name in rules.by_key
                                             if name not in o}
    value = eval(WORKING.by_key[key].worked, {"__builtins__": {}}, known)  # noqa: S307
    np.testing.assert_allclose(o[key].astype(float), value, rtol=1e-12)
