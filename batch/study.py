"""The study on one page: read, validate, size, judge, share, value, choose, rank."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from batch.columns.results import RESULTS
from batch.findings import Findings
from batch.portfolio.ranking import rank
from batch.reading.validate import Inputs, validate
from batch.steps import (
    breakeven,
    choosing,
    judging,
    plausibility,
    power_quality,
    present_plant,
    prices,
    rates,
    sharing,
    supply,
    valuation,
    water,
    wiring,
)
from batch.steps.feeders import feeder_loads
from batch.steps.remarks import remark_on_results
from batch.steps.totals import program_totals

STEPS = ("pump load", "size and judge", "cost, shares and yearly money", "choose and rank")
SHARED_LINE_TURNS = 8


@dataclass
class Study:
    """Everything that the outputs are written from. Tables keep unrounded values.

    `results` has a row per candidate in the workbook's order (index = Excel row); `options` a row
    per assessed candidate and supply option; `variants` all designs behind them; `checks` and
    `ledger` are long. Faulty rows are in `results` with blank values and their reason.
    """

    inputs: Inputs
    results: pd.DataFrame
    options: pd.DataFrame
    variants: pd.DataFrame
    checks: pd.DataFrame
    ledger: pd.DataFrame
    feeders: pd.DataFrame
    totals: pd.DataFrame
    findings: Findings

    @property
    def counts(self) -> dict[str, int]:
        """read = assessed + not assessed."""
        not_assessed = int((self.results["verdict"] == choosing.INCOMPLETE).sum())
        return {"read": len(self.results), "assessed": len(self.results) - not_assessed,
                "not_assessed": not_assessed}


def run_study(inputs: Inputs, on_step=lambda name: None) -> Study:
    """Study a validated workbook. `on_step` hears the name of each step as it begins."""
    rules, findings = inputs.rules, inputs.findings

    on_step(STEPS[0])
    good, load = assessable(inputs)

    on_step(STEPS[1])
    designs = size_designs(good, load, inputs)
    checks = judging.checks_table(designs, rules)
    answers = judging.answers_by_design(checks, designs)

    on_step(STEPS[2])
    designs = rates.bills_and_supply(designs.join(answers), rules, inputs.rates)
    designs, ledger, options, criteria = settle_shared_lines(designs, inputs)

    on_step(STEPS[3])
    options = breakeven.break_evens(options, rules, inputs.rates)
    options["option_reason"] = choosing.option_reasons(options)
    options["mitigation_reason"] = choosing.mitigation_reasons(options, designs)
    options["compared_with"] = present_plant.compared_with(options)
    checks = pd.concat([checks, criteria], ignore_index=True)
    results = results_table(inputs, load, options, checks)
    feeders = feeder_loads(results, inputs.feeders)
    totals = program_totals(results, rules)
    study = Study(inputs, results, options, designs, checks, ledger, feeders, totals, findings)
    remark_on_results(study)
    return study


def check_workbook(path: str | Path) -> tuple[Findings, dict[str, int]]:
    """All findings about a workbook's cells, and the counts: read = assessed + not assessed."""
    inputs = validate(path)
    good, _ = assessable(inputs)
    return inputs.findings, {"read": len(inputs.candidates), "assessed": len(good),
                             "not_assessed": len(inputs.candidates) - len(good)}


