"""The commands: parse, call, print, exit code. No logic; `ending.py` says how each ends."""

import json
from pathlib import Path

import click

from batch import __version__
from batch.ending import DIFFERENT, DONE, NOT_ASSESSED, Commands, say
from batch.study_error import StudyError

WORKBOOK = click.Path(path_type=Path)


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="farmbatch")
def main():
    """Study a workbook of farms that may change from engines to electric service.

    Screening only: the adopted electrical code, the cooperative's standards and a licensed
    engineer decide.
    """
    from batch.memory import spare_the_processor

    spare_the_processor()


@main.command()
@click.argument("workbook", type=WORKBOOK)
@click.option("--year", type=int, help="Program year whose rules are prefilled.  [default: newest]")
@click.option("--with", "shown", default="", metavar="SHEETS",
              help="Sheets that few programs need, with commas: program, feeders, lines, limits, "
                   "or all. Otherwise they are hidden.")
@click.option("--prices", type=WORKBOOK,
              help="Put the prices of another workbook beside those to be filled in.")
@click.option("--overwrite", is_flag=True, help="Replace an existing file.")
def blank(workbook, year, shown, prices, overwrite):
    """Write a blank input WORKBOOK with help, drop-downs, the year's rules and a price list."""
    from batch import rules
    from batch.writing.new_file import must_be_free, must_be_workbook
    from batch.writing.workbook.blank import asked_sheets, write_blank

    must_be_free(workbook, overwrite)
    must_be_workbook(workbook)
    year = rules.years()[-1] if year is None else year
    write_blank(workbook, year, asked_sheets(shown), prices)
    say(f"{workbook}: blank workbook for the rules of {year}. Next: fill it, then "
        f"farmbatch check {workbook}")


@main.command()
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
@click.option("--cooperative", default="", metavar="NAME", help="Printed on the form.")
@click.option("--overwrite", is_flag=True, help="Replace existing files.")
@click.option("--templates", "template_folder", type=WORKBOOK,
              help="A folder of page templates that take the place of those of the same names.")
def form(folder, cooperative, overwrite, template_folder):
    """Write a grower's application form into FOLDER: a page and a sheet."""
    from batch.writing.application_form import write_form

    page, sheet = write_form(folder, cooperative, overwrite, template_folder)
    say(f"{page}: one page to print. {sheet}: the same questions as a sheet. Next: give either "
        "to the growers.")


@main.command()
@click.argument("own_list", metavar="LIST", type=WORKBOOK)
@click.option("--into", "workbook", type=WORKBOOK, required=True,
              help="The workbook to fill: a new one, or a blank one of yours.")
@click.option("--mapping", type=WORKBOOK,
              help="A workbook of an earlier adopt, whose sheet 'Adopted headings' holds your "
                   "choices.  [default: that of --into]")
@click.option("--dates", type=click.Choice(["month-first", "day-first", "year-first"]),
              help="How dates in numbers are written.  [default: what the column shows]")
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON.")
def adopt(own_list, workbook, mapping, dates, as_json):
    """Take in your own LIST of farms: a workbook, a CSV file, or a folder of forms."""
    from batch.adopting.adopt import adopt as taken_in
    from batch.adopting.kept import Kept, read_kept
    from batch.writing.adopted_text import adopted_data, adopted_text
    from batch.writing.workbook.adopted import target_of, write_adopted

    target = target_of(workbook)
    kept = (read_kept(mapping, is_needed=True) if mapping
            else read_kept(workbook, is_needed=False) if target.book else Kept())
    adopted = taken_in(own_list, kept, dates or "")
    write_adopted(target, adopted)
    say(json.dumps(adopted_data(adopted, workbook), ensure_ascii=False) if as_json
        else adopted_text(adopted, workbook))


@main.command()
@click.argument("workbook", type=WORKBOOK)
@click.option("--strict", is_flag=True, help="Exit 1 where a row cannot be assessed.")
@click.option("--prices", "only_prices", is_flag=True,
              help="Print only the prices that the list lacks, with size and farms.")
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON.")
def check(workbook, strict, only_prices, as_json):
    """Check a WORKBOOK: every fault with its cell and remedy. Writes nothing."""
    from batch.study import check_workbook
    from batch.writing.terminal import check_summary, check_text, prices_text

    checked = check_workbook(workbook)
    if as_json:
        say(json.dumps(check_summary(checked), ensure_ascii=False))
    else:
        say(prices_text(checked) if only_prices else check_text(checked))
    if checked.stops:
        first, *more = checked.stops
        others = f" {len(more)} more under STOP." if more else ""
        raise StudyError(first.what, first.next_step + others)
    return NOT_ASSESSED if strict and checked.counts["not_assessed"] else DONE


