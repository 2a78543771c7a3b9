"""Service conductors: the runs that could be built, and the one that is."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from batch.columns.candidates import CONDUIT, OVERHEAD
from batch.engineering import conductors
from batch.tables import table

MOST_PARALLEL_RUNS = 4
SMALLEST_PARALLEL = "1/0"  # NEC 310.10(G): parallel conductors are 1/0 and larger
SMALL_CIRCUIT_A = 100  # NEC 110.14(C)(1): up to here terminations may be for 60 C only
SMALLEST_SERVICE = {"cu": "8", "al": "6"}  # NEC 230.23(B) overhead, 230.31(B) underground
METALS = {"copper": "cu", "aluminum": "al"}
CONDUIT_COLUMNS = {"PVC": "pvc", "aluminum": "al", "steel": "steel"}  # of chapter 9 Table 9


@dataclass(frozen=True)
class Runs:
    """All runs of a study, from the smallest up, for each design as its service is built.

    `listed` (k rows) has size, cmil and sets; ampacity [A], the same in a circuit of up to 100 A,
    r and x [ohm/1000 ft to neutral] are arrays (n, k).
    """

    listed: pd.DataFrame
    ampacity: np.ndarray
    small_circuit_ampacity: np.ndarray
    r: np.ndarray
    x: np.ndarray

    def ampacity_in(self, designs):
        """Ampacity (n, k) [A] of every run in each design's circuit, by its device."""
        return by_circuit(designs["protective_device_a"].to_numpy(float),
                          self.small_circuit_ampacity,
                          self.ampacity)


def by_circuit(circuit_a, small_circuit_ampacity, ampacity):
    """Ampacity (n, k) [A] of runs in circuits of a rating (n,) [A]."""
    is_small = (circuit_a <= SMALL_CIRCUIT_A)[:, np.newaxis]
    return np.where(is_small, small_circuit_ampacity, ampacity)


def of_run(values, run):
    """What an array (n, k) has for each design's run; NaN where it has none."""
    return np.where(run >= 0, values[np.arange(len(run)), run], np.nan)


def runs_of_designs(designs, rules) -> Runs:
    """The runs that each design may choose from."""
    is_overhead = (designs["service_build"] == OVERHEAD).to_numpy()[:, np.newaxis]
    conduit, overhead = (service_runs(rules, build) for build in (CONDUIT, OVERHEAD))
    values = {key: np.where(is_overhead, overhead[key], conduit[key])
              for key in ("ampacity", "small_circuit_ampacity", "r", "x")}
    return Runs(conduit[["size", "cmil", "sets"]], **values)


def service_runs(rules, build) -> pd.DataFrame:
    """The runs that a service may have. Behind a disconnect at the transformer, where a feeder
    could be smaller, the run is no smaller than the service conductors that feed it."""
    listed = runs(rules, build)
    smallest = SMALLEST_SERVICE[METALS[rules["conductor_material"]]]
    is_allowed = listed["cmil"] >= listed.loc[listed["size"] == smallest, "cmil"].min()
    for key in ("ampacity", "small_circuit_ampacity"):
        listed[key] = listed[key].where(is_allowed)
    return listed


def runs(rules, build, metal=None) -> pd.DataFrame:
    """All runs of one build, of the service's metal or another: one conductor a leg from the
    smallest up, then parallel runs. The rows are the same for each build; an ampacity of NaN is a
    size that is not allowed."""
    metal = metal or METALS[rules["conductor_material"]]
    wires = (table("ampacity").merge(table("conductor_ac_impedance"), on="size")
             .merge(table("conductor_dc_resistance")[["size", "cmil"]], on="size"))
    wires = wires.dropna(subset=[f"{metal}75", f"R{metal}_pvc"]).reset_index(drop=True)
    free_air = table("ampacity_messenger").set_index("size")[f"{metal}75"]
    in_use = (_overhead if build == OVERHEAD else _in_conduit)(
        wires.join(free_air.rename("free_air"), on="size"), metal, rules)
    one = wires[["size"]].assign(cmil=wires["cmil"].astype(float), sets=1, **in_use)
    one["small_circuit_ampacity"] = one["ampacity"]
    if rules["terminations"] != "75 C":  # for 60 C in circuits of up to 100 A, 110.14(C)(1)(a)
        one["small_circuit_ampacity"] = np.minimum(one["ampacity"], wires[f"{metal}60"])
    may_be_parallel = one["cmil"] >= one.loc[one["size"] == SMALLEST_PARALLEL, "cmil"].item()
    parallel = [one[may_be_parallel].assign(
        sets=n, **{key: lambda w, key=key, n=n: w[key] * n
                   for key in ("ampacity", "small_circuit_ampacity", "cmil")},
        **{key: lambda w, key=key, n=n: w[key] / n for key in ("r", "x")})
        for n in range(2, MOST_PARALLEL_RUNS + 1)]
    return pd.concat([one, *parallel], ignore_index=True)


