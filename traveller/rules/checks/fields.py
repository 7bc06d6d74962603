"""What does a kind of check read from the workbook's row? Each column declared once: how it is read, kept and written.

From a kind's fields follow its columns, the reading of a row, the row written again, what cells of a spreadsheet hold
(a number, a whole number, yes or no, text), and the reference of the workbook.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar, Generic, Literal, TypeVar

from traveller.rules.checks.columns import CheckCells, plain
from traveller.rules.checks.degrees import DEGREES_WANTED, Length, degrees, dump_degrees, length
from traveller.rules.checks.limits import Limits
from traveller.rules.checks.quantities import Quantity

__all__ = [
    "Amount",
    "CellReader",
    "Degrees",
    "Duration",
    "Field",
    "OneOf",
    "Phrase",
    "Ticked",
    "Unit",
    "Whole",
    "collected",
    "limit_fields",
]

V = TypeVar("V")
# What a cell of a spreadsheet holds; `text` stays as it was typed.
Cell = Literal["number", "whole", "yes", "text"]


class CellReader(ABC, Generic[V]):
    """How a cell is read and written again; `wanted` says what would be right, `quantity` what its units measure."""

    cell: ClassVar[Cell] = "text"
    empty: ClassVar[Any] = None
    wanted: str = ""
    quantity: Quantity | None = None

    def read(self, row: CheckCells, column: str, unit: str) -> V | None:
        """The cell's value; `empty` where nothing stands in it, None where it is wrong, and named in the row.

        `unit` is what the row says in its column unit.
        """
        return self._read(row, column, unit) if row.text(column) else self.empty

    def write(self, value: V) -> str:
        """The cell again."""
        return self._write(value)

    @property
    def allowed(self) -> tuple[str, ...]:
        """The words that a cell may hold; empty where they are no closed list."""
        return self._allowed()

    @abstractmethod
    def _read(self, row: CheckCells, column: str, unit: str) -> V | None: ...

    def _write(self, value: V) -> str:
        return str(value)

    def _allowed(self) -> tuple[str, ...]:
        return ()


@dataclass(frozen=True)
class Amount(CellReader[Decimal]):
    """A decimal, in the row's unit where `wanted` says {unit}; not below `least`, or more than nothing."""

    cell: ClassVar[Cell] = "number"
    wanted: str = "a number ({unit})"
    least: Decimal | None = None
    above_zero: bool = False

    def _read(self, row: CheckCells, column: str, unit: str) -> Decimal | None:
        wanted = self.wanted.format(unit=unit)
        found = row.number(column, wanted, least=self.least)
        if found is not None and self.above_zero and found <= 0:
            row.wrong(column, wanted)
            return None
        return found

    def _write(self, value: Decimal) -> str:
        return plain(value)


@dataclass(frozen=True)
class Whole(CellReader[int]):
    """A whole number of `least` or more."""

    cell: ClassVar[Cell] = "whole"
    wanted: str = "a whole number, 1 or more"
    least: int = 1

    def _read(self, row: CheckCells, column: str, unit: str) -> int | None:
        return row.whole(column, self.wanted, least=self.least)


@dataclass(frozen=True)
class Ticked(CellReader[bool]):
    """Yes or no; empty is no."""

    cell: ClassVar[Cell] = "yes"
    empty: ClassVar[bool] = False
    wanted: str = "yes or no"

    def _read(self, row: CheckCells, column: str, unit: str) -> bool:
        return row.yes(column)

    def _write(self, value: bool) -> str:
        return "yes" if value else "no"

    def _allowed(self) -> tuple[str, ...]:
        return ("yes", "no")


@dataclass(frozen=True)
class Phrase(CellReader[str]):
    """Words on one line."""

    empty: ClassVar[str] = ""
    wanted: str = ""

    def _read(self, row: CheckCells, column: str, unit: str) -> str:
        return row.text(column)


