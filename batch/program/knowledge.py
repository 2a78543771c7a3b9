"""What is known of a farm: for which stage its cells are enough, and which come next.

The dictionary says for which stage a cell is needed, and of which farms (`Column.stage`,
`Column.needed_where`). A farm that could be studied is known enough for screening.
"""

import numpy as np
import pandas as pd

from batch.columns import CANDIDATES
from batch.columns.candidates import (
    CHECK_OPEN,
    FEEDERS_LISTED,
    MUST_FUND,
    MUST_NOT_FUND,
    PRESENT_POWER,
    ROTARY,
    SINGLE_PHASE_DRIVE,
    WITH_BOOSTER,
    WITH_ENGINE,
    WITH_PIVOT,
    WITHOUT_DRIVE,
)
from batch.columns.column import APPROVAL, CONSTRUCTION, SCREENING, STAGES
from batch.columns.working import TYPED_NAMES
from batch.findings import NOT_ASSESSED
from batch.program.choosing import INCOMPLETE
from batch.program.season import has_left
from batch.step import step

WITHOUT_ENGINE = (ROTARY, PRESENT_POWER[-1])
COUNTED = ("meets_count", "watch_count", "fails_count", "not_assessed_count")
# The cells that are needed beyond screening: key of the farm's value, and the column.
LATER_CELLS = {TYPED_NAMES.get(column.key, column.key): column for column in CANDIDATES.columns
               if column.stage in (APPROVAL, CONSTRUCTION)}


@step(
    needs=" ".join((*LATER_CELLS, *COUNTED))
    + " supply_option verdict present_power pivot_length_ft booster_hp",
    makes="known_enough_for checks_answered next_cells")
def knowledge_of(chosen: pd.DataFrame, checks: pd.DataFrame, inputs) -> pd.DataFrame:
    """For which stage each farm is known well enough, how many of its checks are answered, and the
    cells that would bring it to the next stage, those first that leave most checks open."""
    open_checks = _open_checks(chosen, checks)
    is_needed = {
        "": True, FEEDERS_LISTED: len(inputs.feeders) > 0,
        WITH_ENGINE: ~chosen["present_power"].isin(WITHOUT_ENGINE),
        WITH_PIVOT: chosen["pivot_length_ft"].fillna(0) > 0,
        WITH_BOOSTER: chosen["booster_hp"] > 0,
        WITHOUT_DRIVE: chosen["supply_option"] != SINGLE_PHASE_DRIVE}
    lacks = pd.DataFrame({
        key: chosen[key].isna() & (open_checks[key] > 0 if column.needed_where == CHECK_OPEN
                                   else is_needed[column.needed_where])
        for key, column in LATER_CELLS.items()}, index=chosen.index)
    stage_of = np.array([column.stage for column in LATER_CELLS.values()])
    short_of = {stage: lacks.loc[:, stage_of == stage].any(axis=1)
                for stage in (APPROVAL, CONSTRUCTION)}
    enough = np.select(
        [chosen["verdict"] == INCOMPLETE, short_of[APPROVAL], short_of[CONSTRUCTION]],
        ["", SCREENING, APPROVAL], CONSTRUCTION)
    next_stage = np.where(short_of[APPROVAL], APPROVAL, CONSTRUCTION)
    mine = lacks & (stage_of == next_stage[:, np.newaxis])
    answered = chosen[list(COUNTED[:3])].sum(axis=1).astype(int)
    whole = answered + chosen["not_assessed_count"].astype(int)
    return pd.DataFrame({
        "known_enough_for": pd.Series(enough, chosen.index, dtype=object).replace("", None),
        "checks_answered": [f"{n} of {m}" for n, m in zip(answered, whole)],
        "next_cells": _in_words(mine, open_checks)}, index=chosen.index).astype(object)


def _open_checks(chosen, checks):
    """How many of a farm's checks each later cell leaves open (farms by cells)."""
    left = checks[checks["design"].isin(chosen.index) & (checks["answer"] == NOT_ASSESSED)]
    labels = left["blank_inputs"].str.split(", ").explode()
    counts = pd.crosstab(left.loc[labels.index, "design"].to_numpy(), labels.to_numpy())
    counts = counts.reindex(index=chosen.index, fill_value=0)
    return pd.DataFrame({key: counts.get(column.label, pd.Series(0, chosen.index))
                         for key, column in LATER_CELLS.items()}, index=chosen.index)


def _in_words(lacks, open_checks):
    """The cells of each farm as a text, in order of the checks that they leave open."""
    texts = []
    for is_lacking, counts in zip(lacks.to_numpy(), open_checks.to_numpy()):
        order = [at for at in np.argsort(-counts, kind="stable") if is_lacking[at]]
        columns = list(LATER_CELLS.values())
        texts.append("; ".join(
            columns[at].label + (f" ({_checks(counts[at])})" if counts[at] else "")
            for at in order) or None)
    return texts


def _checks(count):
    return "1 check" if count == 1 else f"{count} checks"


def is_closed_out(candidates: pd.DataFrame) -> pd.Series:
    """Farms that the board will not fund, and those that have left."""
    return (candidates["funding_choice"] == MUST_NOT_FUND) | has_left(candidates)


def may_be_funded(results: pd.DataFrame, rules) -> pd.Series:
    """Farms of which enough is known for money by the rules, or that the board must fund."""
    asked = STAGES.index(rules["knowledge_for_money"])
    return (results["known_enough_for"].isin(STAGES[asked:])
            | (results["funding_choice"] == MUST_FUND))
