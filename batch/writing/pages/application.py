"""The grower's application form as one printed page."""

from batch.adopting.form import CAUTIONS, CONTACT, INTRO, OFFICE, QUESTIONS, TITLE
from batch.shown_text import cleaned
from batch.writing.pages.templates import Pages, Templates, read_templates

APPLICATION = "application.html"
# Units as a grower would say them, where the house list has another word.
SPOKEN = {"gal/yr": "gallons", "Mcf/yr": "Mcf", "USD/gal": "$ a gallon", "USD/Mcf": "$ an Mcf",
          "gpm": "gal/min", "hp": "HP"}


def application_page(cooperative: str = "", templates: Templates | None = None) -> str:
    """The page's text. Errors: StudyError where a template of the user's has a fault."""
    questions = [{"where": question.where, "picture": question.picture,
                  "answers": [_answer(answer) for answer in question.answers]}
                 for question in QUESTIONS]
    return cleaned(Pages(templates or read_templates()).render(APPLICATION, {
        "title": TITLE, "intro": INTRO, "cooperative": cooperative, "cautions": CAUTIONS,
        "head": [CONTACT, *(answer.asks for answer in OFFICE)], "questions": questions}))


def _answer(answer) -> dict:
    """An answer's words, its units as they are spoken, and its boxes to tick."""
    choices = (*answer.choices, "I do not know") if answer.choices else ()
    return {"asks": answer.asks, "choices": choices, "is_text": not answer.is_number,
            "units": [SPOKEN.get(unit, unit) for unit in answer.units]}
