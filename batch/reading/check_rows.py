"""Rules that need several cells of a row, or another sheet: names, references, what is missing."""

import pandas as pd

from batch.columns import CANDIDATES, FEEDERS, RATES, SHARED_LINES, UNIT_COSTS
from batch.columns.candidates import ENGINES, GENERATOR, ROTARY
from batch.columns.column import Sheet
from batch.columns.unit_costs import LINE, LINE_FIXED
from batch.findings import ERROR, Findings
from batch.reading.cell_text import looks_of_name
from batch.reading.defaults import Defaults
from batch.reading.header import HeaderCell, closest
from batch.reading.sheet_cells import SheetCells, letters_of
from batch.tables import table


def check_quotations(unit_costs: pd.DataFrame, candidates: pd.DataFrame,
                     cells: SheetCells | None, findings: Findings):
    """A watch on each price for one candidate that no candidate can have."""
    letter = letters_of(cells).get("candidate_id", "")
    known = set(candidates["candidate_id"].dropna())
    for row, quoted in unit_costs[unit_costs["candidate_id"].notna()].iterrows():
        name, near = quoted["candidate_id"], ""
        if quoted["item"] in (LINE, LINE_FIXED):
            why = f"'{quoted['item']}' has one price for all candidates"
        elif name not in known:
            why, near = f"no candidate is called '{name}'", closest(name, known) or ""
        else:
            continue
        findings.add("quotation-unused", f"{UNIT_COSTS.name}!{letter}{row}: {why}, and the row "
                     "prices nothing." + (f" Closest is '{near}'." if near else ""),
                     sheet=UNIT_COSTS.name, row=int(row), column=letter, key="candidate_id",
                     value=name, limit=near)


def repeated_names(names: pd.Series, sheet: Sheet, header: HeaderCell | None, findings: Findings):
    """An error on each later row of a name that an earlier row of the sheet has, or one that
    looks the same."""
    first_of: dict[str, tuple[int, str]] = {}
    for row, name in names.items() if header else ():
        if name is None:
            continue
        first, same = first_of.setdefault(looks_of_name(name), (row, name))
        if first != row:
            how = "as row" if name == same else (
                f"which differs from '{same}' in case, width, blanks, composed or invisible "
                "characters alone; row")
            findings.add(
                "id-repeated", f"{sheet.name}!{header.letter}{row}: {header.column.label} is "
                f"'{name}', {how} {first} already is.", sheet=sheet.name, row=row,
                column=header.letter, key=header.key, value=name, limit=f"row {first}",
                candidate_id=name if sheet is CANDIDATES else "")


def check_references(candidates: pd.DataFrame, rates: pd.DataFrame, feeders: pd.DataFrame,
                     shared_lines: pd.DataFrame, cells: dict[str, SheetCells],
                     findings: Findings, defaults: Defaults, unread: set[str]) -> pd.DataFrame:
    """The candidates with the only rate filled in where theirs is blank, which is told with their
    defaults.

    A name that its sheet does not list, or whose row there has an error, is an error of the
    candidate; an unlisted feeder is worth a watch, where there is a Feeders sheet. Names of
    sheets that could not be read whole are not looked for.
    """
    row_cells = RowCells(candidates, cells[CANDIDATES.name], findings)
    if RATES.name not in unread:
        candidates = _fill_only_rate(candidates, rates, row_cells, defaults)
    for key, table, sheet in (("rate_id", rates, RATES),
                              ("shared_line_id", shared_lines, SHARED_LINES)):
        faulty = _faulty_names(table[key], sheet, findings)
        known = set(table[key].dropna())
        for row, name in candidates[key].dropna().items() if sheet.name not in unread else ():
            if name not in known:
                _unknown_name(row_cells, "reference-unknown", row, key, name, known, sheet)
            elif name in faulty:
                row_cells.add("reference-faulty", row, key, f"names '{name}', whose row "
                              f"{faulty[name]} on the {sheet.name} sheet has an error.")
    _check_line_use(candidates, shared_lines, row_cells)
    known = set(feeders["feeder_id"].dropna())
    if known:
        for row, name in candidates["feeder_id"].dropna().items():
            if name not in known:
                _unknown_name(row_cells, "feeder-unknown", row, "feeder_id", name, known, FEEDERS)
    return candidates


def _check_line_use(candidates, shared_lines, row_cells):
    """A farm leaves its shared line at its end or before, and its own line comes on top of it."""
    c = candidates
    lines = shared_lines.drop_duplicates("shared_line_id").set_index("shared_line_id")
    there_is = {phases: c["shared_line_id"].map(lines[f"shared_{phases}_phase_ft"])
                for phases in ("single", "three")}
    for row in c.index[c["shared_line_use_ft"] > there_is["single"]]:
        row_cells.add("line-use-exceeds", row, "shared_line_use_ft",
                      f"is {c.loc[row, 'shared_line_use_ft']:,.0f} ft; the line "
                      f"'{c.loc[row, 'shared_line_id']}' has {there_is['single'][row]:,.0f} ft.",
                      limit=f"{there_is['single'][row]:g}")
    unused_ft = (there_is["single"] - c["shared_line_use_ft"]).fillna(0.0)
    own_ft = {phases: c[f"{phases}_phase_distance_ft"] for phases in there_is}
    used_ft = {phases: there_is[phases] - unused_ft for phases in there_is}
    for phases, other in (("single", "three"), ("three", "single")):
        own, used = own_ft[phases], used_ft[phases]
        # A spur is as long for either line: one shorter than the other shared line is a spur.
        is_spur = (own == own_ft[other]) & (own < used_ft[other])
        for row in c.index[(used > 0) & (own >= used) & (own <= 2 * used) & ~is_spur]:
            row_cells.add("line-counted-twice", row, f"{phases}_phase_distance_ft",
                          f"is {own[row]:,.0f} ft, and the farm uses {used[row]:,.0f} ft of the "
                          f"shared line '{c.loc[row, 'shared_line_id']}' besides; both are paid "
                          "for.", limit=f"{used[row]:g}")


