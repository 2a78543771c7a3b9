"""The `Delivered` sheet, and what is told of it: what was promised beside what the meter showed."""

from dataclasses import replace

from batch.columns.candidates import CANDIDATES
from batch.columns.column import Column, Sheet, grouped
from batch.columns.column import output_text as _text
from batch.columns.column import output_value as _value

APPROVED_KEYS = ("approved_incentive_usd", "approved_cooperative_usd", "approved_added_load_kw",
                 "approved_energy_kwh", "approved_project_cost_usd")


def _approved(key):
    column = CANDIDATES.by_key[key]
    return replace(column, group="promised",
                   help=f"{column.help} Blank: as the farm's row on Candidates says.")


DELIVERED = Sheet(
    name="Delivered",
    required=False,
    help="One row per farm in service and season: what it cost, and what its meter showed. "
         "Optional.",
    columns=(
        Column(key="candidate_id", label="Candidate", group="farm", kind="text", required=True,
               help="The farm, as the Candidates sheet names it."),
        Column(key="program_year", label="Program year", group="farm", kind="integer",
               required=True, minimum=2000, maximum=2100, decimals=0,
               help="The program year in which the money was paid."),
        Column(key="season", label="Season", group="farm", kind="integer", required=True,
               minimum=2000, maximum=2100, decimals=0,
               help="The year of the season that was metered."),
        *(_approved(key) for key in APPROVED_KEYS),
        Column(key="final_project_cost_usd", label="Final project cost", group="cost", unit="USD",
               minimum=0, maximum=10_000_000, decimals=2, help="What the whole project has cost."),
        Column(key="paid_incentive_usd", label="Paid incentive", group="cost", unit="USD",
               minimum=0, maximum=1_000_000, decimals=2,
               help="What was paid of the incentive in that program year. Blank: as approved."),
        Column(key="paid_cooperative_usd", label="Paid cooperative's cost", group="cost",
               unit="USD", minimum=0, maximum=5_000_000, decimals=2,
               help="What the program's budget paid of the construction in that program year. "
                    "Blank: as approved."),
        Column(key="metered_kw", label="Metered demand", group="meter", unit="kW", minimum=0,
               maximum=5_000, decimals=1,
               help="The season's highest demand of the farm's meter, over the billing interval."),
        Column(key="metered_kwh", label="Metered energy", group="meter", unit="kWh", minimum=0,
               maximum=20_000_000, decimals=0, help="The season's energy by the farm's meter."),
        Column(key="hours_run", label="Hours run", group="meter", unit="h", minimum=0,
               maximum=8_784, decimals=0, help="How long the pump ran in the season."),
        Column(key="water_acre_ft", label="Water pumped", group="meter", unit="acre-ft",
               minimum=0, maximum=100_000, decimals=1, help="By the farm's flow meter."),
        Column(key="measured_service_low_v", label="Lowest service voltage", group="meter",
               unit="V", minimum=50, maximum=1_000, decimals=1,
               help="The lowest voltage measured at the service while the pump ran or started."),
        Column(key="measured_current_tdd_pct", label="Measured current distortion",
               group="meter", unit="%", minimum=0, maximum=200, decimals=1,
               help="Total demand distortion of the current, measured at the service."),
        Column(key="remarks", label="Remarks", group="meter", kind="text",
               help="Anything that explains the season."),
    ))


def _of(key, label=""):
    column = DELIVERED.by_key[key]
    make = _value if column.is_numeric else _text
    if make is _text:
        return _text(key, column.label, "As on the Delivered sheet.")
    return _value(key, label or column.label, column.unit, column.decimals,
                  "As on the Delivered sheet, or the farm's row on Candidates."
                  if key in APPROVED_KEYS else "As on the Delivered sheet.")


PCT = "100 where what was promised was delivered"
DELIVERED_FARMS = Sheet(
    name="Delivered farms",
    help="Each farm and season in service: what was promised beside what was delivered.",
    columns=grouped(
        "delivered",
        _of("candidate_id"), _of("program_year"), _of("season"),
        _of("approved_added_load_kw"), _of("metered_kw"),
        _value("realization_kw_pct", "Realized load", "%", 1, f"{PCT}; less is less load.",
               worked="100 x metered_kw / approved_added_load_kw"),
        _of("approved_energy_kwh"), _of("metered_kwh"),
        _value("realization_kwh_pct", "Realized energy", "%", 1, f"{PCT}; less is less energy.",
               worked="100 x metered_kwh / approved_energy_kwh"),
        _value("planned_hours", "Planned hours", "h", 0, "The farm's pumping hours as studied."),
        _of("hours_run"),
        _value("realization_kwh_equal_hours_pct", "Realized energy, equal hours", "%", 1,
               "As if the farm had run the planned hours: what the engineering promised.",
               worked="realization_kwh_pct x planned_hours / hours_run"),
        _value("planned_acre_ft", "Planned water", "acre-ft", 1, "Area times depth as studied."),
        _of("water_acre_ft"),
        _value("realization_kwh_equal_water_pct", "Realized energy, equal water", "%", 1,
               "As if the farm had pumped the planned water.",
               worked="realization_kwh_pct x planned_acre_ft / water_acre_ft"),
        _of("approved_project_cost_usd"), _of("final_project_cost_usd"),
        _value("realization_cost_pct", "Realized cost", "%", 1, f"{PCT}; more is dearer.",
               worked="100 x final_project_cost_usd / approved_project_cost_usd"),
        _value("promised_usd", "Promised money", "USD", 2,
               "Approved incentive and cooperative's cost."),
        _value("paid_usd", "Paid money", "USD", 2, "As on the Delivered sheet, else as promised."),
        _value("promised_usd_per_kw", "Promised cost per kW", "USD/kW", 2, "By this it was ranked.",
               worked="promised_usd / approved_added_load_kw"),
        _value("paid_usd_per_kw", "Paid cost per kW", "USD/kW", 2, "Of the load that came.",
               worked="paid_usd / metered_kw"),
        _text("told", "What the data tell", "Why it fell short or exceeded, as far as hours, water "
              "and demand tell; what they do not tell is not guessed."),
    ))

REALIZATION = Sheet(
    name="Realization",
    help="What the program delivered of what it promised: ratios of sums, with the interval of a "
         "sample of all farms that such a program may build.",
    columns=grouped(
        "delivered",
        _text("measure", "Measure", "What is compared."),
        _value("promised", "Promised", "", 1, "Sum of the rows of which both are known."),
        _value("delivered", "Delivered", "", 1, "Sum of the same rows."),
        _value("ratio", "Ratio", "", 4, "Delivered over promised, of the sums.",
               worked="delivered / promised"),
        _value("standard_error", "Standard error", "", 4, "Of the ratio; blank below two rows."),
        _value("low_90", "Low", "", 4, "Lower end of the 90 percent interval."),
        _value("high_90", "High", "", 4, "Upper end of the 90 percent interval."),
        _value("rows", "Rows", "", 0, "On how many rows the sums rest."),
        _value("rows_unknown", "Rows left out", "", 0, "Of which one of the two is not known."),
    ))
