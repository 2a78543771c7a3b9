"""The application form of a grower: its twelve questions, and the answers of a returned sheet."""

from dataclasses import dataclass
from typing import NamedTuple

from batch.columns import CANDIDATES
from batch.columns.candidates import NO_POWER, PRESENT_POWER, ROTARY
from batch.reading.header import column_letter, plain_name
from batch.reading.validate import GAS
from batch.study_error import StudyError

SHEET = "Application"
NUMBER, QUESTION, ANSWER, UNIT, WHERE = HEADERS = (
    "No.", "Question", "Your answer", "Unit", "Where to read it")
DO_NOT_KNOW = "?"
UNKNOWN = {"", DO_NOT_KNOW, "i do not know", "i don't know", "do not know", "don't know"}
TITLE = "Application for electric service to an irrigation pump"
INTRO = (f"Write {DO_NOT_KNOW} where you do not know. A rough answer helps: write 'about' before "
         "it. Of two units choose yours.")
CONTACT = "Your name and telephone"  # no column of the study: a remark, for who asks back


@dataclass(frozen=True)
class Answer:
    """One answer cell: the words that ask for it, the key on Candidates, and the units that a
    grower knows it in, in words of the house list. A fuel's second unit is that of natural gas."""

    asks: str
    key: str
    units: tuple[str, ...] = ()

    @property
    def choices(self) -> tuple[str, ...]:
        """The words to choose from; none for a number or a text."""
        return CANDIDATES.by_key[self.key].choices

    @property
    def is_number(self) -> bool:
        """True where a number is asked for."""
        return CANDIDATES.by_key[self.key].is_numeric

    @property
    def is_of_fuel(self) -> bool:
        """True where the unit hangs on the fuel: none is filled in beforehand."""
        return bool(CANDIDATES.by_key[self.key].fuel_gas_unit)


@dataclass(frozen=True)
class Question:
    """One question: its answer cells, where to read the answer, and the drawing that shows it."""

    answers: tuple[Answer, ...]
    where: str
    picture: str


# Filled in above the questions.
OFFICE = (Answer("Application number (for the cooperative)", "candidate_id"),
          Answer("Date", "application_date"))
# Where things are read and what poles look like: common practice, no source.
QUESTIONS = (
    Question((Answer("What is the farm or field called?", "farm_label"),),
             "As on your maps and bills. One form for each pump.", "field"),
    Question((Answer("What drives the pump today?", "present_power"),),
             f"'{ROTARY.capitalize()}': a machine that makes three phases out of one. "
             f"'{NO_POWER.capitalize()}': new irrigation.", "engine"),
    Question((Answer("How many hours a season does the pump run?", "season_hours", ("hours",)),),
             "Hour meter: reading after the season less the one before.", "hour meter"),
    Question((Answer("How many acres does the pump water?", "irrigated_area_acre", ("acres",)),),
             "Field map or acreage report: the watered acres alone.", "circle"),
    Question((Answer("How much water does the pump give?", "flow_gpm", ("gpm", "cfs")),),
             "Flow meter in the pipe while the pivot runs. If there is none: the pivot's sprinkler "
             "chart.", "flow meter"),
    Question((Answer("How far down is the water while the pump runs?", "pumping_lift_ft",
                     ("feet",)),),
             "From the pump's outlet. Well record: level at rest plus drawdown. Pond or river: "
             "height above the water.", "well"),
    Question((Answer("What is the pressure at the pivot while it runs?", "pivot_pressure_psi",
                     ("psi",)),),
             "Gauge at the pivot point, not the one at the pump.", "gauge"),
    Question((Answer("Electric pump motor: how many horsepower?", "pump_motor_hp",
                     ("hp",)),
              Answer("Generator: how many kilowatts?", "generator_kw", ("kW",))),
             "If there is one: HP or kW on its nameplate. Not the engine's horsepower.",
             "nameplate"),
    Question((Answer("How much fuel does the pump use in a season?", "annual_fuel_use",
                     ("gal/yr", "Mcf/yr")),),
             "Bills of a season, this pump. Natural gas: Mcf.", "bill"),
    Question((Answer("What did you pay for this fuel?", "fuel_price_usd", ("USD/gal", "USD/Mcf")),),
             "Latest bill: dollars for one gallon, or for one Mcf, delivered.", "price"),
    Question((Answer("How long is the pivot?", "pivot_length_ft", ("feet",)),
              Answer("How many towers has it?", "tower_count")),
             "Pivot's papers: from the pivot point to the last tower. No pivot: write 0.",
             "pivot"),
    Question((Answer("How far is a power line with one wire on top?",
                     "single_phase_distance_ft", ("feet", "miles")),
              Answer("How far is a line with three wires on top?",
                     "three_phase_distance_ft", ("feet", "miles"))),
             "The nearest of each, on a map, along roads and field edges to the pump. Look from "
             "the ground.",
             "poles"),
)
ANSWERS = (*OFFICE, *(answer for question in QUESTIONS for answer in question.answers))
KEY_OF_HEADING = {answer.asks: answer.key for answer in ANSWERS}
BY_NAME = {plain_name(answer.asks): answer for answer in ANSWERS}
NAME_ASKED = QUESTIONS[0].answers[0].asks
# What a grower should heed before he reads anything off a machine.
CAUTIONS = (
    "Read only what you can see from outside. Open no electrical panel, cover or meter.",
    "Keep clear of turning shafts, belts, hot engines and exhausts.",
    "This is a first look: no offer, no promise of service.",
)


