"""The study on one page: the flow as a table of stages, and the loop that runs it."""

from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from batch.columns.results import RESULTS
from batch.columns.scenarios import SCENARIOS
from batch.columns.unit_costs import UNIT_COSTS
from batch.columns.working import TYPED_NAMES
from batch.farm import list_spread, plausibility, present_plant, water
from batch.findings import Findings
from batch.money import breakeven, prices, rates, sharing, valuation
from batch.portfolio import side_by_side
from batch.program import (
    budgeting,
    choosing,
    farm_results,
    knowledge,
    options,
    season_tables,
    standing,
    weighing,
)
from batch.program.remarks import missing_prices, remark_on_gaps, remark_on_results
from batch.program.rule_costs import rule_costs
from batch.program.season import by_rules, rules_year_of
from batch.program.sets import (
    StudiedSets,
    by_builders,
    designs_of_rows,
    every_set,
    in_parts,
    of_their_phases,
    whole_line,
)
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
FARMS_AT_ONCE = 2_000
MOST_TURNS = 12
SETTLE = "again, until no farm leaves three phases"

WATER = Stage("what the water asks", "farm", (water.pump_load, present_plant.present_plant))
SIZE = Stage("size", "design", (
    supply.candidates_by_variant, supply.supply_demand, power_quality.size_motor_leads,
    wiring.size_service, rates.bills_and_supply))
DESIGN = Stage("judge, with each set of builders", "design", (
    supply.load_of_builders, chain.chain_results, power_quality.starting_results,
    power_quality.distortion_results, power_quality.lead_results,
    power_quality.end_tower_results, judging.answers_of))
LINE = Stage("part of a shared line", "design", (prices.trunk_parts,), SETTLE)
PRICE = Stage("price and share", "design", (prices.item_costs, sharing.share_costs), SETTLE)
CHOOSE = Stage("value and choose", "option", options.CHOOSE, SETTLE)
CHANGE = Stage("what would change it", "option", (
    valuation.rates_of_return, breakeven.break_evens, choosing.mitigation_reasons))
REASON = Stage("why it was chosen", "option", (choosing.option_reasons,))
JUDGE = Stage("verdict and knowledge", "farm", (choosing.verdicts, knowledge.knowledge_of))
RANK = Stage("place in the program", "farm", (standing.stand_in_program,))
WEIGH = Stage("weigh the farms together", "farm", (
    weighing.load_feeders, weighing.draw_futures,
    weighing.qualify_alone))
FLOW = (WATER, SIZE, DESIGN, LINE, PRICE, CHOOSE, JUDGE, CHANGE, REASON, RANK, WEIGH)


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
    reason. `sets` has every farm with every set of farms that it may build a line with, and
    `funding` who is funded.
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
    sets: StudiedSets
    funding: budgeting.Funding
    list_spread: pd.DataFrame
    season: season_tables.Season
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
    sets = study_sets(farms, inputs)

    on_step(STEPS[2])
    funding, sets = fund(sets, farms, inputs)
    place = standing.of(funding, inputs)
    designs, ledger, options, _, checks, chosen = sets.at(place.numbers)
    at_hand = at_hand_of(inputs) | {
        "designs": designs, "funding": funding, "place": place, "sets": sets,
        "options_alone": sets.alone}
    options = explained(options, inputs, at_hand)
    results = results_of(chosen, options, inputs, at_hand)

    on_step(STEPS[3])
    costs = rule_costs(designs, options, checks, inputs, CHOOSE.steps)
    results = run(WEIGH.steps, results, at_hand)
    portfolio = weighing.portfolio_of(options, costs, at_hand)
    lines = prices.cost_lines(options[options["is_chosen"]], inputs.price_list)
    ledger = prices.with_lines_in_words(ledger, lines)
    study = Study(inputs, results, options, designs, checks, ledger, lines, at_hand["feeders"],
                  program_totals(funding, results, inputs.rules), portfolio, inputs.findings,
                  sets, funding, beside_survey(farms, inputs),
                  season_tables.of(results, funding, inputs))
    remark_on_results(study)
    must_have_all_results(results)
    return study


