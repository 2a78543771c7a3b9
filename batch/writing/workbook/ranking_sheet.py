"""The Ranking sheet: what the board sees first, with two native charts beside it."""

import math
from dataclasses import replace

import numpy as np
from openpyxl.chart import BarChart, LineChart, Reference
from openpyxl.chart.series import SeriesLabel
from openpyxl.utils import get_column_letter

from batch.columns import PROGRAM, RESULTS
from batch.columns.results import VERDICTS
from batch.portfolio.settled_ranking import order_statement
from batch.program.season import budgets_usd, first_budget_usd
from batch.writing.workbook.sheet_tables import (
    LINE_HEIGHT,
    Field,
    PrintedSheet,
    column_chunks,
    field_of,
    in_words,
    row_heights,
    sized,
)
from batch.writing.workbook.styles_and_text import SLATE, SUBTITLE, TEAL, TITLE, Look

WIDTHS = {
    "rank": 7, "candidate_id": 13, "farm_label": 18, "verdict": 16, "known_enough_for": 12,
    "checks_answered": 12, "supply_option": 18, "added_load_kw": 11, "useful_load_kw": 11,
    "incentive_cost_usd": 12, "ranking_usd_per_kw": 11, "incentive_usd_per_kw": 12,
    "running_incentive_cost_usd": 13,
    "in_budget": 10, "in_best_set": 9, "best_set_year": 9, "qualifies_alone": 11,
    "member_payback_yr": 12, "cooperative_payback_yr": 13, "why_not": 60, "verdict_reason": 100}
KEYS = tuple(WIDTHS)
PRINTED = len(KEYS) - 2  # the long reasons are read on the screen, so that figures print larger
SUMMARY_WIDTH = 0.9 * sum(list(WIDTHS.values())[:PRINTED])
MOST_BARS = 40
HEADER_ROW = 6  # below the five lines of the summary
GOLD = "B5832B"
NO_SET = (" No set of farms keeps all limits: those that must be funded do not fit into the "
          "budget, their feeders and their shared lines together.")
CHART_COLUMN = len(KEYS) + 2      # charts stand right of the table, their data right of them
DATA_COLUMN = CHART_COLUMN + 16
CHART_CM, CHART_POINTS = (24, 8.4), 250  # a chart's width and height; height with its gap
DATA_HEADERS = ("Candidate", "In budget [USD/kW]", "Beyond the budget [USD/kW]",
                "Running total [USD]", "Budget [USD]")


def write_ranking(workbook, study, fingerprint: str):
    """Ranked farms, then the unranked ones with their reasons; charts of the first farms."""
    fields = [sized(field_of(RESULTS.by_key[key]), width) for key, width in WIDTHS.items()]
    sheet = PrintedSheet(workbook, "Ranking", fingerprint, freeze=f"D{HEADER_ROW + 1}")
    sheet.set_widths(field.width for field in fields)
    sheet.worksheet.page_setup.fitToWidth = 1
    ranked = study.results[study.results["rank"].notna()].sort_values("rank")
    for row, (text, look) in enumerate(_summary(study, ranked), start=1):
        lines = math.ceil(len(text) / SUMMARY_WIDTH)
        sheet.append([sheet.cell(text, replace(look, wrap=True))],
                     max(LINE_HEIGHT * lines, look.size * 1.6))
        sheet.worksheet.merge_cells(start_row=row, end_row=row, start_column=1,
                                    end_column=PRINTED)
    gap = [sheet.cell(None)] * (DATA_COLUMN - 1 - len(fields))
    charted = _chart_rows(ranked, first_budget_usd(study.inputs))
    sheet.append_header(fields, more=[*gap, *(sheet.cell(h, SUBTITLE) for h in DATA_HEADERS)])
    rows = study.results[list(KEYS)].sort_values("rank", kind="stable")  # unranked ones last
    rows = in_words(rows, [RESULTS.by_key[key] for key in KEYS])
    heights = row_heights(fields, next(column_chunks(fields, rows), {"rank": ()}))
    second_row, chart_end = _chart_places(heights)
    sheet.append_table([*fields, *_data_fields()], rows.assign(**_data_columns(charted, len(rows))))
    last = max(sheet.row, HEADER_ROW + 1)
    table = f"A{HEADER_ROW}:{get_column_letter(len(KEYS))}{last}"
    sheet.worksheet.auto_filter.ref = table
    sheet.worksheet.print_title_rows = f"{HEADER_ROW}:{HEADER_ROW}"
    charts = (f"{get_column_letter(CHART_COLUMN)}{HEADER_ROW + 1}:"
              f"{get_column_letter(DATA_COLUMN - 1)}{chart_end}")
    sheet.worksheet.print_area = f"A1:{get_column_letter(PRINTED)}{last},{charts}"
    if charted:
        _add_charts(sheet.worksheet, len(charted), second_row, has_all=len(charted) == len(ranked),
                    has_budget=charted[0][4] is not None,
                    load=study.inputs.rules["ranking_counts"])


def _chart_places(heights) -> tuple[int, int]:
    """The row at which the second chart begins, and the last row beside the charts; below the
    table rows have the usual height."""
    ends, row, total = [], HEADER_ROW, 0.0
    for chart in (1, 2):
        while total < chart * CHART_POINTS:
            height = heights[row - HEADER_ROW] if row - HEADER_ROW < len(heights) else None
            row, total = row + 1, total + (height or LINE_HEIGHT)
        ends.append(row)
    return ends[0] + 1, ends[1]


def _data_fields() -> list[Field]:
    """The columns right of the table: blank ones behind the charts, then the charts' data."""
    return [Field(f"chart_{place}", "", Look(), 0)
            for place in range(len(KEYS) + 1, DATA_COLUMN + len(DATA_HEADERS))]


