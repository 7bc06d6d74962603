"""The one way in which the database's figures are written into cells."""

from __future__ import annotations

from decimal import Decimal

__all__ = ["written_per"]


def written_per(per_thousand: int) -> tuple[Decimal, int]:
    """A bill's quantity and the pieces that it is for: for one piece where that is whole, else for a thousand."""
    if per_thousand % 1000 == 0:
        return Decimal(per_thousand // 1000), 1
    return Decimal(per_thousand), 1000
