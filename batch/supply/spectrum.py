"""The service current's spectrum: solved per design for drives, a plain sine for motors."""

from dataclasses import dataclass, fields

import numpy as np

from batch.columns.candidates import SINGLE_PHASE_DRIVE
from batch.engineering import harmonics
from batch.engineering.front_end import front_end_fundamental_a
from batch.engineering.rectifier import bridge_waveform
from batch.farm.water import table_amperes
from batch.supply.designs import FRONT_END, is_option
from batch.tables import column

HERTZ = 60.0
HIGHEST_ORDER = 50
BUS_RULE_V = 480  # the rule's capacitance is a 480 V drive's; others store as much energy per kW


@dataclass(frozen=True)
class Spectrum:
    """Of every design's service current at a load; NaN where it could not be solved.

    `harmonic_a` (n, 50) [A rms]; `mean_bus_v` and `valley_bus_v` (n,) [V], drives only;
    `is_unsettled` where no steady current exists, of a diode bridge or of a front end.
    """

    harmonic_a: np.ndarray
    true_pf: np.ndarray
    displacement_pf: np.ndarray
    transformer_capacity_pu: np.ndarray
    mean_bus_v: np.ndarray
    valley_bus_v: np.ndarray
    is_unsettled: np.ndarray

    @property
    def rms_a(self):
        """Rms current (n,) [A]."""
        return np.sqrt(np.sum(self.harmonic_a ** 2, axis=1))

    @property
    def is_solved(self):
        """Where the waveform is known."""
        return ~np.isnan(self.harmonic_a[:, 0])

    def of(self, designs):
        """The spectrum of some of the designs."""
        return Spectrum(*(getattr(self, field.name)[designs] for field in fields(self)))


def solve_spectrum(designs, load_kw, chain, rules) -> Spectrum:
    """Current of each drive at a load (n,) [kW] of its input, with the impedance ahead of it: a
    diode bridge's waveform, then its filter; or an active front end's own.

    An unknown source counts as infinitely strong for the current, which is then the most distorted
    and asks for the largest equipment; what the source makes better or worse stays unknown.
    """
    drive = is_option(designs, SINGLE_PHASE_DRIVE)
    has_own = (designs["input_filter"] == FRONT_END).to_numpy()
    ahead_ohm = np.nan_to_num(chain.source) + chain.line + chain.transformer + chain.service
    tap_v = rules["service_voltage_v"] * rules["tap_voltage_pct"] / 100
    bridge = _bridges(designs, load_kw, drive & ~has_own, ahead_ohm, tap_v, rules)
    harmonic_a = np.where(has_own[:, np.newaxis],
                          _front_end_harmonics_a(designs, load_kw, ahead_ohm, tap_v),
                          bridge["harmonic_a"])
    harmonic_a = harmonics.filtered_harmonics_a(
        harmonic_a=harmonic_a,
        remaining_ratio=_remaining_ratio(designs["input_filter"].mask(has_own)))
    is_solved = ~np.isnan(harmonic_a[:, 0])
    displacement_pf = np.where(has_own & is_solved, designs["own_displacement_pf"],
                               bridge["displacement_pf"])
    is_unsettled = np.where(has_own, ~is_solved & np.isfinite(ahead_ohm + load_kw),
                            bridge["is_unsettled"])
    mean_bus_v, valley_bus_v = _bus_v(chain, bridge, has_own, is_solved, rules)
    rms_a = np.sqrt(np.sum(harmonic_a ** 2, axis=1))
    capacity_pu = harmonics.transformer_harmonic_capacity_pu(
        harmonic_loss_factor=harmonics.harmonic_loss_factor(harmonic_a=harmonic_a),
        eddy_loss_pu=rules["transformer_eddy_loss_pu"])
    return Spectrum(harmonic_a, displacement_pf * harmonic_a[:, 0] / rms_a, displacement_pf,
                    np.where(drive, capacity_pu, 1.0), mean_bus_v, valley_bus_v, is_unsettled)


def _bus_v(chain, bridge, has_own, is_solved, rules):
    """Mean and valley (n,) [V] of each drive's bus. A bridge's is unknown behind an unknown source;
    a front end holds its own above the line's peak, and its ripple is not solved."""
    boosted_v = (np.sqrt(2) * rules["service_voltage_v"] * rules["tap_voltage_pct"] / 100
                 * (1 + rules["front_end_boost_pct"] / 100))
    own_v = np.where(is_solved, boosted_v, np.nan)
    return [np.where(has_own, own_v, np.where(np.isnan(chain.source), np.nan, bridge[key]))
            for key in ("mean_bus_v", "minimum_bus_v")]


def _bridges(designs, load_kw, is_bridge, ahead_ohm, tap_v, rules) -> dict[str, np.ndarray]:
    """Waveform of each diode bridge; NaN for all else. On single-phase input the current passes
    two coils of a line reactor. The bus capacitance is that of the drive at the farm's load."""
    n, omega = len(designs), 2 * np.pi * HERTZ
    load_w = 1000 * load_kw
    capacitance_f = (rules["drive_bus_capacitance_uf_kw"] * designs["service_demand_kw"].to_numpy()
                     / 1e6
                     * (BUS_RULE_V / rules["service_voltage_v"]) ** 2)
    # Reactors and chokes are sold in percent of the drive's own three-phase impedance.
    drive_ohm = rules["service_voltage_v"] / (
        np.sqrt(3) * table_amperes(designs["drive_rated_hp"], rules))
    solvable = is_bridge & np.isfinite(ahead_ohm + load_w + drive_ohm) & (load_w > 0)
    reactor_ohm = 2 * drive_ohm * designs["line_reactor_pct"].to_numpy() / 100
    wave = bridge_waveform(
        supply_v=np.full(solvable.sum(), tap_v), frequency_hz=HERTZ,
        line_inductance_h=(ahead_ohm.imag + reactor_ohm)[solvable] / omega,
        line_resistance_ohm=ahead_ohm.real[solvable],
        dc_choke_h=(drive_ohm * designs["dc_choke_pct"].to_numpy() / 100)[solvable] / omega,
        bus_capacitance_f=capacitance_f[solvable], load_w=load_w[solvable])
    solved = {"harmonic_a": np.full((n, HIGHEST_ORDER), np.nan)}
    solved |= {key: np.full(n, np.nan)
               for key in ("displacement_pf", "mean_bus_v", "minimum_bus_v")}
    for key, values in solved.items():
        values[solvable] = getattr(wave, key)
    is_unsettled = np.zeros(n, bool)
    is_unsettled[solvable] = ~wave.converged
    return solved | {"is_unsettled": is_unsettled}


def _front_end_harmonics_a(designs, load_kw, ahead_ohm, tap_v):
    """Harmonics (n, 50) of each design as if it had an active front end."""
    fundamental_a = front_end_fundamental_a(
        load_w=1000 * load_kw, supply_v=tap_v,
        resistance_ohm=ahead_ohm.real, power_factor=designs["own_displacement_pf"].to_numpy(float))
    share = np.zeros(HIGHEST_ORDER)
    share[0] = 1.0
    share[column("front_end_current", "order").astype(int) - 1] = (
        column("front_end_current", "pct") / 100)
    return fundamental_a[:, np.newaxis] * share


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
