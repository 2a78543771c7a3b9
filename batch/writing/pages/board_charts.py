"""The charts of the board's page: what each is drawn from, and the words that stand in its stead.
A chart without figures is left out; the page then says why."""

import numpy as np

from batch.program.season import first_budget_usd

MOST_BARS, MOST_LINES = 24, 6
MONEY = {"paid_usd": "paid", "committed_usd": "promised", "funded_now_usd": "funded now",
         "left_usd": "left"}
PAYERS = ("members", "cooperative", "incentive", "outside money")


def board_charts(study, funded, page) -> dict:
    """The charts by name as SVG; None where there is nothing to draw."""
    return {"ranking": _ranking(study, funded), "payers": _payers(page["program"]),
            "promised": _promised(study.season.delivered),
            "money": _money(study.season.budget, page["season"]),
            "feeders": _feeders(study.feeders), "years": _years(study.portfolio.years),
            "tests": _tests(page["tests"], page["program"]),
            "tornado": _tornado(study.portfolio.tornado, page["program"]),
            "sets": _sets(study.portfolio.sets, page["sets"]),
            "crossover": _crossover(study.portfolio.crossover)}


def _drawn(name, title, text, *figures):
    from batch.writing.pages import charts

    return charts.drawn(f"chart-{name}", title, text, getattr(charts, name), *figures)


def _ranking(study, funded):
    ranked = study.results[study.results["rank"].notna()].sort_values("rank")
    if ranked.empty:
        return None
    budget = first_budget_usd(study.inputs)
    is_funded = funded[ranked.index].to_numpy(bool)
    load = study.inputs.rules["ranking_counts"]
    text = (f"{len(ranked)} farms from the least to the highest incentive cost per kW of {load}; "
            f"{is_funded.sum()} of them are funded.")
    if budget is not None:
        text += f" The budget line stands at {budget:,.0f} dollars."
    return _drawn("ranking", "Ranking by incentive cost per kW", text,
                  ranked["incentive_cost_usd"].to_numpy(float),
                  ranked["incentive_usd_per_kw"].to_numpy(float), is_funded, budget, load)


def _payers(program):
    project, cooperative, incentive, member = (
        program.value(key) for key in ("project_cost_usd", "cooperative_cost_usd", "incentive_usd",
                                      "member_net_cost_usd"))
    usd = [member, cooperative, incentive, project - cooperative - incentive - member]
    if not np.isfinite(usd).all() or project <= 0:
        return None
    text = "Of the funded work: " + ", ".join(
        f"{name} {value:,.0f} dollars" for name, value in zip(PAYERS, usd)) + "."
    return _drawn("payers", "Who pays for the work", text, PAYERS, usd)


def _money(budget, season):
    """The first year's money: paid, promised, funded now and left."""
    if season is None or budget.empty:
        return None
    year = budget.iloc[0]
    usd = [max(year[key], 0.0) for key in MONEY]
    text = f"Of the money of {year['program_year']:.0f}: " + ", ".join(
        f"{word} {value:,.0f} dollars" for word, value in zip(MONEY.values(), usd)) + "."
    return _drawn("money", "Where the money stands", text, list(MONEY.values()), usd)


def _promised(delivered):
    """Promised energy against metered, a point for each farm and season."""
    known = delivered[delivered[["approved_energy_kwh", "metered_kwh"]].notna().all(axis=1)]
    if known.empty:
        return None
    pairs = zip(known["candidate_id"], known["approved_energy_kwh"], known["metered_kwh"])
    text = "; ".join(f"{name}: {x:,.0f} kWh promised, {y:,.0f} metered" for name, x, y in pairs)
    return _drawn("promised", "Promised energy against metered", text + ".",
                  list(known["candidate_id"].astype(str)),
                  *(known[key].to_numpy(float) for key in ("approved_energy_kwh", "metered_kwh")))


