"""The five benefit tests, in their form for fuel substitution and load building.

Source of all of it: California Standard Practice Manual, Economic Analysis of Demand-Side Programs
and Projects, October 2001, chapters 2 to 5 and appendix B.

                                participant  ratepayer    total res.   administrator  societal
    added electric bill         cost         benefit      -            -              -
    present supply avoided      benefit      -            benefit      -              benefit
    member-side equipment       cost         -            cost         -              cost
    cooperative's construction  -            cost         cost         cost           cost
    member's contribution       cost         lowers cost  transfer     lowers cost    transfer
    refund of a contribution    lowers cost  cost         transfer     cost           transfer
    incentive                   benefit      cost         transfer     cost           transfer
    outside grant               benefit      -            lowers cost  -              not counted
    supply (energy, demand)     -            cost         cost         cost           cost
    administration              -            cost         cost         cost           cost
    emissions                   -            -            -            -              both ways

Timing, to be printed with the results: column t is divided by (1 + d)^t. At the end of the year,
column 0 is the day of the investment and column t the end of year t, as in every NPV. As the manual
prints it, column 0 is the first program year with its bills and fuel, so that year t is divided by
(1 + d)^(t - 1). `in_program_years_usd` makes the columns.

With one discount rate: NPV total resource = NPV participant + NPV ratepayer. At the end of the year
these two are the member's and the cooperative's own NPV.

The contribution is cash to the account that pays for construction, so that it lowers that cost. As
a benefit it would change the ratio, never the NPV nor the side of 1 on which the ratio lies while
costs stay above zero. Ratios order no farms.
"""

from dataclasses import dataclass

import numpy as np

END_OF_YEAR, FIRST_YEAR_UNDISCOUNTED = TIMINGS = (
    "end of year", "first year undiscounted")
TESTS = ("participant", "ratepayer", "total_resource", "administrator", "societal")

ADMINISTRATOR_STATEMENT = (
    "Zero by construction: a cooperative that sells no fuel avoids no cost of supply when a pump "
    "changes from fuel to electricity, so this test has no benefits and is not a failure. The "
    "manual looks to the ratepayer test for load building.")


@dataclass(frozen=True)
class YearlyItems:
    """What the tests count, arrays (n, columns) [USD], in the columns of `in_program_years_usd`.

    All are amounts above zero in the sense of their names. present_supply_avoided is fuel, upkeep
    and replacement of the engine, less any residual value given up. member_equipment is the
    member's own drive, filter and wiring with replacements. cooperative_construction is the whole
    of what the cooperative builds, before the member's contribution to it. member_contribution is
    what is paid in a year less what is paid back, so that it may be below zero.
    """
    electric_bill_added_usd: np.ndarray
    present_supply_avoided_usd: np.ndarray
    member_equipment_usd: np.ndarray
    cooperative_construction_usd: np.ndarray
    member_contribution_usd: np.ndarray
    incentive_usd: np.ndarray
    outside_grant_usd: np.ndarray
    supply_cost_usd: np.ndarray
    administration_usd: np.ndarray
    emission_damage_avoided_usd: np.ndarray
    emission_damage_added_usd: np.ndarray


@dataclass(frozen=True)
class BenefitTest:
    """Present values of one test, arrays (n,) [USD], and benefits over costs [1].

    The ratio says nothing where the costs are not above zero; the NPV does.
    """
    benefits_usd: np.ndarray
    costs_usd: np.ndarray

    @property
    def npv_usd(self):
        """Benefits less costs, array (n,) [USD]."""
        return self.benefits_usd - self.costs_usd

    @property
    def ratio(self):
        """Benefits over costs, array (n,) [1]; NaN where the costs are not above zero."""
        return self.benefits_usd / np.where(self.costs_usd > 0, self.costs_usd, np.nan)


def present_value_usd(*, yearly_usd, discount_rate_pct):
    """Present value of columns that are discounted by their place [USD].

    Parameters
    ----------
    yearly_usd : array (n, columns) [USD]; column 0 is not discounted
    discount_rate_pct : array (n,) [%/yr]

    Returns
    -------
    array (n,) [USD]

    Equation: PV = sum of amount_k / (1 + d)^k, k the column
    Sources: California Standard Practice Manual, 2001, appendix B, whose first year is column 0.
    """
    yearly = np.asarray(yearly_usd, float)
    growth = (1 + np.asarray(discount_rate_pct, float) / 100)[..., np.newaxis]
    return (yearly / growth ** np.arange(yearly.shape[-1])).sum(axis=-1)


