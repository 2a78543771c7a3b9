"""Laws that the money of a run must keep, whatever the farms and rules: identities and monotony."""

from dataclasses import replace

import numpy as np
import pytest

from batch.columns.program import COST_ITEMS, PROGRAM
from batch.columns.working import TYPED_NAMES
from batch.economics.cost_share import ORDERS
from batch.economics.incentive import BASES
from batch.farm import water
from batch.findings import Findings
from batch.money import sharing, valuation
from batch.program import budgeting, granting, standing
from batch.reading.scenario import apply, read_scenario
from batch.reading.validate import validate
from batch.rules import Rule
from batch.study import assessable, run_study, study_sets
from tests.workbooks.make import RATE, candidate_workbook

CENT = 0.01


def with_rules(rules, **values):
    return rules.replaced({key: Rule(value, "test") for key, value in values.items()})


def designed(inputs):
    """Designs, ledger and valued options of a study, without what it weighs of them later."""
    sets = study_sets(assessable(inputs), inputs)
    return sets.at(standing.of(budgeting.give_out(sets, inputs), inputs).numbers)[:3]


def options_under(inputs, folder, text):
    """The options of a workbook under a scenario."""
    file = folder / "scenario.toml"
    file.write_text('name = "s"\n' + text, encoding="utf-8")
    return designed(apply(inputs, read_scenario(file)))[2]


@pytest.fixture(scope="module")
def demo(demo_run):
    """The demo's validated inputs and its study."""
    return validate(demo_run.workbook), demo_run.study


def money_of(options, rules, **rule_values):
    """The options with incentive and yearly money under other rules, all taken as qualified."""
    rules = with_rules(rules, **rule_values)
    granted = granting.grant_incentive(options.assign(may_have_incentive=1.0), rules)
    return valuation.value_designs(granted, rules)


# --- the benefit tests ----------------------------------------------------------------------------

# Source: California Standard Practice Manual (2001), chapters 2 to 4: with one discount rate and
# without externalities the transfers between member and cooperative drop out.
CONDITIONS = {
    "as the demo has it": "",
    "contribution over months": "contribution_months = 60\ncontribution_interest_pct = 6\n",
    "cooperative pays half of the equipment": "share_drive_member_pct = 50\n"
    "share_filter_member_pct = 50\nshare_converter_member_pct = 50\n",
    "refund of the contribution by credits": "refund_credit_years = 9\nrefund_credit_pct = 20\n"
    "refund_credit_base_usd_yr = 900\nrefund_credit_usd_kwh = 0.01\ncontribution_months = 24\n",
    "residual value and overhead": "residual_value_counts = true\noverhead_adder_pct = 18\n",
}


@pytest.mark.parametrize("more", CONDITIONS.values(), ids=CONDITIONS)
def test_total_resource_is_participant_and_ratepayer_together(demo, tmp_path, more):
    o = options_under(demo[0], tmp_path, "[rules]\ndiscount_rate_cooperative_pct = 5.5\n"
                      "discount_rate_member_pct = 5.5\ndiscount_rate_societal_pct = 5.5\n"
                      "emission_damage_usd_t = 0\n" + more)
    known = o["is_priced"] & o["present_cost_usd_yr"].notna()
    assert known.sum() > 150 and set(o.loc[known, "supply_option"]) == {
        "single-phase drive", "rotary converter", "three-phase line"}
    apart = o["total_resource_npv_usd"] - o["participant_npv_usd"] - o["ratepayer_npv_usd"]
    assert apart[known].abs().max() < CENT
    assert apart[~known].isna().all()  # an unknown cost is never a known sum
    # Without externalities society differs by the grants only, which it does not count.
    no_grant = known & (o["other_funding_usd"] == 0)
    societal = (o["societal_npv_usd"] - o["total_resource_npv_usd"])[no_grant]
    assert societal.abs().max() < CENT
    grants = known & (o["other_funding_usd"] > 0)
    assert (o["societal_npv_usd"] < o["total_resource_npv_usd"])[grants].all() and grants.any()


def test_identity_needs_its_conditions(demo):
    """With the demo's own two discount rates the sum is another one: the test above can fail."""
    o = demo[1].options
    apart = o["total_resource_npv_usd"] - o["participant_npv_usd"] - o["ratepayer_npv_usd"]
    assert apart.abs().max() > 1000


# --- the ledger -----------------------------------------------------------------------------------

RULE_SETS = 80  # each of them shares 60 farms' 11 cost items anew


