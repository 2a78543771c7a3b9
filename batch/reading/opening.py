"""Opening a workbook that the guard let pass: openpyxl in read-only mode, without what it passes
over in silence."""

import warnings
from contextlib import contextmanager

import openpyxl
from openpyxl.cell.text import Text
from openpyxl.reader.excel import ExcelReader
from openpyxl.utils.exceptions import InvalidFileException
from openpyxl.worksheet._read_only import ReadOnlyWorksheet
from openpyxl.xml.constants import SHARED_STRINGS, SHEET_MAIN_NS
from openpyxl.xml.functions import iterparse

from batch.findings import StudyError
from batch.reading.guard import OPEN_AND_SAVE, ZIP_FAULTS, WorkbookFile
from batch.reading.strict import as_transitional, is_strict

PARSE_FAULTS = (*ZIP_FAULTS, InvalidFileException, LookupError, TypeError, AttributeError,
                ArithmeticError, SyntaxError)  # SyntaxError: malformed XML is a ParseError
SHARED_TEXT = f"{{{SHEET_MAIN_NS}}}si"


@contextmanager
def opened(file: WorkbookFile, is_value_view: bool):
    """A workbook in read-only mode. Errors: StudyError where it cannot be parsed."""
    if not openpyxl.DEFUSEDXML:
        raise RuntimeError("openpyxl does not use defusedxml; unset OPENPYXL_DEFUSEDXML")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # openpyxl warns of what it leaves out: we only read cells
        try:
            stream = as_transitional(file) if is_strict(file) else file.stream()
            reader = _Reader(stream, read_only=True, data_only=is_value_view, keep_links=False)
            reader.read()
        except PARSE_FAULTS as fault:
            raise damaged(file.path.name, fault) from fault
        try:
            yield reader.wb
        finally:
            reader.wb.close()


def part_of(worksheet) -> str:
    """The name of the part that holds a sheet."""
    return worksheet._worksheet_path  # openpyxl has no public name for it


def damaged(where: str, fault: Exception) -> StudyError:
    """The refusal of a workbook that cannot be parsed at some place."""
    reason = " ".join(str(fault).split())[:200] or type(fault).__name__
    return StudyError(f"The workbook is damaged at '{where}': {reason}.", OPEN_AND_SAVE)


class _Reader(ExcelReader):
    """openpyxl's reader: it passes over sheets without a part and shared texts under another
    name, which moves all texts behind them, and takes the sign of an escape out of texts."""

    def read_strings(self):
        part = self.package.find(SHARED_STRINGS)
        if part is None:
            return
        with self.archive.open(part.PartName[1:]) as stream:
            for _, element in iterparse(stream):
                if element.tag == SHARED_TEXT:
                    self.shared_strings.append(Text.from_tree(element).content)
                    element.clear()
                elif element.tag.rpartition("}")[2] == "si":
                    raise LookupError("a shared text stands under another namespace")

    def read_worksheets(self):
        for sheet in self.parser.sheets:
            if not sheet.id or sheet.id not in self.parser.rels:
                raise LookupError(f"the sheet '{sheet.name}' has no part")
            if self.parser.rels[sheet.id].target not in self.valid_files:
                raise LookupError(f"the part of the sheet '{sheet.name}' is missing")
        for sheet, link in self.parser.find_sheets():
            if "chartsheet" in link.Type:
                self.read_chartsheet(sheet, link)
                continue
            worksheet = _Sheet(self.wb, sheet.name, link.target, self.shared_strings)
            worksheet.sheet_state = sheet.state
            self.wb._sheets.append(worksheet)


class _Sheet(ReadOnlyWorksheet):
    """A worksheet of which only rows that are asked for are parsed."""

    def _get_size(self):
        """Nothing: the stated dimension is not believed, and to seek one that is not there is to
        parse the whole sheet."""

    def _cells_by_row(self, *args, **named):
        try:
            yield from super()._cells_by_row(*args, **named)
        except PARSE_FAULTS as fault:
            raise damaged(self.title, fault) from fault
