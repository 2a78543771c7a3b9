"""What a value is made of: the direct parts of each column that has no arithmetic of one line.

Names are keys of columns and of rules. A name that is both means the column where the step that
makes the value needs it, and the rule else. The supply option is in none: every value is of one.
Values that are solved in turns, as sizes and currents of a service, name each other.
`tests/test_made_of.py` tries each list on the demo: nothing else changes the value, and all of it
does.
"""

from dataclasses import replace

from batch.columns.program import COOPERATIVE_WORK, COST_ITEMS, item_key

PLACES = ("source", "line", "transformer", "service")


def _keys(pattern, names):
    """A key for each name, with blanks between."""
    return " ".join(pattern.format(name) for name in names)


def _of_rule(part, items=COST_ITEMS):
    return _keys("share_{}_" + part, map(item_key, items))


CHAIN_OHM = _keys("{}_r_ohm", PLACES) + " " + _keys("{}_x_ohm", PLACES)
TO_TAP = "source_r_ohm source_x_ohm line_r_ohm line_x_ohm"
# A drive's current and bus are solved together, with all impedances ahead of it.
WAVEFORM = (f"service_demand_kw drive_rated_hp line_reactor_pct dc_choke_pct input_filter "
            f"own_displacement_pf {CHAIN_OHM} service_voltage_v tap_voltage_pct motor_voltage_v "
            "drive_bus_capacitance_uf_kw")
LINE_RULES = ("primary_kv line_build service_voltage_v primary_conductor neutral_spacing_ft "
              "phase_spacing_ft earth_resistivity_ohm_m cable_loop_r_ohm_mi cable_loop_x_ohm_mi "
              "cable_phase_r_ohm_mi cable_phase_x_ohm_mi")
SPECTRUM = "fundamental_current_a current_thd_pct"
LEAD_DROP = "motor_voltage_v motor_power_factor_pct conduit motor_lead_drop_limit_pct"
RUNS = ("conductor_material terminations conduit ambient_c overhead_service_spacing_in")

FARM = {
    "pump_motor_hp": "nameplate_motor_hp shaft_power_hp",
    "motor_efficiency_used_pct": "motor_efficiency_pct pump_motor_hp",
    "motor_table_a": "pump_motor_hp motor_voltage_v",
    "motor_design_a": "motor_full_load_a motor_table_a",
    "season_hours": "given_season_hours hours_by_depth",
    "tower_count_used": "tower_count pivot_length_ft tower_span_ft",
    "tower_mean_duty": "tower_count_used tower_duty_pct",
    "tower_table_a": "tower_motor_hp motor_voltage_v",
    "booster_table_a": "booster_hp motor_voltage_v",
    "towers_a": "tower_count_used tower_motor_a tower_table_a",
    "booster_a": "booster_hp booster_motor_a booster_table_a",
    "pivot_largest_a": "tower_count_used tower_motor_a tower_table_a booster_a",
    "pivot_largest_locked_a": "tower_count_used tower_motor_hp tower_motor_a tower_table_a "
                              "booster_hp booster_a motor_voltage_v",
    "computed_fuel_rate": "present_power water_power_hp motor_input_kw pivot_demand_kw "
                          "performance_rating_pct generator_kw",
    "used_fuel_rate": "fuel_rate season_fuel_rate computed_fuel_rate",
    "used_upkeep_usd_h": "engine_upkeep_usd_h present_power",
    "compared_with": "present_power",
}

