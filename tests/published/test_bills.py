"""Electric bills and wholesale cost against published irrigation rates and texts."""

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from batch.economics import bills

SUMMER = np.array([0, 0, 0, 0, .1, .2, .3, .3, .1, 0, 0, 0])
INF = np.inf


def energy_usd(energy_kwh, *, share=SUMMER, demand_kw=50.0, billed_hp=75.0, basis="kWh per month",
               size=(INF,), price=(0.0,), **more):
    monthly = bills.spread_over_months(season_total=energy_kwh, season_share_by_month=share)
    hours = bills.spread_over_months(season_total=1.0 + 0 * np.asarray(energy_kwh),
                                     season_share_by_month=share)
    demand = bills.demand_by_month_kw(service_demand_kw=demand_kw, monthly_hours=hours)
    return bills.energy_charge_usd(monthly_energy_kwh=monthly, billing_demand_kw=demand,
                                   billed_hp=billed_hp, block_basis=basis, block_size=size,
                                   block_price_usd_kwh=price, **more)


def bill(energy_charge_usd, *, demand_kw=50.0, billed_hp=75.0, share=SUMMER, **rate):
    demand = np.where(np.asarray(share) > 0, demand_kw, 0.0)
    rate.setdefault("customer_charge_usd_month", 0.0)
    rate.setdefault("billing_demand_kw", demand)
    return bills.annual_bill(monthly_energy_charge_usd=energy_charge_usd, monthly_demand_kw=demand,
                             billed_hp=billed_hp, **rate)


def test_seasonal_block_per_horsepower_with_a_yearly_charge_per_horsepower():
    # Source: Park Electric Cooperative, "Irrigation Services": $19.00 per hp and season, first 500
    # kWh per hp at 6.8 cents, all over at 5.3 cents. Answer derived for 75 hp, 60,000 kWh:
    # 75 x 19 + 37,500 x 0.068 + 22,500 x 0.053 = 5,167.50.
    energy = energy_usd(60_000, basis="kWh per hp per season", size=(500, INF), price=(.068, .053))
    year = bill(energy, facilities_charge_usd_hp=19.0)
    assert year.facilities_usd_yr == pytest.approx(1425.00, abs=1e-9)
    assert year.total_usd_yr == pytest.approx(5167.50, abs=1e-9)


def test_seasonal_block_is_charged_in_the_month_that_fills_it():
    # Worked by hand with the rate above: 37,500 kWh are used up in July, after 6,000 in May,
    # 12,000 in June and 18,000 in July, 1,500 of August's 18,000 are left in the block.
    energy = energy_usd(60_000, basis="kWh per hp per season", size=(500, INF), price=(.068, .053))
    np.testing.assert_allclose(energy[4:9], [408, 816, 1224, 1500 * .068 + 16_500 * .053, 318])


@pytest.mark.parametrize("energy_kwh, expected", [
    # Source: Marias River Electric Cooperative, irrigation schedule 8-18: first 700 kWh per hp and
    # season at 7.275 cents, over at 6.405 cents. Answers derived for 50 hp (block of 35,000 kWh).
    (35_000, 2546.25), (36_000, 2610.30), (10_000, 727.50)])
def test_block_of_700_kwh_per_horsepower(energy_kwh, expected):
    energy = energy_usd(energy_kwh, billed_hp=50.0, basis="kWh per hp per season",
                        size=(700, INF), price=(0.07275, 0.06405))
    assert energy.sum() == pytest.approx(expected, abs=1e-6)


def test_three_blocks_per_peak_kw_and_year_with_a_yearly_demand_charge():
    # Source: Y-W Electric Association, "Irrigation Pumping Rate": first 500 kWh per peak kW and
    # year $0.151, next 500 $0.113, the rest $0.0685; $444 a year per meter, $40.55 per peak kW.
    # Derived for 40 kW, 50,000 kWh: 20,000 x .151 + 20,000 x .113 + 10,000 x .0685
    # = 5,965; demand 1,622; service 444; together 8,031.
    energy = energy_usd(50_000, demand_kw=40.0, basis="kWh per kW per season",
                        size=(500, 500, INF), price=(.151, .113, .0685))
    year = bill(energy, demand_kw=40.0, customer_charge_usd_month=444 / 12,
                facilities_charge_usd_kw=40.55)
    assert year.energy_usd_yr == pytest.approx(5965)
    assert year.total_usd_yr == pytest.approx(8031)


