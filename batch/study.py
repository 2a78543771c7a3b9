"""The study on one page: read, validate, size, judge, share, value, choose, rank."""

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from batch.columns.results import RESULTS
from batch.farm import plausibility, present_plant, water
from batch.findings import Findings
from batch.money import breakeven, prices, rates, sharing, valuation
from batch.portfolio import shared_lines, side_by_side
from batch.portfolio.ranking import rank
from batch.program import budgeting, choosing, futures, lines
from batch.program.feeders import feeder_loads
from batch.program.options import value_options
from batch.program.remarks import remark_on_gaps, remark_on_results
from batch.program.rule_costs import rule_costs
from batch.program.totals import program_totals
from batch.reading.scenario import Scenario, apply
from batch.reading.validate import Inputs, validate
from batch.supply import designs as supply
from batch.supply import judging, power_quality, wiring

# A column is copied when it is first written to, as pandas 3 does: both releases run alike.
if pd.__version__.startswith("2."):
    pd.options.mode.copy_on_write = True

STEPS = ("pump load", "size, judge, price and value", "choose and rank",
         "budget, feeders, lines and futures")
SHARED_LINE_TURNS = 8
FARMS_AT_ONCE = 2_000


@dataclass
class Portfolio:
    """What no farm alone can tell; any table may be empty. Their columns stand in
    `batch/columns/portfolio.py`. `draws` is how many futures were drawn."""

    sets: pd.DataFrame
    limits: pd.DataFrame
    shared: pd.DataFrame
    crossover: pd.DataFrame
    tornado: pd.DataFrame
    years: pd.DataFrame
    rule_costs: pd.DataFrame
    draws: int


@dataclass
class Beside:
    """Scenarios beside the workbook as it is filled in."""

    totals: pd.DataFrame
    verdicts: pd.DataFrame


@dataclass
class Study:
    """Everything that the outputs are written from. Tables keep unrounded values.

    `results` has a row per candidate in the workbook's order (index = Excel row); `options` a row
    per assessed candidate and supply option; `variants` all designs behind them; `checks` and
    `ledger` are long, of the options. Faulty rows are in `results` with blank values and their
    reason.
    """

    inputs: Inputs
    results: pd.DataFrame
    options: pd.DataFrame
    variants: pd.DataFrame
    checks: pd.DataFrame
    ledger: pd.DataFrame
    feeders: pd.DataFrame
    totals: pd.DataFrame
    portfolio: Portfolio
    findings: Findings
    beside: Beside | None = None

    @property
    def counts(self) -> dict[str, int]:
        """read = assessed + not assessed."""
        return counts_of(self.results)


def counts_of(results: pd.DataFrame) -> dict[str, int]:
    """read = assessed + not assessed."""
    not_assessed = int((results["verdict"] == choosing.INCOMPLETE).sum())
    return {"read": len(results), "assessed": len(results) - not_assessed,
            "not_assessed": not_assessed}


def run_study(inputs: Inputs, on_step=lambda name: None) -> Study:
    """Study a validated workbook. `on_step` hears the name of each step as it begins."""
    rules, findings = inputs.rules, inputs.findings

    on_step(STEPS[0])
    good, load = assessable(inputs)

    on_step(STEPS[1])
    designs, ledger, options, criteria, options_alone = study_designs(good, load, inputs)

    on_step(STEPS[2])
    options = valuation.rates_of_return(options, rules)
    options = breakeven.break_evens(options, rules, inputs.rates, inputs.unit_costs)
    options["mitigation_reason"] = choosing.mitigation_reasons(options, designs, rules)
    options, checks, results = reasons_checks_and_results(inputs, load, options, criteria)

    on_step(STEPS[3])
    costs = rule_costs(designs, options, checks, inputs)
    results, feeders, portfolio = weigh_portfolio(results, options, options_alone, costs, inputs)
    totals = program_totals(results, rules)
    study = Study(inputs, results, options, designs, checks, ledger, feeders, totals, portfolio,
                  findings)
    remark_on_results(study)
    must_have_all_results(results)
    return study


def run_scenarios(inputs: Inputs, scenarios: list[Scenario],
                  on_step=lambda name: None) -> list[Study]:
    """A study of each scenario, all with the same side-by-side tables; the workbook as filled in is
    studied too, to compare with."""
    laid = [apply(inputs, scenario) for scenario in scenarios]
    base = run_study(inputs)
    studies = [run_study(one, on_step) for one in laid]
    named = {side_by_side.AS_FILLED: base} | {
        scenario.name: study for scenario, study in zip(scenarios, studies)}
    beside = Beside(
        side_by_side.totals_side_by_side({name: s.totals for name, s in named.items()}),
        side_by_side.changed_verdicts({name: s.results for name, s in named.items()}))
    for study in studies:
        study.beside = beside
    return studies


