"""The one way in which the database's figures are written into cells."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Final

from traveller.exchange.workbook import rows as r

__all__ = ["UNIT_WORD", "bill_row", "percent_written"]

UNIT_WORD: Final[Mapping[str, str]] = {"C62": "piece", "GRM": "g", "MGM": "mg", "MMT": "mm", "MLT": "ml"}


def percent_written(ppm: int) -> Decimal:
    """Parts per million as a percentage."""
    return Decimal(ppm) / 10_000


def bill_row(part: str, component: str, unit: str, per_thousand: int, step: int) -> r.BillRow:
    """A bill's line in its one way of being written: for one piece when that is whole, else for a thousand."""
    whole = per_thousand % 1000 == 0
    return r.BillRow(
        part=part,
        component=component,
        quantity=Decimal(per_thousand // 1000 if whole else per_thousand),
        unit=unit,
        per=1 if whole else 1000,
        step=step or None,
    )
