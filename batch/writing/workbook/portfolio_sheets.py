"""The sheets of the portfolio: budget, shared lines, feeders, drivers and the band of years."""

from openpyxl.chart import LineChart, Reference
from openpyxl.chart.series import SeriesLabel
from openpyxl.utils import get_column_letter

from batch.columns import portfolio as columns
from batch.writing.cautions import conventions
from batch.writing.portfolio_tables import portfolio_tables, with_columns
from batch.writing.workbook.contents import FEEDERS
from batch.writing.workbook.ranking_sheet import GOLD
from batch.writing.workbook.sheet_tables import field_of, in_words, write_table
from batch.writing.workbook.styles_and_text import TEAL, clean_text

MOST_CHARTS, CHART_CM, ROWS_PER_CHART = 6, (16.0, 8.0), 18


def write_feeders(workbook, study, fingerprint: str):
    """The contract's Feeders sheet."""
    _write(workbook, study, fingerprint, columns.FEEDER_LOADS, FEEDERS, study.feeders)


def write_portfolio(workbook, study, fingerprint: str):
    """All other tables of the portfolio, a sheet each."""
    for sheet, _, frame in portfolio_tables(study):
        if sheet is not columns.FEEDER_LOADS:
            _write(workbook, study, fingerprint, sheet, sheet.name, frame)


def _write(workbook, study, fingerprint, sheet, name, frame):
    frame = in_words(with_columns(frame, sheet), sheet.columns)
    fields = [field_of(column) for column in sheet.columns]
    printed = write_table(workbook, name, fingerprint, fields, frame[list(sheet.by_key)],
                          frozen_columns=1, statement=_statement(sheet, study))
    if printed is not None and sheet is columns.LINE_CROSSOVER:
        _crossover_charts(printed, frame)


def _crossover_charts(printed, frame):
    """A chart for each of the first shared lines, right of the table: cost by number of farms."""
    keys = list(columns.LINE_CROSSOVER.by_key)
    first_row = printed.row - len(frame) + 1
    letter = get_column_letter(len(keys) + 2)
    for place, (line, rows) in enumerate(frame.reset_index(drop=True).groupby("shared_line_id")):
        if place == MOST_CHARTS:
            break
        top, bottom = first_row + rows.index[0], first_row + rows.index[-1]
        chart = LineChart()
        chart.title = f"{clean_text(line)}: total cost by number of farms [USD]"
        for key, colour, dash in (("single_phase_cost_usd", TEAL, None),
                                  ("three_phase_cost_usd", GOLD, "dash")):
            column = keys.index(key) + 1
            chart.add_data(Reference(printed.worksheet, min_col=column, min_row=top,
                                     max_row=bottom))
            series = chart.series[-1]
            series.tx = SeriesLabel(v=columns.LINE_CROSSOVER.by_key[key].label)
            series.smooth = False
            series.graphicalProperties.line.solidFill = colour
            series.graphicalProperties.line.width = 28_000
            series.graphicalProperties.line.dashStyle = dash
        chart.set_categories(Reference(printed.worksheet, min_col=keys.index("farms") + 1,
                                       min_row=top, max_row=bottom))
        chart.width, chart.height = CHART_CM
        chart.legend.position = "b"
        chart.x_axis.title, chart.y_axis.title = "farms", "USD"
        chart.y_axis.number_format = "#,##0"
        chart.x_axis.delete = chart.y_axis.delete = False
        printed.worksheet.add_chart(chart, f"{letter}{first_row + place * ROWS_PER_CHART}")


def _statement(sheet, study) -> tuple[str, ...]:
    rules = study.inputs.rules
    goal = rules["set_goal"]
    if sheet in (columns.SCENARIO_VERDICTS, columns.RULE_COSTS, columns.LIST_SPREAD):
        return (sheet.help,)
    if sheet in (columns.PROGRAM_TOTALS, columns.SCENARIO_TOTALS):
        return conventions(rules)
    if sheet is columns.FEEDER_LOADS:
        return (f"Loads at one time are {rules['feeder_coincidence_pct']:g} % of the farms' added "
                "load. Blank spare capacity is not assessed.",
                "A single-phase farm loads one phase; the phases are chosen for the least "
                "unbalance of the funded farms. The voltage unbalance takes all "
                "unbalanced load at the weakest tap: an upper estimate, not a study of the "
                "feeder.")
    if sheet in (columns.BUDGET_SETS, columns.BUDGET_LIMITS):
        return (f"The goal is: {goal}. The ranking is a rule of order; the best set is the "
                "solution of a 0-1 program over all ranked farms whose goal is known.",
                "Farms that pay for a shared line together are taken all or none, since their "
                "figures hold only together.")
    if sheet is columns.SHARED_COSTS:
        return (sheet.help, "Every stretch of a line is paid in equal parts by the farms beyond "
                "it.")
    if sheet in (columns.LINE_ANSWERS, columns.LINE_CROSSOVER):
        return (sheet.help, "Only farms count whose two options are priced; those that fail a "
                "check are counted in, since this compares costs alone.")
    if sheet in (columns.COST_LINES, columns.BUYING_LIST):
        return (sheet.help, f"Overhead is {rules['overhead_adder_pct']:g} %.")
    return (f"{study.portfolio.draws:,} futures, seed {rules['uncertainty_seed']:g}: normal "
            "distributions about the study's values, spreads by the rules; construction cost is "
            "shared and granted anew, both paybacks are judged anew, other checks are kept.",)
