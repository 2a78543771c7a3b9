"""What a farm's sheet and its letter show, for the engineer and the grower."""

import re

import numpy as np

from batch.canonical import rounded_text
from batch.columns import CANDIDATES, RESULTS
from batch.columns.candidates import NO_POWER, ROTARY, SINGLE_PHASE_DRIVE
from batch.columns.results import unused_keys
from batch.findings import MEETS, NOT_ASSESSED
from batch.money.rates import BILL_LINES
from batch.program.season import rules_for
from batch.supply.checks import CHECKS
from batch.trail.worked import worked_line
from batch.writing.cautions import CAUTIONS
from batch.writing.pages.figures import OPEN, Row, shown, words_table
from batch.writing.pages.flow_picture import flow_picture
from batch.writing.pages.one_line import one_line

BUILT_GROUPS = ("water and power", "supply", "chain", "distortion", "drive and leads")
FUEL_GALLONS = re.compile(r"\bgal(?=/h\b|/yr\b)|(?<=USD/)gal\b")
SAID_ELSEWHERE = ("option_reason", "mitigation_reason")
YEARLY_KEYS = ("present_fuel_per_yr", "fuel_cost_usd_yr", "present_cost_usd_yr", "bill_usd_yr",
               "electric_cost_usd_yr", "member_saving_usd_yr", "member_net_cost_usd",
               "member_payback_yr", "member_npv_usd", "breakeven_fuel_price_usd",
               "revenue_usd_yr", "margin_usd_yr", "cooperative_payback_yr", "cooperative_npv_usd",
               "co2_avoided_t_yr")
BILL_KEYS = tuple(f"bill_{line}_usd_yr" for line in BILL_LINES)
BUILT = tuple(c for c in RESULTS.columns
              if c.group in BUILT_GROUPS and c.key not in SAID_ELSEWHERE)
YEARLY = tuple(RESULTS.by_key[key] for key in YEARLY_KEYS)
WORKED = tuple(c for c in RESULTS.columns if c.worked)
DECIMALS = {check.name: RESULTS.by_key[check.value].decimals for check in CHECKS
            if check.value in RESULTS.by_key}


def farm_page(study, row, text, design, checks, ledger, flows, way_back) -> dict:
    """The values for the templates of one farm. `design` is its chosen option (None for a faulty
    row); `checks`, `ledger` and `flows` are the rows of this option. `way_back` makes the last
    page."""
    farm = Row("results", text["candidate_id"], text)
    candidate = study.inputs.candidates.loc[row].to_dict()
    page = {"farm": farm, "candidate_id": text["candidate_id"], "farm_label": text["farm_label"],
            "status": candidate["status"], "verdict": text["verdict"],
            "verdict_reason": text["verdict_reason"],
            "knowledge": {"enough_for": text["known_enough_for"],
                          "answered": text["checks_answered"], "next_cells": text["next_cells"],
                          "is_too_little": text["rank"] and text["may_be_funded"] == "no"},
            "has_results": design is not None, "inputs": _inputs(candidate, row, way_back),
            "fuel_unit": "Mcf" if _burns_gas(candidate) else "gallon"}
    if design is None:
        return page
    rules = rules_for(study.inputs, row)
    unused = unused_keys(rules)
    return page | {
        "option_reason": text["option_reason"], "mitigation_reason": text["mitigation_reason"],
        "diagram": one_line(text, candidate), "leads": _leads(farm, candidate),
        "conditions": _conditions(checks),
        "checks": _checks(checks, farm.row_id), "ledger": _ledger(ledger, farm),
        "grower": _grower(farm, candidate), "cash": _cash(flows, farm.row_id),
        "built": _key_values(farm, [c for c in BUILT if c.key not in unused], candidate),
        "yearly": _key_values(farm, YEARLY, candidate),
        "line_sharers": max(int(np.nan_to_num(design["shared_line_members"])) - 1, 0),
        "commissioning": _commissioning(text), "settings": _settings(farm, candidate, rules),
        "study_years": f"{rules['study_years']:g}",
        "refund_window_yr": f"{rules['refund_window_yr']:g}",
        "is_new": candidate["present_power"] == NO_POWER,
        "present_plant": _present_plant(candidate["present_power"], text["supply_option"]),
        "fuel_price": rounded_text(candidate["fuel_price_usd"], 2),
        "worked": [_fuel_unit(str(line), candidate) for c in WORKED
                   if c.key not in unused and (line := worked_line(c.key, design, rules))],
        "way_back": way_back.of(row)}


def letter_page(farm_values: dict, *, is_funded: bool, has_budget: bool,
                funds_best: bool, leaving: Row | None) -> dict:
    """What the letter needs beyond the farm's sheet. `leaving` is the row of withdrawals.csv that
    tells what the others bear if the farm leaves; None for one that is not funded."""
    return {**farm_values, "is_funded": is_funded, "has_budget": has_budget,
            "funds_best": funds_best, "leaving": leaving,
            "letter_cautions": (CAUTIONS[0], CAUTIONS[3])}


