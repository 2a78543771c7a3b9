"""The run folder: everything of one run, written beside its place and moved there as a whole.

A folder with `record.json` is a whole run. An existing folder is never touched unless overwriting
was asked for, and then it is replaced only once the new one is complete; `run_place.py` says when
and how. While a run is written it stands in `.name.new-XXXX` beside its place: what a killed run
leaves there is never read and may be deleted.
"""

import json
import shutil
import tempfile
from datetime import datetime, timezone
from pathlib import Path

from batch.canonical import digest
from batch.findings import StudyError
from batch.reading.scenario import record_options
from batch.writing import record
from batch.writing.outputs import csv_files, write_csv
from batch.writing.pages.pages import write_pages
from batch.writing.pages.templates import Templates, read_templates
from batch.writing.record import RECORD
from batch.writing.run_place import publish, refuse_existing
from batch.writing.workbook.result import write_result

RESULTS_FILE = "results.csv"
STEPS = ("CSV files", "result workbook", "pages", "record")


def write_run(study, out: str | Path, *, overwrite: bool, options: dict,
              farm_pages: int | None = 500, templates: Templates | None = None,
              on_step=lambda name: None) -> Path:
    """Write the run folder of a study and return its path. So many farms get a page, from the
    first row on; None for all. Pages are made from the program's own templates, or those given.

    Errors: StudyError where the folder exists and may not be replaced, or cannot be written.
    """
    scenario = study.inputs.scenario.name if study.inputs.scenario else None
    whose = {"study_name": study.inputs.study["study_name"], "scenario": scenario}
    folder = refuse_existing(out=out, overwrite=overwrite, **whose)
    stage = None
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        stage = Path(tempfile.mkdtemp(prefix=f".{folder.name}.new-", dir=folder.parent))
        stage.chmod(0o755)
        _fill(study, stage, options, farm_pages, templates or read_templates(), on_step)
        publish(stage, folder, overwrite, **whose)
    except OSError as fault:
        raise StudyError(f"The run folder {folder} cannot be written: {fault.strerror or fault}.",
                         "Check the disk, the folder's rights and that no file in it is open "
                         "elsewhere; nothing was changed.") from fault
    finally:
        if stage is not None and stage.exists():
            shutil.rmtree(stage, ignore_errors=True)
    return folder


def _fill(study, stage: Path, options: dict, farm_pages, templates, on_step):
    on_step(STEPS[0])
    for name, parts in csv_files(study):
        write_csv(stage / name, parts)
    results_text = (stage / RESULTS_FILE).read_bytes().decode("utf-8-sig")
    options = {**options, **record_options(study.inputs.scenario), **templates.hashes()}
    content = record.study_content(study, results_text, options)
    fingerprint = record.fingerprint(content)
    on_step(STEPS[1])
    write_result(study, stage / "result.xlsx", content, fingerprint)
    on_step(STEPS[2])
    write_pages(study, stage, fingerprint, farm_pages, templates)
    on_step(STEPS[3])
    files = {path.relative_to(stage).as_posix(): digest(path.read_bytes())
             for path in sorted(stage.rglob("*")) if path.is_file()}
    whole = {"fingerprint": fingerprint, "content": content,
             "what_it_proves": record.WHAT_IT_PROVES, "files_sha256": files,
             "environment": record.environment(),
             "clock": {"written_at": datetime.now(timezone.utc).isoformat(timespec="seconds")}}
    text = json.dumps(whole, indent=1, ensure_ascii=False, default=str)
    (stage / RECORD).write_text(text + "\n", encoding="utf-8", newline="")
