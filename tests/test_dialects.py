"""The same study saved by another writer library, with all that workbooks carry besides cells."""

import datetime
import subprocess

import pytest
import xlsxwriter
from workbooks.as_strict import as_strict, with_iso_dates
from workbooks.make import RATE, candidate_workbook, example_row, unit_cost_rows

from batch.columns import CANDIDATES, RATES, UNIT_COSTS
from batch.reading.validate import validate
from batch.study import run_study

FARMS = ({"farm_label": "Añón\xa0ñandú", "application_date": datetime.date(2026, 4, 30)},
         {"is_inverter_duty": "yes", "candidate_id": "007"})


def write(path, options=None, dress=lambda book, sheets: None, farms=FARMS):
    """The study by XlsxWriter: shared texts, its own styles; `dress` adds what is no cell."""
    book = xlsxwriter.Workbook(path, {"default_date_format": "yyyy-mm-dd", **(options or {})})
    sheets = {name: book.add_worksheet(name)
              for name in ("Study", CANDIDATES.name, RATES.name, UNIT_COSTS.name)}
    for row, pair in enumerate((("Key", "Value"), ("study_name", "Test study"),
                                ("rules_year", 2026))):
        sheets["Study"].write_row(row, 0, pair)
    rows = [example_row(n, **farm) for n, farm in enumerate(farms, start=1)]
    for sheet, records in ((CANDIDATES, rows), (RATES, [RATE]), (UNIT_COSTS, unit_cost_rows())):
        keys = list(sheet.by_key)
        sheets[sheet.name].write_row(0, 0, [sheet.by_key[key].header for key in keys])
        for row, record in enumerate(records, start=1):
            for column, key in enumerate(keys):
                value = record.get(key)
                if isinstance(value, str):
                    sheets[sheet.name].write_string(row, column, value)
                elif value is not None:
                    sheets[sheet.name].write(row, column, value)
    dress(book, sheets)
    book.close()
    return path


def decorate(book, sheets):
    """Hidden rows and sheets, a filter, a table, notes, charts, merged cells,
    conditional formats, drop-downs, protection, defined names, panes."""
    farms = sheets[CANDIDATES.name]
    farms.set_row(1, None, None, {"hidden": True})
    farms.set_column(3, 5, None, None, {"hidden": True})
    farms.freeze_panes(1, 1)
    farms.write_comment("B2", "ask again")
    farms.conditional_format("H2:H9", {"type": "data_bar"})
    farms.data_validation("H2:H9", {"validate": "decimal", "criteria": ">", "value": 0})
    farms.protect("secret")
    farms.write_url("A40", "https://example.org", string="")
    sheets[UNIT_COSTS.name].add_table(0, 0, 48, 7, {"name": "prices", "columns": [
        {"header": column.header} for column in UNIT_COSTS.columns]})
    sheets[RATES.name].autofilter("A1:C2")
    notes = book.add_worksheet("Old notes")
    notes.merge_range("A1:C3", "a merged title")
    notes.hide()
    book.define_name("price", "='Unit costs'!$E$2")
    charts = [book.add_chart({"type": kind}) for kind in ("column", "bar")]
    for chart in charts:
        chart.add_series({"values": "='Unit costs'!$E$2:$E$9"})
    farms.insert_chart("B20", charts[0])
    book.add_chartsheet("Chart of it").set_chart(charts[1])


@pytest.fixture(scope="module")
def plain(tmp_path_factory):
    """The same study, written by openpyxl with inline texts."""
    return validate(candidate_workbook(tmp_path_factory.mktemp("plain"), FARMS))


def test_shared_texts_and_styles(plain, tmp_path):
    read = validate(write(tmp_path / "study.xlsx"))
    assert read.candidates.equals(plain.candidates)
    assert read.candidates["candidate_id"].tolist() == ["F-1", "007"]
    assert read.unit_costs.equals(plain.unit_costs) and read.rates.equals(plain.rates)


def test_what_is_no_cell_changes_nothing(plain, tmp_path):
    read = validate(write(tmp_path / "study.xlsx", dress=decorate))
    assert read.candidates.equals(plain.candidates)
    assert read.unit_costs.equals(plain.unit_costs)
    slugs = {f["slug"] for f in read.findings.rows} - {f["slug"] for f in plain.findings.rows}
    assert slugs == {"hidden-rows-read"}
    assert run_study(read).counts == {"read": 2, "assessed": 2, "not_assessed": 0}


