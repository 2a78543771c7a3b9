"""Single-phase bridge against a closed-form table, textbook formulas and a circuit simulator."""

import os
import shutil
import subprocess

import numpy as np
import pytest

from batch.engineering.bridge_cycle import Circuit, periodic_half_cycle
from batch.engineering.harmonics import harmonic_loss_factor
from batch.engineering.rectifier import BridgeWaveform, bridge_waveform

PER_UNIT_FREQUENCY_HZ = 1 / (2 * np.pi)  # makes an inductance equal to its reactance

# Source: computed, closed form: ideal bridge, line reactance only, stiff bus; agrees with a
# time-domain solution and with a general circuit simulator. Base: source rms voltage and load.
# Columns: X, bus / peak, I1, rms, crest factor, THD %, displacement and true power factor,
# harmonic loss factor to order 51, orders 3, 5, 7, 9, 11, 13 in % of the fundamental.
IDEAL_BRIDGE = np.array(
    [
        [0.002, 0.9733, 1.018, 1.807, 3.225, 146.8, 0.9828, 0.5533, 26.91]
        + [92.47, 78.73, 61.17, 42.68, 26.15, 14.2],
        [0.005, 0.9575, 1.028, 1.634, 2.868, 123.4, 0.9725, 0.6121, 17.04]
        + [88.16, 67.77, 44.28, 23.57, 10.99, 8.636],
        [0.01, 0.9394, 1.041, 1.522, 2.621, 106.6, 0.9605, 0.6571, 11.97]
        + [83.37, 56.6, 29.56, 11.9, 8.647, 7.486],
        [0.02, 0.9133, 1.06, 1.428, 2.392, 90.26, 0.9431, 0.7001, 8.338]
        + [76.71, 42.85, 15.76, 8.651, 7.233, 3.991],
        [0.04, 0.8753, 1.09, 1.357, 2.177, 74.06, 0.9172, 0.7371, 5.733]
        + [67.53, 27.36, 8.838, 7.503, 3.789, 3.407],
        [0.05, 0.8596, 1.103, 1.339, 2.111, 68.81, 0.9063, 0.7467, 5.062]
        + [63.91, 22.4, 8.663, 6.278, 3.581, 2.881],
        [0.08, 0.8188, 1.139, 1.315, 1.974, 57.55, 0.8776, 0.7607, 3.862]
        + [55.04, 13.28, 8.324, 3.832, 3.213, 1.971],
        [0.12, 0.7728, 1.184, 1.311, 1.858, 47.45, 0.8443, 0.7628, 3.018]
        + [45.88, 9.057, 6.268, 3.597, 2.081, 1.731],
        [0.15, 0.7416, 1.218, 1.319, 1.794, 41.63, 0.8211, 0.758, 2.616]
        + [40.19, 8.651, 4.743, 3.315, 1.976, 1.325],
        [0.25, 0.6469, 1.338, 1.386, 1.645, 27.15, 0.7475, 0.7214, 1.824]
        + [25.48, 8.159, 3.612, 1.965, 1.296, 0.9775],
        [0.3, 0.601, 1.408, 1.44, 1.588, 21.42, 0.71, 0.6943, 1.574]
        + [19.79, 6.927, 3.398, 1.963, 1.253, 0.8614],
        [0.4, 0.485, 1.659, 1.669, 1.482, 11.28, 0.6028, 0.599, 1.179]
        + [10.34, 3.723, 1.899, 1.149, 0.7691, 0.5507],
    ]
)


def per_unit_bridge(line_x, *, line_r=0.0, choke_x=0.0, bus_b=np.inf):
    return bridge_waveform(
        supply_v=1.0,
        frequency_hz=PER_UNIT_FREQUENCY_HZ,
        line_inductance_h=line_x,
        line_resistance_ohm=line_r,
        dc_choke_h=choke_x,
        bus_capacitance_f=bus_b,
        load_w=1.0,
    )