def _fill_only_rate(candidates, rates, row_cells, defaults):
    key = "rate_id"
    is_blank = candidates[key].isna()
    names = rates[key].dropna().unique()
    if len(names) == 1 and len(rates) == 1:
        for row in candidates.index[is_blank]:
            defaults.take(row, CANDIDATES.by_key[key], names[0])
        if is_blank.any():
            candidates = candidates.assign(**{key: candidates[key].where(~is_blank, names[0])})
        return candidates
    for row in candidates.index[is_blank]:
        if not row_cells.is_faulty(row, key):
            row_cells.add("value-missing", row, key,
                          f"is blank, and the Rates sheet holds {len(rates)} rates.",
                          limit=", ".join(names))
    return candidates


def _unknown_name(row_cells, slug, row, key, name, known, sheet: Sheet):
    near = closest(name, known)
    hint = f" Closest is '{near}'." if near else ""
    row_cells.add(slug, row, key, f"is '{name}', which the {sheet.name} sheet does not list."
                  + hint, limit=", ".join(sorted(known)[:20]))


def _faulty_names(names: pd.Series, sheet: Sheet, findings: Findings) -> dict[str, int]:
    """Name -> the row of that name that has an error."""
    rows = findings.rows_with_errors(sheet.name)
    return {name: row for row, name in names.items() if row in rows and name is not None}


class RowCells:
    """Places of candidate cells by Excel row and key, for findings about them."""

    def __init__(self, candidates: pd.DataFrame, cells: SheetCells, findings: Findings):
        self.ids = candidates["candidate_id"].to_dict()
        self.headers = {header.key: header for header in cells.headers if header.column}
        self.raw = {row: values for row, values in cells.rows}
        self.findings = findings
        self.unread = {h.key for h in cells.headers if not h.has_known_unit}
        self.faulty = {(f["row"], f["key"]) for f in findings.rows
                       if f["sheet"] == CANDIDATES.name and f["severity"] == ERROR}

    def letter(self, key: str) -> str:
        return self.headers[key].letter if key in self.headers else ""

    def is_faulty(self, row: int, key: str) -> bool:
        """True where the cell already has an error, or its header, so that its blank is not one
        more."""
        return (row, key) in self.faulty or key in self.unread

    def add(self, slug: str, row: int, key: str, text: str, limit=""):
        """Add a finding about a candidate's cell."""
        label = CANDIDATES.by_key[key].label
        place = (f"{CANDIDATES.name}!{self.letter(key)}{row}: {label}" if self.letter(key)
                 else f"{CANDIDATES.name}, row {row}: {label} (for which there is no column)")
        value = self.raw[row][self.headers[key].index] if key in self.headers else None
        self.findings.add(slug, f"{place} {text}", sheet=CANDIDATES.name, row=row,
                          column=self.letter(key), key=key, value=value, limit=limit,
                          candidate_id=self.ids.get(row) or "")


def check_candidate_rows(candidates: pd.DataFrame, cells: SheetCells, findings: Findings):
    """What a row lacks, given its other cells. No physics: that is checked on computed values."""
    row_cells = RowCells(candidates, cells, findings)
    power = candidates["present_power"]
    is_fuelled = power.isin([*ENGINES, GENERATOR])
    missing = candidates.isna()

    depth_and_hours = ("gross_depth_in", "season_hours")
    _need(row_cells, missing["gross_depth_in"] & missing["season_hours"], "depth-or-hours-missing",
          depth_and_hours, "is blank, and so are the season hours.")
    _need(row_cells, is_fuelled & missing["fuel_price_usd"], "fuel-price-missing",
          ("fuel_price_usd",), "is blank, and the farm burns fuel.")
    _need(row_cells, (candidates["pipe_length_ft"] > 0) & missing["pipe_diameter_in"],
          "pipe-diameter-missing", ("pipe_diameter_in",), "is blank, and there is a pipe.")
    _need(row_cells, (power == ROTARY) & missing["present_demand_kw"], "present-demand-missing",
          ("present_demand_kw",), "is blank, and the farm runs on a rotary converter.")
    _need(row_cells, is_fuelled & (candidates["engine_replacement_usd"] > 0)
          & missing["engine_remaining_yr"], "engine-life-missing", ("engine_remaining_yr",),
          "is blank, and the engine's price is given.")
    _design_fits(row_cells, candidates)


def _design_fits(row_cells, candidates):
    """A design is one of the supply option that the row asks for."""
    variants = table("supply_variants")
    of_option = variants.groupby("supply_option", sort=False)["variant"].agg(list)
    for row, asked in candidates[candidates["supply_design"].notna()].iterrows():
        fitting = of_option.get(asked["supply_option"])
        if fitting is None:
            text = "is given, and the row asks for no supply option of which it is one."
        elif asked["supply_design"] in fitting:
            continue
        else:
            text = (f"is none of {asked['supply_option']}, which is built by: "
                    f"{', '.join(fitting)}.")
        if not row_cells.is_faulty(row, "supply_option"):
            row_cells.add("supply-design-unfit", row, "supply_design", text)


def _need(row_cells: RowCells, lacks: pd.Series, slug: str, keys: tuple[str, ...], text: str):
    """Add a finding on the first key's cell, unless one of the keys is faulty already."""
    for row in lacks.index[lacks]:
        if not any(row_cells.is_faulty(row, key) for key in keys):
            row_cells.add(slug, row, keys[0], text)
