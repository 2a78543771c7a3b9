"""The grower's application form into a folder: the page to print and the sheet."""

from pathlib import Path

from batch.study_error import StudyError
from batch.writing.new_file import must_be_free
from batch.writing.pages.application import APPLICATION, application_page
from batch.writing.pages.templates import read_templates
from batch.writing.workbook.application import write_application

WORKBOOK = "application.xlsx"
LONGEST_NAME = 80  # signs that stand on one line of the printed page


def write_form(folder: Path, cooperative: str = "", overwrite: bool = False,
               template_folder: Path | None = None) -> tuple[Path, Path]:
    """Write both files and return their places; the folder is made where it is missing.

    Errors: StudyError where a file exists or cannot be written, the name is too long, or a
    template of the user's has a fault.
    """
    cooperative = " ".join(cooperative.split())
    if len(cooperative) > LONGEST_NAME:
        raise StudyError(f"The cooperative's name has {len(cooperative)} signs; {LONGEST_NAME} fit "
                         "on the form.", "Give a shorter one.")
    places = page, sheet = folder / APPLICATION, folder / WORKBOOK
    for path in places:
        must_be_free(path, overwrite, "folder")
    text = application_page(cooperative, read_templates(template_folder))
    is_new = not sheet.exists()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        write_application(sheet, cooperative)
        try:
            page.write_text(text, encoding="utf-8", newline="")
        except OSError:
            if is_new:  # no half of a form is left behind
                sheet.unlink(missing_ok=True)
                page.unlink(missing_ok=True)
            raise
    except OSError as fault:
        raise StudyError(f"The form cannot be written into {folder}: {fault.strerror or fault}.",
                         "Check the folder, the disk, and that no program holds its files.",
                         ) from fault
    return places