def _farm_pages(_context, _option, value: str) -> int | None:
    """How many farm pages; None for a page of every farm."""
    if value in ("all", "none"):
        return None if value == "all" else 0
    if not value.isdecimal():
        raise click.BadParameter(f"'{value}' is no whole number, nor all or none.")
    return int(value)


@main.command()
@click.argument("workbook", type=WORKBOOK)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), default=Path("out"),
              show_default=True, help="Folder in which the run folder is made.")
@click.option("--overwrite", is_flag=True, help="Replace the run folder of the same study name.")
@click.option("--scenario", "scenario_names", multiple=True, metavar="NAME|FILE|all",
              help="A column of the Scenarios sheet, or a TOML file, to lay over the workbook; "
                   "repeat it for more. Each has a run folder of its own, all side by side in it.")
@click.option("--set", "settings", multiple=True, metavar="[ROW.]KEY=VALUE",
              help="A quick scenario, as program_budget_usd=500000 or IRR.block_1_usd_kwh=0.11; "
                   "x1.2 multiplies, FARM=out leaves a farm out. Repeat it for more changes.")
@click.option("--farm-pages", default="500", show_default=True, metavar="N|all|none",
              callback=_farm_pages, help="How many farms get a page, from the first row on.")
@click.option("--templates", "template_folder", type=WORKBOOK,
              help="A folder of page templates that take the place of those of the same names.")
@click.option("--strict", is_flag=True, help="Exit 1 where a row cannot be assessed.")
@click.option("--quiet", is_flag=True, help="Print nothing but faults.")
@click.option("--json", "as_json", is_flag=True, help="Print the run's summary as JSON.")
def run(workbook, out, overwrite, scenario_names, settings, farm_pages, template_folder, strict,
        quiet, as_json):
    """Study a WORKBOOK and write its run folder."""
    from batch.memory import give_back_freed_memory
    from batch.reading.scenario import read_scenarios, study_name
    from batch.reading.validate import validate
    from batch.study import STEPS, run_scenarios, run_study
    from batch.writing.pages.templates import read_templates
    from batch.writing.run_folder import STEPS as WRITING_STEPS
    from batch.writing.run_folder import refuse_existing, write_run
    from batch.writing.terminal import Progress, run_summary, run_text

    reading = "read and validate"
    templates = read_templates(template_folder)
    give_back_freed_memory()
    with Progress((reading,), is_shown=not (quiet or as_json)) as progress:
        progress.step(reading)
        inputs = validate(workbook)
        scenarios = read_scenarios(scenario_names, settings, inputs.workbook.scenarios)
        runs = max(len(scenarios), 1)
        progress.add((*STEPS * runs, *WRITING_STEPS * runs))
        for scenario in scenarios or [None]:
            refuse_existing(study_name(inputs.study["study_name"], scenario), out, overwrite,
                            scenario and scenario.name)
        studies = (run_scenarios(inputs, scenarios, progress.step) if scenarios
                   else [run_study(inputs, progress.step)])
        folders = [write_run(study, out, overwrite=overwrite, options={}, farm_pages=farm_pages,
                             templates=templates, on_step=progress.step) for study in studies]
    summaries = [run_summary(study, folder) for study, folder in zip(studies, folders)]
    if as_json:
        say(json.dumps(summaries[0] if runs == 1 else summaries, ensure_ascii=False))
    elif not quiet:
        for study, folder in zip(studies, folders):
            say(run_text(study, folder))
    not_assessed = any(study.counts["not_assessed"] for study in studies)
    return NOT_ASSESSED if strict and not_assessed else DONE


@main.command()
@click.option("--sheet", help="One sheet only, as in 'Candidates' or 'Results'.")
@click.option("--format", "form", type=click.Choice(["table", "csv", "json"]), default="table",
              show_default=True)
def columns(sheet, form):
    """Print the dictionary: every key with header, unit, bounds, default and help."""
    from batch.writing.dictionary import dictionary_text

    say(dictionary_text(sheet, form), nl=False)


@main.command()
@click.argument("slug", required=False)
@click.option("--format", "form", type=click.Choice(["table", "csv", "json", "markdown"]),
              default="table", show_default=True)
def findings(slug, form):
    """Explain findings, or one of them by its SLUG: meaning, cause, remedy and an example."""
    from batch.writing.catalogue import catalogue_text

    say(catalogue_text(slug, form), nl=False)


