"""Rows of published tables in a trail: the printed cells give the figure, by hand formulas.

Each formula is that of the table's own clause, worked here from the cells that the trail prints and
from the farm's row.
"""

import csv
import sys

import pandas as pd
import pytest

from batch.columns.candidates import GENERATOR, NO_POWER
from batch.reading.validate import validate
from batch.study import FLOW, RANK, run_study
from batch.tables import FOLDER, printed_rows, table
from batch.trail.ends import Ends
from batch.trail.farm_figures import FarmFigures
from batch.trail.lines import FIGURE, TABLE
from batch.trail.look_ups import LOOK_UPS, table_rows
from tests.conftest import DEMO

STEP = {one.name: one for stage in FLOW[:FLOW.index(RANK) + 1] for one in stage.steps}
VOLTS = 480.0  # the demo's service


def told(*taken):
    """The last printed number of each row: '95.8 %' is 95.8, 'R_pu 0.0090' is 0.009."""
    return [float(next(word for word in reversed(one.split()) if word[0].isdigit()))
            for one in taken]


def runs_of(name):
    """Conductors in parallel: 2 of '2 x 4/0 AWG aluminum'."""
    return int(name.split(" x ")[0]) if " x " in name else 1


def carried_a(name, ampacity_a, factor):
    """NEC 310.15(B)(1) and 110.14(C): corrected for heat, never above the 75 C terminals."""
    return runs_of(name) * ampacity_a * min(1.0, factor)


def loop_ohm(row, ohm_kft):
    """Out and back for single phase, one conductor of three."""
    wires = 1 if row["service_phases"] == 3 else 2
    return (wires * ohm_kft * row["service_distance_ft"] / 1000
            / runs_of(row["service_conductor"]))


def transformer_ohm(row, per_unit):
    """Per unit on the bank's rating: V2 / VA."""
    return per_unit * VOLTS ** 2 / (1000 * row["transformer_kva"])


def loss_kwh(row, cells):
    """No-load watts all year, load watts by the square of the load in the season; of each unit."""
    idle_w, full_w = (float(word.rstrip(",")) for word in cells.split() if word[0].isdigit())
    load = row["service_kva"] / row["transformer_kva"]
    units = 3 if row["service_phases"] == 3 else 1
    return units * (idle_w * 8760 + full_w * load ** 2 * row["season_hours"]) / 1000


def fuel_rate(row, cells):
    """Nebraska criteria: water hp and other shaft hp over what a unit of fuel gives."""
    water, shaft = (float(word.rstrip(",")) for word in cells.split() if word[0].isdigit())
    power = row["present_power"]
    rating = 1.0 if power == NO_POWER else row["performance_rating_pct"] / 100
    return (row["water_power_hp"] / water + row["pivot_demand_kw"] / 0.7457 / shaft) / rating


# What the printed cells give: (row of the farm, printed values) -> the figure.
BY_HAND = {
    "motor_efficiency_used_pct": lambda row, cells: told(*cells)[0],
    **dict.fromkeys(("motor_table_a", "tower_table_a", "booster_table_a",
                     "pivot_largest_locked_a", "filter_loss_pct", "tdd_limit_pct",
                     "line_reactor_pct", "dc_choke_pct"), lambda row, cells: told(*cells)[0]),
    # A motor feeds a fault with four times its full-load current (common practice, no source).
    "motor_fault_a": lambda row, cells: 4 * (row["connected_a"] + told(*cells)[0]),
    "withstand_a": lambda row, cells: min(told(*(one.removesuffix(" A") for one in cells))),
    "service_ampacity_a": lambda row, cells: carried_a(row["service_conductor"], *told(*cells)),
    "motor_lead_ampacity_a": lambda row, cells: carried_a(row["motor_lead_conductor"],
                                                          *told(*cells)),
    "pivot_cable_ampacity_a": lambda row, cells: carried_a("", *told(*cells)),
    "service_r_ohm": lambda row, cells: loop_ohm(row, float(cells[0].split()[0])),
    "service_x_ohm": lambda row, cells: loop_ohm(row, float(cells[0].split()[0])),
    "transformer_r_ohm": lambda row, cells: transformer_ohm(row, *told(*cells)),
    "transformer_x_ohm": lambda row, cells: transformer_ohm(row, *told(*cells)),
    "transformer_loss_kwh_yr": lambda row, cells: loss_kwh(row, cells[0]),
    "computed_fuel_rate": lambda row, cells: fuel_rate(row, cells[0]),
}
# Figures that stand in the list of standard sizes.
LISTED = {"pump_motor_hp", "protective_device_a", "disconnect_a"}