def assessable(inputs: Inputs) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The candidates without an error, and what the water asks of each: pump load and present
    plant. Cells that do not fit each other add findings, and errors take their row out."""
    good = inputs.candidates[~inputs.has_error]
    load = water.pump_load(good, inputs.rules)
    plant = present_plant.present_plant(good, load, inputs.rules)
    plausibility.cross_check(good, load, plant, inputs.rules, inputs.cells["Candidates"],
                             inputs.findings)
    is_good = ~good.index.isin(inputs.findings.rows_with_errors("Candidates"))
    return good[is_good], load.join(plant)[is_good]


def size_designs(candidates, load, inputs: Inputs) -> pd.DataFrame:
    """Every variant of every option of every candidate, sized and with its voltages, faults,
    starting, distortion and leads."""
    rules = inputs.rules
    designs = supply.candidates_by_variant(candidates, load, inputs.shared_lines)
    designs = supply.supply_demand(designs, rules, inputs.unit_costs)
    designs, chain, spectrum = wiring.wire_up(designs, rules)
    designs = wiring.chain_results(designs, chain, rules)
    designs = power_quality.starting_results(designs, chain, rules)
    designs = power_quality.distortion_results(designs, chain, spectrum, rules)
    designs = power_quality.lead_results(designs, spectrum, rules)
    return power_quality.end_tower_results(designs, rules)


def settle_shared_lines(designs, inputs: Inputs):
    """Cost, shares, yearly money and choice of every option.

    What a farm pays for a shared line depends on who else builds on it, and that on what each
    pays: first all members are counted, then those that chose the same phases and qualify, until
    nobody's choice moves. Where it keeps moving a finding says so.
    """
    rules, users = inputs.rules, supply.all_members(designs)
    for _ in range(SHARED_LINE_TURNS):
        priced = prices.item_costs(designs, inputs.unit_costs, users)
        priced, ledger = sharing.share_costs(priced, rules, inputs.unit_costs)
        options, criteria = value_options(priced, rules)
        options["is_chosen"] = choosing.choose_option(options)
        new_users = choosing.trunk_users(options, designs)
        if np.array_equal(new_users, users):
            return priced, ledger, options, criteria
        users = new_users
    inputs.findings.add(
        "shared-line-unsettled", "The farms on a shared line change their choice with each "
        "other's: the shares shown may not add up to the line.", sheet="Shared lines")
    return priced, ledger, options, criteria


def value_options(designs, rules):
    """The best variant of each option, with incentive and yearly money, and its criteria checks.

    The incentive is granted to an option that fails no technical check, then taken back where the
    cooperative would not be paid back in time: the money shown is that of the final verdict.
    """
    options = choosing.best_variants(designs)
    meets_limits = (options["is_priced"] & (options["fails_count"] == 0)).to_numpy(float)
    options = sharing.grant_incentive(options, rules, meets_limits)
    options = valuation.value_designs(options, rules)
    criteria = choosing.criteria_checks(options, rules)
    failed = criteria.loc[criteria["answer"] == "fails", "design"].unique()
    meets_all = meets_limits * ~options.index.isin(failed)
    options = sharing.grant_incentive(options, rules, meets_all)
    options = valuation.value_designs(options, rules)
    counted = judging.answers_by_design(criteria, options)
    for column in counted.filter(like="_count"):
        options[column] = options[column] + counted[column]
    both = (options["fails_names"] + ", " + counted["fails_names"]).str.strip(", ")
    return options.assign(fails_names=both), criteria


def results_table(inputs: Inputs, load, options, checks) -> pd.DataFrame:
    """One row per candidate of the workbook, chosen option, verdict and rank included."""
    chosen = options[options["is_chosen"]]
    verdict = choosing.verdicts(chosen, checks)
    chosen = chosen.join(verdict).set_index("excel_row")
    results = chosen.reindex(inputs.candidates.index)
    for key in ("candidate_id", "farm_label", "feeder_id"):
        results[key] = inputs.candidates[key]
    for key in load:
        results[key] = load[key]
    is_faulty = ~results.index.isin(chosen.index)
    results["excel_row"] = results.index
    results["verdict"] = results["verdict"].where(~is_faulty, choosing.INCOMPLETE)
    results["verdict_reason"] = results["verdict_reason"].where(
        ~is_faulty, _error_reasons(inputs.findings, results.index))
    rankable = results["verdict"].isin([choosing.QUALIFIES, choosing.CONDITIONS])
    ranked = rank(results, is_rankable=rankable, budget_usd=inputs.study["program_budget_usd"])
    results = results.drop(columns=[c for c in ranked if c in results]).join(ranked)
    for key in RESULTS.by_key:
        if key not in results:
            raise KeyError(f"the study does not compute '{key}'")
    return results


def _error_reasons(findings: Findings, rows) -> pd.Series:
    """The messages of the errors of each faulty row."""
    texts: dict[int, list[str]] = {}
    for finding in findings.rows:
        if finding["sheet"] == "Candidates" and finding["severity"] == "error":
            texts.setdefault(finding["row"], []).append(finding["message"])
    return pd.Series([" ".join(["Not assessed.", *texts.get(row, [])]) for row in rows], rows)