DESIGN = {
    "variant": "wanted_option supply_design is_priced fails_count open_limits_count "
               "project_cost_usd member_cost_usd",
    "supply_option": "is_chosen",
    "service_phases": "supply_option",
    **dict.fromkeys(("line_reactor_pct", "dc_choke_pct", "input_filter", "input_item",
                     "starter_item", "own_displacement_pf"), "variant"),
    "connected_hp": "pump_motor_hp booster_hp tower_count_used tower_motor_hp",
    "converter_need_hp": "pump_motor_hp connected_hp converter_size_factor",
    "site_elevation_used_ft": "site_elevation_ft",
    "motor_load_limit_pct": "site_elevation_used_ft motor_loading_limit_pct "
                            "motor_loading_drive_limit_pct",
    "drive_allowed_a": "three_phase_load_a drive_output_a drive_altitude_pct "
                       "single_phase_derating_pct motor_voltage_v size single_phase_hp",
    "drive_rated_hp": "three_phase_load_a drive_output_a drive_altitude_pct converter_need_hp "
                      "single_phase_derating_pct motor_voltage_v size single_phase_hp",
    "end_tower_lead_ft": "pivot_lead_ft pivot_length_ft",
    "longest_lead_ft": "motor_lead_ft end_tower_lead_ft",
    "lead_filter": "longest_lead_ft output_reactor_lead_ft dvdt_filter_lead_ft "
                   "sine_filter_lead_ft",
    "drive_efficiency_used_pct": "input_filter lead_filter drive_efficiency_pct "
                                 "front_end_efficiency_pct",
    "converter_inrush_kva": "drive_rated_hp inrush_kva converter_inrush_pct motor_code_letter",
    "converter_start_hp": "converter_inrush_kva motor_code_letter",
    "counted_load_kw": "useful_load_kw added_load_kw ranking_counts",
    "drive_loss_kwh_yr": "service_demand_kw motor_input_kw pivot_demand_kw season_hours",
    "own_line_ft": "single_phase_distance_ft three_phase_distance_ft",
    "trunk_ft": "shared_single_phase_ft shared_three_phase_ft shared_line_use_ft",
    "trunk_load_ratio": "service_demand_kw builders variant",
    "present_demand_used_kw": "present_power present_demand_kw",
    "motor_lead_used_ft": "motor_lead_ft motor_lead_assumed_ft pumping_lift_ft",
    "motor_lead_conductor": f"motor_design_a motor_lead_used_ft {LEAD_DROP} ambient_c "
                            "terminations",
    "motor_lead_ampacity_a": "motor_lead_conductor motor_design_a ambient_c terminations",
    "motor_lead_drop_pct": f"motor_lead_conductor motor_design_a motor_lead_ft {LEAD_DROP}",
}

SIZED = {
    "transformer_kva": "service_kva transformer_capacity_pu transformer_altitude_pct "
                       "transformer_loading_limit_pct",
    "input_power_factor": f"{WAVEFORM} converter_power_factor_pct motor_power_factor_pct",
    "displacement_power_factor": f"{WAVEFORM} input_power_factor",
    "service_current_a": WAVEFORM,
    "fundamental_current_a": WAVEFORM,
    "rated_input_a": f"{WAVEFORM} drive_allowed_a drive_efficiency_used_pct "
                     "motor_power_factor_pct service_current_a",
    "protective_device_a": "minimum_ampacity_a motor_design_a towers_a booster_a breaker_pct",
    "filter_loss_pct": "lead_filter",
    "mean_bus_v": f"{WAVEFORM} front_end_boost_pct",
    "valley_bus_v": f"{WAVEFORM} front_end_boost_pct",
    "transformer_capacity_pu": f"{WAVEFORM} transformer_eddy_loss_pu",
    "transformer_loss_kwh_yr": "transformer_kva service_kva season_hours",
    "service_conductor": "minimum_ampacity_a protective_device_a fundamental_current_a "
                         "displacement_power_factor service_distance_ft service_build "
                         f"service_voltage_v service_drop_limit_pct {RUNS}",
    "service_ampacity_a": "service_conductor protective_device_a service_build ambient_c "
                          "terminations",
    "grounding_conductor": "disconnect_at service_conductor service_build protective_device_a "
                           "minimum_ampacity_a conductor_material",
    "grounding_beyond": "disconnect_at service_build protective_device_a minimum_ampacity_a "
                        "conductor_material",
    "electrode_conductor": "disconnect_at service_conductor service_build protective_device_a "
                           "minimum_ampacity_a conductor_material",
    "disconnect_a": "disconnect_least_a",
}

