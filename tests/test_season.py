"""Applications in every state: whose money is promised, who builds, whose rules hold, and a budget
that closes to the cent."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from batch.audit.trace import Tracer
from batch.columns import CANDIDATES, DELIVERED
from batch.columns.candidates import STATUS_MEANS, STATUSES
from batch.program.season import budgets_usd, committed_usd, given_away_usd, paid_usd
from batch.reading.validate import validate
from batch.study import run_study
from batch.trail.lines import FIGURE
from tests.workbooks.make import candidate_workbook

LINE = [{"shared_line_id": "S1", "shared_single_phase_ft": 9000, "shared_three_phase_ft": 9000}]
READY = {"load_control": True, "supply_option": "single-phase drive"}


def studied(folder, rows, **sheets):
    """The study of farms that differ in their application alone."""
    return run_study(validate(candidate_workbook(folder, [READY | row for row in rows], **sheets)))


def applications(**columns):
    """Inputs with nothing but applications and a budget of 300,000 USD."""
    count = len(columns["status"])
    frame = pd.DataFrame({column.key: pd.Series([None] * count, dtype=object)
                          for column in CANDIDATES.columns}).assign(**columns)
    for key in ("approved_incentive_usd", "approved_cooperative_usd"):
        frame[key] = frame[key].astype(float)
    delivered = pd.DataFrame({column.key: pd.Series(dtype=object) for column in DELIVERED.columns})
    return SimpleNamespace(candidates=frame, delivered=delivered, study={
        "rules_year": 2026, "program_budget_usd": 300_000.0, "carried_in_usd": None,
        "program_budget_year_2_usd": None, "program_budget_year_3_usd": None})


# A ledger of five projects against 300,000 USD, worked by hand: what is promised and not paid,
# what is paid, and what is free, after each change of state. Common practice of encumbrances: a
# promise holds its money until it is paid, withdrawn or expired; a waiting project holds none.
LEDGER = [
    ({"P1": ("approved", 40_000), "P2": ("approved", 25_000), "P3": ("approved", 15_000)},
     0, 80_000, 220_000),
    ({"P1": ("under construction", 40_000), "P2": ("under construction", 25_000)},
     0, 80_000, 220_000),
    ({"P2": ("in service", 22_000)}, 22_000, 55_000, 223_000),
    ({"P3": ("withdrawn", 15_000)}, 22_000, 40_000, 238_000),
    ({"P4": ("approved", 238_000), "P5": ("received", 12_000)}, 22_000, 278_000, 0),
    ({"P1": ("in service", 40_000)}, 62_000, 238_000, 0),
    ({"P4": ("approved", 218_000), "P5": ("approved", 12_000)}, 62_000, 230_000, 8_000),
]


def test_ledger_of_five_projects_closes_after_every_change():
    now = {}
    for change, paid, committed, free in LEDGER:
        now |= change
        inputs = applications(
            status=[status for status, _ in now.values()],
            approved_incentive_usd=[usd for _, usd in now.values()],
            in_service_date=["2026-06-01"] * len(now))
        assert paid_usd(inputs).sum() == paid
        assert committed_usd(inputs.candidates).sum() == committed
        assert budgets_usd(inputs)[0] == free


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.sampled_from([None, *STATUSES]), st.integers(0, 10**8),
                          st.sampled_from(["2025-09-01", "2026-05-01", None])), min_size=1))
def test_any_history_closes_to_the_cent(history):
    status, cents, began = zip(*history)
    inputs = applications(status=status, in_service_date=began,
                          approved_incentive_usd=[c / 100 for c in cents])
    committed, paid = committed_usd(inputs.candidates), paid_usd(inputs)
    assert not ((committed > 0) & (paid > 0)).any()
    by_hand = sum(c for s, c, b in history if s in ("approved", "under construction")
                  or (s == "in service" and b != "2025-09-01"))
    assert round(100 * given_away_usd(inputs)) == by_hand
    assert round(100 * budgets_usd(inputs)[0]) == max(30_000_000 - by_hand, 0)


def test_every_state_has_its_meaning():
    assert list(STATUS_MEANS) == list(STATUSES)


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    """A shared line of four: approved in 2025, withdrawn, and two that ask; one in service on a
    line of its own."""
    on_line = {"shared_line_id": "S1", "shared_line_use_ft": 9000,
               "single_phase_distance_ft": 300, "three_phase_distance_ft": 300}
    rows = [on_line | {"candidate_id": "OLD", "status": "approved", "rules_year": 2025,
                       "approved_incentive_usd": 9_000.0, "approved_cooperative_usd": 1_500.25,
                       "approved_added_load_kw": 50},
            on_line | {"candidate_id": "GONE", "status": "withdrawn"},
            on_line | {"candidate_id": "NEW"},
            on_line | {"candidate_id": "NEXT"},
            {"candidate_id": "BUILT", "status": "in service", "in_service_date": "2026-05-01",
             "approved_incentive_usd": 5_000.0}]
    folder = tmp_path_factory.mktemp("season")
    sheets = {"shared_lines": LINE, "study": {"program_budget_usd": 90_000,
                                              "carried_in_usd": 1_000.5}}
    return SimpleNamespace(rows=rows, folder=folder, sheets=sheets,
                           study=studied(folder, rows, **sheets))


def same_results(one, other, *, but=()):
    """All figures of two farms' results, and all words."""
    for key in one.index:
        if key in but:
            continue
        a, b = one[key], other[key]
        if isinstance(a, float | np.ndarray):
            assert a == pytest.approx(b, rel=1e-9, abs=1e-9, nan_ok=True), key
        else:
            assert a == b or (pd.isna(a) and pd.isna(b)), key


