"""What a sheet is: a record whose fields are its columns, each declared in one place."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar, dataclass_transform

from traveller.exchange.workbook.cells import Parser, Reads
from traveller.exchange.workbook.columns import Column, Saved
from traveller.exchange.workbook.dates import to_date
from traveller.exchange.workbook.stored import Ids, Stored

__all__ = [
    "Row",
    "Sheet",
    "column",
    "headings",
    "key_names",
    "load_row",
    "record_of_columns",
    "sheet_of",
    "stored_values",
]

T = TypeVar("T")
_NEEDED: Any = object()
_TAKES: Mapping[Parser, str] = {to_date: "a day: 2026-12-24, 24.12.2026 or 24 Dec 2026"}


def column(
    parse: Parser,
    meaning: str,
    stored: Stored,
    example: str,
    *,
    default: object = _NEEDED,
    name: str = "",
    unit: str = "",
    takes: str = "",
    also: tuple[str, ...] = (),
    was: str = "",
    dump: Callable[[Any], Saved] | None = None,
) -> Any:
    """One column of a sheet: a field of its record.

    `meaning`: one sentence for whoever fills the sheet; `example`: a cell as it may be typed, other than the default.
    `default` stands for a blank cell; without it every row needs the cell. `name`: the heading where a field cannot
    bear it; `also`: other headings that mean the same; `was`: a heading of earlier workbooks, answered by name.
    """
    needed = default is _NEEDED
    found = Column(
        name=name,
        parse=parse,
        needed=needed,
        default="" if needed else default,
        also=also,
        dump=dump,
        meaning=meaning,
        stored=stored,
        example=example,
        unit=unit,
        takes=takes or _TAKES.get(parse) or (parse.takes if isinstance(parse, Reads) else ""),
        words=parse.words if isinstance(parse, Reads) else (),
        was=was,
    )
    return field(metadata={"column": found}) if needed else field(default=default, metadata={"column": found})


@dataclass_transform(kw_only_default=True, frozen_default=True, field_specifiers=(column, field))
def record_of_columns(cls: type[T]) -> type[T]:
    """A frozen dataclass, its fields by name."""
    return dataclass(frozen=True, slots=True, kw_only=True)(cls)


@record_of_columns
class Row:
    """What every row has: its number as the person sees it, which is no part of what is said."""

    row: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet: its record, its columns in order, and the fields by which a row is known."""

    name: str
    about: str
    record: Callable[..., Row]
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    needed: bool = False
    parameters: tuple[Column, ...] = ()

    @property
    def dates(self) -> tuple[str, ...]:
        """The fields that move when a workbook is moved in time."""
        return tuple(each.attribute for each in self.columns if each.parse is to_date)

    @property
    def all_columns(self) -> tuple[Column, ...]:
        """The columns as they are written out; a check's parameters stand before its source."""
        return (*self.columns[:-1], *self.parameters, self.columns[-1]) if self.parameters else self.columns

    def is_key(self, column: Column) -> bool:
        """Is a row known by it?"""
        return column.attribute in self.key


def sheet_of(
    name: str,
    about: str,
    record: type[Row],
    key: tuple[str, ...],
    *,
    needed: bool = False,
    parameters: tuple[Column, ...] = (),
) -> Sheet:
    """The sheet that a record's columns make."""
    columns = tuple(
        dataclasses.replace(found, name=found.name or each.name, field=each.name)
        for each in dataclasses.fields(record)
        if isinstance(found := each.metadata.get("column"), Column)
    )
    return Sheet(name, about, record, columns, key, needed, parameters)


def load_row(sheet: Sheet, source: object, **more: object) -> Any:
    """A row of what the database keeps; `more` are fields that are no columns."""
    return sheet.record(**{each.attribute: _stored(each).load(source) for each in sheet.columns}, **more)


def stored_values(sheet: Sheet, row: Row, ids: Ids) -> dict[str, Any]:
    """What the columns of a row write, by the names under which they are written. KeyError for an unknown reference."""
    return {
        place.writes: place.store(getattr(row, each.attribute), ids)
        for each in sheet.columns
        if (place := _stored(each)).writes
    }


def key_names(sheet: Sheet) -> tuple[str, ...]:
    """The names under which the columns of the key are written."""
    return tuple(_stored(each).writes for each in sheet.columns if sheet.is_key(each))


def _stored(each: Column) -> Stored:
    if each.stored is None:
        raise TypeError(f"column {each.name} does not say where it is stored")
    return each.stored


def headings(sheet: Sheet) -> Mapping[str, str]:
    """The heading by the field that keeps it."""
    return {each.attribute: each.name for each in sheet.columns}
