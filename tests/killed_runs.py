"""Kills runs at many points of their writing and tells what is left; run by test_interrupted.py.

    python killed_runs.py WORKBOOK FOLDER

Each run is a forked child that ends with SIGKILL right before its n-th change of a file or folder.
One line of JSON is printed for each n, first without and then with an old run to be replaced;
then for runs that two children start at once.
"""

import hashlib
import json
import os
import shutil
import signal
import sys
from pathlib import Path

from batch.findings import StudyError
from batch.reading.validate import validate
from batch.study import run_study
from batch.writing import run_folder
from batch.writing.run_folder import write_run

WATCHED = {"open", "os.rename", "os.mkdir", "os.remove", "os.rmdir", "os.chmod"}
CHANGES = os.O_WRONLY | os.O_RDWR
# While files are written every point is like the next; of the last ones, the moves, each counts.
EVERY, LAST = 40, 40


def at_each_event(base: Path, do):
    """From now on `do` is called before each change of a file or folder."""
    def hook(event, args):
        if event not in WATCHED or event == "open" and not args[2] & CHANGES:
            return
        if str(base) in str(args[0]) or event in ("os.remove", "os.rmdir"):
            do()

    sys.addaudithook(hook)


def is_killed(point, study, base, is_replacing) -> bool:
    """Run in a child up to that event, 0 the first; False where it came to its end before."""
    child = os.fork()
    if child == 0:
        left = iter(range(point, -1, -1))
        at_each_event(base, lambda: next(left, 1) or os.kill(os.getpid(), signal.SIGKILL))
        write_run(study, base, overwrite=is_replacing, options={"which": "new"})
        os._exit(0)
    return os.WIFSIGNALED(os.waitpid(child, 0)[1])


def count_of_events(study, base, is_replacing) -> int:
    """How many changes a run makes that nothing stops, from a child."""
    read, write = os.pipe()
    if os.fork() == 0:
        seen = []
        at_each_event(base, lambda: seen.append(1))
        write_run(study, base, overwrite=is_replacing, options={"which": "new"})
        os.write(write, str(len(seen)).encode())
        os._exit(0)
    os.close(write)
    os.wait()
    return int(os.read(read, 20))


def state(folder: Path) -> str:
    """absent, old, new: a whole run with true hashes; anything else is told as broken."""
    if not folder.exists():
        return "absent"
    try:
        whole = json.loads((folder / "record.json").read_text(encoding="utf-8"))
    except FileNotFoundError:
        return "broken: no record"
    files = {path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
             for path in folder.rglob("*") if path.is_file() and path.name != "record.json"}
    if files != whole["files_sha256"]:
        return "broken: files and hashes differ"
    return whole["content"]["options"]["which"]


def is_refused(study, base) -> bool:
    try:
        write_run(study, base, overwrite=False, options={"which": "second"})
    except StudyError:
        return True
    return False


def tell_kills(study, base: Path, old: Path, how: str):
    """A line for each point: whether it was reached, what was left, and what a next run does."""
    folder = base / old.name

    def begin_anew():
        shutil.rmtree(base, ignore_errors=True)
        base.mkdir()
        if how == "replace":
            shutil.copytree(old, folder)

    begin_anew()
    count = count_of_events(study, base, how == "replace")
    last = max(count - LAST, 0) if how == "replace" else count - 4
    for point in (*range(0, last, EVERY), *range(last, count + 1)):
        begin_anew()
        killed = is_killed(point, study, base, how == "replace")
        left = state(folder)
        refused = is_refused(study, base)  # puts an old run back, too
        print(json.dumps({"how": how, "killed": killed, "left": left, "refused": refused,
                          "then": state(folder), "hidden": os.listdir(base)}))
        if not killed:
            return


def tell_two_at_once(study, base: Path, is_overwriting: bool):
    """Two children write the same run folder, each with a name of its own in the record."""
    shutil.rmtree(base, ignore_errors=True)
    children = []
    for name in ("one", "two"):
        child = os.fork()
        if child == 0:
            try:
                write_run(study, base, overwrite=is_overwriting, options={"which": name})
            except StudyError as stop:
                print(json.dumps({"how": "stopped", "why": str(stop)}), flush=True)
                os._exit(3)
            os._exit(0)
        children.append(child)
    codes = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
    [folder] = base.iterdir()
    print(json.dumps({"how": "two", "overwrite": is_overwriting, "codes": codes,
                      "left": state(folder)}))


# Pages and workbook are written as all other files are and take the most time: where a run replaces
# another one, these stand for them.

def short_page(study, folder, *more):
    """In place of the pages."""
    (folder / "board.html").write_text("a page", encoding="utf-8")


def short_workbook(study, path, *more):
    """In place of the result workbook."""
    path.write_bytes(b"a workbook")


def main(workbook, base):
    study = run_study(validate(workbook))
    base = Path(base)
    old = write_run(study, base.with_name("kept"), overwrite=False, options={"which": "old"})
    tell_kills(study, base, old, "first")
    run_folder.write_pages, run_folder.write_result = short_page, short_workbook
    tell_kills(study, base, old, "replace")
    for is_overwriting in (False, True):
        sys.stdout.flush()
        tell_two_at_once(study, base, is_overwriting)


if __name__ == "__main__":
    main(*sys.argv[1:])