def test_three_blocks_per_billing_kw_and_month():
    # Source: Medina Electric Cooperative, "Irrigation Service Rate", load management: $35 a month,
    # $2.75 per kW, first 200 kWh per kW 9.326 cents, next 200 6.326, over 400 5.5 cents.
    # Derived for one month of 50 kW and 22,000 kWh: 932.60 + 632.60 + 110 = 1,675.20; demand
    # 137.50; customer 35 for each of 12 months.
    share = np.eye(12)[6]
    energy = energy_usd(22_000, share=share, basis="kWh per kW per month",
                        size=(200, 200, INF), price=(.09326, .06326, .055))
    year = bill(energy, share=share, customer_charge_usd_month=35.0, demand_charge_usd_kw=2.75)
    assert year.energy_usd_yr == pytest.approx(1675.20)
    assert year.total_usd_yr == pytest.approx(1675.20 + 137.50 + 420)


def test_month_of_an_irrigation_bill_printed_as_an_example():
    # Source: Idaho agricultural irrigation rates, schedule 24, example of a month with 10 kW and
    # 4,000 kWh: $140.70 at $14.07 per kW and $229.06 at 5.7265 cents per kWh.
    share = np.eye(12)[6]
    energy = energy_usd(4000, share=share, demand_kw=10.0, month_price_usd_kwh=0.057265)
    year = bill(energy, share=share, demand_kw=10.0, demand_charge_usd_kw=14.07)
    assert year.demand_usd_yr == pytest.approx(140.70, abs=0.005)
    assert year.energy_usd_yr == pytest.approx(229.06, abs=0.005)


# Source: Franklin PUD, "Small Agriculture Irrigation Rates", 1 March 2022:
# demand $7.81 per kW, energy 3.21 cents April to August and 5.26 cents September to March, minimum
# $7.02 per hp and year.
SEASONAL_PRICE = np.array([.0526] * 3 + [.0321] * 5 + [.0526] * 4)


def test_seasonal_price_by_month():
    # Derived: 10,000 kWh, of which a tenth in September: 9,000 x .0321 + 1,000 x .0526 = 341.50.
    energy = energy_usd(10_000, month_price_usd_kwh=SEASONAL_PRICE)
    assert energy.sum() == pytest.approx(341.50)


@pytest.mark.parametrize("energy_kwh, adjustment", [
    # Derived: minimum 100 hp x 7.02 = 702. 10 kW in July: demand 78.10;
    # 1,000 kWh = 32.10, so 591.80 is missing; 30,000 kWh = 963 alone is above the minimum.
    (1000, 591.80), (30_000, 0.0)])
def test_yearly_minimum_per_horsepower(energy_kwh, adjustment):
    share = np.eye(12)[6]
    energy = energy_usd(energy_kwh, share=share, demand_kw=10.0, month_price_usd_kwh=SEASONAL_PRICE)
    year = bill(energy, share=share, demand_kw=10.0, demand_charge_usd_kw=7.81,
                minimum_bill_usd_yr=100 * 7.02)
    assert year.minimum_bill_adjustment_usd_yr == pytest.approx(adjustment)
    assert year.total_usd_yr == pytest.approx(max(702, 78.10 + energy_kwh * .0321))


def test_demand_is_billed_in_its_months_only():
    # Source: AHEC cooperative, "Irrigation Three Phase - Rate 23", 1 May 2022: $10.00 per kW for
    # May to September, nothing for October to April. Derived for pumping April to October.
    share = np.array([0, 0, 0, 1, 1, 1, 1, 1, 1, 1, 0, 0]) / 7
    year = bill(np.zeros(12), share=share, demand_charge_usd_kw=10.0,
                demand_month_mask=[0, 0, 0, 0, 1, 1, 1, 1, 1, 0, 0, 0])
    assert year.demand_usd_yr == pytest.approx(5 * 50 * 10)


def test_fixed_charge_per_horsepower_has_the_minimum_as_its_floor():
    # Source: Hood River Electric Cooperative, "Irrigation": $29 per hp and season, not less than
    # $58; 8.30 cents per kWh. Derived for 40 hp and 20,000 kWh: 1,160 + 1,660 = 2,820.
    energy = energy_usd(20_000, month_price_usd_kwh=0.083)
    year = bill(energy, billed_hp=40.0, facilities_charge_usd_hp=29.0, minimum_bill_usd_yr=58.0)
    assert year.total_usd_yr == pytest.approx(2820)


