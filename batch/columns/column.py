"""What one cell means. Every header, unit, bound, choice and help text stands in a Column, once."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

KINDS = ("text", "number", "integer", "choice", "yes/no", "date")
# What a farm's cells are needed for, in the order in which a program asks for them.
SCREENING, APPROVAL, CONSTRUCTION = STAGES = ("screening", "approval", "construction")


@dataclass(frozen=True)
class ByFarm:
    """Arithmetic that hangs on the rules or on what decided for a farm: `of(row, rules)` gives it,
    blank for none; `says` tells in words what it is."""

    says: str
    of: Callable


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column of a sheet, or one key of a key-and-value sheet.

    `minimum` and `maximum` are hard bounds (outside = error); `usual` is the range seen in the
    field (outside = watch). `fuel_gas_unit` is the unit for natural gas rows, where it differs.
    `worked` is the arithmetic of a result in terms of other keys; it is printed with a farm's
    numbers and must give the reported value. Where it differs by supply option it is a tuple of
    (option, arithmetic) pairs; where it hangs on rules, a ByFarm. `made_of` has the direct parts
    of a value that has no such arithmetic, or not for every farm: keys of columns and rules, with
    blanks between; they stand in `made_of.py`. `stage` tells for which of the STAGES a farm's cell
    is needed, if for any, and `needed_where` names the farms that need it
    (`batch/program/knowledge.py`); blank for all.
    """

    key: str
    label: str
    group: str
    help: str
    kind: str = "number"
    unit: str = ""
    required: bool = False
    default: object = None
    minimum: float | None = None
    maximum: float | None = None
    usual: tuple[float, float] | None = None
    choices: tuple[str, ...] = ()
    decimals: int = 2
    aliases: tuple[str, ...] = ()
    source: str = ""
    fuel_gas_unit: str = ""
    worked: str | tuple[tuple[str, str], ...] | ByFarm = ""
    made_of: str = ""
    example: object = None
    stage: str = ""
    needed_where: str = ""

    def __post_init__(self):
        if self.kind not in KINDS:
            raise ValueError(f"{self.key}: unknown kind {self.kind!r}")
        if (self.kind == "choice") != bool(self.choices):
            raise ValueError(f"{self.key}: choices go with the kind 'choice'")

    @property
    def header(self) -> str:
        """The header as it is printed: label and unit."""
        if not self.unit:
            return self.label
        gas = f" or {self.fuel_gas_unit}" if self.fuel_gas_unit else ""
        return f"{self.label} [{self.unit}{gas}]"

    def worked_for(self, row, rules) -> str:
        """The arithmetic that holds for a row of the options; blank where there is none."""
        if isinstance(self.worked, ByFarm):
            return self.worked.of(row, rules)
        if isinstance(self.worked, str):
            return self.worked
        return dict(self.worked).get(row["supply_option"], "")

    @property
    def worked_says(self) -> tuple[str, ...]:
        """The arithmetic as it is listed: one for all farms, or for each supply option with any."""
        if isinstance(self.worked, ByFarm):
            return (self.worked.says,)
        if isinstance(self.worked, str):
            return (self.worked,) if self.worked else ()
        return tuple(f"{option}: {text}" for option, text in self.worked if text)

    @property
    def stage_words(self) -> str:
        """For what a farm's cell is needed, as its header's help says it."""
        if self.stage:
            where = f" ({self.needed_where})" if self.needed_where else ""
            return f"Needed for {self.stage}{where}."
        if self.default is not None:
            return "Needed for no stage: fill it where you know better than the default."
        return "Needed for no stage: fill it where you know it."

    @property
    def is_numeric(self) -> bool:
        return self.kind in ("number", "integer")


def output_text(key, label, text, source="", **more) -> Column:
    """A column of text in an output; `text` is its help."""
    return Column(key=key, label=label, group="", kind="text", help=text, source=source, **more)


def output_value(key, label, unit, decimals, text, source="", worked="") -> Column:
    """A column of numbers in an output; `text` is its help."""
    return Column(key=key, label=label, group="", unit=unit, decimals=decimals, help=text,
                  source=source, worked=worked)


def grouped(group: str, *columns: Column) -> tuple[Column, ...]:
    """The columns with the name of the group that they stand in."""
    return tuple(replace(column, group=group) for column in columns)


@dataclass(frozen=True)
class Sheet:
    """One sheet of the input workbook: a table of rows, or a list of keys and values. On a sheet
    that `has_stages` each column says for which stage it is needed."""

    name: str
    columns: tuple[Column, ...]
    help: str
    is_table: bool = True
    required: bool = True
    has_stages: bool = False
    by_key: dict = field(init=False, repr=False, compare=False)

    def __post_init__(self):
        by_key = {column.key: column for column in self.columns}
        if len(by_key) != len(self.columns):
            raise ValueError(f"sheet {self.name}: a key stands twice")
        object.__setattr__(self, "by_key", by_key)
