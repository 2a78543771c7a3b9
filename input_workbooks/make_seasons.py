"""Writes the two seasons of the demo beside this script: the round of 2025 as it stood when that
year ended, and the round of 2026 carried from it.

    python input_workbooks/make_seasons.py
"""

import datetime
import random
import tempfile
from pathlib import Path

from demo_farms import NORTH_LINE, candidates, shared_lines
from demo_prices import RATES, unit_cost_rows
from make_demo import FEEDERS, RESOLUTIONS, SEED, STUDY

from batch import columns
from batch.columns.candidates import APPROVED, BUILDING, IN_SERVICE, WITHDRAWN
from batch.program.next_season import next_season
from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.workbook import blank
from batch.writing.workbook.key_sheets import set_sources
from batch.writing.workbook.package import save_deterministic

HERE = Path(__file__).resolve().parent
FIRST, SECOND = "season_2025.xlsx", "season_2026.xlsx"
DATES = {2025: datetime.date(2025, 11, 28), 2026: datetime.date(2026, 3, 2)}
# The farms of 2025 by their numbers, and where each stood when the year ended.
STATES = {34: IN_SERVICE, 62: IN_SERVICE, 12: BUILDING, 6: APPROVED, 41: APPROVED, 47: APPROVED,
          66: None, 16: None, 13: None, 8: None}
APPROVED_ON, EXPIRES = datetime.date(2025, 2, 24), datetime.date(2026, 8, 24)
BEGAN = {34: datetime.date(2025, 5, 20), 62: datetime.date(2025, 6, 4)}
# What the meters showed of the farms in service, as shares of what was promised: a wet summer of
# few hours; and a farm as promised, whose line cost more.
SHOWED = {34: {"kw": 0.98, "kwh": 0.69, "hours": 0.70, "cost": 1.00},
          62: {"kw": 1.01, "kwh": 1.03, "hours": 1.02, "cost": 1.12}}
NEW_IN_2026 = (13, 15, 35, 43, 47, 52, 60, 67)
DEARER = 1.04  # prices of 2026 over those of 2025


def rows_of(seed, numbers, prefix) -> dict[int, dict]:
    """Farms of a drawn list by their numbers, under names of the year, without the words of an
    earlier board."""
    drawn = {int(str(row["candidate_id"])[-3:]): row for row in reversed(
        candidates(random.Random(seed)))}
    return {number: drawn[number] | {
        "candidate_id": f"{prefix}-{number:03d}", "funding_choice": None,
        "approved_incentive_usd": None} for number in numbers}


def book_of(year, farms, *, study, delivered=(), rates=RATES, prices=None):
    """A workbook of a year, filled in on its blank one."""
    book = blank.new_workbook(year, has_example=False, shown=blank.ON_REQUEST, is_shut=False)
    blank.set_values(book["Study"], {**STUDY, "rules_year": year, "study_date": DATES[year],
                                     "study_name": f"Season {year} (demo)",
                                     "notes": "Invented cooperative, farms, rates and prices.",
                                     **study})
    own = {key: pair for key, pair in RESOLUTIONS.items() if key != "set_goal"}
    blank.set_values(book["Program"], {key: value for key, (value, _) in own.items()})
    set_sources(book["Program"], {key: text for key, (_, text) in own.items()})
    lines = [row for row in shared_lines() if row["shared_line_id"] == NORTH_LINE]
    for sheet, filled in ((columns.CANDIDATES, farms), (columns.RATES, rates),
                          (columns.UNIT_COSTS, prices or unit_cost_rows()),
                          (columns.FEEDERS, FEEDERS), (columns.SHARED_LINES, lines),
                          (columns.DELIVERED, list(delivered))):
        blank.write_rows(book[sheet.name], sheet, filled)
    return book


def studied(book):
    """The study of a workbook that is written nowhere else."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "season.xlsx"
        book.save(path)
        return run_study(validate(path))


def first_season():
    """The round of 2025 with what was approved in February by the same rules, and what the meters
    of two farms showed."""
    farms = rows_of(2025, STATES, "A25")
    money = {"program_budget_usd": 200_000}
    asked = studied(book_of(2025, list(farms.values()), study=money))
    results = asked.results.set_index("candidate_id")
    for number, state in STATES.items():
        farm = results.loc[farms[number]["candidate_id"]]
        if state is None:
            continue
        farms[number] |= {
            "status": state, "status_date": BEGAN.get(number, APPROVED_ON),
            "supply_option": farm["supply_option"],
            "in_service_date": BEGAN.get(number),
            "approval_expires": None if state == IN_SERVICE else EXPIRES,
            **approved_amounts(farm)}
    delivered = [delivered_row(farms[number], results.loc[farms[number]["candidate_id"]],
                               SHOWED[number]) for number in SHOWED]
    return book_of(2025, list(farms.values()), study=money, delivered=delivered)


def approved_amounts(farm) -> dict:
    """What the board approved for a farm, from its study."""
    return {"approved_incentive_usd": round(farm["incentive_usd"], 2),
            "approved_cooperative_usd": round(
                farm["incentive_cost_usd"] - farm["incentive_usd"], 2),
            "approved_added_load_kw": round(farm["added_load_kw"], 1),
            "approved_energy_kwh": round(farm["annual_energy_kwh"]),
            "approved_project_cost_usd": round(farm["project_cost_usd"], 2)}


def delivered_row(row, farm, share) -> dict:
    """A season's meter and cost as shares of what was promised."""
    return {"candidate_id": row["candidate_id"], "program_year": 2025, "season": 2025,
            "final_project_cost_usd": round(share["cost"] * farm["project_cost_usd"], 2),
            "paid_incentive_usd": row["approved_incentive_usd"],
            "paid_cooperative_usd": row["approved_cooperative_usd"],
            "metered_kw": round(share["kw"] * farm["added_load_kw"], 1),
            "metered_kwh": round(share["kwh"] * farm["annual_energy_kwh"]),
            "hours_run": round(share["hours"] * farm["season_hours"])}


def second_season(first):
    """The round of 2026 carried from that of 2025, with new prices and applicants; since then one
    farm of the shared line has withdrawn, and another went into service."""
    season = next_season(studied(first), 2026)
    farms = season.rows[columns.CANDIDATES.name]
    by_name = {row["candidate_id"]: row for row in farms}
    by_name["A25-041"] |= {"status": WITHDRAWN, "status_date": datetime.date(2026, 1, 19)}
    by_name["A25-012"] |= {"status": IN_SERVICE, "status_date": datetime.date(2026, 2, 10),
                           "in_service_date": datetime.date(2026, 2, 10)}
    farms += rows_of(SEED, NEW_IN_2026, "A26").values()
    prices = [row | {"price_usd": round(DEARER * row["price_usd"], 2), "price_year": 2026}
              if row["price_usd"] else row for row in season.rows[columns.UNIT_COSTS.name]]
    money = {"program_budget_usd": 90_000,
             "carried_in_usd": season.study["carried_in_usd"]}
    return book_of(2026, farms, study=money, prices=prices,
                   rates=season.rows[columns.RATES.name],
                   delivered=season.rows[columns.DELIVERED.name])


def write_seasons(folder: Path):
    """Write both workbooks into a folder."""
    first = first_season()
    save_deterministic(first, folder / FIRST, DATES[2025])
    save_deterministic(second_season(first), folder / SECOND, DATES[2026])


if __name__ == "__main__":
    write_seasons(HERE)
    print(f"{FIRST} and {SECOND} written to {HERE}")
