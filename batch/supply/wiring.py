"""Transformer, service conductors and their device; the chain of impedances from source to drive.

A drive's harmonics and the voltage of its bus depend on the transformer and conductors, and its
motor's current on that voltage; the sizes of all three depend on these. They are solved in turns,
and sizes only ever go up, so that the turns end.
"""

from dataclasses import fields, replace

import numpy as np
import pandas as pd

from batch.columns.candidates import ROTARY, SINGLE_PHASE_DRIVE
from batch.engineering import faults, motors, voltage
from batch.engineering.transformer import (
    annual_loss_kwh,
    next_standard_size,
    transformer_loading_pct,
)
from batch.step import step
from batch.supply import drive_output, grounding, service_conductors
from batch.supply.chain import Chain
from batch.supply.designs import is_option, transformer_units
from batch.supply.spectrum import Spectrum, solve_spectrum
from batch.tables import sizes, table, value_at

FEET_PER_MILE, HOURS_IN_YEAR = 5280, 8760
ROOT_3 = np.sqrt(3)
TURNS = 20
LEAST_DISCONNECT_A = 60  # NEC 230.79(D)


@step(
    needs="""
        season_hours line_build primary_kv source_fault_a service_distance_ft service_build
        disconnect_at supply_option motor_design_a towers_a booster_a pivot_machine_a
        service_phases line_reactor_pct dc_choke_pct input_filter own_displacement_pf
        three_phase_load_a connected_a drive_altitude_pct transformer_altitude_pct
        drive_allowed_a drive_rated_hp lead_filter drive_efficiency_used_pct service_demand_kw
        own_line_ft trunk_ft motor_lead_drop_pct""",
    rules="""
        service_voltage_v motor_voltage_v service_drop_limit_pct tap_voltage_pct source_x_over_r
        primary_conductor neutral_spacing_ft phase_spacing_ft cable_loop_r_ohm_mi
        cable_loop_x_ohm_mi cable_phase_r_ohm_mi cable_phase_x_ohm_mi earth_resistivity_ohm_m
        transformer_loading_limit_pct transformer_eddy_loss_pu ambient_c conductor_material
        terminations conduit overhead_service_spacing_in breaker_pct motor_power_factor_pct
        single_phase_derating_pct drive_bus_capacitance_uf_kw drive_modulation_factor
        drive_output_drop_pct front_end_boost_pct converter_efficiency_pct
        converter_power_factor_pct converter_fixed_load""",
    makes="""
        transformer_kva input_power_factor displacement_power_factor service_current_a
        fundamental_current_a service_kva rated_input_a minimum_ampacity_a protective_device_a
        filter_loss_pct mean_bus_v valley_bus_v drive_motor_v drive_valley_v motor_terminal_v
        motor_valley_v drive_output_a transformer_capacity_pu transformer_loss_kwh_yr
        transformer_loading_pct service_conductor service_ampacity_a service_voltage_drop_pct
        grounding_conductor grounding_beyond electrode_conductor disconnect_least_a disconnect_a""",
    anew="drive_rated_hp drive_allowed_a drive_site_a",
    gives="chain spectrum")
