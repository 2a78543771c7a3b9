"""Headers: which column of the dictionary a header cell means, and in which unit."""

import datetime
import re
from dataclasses import dataclass
from difflib import SequenceMatcher, get_close_matches

from batch import units
from batch.columns.column import Column, Sheet
from batch.reading.cell_text import is_blank
from batch.reading.entry_help import hint

HEADER_ROWS_SEARCHED = 20
# When a heading is near enough to be proposed: the words that both must share, and the letters that
# two words must share or the first letters of one that is cut short.
LEAST_SHARED, SAME_WORD, SHORTEST_CUT = 2 / 3, 0.75, 4
NO_UNIT_MARKS = ("", "-", "–", "1")
BLANK_HINT = "blank: "  # how the blank workbook begins a hint at a default
BRACKET = re.compile(r"^(.*?)\s*\[([^\[\]]*)\]\s*\*?$", re.DOTALL)

# The headers of the key-and-value sheets (Study, Program).
KEY_VALUE_COLUMNS = (
    Column(key="key", label="Key", group="rule", kind="text", help="The name of the value."),
    Column(key="label", label="Label", group="rule", kind="text", help="What the value is."),
    Column(key="value", label="Value", group="rule", kind="text", help="The value."),
    Column(key="unit", label="Unit", group="rule", kind="text", aliases=("units",),
           help="Unit of the value."),
    Column(key="source", label="Source", group="rule", kind="text",
           aliases=("clause", "resolution", "resolution or clause", "source or clause"),
           help="Resolution, clause or document behind the value."),
)


@dataclass(frozen=True)
class HeaderCell:
    """One header cell. `column` is None where the dictionary does not know the header."""

    index: int
    letter: str
    text: str
    column: Column | None = None
    unit: str = ""

    @property
    def key(self) -> str | None:
        return self.column.key if self.column else None

    @property
    def has_known_unit(self) -> bool:
        """False where its brackets hold no unit that the column takes."""
        return self.column is None or is_native_unit(self.column, self.unit) or is_convertible(
            self.unit, self.column.unit)


def plain_name(text) -> str:
    """A header, key or sheet name without regard to case, blanks, underscores and marks."""
    return " ".join(str(text).replace("_", " ").casefold().split()).rstrip(" *:")


def column_letter(index: int) -> str:
    """The letters of a column: 0 is A, 25 is Z, 26 is AA."""
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def name_and_unit(text) -> tuple[str, str]:
    """The plain name before the brackets, and the words inside them as they are written."""
    text = str(text).strip()
    match = BRACKET.match(text)
    return (plain_name(match[1]), match[2].strip()) if match else (plain_name(text), "")


def columns_by_name(columns: tuple[Column, ...]) -> dict[str, Column]:
    """Every name under which a header may name a column. ValueError where two share a name."""
    by_name: dict[str, Column] = {}
    for column in columns:
        for name in (column.key, column.label, *column.aliases):
            if by_name.setdefault(plain_name(name), column) is not column:
                raise ValueError(f"two columns are called {name!r}")
    return by_name


def header_columns(sheet: Sheet) -> tuple[Column, ...]:
    """The columns whose headers a sheet has: its own, or those of a key-and-value list."""
    return sheet.columns if sheet.is_table else KEY_VALUE_COLUMNS


def known_headers(values, by_name: dict[str, Column]) -> int:
    """How many cells of a row name different columns."""
    found = {by_name[name].key for name in map(_name, values) if name in by_name}
    return len(found)


def _name(value) -> str:
    return name_and_unit(value)[0] if isinstance(value, str) else ""


def find_header(rows: list[tuple[int, list]], sheet: Sheet) -> int | None:
    """The Excel row, among (Excel row, values), with the most known headers; None for none.

    Titles above the header know no column; of two rows that know as many, the upper one counts.
    A key-and-value list needs the header `Value` and one of `Key` and `Label`.
    """
    by_name = columns_by_name(header_columns(sheet))
    best_row, best = None, 0
    for excel_row, values in rows:
        count = known_headers(values, by_name)
        names = {_name(value) for value in values}
        if not sheet.is_table and ("value" not in names or not names & {"key", "label"}):
            continue
        if count > best:
            best_row, best = excel_row, count
    return best_row


def says_the_same(values, headers: list[HeaderCell], by_name: dict[str, Column]) -> bool:
    """True where each known header of a row stands in the column of the header that it means."""
    return all(index < len(headers) and headers[index].key == by_name[name].key
               for index, name in enumerate(map(_name, values)) if name in by_name)


def faults_above(rows: list[tuple[int, list]], headers: list[HeaderCell], header_row: int,
                 sheet: Sheet) -> list[str]:
    """What stands above the header and would be lost, each as a clause: rows with values that
    are no titles, and rows that may be the header themselves."""
    by_name, faults = columns_by_name(header_columns(sheet)), []
    for excel_row, values in rows:
        filled = [index for index, value in enumerate(values) if not is_blank(value)]
        if not filled or is_title([values[index] for index in filled], sheet):
            continue
        if known_headers(values, by_name) < 2:
            faults.append(f"{sheet.name}!{column_letter(filled[0])}{excel_row} has values above "
                          f"the header in row {header_row}, and is no title")
        elif not says_the_same(values, headers, by_name):
            faults.append(two_headers(sheet, excel_row, header_row))
    return faults


def two_headers(sheet: Sheet, one: int, other: int) -> str:
    """The clause about two rows that name columns, and not the same ones."""
    return f"rows {one} and {other} of the {sheet.name} sheet may both be its header"


