"""The demo's invented rates and price list. No real cooperative or maker stands behind them."""

STORES, QUOTED = "stores price", "quotation 2026"

RATES = (
    {"rate_id": "IRR-1", "customer_charge_usd_month": 38, "demand_charge_usd_kw": 7.25,
     "demand_months": "6-9", "block_1_usd_kwh": 0.0915, "minimum_bill_usd_yr": 600,
     "wholesale_energy_usd_kwh": 0.0386, "wholesale_demand_usd_kw": 8.6,
     "wholesale_demand_months": "6-9", "coincidence_pct": 65, "coincidence_controlled_pct": 12,
     "losses_pct": 6.5},
    {"rate_id": "IRR-HP", "customer_charge_usd_month": 25, "facilities_charge_usd_hp_yr": 21.5,
     "block_basis": "kWh per hp per season", "block_1_size": 400, "block_2_size": 500,
     "block_1_usd_kwh": 0.128, "block_2_usd_kwh": 0.1065, "block_3_usd_kwh": 0.0935,
     "wholesale_energy_usd_kwh": 0.0386, "wholesale_demand_usd_kw": 8.6,
     "wholesale_demand_months": "6-9", "coincidence_pct": 65, "coincidence_controlled_pct": 12,
     "losses_pct": 6.5},
    {"rate_id": "IRR-LC", "customer_charge_usd_month": 38, "demand_charge_usd_kw": 9.5,
     "demand_months": "6-9", "block_1_usd_kwh": 0.0925, "off_peak_usd_kwh": 0.0685,
     "off_peak_share_pct": 55, "control_credit_usd_kw_month": 5.5,
     "wholesale_energy_usd_kwh": 0.0386, "wholesale_demand_usd_kw": 8.6,
     "wholesale_demand_months": "6-9", "coincidence_pct": 65, "coincidence_controlled_pct": 12,
     "losses_pct": 6.5},
)

