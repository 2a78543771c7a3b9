"""What the terminal says of a list taken in."""

from pathlib import Path

from batch.adopting.adopt import ASIDE, ASKED, NOT_USED, TAKEN, UNKNOWN, Adopted
from batch.adopting.table import HEADING, TITLE
from batch.columns import CANDIDATES
from batch.shown_text import in_one_line


def adopted_text(adopted: Adopted, workbook: Path) -> str:
    """The mapping in short, counts, questions, and the next command."""
    taken = [h for h in adopted.headings if h.key]
    lines = ["Headings:"]
    lines += [f"  {in_one_line(h.head.place)} '{in_one_line(h.head.text)}' -> "
              f"{CANDIDATES.by_key[h.key].label}{f' [{h.unit}]' if h.unit else ''}: {h.why}"
              for h in taken]
    lines += [f"  {in_one_line(h.head.place)} '{in_one_line(h.head.text)}' is not taken: {h.why}"
              for h in adopted.headings if not h.key]
    aside = [(cell, why) for cell, why in adopted.aside if why not in (HEADING, TITLE)]
    for reason in dict.fromkeys(why for _, why in aside):
        places = [cell.place for cell, why in aside if why == reason]
        lines.append(f"  {places[0]}{f' and {len(places) - 1} more cells' if places[1:] else ''}: "
                     f"{reason}")
    lines += ["", f"{len(adopted.farms)} farms. {adopted.cell_count} cells: "
              f"{adopted.count(TAKEN)} taken, {adopted.count(UNKNOWN)} unknown, "
              f"{adopted.count(ASKED)} to be asked, {adopted.count(NOT_USED)} not taken, "
              f"{adopted.count(ASIDE)} headings, titles and totals.",
              f"{len(adopted.questions)} questions:"]
    lines += [f"  {n}. {q.whom}, {q.decides}: {in_one_line(q.text)}"
              for n, q in enumerate(adopted.questions, start=1)]
    return "\n".join([*lines, "", f"{workbook}: look at 'Adopted headings' and 'Questions'. Next: "
                      f"fill Rates and Unit costs, then farmbatch check {workbook}"])


def adopted_data(adopted: Adopted, workbook: Path) -> dict:
    """The same as data."""
    return {
        "workbook": str(workbook), "farms": len(adopted.farms), "cells": adopted.cell_count,
        "counts": {status: adopted.count(status)
                   for status in (TAKEN, UNKNOWN, ASKED, NOT_USED, ASIDE)},
        "headings": [{"heading": h.head.text, "place": h.head.place, "key": h.key,
                      "unit": h.unit, "why": h.why} for h in adopted.headings],
        "questions": [{"ask": q.whom, "decides": q.decides, "key": q.key, "text": q.text,
                       "farms": adopted.names(q.farms)} for q in adopted.questions]}
