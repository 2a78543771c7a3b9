"""The study on one page: the flow as a table of stages, and the loop that runs it."""

from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from batch.columns.results import RESULTS
from batch.columns.scenarios import SCENARIOS
from batch.columns.unit_costs import UNIT_COSTS
from batch.columns.working import TYPED_NAMES
from batch.farm import plausibility, present_plant, water
from batch.findings import Findings
from batch.money import breakeven, prices, rates, sharing, valuation
from batch.portfolio import shared_lines, side_by_side
from batch.program import (
    budgeting,
    choosing,
    farm_results,
    granting,
    knowledge,
    options,
    weighing,
)
from batch.program.remarks import missing_prices, remark_on_gaps, remark_on_results
from batch.program.rule_costs import rule_costs
from batch.program.totals import program_totals
from batch.program.weighing import Portfolio
from batch.reading.scenario import Scenario, apply, read_scenarios, scenario_names
from batch.reading.validate import Inputs, examine
from batch.step import Stage, run
from batch.study_error import StudyError
from batch.supply import chain, judging, power_quality, wiring
from batch.supply import designs as supply

# A column is copied when it is first written to, as pandas 3 does: both releases run alike.
if pd.__version__.startswith("2."):
    pd.options.mode.copy_on_write = True

STEPS = ("pump load", "size, judge, price and value", "choose and rank",
         "budget, feeders, lines and futures")
SHARED_LINE_TURNS = 8
FARMS_AT_ONCE = 2_000
SETTLE = "again for farms of shared lines, until no choice moves"

WATER = Stage("what the water asks", "farm", (water.pump_load, present_plant.present_plant))
DESIGN = Stage("size and judge", "design", (
    supply.candidates_by_variant, supply.supply_demand, power_quality.size_motor_leads,
    wiring.size_service, chain.chain_results, power_quality.starting_results,
    power_quality.distortion_results, power_quality.lead_results,
    power_quality.end_tower_results, judging.answers_of, rates.bills_and_supply))
LINE = Stage("part of a shared line", "design", (prices.trunk_parts,), SETTLE)
PRICE = Stage("price and share", "design", (prices.item_costs, sharing.share_costs), SETTLE)
CHOOSE = Stage("value and choose", "option", (
    choosing.best_variants, granting.grant_incentive, valuation.value_designs,
    options.withhold_incentive, options.count_criteria, choosing.choose_option), SETTLE)
CHANGE = Stage("what would change it", "option", (
    valuation.rates_of_return, breakeven.break_evens, choosing.mitigation_reasons))
REASON = Stage("why it was chosen", "option", (choosing.option_reasons,))
JUDGE = Stage("verdict and knowledge", "farm", (choosing.verdicts, knowledge.knowledge_of))
RANK = Stage("rank", "farm", (farm_results.rank_farms,))
WEIGH = Stage("weigh the farms together", "farm", (
    weighing.find_best_set, weighing.load_feeders, weighing.draw_futures,
    weighing.qualify_alone))
FLOW = (WATER, DESIGN, LINE, PRICE, CHOOSE, CHANGE, REASON, JUDGE, RANK, WEIGH)


@dataclass
class ScenarioComparison:
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
    cost_lines: pd.DataFrame
    feeders: pd.DataFrame
    totals: pd.DataFrame
    portfolio: Portfolio
    findings: Findings
    comparison: ScenarioComparison | None = None

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
    on_step(STEPS[0])
    farms = assessable(inputs)

    on_step(STEPS[1])
    designs, ledger, options, criteria, options_alone = study_designs(farms, inputs)

    on_step(STEPS[2])
    at_hand = at_hand_of(inputs) | {"designs": designs, "options_alone": options_alone}
    options = run(CHANGE.steps, options, at_hand)
    options, checks, results = conclude(options, criteria, inputs)

    on_step(STEPS[3])
    costs = rule_costs(designs, options, checks, inputs, CHOOSE.steps)
    results = run(WEIGH.steps, results, at_hand)
    portfolio = weighing.portfolio_of(options, costs, at_hand)
    lines = prices.cost_lines(options[options["is_chosen"]], inputs.price_list)
    ledger = prices.with_lines_in_words(ledger, lines)
    study = Study(inputs, results, options, designs, checks, ledger, lines, at_hand["feeders"],
                  program_totals(results, inputs.rules), portfolio, inputs.findings)
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
    beside = ScenarioComparison(
        side_by_side.totals_side_by_side({name: s.totals for name, s in named.items()}),
        side_by_side.changed_verdicts({name: s.results for name, s in named.items()}))
    for study in studies:
        study.comparison = beside
    return studies


@dataclass
class Checked:
    """What `check` tells: all findings about a workbook's cells and the prices that it lacks, and
    the counts of its run. `stops` are what keeps it from being run; there are no `results` then.
    `prices` has a row for every price that a farm asks for and the list lacks, where it could be
    sought: a price whose own rows have faults is not."""

    findings: Findings
    counts: dict[str, int]
    stops: tuple[StudyError, ...] = ()
    prices: pd.DataFrame | None = None
    results: pd.DataFrame | None = None


def check_workbook(path: str | Path) -> Checked:
    """Farms are sized, priced and judged as far as the workbook can be read; nothing is weighed
    between them."""
    found = examine(path)
    inputs, stops = found.inputs, tuple(found.stops.faults)
    read = 0 if inputs is None else len(inputs.candidates)
    stopped = {"read": read, "assessed": 0, "not_assessed": read}
    if inputs is None or not found.stops.sheets <= {UNIT_COSTS.name}:
        return Checked(found.findings, stopped, stops=stops)
    faulty = inputs.findings.rows_with_errors(UNIT_COSTS.name)
    unsure = set(inputs.unit_costs["item"].loc[list(faulty)])
    inputs = replace(inputs, unit_costs=inputs.unit_costs.drop(index=list(faulty)))
    _, _, options, criteria, _ = study_designs(assessable(inputs), inputs)
    options, _, results = conclude(options, criteria, inputs)
    prices = missing_prices(options, unsure)
    remark_on_gaps(results, options, inputs, unsure)
    remark_on_scenarios(inputs)
    if stops:
        return Checked(inputs.findings, stopped, stops, prices)
    return Checked(inputs.findings, counts_of(results), stops, prices, results)


