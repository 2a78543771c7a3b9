"""Changes of single values by a scenario: each gives what the same workbook gives with the value
typed in its cell, however the scenario says it; and what cannot be meant is told with its place."""

from dataclasses import fields

import openpyxl
import pytest
from click.testing import CliRunner

from batch.cli import main
from batch.columns.scenarios import SCENARIOS
from batch.findings import StudyError
from batch.reading.scenario import apply, read_scenario, read_scenarios, record_options
from batch.reading.validate import validate
from batch.study import check_workbook, run_scenarios, run_study
from batch.writing.outputs import csv_files
from tests.conftest import ROOT
from tests.workbooks.make import RATE, candidate_workbook, unit_cost_rows

pytestmark = pytest.mark.usefixtures("studied_once")

ROWS = [{"is_inverter_duty": "yes"},
        {"flow_gpm": 240, "irrigated_area_acre": 40, "pivot_length_ft": None, "fuel_rate": None},
        {"rate_id": "IRR-2", "single_phase_distance_ft": 400}]
RATES = [RATE, RATE | {"rate_id": "IRR-2", "block_1_usd_kwh": 0.11}]
FEEDERS = [{"feeder_id": "F1", "spare_capacity_kw": 800}]
STUDY = {"program_budget_usd": 60_000}


def book(folder, name="study.xlsx", rows=(), rates=(), feeders=(), **more):
    """The workbook, with values typed in single rows: {row: {key: value}}."""
    def typed(base, changes):
        return [{**row, **dict(changes).get(n, {})} for n, row in enumerate(base)]

    return candidate_workbook(folder, typed(ROWS, rows), rates=typed(RATES, rates),
                              feeders=typed(FEEDERS, feeders), name=name,
                              **{"study": STUDY} | more)


def priced(*changes):
    """The price list with other prices: (item, size, price)."""
    rows = unit_cost_rows()
    for item, size, price in changes:
        for row in rows:
            if row["item"] == item and size in (None, row["size"]):
                row["price_usd"] = price if price < 10_000 else row["price_usd"] * 1.25
    return rows


def out_of_the_list(workbook):
    """The third farm's row without anything in it."""
    for cell in workbook["Candidates"][4]:
        cell.value = None


# What is said: sheet, row, key, value; and the workbook with it typed in. 1.25 and 0.5 multiply
# without a rest in binary numbers.
SAID = {
    "the budget": (("Study", "", "program_budget_usd", 500_000),
                   {"study": {"program_budget_usd": 500_000}}),
    "a rule": (("Program", "", "share_line_member_pct", 30),
               {"program": {"share_line_member_pct": 30}}),
    "a yes": (("Program", "", "residual_value_counts", "yes"),
              {"program": {"residual_value_counts": "yes"}}),
    "a price of a size": (("Unit costs", "transformer 50", "price_usd", 3100),
                          {"unit_costs": priced(("transformer", 50, 3100))}),
    "a factor on an item": (("Unit costs", "drive", "price_usd", "x1.25"),
                            {"unit_costs": priced(("drive", None, 10_000))}),
    "a rate": (("Rates", "IRR", "block_1_usd_kwh", 0.08), {"rates": {0: {
        "block_1_usd_kwh": 0.08}}.items()}),
    "a factor on a rate": (("Rates", "IRR-2", "demand_charge_usd_kw", "x0.5"),
                           {"rates": {1: {"demand_charge_usd_kw": 3}}.items()}),
    "a farm's number": (("Candidates", "F-2", "flow_gpm", 300),
                        {"rows": {1: {"flow_gpm": 300}}.items()}),
    "a farm's choice": (("Candidates", "F-1", "supply_option", "rotary converter"),
                        {"rows": {0: {"supply_option": "rotary converter"}}.items()}),
    "a farm's rate": (("Candidates", "F-1", "rate_id", "IRR-2"),
                      {"rows": {0: {"rate_id": "IRR-2"}}.items()}),
    "every farm": (("Candidates", "all", "fuel_price_usd", 4.1),
                   {"rows": {n: {"fuel_price_usd": 4.1} for n in range(3)}.items()}),
    "a feeder": (("Feeders", "F1", "spare_capacity_kw", 90),
                 {"feeders": {0: {"spare_capacity_kw": 90}}.items()}),
    "a farm out": (("Candidates", "F-3", "", "out"), {"edit": out_of_the_list}),
}
# All that do not meet in one cell.
TOGETHER = [name for name in SAID if name not in ("a farm's number", "a farm's rate")]


