"""Transformer, service conductors and their device; the chain of impedances from source to drive.

A drive's harmonics depend on the transformer and conductors, whose sizes depend on the harmonics:
the two are solved in turns, and sizes only ever go up, so that the turns end.
"""

from dataclasses import dataclass, fields, replace

import numpy as np
import pandas as pd

from batch.columns.candidates import ROTARY, SINGLE_PHASE_DRIVE
from batch.engineering import faults, motors, voltage
from batch.engineering.transformer import (
    annual_loss_kwh,
    next_standard_size,
    transformer_loading_pct,
)
from batch.steps import grounding, service_conductors
from batch.steps.spectrum import Spectrum, solve_spectrum
from batch.steps.supply import is_option, transformer_units
from batch.tables import sizes, table, value_at

FEET_PER_MILE, HOURS_IN_YEAR = 5280, 8760
ROOT_3 = np.sqrt(3)
TURNS = 12
LEAST_DISCONNECT_A = 60  # NEC 230.79(D)


@dataclass(frozen=True)
class Chain:
    """Impedances from the source to the drive [ohm, complex], at the service voltage.

    For a single-phase service the loop; for three phases per phase. `source` is NaN where the
    fault current at the tap is unknown. `trunk` is the part of the new line shared with others.
    """

    source: np.ndarray
    trunk: np.ndarray
    own_line: np.ndarray
    transformer: np.ndarray
    service: np.ndarray

    @property
    def line(self):
        """The new line, shared trunk included."""
        return self.trunk + self.own_line

    @property
    def whole(self):
        """From the source to the drive."""
        return self.source + self.line + self.transformer + self.service

    def of(self, designs):
        """The chain of some of the designs."""
        return Chain(*(getattr(self, field.name)[designs] for field in fields(self)))

    def loaded(self, trunk_load_ratio):
        """The same chain as the farm's own load feels it: source and trunk carry the other members
        of a shared line too, so their drop counts in proportion to the load on them."""
        return Chain(self.source * trunk_load_ratio, self.trunk * trunk_load_ratio, self.own_line,
                     self.transformer, self.service)


def wire_up(designs: pd.DataFrame, rules) -> tuple[pd.DataFrame, Chain, Spectrum]:
    """Add transformer, conductors and device to each design; return the chain and the spectrum
    of the service current with them."""
    d = designs.copy()
    source = _source_ohm(d, rules)
    trunk, own_line = _line_ohm(d, d["trunk_ft"], rules), _line_ohm(d, d["own_line_ft"], rules)
    d["transformer_kva"] = np.nan
    runs = service_conductors.runs_of_designs(d, rules)
    run = np.zeros(len(d), int)
    is_unsettled, is_new, spectrum = np.zeros(len(d), bool), np.ones(len(d), bool), None
    size_kva = _transformer_kva(d, d["service_demand_kw"], 1.0, rules)  # unity power factor
    for _ in range(TURNS):
        chain = Chain(source, trunk, own_line, _transformer_ohm(d, size_kva, rules),
                      service_conductors.impedance_ohm(d, runs, run))
        spectrum = _solved_anew(spectrum, is_new, d, chain, rules)
        is_unsettled |= spectrum.is_unsettled  # without a current it is not sized and solved again
        _service_current(d, spectrum, rules)
        larger_kva = np.fmax(size_kva, _transformer_kva(d, d["service_kva"],
                                                        spectrum.transformer_capacity_pu, rules))
        larger_kva = np.where(np.isnan(size_kva), np.nan, larger_kva)
        next_run = service_conductors.smallest_run(d, runs, rules)
        larger_run = np.where((run < 0) | (next_run < 0), -1, np.maximum(run, next_run))
        is_new = ~((larger_kva == size_kva) | np.isnan(size_kva)) | (larger_run != run)
        if not is_new.any():
            break
        size_kva, run = larger_kva, larger_run
    d["transformer_kva"] = size_kva
    d["transformer_capacity_pu"] = spectrum.transformer_capacity_pu
    d["transformer_loss_kwh_yr"] = _transformer_loss_kwh(d)
    d["transformer_loading_pct"] = transformer_loading_pct(
        service_kva=d["service_kva"], transformer_kva=size_kva,
        harmonic_capacity_pu=spectrum.transformer_capacity_pu)
    service_conductors.name_conductors(d, runs, run, rules)
    grounding.ground(d, runs, run, rules)
    _disconnect(d)
    return d, chain, replace(spectrum, is_unsettled=is_unsettled)


