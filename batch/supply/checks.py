"""The checks: every limit that is applied to a computed value. Data only; `judging` applies them.

A check names its value, its limit (a rule or another result), the options that it applies to, its
source, the optional input cells without which it stays open, and what to do when it is not met.
"""

from dataclasses import dataclass

from batch.columns.candidates import (
    ROTARY,
    SINGLE_PHASE_DRIVE,
    SUPPLY_OPTIONS,
    THREE_PHASE_LINE,
)
from batch.columns.program import AT_SERVICE, AT_TAP

AT_MOST, AT_LEAST = "at most", "at least"
DRIVE_ONLY, ROTARY_ONLY = (SINGLE_PHASE_DRIVE,), (ROTARY,)
SINGLE_PHASE, LINE_ONLY = (SINGLE_PHASE_DRIVE, ROTARY), (THREE_PHASE_LINE,)
SOURCE = ("source_fault_a",)
LEADS = ("motor_lead_ft", "pivot_lead_ft")
# What the pulses of a drive reach: key, words, and the cell that tells the motors' class.
MOTORS = (("motor", "motor", "is_inverter_duty"),
          ("tower", "tower motors", "is_tower_inverter_duty"))
LOOSEST_TDD_PCT = 20.0  # IEEE 519-2022, Table 2, row above 1000: no row allows more
CLOSE = 0.1             # within a tenth of the limit the answer is watch
CURRENT_LIMITS, MIDPOINT = "current_limits_apply", "midpoint_fault_counts"
AT_THE_SERVICE, AT_THE_TAP = AT_SERVICE, AT_TAP
# Fault currents that are upper bounds: options, the cells that they need, what is open otherwise.
FAULT_BOUNDS = (
    (SINGLE_PHASE, SOURCE,
     "Within the rating without the motors' part: have that part worked out, or take equipment of "
     "a higher rating."),
    (LINE_ONLY, ("three_phase_distance_ft",),
     "An upper bound, behind an infinite source: get the three-phase fault current at the tap and "
     "work the fault out with it, or take equipment of a higher rating."))


@dataclass(frozen=True, kw_only=True)
class Check:
    """One limit. `limit` is a rule's key, or a result's key where the limit varies by farm.

    Within `watch_share` of the limit, or beyond the rule `watch_limit`, the answer is `watch`, and
    where the result `watch_value` is beyond the limit. `strictest` and `loosest` name the bounds
    between which an unknown limit lies, as `findings.judge` takes them; `unsure_by` is the key of
    how much of the value is a mere bound, which alone never fails. `asked_by` names the rule that
    asks for the check, unless it is no, off or 0, or the place of the voltage limits; blank for
    always. `needs` are the optional input cells without which the answer is `not assessed`;
    `open_remedy` is what to do where it is so and none of them is blank. With `for_pivots` only
    farms with a pivot are judged. `advice_only` warns, never bars a farm and has no say in which
    variant is taken; so does a check whose rule reads `watched`.
    """

    name: str
    value: str
    sense: str
    limit: str
    remedy: str
    open_remedy: str = "Not known, and no pass: have it worked out before anything is signed."
    options: tuple[str, ...] = SUPPLY_OPTIONS
    watch_share: float | None = None
    watch_limit: str = ""
    watch_value: str = ""
    strictest: str = ""
    loosest: str = ""
    unsure_by: str = ""
    source: str = ""
    asked_by: str = ""
    needs: tuple[str, ...] = ()
    for_pivots: bool = False
    advice_only: bool = False


