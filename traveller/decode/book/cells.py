"""Cells as they come out of a file, before anyone asks what they mean, and how they travel as JSON."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from traveller.decode.book.bounds import LONG_TEXT

__all__ = ["DecimalMark", "Numbered", "Raw", "Unusable", "as_text", "is_blank", "rows_from_json", "rows_to_json"]


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
# A row with its number in the spreadsheet.
Numbered = tuple[int, tuple[Raw, ...]]
_BLANK = " \t\r\n\u00a0\u202f\ufeff\u200b"
_SHOWN_OF_LONG = 60


def is_blank(cell: Raw) -> bool:
    """True for a cell that shows nothing."""
    return cell is None or (isinstance(cell, str) and not cell.strip(_BLANK))


def as_text(text: str) -> Raw:
    """A text as a cell; one that is longer than any column takes, as words about it."""
    if len(text) <= LONG_TEXT:
        return text
    tidy = text.strip(_BLANK)
    if len(tidy) <= LONG_TEXT:
        return tidy
    return Unusable(tidy[:_SHOWN_OF_LONG], f"is {len(tidy):,} characters long", "at most 2,000")


def rows_to_json(rows: Sequence[Numbered]) -> bytes:
    """Rows as bytes of JSON; what JSON has no word for is an object with one key."""
    plain = [(number, [cell if type(cell) in _PLAIN else _labelled(cell) for cell in row]) for number, row in rows]
    return json.dumps(plain, allow_nan=False, separators=(",", ":")).encode("ascii")


def rows_from_json(content: bytes) -> tuple[Numbered, ...]:
    """The rows again. ValueError for what no `rows_to_json` wrote."""
    parsed = json.loads(content)
    if not isinstance(parsed, list):
        raise ValueError("no rows")
    return tuple((int(number), tuple(map(_from_json, row))) for number, row in parsed)


_PLAIN = frozenset((str, int, float, bool, type(None)))


def _from_json(cell: Any) -> Raw:
    if type(cell) in _PLAIN:
        kept: Raw = cell
        return kept
    if not isinstance(cell, dict):
        raise ValueError("no cell")
    return _unlabelled(cell)


def _labelled(cell: Raw) -> dict[str, Any]:
    if isinstance(cell, Unusable):
        return {"unusable": [cell.shown, cell.wrong, cell.right]}
    if isinstance(cell, dt.datetime):
        return {"datetime": cell.isoformat()}
    if isinstance(cell, dt.date):
        return {"date": cell.isoformat()}
    if isinstance(cell, dt.time):
        return {"time": cell.isoformat()}
    assert isinstance(cell, dt.timedelta)
    return {"timedelta": [cell.days, cell.seconds, cell.microseconds]}


def _unlabelled(labelled: dict[str, Any]) -> Raw:
    ((kind, value),) = labelled.items()
    match kind:
        case "unusable":
            shown, wrong, right = value
            return Unusable(str(shown), str(wrong), str(right))
        case "datetime":
            return dt.datetime.fromisoformat(value)
        case "date":
            return dt.date.fromisoformat(value)
        case "time":
            return dt.time.fromisoformat(value)
        case "timedelta":
            days, seconds, micros = value
            return dt.timedelta(days, seconds, micros)
        case _:
            raise ValueError("no cell")
