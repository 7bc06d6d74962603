"""What a column is, and the parsers that only one sheet needs."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from traveller.exchange.workbook.cells import (
    Parser,
    Reads,
    dump_words,
    read_decimal,
    read_line,
    read_whole,
    slug,
    yes_no,
)
from traveller.exchange.workbook.numbers import BadCell
from traveller.exchange.workbook.raw import DecimalMark, Raw
from traveller.exchange.workbook.stored import Stored
from traveller.rules.checks import COLUMNS as PARAMETER_COLUMNS
from traveller.rules.checks import PARAMETERS_READ
from traveller.rules.checks.fields import Field
from traveller.rules.shifts import ShiftError, parse_shifts

PACK: Final = "pack"
Saved = str | int | Decimal | dt.date | None


@dataclass(frozen=True, slots=True)
class Column:
    """One column: `field` is the record's attribute, `default` stands for a blank cell when it is not needed.

    `meaning`, `takes`, `unit`, `words` (where only these are allowed) and `example` are for whoever fills the sheet;
    `stored` says where the value lives, and is None for what a check's kind reads (it lies in the check's parameters).
    """

    name: str
    parse: Parser
    needed: bool = False
    default: object = ""
    field: str = ""
    also: tuple[str, ...] = ()
    dump: Callable[[Any], Saved] | None = None
    was: str = ""
    meaning: str = ""
    takes: str = ""
    unit: str = ""
    words: tuple[str, ...] = ()
    example: str = ""
    stored: Stored | None = None

    @property
    def attribute(self) -> str:
        """The name under which a row's record keeps the value."""
        return self.field or self.name


_SHIFT_FAULTS: Final = {
    "no_times": "names days without their times",
    "overlap": "has shifts that overlap",
}


def shifts(cell: Raw, mark: DecimalMark) -> str:
    """A week's shifts as text that the rules can read. Raises BadCell."""
    text = str(read_line()(cell, mark))
    found = parse_shifts(text)
    if isinstance(found, ShiftError):
        raise BadCell(_SHIFT_FAULTS.get(found.why, "is not a list of shifts"), "write for example Mo-Fr 08:00-16:30")
    return text


def step_or_pack(cell: Raw, mark: DecimalMark) -> int | None:
    """A step's number; None for what is added at packing. Raises BadCell."""
    if isinstance(cell, str) and cell.strip().casefold() in {PACK, "packing"}:
        return None
    try:
        step = STEP(cell, mark)
    except BadCell:
        raise BadCell("is neither a step nor pack", "write the step's number, such as 20, or pack") from None
    assert isinstance(step, int)
    return step


def per(cell: Raw, mark: DecimalMark) -> int:
    """The pieces that a quantity is for: 1 or 1000. Raises BadCell."""
    found = read_whole()(cell, mark)
    if found not in (1, 1000):
        raise BadCell("is neither 1 nor 1000", "write 1, or 1000 for a quantity per thousand pieces")
    assert isinstance(found, int)
    return found


def percent_of(parse: Reads) -> Reads:
    """Percentages are kept as whole parts per million, so four decimals is all there is."""

    def exact(cell: Raw, mark: DecimalMark) -> Decimal:
        found = parse(cell, mark)
        assert isinstance(found, Decimal)
        if found * 10_000 % 1:
            raise BadCell("has more than 4 decimals", "round it")
        return found

    return Reads(exact, parse.takes)


def _as_parameter(parse: Parser) -> Parser:
    """A check's parameter is kept as text: its kind in the rules says what it means."""

    def as_text(cell: Raw, mark: DecimalMark) -> str:
        value = parse(cell, mark)
        if isinstance(value, bool):
            return "yes" if value else "no"
        return format(value, "f") if isinstance(value, Decimal) else str(value)

    return as_text


# By what the rules say that a cell of the field holds; text stays as it was typed ("75-88 C").
_BY_CELL: Final[Mapping[str, Parser]] = {
    "number": _as_parameter(read_decimal()),
    "whole": _as_parameter(read_whole()),
    "yes": _as_parameter(yes_no),
}
SITE = slug(24)
STEP = read_whole(1, 9_990)
PERCENT = percent_of(read_decimal(Decimal(0), Decimal(100)))
COUNT = read_whole(1, 10_000_000)
POSITIVE = read_decimal(above=Decimal(0))


def step_or_pack_out(value: object) -> Saved:
    """A step's number as it is; `pack` for None."""
    return PACK if value is None else int(str(value))


def _number_out(value: object) -> Saved:
    """A parameter's text as the number that it is: "3.125" as text could be read in two ways."""
    text = str(value)
    return Decimal(text) if text[:1].isdecimal() or text[:1] == "-" else text


def words_out(value: object) -> Saved:
    """A tuple of words as one cell's text."""
    assert isinstance(value, tuple)
    return dump_words(value)


# What columns of a check were called in earlier workbooks.
_WAS: Final[Mapping[str, str]] = {"inspected": "pieces"}


def _parameter(field: Field) -> Column:
    """A field of a kind of check as a column."""
    is_number = field.reader.cell in ("number", "whole")
    parse = _BY_CELL.get(field.reader.cell, read_line(field.longest))
    return Column(field.name, parse, dump=_number_out if is_number else None, was=_WAS.get(field.name, ""))


PARAMETERS: Final = tuple(_parameter(PARAMETERS_READ[name]) for name in PARAMETER_COLUMNS)