def random_rules(draw, rules):
    """A rule set in which every rule of cost sharing is drawn within the dictionary's bounds."""
    values = {
        "share_order": draw.choice(ORDERS), "overhead_adder_pct": draw.uniform(0, 60),
        "line_free_single_phase_ft": draw.choice([0, 660, 1320, 5280]),
        "line_free_three_phase_ft": draw.choice([0, 300, 2640]),
        "transformer_free_kva": draw.choice([0, 7, 25, 50, 75, 5000]),
        "allowance_basis": draw.choice(["none", "revenue", "margin"]),
        "allowance_years": draw.uniform(0, 20), "free_limit_pct": draw.uniform(0, 100),
        "incentive_basis": draw.choice([basis for basis in BASES]),
        "incentive_amount": draw.uniform(0, 300), "incentive_minimum_usd": draw.uniform(0, 3000),
        "incentive_maximum_usd": draw.uniform(0, 20_000),
        "farm_cap_usd": draw.choice([0, 20_000, 5_000_000])}
    for item in COST_ITEMS:
        key = f"share_{item.replace(' ', '_')}"
        values |= {f"{key}_member_pct": draw.choice([0, 100, draw.uniform(0, 100)]),
                   f"{key}_free_usd": draw.choice([0, draw.uniform(0, 8000)]),
                   f"{key}_cap_usd": draw.choice([0, draw.uniform(0, 30_000), 1e7]),
                   f"{key}_member_cap_usd": draw.choice([draw.uniform(0, 30_000), 1e7])}
    for key, value in values.items():
        column = PROGRAM.by_key[key]
        assert not column.is_numeric or column.minimum <= value <= column.maximum, key
    return with_rules(rules, **values)


def cents(values):
    return np.rint(100 * np.asarray(values, float))


def test_ledger_adds_up_to_the_cent_under_random_rules(demo):
    # Source: arithmetic.
    inputs, study = demo
    draw = np.random.default_rng(20260302)
    pricing = study.variants
    base = np.concatenate([pricing[f"base_{item.replace(' ', '_')}_usd"] for item in COST_ITEMS])
    assert (~np.isnan(base)).mean() > 0.8
    for _ in range(RULE_SETS):
        rules = random_rules(draw, inputs.rules)
        priced, ledger = sharing.share_costs(pricing, rules, inputs.price_list)
        cost, member, cooperative = (cents(ledger[f"{key}_usd"])
                                     for key in ("item_cost", "member", "cooperative"))
        known = ~np.isnan(member)
        assert known.mean() > 0.8 and np.array_equal(known, ~np.isnan(cooperative))
        np.testing.assert_array_equal((cooperative + member)[known], cost[known])
        assert not ((member < 0) | (cooperative < 0)).any()
        np.testing.assert_allclose(
            ledger["item_cost_usd"], base * (1 + rules["overhead_adder_pct"] / 100), atol=0.0051)
        by_design = ledger.assign(cost=cost, member=member, cooperative=cooperative).groupby(
            "design")[["cost", "member", "cooperative"]].sum(min_count=len(COST_ITEMS))
        for key, total in (("cost", "project_cost"), ("member", "member_cost"),
                           ("cooperative", "cooperative_cost")):
            np.testing.assert_array_equal(by_design[key], cents(priced[f"{total}_usd"]))
        granted = granting.grant_incentive(priced.assign(may_have_incentive=1.0), rules)
        _check_net_cost(granted, rules)


def _check_net_cost(granted, rules):
    """The incentive stays within what the member would pay, and the net cost is what is left."""
    known = granted[granted["member_cost_usd"].notna() & granted["incentive_usd"].notna()]
    left = known["member_cost_usd"] - known["incentive_usd"] - known["other_funding_usd"]
    np.testing.assert_array_equal(cents(known["member_net_cost_usd"]),
                                  cents(np.maximum(left, 0)))
    at_most = np.maximum(known["member_cost_usd"] - known["other_funding_usd"], 0)
    assert (known["incentive_usd"] <= at_most + 0.005001).all()
    assert (known["incentive_usd"] <= max(rules["incentive_maximum_usd"], 0) + 0.005001).all()


# --- monotony -------------------------------------------------------------------------------------

