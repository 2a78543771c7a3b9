"""What the planner has decided about headings and words, on the sheet `Adopted headings` of an
earlier workbook."""

from dataclasses import dataclass, field
from pathlib import Path

from batch.adopting.heading_text import unit_word
from batch.adopting.values import plain_word
from batch.adopting.words import UNKNOWN
from batch.columns import CANDIDATES
from batch.findings import StudyError
from batch.reading.header import closest, columns_by_name, plain_name
from batch.reading.own_list import OwnSheet, workbook_sheets
from batch.reading.validate import ADOPTED_SHEETS

SHEET = ADOPTED_SHEETS[0]
HEADING, PLACE, WORD, TAKEN_AS, CHOICE, UNIT = (
    "Own heading", "Place", "Own word", "Taken as", "Your choice", "Your unit")
NO_KEY = "not taken"


@dataclass(frozen=True)
class Choice:
    """What a heading is taken for: a key, NO_KEY or '' for as proposed; and its unit."""

    key: str = ""
    unit: str = ""


@dataclass
class Kept:
    """The planner's choices: of headings by (plain text, place), of words by key."""

    by_heading: dict[tuple[str, str], Choice] = field(default_factory=dict)
    by_word: dict[str, dict[str, str]] = field(default_factory=dict)

    def heading(self, text: str, place: str) -> Choice | None:
        """The choice for a heading: at this place, else wherever it stood."""
        here = self.by_heading.get((plain_word(text), place))
        there = [choice for (own, _), choice in self.by_heading.items() if own == plain_word(text)]
        return here or (there[0] if len(there) == 1 else None)

    def words(self, key: str) -> dict[str, str]:
        """Plain word -> what it is read as, of a column."""
        return self.by_word.get(key, {})


def read_kept(path: Path, is_needed: bool) -> Kept:
    """The choices on the sheet of a workbook; none where it has no such sheet.

    Errors: StudyError for a choice that names nothing, or where a needed sheet is missing.
    """
    sheets = [sheet for sheet in workbook_sheets(path)
              if plain_name(sheet.name) == plain_name(SHEET)]
    if not sheets:
        if is_needed:
            raise StudyError(f"The workbook '{path}' has no sheet '{SHEET}'.",
                             "Name a workbook that adopt has written.")
        return Kept()
    return _kept(sheets[0])


def _kept(sheet: OwnSheet) -> Kept:
    places, kept = {}, Kept()
    for row, values in sheet.rows:
        texts = ["" if value is None else str(value).strip() for value in values]
        if HEADING in texts and CHOICE in texts:
            places = {text: index for index, text in enumerate(texts) if text}
            continue
        said = {name: texts[index] if index < len(texts) else ""
                for name, index in places.items()}
        if not (said.get(CHOICE) or said.get(UNIT)):
            continue
        where = sheet.place(row, places[CHOICE])
        if said.get(WORD):
            key = _key(said[TAKEN_AS], where)
            kept.by_word.setdefault(key, {})[plain_word(said[WORD])] = _word(
                said[CHOICE], key, where)
        else:
            kept.by_heading[plain_word(said[HEADING]), said.get(PLACE, "")] = Choice(
                said[CHOICE] and _key(said[CHOICE], where), _unit(said.get(UNIT, ""), where))
    return kept


def _key(text: str, where: str) -> str:
    by_name = columns_by_name(CANDIDATES.columns)
    name = plain_name(text.partition("[")[0])
    if name in (NO_KEY, "none", "no", "-"):
        return NO_KEY
    if name not in by_name:
        near = closest(name, [column.label for column in CANDIDATES.columns])
        raise StudyError(f"{where} is '{text}', which is no column of the Candidates sheet."
                         + (f" Closest is '{near}'." if near else ""),
                         f"Write its label or key, or '{NO_KEY}'.")
    return by_name[name].key


def _word(text: str, key: str, where: str) -> str:
    column = CANDIDATES.by_key[key]
    choices = column.choices or ("yes", "no")
    plain = {plain_word(choice): choice for choice in choices}
    if plain_word(text) in UNKNOWN:
        return "unknown"
    if plain_word(text) not in plain:
        raise StudyError(f"{where} is '{text}', which is not one of: {', '.join(choices)}.",
                         "Write one of these, or 'unknown'.")
    return plain[plain_word(text)]


def _unit(text: str, where: str) -> str:
    if text and not unit_word(text):
        raise StudyError(f"{where}: the unit '{text}' is not on the list of units.",
                         "Write a unit as the headers of the workbook may have it.")
    return unit_word(text)
