"""The budget: the settled ranking's line beside the best sets, and who is funded, decided once."""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
import pandas as pd

from batch.columns.portfolio import BUDGET_LIMITS, BUDGET_SETS
from batch.columns.program import BY_BEST_SET, DESIGNS, OPTIONS, PARTNERS
from batch.portfolio.exact_set import Selection
from batch.portfolio.settled_ranking import CENTS, WATTS, down_the_ranking
from batch.program.best_set import ALL, Asked, best_set, goal_key
from batch.program.conflict import conflict
from batch.program.set_limits import CEILING, FEEDERS, FLOORS, IN_WORDS, STOCK, told_limit
from batch.program.totals import known_sum, together_usd
from batch.program.wider import open_designs, settled, that_chooses, with_ways

STOPS, SKIPS, WITHIN, BEST_ALONE, BEST_WITHIN = METHODS = (
    "ranking, stop at the first misfit", "ranking, skip misfits",
    "ranking within all limits", "best set, budget only", "best set within all limits")
SUMMED = ("incentive_cost_usd", "added_load_kw", "useful_load_kw", "cooperative_npv_usd",
          "together_npv_usd",
          "total_resource_npv_usd", "member_saving_usd_yr")
TENTH_MORE = "budget, a tenth more"
OWN_RULE = {OPTIONS: "each farm's option by its own rule",
            DESIGNS: "each farm's option and design by its own rule"}
MOST_LIFTED = 500  # farms; each lifted limit is one more search
LOSS_USD = 1.0  # a member whose NPV falls by more loses


def ways_of(asked: Asked, searched: Asked) -> tuple[dict, dict[str, Selection]]:
    """What each way to give out the budget takes, line -> (year, set), by its name; and what the
    searches for the best, which are asked `searched`, have found."""
    cents = asked.budget_cents
    first = [entry for entry in asked.entries
             if asked.must_of(entry.line) & (entry.after ^ entry.before)]
    walks = {STOPS: {"skips_misfits": False}, SKIPS: {"skips_misfits": True},
             WITHIN: {"skips_misfits": True, "first": first, "uses": asked.uses,
                      "room": asked.room}}
    taken = {name: down_the_ranking(asked.entries, asked.lines, budget_cents=cents, **how)
             for name, how in walks.items()}
    found = {}
    for name, how in ((BEST_ALONE, {"without": ALL, "must": ()}), (BEST_WITHIN, {})):
        found[name], taken[name] = best_set(searched, budget_cents=cents, **how)
    return taken, found


class Entered(NamedTuple):
    """A farm's entry in the ranking: place, figure [USD/kW], running total [USD], the rows that had
    entered by then, whether it may be funded, and what budgets count so far [USD]."""

    rank: int
    usd_per_kw: float
    running_usd: float
    rows: tuple[int, ...]
    may_be_funded: bool
    counted_usd: float


class Unmet(NamedTuple):
    """A rule about the whole set that no set meets: its key, what the nearest set has, the bound,
    and a sentence."""

    rule: str
    nearest: float
    bound: float
    told: str