def _feeders(feeders):
    share = (feeders["diversified_kw"] / feeders["spare_capacity_kw"]).fillna(0)
    shown = feeders.loc[share.sort_values(ascending=False, kind="stable").index[:MOST_BARS]]
    shown = shown.sort_index()
    if shown.empty:
        return None
    text = "; ".join(
        f"{f.feeder_id}: {f.funded_kw:,.0f} kW of funded and {f.diversified_kw:,.0f} kW of all "
        "ranked farms, spare capacity "
        + (f"{f.spare_capacity_kw:,.0f} kW" if f.spare_capacity_kw == f.spare_capacity_kw
           else "not given") for f in shown.itertuples()) + "."
    return _drawn("feeders", "Added load by feeder against spare capacity", text,
                  list(shown["feeder_id"].astype(str)),
                  *(shown[key].to_numpy(float) for key in ("funded_kw", "diversified_kw",
                                                           "spare_capacity_kw")))


def _tests(tests, program):
    names = [name for _, name, *_ in tests]
    ratio = [program.value(f"{key}_ratio") for key, *_ in tests]
    if not np.isfinite(ratio).all():
        return None
    text = ", ".join(f"{name} {value:.2f}" for name, value in zip(names, ratio)) + "."
    return _drawn("tests", "Benefit over cost by test", text, names, ratio)


def _years(years):
    if years.empty or years.isna().to_numpy().any():
        return None
    last = years.iloc[-1]
    text = (f"After {last['year']:.0f} years {last['base_usd']:,.0f} dollars as studied; ten of a "
            f"hundred futures end below {last['p10_usd']:,.0f} and ten above "
            f"{last['p90_usd']:,.0f} dollars.")
    return _drawn("years", "Benefit over the years", text,
                  *(years[key].to_numpy(float) for key in ("year", "base_usd", "p10_usd",
                                                           "p90_usd")))


def _tornado(drivers, program):
    base = program.value("together_npv_usd")
    keys = ("low_pct", "high_pct", "together_npv_low_usd", "together_npv_high_usd")
    if drivers.empty or drivers[list(keys)].isna().to_numpy().any() or base != base:
        return None
    text = "; ".join(
        f"{d.driver} from {d.low_pct:+.0f} % to {d.high_pct:+.0f} %: "
        f"{d.together_npv_low_usd:,.0f} to {d.together_npv_high_usd:,.0f} dollars"
        for d in drivers.itertuples()) + "."
    return _drawn("tornado", "What moves the program most", text, list(drivers["driver"]),
                  *(drivers[key].to_numpy(float) for key in keys), base)


def _sets(sets, about):
    if about is None:
        return None
    unit = "$" if about["is_money"] else ""
    names = list(sets["method"])
    text = "; ".join(f"{name}: {value:,.0f} {about['unit']}"
                     for name, value in zip(names, sets["goal_value"])) + "."
    is_way = [name == (about["best"] if about["funds_best"] else about["ranking"]).row_id
              for name in names]
    goal = about["goal"][:1].upper() + about["goal"][1:]  # NPV stays in capitals
    return _drawn("sets", f"{goal} that each way reaches", text, names,
                  sets["goal_value"].to_numpy(float), unit, is_way)


def _crossover(crossover):
    lines = [(str(name), *(mine[key].to_numpy(float) for key in (
        "farms", "single_phase_cost_usd", "three_phase_cost_usd")))
        for name, mine in crossover.groupby("shared_line_id", sort=False)] if len(crossover) else []
    lines = [line for line in lines if np.isfinite(np.concatenate(line[1:])).all()]
    # Lines that several farms share say most.
    lines = sorted(lines, key=lambda line: -len(line[1]))[:MOST_LINES]
    if not lines:
        return None
    text = "; ".join(
        f"{name} with {farms[-1]:.0f} farms: {single[-1]:,.0f} dollars single-phase, "
        f"{three[-1]:,.0f} dollars three-phase" for name, farms, single, three in lines) + "."
    return _drawn("crossover", "Single-phase with drives or a three-phase line", text, lines)
