"""The `Rates` sheet: what the member pays, and what the power costs the cooperative."""

from batch.columns.column import Column, Sheet
from batch.economics.bills import BLOCK_BASES

MONTHS_HELP = "Months as in '6-9', '6,7,8' or 'all'."

MEMBER = (
    Column(key="rate_id", label="Rate", group="rate", kind="text", required=True,
           help="Name of the rate, as the candidates write it."),
    Column(key="customer_charge_usd_month", label="Customer charge", group="member bill",
           unit="USD/month", minimum=0, maximum=2_000, default=0,
           help="Fixed charge in each of the twelve months."),
    Column(key="facilities_charge_usd_hp_yr", label="Facilities charge per hp",
           group="member bill", unit="USD/hp-yr", minimum=0, maximum=500, default=0,
           help="Yearly charge per connected horsepower."),
    Column(key="facilities_charge_usd_kw_month", label="Facilities charge per kW",
           group="member bill", unit="USD/kW-month", minimum=0, maximum=100, default=0,
           help="Charge in each of the twelve months per kW of the year's highest demand."),
    Column(key="demand_charge_usd_kw", label="Demand charge", group="member bill",
           unit="USD/kW-month", minimum=0, maximum=100, default=0,
           help="Charge per kW of each month's billing demand, in the demand months."),
    Column(key="demand_months", label="Demand months", group="member bill", kind="text",
           default="all", help="Months in which the demand charge is billed. " + MONTHS_HELP),
    Column(key="demand_ratchet_pct", label="Demand ratchet", group="member bill", unit="%",
           minimum=0, maximum=100, default=0, decimals=0,
           help="A month's billing demand is at least this share of the year's highest."),
    Column(key="block_basis", label="Energy blocks are in", group="member bill", kind="choice",
           choices=BLOCK_BASES,
           default="kWh per month", help="What the sizes of the energy blocks mean."),
    *(Column(key=f"block_{n}_size", label=f"Energy block {n} size", group="member bill",
             minimum=0, maximum=10_000_000, decimals=0,
             help=f"Energy sold at the price of block {n}. Blank: no limit.")
      for n in (1, 2, 3)),
    Column(key="block_1_usd_kwh", label="Energy price 1", group="member bill", unit="USD/kWh",
           minimum=0, maximum=2, required=True, decimals=5,
           help="Price of energy in the first block (of all energy where there is one price)."),
    *(Column(key=f"block_{n}_usd_kwh", label=f"Energy price {n}", group="member bill",
             unit="USD/kWh", minimum=0, maximum=2, decimals=5,
             help=f"Price of energy in block {n}. Blank: the price of the block before.")
      for n in (2, 3, 4)),
    Column(key="summer_months", label="Summer months", group="member bill", kind="text",
           default="6-9", help="Months in which the summer adder applies. " + MONTHS_HELP),
    Column(key="summer_adder_usd_kwh", label="Summer energy adder", group="member bill",
           unit="USD/kWh", minimum=-1, maximum=1, default=0, decimals=5,
           help="Added to the energy price in the summer months."),
    Column(key="off_peak_usd_kwh", label="Off-peak energy price", group="member bill",
           unit="USD/kWh", minimum=0, maximum=2, decimals=5,
           help="Price of off-peak energy. Blank: no off-peak price; the blocks price all of it."),
    Column(key="off_peak_share_pct", label="Off-peak share", group="member bill", unit="%",
           minimum=0, maximum=100, default=0, decimals=0,
           help="Share of the season's energy that is used off peak."),
    Column(key="control_credit_usd_kw_month", label="Load-control credit", group="member bill",
           unit="USD/kW-month", minimum=0, maximum=100, default=0,
           help="Credit per kW in the demand months for a member under load control."),
    Column(key="minimum_bill_usd_yr", label="Minimum yearly bill", group="member bill",
           unit="USD/yr", minimum=0, maximum=200_000, default=0, decimals=0,
           help="The year's bill is never less."),
)

COOPERATIVE = (
    Column(key="wholesale_energy_usd_kwh", label="Wholesale energy", group="cooperative cost",
           unit="USD/kWh", minimum=0, maximum=1, required=True, decimals=5,
           help="What the cooperative pays for a kWh at its delivery point."),
    Column(key="wholesale_demand_usd_kw", label="Wholesale demand", group="cooperative cost",
           unit="USD/kW-month", minimum=0, maximum=100, required=True,
           help="What the cooperative pays per kW of coincident demand, in its months."),
    Column(key="wholesale_demand_months", label="Wholesale demand months",
           group="cooperative cost", kind="text", default="6-9",
           help="Months in which wholesale demand is billed. " + MONTHS_HELP),
    Column(key="coincidence_pct", label="Coincidence factor", group="cooperative cost", unit="%",
           minimum=0, maximum=100, default=80, decimals=0, source="common practice, no source",
           help="Share of a farm's demand that stands in the supplier's billing peak."),
    Column(key="coincidence_controlled_pct", label="Coincidence under load control",
           group="cooperative cost", unit="%", minimum=0, maximum=100, default=10, decimals=0,
           source="common practice, no source",
           help="The same share where the farm is under load control."),
    Column(key="losses_pct", label="Losses", group="cooperative cost", unit="%", minimum=0,
           maximum=30, default=7, decimals=1, source="common practice, no source",
           help="Losses from the delivery point to the meter, in percent of purchases."),
)

RATES = Sheet(
    name="Rates",
    help="One row per rate: the member's price and the cooperative's own cost of power.",
    columns=MEMBER + COOPERATIVE,
)