@pytest.fixture(scope="module")
def base(tmp_path_factory):
    """The validated workbook without any change."""
    return validate(book(tmp_path_factory.mktemp("base")))


def toml_line(said):
    _, row, key, value = said
    name = ".".join(f'"{part}"' for part in (row, key) if part)
    shown = f'"{value}"' if isinstance(value, str) else value
    return f"{name} = {shown}\n"


def setting(said):
    _, row, key, value = said
    return f"{'.'.join(filter(None, (row, key)))}={value}"


def sheet_of(names, columns, edit=None):
    """A function that adds a Scenarios sheet: a row per change, a column per (name, changes)."""
    def add(workbook):
        sheet = workbook.create_sheet(SCENARIOS.name)
        sheet.append(["Sheet", "Row", "Key", *columns])
        for name in names:
            where, value = SAID[name][0][:3], SAID[name][0][3]
            sheet.append([*where, *(value if name in chosen else None
                                    for chosen in columns.values())])
        if edit:
            edit(sheet)
    return add


def by_file(folder, base, names):
    path = folder / "s.toml"
    path.write_text('name = "s"\n' + "".join(toml_line(SAID[name][0]) for name in names),
                    encoding="utf-8")
    return apply(base, read_scenario(path))


def tables_of(inputs):
    return {field.name: getattr(inputs, field.name) for field in fields(inputs)
            if field.name in ("candidates", "has_error", "rates", "unit_costs", "feeders")}


def is_typed_alike(one, other):
    for name, table in tables_of(one).items():
        assert table.equals(tables_of(other)[name]), name
    values = {key: rule.value for key, rule in one.rules.by_key.items()}
    assert values == {key: rule.value for key, rule in other.rules.by_key.items()}
    assert one.study | {"study_name": ""} == other.study | {"study_name": ""}


@pytest.mark.parametrize("name", SAID)
def test_change_gives_the_inputs_of_the_workbook_with_it_typed(base, tmp_path, name):
    said, typed = SAID[name]
    anew = validate(book(tmp_path, **typed))
    is_typed_alike(by_file(tmp_path, base, [name]), anew)
    assert not tables_of(base)["candidates"].equals(anew.candidates) or said[0] != "Candidates"
    [quick] = read_scenarios([], [setting(said)])
    is_typed_alike(apply(base, quick), anew)


def files_of(study):
    return {name: "".join(parts) for name, parts in csv_files(study) if name != "findings.csv"}


def test_study_is_that_of_the_workbook_with_all_typed_file_by_file(base, tmp_path):
    more = {}
    for name in TOGETHER:
        for part, value in SAID[name][1].items():
            if part in ("rows", "rates"):
                for n, changes in value:
                    more.setdefault(part, {}).setdefault(n, {}).update(changes)
            elif part == "program":
                more.setdefault(part, {}).update(value)
            else:
                more[part] = value
    more["unit_costs"] = priced(("transformer", 50, 3100), ("drive", None, 10_000))
    anew = files_of(run_study(validate(book(tmp_path, **more))))
    scene = files_of(run_study(by_file(tmp_path, base, TOGETHER)))
    # Who set a rule is all that the files tell apart.
    scene = {name: text.replace("scenario s, no source", "Program sheet, no source")
             for name, text in scene.items()}
    assert scene.keys() == anew.keys()
    assert [name for name in anew if anew[name] != scene[name]] == []
    assert anew["results.csv"] != files_of(run_study(base))["results.csv"]


