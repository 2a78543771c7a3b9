"""Words of the trade in own lists: headings, units, choices, unknowns, totals.

What the words mean is common practice, no source. A word that may mean two things is in no list
here: it is asked.
"""

from batch.columns.candidates import (
    AT_DRIVE,
    AT_TRANSFORMER,
    CONDUIT,
    GENERATOR,
    MUST_FUND,
    MUST_NOT_FUND,
    NO_POWER,
    OVERHEAD,
    ROTARY,
    SINGLE_PHASE_DRIVE,
    THREE_PHASE_LINE,
)

# Parts of headings, as they are written out before headings are compared; '' is left out.
PARTS = {
    "dist": "distance", "hrs": "hours", "hr": "hours", "hour": "hours", "elev": "elevation",
    "eff": "efficiency", "dia": "diameter", "diam": "diameter", "ø": "diameter",
    "pwr": "power", "xfmr": "transformer", "xfmer": "transformer", "press": "pressure",
    "len": "length", "lgth": "length", "svc": "service", "repl": "replacement",
    "maint": "maintenance", "ann": "annual", "yearly": "annual", "avg": "", "approx": "",
    "est": "", "estimated": "", "ph": "phase", "pri": "primary", "app": "application",
    "appl": "application", "no": "number", "num": "number", "#": "number", "nr": "number",
    "acreage": "acres", "ac": "acres", "acre": "acres", "gallons": "gal", "gallon": "gal",
    "feet": "ft", "miles": "mi", "mile": "mi", "inches": "in", "amps": "amperes",
    "single": "1", "three": "3", "one": "1", "yr": "year", "yrs": "years", "the": "", "of": "",
    "a": "", "per": "", "present": "current", "existing": "current", "fdr": "feeder",
    "ckt": "circuit", "underground": "ug", "overhead": "oh", "sys": "system", "max": "maximum",
    "qty": "number", "ltr": "letter", "mtr": "motor", "xfmrs": "transformer", "irrig": "irrigated",
    "rpc": "rotary converter", "vfd": "drive", "$": "usd", "dollars": "usd",
}

