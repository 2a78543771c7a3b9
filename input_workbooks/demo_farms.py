"""The demo's invented farms: five feeders through different country, and honest mistakes."""

import datetime
import math

from batch.engineering.pumping import pipe_friction_ft

# Where a feeder goes decides its wells and its distances: (low, likely, high) of each quantity.
COUNTRY = {
    "Heron 1": {  # river bottom: shallow wells, close to the line
        "farms": 17, "lift_ft": (10, 38, 95), "acre": (18, 74, 135), "single_ft": (0, 500, 2600),
        "three_ft": (300, 3800, 16000), "fault_a": (650, 1300, 2500), "kv": 7.2},
    "Quill 2": {  # high plain: deep wells and full circles
        "farms": 15, "lift_ft": (150, 255, 420), "acre": (110, 128, 250),
        "single_ft": (100, 1500, 6000), "three_ft": (1500, 14000, 60000),
        "fault_a": (300, 620, 1400), "kv": 7.2, "elevation_ft": 2900},
    "Sedge 1": {  # sand country: middling lifts, many small circles
        "farms": 14, "lift_ft": (45, 105, 190), "acre": (35, 96, 160),
        "single_ft": (0, 1100, 5200), "three_ft": (1200, 9000, 34000),
        "fault_a": (240, 520, 1100), "kv": 7.2},
    "Tarn 3": {  # canal and lake pumps: low lifts, a full feeder
        "farms": 11, "lift_ft": (10, 26, 70), "acre": (40, 118, 240), "single_ft": (0, 700, 3800),
        "three_ft": (400, 2600, 12000), "fault_a": (500, 950, 1900), "kv": 7.2},
    "Wold 4": {  # far, high country: long single-phase taps with a weak source
        "farms": 11, "lift_ft": (80, 165, 330), "acre": (60, 125, 200),
        "single_ft": (800, 4200, 9000), "three_ft": (8000, 30000, 60000),
        "fault_a": (120, 235, 480), "kv": 14.4, "elevation_ft": 4400},
}
NAMES = ("Alder", "Barley", "Cinder", "Dunlin", "Ember", "Fallow", "Gorse", "Harrow", "Iris",
         "Juniper", "Kestrel", "Linnet", "Marl", "Nettle", "Osprey", "Plover", "Quarry", "Rush",
         "Sorrel", "Teasel", "Umber", "Vetch", "Willow", "Yarrow")
FIELDS = ("bench", "bottom", "circle", "corner", "flat", "half", "quarter", "reach", "section")
CROPS = ("corn", "corn", "soybeans", "alfalfa", "potatoes", "sugar beets", "dry beans", "wheat")
PIPES_IN = (3.97, 5.85, 7.76, 9.69, 11.65, 13.56)  # inside
LARGEST_VELOCITY_FT_S = 5.0

# How many farms; fuel price (low, high); fuel per water hp-hour at the criteria.
PRESENT = {
    "diesel engine": (26, (2.95, 3.55), 12.5), "propane engine": (13, (1.75, 2.35), 6.89),
    "natural gas engine": (6, (7.2, 9.8), 61.7), "gasoline engine": (4, (2.85, 3.35), 8.6),
    "diesel generator": (8, (2.95, 3.55), None), "rotary converter": (5, None, None),
    "none": (6, (2.95, 3.55), None),
}
ON_SMALL_PUMPS = ("gasoline engine", "rotary converter")
LARGEST_SMALL_PUMP_HP = 32
RATE_OF = (("IRR-1", 45), ("IRR-HP", 32), ("IRR-LC", 23))
NORTH_LINE, EAST_LINE, SPUR = "North bench", "East road", "Lake spur"
GENERATORS_KW = (20, 30, 40, 60, 75, 100, 125, 150, 200)
MOTORS_HP = (7.5, 10, 15, 20, 25, 30, 40, 50, 60, 75, 100, 125, 150, 200, 250)


def shared_lines() -> list[dict]:
    """Three extensions: one with many farms close together, one single-phase, one for two."""
    return [
        {"shared_line_id": NORTH_LINE, "shared_single_phase_ft": 1700,
         "shared_three_phase_ft": 3900},
        {"shared_line_id": EAST_LINE, "shared_single_phase_ft": 6400,
         "shared_three_phase_ft": 21000},
        {"shared_line_id": SPUR, "shared_single_phase_ft": 2100, "shared_three_phase_ft": 2300},
    ]