def _solved_anew(spectrum: Spectrum | None, is_new, d, chain: Chain, rules) -> Spectrum:
    """The spectrum, solved for the designs whose chain is new and kept for the others."""
    if spectrum is None:
        return solve_spectrum(d, chain, rules)
    parts = solve_spectrum(d[is_new], chain.of(is_new), rules)
    for field in fields(Spectrum):
        getattr(spectrum, field.name)[is_new] = getattr(parts, field.name)
    return spectrum


# --- the chain -----------------------------------------------------------------------------------

def _to_service(d, rules, primary_ohm):
    """Primary ohms at the service voltage; three-phase ratios are line to line."""
    primary_v = 1000 * d["primary_kv"] * np.where(d["service_phases"] == 3, ROOT_3, 1.0)
    return voltage.referred_impedance_ohm(
        impedance_ohm=primary_ohm, from_voltage_v=primary_v.to_numpy(),
        to_voltage_v=rules["service_voltage_v"])


def _source_ohm(d, rules):
    """Behind the fault current at the tap. For a three-phase line the single-phase fault current
    stands in: a three-phase feeder is at least as strong, which is safe for voltage and dips. Its
    fault duty is taken from an infinite source instead."""
    ohm = voltage.fault_impedance_ohm(
        voltage_v=1000 * d["primary_kv"].to_numpy(), fault_current_a=d["source_fault_a"].to_numpy(),
        x_over_r=rules["source_x_over_r"])
    return _to_service(d, rules, ohm)


def _line_ohm(d, length_ft, rules):
    """Impedance of so much new line, by construction and phases."""
    wire = table("acsr").set_index("name").loc[rules["primary_conductor"]]
    overhead_loop = voltage.single_phase_line_impedance_ohm_mi(
        phase_resistance_ohm_mi=wire["R_ohm_mi_50C"], phase_gmr_ft=wire["GMR_ft"],
        neutral_resistance_ohm_mi=wire["R_ohm_mi_50C"], neutral_gmr_ft=wire["GMR_ft"],
        spacing_ft=rules["neutral_spacing_ft"],
        earth_resistivity_ohm_m=rules["earth_resistivity_ohm_m"])
    overhead_phase = voltage.three_phase_line_impedance_ohm_mi(
        resistance_ohm_mi=wire["R_ohm_mi_50C"], gmr_ft=wire["GMR_ft"],
        phase_spacing_ft=rules["phase_spacing_ft"])
    cable_loop = rules["cable_loop_r_ohm_mi"] + 1j * rules["cable_loop_x_ohm_mi"]
    cable_phase = rules["cable_phase_r_ohm_mi"] + 1j * rules["cable_phase_x_ohm_mi"]
    is_cable = (d["line_build"] == "underground").to_numpy()
    ohm_mi = np.where(d["service_phases"] == 3, np.where(is_cable, cable_phase, overhead_phase),
                      np.where(is_cable, cable_loop, overhead_loop))
    return _to_service(d, rules, ohm_mi * length_ft.to_numpy() / FEET_PER_MILE)


def _transformer_ohm(d, bank_kva, rules):
    """A bank of three units has the per-unit impedance of one, on the bank's rating."""
    unit_kva = bank_kva / transformer_units(d)
    return faults.transformer_impedance_ohm(
        transformer_kva=bank_kva, voltage_v=rules["service_voltage_v"],
        resistance_pct=100 * value_at("transformer_impedance", "kVA", unit_kva, "R_pu"),
        reactance_pct=100 * value_at("transformer_impedance", "kVA", unit_kva, "X_pu"))


def _transformer_loss_kwh(d):
    """No-load loss all year and load loss in the season, of one unit or of three."""
    units = transformer_units(d)
    unit_kva = d["transformer_kva"] / units
    return units * annual_loss_kwh(
        no_load_loss_w=value_at("transformer_efficiency", "kVA", unit_kva, "no_load_W_equal_split"),
        load_loss_w=value_at("transformer_efficiency", "kVA", unit_kva, "load_loss_full_W"),
        load_pct=100 * d["service_kva"].to_numpy() / d["transformer_kva"].to_numpy(),
        energized_hours=HOURS_IN_YEAR, season_hours=d["season_hours"].to_numpy())


