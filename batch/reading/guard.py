"""The door for files from outside: every workbook passes here before it is parsed.

Nothing is unpacked. The archive's own directory is read, the declared sizes are summed, and the
first bytes of each XML part are looked at. Python's zipfile never reads more than the declared
size of a part. A large part is run through once to count its elements. The file itself is read
once: what is hashed is what is looked at and parsed, whatever becomes of the file meanwhile.
"""

import io
import stat
import zipfile
import zlib
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path, PurePosixPath
from xml.parsers import expat

from batch.canonical import digest
from batch.findings import StudyError
from batch.reading.sheet_count import (
    MOST_OUTSIDE_ROWS,
    READ_BYTES,
    Entities,
    SheetCount,
    TooMuch,
    count_sheet,
    letters_of_row,
)

# A portfolio of 50,000 rows with every column filled has 95 MB of XML and compresses tenfold.
LARGEST_FILE_BYTES = 100_000_000
LARGEST_PART_BYTES = 150_000_000
LARGEST_TOTAL_BYTES = 250_000_000
LARGEST_RATIO = 200
RATIO_COUNTS_ABOVE_BYTES = 2_000_000
MOST_PARTS = 2_000
PROLOG_BYTES = 4_096
COUNTED_ABOVE_BYTES = 5_000_000
MOST_OF_OTHER_PARTS = 300_000  # a workbook has 65,490 cell formats
SHEETS, SHARED_TEXTS = "xl/worksheets/", "xl/sharedStrings"
PARTS_IN_STREAM = (SHEETS, SHARED_TEXTS)

OLE_SIGNATURE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
CONTENT_TYPES = "[Content_Types].xml"
WORKBOOK_TYPES = (b"spreadsheetml.sheet.main+xml", b"spreadsheetml.template.main+xml")
ZIP_FAULTS = (zipfile.BadZipFile, zlib.error, EOFError, OSError, NotImplementedError,
              RuntimeError, ValueError)

SAVE_AS = "Save it in a spreadsheet program as 'Excel Workbook (.xlsx)' and try again."
OPEN_AND_SAVE = ("Open it in a spreadsheet program, save it anew as 'Excel Workbook (.xlsx)', "
                 "and try again.")
NOT_TRUSTED = "Do not use this file; ask its sender for the workbook as a plain .xlsx file."


@dataclass(frozen=True)
class WorkbookFile:
    """A workbook that passed the guard: its path, and its bytes as they were read, once."""

    path: Path
    content: bytes = field(repr=False)
    _counts: dict[str, SheetCount] = field(default_factory=dict, repr=False, compare=False)

    @cached_property
    def sha256(self) -> str:
        """The hash of the bytes."""
        return digest(self.content)

    def stream(self) -> io.BytesIO:
        """The bytes, to read from."""
        return io.BytesIO(self.content)

    def archive(self) -> zipfile.ZipFile:
        """The parts of the workbook."""
        return zipfile.ZipFile(self.stream())

    def count_of(self, part: str) -> SheetCount:
        """The count of the sheet that a part holds, made once. Errors: StudyError for more
        elements than any sheet has, and for entities."""
        if part not in self._counts:
            try:
                with self.archive() as archive, archive.open(part) as stream:
                    self._counts[part] = count_sheet(stream)
            except TooMuch:
                raise _endless(self.path, part) from None
            except Entities:
                raise _with_entities(self.path, part) from None
            except ZIP_FAULTS as fault:
                raise _damaged(self.path, fault) from fault
        return self._counts[part]

    def letters_of_row(self, part: str, row: int) -> list[str]:
        """The letters of the filled cells of a row in a part."""
        with self.archive() as archive, archive.open(part) as stream:
            return letters_of_row(stream, row)


def check_file(path: str | Path | WorkbookFile) -> WorkbookFile:
    """The bytes of a file, when it is a plain .xlsx workbook of bearable size. A file that has
    passed before is not read again.

    Errors: StudyError with one sentence on what is wrong and one on what to do.
    """
    if isinstance(path, WorkbookFile):
        return path
    path = Path(path)
    _must_be_a_filled_file(path)
    file = WorkbookFile(path, _bytes_of(path))
    _must_not_be_ole(file)
    if not zipfile.is_zipfile(file.stream()):
        raise StudyError(f"The file '{path}' is not an Excel workbook (.xlsx), whatever its name "
                         "says.", SAVE_AS)
    try:
        with file.archive() as archive:
            _must_be_bounded(path, archive.infolist())
            _must_have_plain_names(path, archive.infolist())
            _must_be_xlsx(path, archive)
            _must_declare_no_entities(path, archive)
            _must_fit_in_memory(file, archive)
    except ZIP_FAULTS as fault:
        raise _damaged(path, fault) from fault
    return file


