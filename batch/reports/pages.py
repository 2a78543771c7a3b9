"""The board's page and the farm sheets. Numbers come from the canonical text, as in the CSVs."""

from importlib.resources import files
from pathlib import Path

import jinja2

from batch.audit.record import WHAT_IT_PROVES
from batch.canonical import canonical_frame
from batch.cautions import CAUTIONS, conventions
from batch.columns import CANDIDATES, RESULTS
from batch.columns.candidates import ROTARY, SINGLE_PHASE_DRIVE
from batch.portfolio.ranking import ORDER_STATEMENT
from batch.reports.worked import worked_line
from batch.run_names import farm_file_names
from batch.steps.rates import BILL_LINES

CSS_BY_WORD = {"fails": "fails", "error": "fails", "does not qualify": "fails",
               "incomplete": "open", "watch": "watch", "qualifies with conditions": "watch",
               "not assessed": "open", "meets": "meets", "qualifies": "meets"}
RANKING_KEYS = ("rank", "candidate_id", "farm_label", "verdict", "supply_option", "added_load_kw",
                "incentive_cost_usd", "incentive_usd_per_kw", "running_incentive_cost_usd",
                "in_budget", "member_payback_yr", "cooperative_payback_yr")
UNRANKED_KEYS = ("candidate_id", "farm_label", "verdict", "verdict_reason")
YEARLY_KEYS = ("present_fuel_per_yr", "fuel_cost_usd_yr", "present_cost_usd_yr", "bill_usd_yr",
               "electric_cost_usd_yr", "member_saving_usd_yr", "member_net_cost_usd",
               "member_payback_yr", "member_npv_usd", "breakeven_fuel_price_usd",
               "revenue_usd_yr", "margin_usd_yr", "cooperative_payback_yr", "co2_avoided_t_yr")
BILL_KEYS = tuple(f"bill_{line}_usd_yr" for line in BILL_LINES)
BUILT_GROUPS = ("water and power", "supply", "chain", "distortion", "drive and leads")
MOST_FARM_PAGES = 500


def environment() -> jinja2.Environment:
    """Templates of the installed package; unknown names are errors, text is escaped."""
    return jinja2.Environment(
        loader=jinja2.FileSystemLoader(str(files("batch.templates").joinpath("."))),
        autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True)


def write_pages(study, folder: Path, mark: str):
    """Write board.html and a sheet per farm."""
    pages = environment()
    shared = _shared(study, mark)
    results = canonical_frame(study.results, RESULTS.columns)
    (folder / "board.html").write_text(
        pages.get_template("board.html").render(**shared, **_board(study, results)),
        encoding="utf-8", newline="")
    farms = folder / "farms"
    farms.mkdir()
    template = pages.get_template("farm.html")
    chosen = study.options[study.options["is_chosen"]].rename_axis("design").reset_index()
    chosen = chosen.set_index("excel_row")
    checks, ledger = (dict(list(frame[frame["design"].isin(chosen["design"])].groupby("design")))
                      for frame in (study.checks, study.ledger))
    names = farm_file_names(study.results["candidate_id"])
    for place, row in enumerate(study.results.index[:MOST_FARM_PAGES]):
        text = results.iloc[place]
        page = {**shared, **_farm(study, row, text, chosen, checks, ledger)}
        (farms / f"{names[place]}.html").write_text(template.render(**page), encoding="utf-8",
                                                    newline="")


def _shared(study, mark):
    inputs = study.inputs
    return {"mark": mark, "study_name": inputs.study["study_name"], "cautions": CAUTIONS,
            "rules_year": inputs.rules.year, "study_date": inputs.study["study_date"],
            "heading": " - ".join(filter(None, (inputs.study["cooperative_name"],
                                                inputs.rules.title)))}