# --- sizes ---------------------------------------------------------------------------------------

def _transformer_kva(d, service_kva, capacity_pu, rules):
    """Next standard size that carries the load continuously, harmonics allowed for."""
    units = transformer_units(d)
    needed = service_kva / (rules["transformer_loading_limit_pct"] / 100 * capacity_pu)
    return units * next_standard_size(required=np.asarray(needed / units, float),
                                      sizes=sizes("transformer_kVA"))


def _service_current(d, spectrum, rules):
    """Currents of the service: rms for heating, fundamental for voltage drop. A drive's are those
    of its solved waveform, with the sag of the voltage ahead of it."""
    volts = rules["service_voltage_v"]
    drive, rotary = is_option(d, SINGLE_PHASE_DRIVE), is_option(d, ROTARY)
    d["input_power_factor"] = np.select(
        [drive, rotary], [spectrum.true_pf, rules["converter_power_factor_pct"] / 100],
        rules["motor_power_factor_pct"] / 100)
    d["displacement_power_factor"] = np.where(
        drive, spectrum.displacement_pf, d["input_power_factor"])
    load = {"power_kw": d["service_demand_kw"], "voltage_v": volts, "phases": d["service_phases"]}
    d["service_current_a"] = np.where(drive, spectrum.rms_a, motors.power_current_a(
        power_factor=d["input_power_factor"], **load))
    d["fundamental_current_a"] = np.where(drive, spectrum.harmonic_a[:, 0], d["service_current_a"])
    phase_root = np.where(d["service_phases"] == 3, ROOT_3, 1.0)
    d["service_kva"] = d["service_current_a"] * volts * phase_root / 1000
    d["rated_input_a"] = _rated_input_a(d, drive, rotary, rules)
    d["minimum_ampacity_a"] = np.select(
        [drive, rotary],
        [1.25 * d["rated_input_a"],                         # NEC 430.122(A)
         np.maximum(1.25 * d["rated_input_a"],              # NEC 455.6(A)(1)
                    2.5 * d["connected_a"])],               # NEC 455.6(A)(2)
        1.25 * d["motor_table_a"] + d["pivot_machine_a"])   # NEC 430.24
    standard = sizes("overcurrent_device_A")
    branch_a = next_standard_size(                          # NEC 430.52(C)(1), next size up
        required=rules["breaker_pct"] / 100 * d["motor_table_a"], sizes=standard)
    d["protective_device_a"] = np.where(
        drive | rotary,
        next_standard_size(required=1.25 * d["rated_input_a"], sizes=standard),  # NEC 455.7
        _standard_not_above(branch_a + d["towers_a"] + d["booster_a"], standard))  # NEC 430.62(A)


def _rated_input_a(d, drive, rotary, rules):
    """Rated single-phase input of a drive or converter.

    A drive: the solved current, and never below its allowed output over two legs instead of
    three. A converter: its rating over efficiency and power factor.
    """
    by_output = (ROOT_3 * d["drive_allowed_a"] * rules["motor_voltage_v"]
                 / rules["service_voltage_v"])
    converter_a = motors.power_current_a(
        power_kw=motors.KW_PER_HP * d["drive_rated_hp"] / (rules["converter_efficiency_pct"] / 100),
        voltage_v=rules["service_voltage_v"], phases=1,
        power_factor=rules["converter_power_factor_pct"] / 100)
    return np.select([drive, rotary], [np.maximum(d["service_current_a"], by_output), converter_a],
                     np.nan)


def _disconnect(d):
    """The service disconnect: the standard rating for the load, that holds the device as well."""
    by_input = is_option(d, SINGLE_PHASE_DRIVE) | is_option(d, ROTARY)
    load_a = np.where(by_input, d["rated_input_a"],         # NEC 430.128, 455.8(C)
                      d["connected_a"])                     # NEC 430.110(C)(2)
    d["disconnect_least_a"] = np.maximum(
        np.maximum(1.15 * load_a, d["protective_device_a"]), LEAST_DISCONNECT_A)
    d["disconnect_a"] = next_standard_size(required=d["disconnect_least_a"],
                                           sizes=sizes("disconnect_A"))