def is_title(filled: list, sheet: Sheet) -> bool:
    """True for the filled cells of a title: one text or date, the sheet's name with words behind
    it, or the groups and hints of the blank workbook."""
    if len(filled) == 1:
        return isinstance(filled[0], (str, datetime.date))
    if not all(type(value) is str for value in filled):
        return False
    words = {value.strip() for value in filled}
    hints = {hint(column) for column in sheet.columns}
    return (plain_name(filled[0]) == plain_name(sheet.name)
            or words <= {column.group for column in sheet.columns}
            or all(word in hints or word.startswith(BLANK_HINT) for word in words))


def read_headers(values, sheet: Sheet) -> list[HeaderCell]:
    """The header cells of a row, each with the column that it means."""
    by_name = columns_by_name(header_columns(sheet))
    headers = []
    for index, value in enumerate(values):
        text = "" if value is None else str(value).strip()
        name, unit = name_and_unit(text)
        headers.append(HeaderCell(index, column_letter(index), text, by_name.get(name), unit))
    return headers


def closest(name: str, known) -> str:
    """The known spelling that is nearest to a name, or '' where none is near."""
    by_plain = {plain_name(k): k for k in known}
    near = get_close_matches(plain_name(name), by_plain, n=1, cutoff=0.6)
    return by_plain[near[0]] if near else ""


def closest_header(text: str, sheet: Sheet) -> str:
    """The known header nearest to an unknown one, or '' where none is near, or several are."""
    names = {name: column.header for column in header_columns(sheet)
             for name in (column.label, column.key, *column.aliases)}
    return closest_by_words(name_and_unit(text)[0], names)


def closest_by_words(name: str, meant: dict[str, str]) -> str:
    """What the known name means that shares most words with a name: at least two thirds of the
    words of both, with 'crp' as 'crop' and 'irrig.' as 'irrigated', yet not 'drop' as 'crop'.
    '' where none does, where names of different meanings do alike, or where the one word that is
    shared stands in names of several: no hint is better than a wrong one."""
    words, shares = _words(name), []
    for known, meaning in meant.items():
        others = _words(known)
        shared = _shared(words, others)
        if shared:
            shares.append((2 * shared / (len(words) + len(others)), shared, meaning))
    part, shared, _ = max(shares, default=(0.0, 0, ""))
    nearest = {entry[-1] for entry in shares if shared == 1 or entry[:2] == (part, shared)}
    return nearest.pop() if part >= LEAST_SHARED and len(nearest) == 1 else ""


def _words(name: str) -> list[str]:
    return re.findall(r"[^\W_]+", plain_name(name))


def _shared(words: list[str], others: list[str]) -> int:
    """How many words of one name have a word of their own in the other."""
    left = list(others)
    for word in words:
        same = next((other for other in left if _is_same_word(word, other)), None)
        if same:
            left.remove(same)
    return len(others) - len(left)


def _is_same_word(one: str, other: str) -> bool:
    short, long = sorted((one, other), key=len)
    is_cut = len(short) >= SHORTEST_CUT and long.startswith(short)
    return is_cut or (short[0] == long[0]
                      and SequenceMatcher(None, short, long).ratio() >= SAME_WORD)


def is_native_unit(column: Column, unit: str) -> bool:
    """True where the words in the brackets mean the column's own unit or units."""
    words = [word.strip() for word in unit.split(" or ")]
    if unit in NO_UNIT_MARKS or not column.is_numeric:
        return True
    if len(words) == 2 and column.fuel_gas_unit:
        return (units.same_unit(words[0], column.unit)
                and units.same_unit(words[1], column.fuel_gas_unit))
    return units.same_unit(unit, column.unit) if column.unit else False


def is_convertible(unit: str, house_unit: str) -> bool:
    """True where values in the unit can be converted into the house unit."""
    try:
        units.convert(1.0, unit, house_unit)
    except units.UnknownUnit:
        return False
    return True


def column_per_year(unit: str, column: Column, columns: tuple[Column, ...]) -> str:
    """A hint at the column that takes a rate per year where one per hour is asked; or ''."""
    if not units.is_calendar_rate(unit) or units.is_calendar_rate(column.unit):
        return ""
    other = next((c for c in columns if c.group == column.group and c.unit
                  and is_convertible(unit, c.unit)), None)
    return f"; an amount per year goes into the column '{other.header}'" if other else ""


def header_faults(headers: list[HeaderCell], sheet: Sheet, header_row: int) -> list[str]:
    """What keeps a table from being read at all, each as a clause of one sentence."""
    by_key: dict[str, list[HeaderCell]] = {}
    for header in headers:
        if header.column:
            by_key.setdefault(header.key, []).append(header)
    missing = [column.header for column in header_columns(sheet)
               if column.required and column.key not in by_key]
    faults = []
    if missing:
        word = "columns are" if len(missing) > 1 else "column is"
        faults.append(f"the {sheet.name} sheet's {word} missing: {'; '.join(missing)}")
    for same in by_key.values():
        if len(same) > 1:
            cells = " and ".join(f"{h.letter}{header_row} '{h.text}'" for h in same)
            faults.append(f"{len(same)} headers of the {sheet.name} sheet mean the same column "
                          f"'{same[0].column.label}': {cells}")
    for header in headers:
        column = header.column
        if not header.has_known_unit:
            words = ", ".join(units.words_like(column.unit)) or "no unit at all"
            faults.append(f"the unit of {sheet.name}!{header.letter}{header_row} '{header.text}' "
                          f"is not known for this column, which takes: {words}"
                          + column_per_year(header.unit, column, sheet.columns))
    return faults
