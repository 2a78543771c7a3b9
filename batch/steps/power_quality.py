"""What the load does to others and to its own motor: starting, distortion, leads, end tower."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from batch.columns.candidates import CONDUIT, SINGLE_PHASE_DRIVE, THREE_PHASE_LINE
from batch.columns.program import (
    AT_BOTH,
    AT_SERVICE,
    AT_TAP,
    CONSTANT_IMPEDANCE,
    FAULT_LEVEL_RATIO,
)
from batch.engineering import conductors, harmonics, motor_leads, starting, voltage
from batch.steps import service_conductors
from batch.steps.spectrum import HERTZ
from batch.steps.supply import is_option
from batch.tables import table, value_at

LIMIT_COLUMNS = ("h3_10", "h11_16", "h17_22", "h23_34", "h35_50")
TOWER_POWER_FACTOR = 0.8  # small motors under load; common practice, no source
SINE_RISE_US = 1e6 / (4 * HERTZ)  # from zero to its peak, a quarter of a cycle
LIMIT_FIRST_ORDER = np.array([3, 11, 17, 23, 35])


def starting_results(designs: pd.DataFrame, chain, rules) -> pd.DataFrame:
    """Dip at the tap and at the service as the pump motor starts.

    A drive ramps: its input while starting never exceeds its full-load input. Across the line,
    the motor at standstill draws its locked-rotor power by its code letter.
    """
    d = designs.copy()
    letter = d["motor_code_letter"].fillna(rules["motor_code_letter"])
    locked_rotor_kva = starting.locked_rotor_kva(
        motor_hp=d["pump_motor_hp"],
        locked_rotor_kva_per_hp=value_at("locked_rotor_kva_per_hp", "letter", letter, "high"))
    drive = is_option(d, SINGLE_PHASE_DRIVE)
    share = np.where(d["starter_item"] == "soft starter", rules["soft_start_pct"] / 100, 1.0)
    start = {
        "impedance_ohm": chain.whole,
        "locked_rotor_kva": np.where(drive, d["service_kva"], share * locked_rotor_kva),
        "starting_power_factor": np.where(drive, d["displacement_power_factor"],
                                          rules["locked_rotor_power_factor_pct"] / 100),
        "voltage_v": rules["service_voltage_v"]}
    d["starter_share"] = np.where(drive, np.nan, share)
    d = STARTING_DIP[rules["starting_dip_method"]](d, start, chain)
    on_single_phase = ~drive & ~is_option(d, THREE_PHASE_LINE)
    d["single_phase_start_hp"] = np.where(on_single_phase, share * d["pump_motor_hp"], np.nan)
    return d


def _starting_dip(d, start, chain):
    """From 2025: the motor at standstill is an impedance in a voltage divider."""
    start_ohm = (start["voltage_v"] ** 2 / 1000 / start["locked_rotor_kva"]
                 * (start["starting_power_factor"]
                    + 1j * np.sqrt(1 - start["starting_power_factor"] ** 2)))
    d["start_r_ohm"], d["start_x_ohm"] = start_ohm.real, start_ohm.imag
    d["starting_dip_pct"] = starting.starting_dip_at_point_pct(
        point_impedance_ohm=chain.source, **start)
    d["starting_dip_service_pct"] = starting.starting_dip_pct(**start)
    return d


def _starting_dip_2024(d, start, chain):
    """Until 2024: start power over fault power, both taken in line. No impedance of the motor is
    known, so that its columns stay blank and the dip has no worked line."""
    d["start_r_ohm"] = d["start_x_ohm"] = np.nan
    for key, point_ohm in (("starting_dip_pct", chain.source),
                           ("starting_dip_service_pct", chain.whole)):
        d[key] = starting.starting_dip_by_fault_level_pct(
            locked_rotor_kva=start["locked_rotor_kva"],
            fault_kva=start["voltage_v"] ** 2 / 1000 / np.abs(point_ohm))
    return d


STARTING_DIP = {CONSTANT_IMPEDANCE: _starting_dip, FAULT_LEVEL_RATIO: _starting_dip_2024}


def distortion_results(designs: pd.DataFrame, chain, spectrum, rules) -> pd.DataFrame:
    """Current and voltage distortion of the drives, and the limit rows that apply."""
    d = designs.copy()
    volts = rules["service_voltage_v"]
    d["is_unsettled"] = spectrum.is_unsettled
    d["current_thd_pct"] = harmonics.thd_pct(harmonic_a=spectrum.harmonic_a)
    loaded = chain.loaded(d["trunk_load_ratio"].to_numpy())
    for reactance_ohm, place in ((loaded.whole.imag, ""), (loaded.source.imag, "_tap")):
        harmonic_pct = harmonics.harmonic_voltage_pct(
            harmonic_a=spectrum.harmonic_a, reactance_ohm=reactance_ohm, voltage_v=volts)
        d[f"voltage_thd{place}_pct"] = harmonics.voltage_thd_pct(harmonic_voltage_pct=harmonic_pct)
        d[f"voltage_harmonic{place}_pct"] = harmonic_pct[:, 1:].max(axis=1)
    demand_a = spectrum.harmonic_a[:, 0]
    d["current_tdd_pct"] = harmonics.tdd_pct(
        harmonic_a=spectrum.harmonic_a, demand_current_a=demand_a)
    d["short_circuit_ratio"] = _short_circuit_ratio(d, demand_a, rules)
    limits = table("harmonic_current_limits")
    rows = {"short_circuit_ratio": d["short_circuit_ratio"].to_numpy(float),
            "ratio_lower_bound": np.array([0, 20, 50, 100, 1000])}
    d["tdd_limit_pct"] = harmonics.limits_by_ratio(limit_pct=limits["TDD"], **rows)
    by_order = harmonics.limits_by_ratio(limit_pct=limits[list(LIMIT_COLUMNS)], **rows)
    d["single_harmonic_share_pct"] = _largest_share_of_limit(spectrum.harmonic_a, by_order)
    return d


def _short_circuit_ratio(d, demand_a, rules):
    """Isc/IL at the point where the limits apply; at both, the weaker point, whose row is the
    stricter one."""
    at_service = d["fault_current_a"].where(d["source_fault_a"].notna()) / demand_a  # no bound
    at_tap = d["source_fault_a"] * 1000 * d["primary_kv"] / (demand_a * rules["service_voltage_v"])
    return {AT_SERVICE: at_service, AT_TAP: at_tap,
            AT_BOTH: np.minimum(at_service, at_tap)}[rules["harmonic_limit_point"]]


def _largest_share_of_limit(harmonic_a, limit_by_band):
    """Largest ratio of a single current harmonic to its own limit [%], orders 3 to 50."""
    orders = np.arange(1, harmonic_a.shape[1] + 1)
    band = np.clip(np.searchsorted(LIMIT_FIRST_ORDER, orders, side="right") - 1, 0, None)
    percent = 100 * harmonic_a / harmonic_a[:, :1]
    return (100 * percent / limit_by_band[:, band])[:, 2:].max(axis=1)


def lead_results(designs: pd.DataFrame, spectrum, rules) -> pd.DataFrame:
    """Output filter by lead length, the motor's peak, and the voltage that the drive can give."""
    d = designs.copy()
    drive = is_option(d, SINGLE_PHASE_DRIVE)
    pivot_ft = d["pivot_length_ft"].fillna(0)
    to_end_tower_ft = np.where(pivot_ft > 0, d["pivot_lead_ft"] + pivot_ft, 0.0)
    longest_ft = np.maximum(d["motor_lead_ft"], to_end_tower_ft).to_numpy()
    d["longest_lead_ft"] = np.where(drive, longest_ft, np.nan)
    filters = table("output_filters")["lead_filter"].to_numpy(object)
    steps = [rules["output_reactor_lead_ft"], rules["dvdt_filter_lead_ft"],
             rules["sine_filter_lead_ft"]]
    place = np.searchsorted(steps, np.nan_to_num(longest_ft), side="left")
    d["lead_filter"] = np.where(drive & ~np.isnan(longest_ft), filters[place], None)
    line_peak_v = np.sqrt(2) * rules["service_voltage_v"] * rules["tap_voltage_pct"] / 100
    front_end_v = np.sqrt(2) * rules["service_voltage_high_v"]
    is_front_end = (d["input_filter"] == "active_front_end").to_numpy()
    bus_peak_v = np.where(is_front_end, front_end_v, line_peak_v)
    filter_us = value_at("output_filters", "lead_filter", d["lead_filter"], "rise_time_us")
    rise_us = np.where(np.isnan(filter_us), rules["drive_rise_time_us"], filter_us)
    is_sine = value_at("output_filters", "lead_filter", d["lead_filter"], "is_sine") == 1
    d["pulse_top_v"] = np.where(is_sine, np.sqrt(2) * rules["motor_voltage_v"], bus_peak_v)
    pulses_v = motor_leads.motor_peak_v(
        bus_v=bus_peak_v, motor_lead_ft=d["motor_lead_ft"].to_numpy(),
        critical_length_ft=motor_leads.critical_length_ft(rise_time_us=rise_us))
    peak_v = np.where(is_sine, np.sqrt(2) * rules["motor_voltage_v"], pulses_v)
    is_known = drive & ~np.isnan(longest_ft)
    d["motor_peak_v"] = np.where(is_known, peak_v, np.nan)
    d["pulse_top_v"] = d["pulse_top_v"].where(is_known)
    d["reflection_factor"] = d["motor_peak_v"] / d["pulse_top_v"]
    by_class_v = np.select(
        [d["is_inverter_duty"] == 1, d["is_inverter_duty"] == 0],
        [motor_leads.inverter_duty_peak_limit_v(motor_rated_v=rules["motor_voltage_v"]),
         motor_leads.PART_30_PEAK_V], np.nan)
    d["motor_peak_limit_v"] = np.where(drive, by_class_v, np.nan)
    d["motor_rise_us"] = np.where(is_known, np.where(is_sine, SINE_RISE_US, rise_us), np.nan)
    d["motor_rise_limit_us"] = np.select(
        [drive & (d["is_inverter_duty"] == 1), drive & (d["is_inverter_duty"] == 0)],
        [motor_leads.PART_31_RISE_US, motor_leads.PART_30_RISE_US], np.nan)
    filter_loss_pct = value_at("output_filters", "lead_filter", d["lead_filter"],
                               "voltage_loss_pct")
    # An active front end holds its bus above the highest peak of the line, whatever the source.
    bus_v = np.where(is_front_end & spectrum.is_solved, front_end_v, spectrum.mean_bus_v)
    d["mean_bus_v"], d["filter_loss_pct"] = bus_v, filter_loss_pct
    d["drive_motor_v"] = (1 - filter_loss_pct / 100) * voltage.drive_motor_voltage_limit_v(
        mean_bus_v=bus_v, modulation_ratio=rules["drive_modulation_factor"])
    d["layout_ft"] = np.where(drive, d["service_distance_ft"] + d["motor_lead_ft"], np.nan)
    names, drop_pct = _motor_leads(d, rules)
    d["motor_lead_conductor"] = np.where(drive, names, None)
    d["motor_lead_drop_pct"] = np.where(drive, drop_pct, np.nan)
    d["motor_terminal_v"] = d["drive_motor_v"] * (1 - d["motor_lead_drop_pct"] / 100)
    return d