def _data_columns(charted, count: int) -> dict[str, list]:
    """The values of these columns, for all rows of the table."""
    keys = [field.key for field in _data_fields()]
    columns = {key: [None] * count for key in keys}
    for key, values in zip(keys[-len(DATA_HEADERS):], zip(*charted)):
        columns[key][:len(values)] = values
    return columns


def _summary(study, ranked):
    """Five lines above the table: title, what was studied, the money, the rule, the caution."""
    inputs, counts = study.inputs, study.counts
    verdicts = study.results["verdict"].value_counts()
    said = ", ".join(f"{verdicts.get(v, 0)} {v}" for v in VERDICTS)
    budgets = budgets_usd(inputs)
    within = ranked[ranked["in_budget"] == 1]
    money = (f"All ranked farms: {ranked['incentive_cost_usd'].sum():,.0f} USD of incentive cost "
             f"for {_loads(ranked)}.")
    if len(budgets):
        of_year = " of the first year" if len(budgets) > 1 else ""
        money += (f" Budget{of_year} {budgets[0]:,.0f} USD: {len(within)} farms fit, "
                  f"{within['incentive_cost_usd'].sum():,.0f} USD for "
                  f"{_loads(within)}.") + _best_set(study)
    counted = inputs.rules["incentive_cost_counts"]
    heading = " - ".join(filter(None, (inputs.study["study_name"],
                                       inputs.study["cooperative_name"])))
    scenario = f"Scenario: {inputs.scenario.name}. " if inputs.scenario else ""
    return (
        (heading, TITLE),
        (f"{scenario}{counts['read']} farms read = {counts['assessed']} assessed + "
         f"{counts['not_assessed']} not assessed. Verdicts: {said}.", SUBTITLE),
        (money, Look(bold=True)),
        (f"{order_statement(inputs.rules['ranking_counts'])} "
         f"{PROGRAM.by_key['incentive_cost_counts'].label}: {counted}.", SUBTITLE),
        ("Screening only: the adopted electrical code, the cooperative's standards and a licensed "
         "engineer decide.", SUBTITLE),
    )


def _loads(farms):
    """Both sums of load in words."""
    return (f"{farms['added_load_kw'].sum():,.0f} kW of added load and "
            f"{farms['useful_load_kw'].sum():,.0f} kW of useful load")


def _best_set(study):
    """What the best set reaches beyond the ranking, for the line about the money."""
    sets = study.portfolio.sets
    if sets.empty:
        return ""
    best = sets.iloc[-1]
    if np.isnan(best["goal_bound"]):
        return NO_SET
    return (f" Best set within all limits: {best['farms']:.0f} farms, {best['added_load_kw']:,.0f} "
            f"kW of added load and {best['useful_load_kw']:,.0f} kW of useful load; its "
            f"{study.inputs.rules['set_goal']} is {best['goal_gain']:+,.0f} against the "
            "ranking's (sheet Budget sets).")


def _chart_rows(ranked, budget):
    """Data behind the charts: the first farms of the ranking."""
    rows = []
    for row in ranked.head(MOST_BARS).itertuples():
        within = budget is None or row.in_budget == 1
        per_kw = round(row.incentive_usd_per_kw, 2)
        rows.append((row.candidate_id, per_kw if within else None, None if within else per_kw,
                     row.running_incentive_cost_usd, budget))
    return rows


def _add_charts(sheet, count, second_row, has_all, has_budget, load):
    of_first = "" if has_all else f", first {count} farms"
    first, last = HEADER_ROW + 1, HEADER_ROW + count
    names = Reference(sheet, min_col=DATA_COLUMN, min_row=first, max_row=last)

    bars = BarChart()
    bars.type, bars.grouping, bars.overlap, bars.gapWidth = "col", "clustered", 100, 40
    bars.title = f"Incentive cost per kW of {load}, by rank{of_first} [USD/kW]"
    for offset, colour in ((1, TEAL), (2, GOLD)):
        bars.add_data(Reference(sheet, min_col=DATA_COLUMN + offset, min_row=first, max_row=last))
        series = bars.series[-1]
        series.tx = _series_name(DATA_HEADERS[offset])
        series.graphicalProperties.solidFill = colour
        series.graphicalProperties.line.solidFill = colour
    _finish(bars, names, "USD/kW")

    lines = LineChart()
    lines.title = f"Running total of incentive cost against the budget{of_first} [USD]"
    for offset, colour, dash in ((3, SLATE, None), (4, GOLD, "dash")):
        if offset == 4 and not has_budget:
            continue
        lines.add_data(Reference(sheet, min_col=DATA_COLUMN + offset, min_row=first, max_row=last))
        series = lines.series[-1]
        series.tx = _series_name(DATA_HEADERS[offset])
        series.smooth = False
        series.graphicalProperties.line.solidFill = colour
        series.graphicalProperties.line.width = 28_000
        if dash:
            series.graphicalProperties.line.dashStyle = dash
    _finish(lines, names, "USD")
    letter = get_column_letter(CHART_COLUMN)
    sheet.add_chart(bars, f"{letter}{HEADER_ROW + 1}")
    sheet.add_chart(lines, f"{letter}{second_row}")


def _series_name(text):
    return SeriesLabel(v=text)


def _finish(chart, names, unit):
    chart.set_categories(names)
    chart.width, chart.height = CHART_CM
    chart.legend.position = "b"
    chart.y_axis.title = unit
    chart.y_axis.number_format = "#,##0"
    chart.y_axis.scaling.min = 0
    chart.x_axis.delete = chart.y_axis.delete = False
    chart.x_axis.tickLblPos = "low"