def _damaged(path, fault) -> StudyError:
    return StudyError(f"The workbook '{path}' is damaged: {fault}.", OPEN_AND_SAVE)


def _must_be_a_filled_file(path: Path):
    try:
        status = path.stat()
    except FileNotFoundError:
        raise StudyError(f"There is no file '{path}'.", "Check its name and folder.") from None
    except (OSError, ValueError) as fault:
        raise StudyError(f"The file '{path}' cannot be reached: {fault}.",
                         "Check its name, its folder and your permissions.") from fault
    if stat.S_ISDIR(status.st_mode):
        raise StudyError(f"'{path}' is a folder.", "Name the workbook in it.")
    if not stat.S_ISREG(status.st_mode):
        raise StudyError(f"'{path}' is not a regular file.", "Name a workbook (.xlsx).")
    if status.st_size == 0:
        raise StudyError(f"The file '{path}' is empty.",
                         "Take the workbook from where it was saved, or save it anew.")
    if status.st_size > LARGEST_FILE_BYTES:
        raise _too_large(path, status.st_size)


def _bytes_of(path: Path) -> bytes:
    """The whole file, read once; it may have grown since it was looked at."""
    try:
        with path.open("rb") as stream:
            content = stream.read(LARGEST_FILE_BYTES + 1)
    except OSError as fault:
        raise StudyError(f"The file '{path}' cannot be opened: {fault.strerror or fault}.",
                         "Close it in other programs and check your permissions.") from fault
    if len(content) > LARGEST_FILE_BYTES:
        raise _too_large(path, len(content))
    return content


def _too_large(path: Path, size: int) -> StudyError:
    return StudyError(f"The file '{path}' has {size / 1e6:,.0f} MB; at most "
                      f"{LARGEST_FILE_BYTES / 1e6:,.0f} MB are read.",
                      "Take pictures and sheets that the study does not need out of it.")


def _must_not_be_ole(file: WorkbookFile):
    """The old compound format holds either a password-protected workbook or a .xls file."""
    path = file.path
    if not file.content.startswith(OLE_SIGNATURE):
        return
    if "EncryptedPackage".encode("utf-16-le") in file.content:
        raise StudyError(f"The workbook '{path}' is protected with a password.",
                         "Open it with its password, remove the password, and save it.")
    raise StudyError(f"The file '{path}' is in the old .xls format.", SAVE_AS)


def _must_be_bounded(path: Path, parts: list[zipfile.ZipInfo]):
    if len(parts) > MOST_PARTS:
        raise StudyError(f"The workbook '{path}' has {len(parts):,} parts; at most "
                         f"{MOST_PARTS:,} are read.", NOT_TRUSTED)
    total = sum(part.file_size for part in parts)
    if total > LARGEST_TOTAL_BYTES:
        raise StudyError(f"The workbook '{path}' would unpack to {total / 1e6:,.0f} MB; at most "
                         f"{LARGEST_TOTAL_BYTES / 1e6:,.0f} MB are read.", NOT_TRUSTED)
    for part in parts:
        if part.file_size > LARGEST_PART_BYTES:
            raise StudyError(
                f"The part '{part.filename}' of the workbook '{path}' would unpack to "
                f"{part.file_size / 1e6:,.0f} MB; at most {LARGEST_PART_BYTES / 1e6:,.0f} MB are "
                "read.", NOT_TRUSTED)
        is_dense = part.file_size > LARGEST_RATIO * max(part.compress_size, 1)
        if part.file_size > RATIO_COUNTS_ABOVE_BYTES and is_dense:
            raise StudyError(
                f"The part '{part.filename}' of the workbook '{path}' would unpack to more than "
                f"{LARGEST_RATIO} times its size, as no real sheet does.", NOT_TRUSTED)


