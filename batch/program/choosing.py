"""One variant per supply option, one option per farm, and the verdict.

Both choices follow one rule: the least project cost among those that fail no check; where all
fail one, the fewest failures and then the least cost, so that the reader sees the nearest miss.
Among the variants of one option the one with fewer open limits goes before the cheaper one; what
is advice, or only watched, has no say.
"""

import numpy as np
import pandas as pd

from batch.columns.candidates import SINGLE_PHASE_DRIVE, SUPPLY_OPTIONS
from batch.columns.program import (
    APPLIED,
    DESIGNS,
    LEAST_FIRST_COST,
    LEAST_LIFE_COST,
    MEMBERS_NPV,
    NO_FLOOR,
    WATCHED,
)
from batch.columns.results import VERDICTS
from batch.findings import FAILS, NOT_ASSESSED, WATCH, judge
from batch.money.prices import ASKED_NEEDS, price_gaps
from batch.step import step
from batch.supply.checks import AT_LEAST, AT_MOST
from batch.supply.judging import check_rows

QUALIFIES, CONDITIONS, NOT_QUALIFIED, INCOMPLETE = VERDICTS
AUTO, BARE = "auto", "bare drive"
MOST_NAMED = 3
COOPERATIVE_PAYBACK = "cooperative payback with incentive"
MEMBER_PAYBACK = "member payback with incentive"
MEMBER_NPV = "member NPV with incentive"
COOPERATIVE, MEMBER = "cooperative", "member"
# Of each party's payback: the yearly money that pays back, and what is paid back.
PAYBACK_OF = {COOPERATIVE: ("margin_usd_yr", "cooperative_outlay_usd"),
              MEMBER: ("member_saving_usd_yr", "member_net_cost_usd")}
BINARY_TAIL = 1e-9  # of a payback that an incentive in whole cents has brought to its very limit
LIMIT_WORD = {APPLIED: "a limit", WATCHED: "a watched limit"}
# By what a farm's options are compared, and what it is called beside their first cost.
OPTION_FIGURES = {LEAST_FIRST_COST: "project_cost_usd", LEAST_LIFE_COST: "life_cost_usd",
                  MEMBERS_NPV: "member_npv_usd"}
FIGURE_WORDS = {LEAST_FIRST_COST: "", LEAST_LIFE_COST: "over life", MEMBERS_NPV: "member's NPV"}
WHY_CHOSEN = {LEAST_FIRST_COST: "Least first cost", LEAST_LIFE_COST: "Least cost over life",
              MEMBERS_NPV: "Largest NPV of the member"}
CRITERIA = (COOPERATIVE_PAYBACK, MEMBER_PAYBACK, MEMBER_NPV)


@step(
    needs=ASKED_NEEDS + """
        variant wanted_option supply_design line_build excel_row added_load_kw is_unsettled
        fails_count open_limits_count paid_line_ft project_cost_usd member_cost_usd""",
    makes="is_priced option_place missing_items missing_prices may_have_incentive")
def best_variants(designs: pd.DataFrame, price_list) -> pd.DataFrame:
    """The best variant of each option of each farm: one row per candidate and supply option.

    It is the one that the workbook asks for; else, of those that meet every limit, the one of
    least first cost. An option that meets them may have the incentive.
    """
    designs = designs.assign(
        is_priced=designs["project_cost_usd"].notna() & designs["added_load_kw"].notna(),
        option_place=designs["supply_option"].map(
            {option: place for place, option in enumerate(SUPPLY_OPTIONS)}))
    order = ["excel_row", "option_place", "is_barred", "standing", "fails_count",
             "open_limits_count", "project_cost_usd", "member_cost_usd"]
    ranked = designs.assign(standing=standing(designs), is_barred=_is_other_design(designs))[
        order].sort_values(order, kind="stable")
    best = ranked.drop_duplicates(["excel_row", "option_place"])
    options = _with_gaps(designs.loc[best.index], price_list)
    return options.assign(may_have_incentive=meets_limits(options).astype(float))


def standing(options: pd.DataFrame) -> pd.Series:
    """What stands before what: an option that meets every limit (0), one without a price that
    fails none (1), which might meet them, one that fails (2), and one that fails unpriced (3)."""
    return 2 * (options["fails_count"] > 0) + ~options["is_priced"]