CHAIN = {
    **dict.fromkeys(("source_r_ohm", "source_x_ohm"),
                    "source_fault_a primary_kv source_x_over_r service_voltage_v"),
    **dict.fromkeys(("line_r_ohm", "line_x_ohm"), f"own_line_ft trunk_ft {LINE_RULES}"),
    **dict.fromkeys(("transformer_r_ohm", "transformer_x_ohm"),
                    "transformer_kva service_voltage_v"),
    **dict.fromkeys(("service_r_ohm", "service_x_ohm"),
                    "service_conductor service_distance_ft service_build conduit "
                    "overhead_service_spacing_in"),
    **{f"loaded_line_{letter}_ohm": f"line_{letter}_ohm own_line_ft trunk_ft trunk_load_ratio"
       for letter in "rx"},
    "service_voltage_at_load_v": "service_demand_kw displacement_power_factor trunk_load_ratio "
                                 "loaded_line_r_ohm loaded_line_x_ohm "
                                 f"{CHAIN_OHM} service_voltage_v tap_voltage_pct",
    "withstand_a": "pump_motor_hp drive_rated_hp",
    "motor_fault_a": "connected_a drive_rated_hp",
    "fault_midpoint_a": f"{TO_TAP} transformer_kva motor_fault_a service_voltage_v",
    "fault_midpoint_drive_a": f"{TO_TAP} transformer_kva service_r_ohm service_x_ohm "
                              "motor_fault_a service_voltage_v",
    "fault_unsure_a": "source_r_ohm fault_current_a fault_midpoint_a motor_fault_a",
    "fault_standing": "source_r_ohm motor_fault_a",
    "starter_share": "starter_item soft_start_pct",
    "starting_kva": "pump_motor_hp motor_code_letter starter_share converter_inrush_kva "
                    "service_kva",
    **dict.fromkeys(("start_r_ohm", "start_x_ohm"),
                    "starting_kva displacement_power_factor locked_rotor_power_factor_pct "
                    "service_voltage_v motor_voltage_v"),
}

DISTORTION = {
    "is_unsettled": WAVEFORM,
    "current_thd_pct": WAVEFORM,
    **{f"voltage_{kind}_pct": f"{SPECTRUM} source_x_ohm loaded_line_x_ohm transformer_x_ohm "
       "service_x_ohm trunk_load_ratio service_voltage_v" for kind in ("thd", "harmonic")},
    **{f"voltage_{kind}_tap_pct": f"{SPECTRUM} source_x_ohm trunk_load_ratio service_voltage_v"
       for kind in ("thd", "harmonic")},
    "coupling_fault_a": "source_fault_a fault_current_a common_coupling_point",
    "coupling_demand_a": "fundamental_current_a primary_kv service_voltage_v "
                         "common_coupling_point",
    "tdd_limit_pct": "short_circuit_ratio",
    "single_harmonic_share_pct": f"{SPECTRUM} short_circuit_ratio",
}

LEADS = {
    "pulse_top_v": "lead_filter input_filter mean_bus_v service_voltage_v tap_voltage_pct "
                   "motor_voltage_v",
    "motor_rise_us": "lead_filter drive_rise_time_us",
    "motor_reflection_factor": "motor_lead_ft lead_filter motor_rise_us pulse_top_v",
    "tower_reflection_factor": "end_tower_lead_ft pivot_length_ft lead_filter motor_rise_us "
                               "pulse_top_v",
    "motor_peak_limit_v": "is_inverter_duty motor_voltage_v",
    "tower_peak_limit_v": "is_tower_inverter_duty motor_voltage_v",
    "motor_rise_limit_us": "is_inverter_duty",
    "tower_rise_limit_us": "is_tower_inverter_duty",
    "pivot_lead_used_ft": "pivot_lead_ft pivot_lead_assumed_ft pipe_length_ft pivot_length_ft",
    "pivot_lead_conductor": "pivot_machine_a pivot_lead_used_ft pivot_length_ft "
                            "pivot_lead_drop_limit_pct pivot_cable_ambient_c service_voltage_v",
    "pivot_lead_ampacity_a": "pivot_lead_conductor pivot_cable_ambient_c",
    "pivot_lead_drop_pct": "pivot_lead_conductor pivot_machine_a pivot_lead_ft "
                           "service_voltage_v",
    "machine_drop_pct": "pivot_machine_a booster_a pivot_length_ft pivot_cable_size "
                        "service_voltage_v",
    "pivot_cable_ampacity_a": "pivot_cable_size pivot_cable_ambient_c pivot_length_ft",
}