def _burns_gas(candidate):
    return str(candidate["present_power"]).startswith("natural gas")


def _fuel_unit(text, candidate):
    """Units of fuel as the farm buys it: the dictionary's are gallons, natural gas comes in Mcf.
    Water is counted by the minute and keeps its gallons."""
    return FUEL_GALLONS.sub("Mcf", text) if _burns_gas(candidate) else text


def _key_values(farm, columns, candidate):
    rows = [(c.label, farm(c.key) if c.is_numeric else farm.text(c.key),
             _fuel_unit(c.unit, candidate)) for c in columns if farm.has(c.key)]
    return words_table(("Quantity", "Value", "Unit"), rows, "")


def _figure(file, farm_id, part, key, value, decimals):
    """A figure of a row that belongs to a farm, as a check or a year."""
    row = Row(file, f"{farm_id}|{part}", {key: rounded_text(value, 4 if file == "checks" else 2)})
    return row(key, decimals) if row.has(key) else ""


def _checks(checks, farm_id):
    rows = []
    for c in checks:
        decimals = DECIMALS.get(c.check, 2)
        rows.append((c.check, _figure("checks", farm_id, c.check, "value", c.value, decimals)
                     or (OPEN if c.answer == NOT_ASSESSED else "never"), c.sense,
                     _figure("checks", farm_id, c.check, "limit", c.limit, decimals), c.unit,
                     c.answer, c.source))
    return words_table(("Check", "Value", "Must be", "Limit", "Unit", "Answer", "Source"), rows,
                       "Every limit that the chosen supply is held against")


def _conditions(checks):
    """What is close to a limit, not met or open, with what to do about it."""
    return [{"check": c.check, "answer": c.answer, "remedy": c.remedy,
             "text": _against_limit(c), "blank": c.blank_inputs}
            for c in checks if c.answer != MEETS]


def _against_limit(c):
    decimals = DECIMALS.get(c.check, 2)
    value = rounded_text(c.value, decimals)
    if not value:
        return ""
    limit = rounded_text(c.limit, decimals)
    return f"{shown(value)} {c.unit}, {c.sense} {shown(limit) if limit else 'unknown'}"


def _ledger(ledger, farm):
    def cents(item, key):
        return _figure("cost_shares", farm.row_id, item.item, key, getattr(item, key), 2) or OPEN

    keys = ("item_cost_usd", "allowance_usd", "cooperative_usd", "member_usd")
    rows = [(item.item, item.made_of, *(cents(item, key) for key in keys), item.rule)
            for item in ledger if item.item_cost_usd != 0]
    rows += [("total", "", farm("project_cost_usd"), farm("allowance_usd"),
              farm("cooperative_cost_usd"), farm("member_cost_usd"), ""),
             ("incentive, paid to the member", "", "", "", farm("incentive_usd"), "", "")]
    made = words_table(("Item", "Made of (row of Unit costs)", "Cost [USD]", "Allowance [USD]",
                        "Cooperative [USD]", "Member [USD]", "Rule"), rows,
                       "Cost shares, item by item")
    made["rows"][-2]["css"] = "total"
    return made


def _cash(flows, farm_id):
    """The member's flows by year as picture and table."""
    rows = [(str(f.year), *(_figure("cash_flows", farm_id, f.year, key, getattr(f, key), 0) or OPEN
                            for key in ("member_usd", "member_discounted_sum_usd")))
            for f in flows]
    return {"picture": flow_picture([f.member_usd for f in flows],
                                    [f.member_discounted_sum_usd for f in flows]),
            "table": words_table(("Year", "In the year [USD]", "Discounted sum so far [USD]"),
                                 rows, "Member's cash flow")}


def _grower(farm, candidate):
    """The farm's money as the grower meets it. New irrigation has no cost today: it is compared
    with the engine that would be bought."""
    is_new = candidate["present_power"] == NO_POWER
    when, whole = ("of a new engine", "A new engine's yearly cost") if is_new else (
        "today", "Today's yearly cost")

    def row(label, key, is_total=False):
        return {"label": label, "value": farm(key), "is_total": is_total}

    bill = [row(RESULTS.by_key[key].label.removeprefix("Bill: ").capitalize(), key)
            for key in BILL_KEYS if farm.value(key) != 0]
    yearly = [row(f"Fuel {when}", "fuel_cost_usd_yr"),
              row(f"Upkeep {when}", "upkeep_cost_usd_yr"),
              *([] if is_new else [row("Electric bill today", "present_bill_usd_yr")]),
              row(whole, "present_cost_usd_yr", True), *bill,
              row("Electric bill", "bill_usd_yr", True),
              row("Yearly cost with electric service, upkeep included", "electric_cost_usd_yr"),
              row("Saving in the first year", "member_saving_usd_yr", True)]
    once = [row("Whole project", "project_cost_usd"),
            row("The cooperative's share", "cooperative_cost_usd"),
            row("Your share", "member_cost_usd"), row("Incentive", "incentive_usd"),
            {"label": "Other funding", "is_total": False, "value": farm.left(
                "member_cost_usd", "incentive_usd", "member_net_cost_usd")},
            row("You pay, after incentive and other funding", "member_net_cost_usd", True)]
    return {"yearly": yearly, "once": once, "compared_with": farm.text("compared_with")}