def candidates(draw) -> list[dict]:
    """All farms in the order in which they applied; draw : random.Random."""
    rows = []
    for feeder, country in COUNTRY.items():
        rows += [_farm(draw, feeder, country) for _ in range(country["farms"])]
    draw.shuffle(rows)
    for row, power in _powers(draw, rows):
        _present(draw, row, power)
    day = datetime.date(2025, 9, 2)
    for number, row in enumerate(rows, start=1):
        day += datetime.timedelta(days=draw.choice((0, 1, 1, 2, 3, 4, 5)))
        row |= {"candidate_id": f"A26-{number:03d}", "application_date": day,
                "farm_label": f"{NAMES[number % len(NAMES)]} {draw.choice(FIELDS)}"}
    _share_lines(rows)
    _fix_choices(rows)
    _make_mistakes(rows)
    return rows


# --- one farm ------------------------------------------------------------------------------------

def _farm(draw, feeder: str, country: dict) -> dict:
    """A farm of that country, before anything unusual is done to it."""
    acre = _spread(draw, country["acre"], 1)
    is_pivot = acre > 30 and draw.random() < 0.86
    row = {
        "feeder_id": feeder, "rate_id": _weighted(draw, RATE_OF), "crop": draw.choice(CROPS),
        "irrigated_area_acre": acre, "flow_gpm": _round_to(acre * draw.uniform(5.4, 8.2), 10),
        "pumping_lift_ft": _spread(draw, country["lift_ft"], 0),
        "pivot_pressure_psi": draw.choice((22, 25, 28, 30, 35, 40) if is_pivot else (45, 50, 55)),
        "elevation_gain_ft": round(draw.uniform(-4, 9), 1),  # meters, as the header says
        "pump_efficiency_pct": draw.choice((None, 68, 70, 72, 74, 76, 78, 80)),
        "site_elevation_ft": country.get("elevation_ft"),
        "primary_kv": None if country["kv"] == 7.2 else country["kv"],
        "line_build": draw.choice((None, None, "overhead", "overhead", "underground")),
        "single_phase_distance_ft": _round_to(_spread(draw, country["single_ft"], 0), 50),
        "three_phase_distance_ft": _round_to(_spread(draw, country["three_ft"], 0), 100),
        "source_fault_a": _round_to(_spread(draw, country["fault_a"], 0), 5),
        "service_distance_ft": draw.choice((None, None, 25, 30, 40, 60, 90)),
        "is_inverter_duty": draw.choice((True, True, True, True, False, None)),
        "load_control": None,
    }
    row["flow_gpm"] = min(row["flow_gpm"], 1500)
    if row["single_phase_distance_ft"] > 2000:
        row["line_build"] = "overhead"  # long lines are not put underground
    if row["rate_id"] == "IRR-LC":
        row["load_control"] = True
    if draw.random() < 0.06:
        row["source_fault_a"] = None
    _season(draw, row)
    _pipe(draw, row)
    if is_pivot:
        _pivot(draw, row)
    row["motor_lead_ft"] = _round_to(draw.uniform(15, 45) + (
        row["pumping_lift_ft"] + 60 if row["pumping_lift_ft"] > 120 else 0), 5)
    return row


def _season(draw, row):
    """A depth for most farms, hours from the meter for some, both for a few."""
    depth_in = round(draw.triangular(8, 27, 15), 1)
    hours = 452.57 * row["irrigated_area_acre"] * depth_in / row["flow_gpm"]
    form = draw.random()
    row["gross_depth_in"] = depth_in if form < 0.85 else None
    row["season_hours"] = _round_to(hours * draw.uniform(0.95, 1.05), 10) if form > 0.7 else None


def _pipe(draw, row):
    row["pipe_length_ft"] = draw.choice((None, 120, 300, 660, 1320, 1320, 1980, 2640))
    if row["pipe_length_ft"]:
        row["pipe_diameter_in"] = next(
            d for d in PIPES_IN if 0.4085 * row["flow_gpm"] / d ** 2 <= LARGEST_VELOCITY_FT_S)
        row["pipe_c"] = draw.choice((None, None, 120, 145, 150))


