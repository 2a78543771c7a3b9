"""The result workbook: ranking first, then the engineer's own rows, then all that stands behind."""

from batch.columns import ALL_SHEETS, OPTION_COLUMNS, PROGRAM, RESULTS
from batch.columns.candidates import SINGLE_PHASE_DRIVE
from batch.columns.results import unused_keys
from batch.reading.cells import SCENARIO
from batch.rules import value_text
from batch.writing.cautions import CAUTIONS, conventions
from batch.writing.outputs import CHECK_COLUMNS, LEDGER_COLUMNS, listed_ledger
from batch.writing.record import RECORD_NAME, WHAT_IT_PROVES, record_text
from batch.writing.workbook.annotated import write_annotated, write_faithful
from batch.writing.workbook.audit_sheets import (
    write_approvals,
    write_cells_as_written,
    write_input_formulas,
    write_results,
)
from batch.writing.workbook.portfolio_sheets import write_feeders, write_portfolio
from batch.writing.workbook.ranking_sheet import write_ranking
from batch.writing.workbook.result_book import ResultBook
from batch.writing.workbook.sheet_tables import field_of, number_field, text_field, write_table

IDENTITY = (RESULTS.by_key["candidate_id"], RESULTS.by_key["farm_label"])
MITIGATION_KEYS = (
    "current_thd_pct", "current_tdd_pct", "tdd_limit_pct", "single_harmonic_share_pct",
    "voltage_thd_pct", "voltage_thd_tap_pct", "input_power_factor", "drive_motor_v",
    "service_current_a", "transformer_kva", "transformer_loading_pct", "cost_filter_usd",
    "project_cost_usd")
MONEY_GROUPS = ("member", "cooperative", "benefit tests", "environment", "uncertainty")


def write_result(study, path, content: dict, fingerprint: str):
    """Write result.xlsx. `fingerprint` is the run's, `content` what it stands for."""
    workbook = ResultBook()
    write_ranking(workbook, study, fingerprint)
    write_annotated(workbook, study, fingerprint)
    _options(workbook, study, fingerprint)
    _checks(workbook, study, fingerprint)
    _cost_shares(workbook, study, fingerprint)
    _economics(workbook, study, fingerprint)
    write_feeders(workbook, study, fingerprint)
    _findings(workbook, study, fingerprint)
    _program(workbook, study, fingerprint)
    _glossary(workbook, fingerprint)
    _record(workbook, content, fingerprint)
    if study.inputs.scenario is not None:
        _scenario(workbook, study.inputs.scenario, fingerprint)
    _mitigations(workbook, study, fingerprint)
    write_portfolio(workbook, study, fingerprint)
    for cells in study.inputs.cells.values():
        if cells.sheet != "Candidates":
            write_faithful(workbook, cells, fingerprint)
    write_input_formulas(workbook, study.inputs.cells, fingerprint)
    write_results(workbook, study, fingerprint)
    write_approvals(workbook, study, fingerprint)
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


def _checks(workbook, study, fingerprint):
    headers = {"candidate_id": "Candidate", "supply_option": "Supply option", "variant": "Variant",
               "check": "Check", "sense": "Must be", "unit": "Unit", "answer": "Answer",
               "source": "Source", "blank_inputs": "Blank cells", "remedy": "Remedy"}
    fields = [number_field(key, key.title(), 2) if key in ("value", "limit")
              else text_field(key, headers[key]) for key in CHECK_COLUMNS]
    write_table(workbook, "Checks", fingerprint, fields, study.checks,
                frozen_columns=4, statement=(
        "Every check of every option with value, limit and source. 'not assessed' is unknown, "
        "never a pass; the blank cells that cause it are named.",))


def _cost_shares(workbook, study, fingerprint):
    headers = {"candidate_id": "Candidate", "supply_option": "Supply option", "variant": "Variant",
               "item": "Item", "made_of": "Made of", "rule": "Rule", "source": "Source",
               "item_cost_usd": "Cost [USD]", "overhead_usd": "of which overhead [USD]",
               "allowance_usd": "Allowance used [USD]",
               "cooperative_usd": "Cooperative pays [USD]", "member_usd": "Member pays [USD]"}
    fields = [number_field(key, headers[key], 2) if key.endswith("_usd")
              else text_field(key, headers[key]) for key in LEDGER_COLUMNS]
    write_table(workbook, "Cost shares", fingerprint, fields, listed_ledger(study),
                frozen_columns=1, statement=(
        "Who pays what for the chosen option, item by item, before the incentive; cooperative and "
        "member add up to the cost to the cent.",))


def _economics(workbook, study, fingerprint):
    keys = ["verdict", "supply_option", "season_hours", "annual_energy_kwh",
            *(c.key for c in RESULTS.columns if c.group in MONEY_GROUPS)]
    fields = [field_of(c) for c in IDENTITY] + [field_of(RESULTS.by_key[key]) for key in keys]
    write_table(workbook, "Economics", fingerprint, fields, study.results, frozen_columns=2,
                statement=conventions(study.inputs.rules))


def _findings(workbook, study, fingerprint):
    fields = [text_field("severity", "Severity"), text_field("sheet", "Sheet"),
              number_field("row", "Row", 0), text_field("column", "Column"),
              text_field("candidate_id", "Candidate"), text_field("slug", "Finding"),
              text_field("value", "Value"), text_field("limit", "Limit"),
              text_field("message", "What is wrong and how to mend it")]
    write_table(workbook, "Findings", fingerprint, fields, study.findings.listed(),
                frozen_columns=2, statement=(
                    "Errors keep a row from being assessed, watches want a second look, notes only "
                    "tell. Of each, those that decide most stand first.",))


def _program(workbook, study, fingerprint):
    rules = study.inputs.rules
    fields = [text_field("key", "Key"), text_field("label", "Rule"), text_field("value", "Value"),
              text_field("unit", "Unit"), text_field("origin", "Set by"),
              text_field("source", "Source")]
    rows = [{"key": c.key, "label": c.label, "value": value_text(rules[c.key]), "unit": c.unit,
             "origin": rules.by_key[c.key].origin, "source": rules.source(c.key)}
            for c in PROGRAM.columns]
    write_table(workbook, "Program used", fingerprint, fields, rows, frozen_columns=2, statement=(
        f"Every rule in force: {rules.title}. 'Set by' tells the year's rules from values that "
        "this workbook's Program sheet, or a scenario, put in their place.",))


def _glossary(workbook, fingerprint):
    fields = [text_field("sheet", "Sheet"), text_field("key", "Key"),
              text_field("header", "Header"), text_field("help", "Meaning"),
              text_field("worked", "Formula"), text_field("source", "Source")]
    rows = [{"sheet": sheet.name, "key": c.key, "header": c.header, "help": c.help,
             "worked": "; ".join(c.worked_says),
             "source": c.source} for sheet in ALL_SHEETS for c in sheet.columns]
    write_table(workbook, "Glossary", fingerprint, fields, rows, frozen_columns=2,
                statement=("Every column of the input and of the results.",))


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
    fields = [text_field("key", "Key"), text_field("value", "Value"),
              text_field("source", "Source")]
    rows = [dict(zip(("key", "value", "source"), entry)) for entry in scenario.rows]
    write_table(workbook, SCENARIO.name, fingerprint, fields, rows, statement=(
        "What the scenario of this run put in place of the workbook's own: rules by their key, and "
        "factors on prices, rates and candidates.",))
