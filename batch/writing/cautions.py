"""The cautions and conventions that stand on every output."""

from batch.economics.benefit_tests import (
    ADMINISTRATOR_STATEMENT,
    END_OF_YEAR,
    FIRST_YEAR_UNDISCOUNTED,
)

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


TIMING_WORDS = {
    END_OF_YEAR: "outlays fall at year 0 and yearly amounts at the end of each year, as in every "
                 "NPV.",
    FIRST_YEAR_UNDISCOUNTED: "year 0 and year 1 together are not discounted, as the manual prints "
                             "it, so that the tests' NPVs differ from those of member and "
                             "cooperative."}


def conventions(rules) -> tuple[str, ...]:
    """How money is counted, in the words of the rules in force."""
    residual = ("What is left of replaced engines, drives and filters at the end counts at prices "
                "of then by its part of the life, and so does the cooperative's plant."
                if rules["residual_value_counts"] else
                "What is left of replaced engines, drives and filters at the end counts at prices "
                "of then by its part of the life; the cooperative's plant counts for nothing then.")
    emissions = (f"Emissions count at {rules['emission_damage_usd_t']:g} USD per tonne of CO2."
                 if rules["emission_damage_usd_t"] else
                 "No value is put on emissions, so the societal test differs from the total "
                 "resource test by its discount rate and by grants only.")
    return (
        f"Money is in US dollars at base-date prices over {rules['study_years']:g} years. Outlays "
        "fall at year 0, yearly amounts at the end of each year with nominal escalation.",
        f"Discount rates are nominal: cooperative {rules['discount_rate_cooperative_pct']:g} %, "
        f"member {rules['discount_rate_member_pct']:g} %, society "
        f"{rules['discount_rate_societal_pct']:g} %. Payback is simple unless it says discounted. "
        + residual,
        "Benefit tests follow the California Standard Practice Manual (2001) for fuel "
        f"substitution and load building; {TIMING_WORDS[rules['test_timing']]} Farms are never "
        "ordered by a ratio.",
        "The member's contribution lowers the cost of construction in the ratepayer and "
        "administrator tests; as a benefit it would bring the ratio nearer to 1 and leave the NPV. "
        "In the participant test it is a cost; in the other two it passes from hand to hand. For "
        "load building the ratepayer test decides. " + emissions,
        "Administrator test: " + ADMINISTRATOR_STATEMENT,
    )