def _leads(farm, candidate):
    """The cables behind the controls that the letter names: what they are and who has them."""
    return [{"to": to, "conductor": farm.text(f"{key}_conductor"),
             "exists": candidate[f"has_{key}"] == 1, "length": farm(f"{key}_used_ft"),
             "is_assumed": np.isnan(candidate[f"{key}_ft"])}
            for key, to in (("motor_lead", "to the pump motor"),
                            ("pivot_lead", "to the pivot's panel"))
            if farm.has(f"{key}_conductor")]


def _commissioning(text):
    """What is measured when the service is put in use."""
    lines = ["At the motor's terminals, pump at full load: the three line voltages and currents "
             "and their unbalance, the largest deviation from the mean over the mean (NEMA MG 1); "
             "one percent of voltage makes several percent of current and heats the windings.",
             "At the service, idle and at full load: the voltage, to be within ANSI C84.1."]
    if text["supply_option"] == SINGLE_PHASE_DRIVE:
        lines += [
            "At the motor's terminals, and at the motor with the longest cable: peak and rise time "
            "between lines, by a probe of enough bandwidth, against what NEMA MG 1 lets the "
            "insulation stand.",
            "At the point of common coupling: harmonics of current and voltage at full load, to "
            "hold against IEEE 519, and without the pump, for what the line brings of its own.",
            "Transformer, drive's enclosure and filter, and any conductor that carries unbalance: "
            "temperature and true r.m.s. current once they are warm, since harmonics heat more "
            "than their amperes at 60 Hz (IEEE C57.110).",
            "Start: seconds to full speed, and the lowest voltage at the service meanwhile.",
            "The drive's fault record after some weeks of pumping, for undervoltage and ripple of "
            "the bus."]
    else:
        lines.append("Start of the pump: lowest voltage at the meter and seconds to full speed.")
        lines.append("Temperature of the transformer and of the starter or converter after a day "
                     "at full load.")
    if text["supply_option"] == ROTARY:
        lines.append("The converter's three voltages at full load; derate the motor by their "
                     "unbalance.")
    return lines


def _settings(farm, candidate, rules):
    """What the drive is set to, for the engineer to confirm: (setting, value, unit)."""
    if farm.text("supply_option") != SINGLE_PHASE_DRIVE:
        return None
    nameplate = candidate["motor_full_load_a"]
    overload = (f"{nameplate:g}" if nameplate == nameplate and nameplate is not None
                else "nameplate current, to be read")
    rows = [("Supply", "single-phase; loss of phase set as its maker says", ""),
            _base_voltage(farm, candidate, rules),
            ("Base and highest frequency", "60", "Hz"),
            ("Ramp to base frequency", f"{rules['drive_ramp_s']:g}", "s"),
            ("Overload: motor nameplate current", overload, "A"),
            ("Output current limit", farm("drive_site_a"), "A"),
            ("Restart after an outage", "by hand, or delayed until the pump stands still", ""),
            ("Carrier frequency", "lowest that the output filter is made for", "")]
    return words_table(("Setting", "Value", "Unit"), rows, "Drive settings to confirm")


def _present_plant(power, supply_option):
    """What becomes of the present plant, in words; blank where nothing does. An engine or generator
    is a source, a converter is none."""
    if power == NO_POWER or power == supply_option == ROTARY:
        return ""
    if power == ROTARY:
        return "The rotary converter is disconnected and removed."
    return f"The {power} is removed, or kept behind a transfer switch that we accept."


def _base_voltage(farm, candidate, rules):
    """What the drive gives at base frequency: the motor's rating, or what the pivot's end tower was
    judged with where the drive feeds a pivot. Motors stand a tenth above their rating."""
    if candidate["pivot_length_ft"] > 0:
        return ("Voltage at base frequency, behind the output filter, for the pivot's towers",
                farm("tower_feed_v"), "V")
    return ("Voltage at base frequency", f"{rules['motor_voltage_v']:g}", "V")


def _inputs(candidate, row, way_back):
    rows = []
    for c in CANDIDATES.columns:
        value = candidate[c.key]
        if value is None or value != value:
            continue
        if c.kind == "yes/no":
            value = "yes" if value else "no"
        elif c.is_numeric:
            value = f"{round(value, max(c.decimals, 2)):,.10g}"
        rows.append((c.label, str(value), _fuel_unit(c.unit, candidate),
                     way_back.cell_of(row, c.key)))
    return words_table(("Input", "Value", "Unit", "Cell"), rows, "Inputs as used")