def _with_gaps(options, price_list):
    """Why an option could not be priced, in words: the items without size or price, or the current
    that none of them could be sized for; and the items without a price alone."""
    unpriced = options[~options["is_priced"]]
    gaps = price_gaps(unpriced, price_list)
    why = pd.Series(np.select(
        [unpriced["is_unsettled"], (gaps == "").all(axis=1)],
        ["no steady current of the drive", "the added load is not known"],
        _joined("no price for ", gaps["no_price"], "no size of ", gaps["no_size"])),
        unpriced.index, dtype=object)
    no_price = gaps["no_price"].where(~unpriced["is_unsettled"].astype(bool), "")
    return options.assign(missing_items=why.reindex(options.index),
                          missing_prices=no_price.reindex(options.index, fill_value=""))


def _joined(one, ones, other, others):
    both = (ones != "") & (others != "")
    return (np.where(ones == "", "", one + ones) + np.where(both, "; ", "")
            + np.where(others == "", "", other + others))


def meets_limits(options: pd.DataFrame) -> pd.Series:
    """The options that are priced and fail no check."""
    return standing(options) == 0


def may_be_chosen(options: pd.DataFrame) -> pd.Series:
    """The options that the workbook leaves open: the one that it asks for, by its design where it
    asks for one, or all whose line has a length; a blank distance leaves an option out."""
    wanted, has_length = options["wanted_option"], options["paid_line_ft"].notna()
    some_have = has_length.groupby(options["excel_row"]).transform("any")
    is_wanted = (wanted == options["supply_option"]) & ~_is_other_design(options)
    return is_wanted | ((wanted == AUTO) & (has_length | ~some_have))


def _is_other_design(options):
    """The designs of the option that the workbook asks for, where it asks for another one."""
    asked = options["supply_design"]
    return ((options["wanted_option"] == options["supply_option"]) & asked.notna()
            & (asked != options["variant"]))


@step(
    needs="""
        supply_option variant excel_row wanted_option supply_design fails_count paid_line_ft
        project_cost_usd member_cost_usd is_priced member_npv_usd life_cost_usd""",
    rules="option_chosen_by",
    makes="is_chosen")
def choose_option(options: pd.DataFrame, rules) -> pd.Series:
    """Which of its options each farm gets.

    An unknown figure stands last; equal ones go by first cost.
    """
    options = options.assign(standing=standing(options), figure=_figure(options, rules))
    order = ["excel_row", "standing", "fails_count", "figure", "project_cost_usd",
             "member_cost_usd"]
    ranked = options.loc[may_be_chosen(options), order].sort_values(order, kind="stable")
    chosen = ranked.drop_duplicates("excel_row").index
    return pd.Series(options.index.isin(chosen), options.index, name="is_chosen")


def _figure(options, rules):
    """What options are compared by, least first [USD]."""
    key = OPTION_FIGURES[rules["option_chosen_by"]]
    return -options[key] if key == "member_npv_usd" else options[key]


@step(
    needs="""
        supply_option excel_row variant wanted_option supply_design fails_count
        not_assessed_count fails_names paid_line_ft project_cost_usd is_priced missing_items
        member_npv_usd life_cost_usd""",
    rules="option_chosen_by set_chooses",
    makes="option_reason")
def option_reasons(options: pd.DataFrame, rules, funding, inputs) -> pd.Series:
    """For each farm's chosen row: why it won, and what was against the others."""
    by = rules["option_chosen_by"]
    key, words = OPTION_FIGURES[by], FIGURE_WORDS[by]

    def one(option):
        if not option.is_priced:
            return f"{option.supply_option}: not assessed ({option.missing_items})"
        price = f"{option.supply_option} ({option.variant}): {option.project_cost_usd:,.0f} USD"
        usd = getattr(option, key)
        figure = "" if not words else f", {words} " + (
            "not assessed" if np.isnan(usd) else f"{usd:,.0f} USD")
        failed = f"fails {option.fails_names}" if option.fails_count else "fails no check"
        n = int(option.not_assessed_count)
        return f"{price}{figure}, {failed}" + (f" ({n} not assessed)" if n else "")

    text = pd.Series([one(option) for option in options.itertuples()], options.index, dtype=object)
    listed = text.groupby(options["excel_row"]).agg("; ".join)
    best = standing(options)[may_be_chosen(options)].groupby(options["excel_row"]).min()
    best = options["excel_row"].map(best)
    typed = options["excel_row"].map(inputs.candidates["supply_option"]) != AUTO
    by_set = options["excel_row"].isin(funding.chosen_for)
    why = np.select(
        [by_set & ~typed, by_set & (rules["set_chooses"] == DESIGNS), typed, best == 0, best == 1],
        ["Chosen by the best set.",
         "Asked for in the workbook; its design is the best set's choice.",
         "Asked for in the workbook.",
         f"{WHY_CHOSEN[by]} among the options that fail no check.",
         "No option that has a price meets every limit, and this one has none."],
        "No option meets every limit; shown is the one with the fewest failures.")
    why = pd.Series(why, options.index, dtype=object)
    return (why + " Compared: " + options["excel_row"].map(listed) + ".").rename("option_reason")