AMONG_ALL = {"excel_row", "rank", "ranking_usd_per_kw", "running_incentive_cost_usd", "in_budget",
             "in_best_set", "best_set_year", "funded", "why_not", "added_cost_usd",
             "added_usd_per_kw", "may_be_funded", "rank_p10", "rank_p90", "budget_chance_pct",
             "builders", "farm_row", "design", "assigned_phase", "status", "rules_year",
             "approved_incentive_usd", "approved_cooperative_usd", "approved_added_load_kw",
             "net_cost_if_one_leaves_usd", "funded_with", "farm_label",
             "qualifies_alone"}  # where a line has approved farms, nobody builds it alone


def test_newcomer_builds_with_the_approved_and_without_those_that_left(season):
    """The study of the line's two builders alone, both received, gives the newcomer's figures."""
    funded = season.study.results.set_index("candidate_id")
    assert funded["funded"].to_dict() == {
        "OLD": 0, "GONE": 0, "NEW": 1, "NEXT": 1, "BUILT": 0}
    assert funded.at["NEW", "funded_with"] == "NEXT, OLD"
    alone = studied(season.folder, [row | {"status": None, "rules_year": None}
                                    for row in season.rows if row["candidate_id"] in (
                                        "OLD", "NEW", "NEXT")], name="alone.xlsx",
                    shared_lines=LINE, study={"program_budget_usd": 1e6})
    other = alone.results.set_index("candidate_id")
    drawn = {key for key in funded if key.endswith(("_p10_usd", "_p50_usd", "_p90_usd",
                                                    "_chance_pct"))}
    for name in ("NEW", "NEXT"):
        same_results(funded.loc[name], other.loc[name], but=AMONG_ALL | drawn)


def test_approved_farm_keeps_the_rules_of_its_year_and_what_was_promised(season):
    """In a study of that year with the same builders its figures are the same; this year's policy
    changes neither them nor the promise."""
    by_2025 = studied(season.folder, [row | {"status": None, "rules_year": None}
                                      for row in season.rows if row["candidate_id"] in (
                                          "OLD", "NEW", "NEXT")], name="2025.xlsx",
                      shared_lines=LINE, study={"program_budget_usd": 1e6, "rules_year": 2025})
    policy = studied(season.folder, season.rows, name="policy.xlsx", **season.sheets,
                     program={"incentive_amount": 1.0, "overhead_adder_pct": 40.0})
    now, then, other = (study.results.set_index("candidate_id").loc["OLD"]
                        for study in (season.study, by_2025, policy))
    assert now["incentive_usd"] != season.study.results["incentive_usd"].iloc[2]
    same_results(now, then, but=AMONG_ALL | {key for key in now.index if "_p10" in key or "_p50"
                                             in key or "_p90" in key or "chance" in key})
    if other["builders"] == now["builders"]:
        same_results(now, other, but=AMONG_ALL | {"incentive_cost_usd"})
    assert committed_usd(policy.inputs.candidates).sum() == 10_500.25


