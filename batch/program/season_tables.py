"""What the season's tables tell: the budget to the cent, who waits, and what became of the farms
that were approved."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from batch.columns.candidates import IN_SERVICE, STATUSES
from batch.columns.season import APPROVED_FARMS, BUDGET, WAITING_LIST
from batch.columns.study import BUDGETS
from batch.portfolio.settled_ranking import CENTS
from batch.program import delivered
from batch.program.choosing import CONDITIONS, INCOMPLETE, QUALIFIES
from batch.program.season import (
    approved_usd,
    committed_usd,
    has_left,
    is_standing,
    paid_usd,
    rules_year_of,
)
from batch.program.set_groups import counted_by_budget


class Season(NamedTuple):
    """The season's tables; any may be empty."""

    budget: pd.DataFrame
    waiting: pd.DataFrame
    approved: pd.DataFrame
    delivered: pd.DataFrame
    realization: pd.DataFrame


def of(results, funding, inputs) -> Season:
    """The tables of one study."""
    waiting, farms = waiting_list(funding), delivered.delivered_farms(inputs, results)
    return Season(budget(funding, inputs, waiting), waiting,
                  approved_farms(results, funding.funded_sets, inputs), farms,
                  delivered.realization(farms))


def budget(funding, inputs, waiting) -> pd.DataFrame:
    """A row for each program year: what its budget has paid, promised, gives now and has left, and
    what the waiting list asks."""
    given = [inputs.study[key] for key in BUDGETS][:len(funding.asked.budgets_usd)]
    first, candidates = inputs.study["rules_year"], inputs.candidates
    rows, year_of = [], funding.year_by.get(funding.by, {})
    for k, usd in enumerate(given):
        mine = [row for row in funding.funded if year_of.get(row, 0) == k]
        now = counted_by_budget(funding.funded_sets.rows_of(mine), inputs.rules).sum()
        row = {"program_year": first + k, "budget_usd": usd or 0.0, "carried_in_usd": 0.0,
               "paid_usd": 0.0, "committed_usd": 0.0, "funded_now_usd": now, "waiting_usd": np.nan}
        if k == 0:
            row |= {"carried_in_usd": inputs.study["carried_in_usd"] or 0.0,
                    "paid_usd": paid_usd(inputs).sum(),
                    "committed_usd": committed_usd(candidates).sum(),
                    "waiting_usd": waiting["asks_usd"].sum()}
        cents = {key: round(CENTS * row[key]) for key in row if key.endswith("_usd")
                 and not np.isnan(row[key])}
        left = (cents["budget_usd"] + cents["carried_in_usd"] - cents["paid_usd"]
                - cents["committed_usd"] - cents["funded_now_usd"])
        rows.append(row | {key: value / CENTS for key, value in cents.items()}
                    | {"left_usd": left / CENTS})
    return pd.DataFrame(rows, columns=list(BUDGET.by_key))


def waiting_list(funding) -> pd.DataFrame:
    """Those that may be funded and are not, in the ranking's order: what each farm, or each group
    of a line, asks beside the funded ones and all that wait before it, and how much more money than
    is left would have to be there."""
    asked, rows, so_far = funding.asked, [], 0
    if not asked.has_budget:
        return pd.DataFrame(columns=list(WAITING_LIST.by_key))
    now = [sum(1 << k for k, row in enumerate(members) if row in funding.funded)
           for members, _, _ in asked.sets.groups]
    budgets = asked.budget_cents if funding.funds_best_set else asked.budget_cents[:1]
    left = budgets.sum() - sum(line.added_budget_cents(0, number)
                               for line, number in zip(asked.lines, now))
    for entry in asked.entries:
        line, before = asked.lines[entry.line], now[entry.line]
        after = before | (entry.after ^ entry.before)
        if after == before or not line.may_fund(after):
            continue
        asks, now[entry.line] = line.added_budget_cents(before, after), after
        so_far += asks
        rows.append({"place": len(rows) + 1, "farms": ", ".join(line.members(after ^ before)),
                     "asks_usd": asks / CENTS, "so_far_usd": so_far / CENTS,
                     "must_be_free_usd": max(so_far - left, 0) / CENTS})
    return pd.DataFrame(rows, columns=list(WAITING_LIST.by_key))