@pytest.mark.parametrize("options", [{"date_1904": True}, {"constant_memory": True},
                                     {"use_zip64": True}])
def test_ways_of_saving(plain, tmp_path, options):
    """The calendar that begins in 1904, texts in their cells, and archives of the large kind."""
    read = validate(write(tmp_path / "study.xlsx", options))
    assert read.candidates.equals(plain.candidates)
    assert read.candidates["application_date"].tolist() == ["2026-04-30", None]


def test_formulas_with_the_value_of_their_last_calculation(tmp_path):
    at = list(CANDIDATES.by_key).index

    def calculate(book, sheets):
        farms, percent = sheets[CANDIDATES.name], book.add_format({"num_format": "0.0%"})
        farms.write_formula(1, at("flow_gpm"), "=2*400", None, 800)
        farms.write_formula(1, at("crop"), '=IF(1,"corn","")', None, "corn")
        farms.write_formula(1, at("pivot_pressure_psi"), "=1/0", None, "#DIV/0!")
        farms.write_array_formula(1, at("pumping_lift_ft"), 1, at("pumping_lift_ft"),
                                  "{=SUM(A9:A10*2)}", None, 140)
        farms.write_number(2, at("pump_efficiency_pct"), 0.745, percent)
        farms.write_string(2, at("pipe_length_ft"), "1.300,5")
        farms.write_rich_string(2, at("farm_label"), "North ", book.add_format({"bold": 1}), "40")

    read = validate(write(tmp_path / "study.xlsx", dress=calculate))
    one, two = read.candidates.loc[2], read.candidates.loc[3]
    assert (one["flow_gpm"], one["crop"], one["pumping_lift_ft"]) == (800, "corn", 140)
    assert (two["pump_efficiency_pct"], two["farm_label"]) == (74.5, "North 40")
    slugs = {(f["row"], f["key"], f["slug"]) for f in read.findings.rows}
    assert {(2, "pivot_pressure_psi", "excel-error"), (2, "flow_gpm", "formula-value-used"),
            (3, "pump_efficiency_pct", "percent-cell"),
            (3, "pipe_length_ft", "ambiguous-number")} <= slugs


# --- the strict standard --------------------------------------------------------------------------

STRICT_NAME = "http://purl.oclc.org/ooxml/spreadsheetml/main"
STRICT_FARMS = ({"farm_label": f'text of "{STRICT_NAME}"', "crop": "maíz & más",
                 "application_date": datetime.date(2026, 4, 30)}, {"is_inverter_duty": "yes"})


def test_strict_workbooks_of_two_writers_are_read_like_transitional_ones(tmp_path):
    """Texts in the cells and shared ones, dates as text and as numbers, a chart sheet; what a cell
    says of namespaces stays."""
    of_openpyxl = candidate_workbook(tmp_path, STRICT_FARMS, edit=with_iso_dates)
    plain = validate(candidate_workbook(tmp_path, STRICT_FARMS, name="plain.xlsx"))
    of_xlsxwriter = write(tmp_path / "other.xlsx", dress=decorate, farms=STRICT_FARMS)
    for path in (of_openpyxl, of_xlsxwriter):
        read = validate(as_strict(path))
        assert read.candidates.equals(plain.candidates), path.name
        assert read.unit_costs.equals(plain.unit_costs)
    assert plain.candidates.at[2, "farm_label"].endswith(f'"{STRICT_NAME}"')


def test_strict_workbook_with_formulas(tmp_path):
    def calculate(book, sheets):
        sheets[CANDIDATES.name].write_formula(
            1, list(CANDIDATES.by_key).index("flow_gpm"), "=2*400", None, 800)

    read = validate(as_strict(write(tmp_path / "study.xlsx", dress=calculate)))
    assert read.candidates.at[2, "flow_gpm"] == 800
    assert "formula-value-used" in {f["slug"] for f in read.findings.rows}


def test_a_spreadsheet_program_reads_our_strict_workbook_the_same(tmp_path, tool):
    """Else the strict workbooks of these tests would be no strict workbooks."""
    strict = as_strict(candidate_workbook(tmp_path, STRICT_FARMS, edit=with_iso_dates))
    subprocess.run([tool("soffice"), f"-env:UserInstallation={(tmp_path / 'p').as_uri()}",
                    "--headless", "--convert-to", "xlsx", "--outdir", tmp_path / "by program",
                    strict], check=True, capture_output=True, timeout=180)
    theirs = validate(tmp_path / "by program" / strict.name)
    assert theirs.candidates.equals(validate(strict).candidates)
