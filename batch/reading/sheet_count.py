"""An independent count of a sheet: a plain pass over the events of its XML.

It stands beside what the reader hands on, and the two must balance. The reader leaves out a row
whose number does not rise, cuts a row at its last written cell, and passes over what stands under
another namespace; here every row and every cell with a value counts, and what stands at a wrong
place is a fault with its row and cell. The same pass counts elements, since a parser holds in
memory a whole row, and all that stands outside of rows.

Source: ECMA-376, Office Open XML, 5th edition, part 1: 18.3.1.4 c, 18.3.1.73 row, 18.3.1.80
sheetData, 18.18.11 ST_CellType. The attribute r is optional on both: the next row, the next cell.
"""

import re
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cache
from xml.parsers import expat

MAIN_NAMESPACES = ("http://schemas.openxmlformats.org/spreadsheetml/2006/main",
                   "http://purl.oclc.org/ooxml/spreadsheetml/main")
READ_BYTES = 65_536
MOST_IN_A_ROW = 100_000        # a sheet has 16,384 columns, and a cell a few elements
MOST_OUTSIDE_ROWS = 1_200_000  # a sheet has 1,048,576 rows; the rows themselves count, too
LAST_EXCEL_ROW, LAST_EXCEL_COLUMN = 1_048_576, 16_384
ROW_NUMBER = re.compile("[1-9][0-9]{0,9}", re.ASCII)
LETTERS = re.compile("[A-Z]{1,3}")
INDEX = ("s", "b")
KINDS = frozenset(("n", "str", "inlineStr", "e", "d", *INDEX))
IN_DATA = ("sheetData", "row", "c", "v", "f", "is")  # names that mean cells, whoever's they are


class TooMuch(Exception):
    """More elements than any real sheet has."""


class Entities(Exception):
    """The part declares a document type, as no workbook does."""


@dataclass
class SheetCount:
    """Rows and cells of one sheet, as its XML has them.

    cells_by_row : Excel row -> cells with a value or a formula, of rows that have any
    hidden : rows that are hidden, by hand or by a filter
    fault : the first thing at a wrong place, as (row, cell, clause); None where all is in order
    """

    cells_by_row: dict[int, int] = field(default_factory=dict)
    hidden: set[int] = field(default_factory=set)
    fault: tuple[int, str, str] | None = None


def count_sheet(stream) -> SheetCount:
    """Count the sheet whose XML a stream holds. Errors: TooMuch, Entities. A fault in the XML is
    left to the reader to tell."""
    count = _Pass()
    count.run(stream)
    return count.found


def letters_of_row(stream, row: int) -> list[str]:
    """The letters of the filled cells of one row, for a message."""
    listing = _Listing(row)
    listing.run(stream)
    return listing.letters


@cache
def column_number(letters: str) -> int:
    """1 for A, 27 for AA; 0 for what is no column."""
    if not LETTERS.fullmatch(letters):
        return 0
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number if number <= LAST_EXCEL_COLUMN else 0