def check_workbook(path: str | Path) -> tuple[Findings, dict[str, int]]:
    """All findings about a workbook's cells and the prices that it lacks, and the counts of its
    run: read = assessed + not assessed. Farms are sized, priced and judged; nothing is weighed
    between them."""
    inputs = validate(path)
    good, load = assessable(inputs)
    _, _, options, criteria, _ = study_designs(good, load, inputs)
    options, _, results = reasons_checks_and_results(inputs, load, options, criteria)
    remark_on_gaps(results, options, inputs)
    return inputs.findings, counts_of(results)


def reasons_checks_and_results(inputs: Inputs, load, options, criteria):
    """The options with why they were chosen, all their checks, and the results of the farms."""
    options = options.assign(option_reason=choosing.option_reasons(options, inputs.rules),
                             compared_with=present_plant.compared_with(options)).copy()
    checks = judging.of_designs(
        pd.concat([judging.checks_table(options, inputs.rules), criteria]), options.index
    ).reset_index(drop=True)
    return options, checks, results_table(inputs, load, options, checks)


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


def study_designs(candidates, load, inputs: Inputs):
    """Every variant of every option of every candidate, sized, judged and priced; the ledger; the
    best of each option with its yearly money, and its economic criteria; and the options of the
    farms of shared lines, priced as if nobody else built.

    Farms are worked through some at a time, since the tables of all designs are large; those of
    shared lines settle together at the end.
    """
    parts, on_lines, alone = [], [], []
    for start in range(0, max(len(candidates), 1), FARMS_AT_ONCE):
        designs = sized_and_judged(candidates[start:start + FARMS_AT_ONCE], load, inputs)
        on_line = designs["shared_line_id"].notna()
        priced = price_alone(designs, inputs)
        parts.append(_without_lines(priced))
        on_lines.append(designs[on_line])
        alone.append(priced[2][priced[2]["shared_line_id"].notna()])
    on_lines = pd.concat(on_lines)
    if len(on_lines):
        parts.append(settle_shared_lines(on_lines, inputs))
    return *_put_together(parts), pd.concat(alone)


def _without_lines(priced):
    """Designs, ledger, options and criteria of the farms that share no line."""
    designs, ledger, options, criteria = priced
    own = designs.index[designs["shared_line_id"].isna()]
    return (designs.loc[own], ledger[ledger["design"].isin(own)],
            options[options.index.isin(own)], criteria[criteria["design"].isin(own)])


def sized_and_judged(candidates, load, inputs: Inputs) -> pd.DataFrame:
    """Every design of some candidates with its checks counted, bills and wholesale cost."""
    designs = size_designs(candidates, load.loc[candidates.index], inputs)
    answers = judging.answers_of(designs, inputs.rules)
    return rates.bills_and_supply(designs.join(answers), inputs.rules, inputs.rates)


def size_designs(candidates, load, inputs: Inputs) -> pd.DataFrame:
    """Every variant of every option of every candidate, sized and with its voltages, faults,
    starting, distortion and leads."""
    rules = inputs.rules
    designs = supply.candidates_by_variant(candidates, load, inputs.shared_lines)
    designs = supply.supply_demand(designs, rules, inputs.unit_costs)
    designs = power_quality.size_motor_leads(designs, rules)
    designs, chain, spectrum = wiring.wire_up(designs, rules, inputs.unit_costs)
    designs = wiring.chain_results(designs, chain, rules)
    designs = power_quality.starting_results(designs, chain, rules)
    designs = power_quality.distortion_results(designs, chain, spectrum, rules)
    designs = power_quality.lead_results(designs, rules)
    return power_quality.end_tower_results(designs, rules)


