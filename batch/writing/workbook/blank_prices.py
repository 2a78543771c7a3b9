"""The price list of the blank workbook: every item in standard sizes, to be priced; beside them
what an earlier workbook paid."""

from pathlib import Path

import pandas as pd

from batch.columns import UNIT_COSTS
from batch.columns import unit_costs as listed
from batch.findings import Findings
from batch.reading.cells import read_workbook
from batch.reading.defaults import Defaults
from batch.reading.laying import Laid
from batch.reading.validate import read_table
from batch.tables import sizes

BUILDS, PHASES = ("overhead", "underground"), (1, 3)
BY_BUILD, BY_PHASES = (listed.LINE, listed.LINE_FIXED), (listed.METER, listed.ENGINEERING)
LARGEST_BANK_KVA = 750
# Copper wires at 75 C, NEC Table 310.16: one set; then two to four sets in parallel.
WIRE_A = (20, 25, 35, 50, 65, 85, 115, 150, 200, 255, 310, 380)
SERVICE_A = (100, 150, 200, 310, 380, 2 * 310, 2 * 380, 3 * 310, 3 * 380, 4 * 380)
PARALLEL_A = (2 * 255, 2 * 310, 2 * 380, 3 * 380)
# Steps in which input and output equipment and starters are quoted: common practice, no source.
EQUIPMENT_HP, OUTPUT_HP = (10, 25, 50, 100, 150, 250, 400), (10, 25, 50, 100, 150, 250)
STARTER_HP = (10, 25, 50, 100, 150, 300)
INPUT_ITEMS = (listed.REACTOR_3, listed.REACTOR_5, listed.CHOKE, listed.TUNED_FILTER,
               listed.FRONT_END)
OUTPUT_ITEMS = (listed.OUTPUT_REACTOR, listed.DVDT, listed.SINE)
# What a row is for, and what is taken from an earlier workbook beside it.
ROW_OF = ("item", "line_build", "phases", "size", "from_ft")
KEPT = (*ROW_OF, "single_phase_hp", "inrush_kva")


def blank_prices(last=()) -> list[dict]:
    """The rows to be priced: those of an earlier list with its prices as last year's, then the
    standard rows of the kinds that it lacks."""
    rows = [*last, *(row for row in standard_rows() if not any(_covers(old, row) for old in last))]
    return [row | {"price_unit": _unit(row["item"])}
            for row in sorted(rows, key=lambda row: listed.ITEMS.index(row["item"]))]


def last_prices(path: str | Path) -> list[dict]:
    """The priced rows of another workbook's Unit costs, the price as last year's. Quotations for
    one farm are left out. Errors: StudyError where the workbook cannot be read."""
    cells = read_workbook(path).by_sheet.get(UNIT_COSTS.name)
    table = read_table(UNIT_COSTS, cells, Findings(), Defaults(), Laid())
    table = table[table["item"].notna() & table["price_usd"].notna()]
    return [{**{key: None if pd.isna(row[key]) else row[key] for key in KEPT},
             "last_price_usd": row["price_usd"]} for row in table.to_dict("records")]


def standard_rows() -> list[dict]:
    """Every item, in the sizes that farms can need; without prices."""
    rows = [{"item": item, "line_build": build, "phases": phases}
            for item in BY_BUILD for build in BUILDS for phases in PHASES]
    rows += [{"item": item, "phases": phases} for item in BY_PHASES for phases in PHASES]
    kva = sizes("transformer_kVA")
    banks = [3 * size for size in kva if 3 * size <= LARGEST_BANK_KVA]
    by_phases = ((listed.TRANSFORMER, 1, kva), (listed.TRANSFORMER, 3, banks),
                 (listed.SERVICE, 1, SERVICE_A), (listed.SERVICE, 3, SERVICE_A))
    rows += [{"item": item, "phases": phases, "size": float(size)}
             for item, phases, steps in by_phases for size in steps]
    drives_hp, motors_hp = sizes("drive_hp"), sizes("motor_hp")
    by_size = {
        listed.DISCONNECT: sizes("disconnect_A"), listed.DRIVE: drives_hp[drives_hp >= 5],
        listed.CONVERTER: motors_hp[(motors_hp >= 5) & (motors_hp <= 200)],
        **dict.fromkeys(INPUT_ITEMS, EQUIPMENT_HP), **dict.fromkeys(OUTPUT_ITEMS, OUTPUT_HP),
        **dict.fromkeys((listed.STARTER, listed.SOFT_STARTER), STARTER_HP),
        listed.MOTOR_LEAD: (*WIRE_A, *PARALLEL_A), listed.PIVOT_LEAD: WIRE_A,
        listed.MOTOR: motors_hp[motors_hp >= 5]}
    return rows + [{"item": item, "size": float(size)}
                   for item, steps in by_size.items() for size in steps]


def _covers(old: dict, row: dict) -> bool:
    """True where an earlier list has rows of this kind, whatever their size."""
    return old["item"] == row["item"] and all(
        old.get(key) is None or old[key] == row.get(key) for key in ("line_build", "phases"))


def _unit(item: str) -> str:
    """What a price of the item is for, in words."""
    each = "ft" if item in listed.PRICED_PER_FOOT else "job" if item == listed.LINE_FIXED else (
        "piece")
    if item in (*BY_BUILD, *BY_PHASES):
        return each
    return f"{each}; size in {listed.SIZE_UNITS.get(item, 'hp')}"
