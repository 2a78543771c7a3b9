"""The chain of impedances from source to drive: what it does at full load and in a fault."""

from dataclasses import dataclass, fields

import numpy as np
import pandas as pd

from batch.columns.candidates import ROTARY, SINGLE_PHASE_DRIVE
from batch.columns.results import FAULT_BOUND, FAULT_COMPUTED, FAULT_WITH_MOTORS
from batch.engineering import faults, voltage
from batch.engineering.transformer import next_standard_size
from batch.farm.water import MOTOR_TABLE
from batch.step import step
from batch.supply.designs import is_option
from batch.tables import column, table, value_at


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


@step(
    needs="""
        pump_motor_hp supply_option service_phases connected_a drive_rated_hp service_demand_kw
        trunk_load_ratio transformer_kva displacement_power_factor""",
    rules="service_voltage_v tap_voltage_pct",
    makes="""
        source_r_ohm source_x_ohm line_r_ohm line_x_ohm transformer_r_ohm transformer_x_ohm
        service_r_ohm service_x_ohm loaded_line_r_ohm loaded_line_x_ohm primary_voltage_drop_pct
        service_voltage_no_load_v service_voltage_at_load_v withstand_a motor_fault_a
        fault_current_a fault_midpoint_a fault_at_drive_a fault_midpoint_drive_a fault_unsure_a
        fault_standing""")
def chain_results(designs: pd.DataFrame, chain: Chain, rules) -> pd.DataFrame:
    """Voltage drops, the service voltage at full load, and fault currents."""
    designs = designs.copy()
    volts = rules["service_voltage_v"]
    load = {"load_kw": designs["service_demand_kw"].to_numpy(),
            "power_factor": designs["displacement_power_factor"].to_numpy()}
    loaded = chain.loaded(designs["trunk_load_ratio"].to_numpy())
    for part in ("source", "line", "transformer", "service"):
        ohm = getattr(chain, part)
        designs[f"{part}_r_ohm"], designs[f"{part}_x_ohm"] = ohm.real, ohm.imag
    designs["loaded_line_r_ohm"], designs["loaded_line_x_ohm"] = loaded.line.real, loaded.line.imag
    designs["primary_voltage_drop_pct"] = voltage.impedance_drop_pct(
        impedance_ohm=loaded.line, voltage_v=volts, **load)
    tap_v = volts * rules["tap_voltage_pct"] / 100
    designs["service_voltage_no_load_v"] = tap_v
    designs["service_voltage_at_load_v"] = voltage.service_voltage_v(
        source_voltage_v=tap_v, impedance_ohm=loaded.whole, **load)
    designs["withstand_a"] = _withstand_a(designs)
    return _fault_currents(designs, chain, rules)


def _fault_currents(designs, chain: Chain, rules):
    """Fault currents with what the motors add, and how much of them is a mere upper bound.

    The strength of a three-phase feeder is not among the inputs, and that of a single-phase tap may
    be blank: an infinite source then stands in.
    """
    volts, single = rules["service_voltage_v"], (designs["service_phases"] == 1).to_numpy()
    is_bound = ~single | np.isnan(chain.source)
    designs["motor_fault_a"] = faults.motor_fault_a(full_load_a=_feeding_back_a(designs))
    ahead = {"source_impedance_ohm": np.nan_to_num(chain.source),
             "line_impedance_ohm": chain.line}
    # The midpoint's conductor is taken as large as the line's.
    for key, midpoint_key, service_ohm in (
            ("fault_current_a", "fault_midpoint_a", 0),
            ("fault_at_drive_a", "fault_midpoint_drive_a", chain.service)):
        network_a = np.where(
            single,
            faults.line_to_line_fault_a(
                voltage_v=volts, transformer_impedance_ohm=chain.transformer,
                service_impedance_ohm=service_ohm, **ahead),
            faults.three_phase_fault_a(
                voltage_v=volts, impedance_ohm=chain.line + chain.transformer + service_ohm))
        midpoint_a = faults.line_to_midpoint_fault_a(
            voltage_v=volts, service_impedance_ohm=service_ohm,
            half_winding_impedance_ohm=_half_ohm(designs, rules), **ahead)
        designs[key] = network_a + designs["motor_fault_a"]
        designs[midpoint_key] = np.where(single, midpoint_a + designs["motor_fault_a"], np.nan)
    designs["fault_unsure_a"] = np.where(  # all of it, or what the motors add
        is_bound, np.fmax(designs["fault_current_a"], designs["fault_midpoint_a"]),
        designs["motor_fault_a"])
    designs["fault_standing"] = np.select([is_bound, designs["motor_fault_a"] > 0],
                                          [FAULT_BOUND, FAULT_WITH_MOTORS], FAULT_COMPUTED)
    return designs


def _feeding_back_a(designs):
    """Full-load current of what feeds a fault: the motors, and a rotary converter as a motor of its
    rating. Nothing comes back through the rectifier of a drive."""
    next_hp = next_standard_size(required=designs["drive_rated_hp"],
                                 sizes=column(MOTOR_TABLE, "hp"))
    converter_a = value_at(MOTOR_TABLE, "hp", next_hp, "A_460V")
    return np.select([is_option(designs, SINGLE_PHASE_DRIVE), is_option(designs, ROTARY)],
                     [0.0, designs["connected_a"] + converter_a], designs["connected_a"])


def _withstand_a(designs):
    """Short-circuit rating that drives, converters and starters of the size are marked with. Two
    legs pass a rotary converter straight to the pump's starter: the lower of both ratings."""
    is_drive, is_rotary = is_option(designs, SINGLE_PHASE_DRIVE), is_option(designs, ROTARY)
    starter_a, drive_a = _rating_a(designs["pump_motor_hp"]), _rating_a(designs["drive_rated_hp"])
    return np.select([is_drive, is_rotary], [drive_a, np.minimum(drive_a, starter_a)], starter_a)


def _rating_a(hp):
    steps = table("withstand_ratings")["up_to_hp"].to_numpy(float)
    return value_at("withstand_ratings", "up_to_hp", next_standard_size(required=hp, sizes=steps),
                    "rating_a")


def _half_ohm(designs, rules):
    kva = designs["transformer_kva"].to_numpy()
    return faults.half_winding_impedance_ohm(
        transformer_kva=kva, voltage_v=rules["service_voltage_v"],
        resistance_pct=100 * value_at("transformer_impedance", "kVA", kva, "R_pu"),
        reactance_pct=100 * value_at("transformer_impedance", "kVA", kva, "X_pu"))
