"""Every way to supply each farm: one row per candidate and variant, with its demand and rating.

The table of supply variants is data; each later step adds columns to this one frame.
"""

import numpy as np
import pandas as pd

from batch.columns.candidates import ROTARY, SINGLE_PHASE_DRIVE, THREE_PHASE_LINE
from batch.columns.program import COUNTED_LOADS
from batch.columns.unit_costs import CONVERTER, DRIVE, SINE
from batch.engineering import altitude, motors, starting
from batch.engineering.transformer import next_standard_size
from batch.farm.water import MOTOR_TABLE, amperes_column
from batch.step import step
from batch.tables import column, table, value_at
from batch.tables import sizes as standard_sizes

FRONT_END = "active_front_end"  # the input filter's name in the table of variants


@step(
    needs="shared_line_id",
    makes="""
        excel_row shared_single_phase_ft shared_three_phase_ft supply_option variant
        service_phases line_reactor_pct dc_choke_pct input_filter input_item starter_item
        own_displacement_pf""",
    rows_of="excel_row")
def candidates_by_variant(farms: pd.DataFrame, shared_lines) -> pd.DataFrame:
    """Every farm repeated for every variant; `excel_row` tells which farm it is."""
    farms = farms.join(shared_lines.set_index("shared_line_id"), on="shared_line_id")
    has_shared = farms["shared_line_id"].notna()
    for phases in ("single", "three"):
        key = f"shared_{phases}_phase_ft"
        farms[key] = farms[key].where(has_shared, 0.0)
    variants = table("supply_variants").rename(
        columns={"displacement_power_factor": "own_displacement_pf"})
    designs = farms.reset_index().merge(variants, how="cross")
    # A number of its own for each design, whatever farms are worked through together.
    return designs.set_index(designs["excel_row"].to_numpy() * len(variants)
                             + np.tile(np.arange(len(variants)), len(farms)))


def is_option(designs, option):
    """Mask of the rows of one supply option."""
    return (designs["supply_option"] == option).to_numpy()


def transformer_units(designs):
    """Transformers of each design (n,): one, or a bank of three."""
    return np.where(designs["service_phases"] == 3, 3, 1)


@step(
    needs="""
        present_power present_demand_kw season_hours pump_motor_hp pivot_length_ft tower_motor_hp
        booster_hp single_phase_distance_ft three_phase_distance_ft shared_line_use_ft
        site_elevation_ft motor_lead_ft pivot_lead_ft supply_option motor_design_a motor_input_kw
        tower_count_used pivot_demand_kw towers_a booster_a pivot_machine_a shared_single_phase_ft
        shared_three_phase_ft service_phases input_filter""",
    rules="""
        motor_voltage_v site_elevation_ft motor_loading_limit_pct motor_loading_drive_limit_pct
        motor_code_letter single_phase_derating_pct drive_efficiency_pct front_end_efficiency_pct
        converter_efficiency_pct converter_idle_loss_pct converter_size_factor
        converter_inrush_pct output_reactor_lead_ft dvdt_filter_lead_ft sine_filter_lead_ft
        ranking_counts""",
    makes="""
        load_kw three_phase_load_a connected_a connected_hp converter_need_hp
        site_elevation_used_ft drive_altitude_pct transformer_altitude_pct motor_load_limit_pct
        drive_allowed_a drive_site_a drive_rated_hp end_tower_lead_ft longest_lead_ft lead_filter
        drive_efficiency_used_pct service_demand_kw converter_inrush_kva converter_start_hp
        added_load_kw useful_load_kw counted_load_kw annual_energy_kwh drive_loss_kwh_yr phase_kw
        own_line_ft trunk_ft present_demand_used_kw""")
