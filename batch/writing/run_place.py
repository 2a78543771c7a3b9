"""The place of a run folder: whose it is, who may replace it, and the moves that put it there.

A folder belongs to one study, which its record names, and everything in it that its record does
not list belongs to the user. Beside the run folder `name` stand, while a run is moved there,
`.name.lock` (one run at a time looks and moves) and `.name.old` (the run that is replaced). A run
that is killed can leave them behind: the next one puts the old run back where the folder is
missing, or else deletes what is left of it. Links are never followed.
"""

import os
from contextlib import contextmanager, suppress
from pathlib import Path

from batch.findings import StudyError
from batch.run_names import folder_name, one_name
from batch.writing.record import RECORD, read_record

LEAVING = "record.json.replaced"  # the record of a run of which files are being deleted
LOCK_WAIT_S = 60
# What file managers put into every folder that they show.
OF_FILE_MANAGERS = (".DS_Store", "Thumbs.db", "desktop.ini")
LOOK = "Look into it and move it away, or use another study name or --out."


def refuse_existing(study_name: str, out: str | Path, overwrite: bool,
                    scenario: str | None = None) -> Path:
    """The run folder's path for a study name, that of its scenario included. Errors: StudyError
    where it stands already and may not be replaced, or where its place cannot be looked at."""
    folder = Path(out) / folder_name(study_name)
    try:
        if _is_there(_old_place(folder)):
            with _alone_at(folder):
                _mend(folder)
        must_be_free(folder, overwrite, study_name, scenario)
    except OSError as fault:
        raise StudyError(f"The run folder cannot be made in --out: {fault.strerror or fault}.",
                         "Use another folder for --out.") from fault
    return folder


def must_be_free(folder: Path, overwrite: bool, study_name: str, scenario: str | None):
    """Errors: StudyError where the folder is there, and is not a run of the same study with
    nothing else in it that may be replaced."""
    if not _is_there(folder):
        return
    _must_be_no_link(folder)
    if not overwrite:
        raise StudyError(f"The run folder {folder} exists.",
                         "Use another study name or --out, or add --overwrite to replace it.")
    if not folder.is_dir() or not _is_there(folder / RECORD):
        raise StudyError(f"{folder} is there and is no run folder: it has no {RECORD}.", LOOK)
    whole = read_record(folder / RECORD)
    theirs = _identity(whole["content"])
    if theirs != (one_name(study_name), one_name(scenario or "")):
        said = f"'{theirs[0]}'" + (f" under the scenario '{theirs[1]}'" if theirs[1] else "")
        raise StudyError(f"{folder} holds the run of another study, {said}.", LOOK)
    _must_hold_nothing_else(folder, whole["files_sha256"])


def _identity(content: dict) -> tuple[str, str]:
    """Study name and scenario of a run, as `one_name` tells them."""
    options = content.get("options")
    scenario = options.get("scenario") if isinstance(options, dict) else None
    name = scenario.get("name") if isinstance(scenario, dict) else None
    return one_name(content["study"]["study_name"]), one_name(str(name or ""))


def publish(stage: Path, folder: Path, overwrite: bool, study_name: str, scenario: str | None):
    """Move the whole new folder to its place; an old one is set aside until that is done, and goes
    back where it cannot be. Another run may have been here since the place was looked at.

    Errors: StudyError where the place is not free, OSError where a folder cannot be moved.
    """
    with _alone_at(folder):
        _mend(folder)
        must_be_free(folder, overwrite, study_name, scenario)
        if not _is_there(folder):
            os.replace(stage, folder)
            return
        aside = _old_place(folder)
        os.replace(folder, aside)
        try:
            os.replace(stage, folder)
        except OSError:
            _put_back(aside, folder)
            raise
        with suppress(OSError, StudyError):  # what is left of it is a matter of the next run
            _delete(aside)


@contextmanager
def _alone_at(folder: Path):
    """Hold the lock of a folder: two runs never look and move at once. The system lets go of the
    lock of a run that is killed; its file is deleted while it is held, as the lock allows."""
    from filelock import FileLock, Timeout

    lock = FileLock(folder.with_name(f".{folder.name}.lock"))
    try:
        lock.acquire(timeout=LOCK_WAIT_S)
    except Timeout as fault:
        raise StudyError(f"Another run has been moving {folder} for {LOCK_WAIT_S} seconds.",
                         "Wait until it has ended, and run again.") from fault
    try:
        yield
    finally:
        if os.name == "posix":  # elsewhere the lock deletes its own file
            Path(lock.lock_file).unlink(missing_ok=True)
        lock.release()


def _is_there(path: Path) -> bool:
    """Whether something has that name, a link that leads nowhere included. Errors: OSError where
    that cannot be told."""
    try:
        os.lstat(path)
    except FileNotFoundError:
        return False
    return True


def _old_place(folder: Path) -> Path:
    return folder.with_name(f".{folder.name}.old")


def _mend(folder: Path):
    """After a run that was killed in the moment of replacing: put its old run back, or delete what
    is left of that where the new one had arrived."""
    aside = _old_place(folder)
    if not _is_there(aside):
        return
    _must_be_no_link(aside)
    if not _is_there(folder) and _is_there(aside / RECORD):
        os.replace(aside, folder)
    else:
        _delete(aside)


def _must_be_no_link(path: Path):
    if path.is_symlink() or getattr(path, "is_junction", bool)():
        raise StudyError(f"{path} is a link to another place.",
                         "Move the link away, or name the folder that it points to by --out.")


def _delete(run: Path):
    """Delete a run that was set aside: the files that it lists and nothing else. Its record is
    renamed first, so that half of it is never put back as a run, and deleted last.

    Errors: StudyError naming a file that belongs to no run.
    """
    if not run.is_dir():
        raise StudyError(f"{run} is no folder of a run.", "Move it away, and run again.")
    if _is_there(run / RECORD):
        os.replace(run / RECORD, run / LEAVING)
    has_list = _is_there(run / LEAVING)
    listed = read_record(run / LEAVING)["files_sha256"] if has_list else {}
    _must_hold_nothing_else(run, listed)
    for name in _files_in(run):
        if name != LEAVING:
            (run / name).unlink()
    for place, folders, _ in os.walk(run, topdown=False):
        for name in folders:
            Path(place, name).rmdir()
    (run / LEAVING).unlink(missing_ok=True)
    run.rmdir()


def _must_hold_nothing_else(folder: Path, listed: dict):
    known = {*listed, RECORD, LEAVING}
    own = next((name for name in _files_in(folder) if name not in known
                and name.rpartition("/")[2] not in OF_FILE_MANAGERS), None)
    if own is not None:
        raise StudyError(f"'{own}' in {folder} belongs to no run: it is not in its record.",
                         "Move that file elsewhere and run again; nothing was changed.")


def _files_in(folder: Path) -> list[str]:
    """All that is no folder, links to folders included, by its place in the folder."""
    names = []
    for place, folders, files in os.walk(folder):
        links = [name for name in folders if Path(place, name).is_symlink()]
        names += [Path(place, name).relative_to(folder).as_posix() for name in (*files, *links)]
    return sorted(names)


def _put_back(aside: Path, folder: Path):
    """The old run returns to its place; where even that fails, the message says where it is."""
    try:
        os.replace(aside, folder)
    except OSError as fault:
        raise StudyError(f"The new run could not be moved to {folder}, nor the old one back: "
                         f"{fault.strerror or fault}.",
                         f"The old run is whole in {aside}: rename that folder.") from fault