def _motor_leads(d, rules):
    """Names and drops [%] of the leads from drive to motor: the smallest copper run that carries
    the motor (NEC 430.22) within the program's drop, else the largest there is; no name and no
    drop where the program does not count it."""
    limit_pct = rules["motor_lead_drop_limit_pct"]
    if limit_pct == 0:
        return np.full(len(d), None), np.zeros(len(d))
    listed = service_conductors.runs(rules, CONDUIT, "cu")
    needed_a = 1.25 * d["motor_table_a"].to_numpy()
    carries = service_conductors.by_circuit(needed_a, *(
        listed[key].to_numpy() for key in ("small_circuit_ampacity", "ampacity")))
    lead = _ThreePhaseLead(carries, listed["r"], listed["x"],
                           rules["motor_power_factor_pct"] / 100, rules["motor_voltage_v"])
    load = {"current_a": d["motor_table_a"], "length_ft": d["motor_lead_ft"]}
    run = lead.smallest(needed_a=needed_a, drop_limit_pct=limit_pct, **load)
    drop_pct = lead.drop_pct(run, **load)  # without a run that is large enough, of the last one
    names = service_conductors.run_names(listed.iloc[run].reset_index(drop=True), "copper")
    return np.where(np.isnan(drop_pct), None, names), drop_pct


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