def in_program_years_usd(*, flow_usd, test_timing):
    """A flow by year 0, 1, 2 ... in the columns that the tests discount by their place [USD].

    Parameters
    ----------
    flow_usd : array (n, years + 1) [USD]; year 0 first, as in the member's cash flow
    test_timing : one of TIMINGS

    Returns
    -------
    array (n, years + 1) [USD] at the end of the year: the flow itself; array (n, years) [USD] with
    the first year undiscounted

    Equation: end of year: column t = year t; first year undiscounted: column 0 = year 0 + year 1,
    column t - 1 = year t
    Sources: NIST Handbook 135 (end of year); California Standard Practice Manual, 2001, appendix B
    (t counts from 1, exponent t - 1). Tested by a ratepayer test worked both ways.
    """
    flow = np.asarray(flow_usd, float)
    if test_timing == END_OF_YEAR:
        return flow
    return np.concatenate([flow[..., :1] + flow[..., 1:2], flow[..., 2:]], axis=-1)


def participant_test(*, items, participant_discount_rate_pct):
    """Does the member gain? Benefits and costs of the member [USD].

    Parameters
    ----------
    items : YearlyItems, arrays (n, columns) [USD]
    participant_discount_rate_pct : array (n,) [%/yr]

    Returns
    -------
    BenefitTest, arrays (n,)

    Equation: benefits = present supply avoided + incentive + outside grant;
    costs = added electric bill + member's equipment + member's contribution
    Sources: California Standard Practice Manual, 2001, chapter 2. Tested by a one-year example.
    """
    return _discounted(
        participant_discount_rate_pct,
        benefits=items.present_supply_avoided_usd + items.incentive_usd + items.outside_grant_usd,
        costs=(items.electric_bill_added_usd + items.member_equipment_usd
               + items.member_contribution_usd))


def ratepayer_test(*, items, cooperative_discount_rate_pct):
    """Do rates of the other members fall? Revenue against what the cooperative pays [USD].

    The member's contribution is counted as a lower cost of construction, not as a benefit; that
    changes the ratio and not the NPV.

    Parameters
    ----------
    items : YearlyItems, arrays (n, columns) [USD]
    cooperative_discount_rate_pct : array (n,) [%/yr]

    Returns
    -------
    BenefitTest, arrays (n,)

    Equation: benefits = added electric bill; costs = supply + construction - contribution
    + administration + incentive
    Sources: California Standard Practice Manual, 2001, chapter 3. Tested by a one-year example.
    """
    return _discounted(cooperative_discount_rate_pct, benefits=items.electric_bill_added_usd,
                       costs=_cooperative_costs(items))


def total_resource_test(*, items, cooperative_discount_rate_pct):
    """Do the member and the cooperative together gain? [USD]

    Bill, contribution and incentive pass between the two and drop out. An outside grant lowers
    the cost, as money from outside.

    Parameters
    ----------
    items : YearlyItems, arrays (n, columns) [USD]
    cooperative_discount_rate_pct : array (n,) [%/yr]

    Returns
    -------
    BenefitTest, arrays (n,)

    Equation: benefits = present supply avoided;
    costs = member's equipment + construction + supply + administration - outside grant
    Sources: California Standard Practice Manual, 2001, chapter 4. Tested by a one-year example.
    """
    return _discounted(cooperative_discount_rate_pct, benefits=items.present_supply_avoided_usd,
                       costs=_resource_costs(items) - items.outside_grant_usd)


def administrator_test(*, items, cooperative_discount_rate_pct):
    """Costs of the cooperative as the program's administrator [USD]; benefits are zero.

    The benefits of this test are avoided supply costs of what the administrator sells. None are
    avoided here, so benefits and ratio are a known zero, not an unknown. They are never a
    failure: print ADMINISTRATOR_STATEMENT beside them.

    Parameters
    ----------
    items : YearlyItems, arrays (n, columns) [USD]
    cooperative_discount_rate_pct : array (n,) [%/yr]

    Returns
    -------
    BenefitTest, arrays (n,)

    Equation: benefits = 0; costs = supply + construction - contribution + administration
    + incentive
    Sources: California Standard Practice Manual, 2001, chapter 5.
    """
    costs = _cooperative_costs(items)
    return _discounted(cooperative_discount_rate_pct, benefits=np.zeros_like(costs), costs=costs)


def societal_test(*, items, societal_discount_rate_pct):
    """Does society gain? Total resources with emissions, without grants [USD].

    Parameters
    ----------
    items : YearlyItems, arrays (n, columns) [USD]
    societal_discount_rate_pct : array (n,) [%/yr]

    Returns
    -------
    BenefitTest, arrays (n,)

    Equation: benefits = present supply avoided + emission damage avoided;
    costs = member's equipment + construction + supply + administration + emission damage added
    Sources: California Standard Practice Manual, 2001, chapter 4 (societal variant).
    """
    return _discounted(
        societal_discount_rate_pct,
        benefits=items.present_supply_avoided_usd + items.emission_damage_avoided_usd,
        costs=_resource_costs(items) + items.emission_damage_added_usd)


