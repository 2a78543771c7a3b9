"""Which farms an auditor looks at: the largest surely, the others by lot, each time the same."""

import hashlib
from dataclasses import dataclass

import numpy as np
import pandas as pd

from batch.findings import StudyError

AMOUNT = "incentive_cost_usd"
SURE_PART = 5  # one farm in five of the sample is taken for its size alone
LARGEST, MIDDLE, SMALLER = "largest", "middle", "smaller"


@dataclass(frozen=True)
class Sample:
    """The farms that were drawn, one row each, and how."""

    rows: pd.DataFrame
    statement: str


def draw(results: pd.DataFrame, *, count: int, seed: int) -> Sample:
    """A sample of the ranked farms, stratified by the dollars at stake (incentive cost).

    The largest farms are taken surely: a fifth of the sample, and every farm with at least the
    sampling interval (dollars left / farms left to draw), which is counted anew until no more
    farm reaches it. The others are halved where
    half of their dollars is reached, largest first, and each half gives the same number by lot.
    The lot of a farm is a hash of seed and name: it does not depend on the order of the rows.

    Sources: stratified and monetary-unit sampling as audit textbooks give them; memory.
    Errors: StudyError for a count below 1 or no ranked farm.
    """
    farms = results[results["rank"] != ""].copy()
    if count < 1 or farms.empty:
        raise StudyError("There is nothing to draw." if farms.empty else
                         f"A sample of {count} farms cannot be drawn.",
                         "Name a run with ranked farms, and a count of 1 or more.")
    farms["amount"] = _amounts(farms)
    farms["lot"] = [hashlib.sha256(f"{seed} {name}".encode()).hexdigest()
                    for name in farms["candidate_id"]]
    farms = farms.sort_values(["amount", "lot"], ascending=[False, True], kind="stable")
    stratum = _strata(farms["amount"].to_numpy(), count)
    drawn = [_by_lot(farms[stratum == name], name, number)
             for name, number in _numbers(stratum, count).items()]
    rows = pd.concat(drawn, ignore_index=True)
    total = farms["amount"].sum()
    share = 100 * rows["amount"].sum() / total if total else 0.0
    sizes = ", ".join(f"{len(part)} of {(stratum == name).sum()} {name}"
                      for name, part in zip(_numbers(stratum, count), drawn))
    return Sample(_listed(rows), f"{len(rows)} of {len(farms)} ranked farms drawn with seed "
                                 f"{seed}: {sizes}. They hold {share:.0f} % of the dollars.")


def _amounts(farms: pd.DataFrame) -> np.ndarray:
    if AMOUNT not in farms:
        raise StudyError(f"The results have no {AMOUNT}.", "Take the run as it was written.")
    amounts = pd.to_numeric(farms[AMOUNT], errors="coerce").to_numpy(float)
    wrong = farms.loc[~(np.isfinite(amounts) & (amounts >= 0)), "candidate_id"]
    if len(wrong):
        raise StudyError(f"The {AMOUNT} of '{wrong.iloc[0]}' is no amount of dollars.",
                         "Take the run as it was written; farmbatch rerun names what was changed.")
    return amounts


def _strata(amounts, count: int) -> np.ndarray:
    """The stratum of each farm; amounts come largest first."""
    taken, is_growing = min(count // SURE_PART, len(amounts)), True
    while is_growing and taken < min(count, len(amounts)):
        interval = amounts[taken:].sum() / (count - taken)
        reached = taken + int((amounts[taken:count] >= max(interval, 0.01)).sum())
        is_growing, taken = reached > taken, reached
    rest = amounts[taken:]
    is_middle = np.cumsum(rest) - rest < rest.sum() / 2
    return np.array([LARGEST] * taken + list(np.where(is_middle, MIDDLE, SMALLER)), dtype=object)


def _numbers(stratum, count: int) -> dict[str, int]:
    """How many are drawn of each stratum that has farms."""
    sizes = {name: int((stratum == name).sum()) for name in (LARGEST, MIDDLE, SMALLER)}
    left = min(count, len(stratum)) - sizes[LARGEST]
    middle = min(sizes[MIDDLE], (left + 1) // 2)
    smaller = min(sizes[SMALLER], left - middle)
    numbers = {LARGEST: sizes[LARGEST], MIDDLE: left - smaller, SMALLER: smaller}
    return {name: number for name, number in numbers.items() if sizes[name]}


def _by_lot(farms: pd.DataFrame, name: str, number: int) -> pd.DataFrame:
    drawn = farms.sort_values("lot", kind="stable").head(number)
    return drawn.assign(stratum=name, chance=number / len(farms))


def _listed(rows: pd.DataFrame) -> pd.DataFrame:
    """What the auditor gets: each farm with its stratum, chance to be drawn, and what to check."""
    keys = ("candidate_id", "farm_label", "excel_row", "verdict", "supply_option", AMOUNT,
            "incentive_usd", "cooperative_cost_usd", "added_load_kw")
    listed = rows[["stratum", *(key for key in keys if key in rows)]].copy()
    listed.insert(1, "chance_pct", [f"{100 * chance:.2f}" for chance in rows["chance"]])
    return listed
