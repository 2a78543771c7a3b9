"""The `Candidates` sheet: one row per candidate farm, in the order in which a form is filled."""

from batch.columns.column import APPROVAL, CONSTRUCTION, SCREENING, Column, Sheet
from batch.tables import table

ENGINES = ("diesel engine", "propane engine", "natural gas engine", "gasoline engine")
GENERATOR = "diesel generator"
ROTARY = "rotary converter"
NO_POWER = "none"
PRESENT_POWER = (*ENGINES, GENERATOR, ROTARY, NO_POWER)
CODE_LETTERS = tuple("ABCDEFGHJKLMNPRSTUV")

SINGLE_PHASE_DRIVE = "single-phase drive"
THREE_PHASE_LINE = "three-phase line"
SUPPLY_OPTIONS = (SINGLE_PHASE_DRIVE, ROTARY, THREE_PHASE_LINE)
SUPPLY_DESIGNS = tuple(table("supply_variants")["variant"].unique())

CONDUIT, OVERHEAD = SERVICE_BUILDS = ("conduit", "overhead")
AT_TRANSFORMER, AT_DRIVE = DISCONNECT_PLACES = ("transformer", "drive")

MUST_FUND, MUST_NOT_FUND = FUNDING_CHOICES = ("must fund", "must not fund")

RECEIVED, APPROVED, BUILDING, IN_SERVICE, WITHDRAWN, DECLINED = STATUSES = (
    "received", "approved", "under construction", "in service", "withdrawn", "declined")
STANDING = (APPROVED, BUILDING, IN_SERVICE)  # approved once, and not given up
GIVEN_UP = (WITHDRAWN, DECLINED)
# What a status means: for money, for the ranking, for the shared line, and for the feeder.
STATUS_MEANS = {
    RECEIVED: "It asks for money, is ranked, and builds where it is funded.",
    APPROVED: "The amount that was approved is committed; the farm is judged again and not ranked; "
              "it builds its shared line and loads its feeder.",
    BUILDING: "As approved.",
    IN_SERVICE: "Its money counts as paid if it went into service in this program year; the farm "
                "is not ranked, builds its shared line and loads its feeder.",
    WITHDRAWN: "It takes no money and is not ranked; its commitment is free again; it builds no "
               "shared line and loads no feeder.",
    DECLINED: "As withdrawn."}

# The farms that need a cell: told by words in `Column.needed_where`.
FEEDERS_LISTED, WITH_ENGINE = "feeders are listed", "with an engine"
WITH_PIVOT, WITH_BOOSTER = "with a pivot", "with a booster"
WITHOUT_DRIVE, CHECK_OPEN = "chosen option has no drive", "a check is open without it"

IDENTITY = (
    Column(key="candidate_id", label="Candidate", group="identity", kind="text", required=True,
           aliases=("candidate number", "application", "id"), example="EXAMPLE",
           stage=SCREENING,
           help="A short name that no other row has; it names the farm's sheet and file."),
    Column(key="farm_label", label="Farm", group="identity", kind="text",
           example="An example: diesel, pivot far from its pump",
           help="How the farm or field is called on reports."),
    Column(key="feeder_id", label="Feeder", group="identity", kind="text", example="F1",
           stage=APPROVAL, needed_where=FEEDERS_LISTED,
           help="The distribution feeder that would serve the farm, as on the Feeders sheet."),
    Column(key="shared_line_id", label="Shared line", group="identity", kind="text",
           help="Where several farms would share one line extension: its name, as on the "
                "Shared lines sheet. Blank: the farm's line is its own."),
    Column(key="rate_id", label="Rate", group="identity", kind="text", example="IRR",
           stage=APPROVAL,
           help="The rate the farm would take service under, as on the Rates sheet. Blank is "
                "allowed where the Rates sheet has one rate only."),
    Column(key="application_date", label="Application date", group="identity", kind="date",
           help="The date the application came in."),
    Column(key="crop", label="Crop", group="identity", kind="text", example="corn",
           help="The main crop; for the reader only."),
)

