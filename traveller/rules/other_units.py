"""What is this limit in the other system of units? Converted exactly, rounded inward: it never allows more.

Inch, pound and foot are exact by definition (international yard and pound, 1959); see units.py. How many decimals
the other unit is shown with is our own choice: its last step is at most a twentieth of that of the figure given, so
that no reading of a bench lies between the limit as it is shown and the limit as it is judged.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from traveller.rules.checks import KINDS
from traveller.rules.checks.base import CheckFigure
from traveller.rules.checks.kind import Inward
from traveller.rules.checks.limits import in_unit
from traveller.rules.checks.quantities import quantity_of

__all__ = ["other_limit", "other_unit", "system_of"]

_System = Literal["metric", "inch_pound"]

# From a unit to the one of the other system, with the decimals that are needed beside those of the figure.
_OTHERS: Mapping[str, tuple[str, int]] = {
    "C": ("F", 1),  # exact: a degree C is 1.8 degrees F
    "mm": ("in", 4),
    "cm": ("in", 3),
    "m": ("ft", 2),
    "g": ("oz", 3),
    "kg": ("lb", 2),
    "F": ("C", 2),
    "in": ("mm", 1),  # exact: 25.4 mm
    "mil": ("mm", 4),  # exact: 0.0254 mm
    "ft": ("m", 4),  # exact: 0.3048 m
    "oz": ("g", 1),
    "lb": ("kg", 2),
}
# Finer than that reads no instrument of a bench: a hundred-thousandth of an inch is a quarter of a micrometre.
_DECIMALS_MOST = 5
_SYSTEM_OF: Mapping[str, _System] = {
    **dict.fromkeys(("C", "mm", "cm", "m", "g", "kg"), "metric"),
    **dict.fromkeys(("F", "in", "mil", "ft", "oz", "lb"), "inch_pound"),
}
# In a sentence, which figure must be rounded which way so that the limit does not widen.
_INWARD: Mapping[str, Mapping[str, Inward]] = {
    "limit.at_least": {"least": "up"},
    "limit.at_most": {"most": "down"},
    "limit.between": {"least": "up", "most": "down"},
    **{code: ways for kind in KINDS.values() for code, ways in kind.inward.items()},
}


def system_of(unit: str) -> _System | None:
    """The system that a unit belongs to; None for one that both use (min, %) or that has no counterpart here."""
    quantity = quantity_of(unit)
    return _SYSTEM_OF.get(unit) or (quantity.systems.get(unit) if quantity else None)


def other_unit(unit: str) -> str | None:
    """The unit of the other system for the same thing: mm for in, F for C."""
    found = _other(unit)
    return found[0] if found else None


def _other(unit: str) -> tuple[str, int] | None:
    """The unit of the other system with its decimals; that of a check's own unit is declared with it."""
    quantity = quantity_of(unit)
    return _OTHERS.get(unit) or (quantity.others.get(unit) if quantity else None)


def other_limit(code: str, figures: Mapping[str, CheckFigure]) -> tuple[str, dict[str, CheckFigure]] | None:
    """The same limit in the other system's unit, as a code with figures; None where nothing is to be converted.

    >>> other_limit("limit.between", {"least": "160", "most": "170.5", "unit": "C"})
    ('limit.between', {'least': '320', 'most': '338.9', 'unit': 'F'})
    """
    if code == "limit.tolerance" and "low" in figures and "high" in figures:
        bounds = {"least": figures["low"], "most": figures["high"], "unit": figures["unit"]}
        return other_limit("limit.between", bounds)
    ways = _INWARD.get(code)
    name = "degrees" if "degrees" in figures else "unit"
    found = _other(str(figures.get(name, "")))
    if ways is None or found is None:
        return None
    unit, more = found
    given = {key: Decimal(str(figures[key])) for key in ways}
    own = max(0, *(-int(number.as_tuple().exponent) for number in given.values()))
    decimals = max(own, min(own + more, _DECIMALS_MOST))
    for places in range(decimals, decimals + 3):
        shown = {key: _rounded(given[key], str(figures[name]), unit, places, way) for key, way in ways.items()}
        if "least" not in shown or "most" not in shown or shown["least"] <= shown["most"]:
            return code, {**figures, **{key: f"{number:f}" for key, number in shown.items()}, name: unit}
    return None


def _rounded(number: Decimal, unit: str, other: str, places: int, way: Inward) -> Decimal:
    exact = in_unit(number, unit, other)
    assert exact is not None, f"{unit} turns into {other}"
    scaled = exact * 10**places
    whole = -((-scaled) // 1) if way == "up" else scaled // 1
    shown = Decimal(int(whole)).scaleb(-places)
    # Zeros that say nothing are left off: 320, not 320.0, where the figure is exact.
    return shown.normalize() if Fraction(shown) == exact and shown != shown.to_integral() else _plain(shown, exact)


def _plain(shown: Decimal, exact: Fraction) -> Decimal:
    return shown.quantize(Decimal(1)) if Fraction(shown) == exact and exact.denominator == 1 else shown
