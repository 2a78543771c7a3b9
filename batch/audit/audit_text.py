"""What the auditor's commands print: re-run and comparison in plain words, or as plain data."""

from os.path import commonprefix

from batch.audit import evidence
from batch.audit.answers import ORDER
from batch.shown_text import in_one_line
from batch.writing.record import WHAT_IT_PROVES

MOST_LINES, MOST_KEYS, MOST_VALUE = 20, 3, 40


def rerun_text(run) -> str:
    """Verdict first, then what was changed, what differs and why, and the totals."""
    stored = run.evidence.stored
    lines = [f"Re-run of {stored.path}, fingerprint {stored.fingerprint}"
             + (f", under {run.under}" if run.under else ""), "", _verdict(run), ""]
    for title, kinds in (
            ("Changed since it was written", evidence.TAMPERING),
            ("The file", (evidence.BYTES,)),
            ("This program against the one that wrote it",
             (evidence.YEAR_FILE, evidence.TABLE, evidence.DICTIONARY, evidence.PROGRAM,
              evidence.LIBRARY))):
        changes = run.evidence.of_kind(*kinds)
        if changes:
            lines += [f"{title}:", *cut([f"  {change.text}" for change in changes]), ""]
    lines += _key_lines(run) + _difference_lines(run.differences)
    if run.under:
        lines += _totals_lines(run)
    return "\n".join([*map(in_one_line, lines), _wrapped(WHAT_IT_PROVES)])


def _verdict(run) -> str:
    counts = ", ".join(f"{list(run.answers.values()).count(answer)} {answer}" for answer in ORDER
                       if answer in run.answers.values())
    said = "SAME" if run.is_same else "NOT THE SAME"
    if run.evidence.is_tampered:
        said += "; what was written has been changed"
    compared = sum(key in run.new for key in run.old) * len(run.answers)
    return (f"{said}. Candidates: {counts or 'none'}. {compared:,} results were computed again and "
            "compared; sheets, pages and CSV files by their hashes where these are there.")


def _key_lines(run) -> list[str]:
    gone, come = run.keys_apart
    lines = [f"Results that only the stored run has: {', '.join(gone)}."] if gone else []
    return lines + ([f"Results that only this program has: {', '.join(come)}."] if come else [])


def _difference_lines(differences) -> list[str]:
    """A line per candidate, the gravest first: its changed decisions, and how much else differs;
    below it the reason, or on top where it is one for all."""
    if not differences:
        return []
    by_candidate: dict[str, list] = {}
    for difference in differences:
        by_candidate.setdefault(difference.candidate_id, []).append(difference)
    reasons = {difference.reason for difference in differences}
    lines = [f"Reason of all differences: {next(iter(reasons))}."] if len(reasons) == 1 else []
    lines = [] if reasons == {""} else lines
    ordered = sorted(by_candidate.values(), key=lambda own: -_grade(own))
    for own in ordered[:MOST_LINES]:
        own.sort(key=lambda d: -ORDER.index(d.answer))
        lines.append(f"{_short(own[0].candidate_id, 14):14} {own[0].answer}: {_said(own)}")
        if len(reasons) > 1:
            lines.append(f"{'':14} {own[0].reason}")
    if len(ordered) > MOST_LINES:
        lines.append(f"... and {len(ordered) - MOST_LINES} more candidates; --json lists all")
    return [*lines, ""]


def _grade(own) -> int:
    return max(ORDER.index(difference.answer) for difference in own)


def _said(own) -> str:
    """The first differences of a candidate, and the number of the others."""
    shown = [f"{d.key} {old or 'blank'} -> {new or 'blank'}"
             for d in own[:MOST_KEYS] for old, new in [where_they_part(d.old, d.new)]]
    return "; ".join(shown) + (f"; {len(own) - MOST_KEYS} more" if len(own) > MOST_KEYS else "")


def _totals_lines(run) -> list[str]:
    lines = [f"{'total over the ranked farms':34} {'stored':>16} {'recomputed':>16} "
             f"{'difference':>16}"]
    lines += [f"{name:34} {old:16,.2f} {new:16,.2f} {new - old:+16,.2f}"
              for name, (old, new) in run.totals.items()]
    return [*lines, ""]


def rerun_data(run) -> dict:
    """The re-run as plain data."""
    return {"fingerprint": run.evidence.stored.fingerprint, "under": run.under,
            "is_same": run.is_same, "answers": run.answers,
            "changes": [vars(change) for change in run.evidence.changes],
            "differences": [_difference_data(d) for d in run.differences],
            "keys_only_stored": run.keys_apart[0], "keys_only_new": run.keys_apart[1],
            "totals": {name: {"stored": old, "recomputed": new}
                       for name, (old, new) in run.totals.items()}}


def _difference_data(difference) -> dict:
    return {key: value for key, value in vars(difference).items() if key != "old_row"}


def compare_data(found) -> dict:
    """The comparison as plain data."""
    return {"is_same": found.is_same, "cells": [vars(cell) for cell in found.cells],
            "differences": [_difference_data(d) for d in found.differences],
            "bridge": [vars(step) for step in found.bridge],
            "changed_since_written": {name: [vars(change) for change in side.tampering]
                                      for name, side in (("A", found.one), ("B", found.other))}}


def cut(lines: list[str]) -> list[str]:
    """The first lines, and how many more there are."""
    if len(lines) <= MOST_LINES:
        return lines
    return [*lines[:MOST_LINES], f"  ... and {len(lines) - MOST_LINES} more; --json lists all"]


def where_they_part(old: str, new: str) -> tuple[str, str]:
    """Two texts cut to where they begin to differ, at a word."""
    same = len(commonprefix([old, new]))
    start = old.rfind(" ", 0, same) + 1 if max(len(old), len(new)) > MOST_VALUE else 0
    return tuple(_short("..." * (start > 0) + text[start:], MOST_VALUE) for text in (old, new))


def _short(text: str, most: int) -> str:
    return text if len(text) <= most else text[:most - 3] + "..."


def _wrapped(text: str) -> str:
    from textwrap import fill

    return fill(text, 100)
