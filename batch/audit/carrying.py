"""A finished run taken into the next season: only what computes again to the same is carried."""

from pathlib import Path

from batch import rules
from batch.audit.answers import GRAVE, answers_by_candidate, differences
from batch.audit.evidence import gather
from batch.canonical import canonical_frame
from batch.columns import RESULTS
from batch.findings import StudyError
from batch.study import Study, run_study


def finished_study(path: str | Path) -> Study:
    """The study of a run folder or result workbook, computed again.

    Errors: StudyError where it cannot be computed again, or something was changed since it was
    written or comes out otherwise.
    """
    found = gather(path)
    study = run_study(found.inputs)
    new = canonical_frame(study.results, RESULTS.columns)
    answers = answers_by_candidate(new, differences(found.results, new))
    apart = [name for name, answer in answers.items() if answer in GRAVE]
    if found.is_tampered or apart:
        what = f"{', '.join(apart[:3])} come out otherwise" if apart else "it was changed since"
        raise StudyError(f"The run '{path}' cannot be carried on: {what}.",
                         f"See farmbatch rerun {path}; carry from the run as it was approved.")
    return study


def must_have_rules(year: int):
    """Errors: StudyError where the program holds no rules of the year."""
    if year not in rules.years():
        raise StudyError(f"There are no rules for the year {year} yet.",
                         "They come with a release of the program; DEVELOPERS.md tells how to add "
                         "a year, and --year takes another one.")