def test_dearer_fuel_never_lowers_the_saving(demo, tmp_path):
    inputs, study = demo
    dear = options_under(inputs, tmp_path, "[candidates]\nfuel_price_usd = 1.2\n")
    base = study.options
    assert dear.index.equals(base.index)
    more = dear["member_saving_usd_yr"] - base["member_saving_usd_yr"]
    burns = base["present_fuel_per_yr"] > 0
    assert more[burns].min() > 0
    # By hand: a fifth of today's fuel.
    known = burns & more.notna()
    np.testing.assert_allclose(more[known], 0.2 * base.loc[known, "fuel_cost_usd_yr"], rtol=1e-9,
                               atol=1e-6)
    rotary = base["present_power"] == "rotary converter"
    assert rotary.any() and (more[rotary].dropna() == 0).all()


def test_more_incentive_never_helps_the_other_ratepayers(demo):
    inputs, study = demo
    o = study.options[study.options["ratepayer_npv_usd"].notna()]
    wide = {"incentive_minimum_usd": 0, "incentive_maximum_usd": 1e6, "farm_cap_usd": 5e6}
    for basis, amounts in (("flat", (0, 700, 4000, 1e6)), ("per hp", (0, 30, 200)),
                           ("per kW", (0, 40, 400)), ("percent of eligible cost", (0, 20, 100))):
        steps = [money_of(o, inputs.rules, incentive_basis=basis, incentive_amount=amount, **wide)
                 for amount in amounts]
        for less, more in zip(steps, steps[1:]):
            paid = more["incentive_usd"] - less["incentive_usd"]
            gained = more["ratepayer_npv_usd"] - less["ratepayer_npv_usd"]
            assert paid.min() >= 0 and paid.max() > 0
            # By hand: the incentive falls at year 0, which is not discounted.
            np.testing.assert_allclose(gained, -paid, atol=1e-6)


@pytest.mark.parametrize("key, more", [("pumping_lift_ft", 1.1), ("pivot_pressure_psi", 1.3),
                                       ("flow_gpm", 1.1)])
def test_more_lift_pressure_or_flow_is_never_less_power(demo, key, more):
    inputs, _ = demo
    good = inputs.candidates[~inputs.has_error].rename(columns=TYPED_NAMES)
    low = water.pump_load(good, inputs.rules)
    high = water.pump_load(good.assign(**{key: good[key] * more + 5}), inputs.rules)
    for result in ("total_head_ft", "water_power_hp", "shaft_power_hp", "motor_input_kw"):
        rise = (high[result] - low[result]).dropna()
        assert len(rise) > 50 and rise.min() >= 0, result
        # Without a pipe the head does not depend on the flow.
        assert rise.min() > 0 or (key, result) == ("flow_gpm", "total_head_ft"), result
    rise = (high["pump_motor_hp"] - low["pump_motor_hp"]).dropna()
    assert rise.min() >= 0 and rise.max() > 0


def test_longer_service_is_never_less_drop_in_the_same_conductor(demo, tmp_path):
    inputs, study = demo
    longer = replace(inputs, findings=Findings(), candidates=inputs.candidates.assign(
        service_distance_ft=inputs.candidates["service_distance_ft"] * 1.5))
    base, far = study.variants, designed(longer)[0]
    # Neither resistance nor size may have changed: transformer and conductor are the same.
    same = ((base["service_conductor"] == far["service_conductor"])
            & (base["transformer_kva"] == far["transformer_kva"]))
    assert same.sum() > 250
    assert (far["service_voltage_drop_pct"] > base["service_voltage_drop_pct"])[same].all()
    # By hand, motors: the drop goes with the length. A drive's changes a little with its waveform.
    plain = same & (base["supply_option"] != "single-phase drive")
    np.testing.assert_allclose(far.loc[plain, "service_voltage_drop_pct"],
                               1.5 * base.loc[plain, "service_voltage_drop_pct"], rtol=1e-9)
    known = same & base["service_voltage_at_load_v"].notna()
    assert (far["service_voltage_at_load_v"] < base["service_voltage_at_load_v"])[known].all()
    # Where a larger conductor was taken, the program's limit still holds.
    limit = inputs.rules["service_drop_limit_pct"]
    assert (far["service_voltage_drop_pct"].dropna() <= limit + 1e-9).all()


# --- load control and the largest incentive -------------------------------------------------------

