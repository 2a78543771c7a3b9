"""The service current's spectrum: solved per design for drives, a plain sine for motors."""

from dataclasses import dataclass

import numpy as np

from batch.columns.candidates import SINGLE_PHASE_DRIVE
from batch.engineering import harmonics
from batch.engineering.rectifier import bridge_waveform
from batch.steps.supply import is_option
from batch.steps.water import MOTOR_TABLE
from batch.tables import column, value_at

HERTZ = 60.0
HIGHEST_ORDER = 50


@dataclass(frozen=True)
class Spectrum:
    """Of every design's service current at full load; NaN where it could not be solved.

    `harmonic_a` (n, 50) [A rms]; `mean_bus_v` (n,) [V], drives only; `is_unsettled` where no
    steady waveform exists.
    """

    harmonic_a: np.ndarray
    true_pf: np.ndarray
    displacement_pf: np.ndarray
    transformer_capacity_pu: np.ndarray
    mean_bus_v: np.ndarray
    is_unsettled: np.ndarray

    @property
    def rms_a(self):
        """Rms current (n,) [A]."""
        return np.sqrt(np.sum(self.harmonic_a ** 2, axis=1))

    @property
    def is_solved(self):
        """Where the waveform is known."""
        return ~np.isnan(self.harmonic_a[:, 0])


def solve_spectrum(d, chain, rules) -> Spectrum:
    """Waveform of each drive with the impedance ahead of it, then its filter.

    An unknown source counts as infinitely strong for the current, which is then the most distorted
    and asks for the largest equipment; what the source makes better or worse stays unknown.
    On single-phase input the current passes two coils of a line reactor.
    """
    drive = is_option(d, SINGLE_PHASE_DRIVE)
    n = len(d)
    harmonic_a = np.full((n, HIGHEST_ORDER), np.nan)
    displacement_pf, mean_bus_v = np.full(n, np.nan), np.full(n, np.nan)
    ahead = np.nan_to_num(chain.source) + chain.line + chain.transformer + chain.service
    load_w = 1000 * d["service_demand_kw"].to_numpy()
    # Reactors and chokes are sold in percent of the drive's own three-phase impedance.
    drive_ohm = rules["service_voltage_v"] / (
        np.sqrt(3) * value_at(MOTOR_TABLE, "hp", d["drive_rated_hp"], "A_460V"))
    omega = 2 * np.pi * HERTZ
    solvable = drive & np.isfinite(ahead + load_w + drive_ohm) & (load_w > 0)
    tap_v = rules["service_voltage_v"] * rules["tap_voltage_pct"] / 100
    wave = bridge_waveform(
        supply_v=np.full(solvable.sum(), tap_v), frequency_hz=HERTZ,
        line_inductance_h=(ahead.imag + 2 * drive_ohm * d["line_reactor_pct"].to_numpy()
                           / 100)[solvable] / omega,
        line_resistance_ohm=ahead.real[solvable],
        dc_choke_h=(drive_ohm * d["dc_choke_pct"].to_numpy() / 100)[solvable] / omega,
        bus_capacitance_f=rules["drive_bus_capacitance_uf_kw"] * load_w[solvable] / 1e9,
        load_w=load_w[solvable])
    harmonic_a[solvable] = wave.harmonic_a
    displacement_pf[solvable] = wave.displacement_pf
    mean_bus_v[solvable] = wave.mean_bus_v
    mean_bus_v[np.isnan(chain.source)] = np.nan
    is_unsettled = np.zeros(n, bool)
    is_unsettled[solvable] = ~wave.converged
    harmonic_a = harmonics.filtered_harmonics_a(
        harmonic_a=harmonic_a, remaining_ratio=_remaining_ratio(d["input_filter"]))
    displacement_pf = _own_displacement(d, harmonic_a, displacement_pf)
    rms_a = np.sqrt(np.sum(harmonic_a ** 2, axis=1))
    true_pf = displacement_pf * harmonic_a[:, 0] / rms_a
    capacity_pu = harmonics.transformer_harmonic_capacity_pu(
        harmonic_loss_factor=harmonics.harmonic_loss_factor(harmonic_a=harmonic_a),
        eddy_loss_pu=rules["transformer_eddy_loss_pu"])
    return Spectrum(harmonic_a, true_pf, displacement_pf, np.where(drive, capacity_pu, 1.0),
                    mean_bus_v, is_unsettled)


def _own_displacement(d, harmonic_a, displacement_pf):
    """An active front end sets its own displacement power factor: the same power then takes less
    fundamental current, which is changed in place."""
    own = d["own_displacement_pf"].to_numpy(float)
    has_own = ~np.isnan(own)
    harmonic_a[has_own, 0] *= displacement_pf[has_own] / own[has_own]
    return np.where(has_own & ~np.isnan(displacement_pf), own, displacement_pf)


def _remaining_ratio(filters):
    """Share of each order that is left, (n, 50): 1 without a filter; even orders as the odd
    order below them."""
    orders = np.arange(1, HIGHEST_ORDER + 1)
    listed = column("filter_remaining", "order")
    place = np.searchsorted(listed, orders, side="right") - 1
    ratio = np.ones((len(filters), HIGHEST_ORDER))
    for name in filters.dropna().unique():
        ratio[(filters == name).to_numpy()] = column("filter_remaining", name)[place]
    return ratio
