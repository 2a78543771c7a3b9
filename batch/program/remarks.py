"""Findings that only the results can tell: no option that meets, no load, old prices."""

import numpy as np
import pandas as pd

from batch.columns import DELIVERED
from batch.columns.candidates import MUST_FUND, SINGLE_PHASE_DRIVE
from batch.columns.limits import LIMITS
from batch.columns.program import USEFUL_LOAD
from batch.columns.unit_costs import ITEMS, LINE, UNIT_COSTS
from batch.findings import WATCH
from batch.program.choosing import may_be_chosen, meets_limits, standing
from batch.program.season import is_standing
from batch.program.set_limits import ACCOUNT_CAP
from batch.program.sets import MOST_MEMBERS
from batch.program.stock import SLACK, Stock
from batch.reading.sheet_cells import letters_of

OLD_PRICES_YR = 2
CENT = 0.01
HOURS_YR = 8_784  # of a leap year


def remark_on_results(study):
    """Add the findings about results to the study's findings."""
    results, findings, rules = study.results, study.findings, study.inputs.rules

    def add(slug, row, message, **more):
        findings.add(slug, message, sheet="Candidates", row=int(row),
                     candidate_id=results.loc[row, "candidate_id"], **more)

    chosen = results[results["project_cost_usd"].notna()]
    _no_load("no-added-load", chosen, "added", add)
    if rules["ranking_counts"] == USEFUL_LOAD:
        _no_load("no-useful-load", chosen, "useful", add)
    _failing_options(study, chosen, add)
    remark_on_gaps(results, study.options, study.inputs)
    for row in chosen.index[chosen["above_farm_cap_usd"] > 0]:
        usd, cap = f"{chosen.loc[row, 'above_farm_cap_usd']:,.2f}", f"{rules['farm_cap_usd']:,.0f}"
        add("share-above-farm-cap", row, f"Candidates row {row}: of the cooperative's share {usd} "
            f"USD are above the cap per farm of {cap} USD and go to the member.",
            key="cooperative_cost_usd", value=usd, limit=cap)
    told = {f["row"] for f in findings.rows if f["slug"] == "fuel-price-missing"}
    _open_inputs(chosen, told, add)
    _several_rates(chosen, add)
    _must_fund(results, study.inputs.candidates["funding_choice"], add)
    _blank_accounts(study, add)
    for row in results.index[results["rank"].notna() & (results["may_be_funded"] == 0)]:
        add("known-too-little", row, f"Candidates row {row}: ranked, and no money yet: "
            f"{results.loc[row, 'next_cells']}.", key="next_cells",
            value=results.loc[row, "known_enough_for"], limit=rules["knowledge_for_money"])
    _unused_steps(study)
    _limited_lines(study)
    _whole_set(study)
    _meters(study)
    _shared_lines(study)
    unsettled = study.variants[study.variants["is_unsettled"]].groupby("excel_row")["variant"]
    for row, variants in unsettled.agg(", ".join).items():
        add("waveform-unsettled", row, f"Candidates row {row}: no steady waveform with {variants}.")
    _compare_approvals(study, add)
    _over_capacity(study)
    _over_stock(study)
    _old_prices(study, rules)


def _no_load(slug, chosen, word, add):
    key = f"{word}_load_kw"
    for row in chosen.index[chosen[key] <= 0]:
        value = f"{chosen.loc[row, key]:.4g}"
        add(slug, row, f"Candidates row {row}: the {word} load is {value} kW.",
            key=key, value=value, limit="0")


def _old_prices(study, rules):
    years = study.inputs.unit_costs["price_year"]
    old = years[years < rules.year - OLD_PRICES_YR]
    if len(old):
        study.findings.add(
            "cost-year-old",
            f"{len(old)} prices are of {int(old.min())} to {int(old.max())}; the rules are of "
            f"{rules.year}.", sheet=UNIT_COSTS.name, key="price_year", value=int(old.min()),
            limit=rules.year - OLD_PRICES_YR)


