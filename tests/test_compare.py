"""Two runs or workbooks side by side: cells, decisions, money, and the bridge by cause."""

import json
import re
from dataclasses import replace

import openpyxl
import pytest
from click.testing import CliRunner

from batch.audit.answers import MISSING, differences
from batch.audit.cell_changes import ROW, RULES_SHEET
from batch.audit.compare import INPUTS, PRICES, PROGRAM, RULES, TAMPERED, Step, compare
from batch.audit.compare_text import compare_text, tables
from batch.canonical import canonical_frame
from batch.cli import main
from batch.columns import RESULTS
from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.run_folder import write_run
from tests.workbooks.make import RATE, candidate_workbook, cell, unit_cost_rows

pytestmark = pytest.mark.usefixtures("studied_once")
DONE, DIFFERENT, CANNOT_STUDY = 0, 1, 3
ROWS = ({}, {"pump_motor_hp": 60, "flow_gpm": 600}, {"flow_gpm": 500, "pump_motor_hp": None})


def call(*args):
    return CliRunner().invoke(main, [str(arg) for arg in args])


@pytest.fixture(scope="module")
def base(tmp_path_factory):
    return candidate_workbook(tmp_path_factory.mktemp("a"), rows=ROWS)


def causes(found):
    """Total -> {cause: what it adds}, of the causes that add anything."""
    moves = {}
    for before, after in zip(found.bridge, found.bridge[1:]):
        for name, value in after.totals.items():
            if value != before.totals[name]:
                moves.setdefault(name, {})[after.cause] = value - before.totals[name]
    return moves


@pytest.fixture(scope="module")
def folder(base, tmp_path_factory):
    return write_run(run_study(validate(base)), tmp_path_factory.mktemp("run"), overwrite=False,
                     options={})


def test_workbook_folder_and_result_of_one_run_are_the_same(base, folder, found_by):
    for one, other in ((base, folder), (folder, folder / "result.xlsx"), (base, base)):
        result, found = found_by("compare", one, other)
        assert result.exit_code == DONE
        assert found.is_same and found.cells == [] and found.differences == []
        assert causes(found) == {}


def test_one_changed_cell_is_named_and_bridged_as_input(base, tmp_path, found_by):
    rows = (ROWS[0], {**ROWS[1], "single_phase_distance_ft": 2500}, ROWS[2])
    other = candidate_workbook(tmp_path, rows=rows)
    result, found = found_by("compare", base, other)
    [change] = found.cells
    place = f"Candidates!{cell('single_phase_distance_ft', 3)}"
    assert (change.row_name, change.key, change.places) == (
        "F-2", "single_phase_distance_ft", (place, place))
    assert change.new == "2500"
    assert {d.candidate_id for d in found.differences if d.key == "line_cost_usd"} == {"F-2"}
    moves = causes(found)
    assert moves and all(set(by_cause) == {INPUTS} for by_cause in moves.values())
    assert result.exit_code == DIFFERENT and place in result.stdout and "F-2" in result.stdout


def test_moved_rows_are_no_difference(base, tmp_path):
    def swap(book):
        sheet = book["Candidates"]
        for column in range(1, sheet.max_column + 1):
            one, other = sheet.cell(2, column), sheet.cell(4, column)
            one.value, other.value = other.value, one.value

    found = compare(base, candidate_workbook(tmp_path, rows=ROWS, edit=swap))
    assert found.is_same and found.cells == []


def test_another_unit_in_the_header_is_no_difference(base, tmp_path):
    # Source: 1 ft is 0.3048 m exactly (NIST SP 811).
    one = candidate_workbook(tmp_path, rows=[{"pumping_lift_ft": 120}], name="ft.xlsx")
    headers = {"pumping_lift_ft": "Pumping lift [m]"}
    other, deeper = (candidate_workbook(tmp_path, rows=[{"pumping_lift_ft": feet * 0.3048}],
                                        headers=headers, name=f"{feet}.xlsx")
                     for feet in (120, 121))
    assert compare(one, other).is_same
    assert [(c.key, c.old, c.new) for c in compare(one, deeper).cells] == [
        ("pumping_lift_ft", "120", "121")]


def test_added_and_removed_candidates_are_named(base, tmp_path, found_by):
    other = candidate_workbook(tmp_path, rows=(*ROWS[:2], {**ROWS[2], "candidate_id": "F-77"}))
    result, found = found_by("compare", base, other)
    rows = {(c.row_name, c.old, c.new) for c in found.cells if c.key == ROW}
    assert rows == {("F-3", "row 4", ""), ("F-77", "", "row 4")}
    names = {(d.candidate_id, d.old == MISSING, d.new == MISSING) for d in found.differences
             if d.key == "candidate_id"}
    assert names == {("F-3", False, True), ("F-77", True, False)}
    assert "F-77: added in row 4" in result.stdout
    assert "F-3: removed, was row 4" in result.stdout