# Headings as the trade writes them, nearest first. Compared after PARTS.
HEADINGS = {
    "candidate_id": ("farm no", "app no", "application number", "application no", "farm number",
                     "number", "well id", "well no", "pump no", "ref", "reference", "account",
                     "account no", "acct", "location no", "site no"),
    "farm_label": ("farm name", "farm", "name", "field name", "field", "grower", "member",
                   "member name", "producer", "owner", "operator", "customer", "location"),
    "feeder_id": ("feeder no", "fdr", "circuit", "ckt no"),
    "rate_id": ("rate class", "rate code", "rate schedule", "tariff"),
    "application_date": ("date", "date applied", "applied", "date received", "received",
                         "app date", "rec d", "recd"),
    "crop": ("crops", "main crop"),
    "present_power": ("fuel", "fuel type", "power", "power unit", "power source", "power now",
                      "energy source", "engine fuel", "engine type", "engine", "prime mover",
                      "driver", "driven by", "existing power", "current power", "power type"),
    "fuel_rate": ("gph", "fuel rate", "gal per hour", "fuel per hour", "fuel burn",
                  "measured fuel"),
    "annual_fuel_use": ("fuel used", "gal used", "fuel use", "gal per year", "gallons per season",
                        "fuel per year", "season fuel", "fuel last year", "fuel consumption",
                        "gal/yr", "gallons"),
    "fuel_price_usd": ("fuel $/gal", "price per gallon", "$/gal", "usd/gal", "price of fuel",
                       "price paid for fuel"),
    "generator_kw": ("genset kw", "genset size", "generator size", "generator kw"),
    "engine_upkeep_usd_h": ("upkeep", "engine maintenance", "repairs per hour",
                            "oil and repairs"),
    "engine_replacement_usd": ("new engine", "replacement cost", "cost of new engine",
                               "engine replacement cost", "next engine"),
    "engine_remaining_yr": ("years left", "remaining life", "engine years left", "life left"),
    "present_demand_kw": ("kw demand", "metered demand", "billed demand", "present kw"),
    "irrigated_area_acre": ("acres", "ac", "area", "irrigated acres", "field size",
                            "acres watered", "acres irrigated", "acres under pivot"),
    "gross_depth_in": ("inches", "water applied", "inches applied", "depth applied",
                       "inches per season", "inches per year", "application depth",
                       "in/yr", "water depth applied"),
    "season_hours": ("hours", "hours per year", "pumping hours", "run hours", "run time",
                     "hours run", "operating hours", "annual hours", "hours per season",
                     "season hours", "hrs/yr", "hour meter"),
    "flow_gpm": ("gpm", "flow rate", "pump flow", "well yield", "yield", "pumping rate",
                 "capacity", "flow gpm", "q"),
    "pumping_lift_ft": ("lift", "pwl", "pumping water level", "pumping level",
                        "depth to pumping water", "pumping depth", "dynamic water level"),
    "pivot_pressure_psi": ("psi", "pressure", "pivot psi", "pivot pressure", "psi at pivot",
                           "operating pressure", "system pressure"),
    "elevation_gain_ft": ("rise", "elevation change", "elevation difference", "elevation rise",
                          "rise to pivot", "elevation"),
    "pipe_length_ft": ("mainline", "mainline length", "pipeline length", "pipe run",
                       "length of pipe", "pipeline"),
    "pipe_diameter_in": ("pipe diameter", "pipe dia", "pipe size", "pipe ø", "mainline ø",
                         "mainline size", "pipe id", "pipe inside diameter"),
    "pipe_c": ("c", "c factor", "hazen williams c", "pipe c", "c value"),
    "pump_efficiency_pct": ("pump eff",),
    "performance_rating_pct": ("performance rating", "plant rating"),
    "pump_motor_hp": ("motor hp", "motor size", "pump motor hp", "pump motor", "electric motor hp"),
    "motor_efficiency_pct": ("motor eff",),
    "motor_full_load_a": ("fla", "motor fla", "full load amps", "motor amps", "nameplate amps"),
    "motor_code_letter": ("code letter", "kva code"),
    "is_inverter_duty": ("inverter duty", "vfd rated", "inverter rated", "vfd rated motor"),
    "pivot_length_ft": ("pivot", "pivot ft", "system length", "machine length", "length of pivot"),
    "tower_count": ("number of towers", "no of towers", "tower count", "drive towers"),
    "tower_motor_hp": ("tower hp", "tower motor hp"),
    "booster_hp": ("booster", "end gun booster", "end gun hp", "booster pump hp"),
    "single_phase_distance_ft": (
        "1ph line", "1 phase line", "1 phase distance", "distance to 1 phase", "line to build",
        "distance to line", "line extension", "extension length", "new line", "distance to power",
        "1 phase extension", "single phase to build"),
    "three_phase_distance_ft": (
        "3ph line", "3 phase", "3 phase line", "3 phase distance", "distance to 3 phase",
        "nearest 3 phase", "3 phase away", "3 phase extension"),
    "site_elevation_ft": ("altitude", "elevation above sea level", "elevation"),
    "line_build": ("oh ug", "oh or ug", "oh/ug", "line type", "line construction",
                   "overhead or underground"),
    "source_fault_a": ("fault current", "available fault", "fault amps", "fault duty",
                       "available fault current", "fault at tap"),
    "service_distance_ft": ("secondary length", "service length", "service run",
                            "transformer to panel"),
    "service_build": ("service type", "secondary type"),
    "motor_lead_ft": ("motor leads", "cable to pump", "drop cable", "panel to pump",
                      "motor cable", "cable to motor"),
    "pivot_lead_ft": ("pivot wire", "panel to pivot", "pivot cable", "wire to pivot"),
    "supply_option": ("preferred supply", "proposed service", "requested service", "supply",
                      "service requested", "proposed", "option"),
    "other_funding_usd": ("grant", "grants", "outside money", "other money"),
    "load_control": ("interruptible", "load management", "irrigation control"),
    "approved_incentive_usd": ("approved", "approved amount", "incentive approved"),
    "funding_choice": ("board decision",),
}