def test_load_control_without_a_credit_never_hurts_the_other_ratepayers(demo, tmp_path):
    o = options_under(demo[0], tmp_path, "[rates]\ncontrol_credit_usd_kw_month = 0\n")
    gain = (o["controlled_ratepayer_npv_usd"] - o["uncontrolled_ratepayer_npv_usd"]).dropna()
    assert len(gain) > 150 and gain.min() > 0  # the demo's coincidence falls from 78 to 12 %
    tighter = options_under(demo[0], tmp_path, "[rates]\ncontrol_credit_usd_kw_month = 0\n"
                            "coincidence_controlled_pct = 0.5\n")
    better = tighter["controlled_ratepayer_npv_usd"] - o["controlled_ratepayer_npv_usd"]
    assert better.dropna().min() > 0
    # Which farms have agreed to it changes neither case, but for what a shared line costs them.
    agreed = replace(demo[0], findings=Findings(),
                     candidates=demo[0].candidates.assign(load_control=1.0))
    both, base = designed(agreed)[2], demo[1].options
    same = ((both["incentive_usd"] == base["incentive_usd"])
            & (both["project_cost_usd"] == base["project_cost_usd"]))
    assert same.sum() > 120
    for key in ("controlled_ratepayer_npv_usd", "uncontrolled_ratepayer_npv_usd"):
        np.testing.assert_allclose(both.loc[same, key], base.loc[same, key], atol=1e-5)


