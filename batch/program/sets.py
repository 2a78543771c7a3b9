"""Every set of farms that may build a shared line together, and the study of each.

What a farm of a shared line costs, whether it qualifies and what it takes hang on who else builds.
So such a farm is studied once for every set of its line's farms that it belongs to, in one pass
with the other farms: a row of its own for each, which then is to the steps as a farm.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations

import numpy as np
import pandas as pd

from batch.program.knowledge import may_be_funded
from batch.program.season import is_standing
from batch.program.set_groups import SetGroups, qualifies
from batch.tables import table

MOST_MEMBERS = 8  # of a line whose every set is studied


def by_builders(farms: pd.DataFrame, sets_of, first: int | None = None) -> pd.DataFrame:
    """A row for each farm (index `excel_row`), of a shared line for every set that it may build
    with: `builders` names the set by its rows, `farm_row` is the farm's own row, and the index is a
    number of its own for each, all from `first` on where that is given. A farm on no shared line
    stands once, without builders. `sets_of` gives the sets of a line's members, by name; farms that
    build for sure are in every set. One that is row -> phases leaves its farms only the designs of
    so many phases.
    """
    must = is_standing(farms)
    farms = farms[["candidate_id", "shared_line_id"]]
    alone = farms[farms["shared_line_id"].isna()]
    rows, builders, phases = [], [], []
    for _, line in farms[farms["shared_line_id"].notna()].groupby("shared_line_id", sort=True):
        members = list(line.sort_values("candidate_id", kind="stable").index)
        standing = [row for row in members if must[row]]
        for together in among(standing, sets_of([row for row in members if not must[row]])):
            rows += together
            builders += [name_of(together)] * len(together)
            phases += together.values() if isinstance(together, dict) else [np.nan] * len(together)
    alone = alone.assign(builders=None, farm_row=alone.index, phases=np.nan, way=None)
    if first is None:
        then = int(farms.index.max()) + 1 if len(farms) else 0
    else:
        then = first + len(alone)
        alone.index = pd.RangeIndex(first, then)
    on_lines = farms.loc[rows].assign(builders=builders, farm_row=rows, phases=phases, way=None)
    on_lines.index = pd.RangeIndex(then, then + len(rows))
    return pd.concat([alone, on_lines]).rename_axis("excel_row") if rows else alone


def designs_of_rows(designs: pd.DataFrame, rows: pd.DataFrame) -> tuple:
    """The designs of each row's farm, under the row's number and with its builders, and where each
    stands among `designs` (all variants of one farm after the other)."""
    variants = len(table("supply_variants"))
    first = {farm: at for at, farm in enumerate(designs["excel_row"].iloc[::variants])}
    of_farm = rows["farm_row"].map(first).to_numpy(int)
    variant = np.arange(variants)
    place = (of_farm[:, np.newaxis] * variants + variant).ravel()
    number = np.repeat(rows.index.to_numpy(), variants)
    out = designs.iloc[place].assign(
        excel_row=number, builders=np.repeat(rows["builders"].to_numpy(object), variants),
        farm_row=np.repeat(rows["farm_row"].to_numpy(), variants))
    return out.set_axis(number * variants + np.tile(variant, len(rows))), place


def in_parts(rows: pd.DataFrame, size: int):
    """The rows some at a time, those of a set of builders together."""
    together = rows["builders"].where(rows["builders"].notna(), rows["farm_row"].astype(str))
    part = pd.factorize(together)[0]
    starts = np.flatnonzero(np.append(True, part[1:] != part[:-1])) if len(rows) else [0]
    part_of = np.zeros(len(rows), int)
    first, now = 0, 0
    for start, end in zip(starts, [*starts[1:], len(rows)]):
        if end - first > size and start > first:
            first, now = start, now + 1
        part_of[start:end] = now
    for k in range(now + 1):
        yield rows[part_of == k]


def every_set(members: list, more=frozenset()) -> list[tuple]:
    """The sets of a line's farms that are studied: all; of a line of more than eight farms each
    farm alone, each pair, all but one, all, the first so many by name and the last, and those of
    `more`, sets of rows."""
    if len(members) <= MOST_MEMBERS:
        return [some for size in range(1, len(members) + 1)
                for some in combinations(members, size)]
    n = len(members)
    some = [(one,) for one in members] + list(combinations(members, 2))
    some += [tuple(members[:k]) for k in range(3, n + 1)]
    some += [tuple(members[k:]) for k in range(1, n - 2)]
    some += list(combinations(members, n - 1))
    some += [one for one in (tuple(row for row in members if row in rows) for rows in sorted(
        more, key=sorted)) if one]
    return list(dict.fromkeys(some))


def among(standing: list, sets: list[tuple]) -> list[tuple]:
    """Sets of a line's farms together with those that build for sure, and these alone. Of sets that
    are row -> phases, those that build for sure keep any."""
    if not standing:
        return [some for some in sets if some]
    sure = dict.fromkeys(standing, np.nan)
    return [tuple(standing), *(
        sure | some if isinstance(some, dict) else (*standing, *some) for some in sets if some)]


def whole_line(members: list) -> list[tuple]:
    """All farms of a line, as the one set that is studied."""
    return [tuple(members)]


def name_of(together) -> str:
    """The name of a set of builders: their rows in rising order, with their phases where these are
    given."""
    if isinstance(together, dict):
        return " ".join(f"{row}:{phases}" for row, phases in sorted(together.items()))
    return " ".join(map(str, sorted(together)))


def of_their_phases(designs: pd.DataFrame, rows: pd.DataFrame) -> pd.DataFrame:
    """The designs by as many phases as their set leaves to them."""
    phases = designs["excel_row"].map(rows["phases"])
    return designs[phases.isna() | (designs["service_phases"] == phases)]


@dataclass
class StudiedSets(SetGroups):
    """All farms with all their sets of builders, studied; tables by the numbers of designs.
    `judged` has the chosen option of each row with its verdict. Rows of a `way` are those of a set
    that chooses its farms' options: its figures are seen by `seen_by` of this way."""

    farms: pd.DataFrame
    designs: pd.DataFrame
    ledger: pd.DataFrame
    options: pd.DataFrame
    criteria: pd.DataFrame
    checks: pd.DataFrame
    judged: pd.DataFrame
    rules: object
    way: str | None = None

    def with_ways(self, studied: dict):
        """These sets, and behind them those of each way, by its name."""
        def together(key):
            return pd.concat([getattr(self, key), *(getattr(one, key) for one in studied.values())])

        studied = {way: replace(one, **{key: getattr(one, key).assign(way=way) for key in (
            "farms", "designs", "options", "judged")}) for way, one in studied.items()}
        return replace(self, **{key: together(key) for key in (
            "farms", "designs", "ledger", "options", "criteria", "checks", "judged")})

    def seen_by(self, way):
        """The same sets, those of a way before those of each farm's own choice; these alone where
        `way` names none."""
        way = way if isinstance(way, str) else None
        return self if way == self.way else replace(self, way=way)

    @cached_property
    def _own(self) -> pd.DataFrame:
        """The rows of each farm's own choice."""
        return self.farms[self.farms["way"].isna()]

    @cached_property
    def chosen(self) -> pd.DataFrame:
        """The chosen options with their verdicts, and whether that verdict and what is known let
        them be funded, by the numbers of the rows."""
        chosen = self.judged.rename_axis("design").reset_index().set_index("excel_row", drop=False)
        may = qualifies(chosen) & may_be_funded(chosen, self.rules)
        return chosen.assign(may_be_funded=may.astype(float))

    @cached_property
    def number_of(self) -> dict:
        """The number of a farm's row among some builders: (farm's row, name of the set)."""
        farms = pd.concat([self._own, self.farms[self.farms["way"] == self.way]])
        names = farms["builders"].where(farms["builders"].notna(), "")
        return dict(zip(zip(farms["farm_row"], names), farms.index))

    @cached_property
    def name_of_farm(self) -> dict:
        """The candidate's name by its row."""
        return dict(zip(self.farms["farm_row"], self.farms["candidate_id"]))

    @cached_property
    def first_rows(self) -> list:
        """The farms' rows, each once, in the workbook's order."""
        return sorted(self.chosen["farm_row"].unique().tolist())

    @cached_property
    def line_of(self) -> dict:
        """The shared line of each farm that has one, by its row."""
        on_line = self.farms[self.farms["builders"].notna()].drop_duplicates("farm_row")
        return dict(zip(on_line["farm_row"], on_line["shared_line_id"]))

    @cached_property
    def on_line(self) -> dict:
        """The rows of the farms of each shared line."""
        rows: dict = {}
        for farm, line in self.line_of.items():
            rows.setdefault(line, set()).add(farm)
        return rows

    @cached_property
    def standing(self) -> frozenset:
        """The rows of the farms that build for sure."""
        return frozenset(self.chosen.loc[is_standing(self.chosen), "farm_row"])

    def mates(self, farm, members) -> list:
        """The others of `members` on the farm's shared line, in rising order of their rows. Many
        members are best given as a set."""
        on_line = self.on_line.get(self.line_of.get(farm), set())
        return sorted(on_line.intersection(members) - {farm})

    def builders_in(self, farm, members) -> str:
        """The set that a farm builds its shared line with where `members` and the farms that build
        for sure do; blank for none."""
        if farm not in self.line_of:
            return ""
        return name_of({farm, *self.mates(farm, members), *self.mates(farm, self.standing)})

    @cached_property
    def limited(self) -> dict:
        """The lines of which not every set is studied: their farms' rows by the line's name."""
        return {line: farms for line, farms in self.on_line.items()
                if len(farms - self.standing) > MOST_MEMBERS}

    def near(self, funded) -> set[frozenset]:
        """The sets of limited lines with one funded farm more or fewer that were not studied."""
        near = set()
        for farms in self.limited.values():
            may = farms - self.standing
            now, sure = may & set(funded), farms & self.standing
            near |= {frozenset(now ^ {farm}) | sure for farm in may}
            near |= {frozenset(now ^ {farm, mate}) | sure for farm in may - now for mate in now}
        studied = set(self.farms["builders"].dropna())
        return {rows for rows in near if rows and name_of(rows) not in studied}

    def partners(self, farm, members) -> str | None:
        """The names of the other farms that a farm builds its line with; None where none does."""
        mates = {*self.mates(farm, members), *self.mates(farm, self.standing)}
        return ", ".join(sorted(self.name_of_farm[mate] for mate in mates)) or None

    def rows_of(self, members, keys=None) -> pd.DataFrame:
        """The chosen options of exactly these farms (rows of the workbook), as a study of a
        workbook with only them has them; of all their columns or some."""
        together = set(members)
        numbers = [self.number_of[farm, self.builders_in(farm, together)] for farm in members]
        chosen = self.chosen if keys is None else self.chosen[["excel_row", *keys]]
        return chosen.loc[numbers].assign(excel_row=list(members)).set_axis(
            pd.Index(list(members), name="excel_row"))

    def at(self, numbers: dict) -> tuple:
        """Designs, ledger, options, criteria, checks and chosen options of one row of each farm
        (farm's row -> number), under the farms' own rows and numbers of designs."""
        variants = len(table("supply_variants"))
        farm_of = {number: farm for farm, number in numbers.items()}

        def design_of(index):
            return [farm_of[n // variants] * variants + n % variants for n in index]

        def of_designs(frame):
            mine = frame[frame["excel_row"].isin(farm_of)]
            return mine.assign(excel_row=mine["excel_row"].map(farm_of).astype(int)).set_axis(
                design_of(mine.index)).sort_index(kind="stable")

        def of_rows(frame):
            mine = frame[frame["excel_row"].isin(farm_of)]
            return mine.assign(excel_row=mine["excel_row"].map(farm_of).astype(int),
                               design=design_of(mine["design"])).sort_values(
                "excel_row", kind="stable", ignore_index=True)

        options = of_designs(self.options).sort_values(["excel_row", "option_place"],
                                                       kind="stable")
        return (of_designs(self.designs), of_rows(self.ledger), options, of_rows(self.criteria),
                of_rows(self.checks), of_designs(self.judged))

    @property
    def alone(self) -> pd.DataFrame:
        """All options of the farms of shared lines, as if no other farm built but those that do for
        sure, under their own rows."""
        is_alone = self._own["builders"] == [self.builders_in(farm, ())
                                             for farm in self._own["farm_row"]]
        mine = self.options[self.options["excel_row"].isin(self._own.index[is_alone])]
        return mine.assign(excel_row=mine["excel_row"].map(self.farms["farm_row"]))

    @cached_property
    def groups(self) -> list[tuple]:
        """The farms in groups that may build together: rows and names of each, by candidate name,
        and the numbers of the rows of each set, whose binary digits tell its farms. Farms that
        build for sure are in no group."""
        farms = self._own[self._own.index.isin(self.chosen.index)
                          & ~self._own["farm_row"].isin(self.standing)].sort_values(
            "candidate_id", kind="stable")
        own = farms[farms["builders"].isna()]
        groups = [((row,), (name,), {1: [row]})
                  for row, name in zip(own["farm_row"], own["candidate_id"])]
        on_lines = farms[farms["builders"].notna()]
        for _, line in on_lines.groupby("shared_line_id", sort=True):
            first = line.drop_duplicates("farm_row")
            digit = {row: 1 << k for k, row in enumerate(first["farm_row"])}
            sets = {}
            for builders, together in line.groupby("builders", sort=False):
                if len(together) < len(set(map(int, builders.split())) - self.standing):
                    continue  # a farm of it has no option that may be chosen
                sets[sum(digit[row] for row in together["farm_row"])] = list(together.index)
            groups.append((tuple(first["farm_row"]), tuple(first["candidate_id"]),
                           dict(sorted(sets.items()))))
        return groups
