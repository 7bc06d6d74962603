"""How hot is a log of this check expected to get? For asking whether its unit is right, never for judging."""

from __future__ import annotations

from collections.abc import Iterable

from traveller.rules.checks.degrees import as_celsius
from traveller.rules.checks.kind import Heat
from traveller.rules.checks.limits import Limits
from traveller.rules.logs.doubt import Band

__all__ = ["heat_asked"]

# Wide enough for an oven that missed its mark: what is merely too hot or too cool is judged, not asked about.
# The same number of degrees lies so much farther off in the other unit that the two are not confused.
_BELOW_C, _ABOVE_C = 25.0, 45.0


def heat_asked(heats: Iterable[Heat]) -> list[Band]:
    """The band of each check that is judged by a log, in degrees C: around its limits, or around its reference."""
    return [_band(heat.limits) for heat in heats]


def _band(limits: Limits) -> Band:
    least, most = limits.least, limits.most
    low = as_celsius(least, limits.unit) if least is not None else 0.0
    high = as_celsius(most, limits.unit) if most is not None else low
    return low - _BELOW_C, max(high, low) + _ABOVE_C