def test_ratchet_of_80_percent():
    # Source: Pacific Northwest National Laboratory, "What is a demand ratchet?": a peak of 1,000 kW
    # bills at least 800 kW in the following eleven months.
    demand = np.zeros(12)
    demand[6], demand[7] = 1000, 900
    billed = bills.billed_demand_by_month_kw(monthly_demand_kw=demand, ratchet_pct=80)
    np.testing.assert_array_equal(billed, [800] * 6 + [1000, 900] + [800] * 4)
    none = bills.billed_demand_by_month_kw(monthly_demand_kw=demand, ratchet_pct=0)
    np.testing.assert_array_equal(none, demand)
    winter = np.array([1, 1, 1, 0, 0, 0, 0, 0, 0, 0, 1, 1])
    other = bills.billed_demand_by_month_kw(monthly_demand_kw=demand, ratchet_pct=80,
                                            ratchet_month_mask=winter)
    np.testing.assert_array_equal(other, demand)


def test_off_peak_share_is_priced_apart_from_the_blocks():
    # Worked by hand: 10,000 kWh in July, 40 % off peak at 3 cents; 6,000 in blocks of 5,000 at 10
    # cents and the rest at 8 cents: 120 + 500 + 80 = 700.
    energy = energy_usd(10_000, share=np.eye(12)[6], size=(5000, INF), price=(.10, .08),
                        off_peak_share_pct=40.0, off_peak_price_usd_kwh=0.03)
    assert energy.sum() == pytest.approx(700)


def test_load_control_credit_counts_in_its_months_only():
    # Worked by hand: July only, 50 kW, energy $100, credit $1.50/kW in July and August = -75,
    # $20 in each of twelve months: 240 + 100 - 75.
    share = np.eye(12)[6]
    energy = energy_usd(1000, share=share, month_price_usd_kwh=0.10)
    summer = [0, 0, 0, 0, 0, 1, 1, 1, 0, 0, 0, 0]
    year = bill(energy, share=share, customer_charge_usd_month=20.0,
                load_control_credit_usd_kw=1.5, load_control_month_mask=summer,
                has_load_control=True)
    assert year.load_control_credit_usd_yr == pytest.approx(-75)
    assert year.total_usd_yr == pytest.approx(265)
    without = bill(energy, share=share, load_control_credit_usd_kw=1.5, has_load_control=False)
    assert without.load_control_credit_usd_yr == 0


def test_yearly_minimum_counts_what_the_year_already_holds():
    # Worked by hand: energy 100 and 75 hp x $4 = 300: 400 a year; a yearly minimum of 500 adds 100.
    share = np.eye(12)[6]
    energy = energy_usd(1000, share=share, month_price_usd_kwh=0.10)
    year = bill(energy, share=share, facilities_charge_usd_hp=4.0, minimum_bill_usd_yr=500.)
    assert year.minimum_bill_adjustment_usd_yr == pytest.approx(100)
    assert year.total_usd_yr == pytest.approx(500)


def test_a_rate_without_prices_bills_nothing():
    year = bill(np.zeros(12), has_load_control=True)
    assert all(getattr(year, field.name) == 0 for field in fields(year))


def test_hours_and_demand_by_month():
    # Worked by hand: 1,000 h by the profile; no demand in a month without pumping.
    hours = bills.spread_over_months(season_total=1000.0, season_share_by_month=SUMMER)
    np.testing.assert_allclose(hours, [0, 0, 0, 0, 100, 200, 300, 300, 100, 0, 0, 0])
    demand = bills.demand_by_month_kw(service_demand_kw=50.0, monthly_hours=hours)
    np.testing.assert_array_equal(demand, [0, 0, 0, 0, 50, 50, 50, 50, 50, 0, 0, 0])


def test_energy_beyond_the_last_block_has_no_price():
    beyond = energy_usd(1001, share=np.eye(12)[6], size=(1000,), price=(0.1,))
    inside = energy_usd(1000, share=np.eye(12)[6], size=(1000,), price=(0.1,))
    assert np.isnan(beyond[6]) and inside[6] == pytest.approx(100)


def test_an_unused_block_may_have_no_price():
    energy = energy_usd(1000, size=(INF, INF), price=(0.1, np.nan))
    assert energy.sum() == pytest.approx(100)