STATIC = ("swl", "static", "static level", "static water level", "depth to static water")
DRAWDOWN = ("dd", "drawdown")
# Headings that are well known and are no input, or may be two things: what is said about them,
# and the key whose farms they bear on ('' for none). They are not taken.
NOT_TAKEN = {
    ("tdh", "total dynamic head", "total head", "head", "pump head"): (
        "pumping_lift_ft", "total head is worked out and is no input: less 2.31 ft per psi at the "
        "pivot, the rise and pipe friction, it is the pumping lift"),
    (*STATIC, "depth to water"): (
        "pumping_lift_ft", "the static level lacks the drawdown: the pumping lift is both"),
    DRAWDOWN: ("pumping_lift_ft", "drawdown alone is no lift: the pumping lift is the "
                         "static level and the drawdown"),
    ("hp", "horsepower", "pump hp", "power hp"): (
        "pump_motor_hp", "it may be the present engine's or the new motor's rating; choose "
        "'Pump motor nameplate' where it is the motor's"),
    ("engine hp", "engine size", "engine power"): (
        "", "the present engine's rating is no input"),
    ("primary voltage", "kv", "primary kv", "line kv"): (
        "primary_kv", "it may be the voltage between lines; choose 'Primary voltage to ground' "
        "where it is to ground"),
    ("discharge pressure", "pump pressure", "pressure at pump"): (
        "pivot_pressure_psi", "the pressure at the pump is not that at the pivot"),
    ("fuel cost", "annual fuel cost", "fuel bill", "energy cost"): (
        "fuel_price_usd", "a cost for the year is no price of a gallon; choose 'Fuel price' where "
        "it is one"),
    ("well depth", "depth of well", "total depth"): (
        "", "the depth of the well is not its pumping level"),
    ("spans", "number of spans"): ("tower_count", "a span is not always a tower"),
    ("phone", "email", "address", "county", "section", "legal", "legal description", "town",
     "notes", "note", "comment", "comments", "remarks", "engine make", "engine model", "pump make",
     "year", "status", "contact"): ("", "no input of the study"),
}

# Unit words of the trade beside the house list. '' is no unit of its own ('each', 'a year').
UNITS = {
    "'": "ft", '"': "in", "ft.": "ft", "lf": "ft", "in.": "in", "ins": "in", "g.p.m.": "gpm",
    "gals": "gal", "gallons": "gal", "gallon": "gal", "us gal": "gal", "gals/min": "gpm",
    "gallons/min": "gpm", "gallons/minute": "gpm", "gal/minute": "gpm", "gph": "gal/h",
    "gal/hr": "gal/h", "gallons/hr": "gal/h", "gallons/hour": "gal/h", "gal/hour": "gal/h",
    "gal/year": "gal/yr", "gallons/yr": "gal/yr", "gallons/year": "gal/yr", "gpy": "gal/yr",
    "gal/season": "gal/yr", "gallons/season": "gal/yr", "gal/a": "gal/yr",
    "mcf/year": "mcf/yr", "mcf/season": "mcf/yr", "mcf/hr": "mcf/h", "mcf/hour": "mcf/h",
    "hrs": "h", "hr": "h", "hour": "h", "hrs.": "h", "hours/yr": "h/yr", "hrs/yr": "h/yr",
    "hr/yr": "h/yr", "hours/year": "h/yr", "hours/season": "h/yr", "hrs/season": "h/yr",
    "h/season": "h/yr", "in/yr": "in/yr", "in/season": "in/yr", "inches/yr": "in/yr",
    "inches/year": "in/yr", "inches/season": "in/yr", "in/year": "in/yr",
    "mi.": "mi", "acs": "ac", "ac.": "ac", "horsepower": "hp", "h.p.": "hp", "amps": "a",
    "amp": "a", "amperes": "a", "volts": "v", "yrs": "yr", "pounds": "psi", "lbs": "psi",
    "lb": "psi", "p.s.i.": "psi", "psig": "psi", "#": "psi", "pct": "%", "dollars": "usd",
    "usd/gallon": "usd/gal", "$/gallon": "usd/gal", "usd/hr": "usd/h", "$/hr": "usd/h",
    "$/h": "usd/h", "usd/hour": "usd/h", "$/hour": "usd/h", "$/mcf": "usd/mcf", "ea": "",
}