def column_letters(number: int) -> str:
    """A for 1, AA for 27."""
    letters = ""
    while number > 0:
        number, rest = divmod(number - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


class _Pass:
    """The handlers of one pass. They run for each element of a sheet, so that each does little."""

    def __init__(self):
        self.found = SheetCount()
        self.row = self.column = self.filled = self.data_blocks = 0
        self.row_text, self.kind = "", "n"
        self.in_data = self.in_row = self.in_cell = False
        self.has_value = self.is_filled = self.takes_text = False
        self.left_in_row, self.left_outside = MOST_IN_A_ROW, MOST_OUTSIDE_ROWS
        self.parser = expat.ParserCreate(namespace_separator=" ")
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self._first
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self._text
        self.parser.StartDoctypeDeclHandler = self._doctype

    def run(self, stream):
        with suppress(expat.ExpatError):
            while content := stream.read(READ_BYTES):
                self.parser.Parse(content)
            self.parser.Parse(b"", True)

    def _doctype(self, *_):
        raise Entities

    def _first(self, name, attributes):
        """The sheet's own element tells which namespace is the sheet's."""
        space, _, own = name.rpartition(" ")
        self.cell, self.value, self.formula, self.inline, self.text, self.row_name, self.data = (
            f"{space} {local}" for local in ("c", "v", "f", "is", "t", "row", "sheetData"))
        self.space = space + " "
        self.parser.StartElementHandler = self._start
        if space not in MAIN_NAMESPACES or own != "worksheet":
            self._fault(f"its first element is '{own}' under '{space[:80]}', not a worksheet")

    def _start(self, name, attributes):
        if name == self.value:
            if self.has_value or not self.in_cell or self.kind == "inlineStr":
                self._odd_value()
            self.has_value = self.takes_text = True
        elif name == self.cell:
            self._begin_cell(attributes)
        elif name == self.inline:
            if self.has_value or not self.in_cell or self.kind != "inlineStr":
                self._odd_value()
            self.has_value = True
            self._fill()
        else:
            self._count_element()
            if name == self.text:
                return
            if name == self.formula:
                self._fill()
            elif name == self.row_name:
                self._begin_row(attributes)
            elif name == self.data:
                self._begin_data()
            elif not name.startswith(self.space):
                self._foreign(name)

    def _count_element(self):
        if self.in_row:
            self.left_in_row -= 1
        else:
            self.left_outside -= 1
        if self.left_in_row < 0 or self.left_outside < 0:
            raise TooMuch

    def _end(self, name):
        if name == self.value:
            self.takes_text = False
        elif name == self.cell:
            self.in_cell = False
        elif name == self.row_name:
            if self.filled:
                self.found.cells_by_row[self.row] = self.filled
            self.filled, self.in_row = 0, False
        elif name == self.data:
            self.in_data = False

    def _text(self, text):
        if self.takes_text:
            if self.kind == "n":
                if "_" in text or not text.isascii():
                    self._fault(f"'{text[:40]}' is no number")
            elif self.kind in INDEX and not (text.isascii() and text.strip().isdigit()):
                self._fault(f"'{text[:40]}' points at no text")
            if not self.is_filled:
                self.is_filled = True
                self.filled += 1

    def _begin_data(self):
        self.data_blocks += 1
        if self.data_blocks > 1:
            self._fault("a second block of rows begins behind it")
        self.in_data = True

    def _begin_row(self, attributes):
        if not self.in_data or self.in_row:
            self._fault("a row stands outside of the sheet's rows")
        written = attributes.get("r")
        number = self.row + 1
        if written is not None:
            is_number = ROW_NUMBER.fullmatch(written)
            if not is_number:
                self._fault(f"the row behind it has the number '{written[:20]}'")
            number = int(written) if is_number else number
        if number > LAST_EXCEL_ROW:
            self._fault("the row number behind it is beyond the last row")
        elif number <= self.row:
            again = "stands twice" if number == self.row else f"stands behind row {self.row}"
            self.row, self.column = number, 0
            self._fault(f"the row {again} in the file")
        self.row, self.row_text, self.column = number, str(number), 0
        self.in_row, self.left_in_row = True, MOST_IN_A_ROW
        if attributes.get("hidden") in ("1", "true"):
            self.found.hidden.add(number)

    def _begin_cell(self, attributes):
        if not self.in_row or self.in_cell:
            self._fault("a cell stands outside of its row")
        self.left_in_row -= 1
        if self.left_in_row < 0:
            raise TooMuch
        written, number = attributes.get("r"), self.column + 1
        if written is not None:
            number = 0
            if written.endswith(self.row_text):
                number = column_number(written[:len(written) - len(self.row_text)])
            if number <= self.column:
                number = self._wrong_address(written, number)
        self.column = number
        self.kind = attributes.get("t", "n")
        if self.kind not in KINDS:
            self._fault(f"the cell is of the unknown kind '{self.kind[:20]}'")
        self.in_cell, self.is_filled, self.has_value = True, False, False

    def _wrong_address(self, written, number) -> int:
        """Keep the fault; the column that the cell has, or would have without an address."""
        before, self.column = self.column, number or self.column + 1
        if not number:
            self._fault(f"a cell in this row has the address '{written[:20]}'")
        elif number == before:
            self._fault("the cell stands twice in its row")
        else:
            self._fault(f"the cell stands behind {column_letters(before)}{self.row} in its row")
        return self.column

    def _odd_value(self):
        self._count_element()
        self._fault("a value stands outside of a cell" if not self.in_cell
                    else "the cell holds two values" if self.has_value
                    else f"the cell's value is not of its kind '{self.kind}'")

    def _fill(self):
        if not self.in_cell:
            self._fault("a value stands outside of a cell")
        if not self.is_filled:
            self.is_filled = True
            self.filled += 1

    def _foreign(self, name):
        """Elements of other namespaces may stand in a sheet, but not in the place of its own."""
        space, _, own = name.rpartition(" ")
        if own in IN_DATA and (self.in_data or not self.data_blocks) or (
                own == "AlternateContent" and self.in_data):
            self._fault(f"the element '{own}' stands there under '{space[:80]}'")

    def _fault(self, clause):
        if self.found.fault is None:
            cell = f"{column_letters(self.column) or 'A'}{self.row or 1}"
            self.found.fault = (self.row, cell, clause)


class _Listing(_Pass):
    """A pass that lists the filled cells of one row."""

    def __init__(self, row: int):
        super().__init__()
        self.wanted, self.letters = row, []

    def _end(self, name):
        if name == self.cell and self.row == self.wanted and self.is_filled:
            self.letters.append(column_letters(self.column))
        super()._end(name)
