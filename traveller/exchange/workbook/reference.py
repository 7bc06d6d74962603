"""What may stand in a workbook, sheet by sheet, column by column, and what each kind of check reads: made of the same
tables that read it, so that it cannot say anything else."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from traveller.exchange.workbook.columns import Column
from traveller.exchange.workbook.sheets import SHEETS
from traveller.rules.checks import KINDS
from traveller.rules.checks.fields import Field
from traveller.rules.checks.kind import CheckKind

__all__ = ["ColumnSaid", "KindSaid", "SheetSaid", "kinds_said", "reference_text", "sheets_said"]

# A worked row stands at a step that the demo's workbook has, behind every other step of its part.
_EXAMPLE_STEP: Final[Mapping[str, str]] = {"part": "GLOBE-AM", "step": "50"}


@dataclass(frozen=True, slots=True)
class ColumnSaid:
    """One column: whether a cell is needed or what an empty one means, and what may stand in it, all in words."""

    name: str
    empty: str
    meaning: str
    takes: str
    unit: str
    words: tuple[str, ...]
    example: str


@dataclass(frozen=True, slots=True)
class SheetSaid:
    """One sheet: what it holds and its columns; of the sheet checks those that every kind has."""

    name: str
    about: str
    needed: bool
    columns: tuple[ColumnSaid, ...]


@dataclass(frozen=True, slots=True)
class KindSaid:
    """One kind of check: what it proves, of what, the columns that it reads, and one whole row, cell by heading."""

    name: str
    title: str
    about: str
    scopes: tuple[str, ...]
    columns: tuple[ColumnSaid, ...]
    example: Mapping[str, str]


def sheets_said() -> tuple[SheetSaid, ...]:
    """Every sheet in its order."""
    return tuple(
        SheetSaid(sheet.name, sheet.about, sheet.needed, tuple(_column(each) for each in sheet.columns))
        for sheet in SHEETS.values()
    )


def kinds_said() -> tuple[KindSaid, ...]:
    """Every kind of check in its order."""
    return tuple(
        KindSaid(
            kind.name,
            kind.title,
            kind.about,
            kind.scopes,
            tuple(_field(each, kind) for each in kind.fields),
            _worked(kind),
        )
        for kind in KINDS.values()
    )


def _column(column: Column) -> ColumnSaid:
    if column.needed:
        empty = "needed in every row"
    elif column.default in ("", None, ()):
        empty = "may stay empty"
    else:
        empty = f"empty is {_written(column)}"
    return ColumnSaid(column.name, empty, column.meaning, column.takes, column.unit, column.words, column.example)


def _written(column: Column) -> object:
    """The default as it would stand in a cell."""
    return column.dump(column.default) if column.dump else column.default


def _field(field: Field, kind: CheckKind[Any]) -> ColumnSaid:
    optional = f"empty is {field.default}" if field.default else "may stay empty"
    empty = "needed" if field.needed else optional
    takes = field.reader.wanted.replace(" ({unit})", "") or "text on one line"
    if field.allowed:
        takes = "one of the allowed words"
    return ColumnSaid(
        field.name, empty, field.meaning, takes, field.unit, field.allowed, kind.example.get(field.name, "")
    )


def _worked(kind: CheckKind[Any]) -> dict[str, str]:
    """A whole row of the sheet checks."""
    own = {"check": f"{kind.name.replace('_', '-')}-example", "kind": kind.name, "scope": kind.scopes[0]}
    return {
        **_EXAMPLE_STEP,
        **own,
        "blocks": "sending",
        **kind.example,
        "source": "common practice, no source",
    }


def reference_text() -> str:
    """All of it as plain text in Markdown, to be read or printed."""
    return "\n".join(_lines()) + "\n"


def _lines() -> Iterator[str]:
    yield "# The workbook"
    yield ""
    yield "One sheet a file (CSV) or one file with all sheets (XLSX). The first row names the columns, in any order."
    yield "A sheet that is not there says nothing; what is needed says so. Lists are separated by | or ;"
    for sheet in sheets_said():
        yield from ("", f"## Sheet {sheet.name}{' (needed)' if sheet.needed else ''}", "", sheet.about, "")
        yield from (_line(column) for column in sheet.columns)
    yield from ("", "# Kinds of check", "", "A row of the sheet checks has the columns above and those of its kind.")
    for kind in kinds_said():
        yield from ("", f"## {kind.name}: {kind.title}", "", kind.about, "", f"Scope: {', '.join(kind.scopes)}.", "")
        yield from (_line(column) for column in kind.columns)
        yield from ("", "Example row: " + ", ".join(f"{name} = {cell}" for name, cell in kind.example.items()))


def _line(column: ColumnSaid) -> str:
    parts = [column.meaning, f"Takes {', '.join(column.words) or column.takes}."]
    parts += [f"Unit: {column.unit}."] if column.unit else []
    parts += [f"Example: {column.example}"] if column.example else []
    return f"- **{column.name}** ({column.empty}): {' '.join(parts)}"