@step(
    needs="supply_option excel_row variant current_tdd_pct tdd_limit_pct project_cost_usd",
    rules="current_limits_apply",
    makes="mitigation_reason")
def mitigation_reasons(options: pd.DataFrame, designs: pd.DataFrame, rules) -> pd.Series:
    """For each drive option: what the bare drive's current does, and what taming it takes.

    A limit that is off is not named.
    """
    drives = options[options["supply_option"] == SINGLE_PHASE_DRIVE]
    bare = designs[designs["variant"] == BARE].set_index("excel_row")[
        ["current_tdd_pct", "tdd_limit_pct", "project_cost_usd", "fails_names"]
    ].add_prefix("bare_")
    word = LIMIT_WORD.get(rules["current_limits_apply"])
    texts = [_mitigation_text(option, word)
             for option in drives.join(bare, on="excel_row").itertuples()]
    return pd.Series(texts, drives.index, dtype=object, name="mitigation_reason").reindex(
        options.index)


def _mitigation_text(option, limit_word):
    """A drive option beside its bare drive, in words; None where a distortion is not known."""
    if np.isnan(option.bare_current_tdd_pct) or np.isnan(option.current_tdd_pct):
        return None

    def against(limit_pct):
        is_named = limit_word and not np.isnan(limit_pct)
        return f" against {limit_word} of {limit_pct:.0f} %" if is_named else ""

    text = (f"The bare drive's current has {option.bare_current_tdd_pct:.0f} % distortion"
            + against(option.bare_tdd_limit_pct))
    if option.variant == BARE:
        return text + "."
    more = option.project_cost_usd - option.bare_project_cost_usd
    why = f" The bare drive fails {option.bare_fails_names}." if option.bare_fails_names else ""
    own = "" if option.tdd_limit_pct == option.bare_tdd_limit_pct else against(option.tdd_limit_pct)
    return (f"{text}; {option.variant} brings it to {option.current_tdd_pct:.1f} %{own} for "
            f"{more:,.0f} USD more.{why}")


def criteria_checks(options: pd.DataFrame, rules) -> pd.DataFrame:
    """The program's economic criteria as checks of each option (long, like the other checks).

    A margin that never pays the cooperative back fails; a saving that never pays the member back
    is a condition, since the member decides.
    """
    rows = []
    for name, party, remedy, open_remedy in (
            (COOPERATIVE_PAYBACK, COOPERATIVE,
             "Lower the cost to the cooperative, or raise the member's share.",
             "Complete the farm's sizes, prices and rate."),
            (MEMBER_PAYBACK, MEMBER, "The member confirms the yearly comparison.",
             "Give the price of fuel, and where there is an engine its fuel rate.")):
        answer = payback_answer(options, party, rules)
        if party == MEMBER:
            answer = np.where(answer == FAILS, WATCH, answer)
        rows.append(_criteria_rows(
            options, rules, name, options[f"{party}_payback_yr"], f"maximum_{party}_payback_yr",
            "yr", answer, np.where(answer == NOT_ASSESSED, open_remedy, remedy)))
    return pd.concat(rows, ignore_index=True)


def payback_answer(options: pd.DataFrame, party: str, rules):
    """A party's simple payback held against the rules' limit; one that is never reached fails."""
    is_known = options[list(PAYBACK_OF[party])].notna().all(axis=1)
    years = options[f"{party}_payback_yr"].fillna(np.inf).where(is_known)
    return judge(years, at_most=rules[f"maximum_{party}_payback_yr"] * (1 + BINARY_TAIL))


def asks_for_member_npv(rules) -> bool:
    """Whether a farm must show that its grower gains."""
    return rules["member_npv_floor_usd"] > NO_FLOOR


