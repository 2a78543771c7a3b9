"""Speed and memory of a run, beside the floor: openpyxl alone reading and writing the same cells.

    python tests/bench/bench.py 60 500

Prints, for each number of candidates, wall time of every step of a run, the whole cold command
with its peak memory, and the floor measured in the same way. No pass or fail: read the ratios.
The candidates are those of the demo portfolio, repeated under new names.
"""

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import openpyxl

DEMO = Path(__file__).parents[2] / "input_workbooks" / "demo_portfolio.xlsx"


def workbook_of(count: int, folder: Path) -> Path:
    """The demo workbook with as many candidates as asked for, shared lines left out."""
    book = openpyxl.load_workbook(DEMO)
    sheet = book["Candidates"]
    rows = list(sheet.iter_rows(values_only=True))
    header = next(k for k, row in enumerate(rows) if len(row) > 3 and row[3] == "Shared line")
    shared = next(k for k, name in enumerate(rows[header]) if str(name).startswith("Shared line"))
    farms = [list(row) for row in rows[header + 1:] if row[0]]
    sheet.delete_rows(header + 2, len(rows))
    for k in range(count):
        farm = list(farms[k % len(farms)])
        farm[0], farm[shared] = f"{farm[0]}-{k // len(farms)}", None
        sheet.append(farm)
    path = folder / f"bench_{count}.xlsx"
    book.save(path)
    return path


def steps_of_a_run(path: Path, out: Path) -> dict[str, float]:
    """Seconds of each step, in this process."""
    from batch.reading.validate import validate
    from batch.run_folder import write_run
    from batch.study import run_study

    marks = [("read and validate", time.perf_counter())]

    def on_step(name):
        marks.append((name, time.perf_counter()))

    study = run_study(validate(path), on_step)
    write_run(study, out, overwrite=True, options={}, on_step=on_step)
    marks.append(("end", time.perf_counter()))
    return {name: later - start for (name, start), (_, later) in zip(marks, marks[1:])}


def cold(command: list[str]) -> tuple[float, float]:
    """Wall time [s] and peak memory [MB] of a command of its own."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    start = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True)
    wall = time.perf_counter() - start
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    return wall, max(before, peak) / 1024


FLOOR = """
import sys, openpyxl
source, result, target = sys.argv[1:]
book = openpyxl.load_workbook(source, read_only=True)
for sheet in book.worksheets:
    for row in sheet.iter_rows(values_only=True):
        pass
made, book = openpyxl.load_workbook(result, read_only=True), openpyxl.Workbook(write_only=True)
rows = {s.title: list(s.iter_rows(values_only=True)) for s in made.worksheets}
import time
start = time.perf_counter()
for title, lines in rows.items():
    sheet = book.create_sheet(title)
    for line in lines:
        sheet.append(line)
book.save(target)
print(time.perf_counter() - start)
"""


def floor(source: Path, result: Path, folder: Path) -> tuple[float, float]:
    """Seconds of bare reading of the input and of bare writing of the same output cells."""
    start = time.perf_counter()
    book = openpyxl.load_workbook(source, read_only=True)
    for sheet in book.worksheets:
        for _ in sheet.iter_rows(values_only=True):
            pass
    reading = time.perf_counter() - start
    answer = subprocess.run([sys.executable, "-c", FLOOR, source, result, folder / "floor.xlsx"],
                            check=True, capture_output=True, text=True)
    return reading, float(answer.stdout)


def main(counts):
    """Print the figures of each size."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for count in counts:
            path = workbook_of(count, folder)
            wall, peak = cold([sys.executable, "-m", "batch", "run", str(path), "--out",
                               str(folder / "cold"), "--overwrite", "--quiet"])
            steps = steps_of_a_run(path, folder / "warm")
            [result] = (folder / "warm").glob("*/result.xlsx")
            reading, writing = floor(path, result, folder)
            whole = sum(steps.values())
            print(f"\n{count} candidates")
            for step, seconds in steps.items():
                print(f"  {step:34} {seconds:8.2f} s")
            print(f"  {'all steps, warm':34} {whole:8.2f} s")
            print(f"  {'whole cold command':34} {wall:8.2f} s, peak {peak:,.0f} MB")
            print(f"  {'floor: openpyxl reads the input':34} {reading:8.2f} s")
            print(f"  {'floor: openpyxl writes the result':34} {writing:8.2f} s")
            print(f"  {'all steps over the floor':34} {whole / (reading + writing):8.2f}")


if __name__ == "__main__":
    main([int(word) for word in sys.argv[1:]] or [60, 500])
