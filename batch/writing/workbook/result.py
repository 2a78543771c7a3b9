"""The result workbook: a few sheets to look at, contents first, and all that stands behind them."""

from openpyxl.utils import get_column_letter

from batch.columns import OPTION_COLUMNS, PROGRAM, RESULTS, SHEET_BY_NAME
from batch.columns.candidates import SINGLE_PHASE_DRIVE
from batch.columns.results import unused_keys
from batch.columns.scenarios import SCENARIO
from batch.columns.working import CHECKS, COST_SHARES
from batch.rules import load, value_text
from batch.writing.cautions import CAUTIONS, conventions
from batch.writing.outputs import listed_ledger
from batch.writing.record import RECORD_NAME, WHAT_IT_PROVES, record_text
from batch.writing.workbook.annotated import write_annotated, write_faithful
from batch.writing.workbook.audit_sheets import (
    write_approvals,
    write_cells_as_written,
    write_input_formulas,
    write_results,
)
from batch.writing.workbook.contents import (
    GLOSSARY,
    PROGRAM_NAME,
    RULES_CHANGED,
    SHOWN,
    WHAT_FAILS,
    WHO_PAYS,
    begin_contents,
    fill_contents,
)
from batch.writing.workbook.portfolio_sheets import write_feeders, write_portfolio
from batch.writing.workbook.ranking_sheet import KEYS as RANKING_KEYS
from batch.writing.workbook.ranking_sheet import write_ranking
from batch.writing.workbook.result_book import ResultBook
from batch.writing.workbook.sheet_tables import (
    TEXT_LOOK,
    Field,
    field_of,
    number_field,
    text_field,
    write_table,
)
from batch.writing.workbook.what_fails import write_what_fails

IDENTITY = (RESULTS.by_key["candidate_id"], RESULTS.by_key["farm_label"])
MITIGATION_KEYS = (
    "current_thd_pct", "current_tdd_pct", "tdd_limit_pct", "single_harmonic_share_pct",
    "voltage_thd_pct", "voltage_thd_tap_pct", "input_power_factor", "drive_motor_v",
    "service_current_a", "transformer_kva", "transformer_loading_pct", "cost_filter_usd",
    "project_cost_usd")
NOT_SHOWN = ("design", "excel_row", "is_advice")  # columns of checks and shares on no sheet
WHO_PAYS_WIDTHS = {
    "candidate_id": 12, "item": 15, "item_cost_usd": 13, "cooperative_usd": 13, "member_usd": 13,
    "overhead_usd": 12, "allowance_usd": 12, "supply_option": 17, "variant": 17, "made_of": 50,
    "rule": 40}
MONEY_GROUPS = ("member", "cooperative", "benefit tests", "environment", "uncertainty")


def write_result(study, path, content: dict, fingerprint: str):
    """Write result.xlsx. `fingerprint` is the run's, `content` what it stands for."""
    workbook = ResultBook(SHOWN)
    contents = begin_contents(workbook, fingerprint)
    write_ranking(workbook, study, fingerprint)
    write_annotated(workbook, study, fingerprint)
    write_what_fails(workbook, study, fingerprint)
    _who_pays(workbook, study, fingerprint)
    _findings(workbook, study, fingerprint)
    _rules_changed(workbook, study, fingerprint)
    _options(workbook, study, fingerprint)
    _economics(workbook, study, fingerprint)
    write_feeders(workbook, study, fingerprint)
    _program(workbook, study, fingerprint)
    _glossary(workbook, study, fingerprint)
    _record(workbook, content, fingerprint)
    if study.inputs.scenario is not None:
        _scenario(workbook, study.inputs.scenario, fingerprint)
    _mitigations(workbook, study, fingerprint)
    write_portfolio(workbook, study, fingerprint)
    for cells in study.inputs.cells.values():
        is_empty = not (cells.rows or SHEET_BY_NAME[cells.sheet].required)
        if cells.sheet != "Candidates" and not is_empty:
            write_faithful(workbook, cells, fingerprint)
    write_input_formulas(workbook, study.inputs.cells, fingerprint)
    write_results(workbook, study, fingerprint)
    write_approvals(workbook, study, fingerprint)
    fill_contents(contents, workbook, study)
    workbook.openpyxl.properties.title = str(study.inputs.study["study_name"])
    workbook.openpyxl.properties.creator = "farmbatch"
    workbook.save(path, study.inputs.study["study_date"],
                  write_last=lambda kept: write_cells_as_written(workbook, kept, fingerprint))