class Given(NamedTuple):
    """What stands in one answer cell. `value` is None where it is unknown: blank, or '?'. `unit`
    is that of the unit cell, else the question's, of a fuel the one that goes with the present
    power and blank where that is unknown. A text may hold a unit of its own, which counts first."""

    heading: str
    value: object
    cell: str
    unit: str


def answers_of(rows: list[list]) -> list[Given]:
    """Every answer cell of a sheet `Application`, from the top. `rows` are all its rows from
    row 1 and column A on, with None for an empty cell. A question that stands twice is given
    twice.

    Errors: StudyError where the sheet is no application form.
    """
    head, places = _head(rows)
    found = []
    for number, row in enumerate(rows[head + 1:], start=head + 2):
        asked = BY_NAME.get(plain_name(_at(row, places[QUESTION]) or ""))
        if asked:
            value = _at(row, places[ANSWER])
            unit = _at(row, places[UNIT]) if UNIT in places else None
            found.append((asked, None if is_unknown(value) else value,
                          f"{column_letter(places[ANSWER])}{number}",
                          "" if unit is None else str(unit).strip()))
    power = {plain_name("" if value is None else value) for asked, value, _, _ in found
             if asked.key == "present_power"} or {""}
    return [Given(asked.asks, value, cell, unit or _usual_unit(asked, power))
            for asked, value, cell, unit in found]


def lacks_of(given: list[Given]) -> list[str]:
    """What the cooperative must ask for before a form is of use, one sentence each: the farm's
    name where it is blank, and every question that was taken out of the sheet."""
    there = {answer.heading: answer for answer in given}
    lacks = [f"The question '{heading}' is not on the sheet {SHEET}: take the answer by telephone, "
             "or send a new form." for heading in KEY_OF_HEADING if heading not in there]
    name = there.get(NAME_ASKED)
    if name and name.value is None:
        lacks.insert(0, f"{SHEET}!{name.cell}: the farm has no name. Ask the grower, and type it "
                        "there.")
    return lacks


def remarks_of(rows: list[list]) -> list[tuple[str, str]]:
    """(cell, text) of all that a grower wrote below the headers and not into an answer cell.

    Errors: StudyError where the sheet is no application form.
    """
    head, places = _head(rows)
    remarks = []
    for number, row in enumerate(rows[head + 1:], start=head + 2):
        is_asked = plain_name(_at(row, places[QUESTION]) or "") in BY_NAME
        answered = {places[ANSWER], places.get(UNIT)} if is_asked else set()
        remarks += [(f"{column_letter(place)}{number}", str(value))
                    for place, value in enumerate(row)
                    if value is not None and place not in answered
                    and plain_name(value) not in _own_texts()
                    and not (place == places.get(NUMBER) and value in range(len(QUESTIONS) + 1))]
    return remarks


def is_unknown(value) -> bool:
    """True for a blank cell and for words that say that the grower does not know."""
    return value is None or plain_name(value).rstrip(".") in UNKNOWN


def _head(rows) -> tuple[int, dict[str, int]]:
    """The index of the row of headers, and the place of each header in it."""
    by_name = {plain_name(header): header for header in HEADERS}
    for index, row in enumerate(rows):
        places = {by_name[name]: place for place, name in reversed(list(enumerate(
            plain_name("" if value is None else value) for value in row))) if name in by_name}
        if {QUESTION, ANSWER} <= places.keys():
            return index, places
    raise StudyError(f"The sheet {SHEET} has no row with the headers '{QUESTION}' and '{ANSWER}'.",
                     "Put the row of headers back as farmbatch form writes it.")


def _at(row, place):
    return row[place] if place < len(row) else None


def _usual_unit(asked: Answer, power: set[str]) -> str:
    """The question's own unit; of a fuel, that of the present power."""
    if asked.is_of_fuel and not power <= set(PRESENT_POWER):
        return ""
    return asked.units[-1 if asked.is_of_fuel and power == {GAS} else 0] if asked.units else ""


def _own_texts() -> set[str]:
    """All texts that the form itself has below its headers."""
    wheres = (question.where for question in QUESTIONS)
    return {plain_name(text) for text in (*BY_NAME, *wheres, *CAUTIONS, CONTACT)}

