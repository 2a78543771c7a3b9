"""The catalogue of findings, for who sees a slug and asks: text, Markdown, CSV or JSON."""

from textwrap import fill

from batch.finding_examples import EXAMPLES
from batch.findings import CATALOGUE, ERROR, NOTE, WATCH, StudyError
from batch.study_error import closest_in_words
from batch.writing.dictionary import csv_of, json_of

FIELDS = ("slug", "severity", "title", "cause", "remedy", "example")
MEANING = {ERROR: "The row is not assessed until this is mended; on the Study, Program or Unit "
                  "costs sheet it stops the study.",
           WATCH: "The row is assessed. The value may be wrong, or something needs an eye.",
           NOTE: "Told so that nothing happens unseen."}
INTRODUCTION = ("A finding is something about a cell, a row or the study that is worth a look. Its "
                "name never changes its meaning. Examples show the cell, then what is said of it.")


def catalogue_rows(slug: str | None = None) -> list[dict]:
    """One row per kind of finding. Errors: StudyError for a slug that is not known."""
    if slug is not None and slug not in CATALOGUE:
        raise StudyError(f"There is no finding '{slug}'.{closest_in_words(slug, CATALOGUE)}",
                         "farmbatch findings lists all.")
    slugs = CATALOGUE if slug is None else (slug,)
    return [{"slug": name, **vars(CATALOGUE[name]), "example": EXAMPLES.get(name, "")}
            for name in slugs]


def catalogue_text(slug: str | None, form: str) -> str:
    """The catalogue, or one kind of it, in one of four forms, ending in a line end."""
    rows = catalogue_rows(slug)
    if form == "json":
        return json_of(rows)
    if form == "csv":
        return csv_of(rows, FIELDS)
    if form == "markdown":
        return _markdown(rows)
    return "\n\n".join(map(_entry, rows)) + "\n"


def _entry(row: dict) -> str:
    """One kind as lines of a terminal."""
    lines = [f"{row['slug']}  ({row['severity']})"]
    for word, text in (("means", row["title"] + "."), ("cause", row["cause"]),
                       ("do", row["remedy"]), ("example", row["example"])):
        lines.append(fill(text, 100, initial_indent=f"  {word:9}", subsequent_indent=" " * 11,
                          break_on_hyphens=False))
    return "\n".join(lines)


def _markdown(rows: list[dict]) -> str:
    """The kinds by severity, the gravest first, each under its slug."""
    lines = ["# Findings explained", "", INTRODUCTION, "",
             "Made by `farmbatch findings --format markdown`; `farmbatch findings SLUG` prints one "
             "of them."]
    for severity, meaning in MEANING.items():
        kinds = sorted((row for row in rows if row["severity"] == severity),
                       key=lambda row: row["slug"])
        if kinds:
            lines += ["", f"## {severity.capitalize()}", "", meaning]
        for row in kinds:
            lines += ["", f"### {row['slug']}", "",
                      f"**{row['title']}.** {row['cause']}", "", f"- What to do: {row['remedy']}",
                      f"- Example: `{row['example']}`"]
    return "\n".join(lines) + "\n"