UNKNOWN = {"?", "??", "???", "n/a", "na", "n.a.", "tbd", "t.b.d.", "tba", "-", "--", "---", "–",
           "—", ".", "unknown", "unk", "unk.", "not known", "don't know", "dont know", "pending",
           "no data", "not measured", "not sure", "x?"}
NOTHING = {"none", "no", "nil", "zero"}  # 0 where a number may be 0
ABOUT = ("~", "≈", "about", "abt.", "abt", "approx.", "approx", "approximately", "ca.", "ca",
         "circa", "est.", "est", "roughly", "around", "+/-", "±")
TOTALS = ("total", "totals", "grand total", "subtotal", "sub-total", "sub total", "sum",
          "average", "avg", "mean", "count", "number of farms", "maximum", "minimum")

DIESEL, PROPANE, GAS, GASOLINE = ("diesel engine", "propane engine", "natural gas engine",
                                  "gasoline engine")
CHOICES = {
    "present_power": {
        DIESEL: ("diesel", "dsl", "diesel motor", "diesel eng", "diesel power unit"),
        PROPANE: ("lp", "lpg", "lp gas", "propane", "lp engine", "propane eng", "l.p."),
        GAS: ("ng", "nat gas", "natural gas", "nat. gas", "ng engine", "gas (natural)"),
        GASOLINE: ("gasoline", "petrol", "unleaded"),
        GENERATOR: ("genset", "gen set", "generator", "diesel genset", "diesel gen", "gen-set",
                    "generator (diesel)"),
        ROTARY: ("rpc", "rotary", "rotary phase converter", "phase converter", "converter",
                 "roto phase", "1ph + rpc", "electric rpc", "electric (rpc)"),
        NO_POWER: ("new", "new irrigation", "no power", "dryland", "none/new", "none (new)",
                   "new well"),
    },
    "supply_option": {
        SINGLE_PHASE_DRIVE: ("vfd", "1ph vfd", "1ph", "single phase", "1 phase", "1ø",
                             "single-phase", "drive", "1ph drive", "1-ph", "1ø vfd", "vfd 1ph"),
        ROTARY: ("rpc", "rotary", "rotary phase converter", "1ph rpc", "converter"),
        THREE_PHASE_LINE: ("3ph", "3 phase", "three phase", "3ø", "three-phase", "3-ph", "3-phase",
                           "3ph line", "line", "3ø line", "3 phase line"),
        "auto": ("any", "open", "cheapest", "either", "best", "no preference"),
    },
    "line_build": {OVERHEAD: ("oh", "o/h", "over head", "aerial", "pole line"),
                   "underground": ("ug", "u/g", "under ground", "buried", "urd")},
    "service_build": {OVERHEAD: ("oh", "o/h", "messenger", "triplex", "aerial"),
                      CONDUIT: ("pipe", "in conduit", "pvc")},
    "disconnect_at": {AT_TRANSFORMER: ("pole", "meter pole", "xfmr", "pad", "meter"),
                      AT_DRIVE: ("vfd", "panel", "controls", "pump panel")},
    "funding_choice": {MUST_FUND: ("yes", "fund", "must"),
                       MUST_NOT_FUND: ("no", "do not fund", "not")},
}
# Words that are asked, each with what it most likely is.
ASKED_WORDS = {
    "present_power": {
        "pto": DIESEL, "pto tractor": DIESEL, "tractor": DIESEL, "tractor pto": DIESEL,
        "gas": GAS, "engine": DIESEL, "electric": ROTARY, "elec": ROTARY, "dual fuel": DIESEL},
    "service_build": {"ug": CONDUIT, "underground": CONDUIT, "buried": CONDUIT},
}
YES_NO = {"x": True, "✓": True, "✔": True, "t": True, "f": False, "yep": True,
          "have": True, "exists": True, "none": False, "not": False}
