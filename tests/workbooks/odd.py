"""Workbooks whose parts are lawful XML and odd workbooks: rows and cells in another order, twice,
renumbered, without a number, under another namespace; and what a plain look at the XML finds there.

The look takes every element that is called row or c, whoever's it is, so that it shares nothing
with the reader. Each cell holds a text of its own: a lost one is known by its text.
"""

import random
import re
import zipfile
from pathlib import Path
from xml.etree import ElementTree

from openpyxl.utils import get_column_letter

from tests.workbooks.make import candidate_workbook, sheet_part

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
FOREIGN = "urn:example:of-another-program"


def plain(folder, farms: int = 4) -> Path:
    """A workbook of some farms, all of whose texts differ."""
    rows = [{"candidate_id": f"F-{n}", "farm_label": f"label {n}", "crop": f"crop {n}",
             "feeder_id": f"feeder {n}"} for n in range(1, farms + 1)]
    return candidate_workbook(folder, rows, unit_costs=[{"item": "line", "price_usd": 7}])


class Odd:
    """The Candidates sheet of a workbook as XML, to be changed; each change takes a number source
    with `randrange`."""

    def __init__(self, path: Path):
        self.path, self.part = path, sheet_part("Candidates", path)
        with zipfile.ZipFile(path) as archive:
            self.root = ElementTree.fromstring(archive.read(self.part))
        self.data = self.root.find(f"{{{MAIN}}}sheetData")

    def rows(self):
        return [row for row in self.root.iter() if _local(row) == "row"]

    def save(self, to: Path) -> Path:
        with zipfile.ZipFile(self.path) as old, zipfile.ZipFile(to, "w") as new:
            for name in old.namelist():
                new.writestr(name, ElementTree.tostring(self.root) if name == self.part
                             else old.read(name))
        return to

    # --- what is done to rows; the header is one of them ---

    def swap_rows(self, draw):
        rows = list(self.data)
        one, other = draw.randrange(len(rows)), draw.randrange(len(rows))
        rows[one], rows[other] = rows[other], rows[one]
        self.data[:] = rows

    def double_row(self, draw):
        rows = list(self.data)
        rows.insert(draw.randrange(len(rows) + 1), _copy(rows[draw.randrange(len(rows))]))
        self.data[:] = rows

    def drop_row(self, draw):
        self.data.remove(self._row(draw))

    def renumber_row(self, draw):
        self._row(draw).set("r", ("0", "-3", "2", "3", "77", "1048577", "2.0", "", "x")[
            draw.randrange(9)])

    def row_without_number(self, draw):
        self._row(draw).attrib.pop("r", None)

    def foreign_row(self, draw):
        self._row(draw).tag = f"{{{FOREIGN}}}row"

    def second_block(self, draw):
        rows = list(self.data)
        cut = draw.randrange(len(rows) + 1)
        second = ElementTree.Element(self.data.tag)
        second.extend(rows[cut:])
        self.data[:] = rows[:cut]
        self.root.insert(list(self.root).index(self.data) + 1, second)

    def foreign_block(self, draw):
        self.data.tag = f"{{{FOREIGN}}}sheetData"

    def row_in_row(self, draw):
        rows = list(self.data)
        inner = rows[draw.randrange(len(rows))]
        outer = rows[draw.randrange(len(rows))]
        if inner is not outer:
            self.data.remove(inner)
            outer.append(inner)

    def hide_row(self, draw):
        self._row(draw).set("hidden", "1")

    # --- what is done to cells ---

    def swap_cells(self, draw):
        row = self._row(draw)
        cells = list(row)
        one, other = draw.randrange(len(cells)), draw.randrange(len(cells))
        cells[one], cells[other] = cells[other], cells[one]
        row[:] = cells

    def double_cell(self, draw):
        row = self._row(draw)
        cells = list(row)
        row.insert(draw.randrange(len(cells) + 1), _copy(cells[draw.randrange(len(cells))]))

    def drop_cell(self, draw):
        row = self._row(draw)
        if len(row) > 1:
            row.remove(row[draw.randrange(len(row))])

    def renumber_cell(self, draw):
        cell = self._cell(draw)
        cell.set("r", ("A1", "B2", "A3", "ZZ3", "XFE3", "3", "", "b2", "$B$2", "B02", "CA77")[
            draw.randrange(11)])

    def cell_without_number(self, draw):
        self._cell(draw).attrib.pop("r", None)

    def cells_without_numbers(self, draw):
        for cell in self._row(draw):
            cell.attrib.pop("r", None)

    def foreign_cell(self, draw):
        self._cell(draw).tag = f"{{{FOREIGN}}}c"

    def foreign_value(self, draw):
        cell = self._cell(draw)
        if len(cell):
            cell[0].tag = f"{{{FOREIGN}}}{_local(cell[0])}"

    def other_kind(self, draw):
        self._cell(draw).set("t", ("n", "s", "str", "inlineStr", "x")[draw.randrange(5)])

    def value_twice(self, draw):
        cell = self._cell(draw)
        if len(cell):
            cell.append(_copy(cell[0]))

    def _row(self, draw):
        rows = list(self.data)
        return rows[draw.randrange(len(rows))]

    def _cell(self, draw):
        cells = [cell for cell in self._row(draw) if _local(cell) == "c"]
        return cells[draw.randrange(len(cells))]


CHANGES = sorted(name for name in vars(Odd) if not name.startswith("_")
                 and name not in ("rows", "save"))


def changed(path: Path, to: Path, changes, draw) -> Path:
    """The workbook with named changes, one after the other; one that no longer fits is left out."""
    odd = Odd(path)
    for name in changes:
        if len(odd.data) > 1:
            try:
                getattr(odd, name)(draw)
            except ValueError:
                continue  # nothing left of what it changes
    return odd.save(to)


def by_seed(path: Path, to: Path, seed: int) -> Path:
    """The same with changes that a seed chooses."""
    draw = random.Random(seed)
    names = [CHANGES[draw.randrange(len(CHANGES))] for _ in range(draw.randrange(1, 4))]
    return changed(path, to, names, draw)


def texts_in(path: Path) -> list[str]:
    """The content of every cell that the sheet's XML holds, wherever it stands."""
    return [text for cell in Odd(path).root.iter() if _local(cell) == "c"
            if (text := _content(cell))]


def places_in(path: Path) -> dict[str, str]:
    """Address -> content as the standard has it: the attribute r, or the next row and cell.

    Source: ECMA-376, 5th edition, part 1, 18.3.1.73 (row) and 18.3.1.4 (c): r is optional.
    """
    places, row_number = {}, 0
    for row in Odd(path).rows():
        row_number = int(row.get("r") or row_number + 1)
        column = 0
        for cell in row:
            letters = re.sub(r"\d", "", cell.get("r") or get_column_letter(column + 1))
            column = sum((ord(sign) - 64) * 26 ** power
                         for power, sign in enumerate(reversed(letters)))
            if content := _content(cell):
                places[f"{letters}{row_number}"] = content
    return places


def _content(cell) -> str:
    """Formula, value and text of a cell in one."""
    return "".join(element.text or "" for element in cell.iter()
                   if _local(element) in ("f", "v", "t"))


def _copy(element):
    return ElementTree.fromstring(ElementTree.tostring(element))


def _local(element) -> str:
    return element.tag.rpartition("}")[2]
