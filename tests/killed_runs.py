"""Kills runs at many points of their writing and tells what is left; run by test_interrupted.py.

    python killed_runs.py WORKBOOK FOLDER

A kill leaves on the disk what stood there: so one run is watched, first without and then with an
old run to be replaced, and its place is copied right before each change of a file or folder. That
a kill leaves the same as the copy is tried by real ones (SIGKILL) at some points, among them each
where the run folder is no longer what it was. One line of JSON is printed for each point; then for
runs that two children start at once.
"""

import hashlib
import json
import os
import re
import shutil
import signal
import sys
from pathlib import Path

from batch.findings import StudyError
from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.pages import board_charts
from batch.writing.run_folder import write_run

WATCHED = {"open", "os.rename", "os.mkdir", "os.remove", "os.rmdir", "os.chmod"}
CHANGES = os.O_WRONLY | os.O_RDWR
FEW = 3  # real kills spread over each run, beside those where the run folder changes
NEXT_RUN_EVERY = 50  # points at which a next run is written where no run is left: a whole run each


def before_each_change(base: Path, act):
    """From now on `act` is called with a number before each change below a folder, 0 first."""
    count, is_acting = [0], [False]

    def hook(event, args):
        if is_acting[0] or event not in WATCHED or event == "open" and not args[2] & CHANGES:
            return
        if str(base) in str(args[0]) or event in ("os.remove", "os.rmdir"):
            is_acting[0] = True
            act(count[0])
            is_acting[0] = False
            count[0] += 1

    sys.addaudithook(hook)


def run_in_child(study, base: Path, is_replacing, act) -> bool:
    """A run in a child that acts before each change; False where it did not come to its end."""
    child = os.fork()
    if child == 0:
        before_each_change(base, act)
        write_run(study, base, overwrite=is_replacing, options={"which": "new"})
        os._exit(0)
    status = os.waitpid(child, 0)[1]
    assert os.WIFSIGNALED(status) or os.WEXITSTATUS(status) == 0
    return not os.WIFSIGNALED(status)


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


def sizes(base: Path) -> dict:
    """The size of each file and None for each folder; names without what differs from run to run:
    the random part of the hidden folder's and of openpyxl's own files, the number of a process."""
    varies = r"\.new-[^/]+|(?<=openpyxl)\.\w+|\d+(?=\.part$)"
    return {re.sub(varies, "", path.relative_to(base).as_posix()):
            path.stat().st_size if path.is_file() else None for path in base.rglob("*")}


def is_refused(study, base) -> bool:
    try:
        write_run(study, base, overwrite=False, options={"which": "second"})
    except StudyError:
        return True
    return False


def made_ready(base: Path, old: Path | None):
    shutil.rmtree(base, ignore_errors=True)
    base.mkdir()
    if old:
        shutil.copytree(old, base / old.name)


def tell_points(study, base: Path, name: str, old: Path | None):
    """A line for each point: what is left of a run that ends there, whether a real kill left the
    same, and what a next run does. The last line is of the run that came to its end."""
    how, copies = "replace" if old else "first", base.with_name("copies")
    shutil.rmtree(copies, ignore_errors=True)
    made_ready(base, old)
    assert run_in_child(study, base, bool(old),
                        lambda point: shutil.copytree(base, copies / f"{point:04}"))
    shutil.copytree(base, copies / "9999")
    places = sorted(copies.iterdir())
    lefts = [state(place / name) for place in places]
    last = len(places) - 1
    kills = {round(part * (last - 1) / (FEW - 1)) for part in range(FEW)} | {
        point for point in range(1, last) if lefts[point] != lefts[point - 1]}
    for point, (place, left) in enumerate(zip(places, lefts)):
        line = {"how": how, "is_end": point == last, "left": left}
        if point in kills:
            made_ready(base, old)
            killed = not run_in_child(
                study, base, bool(old), lambda now, point=point: now == point and os.kill(
                    os.getpid(), signal.SIGKILL))
            line["kill_leaves_the_same"] = killed and sizes(base) == sizes(place)
        if old or left != "absent" or point % NEXT_RUN_EVERY == 0:
            refused = is_refused(study, place)  # puts an old run back, too
            line |= {"refused": refused, "then": state(place / name)}
        print(json.dumps(line))


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


def kept_by_name(draw):
    """A drawing function that draws each chart once."""
    kept = {}

    def drawn(name, *given):
        if name not in kept:
            kept[name] = draw(name, *given)
        return kept[name]
    return drawn


def main(workbook, base):
    study = run_study(validate(workbook))
    # The charts are drawn once: they touch no file, and all runs are of the same figures.
    board_charts._drawn = kept_by_name(board_charts._drawn)
    base = Path(base)
    old = write_run(study, base.with_name("kept"), overwrite=False, options={"which": "old"})
    for before in (None, old):
        tell_points(study, base, old.name, before)
    for is_overwriting in (False, True):
        sys.stdout.flush()
        tell_two_at_once(study, base, is_overwriting)


if __name__ == "__main__":
    main(*sys.argv[1:])