def _board(study, results):
    ranked = results[results["rank"] != ""].sort_values("rank", key=lambda s: s.astype(float))
    unranked = results[results["rank"] == ""]
    within = study.results[study.results["in_budget"] == 1]
    all_ranked = study.results[study.results["rank"].notna()]
    budget = study.inputs.study["program_budget_usd"]
    shown = within if budget is not None else all_ranked
    counts = study.counts
    numbers = [
        (f"{counts['read']}", f"farms read: {counts['assessed']} assessed and "
                              f"{counts['not_assessed']} not assessed"),
        (f"{len(shown)} of {len(all_ranked)}", "ranked farms fit the budget" if budget is not None
         else "ranked farms (no budget was given)"),
        (f"${shown['incentive_cost_usd'].sum():,.0f}", "incentive cost of these farms"
         + (f", of a budget of ${budget:,.0f}" if budget is not None else "")),
        (f"{shown['added_load_kw'].sum():,.0f} kW", "added load of these farms"),
        (f"${shown['cooperative_npv_usd'].sum():,.0f}", "net present value to the cooperative")]
    verdicts = study.results["verdict"].value_counts()
    return {"numbers": [{"value": v, "label": label} for v, label in numbers],
            "verdicts": "Verdicts: " + ", ".join(f"{n} {v}" for v, n in verdicts.items()) + ".",
            "order_statement": ORDER_STATEMENT, "conventions": conventions(study.inputs.rules),
            "what_it_proves": WHAT_IT_PROVES,
            "counted": study.inputs.rules["incentive_cost_counts"],
            "ranking": _table(ranked, [RESULTS.by_key[k] for k in RANKING_KEYS]),
            "unranked": _table(unranked, [RESULTS.by_key[k] for k in UNRANKED_KEYS]),
            "totals": _plain_table(
                ("Group", "Farms", "Participant", "Ratepayer", "Total resource", "Societal",
                 "Administrator", "Ratepayer NPV [USD]"),
                [(t.group, f"{t.farms:.0f}", *(_ratio(getattr(t, f"{test}_ratio")) for test in (
                    "participant", "ratepayer", "total_resource", "societal", "administrator")),
                  f"{t.ratepayer_npv_usd:,.0f}") for t in study.totals.itertuples()]),
            "feeders": _plain_table(
                ("Feeder", "Ranked farms", "Added load [kW]", "In budget [kW]",
                 "Spare capacity [kW]", "Answer"),
                [(f.feeder_id, f"{f.candidates:.0f}", f"{f.added_kw:.1f}", f"{f.in_budget_kw:.1f}",
                  "" if f.spare_capacity_kw != f.spare_capacity_kw
                  else f"{f.spare_capacity_kw:.0f}", f.answer)
                 for f in study.feeders.itertuples()])}


def _ratio(value):
    return "" if value != value else f"{value:.2f}"


def _table(frame, columns):
    headers = [{"text": c.header, "css": "n" if c.is_numeric else ""} for c in columns]
    rows = [[{"text": getattr(row, c.key),
              "css": "n" if c.is_numeric else CSS_BY_WORD.get(getattr(row, c.key), "")}
             for c in columns] for row in frame.itertuples()]
    return {"headers": headers, "rows": rows}


def _plain_table(headers, rows):
    return {"headers": [{"text": h, "css": ""} for h in headers],
            "rows": [[{"text": value, "css": CSS_BY_WORD.get(value, "")} for value in row]
                     for row in rows]}


def _key_values(text, columns):
    return _plain_table(("Quantity", "Value", "Unit"),
                        [(c.label, text[c.key], c.unit) for c in columns if text[c.key] != ""])


def _farm(study, row, text, chosen, checks_of, ledger_of):
    """What the farm's sheet shows; checks and ledger are looked up by design."""
    page = {"candidate_id": text["candidate_id"], "farm_label": text["farm_label"],
            "verdict": text["verdict"], "verdict_reason": text["verdict_reason"],
            "option_reason": text["option_reason"], "has_results": row in chosen.index}
    if not page["has_results"]:
        return page
    option = chosen.loc[row]
    checks, ledger = checks_of[option["design"]], ledger_of[option["design"]]
    built = [c for c in RESULTS.columns if c.group in BUILT_GROUPS
             and c.key not in ("option_reason", "mitigation_reason")]
    page |= {"grower": _grower(text), "mitigation_reason": text["mitigation_reason"],
             "commissioning": _commissioning(text, study.inputs.rules)}
    worked = [str(line) for c in RESULTS.columns
              if (line := worked_line(c.key, option, study.inputs.rules))]
    page |= {
        "built": _key_values(text, built),
        "checks": _plain_table(
            ("Check", "Value", "Must be", "Limit", "Unit", "Answer", "Source"),
            [(c.check, _short(c.value), c.sense, _short(c.limit), c.unit, c.answer, c.source)
             for c in checks.itertuples()]),
        "ledger": _plain_table(
            ("Item", "Cost [USD]", "Allowance [USD]", "Cooperative [USD]", "Member [USD]", "Rule"),
            [(i.item, f"{i.item_cost_usd:.2f}", f"{i.allowance_usd:.2f}",
              f"{i.cooperative_usd:.2f}", f"{i.member_usd:.2f}", i.rule)
             for i in ledger.itertuples() if i.item_cost_usd]
            + [("total", text["project_cost_usd"], text["allowance_usd"],
                text["cooperative_cost_usd"], text["member_cost_usd"], ""),
               ("incentive to the member", "", "", "", f"-{text['incentive_usd']}", "")]),
        "yearly": _key_values(text, [RESULTS.by_key[k] for k in YEARLY_KEYS]),
        "worked": worked,
        "inputs": _inputs(study.inputs.candidates.loc[row])}
    return page