# What the checks of a design judge, with their limits and whether they are asked for.
JUDGED = (
    "pivot_length_ft motor_load_pct motor_load_limit_pct motor_loading_advised_pct "
    "motor_loading_limit_pct motor_loading_drive_limit_pct transformer_loading_pct "
    "transformer_loading_limit_pct service_ampacity_a minimum_ampacity_a "
    "service_voltage_drop_pct service_drop_limit_pct primary_voltage_drop_pct "
    "primary_drop_limit_pct service_voltage_at_load_v service_voltage_low_v "
    "service_voltage_no_load_v service_voltage_high_v starting_dip_pct starting_dip_limit_pct "
    "starting_dip_service_pct starting_dip_service_limit_pct single_phase_start_hp "
    "single_phase_start_limit_hp converter_unbalance_limit_pct fault_current_a "
    "interrupting_rating_a fault_unsure_a fault_midpoint_a fault_at_drive_a withstand_a "
    "fault_midpoint_drive_a midpoint_fault_counts current_tdd_pct tdd_limit_pct "
    "single_harmonic_share_pct current_limits_apply harmonic_limit_point voltage_thd_pct "
    "voltage_thd_service_limit_pct voltage_harmonic_pct voltage_harmonic_service_limit_pct "
    "voltage_thd_tap_pct voltage_thd_tap_limit_pct voltage_harmonic_tap_pct "
    "voltage_harmonic_tap_limit_pct drive_output_a drive_site_a motor_terminal_v motor_valley_v "
    "motor_voltage_v motor_voltage_low_pct motor_peak_v motor_peak_limit_v tower_peak_v "
    "tower_peak_limit_v motor_lead_drop_pct motor_lead_drop_limit_pct motor_rise_us "
    "motor_rise_limit_us tower_rise_limit_us layout_ft layout_limit_ft end_tower_v "
    "end_tower_minimum_v end_tower_advised_v pivot_cable_ampacity_a pivot_machine_a "
    "added_load_kw minimum_added_load_kw")
# And the economic criteria of an option.
CRITERIA = ("margin_usd_yr cooperative_outlay_usd cooperative_payback_yr "
            "maximum_cooperative_payback_yr member_saving_usd_yr member_net_cost_usd "
            "member_payback_yr maximum_member_payback_yr")