def remark_on_gaps(results, options, inputs, unsure=()):
    """What keeps farms without an error from being assessed: each price that the list lacks, with
    its size and the farms that ask for it, and what could not be sized. Prices of `unsure` items
    are not told: they may stand in rows that have faults."""
    findings, asked = inputs.findings, _asked_prices(options)
    awaited = asked[asked["is_awaited"]]
    for price, farms in awaited[~awaited["item"].isin(unsure)].groupby("price"):
        listed = list(dict.fromkeys(farms["candidate_id"]))
        findings.add("price-missing", f"{UNIT_COSTS.name}: no price for {price}, which "
                     f"{', '.join(listed)} ask{'s' if len(listed) == 1 else ''} for.",
                     sheet=UNIT_COSTS.name, key="price_usd", value=price)
    for row in sorted(_waiting_rows(options) - set(awaited["excel_row"])):
        findings.add("beyond-table",
                     f"Candidates row {row}: {results.loc[row, 'verdict_reason']}",
                     sheet="Candidates", row=int(row),
                     candidate_id=results.loc[row, "candidate_id"])


def missing_prices(options, unsure=()):
    """A row for every price that the list lacks for an option that a farm leaves open: item, size,
    the farms that ask for it, and those of them that are not assessed without it, the prices first
    for which most farms wait."""
    asked = _asked_prices(options)
    asked = asked[~asked["item"].isin(unsure)]
    rows = []
    for price, farms in asked.groupby("price"):
        item = farms["item"].iloc[0]
        waiting = farms.loc[farms["is_awaited"], "candidate_id"]
        rows.append({"item": item, "size": price.removeprefix(item).lstrip(" ,").removeprefix(
            "of "), "farms": ", ".join(dict.fromkeys(farms["candidate_id"])),
            "not_assessed_without": ", ".join(dict.fromkeys(waiting)), "waiting": len(waiting)})
    rows.sort(key=lambda row: -row.pop("waiting"))
    return pd.DataFrame(rows, columns=["item", "size", "farms", "not_assessed_without"])


def _waiting_rows(options) -> set:
    """Excel rows of the farms whose chosen option has no price."""
    unpriced = options[options["is_chosen"] & ~options["is_priced"]
                       & ~options["is_unsettled"].astype(bool)]
    return set(unpriced["excel_row"])


def _asked_prices(options):
    """Prices that options lack which may be chosen, one a row with its farm; awaited are those of
    options that might become the farm's choice, since it has no priced one as good."""
    rank = standing(options)
    chosen = options["is_chosen"]
    best = rank[chosen].set_axis(options.loc[chosen, "excel_row"])
    waits = options["excel_row"].isin(_waiting_rows(options)) & (
        rank == best.reindex(options["excel_row"]).to_numpy())
    asked = options.assign(is_awaited=waits)[may_be_chosen(options) & ~options["is_priced"]]
    asked = asked.assign(price=asked["missing_prices"].str.split("; ")).explode("price")
    asked = asked[asked["price"] != ""]
    items = sorted(ITEMS, key=len, reverse=True)  # 'line job' before 'line'
    item = asked["price"].map(lambda price: next(i for i in items if price.startswith(i)))
    return asked.assign(item=item)[["excel_row", "candidate_id", "price", "item", "is_awaited"]]


def _failing_options(study, chosen, add):
    """Farms whose option fails a check: since it was asked for, or since there is no better one."""
    fit = study.options[meets_limits(study.options)]
    fit = fit.groupby("excel_row")["supply_option"].agg(" and ".join)
    for row in chosen.index[chosen["fails_count"] > 0]:
        farm = chosen.loc[row]
        if row in fit.index:
            asked = farm["supply_option"]
            add("asked-option-fails", row, f"Candidates row {row}: the {asked} that is asked for "
                f"fails {farm['fails_names']}; {fit[row]} would fail no check.",
                key="supply_option", value=asked)
        else:
            add("nothing-meets", row, f"Candidates row {row}: {farm['option_reason']}",
                key="supply_option")


def _open_inputs(chosen, told, add):
    """Blank cells that leave a price or a comparison open; `told` are rows whose blank fuel price
    has been told."""
    is_drive = chosen["supply_option"] == SINGLE_PHASE_DRIVE
    for row in chosen.index[is_drive & chosen["lead_filter"].isna()]:
        add("lead-unknown", row, f"Candidates row {row}: a cable length is blank; a sine filter "
            "was priced.", key="motor_lead_ft")
    for key, taken in (("motor_lead", "the leads to the pump motor are"),
                       ("pivot_lead", "the lead to the pivot's panel is")):
        is_assumed = chosen[f"{key}_ft"].isna() & (chosen[f"{key}_used_ft"] > 0)
        for row in chosen.index[is_assumed]:
            feet = f"{chosen.loc[row, f'{key}_used_ft']:,.0f}"
            add("lead-length-assumed", row, f"Candidates row {row}: {taken} taken as {feet} ft "
                "long.", key=f"{key}_ft", value=feet)
    for row in chosen.index[chosen["present_cost_usd_yr"].isna() & ~chosen.index.isin(told)]:
        add("comparison-unknown", row, f"Candidates row {row}: saving and payback of the member "
            "are not assessed.", key="fuel_rate")


