"""The farms of the golden workbooks: invented, few, and with every supply option in them."""

from tests.workbooks.make import unit_cost_rows

# Each farm is the dictionary's example with these changes.
ROWS = (
    {"farm_label": "Near and small", "flow_gpm": 420, "single_phase_distance_ft": 600,
     "pump_motor_hp": None, "is_inverter_duty": "yes"},
    {"farm_label": "The pivot at the end of the road", "single_phase_distance_ft": 5200,
     "three_phase_distance_ft": 21000, "source_fault_a": 310, "is_inverter_duty": "no"},
    {"farm_label": "Beside the three-phase line", "three_phase_distance_ft": 250,
     "single_phase_distance_ft": 250, "present_power": "propane engine", "fuel_rate": 7.2,
     "fuel_price_usd": 2.1},
    {"farm_label": "Converter by choice", "supply_option": "rotary converter", "flow_gpm": 260,
     "pumping_lift_ft": 40, "pump_motor_hp": None},
    {"farm_label": "Three phases by choice", "supply_option": "three-phase line",
     "three_phase_distance_ft": 3100, "motor_code_letter": "F"},
    {"farm_label": "Gas well", "present_power": "natural gas engine", "fuel_rate": 0.55,
     "fuel_price_usd": 7.4, "single_phase_distance_ft": 1800},
    {"farm_label": "Under load control", "load_control": "yes", "source_fault_a": 1400,
     "approved_incentive_usd": 1500, "other_funding_usd": 2500},
    {"farm_label": "Shared road, first", "shared_line_id": "Mill road", "flow_gpm": 520,
     "single_phase_distance_ft": 900, "pump_motor_hp": None, "source_fault_a": 900},
    {"farm_label": "Shared road, second", "shared_line_id": "Mill road", "flow_gpm": 610,
     "single_phase_distance_ft": 1300, "pump_motor_hp": None, "source_fault_a": 900},
    {"farm_label": "Flow not known", "flow_gpm": None},
    {"farm_label": "Distance below zero", "single_phase_distance_ft": -300},
    {"farm_label": "Source not known", "source_fault_a": None, "motor_lead_ft": None},
)
SHARED_LINES = ({"shared_line_id": "Mill road", "shared_single_phase_ft": 2600,
                 "shared_three_phase_ft": 2600},)
FEEDERS = ({"feeder_id": "F1", "spare_capacity_kw": 400},)


def prices(year: int) -> list[dict]:
    """The price list, as of the year."""
    return [{**row, "price_year": year} for row in unit_cost_rows()]


def study(year: int) -> dict:
    """The Study sheet of the year's golden workbook."""
    return {"study_name": f"Golden {year}", "rules_year": year, "study_date": f"{year}-03-01",
            "program_budget_usd": 60_000}