def explained(options, inputs: Inputs, at_hand):
    """The options with what would change them and why each was chosen, each farm's by its rules."""
    year_of = rules_year_of(inputs)[options["excel_row"]].to_numpy()
    return pd.concat([
        run((*CHANGE.steps, *REASON.steps), options[year_of == year],
            at_hand | {"inputs": under, "rules": under.rules})
        for year, under in by_rules(inputs).items()]).loc[options.index]


def fund(sets, farms, inputs: Inputs):
    """Who is funded, and the sets with all of which something is said. Of a line of many farms not
    every set is studied: the funded farms with one more or one fewer are studied then, too, which
    may move the ranking, so that it is asked again."""
    funding, more = budgeting.give_out(sets, inputs, farms, study_sets), set()
    for _ in range(MOST_TURNS):
        missing = sets.near(funding.funded)
        if not missing:
            break
        more |= missing
        sets = study_sets(farms, inputs, lambda members: every_set(members, more))
        funding = budgeting.give_out(sets, inputs, farms, study_sets)
    return funding, funding.funded_sets


def results_of(chosen, options, inputs: Inputs, at_hand):
    """The results of all candidates: their chosen options with what would change them, verdicts,
    and their place in the program."""
    more = options.loc[chosen.index, options.columns.difference(chosen.columns)]
    results = farm_results.results_of(inputs.candidates, chosen.join(more), inputs.findings)
    return run(RANK.steps, results, at_hand)


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
    """Farms are sized, priced and judged as far as the workbook can be read, those of shared lines
    as if all of the line built; nothing is weighed between them."""
    found = examine(path)
    inputs, stops = found.inputs, tuple(found.stops.faults)
    read = 0 if inputs is None else len(inputs.candidates)
    stopped = {"read": read, "assessed": 0, "not_assessed": read}
    if inputs is None or not found.stops.sheets <= {UNIT_COSTS.name}:
        return Checked(found.findings, stopped, stops=stops)
    faulty = inputs.findings.rows_with_errors(UNIT_COSTS.name)
    unsure = set(inputs.unit_costs["item"].loc[list(faulty)])
    inputs = replace(inputs, unit_costs=inputs.unit_costs.drop(index=list(faulty)))
    farms = assessable(inputs)
    beside_survey(farms, inputs)
    sets = study_sets(farms, inputs, whole_line)
    _, _, options, _, _, chosen = sets.at(dict(zip(sets.farms["farm_row"], sets.farms.index)))
    results = farm_results.results_of(inputs.candidates, chosen, inputs.findings)
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
    parts, year_of = [], rules_year_of(inputs)
    for year, under in by_rules(inputs).items():
        mine = good[year_of[good.index] == year].rename(columns=TYPED_NAMES)
        parts.append(run(WATER.steps, mine, at_hand_of(under)))
        plausibility.cross_check(parts[-1], under.rules, inputs.cells["Candidates"],
                                 inputs.findings)
    farms = pd.concat(parts).loc[good.index]
    return farms[~good.index.isin(inputs.findings.rows_with_errors("Candidates"))]


def beside_survey(farms, inputs: Inputs) -> pd.DataFrame:
    """The list's spread beside the irrigation survey's, and a finding where they are far apart."""
    state = inputs.study["state"]
    spread = list_spread.spread_of(farms, state)
    list_spread.remark_on_spread(spread, state, inputs.findings)
    return spread