def supply_demand(designs: pd.DataFrame, rules, price_list) -> pd.DataFrame:
    """Rating of drive or converter, service demand, added and useful load, and energy."""
    designs = designs.copy()
    drive, rotary = is_option(designs, SINGLE_PHASE_DRIVE), is_option(designs, ROTARY)
    designs["load_kw"] = designs["motor_input_kw"] + designs["pivot_demand_kw"]
    designs["three_phase_load_a"] = designs["motor_design_a"] + designs["pivot_machine_a"]
    designs["connected_a"] = designs["motor_design_a"] + designs["towers_a"] + designs["booster_a"]
    designs["connected_hp"] = (designs["pump_motor_hp"] + designs["booster_hp"]
                               + designs["tower_count_used"] * designs["tower_motor_hp"])
    designs["converter_need_hp"] = np.maximum(
        rules["converter_size_factor"] * designs["pump_motor_hp"], designs["connected_hp"])
    _what_height_leaves(designs, drive, rules)
    _rating(designs, drive, rotary, rules, price_list)
    _output_filter(designs, drive, rules)
    designs["drive_efficiency_used_pct"] = np.where(drive, _drive_efficiency_pct(designs, rules),
                                                    np.nan)
    designs["service_demand_kw"] = _service_demand_kw(designs, drive, rotary, rules)
    _converter_inrush(designs, rotary, rules, price_list)
    # Only a rotary converter is an electric load today; validation says so of other rows.
    designs["present_demand_used_kw"] = designs["present_demand_kw"].where(
        designs["present_power"] == ROTARY, 0.0)
    designs["added_load_kw"] = designs["service_demand_kw"] - designs["present_demand_used_kw"]
    designs["useful_load_kw"] = designs["load_kw"] - (
        designs["present_demand_used_kw"] * (rules["converter_efficiency_pct"] / 100))
    designs["counted_load_kw"] = designs[COUNTED_LOADS[rules["ranking_counts"]]]
    designs["annual_energy_kwh"] = designs["service_demand_kw"] * designs["season_hours"]
    designs["drive_loss_kwh_yr"] = (designs["service_demand_kw"]
                                    - designs["load_kw"]) * designs["season_hours"]
    designs["phase_kw"] = designs["added_load_kw"] / designs["service_phases"]
    _line_lengths(designs)
    return designs


def _rating(designs, drive, rotary, rules, price_list):
    """Rating of drive or converter, and what the drive carries at its site."""
    drive_hp, drive_allowed_a = drive_rating(designs["three_phase_load_a"],
                                             designs["drive_altitude_pct"],
                                             rules, price_list)
    designs["drive_allowed_a"] = np.where(drive, drive_allowed_a, np.nan)
    designs["drive_site_a"] = designs["drive_allowed_a"] * designs["drive_altitude_pct"] / 100
    designs["drive_rated_hp"] = np.select(
        [drive, rotary],
        [drive_hp,
         next_standard_size(required=designs["converter_need_hp"],
                            sizes=_sizes_to_choose(price_list, CONVERTER))],
        np.nan)


def _service_demand_kw(designs, drive, rotary, rules):
    """What each design takes at the service (n,) [kW], with the losses of drive or converter."""
    converter_loss_kw = (motors.KW_PER_HP * designs["drive_rated_hp"]
                         * rules["converter_idle_loss_pct"] / 100)
    converter_kw = np.maximum(designs["load_kw"] / (rules["converter_efficiency_pct"] / 100),
                              designs["load_kw"] + converter_loss_kw)
    return np.select(
        [drive, rotary],
        [designs["load_kw"] / (designs["drive_efficiency_used_pct"] / 100), converter_kw],
        designs["load_kw"])


def _line_lengths(designs):
    """Each design's own line and its way along the shared one."""
    three_phase = is_option(designs, THREE_PHASE_LINE)
    designs["own_line_ft"] = np.where(three_phase, designs["three_phase_distance_ft"],
                                      designs["single_phase_distance_ft"])
    # A farm that leaves the shared line before its end leaves a three-phase one as far before.
    unused_ft = (designs["shared_single_phase_ft"] - designs["shared_line_use_ft"]).fillna(0.0)
    shared_ft = np.where(three_phase, designs["shared_three_phase_ft"],
                         designs["shared_single_phase_ft"])
    designs["trunk_ft"] = np.maximum(shared_ft - unused_ft, 0.0)


@step(
    needs="builders supply_option variant service_demand_kw",
    makes="trunk_load_ratio")
def load_of_builders(designs: pd.DataFrame) -> pd.Series:
    """Load of all that build the shared line over the farm's own, if all take the same variant."""
    trunk_kw = designs.groupby(["builders", "supply_option", "variant"])[
        "service_demand_kw"].transform("sum")
    ratio = (trunk_kw / designs["service_demand_kw"]).fillna(1.0)
    return ratio.where(designs["service_demand_kw"].notna()).rename("trunk_load_ratio")


def _what_height_leaves(designs, drive, rules):
    """What thin air leaves of drives, transformers and the motor's service factor."""
    height_ft = designs["site_elevation_ft"].fillna(rules["site_elevation_ft"])
    designs["site_elevation_used_ft"] = height_ft
    designs["drive_altitude_pct"] = np.where(drive, altitude.rating_at_height_pct(
        elevation_ft=height_ft, loss_pct=altitude.DRIVE_LOSS_PCT), np.nan)
    designs["transformer_altitude_pct"] = altitude.rating_at_height_pct(
        elevation_ft=height_ft, loss_pct=altitude.TRANSFORMER_LOSS_PCT)
    limit_pct = np.where(is_option(designs, THREE_PHASE_LINE), rules["motor_loading_limit_pct"],
                         rules["motor_loading_drive_limit_pct"])
    designs["motor_load_limit_pct"] = np.where(limit_pct > 0, altitude.motor_loading_limit_pct(
        elevation_ft=height_ft, limit_pct=limit_pct), np.nan)