ANSWERS = {
    **{f"{answer}_count": f"{JUDGED} {CRITERIA}"
       for answer in ("meets", "watch", "fails", "not_assessed", "open_limits")},
    "fails_names": f"{JUDGED} {CRITERIA}",
    "is_priced": "project_cost_usd added_load_kw",
    "option_place": "supply_option",
    "missing_items": "is_priced is_unsettled line_build paid_line_ft transformer_kva "
                     "service_build service_ampacity_a disconnect_a three_phase_load_a "
                     "drive_rated_hp input_item lead_filter connected_hp converter_need_hp "
                     "starter_item pump_motor_hp has_motor_lead motor_lead_ampacity_a "
                     "has_pivot_lead pivot_lead_used_ft pivot_lead_ampacity_a present_power "
                     "price_usd",
    "missing_prices": "missing_items",
    "may_have_incentive": "is_priced fails_count",
    "is_chosen": "wanted_option paid_line_ft is_priced fails_count project_cost_usd "
                 "member_cost_usd life_cost_usd member_npv_usd option_chosen_by",
    "mitigation_reason": "variant current_tdd_pct tdd_limit_pct project_cost_usd "
                         "current_limits_apply",
    "option_reason": "wanted_option variant paid_line_ft is_priced missing_items fails_count "
                     "fails_names not_assessed_count project_cost_usd life_cost_usd "
                     "member_npv_usd option_chosen_by",
    "verdict": "is_priced fails_count watch_count not_assessed_count counted_load_kw "
               "member_npv_usd member_npv_floor_usd",
    "verdict_reason": "verdict is_priced missing_items fails_names counted_load_kw "
                      "ranking_counts",
    "rank": "ranking_usd_per_kw known_enough_for",
    "known_enough_for": "verdict not_assessed_count supply_option present_power pivot_length_ft "
                        "booster_hp rate_id feeder_id source_fault_a motor_lead_ft pivot_lead_ft "
                        "is_inverter_duty is_tower_inverter_duty fuel_rate nameplate_motor_hp "
                        "motor_efficiency_pct motor_full_load_a motor_code_letter tower_count "
                        "tower_motor_a booster_motor_a",
    "checks_answered": "meets_count watch_count fails_count not_assessed_count",
    "next_cells": "known_enough_for",
    "may_be_funded": "rank known_enough_for funding_choice knowledge_for_money",
    "ranking_usd_per_kw": "verdict known_enough_for funding_choice incentive_cost_usd "
                          "counted_load_kw builders",
    "funded": "in_budget in_best_set may_be_funded budget_method",
    "funded_with": "funded builders",
    "net_cost_if_one_leaves_usd": "funded builders member_net_cost_usd",
    "added_cost_usd": "funded incentive_cost_usd builders",
    "added_usd_per_kw": "added_cost_usd counted_load_kw builders",
    "in_best_set": "may_be_funded incentive_cost_usd set_goal set_chooses program_budget_usd "
                   "ratepayer_ratio_floor total_resource_ratio_floor usd_per_kw_ceiling "
                   "member_account_cap_usd member_account budget_adds_administration "
                   "budget_adds_refunds",
    "best_set_year": "in_best_set program_budget_usd",
    "why_not": "funded verdict may_be_funded next_cells running_incentive_cost_usd",
    "running_incentive_cost_usd": "rank incentive_cost_usd builders",
    "in_budget": "running_incentive_cost_usd may_be_funded program_budget_usd "
                 "budget_adds_administration budget_adds_refunds",
}

DEMAND = "service_demand_kw season_hours season_share_pct"
PRESENT = "present_power present_demand_used_kw"
DEMAND_PRICE = "rate_id demand_charge_usd_kw demand_months demand_ratchet_pct"
ENERGY_PRICE = ("rate_id connected_hp block_basis " + _keys("block_{}_size", "123") + " "
                + _keys("block_{}_usd_kwh", "1234") + " summer_months summer_adder_usd_kwh "
                "off_peak_usd_kwh off_peak_share_pct demand_ratchet_pct")
CREDIT_PRICE = "rate_id control_credit_usd_kw_month demand_months"
FIXED_PRICE = ("rate_id connected_hp customer_charge_usd_month facilities_charge_usd_hp_yr "
               "facilities_charge_usd_kw_month minimum_bill_usd_yr")


def _once(*texts):
    return " ".join(dict.fromkeys(" ".join(texts).split()))


BILL = _once(FIXED_PRICE, DEMAND_PRICE, ENERGY_PRICE)
SUPPLY_PRICE = ("rate_id wholesale_energy_usd_kwh wholesale_demand_usd_kw "
                "wholesale_demand_months losses_pct")