def _pivot(draw, row):
    """A pivot whose circle, with its end gun, is the field or a little more."""
    radius_ft = math.sqrt(row["irrigated_area_acre"] * 43_560 / math.pi)
    row["pivot_length_ft"] = _round_to(radius_ft - draw.uniform(5, 70), 5)
    row["tower_count"] = draw.choice((None, max(1, round(row["pivot_length_ft"] / 172))))
    row["tower_duty_pct"] = draw.choice((None, None, 45, 50, 75))
    row["booster_hp"] = draw.choice((None, None, None, 2, 3, 5))
    row["pivot_lead_ft"] = _round_to((row["pipe_length_ft"] or 0) + draw.uniform(20, 60), 5)


def _powers(draw, rows):
    """(farm, present power) of all farms; some plants are found on small pumps only."""
    deck = {power: [power] * count for power, (count, _, _) in PRESENT.items()}
    for_small = [power for name in ON_SMALL_PUMPS for power in deck.pop(name)]
    small = [n for n, row in enumerate(rows) if _water_hp(row) <= LARGEST_SMALL_PUMP_HP]
    by_row = dict(zip(draw.sample(small, len(for_small)), for_small))
    others = [power for powers in deck.values() for power in powers]
    draw.shuffle(others)
    return [(row, by_row[n] if n in by_row else others.pop()) for n, row in enumerate(rows)]


def _water_hp(row) -> float:
    return row["flow_gpm"] * _head_ft(row) / 3960


def _present(draw, row, power: str):
    """What drives the pump today, its fuel and its engine."""
    water_hp = _water_hp(row)
    _, price, per_unit = PRESENT[power]
    row["present_power"] = power
    motor_hp = next(hp for hp in MOTORS_HP if hp >= water_hp / 0.66)
    if power in ("rotary converter", "diesel generator"):
        _nameplate(draw, row, motor_hp)
        _cables(row)
    if power == "rotary converter":
        row["present_demand_kw"] = round(draw.uniform(1.0, 1.4) * water_hp * 0.7457 / 0.66, 1)
        row["is_inverter_duty"] = draw.choice((False, None))
        return
    row["fuel_price_usd"] = round(draw.uniform(*price), 2)
    if power == "none":  # compared with the diesel engine that would be bought otherwise
        row["engine_replacement_usd"] = _round_to(9000 + 330 * water_hp, 500)
        return
    row["engine_upkeep_usd_h"] = draw.choice((None, 1.2, 1.8, 2.4, 3.0))
    row["engine_replacement_usd"] = _round_to(8000 + 330 * water_hp, 500)
    row["engine_remaining_yr"] = draw.randint(1, 12)
    if power == "diesel generator":
        row["is_inverter_duty"] = draw.choice((True, False, None))
        _generator(draw, row, load_kw=1.07 * water_hp + (4 if row.get("pivot_length_ft") else 0))
    elif draw.random() < 0.5:
        row["fuel_rate"] = round(water_hp / per_unit / draw.uniform(0.62, 0.95) + 0.2, 2)
    else:
        row["performance_rating_pct"] = draw.choice((None, 65, 70, 85))


def _nameplate(draw, row, motor_hp):
    """An electric motor is there already: its rating, and what else could be read."""
    row["pump_motor_hp"] = motor_hp
    row["motor_efficiency_pct"] = draw.choice((None, 89.5, 91, 92.4, 93))
    row["motor_code_letter"] = draw.choice((None, "F", "G", "H"))
    row["motor_full_load_a"] = draw.choice((None, round(1.24 * motor_hp, 1)))


def _cables(row):
    """Cables to the electric motor, and to the pivot, are there already."""
    row["has_motor_lead"] = True
    if row.get("pivot_length_ft"):
        row["has_pivot_lead"] = True


def _generator(draw, row, load_kw):
    """The set's fuel from the tank gauge, or its nameplate rating."""
    if draw.random() < 0.5:
        row["fuel_rate"] = round(load_kw / 11.8 * draw.uniform(0.95, 1.15), 2)
    else:
        row["generator_kw"] = next(kw for kw in GENERATORS_KW if kw >= load_kw / 0.8)


def _head_ft(row) -> float:
    friction_ft = pipe_friction_ft(
        flow_gpm=row["flow_gpm"], pipe_length_ft=row["pipe_length_ft"],
        pipe_diameter_in=row["pipe_diameter_in"], pipe_c=140.0) if row["pipe_length_ft"] else 0.0
    return float(row["pumping_lift_ft"] + row["elevation_gain_ft"] / 0.3048
                 + 2.31 * row["pivot_pressure_psi"] + 1.1 * friction_ft)