def _several_rates(chosen, add):
    """Why an IRR is blank where the member's flow has more than one."""
    for row in chosen.index[chosen["irr_root_count"] > 1]:
        changes, roots = (int(chosen.loc[row, key])
                          for key in ("flow_sign_changes", "irr_root_count"))
        add("several-rates-of-return", row, f"Candidates row {row}: the member's cash flow changes "
            f"its sign {changes} times, and its NPV is zero at {roots} rates.",
            key="member_irr_pct", value=roots, limit=1)


def _limited_lines(study):
    """Lines of so many farms that not every set of them is studied."""
    for line, farms in study.sets.limited.items():
        study.findings.add(
            "line-sets-limited", f"Shared line {line}: of its {len(farms)} farms not every set "
            "that might build was studied; the best set is not proven.",
            sheet="Shared lines", key="shared_line_id", value=line, limit=MOST_MEMBERS)
    for line in sorted(set(study.funding.searched.sets.limited) - set(study.sets.limited)):
        study.findings.add(
            "line-sets-limited", f"Shared line {line}: not every way to supply its farms was "
            "studied; the best set is not proven.", sheet="Shared lines", key="shared_line_id",
            value=line)


def _must_fund(results, choice, add):
    """Farms that the board must fund and that cannot be: they are in no set."""
    is_in_none = results["rank"].isna() & (results["in_best_set"] != 1)
    for row in choice.index[(choice == MUST_FUND) & is_in_none]:
        add("must-fund-unranked", row, f"Candidates row {row}: the farm must be funded, and its "
            f"verdict is '{results.loc[row, 'verdict']}'.", key="funding_choice", value=MUST_FUND)


def _blank_accounts(study, add):
    """Ranked farms without an account where the rules cap what an account may get."""
    cap, accounts = study.inputs.rules[ACCOUNT_CAP], study.inputs.candidates["member_account"]
    for row in accounts.index[accounts.isna() & study.results["rank"].notna()] if cap else ():
        add("account-blank", row, f"Candidates row {row}: no member account, and the cap per "
            f"account is {cap:,.0f} USD; the farm counts alone.", key="member_account",
            limit=f"{cap:g}")


def _whole_set(study):
    """Why no set keeps all limits, and the rules that no set meets."""
    if study.funding.conflict:
        study.findings.add(
            "budget-set-impossible", study.funding.conflict, sheet="Study",
            key="program_budget_usd", value=f"{study.funding.asked.budgets_usd.sum():,.2f}")
    budget = study.season.budget.head(1)
    for row in budget[budget["left_usd"] + budget["funded_now_usd"] < -CENT / 2].itertuples():
        study.findings.add(
            "budget-overcommitted", f"{row.paid_usd + row.committed_usd:,.2f} USD are paid and "
            f"committed; the budget has {row.budget_usd + row.carried_in_usd:,.2f} USD with what "
            "is carried in.", sheet="Study", key="program_budget_usd",
            value=f"{row.paid_usd + row.committed_usd:.2f}",
            limit=f"{row.budget_usd + row.carried_in_usd:.2f}")
    for unmet in study.funding.unmet:
        study.findings.add("set-limit-unmet", unmet.told, sheet="Program", key=unmet.rule,
                           value=f"{unmet.nearest:.4f}", limit=f"{unmet.bound:g}")