@dataclass(frozen=True)
class Funding:
    """Who is funded, decided once, and the ways to give out the budget beside it.

    `year_by` has, for each way, the 0-based year of every farm that it funds, by row; `funded` are
    the rows of the farms that count as funded, `by` the way that decided it ("" without a budget);
    `in_line` are those within the ranking's budget line, which is the first year's; `entered` are
    the ranked farms, by row. `asked` is the question by each farm's own option, `searched` that of
    the best sets, and `chose` the ways whose set chose its farms' options. `conflict` says why no
    set keeps all limits, where none does, and `unmet` which rules no set meets. The tables are
    empty without a budget.
    """

    asked: Asked
    sets: pd.DataFrame
    limits: pd.DataFrame
    year_by: dict[str, dict[int, int]]
    best_is_known: bool
    funded: tuple[int, ...]
    by: str
    in_line: tuple[int, ...]
    entered: dict[int, Entered]
    conflict: str = ""
    unmet: tuple[Unmet, ...] = ()
    searched: Asked | None = None
    chose: frozenset = frozenset()

    def held_to_usd(self, way: str) -> float:
        """The money that a way's farms are held to [USD]: of all years for a best set, of the first
        for the ranking's line; NaN without a budget."""
        given = self.asked.budgets_usd
        if not self.asked.has_budget:
            return np.nan
        return float(given.sum() if way == BEST_WITHIN else given[0])

    def sets_of(self, way: str):
        """The studied sets as a way to give out the budget sees them."""
        sets = self.asked.sets
        return sets.seen_by(way) if way in self.chose else sets

    @cached_property
    def best_sets(self):
        """The studied sets as the best set sees them."""
        return self.sets_of(BEST_WITHIN)

    @cached_property
    def funded_sets(self):
        """The studied sets as the funded set sees them."""
        return self.sets_of(self.by)

    @property
    def chosen_for(self) -> tuple[int, ...]:
        """The rows of the funded farms whose options the funded set chose."""
        return self.funded if self.by in self.chose else ()

    @property
    def funds_best_set(self) -> bool:
        """Whether the best set is what is funded: by the rules, and there is one."""
        return self.by == BEST_WITHIN


def give_out(sets, inputs, farms=None, study=None) -> Funding:
    """Every way of giving out the budget, and by the program's method who is funded: within the
    ranking's line, or the best set; all that may be funded where there is no budget. Where no set
    keeps all limits the ranking's line stands in, so that the budget holds. `study` studies some of
    the farms anew, where the best sets choose their options."""
    asked = Asked.of(sets, inputs)
    if not asked.has_budget:
        entered = _entered(asked)
        funded = [row for row, entry in entered.items() if entry.may_be_funded]
        return Funding(asked, pd.DataFrame(columns=list(BUDGET_SETS.by_key)),
                       pd.DataFrame(columns=list(BUDGET_LIMITS.by_key)), {}, False,
                       tuple(sorted(funded)), "", (), entered, searched=asked)
    is_by_rule = inputs.rules["set_chooses"] == PARTNERS
    searched = asked if is_by_rule else that_chooses(asked, farms, inputs, study)
    taken, found = ways_of(asked, searched)
    if not is_by_rule:
        best = {way: _chosen_by(searched, taken[way]) for way in found}
        asked = replace(asked, sets=settled(sets, best, farms, inputs, study))
    return _decided(asked, searched, taken, found, inputs)


def _chosen_by(searched, taken) -> pd.DataFrame:
    """The options that a best set chooses for its farms, by the farms' rows."""
    numbers = [one for line, (_, number) in taken.items()
               for one in searched.sets.groups[line][2][number]]
    return searched.sets.chosen.loc[numbers].set_index("farm_row")


def _decided(asked, searched, taken, found, inputs) -> Funding:
    """Who is funded, given what each way takes."""
    within, best = found[BEST_WITHIN], frozenset(found) if searched is not asked else frozenset()
    funding = Funding(
        asked, pd.DataFrame(), pd.DataFrame(),
        {name: asked.chosen(chosen) for name, chosen in taken.items()}, within.is_feasible, (), "",
        (), _entered(asked), "" if within.is_feasible else conflict(searched),
        tuple(_unmet(searched)), searched, best)
    by_set = inputs.rules["budget_method"] == BY_BEST_SET and within.is_feasible
    line = tuple(sorted(row for row, year in funding.year_by[STOPS].items() if year == 0))
    return replace(
        funding, sets=_sets_table(funding, found, inputs),
        limits=_limits_table(searched, within, taken[BEST_WITHIN], inputs),
        funded=tuple(sorted(funding.year_by[BEST_WITHIN])) if by_set else line,
        by=BEST_WITHIN if by_set else STOPS, in_line=line)


