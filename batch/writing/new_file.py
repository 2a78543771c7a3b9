"""Where a single file may be written: never through a link, and over another one only if asked."""

from pathlib import Path

from batch.study_error import StudyError


def must_be_workbook(path: Path):
    """Errors: StudyError for a name that is no workbook's."""
    if path.suffix.lower() != ".xlsx":
        raise StudyError(f"{path} does not end in .xlsx.", "Choose a name that does.")


def must_be_no_link(path: Path, what: str = "name"):
    """Errors: StudyError for a link. `what` is what the user chooses: a name or a folder."""
    if path.is_symlink():
        raise StudyError(f"{path} is a link to another file.", f"Choose another {what}.")


def must_be_free(path: Path, overwrite: bool, what: str = "name"):
    """Errors: StudyError for a link, and for a file that is there and may not be replaced."""
    must_be_no_link(path, what)
    if path.exists() and not overwrite:
        raise StudyError(f"{path} exists.", f"Choose another {what}, or add --overwrite.")
