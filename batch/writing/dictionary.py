"""The dictionary as a table, CSV or JSON."""

import csv
import dataclasses
import io
import json

from batch.columns import EVERY_SHEET
from batch.columns.column import ByFarm
from batch.findings import StudyError

FIELDS = ("sheet", "key", "header", "group", "kind", "unit", "required", "default", "minimum",
          "maximum", "usual", "choices", "decimals", "stage", "needed", "help", "source", "worked")


def dictionary_rows(sheet_name: str | None = None) -> list[dict]:
    """One row per column of the dictionary. Errors: StudyError for a sheet that is not known."""
    known = {sheet.name.casefold(): sheet for sheet in EVERY_SHEET}
    if sheet_name is not None and sheet_name.casefold() not in known:
        raise StudyError(f"There is no sheet '{sheet_name}'.",
                         "Sheets: " + ", ".join(s.name for s in EVERY_SHEET) + ".")
    sheets = EVERY_SHEET if sheet_name is None else (known[sheet_name.casefold()],)
    return [{"sheet": sheet.name, "header": column.header,
             "needed": column.stage_words if sheet.has_stages else "",
             **{k: v for k, v in dataclasses.asdict(column).items() if k in FIELDS},
             **({"worked": column.worked.says} if isinstance(column.worked, ByFarm) else {})}
            for sheet in sheets for column in sheet.columns]


def dictionary_text(sheet_name: str | None, form: str) -> str:
    """The dictionary in one of three forms, ending in a line end."""
    rows = dictionary_rows(sheet_name)
    if form == "json":
        return json_of(rows)
    if form == "csv":
        return csv_of([{k: _cell(row[k]) for k in FIELDS} for row in rows], FIELDS)
    return "".join(_table_lines(rows))


def json_of(rows: list[dict]) -> str:
    """Rows as JSON, ending in a line end."""
    return json.dumps(rows, ensure_ascii=False, indent=1) + "\n"


def csv_of(rows: list[dict], fields) -> str:
    """Rows as CSV under their fields."""
    stream = io.StringIO()
    writer = csv.DictWriter(stream, fields, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return stream.getvalue()


def _cell(value):
    if value is None or value == () or value == "":
        return ""
    if isinstance(value, (tuple, list)):
        return "; ".join(map(str, value))
    return {True: "yes", False: "no"}.get(value, value) if isinstance(value, bool) else value


def _table_lines(rows):
    sheet = None
    for row in rows:
        if row["sheet"] != sheet:
            sheet = row["sheet"]
            yield f"\n{sheet}\n{'-' * len(sheet)}\n"
        bounds = ""
        if row["minimum"] is not None or row["maximum"] is not None:
            bounds = f" ({_cell(row['minimum'])} to {_cell(row['maximum'])})"
        must = " required" if row["required"] else ""
        yield f"{row['key']:34} {row['header']}{bounds}{must}\n{'':36}{row['help']}\n"
        if row["needed"]:
            yield f"{'':36}{row['needed']}\n"
