"""What the load does to others and to its own motor: starting, distortion, leads, end tower."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from batch.columns.candidates import CONDUIT, ROTARY, SINGLE_PHASE_DRIVE
from batch.columns.program import AT_TAP
from batch.engineering import conductors, harmonics, motor_leads, starting
from batch.step import step
from batch.supply import service_conductors
from batch.supply.designs import FRONT_END, is_option
from batch.supply.spectrum import HERTZ
from batch.tables import table, value_at

LIMIT_COLUMNS = ("h3_10", "h11_16", "h17_22", "h23_34", "h35_50")
TOWER_POWER_FACTOR = 0.8  # small motors under load; common practice, no source
SINE_RISE_US = 1e6 / (4 * HERTZ)  # from zero to its peak, a quarter of a cycle
LIMIT_FIRST_ORDER = np.array([3, 11, 17, 23, 35])


@step(
    needs="""
        pump_motor_hp motor_code_letter supply_option starter_item converter_inrush_kva
        converter_start_hp displacement_power_factor service_kva""",
    rules="""
        service_voltage_v motor_voltage_v motor_code_letter locked_rotor_power_factor_pct
        soft_start_pct""",
    makes="""
        starting_kva start_r_ohm start_x_ohm starting_dip_pct starting_dip_service_pct
        starter_share single_phase_start_hp""")
def starting_results(designs: pd.DataFrame, chain, rules) -> pd.DataFrame:
    """Dip at the tap and at the service as the pump motor or a rotary converter starts.

    A drive ramps: its input while starting never exceeds its full-load input. Across the line,
    the motor at standstill draws its locked-rotor power by its code letter, at its rated voltage. A
    converter starts first and unloaded, then the pump through it; the larger of the two counts.
    """
    designs = designs.copy()
    letter = designs["motor_code_letter"].fillna(rules["motor_code_letter"])
    locked_rotor_kva = starting.locked_rotor_kva(
        motor_hp=designs["pump_motor_hp"],
        locked_rotor_kva_per_hp=value_at("locked_rotor_kva_per_hp", "letter", letter, "high"))
    drive, rotary = is_option(designs, SINGLE_PHASE_DRIVE), is_option(designs, ROTARY)
    share = np.where(designs["starter_item"] == "soft starter", rules["soft_start_pct"] / 100, 1.0)
    motor_kva = share * locked_rotor_kva
    designs["starting_kva"] = np.select(
        [drive, rotary],
        [designs["service_kva"], np.maximum(motor_kva, designs["converter_inrush_kva"])],
        motor_kva)
    start = {
        "locked_rotor_kva": designs["starting_kva"].to_numpy(),
        "starting_power_factor": np.where(drive, designs["displacement_power_factor"],
                                          rules["locked_rotor_power_factor_pct"] / 100),
        "voltage_v": np.where(drive, rules["service_voltage_v"], rules["motor_voltage_v"])}
    start_ohm = starting.standing_motor_ohm(**start)
    designs["start_r_ohm"], designs["start_x_ohm"] = start_ohm.real, start_ohm.imag
    designs["starting_dip_pct"] = starting.starting_dip_at_point_pct(
        point_impedance_ohm=chain.source, impedance_ohm=chain.whole, **start)
    designs["starting_dip_service_pct"] = starting.starting_dip_pct(impedance_ohm=chain.whole,
                                                                    **start)
    designs["starter_share"] = np.where(drive, np.nan, share)
    designs["single_phase_start_hp"] = np.where(
        rotary, np.maximum(share * designs["pump_motor_hp"], designs["converter_start_hp"]), np.nan)
    return designs


@step(
    needs="primary_kv source_fault_a trunk_load_ratio fault_current_a",
    rules="service_voltage_v common_coupling_point",
    makes="""
        is_unsettled current_thd_pct voltage_thd_pct voltage_harmonic_pct voltage_thd_tap_pct
        voltage_harmonic_tap_pct current_tdd_pct coupling_fault_a coupling_demand_a
        short_circuit_ratio tdd_limit_pct single_harmonic_share_pct""")
def distortion_results(designs: pd.DataFrame, chain, spectrum, rules) -> pd.DataFrame:
    """Current and voltage distortion of the drives, and the limit rows that apply."""
    designs = designs.copy()
    volts = rules["service_voltage_v"]
    designs["is_unsettled"] = spectrum.is_unsettled
    designs["current_thd_pct"] = harmonics.thd_pct(harmonic_a=spectrum.harmonic_a)
    loaded = chain.loaded(designs["trunk_load_ratio"].to_numpy())
    for reactance_ohm, place in ((loaded.whole.imag, ""), (loaded.source.imag, "_tap")):
        harmonic_pct = harmonics.harmonic_voltage_pct(
            harmonic_a=spectrum.harmonic_a, reactance_ohm=reactance_ohm, voltage_v=volts)
        designs[f"voltage_thd{place}_pct"] = harmonics.voltage_thd_pct(
            harmonic_voltage_pct=harmonic_pct)
        designs[f"voltage_harmonic{place}_pct"] = harmonic_pct[:, 1:].max(axis=1)
    # One farm behind its transformer: its fundamental at full load, pivot included, is the demand.
    demand_a = spectrum.harmonic_a[:, 0]
    designs["current_tdd_pct"] = harmonics.tdd_pct(
        harmonic_a=spectrum.harmonic_a, demand_current_a=demand_a)
    designs["coupling_fault_a"], designs["coupling_demand_a"] = _at_common_coupling(designs,
                                                                                    demand_a, rules)
    designs["short_circuit_ratio"] = designs["coupling_fault_a"] / designs["coupling_demand_a"]
    limits = table("harmonic_current_limits")
    rows = {"short_circuit_ratio": designs["short_circuit_ratio"].to_numpy(float),
            "ratio_lower_bound": np.array([0, 20, 50, 100, 1000])}
    designs["tdd_limit_pct"] = harmonics.limits_by_ratio(limit_pct=limits["TDD"], **rows)
    by_order = harmonics.limits_by_ratio(limit_pct=limits[list(LIMIT_COLUMNS)], **rows)
    designs["single_harmonic_share_pct"] = _largest_share_of_limit(spectrum.harmonic_a, by_order)
    return designs


def _at_common_coupling(designs, demand_a, rules):
    """Fault current and the farm's demand at the point of common coupling [A], both at the voltage
    of that point. NaN where there is no drive."""
    if rules["common_coupling_point"] == AT_TAP:
        fault_a = designs["source_fault_a"]
        demand_a = demand_a * rules["service_voltage_v"] / (1000 * designs["primary_kv"])
    else:
        fault_a = designs["fault_current_a"].where(designs["source_fault_a"].notna())  # no bound
    return fault_a.where(~np.isnan(demand_a)), demand_a


def _largest_share_of_limit(harmonic_a, limit_by_band):
    """Largest ratio of a single current harmonic to its own limit [%], orders 3 to 50."""
    orders = np.arange(1, harmonic_a.shape[1] + 1)
    band = np.clip(np.searchsorted(LIMIT_FIRST_ORDER, orders, side="right") - 1, 0, None)
    percent = 100 * harmonic_a / harmonic_a[:, :1]
    return (100 * percent / limit_by_band[:, band])[:, 2:].max(axis=1)


@step(
    needs="pumping_lift_ft motor_lead_ft motor_design_a",
    rules="""
        motor_voltage_v ambient_c terminations conduit motor_power_factor_pct
        motor_lead_drop_limit_pct motor_lead_assumed_ft""",
    makes="motor_lead_used_ft motor_lead_conductor motor_lead_ampacity_a motor_lead_drop_pct")
def size_motor_leads(designs: pd.DataFrame, rules) -> pd.DataFrame:
    """The leads from drive, converter or starter to the motor, and their drop.

    They are the smallest copper run that carries the motor (NEC 430.22) within the program's drop,
    else the largest there is. The drop is that at its rated current, unless the program does not
    count it.
    """
    designs = designs.copy()
    # A submersible's leads reach down to the water at least.
    designs["motor_lead_used_ft"] = designs["motor_lead_ft"].fillna(
        np.maximum(rules["motor_lead_assumed_ft"], designs["pumping_lift_ft"]))
    limit_pct = rules["motor_lead_drop_limit_pct"]
    listed = service_conductors.runs(rules, CONDUIT, "cu")
    needed_a = 1.25 * designs["motor_design_a"].to_numpy()
    carries = service_conductors.by_circuit(needed_a, *(
        listed[key].to_numpy() for key in ("small_circuit_ampacity", "ampacity")))
    lead = _ThreePhaseLead(carries, listed["r"], listed["x"],
                           rules["motor_power_factor_pct"] / 100, rules["motor_voltage_v"])
    run = lead.smallest(needed_a=needed_a, drop_limit_pct=limit_pct or np.inf,
                        current_a=designs["motor_design_a"],
                        length_ft=designs["motor_lead_used_ft"])
    _name_leads(designs, "motor_lead", listed, carries, run, ~np.isnan(needed_a))
    # Without a run that is large enough, of the last one.
    designs["motor_lead_drop_pct"] = 0.0 if limit_pct == 0 else lead.drop_pct(
        run, current_a=designs["motor_design_a"], length_ft=designs["motor_lead_ft"])
    return designs


@step(
    needs="""
        is_inverter_duty pivot_length_ft is_tower_inverter_duty service_distance_ft motor_lead_ft
        supply_option input_filter end_tower_lead_ft lead_filter mean_bus_v""",
    rules="service_voltage_v motor_voltage_v tap_voltage_pct drive_rise_time_us",
    makes="""
        pulse_top_v motor_rise_us motor_peak_v motor_reflection_factor tower_peak_v
        tower_reflection_factor motor_peak_limit_v motor_rise_limit_us tower_peak_limit_v
        tower_rise_limit_us layout_ft""")
def lead_results(designs: pd.DataFrame, rules) -> pd.DataFrame:
    """Peak and rise time of a drive's pulses at the pump motor and at the pivot's towers."""
    designs = designs.copy()
    drive = is_option(designs, SINGLE_PHASE_DRIVE)
    is_known = drive & designs["lead_filter"].notna().to_numpy()
    filter_us = value_at("output_filters", "lead_filter", designs["lead_filter"], "rise_time_us")
    rise_us = np.where(np.isnan(filter_us), rules["drive_rise_time_us"], filter_us)
    is_sine = value_at("output_filters", "lead_filter", designs["lead_filter"], "is_sine") == 1
    sine_peak_v = np.sqrt(2) * rules["motor_voltage_v"]
    bus_top_v = np.where(
        (designs["input_filter"] == FRONT_END).to_numpy(), designs["mean_bus_v"],
        np.sqrt(2) * rules["service_voltage_v"] * rules["tap_voltage_pct"] / 100)
    designs["pulse_top_v"] = np.where(is_known, np.where(is_sine, sine_peak_v, bus_top_v), np.nan)
    designs["motor_rise_us"] = np.where(is_known, np.where(is_sine, SINE_RISE_US, rise_us), np.nan)
    has_pivot = designs["pivot_length_ft"].fillna(0).to_numpy() > 0
    for name, lead_ft, is_there in (("motor", designs["motor_lead_ft"], is_known),
                                    ("tower", designs["end_tower_lead_ft"], is_known & has_pivot)):
        pulses_v = motor_leads.motor_peak_v(
            bus_v=bus_top_v, motor_lead_ft=lead_ft.to_numpy(),
            critical_length_ft=motor_leads.critical_length_ft(rise_time_us=rise_us))
        designs[f"{name}_peak_v"] = np.where(
            is_there, np.where(is_sine, sine_peak_v, pulses_v), np.nan)
        designs[f"{name}_reflection_factor"] = designs[f"{name}_peak_v"] / designs["pulse_top_v"]
    for name, of_class in (("motor", designs["is_inverter_duty"]),
                           ("tower", designs["is_tower_inverter_duty"])):
        is_of = [drive & (of_class == 1), drive & (of_class == 0)]
        designs[f"{name}_peak_limit_v"] = np.select(
            is_of, [_inverter_duty_peak_v(rules), motor_leads.PART_30_PEAK_V], np.nan)
        designs[f"{name}_rise_limit_us"] = np.select(
            is_of, [motor_leads.PART_31_RISE_US, motor_leads.PART_30_RISE_US], np.nan)
    designs["layout_ft"] = np.where(drive, designs["service_distance_ft"]
                                    + designs["motor_lead_ft"], np.nan)
    return designs


def motor_class_limits(rules) -> dict[str, float]:
    """Limits of the two classes of motors, by the names that checks know them by: what holds for
    any motor, and what not even an inverter-duty motor is made for."""
    return {"any_motor_peak_v": motor_leads.PART_30_PEAK_V,
            "no_motor_peak_v": _inverter_duty_peak_v(rules),
            "any_motor_rise_us": motor_leads.PART_30_RISE_US,
            "no_motor_rise_us": motor_leads.PART_31_RISE_US}


def _inverter_duty_peak_v(rules):
    return motor_leads.inverter_duty_peak_limit_v(motor_rated_v=rules["motor_voltage_v"])


def _name_leads(designs, key, listed, carries, run, is_known):
    """Name and ampacity of the run of each row, where it is known."""
    names = service_conductors.run_names(listed.iloc[run].reset_index(drop=True), "copper")
    ampacity = np.broadcast_to(carries, (len(designs), len(listed)))[np.arange(len(designs)), run]
    designs[f"{key}_conductor"] = np.where(is_known, names, None)
    designs[f"{key}_ampacity_a"] = np.where(is_known, ampacity, np.nan)


@dataclass(frozen=True)
class _ThreePhaseLead:
    """Runs (k,) that a three-phase lead may be built of, from the smallest up; ampacities (k,), or
    (n, k) where they differ by row."""

    ampacity_a: np.ndarray
    r_ohm_kft: pd.Series
    x_ohm_kft: pd.Series
    power_factor: float
    voltage_v: float

    def smallest(self, *, needed_a, drop_limit_pct, current_a, length_ft):
        """Place of the smallest run that carries the current within the drop; -1 for none."""
        return conductors.smallest_run(
            needed_a=needed_a, drop_limit_pct=drop_limit_pct, ampacity_a=self.ampacity_a,
            resistance_ohm_kft=self.r_ohm_kft, reactance_ohm_kft=self.x_ohm_kft,
            **self._load(current_a, length_ft))

    def drop_pct(self, run, *, current_a, length_ft):
        """Drop (n,) [%] in a run of each row."""
        return conductors.run_drop_pct(
            resistance_ohm_kft=self.r_ohm_kft.to_numpy()[run],
            reactance_ohm_kft=self.x_ohm_kft.to_numpy()[run], **self._load(current_a, length_ft))

    def _load(self, current_a, length_ft):
        n = len(current_a)
        return {"phases": np.full(n, 3), "power_factor": np.full(n, self.power_factor),
                "voltage_v": self.voltage_v, "current_a": current_a, "length_ft": length_ft}


@step(
    needs="""
        pipe_length_ft pivot_length_ft pivot_lead_ft supply_option booster_a pivot_machine_a
        drive_motor_v service_voltage_at_load_v""",
    rules="""
        service_voltage_v pivot_lead_drop_limit_pct pivot_lead_assumed_ft pivot_cable_size
        pivot_cable_ambient_c converter_low_leg_pct""",
    makes="""
        tower_feed_v pivot_lead_used_ft pivot_lead_conductor pivot_lead_ampacity_a
        pivot_lead_drop_pct machine_drop_pct pivot_cable_ampacity_a end_tower_v""")
def end_tower_results(designs: pd.DataFrame, rules) -> pd.DataFrame:
    """Voltage at the pivot's end tower: the lead to the panel, then the machine's own cable.

    The lead is the smallest listed copper cable that carries the machine within the program's drop,
    else the largest.
    """
    designs = designs.copy()
    at_service_v = designs["service_voltage_at_load_v"]
    designs["tower_feed_v"] = np.select(
        [is_option(designs, SINGLE_PHASE_DRIVE), is_option(designs, ROTARY)],
        [np.minimum(designs["drive_motor_v"], rules["service_voltage_v"]),
         at_service_v * (1 - rules["converter_low_leg_pct"] / 100)], at_service_v)
    wires = table("ampacity").merge(table("conductor_ac_impedance"), on="size")
    wires = wires.dropna(subset=["cu75", "Rcu_pvc"]).reset_index(drop=True)
    wires["carries"] = service_conductors.ampacity_at(wires["cu75"], rules["pivot_cable_ambient_c"])
    lead = _ThreePhaseLead(wires["carries"], wires["Rcu_pvc"], wires["X_pvc_al"],
                           TOWER_POWER_FACTOR, rules["service_voltage_v"])
    has_pivot = designs["pivot_length_ft"].fillna(0) > 0
    designs["pivot_lead_used_ft"] = np.where(has_pivot, designs["pivot_lead_ft"].fillna(
        np.maximum(rules["pivot_lead_assumed_ft"], designs["pipe_length_ft"])), 0.0)
    run = lead.smallest(
        needed_a=designs["pivot_machine_a"], drop_limit_pct=rules["pivot_lead_drop_limit_pct"],
        current_a=designs["pivot_machine_a"], length_ft=designs["pivot_lead_used_ft"])
    _name_leads(designs, "pivot_lead", wires.assign(sets=1), wires["carries"].to_numpy(), run,
                has_pivot & designs["pivot_machine_a"].notna())
    designs["pivot_lead_drop_pct"] = lead.drop_pct(
        run, current_a=designs["pivot_machine_a"], length_ft=designs["pivot_lead_ft"])
    cable = np.full(len(designs), wires.index[wires["size"] == rules["pivot_cable_size"]].item())
    # Towers at their duty load the machine's cable evenly, which halves their drop; the booster is
    # at its end.
    designs["machine_drop_pct"] = lead.drop_pct(
        cable, length_ft=designs["pivot_length_ft"],
        current_a=(designs["pivot_machine_a"] - designs["booster_a"]) / 2 + designs["booster_a"])
    designs["pivot_cable_ampacity_a"] = np.where(has_pivot, wires["carries"].to_numpy()[cable],
                                                 np.nan)
    drop_pct = designs["pivot_lead_drop_pct"] + designs["machine_drop_pct"]
    designs["end_tower_v"] = designs["tower_feed_v"] - drop_pct / 100 * rules["service_voltage_v"]
    return designs
