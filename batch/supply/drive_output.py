"""What a drive gives: the voltage that its bus allows, its motors' current at that voltage, and the
drive that gives it."""

import numpy as np

from batch.engineering import motors, voltage
from batch.supply.designs import drive_rating
from batch.tables import value_at


def rated_input_kw(designs, rules):
    """Input (n,) [kW] of each drive at the current that it may give on single-phase input, at the
    motors' rated voltage and power factor; never less than the farm's own load. It is a rating,
    which the site's height does not make smaller (NEC 430.122(A))."""
    output_kw = motors.power_kw(
        current_a=designs["drive_allowed_a"], voltage_v=rules["motor_voltage_v"],
        power_factor=rules["motor_power_factor_pct"] / 100, phases=3)
    return np.maximum(output_kw / (designs["drive_efficiency_used_pct"] / 100),
                      designs["service_demand_kw"]).to_numpy(float)


def add_voltage_and_current(designs, spectrum, rules):
    """Voltages behind the drive's filter and at the motor, on the mean of the bus and on its
    valley, and the current that the drive must give its motors at that voltage."""
    designs["filter_loss_pct"] = value_at("output_filters", "lead_filter", designs["lead_filter"],
                                          "voltage_loss_pct")
    designs["mean_bus_v"], designs["valley_bus_v"] = spectrum.mean_bus_v, spectrum.valley_bus_v
    for key, bus_v in (("drive_motor_v", designs["mean_bus_v"]),
                       ("drive_valley_v", designs["valley_bus_v"])):
        designs[key] = voltage.drive_motor_voltage_limit_v(
            bus_v=bus_v, modulation_ratio=rules["drive_modulation_factor"],
            output_drop_pct=rules["drive_output_drop_pct"],
            filter_drop_pct=designs["filter_loss_pct"])
    lead_v = designs["motor_lead_drop_pct"] / 100 * rules["motor_voltage_v"]
    designs["motor_terminal_v"] = designs["drive_motor_v"] - lead_v
    designs["motor_valley_v"] = designs["drive_valley_v"] - lead_v
    designs["drive_output_a"] = motors.current_at_voltage_a(
        rated_current_a=designs["three_phase_load_a"], rated_voltage_v=rules["motor_voltage_v"],
        voltage_v=designs["motor_terminal_v"])


def take_larger_drive(designs, may_grow, rules, price_list):
    """Take the listed drive that gives the current at the voltage of the bus, where there is one,
    for some designs, mask (n,); mask (n,) of those whose drive is larger than before.

    An unknown voltage asks for no larger drive: the check of the drive's current says that it is
    not known.
    """
    hp, allowed_a = drive_rating(designs["drive_output_a"], designs["drive_altitude_pct"], rules,
                                 price_list)
    is_larger = may_grow & (hp > designs["drive_rated_hp"].to_numpy(float))
    designs["drive_rated_hp"] = designs["drive_rated_hp"].mask(is_larger, hp)
    designs["drive_allowed_a"] = designs["drive_allowed_a"].mask(is_larger, allowed_a)
    designs["drive_site_a"] = designs["drive_allowed_a"] * designs["drive_altitude_pct"] / 100
    return is_larger