@pytest.mark.parametrize("is_controlled, name", [(True, "controlled"), (False, "uncontrolled")])
def test_largest_incentive_brings_the_ratepayer_test_to_one(demo, is_controlled, name):
    inputs, study = demo
    o = study.options
    amount = o[f"{name}_largest_incentive_usd"]
    # Paid in full: not above what the member pays, cents small against the costs, and no payback
    # limit that cuts it.
    payable = o[(o["load_control"] == is_controlled) & (amount > 0)
                & (o["margin_usd_yr"] > o["carrying_cost_usd_yr"])
                & (amount < o["member_cost_usd"] - o["other_funding_usd"])]
    payable = payable.iloc[:: max(len(payable) // 8, 1)]
    assert len(payable) >= 5
    for place in payable.index:
        one = money_of(o.loc[[place]], inputs.rules, incentive_basis="flat",
                       incentive_amount=amount[place], incentive_minimum_usd=0,
                       incentive_maximum_usd=1e6, farm_cap_usd=5e6,
                       maximum_cooperative_payback_yr=1e6)
        assert 0 <= amount[place] - one["incentive_usd"].item() < 0.01  # cents are rounded down
        assert one["ratepayer_ratio"].item() == pytest.approx(1, abs=1e-6)
        # What is left over is nothing: the amount is its own answer.
        again = one[f"{name}_largest_incentive_usd"].item()
        assert again == pytest.approx(amount[place], abs=1e-6)


# --- break-even values, put into the workbook -----------------------------------------------------

BLOCKS = RATE | {"rate_id": "BLK", "block_basis": "kWh per hp per season", "block_1_size": 300,
                 "block_1_usd_kwh": 0.14, "block_2_size": 500, "block_2_usd_kwh": 0.11,
                 "block_3_usd_kwh": 0.08, "minimum_bill_usd_yr": 900}
FARM = {"supply_option": "single-phase drive", "is_inverter_duty": "yes", "gross_depth_in": None,
        "season_hours": 900}
FARMS = (
    FARM, FARM | {"rate_id": "BLK"},
    FARM | {"present_power": "propane engine", "fuel_rate": None, "fuel_price_usd": 1.9},
    FARM | {"present_power": "natural gas engine", "fuel_rate": 1.0, "fuel_price_usd": 8,
            "rate_id": "BLK", "supply_option": "three-phase line", "three_phase_distance_ft": 900},
    FARM | {"present_power": "none", "fuel_rate": None, "engine_replacement_usd": 21_000},
)


def small_study(folder, rows, **sheets):
    return run_study(validate(candidate_workbook(folder, rows=rows, rates=[RATE, BLOCKS],
                                                 **sheets)))


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    return small_study(tmp_path_factory.mktemp("small"), FARMS).results


def test_breakeven_fuel_price_gives_no_saving(tmp_path, small):
    price = small["breakeven_fuel_price_usd"]
    assert price.between(0.05, 60).all()
    rows = [farm | {"fuel_price_usd": usd} for farm, usd in zip(FARMS, price)]
    again = small_study(tmp_path, rows).results
    assert small["member_saving_usd_yr"].abs().min() > 100  # it was not zero before
    assert again["member_saving_usd_yr"].abs().max() < CENT


def test_breakeven_hours_give_no_saving(tmp_path, small):
    hours = small["breakeven_hours"]
    assert hours.notna().all() and (hours - 900).abs().min() > 10
    rows = [farm | {"season_hours": h} for farm, h in zip(FARMS, hours)]
    again = small_study(tmp_path, rows).results
    # A saving is straight between two of the 41 points unless a block ends or the minimum bill
    # does between them: then it is off by less than the change of slope times a quarter of a step.
    step_h = np.maximum(2 * 900, 2000) / 40
    for row, farm in zip(again.to_dict("records"), FARMS):
        kw = row["service_demand_kw"]
        bent = kw * (0.14 - 0.11) * step_h / 4 if farm.get("rate_id") == "BLK" else 0.0
        # Cents of six bill lines on either side.
        assert abs(row["member_saving_usd_yr"]) < 0.10 + bent
        # And a saving appears as more hours are pumped: it is the crossing.
    more = small_study(tmp_path, [farm | {"season_hours": h + 60}
                                  for farm, h in zip(FARMS, hours)]).results
    assert more["member_saving_usd_yr"].min() > 0


@pytest.mark.parametrize("option, distance", [
    ("rotary converter", "single_phase_distance_ft"), ("three-phase line",
                                                       "three_phase_distance_ft")])
def test_breakeven_line_length_gives_the_longest_payback(tmp_path, option, distance):
    # Motors, whose currents and sizes do not change with the line; half the line is the member's,
    # and no cap, free foot or incentive comes in between.
    rows = [{"supply_option": option, distance: 800, "flow_gpm": gpm, "fuel_rate": None,
             "irrigated_area_acre": gpm / 7, "season_hours": 1500, "gross_depth_in": None,
             "motor_code_letter": "F", "pivot_length_ft": None, "pivot_lead_ft": None}
            for gpm in (240, 420, 600)]
    program = {"share_line_cap_usd": 10_000_000, "farm_cap_usd": 5_000_000,
               "incentive_amount": 0, "incentive_minimum_usd": 0,
               "maximum_cooperative_payback_yr": 12}
    first = small_study(tmp_path, rows, program=program).results
    length = first["breakeven_line_ft"]
    assert (length > 0).any() and (first["cooperative_payback_yr"] - 12).abs().min() > 0.1
    far = [row | {distance: ft} for row, ft in zip(rows, length) if ft > 0]
    again = small_study(tmp_path, far, program=program).results
    assert again["transformer_kva"].tolist() == first.loc[length > 0, "transformer_kva"].tolist()
    np.testing.assert_allclose(again["cooperative_payback_yr"], 12, atol=1e-5)


# --- shared lines ---------------------------------------------------------------------------------

# The demo's own list: three lines, all overhead. Prices per foot and job from its price list.
TRUNK_FT = {"North bench": (1700, 3900), "East road": (6400, 21_000), "Lake spur": (2100, 2300)}
LINE_USD = {1: (9.2, 850), 3: (19.5, 1900)}


def test_farms_of_a_shared_line_pay_its_whole_trunk(demo):
    """Of every set of builders: one line, by three phases as far as the last farm that takes them;
    one job, that of three phases where there is such a farm."""
    built = demo[1].sets.chosen
    seen = set()
    for builders, farms in built[built["builders"].notna()].groupby("builders"):
        if not farms["is_priced"].all():
            continue
        line = farms["shared_line_id"].iloc[0]
        three = farms[farms["service_phases"] == 3]
        single = farms[farms["service_phases"] == 1]
        if three.empty:
            usd = single["trunk_ft"].max() * LINE_USD[1][0] + LINE_USD[1][1]
        else:  # places are counted before the line's end, where both lines lie
            leaves = [(TRUNK_FT[line][phases == 3] - ft) for phases, ft in zip(
                farms["service_phases"], farms["trunk_ft"])]
            last_three = TRUNK_FT[line][1] - three["trunk_ft"].max()
            beyond = max(min(last_three, TRUNK_FT[line][0]) - min(leaves), 0.0)
            usd = three["trunk_ft"].max() * LINE_USD[3][0] + LINE_USD[3][1] + (
                beyond * LINE_USD[1][0])
        assert farms["trunk_part_usd"].sum() == pytest.approx(
            usd, abs=CENT * len(farms) + 1e-6), (line, builders)
        seen.add((len(single) == 0, len(three) == 0))
    assert len(seen) == 3  # all by one phase, all by three, and some by each
