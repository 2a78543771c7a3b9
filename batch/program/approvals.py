"""Approved incentives against what the rules of the year give, with the reason in words."""

import numpy as np
import pandas as pd

from batch.canonical import cell_text, rounded_text
from batch.columns.lists import cost_items
from batch.columns.program import PROGRAM, item_key
from batch.economics.incentive import FLAT, PER_HP, PER_KW, PERCENT, TIERS
from batch.program.season import by_rules, rules_year_of

CENT = 0.01
FIELDS = (("candidate_id", "Candidate"), ("approved_usd", "Approved [USD]"),
          ("computed_usd", "Computed [USD]"), ("difference_usd", "Approved less computed [USD]"),
          ("answer", "Answer"), ("message", "Reason"))
SAME, MORE, LESS, OPEN = "same", "approved more", "approved less", "not assessed"
DECIDED_BY = {"formula": "the formula's own result", "minimum": "raised to the least incentive",
              "maximum": "cut to the largest incentive",
              "no eligible cost": "nothing, since the member pays for no eligible item",
              "cap per kW": "cut to the cap per kW of added load",
              "cap by project cost": "cut to its cap in percent of the project's cost",
              "cap per farm": "cut to the cap per farm",
              "cooperative payback": "cut to what the cooperative's payback limit still allows",
              "member's cost": "cut to what the member would pay"}


def approvals(study) -> pd.DataFrame:
    """One row per candidate with an approved incentive, columns as in FIELDS, unrounded."""
    approved = study.inputs.candidates["approved_incentive_usd"]
    results = study.results[approved.notna()]
    approved = approved[approved.notna()]
    difference = approved - results["incentive_usd"]
    answer = np.select([difference.isna(), difference.abs() < CENT, difference > 0],
                       [OPEN, SAME, MORE], LESS)
    under, year_of = by_rules(study.inputs), rules_year_of(study.inputs)
    reasons = [_reason(row, answer_of_row, under[year_of[place]].rules)
               for answer_of_row, (place, row) in zip(answer, results.iterrows())]
    return pd.DataFrame({
        "candidate_id": results["candidate_id"], "approved_usd": approved,
        "computed_usd": results["incentive_usd"], "difference_usd": difference,
        "answer": answer, "message": reasons}, columns=[key for key, _ in FIELDS])


def approvals_text(study) -> pd.DataFrame:
    """The same in canonical text, for approvals.csv."""
    listed = approvals(study)
    for key in listed:
        listed[key] = [rounded_text(value, 2) if key.endswith("_usd") else cell_text(value)
                       for value in listed[key]]
    return listed


def _reason(row, answer: str, rules) -> str:
    if answer == OPEN:
        return f"The rules cannot be applied. {row['verdict_reason']}"
    if answer == SAME:
        return f"As the rules of {rules.year} give."
    if row["incentive_decided_by"] == "not qualified":
        return f"The rules of {rules.year} give nothing: {row['verdict_reason']}"
    decided = DECIDED_BY[row["incentive_decided_by"]]
    return (f"The rules of {rules.year} give {row['incentive_usd']:,.2f} USD: "
            f"{_formula(row, rules)}; {decided}. {PROGRAM.by_key['incentive_basis'].label}: "
            f"{rules.source('incentive_basis')}.")


def _formula(row, rules) -> str:
    """The incentive's formula with the farm's numbers."""
    basis, amount = rules["incentive_basis"], rules["incentive_amount"]
    if basis == TIERS:
        return f"tiers {rules['incentive_tiers']} on {row['added_load_kw']:,.2f} kW"
    if basis == PERCENT:
        items = cost_items(rules["incentive_eligible_items"])
        eligible = sum(row[f"member_{item_key(item)}_usd"] for item in items)
        return f"{amount:g} % of the member's {', '.join(items)} at {eligible:,.2f} USD"
    return {FLAT: f"{amount:,.2f} USD per farm",
            PER_HP: f"{amount:,.2f} USD/hp x {row['pump_motor_hp']:g} hp",
            PER_KW: f"{amount:,.2f} USD/kW x {row['added_load_kw']:,.2f} kW"}[basis]
