"""What shared lines cost: processor time of a study with them beyond one without. No pass or fail.

    python tests/bench/lines.py [SIZE ...] [--repeat N] [--seed N]

For each number of candidates (60, 250 and 1,000 where none is given) it makes a workbook in which
of every hundred farms 36 share six lines, six farms a line, with the demo's budget and feeders
grown as the farms are; and the same workbook with every farm on no line. For both it prints the
processor time of each stage of a study and what the lines take beyond, then how that grows from
size to size. Each study runs in a process of its own; each figure is the median of several runs.
"""

import argparse
import json
import random
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import openpyxl

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parents[1]))
DEMO = HERE.parents[1] / "input_workbooks" / "demo_portfolio.xlsx"
FARMS_A_LINE, FARMS_ON_LINES = 6, 0.36
LINE_FT = (3_000, 6_000)
VARIED = {"single_phase_distance_ft": 1.25, "three_phase_distance_ft": 1.25,
          "irrigated_area_acre": 1.0, "fuel_price_usd": 1.25}
GROWING = ("spare_capacity_kw", "phase_a_kw", "phase_b_kw", "phase_c_kw")


def workbook_of(count: int, seed: int, path: Path, with_lines: bool):
    """The demo's farms without a fault, drawn again under new names, with lines of six farms or
    all on none. Areas are drawn smaller only, since a pivot's circle bounds them."""
    from batch.columns import CANDIDATES, FEEDERS
    from batch.reading.header import read_headers
    from batch.reading.validate import validate
    from batch.study import assessable

    sound = set(assessable(validate(DEMO)).index)
    draw, book = random.Random(seed), openpyxl.load_workbook(DEMO)
    sheet, lines = book["Candidates"], book["Shared lines"]
    at, rows = _sheet(sheet, CANDIDATES, read_headers)
    farms = [[cell.value for cell in row] for row in rows if row[0].row in sound]
    sheet.delete_rows(rows[0][0].row, sheet.max_row)
    lines.delete_rows(5, lines.max_row)
    on_lines = round(count * FARMS_ON_LINES / FARMS_A_LINE) * FARMS_A_LINE
    for k in range(count):
        farm, line = list(farms[k % len(farms)]), f"Line {k // FARMS_A_LINE + 1}"
        farm[0] = f"{farm[0]}-{k // len(farms)}"
        for key, most in VARIED.items():
            if isinstance(farm[at[key]], (int, float)):
                farm[at[key]] = round(farm[at[key]] * draw.uniform(0.8, most), 2)
        use_ft = draw.randrange(500, LINE_FT[0], 100)
        is_on = with_lines and k < on_lines
        farm[at["shared_line_id"]], farm[at["shared_line_use_ft"]] = (
            (line, use_ft) if is_on else (None, None))
        sheet.append(farm)
        if is_on and k % FARMS_A_LINE == 0:
            lines.append([line, *LINE_FT])
    at, rows = _sheet(book["Feeders"], FEEDERS, read_headers)
    for row in rows:
        for key in GROWING:
            row[at[key]].value = row[at[key]].value * count / len(farms)
    for row in book["Study"].iter_rows():
        if row[0].value == "program_budget_usd":
            row[2].value = row[2].value * count / len(farms)
    book.save(path)


def _sheet(sheet, columns, read_headers):
    """Where each key of a sheet stands, and its rows below the headers."""
    rows = list(sheet.iter_rows())
    first = next(k for k, row in enumerate(rows) if str(row[0].value).endswith("*"))
    headers = read_headers([cell.value for cell in rows[first]], columns)
    return ({header.key: header.index for header in headers},
            [row for row in rows[first + 1:] if row[0].value])


def stages_of_a_study(source: Path):
    """Processor seconds of each stage of a study, whether the best set is proven, and the rows that
    were studied, printed as JSON."""
    from batch.memory import spare_the_processor

    spare_the_processor()
    from batch.reading.validate import validate
    from batch.study import run_study

    inputs = validate(source)
    marks = [("", time.process_time())]
    study = run_study(inputs, lambda name: marks.append((name, time.process_time())))
    marks.append(("", time.process_time()))
    spent = {name: later - begun for (name, begun), (_, later) in zip(marks[1:], marks[2:])}
    print(json.dumps({"spent": spent, "proven": float(study.portfolio.sets["is_proven"].iloc[-1]),
                      "rows": len(study.sets.farms)}))


def measured(source: Path, repeat: int) -> tuple[dict, dict]:
    """Median seconds of each stage of a workbook's study, and what else was told."""
    told = [json.loads(subprocess.run([sys.executable, __file__, "stages", source], check=True,
                                      capture_output=True, text=True).stdout.splitlines()[-1])
            for _ in range(repeat)]
    return {name: statistics.median(one["spent"][name] for one in told)
            for name in told[0]["spent"]}, told[0]


def main():
    """Print the figures of each size."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sizes", nargs="*", type=int, default=[60, 250, 1_000])
    parser.add_argument("--repeat", type=int, default=3)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    before = None
    for count in given.sizes:
        with tempfile.TemporaryDirectory() as name:
            of = {}
            for with_lines in (False, True):
                source = Path(name) / f"farms_{with_lines}.xlsx"
                workbook_of(count, given.seed, source, with_lines)
                of[with_lines] = measured(source, given.repeat)
        (none, _), (lines, told) = of[False], of[True]
        print(f"\n{count:,} candidates, {told['rows']:,} rows with lines; best set "
              f"{'proven' if told['proven'] else 'not proven'}\n"
              f"    {'cpu [s]':36} {'no lines':>9} {'lines':>9} {'beyond':>9}")
        for stage in none:
            print(f"    {stage:36} {none[stage]:9.2f} {lines[stage]:9.2f} "
                  f"{lines[stage] - none[stage]:9.2f}")
        beyond = sum(lines.values()) - sum(none.values())
        print(f"    {'whole study':36} {sum(none.values()):9.2f} {sum(lines.values()):9.2f} "
              f"{beyond:9.2f}")
        if before:
            print(f"    beyond: {beyond / before[1]:.1f} times that of {before[0]:,} candidates")
        before = count, beyond


if __name__ == "__main__":
    if sys.argv[1:2] == ["stages"]:
        stages_of_a_study(Path(sys.argv[2]))
    else:
        main()