@dataclass(frozen=True)
class Unit(CellReader[str]):
    """A unit: one of those that the field takes, in its usual form; without any word of its own any word."""

    empty: ClassVar[str] = ""
    wanted: str = ""
    quantity: Quantity | None = None
    units: tuple[str, ...] = ()

    def _read(self, row: CheckCells, column: str, unit: str) -> str | None:
        found = row.text(column)
        if not self.allowed:
            return found
        known = self.quantity.unit(found) if self.quantity else None
        for word in self.allowed:
            if word == known or word.casefold() == found.casefold():
                return word
        row.wrong(column, " or ".join(self.allowed), f"is no unit of {self.quantity.name}" if self.quantity else "")
        return None

    def _allowed(self) -> tuple[str, ...]:
        return self.units or (tuple(self.quantity.units) if self.quantity else ())


@dataclass(frozen=True)
class OneOf(CellReader[str]):
    """One word of a closed list, in any case."""

    words: tuple[str, ...] = ()

    def _read(self, row: CheckCells, column: str, unit: str) -> str | None:
        found = row.text(column)
        for word in self.words:
            if word.casefold() == found.casefold():
                return word
        row.wrong(column, " or ".join(self.words))
        return None

    def _allowed(self) -> tuple[str, ...]:
        return self.words


@dataclass(frozen=True)
class Degrees(CellReader[Limits]):
    """A temperature with C or F behind it; `range_` says whether it may have a from and a to."""

    wanted: str = DEGREES_WANTED
    range_: bool = True

    def _read(self, row: CheckCells, column: str, unit: str) -> Limits | None:
        found = degrees(row, column, self.wanted)
        if found is not None and not self.range_ and found.most is not None:
            row.wrong(column, self.wanted)
            return None
        return found

    def _write(self, value: Limits) -> str:
        return dump_degrees(value)


@dataclass(frozen=True)
class Duration(CellReader[Length]):
    """A length of time with its unit behind it."""

    wanted: str = "a time with its unit: 90 s, 2 min, 1.5 h"

    def _read(self, row: CheckCells, column: str, unit: str) -> Length | None:
        return length(row, column, self.wanted)

    def _write(self, value: Length) -> str:
        return value.words()


@dataclass(frozen=True)
class Field:
    """One column of a kind: how it is read, what it means in one sentence, and what an empty cell stands for.

    `unit` says in words in which unit the figure is; `keeps` is the attribute of the parameters that holds it, by
    default the column's own name; `within` the one that holds it together with others, as limits hold least and most;
    `longest` is the most characters of a text.
    """

    name: str
    reader: CellReader[Any]
    meaning: str
    default: str = ""
    unit: str = ""
    needed: bool = False
    keeps: str = ""
    within: str = ""
    longest: int = 40

    @property
    def allowed(self) -> tuple[str, ...]:
        """The words that a cell may hold; empty where they are no closed list."""
        return self.reader.allowed

    def written(self, params: object) -> str:
        """The cell for these parameters; empty where they say nothing of it."""
        held: Any = getattr(params, self.within) if self.within else params
        value = getattr(held, self.keeps or self.name)
        return "" if value is None else self.reader.write(value)


def limit_fields(what: str, within: str, unit: Field) -> tuple[Field, Field, Field]:
    """The columns least, most and unit of `what` ("time in the dryer"), kept as Limits in the attribute `within`."""
    amount = Amount(least=Decimal(0))
    return (
        Field("least", amount, f"The least {what}.", unit="as in unit", within=within),
        Field("most", amount, f"The most {what}.", unit="as in unit", within=within),
        unit,
    )


def collected(fields: Sequence[Field], raw: Mapping[str, str]) -> tuple[CheckCells, dict[str, Any]]:
    """The row with all that cannot be used in it, and the values by column; the unit first, since others name it."""
    row = CheckCells(raw, {field.name: field.default for field in fields if field.default})
    found: dict[str, Any] = {}
    for field in sorted(fields, key=lambda one: not isinstance(one.reader, Unit)):
        unit = str(found.get("unit") or "")
        known = len(row.errors)
        found[field.name] = field.reader.read(row, field.name, unit)
        if field.needed and not row.text(field.name) and len(row.errors) == known:
            row.wrong(field.name, (field.reader.wanted or " or ".join(field.allowed)).format(unit=unit))
    places = [field.name for field in fields]
    row.errors.sort(key=lambda error: places.index(error.column))
    return row, found
