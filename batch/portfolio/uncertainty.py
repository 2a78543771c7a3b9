"""Chances and bands: many futures of fuel price, pumping hours, construction cost and wholesale
price, drawn with one seed.

A farm's answer to a driver is a *response*: its values at a few factors, straight between them,
which the study's own steps compute. The draws only read the responses, so that 2,000 futures of
500 farms take about a second.
"""

import hashlib
from dataclasses import dataclass, field

import numpy as np
import pandas as pd


FUEL, HOURS, CONSTRUCTION, WHOLESALE = DRIVERS = (
    "fuel price", "pumping hours", "construction cost", "wholesale price")
OF_EACH_FARM = (HOURS, CONSTRUCTION)  # the others are one figure for all farms
LEAST_FACTOR = 0.05
MOST_VALUES = 6_000_000  # draws times farms that are held at a time; more farms get fewer draws
AT_A_TIME = 256
PERCENTILES = (10, 50, 90)
BINARY_TAIL_USD = 1e-6


@dataclass(frozen=True)
class Response:
    """Values of farms by factors of two drivers: at each of `factors` (g,) of the first driver the
    `value` (n, g), and what one more unit of the second driver's factor adds, `slope` (n, g)."""

    factors: np.ndarray
    value: np.ndarray
    slope: np.ndarray

    def at(self, factor, second=1.0):
        """Values (n, draws) at factors (n, draws) or (draws,), straight between those known and
        straight on beyond them; `second` likewise."""
        factor = np.broadcast_to(factor, (len(self.value), np.shape(factor)[-1]))
        place = np.clip(np.searchsorted(self.factors, factor, side="right") - 1, 0,
                        len(self.factors) - 2)
        part = (factor - self.factors[place]) / (self.factors[place + 1] - self.factors[place])

        def between(table):
            low = np.take_along_axis(table, place, axis=1)
            return low + part * (np.take_along_axis(table, place + 1, axis=1) - low)
        return between(self.value) + (np.asarray(second) - 1) * between(self.slope)

    def of(self, farms):
        """The responses of some farms."""
        return Response(self.factors, self.value[farms], self.slope[farms])

    def of_second(self):
        """What the second driver adds alone."""
        return Response(self.factors, np.zeros(self.value.shape), self.slope)


@dataclass(frozen=True)
class Draws:
    """Factors of each driver: (draws,) where one figure holds for all farms, else (n, draws)."""

    count: int
    farms: int
    factor: dict[str, np.ndarray] = field(repr=False)

    def of(self, driver, farms):
        """Factors of a driver for some farms."""
        return self.factor[driver][farms] if driver in OF_EACH_FARM else self.factor[driver]


def effective_spread_pct(*, spread_pct, year_weight, yearly_correlation_pct):
    """Spread of a whole study's weighted sum, if years move together only in part [%].

    Parameters
    ----------
    spread_pct : float [%]; standard deviation of one year's factor
    year_weight : array (years,) [any]; weight of each year in the sum, as its present value
    yearly_correlation_pct : float [%]; correlation between any two years

    Returns
    -------
    float [%]

    Equation: spread x sqrt(r + (1 - r) sum(w^2) / sum(w)^2), r the correlation
    Sources: variance of a weighted sum of equally correlated variables. Tested with a textbook's
    four-year saving, with independent and with fully correlated years.
    """
    r = yearly_correlation_pct / 100
    weight = np.asarray(year_weight, float)
    return spread_pct * np.sqrt(r + (1 - r) * (weight ** 2).sum() / weight.sum() ** 2)


def draw_factors(*, spread_pct, candidate_ids, draws, seed, farm_correlation_pct) -> Draws:
    """Factors about 1 of every driver, normally distributed, not below 0.05.

    Every driver has a stream of its own, and each farm one for each of its own drivers, from the
    seed and the farm's name: a farm's draws do not depend on which others there are.

    Parameters
    ----------
    spread_pct : dict of driver to float [%]; standard deviation
    candidate_ids : sequence (n,) of str
    draws, seed : int; RandomState's stream is fixed, so that the same seed draws the same whatever
        the library's version
    farm_correlation_pct : float [%]; between farms, for the drivers that each farm has of its own

    Returns
    -------
    Draws
    """
    r = farm_correlation_pct / 100
    factor = {}
    for driver in DRIVERS:
        z = _stream(seed, driver, "").standard_normal(draws)
        if driver in OF_EACH_FARM:
            common, z = np.sqrt(r) * z, np.empty((len(candidate_ids), draws))
            for own, name in zip(z, candidate_ids):
                own[:] = _stream(seed, driver, name).standard_normal(draws)
            z *= np.sqrt(1 - r)  # in place: these are the largest tables of a study
            z += common
        z *= spread_pct[driver] / 100
        z += 1
        factor[driver] = np.maximum(z, LEAST_FACTOR, out=z)
    return Draws(draws, len(candidate_ids), factor)


def _stream(seed, driver, name):
    """The generator of a driver, for all farms or, with its name, for one."""
    digest = hashlib.sha256(f"{driver}\n{name}".encode()).digest()
    return np.random.RandomState([seed, *np.frombuffer(digest, "<u4")])


def values_of(responses, second, draws: Draws, some=slice(None)):
    """Values of some farms in each future (n, draws), from a pair of responses: to hours with a
    second driver, and to cost as the change from the study's value."""
    by_hours, by_cost = responses
    return (by_hours.of(some).at(draws.of(HOURS, some), draws.of(second, some))
            + by_cost.of(some).at(draws.of(CONSTRUCTION, some)))


