"""Was it typed in another unit than the one that was asked for? A slip by a factor, to be asked about, never mended.

Only units that lie next to each other on a bench are tried: a wrong gauge setting, not any unit there is.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from traveller.rules.checks.limits import in_unit
from traveller.rules.checks.quantities import quantity_of

__all__ = ["meant_unit"]

_KIN: tuple[tuple[str, ...], ...] = (
    ("C", "F"),
    ("mm", "in"),
    ("g", "kg", "oz", "lb"),
    ("s", "min", "h"),
    ("bar", "psi"),
)


def meant_unit(value: Decimal, unit: str, low: Fraction, high: Fraction, own: str) -> str | None:
    """The unit in which the number would lie from `low` to `high` (in `own`), where it does not as it was typed.

    >>> meant_unit(Decimal(350), "C", Fraction(160), Fraction(180), "C")
    'F'
    >>> meant_unit(Decimal("2.001"), "mm", Fraction("50.673"), Fraction("50.927"), "mm")
    'in'
    """
    typed = unit or own
    as_typed = in_unit(value, typed, own)
    if as_typed is None or low <= as_typed <= high:
        return None
    quantity = quantity_of(typed)
    for other in next((kin for kin in _KIN if typed in kin), tuple(quantity.units) if quantity else ()):
        exact = None if other == typed else in_unit(value, other, own)
        if exact is not None and low <= exact <= high:
            return other
    return None