def test_sheet_file_and_settings_say_the_same(base, tmp_path):
    path = book(tmp_path, "with.xlsx", edit=sheet_of(TOGETHER, {"s": TOGETHER, "rule": ["a rule"]}))
    with_sheet = validate(path)
    assert not [f for f in with_sheet.findings.rows if f["slug"] == "sheet-unknown"]
    is_typed_alike(with_sheet, base)  # a sheet alone changes nothing
    both = read_scenarios(["all"], sheet=with_sheet.workbook.scenarios)
    assert [scenario.name for scenario in both] == ["s", "rule"]
    of_sheet, of_file = apply(with_sheet, both[0]), by_file(tmp_path, base, TOGETHER)
    is_typed_alike(of_sheet, of_file)
    assert record_options(of_sheet.scenario) == record_options(of_file.scenario)
    assert apply(with_sheet, both[1]).rules["share_line_member_pct"] == 30
    [quick] = read_scenarios([], [setting(SAID[name][0]) for name in TOGETHER])
    is_typed_alike(apply(base, quick), of_file)


def test_units_percents_and_headers_are_read_as_in_their_cells(base):
    def set_to(*settings):
        return apply(base, read_scenarios([], settings)[0])

    # By hand: 20 L/s = 20 x 60 / 3.785411784 gal/min.
    metric = set_to("F-1.Flow [L/s]=20")
    assert metric.candidates["flow_gpm"].iloc[0] == pytest.approx(20 * 60 / 3.785411784)
    assert set_to("Program budget=1e5").study["program_budget_usd"] == 100_000
    assert set_to("f-1.flow_gpm=900").candidates["flow_gpm"].iloc[0] == 900
    two = set_to("line 3-phase.price_usd=15").unit_costs
    assert two.loc[two["item"] == "line", "price_usd"].tolist() == [7.5, 15]


def test_percent_cell_of_the_sheet_is_read_as_shown(base, tmp_path):
    def as_percent(sheet):
        sheet["D2"], sheet["D2"].number_format = 0.3, "0%"

    path = book(tmp_path, edit=sheet_of(["a rule"], {"s": ["a rule"]}, as_percent))
    inputs = validate(path)
    [scenario] = read_scenarios(["S"], sheet=inputs.workbook.scenarios)
    assert apply(inputs, scenario).rules["share_line_member_pct"] == 30


REFUSED = {
    "farm_budget_usd=3": ["'farm_budget_usd'", "program_budget_usd"],
    "F-9.flow_gpm=3": ["'F-9'", "Nearest: F-"],
    "F-1.flow_gmp=3": ["'flow_gmp'", "flow_gpm"],
    "flow_gpm=3": ["Candidates", "F-1.flow_gpm", "all.flow_gpm"],
    "F-1=in": ["out", "funding_choice"],
    "F-9=out": ["'F-9'", "farm"],
    "F-1.flow_gpm=many": ["(Flow) is the text 'many'"],
    "F-1.flow_gpm=-3": ["(Flow) is -3 gal/min", "below the least possible"],
    "all.flow_gpm=x100": ["(Flow)", "above the largest possible"],
    "all.flow_gpm=x101": ["x101", "x100"],
    "F-1.Flow [kW]=3": ["'kW'", "gal/min"],
    "F-1.rate_id=IRR-3": ["Rate is 'IRR-3'", "Rates sheet does not list"],
    "F-1.supply_option=magic": ["'magic'", "rotary converter"],
    "F-1.candidate_id=F-7": ["names the row"],
    "transformer 26.price_usd=3": ["'transformer 26'", "transformer 25"],
    "study_name=x": ["study name"],
    "share_line_member_pct=101": ["101 %", "100 %"],
    "program_budget_usd": ["has no value", "[ROW.]KEY=VALUE"],
}


@pytest.mark.parametrize("said", REFUSED)
def test_what_cannot_be_meant_is_told_with_its_place(base, said):
    with pytest.raises(StudyError) as stop:
        apply(base, read_scenarios([], [said])[0])
    for word in ("--set " + said.partition("=")[0], *REFUSED[said]):
        assert word in str(stop.value), str(stop.value)