def size_service(designs: pd.DataFrame, rules, price_list) -> tuple[pd.DataFrame, Chain, Spectrum]:
    """Transformer, conductors and device, and a larger drive where the voltage of its bus asks.
    The chain and the spectrum of the service current are given with them."""
    designs = designs.copy()
    drive = is_option(designs, SINGLE_PHASE_DRIVE)
    source = _source_ohm(designs, rules)
    trunk = _line_ohm(designs, designs["trunk_ft"], rules)
    own_line = _line_ohm(designs, designs["own_line_ft"], rules)
    designs["transformer_kva"] = np.nan
    runs = service_conductors.runs_of_designs(designs, rules)
    run = _first_run(designs, drive, runs, rules)
    is_unsettled, is_new = np.zeros(len(designs), bool), np.ones(len(designs), bool)
    spectra = None
    # Unity power factor at first.
    size_kva = _transformer_kva(designs, designs["service_demand_kw"], 1.0, rules)
    for _ in range(TURNS):
        chain = Chain(source, trunk, own_line, _transformer_ohm(designs, size_kva, rules),
                      service_conductors.impedance_ohm(designs, runs, run))
        loads_kw = np.array([designs["service_demand_kw"].to_numpy(float),
                             drive_output.rated_input_kw(designs, rules)])
        spectra = spectrum, rated = _solved_anew(spectra, is_new, designs, loads_kw, chain, rules)
        is_unsettled |= spectrum.is_unsettled  # without a current it is not sized and solved again
        _service_current(designs, spectrum, rated, rules)
        drive_output.add_voltage_and_current(designs, spectrum, rules)
        larger_kva = np.fmax(size_kva, _transformer_kva(designs, designs["service_kva"],
                                                        spectrum.transformer_capacity_pu, rules))
        larger_kva = np.where(np.isnan(size_kva), np.nan, larger_kva)
        next_run = service_conductors.smallest_run(designs, runs, rules)
        larger_run = np.where((run < 0) | (next_run < 0), -1, np.maximum(run, next_run))
        is_new = ~((larger_kva == size_kva) | np.isnan(size_kva)) | (larger_run != run)
        # A drive is judged once its conductors are settled: smaller ones lower its voltage.
        is_new |= drive_output.take_larger_drive(designs, drive & ~is_new, rules, price_list)
        if not is_new.any():
            break
        size_kva, run = larger_kva, larger_run
    _name_transformer(designs, size_kva, spectrum)
    service_conductors.name_conductors(designs, runs, run, rules)
    grounding.ground(designs, runs, run, rules)
    _disconnect(designs)
    return designs, chain, replace(spectrum, is_unsettled=is_unsettled)


def _name_transformer(designs, size_kva, spectrum):
    """The transformer that was chosen, its losses and its loading."""
    designs["transformer_kva"] = size_kva
    designs["transformer_capacity_pu"] = spectrum.transformer_capacity_pu
    designs["transformer_loss_kwh_yr"] = _transformer_loss_kwh(designs)
    designs["transformer_loading_pct"] = transformer_loading_pct(
        service_kva=designs["service_kva"], transformer_kva=size_kva,
        harmonic_capacity_pu=spectrum.transformer_capacity_pu,
        altitude_pct=designs["transformer_altitude_pct"].to_numpy())


def _first_run(designs, drive, runs, rules):
    """Where sizing begins: for a drive the smallest run (n,) that carries its power without
    harmonics at the tap's voltage, since no bridge settles behind wires that are far too small."""
    volts = rules["service_voltage_v"] * rules["tap_voltage_pct"] / 100
    least_a = 1.25 * 1000 * designs["service_demand_kw"].to_numpy(float) / volts
    is_enough = runs.ampacity >= least_a[:, np.newaxis]
    return np.where(drive & is_enough.any(axis=1), is_enough.argmax(axis=1), 0)


def _solved_anew(spectra: tuple[Spectrum, ...] | None, is_new, designs, loads_kw, chain: Chain,
                 rules) -> tuple[Spectrum, ...]:
    """The spectrum at each of the loads (m, n), solved for the designs whose sizes are new and kept
    for the others. All loads are solved at once: many cases take hardly longer than few."""
    new, count = np.flatnonzero(is_new), len(loads_kw)
    cases = np.tile(new, count)
    solved = solve_spectrum(designs.iloc[cases], loads_kw[:, new].ravel(), chain.of(cases), rules)
    parts = tuple(map(solved.of, np.arange(len(cases)).reshape(count, -1)))
    if spectra is None:
        return parts
    for spectrum, part in zip(spectra, parts):
        for field in fields(Spectrum):
            getattr(spectrum, field.name)[new] = getattr(part, field.name)
    return spectra


