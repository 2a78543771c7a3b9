"""Two sets of results side by side: same, within rounding, or different, by candidate and key."""

import re
from dataclasses import dataclass

import pandas as pd

from batch.columns import RESULTS
from batch.program.choosing import CRITERIA
from batch.supply.checks import CHECKS

SAME, ROUNDING, WORDING = "same", "differs within rounding", "wording differs"
VALUE, DECISION = "value differs", "decision differs"
ORDER = (SAME, ROUNDING, WORDING, VALUE, DECISION)
GRAVE = (VALUE, DECISION)
# What is decided about a farm; a change in one of these is a changed decision.
DECISION_KEYS = ("verdict", "supply_option", "variant", "rank", "in_budget", "in_best_set",
                 "best_set_year", "incentive_usd",
                 "incentive_cost_usd", "cooperative_cost_usd", "member_cost_usd")
# Sentences that explain the numbers beside them.
REASON_KEYS = ("verdict_reason", "option_reason", "mitigation_reason")
IDENTITY = ("candidate_id", "excel_row")
MISSING = "(no such candidate)"
ANSWERS = ("Fails", "Watch", "Not assessed")  # words by which a reason begins to list checks
TOLD = re.compile("|".join(map(re.escape, [*ANSWERS, *sorted(
    [*(check.name for check in CHECKS), *CRITERIA], key=len, reverse=True)])))


@dataclass(frozen=True)
class Difference:
    """One result that is not the same; `reason` is filled in by who compares."""

    candidate_id: str
    key: str
    old: str
    new: str
    answer: str
    old_row: object = None
    reason: str = ""


def worst(answers) -> str:
    """The gravest of some answers; `same` where there is none."""
    return max(answers, key=ORDER.index, default=SAME)


def differences(old: pd.DataFrame, new: pd.DataFrame) -> list[Difference]:
    """Every result of `new` that is not that of `old`, both in canonical text.

    Candidates are matched by name, and equal or blank names by their order. Keys that only one
    side knows are left out; `keys_apart` tells them.
    """
    keys = [key for key in old.columns if key in new.columns and key not in IDENTITY]
    before, after = rows_by_name(old), rows_by_name(new)
    found = []
    for name in [*before, *(name for name in after if name not in before)]:
        if name not in after or name not in before:
            sides = (name, MISSING) if name in before else (MISSING, name)
            found.append(Difference(name, "candidate_id", *sides, DECISION, before.get(name)))
            continue
        one, two = old.loc[before[name]], new.loc[after[name]]
        found += [Difference(name, key, one[key], two[key], answer_for(key, one[key], two[key]),
                             before[name])
                  for key in keys if one[key] != two[key]]
    return found


def rows_by_name(frame) -> dict[str, object]:
    """A candidate's name -> label of its row; names that return are numbered."""
    places, seen = {}, {}
    for label, name in zip(frame.index, frame["candidate_id"]):
        seen[name] = seen.get(name, 0) + 1
        shown = name or "(no name)"
        places[shown if seen[name] == 1 else f"{shown} ({seen[name]})"] = label
    return places


def answer_for(key: str, old: str, new: str) -> str:
    """How far two canonical texts of a result differ."""
    if old == new:
        return SAME
    if key in REASON_KEYS:
        is_other = key == "verdict_reason" and _checks_told(old) != _checks_told(new)
        return VALUE if is_other else WORDING
    column = RESULTS.by_key.get(key)
    if column is not None and column.is_numeric and column.kind == "number" and old and new:
        try:
            one_step = 10.0 ** -column.decimals
            if abs(float(old) - float(new)) < 1.5 * one_step:
                return ROUNDING
        except ValueError:
            return VALUE
    return DECISION if key in DECISION_KEYS else VALUE


def _checks_told(reason: str) -> set[tuple[str, str]]:
    """The checks that a verdict's reason names, each with how it answers."""
    told, answer = set(), ""
    for word in TOLD.findall(reason):
        if word in ANSWERS:
            answer = word
        else:
            told.add((word, answer))
    return told


def keys_apart(old: pd.DataFrame, new: pd.DataFrame) -> tuple[list[str], list[str]]:
    """Keys that only the old results have, and keys that only the new ones have."""
    return ([key for key in old.columns if key not in new.columns],
            [key for key in new.columns if key not in old.columns])


def answers_by_candidate(results: pd.DataFrame, found: list[Difference]) -> dict[str, str]:
    """The gravest answer of every candidate, removed and added ones included."""
    answers = dict.fromkeys(rows_by_name(results), SAME)
    for difference in found:
        name = difference.candidate_id
        answers[name] = worst((answers.get(name, SAME), difference.answer))
    return answers
