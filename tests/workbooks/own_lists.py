"""Two lists of farms as planners keep them, in words, units and layouts of their own. Invented."""

import csv
from datetime import date
from pathlib import Path

import openpyxl

# A workbook: merged title, two rows of headings, remarks, a total and a mean at its end.
TITLE = "Irrigation prospects, spring 2026 (invented)"
GROUPS = ["App", "Grower", "Rec'd", "Engine", None, None, "Well", None, None, None, "Field", None,
          None, "Line to build", None, "Build", "Phone"]
NAMES = ["No.", None, None, "Fuel", "$/gal", "Gal used", "GPM", "SWL (ft)", "DD (ft)", "Hrs/yr",
         "Acres", "PSI @ pivot", "Pivot lgth", "1Ø (mi)", "3Ø (mi)", "OH/UG", None]
FARMS = [
    ["P-1", "Alder Flat", date(2026, 3, 2), "Diesel", 3.55, "6,800 gal/yr", 800, 110, 30, 1100, 126,
     35, "1,290", 0.25, 2.75, "OH", "555-0101"],
    ["P-2", "Birch Bend", "3/12/26", "LP", 2.1, 9200, "~750", 85, 22, "1,050 hrs", 124, 30,
     "1300'", "1320'", "2 1/2", "OH", "555-0102"],
    ["P-3", "Cedar Hollow", "3/14/26", "NG", "$9.80/mcf", "?", 900, 150, 40, 1200, 130, 38, 1290,
     "1/2 mi", "n/a", "UG", None],
    ["P-4", "Dogwood", "3/15/26", "PTO tractor", 3.6, 5100, 650, 70, 20, 800, 78, 28, 1010, 0.3,
     3, "OH", None],
    [None] * 17,
    ["P-5", "Elm Corner", "4/2/26", "Genset", 3.5, 7400, "900-1000", 95, 25, 1000, 126, 35, 1295,
     0.1, 4, "OH", "TBD"],
    ["P-6", "Fir Ridge", "4/20/26", "deisel", 3.6, 6100, "50 L/s", 120, 35, 900, 118, "-", 1250,
     "800 ft", 3.5, "OH", None],
]
TOTAL = ["Total", None, None, None, None, None, 5000, None, None, 6050, 702]
MEAN = ["Average", None, None, None, None, None, 833, None, None, 1008, 117]
REMARK = ["SWL measured by the well drillers in 2024"]

# A CSV file with semicolons: a title, headings with a row of units, converters, metric units, a
# column of totals without a word.
METRIC = [
    ["Pumps waiting for service"], [],
    ["Farm name", "Power now", "Area", "Depth applied", "Pump flow", "Pumping level", "Pressure",
     "Dist. to single phase", "Nearest 3-phase", "Present kW", "Fuel price", "Crop", "Remarks",
     "Circuit", "Proposed service"],
    ["", "", "ha", "mm", "L/s", "m", "kPa", "m", "km", "kW", "$/gal", "", "", "", ""],
    ["North Bench", "RPC", "50", "400", "50", "30", "240", "300", "4", "38", "", "corn",
     "near the canal", "F1", "1ph VFD"],
    ["South Bench", "Diesel", "48", "410", "about 52", "42", "240", "450", "5.5", "", "3.6",
     "corn", "", "F1", "any"],
    ["Mill Road", "Propain", "31", "380", "40", "25", "210", "TBD", "2", "", "2.2", "beans", "",
     "F2", "3Ø line"],
    ["Orchard", "none/new", "20", "n/a", "30", "18", "200", "150", "-", "", "", "apples",
     "needs permit", "F2", "RPC"],
    ["", "", "149", "", "172", "115", "890"],
]


def workbook_list(folder: Path) -> Path:
    """The list as a workbook."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Prospects"
    for row in ([TITLE], [], GROUPS, NAMES, *FARMS, [], TOTAL, MEAN, REMARK):
        sheet.append(row)
    sheet.merge_cells("A1:Q1")
    sheet.merge_cells("D3:F3")
    sheet.merge_cells("G3:J3")
    path = folder / "prospects.xlsx"
    book.save(path)
    return path


def csv_list(folder: Path) -> Path:
    """The list as a CSV file of a code page, with semicolons."""
    path = folder / "waiting.csv"
    with path.open("w", encoding="cp1252", newline="") as stream:
        csv.writer(stream, delimiter=";").writerows(METRIC)
    return path


def filled(rows) -> int:
    """How many cells of rows hold anything."""
    return sum(value not in (None, "") for row in rows for value in row)


CELLS_OF_WORKBOOK = filled(([TITLE], GROUPS, NAMES, *FARMS, TOTAL, MEAN, REMARK))
CELLS_OF_CSV = filled(METRIC)