PRESENT_SUPPLY = (
    Column(key="present_power", label="Present power", group="present supply", kind="choice",
           required=True, choices=PRESENT_POWER, example="diesel engine",
           stage=SCREENING,
           help="What drives the pump today. 'none' is new irrigation."),
    Column(key="fuel_rate", label="Measured fuel rate", group="present supply", unit="gal/h",
           fuel_gas_unit="Mcf/h", minimum=0.01, maximum=100, usual=(0.3, 20), example=4.1,
           stage=CONSTRUCTION, needed_where=WITH_ENGINE,
           help="Fuel burnt per hour, measured at the pump over some days. Gallons per hour; "
                "thousand cubic feet per hour for natural gas. Blank: computed from the "
                "pumping plant criteria and the performance rating."),
    Column(key="annual_fuel_use", label="Annual fuel use", group="present supply", unit="gal/yr",
           fuel_gas_unit="Mcf/yr", minimum=1, maximum=500_000, usual=(100, 40_000), decimals=0,
           help="Fuel burnt in a season, as from the bills: gallons, or thousand cubic feet of "
                "natural gas. Divided by the pumping hours it is the fuel rate where none was "
                "measured; with both, they are compared and the measured rate counts."),
    Column(key="fuel_price_usd", label="Fuel price", group="present supply", unit="USD/gal",
           fuel_gas_unit="USD/Mcf", minimum=0.05, maximum=60, usual=(1, 15), example=3.6,
           decimals=3,
           stage=SCREENING,
           help="Price per gallon delivered to the farm; per thousand cubic feet for natural "
                "gas. Needed for every engine and generator."),
    Column(key="generator_kw", label="Generator rating", group="present supply", unit="kW",
           minimum=3, maximum=1_000, usual=(15, 250), decimals=0,
           help="Only for a diesel generator without a measured fuel rate: its rating. Blank: "
                "the listed set that carries the load at three quarters of its rating."),
    Column(key="engine_upkeep_usd_h", label="Engine upkeep", group="present supply", unit="USD/h",
           minimum=0, maximum=100, usual=(0.3, 10), example=1.5,
           help="Oil, filters, repairs and attendance per running hour of the present engine, "
                "generator or converter. Blank: the program's value for engines and generators, "
                "nothing for a rotary converter."),
    Column(key="engine_replacement_usd", label="Engine replacement", group="present supply",
           unit="USD", minimum=0, maximum=500_000, usual=(3_000, 90_000), decimals=0,
           example=22000,
           help="Price of the next engine or generator. For new irrigation: of the engine that "
                "would be bought if electric service were not. Blank: left out, which "
                "understates the cost of staying with the engine."),
    Column(key="engine_remaining_yr", label="Engine life left", group="present supply",
           unit="yr", minimum=0, maximum=40, usual=(0, 20), decimals=0, example=6,
           help="Years until the present engine would be replaced. Needed with its price. What "
                "the engine of today is still worth when it is sold is not counted."),
    Column(key="present_demand_kw", label="Present electric demand", group="present supply",
           unit="kW", minimum=0, maximum=2_000, usual=(3, 200), decimals=1,
           help="Only for a rotary converter: the demand that the present service already has. "
                "Added load is counted above it, useful load above what the converter makes of "
                "it."),
)