def _options(workbook, study, fingerprint):
    """The best variant of each option of each farm."""
    best = study.options.assign(status=[
        "chosen" if chosen else "best of its option" for chosen in study.options["is_chosen"]])
    fields = [field_of(IDENTITY[0]), text_field("status", "Status"),
              *(field_of(c) for c in OPTION_COLUMNS if c.key != "option_reason"),
              text_field("fails_names", "Checks that fail")]
    write_table(workbook, "Options", fingerprint, fields, best, frozen_columns=4, statement=(
        "The best variant of every supply option of every farm. An option wins with the least "
        "project cost among those that fail no check.",))


def _mitigations(workbook, study, fingerprint):
    """What each way of taming a drive's harmonics would have done."""
    drives = study.variants[study.variants["supply_option"] == SINGLE_PHASE_DRIVE]
    is_taken = drives.index.isin(study.options.index)
    rows = drives.assign(status=["taken" if taken else "not taken" for taken in is_taken])
    unused = unused_keys(study.inputs.rules)
    fields = [field_of(RESULTS.by_key["candidate_id"]), field_of(RESULTS.by_key["variant"]),
              text_field("status", "Status"),
              *(field_of(RESULTS.by_key[key]) for key in MITIGATION_KEYS if key not in unused),
              text_field("fails_names", "Checks that fail")]
    write_table(workbook, "Mitigations", fingerprint, fields, rows, frozen_columns=2, statement=(
        "What each way of taming a drive's harmonics would do to distortion, power factor, motor "
        "voltage and cost. The least costly that fails no check is taken.",))


def _who_pays(workbook, study, fingerprint):
    """The shares of every item; the clauses behind the splits are read on the screen."""
    columns = COST_SHARES.by_key
    fields = [number_field(key, columns[key].header, 2, width) if key.endswith("_usd")
              else text_field(key, columns[key].header, width)
              for key, width in WHO_PAYS_WIDTHS.items()]
    clause = Field("source", columns["source"].header, TEXT_LOOK, 60)
    sheet = write_table(workbook, WHO_PAYS, fingerprint, [*fields, clause], listed_ledger(study),
                        frozen_columns=2, statement=(
        "Who pays what for the chosen option, item by item, before the incentive; cooperative and "
        "member add up to the cost to the cent.",))
    if sheet is not None:
        sheet.worksheet.page_setup.fitToWidth = 1
        sheet.worksheet.print_area = f"A1:{get_column_letter(len(fields))}{sheet.row}"


def _economics(workbook, study, fingerprint):
    keys = ["verdict", "supply_option", "season_hours", "annual_energy_kwh",
            *(c.key for c in RESULTS.columns if c.group in MONEY_GROUPS)]
    fields = [field_of(c) for c in IDENTITY] + [field_of(RESULTS.by_key[key]) for key in keys]
    write_table(workbook, "Economics", fingerprint, fields, study.results, frozen_columns=2,
                statement=conventions(study.inputs.rules))


def _findings(workbook, study, fingerprint):
    fields = [text_field("severity", "Severity", 11), text_field("sheet", "Sheet", 13),
              number_field("row", "Row", 0, 7), text_field("column", "Column", 9),
              text_field("candidate_id", "Candidate", 13),
              text_field("message", "What is wrong and how to mend it", 110),
              text_field("value", "Value", 20), text_field("limit", "Limit", 18),
              text_field("slug", "Finding", 24)]
    write_table(workbook, "Findings", fingerprint, fields, study.findings.listed(),
                frozen_columns=2, statement=(
                    "Errors keep a row from being assessed, watches want a second look, notes only "
                    "tell. Of each, those that decide most stand first.",))


def changed_rules(rules) -> list[str]:
    """Keys of the rules whose value differs from the year's file."""
    year = load(rules.year)
    return [c.key for c in PROGRAM.columns if rules[c.key] != year[c.key]]


def _shown(value) -> str:
    """A rule's value to be read: numbers with thousands, and no more digits than they have."""
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
    return f"{value:,.10g}" if is_number else value_text(value)


