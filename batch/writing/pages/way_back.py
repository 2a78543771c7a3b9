"""The last page of a farm's sheet: its place in the ranking, back to cells, rules and prices."""

import re
from dataclasses import replace

from batch.columns import CANDIDATES, RESULTS
from batch.study import FLOW
from batch.trail.ends import Ends
from batch.trail.farm_figures import FarmFigures
from batch.trail.lines import CELL, FIGURE, HEADINGS, Trail, line_text, trail_of

MEASURE = "incentive_usd_per_kw"
MOST_CELLS = 4  # of a figure that was looked up or solved
ZERO = re.compile(r"0(\.0+)?( .*)?")  # nothing is gained by following it
STAGE_OF = {key: place for place, stage in enumerate(FLOW) for step in stage.steps
            for key in step.makes}
MOST_IN_A_BOX = 5


class WayBack:
    """The last page of each farm of a study, made when it is asked for."""

    def __init__(self, study):
        self.study, self.ends = study, Ends(study.inputs)
        self.figures = FarmFigures(study)

    def of(self, row: int) -> dict:
        """What the template shows of the farm in an Excel row."""
        farm = str(self.study.results.at[row, "candidate_id"])
        trail = trail_of([(FIGURE, "farm", row, MEASURE)], lambda one: self._line(one, row))
        marks = {one: mark.removeprefix(f"{CANDIDATES.name}!")
                 for one, mark in trail.marks.items()}
        return {"lines": [(marks[line.id], line_text(line, marks, farm))
                          for line in trail.of(FIGURE)],
                "ends": [(marks[line.id], line_text(line, marks), line.place)
                         for kind in HEADINGS if kind != CELL for line in trail.of(kind)],
                "flow": _flow(trail)}

    def _line(self, one, row):
        if one[0] != FIGURE:
            return self.ends.line(one)
        line = self.figures.line(one)
        is_followed = (one[1:3] == ("farm", row) and line.arithmetic is not None
                       and not self._is_nothing(line))
        cells = tuple(part for part in line.parts if part[0] == CELL)
        return line if is_followed else replace(
            line, parts=cells if len(cells) <= MOST_CELLS else (), arithmetic=None)

    def _is_nothing(self, line):
        """Whether a figure is zero, and is made of zeros."""
        return ZERO.fullmatch(line.value) and all(
            ZERO.fullmatch(self.figures.line(part).value)
            for part in line.parts if part[0] == FIGURE)

    def cell_of(self, row: int, key: str) -> str:
        """Where a typed value stands on the Candidates sheet: 'S12'; what else holds, in words."""
        line = self.ends.line((CELL, CANDIDATES.name, row, key))
        if line.source.startswith("blank"):
            return "default"
        return line.place.removeprefix(f"{CANDIDATES.name}!")


def _flow(trail: Trail) -> list[dict]:
    """A box for each stage of the study: what it takes, and what later stages take from it."""
    taken = {}
    lines = {line.id: line for line in trail.lines}
    for line in trail.of(FIGURE):
        for part in line.parts:
            if part[0] == FIGURE and _stage(part) != _stage(line.id):
                taken[part] = taken.get(part, 0) + 1
    boxes = []
    for place, stage in enumerate(FLOW):
        mine = [line for line in trail.of(FIGURE) if _stage(line.id) == place]
        ends = {part for line in mine for part in line.parts if part[0] != FIGURE}
        shown = sorted((one for one in taken if _stage(one) == place and one[3] in RESULTS.by_key),
                       key=lambda one: -taken[one])[:MOST_IN_A_BOX]
        if mine:
            boxes.append({"name": stage.name, "takes": _counted(ends),
                          "gives": [(lines[one].label, lines[one].value) for one in shown]})
    return boxes


def _stage(figure):
    return STAGE_OF.get(figure[3], 0)


def _counted(ends):
    """How many ends of each kind, in words: '12 cells, 3 rules'."""
    kinds = [kind for kind, *_ in ends]
    return ", ".join(f"{kinds.count(kind)} {kind}{'' if kinds.count(kind) == 1 else 's'}"
                     for kind in HEADINGS if kind in kinds)