def table_columns(wave):
    """The columns of IDEAL_BRIDGE after X."""
    in_pct = 100 * wave.harmonic_a[:, [2, 4, 6, 8, 10, 12]] / wave.fundamental_a[:, np.newaxis]
    scalars = [
        wave.mean_bus_v / np.sqrt(2),
        wave.fundamental_a,
        wave.rms_current_a,
        wave.crest_factor,
        wave.thd_pct,
        wave.displacement_pf,
        wave.true_pf,
        harmonic_loss_factor(harmonic_a=wave.harmonic_a),
    ]
    return np.column_stack([*scalars, in_pct])


def test_closed_form_table():
    wave = per_unit_bridge(IDEAL_BRIDGE[:, 0])
    assert wave.converged.all()
    np.testing.assert_allclose(table_columns(wave), IDEAL_BRIDGE[:, 1:], rtol=0.005)


def test_time_stepping_meets_the_closed_form_table():
    # A resistance of no account sends every case through the time stepping. The last row stands
    # at 99 % of the largest load, where all figures depend steeply on X: 1 % there.
    wave = per_unit_bridge(IDEAL_BRIDGE[:, 0], line_r=1e-12)
    assert wave.converged.all()
    columns = table_columns(wave)
    np.testing.assert_allclose(columns[:-1], IDEAL_BRIDGE[:-1, 1:], rtol=0.005)
    np.testing.assert_allclose(columns[-1], IDEAL_BRIDGE[-1, 1:], rtol=0.01)


def test_largest_load_on_both_sides():
    # Source: derived from the closed form: in continuous conduction P = (4/pi^2) V^2 sin(2a) / X,
    # so no stiff bus can be found above X = 4/pi^2 = 0.4053 per unit.
    for line_r in (0.0, 1e-12):
        wave = per_unit_bridge(np.array([0.4040, 0.4066]), line_r=line_r)
        assert wave.converged.tolist() == [True, False]
        assert np.isnan(wave.rms_current_a[1]) and np.isnan(wave.harmonic_a[1]).all()


@pytest.mark.parametrize("line_x", [0.01, 0.02, 0.05])
def test_commutation_in_front_of_a_large_choke(line_x):
    # Source: N. Mohan, T. Undeland, W. Robbins, Power Electronics, chapter 5 (memory), constant
    # direct current: V_d = (2 sqrt(2)/pi) V - (2/pi) X I_d;  cos u = 1 - sqrt(2) X I_d / V.
    wave = per_unit_bridge(line_x, choke_x=50.0)
    bus = wave.mean_bus_v[0]
    direct = 1.0 / bus
    assert bus == pytest.approx(2 * np.sqrt(2) / np.pi - 2 / np.pi * line_x * direct, rel=0.001)
    overlap = np.arccos(1 - np.sqrt(2) * line_x * direct)
    # The current falls from -I to I as (1 - cos) during the overlap and stays there.
    angle = (np.arange(200000) + 0.5) * np.pi / 200000
    rising = -direct + np.sqrt(2) / line_x * (1 - np.cos(angle))
    current = np.where(angle < overlap, rising, direct)
    assert wave.rms_current_a[0] == pytest.approx(np.sqrt(np.mean(current**2)), rel=0.002)
    third = np.abs(np.mean(current * np.exp(-3j * angle))) * np.sqrt(2)
    assert wave.harmonic_a[0, 2] == pytest.approx(third, rel=0.005)


def test_square_wave_behind_a_choke_without_line_reactance():
    # Source: Fourier identity: a square wave has 48.34 % distortion, fundamental/rms 0.9003, and
    # is in phase with the source; the bus is the mean of a rectified sine, 0.9003 V.
    wave = per_unit_bridge(1e-5, choke_x=50.0)
    assert wave.mean_bus_v[0] == pytest.approx(0.9003, rel=0.001)
    assert wave.thd_pct[0] == pytest.approx(48.34, rel=0.02)
    assert wave.true_pf[0] == pytest.approx(0.9003, rel=0.005)
    assert wave.displacement_pf[0] == pytest.approx(1.0, abs=0.005)


