"""The `Unit costs` sheet: one price per line, by item, construction, phases and size."""

from batch.columns.column import Column, Sheet

LINE, LINE_FIXED, TRANSFORMER = "line", "line job", "transformer"
METER, SERVICE, DISCONNECT = "meter and service", "service conductor", "disconnect"
DRIVE, CONVERTER = "drive", "rotary converter"
STARTER, SOFT_STARTER = "across-the-line starter", "soft starter"
REACTOR_3, REACTOR_5, CHOKE = "line reactor 3 %", "line reactor 5 %", "DC choke"
TUNED_FILTER, FRONT_END = "tuned filter", "active front end"
OUTPUT_REACTOR, DVDT, SINE = "output reactor", "dV/dt filter", "sine filter"
MOTOR_LEAD, PIVOT_LEAD = "motor lead", "pivot lead"
MOTOR, ENGINEERING = "motor change", "engineering"

ITEMS = (LINE, LINE_FIXED, TRANSFORMER, METER, SERVICE, DISCONNECT, DRIVE, REACTOR_3, REACTOR_5,
         CHOKE, TUNED_FILTER, FRONT_END, OUTPUT_REACTOR, DVDT, SINE, CONVERTER, STARTER,
         SOFT_STARTER, MOTOR_LEAD, PIVOT_LEAD, MOTOR, ENGINEERING)
# What a size counts, where it is not hp.
SIZE_UNITS = {TRANSFORMER: "kVA", SERVICE: "A", DISCONNECT: "A", MOTOR_LEAD: "A", PIVOT_LEAD: "A"}
PRICED_PER_FOOT = (LINE, SERVICE, MOTOR_LEAD, PIVOT_LEAD)
# What tells the pieces of an item apart, beside its size.
BY_PHASES = (LINE, LINE_FIXED, TRANSFORMER, METER, SERVICE, DISCONNECT, ENGINEERING)
BY_BUILD = (LINE, LINE_FIXED, SERVICE)
UNSIZED = (LINE, LINE_FIXED, METER, ENGINEERING)

UNIT_COSTS = Sheet(
    name="Unit costs",
    help="Installed prices. Sized items: the first listed size not below the needed one is "
         "priced; beyond the largest, the option is not assessed.",
    columns=(
        Column(key="item", label="Item", group="price", kind="choice", choices=ITEMS,
               required=True,
               help="What is priced. The service disconnect is an item of its own and in no other "
                    "price; it is priced once."),
        Column(key="line_build", label="Construction", group="price", kind="choice",
               choices=("overhead", "underground"),
               help="For lines and service conductors: overhead, or underground and in conduit. "
                    "Blank: both."),
        Column(key="phases", label="Phases", group="price", kind="integer", minimum=1, maximum=3,
               decimals=0, help="1 or 3. Blank: both."),
        Column(key="size", label="Size", group="price", minimum=0, maximum=5_000, decimals=1,
               help="kVA for transformers (of the whole bank for three phases), A for service "
                    "conductors, disconnects and leads, hp for all else. Blank: one price for "
                    "every size; drives and converters then go by standard ratings."),
        Column(key="from_ft", label="From", group="price", unit="ft", minimum=0, maximum=250_000,
               decimals=0,
               help="For lines priced in steps: the feet from which this price per foot holds, "
                    "counted from the beginning of a shared line, and anew on each farm's own; "
                    "one row per step, the first from 0. Blank: from the first foot."),
        Column(key="price_usd", label="Price", group="price", unit="USD", required=True,
               minimum=0, maximum=2_000_000,
               help="Installed price in US dollars: per foot for lines, service conductors, and "
                    "motor and pivot leads (three wires and ground); each for all else. A row "
                    "without a price is not offered."),
        Column(key="price_unit", label="Priced per", group="price", kind="text",
               help="For the reader only: what the price is for, and what the size counts."),
        Column(key="last_price_usd", label="Last year's price", group="price", unit="USD",
               minimum=0, maximum=2_000_000,
               help="For the reader only: the price of an earlier list, as the blank workbook "
                    "takes it from there. It is never used as the price."),
        Column(key="single_phase_hp", label="Maker's single-phase rating", group="price",
               unit="hp", minimum=0.5, maximum=500, decimals=1,
               help="For drives: the motor power the maker allows on single-phase input. "
                    "Blank: the program's derating of the drive's size."),
        Column(key="inrush_kva", label="Maker's starting load", group="price", unit="kVA",
               minimum=1, maximum=5_000, decimals=1,
               help="For rotary converters: what one draws as it starts, unloaded. Blank: the "
                    "program's share of the locked-rotor kVA of its rating."),
        Column(key="price_year", label="Year of the price", group="price", kind="integer",
               minimum=2000, maximum=2100, decimals=0, help="Year in which the price was taken."),
        Column(key="price_source", label="Source", group="price", kind="text",
               help="Quotation, stores price or contract."),
        Column(key="candidate_id", label="Only for candidate", group="price", kind="text",
               help="For a quotation: the one candidate whose price it is. It goes before the "
                    "general row of its size; without a size it is that farm's price for every "
                    "size. Sizes are chosen from the general rows. Not for line and line job. "
                    "Blank: all candidates."),
    ),
)