# --- the chain -----------------------------------------------------------------------------------

def _to_service(designs, rules, primary_ohm):
    """Primary ohms at the service voltage; three-phase ratios are line to line."""
    primary_v = 1000 * designs["primary_kv"] * np.where(designs["service_phases"] == 3, ROOT_3, 1.0)
    return voltage.referred_impedance_ohm(
        impedance_ohm=primary_ohm, from_voltage_v=primary_v.to_numpy(),
        to_voltage_v=rules["service_voltage_v"])


def _source_ohm(designs, rules):
    """Behind the fault current at the tap. For a three-phase line the single-phase fault current
    stands in: a three-phase feeder is at least as strong, which is safe for voltage and dips, and
    not for fault currents, which do not use it."""
    ohm = voltage.fault_impedance_ohm(
        voltage_v=1000 * designs["primary_kv"].to_numpy(),
        fault_current_a=designs["source_fault_a"].to_numpy(),
        x_over_r=rules["source_x_over_r"])
    return _to_service(designs, rules, ohm)


def _line_ohm(designs, length_ft, rules):
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
    is_cable = (designs["line_build"] == "underground").to_numpy()
    ohm_mi = np.where(designs["service_phases"] == 3,
                      np.where(is_cable, cable_phase, overhead_phase),
                      np.where(is_cable, cable_loop, overhead_loop))
    return _to_service(designs, rules, ohm_mi * length_ft.to_numpy() / FEET_PER_MILE)


def _transformer_ohm(designs, bank_kva, rules):
    """A bank of three units has the per-unit impedance of one, on the bank's rating."""
    unit_kva = bank_kva / transformer_units(designs)
    return faults.transformer_impedance_ohm(
        transformer_kva=bank_kva, voltage_v=rules["service_voltage_v"],
        resistance_pct=100 * value_at("transformer_impedance", "kVA", unit_kva, "R_pu"),
        reactance_pct=100 * value_at("transformer_impedance", "kVA", unit_kva, "X_pu"))


def _transformer_loss_kwh(designs):
    """No-load loss all year and load loss in the season, of one unit or of three."""
    units = transformer_units(designs)
    unit_kva = designs["transformer_kva"] / units
    return units * annual_loss_kwh(
        no_load_loss_w=value_at("transformer_efficiency", "kVA", unit_kva, "no_load_W_equal_split"),
        load_loss_w=value_at("transformer_efficiency", "kVA", unit_kva, "load_loss_full_W"),
        load_pct=100 * designs["service_kva"].to_numpy() / designs["transformer_kva"].to_numpy(),
        energized_hours=HOURS_IN_YEAR, season_hours=designs["season_hours"].to_numpy())


# --- sizes ---------------------------------------------------------------------------------------

def _transformer_kva(designs, service_kva, capacity_pu, rules):
    """Next standard size that carries the load continuously, harmonics and height allowed for."""
    units = transformer_units(designs)
    needed = service_kva / (rules["transformer_loading_limit_pct"] / 100 * capacity_pu
                            * designs["transformer_altitude_pct"] / 100)
    return units * next_standard_size(required=np.asarray(needed / units, float),
                                      sizes=sizes("transformer_kVA"))


