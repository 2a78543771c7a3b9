"""Motor starting and fault currents against published cases and a load-flow library."""

import numpy as np
import pandapower as pp
import pytest

from batch.engineering.faults import (
    half_winding_impedance_ohm,
    line_to_line_fault_a,
    line_to_midpoint_fault_a,
    three_phase_fault_a,
    transformer_impedance_ohm,
)
from batch.engineering.starting import (
    locked_rotor_kva,
    standing_motor_ohm,
    starting_dip_at_point_pct,
    starting_dip_pct,
)
from tests.published.load_flow import solve

UNIT_25_KVA = dict(
    transformer_kva=25.0, voltage_v=240.0, resistance_pct=1.4, reactance_pct=1.2
)


def test_locked_rotor_power_of_a_published_case():
    # Source: public code text on NEC 430.7(B): 30 hp, 460 V, letter G, upper bound 6.29: 237 A.
    kva = locked_rotor_kva(motor_hp=30.0, locked_rotor_kva_per_hp=6.29)
    assert kva == pytest.approx(188.7)
    assert 1000 * kva / (np.sqrt(3) * 460.0) == pytest.approx(237.0, abs=0.5)


def test_dip_of_a_textbook():
    # Source: distribution-engineering textbook, voltage dip by a motor start, public companion:
    # 10 hp single phase, 6.3 kVA/hp, 7.2 kV, 1438 A of fault current: 0.73 V on 120 V.
    kva = locked_rotor_kva(motor_hp=10.0, locked_rotor_kva_per_hp=6.3)
    dip = 100 * kva / (7.2 * 1438.0)  # start power over fault power, as the book takes it
    assert dip * 1.2 == pytest.approx(0.73, abs=0.005)
    # The constant-impedance form relieves itself: for impedances in line the dip is
    # d / (1 + d), 0.6 % lower here.
    solved = starting_dip_pct(
        impedance_ohm=7200.0 / 1438.0 * 1.0j,
        locked_rotor_kva=kva,
        starting_power_factor=0.0,
        voltage_v=7200.0,
    )
    assert solved == pytest.approx(dip / (1 + dip / 100), rel=1e-9)


def _library_dip_pct(impedance_ohm, kva, power_factor):
    """Dip at 480 V from pandapower with a constant-impedance load."""
    net = pp.create_empty_network(f_hz=60)
    source, motor = (pp.create_bus(net, vn_kv=0.48) for _ in range(2))
    pp.create_ext_grid(net, source)
    pp.create_line_from_parameters(
        net, source, motor, length_km=1.0, r_ohm_per_km=impedance_ohm.real,
        x_ohm_per_km=impedance_ohm.imag, c_nf_per_km=0.0, max_i_ka=1.0,
    )
    ohm = 480.0**2 / (kva * 1000.0)
    admittance_mw = (0.48**2 / ohm) * power_factor
    admittance_mvar = (0.48**2 / ohm) * np.sqrt(1 - power_factor**2)
    pp.create_shunt(net, motor, q_mvar=admittance_mvar, p_mw=admittance_mw)
    solve(net)
    return 100.0 * (1.0 - net.res_bus.vm_pu[motor])


@pytest.mark.parametrize("kva, power_factor", [(60.0, 0.35), (188.7, 0.30), (600.0, 0.20)])
def test_dip_against_a_load_flow_library(kva, power_factor):
    # Source: pandapower, the standing motor as a shunt (constant impedance).
    impedance_ohm = 0.06 + 0.09j
    dip = starting_dip_pct(
        impedance_ohm=impedance_ohm,
        locked_rotor_kva=kva,
        starting_power_factor=power_factor,
        voltage_v=480.0,
    )
    assert dip == pytest.approx(_library_dip_pct(impedance_ohm, kva, power_factor), rel=0.001)


def test_dip_along_the_chain():
    # Source: voltage divider: no dip at the source, the whole dip at the motor, between them more
    # with every part of the chain.
    chain = dict(locked_rotor_kva=150.0, starting_power_factor=0.3, voltage_v=480.0)
    total_ohm = 0.08 + 0.10j
    along = starting_dip_at_point_pct(
        point_impedance_ohm=total_ohm * np.array([0.0, 0.5, 1.0]), impedance_ohm=total_ohm, **chain
    )
    assert along[0] == pytest.approx(0.0, abs=1e-12)
    assert along[2] == pytest.approx(starting_dip_pct(impedance_ohm=total_ohm, **chain))
    assert 0.45 * along[2] < along[1] < 0.55 * along[2]


