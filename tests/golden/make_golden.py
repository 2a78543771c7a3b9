"""Writes the golden workbooks and their approvals. One command re-makes them all:

    python -m tests.golden.make_golden --closed-too

A closed year's approvals are written once. They are this program's own answers, so that they prove
nothing about right and wrong: they hold every later program to what was approved then. Without the
flag only what is missing is written. To change a golden workbook, delete it first.
"""

import sys
import tempfile
from pathlib import Path

import openpyxl

from batch import rules
from batch.audit.answers import REASON_KEYS
from batch.canonical import canonical_frame, csv_text
from batch.columns import RESULTS
from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.outputs import checks_text, ledger_text
from batch.writing.workbook.package import save_deterministic
from tests.golden.farms import FEEDERS, ROWS, SHARED_LINES, prices, study
from tests.workbooks.make import candidate_workbook

HERE = Path(__file__).parent
WORKBOOK = "workbook.xlsx"
CHECK_KEYS = ["candidate_id", "supply_option", "variant", "check", "answer"]
SHARE_KEYS = ["candidate_id", "item", "item_cost_usd", "cooperative_usd", "member_usd"]


def closed_years() -> list[int]:
    """The years whose approvals are kept."""
    return [year for year in rules.years() if rules.load(year).is_closed]


def approvals(workbook: Path) -> dict[str, str]:
    """What is kept of a year's study, as CSV text by file name: results without their sentences,
    the answers of all checks, and the shares."""
    done = run_study(validate(workbook))
    kept = tuple(c for c in RESULTS.columns if c.key not in REASON_KEYS)
    return {"results.csv": csv_text(canonical_frame(done.results, kept)),
            "checks.csv": csv_text(checks_text(done)[CHECK_KEYS]),
            "cost_shares.csv": csv_text(ledger_text(done)[SHARE_KEYS])}


def write_workbook(year: int, path: Path):
    """The year's golden workbook; the same bytes each time."""
    with tempfile.TemporaryDirectory() as folder:
        made = candidate_workbook(folder, rows=ROWS, study=study(year), unit_costs=prices(year),
                                  feeders=FEEDERS, shared_lines=SHARED_LINES)
        save_deterministic(openpyxl.load_workbook(made), path, f"{year}-03-01")


def make(year: int, is_forced: bool) -> list[str]:
    """Write what is missing of a year, or all approvals where that is forced; return what was."""
    folder, written = HERE / str(year), []
    folder.mkdir(exist_ok=True)
    if not (folder / WORKBOOK).exists():
        write_workbook(year, folder / WORKBOOK)
        written.append(WORKBOOK)
    for name, text in approvals(folder / WORKBOOK).items():
        if is_forced or not (folder / name).exists():
            (folder / name).write_text(text, encoding="utf-8", newline="")
            written.append(name)
    return written


if __name__ == "__main__":
    for each in closed_years():
        done = make(each, "--closed-too" in sys.argv[1:])
        print(f"{each}: {', '.join(done) or 'kept as it is; --closed-too re-makes the approvals'}")