WATER = (
    Column(key="irrigated_area_acre", label="Irrigated area", group="water", unit="acre",
           required=True, minimum=0.5, maximum=5_000, usual=(10, 520), decimals=1, example=126,
           stage=SCREENING,
           help="Area that the pump waters in the season."),
    Column(key="gross_depth_in", label="Gross depth per season", group="water", unit="in",
           minimum=0.1, maximum=150, usual=(3, 60), example=16,
           stage=SCREENING,
           help="Water pumped per season as a depth over the area, losses included. This or "
                "the season hours is needed; with both, they are compared and the hours count."),
    Column(key="season_hours", label="Pumping hours per season", group="water", unit="h",
           minimum=1, maximum=8_784, usual=(150, 3_500), decimals=0,
           stage=SCREENING,
           help="Hours that the pump runs in a season."),
    Column(key="flow_gpm", label="Flow", group="water", unit="gal/min", required=True,
           minimum=5, maximum=20_000, usual=(100, 3_000), decimals=0, example=800,
           stage=SCREENING,
           help="Flow of the pump at its working point."),
    Column(key="pumping_lift_ft", label="Pumping lift", group="water", unit="ft", required=True,
           minimum=0, maximum=2_500, usual=(3, 800), decimals=1, example=140,
           stage=SCREENING,
           help="Height from the pumping water level to the pump's discharge, drawdown "
                "included."),
    Column(key="pivot_pressure_psi", label="Pressure at the pivot", group="water", unit="psi",
           required=True, minimum=0, maximum=250, usual=(8, 90), decimals=1, example=35,
           stage=SCREENING,
           help="Pressure needed where the water enters the pivot or the field system."),
    Column(key="elevation_gain_ft", label="Elevation gain", group="water", unit="ft", default=0,
           minimum=-1_000, maximum=2_000, usual=(-100, 300), decimals=1,
           source="level ground assumed",
           help="Height of the pivot above the pump's discharge; negative where it is below."),
    Column(key="pipe_length_ft", label="Pipe length", group="water", unit="ft", default=0,
           minimum=0, maximum=60_000, usual=(0, 8_000), decimals=0, example=1320,
           source="no supply pipe assumed",
           help="Length of the pipe from the pump to the pivot."),
    Column(key="pipe_diameter_in", label="Pipe inside diameter", group="water", unit="in",
           minimum=0.5, maximum=72, usual=(3, 20), decimals=3, example=8,
           help="Inside diameter, not the trade size. Needed where there is a pipe."),
    Column(key="pipe_c", label="Pipe roughness coefficient C", group="water", default=140,
           minimum=60, maximum=160, usual=(100, 150), decimals=0,
           source="between new plastic pipe (150) and worn steel (100); common practice",
           help="Hazen-Williams coefficient of the pipe."),
    Column(key="pump_efficiency_pct", label="Pump efficiency", group="water", unit="%",
           default=75, minimum=10, maximum=92, usual=(50, 86), decimals=1,
           source="pumping plant performance criteria assume a 75 % pump",
           help="Efficiency of the pump itself at its working point."),
    Column(key="performance_rating_pct", label="Present plant performance rating",
           group="water", unit="%", default=77, minimum=15, maximum=140, usual=(45, 110),
           decimals=0, source="mean of field tests against the pumping plant criteria, "
           "University of Nebraska extension",
           help="Work of the present plant per unit of fuel, in percent of the pumping plant "
                "performance criteria. Used where no fuel rate was measured."),
)

MACHINE = (
    Column(key="pump_motor_hp", label="Pump motor nameplate", group="machine", unit="hp",
           minimum=0.5, maximum=400, usual=(3, 250), decimals=1,
           stage=CONSTRUCTION,
           help="Rated power of the electric pump motor, where it is already chosen. Blank: "
                "the next standard rating above the shaft power."),
    Column(key="motor_efficiency_pct", label="Motor efficiency", group="machine", unit="%",
           minimum=50, maximum=99, usual=(80, 97), decimals=1,
           stage=CONSTRUCTION,
           help="Nominal full-load efficiency on the nameplate. Blank: the table value for a "
                "premium motor of that rating."),
    Column(key="motor_full_load_a", label="Motor nameplate current", group="machine", unit="A",
           minimum=0.5, maximum=700, usual=(3, 320), decimals=1,
           stage=CONSTRUCTION,
           help="Nameplate full-load current at the motor's rated voltage. It sets the overload; "
                "drive, conductors and device follow it where it is above the code's table, as of "
                "submersibles, and the table where it is below."),
    Column(key="motor_code_letter", label="Motor code letter", group="machine", kind="choice",
           choices=CODE_LETTERS,
           stage=CONSTRUCTION, needed_where=WITHOUT_DRIVE,
           help="Locked-rotor code letter on the nameplate. Blank: the program's letter."),
    Column(key="is_inverter_duty", label="Inverter-duty motor", group="machine", kind="yes/no",
           stage=APPROVAL, needed_where=CHECK_OPEN,
           help="yes where the motor's insulation is built for a drive (NEMA MG 1 Part 31). "
                "Blank: unknown; a peak that any motor stands still meets."),
)

