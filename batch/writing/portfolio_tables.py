"""The portfolio's tables of a study: which frame goes with which part of the dictionary, under
which file name. CSV files, sheets and pages all take them from here."""

import pandas as pd

from batch.columns import portfolio as columns
from batch.columns.column import Sheet
from batch.portfolio.shared_lines import crossover_summary


def portfolio_tables(study) -> list[tuple[Sheet, str, pd.DataFrame]]:
    """(columns, CSV file, frame) of every table, in the order in which they are written."""
    p = study.portfolio
    beside = [] if study.comparison is None else [
        (columns.SCENARIO_TOTALS, "scenario_totals.csv", study.comparison.totals),
        (columns.SCENARIO_VERDICTS, "scenario_verdicts.csv", study.comparison.verdicts)]
    approved = [(columns.APPROVED_FARMS, "approved_farms.csv", study.season.approved)]
    delivered = [(columns.DELIVERED_FARMS, "delivered.csv", study.season.delivered),
                 (columns.REALIZATION, "realization.csv", study.season.realization)]
    bought = [(columns.BUYING_LIST, "buying_list.csv", p.buying_list)]
    set_futures = [(columns.SET_FUTURES, "set_futures.csv", p.set_futures)]
    spread = [(columns.LIST_SPREAD, "list_spread.csv", study.list_spread)]
    return [*beside, *(spread if len(study.list_spread) else ()),
            (columns.BUDGET, "budget.csv", study.season.budget),
            (columns.WAITING_LIST, "waiting_list.csv", study.season.waiting),
            *(approved if len(study.season.approved) else ()),
            *(delivered if len(study.season.delivered) else ()),
            (columns.PROGRAM_TOTALS, "totals.csv", study.totals),
            (columns.BUDGET_SETS, "budget_sets.csv", p.sets),
            (columns.BUDGET_LIMITS, "budget_limits.csv", p.limits),
            (columns.SHARED_COSTS, "shared_lines.csv", p.shared),
            (columns.LINE_ANSWERS, "line_answers.csv", crossover_summary(p.crossover)),
            (columns.LINE_CROSSOVER, "line_crossover.csv", p.crossover),
            (columns.FEEDER_LOADS, "feeders.csv", study.feeders),
            *(set_futures if len(p.set_futures) else ()),
            (columns.TORNADO, "drivers.csv", p.tornado),
            (columns.BENEFIT_BY_YEAR, "benefit_by_year.csv", p.years),
            (columns.RULE_COSTS, "dearest_rules.csv", p.rule_costs),
            (columns.SET_FARMS, "set_farms.csv", p.set_farms),
            (columns.SET_EXCHANGE, "set_exchange.csv", p.exchange),
            (columns.BUDGET_STEPS, "budget_steps.csv", p.budget_steps),
            (columns.WITHDRAWALS, "withdrawals.csv", p.withdrawals),
            *(bought if len(p.buying_list) else ()),
            (columns.COST_LINES, "cost_lines.csv", study.cost_lines)]


def with_columns(frame: pd.DataFrame, sheet: Sheet) -> pd.DataFrame:
    """The frame, or one without rows that has the sheet's columns where it has none."""
    return frame if len(frame) else pd.DataFrame(columns=list(sheet.by_key))
