"""The portfolio's tables of a study: which frame goes with which part of the dictionary, under
which file name. CSV files, sheets and pages all take them from here."""

import pandas as pd

from batch.columns import portfolio as columns
from batch.columns.column import Sheet
from batch.portfolio.shared_lines import crossover_summary


# Tables that are left out where they have no rows: what a program does not use it does not see.
ONLY_WITH_ROWS = (columns.LIST_SPREAD, columns.APPROVED_FARMS, columns.DELIVERED_FARMS,
                  columns.REALIZATION, columns.SET_FUTURES, columns.BUYING_LIST)


def portfolio_tables(study) -> list[tuple[Sheet, str, pd.DataFrame]]:
    """(columns, CSV file, frame) of every table, in the order in which they are written."""
    p, season = study.portfolio, study.season
    beside = [] if study.comparison is None else [
        (columns.SCENARIO_TOTALS, "scenario_totals.csv", study.comparison.totals),
        (columns.SCENARIO_VERDICTS, "scenario_verdicts.csv", study.comparison.verdicts)]
    every = [*beside,
             (columns.LIST_SPREAD, "list_spread.csv", study.list_spread),
             (columns.BUDGET, "budget.csv", season.budget),
             (columns.WAITING_LIST, "waiting_list.csv", season.waiting),
             (columns.APPROVED_FARMS, "approved_farms.csv", season.approved),
             (columns.DELIVERED_FARMS, "delivered.csv", season.delivered),
             (columns.REALIZATION, "realization.csv", season.realization),
             (columns.PROGRAM_TOTALS, "totals.csv", study.totals),
             (columns.BUDGET_SETS, "budget_sets.csv", p.sets),
             (columns.BUDGET_LIMITS, "budget_limits.csv", p.limits),
             (columns.SHARED_COSTS, "shared_lines.csv", p.shared),
             (columns.LINE_ANSWERS, "line_answers.csv", crossover_summary(p.crossover)),
             (columns.LINE_CROSSOVER, "line_crossover.csv", p.crossover),
             (columns.FEEDER_LOADS, "feeders.csv", study.feeders),
             (columns.SET_FUTURES, "set_futures.csv", p.set_futures),
             (columns.TORNADO, "drivers.csv", p.tornado),
             (columns.BENEFIT_BY_YEAR, "benefit_by_year.csv", p.years),
             (columns.RULE_COSTS, "dearest_rules.csv", p.rule_costs),
             (columns.SET_FARMS, "set_farms.csv", p.set_farms),
             (columns.SET_EXCHANGE, "set_exchange.csv", p.exchange),
             (columns.BUDGET_STEPS, "budget_steps.csv", p.budget_steps),
             (columns.WITHDRAWALS, "withdrawals.csv", p.withdrawals),
             (columns.BUYING_LIST, "buying_list.csv", p.buying_list),
             (columns.COST_LINES, "cost_lines.csv", study.cost_lines)]
    return [table for table in every if len(table[2]) or table[0] not in ONLY_WITH_ROWS]


def with_columns(frame: pd.DataFrame, sheet: Sheet) -> pd.DataFrame:
    """The frame, or one without rows that has the sheet's columns where it has none."""
    return frame if len(frame) else pd.DataFrame(columns=list(sheet.by_key))