BILLS = {
    "present_bill_usd_yr": f"{PRESENT} season_hours season_share_pct {BILL}",
    "bill_customer_usd_yr": "rate_id customer_charge_usd_month",
    "bill_facilities_usd_yr": "service_demand_kw connected_hp rate_id "
                              "facilities_charge_usd_hp_yr facilities_charge_usd_kw_month",
    "bill_demand_usd_yr": f"{DEMAND} {DEMAND_PRICE}",
    "bill_energy_usd_yr": f"{DEMAND} {ENERGY_PRICE}",
    "bill_load_control_credit_usd_yr": f"{DEMAND} load_control {CREDIT_PRICE}",
    "bill_minimum_bill_adjustment_usd_yr": "bill_customer_usd_yr bill_facilities_usd_yr "
                                           "bill_demand_usd_yr bill_energy_usd_yr "
                                           "bill_load_control_credit_usd_yr rate_id "
                                           "minimum_bill_usd_yr",
    "base_revenue_usd_yr": "bill_demand_usd_yr bill_energy_usd_yr " + _once(
        PRESENT, "season_hours season_share_pct", DEMAND_PRICE, ENERGY_PRICE),
    "wholesale_cost_usd_yr": f"{DEMAND} {PRESENT} load_control {SUPPLY_PRICE} coincidence_pct "
                             "coincidence_controlled_pct",
    "controlled_revenue_usd_yr": _once("present_bill_usd_yr", DEMAND, BILL, CREDIT_PRICE),
    "uncontrolled_revenue_usd_yr": _once("present_bill_usd_yr", DEMAND, BILL),
    "controlled_wholesale_cost_usd_yr": f"{DEMAND} {PRESENT} {SUPPLY_PRICE} coincidence_pct "
                                        "coincidence_controlled_pct",
    "uncontrolled_wholesale_cost_usd_yr": f"{DEMAND} {PRESENT} {SUPPLY_PRICE} coincidence_pct",
}

TRUNK = ("builders line_build shared_single_phase_ft shared_three_phase_ft "
         "service_phases trunk_ft price_usd")
FREE_LINE = "line_free_single_phase_ft line_free_three_phase_ft line_free_job"

PRICES = {
    "shared_line_members": "builders line_build",
    "trunk_part_ft": "builders line_build shared_single_phase_ft "
                     "shared_three_phase_ft service_phases trunk_ft",
    "trunk_part_usd": f"{TRUNK} overhead_adder_pct",
    "trunk_free_usd": f"{TRUNK} {FREE_LINE}",
    "trunk_relieved_usd": TRUNK,
    "line_job_usd": "line_build price_usd",
    "own_line_usd": "own_line_ft line_build line_job_usd price_usd",
    "trunk_alone_usd": "trunk_ft line_build line_job_usd price_usd",
    "motor_lead_usd_ft": "has_motor_lead motor_lead_ampacity_a price_usd",
    "pivot_lead_usd_ft": "has_pivot_lead pivot_lead_used_ft pivot_lead_ampacity_a price_usd",
    "base_line_usd": "own_line_usd trunk_part_usd",
    "base_transformer_usd": "transformer_kva price_usd",
    "base_service_usd": "service_distance_ft service_build service_ampacity_a disconnect_a "
                        "price_usd",
    "base_drive_usd": "drive_rated_hp price_usd",
    "base_filter_usd": "input_item drive_rated_hp lead_filter connected_hp price_usd",
    "base_converter_usd": "drive_rated_hp price_usd",
    "base_starter_usd": "starter_item pump_motor_hp price_usd",
    "base_leads_usd": "motor_lead_used_ft motor_lead_usd_ft pivot_lead_used_ft "
                      "pivot_lead_usd_ft",
    "base_motor_change_usd": "present_power pump_motor_hp price_usd",
    "base_engineering_usd": "price_usd",
}

POOL = ("allowance_basis allowance_years revenue_usd_yr base_revenue_usd_yr margin_usd_yr")
FREE_OF = {
    "line": f"{FREE_LINE} own_line_ft trunk_part_ft trunk_free_usd line_job_usd line_build "
            "price_usd",
    "transformer": "transformer_kva transformer_free_kva transformer_free_method price_usd"}
COSTS = _keys("cost_{}_usd", map(item_key, COST_ITEMS))
WORK_COSTS = _keys("cost_{}_usd", COOPERATIVE_WORK)
SPLIT = "share_order free_limit_pct overhead_adder_pct"


def _member_share(item):
    """What the member's share of an item is made of. Items of the cooperative's work before it use
    up the pool of years of revenue first."""
    key = item_key(item)
    own = _once(f"cost_{key}_usd", *(f"share_{key}_{part}" for part in (
        "member_pct", "free_usd", "cap_usd", "member_cap_usd")), SPLIT, FREE_OF.get(item, ""))
    if item not in COOPERATIVE_WORK:
        return f"{own} above_farm_cap_usd"
    before = COOPERATIVE_WORK[:COOPERATIVE_WORK.index(item)]
    return _once(own, "above_farm_cap_usd", POOL, *(
        f"cost_{other}_usd share_{other}_member_pct share_{other}_free_usd {FREE_OF.get(other, '')}"
        for other in before))