def _grower(text):
    """The farm's money as the grower meets it. Every number is the canonical one."""
    def row(label, key, is_total=False):
        return {"label": label, "value": text[key] or "not assessed", "is_total": is_total}

    bill = [row(RESULTS.by_key[key].label.removeprefix("Bill: "), key) for key in BILL_KEYS
            if float(text[key] or 1)]
    yearly = [row("Fuel today", "fuel_cost_usd_yr"),
              row("Engine upkeep today", "upkeep_cost_usd_yr"),
              row("Electric bill today", "present_bill_usd_yr"),
              row("Today's yearly cost", "present_cost_usd_yr", True), *bill,
              row("Electric bill", "bill_usd_yr", True),
              row("With upkeep of the electric equipment", "electric_cost_usd_yr"),
              row("Saving in the first year", "member_saving_usd_yr", True)]
    once = [row("Whole project", "project_cost_usd"),
            row("The cooperative's share", "cooperative_cost_usd"),
            row("Your share", "member_cost_usd"), row("Incentive", "incentive_usd"),
            row("You pay, after incentive and other funding", "member_net_cost_usd", True)]
    answers = [
        _answer(text["member_payback_yr"], "Your cost is paid back in {} years by the first-year "
                "saving.", "The first-year saving does not pay your cost back."),
        _answer(text["breakeven_fuel_price_usd"], "Electric service and the engine cost the same "
                "in the first year at a fuel price of {} USD per gallon (per Mcf for natural gas).",
                ""),
        _answer(text["breakeven_hours"], "They cost the same at {} pumping hours a season; you "
                f"pump {text['season_hours']}.", "No number of pumping hours makes them cost the "
                "same."),
        _answer(text["contribution_monthly_usd"], "Your part of the line and transformer may be "
                "paid at {} USD a month.", ""),
        _answer(text["refund_if_joined_usd"], "If one more member joins your line within the "
                "refund window, {} USD come back to you.", "")]
    return {"lead": f"The electric service is compared with {text['compared_with']}. Fuel price, "
                    "hours and rates are those of today; they will change.",
            "yearly": yearly, "once": once, "answers": [a for a in answers if a]}


def _answer(value, sentence, otherwise):
    if value == "":
        return otherwise
    return sentence.format(value) if float(value) else ""


def _commissioning(text, rules):
    """What is measured and set when the service is put in use."""
    lines = ["Voltage at the meter, unloaded and at full load, and the currents of all legs."]
    if text["supply_option"] == SINGLE_PHASE_DRIVE:
        lines += [
            "Voltage and current waveforms at four places: line side of the meter, load side of "
            "the meter, load side of the filter, far end of the pivot; kept for comparison.",
            f"Drive: ramp of {rules['drive_ramp_s']:g} s to 60 Hz, motor nameplate current as the "
            "overload, fault history cleared and read again after a week.",
            "Temperature of the drive's enclosure, transformer and filter after a day at full "
            "load."]
    if text["supply_option"] == ROTARY:
        lines.append("The converter's three voltages at full load: unbalance is the largest "
                     "deviation from the mean over the mean; derate the motor by it.")
    return lines


def _short(value):
    return "" if value != value else f"{value:,.4g}"


def _inputs(candidate):
    rows = []
    for c in CANDIDATES.columns:
        value = candidate[c.key]
        if value is None or value != value:
            continue
        if c.kind == "yes/no":
            value = "yes" if value else "no"
        elif c.is_numeric:
            value = f"{value:g}"
        rows.append((c.label, str(value), c.unit))
    return _plain_table(("Input", "Value", "Unit"), rows)
