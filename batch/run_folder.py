"""The run folder: everything of one run, written beside its place and moved there as a whole.

A folder with `record.json` is a whole run. An existing folder is never touched unless overwriting
was asked for, and then it is replaced only once the new one is complete.

Beside the run folder `name` stand, while a run is written, `.name.new-XXXX` (the new one) and for
a moment `.name.old` (the one that is replaced). A killed run can leave them behind: the next run
puts an old one back where the folder is missing; a new one is never read and may be deleted.
"""

import json
import os
import shutil
import tempfile
from contextlib import suppress
from datetime import datetime, timezone
from pathlib import Path

from batch.audit import record
from batch.canonical import digest
from batch.findings import StudyError
from batch.outputs import csv_files, write_csv
from batch.reports.pages import write_pages
from batch.reports.templates import Templates, read_templates
from batch.run_names import plain_name
from batch.scenario import record_options
from batch.workbook.result import write_result

RECORD, RESULTS_FILE = "record.json", "results.csv"
STEPS = ("CSV files", "result workbook", "pages", "record")


def write_run(study, out: str | Path, *, overwrite: bool, options: dict,
              farm_pages: int | None = 500, templates: Templates | None = None,
              on_step=lambda name: None) -> Path:
    """Write the run folder of a study and return its path. So many farms get a page, from the
    first row on; None for all. Pages are made from the program's own templates, or those given.

    Errors: StudyError where the folder exists and may not be replaced, or cannot be written.
    """
    folder = refuse_existing(study.inputs.study["study_name"], out, overwrite)
    stage = None
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        stage = Path(tempfile.mkdtemp(prefix=f".{folder.name}.new-", dir=folder.parent))
        stage.chmod(0o755)
        _fill(study, stage, options, farm_pages, templates or read_templates(), on_step)
        _publish(stage, folder, overwrite)
    except OSError as fault:
        raise StudyError(f"The run folder {folder} cannot be written: {fault.strerror or fault}.",
                         "Check the disk, the folder's rights and that no file in it is open "
                         "elsewhere; nothing was changed.") from fault
    finally:
        if stage is not None and stage.exists():
            shutil.rmtree(stage, ignore_errors=True)
    return folder


def refuse_existing(study_name: str, out: str | Path, overwrite: bool) -> Path:
    """The run folder's path for a study name. Errors: StudyError where it stands already, or where
    its place cannot be looked at."""
    folder = Path(out) / plain_name(study_name)
    try:
        _restore(folder)
        is_there, is_run = folder.exists(), (folder / RECORD).exists()
    except OSError as fault:
        raise StudyError(f"The run folder cannot be made in --out: {fault.strerror or fault}.",
                         "Use another folder for --out.") from fault
    if is_there and not overwrite:
        _refuse(folder)
    if is_there and not is_run:
        raise StudyError(f"{folder} is there and is no run folder: it has no {RECORD}.",
                         "Look into it and move it away, or use another study name or --out.")
    return folder


def _refuse(folder: Path):
    raise StudyError(f"The run folder {folder} exists.",
                     "Use another study name or --out, or add --overwrite to replace it.")


def _old_place(folder: Path) -> Path:
    return folder.with_name(f".{folder.name}.old")


def _restore(folder: Path):
    """Put back the old run where a run was killed in the moment of replacing it."""
    if not folder.exists() and (_old_place(folder) / RECORD).exists():
        os.replace(_old_place(folder), folder)


def _publish(stage: Path, folder: Path, overwrite: bool):
    """Move the whole new folder to its place; an old one is set aside until that is done, and goes
    back where it cannot be."""
    if not folder.exists():
        os.replace(stage, folder)
        return
    if not overwrite:  # another run has put it there meanwhile
        _refuse(folder)
    aside = _old_place(folder)
    _delete(aside)  # of a killed run whose new folder had arrived
    os.replace(folder, aside)
    try:
        os.replace(stage, folder)
    except OSError:
        _put_back(aside, folder)
        raise
    _delete(aside)


def _delete(run: Path):
    """Delete a run folder; the record first, so that half of it is never put back as a run."""
    with suppress(OSError):
        (run / RECORD).unlink(missing_ok=True)
        shutil.rmtree(run)


def _put_back(aside: Path, folder: Path):
    """The old run returns to its place; where even that fails, the message says where it is."""
    try:
        os.replace(aside, folder)
    except OSError as fault:
        if (folder / RECORD).exists():
            raise StudyError(f"Another run was written to {folder} meanwhile.",
                             "Look at that one, and run again if it is not yours.") from fault
        raise StudyError(f"The new run could not be moved to {folder}, nor the old one back: "
                         f"{fault.strerror or fault}.",
                         f"The old run is whole in {aside}: rename that folder.") from fault


def _fill(study, stage: Path, options: dict, farm_pages, templates, on_step):
    on_step(STEPS[0])
    for name, parts in csv_files(study):
        write_csv(stage / name, parts)
    results_text = (stage / RESULTS_FILE).read_bytes().decode("utf-8-sig")
    options = {**options, **record_options(study.inputs.scenario), **templates.hashes()}
    content = record.study_content(study, results_text, options)
    mark = record.fingerprint(content)
    on_step(STEPS[1])
    write_result(study, stage / "result.xlsx", content, mark)
    on_step(STEPS[2])
    write_pages(study, stage, mark, farm_pages, templates)
    on_step(STEPS[3])
    files = {path.relative_to(stage).as_posix(): digest(path.read_bytes())
             for path in sorted(stage.rglob("*")) if path.is_file()}
    whole = {"fingerprint": mark, "content": content, "what_it_proves": record.WHAT_IT_PROVES,
             "files_sha256": files, "environment": record.environment(),
             "clock": {"written_at": datetime.now(timezone.utc).isoformat(timespec="seconds")}}
    text = json.dumps(whole, indent=1, ensure_ascii=False, default=str)
    (stage / RECORD).write_text(text + "\n", encoding="utf-8", newline="")
