"""The Ranking sheet: what the board sees first, with two native charts beside it."""

from openpyxl.chart import BarChart, LineChart, Reference
from openpyxl.utils import get_column_letter

from batch.columns import PROGRAM, RESULTS
from batch.columns.results import VERDICTS
from batch.portfolio.ranking import ORDER_STATEMENT
from batch.workbook.styles_and_text import HEADER, SLATE, SUBTITLE, TEAL, TITLE, Look, cell_for
from batch.workbook.tables import (
    HEADER_ROW,
    field_of,
    new_sheet,
    set_widths,
    table_cells,
    write_header,
)

KEYS = ("rank", "candidate_id", "farm_label", "verdict", "supply_option", "added_load_kw",
        "incentive_cost_usd", "incentive_usd_per_kw", "running_incentive_cost_usd", "in_budget",
        "member_payback_yr", "cooperative_payback_yr", "verdict_reason")
MOST_BARS = 40
GOLD = "B5832B"
CHART_COLUMN = len(KEYS) + 2      # charts stand right of the table, their data right of them
DATA_COLUMN = CHART_COLUMN + 12
DATA_HEADERS = ("Candidate", "In budget [USD/kW]", "Beyond the budget [USD/kW]",
                "Running total [USD]", "Budget [USD]")


def write_ranking(workbook, study, mark: str):
    """Ranked farms, then the unranked ones with their reasons; charts of the first farms."""
    fields = [field_of(RESULTS.by_key[key]) for key in KEYS]
    sheet = new_sheet(workbook, "Ranking", mark, freeze=f"D{HEADER_ROW + 3}")
    set_widths(sheet, fields)
    sheet.print_title_rows = f"{HEADER_ROW + 2}:{HEADER_ROW + 2}"
    ranked = study.results[study.results["rank"].notna()].sort_values("rank")
    unranked = study.results[study.results["rank"].isna()]
    for line in _summary(study, ranked):
        sheet.append([cell_for(sheet, line[0], line[1])])
    write_header(sheet, fields)
    charted = _chart_rows(ranked, study.inputs.study["program_budget_usd"])
    rows = [*ranked.to_dict("records"), *unranked.to_dict("records")]
    for place, row in enumerate(rows):
        row["in_budget"] = {1.0: "yes", 0.0: "no"}.get(row["in_budget"])
        cells = table_cells(sheet, fields, row)
        sheet.append(_with_chart_data(sheet, cells, charted, place))
    last = HEADER_ROW + 2 + max(len(rows), 1)
    sheet.auto_filter.ref = f"A{HEADER_ROW + 2}:{get_column_letter(len(KEYS))}{last}"
    sheet.print_area = f"A1:{get_column_letter(len(KEYS))}{last}"
    if charted:
        _add_charts(sheet, len(charted), has_budget=charted[0][4] is not None)


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
    return (
        (heading, TITLE),
        (f"{counts['read']} farms read = {counts['assessed']} assessed + "
         f"{counts['not_assessed']} not assessed. Verdicts: {said}.", SUBTITLE),
        (money, Look(bold=True)),
        (f"{ORDER_STATEMENT} {PROGRAM.by_key['incentive_cost_counts'].label}: {counted}.", SUBTITLE),
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


def _with_chart_data(sheet, cells, charted, place):
    """The row's cells, with the charts' data far right; its header stands on the first row."""
    if place >= len(charted):
        return cells
    gap = [None] * (DATA_COLUMN - 1 - len(cells))
    return cells + gap + [cell_for(sheet, value) for value in charted[place]]


def _add_charts(sheet, count, has_budget):
    first, last = HEADER_ROW + 3, HEADER_ROW + 2 + count
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
    sheet.add_chart(bars, f"{letter}{HEADER_ROW + 2}")
    sheet.add_chart(lines, f"{letter}{HEADER_ROW + 25}")


def _series_name(text):
    from openpyxl.chart.series import SeriesLabel

    return SeriesLabel(v=text)


def _finish(chart, names, unit):
    chart.set_categories(names)
    chart.width, chart.height = 26, 11
    chart.legend.position = "b"
    chart.y_axis.title = unit
    chart.y_axis.number_format = "#,##0"
    chart.y_axis.scaling.min = 0
    chart.x_axis.delete = chart.y_axis.delete = False
    chart.x_axis.tickLblPos = "low"