@main.command()
@click.argument("key")
@click.option("--run", "run_path", type=WORKBOOK, help="A run folder or a result workbook.")
@click.option("--candidate", "candidate_id", help="The farm whose numbers are worked.")
@click.option("--of", "row", nargs=2, metavar="FILE ROW",
              help="A row of another file, as: --of totals 'program: farms in the budget'")
@click.option("--trace", "is_traced", is_flag=True,
              help="Down to the cells, rules and prices. KEY may be a cell, as Ranking!H12.")
@click.option("--json", "as_json", is_flag=True, help="Print the trace as JSON.")
def explain(key, run_path, candidate_id, row, is_traced, as_json):
    """Tell how a result KEY is computed, and work it for one farm of a run."""
    from batch.audit.explain import explain_text, trace_data, trace_text

    if candidate_id is not None:
        row = ("results", candidate_id)
    if as_json:
        say(json.dumps(trace_data(key, run_path, row), ensure_ascii=False))
    elif is_traced or (row and row[0] != "results"):
        say(trace_text(key, run_path, row))
    else:
        say(explain_text(key, run_path, candidate_id))


@main.command()
@click.argument("result", type=WORKBOOK)
@click.option("--rules", "rules_year", type=int, help="Take the rules of another program year.")
@click.option("--prices", type=WORKBOOK, help="Take Unit costs and Rates of another workbook.")
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON.")
def rerun(result, rules_year, prices, as_json):
    """Compute a RESULT (run folder or result workbook) again and trace every difference.

    Exit 0: the same. Exit 1: a decision or value differs, or what was written has been changed.
    """
    from batch.audit.audit_text import rerun_data, rerun_text
    from batch.audit.rerun import rerun as run_again

    found = run_again(result, rules_year, prices)
    say(json.dumps(rerun_data(found), ensure_ascii=False) if as_json else rerun_text(found))
    return DONE if found.is_same else DIFFERENT


@main.command()
@click.argument("one", type=WORKBOOK)
@click.argument("other", type=WORKBOOK)
@click.option("--workbook", type=WORKBOOK, metavar="FILE.xlsx",
              help="Write all differences into a workbook.")
@click.option("--overwrite", is_flag=True, help="Replace an existing workbook.")
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON.")
def compare(one, other, workbook, overwrite, as_json):
    """Compare two runs or workbooks: cells, decisions, money, and totals by cause.

    Exit 0: the same. Exit 1: different.
    """
    from batch.audit.audit_text import compare_data
    from batch.audit.compare import compare as compared
    from batch.audit.compare_text import compare_text, tables
    from batch.writing.new_file import must_be_free, must_be_workbook
    from batch.writing.workbook.difference_book import write_differences

    if workbook is not None:
        must_be_workbook(workbook)
        must_be_free(workbook, overwrite)
    found = compared(one, other)
    if workbook is not None:
        write_differences(workbook, (one, other), tables(found))
    say(json.dumps(compare_data(found), ensure_ascii=False) if as_json
        else compare_text(found, workbook is not None))
    return DONE if found.is_same else DIFFERENT


@main.command()
@click.argument("result", type=WORKBOOK)
@click.option("--into", "workbook", type=WORKBOOK, required=True,
              help="The next season's workbook, made new.")
@click.option("--year", type=int, help="Its program year.  [default: the year after the run's]")
@click.option("--overwrite", is_flag=True, help="Replace an existing file.")
def carry(result, workbook, year, overwrite):
    """Take a finished RESULT into the next season's workbook; the run stays as it is."""
    from batch.audit.carrying import finished_study, must_have_rules
    from batch.program.next_season import next_season
    from batch.writing.new_file import must_be_free, must_be_workbook
    from batch.writing.terminal import carried_text
    from batch.writing.workbook.carried import write_carried

    must_be_free(workbook, overwrite)
    must_be_workbook(workbook)
    study = finished_study(result)
    year = study.inputs.rules.year + 1 if year is None else year
    must_have_rules(year)
    season = next_season(study, year)
    write_carried(workbook, season, year)
    say(carried_text(workbook, season, year))


@main.command()
@click.argument("result", type=WORKBOOK)
@click.option("--count", type=click.IntRange(min=1), required=True, help="How many farms to draw.")
@click.option("--seed", type=int, default=1, show_default=True,
              help="Another seed draws other farms; the same seed draws the same.")
def sample(result, count, seed):
    """Draw the farms of a RESULT that an auditor looks at, as CSV, stratified by dollars."""
    from batch.audit.evidence import stored_results
    from batch.audit.sampling import draw
    from batch.canonical import csv_text

    drawn = draw(stored_results(result), count=count, seed=seed)
    say(csv_text(drawn.rows), nl=False)
    say(drawn.statement, err=True)
