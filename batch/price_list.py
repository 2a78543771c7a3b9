"""The price list: what an item costs, and the row of the Unit costs sheet that says so."""

import numpy as np
import pandas as pd

from batch.columns import unit_costs as listed


class PriceList:
    """The Unit costs sheet, asked by item, size, phases and construction.

    The first listed size that is not too small is taken, the cheaper of equal ones; a row without
    a size prices every known size that no sized row covers; a row without phases or construction
    fits both. A quotation, a row for one candidate, goes before the general row of its size for
    that candidate; without a size it is its price for every size. What was looked up once is kept.
    """

    def __init__(self, unit_costs: pd.DataFrame):
        self.sheet = unit_costs
        self._usd = unit_costs["price_usd"].to_numpy(float)
        self._kept = {}
        quoted = unit_costs["candidate_id"].notna()
        self._general, self._quoted = unit_costs[~quoted], unit_costs[quoted]

    def of(self, item) -> pd.DataFrame:
        """The rows of an item that are for all candidates."""
        return self._once((item,), lambda: self._general[self._general["item"] == item])

    def rows(self, item, *, size=None, phases=None, line_build=None,
             candidate_id=None) -> np.ndarray:
        """The row that prices an item for each of n.

        Parameters
        ----------
        size : array (n,) [of the item], NaN where unknown; None where the item has no size
        phases, line_build : array (n,) or None, to match the price list's columns
        candidate_id : array (n,) or None, whose quotations count

        Returns
        -------
        array (n,): place in the sheet's table, -1 where nothing on the list fits

        Errors: ValueError where an item is looked up by nothing.
        """
        given = [values for values in (size, phases, line_build) if values is not None]
        if not given:
            raise ValueError(f"'{item}' is looked up by none of size, phases and line_build")
        n = len(given[0])
        places = np.full(n, -1)
        farms = self._with_quotation(item, candidate_id)
        for phase, build, farm, here in _kinds(n, phases, line_build, farms):
            sizes, sized, any_size = self._fitting(item, phase, build, farm)
            if size is None:
                places[here] = any_size
                continue
            asked = np.asarray(size, float)[here]
            step = np.searchsorted(sizes, asked, side="left")  # an unknown size sorts to the end
            found = np.append(sized, any_size)[step]
            places[here] = np.where(np.isnan(asked), -1, found)
        return places

    def usd(self, item, **fits) -> np.ndarray:
        """Price of one for each of n, as `rows` finds it: array (n,) [USD, or USD/ft]; NaN where
        nothing on the list fits."""
        return self.usd_of(self.rows(item, **fits))

    def usd_of(self, places) -> np.ndarray:
        """The prices at places that `rows` gives; NaN for -1."""
        return np.append(self._usd, np.nan)[places]

    def excel_rows(self, places) -> np.ndarray:
        """The Excel rows at places that `rows` gives; NaN for -1."""
        return np.append(self.sheet.index.to_numpy(float), np.nan)[places]

    def line_steps(self, phases, line_build) -> dict[str, np.ndarray]:
        """The steps of the line's price per foot for each of n, as the line cost formulas take
        them.

        Parameters
        ----------
        phases, line_build : array (n,), to match the price list's columns

        Returns
        -------
        dict: step_from_ft, array (n, k) [ft], and step_usd_ft, array (n, k) [USD/ft]; a row with
        fewer steps than k has infinity and NaN; the feet before the first step have no price
        """
        start, places = self.line_step_rows(phases, line_build)
        return {"step_from_ft": start, "step_usd_ft": self.usd_of(places)}

    def line_step_rows(self, phases, line_build) -> tuple[np.ndarray, np.ndarray]:
        """From which foot each step of the line's price holds and the row that says so, arrays
        (n, k) [ft] and of places like those of `rows`, -1 for none."""
        n, most = len(np.asarray(phases)), len(self.of(listed.LINE)) + 1
        start, places = np.full((n, most), np.inf), np.full((n, most), -1)
        start[:, 0] = 0.0
        for phase, build, _, here in _kinds(n, phases, line_build):
            from_ft, found = self._line_steps_of(phase, build)
            start[here, :len(found)], places[here, :len(found)] = from_ft, found
        used = max(int(np.isfinite(start).sum(axis=1).max(initial=1)), 1)
        return start[:, :used], places[:, :used]

    def _line_steps_of(self, phase, build):
        """The steps of one kind of line from the first foot on, and their places."""
        def look_up():
            lines = _fits(self.of(listed.LINE), phase, build)
            lines = lines[lines["size"].isna()]
            lines = lines.assign(from_ft=lines["from_ft"].fillna(0.0))
            lines = lines.drop_duplicates("from_ft").sort_values("from_ft", kind="stable")
            from_ft = lines["from_ft"].to_numpy(float)
            places = self.sheet.index.get_indexer(lines.index)
            if not len(from_ft) or from_ft[0] != 0.0:  # feet before the first step have no price
                from_ft, places = np.append(0.0, from_ft), np.append(-1, places)
            return from_ft, places
        return self._once((listed.LINE, "steps", phase, build), look_up)

    def _with_quotation(self, item, candidate_id):
        """The candidates, None for those that have no quotation for an item; None where none has.
        """
        quoted = self._once((item, "quoted"), lambda: set(
            self._quoted.loc[self._quoted["item"] == item, "candidate_id"]))
        if candidate_id is None or not quoted:
            return None
        return [farm if farm in quoted else None for farm in np.asarray(candidate_id, object)]

    def _rows_that_fit(self, item, phase, build, farm):
        """The general rows, and in place of those of the same size a farm's quotations."""
        general = _fits(self.of(item), phase, build)
        if farm is None:
            return general
        mine = self._quoted[(self._quoted["item"] == item) & (self._quoted["candidate_id"] == farm)]
        mine = _fits(mine, phase, build)
        if mine["size"].isna().any():
            return mine
        return pd.concat([mine, general[~general["size"].isin(mine["size"])]])

    def _fitting(self, item, phase, build, farm):
        """Sizes of the rows that fit, ascending, their places, and the place of one for any
        size."""
        def look_up():
            fits = self._rows_that_fit(item, phase, build, farm)
            place = pd.Series(self.sheet.index.get_indexer(fits.index), fits.index)
            any_size = place[fits["size"].isna()]
            sized = fits[fits["size"].notna()].sort_values(["size", "price_usd"], kind="stable")
            sized = sized.drop_duplicates("size")
            return (sized["size"].to_numpy(float), place[sized.index].to_numpy(int),
                    int(any_size.iloc[0]) if len(any_size) else -1)
        return self._once((item, "sizes", phase, build, farm), look_up)

    def _once(self, key, look_up):
        if key not in self._kept:
            self._kept[key] = look_up()
        return self._kept[key]


def _kinds(n, phases, line_build, farms=None):
    """(phases, construction, farm, places) of each kind among n; a kind that is not asked for is
    None."""
    coded = [(np.full(n, -1), ()) if values is None else pd.factorize(np.asarray(values, object))
             for values in (phases, line_build, farms)]
    codes = np.column_stack([code for code, _ in coded])
    for kind in sorted(set(map(tuple, codes.tolist()))):
        yield (*(None if one < 0 else known[one] for one, (_, known) in zip(kind, coded)),
               np.flatnonzero((codes == kind).all(axis=1)))


def _fits(rows, phase, build):
    """The rows for these phases and construction; a blank fits both."""
    return rows[(rows["phases"].isna() | (rows["phases"] == phase))
                & (rows["line_build"].isna() | (rows["line_build"] == build))]
