"""The figures of crews and stock: what each farm takes leads to the farm's own length or size."""

from functools import cached_property

from batch.columns import LIMITS, RESULTS, WORKING
from batch.columns import unit_costs as listed
from batch.money.quantities import SHARED_JOB, SHARED_LINE, is_counted
from batch.program.set_limits import name_of_stock
from batch.program.stock import Stock, needed
from batch.trail.lines import CELL, PRICE, sum_of
from batch.trail.table_figures import counted, of_farms

# What gives how much a farm takes of an item; of what is not here, its size or kind.
LENGTH = {listed.LINE: "own_line_ft", SHARED_LINE: "trunk_part_ft",
          listed.LINE_FIXED: "own_line_ft", SHARED_JOB: "shared_line_members",
          listed.SERVICE: "service_distance_ft", listed.MOTOR_LEAD: "motor_lead_used_ft",
          listed.PIVOT_LEAD: "pivot_lead_used_ft"}
SIZE = {listed.TRANSFORMER: "transformer_kva", listed.DISCONNECT: "disconnect_a",
        listed.SERVICE: "service_ampacity_a", listed.DRIVE: "drive_rated_hp",
        listed.CONVERTER: "drive_rated_hp", listed.MOTOR_LEAD: "motor_lead_ampacity_a",
        listed.PIVOT_LEAD: "pivot_lead_ampacity_a", listed.MOTOR: "pump_motor_hp",
        listed.STARTER: "pump_motor_hp", listed.SOFT_STARTER: "pump_motor_hp",
        **dict.fromkeys((listed.OUTPUT_REACTOR, listed.DVDT, listed.SINE), "connected_hp"),
        **dict.fromkeys((listed.REACTOR_3, listed.REACTOR_5, listed.CHOKE, listed.TUNED_FILTER,
                         listed.FRONT_END), "drive_rated_hp")}
COST = {listed.LINE: "own_line_usd", listed.LINE_FIXED: "line_job_usd",
        SHARED_LINE: "trunk_part_usd", SHARED_JOB: "trunk_part_usd"}


class StockFigures:
    """Parts, arithmetic and words of the buying list, and of a set's limits of crews and stock."""

    def __init__(self, study, farms):
        """`farms` are the figures of the farms."""
        self.study, self.farms, self.stock = study, farms, Stock.of(study.inputs)

    @cached_property
    def _funded(self):
        farms = self.study.sets.rows_of(list(self.study.funding.funded))
        return farms, needed(farms, self.study.inputs.price_list)

    def bought(self, name, key, row):
        """A figure of the buying list."""
        farms, things = self._funded
        mine = things[things["thing"] == name]
        rows = farms.iloc[sorted(set(mine["place"]))]
        told = of_farms(rows.index, "funded")
        if key == "farms":
            return (*counted(told), "1 for each of them")
        prices = tuple((PRICE, int(one)) for one in mine["price_row"].dropna().unique())
        quantity = [self._id(farms, one, LENGTH) for one in mine.to_dict("records")]
        if key == "quantity":
            parts, added = sum_of(quantity, mine["quantity"])
            return (*parts, *told), added, ""
        size = [self._id(farms, one, SIZE) for one in mine.to_dict("records")]
        if key == "bought_usd":
            cost = [self._id(farms, one, COST) for one in mine.to_dict("records")]
            if mine["item"].iloc[0] in COST:
                return (*cost, *told), None, "the part of the cost that is the line's or its job's"
            each = list(zip(mine["quantity"], mine["unit_price_usd"], quantity, (
                (PRICE, one) for one in mine["price_row"])))
            return (*quantity, *prices, *told), lambda marked: " + ".join(
                f"{many:.10g}{marked(of)} x {usd:.10g} USD{marked(price)}"
                for many, usd, of, price in each), ""
        cost = tuple(self._id(farms, one, COST) for one in mine.to_dict("records")
                     if one["item"] in COST)
        return (*size, *prices, *cost), None, "the price list's row that the farms ask for"

    def limit(self, best, name, key):
        """What there is of a row of the Limits sheet, or what the best set's farms `best` take."""
        [limit] = [row for row in self.stock.rows if name_of_stock(row.name) == name]
        if key == "limit":
            return ((CELL, LIMITS.name, limit.row, "available"),), None, ""
        counts = (CELL, LIMITS.name, limit.row, "counts")
        things = needed(best, self.study.inputs.price_list) if len(best) else None
        terms = []
        for part in limit.parts if things is not None else ():
            for one in things[is_counted(things, part)].to_dict("records"):
                terms.append((part.factor, one["quantity"], self._id(best, one, LENGTH),
                              self._id(best, one, SIZE)))
        told = of_farms(best.index, "in_best_set")
        return (*dict.fromkeys(one for term in terms for one in term[2:]), counts, *told), (
            lambda marked: " + ".join(
                f"{'' if factor is None else f'{factor:.10g} x '}{many:.10g}{marked(of)}"
                for factor, many, of, _ in terms) or "0"), ""

    def _id(self, farms, one, keys):
        """The id of what gives a thing of a farm; where `keys` have nothing of it, of its size,
        else of its phases."""
        key = keys.get(one["item"], SIZE.get(one["item"], "service_phases"))
        mine = farms.iloc[[one["place"]]]
        if key in RESULTS.by_key or key in WORKING.by_key:
            return self.farms.in_set(mine, key)[0]
        return of_farms(mine.index, key)[0]