def benefit_tests(*, items, participant_discount_rate_pct, cooperative_discount_rate_pct,
                  societal_discount_rate_pct):
    """All five tests by name.

    Parameters
    ----------
    items : YearlyItems, arrays (n, columns) [USD]
    participant_discount_rate_pct : array (n,) [%/yr]
    cooperative_discount_rate_pct : array (n,) [%/yr]; ratepayer, total resource, administrator
    societal_discount_rate_pct : array (n,) [%/yr]

    Returns
    -------
    dict of BenefitTest by the names in TESTS, arrays (n,)

    Equation: as in the five functions above
    Sources: California Standard Practice Manual, 2001, chapters 2 to 5.
    """
    cooperative = {"items": items, "cooperative_discount_rate_pct": cooperative_discount_rate_pct}
    return {
        "participant": participant_test(
            items=items, participant_discount_rate_pct=participant_discount_rate_pct),
        "ratepayer": ratepayer_test(**cooperative),
        "total_resource": total_resource_test(**cooperative),
        "administrator": administrator_test(**cooperative),
        "societal": societal_test(
            items=items, societal_discount_rate_pct=societal_discount_rate_pct)}


def grouped_test(*, test, group_code, group_count):
    """One test for feeders, or for the program as a single group: sums, then the ratio.

    A candidate whose values are unknown makes its group unknown: leave it out beforehand and
    print how many were left out.

    Parameters
    ----------
    test : BenefitTest, arrays (n,)
    group_code : array (n,) of int, 0 ... group_count - 1
    group_count : int

    Returns
    -------
    BenefitTest, arrays (group_count,)

    Equation: benefits and costs of a group = sums over its candidates
    Sources: California Standard Practice Manual, 2001 (programs as sums of their participants).
    """
    def by_group(value):
        return np.bincount(group_code, weights=value, minlength=group_count)
    return BenefitTest(by_group(test.benefits_usd), by_group(test.costs_usd))


def lifecycle_rate_impact_usd_kwh(*, ratepayer_npv_usd, system_sales_kwh,
                                  cooperative_discount_rate_pct):
    """One-time change of rates that would balance the ratepayer test [USD/kWh]; negative = lower.

    Parameters
    ----------
    ratepayer_npv_usd : array (n,) [USD]; of a candidate, or of the program as one element
    system_sales_kwh : array (columns,) or (n, columns) [kWh]; all sales of the cooperative, in the
        columns of `in_program_years_usd`
    cooperative_discount_rate_pct : array (n,) [%/yr]

    Returns
    -------
    array (n,) [USD/kWh]

    Equation: LRI = (costs - benefits of the ratepayer test) / sum of sales_k / (1 + d)^k, k the
    column
    Sources: California Standard Practice Manual, 2001, chapter 3 and appendix C.
    """
    discounted_kwh = present_value_usd(yearly_usd=system_sales_kwh,
                                       discount_rate_pct=cooperative_discount_rate_pct)
    return -np.asarray(ratepayer_npv_usd, float) / discounted_kwh


def largest_incentive_usd(*, ratepayer_npv_usd, incentive_usd):
    """Incentive, paid at year 0, at which the ratepayer test is just 1 [USD].

    Parameters
    ----------
    ratepayer_npv_usd : array (n,) [USD]; with the incentive below counted in it
    incentive_usd : array (n,) [USD]; paid at year 0, which is not discounted

    Returns
    -------
    array (n,) [USD]; below zero where the test stays under 1 even without an incentive, by that
    much

    Equation: benefits = other costs + incentive, so incentive = NPV + incentive counted so far
    Sources: California Standard Practice Manual, 2001, chapter 3, solved for the incentive.
    """
    return np.asarray(ratepayer_npv_usd, float) + incentive_usd


def _cooperative_costs(items):
    """What the cooperative pays in each year, after the member's contribution."""
    return (items.supply_cost_usd
            + items.cooperative_construction_usd - items.member_contribution_usd
            + items.administration_usd + items.incentive_usd)


def _resource_costs(items):
    """What the member and the cooperative spend together in each year."""
    return (items.member_equipment_usd + items.cooperative_construction_usd
            + items.supply_cost_usd + items.administration_usd)


def _discounted(discount_rate_pct, *, benefits, costs):
    return BenefitTest(
        present_value_usd(yearly_usd=benefits, discount_rate_pct=discount_rate_pct),
        present_value_usd(yearly_usd=costs, discount_rate_pct=discount_rate_pct))