ALL_SHARES = _once(COSTS, SPLIT, _of_rule("member_pct"), _of_rule("free_usd"), *FREE_OF.values(),
                   POOL)
SHARES = {
    **{f"cost_{item_key(item)}_usd": f"base_{item_key(item)}_usd overhead_adder_pct"
       for item in COST_ITEMS},
    **{f"member_{item_key(item)}_usd": _member_share(item) for item in COST_ITEMS},
    "allowance_usd": ALL_SHARES,
    "cooperative_work_usd": WORK_COSTS,
    "above_farm_cap_usd": _once(ALL_SHARES, _of_rule("cap_usd"), _of_rule("member_cap_usd"),
                                "farm_cap_usd"),
}

EQUIPMENT_BY_MEMBER = _keys("member_{}_usd", (
    item_key(item) for item in COST_ITEMS if item not in COOPERATIVE_WORK))
REFUND = ("contribution_usd " + _keys("member_{}_usd", COOPERATIVE_WORK)
          + " revenue_usd_yr added_load_kw season_hours refund_credit_years refund_credit_items "
          "refund_credit_pct refund_credit_base_usd_yr refund_credit_usd_kwh contribution_months "
          "contribution_interest_pct rate_escalation_pct study_years")
FUEL_SIDE = ("fuel_cost_usd_yr upkeep_cost_usd_yr present_power engine_replacement_usd "
             "engine_remaining_yr engine_life_yr fuel_escalation_pct upkeep_escalation_pct "
             "study_years")
REPLACED = ("electric_upkeep_usd_yr cost_drive_usd cost_filter_usd drive_life_yr "
            "upkeep_escalation_pct study_years")
PAID_IN = "contribution_usd contribution_months contribution_interest_pct study_years"
REVENUE = "revenue_usd_yr rate_escalation_pct study_years"
SUPPLY = "wholesale_cost_usd_yr wholesale_escalation_pct study_years"
PLANT = ("cooperative_work_usd carrying_cost_usd_yr upkeep_escalation_pct plant_life_yr "
         "residual_value_counts study_years")
GRANT = "other_funding_usd member_cost_usd incentive_usd"
PAID_FOR_MEMBER = f"incentive_usd equipment_cost_usd {EQUIPMENT_BY_MEMBER}"
RATE_OF = {"participant": "member", "societal": "societal"}


def _in_test(test, *texts):
    rate = f"discount_rate_{RATE_OF.get(test, 'cooperative')}_pct"
    return _once(*texts, rate, "test_timing")


COOPERATIVE_COSTS = _once(SUPPLY, PLANT, PAID_IN, "refund_credit_usd", PAID_FOR_MEMBER,
                          "administration_usd")
RESOURCE_COSTS = _once("equipment_cost_usd", REPLACED, PLANT, SUPPLY, "administration_usd")
TEST_PARTS = {
    "participant": (_once(FUEL_SIDE, PAID_FOR_MEMBER, GRANT),
                    _once(REVENUE, "equipment_cost_usd", REPLACED, PAID_IN, "refund_credit_usd")),
    "ratepayer": (REVENUE, COOPERATIVE_COSTS),
    "administrator": ("", COOPERATIVE_COSTS),
    "total_resource": (FUEL_SIDE, _once(RESOURCE_COSTS, GRANT)),
    "societal": (_once(FUEL_SIDE, "co2_present_t_yr emission_damage_usd_t"),
                 _once(RESOURCE_COSTS, "co2_added_t_yr emission_damage_usd_t")),
}

