"""The Ranking sheet: what the board sees first, with two native charts beside it."""

import math

from openpyxl.chart import BarChart, LineChart, Reference
from openpyxl.utils import get_column_letter

from batch.columns import PROGRAM, RESULTS
from batch.columns.results import VERDICTS
from batch.portfolio.ranking import ORDER_STATEMENT
from batch.workbook.styles_and_text import SLATE, SUBTITLE, TEAL, TITLE, Look
from batch.workbook.tables import LINE_HEIGHT, PrintedSheet, field_of

KEYS = ("rank", "candidate_id", "farm_label", "verdict", "supply_option", "added_load_kw",
        "incentive_cost_usd", "incentive_usd_per_kw", "running_incentive_cost_usd", "in_budget",
        "member_payback_yr", "cooperative_payback_yr", "verdict_reason")
MOST_BARS = 40
HEADER_ROW = 6  # below the five lines of the summary
GOLD = "B5832B"
CHART_COLUMN = len(KEYS) + 2      # charts stand right of the table, their data right of them
DATA_COLUMN = CHART_COLUMN + 16
CHART_CM, CHART_POINTS = (26, 11), 330  # a chart's width and height; height with its gap
DATA_HEADERS = ("Candidate", "In budget [USD/kW]", "Beyond the budget [USD/kW]",
                "Running total [USD]", "Budget [USD]")


def write_ranking(workbook, study, mark: str):
    """Ranked farms, then the unranked ones with their reasons; charts of the first farms."""
    fields = [field_of(RESULTS.by_key[key]) for key in KEYS]
    sheet = PrintedSheet(workbook, "Ranking", mark, freeze=f"D{HEADER_ROW + 1}")
    sheet.set_widths(field.width for field in fields)
    sheet.worksheet.page_setup.fitToWidth = 1
    ranked = study.results[study.results["rank"].notna()].sort_values("rank")
    unranked = study.results[study.results["rank"].isna()]
    for text, look in _summary(study, ranked):
        sheet.append([sheet.cell(text, look)])
    gap = [None] * (DATA_COLUMN - 1 - len(fields))
    charted = _chart_rows(ranked, study.inputs.study["program_budget_usd"])
    sheet.append_header(fields, more=[*gap, *(sheet.cell(h, SUBTITLE) for h in DATA_HEADERS)])
    top, second_row, chart_end = sheet.height, None, None
    for place, record in enumerate([*ranked.to_dict("records"), *unranked.to_dict("records")]):
        record["in_budget"] = {1.0: "yes", 0.0: "no"}.get(record["in_budget"])
        data = [*gap, *map(sheet.cell, charted[place])] if place < len(charted) else ()
        sheet.append_record(fields, record, more=data)
        if second_row is None and sheet.height >= top + CHART_POINTS:
            second_row = sheet.row + 1
        if chart_end is None and sheet.height >= top + 2 * CHART_POINTS:
            chart_end = sheet.row
    second_row = second_row or _row_after(sheet, top + CHART_POINTS) + 1
    chart_end = chart_end or _row_after(sheet, top + 2 * CHART_POINTS)
    last = max(sheet.row, HEADER_ROW + 1)
    table = f"A{HEADER_ROW}:{get_column_letter(len(KEYS))}{last}"
    sheet.worksheet.auto_filter.ref = table
    sheet.worksheet.print_title_rows = f"{HEADER_ROW}:{HEADER_ROW}"
    charts = (f"{get_column_letter(CHART_COLUMN)}{HEADER_ROW + 1}:"
              f"{get_column_letter(DATA_COLUMN - 1)}{chart_end}")
    sheet.worksheet.print_area = f"A1:{table.split(':')[1]},{charts}"
    if charted:
        _add_charts(sheet.worksheet, len(charted), second_row, has_budget=charted[0][4] is not None)


def _row_after(sheet, height):
    """The row at which so much height is reached, below rows of the usual height."""
    return sheet.row + math.ceil(max(height - sheet.height, 0) / LINE_HEIGHT)


def _summary(study, ranked):
    """Five lines above the table: title, what was studied, the money, the rule, the caution."""
    inputs, counts = study.inputs, study.counts
    verdicts = study.results["verdict"].value_counts()
    said = ", ".join(f"{verdicts.get(v, 0)} {v}" for v in VERDICTS)
    budget = inputs.study["program_budget_usd"]
    within = ranked[ranked["in_budget"] == 1]
    money = (f"All ranked farms: {ranked['incentive_cost_usd'].sum():,.0f} USD of incentive cost "
             f"for {ranked['added_load_kw'].sum():,.0f} kW of added load.")
    if budget is not None:
        money += (f" Budget {budget:,.0f} USD: the first {len(within)} farms fit, "
                  f"{within['incentive_cost_usd'].sum():,.0f} USD for "
                  f"{within['added_load_kw'].sum():,.0f} kW.")
    counted = inputs.rules["incentive_cost_counts"]
    heading = " - ".join(filter(None, (inputs.study["study_name"],
                                       inputs.study["cooperative_name"])))
    scenario = f"Scenario: {inputs.scenario.name}. " if inputs.scenario else ""
    return (
        (heading, TITLE),
        (f"{scenario}{counts['read']} farms read = {counts['assessed']} assessed + "
         f"{counts['not_assessed']} not assessed. Verdicts: {said}.", SUBTITLE),
        (money, Look(bold=True)),
        (f"{ORDER_STATEMENT} {PROGRAM.by_key['incentive_cost_counts'].label}: {counted}.",
         SUBTITLE),
        ("Screening only: the adopted electrical code, the cooperative's standards and a licensed "
         "engineer decide.", SUBTITLE),
    )


def _chart_rows(ranked, budget):
    """Data behind the charts: the first farms of the ranking."""
    rows = []
    for row in ranked.head(MOST_BARS).itertuples():
        within = budget is None or row.in_budget == 1
        per_kw = round(row.incentive_usd_per_kw, 2)
        rows.append((row.candidate_id, per_kw if within else None, None if within else per_kw,
                     row.running_incentive_cost_usd, budget))
    return rows


def _add_charts(sheet, count, second_row, has_budget):
    first, last = HEADER_ROW + 1, HEADER_ROW + count
    names = Reference(sheet, min_col=DATA_COLUMN, min_row=first, max_row=last)

    bars = BarChart()
    bars.type, bars.grouping, bars.overlap, bars.gapWidth = "col", "clustered", 100, 40
    bars.title = "Incentive cost per kW of added load, by rank [USD/kW]"
    for offset, colour in ((1, TEAL), (2, GOLD)):
        bars.add_data(Reference(sheet, min_col=DATA_COLUMN + offset, min_row=first, max_row=last))
        series = bars.series[-1]
        series.tx = _series_name(DATA_HEADERS[offset])
        series.graphicalProperties.solidFill = colour
        series.graphicalProperties.line.solidFill = colour
    _finish(bars, names, "USD/kW")

    lines = LineChart()
    lines.title = "Running total of incentive cost against the budget [USD]"
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
    from openpyxl.chart.series import SeriesLabel

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