def _must_have_plain_names(path: Path, parts: list[zipfile.ZipInfo]):
    names = [part.filename for part in parts]
    if len(set(names)) != len(names):
        raise StudyError(f"The workbook '{path}' holds two parts of one name.", NOT_TRUSTED)
    for part in parts:
        name = part.orig_filename
        is_outside = ("\\" in name or ":" in name or "\0" in name or name.startswith("/")
                      or ".." in PurePosixPath(name).parts)
        if is_outside or stat.S_ISLNK(part.external_attr >> 16):
            raise StudyError(f"The workbook '{path}' holds a part that points outside of it: "
                             f"'{name!a}'.", NOT_TRUSTED)
        if part.flag_bits & 0x1:
            raise StudyError(f"The workbook '{path}' is protected with a password.",
                             "Open it with its password, remove the password, and save it.")
        if part.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise StudyError(f"The workbook '{path}' is packed in a way that workbooks are not.",
                             OPEN_AND_SAVE)


def _must_be_xlsx(path: Path, archive: zipfile.ZipFile):
    names = archive.namelist()
    if CONTENT_TYPES not in names:
        is_open_document = "mimetype" in names and "content.xml" in names
        what = "an OpenDocument file" if is_open_document else "an archive"
        raise StudyError(f"The file '{path}' is {what}, not an Excel workbook (.xlsx).", SAVE_AS)
    if archive.getinfo(CONTENT_TYPES).file_size > RATIO_COUNTS_ABOVE_BYTES:
        raise StudyError(f"The workbook '{path}' has an endless table of contents.", NOT_TRUSTED)
    types = archive.read(CONTENT_TYPES)
    has_macros = b"macroEnabled" in types or any("vbaProject" in name for name in names)
    if b"sheet.binary" in types:
        raise StudyError(f"The file '{path}' is a binary workbook (.xlsb).", SAVE_AS)
    if has_macros:
        raise StudyError(f"The workbook '{path}' holds macros.",
                         "Save it as 'Excel Workbook (.xlsx)', which drops them, and try again.")
    if not any(kind in types for kind in WORKBOOK_TYPES):
        raise StudyError(f"The file '{path}' is an office file, but not a workbook.", SAVE_AS)


def _must_declare_no_entities(path: Path, archive: zipfile.ZipFile):
    """Workbooks never carry a document type; entity bombs must. The parser refuses them too."""
    for part in archive.infolist():
        if part.filename.endswith((".xml", ".rels")):
            with archive.open(part) as stream:
                start = stream.read(PROLOG_BYTES).replace(b"\0", b"")
            if b"<!DOCTYPE" in start or b"<!ENTITY" in start:
                raise _with_entities(path, part.filename)


def _with_entities(path: Path, part: str) -> StudyError:
    return StudyError(f"The part '{part}' of the workbook '{path}' declares entities, as no real "
                      "workbook does.", NOT_TRUSTED)


def _must_fit_in_memory(file: WorkbookFile, archive: zipfile.ZipFile):
    for part in archive.infolist():
        name = part.filename
        if part.file_size <= COUNTED_ABOVE_BYTES or not name.endswith((".xml", ".rels")):
            continue
        if name.startswith(SHEETS) and name.endswith(".xml"):
            file.count_of(name)
            continue
        most = MOST_OUTSIDE_ROWS if name.startswith(SHARED_TEXTS) else MOST_OF_OTHER_PARTS
        with archive.open(part) as stream:
            if _has_more_elements(stream, most):
                raise _endless(file.path, name)


def _endless(path: Path, part: str) -> StudyError:
    return StudyError(f"The part '{part}' of the workbook '{path}' has more elements than any "
                      "real sheet.", NOT_TRUSTED)


def _has_more_elements(stream, most: int) -> bool:
    """True where a limit is passed. A fault in the XML is left to the reader to tell."""
    left = most

    def count(*_):
        nonlocal left
        left -= 1

    def stop(*_):
        nonlocal left
        left = -1

    parser = expat.ParserCreate()
    parser.StartElementHandler, parser.StartDoctypeDeclHandler = count, stop
    with suppress(expat.ExpatError):
        while left >= 0 and (content := stream.read(READ_BYTES)):
            parser.Parse(content)
    return left < 0