PIVOT = (
    Column(key="pivot_length_ft", label="Pivot length", group="pivot", unit="ft", minimum=0,
           maximum=3_500, usual=(300, 1_600), decimals=0, example=1290,
           stage=SCREENING,
           help="From the pivot point to the last tower. Blank or 0: no electric pivot."),
    Column(key="tower_count", label="Towers", group="pivot", kind="integer", minimum=0,
           maximum=40, usual=(1, 20), decimals=0,
           stage=CONSTRUCTION, needed_where=WITH_PIVOT,
           help="Drive towers of the pivot. Blank: from the length and the program's span."),
    Column(key="tower_motor_hp", label="Tower motor", group="pivot", unit="hp", default=1.0,
           minimum=0.1, maximum=5, usual=(0.5, 1.5), decimals=2,
           source="tower motors of 0.5 to 1.5 hp are usual; memory",
           help="Rating of one tower's drive motor."),
    Column(key="tower_motor_a", label="Tower motor nameplate current", group="pivot", unit="A",
           minimum=0.3, maximum=12, usual=(0.7, 4), decimals=2,
           stage=CONSTRUCTION, needed_where=WITH_PIVOT,
           help="Nameplate full-load current of one tower motor at its rated voltage. Conductors "
                "and devices of a pivot follow nameplates (NEC 675.7, 675.22), and gear motors "
                "draw more than the code's table says. Blank: the table's current."),
    Column(key="is_tower_inverter_duty", label="Inverter-duty tower motors", group="pivot",
           kind="yes/no",
           stage=APPROVAL, needed_where=CHECK_OPEN,
           help="yes where the pivot's motors are built for a drive (NEMA MG 1 Part 31). Blank: "
                "unknown; a peak that any motor stands still meets."),
    Column(key="tower_duty_pct", label="End tower duty", group="pivot", unit="%", default=60,
           minimum=0, maximum=100, usual=(15, 100), decimals=0,
           source="common practice, no source",
           help="Share of time that the end tower runs: the setting of the percent timer."),
    Column(key="booster_hp", label="Booster pump", group="pivot", unit="hp", default=0,
           minimum=0, maximum=40, usual=(0, 10), decimals=1, source="no booster assumed",
           help="End-gun booster pump on the pivot; 0 where there is none."),
    Column(key="booster_motor_a", label="Booster nameplate current", group="pivot", unit="A",
           minimum=0.3, maximum=60, usual=(0.7, 15), decimals=2,
           stage=CONSTRUCTION, needed_where=WITH_BOOSTER,
           help="Nameplate full-load current of the booster's motor at its rated voltage. Blank: "
                "the code's table."),
)

SITE = (
    Column(key="single_phase_distance_ft", label="Single-phase line to build", group="site",
           unit="ft", required=True, minimum=0, maximum=100_000, usual=(0, 13_000), decimals=0,
           example=1850, stage=SCREENING,
           help="Single-phase primary line to build, from the tap to the transformer; with a "
                "shared line, your own spur beyond the shared line."),
    Column(key="three_phase_distance_ft", label="Distance to three-phase line", group="site",
           unit="ft", minimum=0, maximum=250_000, usual=(0, 60_000), decimals=0, example=14500,
           stage=SCREENING,
           help="Three-phase line to build or rebuild to reach the farm; with a shared line, your "
                "own spur beyond the shared line. Blank: the three-phase option is left "
                "out."),
    Column(key="shared_line_use_ft", label="Shared line used", group="site", unit="ft",
           minimum=0, maximum=200_000, decimals=0,
           help="Feet of the shared single-phase line up to where this farm leaves it; blank: all. "
                "A three-phase line is left as far before its end."),
    Column(key="site_elevation_ft", label="Site elevation", group="site", unit="ft",
           minimum=-300, maximum=13_000, usual=(0, 9_000), decimals=0,
           help="Height of the site above the sea. Above 3,300 ft thin air takes some percent from "
                "drives and transformers, and motors lose their service factor. Blank: the "
                "program's."),
    Column(key="line_build", label="Line construction", group="site", kind="choice",
           choices=("overhead", "underground"), default="overhead",
           source="common practice, no source", help="How the line would be built. Farms "
           "share a line only with those of the same construction."),
    Column(key="primary_kv", label="Primary voltage to ground", group="site", unit="kV",
           default=7.2, minimum=1.5, maximum=25, usual=(4.1, 20), decimals=2,
           source="12.47 kV multigrounded systems are the commonest; common practice",
           help="Voltage of the single-phase primary, line to ground."),
    Column(key="source_fault_a", label="Fault current at the tap", group="site", unit="A",
           minimum=10, maximum=30_000, usual=(60, 5_000), decimals=0, example=620,
           stage=APPROVAL,
           help="Single-phase fault current of the primary where the new line begins. Blank: "
                "fault currents are upper bounds, behind an infinite source, and the other checks "
                "that need the source's strength are not assessed."),
    Column(key="service_distance_ft", label="Transformer to drive", group="site", unit="ft",
           default=40, minimum=1, maximum=5_000, usual=(5, 400), decimals=0,
           source="transformer, meter and drive stand together; common practice",
           help="Length of the service conductors, one way."),
    Column(key="service_build", label="Service construction", group="site", kind="choice",
           choices=SERVICE_BUILDS, default=CONDUIT,
           source="transformer, meter and drive stand together; common practice",
           help="Service conductors in conduit, or overhead as cable on a messenger or open wires. "
                "In free air they carry more, up to what the terminals allow."),
    Column(key="disconnect_at", label="Service disconnect at", group="site", kind="choice",
           choices=DISCONNECT_PLACES, default=AT_TRANSFORMER,
           source="disconnect under the transformer's pole or beside its pad; common practice, "
                  "no source",
           help="Where the service disconnect stands. At the transformer: the run to the drive is "
                "a feeder with an equipment grounding conductor. At the drive: service conductors "
                "with a grounded conductor run to it, and equipment grounding begins there. "
                "'drive' stands for a converter or starter, too."),
)

