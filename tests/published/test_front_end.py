"""Active front end: its current by power balance, and that no diode bridge has a say in it."""

import re

import numpy as np
import pandapower as pp
import pytest

from batch.engineering.front_end import front_end_fundamental_a
from batch.reading.validate import validate
from batch.study import run_study
from batch.tables import table
from tests.published.load_flow import solve
from tests.workbooks.make import candidate_workbook, unit_cost_rows

FRONT_END = "active front end"
CASE = {"load_w": 40e3, "supply_v": 480.0, "resistance_ohm": 0.1, "power_factor": 1.0}


def current_a(**changes):
    return front_end_fundamental_a(**(CASE | changes))


def test_current_by_power_balance():
    # By hand: 480 I = 40,000 + 0.1 I^2: I = (480 - sqrt(480^2 - 4 x 0.1 x 40,000)) / 0.2 = 84.83 A.
    assert current_a() == pytest.approx((480 - np.sqrt(480**2 - 16e3)) / 0.2)
    assert current_a() == pytest.approx(84.83, abs=0.005)
    # Without resistance P / (V pf): 40,000 / (480 x 0.8) = 104.17 A.
    assert current_a(resistance_ohm=0.0, power_factor=0.8) == pytest.approx(104.17, abs=0.005)


def test_current_against_a_load_flow_library():
    # Source: pandapower. Z P / V^2 is the same for a loop and for a phase with the line-to-line
    # voltage, so its three-phase net stands for the loop; the loop's current is P / V at the load.
    net = pp.create_empty_network(f_hz=60)
    source, end = (pp.create_bus(net, vn_kv=0.48) for _ in range(2))
    pp.create_ext_grid(net, source)
    pp.create_line_from_parameters(net, source, end, length_km=1.0, r_ohm_per_km=0.1,
                                   x_ohm_per_km=1e-6, c_nf_per_km=0.0, max_i_ka=1.0)
    pp.create_load(net, end, p_mw=0.040, q_mvar=0.0)
    solve(net)
    assert current_a() == pytest.approx(40e3 / (480 * net.res_bus.vm_pu[end]), rel=1e-4)


def test_largest_load_on_both_sides():
    # Source: maximum power transfer: V^2 / (4 R) = 576 kW, at half the voltage and V / (2 R).
    below, beyond = current_a(load_w=np.array([575.9e3, 576.1e3]))
    assert below == pytest.approx(480 / 0.2, rel=0.02) and np.isnan(beyond)


@pytest.mark.parametrize("name", CASE)
def test_vector_equals_scalar_and_unknown_stays_unknown(name):
    both = current_a(**{name: np.array([CASE[name], np.nan])})
    assert both[0] == current_a() and np.isnan(both[1])


def test_spectrum_is_what_makers_claim():
    # Source: makers claim 3 to 5 % distortion (memory); IEEE 519-2022 Table 2, strictest row: 5 %
    # in all, 4 % each below order 11, 2 % to 16, 1.5 % to 22, 0.6 % to 34.
    rows = table("front_end_current")
    assert 3 <= np.sqrt((rows["pct"] ** 2).sum()) <= 5
    for low, high, limit in ((3, 11, 4.0), (11, 17, 2.0), (17, 23, 1.5), (23, 35, 0.6)):
        assert (rows.loc[rows["order"].between(low, high - 1), "pct"] <= limit).all()


# --- through the study ----------------------------------------------------------------------------

FARM = {"supply_option": "single-phase drive", "is_inverter_duty": "yes"}


def study_of(folder, capacitance, unit_costs=None, farm=None, **program):
    return run_study(validate(candidate_workbook(
        folder, [FARM | (farm or {})], unit_costs=unit_costs,
        program={"drive_bus_capacitance_uf_kw": capacitance} | program)))


def test_front_end_does_not_depend_on_the_bridge(tmp_path):
    """With a bus so small that no bridge settles, the front end stays as it was."""
    ordinary, tiny = (study_of(tmp_path, uf_kw) for uf_kw in (150, 1))
    keys = ["service_current_a", "current_thd_pct", "transformer_kva", "voltage_thd_tap_pct",
            "service_conductor", "project_cost_usd", "drive_motor_v"]
    one, two = (s.variants.set_index("variant").loc[FRONT_END, keys] for s in (ordinary, tiny))
    assert one.tolist() == two.tolist() and not one.isna().any()
    unsettled = tiny.variants[tiny.variants["is_unsettled"]]
    assert len(unsettled) == 5 and FRONT_END not in set(unsettled["variant"])
    assert tiny.results["variant"].tolist() == [FRONT_END]
    assert tiny.results["verdict"].tolist() != ["incomplete"]


def test_current_of_the_front_end_by_hand(tmp_path):
    front_end = study_of(tmp_path, 150).variants.set_index("variant").loc[FRONT_END]
    ohm = sum(front_end[f"{part}_r_ohm"] for part in ("source", "line", "transformer", "service"))
    watts, volts = 1000 * front_end["service_demand_kw"], 480 * 1.03 * 0.99
    fundamental = (volts - np.sqrt(volts**2 - 4 * ohm * watts)) / (2 * ohm)
    thd = np.sqrt(sum(p**2 for p in (2.5, 1.7, 1.0, 0.6, 0.5, 0.4, 0.3, 0.3, 0.2, 0.2)))
    assert front_end["fundamental_current_a"] == pytest.approx(fundamental)
    assert front_end["current_thd_pct"] == pytest.approx(thd)
    assert front_end["service_current_a"] == pytest.approx(
        fundamental * np.sqrt(1 + (thd / 100) ** 2))


def slugs_of(study):
    return {f["slug"] for f in study.findings.rows} & {"waveform-unsettled", "price-missing"}


def test_cause_of_an_unsettled_waveform(tmp_path):
    """No bridge settles on so small a bus, and so weak a tap carries no front end's power: the most
    that reaches the end of a resistance R is (V pf)^2 / (4 R), here less than the pump needs."""
    study = study_of(tmp_path, 1, source_x_over_r=0.1, farm={"source_fault_a": 10})
    assert slugs_of(study) == {"waveform-unsettled"}
    row = study.results.iloc[0]
    assert row["verdict"] == "incomplete"
    assert row["verdict_reason"] == "Not assessed: no steady current of the drive."
    assert "no steady current of the drive" in row["option_reason"]


def test_cause_of_a_missing_price(tmp_path):
    prices = [row for row in unit_cost_rows() if row["item"] != "engineering"]
    study = study_of(tmp_path, 150, prices, current_limits_apply="applied")
    assert slugs_of(study) == {"price-missing"}
    assert study.results["verdict_reason"].tolist() == [
        "Not assessed: no price for engineering, single-phase."]


def test_both_causes_where_there_are_both(tmp_path):
    """The bridges do not settle, and the front end that would serve is not on the price list."""
    prices = [row for row in unit_cost_rows() if row["item"] != FRONT_END]
    study = study_of(tmp_path, 1, prices)
    assert slugs_of(study) == {"waveform-unsettled", "price-missing"}
    (reason,) = study.results["verdict_reason"]
    assert re.fullmatch(r"Not assessed: no price for active front end of \d+ hp\.", reason)
