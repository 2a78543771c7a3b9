"""How a result is computed: formula, range and source, and one farm's worked lines."""

from pathlib import Path

from batch.audit.trace import traced
from batch.columns import (
    CANDIDATES,
    EVERY_SHEET,
    FEEDERS,
    INPUT_SHEETS,
    PROGRAM,
    RATES,
    RESULTS,
    SHARED_LINES,
    STUDY,
    WORKING,
)
from batch.findings import StudyError
from batch.program.season import flows_of, rules_for
from batch.reading.validate import validate
from batch.shown_text import in_one_line
from batch.study import run_study
from batch.study_error import closest_in_words
from batch.trail.ends import NOT_KNOWN, value_text
from batch.trail.lines import trail_data, trail_text
from batch.trail.worked import NAME, SUM_OVER_YEARS, worked_line
from batch.writing.portfolio_tables import portfolio_tables

# Tables of which a farm has one row, by the key that names it.
OF_THE_FARM = ((RATES, "rates", "rate_id"), (FEEDERS, "feeders", "feeder_id"),
               (SHARED_LINES, "shared_lines", "shared_line_id"))

NOT_TYPED = {*RESULTS.by_key, *WORKING.by_key}  # a blank of these was not to be computed


def explain_text(key: str, run: Path | None, candidate_id: str | None) -> str:
    """What a key means; with a run folder or result workbook and a candidate, its worked lines.

    Errors: StudyError for a key, run or candidate that is not known.
    """
    if candidate_id is not None and run is None:
        raise StudyError("A candidate was given without a run.", "Add --run FOLDER.")
    sheet = _sheet(key)
    column = sheet.by_key[key]
    lines = [column.header, f"  key       {column.key}", f"  meaning   {column.help}"]
    if column.minimum is not None or column.maximum is not None:
        lines.append(f"  range     {_bound(column.minimum)} to {_bound(column.maximum)}"
                     + (f"; usually {column.usual[0]:g} to {column.usual[1]:g}"
                        if column.usual else ""))
    if column.choices:
        lines.append(f"  choices   {', '.join(column.choices)}")
    lines += [f"  formula   {text}" for text in column.worked_says]
    if column.made_of:
        lines.append(f"  made of   {', '.join(column.made_of.split())}")
    if column.source:
        lines.append(f"  source    {column.source}")
    if run is not None:
        lines += ["", *map(in_one_line, _worked_text(sheet, key, run, candidate_id))]
    return "\n".join(lines)


def trace_text(key: str, run: Path | None, row: tuple[str, str] | None) -> str:
    """The trail of a figure to read: `row` is its file and row, None where `key` is a cell.

    Errors: StudyError for a figure that the run has not.
    """
    return "\n".join(map(in_one_line, trail_text(_trail(key, run, row)).split("\n")))


def trace_data(key: str, run: Path | None, row: tuple[str, str] | None) -> list[dict]:
    """The same for other programs."""
    return trail_data(_trail(key, run, row))


def _trail(key, run, row):
    if run is None:
        raise StudyError("A figure is traced in a run.", "Add --run FOLDER.")
    if row is None and "!" not in key:
        raise StudyError("A key is traced in a row.",
                         "Add --candidate ID, or --of FILE ROW, or name a cell as Ranking!H12.")
    return traced(key, run, row)


def _sheet(key):
    """The sheet of the dictionary that a key stands on: results first, then what is typed in."""
    for sheet in (RESULTS, CANDIDATES, *EVERY_SHEET):
        if key in sheet.by_key:
            return sheet
    keys = [k for sheet in EVERY_SHEET for k in sheet.by_key]
    raise StudyError(f"There is no key '{key}'.{closest_in_words(key, keys)}",
                     "farmbatch columns lists all keys.")


def _bound(value):
    return "any" if value is None else f"{value:g}"