def _rules_changed(workbook, study, fingerprint):
    """The rules that are not the year's; no sheet where all are."""
    rules, year = study.inputs.rules, load(study.inputs.rules.year)
    fields = [text_field("label", "Rule"), text_field("limit", "The year says"),
              text_field("value", "Here"), text_field("unit", "Unit"),
              text_field("origin", "Set by"), text_field("source", "Source"),
              text_field("key", "Key")]
    rows = [{"key": c.key, "label": c.label, "limit": _shown(year[c.key]),
             "value": _shown(rules[c.key]), "unit": c.unit,
             "origin": rules.by_key[c.key].origin, "source": rules.source(c.key)}
            for c in map(PROGRAM.by_key.get, changed_rules(rules))]
    write_table(workbook, RULES_CHANGED, fingerprint, fields, rows, statement=(
        f"Rules that differ from {rules.title}, put in their place by the Program sheet or a "
        "scenario. All others are the year's.",))


def _program(workbook, study, fingerprint):
    rules = study.inputs.rules
    fields = [text_field("key", "Key"), text_field("label", "Rule"), text_field("value", "Value"),
              text_field("unit", "Unit"), text_field("origin", "Set by"),
              text_field("source", "Source")]
    rows = [{"key": c.key, "label": c.label, "value": value_text(rules[c.key]), "unit": c.unit,
             "origin": rules.by_key[c.key].origin, "source": rules.source(c.key)}
            for c in PROGRAM.columns]
    write_table(workbook, PROGRAM_NAME, fingerprint, fields, rows, frozen_columns=2, statement=(
        f"Every rule in force: {rules.title}. 'Set by' tells the year's rules from values that "
        "this workbook's Program sheet, or a scenario, put in their place.",))


def _glossary(workbook, study, fingerprint):
    """What stands on the shown sheets, and no more: `farmbatch columns` prints the rest."""
    typed = [header.column for header in study.inputs.cells["Candidates"].headers if header.column]
    shown = {"Ranking": [RESULTS.by_key[key] for key in RANKING_KEYS], "Candidates": typed,
             WHAT_FAILS: CHECKS.columns, WHO_PAYS: COST_SHARES.columns,
             RULES_CHANGED: [PROGRAM.by_key[key] for key in changed_rules(study.inputs.rules)]}
    written = {sheet.name for sheet in workbook.sheets}
    fields = [text_field("sheet", "Sheet"), text_field("key", "Key"),
              text_field("header", "Header"), text_field("help", "Meaning"),
              text_field("worked", "Formula"), text_field("source", "Source")]
    rows = [{"sheet": name, "key": c.key, "header": c.header, "help": c.help,
             "worked": "; ".join(c.worked_says), "source": c.source}
            for name, columns in shown.items() if name in written
            for c in columns if c.key not in NOT_SHOWN]
    write_table(workbook, GLOSSARY, fingerprint, fields, rows, frozen_columns=2, statement=(
        "The columns of the sheets that are shown. farmbatch columns prints all others.",))


def _record(workbook, content, fingerprint):
    fields = [text_field("key", "Key"), text_field("message", "Value")]
    rows = [{"key": "fingerprint", "message": fingerprint}]
    for key, value in content.items():
        parts = value if isinstance(value, dict) and value else {"": value}
        rows += [{"key": f"{key}.{part}".rstrip("."), "message": record_text(part_value)}
                 for part, part_value in parts.items()]
    rows += [{"key": "caution", "message": text} for text in CAUTIONS]
    write_table(workbook, RECORD_NAME, fingerprint, fields, rows, statement=(WHAT_IT_PROVES,))


def _scenario(workbook, scenario, fingerprint):
    """What the run laid over the workbook; read back when this result workbook is studied."""
    keys = ("sheet", "row", "key", "value", "source")
    fields = [text_field(key, SCENARIO.by_key[key].label) for key in keys]
    rows = [dict(zip(keys, entry)) for entry in scenario.rows]
    write_table(workbook, SCENARIO.name, fingerprint, fields, rows, statement=(
        "What the scenario of this run put in place of the workbook's own values; x1.2 multiplies "
        "them, out leaves a farm out.",))