INCENTIVE = _once(
    "may_have_incentive incentive_basis incentive_amount incentive_tiers pump_motor_hp "
    "added_load_kw incentive_eligible_items", _keys("member_{}_usd", map(item_key, COST_ITEMS)),
    "incentive_minimum_usd incentive_maximum_usd incentive_cap_usd_per_kw incentive_cap_cost_pct "
    "project_cost_usd farm_cap_usd cooperative_cost_usd maximum_cooperative_payback_yr "
    "margin_usd_yr cooperative_work_usd carrying_cost_pct administration_usd member_cost_usd "
    "other_funding_usd plant_life_yr", REFUND)

VALUE = {
    "incentive_usd": f"incentive_decided_by {INCENTIVE}",
    "incentive_decided_by": INCENTIVE,
    "incentive_cost_usd": "incentive_usd cooperative_cost_usd incentive_cost_counts",
    "refund_credit_usd_yr": REFUND,
    "refund_credit_usd": REFUND,
    "co2_present_t_yr": "present_fuel_per_yr present_power co2_diesel_kg_gal co2_propane_kg_gal "
                        "co2_gasoline_kg_gal co2_natural_gas_kg_mcf",
    "co2_added_t_yr": "added_load_kw season_hours losses_pct co2_grid_lb_mwh",
    "member_flow_usd": _once(FUEL_SIDE, REVENUE, REPLACED, EQUIPMENT_BY_MEMBER, PAID_IN,
                             "refund_credit_usd", GRANT),
    "cooperative_flow_usd": _once(REVENUE, SUPPLY, PLANT, PAID_IN, "refund_credit_usd",
                                  PAID_FOR_MEMBER, "administration_usd"),
    **{f"{party}_discounted_payback_yr": f"{party}_flow_usd discount_rate_{party}_pct"
       for party in ("member", "cooperative")},
    **{f"{test}_{side}_usd": _in_test(test, parts) if parts else ""
       for test, sides in TEST_PARTS.items() for side, parts in zip(("benefits", "costs"), sides)},
    **{f"{case}_ratepayer_npv_usd": _in_test(
        "ratepayer", "ratepayer_npv_usd", REVENUE, SUPPLY, REFUND, f"{case}_revenue_usd_yr",
        f"{case}_wholesale_cost_usd_yr") for case in ("controlled", "uncontrolled")},
    **dict.fromkeys(("member_irr_pct", "irr_root_count", "flow_sign_changes"),
                    "member_flow_usd"),
    "breakeven_hours": _once("is_chosen season_hours used_fuel_rate fuel_price_usd "
                             "used_upkeep_usd_h electric_upkeep_usd_yr present_bill_usd_yr "
                             "present_demand_used_kw load_control", DEMAND, BILL, CREDIT_PRICE),
    "breakeven_line_ft": "margin_usd_yr carrying_cost_usd_yr cooperative_outlay_usd "
                         "incentive_usd base_line_usd line_job_usd line_build price_usd "
                         "overhead_adder_pct maximum_cooperative_payback_yr "
                         "share_line_member_pct carrying_cost_pct",
    "breakeven_line_npv_ft": "",
    "refund_if_joined_usd": "member_line_usd shared_line_members shared_line_id "
                            "trunk_relieved_usd own_line_usd own_line_ft line_job_usd "
                            "base_line_usd refund_window_yr refund_method",
    "contribution_monthly_usd": "contribution_usd contribution_months contribution_interest_pct",
}
VALUE["breakeven_line_npv_ft"] = _once(
    "is_chosen cooperative_npv_usd line_build line_job_usd price_usd transformer_kva",
    _keys("base_{}_usd", (item_key(item) for item in COST_ITEMS if item != "line")), PLANT,
    "carrying_cost_pct", REFUND, POOL, FREE_LINE,
    "transformer_free_kva transformer_free_method", SPLIT, "farm_cap_usd",
    _of_rule("member_pct"), _of_rule("free_usd"), _of_rule("cap_usd"), _of_rule("member_cap_usd"),
    "discount_rate_cooperative_pct")

MADE_OF = (FARM | DESIGN | SIZED | CHAIN | DISTORTION | LEADS | ANSWERS | BILLS | PRICES | SHARES
           | VALUE)


def with_parts(columns):
    """The columns with what each is made of."""
    return tuple(replace(column, made_of=MADE_OF.get(column.key, "")) for column in columns)
