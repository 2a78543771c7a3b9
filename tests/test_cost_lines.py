"""Every dollar of a cost has its quantity, its price and the row of the price list behind it."""

import openpyxl
import pytest

from batch.columns.program import COST_ITEMS, item_key
from batch.reading.validate import validate
from batch.study import run_study
from tests.conftest import DEMO
from tests.workbooks.make import candidate_workbook, unit_cost_rows


@pytest.fixture(scope="module")
def demo(demo_run):
    study = demo_run.study
    return study, study.cost_lines, study.options[study.options["is_chosen"]]


def test_amounts_of_an_item_are_its_cost_on_every_farm(demo):
    """Two ways to one figure: the sum of the lines, and what the cost shares are made from."""
    study, lines, chosen = demo
    overhead = 1 + study.inputs.rules["overhead_adder_pct"] / 100
    sums = lines.groupby(["candidate_id", "item"])["amount_usd"].sum(min_count=1)
    is_open = lines["amount_usd"].isna().groupby([lines["candidate_id"], lines["item"]]).any()
    compared = 0
    for _, farm in chosen.iterrows():
        for item in COST_ITEMS:
            usd, key = farm[f"cost_{item_key(item)}_usd"], (farm["candidate_id"], item)
            if usd == 0:
                assert key not in sums.index or sums[key] == 0
            elif usd == usd:
                assert not is_open[key]
                assert sums[key] * overhead == pytest.approx(usd, abs=0.005 + 1e-6)
                compared += 1
    assert compared > 250


def test_price_is_in_the_row_that_is_named(demo):
    """Read from the workbook's own cells by another way than the study's reader."""
    _, lines, _ = demo
    sheet = openpyxl.load_workbook(DEMO, data_only=True)["Unit costs"]
    listed = [row for row in sheet.iter_rows(values_only=True)]
    head = next(n for n, row in enumerate(listed) if str(row[0]).startswith("Item"))
    price = next(n for n, name in enumerate(listed[head]) if str(name).startswith("Price [USD"))
    priced = lines.dropna(subset="price_row")
    assert len(priced) > 400
    for line in priced.itertuples():
        row = listed[int(line.price_row) - 1]
        assert row[0] == line.priced_as and float(row[price]) == line.unit_price_usd


def test_buying_list_adds_up_to_the_lines_of_the_funded_farms(demo):
    """Two ways to one figure: thing by thing over all farms, and farm by farm."""
    study, lines, _ = demo
    funded = study.results.loc[study.results["funded"] == 1, "candidate_id"]
    mine = lines[lines["candidate_id"].isin(funded)]
    bought = study.portfolio.buying_list
    item = bought["thing"].str.partition(",")[0]
    assert len(funded) > 10 and bought["bought_usd"].sum() == pytest.approx(
        mine["amount_usd"].sum())
    for one in ("drive", "transformer", "motor lead", "service conductor", "line job"):
        assert bought.loc[item == one, "quantity"].sum() == pytest.approx(
            mine.loc[mine["priced_as"] == one, "quantity"].sum())


def test_every_line_is_counted_within_its_farm(demo):
    _, lines, chosen = demo
    for _, numbers in lines.groupby("candidate_id")["line_number"]:
        assert numbers.tolist() == list(range(1, len(numbers) + 1))
    assert set(lines["candidate_id"]) == set(chosen["candidate_id"])


def lines_of(folder, farm, prices):
    study = run_study(validate(candidate_workbook(folder, [farm], unit_costs=prices)))
    return study.cost_lines


def test_line_in_steps_is_a_row_for_each_step(tmp_path):
    # By hand: 100 ft free of price, 900 ft at 2 USD, 300 ft at 4 USD, and the job.
    steps = [(0, 0), (100, 2), (1000, 4)]
    prices = [{"item": "line", "from_ft": start, "price_usd": usd} for start, usd in steps]
    prices += [row for row in unit_cost_rows() if row["item"] != "line"]
    lines = lines_of(tmp_path, {"single_phase_distance_ft": 1300,
                                "supply_option": "single-phase drive"}, prices)
    line = lines[lines["priced_as"] == "line"]
    assert line["quantity"].tolist() == [100, 900, 300]
    assert line["amount_usd"].tolist() == [0, 1800, 1200]
    first = line["price_row"].iloc[0]
    assert line["price_row"].tolist() == [first, first + 1, first + 2]


def test_a_price_that_the_list_lacks_is_blank_and_never_zero(tmp_path):
    prices = [row for row in unit_cost_rows() if row["item"] != "drive"]
    lines = lines_of(tmp_path, {"supply_option": "single-phase drive"}, prices)
    [drive] = lines[lines["priced_as"] == "drive"].itertuples()
    assert drive.quantity == 1
    assert drive.unit_price_usd != drive.unit_price_usd  # not a number
    assert drive.amount_usd != drive.amount_usd and drive.price_row != drive.price_row


def test_of_two_rows_for_a_size_the_cheaper_is_named(tmp_path):
    # Two prices for every drive size: the list's own, and half of it below.
    own = unit_cost_rows()
    cheap = [row | {"price_usd": row["price_usd"] / 2} for row in own if row["item"] == "drive"]
    drives = []
    for number, prices in enumerate((own, [*own, *cheap])):
        folder = tmp_path / str(number)
        folder.mkdir()
        lines = lines_of(folder, {"supply_option": "single-phase drive"}, prices)
        drives += lines[lines["priced_as"] == "drive"].itertuples()
    dear, cheaper = drives
    assert cheaper.unit_price_usd == dear.unit_price_usd / 2
    assert cheaper.price_row > len(own) > dear.price_row - 10