def _sizes_to_choose(price_list, item):
    """Sizes of a drive or converter, ascending: those of the price list; where it has none, or one
    price for the sizes that it does not list, the standard ratings above them."""
    sizes = price_list.of(item)["size"]
    listed = np.unique(sizes.dropna().to_numpy(float))
    if len(listed) and sizes.notna().all():
        return listed
    standard = standard_sizes("drive_hp")
    return np.append(listed, standard[standard > listed.max(initial=0.0)])


def _output_filter(designs, drive, rules):
    """The filter at a drive's output by its longest lead: to the pump motor, or to the pivot's end
    tower. No filter is known where a length is not."""
    pivot_ft = designs["pivot_length_ft"].fillna(0)
    designs["end_tower_lead_ft"] = np.where(pivot_ft > 0, designs["pivot_lead_ft"] + pivot_ft, 0.0)
    longest_ft = np.maximum(designs["motor_lead_ft"], designs["end_tower_lead_ft"]).to_numpy()
    designs["longest_lead_ft"] = np.where(drive, longest_ft, np.nan)
    filters = table("output_filters")["lead_filter"].to_numpy(object)
    steps = [rules["output_reactor_lead_ft"], rules["dvdt_filter_lead_ft"],
             rules["sine_filter_lead_ft"]]
    place = np.searchsorted(steps, np.nan_to_num(longest_ft), side="left")
    designs["lead_filter"] = np.where(drive & ~np.isnan(longest_ft), filters[place], None)


def _drive_efficiency_pct(designs, rules):
    """Of the drive with its output filter. Where no filter is known the dearest is priced, and its
    loss is counted."""
    front_end = (designs["input_filter"] == FRONT_END).to_numpy()
    filter_loss_pct = value_at("output_filters", "lead_filter", designs["lead_filter"].fillna(SINE),
                               "power_loss_pct")
    return np.where(front_end, rules["front_end_efficiency_pct"],
                    rules["drive_efficiency_pct"]) * (1 - filter_loss_pct / 100)


def _converter_inrush(designs, rotary, rules, price_list):
    """What a rotary converter draws as it starts, unloaded: its maker's figure, or the program's
    share of the locked-rotor kVA of its rating; and the motor that draws as much."""
    listed = price_list.of(CONVERTER).dropna(subset="size").groupby("size")
    by_maker = listed["inrush_kva"].max().reindex(designs["drive_rated_hp"]).to_numpy(float)
    per_hp = value_at("locked_rotor_kva_per_hp", "letter", [rules["motor_code_letter"]], "high")[0]
    by_rule = rules["converter_inrush_pct"] / 100 * starting.locked_rotor_kva(
        motor_hp=designs["drive_rated_hp"], locked_rotor_kva_per_hp=per_hp)
    inrush_kva = np.where(np.isnan(by_maker), by_rule, by_maker)
    designs["converter_inrush_kva"] = np.where(rotary, inrush_kva, np.nan)
    designs["converter_start_hp"] = designs["converter_inrush_kva"] / per_hp


def drive_rating(three_phase_load_a, altitude_pct, rules, price_list):
    """Smallest drive whose current on single-phase input, of which the site's height leaves
    a part [%], is not below the load's: its size [hp] and that current [A] at sea level.

    A drive may run, on single-phase input, the maker's single-phase motor rating where the price
    list has one; else the program's share of its own rated current (half: the rectifier and the
    bus carry the whole power over two legs, with ripple at twice the line's frequency).
    """
    listed = price_list.of(DRIVE).dropna(subset="size").groupby("size")
    hp = _sizes_to_choose(price_list, DRIVE)
    by_maker_a = _table_current_at_or_below(
        listed["single_phase_hp"].max().reindex(hp).to_numpy(float), rules)
    derated_a = (rules["single_phase_derating_pct"] / 100
                 * _table_current_at_or_below(hp, rules))
    allowed_a = np.maximum.accumulate(np.nan_to_num(
        np.where(np.isnan(by_maker_a), derated_a, by_maker_a)))
    allowed_step = next_standard_size(required=three_phase_load_a / (altitude_pct / 100),
                                      sizes=np.unique(allowed_a))
    smallest = pd.Series(hp, allowed_a).groupby(level=0).min()
    return smallest.reindex(allowed_step).to_numpy(float), allowed_step


def _table_current_at_or_below(hp, rules):
    """Current of the motor table's rating at or below each value; NaN below the table."""
    table_hp = column(MOTOR_TABLE, "hp")
    place = np.searchsorted(table_hp, hp, side="right") - 1
    known = ~np.isnan(np.asarray(hp, float)) & (place >= 0)
    return np.where(known, column(MOTOR_TABLE, amperes_column(rules))[np.clip(place, 0, None)],
                    np.nan)