def test_budget_closes_and_the_next_in_line_is_told(season):
    [row] = season.study.season.budget.itertuples()
    assert (row.paid_usd, row.committed_usd, row.carried_in_usd) == (5_000, 10_500.25, 1_000.5)
    funded = season.study.results.query("funded == 1")["incentive_cost_usd"].sum()
    assert row.funded_now_usd == pytest.approx(funded, abs=0.005)
    assert round(row.budget_usd + row.carried_in_usd - row.paid_usd - row.committed_usd
                 - row.funded_now_usd - row.left_usd, 6) == 0


def test_waiting_list_adds_up(season):
    narrow = studied(season.folder, season.rows, name="narrow.xlsx", shared_lines=LINE,
                     study={"program_budget_usd": 16_000})
    waiting, [budget] = narrow.season.waiting, narrow.season.budget.itertuples()
    assert ", ".join(waiting["farms"]) in ("NEW, NEXT", "NEXT, NEW")
    assert waiting["so_far_usd"].tolist() == pytest.approx(waiting["asks_usd"].cumsum().tolist())
    assert waiting["asks_usd"].sum() == pytest.approx(budget.waiting_usd)
    assert (waiting["must_be_free_usd"] == (
        waiting["so_far_usd"] - max(budget.left_usd, 0)).clip(lower=0)).all()
    why = narrow.results.set_index("candidate_id")["why_not"]
    assert why["GONE"] == "It is withdrawn." and why["OLD"].startswith("It is approved already")


def test_partner_that_left_is_told_by_how_much_it_makes_the_line_dearer(season):
    """By hand: of 9,000 ft of line three builders bear 3,000 ft each, four 2,250 ft, and a foot
    costs what the price list says."""
    table = season.study.season.approved.set_index("candidate_id")
    assert table.index.tolist() == ["OLD", "BUILT"]
    by_hand = (3_000 - 2_250) * 7.50 + (900 / 3 - 900 / 4)  # 7.50 USD/ft, and 900 USD for the job
    assert table.at["OLD", "partners_left_usd"] == pytest.approx(by_hand)
    assert table.at["BUILT", "partners_left_usd"] == 0
    assert table.at["OLD", "promised_usd"] == 10_500.25
    assert "stay promised" in table.at["OLD", "told"]


def test_feeder_has_no_room_for_what_is_promised(tmp_path):
    """One farm alike is approved: where the feeder takes one, the newcomer is left out."""
    rows = [{"candidate_id": "A", "feeder_id": "F1", "status": "approved",
             "approved_incentive_usd": 1.0}, {"candidate_id": "B", "feeder_id": "F1"}]
    feeders = [{"feeder_id": "F1", "spare_capacity_kw": 70}]
    for spare, expected in ((70, 0), (200, 1)):
        feeders[0]["spare_capacity_kw"] = spare
        study = studied(tmp_path, rows, feeders=feeders, study={"program_budget_usd": 1e6})
        assert study.results["in_best_set"].iloc[1] == expected
        load = study.results["added_load_kw"].sum() * 0.9  # coincidence of the year's rules
        assert study.feeders["funded_kw"].iloc[0] == pytest.approx(load)


def test_every_figure_of_the_season_is_walked_to_its_cells(season):
    tracer = Tracer(season.study, season.folder)
    for file, frame, key in (("budget", season.study.season.budget, "program_year"),
                             ("waiting_list", season.study.season.waiting, "farms"),
                             ("approved_farms", season.study.season.approved, "candidate_id")):
        for row in frame.itertuples():
            name = getattr(row, key)
            name = f"{name:g}" if isinstance(name, float) else str(name)
            for column in frame.columns:
                line = tracer.trail((FIGURE, file, name, column)).lines[0]
                assert line.value or pd.isna(getattr(row, column)), (file, column)
