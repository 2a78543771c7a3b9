"""What of a study is listed in its outputs, and the CSV files in canonical text."""

import pandas as pd

from batch.audit.approvals import approvals_text
from batch.canonical import canonical_frame, cell_text, csv_text, number_text
from batch.columns import OPTION_COLUMNS, RESULTS

IDENTITY = RESULTS.columns[0]
RANKING_KEYS = ("rank", "candidate_id", "farm_label", "feeder_id", "verdict", "supply_option",
                "variant", "added_load_kw", "incentive_cost_usd", "incentive_usd_per_kw",
                "running_incentive_cost_usd", "in_budget", "member_payback_yr",
                "cooperative_payback_yr", "verdict_reason")
CHECK_COLUMNS = ("candidate_id", "supply_option", "variant", "check", "value", "sense", "limit",
                 "unit", "answer", "source", "blank_inputs", "remedy")
LEDGER_COLUMNS = ("candidate_id", "supply_option", "variant", "item", "item_cost_usd",
                  "overhead_usd", "allowance_usd", "cooperative_usd", "member_usd", "rule",
                  "source")


def csv_texts(study) -> dict[str, str]:
    """The CSV files of a run by name, in canonical text."""
    results = canonical_frame(study.results, RESULTS.columns)
    ranking = results[results["rank"] != ""].sort_values(
        "rank", key=lambda ranks: ranks.astype(float), kind="stable")
    unranked = results[results["rank"] == ""]
    ranking = pd.concat([ranking, unranked])[list(RANKING_KEYS)]
    option_columns = (IDENTITY, *OPTION_COLUMNS)
    options = canonical_frame(study.options, option_columns)
    options.insert(2, "is_chosen", ["yes" if v else "no" for v in study.options["is_chosen"]])
    approved = approvals_text(study)
    given = {"approvals.csv": csv_text(approved)} if len(approved) else {}
    return {"results.csv": csv_text(results), "ranking.csv": csv_text(ranking), **given,
            "options.csv": csv_text(options), "checks.csv": csv_text(checks_text(study)),
            "findings.csv": csv_text(study.findings.frame().map(cell_text)),
            "cost_shares.csv": csv_text(ledger_text(study))}


def listed_checks(study):
    """Checks of the best variant of every option, in the order of the options."""
    return _of_designs(study.checks, study.options.index)


def listed_ledger(study):
    """The ledger of the chosen option of every candidate: the items that cost something, and those
    whose cost is not known."""
    chosen = study.options.index[study.options["is_chosen"]]
    return _of_designs(study.ledger[study.ledger["item_cost_usd"] != 0], chosen)


def _of_designs(rows, designs):
    """The rows of some designs, in the order of the designs."""
    place = {design: k for k, design in enumerate(designs)}
    mine = rows[rows["design"].isin(designs)]
    return mine.sort_values("design", key=lambda s: s.map(place), kind="stable")


def checks_text(study):
    """The checks as canonical text, four decimals for values and limits."""
    return _as_text(listed_checks(study)[list(CHECK_COLUMNS)], {"value": 4, "limit": 4})


def ledger_text(study):
    """The ledger as canonical text, in cents."""
    return _as_text(listed_ledger(study)[list(LEDGER_COLUMNS)],
                    {key: 2 for key in LEDGER_COLUMNS if key.endswith("_usd")})


def _as_text(frame, decimals: dict[str, int]):
    """A frame as text: numbers by their decimals, all else as a CSV cell may hold it."""
    return pd.DataFrame({key: [number_text(v, decimals[key]) if key in decimals else cell_text(v)
                               for v in frame[key]] for key in frame.columns}, index=frame.index)