LINES = (  # item, construction, phases, USD per foot or per job
    ("line", "overhead", 1, 9.2), ("line", "overhead", 3, 19.5),
    ("line", "underground", 1, 14.5), ("line", "underground", 3, 33.0),
    ("line job", "overhead", 1, 850), ("line job", "overhead", 3, 1900),
    ("line job", "underground", 1, 1250), ("line job", "underground", 3, 2600),
    ("meter and service", None, 1, 820), ("meter and service", None, 3, 1450),
    ("engineering", None, 1, 480), ("engineering", None, 3, 950),
)
TRANSFORMERS = {  # phases: (kVA, USD); three phases: the bank of three
    1: ((10, 1950), (15, 2250), (25, 2800), (37.5, 3450), (50, 4050), (75, 5400), (100, 6800),
        (167, 10300), (250, 15200)),
    3: ((15, 5100), (30, 6900), (45, 8000), (75, 9600), (112.5, 11600), (150, 13400),
        (225, 17200), (300, 21500), (501, 31000)),
}
SERVICE_CONDUCTORS = {  # phases: (A, USD per foot)
    1: ((100, 7), (150, 9), (200, 12), (310, 17), (400, 23), (520, 31), (680, 42), (850, 54),
        (1100, 71), (1400, 92)),
    3: ((100, 9), (150, 12), (200, 16), (310, 23), (400, 31), (520, 42), (680, 57), (850, 73),
        (1100, 96), (1400, 124)),
}
# A, USD. Leads: per foot of three copper wires and ground, by the 75 C amperes of the wires.
BY_AMPERES = {
    "motor lead": ((20, 3.2), (25, 3.5), (35, 4.1), (50, 5), (65, 6.1), (85, 7.6), (115, 10.2),
                   (150, 13.5), (200, 18.5), (255, 24), (310, 29), (380, 36), (475, 46), (600, 58),
                   (760, 74), (950, 93), (1425, 139)),
    "pivot lead": ((20, 3.6), (25, 3.9), (35, 4.5), (50, 5.4), (65, 6.5), (85, 8), (115, 10.6),
                   (150, 13.9), (200, 18.9), (255, 24.4), (310, 29.4), (380, 36.4), (475, 46.4)),
    "disconnect": ((60, 340), (100, 450), (200, 680), (400, 1250), (600, 2100), (800, 3200),
                   (1200, 5200)),
}
DRIVES = (  # hp, USD, maker's single-phase rating hp
    (10, 2350, None), (15, 2700, 7.5), (20, 3050, 10), (25, 3500, None), (30, 3950, 15),
    (40, 4650, 20), (50, 5500, 25), (60, 6350, 30), (75, 7700, None), (100, 9900, 50),
    (125, 12300, None), (150, 14900, 75), (200, 19600, 100), (250, 25400, None),
    (300, 31200, None), (350, 37500, None), (400, 44000, None),
)
SIZED = {  # item: (hp, USD)
    "rotary converter": ((10, 3100), (15, 3700), (20, 4300), (30, 5600), (40, 6900), (50, 8300),
                         (60, 9800), (75, 11900), (100, 15600), (125, 19800), (150, 24500),
                         (200, 33500)),
    # Input equipment goes by the drive's own rating, about twice the pump's on single phase.
    "line reactor 3 %": ((10, 320), (25, 430), (50, 610), (100, 980), (150, 1350), (250, 2050),
                         (400, 3100)),
    "line reactor 5 %": ((10, 370), (25, 510), (50, 740), (100, 1200), (150, 1650), (250, 2550),
                         (400, 3850)),
    "DC choke": ((10, 340), (25, 470), (50, 690), (100, 1120), (150, 1560), (250, 2380),
                 (400, 3600)),
    "tuned filter": ((10, 1650), (25, 2150), (50, 3000), (100, 4700), (150, 6400), (250, 9600),
                     (400, 14200)),
    "active front end": ((10, 4300), (25, 5700), (50, 8300), (100, 13400), (150, 18700),
                         (250, 28500), (400, 43000)),
    "output reactor": ((10, 420), (25, 600), (50, 900), (100, 1550), (150, 2150), (250, 3300)),
    "dV/dt filter": ((10, 750), (25, 1050), (50, 1600), (100, 2700), (150, 3700), (250, 5600)),
    "sine filter": ((10, 1500), (25, 2200), (50, 3600), (100, 6400), (150, 9000), (250, 13500)),
    "across-the-line starter": ((10, 850), (25, 1300), (50, 2300), (100, 4200), (150, 6400),
                                (300, 10900)),
    "soft starter": ((10, 1500), (25, 2400), (50, 3900), (100, 6900), (150, 9600), (300, 16500)),
    "motor change": ((7.5, 1750), (10, 2050), (15, 2700), (20, 3250), (25, 3800), (30, 4400),
                     (40, 5500), (50, 6600), (60, 7700), (75, 9100), (100, 11800), (125, 14900),
                     (150, 17600), (200, 23000), (250, 29500)),
}


def unit_cost_rows() -> list[dict]:
    """The whole price list: every item, in the sizes that the demo's farms need."""
    rows = [_row(item, price, phases=phases, line_build=build)
            for item, build, phases, price in LINES]
    for item, by_phases in (("transformer", TRANSFORMERS),
                            ("service conductor", SERVICE_CONDUCTORS)):
        rows += [_row(item, price, phases=phases, size=size)
                 for phases, prices in by_phases.items() for size, price in prices]
    rows += [_row("drive", price, size=size, single_phase_hp=single_phase_hp, price_year=2026,
                  price_source=QUOTED) for size, price, single_phase_hp in DRIVES]
    rows += [_row(item, price, size=size, price_year=2026, price_source=QUOTED)
             for item, prices in (BY_AMPERES | SIZED).items() for size, price in prices]
    return rows


def _row(item, price, **more) -> dict:
    return {"item": item, "price_usd": price, "price_year": 2025, "price_source": STORES} | more
