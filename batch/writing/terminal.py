"""What the terminal shows: progress, a short ranking, counts, and what needs attention."""

import sys
from contextlib import suppress

import click

from batch.findings import ERROR, NOTE, SEVERITIES, WATCH
from batch.program.best_set import goal_unit
from batch.program.choosing import INCOMPLETE
from batch.reading import defaults
from batch.reading.scenario import scenario_names
from batch.shown_text import in_one_line

RANKING_LINES = 12


class Progress:
    """A progress bar over the steps of a run; silent where the terminal is not one."""

    def __init__(self, steps, is_shown):
        self.steps, self.is_shown = steps, is_shown
        self.bar, self.is_begun = None, False

    def __enter__(self):
        if self.is_shown:
            self.bar = click.progressbar(
                length=len(self.steps), label="Studying", show_eta=False,
                item_show_func=lambda name: name, file=sys.stderr)
            with suppress(OSError):  # a terminal that takes nothing keeps no run from its end
                self.bar.__enter__()
        return self

    def __exit__(self, *fault):
        if self.bar:
            with suppress(OSError):
                if fault[0] is None:
                    self.bar.update(len(self.steps) - self.bar.pos, None)
                self.bar.__exit__(*fault)

    def add(self, steps):
        """More steps than were known at the beginning."""
        self.steps = (*self.steps, *steps)
        if self.bar:
            self.bar.length = len(self.steps)

    def step(self, name):
        """Begin a step: all steps before it are done."""
        if self.bar:
            with suppress(OSError):
                self.bar.update(int(self.is_begun), name)
            self.is_begun = True


def run_text(study, folder) -> str:
    """The end of a run: ranking, counts, files, attention."""
    ranked = study.results[study.results["rank"].notna()].sort_values("rank")
    load = study.inputs.rules["ranking_counts"]
    lines = ["", f"{'rank':>4}  {'candidate':14} {'verdict':26} {load.split()[0] + ' kW':>9} "
                 f"{'incentive':>10} {'USD/kW':>8}  in budget"]
    for row in ranked.head(RANKING_LINES).itertuples():
        within = {1.0: "yes", 0.0: "no" if row.may_be_funded else "known too little"}.get(
            row.in_budget, "-")
        lines.append(f"{row.rank:4.0f}  {in_one_line(row.candidate_id)[:14]:14} {row.verdict:26} "
                     f"{row.counted_load_kw:9.1f} {row.incentive_cost_usd:10,.0f} "
                     f"{row.incentive_usd_per_kw:8.0f}  {within}")
    if len(ranked) > RANKING_LINES:
        lines.append(f"      ... and {len(ranked) - RANKING_LINES} more on the Ranking sheet")
    lines += ["", counts_text(study.counts), verdict_text(study.results), *_budget_lines(study), ""]
    incomplete = study.results[study.results["verdict"] == "incomplete"]
    if len(incomplete):
        lines.append("Not assessed:")
        for row in incomplete.itertuples():
            lines.append(f"  row {row.Index:<4} {in_one_line(row.candidate_id or '')[:14]:14} "
                         f"{_first_sentence(row.verdict_reason)}")
        lines.append("")
    counts = study.findings.counts()
    where = "; see the Findings sheet" if study.findings.rows else ""
    lines.append(f"Findings: {counts[ERROR]} errors, {counts[WATCH]} watches, {counts['note']} "
                 f"notes{where}.")
    names = scenario_names(study.inputs.workbook.scenarios)
    if names and study.inputs.scenario is None:
        lines.append(f"The Scenarios sheet was not studied: {in_one_line(', '.join(names))}. Add "
                     "--scenario NAME, or --scenario all.")
    lines.append(f"Files are in {in_one_line(folder)}: open result.xlsx first, board.html for the "
                 "board.")
    lines.append("Screening only: a licensed engineer decides.")
    return "\n".join(lines)


def _budget_lines(study):
    """What the best set reaches beside the ranking, by the program's goal."""
    sets = study.portfolio.sets
    if sets.empty:
        return []
    ranking, best = sets.iloc[0], sets.iloc[-1]
    found = (f"the best set within all limits {best['goal_value']:,.0f} with {best['farms']:.0f}"
             if study.results["in_best_set"].notna().any() else "no set keeps all limits")
    goal = study.inputs.rules["set_goal"]
    unit = goal_unit(study.inputs.rules)
    farms = "farm" if ranking["farms"] == 1 else "farms"
    return [f"Budget, by {goal} [{unit}]: the ranking reaches {ranking['goal_value']:,.0f} with "
            f"{ranking['farms']:.0f} {farms}, {found}; see Budget sets."]


def _first_sentence(reason):
    text = in_one_line(reason.removeprefix("Not assessed. "))
    return text if len(text) <= 110 else text[:107] + "..."


