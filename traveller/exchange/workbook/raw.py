"""Sheets as they come out of a file, before anyone asks what they mean."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from traveller.decode.book.cells import DecimalMark, Numbered, Raw, Unusable, is_blank
from traveller.exchange.workbook.problems import Problem

__all__ = ["DecimalMark", "Numbered", "Raw", "RawBook", "RawSheet", "Unusable", "is_blank"]


@dataclass(frozen=True, slots=True)
class RawSheet:
    """One sheet: header words by place, rows as (number in the spreadsheet, cells)."""

    name: str
    file: str
    header: tuple[str, ...]
    rows: tuple[Numbered, ...]
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
    """Redrawn, by the name that the parts sheet gives them."""
    picture_faults: dict[str, tuple[str, str]] = field(default_factory=dict)
    """Why a named picture is not among them: what is wrong, what would be right."""
    has_folder: bool = True
    opened: bool = True
    """False where the source could not be opened at all: then there is nothing else to say."""
    problems: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)