def settle_shared_lines(designs, inputs: Inputs):
    """Cost, shares, yearly money and choice of every option of the farms of shared lines.

    What a farm pays for a shared line depends on who else builds on it, and that on what each
    pays: first all members that may be funded are counted, then those of them that chose the same
    phases and qualify, until nobody's choice moves. Where it keeps moving a finding says so.
    """
    def trunk_parts(payers):
        return prices.trunk_parts(designs, payers, inputs.rules, inputs.unit_costs)

    trunk = trunk_parts(shared_lines.all_payers(designs[~budgeting.is_closed_out(designs)]))
    for _ in range(SHARED_LINE_TURNS):
        settled = price_and_choose(designs, trunk, inputs)
        next_trunk = trunk_parts(choosing.line_payers(settled[2]))
        if next_trunk.equals(trunk):
            return settled
        trunk = next_trunk
    inputs.findings.add(
        "shared-line-unsettled", "The farms on a shared line change their choice with each "
        "other's: the shares shown may not add up to the line.", sheet="Shared lines")
    return settled


def _put_together(parts):
    """Designs, ledger, options and criteria of all parts, each in its usual order."""
    designs, ledger, options, criteria = map(list, zip(*parts))
    parts.clear()  # no more of the large tables at once than needed
    ledger, options, criteria = pd.concat(ledger), pd.concat(options), pd.concat(criteria)
    whole = pd.concat(designs)
    designs.clear()
    return (whole.sort_index(), ledger.reset_index(drop=True),
            options.sort_values(["excel_row", "option_place"], kind="stable"),
            criteria.reset_index(drop=True))


def price_and_choose(designs, trunk, inputs: Inputs):
    """Designs with cost and shares, the ledger, the valued options with each farm's choice, and
    the economic criteria, given each design's part of a shared line."""
    priced = prices.item_costs(designs, inputs.unit_costs, trunk)
    priced, ledger = sharing.share_costs(priced, inputs.rules, inputs.unit_costs)
    options, criteria = value_options(priced, inputs.rules, inputs.unit_costs)
    options["is_chosen"] = choosing.choose_option(options, inputs.rules)
    return priced, ledger[ledger["design"].isin(options.index)], options, criteria


def price_alone(designs, inputs: Inputs):
    """The same where no other farm builds: lines of their own, or a shared line for one."""
    trunk = prices.trunk_parts(designs, designs.iloc[:0], inputs.rules, inputs.unit_costs)
    return price_and_choose(designs, trunk, inputs)


def results_table(inputs: Inputs, load, options, checks) -> pd.DataFrame:
    """One row per candidate of the workbook, chosen option, verdict and rank included."""
    chosen = options[options["is_chosen"]]
    verdict = choosing.verdicts(chosen, checks, inputs.rules)
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
    rankable = (results["verdict"].isin([choosing.QUALIFIES, choosing.CONDITIONS])
                & ~budgeting.is_closed_out(inputs.candidates))
    ranked = rank(results, is_rankable=rankable, budget_usd=inputs.study["program_budget_usd"])
    return results.drop(columns=[c for c in ranked if c in results]).join(ranked)


def weigh_portfolio(results, options, options_alone, costs, inputs: Inputs):
    """Budget, feeders, shared lines and futures: the results with what these say of each farm, the
    feeders and the portfolio."""
    given = budgeting.give_out(results, inputs)
    results = results.assign(
        best_set_year=given.best_year,
        in_best_set=given.best_year.notna().astype(float).where(given.is_known))
    is_funded = budgeting.is_funded(results, inputs.rules)
    feeders, phase = feeder_loads(results, is_funded, inputs.feeders, inputs.rules)
    ranked = results[results["rank"].notna()]
    ahead = futures.look_ahead(ranked, is_funded[ranked.index], inputs)
    results = results.assign(
        assigned_phase=phase,
        qualifies_alone=lines.qualifies_alone(options_alone).reindex(results.index)).join(
            ahead.by_farm)
    shared = lines.shared_costs(options[options["is_chosen"]], options_alone, inputs.rules)
    crossover = lines.crossover(options, inputs.rules)
    return results, feeders, Portfolio(given.sets, given.limits, shared, crossover, ahead.tornado,
                                       ahead.years, costs, ahead.draws)


def must_have_all_results(results):
    """A result of the dictionary that no step computes is a fault of the program."""
    for key in RESULTS.by_key:
        if key not in results:
            raise KeyError(f"the study does not compute '{key}'")


def _error_reasons(findings: Findings, rows) -> pd.Series:
    """The messages of the errors of each faulty row."""
    texts: dict[int, list[str]] = {}
    for finding in findings.rows:
        if finding["sheet"] == "Candidates" and finding["severity"] == "error":
            texts.setdefault(finding["row"], []).append(finding["message"])
    return pd.Series([" ".join(["Not assessed.", *texts.get(row, [])]) for row in rows], rows)