def test_places_are_cells_of_the_sheet_and_paths_of_the_file(base, tmp_path):
    path = book(tmp_path, edit=sheet_of(["a farm's number", "a rate"], {"s": [], "t": []},
                                        lambda sheet: sheet.__setitem__("E2", "many")))
    inputs = validate(path)
    with pytest.raises(StudyError, match=r"Scenarios!E2 \(Flow\) is the text 'many'"):
        apply(inputs, read_scenarios(["t"], sheet=inputs.workbook.scenarios)[0])
    file = tmp_path / "s.toml"
    file.write_text('name = "s"\nF-2.flow_gpm = "many"\nF-1.flow_gpm = -1\n', encoding="utf-8")
    with pytest.raises(StudyError) as stop:
        apply(base, read_scenario(file))
    for words in ("s.toml, F-2.flow_gpm (Flow) is the text", "s.toml, F-1.flow_gpm (Flow) is -1"):
        assert words in str(stop.value)
    # `check` tells it too, and counts the farms all the same.
    checked = check_workbook(path)
    [told] = [f for f in checked.findings.rows if f["slug"] == "scenario-unusable"]
    assert "Scenarios!E2" in told["message"] and checked.counts["read"] == 3


def test_form_in_the_manual_is_read(tmp_path):
    manual = (ROOT / "input_workbooks" / "manual.md").read_text(encoding="utf-8")
    file = tmp_path / "s.toml"
    file.write_text(manual.split("```toml")[1].split("```")[0], encoding="utf-8")
    assert [(c.row, c.key, c.value, c.source) for c in read_scenario(file).changes] == [
        ("", "program_budget_usd", 300_000, ""),
        ("", "share_line_member_pct", 35, "board minutes, item 4"),
        ("A26-013", "flow_gpm", 900, ""), ("", "A26-020", "out", ""),
        ("all", "fuel_price_usd", "x1.2", ""), ("transformer 25", "price_usd", 2100, "")]


def test_one_cell_changed_twice_and_one_name_on_two_sheets_are_refused(tmp_path):
    rows = [{"candidate_id": "IRR"}]
    base = validate(candidate_workbook(tmp_path, rows))
    with pytest.raises(StudyError, match="Candidates and Rates"):
        apply(base, read_scenarios([], ["IRR.rate_id=3"])[0])
    with pytest.raises(StudyError, match="changes what --set IRR.flow_gpm changes"):
        apply(base, read_scenarios([], ["IRR.flow_gpm=300", "all.flow_gpm=x1.1"])[0])


def test_farm_that_is_left_out_stands_among_the_changed_verdicts(base):
    [scenario] = read_scenarios([], ["F-3=out"])
    [study] = run_scenarios(base, [scenario])
    changed = study.comparison.verdicts
    mine = changed[changed["candidate_id"] == "F-3"].iloc[0]
    assert mine["verdict"] is None and mine["verdict_as_filled"] is not None
    assert "Left out" in mine["verdict_reason"] and study.counts["read"] == 2


def test_run_with_settings_is_recorded_and_run_again_the_same(tmp_path):
    path = book(tmp_path, edit=sheet_of(["a rate"], {"Dear": ["a rate"]}))

    def call(*args):
        return CliRunner().invoke(main, [str(arg) for arg in args])

    ran = call("run", path, "--out", tmp_path, "--farm-pages", "1", "--set", "F-2.flow_gpm=300",
               "--set", "F-1=out", "--scenario", "dear")
    assert ran.exit_code == 0, ran.output
    folder, = tmp_path.glob("test-study-f-2-flow*")
    assert (tmp_path / "test-study-dear").is_dir()
    carried = [row[:4] for row in openpyxl.load_workbook(folder / "result.xlsx")["Scenario"]
               .iter_rows(min_row=5, values_only=True)]
    assert carried == [(None, None, "name", "F-2.flow_gpm=300, F-1=out"),
                       ("Candidates", "F-2", "flow_gpm", 300), ("Candidates", "F-1", None, "out")]
    assert '"name": "F-2.flow_gpm=300, F-1=out"' in (folder / "record.json").read_text("utf-8")
    again = call("rerun", folder)
    assert again.exit_code == 0 and "SAME" in again.output, again.output
    traced = call("explain", "total_head_ft", "--run", folder, "--candidate", "F-2", "--trace")
    assert "in place of the cell's own" in traced.output
    missing = call("run", path, "--out", tmp_path, "--scenario", "cheap")
    assert missing.exit_code == 3 and "The sheet has: Dear" in missing.output