def test_textbook_case_of_a_resistive_load():
    # Source: memory, close to a power-electronics textbook, and computed with a general circuit
    # simulator: 120 V, 60 Hz, 1 mH, 1000 uF, 20 ohm: I1 15.5 A peak, THD 89 %, orders 3, 5, 7 are
    # 76.5, 42.3, 14.4 % of I1, mean bus 160 V. A resistor damps the bus; constant power of the
    # same size on a lossless line does not, so the symmetric cycle is unstable and no answer is
    # given. The cycle itself is compared.
    load_w = 160.0**2 / 20.0
    base_ohm = 120.0**2 / load_w
    omega = 2 * np.pi * 60
    circuit = Circuit(
        line_x=np.array([omega * 1e-3 / base_ohm]),
        line_r=np.array([0.0]),
        choke_x=np.array([0.0]),
        elastance=np.array([1 / (omega * 1000e-6 * base_ohm)]),
    )
    cycle, is_settled = periodic_half_cycle(
        circuit=circuit, guess=np.array([[0.0], [0.0], [1.3]])
    )
    current = cycle.line_current[:, 0] * load_w / 120.0
    angle = np.pi * np.arange(len(current)) / len(current)
    peaks = [2 * abs(np.mean(current * np.exp(-1j * h * angle))) for h in (1, 3, 5, 7)]
    distortion = np.sqrt(2 * np.mean(current**2) / peaks[0] ** 2 - 1)
    assert cycle.mean_bus[0] * 120.0 == pytest.approx(160.0, rel=0.02)  # the book has diode drop
    assert peaks[0] == pytest.approx(15.5, rel=0.015)
    assert 100 * distortion == pytest.approx(89.0, rel=0.03)
    ratios = [100 * peak / peaks[0] for peak in peaks[1:]]
    assert ratios == pytest.approx([76.5, 42.3, 14.4], abs=3.0)
    assert not is_settled[0]


# --- general circuit simulator ------------------------------------------------------------------

SAMPLES = 2048  # per cycle

NETLIST = """single-phase bridge with a constant-power load
Vs s q SIN(0 {peak_v} 60)
Rl s a {line_r}
Ll a p {line_l} IC=0
Rp p q 20k
Rq q 0 100k
D1 p d DX
D2 q d DX
D3 0 p DX
D4 0 q DX
{choke}
Rd d k 20k
Cb k 0 {bus_c} IC={bus_v}
Bl k 0 I={load_w}/max(v(k),{clamp_v})
.model DX D(IS=1e-9 N=0.5 RS=1m)
.options reltol=1e-3 abstol=1e-6 vntol=1e-4 chgtol=1e-10
.control
tran {step} {stop} {start} {step} UIC
linearize vs#branch k
wrdata wave.txt vs#branch k
quit
.endc
.end
"""


def simulate(folder, case, *, cycles=60):
    """Line current [A] and bus voltage [V] of the last two cycles, 2 x SAMPLES points."""
    if shutil.which("ngspice") is None:
        if os.environ.get("REQUIRE_TOOLS") == "1":
            raise RuntimeError("ngspice is required and was not found")
        pytest.skip("ngspice is not installed")
    choke = f"Ld d k {case['dc_choke_h']} IC=0" if case["dc_choke_h"] else "Vk d k 0"
    text = NETLIST.format(
        peak_v=np.sqrt(2) * case["supply_v"],
        line_r=case["line_resistance_ohm"],
        line_l=case["line_inductance_h"],
        choke=choke,
        bus_c=case["bus_capacitance_f"],
        bus_v=1.25 * case["supply_v"],
        load_w=case["load_w"],
        clamp_v=0.2 * case["supply_v"],
        step=1 / 60 / SAMPLES,
        start=(cycles - 2) / 60,
        stop=cycles / 60,
    )
    (folder / "bridge.cir").write_text(text)
    subprocess.run(
        ["ngspice", "-b", "bridge.cir"], cwd=folder, capture_output=True, timeout=120, check=False
    )
    columns = np.loadtxt(folder / "wave.txt")[: 2 * SAMPLES]
    return -columns[:, 1], columns[:, 3]


