"""Writes the pages of a run: the board's page, a sheet per farm, a letter per qualifying farm.
Figures come from the canonical text, as in the CSV files."""

from pathlib import Path

from batch.canonical import canonical_frame
from batch.columns import RESULTS
from batch.columns.portfolio import WITHDRAWALS
from batch.program.season import flows_of
from batch.run_names import farm_file_names
from batch.shown_text import cleaned
from batch.writing.cautions import CAUTIONS
from batch.writing.outputs import listed_ledger
from batch.writing.pages.board import board_page
from batch.writing.pages.farm_sheet import farm_page, letter_page
from batch.writing.pages.figures import rows_of
from batch.writing.pages.templates import Pages, Templates, read_templates
from batch.writing.pages.way_back import WayBack
from batch.writing.portfolio_tables import with_columns

BOARD, FARM, LETTER = "board.html", "farm.html", "offer.html"


def write_pages(study, folder: Path, fingerprint: str, farm_pages: int | None = None,
                templates: Templates | None = None):
    """Write board.html, and for so many farms, from the first row on, farms/ and offers/; None for
    all. A farm gets a letter where it is ranked.

    Errors: StudyError where a template of the user's has a fault.
    """
    pages = Pages(templates or read_templates())
    shared = _shared(study, fingerprint)
    index = study.results.index[:farm_pages]
    names = dict(zip(study.results.index, farm_file_names(study.results["candidate_id"])))
    sheets = {row: f"farms/{names[row]}.html" for row in index}
    _write(folder / BOARD, pages.render(BOARD, shared | board_page(study, sheets)))
    for name in ("farms", "offers"):
        (folder / name).mkdir()
    funded = study.results["funded"] == 1
    leaving = {row.text("candidate_id"): row for row in rows_of("withdrawals", canonical_frame(
        with_columns(study.portfolio.withdrawals, WITHDRAWALS), WITHDRAWALS.columns),
        "candidate_id")}
    funds_best = study.funding.funds_best_set
    for row, page in _farm_pages(study, index):
        name, page = f"{names[row]}.html", shared | page
        has_letter = bool(study.results.at[row, "rank"] > 0)
        _write(folder / "farms" / name,
               pages.render(FARM, page | {"file": name, "has_letter": has_letter}))
        if has_letter:
            letter = letter_page(page, is_funded=bool(funded[row]), funds_best=funds_best,
                                 leaving=leaving.get(str(study.results.at[row, "candidate_id"])),
                                 has_budget=study.inputs.study["program_budget_usd"] is not None)
            _write(folder / "offers" / name, pages.render(LETTER, letter | {"file": name}))


def _farm_pages(study, index):
    """(row, values) of each farm; checks, ledger and flows are looked up by design."""
    results = canonical_frame(study.results.loc[index], RESULTS.columns).to_dict("records")
    chosen = study.options[study.options["is_chosen"] & study.options["excel_row"].isin(index)]
    flows = list(flows_of(chosen, study.inputs).itertuples())
    starts = [k for k, flow in enumerate(flows) if flow.year == 0]
    designs = {design["excel_row"]: (key, design, flows[start:end]) for key, design, start, end in
               zip(chosen.index, chosen.to_dict("records"), starts, [*starts[1:], len(flows)])}
    checks, ledger = (_rows_by(frame[frame["design"].isin(chosen.index)], "design")
                      for frame in (study.checks, listed_ledger(study)))
    way_back = WayBack(study)
    for row, text in zip(index, results):
        key, design, mine = designs.get(row, (None, None, None))
        yield row, farm_page(study, row, text, design, checks.get(key), ledger.get(key, ()),
                             mine, way_back)


def _rows_by(frame, key):
    """The rows of a frame, as named tuples, by what a column has."""
    grouped = {}
    for row in frame.itertuples():
        grouped.setdefault(getattr(row, key), []).append(row)
    return grouped


def _shared(study, fingerprint):
    inputs = study.inputs
    return {"fingerprint": fingerprint, "cautions": CAUTIONS,
            "study_name": inputs.study["study_name"],
            "cooperative": inputs.study["cooperative_name"], "program_title": inputs.rules.title,
            "rules_year": inputs.rules.year, "study_date": inputs.study["study_date"],
            "prepared_by": inputs.study["prepared_by"]}


def _write(path: Path, text: str):
    path.write_text(cleaned(text), encoding="utf-8", newline="")
