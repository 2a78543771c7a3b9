"""The results of the farms: the chosen option of each with its verdict."""

import pandas as pd

from batch.findings import Findings
from batch.program import choosing
from batch.supply import judging


def checks_of(options: pd.DataFrame, criteria: pd.DataFrame, rules) -> pd.DataFrame:
    """All checks of the options, in the options' order; their economic criteria stand last."""
    rows = pd.concat([judging.checks_table(options, rules), criteria])
    return judging.of_designs(rows, options.index).reset_index(drop=True)


def results_of(candidates: pd.DataFrame, chosen: pd.DataFrame, findings: Findings) -> pd.DataFrame:
    """A row for each candidate of the workbook, from the farms' chosen options with their verdicts;
    a faulty row has its reason and no values."""
    chosen = chosen.set_index("excel_row")
    results = chosen.reindex(candidates.index)
    for key in ("candidate_id", "farm_label", "feeder_id"):
        results[key] = candidates[key]
    is_faulty = ~results.index.isin(chosen.index)
    results["excel_row"] = results.index
    results["verdict"] = results["verdict"].where(~is_faulty, choosing.INCOMPLETE)
    results["verdict_reason"] = results["verdict_reason"].where(
        ~is_faulty, _error_reasons(findings, results.index))
    return results


def _error_reasons(findings: Findings, rows) -> pd.Series:
    """The messages of the errors of each faulty row."""
    texts: dict[int, list[str]] = {}
    for finding in findings.rows:
        if finding["sheet"] == "Candidates" and finding["severity"] == "error":
            texts.setdefault(finding["row"], []).append(finding["message"])
    return pd.Series([" ".join(["Not assessed.", *texts.get(row, [])]) for row in rows], rows)