def npv_floor_checks(options: pd.DataFrame, rules) -> pd.DataFrame:
    """The check of each option whether the grower gains, incentive included, where the rules ask
    for it."""
    if not asks_for_member_npv(rules):
        options = options.iloc[:0]
    limit = rules["member_npv_floor_usd"]
    answer = judge(options["member_npv_usd"], at_least=limit)
    return check_rows(
        options, name=MEMBER_NPV, value=options["member_npv_usd"], sense=AT_LEAST, limit=limit,
        unit="USD", answer=answer, source=rules.source("member_npv_floor_usd"),
        remedy=np.where(answer == NOT_ASSESSED, "Give the price of fuel, and where there is an "
                        "engine its fuel rate.", "Correct the present plant's fuel and upkeep, or "
                        "lower the member's cost."))


def _criteria_rows(options, rules, name, value, limit_key, unit, answer, remedy):
    return check_rows(options, name=name, value=value, sense=AT_MOST, limit=rules[limit_key],
                      unit=unit, answer=answer, source=rules.source(limit_key), remedy=remedy)


@step(
    needs="counted_load_kw is_priced missing_items member_npv_usd",
    rules="ranking_counts member_npv_floor_usd",
    makes="verdict verdict_reason")
def verdicts(chosen: pd.DataFrame, checks: pd.DataFrame, rules) -> pd.DataFrame:
    """Verdict and reason of each chosen option (index as given), from its checks.

    Incomplete is a farm whose option has no price, or whose member's NPV is unknown where the rules
    ask for it.
    """
    mine = checks[checks["design"].isin(chosen.index)]
    out = pd.DataFrame(index=chosen.index)
    worst = {answer: _listed(mine[mine["answer"] == answer], chosen.index)
             for answer in (FAILS, WATCH)}
    worst[NOT_ASSESSED] = _not_assessed(mine[mine["answer"] == NOT_ASSESSED], chosen.index)
    has_failed = worst[FAILS] != ""
    has_condition = (worst[WATCH] != "") | (worst[NOT_ASSESSED] != "")
    no_load = chosen["counted_load_kw"] <= 0
    lacks_npv = asks_for_member_npv(rules) & chosen["member_npv_usd"].isna()
    out["verdict"] = np.select(
        [~chosen["is_priced"], has_failed | no_load, lacks_npv, has_condition],
        [INCOMPLETE, NOT_QUALIFIED, INCOMPLETE, CONDITIONS], QUALIFIES)
    parts = pd.DataFrame({
        "missing": np.where(chosen["is_priced"], "",
                            "Not assessed: " + chosen["missing_items"] + "."),
        "load": np.where(no_load & chosen["is_priced"], f"No {rules['ranking_counts']}.", ""),
        "fails": _sentence("Fails", worst[FAILS]),
        "watch": _sentence("Watch", worst[WATCH]),
        "open": worst[NOT_ASSESSED].where(chosen["is_priced"], "")}, index=chosen.index)
    out["verdict_reason"] = [" ".join(filter(None, row)) or "Meets every limit."
                             for row in parts.itertuples(index=False)]
    return out


def _sentence(word, texts):
    return np.where(texts == "", "", word + ": " + texts + ".")


def _listed(checks, index):
    """Checks of each design with value and limit, as text."""
    if checks.empty:
        return pd.Series("", index)
    text = [_check_text(c) for c in checks.itertuples()]
    return pd.Series(text, checks["design"]).groupby(level=0).agg("; ".join).reindex(
        index, fill_value="")


def _check_text(c):
    """One check in words: its value and limit."""
    if np.isnan(c.value):
        return f"{c.check} (not within its life; {c.sense} {short_number(c.limit)} {c.unit})"
    limit = "unknown limit" if np.isnan(c.limit) else short_number(c.limit)
    return f"{c.check} {short_number(c.value)} {c.unit} ({c.sense} {limit})".replace("  ", " ")


def short_number(value) -> str:
    """A number for a sentence: four digits, no powers of ten."""
    return f"{value:,.0f}" if abs(value) >= 1000 else f"{value:.4g}"


def _not_assessed(checks, index):
    """Checks of each design that are open, gathered by the blank cells that keep them open."""
    if checks.empty:
        return pd.Series("", index)
    names = checks.groupby(["design", "blank_inputs"], sort=False)["check"].agg(list)
    texts = [_open_text(blank, listed) for (_, blank), listed in names.items()]
    return pd.Series(texts, names.index.get_level_values("design")).groupby(level=0).agg(
        " ".join).reindex(index, fill_value="")


def _open_text(blank, names):
    """Checks that stay open for one cause: named where they are few, else counted."""
    what = ", ".join(names) if len(names) <= MOST_NAMED else f"{len(names)} checks"
    are = "are" if ", " in blank else "is"
    return f"Not assessed, as {blank} {are} blank: {what}." if blank else f"Not assessed: {what}."
