"""Writes the demo portfolio, the blank workbook and the explained findings beside this script.

The cooperative, its feeders, farms, rates and prices are invented. The numbers are drawn from
spreads that are usual in irrigated country, with a fixed seed: each run writes the same bytes.

    python input_workbooks/make_demo.py
"""

import datetime
import random
from pathlib import Path

from demo_farms import candidates, shared_lines
from demo_prices import RATES, unit_cost_rows

from batch import columns
from batch.writing.catalogue import catalogue_text
from batch.writing.workbook import blank
from batch.writing.workbook.key_sheets import set_sources
from batch.writing.workbook.package import save_deterministic
from batch.writing.workbook.styles_and_text import put
from batch.writing.workbook.table_sheets import FIRST_ROW, HEADER_ROW

HERE = Path(__file__).resolve().parent
YEAR = 2026
SEED = 2026
DATE = datetime.date(2026, 3, 2)
STUDY = {
    "study_name": "Irrigation round 2026 (demo)",
    "cooperative_name": "Larkmere Valley Electric Cooperative (invented)",
    "rules_year": YEAR, "study_date": DATE, "prepared_by": "Program engineer",
    "program_budget_usd": 450_000, "currency": "USD",
    "notes": "Invented cooperative, farms, rates and prices. Some rows hold mistakes on purpose.",
}
FEEDERS = (
    {"feeder_id": "Heron 1", "spare_capacity_kw": 900, "phase_a_kw": 1120, "phase_b_kw": 1060,
     "phase_c_kw": 980, "nominal_kv": 12.47},
    {"feeder_id": "Quill 2", "spare_capacity_kw": 1100, "phase_a_kw": 1340, "phase_b_kw": 1290,
     "phase_c_kw": 1410, "nominal_kv": 12.47},
    {"feeder_id": "Sedge 1", "spare_capacity_kw": 650, "phase_a_kw": 760, "phase_b_kw": 840,
     "phase_c_kw": 700, "nominal_kv": 12.47},
    {"feeder_id": "Tarn 3", "spare_capacity_kw": 120, "phase_a_kw": 1510, "phase_b_kw": 1430,
     "phase_c_kw": 1475, "nominal_kv": 12.47},
    {"feeder_id": "Wold 4", "spare_capacity_kw": 800, "phase_a_kw": 520, "phase_b_kw": 610,
     "phase_c_kw": 480, "nominal_kv": 24.94},
)
# What this board has decided otherwise than the year's rules: (value, resolution).
RESOLUTIONS = {
    "starting_dip_limit_pct": (5, "Larkmere service standard 11, motor starting (invented)"),
    "maximum_cooperative_payback_yr": (20, "Larkmere board resolution 26-02 (invented)"),
    # Operation, maintenance, taxes and insurance of rural plant, without the cost of money.
    "carrying_cost_pct": (2.5, "Larkmere cost of service study 2025 (invented)"),
    "administration_usd": (400, "Larkmere board resolution 26-03 (invented)"),
    "member_npv_floor_usd": (0, "Larkmere board resolution 26-05 (invented)"),
    "set_goal": ("total resource NPV", "Larkmere board resolution 26-04 (invented)"),
    "system_sales_mwh_yr": (412_000, "Larkmere annual report 2025 (invented)"),
}
METERS = ("elevation_gain_ft", "Elevation gain [m]")


def demo_workbook():
    """The demo portfolio, filled in on the blank workbook."""
    book = blank.new_workbook(YEAR, has_example=False, shown=blank.ON_REQUEST, is_shut=False)
    blank.set_values(book["Study"], STUDY)
    blank.set_values(book["Program"], {key: value for key, (value, _) in RESOLUTIONS.items()})
    set_sources(book["Program"], {key: text for key, (_, text) in RESOLUTIONS.items()})
    rows = candidates(random.Random(SEED))
    for sheet, filled in ((columns.CANDIDATES, rows), (columns.RATES, RATES),
                          (columns.UNIT_COSTS, unit_cost_rows()), (columns.FEEDERS, FEEDERS),
                          (columns.SHARED_LINES, shared_lines())):
        blank.write_rows(book[sheet.name], sheet, filled)
    _survey_in_meters(book["Candidates"])
    _efficiency_as_percent_cell(book["Candidates"], rows)
    return book


def _place(key: str) -> int:
    return list(columns.CANDIDATES.by_key).index(key) + 1


def _survey_in_meters(worksheet):
    """The surveyors of this cooperative give heights in meters: the header says so."""
    key, header = METERS
    put(worksheet.cell(HEADER_ROW, _place(key)), header)


def _efficiency_as_percent_cell(worksheet, rows):
    """One planner formatted a cell as percent: 0.72 shown as 72 %."""
    row = next(n for n, row in enumerate(rows) if row.get("pump_efficiency_pct") == 0.72)
    worksheet.cell(FIRST_ROW + row, _place("pump_efficiency_pct")).number_format = "0%"


def write_all(folder: Path):
    """Write both workbooks into a folder."""
    save_deterministic(demo_workbook(), folder / "demo_portfolio.xlsx", DATE)
    blank.write_blank(folder / f"blank_{YEAR}.xlsx", YEAR)


if __name__ == "__main__":
    write_all(HERE)
    (HERE / "findings_explained.md").write_text(catalogue_text(None, "markdown"),
                                                encoding="utf-8", newline="")
    print(f"demo_portfolio.xlsx and blank_{YEAR}.xlsx written to {HERE}")