# --- what is unusual -----------------------------------------------------------------------------

def _share_lines(rows):
    """Farms that would share a line: their own distances are short spurs from it."""
    by_feeder = {feeder: [row for row in rows if row["feeder_id"] == feeder
                          and row["present_power"].endswith("engine")] for feeder in COUNTRY}
    for feeder, line, members, spurs_ft in (
            ("Sedge 1", NORTH_LINE, 6, (100, 250, 150, 400, 50, 200)),
            ("Wold 4", EAST_LINE, 3, (900, 1400, 700)), ("Tarn 3", SPUR, 2, (200, 500))):
        for row, spur_ft in zip(by_feeder[feeder][:members], spurs_ft):
            row |= {"shared_line_id": line, "single_phase_distance_ft": spur_ft,
                    "three_phase_distance_ft": spur_ft, "line_build": "overhead"}
    north = [row for row in rows if row.get("shared_line_id") == NORTH_LINE]
    for row, use_ft in zip(north, (600, None, 900, 1300, None, 1500)):
        row["shared_line_use_ft"] = use_ft


def _fix_choices(rows):
    """Options that were asked for, outside money, earlier approvals, disconnects away from the
    transformer, and what is not known."""
    for number, option in ((6, "single-phase drive"), (13, "rotary converter"), (22, "auto"),
                           (31, "three-phase line"), (40, "single-phase drive"), (47, "auto")):
        rows[number]["supply_option"] = option
    for number, usd in ((9, 7500), (26, 12000), (52, 4000)):
        rows[number]["other_funding_usd"] = usd
    for number, usd in ((3, 1800), (15, 5400), (44, 6000)):
        rows[number]["approved_incentive_usd"] = usd
    for number in (11, 37):
        rows[number]["three_phase_distance_ft"] = None
    rows[62]["motor_lead_ft"] = None
    for row in rows[::3]:  # an engine's generator feeds the pivot through a cable of its own
        if row["present_power"].endswith("engine") and row.get("pivot_length_ft"):
            row["has_pivot_lead"] = True
    for number in (7, 59):
        rows[number]["disconnect_at"] = "drive"
    for number, choice in ((20, "must fund"), (57, "must not fund")):
        rows[number]["funding_choice"] = choice


def _make_mistakes(rows):
    """What is really found in application forms; each row keeps one mistake."""
    def a_row(start, **wanted):
        return next(row for row in rows[start:] if "mistake" not in row and (
            not row.get("shared_line_id")) and all(
            row.get(key) == value for key, value in wanted.items()))

    def spoil(row, **cells):
        row |= cells | {"mistake": True}

    spoil(a_row(4), flow_gpm=None)
    spoil(a_row(10), flow_gpm="abt 900")
    spoil(a_row(15, present_power="diesel engine"), present_power="deisel engine")
    spoil(a_row(20, feeder_id="Quill 2"), irrigated_area_acre=640, pivot_length_ft=1290)
    spoil(a_row(25), single_phase_distance_ft=-1200)
    spoil(a_row(30), candidate_id=rows[5]["candidate_id"])
    spoil(a_row(35), rate_id="IRR-3")
    spoil(a_row(42, present_power="propane engine"), fuel_price_usd=None)
    row = a_row(46, season_hours=None)
    hours = 452.57 * row["irrigated_area_acre"] * row["gross_depth_in"] / row["flow_gpm"]
    spoil(row, season_hours=_round_to(1.6 * hours, 10))
    spoil(a_row(50), pump_efficiency_pct=0.72)
    row = a_row(55)
    spoil(row, single_phase_distance_ft="1,300 ft")
    row = a_row(58)
    spoil(row, pumping_lift_ft=str(row["pumping_lift_ft"]))
    for row in rows:
        row.pop("mistake", None)


# --- drawing -------------------------------------------------------------------------------------

def _spread(draw, low_likely_high, digits):
    low, likely, high = low_likely_high
    value = round(draw.triangular(low, high, likely), digits)
    return int(value) if digits == 0 else value


def _round_to(value: float, step: int) -> int:
    return int(round(value / step) * step)


def _weighted(draw, pairs):
    words, weights = zip(*pairs)
    return draw.choices(words, weights)[0]
