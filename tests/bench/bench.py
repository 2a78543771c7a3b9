"""Time and memory of a run, beside two measures that are not ours. No pass or fail.

    python tests/bench/bench.py [SIZE ...] [--repeat N] [--seed N] [--no-peer]

For each number of candidates (60, 1,000 and 5,000 where none is given) it prints

- each step of a run, farm pages left out, and the whole command started cold; of up to 500
  candidates also the whole command with every page, as it is without options;
- the libraries: a program of its own that imports them all and ends;
- the floor: bare openpyxl reads the cells of the input and writes those of the result as plain
  values, without looks, notes and charts;
- two peers, which LibreOffice opens, calculates and saves without a window: a sheet of as many rows
  with sixty columns of live formulas, and one with as many formulas a row as the result has filled
  cells for each candidate.

Before the sizes it prints the processor time of three commands on the demo portfolio as it is: a
run with every page beside libraries and floor, a check beside its sizing, and the help.

Times are wall and processor time; memory is the highest that a process held. The candidates are
the demo portfolio's, drawn again under new names with other distances, areas and fuel prices. Each
figure is the median of several runs, at 10,000 candidates and more of a single one.
"""

import argparse
import json
import os
import random
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import openpyxl

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "input_workbooks" / "demo_portfolio.xlsx"
VARIED = ("single_phase_distance_ft", "three_phase_distance_ft", "irrigated_area_acre",
          "fuel_price_usd")
LARGE = 10_000
ALL_PAGES = 500  # candidates: the program writes all pages of so many without being asked
FORMULA_COLUMNS, INPUT_COLUMNS = 60, 10
LIBRARIES = ("click", "defusedxml", "jinja2", "matplotlib.figure", "numpy", "openpyxl", "pandas",
             "pint", "scipy.optimize")
IMPORTS = "import " + ", ".join(LIBRARIES)


# --- what is measured ----------------------------------------------------------------------------

def workbook_of(count: int, seed: int, path: Path):
    """The demo workbook with as many candidates as asked for, and a shared line for each copy of
    one."""
    from batch.columns import CANDIDATES
    from batch.reading.header import read_headers

    draw, book = random.Random(seed), openpyxl.load_workbook(DEMO)
    sheet, lines = book["Candidates"], book["Shared lines"]
    headers, farms = _table(sheet)
    places = {header.key: header.index for header in read_headers(headers, CANDIDATES)}
    varied, shared = [places[key] for key in VARIED], places["shared_line_id"]
    _, known_lines = _table(lines)
    added = set()
    for k in range(count):
        farm, copy = list(farms[k % len(farms)]), k // len(farms)
        farm[0] = f"{farm[0]}-{copy}"
        for place in varied:
            if copy and isinstance(farm[place], (int, float)):
                farm[place] = round(farm[place] * draw.uniform(0.8, 1.25), 2)
        if copy and farm[shared]:
            farm[shared] = f"{farm[shared]}-{copy}"
            added.add((farm[shared], copy))
        sheet.append(farm)
    for name, copy in sorted(added):
        line = next(line for line in known_lines if name == f"{line[0]}-{copy}")
        lines.append([name, *line[1:]])
    book.save(path)


def _table(sheet):
    """Headers and rows of a sheet; the candidates' rows are taken off it."""
    rows = list(sheet.iter_rows(values_only=True))
    first = next(k for k, row in enumerate(rows) if str(row[0]).endswith("*"))
    if sheet.title == "Candidates":
        sheet.delete_rows(first + 2, len(rows))
    return list(rows[first]), [row for row in rows[first + 1:] if row[0]]


def formulas_of(count: int, columns: int, seed: int, path: Path):
    """A sheet with ten columns of numbers and others of formulas that build on each other."""
    from openpyxl.utils import get_column_letter as letter

    draw, book = random.Random(seed), openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("Farms")
    for row in range(1, count + 1):
        line = [round(draw.uniform(1, 1_000), 2) for _ in range(INPUT_COLUMNS)]
        for k in range(columns):
            a, b = letter(1 + k % INPUT_COLUMNS), letter(INPUT_COLUMNS + k)
            line.append((f"={a}{row}*1.02+{b}{row}/3", f"=IF({b}{row}>500,{a}{row},{b}{row}*0.97)",
                         f"=ROUND(SQRT(ABS({b}{row}))*{a}{row},2)")[k % 3])
        sheet.append(line)
    book.save(path)


