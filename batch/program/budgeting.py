"""The budget: the ranking's line beside the best sets within budget, feeders and shared lines."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from batch.columns.candidates import MUST_FUND, MUST_NOT_FUND
from batch.columns.portfolio import BUDGET_LIMITS, BUDGET_SETS
from batch.columns.program import BY_BEST_SET, GOALS
from batch.portfolio import budget
from batch.program.totals import known_sum, together_usd

BUDGETS = ("program_budget_usd", "program_budget_year_2_usd", "program_budget_year_3_usd")
STOPS, SKIPS, WITHIN, BEST_ALONE, BEST_WITHIN = METHODS = (
    "ranking, stop at the first misfit", "ranking, skip misfits",
    "ranking within all limits", "best set, budget only", "best set within all limits")
SUMMED = ("incentive_cost_usd", "added_load_kw", "useful_load_kw", "cooperative_npv_usd",
          "together_npv_usd",
          "total_resource_npv_usd", "member_saving_usd_yr")
TENTH_MORE = "budget, a tenth more"
MOST_LIFTED = 500  # farms; each lifted limit is one more search


@dataclass(frozen=True)
class Budgeting:
    """Ways to give out the budget, with the Excel rows of the farms that each funds, what limits
    the best, and each farm's year in it (NaN: not in it, or no budget); empty without a budget."""

    sets: pd.DataFrame
    funded_by: dict[str, pd.Index]
    limits: pd.DataFrame
    best_year: pd.Series
    is_known: pd.Series


def is_closed_out(candidates: pd.DataFrame) -> pd.Series:
    """Farms that the board will not fund."""
    return candidates["funding_choice"] == MUST_NOT_FUND


def is_funded(results: pd.DataFrame, rules) -> pd.Series:
    """The farms that count as funded: within the budget by the program's method, or all that may be
    funded where there is no budget. Where no set keeps all limits the ranking's line stands in, so
    that the budget holds."""
    if funds_best_set(results, rules):
        return results["in_best_set"] == 1
    return results["in_budget"] == 1 if results["in_budget"].notna().any() else (
        results["may_be_funded"] == 1)


def funds_best_set(results: pd.DataFrame, rules) -> bool:
    """Whether the best set is what is funded: by the rules, and there is one."""
    return rules["budget_method"] == BY_BEST_SET and bool(results["in_best_set"].notna().any())


def allocate_budget(results: pd.DataFrame, inputs) -> Budgeting:
    """Every way of giving out the budget. Farms of which it is not known what they add to the goal
    are in no best set."""
    rules = inputs.rules
    _remark_on_choices(results, inputs)
    goal_key = GOALS[rules["budget_goal"]]
    # By name, so that of equally good sets the order of the rows decides none.
    ranked = results[results["may_be_funded"] == 1].sort_values("candidate_id", kind="stable")
    known = ranked[ranked[goal_key].notna()]
    none = pd.Series(np.nan, results.index)
    budgets = np.array([inputs.study[key] or 0.0 for key in BUDGETS])
    if inputs.study["program_budget_usd"] is None or known.empty:
        return Budgeting(pd.DataFrame(columns=list(BUDGET_SETS.by_key)), {},
                         pd.DataFrame(columns=list(BUDGET_LIMITS.by_key)), none,
                         pd.Series(False, results.index))
    given = np.flatnonzero([inputs.study[key] is not None for key in BUDGETS])
    budgets = budgets[:given.max() + 1]
    asked, down = (_Asked(farms, goal_key, budgets, inputs) for farms in (known, ranked))
    years = {STOPS: down.in_order(False, {}), SKIPS: down.in_order(True, {}),
             WITHIN: down.in_order(True, down.limits)}
    found = {BEST_ALONE: asked.best({}), BEST_WITHIN: asked.best(asked.limits)}
    chosen = {name: ranked[year >= 0] for name, year in years.items()} | {
        name: known[selection.year >= 0] for name, selection in found.items()}
    if not found[BEST_WITHIN].is_feasible:
        inputs.findings.add(
            "budget-set-impossible", "The farms that must be funded do not fit into the budget, "
            "their feeders and their shared lines together.", sheet="Study",
            key="program_budget_usd", value=f"{budgets.sum():,.0f}")
    sets = _sets_table(chosen, goal_key, found)
    limits = _limits_table(asked, found[BEST_WITHIN])
    best_year = pd.Series(np.where(found[BEST_WITHIN].year >= 0,
                                   found[BEST_WITHIN].year + 1.0, np.nan), known.index)
    is_known = pd.Series(found[BEST_WITHIN].is_feasible, known.index)
    funded_by = {name: farms.index for name, farms in chosen.items()}
    return Budgeting(sets, funded_by, limits, best_year.reindex(results.index),
                     is_known.reindex(results.index, fill_value=False))


def _remark_on_choices(results, inputs):
    """Farms that the board must fund and that cannot be: they are in no set."""
    choice = inputs.candidates["funding_choice"]
    for row in choice.index[(choice == MUST_FUND) & results["rank"].isna()]:
        inputs.findings.add(
            "must-fund-unranked", f"Candidates row {row}: the farm must be funded, and its verdict "
            f"is '{results.loc[row, 'verdict']}'.", sheet="Candidates", row=int(row),
            key="funding_choice", value=MUST_FUND, candidate_id=results.loc[row, "candidate_id"])