@pytest.fixture(scope="module")
def walked(demo_run):
    """Every value of every option that was looked up, with its row and its printed cells."""
    study = demo_run.study
    ends, figures = Ends(study.inputs), FarmFigures(study)
    seen = {}
    for design in study.options.index:
        row = figures.row("design", design)
        for key in LOOK_UPS:
            cells = [ends.line(one) for one in table_rows(key, row, study.inputs.rules)]
            if cells and not pd.isna(row[key]):
                seen.setdefault(key, []).append((row, cells))
    return seen


@pytest.mark.parametrize("key", BY_HAND)
def test_printed_cells_give_the_figure(walked, key):
    tried = 0
    for row, cells in walked[key]:
        if row["service_build"] == "overhead" and key == "service_ampacity_a" or (
                row["present_power"] == GENERATOR and key == "computed_fuel_rate"):
            continue  # tables of their own
        worked = BY_HAND[key](row, [one.value for one in cells])
        assert row[key] == pytest.approx(worked, rel=1e-6), (row["candidate_id"], cells)
        tried += 1
    assert tried > 20 or key == "motor_fault_a" and tried


@pytest.mark.parametrize("key", sorted(LISTED))
def test_sizes_stand_in_the_printed_list(walked, key):
    for row, [cell] in walked[key]:
        assert row[key] in told(*cell.value.split()[:-1])


def test_a_line_is_the_one_of_the_file(walked):
    """Line 21 of a file is its 21st line, as an editor counts, and has the printed cell."""
    for found in walked.values():
        for cell in found[0][1]:
            _, name, place, by, take, unit = cell.id
            if place is None:
                continue
            file, _, number = cell.place.rpartition(", line ")
            text = FOLDER.joinpath(file.rpartition("/")[2]).read_text(encoding="utf-8")
            lines = text.splitlines()
            printed = dict(zip(lines[1].split(","), lines[int(number) - 1].split(",")))
            assert all(printed[key] in cell.value or not printed[key] for key in take.split())
            assert all(printed[key] in cell.label for key in by.split())
            assert cell.source and cell.source in lines[0]


def test_no_table_has_cells_that_a_plain_split_would_break():
    for path in FOLDER.iterdir():
        if path.name.endswith(".csv"):
            name = path.name.removesuffix(".csv")
            with path.open(encoding="utf-8") as stream:
                rows = list(csv.DictReader(line for line in stream if not line.startswith("#")))
            assert [cells for _, cells in printed_rows(name)] == rows


def test_a_value_between_two_rows_names_both():
    """A set of 90 kW stands between the rows of 75 and 100 kW, one of 100 kW in its own, and one of
    500 kW in none."""
    [_, chart] = LOOK_UPS["computed_fuel_rate"]
    rows = {kw: [end[2] for end in chart.rows(
        {"present_power": "diesel generator", "generator_kw": kw}, {})] for kw in (90, 100, 500)}
    listed = table("generator_fuel")["kW"].tolist()
    assert {kw: [listed[place] for place in places] for kw, places in rows.items()} == {
        90: [75, 100], 100: [100], 500: []}


def test_what_a_farm_gives_itself_is_in_no_table(demo_run):
    """A farm with its motor's efficiency in its row has it from there."""
    study = demo_run.study
    given = study.inputs.candidates["motor_efficiency_pct"].dropna().index
    figures = FarmFigures(study)
    known = [farm for farm in given if farm in figures.chosen]
    assert known
    for farm in known:
        line = figures.line((FIGURE, "farm", int(farm), "motor_efficiency_used_pct"))
        assert TABLE not in {part[0] for part in line.parts}


# Tables that a step reads for what it then leaves away, or that stand with the impedances.
NOT_SHOWN = {"grant_incentive": {"fuels"}, "size_service": {"acsr", "transformer_impedance"},
             "size_motor_leads": {"ampacity_messenger"}}


def test_tables_are_those_that_the_step_looks_up():
    """Every table that is read in a run of the demo, step by step."""
    seen = {}
    inside = []

    def noted(name):
        if inside:
            seen.setdefault(inside[-1], set()).add(name)
        return table(name)

    def within(one, function):
        def call(*args, **given):
            inside.append(one.name)
            try:
                return function(*args, **given)
            finally:
                inside.pop()
        return call

    with pytest.MonkeyPatch.context() as patch:
        for module in list(sys.modules.values()):
            if getattr(module, "__name__", "").startswith("batch") and getattr(
                    module, "table", None) is table:
                patch.setattr(module, "table", noted)
        for one in STEP.values():
            patch.setattr(one, "function", within(one, one.function))
        run_study(validate(DEMO))
    for name, read in seen.items():
        found = {one.table for key in STEP[name].makes for one in LOOK_UPS.get(key, ())}
        assert read - found <= NOT_SHOWN.get(name, set()), (name, read - found)
