"""What is to be asked of whom, in order of what it decides: first what keeps a farm from being
studied, then what sets size, then money, then the rest.

Whether a farm can be studied is asked of the same checks that `farmbatch check` makes.
"""

from dataclasses import dataclass

from batch.adopting.headings import Heading
from batch.columns import CANDIDATES
from batch.columns.column import Column
from batch.findings import ERROR, Findings
from batch.reading.check_rows import check_candidate_rows, repeated_names
from batch.reading.defaults import Defaults
from batch.reading.header import read_headers
from batch.reading.laying import Laid
from batch.reading.sheet_cells import SheetCells
from batch.reading.validate import read_table

GROWER, ENGINEER, RECORDS = "grower", "engineer", "records"
WHOM = {"identity": RECORDS, "present supply": GROWER, "water": GROWER, "machine": GROWER,
        "pivot": GROWER, "site": ENGINEER, "cables": ENGINEER, "money and choice": RECORDS}
STOPS, SIZE, MONEY, REST = ("whether the farm can be studied", "size", "money", "records")
DECIDES = (STOPS, SIZE, MONEY, REST)
FARMS_LISTED = 6
REPEATED = "id-repeated"
DEPTH, HOURS = "gross_depth_in", "season_hours"


@dataclass(frozen=True)
class Asked:
    """A cell of the list that is unclear: its key, the farm, its place, its text, why as a clause,
    and what it most likely is."""

    key: str
    farm: int
    place: str
    text: str
    why: str
    proposal: object = ""


@dataclass(frozen=True)
class Question:
    """One question about one column: to whom, what it decides, the text, and the farms (by their
    place in the list) that wait for it; none where the planner decides for all."""

    whom: str
    decides: str
    key: str
    text: str
    farms: tuple[int, ...] = ()


def questions_of(farms: list[dict], headings: list[Heading], asked: list[Asked]) -> list[Question]:
    """All questions, gravest first. One for each column: cells, blanks and headings together."""
    stopped, lacking, repeated = _checked(farms)
    taken = {heading.key for heading in headings if heading.key}
    if HOURS in taken and DEPTH in stopped:  # either is enough: the one that the list has is asked
        stopped.setdefault(HOURS, set()).update(stopped.pop(DEPTH))
    blanks = {key: stopped.get(key, set()) | lacking.get(key, set())
              for key in stopped.keys() | lacking.keys()}
    cells: dict[str, list[Asked]] = {}
    for each in asked:
        cells.setdefault(each.key, []).append(each)
    columns: dict[str, list[Heading]] = {}
    for heading in headings:
        if heading.bears_on and (heading.asked or heading.bears_on not in taken):
            columns.setdefault(heading.bears_on, []).append(heading)
    found = [_question(key, farms, blanks.get(key, set()), cells.get(key, []),
                       columns.get(key, []), key in taken, key in stopped)
             for key in CANDIDATES.by_key if key in blanks or key in cells or key in columns]
    found += [_same_farm(name, places, asked) for name, places in repeated.items()]
    return sorted(found, key=lambda each: (DECIDES.index(each.decides), -len(each.farms)))


def _checked(farms: list[dict]):
    """Key -> farms that cannot be studied for it; key -> farms that lack it for less; name ->
    farms of that name."""
    keys = list(CANDIDATES.by_key)
    cells = SheetCells(CANDIDATES.name, 1, read_headers(keys, CANDIDATES), [
        (place, tuple(farm.get(key) if not isinstance(farm.get(key), bool) else
                      "yes" if farm[key] else "no" for key in keys))
        for place, farm in enumerate(farms)])
    findings = Findings()
    table = read_table(CANDIDATES, cells, findings, Defaults(), Laid())
    repeated_names(table["candidate_id"], CANDIDATES, cells.headers[0], findings)
    check_candidate_rows(table, cells, findings)
    stopped: dict[str, set[int]] = {}
    lacking: dict[str, set[int]] = {}
    repeated: dict[str, list[int]] = {}
    for finding in findings.rows:
        if finding["slug"] == REPEATED:
            first = int(finding["limit"].removeprefix("row "))
            repeated.setdefault(finding["value"], [first]).append(finding["row"])
        elif finding["severity"] == ERROR:
            stopped.setdefault(finding["key"], set()).add(finding["row"])
        elif finding["slug"].endswith("-missing"):
            lacking.setdefault(finding["key"], set()).add(finding["row"])
    return stopped, lacking, repeated


def _question(key: str, farms: list[dict], blanks: set[int], cells: list[Asked],
              headings: list[Heading], is_in_list: bool, is_stopped: bool) -> Question:
    column = CANDIDATES.by_key[key]
    waiting = tuple(sorted(blanks | {each.farm for each in cells}))
    parts = [f"{column.header}{_of(waiting, farms)}:"]
    parts += [f"{h.asked}." if h.asked else f"the list's '{h.head.text}' ({h.head.place}) is not "
              f"taken: {h.why}." for h in headings]
    parts += [_cell_text(each) for each in cells[:FARMS_LISTED]]
    if len(cells) > FARMS_LISTED:
        parts.append(f"And {len(cells) - FARMS_LISTED} more cells on 'Own list'.")
    blank = blanks - {each.farm for each in cells}
    if blank and not (headings and headings[0].asked):
        parts.append(_blank_text(column, len(blank), is_in_list))
    is_column = bool(headings) and not cells and not blank
    return Question(RECORDS if is_column or any(h.asked for h in headings) else WHOM[column.group],
                    STOPS if is_stopped else _decides(column), key, " ".join(parts), waiting)


def _of(places: tuple[int, ...], farms: list[dict]) -> str:
    if not places:
        return ""
    if len(places) == len(farms) and len(farms) > 2:
        return f" of all {len(farms)} farms"
    names = ", ".join(str(farms[place]["candidate_id"]) for place in places[:FARMS_LISTED])
    more = len(places) - FARMS_LISTED
    return f" of {names}" + (f" and {more} more" if more > 0 else "")


def _cell_text(asked: Asked) -> str:
    likely = f"; most likely '{asked.proposal}'" if asked.proposal else ""
    said = f"'{asked.text}' " if asked.text else ""
    return f"{asked.place} {said}{asked.why}{likely}."


def _blank_text(column: Column, count: int, is_in_list: bool) -> str:
    if not is_in_list:
        other = ", or season hours instead" if column.key == DEPTH else ""
        return f"no column of the list fits, and the study needs it{other}."
    return f"{count} {'cell is' if count == 1 else 'cells are'} blank or unknown, and needed."


def _decides(column: Column) -> str:
    if column.unit.startswith("USD") or column.group == "money and choice":
        return MONEY
    return REST if column.group == "identity" else SIZE


def _same_farm(name: str, places: list[int], asked: list[Asked]) -> Question:
    count = len(places)
    return Question(RECORDS, STOPS, "candidate_id",
                    f"'{name}' stands {count} times in the list: which row holds? Delete the "
                    "others on Candidates, or give each a name of its own.", tuple(places))