def steps_of_a_run(source: Path, out: Path):
    """Wall and processor seconds [s] and memory [MB] of each step, printed as JSON. Its process
    must have been started for it: the import is the first step."""
    marks = [("import", 0.0, 0.0, 0.0)]

    def begin(name):
        marks.append((name, time.perf_counter() - START, time.process_time(), _peak_mb()))

    from batch.memory import give_back_freed_memory, spare_the_processor

    spare_the_processor()
    from batch.reading import validate as reading
    from batch.study import run_study
    from batch.writing.run_folder import write_run

    read = reading.read_workbook

    def read_and_tell(path):
        cells = read(path)
        begin("validate")
        return cells

    give_back_freed_memory()
    begin("read")
    reading.read_workbook = read_and_tell
    study = run_study(reading.validate(source), begin)
    write_run(study, out, overwrite=True, options={}, farm_pages=0, on_step=begin)
    begin("end")
    print(json.dumps([(name, later[1] - wall, later[2] - cpu, later[3])
                      for (name, wall, cpu, _), later in zip(marks, marks[1:])]))


def floor(source: Path, result: Path, target: Path):
    """Wall and processor seconds of bare reading and writing, printed as JSON; the number of the
    result's filled cells stands last."""
    spent, filled = {"reads the input": [0.0, 0.0], "writes the result": [0.0, 0.0]}, 0

    def timed(what, action):
        wall, cpu = time.perf_counter(), time.process_time()
        action()
        spent[what][0] += time.perf_counter() - wall
        spent[what][1] += time.process_time() - cpu

    def read_all():
        for sheet in openpyxl.load_workbook(source, read_only=True).worksheets:
            for _ in sheet.iter_rows(values_only=True):
                pass

    def append_all(sheet, lines):
        for line in lines:
            sheet.append(line)

    timed("reads the input", read_all)
    made, book = openpyxl.load_workbook(result, read_only=True), openpyxl.Workbook(write_only=True)
    for sheet in made.worksheets:
        copy, lines = book.create_sheet(sheet.title), []
        for line in sheet.iter_rows(values_only=True):
            lines.append(line)
            filled += sum(value is not None for value in line)
            if len(lines) == 1_000:
                timed("writes the result", lambda: append_all(copy, lines))
                lines = []
        timed("writes the result", lambda: append_all(copy, lines))
    timed("writes the result", lambda: book.save(target))
    print(json.dumps([*((f"openpyxl {what}", *times, None) for what, times in spent.items()),
                      ("filled cells", filled, filled, None)]))


def sizing(source: Path):
    """Processor seconds of sizing and judging every design of a workbook, printed as JSON: what a
    check cannot do without, beside reading."""
    from batch.memory import spare_the_processor

    spare_the_processor()
    from batch.reading.validate import validate
    from batch.step import run
    from batch.program.sets import by_builders, designs_of_rows, whole_line
    from batch.study import DESIGN, SIZE, assessable, at_hand_of

    inputs = validate(source)
    farms, begun, at_hand = assessable(inputs), time.process_time(), at_hand_of(inputs)
    designs, place = designs_of_rows(run(SIZE.steps, farms, at_hand),
                                     by_builders(farms, whole_line))
    at_hand |= {key: at_hand[key].of(place) for key in ("chain", "spectrum")}
    run(DESIGN.steps, designs, at_hand)
    print(json.dumps([("sizing", time.process_time() - begun)]))


def _peak_mb():
    import resource

    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


WHOLE, WITH_PAGES = "whole command, cold, no farm pages", "whole command, cold, every page"
LIBRARIES_ALONE, FLOOR = "libraries alone, cold", "floor"


# --- measuring -----------------------------------------------------------------------------------

def child(*words) -> list:
    """What a function of this file prints, in a process of its own, with one thread for linear
    algebra as the program itself has it."""
    done = subprocess.run([sys.executable, __file__, *map(str, words)], check=True,
                          capture_output=True, text=True,
                          env=_environment() | {"OPENBLAS_NUM_THREADS": "1"})
    return json.loads(done.stdout.splitlines()[-1])


def command(*words) -> tuple[float, float, float]:
    """Wall time [s], processor time [s] and highest memory [MB] of a command of its own."""
    start = time.perf_counter()
    process = subprocess.Popen([str(word) for word in words], stdout=subprocess.DEVNULL,
                               stderr=subprocess.DEVNULL,
                               env=_environment())
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(f"{words[0]} ended with {process.returncode}")
    return (time.perf_counter() - start, usage.ru_utime + usage.ru_stime,
            usage.ru_maxrss / 1024)


def _environment():
    return os.environ | {"PYTHONPATH": str(ROOT)}


def medians(measure, repeat: int) -> list[tuple]:
    """(name, wall, cpu, memory) by the median of several measurements of the same names."""
    runs = [measure() for _ in range(repeat)]
    return [(names[0][0], *(None if one[0] is None else statistics.median(one)
                            for one in list(zip(*names))[1:])) for names in zip(*runs)]