CABLES = (
    Column(key="motor_lead_ft", label="Drive to pump motor", group="cables", unit="ft",
           minimum=1, maximum=6_000, usual=(5, 900), decimals=0, example=60,
           stage=APPROVAL,
           help="Cable length from the drive, converter or starter to the pump motor, well depth "
                "included for a submersible. Blank: the motor's voltage is not assessed, and the "
                "leads are priced at the program's length."),
    Column(key="has_motor_lead", label="Motor leads exist", group="cables", kind="yes/no",
           default=False, source="none assumed, so that no farm is priced too low",
           help="yes where leads from the controls to the pump motor are there already and are "
                "large enough: they cost nothing. The size that is needed is shown all the same."),
    Column(key="pivot_lead_ft", label="Drive to pivot panel", group="cables", unit="ft",
           minimum=1, maximum=8_000, usual=(5, 3_000), decimals=0, example=1350,
           stage=APPROVAL, needed_where=WITH_PIVOT,
           help="Cable length from the controls to the pivot's panel. Blank: the pivot panel's "
                "voltage is not assessed, and the cable is priced at the program's length."),
    Column(key="has_pivot_lead", label="Pivot lead exists", group="cables", kind="yes/no",
           default=False, source="none assumed, so that no farm is priced too low",
           help="yes where a cable from the controls to the pivot's panel is there already and is "
                "large enough: it costs nothing. The size that is needed is shown all the same."),
)

CHOICE = (
    Column(key="supply_option", label="Supply option", group="money and choice", kind="choice",
           choices=("auto", *SUPPLY_OPTIONS), default="auto",
           source="the program takes the cheapest option that fails no check",
           help="'auto' lets the study choose; otherwise only the named option is judged."),
    Column(key="supply_design", label="Supply design", group="money and choice", kind="choice",
           choices=SUPPLY_DESIGNS,
           help="The design of the supply option that the row asks for: what tames a drive's "
                "current, or how the motor is started. Blank: the study takes the cheapest that "
                "meets every limit."),
    Column(key="other_funding_usd", label="Other funding", group="money and choice", unit="USD",
           default=0, minimum=0, maximum=1_000_000, usual=(0, 80_000), decimals=0,
           source="none assumed",
           help="Grants and other outside money for this farm's project."),
    Column(key="load_control", label="Load control", group="money and choice", kind="yes/no",
           default=False, source="none assumed",
           help="yes where the grower lets the cooperative switch the pump off at system peaks."),
    Column(key="member_account", label="Member account", group="money and choice", kind="text",
           help="The member's account, for a cap on all farms of one: the same name on each of its "
                "rows. Blank: the farm is an account of its own."),
    Column(key="funding_choice", label="Funding choice", group="money and choice", kind="choice",
           choices=FUNDING_CHOICES,
           help="What the board has decided beforehand: a farm that must be in the best set, or "
                "one that must not be funded and is left unranked. Blank: open."),
)