def remark_on_scenarios(inputs: Inputs):
    """A finding about each column of the Scenarios sheet that cannot be studied."""
    sheet = inputs.workbook.scenarios
    for name in scenario_names(sheet):
        try:
            [scenario] = read_scenarios([name], sheet=sheet)
            apply(inputs, scenario)
        except StudyError as stop:
            inputs.findings.add("scenario-unusable", f"Scenario '{name}': {stop.what}",
                                sheet=SCENARIOS.name, value=name)


def at_hand_of(inputs: Inputs) -> dict:
    """What steps may take beside their frame, by the names of their arguments."""
    return {"inputs": inputs, "rules": inputs.rules, "study": inputs.study, "rates": inputs.rates,
            "price_list": inputs.price_list, "shared_lines": inputs.shared_lines}


def assessable(inputs: Inputs) -> pd.DataFrame:
    """The candidates without an error, with what the water asks of each and its present plant.
    Cells that do not fit each other add findings, and errors take their row out."""
    good = inputs.candidates[~inputs.has_error]
    farms = run(WATER.steps, good.rename(columns=TYPED_NAMES), at_hand_of(inputs))
    plausibility.cross_check(farms, inputs.rules, inputs.cells["Candidates"], inputs.findings)
    return farms[~good.index.isin(inputs.findings.rows_with_errors("Candidates"))]


def study_designs(farms, inputs: Inputs):
    """Every variant of every option of every farm, sized, judged and priced; the ledger; the
    best of each option with its yearly money, and its economic criteria; and the options of the
    farms of shared lines, priced as if nobody else built.

    Farms are worked through some at a time, since the tables of all designs are large; those of
    shared lines settle together at the end.
    """
    parts, on_lines, alone = [], [], []
    for start in range(0, max(len(farms), 1), FARMS_AT_ONCE):
        designs = run(DESIGN.steps, farms[start:start + FARMS_AT_ONCE], at_hand_of(inputs))
        on_line = designs["shared_line_id"].notna()
        priced = price_and_choose(with_line(designs, designs.iloc[:0], inputs), inputs)
        parts.append(_without_lines(priced))
        on_lines.append(designs[on_line])
        alone.append(priced[2][priced[2]["shared_line_id"].notna()])
    on_lines = pd.concat(on_lines)
    if len(on_lines):
        parts.append(settle_shared_lines(on_lines, inputs))
    return *_put_together(parts), pd.concat(alone)


def with_line(designs, payers, inputs: Inputs):
    """Designs with their parts of shared lines, given who else pays for these."""
    return run(LINE.steps, designs, at_hand_of(inputs) | {"payers": payers})


def price_and_choose(designs, inputs: Inputs):
    """Designs with cost and shares, the ledger, the valued options with each farm's choice, and
    the economic criteria, given each design's part of a shared line."""
    at_hand = at_hand_of(inputs)
    priced = run(PRICE.steps, designs, at_hand)
    options = run(CHOOSE.steps, priced, at_hand)
    ledger = at_hand["ledger"]
    return priced, ledger[ledger["design"].isin(options.index)], options, at_hand["criteria"]


def settle_shared_lines(designs, inputs: Inputs):
    """Cost, shares, yearly money and choice of every option of the farms of shared lines.

    What a farm pays for a shared line depends on who else builds on it, and that on what each
    pays: first all members that may be funded are counted, then those of them that chose the same
    phases and qualify, until nobody's choice moves. Where it keeps moving a finding says so.
    """
    payers = shared_lines.all_payers(designs[~budgeting.is_closed_out(designs)])
    designs = with_line(designs, payers, inputs)
    for _ in range(SHARED_LINE_TURNS):
        settled = price_and_choose(designs, inputs)
        again = with_line(designs, choosing.line_payers(settled[2]), inputs)
        if again.equals(designs):
            return settled
        designs = again
    inputs.findings.add(
        "shared-line-unsettled", "The farms on a shared line change their choice with each "
        "other's: the shares shown may not add up to the line.", sheet="Shared lines")
    return settled


def _without_lines(priced):
    """Designs, ledger, options and criteria of the farms that share no line."""
    designs, ledger, options, criteria = priced
    own = designs.index[designs["shared_line_id"].isna()]
    return (designs.loc[own], ledger[ledger["design"].isin(own)],
            options[options.index.isin(own)], criteria[criteria["design"].isin(own)])


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


def conclude(options, criteria, inputs: Inputs):
    """The options with why they were chosen, all their checks, and the results of the farms."""
    at_hand = at_hand_of(inputs)
    options = run(REASON.steps, options, at_hand)
    checks = farm_results.checks_of(options, criteria, inputs.rules)
    chosen = run(JUDGE.steps, options[options["is_chosen"]], at_hand | {"checks": checks})
    results = farm_results.results_of(inputs.candidates, chosen, inputs.findings)
    return options, checks, run(RANK.steps, results, at_hand)


def must_have_all_results(results):
    """A result of the dictionary that no step computes is a fault of the program."""
    for key in RESULTS.by_key:
        if key not in results:
            raise KeyError(f"no step of the table of stages makes '{key}'")