CHECKS = (
    # Pump motor
    *(Check(name="pump motor loading", value="motor_load_pct", sense=AT_MOST, options=options,
            limit="motor_load_limit_pct", watch_limit="motor_loading_advised_pct", asked_by=rule,
            source="program loading limit; NEMA MG 1, 14.4, above 3,300 ft, memory",
            remedy="Correct the nameplate, flow or head, or take a motor that carries the pump.",
            open_remedy="Ask the motor's maker what it carries above 9,000 ft.")
      for options, rule in ((LINE_ONLY, "motor_loading_limit_pct"),
                             (SINGLE_PHASE, "motor_loading_drive_limit_pct"))),

    # Transformer and conductors
    Check(name="transformer loading", value="transformer_loading_pct", sense=AT_MOST,
          limit="transformer_loading_limit_pct", source="IEEE C57.110-2018; program loading limit",
          remedy="Take a larger transformer, or reduce the harmonics."),
    Check(name="service ampacity", value="service_ampacity_a", sense=AT_LEAST,
          limit="minimum_ampacity_a", source="NEC 430.24, 430.122, 455.6, 310.16",
          remedy="Take larger conductors or parallel runs."),
    Check(name="service drop", value="service_voltage_drop_pct", sense=AT_MOST,
          limit="service_drop_limit_pct", remedy="Shorten the service or enlarge its conductors."),

    # Voltage
    Check(name="new line drop", value="primary_voltage_drop_pct", sense=AT_MOST,
          limit="primary_drop_limit_pct", watch_share=CLOSE,
          remedy="Enlarge the line's conductor or shorten it."),
    Check(name="service voltage at full load", value="service_voltage_at_load_v", sense=AT_LEAST,
          limit="service_voltage_low_v", needs=SOURCE,
          remedy="Use a transformer tap, a larger transformer or conductor, or strengthen the "
                 "line."),
    Check(name="service voltage at no load", value="service_voltage_no_load_v", sense=AT_MOST,
          limit="service_voltage_high_v", remedy="Use a lower transformer tap."),

    # Starting
    Check(name="starting dip at the tap", value="starting_dip_pct", sense=AT_MOST,
          limit="starting_dip_limit_pct", watch_share=CLOSE, needs=SOURCE,
          remedy="Start with a soft starter or a drive, or strengthen the line."),
    Check(name="starting dip at the service", value="starting_dip_service_pct", sense=AT_MOST,
          limit="starting_dip_service_limit_pct", watch_share=CLOSE, needs=SOURCE,
          remedy="Start with a soft starter or a drive, or enlarge transformer and conductors."),
    Check(name="single-phase start", value="single_phase_start_hp", sense=AT_MOST,
          limit="single_phase_start_limit_hp", options=ROTARY_ONLY,
          remedy="Use a drive, or three-phase line."),
    Check(name="converter output unbalance", value="converter_unbalance_pct", sense=AT_MOST,
          limit="converter_unbalance_limit_pct", options=ROTARY_ONLY,
          remedy="Derate the motor or rebalance by NEMA MG 1.",
          open_remedy="Measure the three voltages under load; derate or rebalance by NEMA MG 1."),

    # Fault current
    *(Check(name="fault current at the transformer", value="fault_current_a", sense=AT_MOST,
            options=options, limit="interrupting_rating_a", unsure_by="fault_unsure_a",
            source="NEC 110.9", needs=needs, open_remedy=open_remedy,
            remedy="Take a device with a higher interrupting rating.")
      for options, needs, open_remedy in FAULT_BOUNDS),
    Check(name="fault current to the midpoint", value="fault_midpoint_a", sense=AT_MOST,
          limit="interrupting_rating_a", options=SINGLE_PHASE, unsure_by="fault_unsure_a",
          source="NEC 110.9", needs=SOURCE, open_remedy=FAULT_BOUNDS[0][2],
          remedy="Take a device with a higher interrupting rating."),
    *(Check(name="fault current at the drive or starter", value="fault_at_drive_a", sense=AT_MOST,
            options=options, limit="withstand_a", unsure_by="fault_unsure_a",
            source="NEC 110.10; UL ratings by size, memory", needs=needs, open_remedy=open_remedy,
            remedy="Put current-limiting fuses or a reactor ahead, or take equipment of a higher "
                   "rating.")
      for options, needs, open_remedy in FAULT_BOUNDS),
    Check(name="midpoint fault at the drive or converter", value="fault_midpoint_drive_a",
          sense=AT_MOST, limit="withstand_a", options=SINGLE_PHASE, asked_by=MIDPOINT,
          unsure_by="fault_unsure_a", source="NEC 110.10; UL ratings by size, memory",
          needs=SOURCE, open_remedy=FAULT_BOUNDS[0][2],
          remedy="Put current-limiting fuses or a reactor ahead, or take equipment of a higher "
                 "rating."),

    # Harmonics
    Check(name="current distortion", value="current_tdd_pct", sense=AT_MOST, limit="tdd_limit_pct",
          options=DRIVE_ONLY, loosest="any_row_tdd_pct", asked_by=CURRENT_LIMITS, needs=SOURCE,
          source="IEEE 519-2022, Table 2",
          remedy="Add an input filter or an active front end."),
    Check(name="single current harmonics", value="single_harmonic_share_pct", sense=AT_MOST,
          limit="all_of_a_limit_pct", options=DRIVE_ONLY, asked_by=CURRENT_LIMITS, needs=SOURCE,
          source="IEEE 519-2022, Table 2",
          remedy="Add an input filter or an active front end."),
    Check(name="voltage distortion at the service", value="voltage_thd_pct", sense=AT_MOST,
          limit="voltage_thd_service_limit_pct", options=DRIVE_ONLY, watch_share=CLOSE,
          asked_by=AT_THE_SERVICE, needs=SOURCE,
          remedy="Add a reactor or filter, or a larger transformer."),
    Check(name="single voltage harmonic at the service", value="voltage_harmonic_pct",
          sense=AT_MOST, limit="voltage_harmonic_service_limit_pct", options=DRIVE_ONLY,
          watch_share=CLOSE, asked_by=AT_THE_SERVICE, needs=SOURCE,
          remedy="Add a reactor or filter, or a larger transformer."),
    Check(name="voltage distortion at the tap", value="voltage_thd_tap_pct", sense=AT_MOST,
          limit="voltage_thd_tap_limit_pct", options=DRIVE_ONLY, watch_share=CLOSE,
          asked_by=AT_THE_TAP, needs=SOURCE,
          remedy="Add an input filter, or serve from a stronger point."),
    Check(name="single voltage harmonic at the tap", value="voltage_harmonic_tap_pct",
          sense=AT_MOST, limit="voltage_harmonic_tap_limit_pct", options=DRIVE_ONLY,
          watch_share=CLOSE, asked_by=AT_THE_TAP, needs=SOURCE,
          remedy="Add an input filter, or serve from a stronger point."),

    # Drive, leads and pivot
    Check(name="current from the drive", value="drive_output_a", sense=AT_MOST,
          limit="drive_site_a", options=DRIVE_ONLY, source="NEC 430.122; the maker's rating",
          needs=(*LEADS, *SOURCE),
          remedy="List a larger drive, or raise the voltage at the drive."),
    Check(name="motor voltage from the drive", value="motor_terminal_v", sense=AT_LEAST,
          limit="motor_voltage_low_v", watch_value="motor_valley_v", options=DRIVE_ONLY,
          source="NEMA MG 1-12.44",
          needs=(*LEADS, *SOURCE),
          remedy="Use less reactance ahead of the drive, an active front end, larger motor leads, "
                 "or a motor of a lower rated voltage."),
    *(Check(name=f"peak at the {words}", value=f"{key}_peak_v", sense=AT_MOST,
            limit=f"{key}_peak_limit_v", strictest="any_motor_peak_v", loosest="no_motor_peak_v",
            options=DRIVE_ONLY, source="NEMA MG 1 Parts 30 and 31", for_pivots=key == "tower",
            needs=(*LEADS, of_class),
            remedy="Confirm inverter-duty motors, or add an output filter.")
      for key, words, of_class in MOTORS),
    Check(name="drop in the motor leads", value="motor_lead_drop_pct", sense=AT_MOST,
          limit="motor_lead_drop_limit_pct",
          asked_by="motor_lead_drop_limit_pct", needs=("motor_lead_ft",),
          remedy="No listed run keeps the drop: set the controls nearer to the motor."),
    *(Check(name=f"rise time at the {words}", value="motor_rise_us", sense=AT_LEAST,
            limit=f"{key}_rise_limit_us", strictest="any_motor_rise_us", loosest="no_motor_rise_us",
            options=DRIVE_ONLY, source="NEMA MG 1 Parts 30 and 31", for_pivots=key == "tower",
            needs=(*LEADS, of_class),
            remedy="Confirm inverter-duty motors, or add a dV/dt or sine filter.")
      for key, words, of_class in MOTORS),
    Check(name="compact layout", value="layout_ft", sense=AT_MOST, limit="layout_limit_ft",
          options=DRIVE_ONLY, needs=("motor_lead_ft",), advice_only=True,
          remedy="Shorten service or motor leads, or accept the length: voltage drop and the peak "
                 "at the motor are judged by their own checks."),
    Check(name="end tower voltage", value="end_tower_v", sense=AT_LEAST,
          limit="end_tower_minimum_v", watch_limit="end_tower_advised_v", for_pivots=True,
          needs=("pivot_lead_ft", "source_fault_a", "motor_lead_ft"),
          remedy="Enlarge the pivot's cable or move the controls nearer."),
    Check(name="pivot cable ampacity", value="pivot_cable_ampacity_a", sense=AT_LEAST,
          limit="pivot_machine_a", for_pivots=True, source="NEC 675.22(A), 310.16",
          remedy="Take a larger cable along the machine."),

    # Program
    Check(name="least added load", value="added_load_kw", sense=AT_LEAST,
          limit="minimum_added_load_kw",
          remedy="The farm's added load is below what the program serves."),
)