def study_sets(farms, inputs: Inputs, sets_of=every_set, first=None) -> StudiedSets:
    """Every farm sized, judged and priced, those of shared lines with every set of builders that
    they belong to: what is said of a set of farms anywhere is what this says of exactly these.

    Rows are worked through some at a time, since the tables of all designs are large; farms of
    other years' rules by these, with all that build with them.
    """
    rows = by_builders(farms, sets_of, first)
    parts, year_of = [], rules_year_of(inputs)[rows["farm_row"]].to_numpy()
    for year, under in by_rules(inputs).items():
        mine = rows.index[year_of == year]
        for some in in_parts(_with_mates(rows, mine), FARMS_AT_ONCE):
            studied = _studied(farms, some, under)
            parts.append(studied if some.index.isin(mine).all() else [
                frame[frame["excel_row"].isin(mine)] for frame in studied])
    designs, ledger, options, criteria, checks, chosen = (
        pd.concat(tables) for tables in zip(*parts))
    return StudiedSets(rows, designs.sort_index(), ledger, options, criteria, checks, chosen,
                       inputs.rules)


def _with_mates(rows, mine) -> pd.DataFrame:
    """Some rows with all that build with them."""
    return rows[rows.index.isin(mine) | rows["builders"].isin(rows.loc[mine, "builders"].dropna())]


def _studied(farms, rows, inputs: Inputs):
    """Designs, ledger, options, criteria, checks, and chosen options with their verdicts, of some
    rows with all that build with them. Sizes do not hang on the builders: each farm is sized once.
    """
    at_hand = at_hand_of(inputs)
    sized = run(SIZE.steps, farms.loc[sorted(set(rows["farm_row"]))], at_hand)
    designs, place = designs_of_rows(sized, rows)
    at_hand |= {key: at_hand[key].of(place) for key in ("chain", "spectrum")}
    designs = of_their_phases(run(DESIGN.steps, designs, at_hand), rows)
    designs, ledger, options, criteria = settle(designs, inputs)
    checks = farm_results.checks_of(options, criteria, inputs.rules)
    chosen = run(JUDGE.steps, options[options["is_chosen"]], at_hand | {"checks": checks})
    return designs, ledger, options, criteria, checks, chosen


def settle(designs, inputs: Inputs):
    """Designs with cost and shares, the ledger, the valued options with each farm's choice, and
    the economic criteria.

    A farm's part of a shared line hangs on how many of its builders take three phases. First all
    that could do; those that choose a single phase leave, which makes three phases dearer for the
    others and nothing cheaper, so that nobody comes back and it ends. A set of builders that
    nobody leaves is settled; only the others are priced again.
    """
    users, settled = prices.line_users(designs), []
    while designs is not None:
        priced, ledger, options, criteria = _priced(designs, users, inputs)
        left = prices.line_users_after(users, options)
        moved = users.loc[~users.index.isin(left.index), "builders"].unique()
        stay = ~options["builders"].isin(moved)
        kept = options.index[stay]
        settled.append((
            priced[~priced["builders"].isin(moved)], ledger[ledger["design"].isin(kept)],
            options[stay], criteria[criteria["design"].isin(kept)]))
        users = left[left["builders"].isin(moved)]
        designs = designs[designs["builders"].isin(moved)] if len(moved) else None
    priced, ledger, options, criteria = (pd.concat(some) for some in zip(*settled))
    return (priced.sort_index(), ledger.reset_index(drop=True),
            options.sort_values(["excel_row", "option_place"], kind="stable"),
            criteria.reset_index(drop=True))


def _priced(designs, users, inputs: Inputs):
    """The same, given who uses the shared lines by how many phases."""
    at_hand = at_hand_of(inputs) | {"payers": users}
    priced = run((*LINE.steps, *PRICE.steps), designs, at_hand)
    options = run(CHOOSE.steps, priced, at_hand)
    return priced, at_hand["ledger"], options, at_hand["criteria"]


def must_have_all_results(results):
    """A result of the dictionary that no step computes is a fault of the program."""
    for key in RESULTS.by_key:
        if key not in results:
            raise KeyError(f"no step of the table of stages makes '{key}'")
