"""The cautions that stand on every output."""

CAUTIONS = (
    "Screening only. The electrical code as adopted locally, the cooperative's standards and a "
    "licensed engineer decide; nothing here is a design, an approval or an offer.",
    "Only qualified workers open equipment. Switch off, lock out, tag and test before touching.",
    "A drive's capacitors hold a dangerous voltage after it is switched off: wait the time on its "
    "label and measure before touching.",
    "An engine or generator left in place must not feed back into the line: use a transfer switch "
    "that the cooperative accepts.",
    "A rotary converter's three voltages are not equal and change with its load: measure the "
    "unbalance and derate the motor by it.",
    "What was not assessed is unknown. It is not a pass.",
    "Values marked 'memory' or 'common practice' were not read in a source; confirm them before "
    "they decide anything.",
)
CONVENTIONS = (
    "Money is in US dollars at base-date prices. Outlays fall at year 0, yearly amounts at the end "
    "of each year with nominal escalation; discount rates are nominal.",
    "Payback is simple: outlay over first-year amount. No residual value is counted.",
    "Benefit tests follow the California Standard Practice Manual (2001) for fuel substitution and "
    "load building; the first program year (year 0 and year 1 together) is not discounted.",
    "The member's contribution lowers the cost of construction in the ratepayer and administrator "
    "tests. For load building the ratepayer test decides.",
    "The administrator test is zero by construction for a cooperative that sells no fuel; that is "
    "no failure.",
)