def _service_current(designs, spectrum, rated, rules):
    """Currents of the service: rms for heating, fundamental for voltage drop. A drive's are those
    of its solved waveform, with the sag of the voltage ahead of it."""
    volts = rules["service_voltage_v"]
    drive, rotary = is_option(designs, SINGLE_PHASE_DRIVE), is_option(designs, ROTARY)
    designs["input_power_factor"] = np.select(
        [drive, rotary], [spectrum.true_pf, rules["converter_power_factor_pct"] / 100],
        rules["motor_power_factor_pct"] / 100)
    designs["displacement_power_factor"] = np.where(
        drive, spectrum.displacement_pf, designs["input_power_factor"])
    load = {"power_kw": designs["service_demand_kw"], "voltage_v": volts,
            "phases": designs["service_phases"]}
    designs["service_current_a"] = np.where(drive, spectrum.rms_a, motors.power_current_a(
        power_factor=designs["input_power_factor"], **load))
    designs["fundamental_current_a"] = np.where(drive, spectrum.harmonic_a[:, 0],
                                                designs["service_current_a"])
    phase_root = np.where(designs["service_phases"] == 3, ROOT_3, 1.0)
    designs["service_kva"] = designs["service_current_a"] * volts * phase_root / 1000
    designs["rated_input_a"] = _rated_input_a(designs, rated, drive, rotary, rules)
    converter_a = 1.25 * designs["rated_input_a"]                 # NEC 455.6(A)(1)
    if rules["converter_fixed_load"]:
        converter_a = np.minimum(converter_a, 2.5 * designs["connected_a"])  # NEC 455.6(A)(2)
    designs["minimum_ampacity_a"] = np.select(
        [drive, rotary],
        [1.25 * designs["rated_input_a"], converter_a],           # NEC 430.122(A)
        1.25 * designs["motor_design_a"] + designs["pivot_machine_a"])  # NEC 430.24
    standard = sizes("overcurrent_device_A")
    branch_a = next_standard_size(                          # NEC 430.52(C)(1), next size up
        required=rules["breaker_pct"] / 100 * designs["motor_design_a"], sizes=standard)
    # A converter: NEC 455.7. A drive: NEC 430.130, the maker's instruction decides; 125 % of rated
    # input is common practice.
    designs["protective_device_a"] = np.where(
        drive | rotary, next_standard_size(required=designs["minimum_ampacity_a"], sizes=standard),
        _standard_not_above(branch_a + designs["towers_a"] + designs["booster_a"],
                            standard))  # NEC 430.62(A)


def _rated_input_a(designs, rated, drive, rotary, rules):
    """Rated single-phase input of a drive or converter.

    A drive: the current solved at the output that it may give, and where no steady current is
    found there, the farm's own in proportion to the power, which is more, since a bridge's current
    is the less peaked the more it carries. A converter: its rating over efficiency and power
    factor.
    """
    in_proportion_a = (designs["service_current_a"] * drive_output.rated_input_kw(designs, rules)
                       / designs["service_demand_kw"])
    drive_a = np.where(rated.is_solved, rated.rms_a, in_proportion_a)
    converter_a = motors.power_current_a(
        power_kw=motors.KW_PER_HP * designs["drive_rated_hp"]
        / (rules["converter_efficiency_pct"] / 100),
        voltage_v=rules["service_voltage_v"], phases=1,
        power_factor=rules["converter_power_factor_pct"] / 100)
    return np.select([drive, rotary], [drive_a, converter_a], np.nan)


def _disconnect(designs):
    """The service disconnect: the standard rating for the load, that holds the device as well."""
    by_input = is_option(designs, SINGLE_PHASE_DRIVE) | is_option(designs, ROTARY)
    load_a = np.where(by_input, designs["rated_input_a"],         # NEC 430.128, 455.8(C)
                      designs["connected_a"])                     # NEC 430.110(C)(2)
    designs["disconnect_least_a"] = np.maximum(
        np.maximum(1.15 * load_a, designs["protective_device_a"]), LEAST_DISCONNECT_A)
    designs["disconnect_a"] = next_standard_size(required=designs["disconnect_least_a"],
                                                 sizes=sizes("disconnect_A"))


def _standard_not_above(limit_a, standard):
    """The largest standard device that does not exceed a limit; NaN where there is none."""
    place = np.searchsorted(standard, limit_a, side="right") - 1
    known = ~np.isnan(limit_a) & (place >= 0)
    return np.where(known, standard[np.clip(place, 0, None)], np.nan)