def test_unknown_energy_or_demand_makes_the_bill_unknown():
    assert np.isnan(energy_usd(np.nan, price=(0.1,))).any()
    year = bill(np.zeros(12), demand_kw=np.nan, demand_charge_usd_kw=10.0)
    assert np.isnan(year.total_usd_yr)


def test_shares_that_do_not_add_to_one_are_refused():
    with pytest.raises(ValueError, match="adding to 1"):
        bills.spread_over_months(season_total=100, season_share_by_month=np.full(12, 0.1))
    with pytest.raises(ValueError, match="not 12"):
        bills.spread_over_months(season_total=100, season_share_by_month=[0.5, 0.5])


def test_unknown_block_basis_is_refused():
    with pytest.raises(ValueError, match="block_basis"):
        energy_usd(100, basis="kWh per acre")


def test_wholesale_cost_with_losses_and_coincidence():
    # Worked by hand: 50 kW in 5 months, 4 of them in the mask; 9,500 kWh at 5 % of purchases are
    # 10,000 kWh x $0.05 = 500. Demand 50 x 0.6 / 0.92 x $12 x 4 = 1,565.22; with load control the
    # factor is 0.1: 260.87.
    mask = np.array([0, 0, 0, 0, 0, 1, 1, 1, 1, 0, 0, 0])
    cost = bills.wholesale_cost(
        monthly_energy_kwh=9500 * np.stack([SUMMER, SUMMER]),
        monthly_demand_kw=50 * np.stack([SUMMER > 0, SUMMER > 0]),
        wholesale_energy_usd_kwh=0.05, wholesale_demand_usd_kw=12.0,
        wholesale_demand_month_mask=mask, coincidence_factor=0.6,
        coincidence_factor_controlled=0.1, has_load_control=np.array([False, True]),
        energy_loss_pct=5.0, demand_loss_pct=8.0)
    np.testing.assert_allclose(cost.energy_usd_yr, 500)
    np.testing.assert_allclose(cost.demand_usd_yr, [1565.22, 260.87], atol=0.005)
    np.testing.assert_array_equal(cost.total_usd_yr, cost.energy_usd_yr + cost.demand_usd_yr)


money = st.floats(0, 500)


@settings(max_examples=80, deadline=None)
@given(customer=money, per_hp=money, demand=money, credit=st.floats(0, 20),
       yearly_minimum=st.floats(0, 50_000), price=st.floats(0, 1), ratchet=st.floats(0, 100))
def test_lines_add_up_to_the_total_and_the_printed_lines_to_the_printed_total(
        customer, per_hp, demand, credit, yearly_minimum, price, ratchet):
    # Source: arithmetic.
    kw = np.where(SUMMER > 0, 50.0, 0.0)
    billed = bills.billed_demand_by_month_kw(monthly_demand_kw=kw, ratchet_pct=ratchet)
    year = bill(energy_usd(60_000, month_price_usd_kwh=price), billing_demand_kw=billed,
                customer_charge_usd_month=customer, facilities_charge_usd_hp=per_hp,
                demand_charge_usd_kw=demand, load_control_credit_usd_kw=credit,
                has_load_control=True, minimum_bill_usd_yr=yearly_minimum)
    lines = [getattr(year, field.name) for field in fields(year)]
    assert sum(lines[1:-1], lines[0]) == lines[-1]
    assert lines[-1] >= yearly_minimum - 1e-6
    in_cents = bills.bill_in_cents(year)
    printed = [round(getattr(in_cents, field.name) * 100) for field in fields(year)]
    assert sum(printed[:-1]) == printed[-1]
    np.testing.assert_allclose(np.array(printed) / 100, lines, atol=0.035)


def test_vector_equals_scalar():
    bases = np.array(bills.BLOCK_BASES)
    energy = np.array([60_000, 40_000, 20_000, 10_000, 5_000, 80_000.0])
    hp, kw = np.array([75, 50, 40, 30, 20, 100.0]), np.array([55, 40, 30, 25, 15, 80.0])
    share = np.tile(SUMMER, (6, 1))
    size, price = np.tile([100, 300, INF], (6, 1)), np.tile([.10, .08, .06], (6, 1))
    together = energy_usd(energy, share=share, demand_kw=kw, billed_hp=hp, basis=bases, size=size,
                          price=price)
    for row in range(6):
        alone = energy_usd(energy[row], demand_kw=kw[row], billed_hp=hp[row],
                           basis=bases[row], size=size[row], price=price[row])
        np.testing.assert_allclose(together[row], alone, rtol=1e-12)