def measured(count: int, repeat: int, seed: int, folder: Path, with_peers: bool):
    """(title, figures) of the parts of one size."""
    source = folder / f"farms_{count}.xlsx"
    workbook_of(count, seed, source)

    def whole(*options):
        return [("farmbatch run", *command(
            sys.executable, "-m", "batch", "run", source, "--out", folder / "cold", "--overwrite",
            "--quiet", *options))]

    yield WHOLE, medians(lambda: whole("--farm-pages", "none"), repeat)
    if count <= ALL_PAGES:
        yield WITH_PAGES, medians(whole, repeat)
    yield "its steps", medians(lambda: child("steps", source, folder / "warm"), repeat)
    yield LIBRARIES_ALONE, medians(lambda: [("python imports them", *command(
        sys.executable, "-c", IMPORTS))], repeat)
    [result] = (folder / "warm").glob("*/result.xlsx")
    *floors, cells = medians(lambda: child("floor", source, result, folder / "floor.xlsx"), repeat)
    yield FLOOR, floors
    as_many = round(cells[1] / count)
    for columns in (FORMULA_COLUMNS, as_many) if with_peers else ():
        peer = folder / f"formulas_{columns}.xlsx"
        formulas_of(count, columns, seed, peer)
        yield f"peer with {columns:,} formula columns", medians(lambda: [(
            "LibreOffice recalculates", *command(
                "soffice", f"-env:UserInstallation=file://{folder}/profile", "--headless",
                "--convert-to", "xlsx", "--outdir", folder / "peer", peer))], repeat)


def report_demo(repeat: int, folder: Path):
    """Print the processor time of three commands on the demo, and what each is held against."""
    def spent(measure):
        return sum(row[1] for row in medians(measure, repeat))

    def farmbatch(*words):
        return spent(lambda: [("", command(sys.executable, "-m", "batch", *words)[1])])

    whole = farmbatch("run", DEMO, "--out", folder / "demo", "--overwrite", "--quiet")
    [result] = (folder / "demo").glob("*/result.xlsx")
    bare = spent(lambda: [(name, cpu) for name, _, cpu, _ in child(
        "floor", DEMO, result, folder / "floor.xlsx")[:-1]])
    libraries = spent(lambda: [("", command(sys.executable, "-c", IMPORTS)[1])])
    check, needed = farmbatch("check", DEMO), spent(lambda: child("sizing", DEMO))
    print(f"\nthe demo portfolio{'':41} cpu [s]")
    for name, seconds in (
            ("run with every page", whole), ("libraries + floor", libraries + bare),
            ("check", check), ("its sizing", needed), ("--help", farmbatch("--help")),
            ("run --help", farmbatch("run", "--help"))):
        print(f"    {name:54} {seconds:9.2f}")
    print(f"    {'run with every page / (libraries + floor)':54} {whole / (libraries + bare):9.2f}")


def report(count: int, parts: dict[str, list]):
    """Print the figures of one size and their ratios."""
    from batch.study import STEPS

    print(f"\n{count:,} candidates{'':26}  wall [s]   cpu [s]  memory [MB]")
    for title, figures in parts.items():
        print(f"  {title}")
        for name, wall, cpu, memory in figures:
            held = f"{memory:13,.0f}" if memory else ""
            print(f"    {name:34} {wall:9.2f} {cpu:9.2f}{held}")
    for place, clock in ((1, "wall"), (2, "cpu")):
        def spent(title):
            return sum(row[place] for row in parts[title])

        computing = sum(row[place] for row in parts["its steps"] if row[0] in STEPS)
        bare, libraries = spent(FLOOR), spent(LIBRARIES_ALONE)
        ratios = {"whole / floor": spent(WHOLE) / bare, "computation / floor": computing / bare}
        ratios |= {f"{title} / (libraries + floor)": spent(title) / (libraries + bare)
                   for title in (WHOLE, WITH_PAGES) if title in parts}
        ratios |= {f"whole / {title}": spent(WHOLE) / spent(title)
                   for title in parts if title.startswith("peer")}
        print(f"  ratios of {clock} time")
        for name, ratio in ratios.items():
            print(f"    {name:58} {ratio:9.2f}")


def main():
    """Print the figures of each size."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sizes", nargs="*", type=int, default=[60, 1_000, 5_000])
    parser.add_argument("--repeat", type=int, default=3)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--no-peer", action="store_true")
    given = parser.parse_args()
    with_peers = not given.no_peer and shutil.which("soffice") is not None
    print(f"load of the machine {os.getloadavg()[0]:.1f}, {os.cpu_count()} processors")
    with tempfile.TemporaryDirectory() as name:
        report_demo(given.repeat, Path(name))
    for count in given.sizes:
        repeat = 1 if count >= LARGE else given.repeat
        with tempfile.TemporaryDirectory() as name:
            parts = dict(measured(count, repeat, given.seed, Path(name), with_peers))
        report(count, parts)


if __name__ == "__main__":
    START = time.perf_counter()
    if sys.argv[1:2] == ["steps"]:
        steps_of_a_run(*map(Path, sys.argv[2:4]))
    elif sys.argv[1:2] == ["sizing"]:
        sizing(Path(sys.argv[2]))
    elif sys.argv[1:2] == ["floor"]:
        floor(*map(Path, sys.argv[2:5]))
    else:
        main()