def _standard_not_above(limit_a, standard):
    """The largest standard device that does not exceed a limit; NaN where there is none."""
    place = np.searchsorted(standard, limit_a, side="right") - 1
    known = ~np.isnan(limit_a) & (place >= 0)
    return np.where(known, standard[np.clip(place, 0, None)], np.nan)


# --- what the chain does at full load and in a fault ---------------------------------------------

def chain_results(designs: pd.DataFrame, chain: Chain, rules) -> pd.DataFrame:
    """Voltage drops, the service voltage at full load, and fault currents."""
    d = designs.copy()
    volts = rules["service_voltage_v"]
    load = {"load_kw": d["service_demand_kw"].to_numpy(),
            "power_factor": d["displacement_power_factor"].to_numpy()}
    loaded = chain.loaded(d["trunk_load_ratio"].to_numpy())
    for part in ("source", "line", "transformer", "service"):
        ohm = getattr(chain, part)
        d[f"{part}_r_ohm"], d[f"{part}_x_ohm"] = ohm.real, ohm.imag
    d["loaded_line_r_ohm"], d["loaded_line_x_ohm"] = loaded.line.real, loaded.line.imag
    d["primary_voltage_drop_pct"] = voltage.impedance_drop_pct(
        impedance_ohm=loaded.line, voltage_v=volts, **load)
    tap_v = volts * rules["tap_voltage_pct"] / 100
    d["service_voltage_no_load_v"] = tap_v
    d["service_voltage_at_load_v"] = voltage.service_voltage_v(
        source_voltage_v=tap_v, impedance_ohm=loaded.whole, **load)
    single = (d["service_phases"] == 1).to_numpy()
    ahead = {"source_impedance_ohm": chain.source, "line_impedance_ohm": chain.line}
    at_transformer = faults.line_to_line_fault_a(
        voltage_v=volts, transformer_impedance_ohm=chain.transformer, service_impedance_ohm=0,
        **ahead)
    at_drive = faults.line_to_line_fault_a(
        voltage_v=volts, transformer_impedance_ohm=chain.transformer,
        service_impedance_ohm=chain.service, **ahead)
    # Three phases: bolted fault behind an infinite source, the upper bound, since the strength of
    # the three-phase feeder is not among the inputs.
    known = np.where(np.isnan(chain.source), np.nan, 1.0)
    d["fault_current_a"] = np.where(single, at_transformer, known * faults.three_phase_fault_a(
        voltage_v=volts, impedance_ohm=chain.transformer))
    d["fault_at_drive_a"] = np.where(single, at_drive, known * faults.three_phase_fault_a(
        voltage_v=volts, impedance_ohm=chain.transformer + chain.service))
    d["withstand_a"] = _withstand_a(d)
    # The midpoint's conductor is taken as large as the line's.
    for key, service_ohm in (("fault_midpoint_a", 0), ("fault_midpoint_drive_a", chain.service)):
        d[key] = np.where(single, faults.line_to_midpoint_fault_a(
            voltage_v=volts, service_impedance_ohm=service_ohm,
            half_winding_impedance_ohm=_half_ohm(d, rules), **ahead), np.nan)
    return d


def _withstand_a(d):
    """Short-circuit rating that drives, converters and starters of the size are marked with."""
    listed = table("withstand_ratings")
    hp = np.where(np.isnan(d["drive_rated_hp"]), d["pump_motor_hp"], d["drive_rated_hp"])
    step = next_standard_size(required=hp, sizes=listed["up_to_hp"].to_numpy(float))
    return value_at("withstand_ratings", "up_to_hp", step, "rating_a")


def _half_ohm(d, rules):
    kva = d["transformer_kva"].to_numpy()
    return faults.half_winding_impedance_ohm(
        transformer_kva=kva, voltage_v=rules["service_voltage_v"],
        resistance_pct=100 * value_at("transformer_impedance", "kVA", kva, "R_pu"),
        reactance_pct=100 * value_at("transformer_impedance", "kVA", kva, "X_pu"))