def _meters(study):
    """Readings of the Delivered sheet that can hardly be."""
    kva = dict(zip(study.results["candidate_id"], study.results["transformer_kva"]))
    letters = letters_of(study.inputs.cells.get(DELIVERED.name))
    for row in study.season.delivered.itertuples():
        name, hours = row.candidate_id, min(row.hours_run, HOURS_YR)
        hours = HOURS_YR if np.isnan(hours) else hours
        for key, is_unlikely, what in (
                ("metered_kw", row.metered_kw > kva[name],
                 f"{row.metered_kw:,.1f} kW on a transformer of {kva[name]:g} kVA"),
                ("metered_kwh", row.metered_kwh > row.metered_kw * hours,
                 f"{row.metered_kwh:,.0f} kWh, more than {row.metered_kw:,.1f} kW in {hours:,.0f} "
                 "hours")):
            if is_unlikely:
                study.findings.add(
                    "meter-unlikely", f"{DELIVERED.name}!{letters.get(key, '')}{row.Index}: "
                    f"'{name}' shows {what}.", sheet=DELIVERED.name, row=int(row.Index),
                    column=letters.get(key, ""), key=key, value=getattr(row, key),
                    candidate_id=name)


def _unused_steps(study):
    """Prices in steps of items that have none."""
    prices = study.inputs.unit_costs
    for row, price in prices[prices["from_ft"].gt(0) & (prices["item"] != LINE)].iterrows():
        study.findings.add(
            "price-step-ignored", f"{UNIT_COSTS.name} row {row}: '{price['item']}' from "
            f"{price['from_ft']:,.0f} ft is taken as one price.", sheet=UNIT_COSTS.name,
            row=int(row), key="from_ft", value=f"{price['from_ft']:g}")


def _shared_lines(study):
    """Lines on which a row with an error stands: its share is missing."""
    candidates, results = study.inputs.candidates, study.results
    open_rows = results["verdict"] == "incomplete"
    for line, members in candidates.groupby("shared_line_id"):
        missing = [str(c) for c in members.loc[open_rows[members.index], "candidate_id"]]
        if missing and len(missing) < len(members):
            study.findings.add(
                "shared-line-incomplete", f"Shared line {line}: {', '.join(missing)} of "
                f"{len(members)} farms not assessed.", sheet="Shared lines", key="shared_line_id",
                value=line)


def _compare_approvals(study, add):
    approved = study.inputs.candidates["approved_incentive_usd"]
    computed = study.results["incentive_usd"]
    differs = (approved.notna() & computed.notna() & ((approved - computed).abs() >= CENT)
               & ~is_standing(study.inputs.candidates))
    for row in approved.index[differs]:
        add("incentive-differs", row,
            f"Candidates row {row}: {approved[row]:,.2f} USD were approved; the rules of "
            f"{study.inputs.rules.year} give {computed[row]:,.2f} USD.",
            key="approved_incentive_usd", value=approved[row], limit=computed[row])


def _over_capacity(study):
    for feeder in study.feeders.itertuples():
        if feeder.answer == "fails":
            study.findings.add(
                "feeder-over-capacity",
                f"Feeder {feeder.feeder_id}: {feeder.diversified_kw:,.0f} kW of all ranked farms "
                f"stand against {feeder.spare_capacity_kw:,.0f} kW of spare capacity; down the "
                f"ranking, {feeder.breaking_candidate} is the first that does not fit.",
                sheet="Feeders", key="spare_capacity_kw", value=f"{feeder.diversified_kw:.6g}",
                limit=f"{feeder.spare_capacity_kw:.6g}")
        if feeder.unbalance_answer == WATCH:
            limit = study.inputs.rules["voltage_unbalance_limit_pct"]
            study.findings.add(
                "feeder-unbalanced", f"Feeder {feeder.feeder_id}: up to "
                f"{feeder.voltage_unbalance_pct:.1f} % voltage unbalance with the funded farms "
                f"(limit {limit:g} %).", sheet="Feeders",
                value=f"{feeder.voltage_unbalance_pct:.4g}", limit=f"{limit:g}")


def _over_stock(study):
    """Rows of the Limits sheet of which the funded farms take more than there is."""
    stock = Stock.of(study.inputs)
    if not stock.rows or not study.funding.funded:
        return
    farms = study.sets.rows_of(list(study.funding.funded))
    for row, each in zip(stock.rows, stock.amounts(farms)):
        if (taken := each.sum()) > row.available + SLACK:
            study.findings.add(
                "limit-exceeded", f"{LIMITS.name} row {row.row}: the funded farms take "
                f"{taken:,.7g} {row.unit} of '{row.name}'; {row.available:,.7g} {row.unit} are "
                "available.", sheet=LIMITS.name, row=row.row, key="available",
                value=f"{taken:.7g}", limit=f"{row.available:.7g}")
