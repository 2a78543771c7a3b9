"""A price for one candidate: a quotation goes before the general row, for that farm alone."""

import numpy as np
import pandas as pd
import pytest
from workbooks.make import candidate_workbook, unit_cost_rows

from batch.columns import UNIT_COSTS
from batch.price_list import PriceList
from batch.reading.validate import validate
from batch.study import run_study


def price_list(*rows):
    """A price list of (item, size, price, candidate), from row 5 on."""
    keys = ("item", "size", "price_usd", "candidate_id")
    table = pd.DataFrame([dict.fromkeys(UNIT_COSTS.by_key) | dict(zip(keys, row)) for row in rows],
                         index=range(5, 5 + len(rows)))
    return PriceList(table.astype({"size": float, "price_usd": float}))


GENERAL = (("drive", 20, 3000, None), ("drive", 40, 5000, None), ("drive", 75, 8000, None))


def asked(prices, sizes, farms):
    places = prices.rows("drive", size=np.array(sizes, float), candidate_id=np.array(farms, object))
    return prices.usd_of(places).tolist(), prices.excel_rows(places).tolist()


def test_quotation_of_a_size_goes_before_the_general_row_for_its_farm_alone():
    # By hand: A asks 20, 40 and 41 hp, B 40 hp. Only A's 40 hp is quoted; 41 takes 75.
    prices = price_list(*GENERAL, ("drive", 40, 4100, "A"))
    usd, rows = asked(prices, [20, 40, 41, 40], ["A", "A", "A", "B"])
    assert usd == [3000, 4100, 8000, 5000] and rows == [5, 8, 7, 6]


def test_dearer_quotation_counts_too():
    # Of two general rows of a size the cheaper is taken; a quotation is not one offer among others.
    prices = price_list(*GENERAL, ("drive", 40, 6100, "A"))
    assert asked(prices, [40], ["A"])[0] == [6100]


def test_quotation_without_a_size_is_the_farms_price_for_every_size():
    prices = price_list(*GENERAL, ("drive", None, 4500, "A"))
    assert asked(prices, [20, 75, 400, 20, 400], ["A", "A", "A", "B", "B"])[0][:4] == [
        4500, 4500, 4500, 3000]
    assert np.isnan(asked(prices, [400], ["B"])[0])


def test_sizes_are_chosen_from_the_general_rows():
    prices = price_list(*GENERAL, ("drive", 60, 4100, "A"))
    assert prices.of("drive")["size"].tolist() == [20, 40, 75]


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    """Two farms alike; the first has quotations for engineering and its transformer."""
    rows = [*unit_cost_rows(),
            {"item": "engineering", "price_usd": 111, "candidate_id": "F-1"},
            {"item": "transformer", "price_usd": 2222, "candidate_id": "F-1"},
            {"item": "drive", "size": 20, "price_usd": 1, "candidate_id": "F-3"},
            {"item": "line", "phases": 1, "price_usd": 1, "candidate_id": "F-1"}]
    farm = {"supply_option": "single-phase drive"}
    return run_study(validate(candidate_workbook(
        tmp_path_factory.mktemp("quoted"), [farm, farm], unit_costs=rows)))


def test_cost_lines_show_the_quotations_rows(study):
    first = len(unit_cost_rows()) + 2  # the header is row 1
    lines = study.cost_lines.set_index(["candidate_id", "priced_as"])
    for item, usd, row in (("engineering", 111, first), ("transformer", 2222, first + 1)):
        line = lines.loc[("F-1", item)]
        assert (line["amount_usd"], line["price_row"]) == (usd, row)
        assert lines.loc[("F-2", item), "price_row"] < first
    # Nothing else differs between the two, so that the lines' sums differ by the two prices.
    apart = study.cost_lines.groupby("candidate_id")["amount_usd"].sum()
    general = lines.loc["F-2"]["amount_usd"]
    assert apart["F-2"] - apart["F-1"] == pytest.approx(
        general["engineering"] - 111 + general["transformer"] - 2222)


def test_quotation_that_prices_nothing_is_told(study):
    told = [f for f in study.findings.rows if f["slug"] == "quotation-unused"]
    assert [f["value"] for f in told] == ["F-3", "F-1"]
    assert "no candidate is called 'F-3'" in told[0]["message"]
    assert "'line' has one price for all" in told[1]["message"]