def _worked_text(sheet, key, run, candidate_id):
    """What one farm of a run has for the key."""
    path = run / "result.xlsx" if run.is_dir() else run
    if candidate_id is None:
        raise StudyError("A run was given without a candidate.", "Add --candidate ID.")
    study = run_study(validate(path))
    rows = study.results.index[study.results["candidate_id"] == candidate_id]
    if rows.empty:
        raise StudyError(f"The run has no candidate '{candidate_id}'.",
                         "See the Ranking sheet for the names.")
    if sheet is RESULTS:
        return _result_lines(key, study, rows[0], candidate_id)
    return [f"{candidate_id}:", *(f"  {line}" for line in
                                  _given_lines(sheet, key, study, rows[0]))]


def _result_lines(key, study, place, candidate_id):
    """The line of a result, and the lines of the results that it is made of."""
    row = study.results.loc[place].to_dict()
    mine = study.options[study.options["is_chosen"] & (study.options["excel_row"] == place)]
    if mine.empty:
        return [f"{candidate_id}: {row['verdict']}, no supply option",
                f"  {_value_text(RESULTS.by_key[key], row[key])}"]
    row = mine.iloc[0].to_dict() | row
    lines = [f"{candidate_id}: {row['supply_option']}, {row['variant']}"]
    rules = rules_for(study.inputs, place)
    for part in _parts(key, row, rules):
        column = RESULTS.by_key[part]
        line = worked_line(part, row, rules)
        lines.append(f"  {line if line is not None else _value_text(column, row[part])}")
        if column.worked_for(row, rules).startswith(SUM_OVER_YEARS):
            lines += _flow_lines(flows_of(mine, study.inputs))
    return lines


def _given_lines(sheet, key, study, place):
    """What the workbook gives for a key, or a table of the portfolio holds: the farm's own value,
    or that of the study, or of the rate, feeder or shared line that the farm names."""
    inputs, column = study.inputs, sheet.by_key[key]
    if sheet is CANDIDATES:
        own = [_value_text(column, inputs.candidates.at[place, key])]
        return own + (_rule_lines(key, inputs.rules) if key in PROGRAM.by_key else [])
    if sheet is WORKING:
        return [_value_text(column, study.results.at[place, key])]
    if sheet is STUDY:
        return [_value_text(column, inputs.study[key])]
    if sheet is PROGRAM:
        return _rule_lines(key, inputs.rules)
    for table, name, id_key in OF_THE_FARM:
        if sheet is table:
            frame, own = getattr(inputs, name), inputs.candidates.at[place, id_key]
            values = frame.loc[frame[id_key] == own, key]
            return [f"{own}: {_value_text(column, value)}" for value in values] or [
                f"The farm names no row of the {sheet.name} sheet."]
    tables = {own.name: (name, frame) for own, name, frame in portfolio_tables(study)}
    name, frame = tables.get(sheet.name, ("", None))
    if frame is not None and len(frame) and "candidate_id" in frame:
        own = frame["candidate_id"] == study.results.at[place, "candidate_id"]
        return [_value_text(column, value) for value in frame.loc[own, key]] or [
            f"The farm has no row in {name}."]
    where = f"{sheet.name} sheet" if sheet in INPUT_SHEETS else f"file {name}" if name else "run"
    return [f"{column.label} is no value of one farm; the {where} lists all of them."]


def _rule_lines(key, rules):
    rule = rules.by_key[key]
    said = _value_text(PROGRAM.by_key[key], rule.value)
    return [f"{said}   [{rule.origin}: {rule.source}]"]


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


def _value_text(column, value):
    """A value without arithmetic of one line: given, looked up, solved or added up over years."""
    shown = value_text(column, value)
    if shown == NOT_KNOWN:
        shown = "not assessed" if column.key in NOT_TYPED else "not given"
    return f"{column.label} = {shown}" + (f"   [{column.source}]" if column.source else "")


def _parts(key, row, rules):
    """The key behind all results that its arithmetic names, deepest first."""
    order = []

    def visit(name):
        if name in RESULTS.by_key and name not in order:
            for part in NAME.findall(RESULTS.by_key[name].worked_for(row, rules)):
                visit(part)
            order.append(name)

    visit(key)
    return order