def _unmet(asked):
    """Rules about the whole set that no farm meets, nor farms of one line together: then no set
    but the empty one meets them, since a sum over a sum is never beyond the best of its parts."""
    for limit in asked.limits:
        uses = limit.row.uses[asked.is_known]
        if limit.family in (*FLOORS, CEILING) and len(uses) and (uses > 0).all():
            figures = (limit.over / limit.under)[asked.is_known]
            at = np.flatnonzero(asked.is_known)[
                np.argmin(figures) if limit.family == CEILING else np.argmax(figures)]
            line, number = asked.configurations.loc[at, ["line", "number"]]
            has = limit.used([at])
            yield Unmet(limit.family, has, limit.allowed, (
                f"Rule {limit.family}: no set of farms reaches {told_limit(limit)}; the nearest "
                f"has {has:,.4f}: {', '.join(asked.lines[line].members(number))}."))


def _entered(asked):
    """The ranked farms' entries, by row."""
    out, so_far = {}, []
    for entry in asked.entries:
        group = asked.farms_of(entry.line, entry.after ^ entry.before)
        may = asked.lines[entry.line].may_fund(entry.after)
        so_far = so_far + group
        for row in group:
            out[row] = Entered(len(out) + 1, entry.cents_per_watt * WATTS / CENTS,
                               entry.running_cents / CENTS, tuple(so_far), may,
                               entry.running_budget_cents / CENTS)
    return out


def _sets_table(funding, found, inputs):
    """A row for each way: the sums of exactly its farms, settled."""
    rows = []
    goal = goal_key(inputs.rules)
    for name in METHODS:
        if name in found and not found[name].is_feasible:  # no such set: nothing to add up
            rows.append({"method": name})
            continue
        sets, members = funding.sets_of(name), sorted(funding.year_by[name])
        farms = sets.rows_of(members)
        unknown = farms[[*SUMMED, goal]].isna().any(axis=1)
        worst, losers = _worst_withdrawal(sets, members, goal)
        row = {"method": name, "farms": float(len(farms)), "left_out": unknown.sum(),
               **{key: known_sum(farms[key]) for key in SUMMED},
               "together_npv_usd": together_usd(farms), "goal_value": known_sum(farms[goal]),
               "is_proven": np.nan, "goal_bound": np.nan, "gap_usd": np.nan,
               "worst_withdrawal_usd": worst, "members_who_lose": losers}
        if name in found:
            row |= {"is_proven": float(found[name].is_proven), "goal_bound": found[name].bound,
                    "gap_usd": found[name].bound - found[name].value}
        rows.append(row)
    sets = pd.DataFrame(rows, columns=[key for key in BUDGET_SETS.by_key if key != "goal_gain"])
    sets["goal_gain"] = sets["goal_value"] - sets["goal_value"].iloc[0]
    return sets


def _worst_withdrawal(sets, members, goal):
    """The largest fall of the goal when one farm leaves and the rest stay, and how many members'
    NPV falls by more than a dollar then."""
    worst, together = (0.0, 0), set(members)
    value, npv = (dict(sets.chosen[key].items()) for key in (goal, "member_npv_usd"))
    for farm in members:
        mates = sets.mates(farm, together)
        before = {one: sets.number_of[one, sets.builders_in(one, together)]
                  for one in (farm, *mates)}
        after = {one: sets.number_of.get((one, sets.builders_in(one, together - {farm})))
                 for one in mates}
        if not all(number in value for number in after.values()):
            continue  # not studied, or one of it has no option that may be chosen
        fall = sum(value[one] for one in before.values()) - sum(
            value[one] for one in after.values())
        losers = sum(npv[before[one]] - npv[after[one]] > LOSS_USD for one in mates)
        worst = max(worst, (float(np.nan_to_num(fall)), losers))
    return worst