def test_bridge_adds_up_by_cause(base, tmp_path):
    """Inputs, prices and rules change at once: each moves totals, and together they close."""
    dearer = [{**row, "price_usd": row["price_usd"] * 1.1} for row in unit_cost_rows()]
    rows = (*ROWS[:2], {**ROWS[2], "single_phase_distance_ft": 2000})
    other = candidate_workbook(tmp_path, rows=rows, unit_costs=dearer,
                               program={"share_line_member_pct": (80, "%", "resolution 9")})
    found = compare(base, other)
    assert [step.cause for step in found.bridge[1:]] == [PROGRAM, INPUTS, PRICES, RULES, PROGRAM]
    assert found.bridge[0].totals == found.bridge[1].totals
    share = causes(found)["Cooperative's share [USD]"]
    assert set(share) == {INPUTS, PRICES, RULES}
    assert share[PRICES] > 0 > share[RULES]  # the member's part of the line was raised
    ends = found.bridge[-1].totals["Cooperative's share [USD]"], found.bridge[0].totals[
        "Cooperative's share [USD]"]
    assert sum(share.values()) == pytest.approx(ends[0] - ends[1], abs=0.01)
    assert set(causes(found)["Project cost [USD]"]) == {INPUTS, PRICES}  # rules share it only
    assert [(c.sheet, c.key, c.new) for c in found.cells if c.sheet == RULES_SHEET] == [
        (RULES_SHEET, "share_line_member_pct", "80")]


def test_rates_that_only_one_side_lists_make_one_step(base, tmp_path):
    rate = {**RATE, "rate_id": "NEW", "block_1_usd_kwh": 0.11}
    rows = [{**row, "rate_id": "NEW"} for row in ROWS]
    found = compare(base, candidate_workbook(tmp_path, rows=rows, rates=[rate]))
    assert f"{INPUTS}, {PRICES}" in [step.cause for step in found.bridge]
    assert set(causes(found)["Member NPV [USD]"]) == {f"{INPUTS}, {PRICES}"}


def test_rule_years_stand_side_by_side(base, tmp_path):
    other = candidate_workbook(tmp_path, rows=ROWS, study={"rules_year": 2024})
    found = compare(base, other)
    keys = {c.key for c in found.cells if c.sheet == RULES_SHEET}
    assert {"maximum_member_payback_yr", "incentive_basis"} <= keys
    assert set(causes(found)["Incentive [USD]"]) == {RULES}


def test_changed_result_workbook_is_told_and_bridged_as_such(base, folder, tmp_path, found_by):
    book = openpyxl.load_workbook(folder / "result.xlsx")
    sheet = book["Results"]
    header = next(row for row in sheet.iter_rows() if row[0].value == "candidate_id")
    letter = next(c.column_letter for c in header if c.value == "incentive_usd")
    row = next(r for r in sheet.iter_rows() if r[0].value == "F-1")[0].row
    sheet[f"{letter}{row}"].value = 9000
    book.save(tmp_path / "touched.xlsx")
    result, found = found_by("compare", base, tmp_path / "touched.xlsx")
    assert not found.is_same and found.cells == []
    assert [c.place for c in found.other.tampering] == [f"Results!{letter}{row}"]
    assert set(causes(found)["Incentive [USD]"]) == {TAMPERED}
    assert "was changed since it was written" in result.stdout


# --- what is read, as text and as a workbook ------------------------------------------------------

@pytest.fixture(scope="module")
def pair(base, tmp_path_factory):
    """A workbook with another budget, a dearer drive and less flow on a farm; both compared."""
    folder = tmp_path_factory.mktemp("pair")
    rows = (ROWS[0], {**ROWS[1], "flow_gpm": 560}, ROWS[2])
    prices = [row | ({"price_usd": 1.5 * row["price_usd"]} if row["item"] == "drive" else {})
              for row in unit_cost_rows()]
    other = candidate_workbook(folder, rows=rows, unit_costs=prices,
                               study={"program_budget_usd": 20_000})
    file = folder / "differences.xlsx"
    result = call("compare", base, other, "--workbook", file)
    assert result.exit_code == DIFFERENT, result.output
    again = call("compare", base, other, "--workbook", file)
    assert again.exit_code == CANNOT_STUDY and "--overwrite" in again.stderr
    return result.stdout, file, validate(base), validate(other)