def test_no_motor_no_dip():
    # Source: voltage divider, both limits: nothing drawn, or nothing in between.
    chain = dict(starting_power_factor=0.3, voltage_v=480.0)
    assert starting_dip_pct(impedance_ohm=0.1 + 0.1j, locked_rotor_kva=0.0, **chain) == 0.0
    assert starting_dip_pct(impedance_ohm=0.0, locked_rotor_kva=150.0, **chain) == 0.0


def test_motor_at_standstill_by_its_nameplate():
    # Source: public code text on NEC 430.7(B): 30 hp, letter G, draws 237 A at 460 V. Its impedance
    # a phase is 460 V / sqrt(3) / 237 A = 1.12 ohm, whatever the service's voltage.
    ohm = standing_motor_ohm(locked_rotor_kva=30 * 6.29, starting_power_factor=0.3, voltage_v=460.0)
    assert abs(ohm) == pytest.approx(460 / np.sqrt(3) / 237, rel=0.002)
    assert ohm.real / abs(ohm) == pytest.approx(0.3)


def test_terminal_faults_of_a_textbook():
    # Source: distribution-engineering textbook, secondary faults of a 25 kVA unit with 1.4 % and
    # 1.2 %, public companion: line to line 5648 A, line to neutral 8181 A. The book rounds its
    # ohms to five figures: unrounded 5649.2 and 8181.8 A, hence 0.03 %.
    line_to_line = line_to_line_fault_a(
        voltage_v=240.0,
        source_impedance_ohm=0.0,
        line_impedance_ohm=0.0,
        transformer_impedance_ohm=transformer_impedance_ohm(**UNIT_25_KVA),
        service_impedance_ohm=0.0,
    )
    line_to_midpoint = line_to_midpoint_fault_a(
        voltage_v=240.0,
        source_impedance_ohm=0.0,
        line_impedance_ohm=0.0,
        half_winding_impedance_ohm=half_winding_impedance_ohm(**UNIT_25_KVA),
        service_impedance_ohm=0.0,
    )
    assert line_to_line == pytest.approx(5648.0, rel=0.0003)
    assert line_to_midpoint == pytest.approx(8181.0, rel=0.0003)


@pytest.mark.parametrize(
    "resistance_pct, reactance_pct, ratio", [(1.8, 0.0, 1.33), (0.0, 1.8, 1.67), (1.1, 1.3, 1.5)]
)
def test_midpoint_fault_against_the_full_winding(resistance_pct, reactance_pct, ratio):
    # Source: published point-to-point fault guide: with 1.5 %R and 1.2 %X the line-to-neutral
    # fault of a centre-tapped unit is 1.33 to 1.67 times the line-to-line fault, about 1.5.
    unit = dict(transformer_kva=50.0, voltage_v=240.0)
    unit |= dict(resistance_pct=resistance_pct, reactance_pct=reactance_pct)
    nothing = dict(source_impedance_ohm=0.0, line_impedance_ohm=0.0, service_impedance_ohm=0.0)
    full = line_to_line_fault_a(
        voltage_v=240.0, transformer_impedance_ohm=transformer_impedance_ohm(**unit), **nothing
    )
    half = line_to_midpoint_fault_a(
        voltage_v=240.0, half_winding_impedance_ohm=half_winding_impedance_ohm(**unit), **nothing
    )
    assert half / full == pytest.approx(ratio, rel=0.02)


def test_faults_at_the_end_of_a_service():
    # Source: fuse makers' point-to-point method, single-phase example (memory): 75 kVA, 240 V,
    # 1.40 %: 22,322 A line to line and 1.5 times as much, 33,483 A, to the midpoint; behind 25 ft
    # of two 500 kcmil a leg (C = 22,185) 20,202 and 25,471 A. It adds ohms in line.
    service_ohm = 2j * 25 / (2 * 22_185)
    upstream = dict(voltage_v=240.0, source_impedance_ohm=0.0, line_impedance_ohm=0.0)
    to_line = line_to_line_fault_a(
        transformer_impedance_ohm=240j / 22_322, service_impedance_ohm=service_ohm, **upstream)
    to_midpoint = line_to_midpoint_fault_a(
        half_winding_impedance_ohm=120j / 33_483, service_impedance_ohm=service_ohm, **upstream)
    assert to_line == pytest.approx(20_202, rel=0.0005)
    assert to_midpoint == pytest.approx(25_471, rel=0.0005)


