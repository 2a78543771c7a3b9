"""What a farm's part of a shared line is made of: the line's cells, who builds with it, and the
stretches that they split."""

import numpy as np
import pandas as pd

from batch.columns import CANDIDATES, SHARED_LINES
from batch.columns.unit_costs import LINE, LINE_FIXED
from batch.money.prices import as_users
from batch.portfolio.line_parts import stretches_of
from batch.tables import table
from batch.trail.lines import CELL, FIGURE, PRICE


def price_ids(lines) -> list[tuple]:
    """The ids of the rows of the price list behind cost lines."""
    return [(PRICE, int(line["price_row"])) for line in lines if not np.isnan(line["price_row"])]


def line_prices(study, row) -> list[dict]:
    """What a line of a row's phases and construction costs by the foot, and its job."""
    prices = study.inputs.price_list
    site = {"phases": [row["service_phases"]], "line_build": [row["line_build"]]}
    places = [(LINE, place) for place in prices.line_step_rows(**site)[1][0]]
    places += [(LINE_FIXED, place) for place in prices.rows(LINE_FIXED, **site)]
    return [{"priced_as": kind, "unit_price_usd": float(prices.usd_of(place)),
             "price_row": float(prices.excel_rows(place))}
            for kind, place in places if place >= 0]


def line_mates(study, farms, row) -> list[tuple]:
    """The shared line's own cells, and the farms that build it with the row's farm; `farms` are the
    figures of the farms."""
    lines = study.inputs.shared_lines
    mine = lines.index[lines["shared_line_id"] == row["shared_line_id"]]
    if not len(mine):
        return []
    cells = [(CELL, SHARED_LINES.name, int(mine[0]), key) for key in SHARED_LINES.by_key
             if lines.at[mine[0], key] == lines.at[mine[0], key]]
    sets = study.sets.seen_by(row.get("way"))
    together = sets.rows_of([int(one) for one in row["builders"].split()])
    mates = together[together.index != row["excel_row"]]
    return cells + [one for key in ("trunk_ft", "supply_option", "verdict")
                    for one in farms.in_set(mates, key)]


def load_of_builders(study, figure, row, design):
    """The parts and the arithmetic of the load on a shared line over the farm's own: that of all
    its builders by the same variant."""
    sets = study.sets.seen_by(row.get("way"))
    variants, own = len(table("supply_variants")), (*figure[:3], "service_demand_kw")
    loads = {own: row["service_demand_kw"]}
    for mate in map(int, row["builders"].split()):
        if mate != row["excel_row"]:
            there = (sets.number_of[mate, row["builders"]] * variants + design % variants)
            loads[FIGURE, "design", there, "service_demand_kw"] = sets.designs.at[
                there, "service_demand_kw"]
    cells = [(CELL, CANDIDATES.name, int(one), "shared_line_id") for one in row["builders"].split()]
    return [*loads, *cells], lambda marked: "({}) / {}".format(
        " + ".join(f"{kw:.10g} kW{marked(one)}" for one, kw in loads.items()),
        f"{loads[own]:.10g} kW{marked(own)}")


def shared_part(study, row, lines):
    """The arithmetic of a farm's part of a shared line, stretch by stretch, where all of its
    builders take as many phases and every foot has one price; None elsewhere."""
    built = study.sets.chosen
    built = built[(built["builders"] == row["builders"]) & built.index.isin(
        study.sets.seen_by(row.get("way")).number_of.values())]
    users = as_users(built.assign(excel_row=built["farm_row"]))
    users = users[users["reach_ft"] > users["unused_ft"]]
    foot, job = ([line for line in lines if line["priced_as"] == kind]
                 for kind in (LINE, LINE_FIXED))
    is_alike = (users["service_phases"] == row["service_phases"]).all()
    if not row["trunk_ft"] > 0 or not is_alike or len(foot) != 1 or len(job) != 1:
        return None
    stretches = stretches_of(as_users(pd.DataFrame([row])), users)
    stretches = stretches[stretches["start_ft"] > stretches["end_ft"]].assign(
        users=stretches["by_one"] + stretches["by_three"],
        feet=stretches["start_ft"] - stretches["end_ft"])
    payers = len(users)
    usd = ((stretches["feet"] / stretches["users"]).sum() * foot[0]["unit_price_usd"]
           + job[0]["unit_price_usd"] / payers)
    if not abs(usd - row["trunk_part_usd"]) < 0.02:
        return None

    def arithmetic(marked):
        feet = " + ".join(f"{s.feet:.7g} ft / {s.users:g} farms" for s in stretches.itertuples())
        (foot_id,), (job_id,) = price_ids(foot), price_ids(job)
        return (f"({feet}) x {foot[0]['unit_price_usd']:.7g} USD{marked(foot_id)} + "
                f"{job[0]['unit_price_usd']:.7g} USD{marked(job_id)} / {payers}")
    return arithmetic