def test_text_reads_in_labels_and_units(pair):
    text, *_ = pair
    place = f"Candidates!{cell('flow_gpm', 3)}"
    assert "Study, Program budget: blank -> 20,000 USD" in text
    assert f"Candidates F-2, Flow ({place}): 600 -> 560 gal/min" in text
    assert "Unit costs, Price: 6 rows, the first drive 20" in text  # six sizes of one item
    for header in ("Rank", "Incentive [USD]", "Member's saving [USD/yr]"):
        assert header in text
    keys = {key for key in RESULTS.by_key if "_" in key}
    assert not [key for key in keys if key in text]
    # The totals stand as what they were, what they are, and what each cause adds to them.
    said = re.search(r"Project cost: ([\d,]+) -> ([\d,]+) USD \((.*)\)", text)
    old, new = (int(number.replace(",", "")) for number in said.groups()[:2])
    causes = [int(number.replace(",", "")) for number in re.findall(r"[+-][\d,]+", said[3])]
    assert abs(sum(causes) - (new - old)) <= len(causes)  # each is rounded


def test_workbook_has_all_differences_as_numbers(pair):
    _, file, one, other = pair
    book = openpyxl.load_workbook(file)
    assert book.sheetnames == ["Farms", "Totals by cause", "Inputs", "Results"]
    on = {}
    for sheet in book:
        assert sheet.freeze_panes == "B5", sheet.title
        header, *rows = [[c.value for c in row] for row in sheet.iter_rows(min_row=4)]
        on[sheet.title] = [dict(zip(header, row)) for row in rows]
    studies = [canonical_frame(run_study(side).results, RESULTS.columns).set_index("candidate_id")
               for side in (one, other)]
    mine = next(row for row in on["Results"] if row["Farm"] == "F-2"
                and row["Result"] == RESULTS.by_key["member_saving_usd_yr"].label)
    old, new = (float(study.at["F-2", "member_saving_usd_yr"]) for study in studies)
    assert (mine["A"], mine["B"], mine["Unit"]) == (old, new, "USD/yr")
    assert mine["Difference"] == pytest.approx(new - old)
    # Every result that differs by a value is there, counted here on its own.
    differing = sum(one != other for key in studies[0] if key != "excel_row"
                    for one, other in zip(studies[0][key], studies[1][key]))
    assert len(on["Results"]) == differing
    for row in on["Totals by cause"]:
        parts = [value for header, value in row.items() if header.startswith("by ")]
        assert sum(parts) == pytest.approx(row["B"] - row["A"], abs=0.01), row["Total"]
    flow = next(row for row in on["Inputs"] if row["Value"] == "Flow")
    assert (flow["A"], flow["B"], flow["Difference"]) == (600, 560, -40)
    place = next(c for c in book["Results"]["D"] if isinstance(c.value, float))
    assert place.number_format.startswith("#,##0")


def test_what_is_too_small_to_be_shown_is_not_listed(base):
    """Of 100.20 and 100.40 USD both read 100 USD; of 0.3 USD in a total nothing is left."""
    found = compare(base, base)
    other = found.one.standing.copy()
    other["incentive_usd"] = ["100.40"] * len(other)
    one = other.assign(incentive_usd="100.20")
    steps = [Step("as it stands", {"Incentive [USD]": 300.6}),
             Step(INPUTS, {"Incentive [USD]": 300.9})]
    found = replace(found, one=replace(found.one, standing=one),
                    other=replace(found.other, standing=other), bridge=steps,
                    differences=differences(one, other))
    assert not found.is_same
    text = compare_text(found)
    assert "Farms that differ" not in text and "100" not in text
    assert "3 other results differ on 3 farms" in text and "No total differs" in text
    assert len(tables(found)[3].rows) == 3  # the workbook has them


def test_json_holds_every_part(base, tmp_path):
    other = candidate_workbook(tmp_path, rows=(*ROWS[:2], {**ROWS[2], "flow_gpm": 400}))
    data = json.loads(call("compare", base, other, "--json").stdout)
    assert data["is_same"] is False
    assert {"cells", "differences", "bridge", "changed_since_written"} <= data.keys()
    assert data["cells"][0]["key"] == "flow_gpm"


def test_file_that_cannot_be_studied_stops_with_its_reason(base, tmp_path):
    result = call("compare", base, tmp_path / "nothing.xlsx")
    assert result.exit_code == CANNOT_STUDY and "nothing.xlsx" in result.stderr