def end_tower_results(designs: pd.DataFrame, rules) -> pd.DataFrame:
    """Voltage at the pivot's end tower: the lead to the panel, then the machine's own cable.

    The lead is taken as the smallest listed copper cable that carries the machine within the
    program's drop.
    """
    d = designs.copy()
    drive = is_option(d, SINGLE_PHASE_DRIVE)
    d["tower_feed_v"] = np.where(
        drive, np.minimum(d["drive_motor_v"], rules["service_voltage_v"]),
        d["service_voltage_at_load_v"])
    wires = table("ampacity").merge(table("conductor_ac_impedance"), on="size")
    wires = wires.dropna(subset=["cu75", "Rcu_pvc"]).reset_index(drop=True)
    wires["carries"] = service_conductors.ampacity_at(wires["cu75"], rules["pivot_cable_ambient_c"])
    lead = _ThreePhaseLead(wires["carries"], wires["Rcu_pvc"], wires["X_pvc_al"],
                           TOWER_POWER_FACTOR, rules["service_voltage_v"])
    to_panel = {"current_a": d["pivot_machine_a"], "length_ft": d["pivot_lead_ft"]}
    run = lead.smallest(needed_a=d["pivot_machine_a"],
                        drop_limit_pct=rules["pivot_lead_drop_limit_pct"], **to_panel)
    d["pivot_lead_drop_pct"] = np.where(run < 0, np.nan, lead.drop_pct(run, **to_panel))
    cable = np.full(len(d), wires.index[wires["size"] == rules["pivot_cable_size"]].item())
    # Towers at their duty load the machine's cable evenly, which halves their drop; the booster is
    # at its end.
    d["machine_drop_pct"] = lead.drop_pct(
        cable, length_ft=d["pivot_length_ft"],
        current_a=(d["pivot_machine_a"] - d["booster_a"]) / 2 + d["booster_a"])
    has_pivot = d["pivot_length_ft"].fillna(0) > 0
    d["pivot_cable_ampacity_a"] = np.where(has_pivot, wires["carries"].to_numpy()[cable], np.nan)
    drop_pct = d["pivot_lead_drop_pct"] + d["machine_drop_pct"]
    d["end_tower_v"] = d["tower_feed_v"] * (1 - drop_pct / 100)
    return d