def counts_text(counts) -> str:
    """read = assessed + not assessed."""
    return (f"{counts['read']} read = {counts['assessed']} assessed + "
            f"{counts['not_assessed']} not assessed")


def verdict_text(results) -> str:
    """How many farms have each verdict."""
    return ", ".join(f"{count} {verdict}" for verdict, count in
                     results["verdict"].value_counts().sort_index().items())


def run_summary(study, folder) -> dict:
    """The run in plain data, for scripts."""
    ranked = study.results[study.results["rank"].notna()].sort_values("rank")
    return {"folder": str(folder), "counts": study.counts, "findings": study.findings.counts(),
            "ranking": [{"rank": int(row.rank), "candidate_id": row.candidate_id,
                         "verdict": row.verdict, "added_load_kw": round(row.added_load_kw, 2),
                         "useful_load_kw": round(row.useful_load_kw, 2),
                         "incentive_cost_usd": round(row.incentive_cost_usd, 2),
                         "incentive_usd_per_kw": round(row.incentive_usd_per_kw, 2),
                         "in_budget": {1.0: True, 0.0: False}.get(row.in_budget)}
                        for row in ranked.itertuples()]}


def _messages(found: list[dict]) -> list[str]:
    """What findings say, a line for each; of defaults one for each sheet."""
    of_defaults = [f for f in found if f["slug"] == defaults.SLUG]
    lines = [f["message"] for f in found if f["slug"] != defaults.SLUG]
    for sheet in dict.fromkeys(f["sheet"] for f in of_defaults):
        lines.append(defaults.of_a_sheet([f for f in of_defaults if f["sheet"] == sheet]))
    return [in_one_line(line) for line in lines]


def check_text(checked) -> str:
    """What a check found: what stops a run, then the findings, and what a run will count."""
    by_severity = checked.findings.counts()
    told = " ".join(map(str, checked.stops))  # these quote the cells that stop a run
    lines = _block("stop", map(str, checked.stops))
    for severity in SEVERITIES:
        found = [f for f in checked.findings.listed()
                 if f["severity"] == severity and f["message"] not in told]
        lines += _block(severity, _messages(found), len(found))
    lines.append(counts_text(checked.counts) + f"; {by_severity[ERROR]} errors, "
                 f"{by_severity[WATCH]} watches, {by_severity[NOTE]} notes.")
    if checked.results is not None:
        lines.append(f"{verdict_text(checked.results)}.{open_checks_text(checked.results)}")
    return "\n".join(lines)


def _block(word: str, texts, count: int | None = None) -> list[str]:
    texts = [in_one_line(text) for text in texts]
    heading = f"{word.upper()} ({len(texts) if count is None else count})"
    return [heading, *(f"  {text}" for text in texts), ""] if texts else []


def open_checks_text(results) -> str:
    """How many of the farms that are assessed have checks that a blank cell leaves open."""
    is_open = (results["verdict"] != INCOMPLETE) & (results["not_assessed_count"] > 0)
    count = int(is_open.sum())
    return f" {count} assessed with open checks: see next_cells of a run." if count else ""


def prices_text(checked) -> str:
    """The prices that the list lacks: one a line with its size and farms."""
    stops = _block("stop", map(str, checked.stops))
    if checked.prices is None:
        return "\n".join([*stops, "Prices were not sought: mend what stands under STOP first."])
    lines = []
    for price in checked.prices.itertuples():
        what = f"{price.item}, {price.size}" if price.size else price.item
        waits = price.not_assessed_without
        lines.append(f"{what}: for {price.farms}" + (
            f"; not assessed without it: {waits}." if waits else "; none waits for it."))
    return "\n".join([*stops, *_block("missing price", lines)]).rstrip() or (
        "The list lacks no price that a farm asks for.")


def check_summary(checked) -> dict:
    """A check in plain data, for scripts."""
    prices = None if checked.prices is None else checked.prices.to_dict("records")
    return {"counts": checked.counts, "stops": list(map(str, checked.stops)),
            "findings": checked.findings.listed(), "missing_prices": prices}


def carried_text(workbook, season, year: int) -> str:
    """What was carried into the next season, and what the planner does next."""
    farms = ", ".join(f"{count} {status}" for status, count in season.counts.items())
    money = season.study["carried_in_usd"]
    lines = [f"{workbook}: the season of {year}. {farms}."
             + (f" {money:,.2f} USD are carried in." if money else "")]
    if season.own_rules:
        lines.append("Not carried, since a year's rules are its own: "
                     f"{', '.join(season.own_rules)}. Type what holds in {year} on Program.")
    lines.append("Next: renew rates and prices, type the study's date and budget, bring states up "
                 f"to date, then farmbatch check {workbook}")
    return "\n".join(lines)
