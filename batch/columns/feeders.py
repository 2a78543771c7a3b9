"""The `Feeders` and `Shared lines` sheets: what several candidates have in common."""

from batch.columns.column import Column, Sheet

FEEDERS = Sheet(
    name="Feeders",
    required=False,
    help="One row per feeder that candidates name. Optional.",
    columns=(
        Column(key="feeder_id", label="Feeder", group="feeder", kind="text", required=True,
               help="Name of the feeder, as the candidates write it."),
        Column(key="spare_capacity_kw", label="Spare capacity", group="feeder", unit="kW",
               minimum=0, maximum=100_000, decimals=0,
               help="Load that the feeder can still take at its summer peak, without the farms of "
                    "this workbook."),
        Column(key="phase_a_kw", label="Phase A peak load", group="feeder", unit="kW", minimum=0,
               maximum=50_000, decimals=0, help="Present summer peak of phase A."),
        Column(key="phase_b_kw", label="Phase B peak load", group="feeder", unit="kW", minimum=0,
               maximum=50_000, decimals=0, help="Present summer peak of phase B."),
        Column(key="phase_c_kw", label="Phase C peak load", group="feeder", unit="kW", minimum=0,
               maximum=50_000, decimals=0, help="Present summer peak of phase C."),
        Column(key="nominal_kv", label="Nominal voltage, line to line", group="feeder", unit="kV",
               minimum=2, maximum=40, decimals=2, help="Line-to-line voltage of the feeder."),
    ),
)

SHARED_LINES = Sheet(
    name="Shared lines",
    required=False,
    help="One row per line extension that several candidates would share. Optional.",
    columns=(
        Column(key="shared_line_id", label="Shared line", group="shared line", kind="text",
               required=True, help="Name of the shared line, as the candidates write it."),
        Column(key="shared_single_phase_ft", label="Shared single-phase length",
               group="shared line", unit="ft", minimum=0, maximum=200_000, decimals=0,
               required=True,
               help="Single-phase line that all its candidates use, beside each one's own."),
        Column(key="shared_three_phase_ft", label="Shared three-phase length",
               group="shared line", unit="ft", minimum=0, maximum=400_000, decimals=0,
               help="Three-phase line that all its candidates would use. Blank: the "
                    "three-phase option is not assessed for them."),
    ),
)
