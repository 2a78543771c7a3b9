"""Steps and stages: each step declares what it needs and makes, and is given no more than that.

A step is a function of one frame, which it returns with more columns. What it declares stands
above it as data, for the loop that runs it, for tests and for the developers' page.
"""

import inspect
import re
from dataclasses import dataclass, replace
from functools import update_wrapper

import pandas as pd


class Undeclared(Exception):
    """A step reads or makes something else than it declares: a fault of the program."""


@dataclass(frozen=True)
class Stage:
    """Steps that run one after the other on the same table, of one `row` each; `repeats` says in
    words whether and until when they run again."""

    name: str
    row: str
    steps: tuple
    repeats: str = ""


class Step:
    """A step with its declaration: `needs` and `makes` are columns of the frame, `rules` keys of
    the rules, `takes` the function's other arguments, `gives` what it returns beside the frame.

    `anew` are those of the made columns that stood in the frame before, and mean no longer the
    same. `rows_of` names the made column that tells of which row of the frame each new row is.
    """

    def __init__(self, function, needs, rules, makes, anew, gives, rows_of):
        update_wrapper(self, function)
        self.function, self.name = function, function.__name__
        self.room = function.__module__.rpartition(".")[0].rpartition(".")[2]
        self.needs, self.rules, self.makes = needs, rules, (*makes, *anew)
        self.anew, self.gives = anew, gives
        self.takes = tuple(inspect.signature(function).parameters)[1:]
        self.rows_of = rows_of

    @property
    def does(self) -> str:
        """What it does, in the first sentence of its docstring."""
        return " ".join(inspect.getdoc(self.function).split()).split(". ")[0].rstrip(".")

    def __call__(self, frame, *others, **named):
        """The whole frame with what the step makes of the columns that it needs; where it gives
        more, a tuple with that behind it."""
        given = dict(zip(self.takes, others)) | named
        if "rules" in given:
            given["rules"] = self._declared(given["rules"])
        if "inputs" in given:
            given["inputs"] = replace(given["inputs"], rules=self._declared(given["inputs"].rules))
        for key in self.needs:
            if key not in frame:
                raise Undeclared(f"{self.name} needs the column '{key}', which nothing has made")
        needed = frame[list(self.needs)]
        try:
            out = self.function(needed, **given)
        except (KeyError, AttributeError) as fault:
            told = set(re.findall(r"\w+", str(fault)))
            for key in told & set(frame.columns.difference(self.needs)):
                raise Undeclared(f"{self.name} reads the column '{key}' and does not declare that "
                                 "it needs it") from fault
            raise
        out, *more = out if self.gives else (out,)
        whole = self._joined(frame, needed, out.to_frame() if isinstance(out, pd.Series) else out)
        return (whole, *more) if more else whole

    def _declared(self, rules):
        return replace(rules, by_key=_Declared(self, rules.by_key))

    def _joined(self, frame, needed, out):
        if self.rows_of:
            rows = out[self.rows_of].to_numpy()
            frame, needed = (part.loc[rows].set_axis(out.index) for part in (frame, needed))
        elif not out.index.equals(frame.index):  # the step keeps some of the rows
            frame, needed = frame.loc[out.index], needed.loc[out.index]
        others = [key for key in out if key not in self.makes]
        if not out[others].equals(needed.reindex(columns=others)):
            key = next(key for key in others
                       if key not in needed or not out[key].equals(needed[key]))
            raise Undeclared(f"{self.name} makes the column '{key}' and does not declare it")
        for key in self.makes:
            if key not in out:
                raise Undeclared(f"{self.name} declares the column '{key}' and does not make it")
        stood = [key for key in self.makes if key in frame]
        kept = frame.drop(columns=stood) if stood else frame
        return pd.concat([kept, out[list(self.makes)].copy()], axis=1)  # a copy is in one piece


class _Declared(dict):
    """The rules that a step declares; to ask for another one is an error."""

    def __init__(self, step, by_key):
        super().__init__((key, by_key[key]) for key in step.rules)
        self.step, self.whole = step, by_key

    def __missing__(self, key):
        raise Undeclared(f"{self.step.name} reads the rule '{key}' and does not declare it")

    def __contains__(self, key):
        return super().__contains__(key) or (key in self.whole and self.__missing__(key))


def step(*, needs="", rules="", makes="", anew="", gives="", rows_of=None):
    """Declare a function as a step; each argument is a text of names with blanks between them."""
    return lambda function: Step(function, *(tuple(dict.fromkeys(names.split())) for names in (
        needs, rules, makes, anew, gives)), rows_of)


def run(steps, frame, at_hand: dict):
    """The frame after all steps. `at_hand` has what they take, by name; what they give beside the
    frame is added to it."""
    for one in steps:
        out = one(frame, **{name: at_hand[name] for name in one.takes})
        frame, *more = out if one.gives else (out,)
        at_hand.update(zip(one.gives, more))
    return frame


def drawing(stages) -> list[str]:
    """The flow as lines of a table: each step with the rooms that its columns come from."""
    lines = ["| stage | row | room | step | what it does | columns from | makes |",
             "| --- | --- | --- | --- | --- | --- | --- |"]
    maker = {}
    for stage in stages:
        title = f"{stage.name}; {stage.repeats}" if stage.repeats else stage.name
        for one in stage.steps:
            came = [maker.get(key, "workbook") for key in one.needs]
            rooms = ", ".join(f"{room} {came.count(room)}" for room in dict.fromkeys(came))
            more = f" and {len(one.makes) - 3} more" if len(one.makes) > 3 else ""
            lines.append(f"| {title} | {stage.row} | `{one.room}/` | `{one.name}` "
                         f"| {one.does} | {rooms} | {', '.join(one.makes[:3])}{more} |")
            title = ""  # once for each stage
            maker |= dict.fromkeys(one.makes, one.room)
    return lines