def real_case(supply_v, load_w, line_x, line_r, choke_x, bus_b):
    """Arguments of bridge_waveform at 60 Hz from per-unit figures."""
    base_ohm, omega = supply_v**2 / load_w, 2 * np.pi * 60
    return dict(
        supply_v=supply_v,
        frequency_hz=60.0,
        line_inductance_h=line_x * base_ohm / omega,
        line_resistance_ohm=line_r * base_ohm,
        dc_choke_h=choke_x * base_ohm / omega,
        bus_capacitance_f=bus_b / (omega * base_ohm),
        load_w=load_w,
    )


SIMULATED = {
    "stiff line": real_case(480.0, 40e3, 0.010, 0.010, 0.0, 12.0),
    "usual line": real_case(480.0, 40e3, 0.030, 0.020, 0.0, 10.0),
    "little capacitance": real_case(480.0, 60e3, 0.050, 0.045, 0.0, 4.0),
    "choke, discontinuous": real_case(480.0, 25e3, 0.025, 0.020, 0.06, 15.0),
    "large reactance": real_case(240.0, 5e3, 0.20, 0.05, 0.0, 20.0),
    "choke, continuous with commutation": real_case(480.0, 40e3, 0.06, 0.04, 0.50, 40.0),
}


@pytest.mark.parametrize("name", SIMULATED)
def test_against_a_circuit_simulator(name, tmp_path):
    # Source: ngspice, transient analysis of the same circuit with real (0.3 to 0.5 V) diodes.
    case = SIMULATED[name]
    wave = bridge_waveform(**case)
    current, bus = simulate(tmp_path, case)
    assert np.abs(current[SAMPLES:] - current[:SAMPLES]).max() < 0.01 * np.abs(current).max()
    current, bus = current[SAMPLES:], bus[SAMPLES:]
    spectrum = np.sqrt(2) * np.abs(np.fft.rfft(current))[1:14] / SAMPLES
    rms = np.sqrt(np.mean(current**2))
    thd = 100 * np.sqrt(rms**2 - spectrum[0] ** 2) / spectrum[0]
    assert wave.converged.all()
    assert wave.rms_current_a[0] == pytest.approx(rms, rel=0.02)
    assert wave.thd_pct[0] == pytest.approx(thd, rel=0.02)
    assert np.abs(wave.harmonic_a[0, :13] - spectrum).max() < 0.03 * spectrum[0]
    assert wave.mean_bus_v[0] == pytest.approx(bus.mean(), rel=0.01)
    assert wave.minimum_bus_v[0] == pytest.approx(bus.min(), rel=0.02)
    assert wave.ripple_bus_v[0] == pytest.approx(np.ptp(bus), rel=0.05)


@pytest.mark.parametrize("figures", [(0.010, 0.0014, 0.0, 7.9), (0.045, 0.019, 0.025, 4.4)])
def test_pulses_that_alternate_have_no_answer(figures, tmp_path):
    # Source: ngspice: with constant power, little loss and little capacitance a large and a small
    # pulse take turns, so no cycle of equal halves exists to be reported.
    line_x, line_r, choke_x, bus_b = figures
    case = real_case(480.0, 40e3, line_x, line_r, choke_x, bus_b)
    current, _ = simulate(tmp_path, case)
    positive, negative = current.max(), -current.min()
    assert max(positive, negative) > 1.5 * min(positive, negative)
    wave = bridge_waveform(**case)
    assert not wave.converged[0]
    assert np.isnan(wave.thd_pct[0]) and np.isnan(wave.mean_bus_v[0])


# --- balance, scale, unknown values -------------------------------------------------------------


def mixed_cases(count):
    draw = np.random.default_rng(7)
    return dict(
        supply_v=draw.choice([240.0, 480.0], count),
        frequency_hz=60.0,
        line_inductance_h=draw.uniform(5e-5, 1e-3, count),
        line_resistance_ohm=draw.uniform(0.02, 0.2, count),
        dc_choke_h=np.where(draw.random(count) < 0.5, 0.0, draw.uniform(0.0, 1e-3, count)),
        bus_capacitance_f=np.where(draw.random(count) < 0.3, np.inf, 8e-3),
        load_w=draw.uniform(2e3, 30e3, count),
    )


