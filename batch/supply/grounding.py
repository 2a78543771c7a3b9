"""Grounding of the service: the conductor that runs with its legs, and the one to the electrode.

Where the service disconnect stands decides. Ahead of it run service conductors with a grounded
conductor, sized by the legs; behind it a feeder with equipment grounding, sized by its device.
"""

import numpy as np
import pandas as pd

from batch.columns.candidates import AT_DRIVE, OVERHEAD
from batch.engineering import conductors
from batch.engineering.transformer import next_standard_size
from batch.supply.service_conductors import METALS, SMALLEST_PARALLEL, smallest_run, wire_names
from batch.tables import table


def ground(designs, all_runs, run, rules):
    """Add the grounding of each design, whose run (n,) is a place among all runs, to its frame."""
    metal = rules["conductor_material"]
    area = np.append(all_runs.listed["cmil"].to_numpy(float), np.nan)  # the last for no run: -1
    legs_cmil, sets = area[run], all_runs.listed["sets"].to_numpy()[run]
    needed_cmil = area[smallest_run(designs, all_runs, rules, drop_limit_pct=np.inf)]
    at_drive = (designs["disconnect_at"] == AT_DRIVE).to_numpy()
    in_each = np.where(sets == 1, "", np.where(
        designs["service_build"] == OVERHEAD, " in each cable", " in each raceway"))
    device_a = designs["protective_device_a"]
    with_run = pd.Series(np.where(
        at_drive, "grounded conductor " + grounded_conductors(legs_cmil, sets, metal),
        "equipment grounding " + equipment_grounding(device_a, legs_cmil, needed_cmil, metal)))
    designs["grounding_conductor"] = np.where(with_run.notna(), with_run + in_each, None)
    beyond = equipment_grounding(device_a, needed_cmil, needed_cmil, metal)
    designs["grounding_beyond"] = np.where(at_drive, beyond, None)
    # Behind a disconnect at the transformer the run may be larger than its load needs; the service
    # conductors ahead of it are not: Table 250.66, note 2.
    designs["electrode_conductor"] = electrode_conductors(
        np.where(at_drive, legs_cmil, needed_cmil), metal)


def equipment_grounding(device_a, legs_cmil, needed_cmil, metal) -> pd.Series:
    """Names of the equipment grounding conductors (n,): by the device, enlarged as the legs are
    above what their ampacity needs; the whole size in each raceway, NEC 250.122(A), (B), (F)."""
    by_device = table("equipment_grounding_conductor")
    step = next_standard_size(required=device_a, sizes=by_device["ocpd_A"].to_numpy(float))
    size = by_device.set_index("ocpd_A")[METALS[metal]].reindex(step)
    return _names(conductors.grounding_area_cmil(
        table_area_cmil=_area_cmil(size), chosen_area_cmil=legs_cmil,
        ampacity_area_cmil=needed_cmil), metal)


def grounded_conductors(legs_cmil, sets, metal) -> pd.Series:
    """Names of the grounded conductors (n,) of services: by the legs; of parallel runs in each
    raceway by the legs in it, and never below 1/0."""
    by_legs = table("grounded_conductor")
    in_raceway = conductors.grounded_area_cmil(
        ungrounded_area_cmil=legs_cmil / sets,
        up_to_cmil=by_legs[f"{METALS[metal]}_up_to_cmil"].to_numpy(float),
        table_area_cmil=_area_cmil(by_legs[METALS[metal]]))
    least = np.where(sets > 1, _area_cmil([SMALLEST_PARALLEL]), 0.0)
    return _names(np.maximum(in_raceway, least), metal)


def electrode_conductors(ungrounded_cmil, metal):
    """Names of the grounding electrode conductors (n,), by the area of the legs together. They are
    of copper, since aluminum may not end within 18 in of the earth, NEC 250.64(A)."""
    by_legs = table("grounding_electrode_conductor").set_index(f"{METALS[metal]}_up_to_cmil")
    step = next_standard_size(required=ungrounded_cmil, sizes=by_legs.index.to_numpy(float))
    return _names(_area_cmil(by_legs["cu"].reindex(step)), "copper").to_numpy()


def _area_cmil(size):
    """Areas of wires by their size; NaN where there is none."""
    wires = table("conductor_dc_resistance").set_index("size")["cmil"]
    return wires.reindex(size).to_numpy(float)


def _names(area_cmil, metal) -> pd.Series:
    """The smallest wires that have an area, in words; None where there is none."""
    wires = table("conductor_dc_resistance")
    step = next_standard_size(required=area_cmil, sizes=wires["cmil"].to_numpy(float))
    names = pd.Series(wire_names(wires["size"], metal).to_numpy(), wires["cmil"].to_numpy(float))
    found = names.reindex(step)
    return found.where(found.notna(), None).reset_index(drop=True)