def _in_conduit(wires, metal, rules):
    """NEC Table 310.16 at its 75 C terminals, and chapter 9 Table 9."""
    conduit = CONDUIT_COLUMNS[rules["conduit"]]
    return {"ampacity": ampacity_at(wires[f"{metal}75"], rules["ambient_c"]),
            "r": wires[f"R{metal}_{conduit}"],
            "x": wires["X_steel" if conduit == "steel" else "X_pvc_al"]}


def ampacity_at(ampacity_75c_a, ambient_c):
    """A conductor in conduit or cable at an ambient temperature, never above what its 75 C
    terminals allow, however cool it is (NEC 310.15(B)(1), 110.14(C))."""
    factor = _ambient_factor(ambient_c, "ampacity_temperature_factors")
    return ampacity_75c_a * np.minimum(factor, 1.0)


def _overhead(wires, metal, rules):
    """Cable on a messenger, or open wires at a spacing, which carry more and are taken alike.

    NEC Table 310.20 in free air, and never more than Table 310.16 at the 75 C terminals, whatever
    the ambient (110.14(C)). Twisted conductors touch, as in plastic conduit (chapter 9 Table 9).
    """
    ampacity = wires["free_air"] * _ambient_factor(
        rules["ambient_c"], "ampacity_temperature_factors_40")
    reactance = wires["X_pvc_al"]
    if rules["overhead_service_spacing_in"] > 0:
        reactance = np.maximum(reactance, conductors.open_wire_reactance_ohm_kft(
            spacing_in=rules["overhead_service_spacing_in"], area_cmil=wires["cmil"]))
    return {"ampacity": np.minimum(ampacity, wires[f"{metal}75"]),
            "r": wires[f"R{metal}_pvc"], "x": reactance}


def _ambient_factor(ambient_c, name):
    """Correction of the 75 C column for the ambient temperature, by the table's bands."""
    bands = table(name)
    top_c = bands["ambient_C"].str.extract(r"(\d+)$")[0].to_numpy(float)
    known = bands["f75"].notna().to_numpy()
    place = np.searchsorted(top_c[known], ambient_c)
    factors = bands["f75"].to_numpy(float)[known]
    return factors[place] if place < len(factors) else np.nan


def smallest_run(designs, all_runs: Runs, rules, drop_limit_pct=None):
    """Each design's smallest run by ampacity and drop: its place (n,), -1 for none."""
    limit = rules["service_drop_limit_pct"] if drop_limit_pct is None else drop_limit_pct
    return conductors.smallest_run(
        needed_a=designs["minimum_ampacity_a"], drop_limit_pct=limit,
        phases=designs["service_phases"],
        current_a=designs["fundamental_current_a"], length_ft=designs["service_distance_ft"],
        power_factor=designs["displacement_power_factor"], voltage_v=rules["service_voltage_v"],
        ampacity_a=all_runs.ampacity_in(designs), resistance_ohm_kft=all_runs.r,
        reactance_ohm_kft=all_runs.x)


def impedance_ohm(designs, all_runs: Runs, run):
    """Of the loop for single phase, per phase for three; NaN without a run (complex)."""
    ohm_kft = of_run(all_runs.r, run) + 1j * of_run(all_runs.x, run)
    conductors_in_loop = np.where(designs["service_phases"] == 3, 1, 2)
    return conductors_in_loop * ohm_kft * designs["service_distance_ft"].to_numpy() / 1000


def name_conductors(designs, all_runs: Runs, run, rules):
    """The chosen run and its drop."""
    known = run >= 0
    chosen = all_runs.listed.iloc[run].reset_index(drop=True)
    designs["service_conductor"] = np.where(known, run_names(chosen, rules["conductor_material"]),
                                            None)
    designs["service_ampacity_a"] = of_run(all_runs.ampacity_in(designs), run)
    designs["service_voltage_drop_pct"] = conductors.run_drop_pct(
        phases=designs["service_phases"], current_a=designs["fundamental_current_a"],
        length_ft=designs["service_distance_ft"], power_factor=designs["displacement_power_factor"],
        voltage_v=rules["service_voltage_v"], resistance_ohm_kft=of_run(all_runs.r, run),
        reactance_ohm_kft=of_run(all_runs.x, run))


def run_names(listed, metal):
    """Sets, size and metal of listed runs in words."""
    sets = np.where(listed["sets"] > 1, listed["sets"].astype(str) + " x ", "")
    return sets + wire_names(listed["size"], metal)


def wire_names(size, metal):
    """Sizes of wires in words, with their metal."""
    number = pd.to_numeric(size, errors="coerce")
    return size + np.where(number >= 250, " kcmil ", " AWG ") + metal