def test_line_to_line_fault_of_a_published_worksheet():
    # Source: an inspector's point-to-point worksheet: 300 kVA, 240 V, 46,296 A at the transformer,
    # 150 ft of 3/0 (C = 13,923): 8,978 A at the service, then 40 ft of 6 AWG (2,430): 4,024 A;
    # seen.
    upstream_ohm = 240j / 46_296
    for feet, c, amperes in ((150, 13_923, 8_978), (40, 2_430, 4_024)):
        service_ohm = 2j * feet / c
        fault = line_to_line_fault_a(
            voltage_v=240.0, source_impedance_ohm=0.0, line_impedance_ohm=0.0,
            transformer_impedance_ohm=upstream_ohm, service_impedance_ohm=service_ohm)
        assert fault == pytest.approx(amperes, abs=1)
        upstream_ohm = upstream_ohm + service_ohm


def test_infinite_source_fault():
    # Source: definition of the impedance voltage; 25 kVA at 240 V is 104.17 A, 1.844 %.
    ohm = transformer_impedance_ohm(transformer_kva=25.0, voltage_v=240.0, resistance_pct=0.0,
                                    reactance_pct=1.844)
    single = line_to_line_fault_a(voltage_v=240.0, source_impedance_ohm=0.0,
                                  line_impedance_ohm=0.0, transformer_impedance_ohm=ohm,
                                  service_impedance_ohm=0.0)
    assert single == pytest.approx(5649.0, rel=0.0003)
    # Source: 1500 kVA, 480 V, three-phase is 1804 A at full load in published fault guides
    # (memory); with 3.5 % that is 1804 x 100 / 3.5.
    ohm = transformer_impedance_ohm(transformer_kva=1500.0, voltage_v=480.0, resistance_pct=0.0,
                                    reactance_pct=3.5)
    assert three_phase_fault_a(voltage_v=480.0, impedance_ohm=ohm) == pytest.approx(
        1804.0 * 100 / 3.5, rel=0.0005)


def test_impedances_in_series_by_hand():
    # Source: hand calculation. 240 V over 0.03 + j0.04 = 0.05 ohm: 4800 A. To the midpoint the
    # source counts a quarter: (0.004 + 0.004)/4 + 0.010 + 0.018 = 0.030 ohm, 120 V: 4000 A.
    to_line = line_to_line_fault_a(
        voltage_v=240.0,
        source_impedance_ohm=0.01,
        line_impedance_ohm=0.01j,
        transformer_impedance_ohm=0.02j,
        service_impedance_ohm=0.02 + 0.01j,
    )
    to_midpoint = line_to_midpoint_fault_a(
        voltage_v=240.0,
        source_impedance_ohm=0.004,
        line_impedance_ohm=0.004,
        half_winding_impedance_ohm=0.010,
        service_impedance_ohm=0.018,
    )
    assert to_line == pytest.approx(4800.0)
    assert to_midpoint == pytest.approx(4000.0)


VECTOR_CASES = [
    (locked_rotor_kva, [30.0, 6.29]),
    (starting_dip_pct, [0.1 + 0.1j, 188.7, 0.3, 480.0]),
    (starting_dip_at_point_pct, [0.05 + 0.02j, 0.1 + 0.1j, 188.7, 0.3, 480.0]),
    (standing_motor_ohm, [188.7, 0.3, 460.0]),
    (transformer_impedance_ohm, [50.0, 480.0, 1.07, 1.39]),
    (half_winding_impedance_ohm, [50.0, 480.0, 1.07, 1.39]),
    (line_to_line_fault_a, [480.0, 0.01j, 0.02 + 0.0j, 0.03j, 0.04 + 0.0j]),
    (line_to_midpoint_fault_a, [480.0, 0.01j, 0.02 + 0.0j, 0.03j, 0.04 + 0.0j]),
    (three_phase_fault_a, [480.0, 0.02 + 0.03j]),
]


@pytest.mark.parametrize("formula, values", VECTOR_CASES)
def test_vector_equals_scalar_and_unknown_stays_unknown(formula, values):
    names = formula.__code__.co_varnames[: formula.__code__.co_kwonlyargcount]
    scalar = formula(**dict(zip(names, values, strict=True)))
    vector = formula(**{n: np.array([v, v]) for n, v in zip(names, values, strict=True)})
    np.testing.assert_allclose(vector, [scalar, scalar], rtol=1e-14)
    for unknown in names:
        inputs = dict(zip(names, values, strict=True)) | {unknown: np.array([np.nan])}
        assert np.isnan(formula(**inputs)).all(), unknown