def approved_farms(results, sets, inputs) -> pd.DataFrame:
    """A row for each farm that was approved and has not left: what was promised beside what today's
    prices and loads give, and why they differ."""
    mine = is_standing(inputs.candidates)
    if not mine.any():
        return pd.DataFrame(columns=list(APPROVED_FARMS.by_key))
    candidates, farms = inputs.candidates[mine], results[mine]
    promised, today = approved_usd(candidates), farms["incentive_cost_usd"]
    out = pd.DataFrame({
        "candidate_id": candidates["candidate_id"], "status": candidates["status"],
        "rules_year": rules_year_of(inputs)[mine].astype(float), "verdict": farms["verdict"],
        "promised_usd": promised, "today_usd": today, "change_usd": today - promised,
        "partners_left_usd": [_of_partners_left(row, results, sets, inputs)
                              for row in candidates.index],
        "approved_added_load_kw": candidates["approved_added_load_kw"],
        "added_load_kw": farms["added_load_kw"],
        "load_change_kw": farms["added_load_kw"] - candidates["approved_added_load_kw"],
        "approved_project_cost_usd": candidates["approved_project_cost_usd"],
        "project_cost_usd": farms["project_cost_usd"],
        "cost_change_usd": farms["project_cost_usd"] - candidates["approved_project_cost_usd"],
        "approval_expires": candidates["approval_expires"]})
    order = pd.Categorical(out["status"], STATUSES, ordered=True)
    out["told"] = [_told(row) for row in out.itertuples()]
    return out.assign(order=order).sort_values(["order", "candidate_id"])[
        list(APPROVED_FARMS.by_key)]


def _of_partners_left(row, results, sets, inputs) -> float:
    """What the farm's project costs more because farms of its line have left: the cost where they
    would still build taken off [USD]; 0 where none has left."""
    gone = set(inputs.candidates.index[has_left(inputs.candidates)])
    left = sets.on_line.get(sets.line_of.get(row), set()) & gone
    if not left:
        return 0.0
    now = set(map(int, results.at[row, "builders"].split()))
    with_them = sets.number_of.get((row, " ".join(map(str, sorted(now | left)))))
    if with_them not in sets.chosen.index:
        return np.nan
    return float(results.at[row, "project_cost_usd"]
                 - sets.chosen.at[with_them, "project_cost_usd"])


def _told(farm) -> str:
    """What the board has promised and what has changed, in a sentence or two."""
    texts = []
    if np.isnan(farm.promised_usd):
        texts.append("No approved amount is given.")
    elif farm.status == IN_SERVICE:
        texts.append(f"{farm.promised_usd:,.2f} USD were approved.")
    else:
        texts.append(f"{farm.promised_usd:,.2f} USD stay promised.")
    if abs(farm.change_usd) >= 0.005:
        more = "more" if farm.change_usd > 0 else "less"
        texts.append(f"Judged again, the rules give {farm.today_usd:,.2f} USD, "
                     f"{abs(farm.change_usd):,.2f} USD {more}.")
    for change, what, unit in ((farm.load_change_kw, "The added load", "kW"),
                               (farm.cost_change_usd, "The project's cost", "USD")):
        if abs(change) >= 0.05:
            texts.append(f"{what} is {abs(change):,.1f} {unit} "
                         f"{'higher' if change > 0 else 'lower'} than approved.")
    if farm.partners_left_usd > 0.005:
        texts.append(f"{farm.partners_left_usd:,.2f} USD of the cost come of farms that left the "
                     "line.")
    if farm.verdict not in (QUALIFIES, CONDITIONS):
        texts.append(f"Today it {'is not assessed' if farm.verdict == INCOMPLETE else farm.verdict}"
                     ".")
    return " ".join(texts)
