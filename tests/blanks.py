"""Why a result of an assessed farm may be blank: the reasons, and the blanks that have none."""

import pandas as pd

from batch.columns import RESULTS

# Key of results.csv -> why it may be blank for a farm that was assessed.
MAY_BE_BLANK = {
    "farm_label": "not given", "feeder_id": "not given",
    "next_cells": "nothing is left to fill", "funded_with": "not funded, or no shared line",
    "why_not": "funded",
    "net_cost_if_one_leaves_usd": "no other funded farm on a line", "added_cost_usd": "funded",
    "added_usd_per_kw": "funded, or no load",
    "ranking_usd_per_kw": "unranked",
    "rank": "does not qualify", "in_budget": "unranked, or no budget",
    "running_incentive_cost_usd": "unranked", "assigned_phase": "not funded, or no phase loads",
    "in_best_set": "no budget, or unranked", "qualifies_alone": "no shared line",
    "best_set_year": "not in the best set",
    **dict.fromkeys((c.key for c in RESULTS.columns if c.group == "uncertainty"), "unranked"),
    "incentive_usd_per_kw": "no counted load",
    "member_payback_yr": "no saving, or not within the life",
    "member_irr_pct": "no rate, or several",
    "member_discounted_payback_yr": "not within the study",
    "breakeven_fuel_price_usd": "burns no fuel", "breakeven_hours": "never",
    "used_fuel_rate": "burns no fuel", "used_upkeep_usd_h": "burns no fuel",
    "cooperative_payback_yr": "not within the life",
    "cooperative_discounted_payback_yr": "not within the study",
    "breakeven_line_ft": "no line price, or never", "participant_ratio": "no costs",
    "breakeven_line_npv_ft": "never",
    "contribution_monthly_usd": "paid at once", "refund_if_joined_usd": "line is not shared",
    "starter_share": "a drive has none", "grounding_beyond": "disconnect at the transformer",
}
DRIVE_ONLY = {
    "current_thd_pct", "current_tdd_pct", "tdd_limit_pct", "short_circuit_ratio",
    "coupling_fault_a", "coupling_demand_a",
    "single_harmonic_share_pct", "voltage_thd_pct", "voltage_thd_tap_pct", "voltage_harmonic_pct",
    "voltage_harmonic_tap_pct", "drive_motor_v", "motor_peak_v", "motor_peak_limit_v",
    "lead_filter", "longest_lead_ft", "layout_ft", "mean_bus_v", "filter_loss_pct", "pulse_top_v",
    "motor_reflection_factor", "drive_allowed_a", "mitigation_reason",
    "motor_terminal_v", "motor_rise_us", "motor_rise_limit_us",
    "valley_bus_v", "drive_valley_v", "motor_valley_v", "drive_output_a",
    "drive_efficiency_used_pct", "tower_reflection_factor", "tower_peak_v", "tower_peak_limit_v",
    "tower_rise_limit_us", "drive_altitude_pct", "drive_site_a"}
OF_THE_BUS = {"mean_bus_v", "valley_bus_v", "drive_motor_v", "drive_valley_v", "motor_terminal_v",
              "motor_valley_v", "drive_output_a"}
BEHIND_FILTER = {"lead_filter", "longest_lead_ft", "filter_loss_pct", "pulse_top_v", "motor_peak_v",
                 "motor_reflection_factor", "motor_rise_us", "tower_peak_v",
                 "tower_reflection_factor", "tower_feed_v", "end_tower_v",
                 *OF_THE_BUS - {"mean_bus_v", "valley_bus_v"}}
NEEDS = {  # optional cell -> results that are not known without it
    "source_fault_a": {
        "source_r_ohm", "source_x_ohm", "service_voltage_at_load_v", "starting_dip_pct",
        "starting_dip_service_pct", "current_tdd_pct", "tdd_limit_pct", "short_circuit_ratio",
        "single_harmonic_share_pct", "coupling_fault_a",
        "voltage_thd_pct", "voltage_thd_tap_pct", "voltage_harmonic_pct",
        "voltage_harmonic_tap_pct", "tower_feed_v", "end_tower_v"} | OF_THE_BUS,
    "motor_lead_ft": BEHIND_FILTER | {"layout_ft", "motor_lead_drop_pct"},
    "pivot_lead_ft": BEHIND_FILTER | {"pivot_lead_drop_pct", "end_tower_lead_ft"},
    "is_inverter_duty": {"motor_peak_limit_v", "motor_rise_limit_us"},
    "is_tower_inverter_duty": {"tower_peak_limit_v", "tower_rise_limit_us"},
    "gross_depth_in": {"hours_by_depth"},
    "fuel_price_usd": {"fuel_cost_usd_yr", "present_cost_usd_yr", "member_saving_usd_yr",
                       "member_npv_usd", "together_npv_usd", "participant_npv_usd",
                       "total_resource_npv_usd", "total_resource_ratio", "societal_npv_usd",
                       "societal_ratio"},
    "pivot_length_ft": {"end_tower_v", "pivot_lead_drop_pct", "machine_drop_pct", "tower_feed_v",
                        "pivot_cable_ampacity_a", "tower_peak_v", "tower_reflection_factor",
                        "pivot_lead_conductor", "pivot_lead_ampacity_a"},
}


def unexplained_blanks(results, candidates):
    """(candidate, key) of every blank of an assessed farm that has no reason."""
    found = []
    for row in results.to_dict("records"):
        if row["verdict"] == "incomplete":
            continue
        candidate = candidates.loc[int(row["excel_row"])]
        allowed = set(MAY_BE_BLANK)
        if row["supply_option"] != "single-phase drive":
            allowed |= DRIVE_ONLY
        if row["supply_option"] != "rotary converter":
            allowed |= {"converter_inrush_kva", "converter_start_hp"}
        if row["supply_option"] == "three-phase line":
            allowed |= {"fault_midpoint_a", "fault_midpoint_drive_a", "drive_rated_hp",
                        "single_phase_start_hp", "rated_input_a"}
        if row["supply_option"] == "single-phase drive":
            allowed.add("single_phase_start_hp")
        for key, keys in NEEDS.items():
            if pd.isna(candidate[key]) or key == "pivot_length_ft" and candidate[key] == 0:
                allowed |= keys
        found += [(row["candidate_id"], key) for key, text in row.items()
                  if text == "" and key not in allowed]
    return found