def test_energy_balance_and_ranges():
    # Source: energy conservation and Parseval's identity.
    cases = mixed_cases(400)
    wave = bridge_waveform(**cases)
    good = wave.converged
    assert good.mean() > 0.8
    source_w = (cases["supply_v"] * wave.fundamental_a * wave.displacement_pf)[good]
    line_loss_w = (cases["line_resistance_ohm"] * wave.rms_current_a**2)[good]
    np.testing.assert_allclose(source_w - line_loss_w, cases["load_w"][good], rtol=0.001)
    np.testing.assert_allclose(
        (wave.true_pf * cases["supply_v"] * wave.rms_current_a)[good], source_w, rtol=1e-9
    )
    to_order_50 = np.sqrt(np.sum(wave.harmonic_a[good] ** 2, axis=1))
    np.testing.assert_allclose(to_order_50, wave.rms_current_a[good], rtol=0.005)
    assert (wave.harmonic_a[good][:, 1::2] == 0.0).all()  # equal half cycles: no even orders
    assert (wave.minimum_bus_v[good] <= wave.mean_bus_v[good] * (1 + 1e-9)).all()
    stiff = good & np.isinf(cases["bus_capacitance_f"])
    assert (wave.ripple_bus_v[stiff] == 0.0).all() and (wave.ripple_bus_v[good & ~stiff] > 0).all()


def test_same_per_unit_figures_give_the_same_wave():
    # Source: dimensional analysis: only X, R, choke and capacitance per unit count.
    small = bridge_waveform(**real_case(240.0, 4e3, 0.03, 0.02, 0.02, 12.0))
    large = bridge_waveform(**real_case(480.0, 90e3, 0.03, 0.02, 0.02, 12.0))
    assert small.thd_pct[0] == pytest.approx(large.thd_pct[0], rel=1e-6)
    assert small.mean_bus_v[0] / 240.0 == pytest.approx(large.mean_bus_v[0] / 480.0, rel=1e-6)
    ratio = (90e3 / 480.0) / (4e3 / 240.0)
    np.testing.assert_allclose(large.harmonic_a, ratio * small.harmonic_a, rtol=1e-6, atol=1e-9)


def test_vector_equals_scalar():
    cases = mixed_cases(12)
    together = bridge_waveform(**cases)
    for index in range(12):
        alone = bridge_waveform(
            **{name: value[index] if np.ndim(value) else value for name, value in cases.items()}
        )
        for name in BridgeWaveform.__dataclass_fields__:
            np.testing.assert_allclose(
                getattr(alone, name)[0], getattr(together, name)[index], rtol=1e-5, atol=1e-9
            )


UNUSABLE = [(name, np.nan) for name in mixed_cases(1)]
UNUSABLE += [("load_w", 0.0), ("load_w", -1.0), ("supply_v", 0.0), ("bus_capacitance_f", 0.0)]
UNUSABLE += [("line_inductance_h", -1e-4), ("load_w", np.inf), ("line_resistance_ohm", np.inf)]


@pytest.mark.parametrize("name, value", UNUSABLE)
def test_unknown_stays_unknown(name, value):
    case = real_case(480.0, 40e3, 0.03, 0.02, 0.0, 12.0)
    good = bridge_waveform(**case)
    wave = bridge_waveform(**(case | {name: np.array([value, case[name]])}))
    assert wave.converged.tolist() == [False, True]
    for field in BridgeWaveform.__dataclass_fields__:
        if field != "converged":
            assert np.isnan(getattr(wave, field)[0]).all(), field
    assert wave.thd_pct[1] == pytest.approx(good.thd_pct[0], rel=1e-9)


def test_no_reactance_at_all_has_no_answer():
    case = real_case(480.0, 40e3, 0.0, 0.02, 0.0, 12.0)
    assert not bridge_waveform(**case).converged[0]
