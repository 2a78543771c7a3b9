"""How a result is computed: formula, range and source, and one farm's worked lines."""

from pathlib import Path

from batch.columns import ALL_SHEETS, RESULTS
from batch.findings import StudyError
from batch.reading.validate import validate
from batch.reports.worked import SUM_OVER_YEARS, worked_line
from batch.steps.valuation import cash_flows
from batch.study import run_study


def explain_text(key: str, run: Path | None, candidate_id: str | None) -> str:
    """What a key means; with a run folder or result workbook and a candidate, its worked lines.

    Errors: StudyError for a key, run or candidate that is not known.
    """
    column = _column(key)
    lines = [column.header, f"  key       {column.key}", f"  meaning   {column.help}"]
    if column.minimum is not None or column.maximum is not None:
        lines.append(f"  range     {_bound(column.minimum)} to {_bound(column.maximum)}"
                     + (f"; usually {column.usual[0]:g} to {column.usual[1]:g}"
                        if column.usual else ""))
    if column.choices:
        lines.append(f"  choices   {', '.join(column.choices)}")
    if isinstance(column.worked, str):
        lines += [f"  formula   {column.worked}"] if column.worked else []
    else:
        lines += [f"  formula   {option}: {text}" for option, text in column.worked if text]
    if column.source:
        lines.append(f"  source    {column.source}")
    if run is not None:
        lines += ["", *_worked_text(column.key, run, candidate_id)]
    return "\n".join(lines)


def _column(key):
    for sheet in (RESULTS, *reversed(ALL_SHEETS)):
        if key in sheet.by_key:
            return sheet.by_key[key]
    from difflib import get_close_matches

    keys = [k for sheet in ALL_SHEETS for k in sheet.by_key]
    near = get_close_matches(key, keys, n=1, cutoff=0.5)
    hint = f" Closest is '{near[0]}'." if near else ""
    raise StudyError(f"There is no key '{key}'.{hint}", "farmbatch columns lists all keys.")


def _bound(value):
    return "any" if value is None else f"{value:g}"


def _worked_text(key, run, candidate_id):
    """The line of the key, and the lines of the results that it is made of."""
    path = run / "result.xlsx" if run.is_dir() else run
    if candidate_id is None:
        raise StudyError("A run was given without a candidate.", "Add --candidate ID.")
    study = run_study(validate(path))
    mine = study.options[study.options["is_chosen"]
                         & (study.options["candidate_id"] == candidate_id)]
    if mine.empty:
        raise StudyError(f"The run has no assessed candidate '{candidate_id}'.",
                         "See the Ranking sheet for the names.")
    row = mine.iloc[0]
    lines = [f"{candidate_id}: {row['supply_option']}, {row['variant']}"]
    for part in _parts(key, row["supply_option"]):
        line = worked_line(part, row, study.inputs.rules)
        lines.append(f"  {line if line is not None else _value_text(RESULTS.by_key[part], row)}")
        if RESULTS.by_key[part].worked_for(row["supply_option"]).startswith(SUM_OVER_YEARS):
            lines += _flow_lines(cash_flows(mine, study.inputs.rules))
    return lines


def _flow_lines(flows):
    """Both parties' flows by year, and what they have come to by then, discounted."""
    heads = ("member", "cooperative")
    lines = ["    year" + "".join(f"{head:>14} {'discounted sum':>15}" for head in heads)
             + "   [USD]"]
    for year in flows.to_dict("records"):
        money = "".join(f"{year[f'{head}_usd']:14,.2f} {year[f'{head}_discounted_sum_usd']:15,.2f}"
                        for head in heads)
        lines.append(f"    {year['year']:4d}{money}")
    return lines


def _value_text(column, row):
    """A result without arithmetic of one line: looked up, solved or added up over the years."""
    value = row[column.key]
    if value is None or value != value:
        shown = "not assessed"
    elif column.is_numeric:
        shown = f"{value:,.{column.decimals}f} {column.unit}".strip()
    else:
        shown = str(value)
    return f"{column.label} = {shown}" + (f"   [{column.source}]" if column.source else "")


def _parts(key, supply_option):
    """The key behind all results that its arithmetic names, deepest first."""
    from batch.reports.worked import NAME

    order = []

    def visit(name):
        if name in RESULTS.by_key and name not in order:
            for part in NAME.findall(RESULTS.by_key[name].worked_for(supply_option)):
                visit(part)
            order.append(name)

    visit(key)
    return order