APPLICATION = (
    Column(key="status", label="Status", group="application", kind="choice", choices=STATUSES,
           help="Where the application stands. Blank: received. "
                + " ".join(f"{status}: {means}" for status, means in STATUS_MEANS.items())),
    Column(key="status_date", label="Status date", group="application", kind="date",
           help="The date of the last change of the status."),
    Column(key="rules_year", label="Rules year of the farm", group="application", kind="integer",
           minimum=2000, maximum=2100, decimals=0,
           help="The program year by whose rules an approved farm was approved: it keeps them. "
                "Blank: the study's year."),
    Column(key="approved_incentive_usd", label="Approved incentive", group="application",
           unit="USD", minimum=0, maximum=1_000_000, decimals=2,
           help="The incentive that was approved. Without a status it is compared with what the "
                "rules give: an audit of an earlier approval."),
    Column(key="approved_cooperative_usd", label="Approved cooperative's cost",
           group="application", unit="USD", minimum=0, maximum=5_000_000, decimals=2,
           help="What the cooperative was to bear of the farm's construction when it was approved, "
                "as far as the program's budget pays for it. Blank: none."),
    Column(key="approved_added_load_kw", label="Approved added load", group="application",
           unit="kW", minimum=0, maximum=5_000, decimals=2,
           help="The added load that the approval rests on."),
    Column(key="approved_energy_kwh", label="Approved energy", group="application",
           unit="kWh/yr", minimum=0, maximum=20_000_000, decimals=0,
           help="The yearly energy that the approval rests on."),
    Column(key="approved_project_cost_usd", label="Approved project cost", group="application",
           unit="USD", minimum=0, maximum=10_000_000, decimals=2,
           help="The cost of the whole project that the approval rests on."),
    Column(key="approval_expires", label="Approval expires", group="application", kind="date",
           help="The last day on which the approval holds if the farm is not in service then. "
                "Blank: it does not expire."),
    Column(key="in_service_date", label="In-service date", group="application", kind="date",
           help="The day on which the farm's electric service began."),
)

CANDIDATES = Sheet(
    name="Candidates",
    has_stages=True,
    help="One row per candidate farm. Units may be changed in the header's square brackets.",
    columns=IDENTITY + PRESENT_SUPPLY + WATER + MACHINE + PIVOT + SITE + CABLES + CHOICE
    + APPLICATION,
)

# The rows of the blank workbook that are never studied, one for each kind of farm: a diesel engine
# far from its pivot, a propane engine on surface water, a rotary converter, and a natural gas
# engine near a three-phase line. All data is invented.
EXAMPLES = (
    {column.key: column.example for column in CANDIDATES.columns if column.example is not None},
    {"candidate_id": "EXAMPLE 2", "farm_label": "An example: surface water, propane",
     "present_power": "propane engine", "fuel_price_usd": 2.15, "irrigated_area_acre": 60,
     "gross_depth_in": 14, "flow_gpm": 450, "pumping_lift_ft": 12, "pivot_pressure_psi": 40,
     "pivot_length_ft": 880, "single_phase_distance_ft": 600},
    {"candidate_id": "EXAMPLE 3", "farm_label": "An example: rotary converter",
     "present_power": ROTARY, "present_demand_kw": 38, "irrigated_area_acre": 110,
     "season_hours": 1150, "flow_gpm": 700, "pumping_lift_ft": 95, "pivot_pressure_psi": 30,
     "pivot_length_ft": 1200, "single_phase_distance_ft": 0, "three_phase_distance_ft": 9200},
    {"candidate_id": "EXAMPLE 4", "farm_label": "An example: gas, three-phase line near",
     "present_power": "natural gas engine", "fuel_price_usd": 6.4, "irrigated_area_acre": 240,
     "gross_depth_in": 18, "flow_gpm": 1500, "pumping_lift_ft": 210, "pivot_pressure_psi": 45,
     "pivot_length_ft": 1290, "single_phase_distance_ft": 2600, "three_phase_distance_ft": 2600},
)
