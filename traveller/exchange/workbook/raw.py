"""Cells and sheets as they come out of a file, before anyone asks what they mean."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Literal

from traveller.exchange.workbook.problems import Problem


@dataclass(frozen=True, slots=True)
class Unusable:
    """A cell that holds no value: a formula never calculated, a spreadsheet's own error."""

    shown: str
    wrong: str
    right: str

    def __str__(self) -> str:
        return self.shown


Raw = str | int | float | bool | dt.datetime | dt.date | dt.time | dt.timedelta | Unusable | None
DecimalMark = Literal[".", ","] | None


@dataclass(frozen=True, slots=True)
class RawSheet:
    """One sheet: header words by place, rows as (number in the spreadsheet, cells)."""

    name: str
    file: str
    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[Raw, ...]], ...]
    decimal_mark: DecimalMark = None

    def cells(self) -> Iterator[tuple[int, Mapping[str, Raw]]]:
        """Each row as a mapping from header word to cell."""
        for number, row in self.rows:
            padded = row + (None,) * (len(self.header) - len(row))
            yield number, dict(zip(self.header, padded, strict=False))


@dataclass(slots=True)
class RawBook:
    """All sheets of one source, the pictures lying beside them, and what was odd about the files."""

    sheets: dict[str, RawSheet] = field(default_factory=dict)
    pictures: dict[str, bytes] = field(default_factory=dict)
    has_folder: bool = True
    problems: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)


def is_blank(cell: Raw) -> bool:
    """True for a cell that shows nothing."""
    return cell is None or (isinstance(cell, str) and not cell.strip(" \t\r\n\u00a0\u202f\ufeff\u200b"))