class _Asked:
    """The question to the solver: what the farms cost and bring, and the limits by family."""

    def __init__(self, known, goal_key, budgets, inputs):
        self.farms, self.budgets = known, budgets
        self.goal = known[goal_key].to_numpy(float)
        self.cost = known["incentive_cost_usd"].to_numpy(float)
        self.feeders = inputs.feeders.dropna(subset="spare_capacity_kw")
        coincidence = inputs.rules["feeder_coincidence_pct"] / 100
        on_feeder = known["feeder_id"].to_numpy()[:, np.newaxis] == self.feeders[
            "feeder_id"].to_numpy()
        self.load_kw = on_feeder * known[["added_load_kw"]].to_numpy(float) * coincidence
        choice = inputs.candidates["funding_choice"].reindex(known.index)
        self.families = {
            "capacity of feeders": {
                "load_kw": self.load_kw,
                "capacity_kw": self.feeders["spare_capacity_kw"].to_numpy(float)},
            "shared lines, all farms or none": {"group_code": _line_codes(known)},
            "farms that must be funded": {"must_fund": (choice == MUST_FUND).to_numpy()}}
        self.limits = {name: value for family in self.families.values()
                       for name, value in family.items()}

    def best(self, limits):
        """The best set; where it is not proven and the ranking happens on a better one, that."""
        found = budget.best_set(goal=self.goal, cost_usd=self.cost,
                                budget_usd=self.budgets, **limits)
        if found.is_proven or not found.is_feasible:
            return found
        year = self.in_order(True, limits)
        value = self.goal[year >= 0].sum()
        has_all = (year >= 0)[limits.get("must_fund", np.zeros(len(year), bool))].all()
        return replace(found, year=year, goal_value=value) if (
            has_all and value > found.goal_value) else found

    def in_order(self, skips_misfits, limits):
        return np.asarray(budget.in_order(
            order=self.farms["rank"].to_numpy(float), cost_usd=self.cost, budget_usd=self.budgets,
            skips_misfits=skips_misfits, **limits))


def _line_codes(farms):
    """Farms that pay for one shared line together: their figures hold only if all of them build."""
    pays = farms["shared_line_id"].notna() & (farms["shared_line_members"] > 1)
    together = farms["shared_line_id"].where(pays).astype(object).astype(str) + (
        " by " + farms["service_phases"].astype(str) + farms["line_build"])
    return np.where(pays, pd.factorize(together)[0], -1)


def _sets_table(chosen_by, goal_key, found):
    rows = []
    for name in METHODS:
        chosen = chosen_by[name]
        if name in found and not found[name].is_feasible:  # no such set: nothing to add up
            rows.append({"method": name})
            continue
        has_answer = name in found
        proven = float(found[name].is_proven) if has_answer else np.nan
        unknown = chosen[[*SUMMED, goal_key]].isna().any(axis=1)
        rows.append({"method": name, "farms": float(len(chosen)), "left_out": unknown.sum(),
                     **{key: known_sum(chosen[key]) for key in SUMMED},
                     "together_npv_usd": together_usd(chosen),
                     "goal_value": known_sum(chosen[goal_key]), "is_proven": proven,
                     "goal_bound": found[name].bound if has_answer else np.nan})
    sets = pd.DataFrame(rows, columns=["method", "farms", "left_out", *SUMMED, "goal_value",
                                       "is_proven", "goal_bound"])
    sets["goal_gain"] = sets["goal_value"] - sets["goal_value"].iloc[0]
    return sets


def _limits_table(asked, best):
    """What is used of each limit, whether it binds, and what lifting a whole family would gain."""
    if not best.is_feasible:
        return pd.DataFrame(columns=list(BUDGET_LIMITS.by_key))
    is_in = best.year >= 0
    waits = ~is_in & (asked.goal > 0)  # a farm that takes from the goal is left out for that
    rows = []
    for year, usd in enumerate(asked.budgets):
        used = asked.cost[best.year == year].sum()
        rows.append(_limit(f"budget, year {year + 1}", usd, used, "USD", asked.cost[waits]))
    for k, feeder in enumerate(asked.feeders.itertuples()):
        load_kw = asked.load_kw[:, k]
        rows.append(_limit(f"feeder {feeder.feeder_id}", feeder.spare_capacity_kw,
                           load_kw[is_in].sum(), "kW", load_kw[waits]))
    if len(asked.farms) > MOST_LIFTED:
        return pd.DataFrame(rows)
    lifted = {TENTH_MORE: {"budget_usd": asked.budgets * 1.1}} | {
        family: dict.fromkeys(limits) for family, limits in asked.families.items()}
    gains = budget.value_of_lifting(now=best, families=lifted, goal=asked.goal,
                                    cost_usd=asked.cost, budget_usd=asked.budgets, **asked.limits)
    rows += [_gain(family, gain, best) for family, gain in gains.items()]
    return pd.DataFrame(rows)


def _limit(name, limit, used, unit, waiting):
    """A limit binds where a farm that waits needs more of it than is left."""
    binds = (waiting > max(limit - used, 0.0) + 1e-6).any()
    return {"constraint": name, "limit": float(limit), "used": float(used), "unit": unit,
            "binds": float(binds), "gain_if_lifted": np.nan}


def _gain(name, gain, best):
    """A gain is what is certain of it; where nothing is, and a gain could be, it is not known."""
    least = 1e-6 * max(abs(best.goal_value), 1.0)
    is_open = gain.at_least <= least < gain.at_most
    return {"constraint": name, "limit": np.nan, "used": np.nan, "unit": "",
            "binds": np.nan if is_open else float(gain.at_least > least),
            "gain_if_lifted": np.nan if is_open else gain.at_least}
