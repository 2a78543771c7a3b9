"""The door for files from outside: every workbook passes here before it is parsed.

Nothing is unpacked. The archive's own directory is read, the declared sizes are summed, and the
first bytes of each XML part are looked at. Python's zipfile never reads more than the declared
size of a part. A large part is run through once to count its elements, since a parser holds in
memory a whole row, and all that stands outside of rows.
"""

import stat
import zipfile
import zlib
from contextlib import suppress
from pathlib import Path, PurePosixPath
from xml.parsers import expat

from batch.findings import StudyError

# A portfolio of 50,000 rows with every column filled has 95 MB of XML and compresses tenfold.
LARGEST_FILE_BYTES = 100_000_000
LARGEST_PART_BYTES = 150_000_000
LARGEST_TOTAL_BYTES = 250_000_000
LARGEST_RATIO = 200
RATIO_COUNTS_ABOVE_BYTES = 2_000_000
MOST_PARTS = 2_000
PROLOG_BYTES = 4_096
READ_BYTES = 65_536
COUNTED_ABOVE_BYTES = 5_000_000
MOST_IN_A_ROW = 100_000        # a sheet has 16,384 columns, and a cell a few elements
MOST_OUTSIDE_ROWS = 1_200_000  # a sheet has 1,048,576 rows; the rows themselves count, too
MOST_OF_OTHER_PARTS = 300_000  # a workbook has 65,490 cell formats
PARTS_IN_STREAM = ("xl/worksheets/", "xl/sharedStrings")

OLE_SIGNATURE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
CONTENT_TYPES = "[Content_Types].xml"
WORKBOOK_TYPES = (b"spreadsheetml.sheet.main+xml", b"spreadsheetml.template.main+xml")
ZIP_FAULTS = (zipfile.BadZipFile, zlib.error, EOFError, OSError, NotImplementedError,
              RuntimeError, ValueError)

SAVE_AS = "Save it in a spreadsheet program as 'Excel Workbook (.xlsx)' and try again."
OPEN_AND_SAVE = ("Open it in a spreadsheet program, save it anew as 'Excel Workbook (.xlsx)', "
                 "and try again.")
NOT_TRUSTED = "Do not use this file; ask its sender for the workbook as a plain .xlsx file."


def check_file(path: str | Path) -> Path:
    """The path, when the file is a plain .xlsx workbook of bearable size.

    Errors: StudyError with one sentence on what is wrong and one on what to do.
    """
    path = Path(path)
    _must_be_a_filled_file(path)
    _must_not_be_ole(path)
    if not zipfile.is_zipfile(path):
        raise StudyError(f"The file '{path}' is not an Excel workbook (.xlsx), whatever its name "
                         "says.", SAVE_AS)
    try:
        with zipfile.ZipFile(path) as archive:
            _must_be_bounded(path, archive.infolist())
            _must_have_plain_names(path, archive.infolist())
            _must_be_xlsx(path, archive)
            _must_declare_no_entities(path, archive)
            _must_fit_in_memory(path, archive)
    except ZIP_FAULTS as fault:
        raise StudyError(f"The workbook '{path}' is damaged: {fault}.", OPEN_AND_SAVE) from fault
    return path


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
        raise StudyError(
            f"The file '{path}' has {status.st_size / 1e6:,.0f} MB; at most "
            f"{LARGEST_FILE_BYTES / 1e6:,.0f} MB are read.",
            "Take pictures and sheets that the study does not need out of it.")


def _must_not_be_ole(path: Path):
    """The old compound format holds either a password-protected workbook or a .xls file."""
    try:
        with path.open("rb") as stream:
            if stream.read(len(OLE_SIGNATURE)) != OLE_SIGNATURE:
                return
            rest = stream.read()
    except OSError as fault:
        raise StudyError(f"The file '{path}' cannot be opened: {fault.strerror or fault}.",
                         "Close it in other programs and check your permissions.") from fault
    if "EncryptedPackage".encode("utf-16-le") in rest:
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
                raise StudyError(f"The part '{part.filename}' of the workbook '{path}' declares "
                                 "entities, as no real workbook does.", NOT_TRUSTED)


def _must_fit_in_memory(path: Path, archive: zipfile.ZipFile):
    for part in archive.infolist():
        if part.file_size > COUNTED_ABOVE_BYTES and part.filename.endswith((".xml", ".rels")):
            is_streamed = part.filename.startswith(PARTS_IN_STREAM)
            count = _ElementCount(MOST_OUTSIDE_ROWS if is_streamed else MOST_OF_OTHER_PARTS)
            with archive.open(part) as stream:
                is_bearable = count.is_bearable(stream)
            if not is_bearable:
                raise StudyError(f"The part '{part.filename}' of the workbook '{path}' has more "
                                 "elements than any real sheet.", NOT_TRUSTED)


class _ElementCount:
    """Counts the elements of a part, those of each row and those outside of rows."""

    def __init__(self, most_outside: int):
        self.most_outside = most_outside
        self.depth_in_row = self.in_row = self.outside = 0
        self.is_too_much = False
        self.parser = expat.ParserCreate()
        self.parser.StartElementHandler, self.parser.EndElementHandler = self._start, self._end
        self.parser.StartDoctypeDeclHandler = lambda *_: self._stop()

    def is_bearable(self, stream) -> bool:
        """False where a limit is passed. A fault in the XML is left to the reader to tell."""
        with suppress(expat.ExpatError):
            while not self.is_too_much and (content := stream.read(READ_BYTES)):
                self.parser.Parse(content)
        return not self.is_too_much

    def _start(self, name, attributes):
        if self.depth_in_row:
            self.depth_in_row += 1
            self.in_row += 1
        else:
            self.outside += 1
            if name == "row" or name.endswith(":row"):
                self.depth_in_row, self.in_row = 1, 0
        if self.in_row > MOST_IN_A_ROW or self.outside > self.most_outside:
            self._stop()

    def _end(self, name):
        if self.depth_in_row:
            self.depth_in_row -= 1

    def _stop(self):
        self.is_too_much = True