def _limits_table(asked, best, taken, inputs):
    """What is used of each limit, whether it binds, and what lifting a whole family would gain."""
    if not best.is_feasible:
        return pd.DataFrame(columns=list(BUDGET_LIMITS.by_key))
    every = asked.configurations[asked.is_known]
    is_taken = np.array([taken.get(line, (0, 0))[1] == number
                         for line, number in zip(every["line"], every["number"])], bool)
    at, waits = every.index[is_taken], every[
        ~every["line"].isin(taken) & (every["value"] > 0)].index
    years = np.array([taken[line][0] for line in every["line"][is_taken]], int)
    counted = asked.configurations["budget_cents"].to_numpy(float)
    rows = [_limit(f"budget, year {year + 1}", usd, counted[at[years == year]].sum() / CENTS, "USD",
                   counted[waits] / CENTS) for year, usd in enumerate(asked.budgets_usd)]
    rows += [_of_set(limit, at, waits) for limit in asked.limits]
    if sum(len(line.names) for line in asked.lines) > MOST_LIFTED:
        return pd.DataFrame(rows)
    cents = asked.budget_cents
    lifted = {TENTH_MORE: {"budget_cents": np.floor(asked.budgets_usd * 1.1 * CENTS + 1e-3)}}
    stock = [limit.row.name for limit in asked.limits if limit.family == STOCK]
    for family in (FEEDERS, *([STOCK] if len(stock) > 1 else ()), *asked.rules):
        lifted[IN_WORDS[family]] = {"budget_cents": cents, "without": (family,)}
    for name in stock:
        lifted[name] = {"budget_cents": cents, "without": (name,)}
    lifted["farms that must be funded"] = {"budget_cents": cents, "must": ()}
    gains = [_gain(name, best_set(asked, **how)[0], best) for name, how in lifted.items()]
    return _joined(rows, [*gains, *_wider_gains(asked, best, inputs)])


def _wider_gains(asked, best, inputs):
    """What the best set would gain, at least, if it also chose its farms' options or designs."""
    if inputs.rules["set_chooses"] != PARTNERS:
        return
    others = open_designs(asked.sets, inputs, every=True)
    others = others[~others.index.isin(asked.sets.judged.index)]
    is_option = others.index.isin(asked.sets.options.index)
    for chooses, some in ((OPTIONS, others[is_option]), (DESIGNS, others)):
        if len(some):
            wider = best_set(with_ways(asked, some), budget_cents=asked.budget_cents)[0]
            yield _gain(OWN_RULE[chooses], wider, best)


def _joined(rows, gains) -> pd.DataFrame:
    """The limits with what lifting a family gains, in a row of its own where it has none."""
    own = {row["constraint"]: row for row in rows}
    for gain in gains:
        if gain["constraint"] in own:
            own[gain["constraint"]] |= {key: gain[key] for key in ("binds", "gain_if_lifted")}
    return pd.DataFrame([*rows, *(gain for gain in gains if gain["constraint"] not in own)])


def _of_set(limit, taken, waits):
    """A limit binds where a group that waits needs more of it than is left."""
    left = limit.row.at_most - limit.row.uses[taken].sum()
    return {"constraint": limit.row.name, "limit": float(limit.allowed),
            "used": limit.used(taken), "unit": limit.unit,
            "binds": float((limit.row.uses[waits] > max(left, 0.0)).any()),
            "gain_if_lifted": np.nan}


def _limit(name, limit, used, unit, waiting):
    """A limit binds where a group that waits needs more of it than is left."""
    binds = (waiting > max(limit - used, 0.0) + 1e-6).any()
    return {"constraint": name, "limit": float(limit), "used": float(used), "unit": unit,
            "binds": float(binds), "gain_if_lifted": np.nan}


def _gain(name, lifted, best):
    """A gain is what is certain of it; where nothing is, and a gain could be, it is not known."""
    least, most = (max(value, 0.0) for value in (lifted.value - best.bound,
                                                 lifted.bound - best.value))
    enough = 1e-6 * max(abs(best.value), 1.0)
    is_open = least <= enough < most
    return {"constraint": name, "limit": np.nan, "used": np.nan, "unit": "",
            "binds": np.nan if is_open else float(least > enough),
            "gain_if_lifted": np.nan if is_open else least}