def holds(*, spare, second, draws: Draws):
    """Where what is spare is zero or above in each future, and how often that is.

    Parameters
    ----------
    spare : (hours Response, cost Response) of what a yield leaves over an outlay [USD]; the second
        as change from the study's value
    second : the hours response's second driver
    draws : Draws

    Returns
    -------
    array (n, draws) of bool, true where it is not known; array (n,) [%], NaN where it is not known
    """
    kept, chance = np.empty((draws.farms, draws.count), bool), np.empty(draws.farms)
    starts = np.arange(0, draws.farms, AT_A_TIME)
    for start in starts:
        some = slice(start, start + AT_A_TIME)
        value = values_of(spare, second, draws, some)
        kept[some] = ~(value < -BINARY_TAIL_USD)
        chance[some] = np.where(np.isnan(value).any(axis=1), np.nan,
                                100 * kept[some].mean(axis=1))
    return kept, chance


def npv_bands(*, responses, draws: Draws) -> pd.DataFrame:
    """10, 50 and 90 percent points of each farm's NPVs, and the chance that the member loses.

    Parameters
    ----------
    responses : dict of `member`, `cooperative` to (hours Response, cost Response): the first with
        fuel or wholesale price as second driver, the second as change from the study's value
    draws : Draws

    Returns
    -------
    frame (n,) of <party>_npv_p<point>_usd [USD] and member_loss_chance_pct [%]; NaN where a
    farm's NPV is not known
    """
    starts = np.arange(0, max(draws.farms, 1), AT_A_TIME)
    parts = [_bands_of(slice(start, start + AT_A_TIME), responses, draws) for start in starts]
    return pd.concat(parts, ignore_index=True)


def _bands_of(some, responses, draws):
    out = {}
    for party, second in (("member", FUEL), ("cooperative", WHOLESALE)):
        npv = values_of(responses[party], second, draws, some)
        points = np.percentile(npv, PERCENTILES, axis=1)
        for point, values in zip(PERCENTILES, points):
            out[f"{party}_npv_p{point}_usd"] = values
        if party == "member":
            known = ~np.isnan(npv).any(axis=1)
            out["member_loss_chance_pct"] = np.where(known, 100 * (npv < 0).mean(axis=1), np.nan)
    return pd.DataFrame(out)


def rank_spans(*, cost_response: Response, counted_load_kw, draws: Draws, budget_usd,
               tie_order, qualifies=True, may_be_funded=True, budget_adds_usd=0.0) -> pd.DataFrame:
    """How a farm's place moves from future to future: 10 and 90 percent points of its rank, and the
    chance that it qualifies and the ranking's budget line stays behind it. A farm that does not
    qualify in a future stands behind all that do and takes no budget.

    Parameters
    ----------
    cost_response : Response of incentive cost [USD] to construction cost
    counted_load_kw : array (n,) [kW], above zero
    draws : Draws
    budget_usd : float [USD], or None
    tie_order : array (n,) of int; which of two farms with equal figures stands first
    qualifies : array (n, draws) of bool, or true
    may_be_funded : array (n,) of bool, or true; the others take no budget in any future
    budget_adds_usd : array (n,) or float; what the budget counts beside the cost [USD]

    Returns
    -------
    frame (n,) of rank_p10, rank_p90, budget_chance_pct [%], NaN without a budget
    """
    load_kw = np.asarray(counted_load_kw, float)
    rank, inside = np.empty((len(load_kw), draws.count), np.int32), np.zeros(len(load_kw))
    qualifies = np.broadcast_to(qualifies, rank.shape)
    may_be_funded = np.broadcast_to(may_be_funded, len(load_kw))[:, np.newaxis]
    for start in range(0, draws.count, AT_A_TIME):
        some = slice(start, start + AT_A_TIME)
        whole = cost_response.at(draws.factor[CONSTRUCTION][:, some])
        cost = np.round(whole, 2)
        # Not of whole cents: farms that enter as a group have one figure.
        figure = np.round(whole / load_kw[:, np.newaxis], 7)
        tie = np.broadcast_to(np.asarray(tie_order)[:, np.newaxis], cost.shape)
        fails = ~qualifies[:, some]
        order = np.lexsort((tie, figure, np.broadcast_to(~may_be_funded, fails.shape), fails),
                           axis=0)
        place = np.broadcast_to(np.arange(1, len(load_kw) + 1, dtype=np.int32)[:, np.newaxis],
                                order.shape)
        np.put_along_axis(rank[:, some], order, place, axis=0)
        if budget_usd is not None:
            takes = may_be_funded & ~fails
            taken = np.where(takes, cost + np.reshape(budget_adds_usd, (-1, 1)), 0.0)
            running = np.cumsum(np.take_along_axis(taken, order, axis=0), axis=0)
            fits = np.empty(cost.shape)
            np.put_along_axis(fits, order, (np.round(running, 2) <= budget_usd) * 1.0, axis=0)
            inside += (fits * takes).sum(axis=1)
    low, high = np.percentile(rank, (10, 90), axis=1, method="nearest", overwrite_input=True)
    chance = np.nan if budget_usd is None else 100 * inside / draws.count
    return pd.DataFrame({"rank_p10": low.astype(float), "rank_p90": high.astype(float),
                         "budget_chance_pct": chance}, range(len(load_kw)))
