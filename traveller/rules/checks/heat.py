"""How hot is a log of this check expected to get? For asking whether its unit is right, never for judging."""

from __future__ import annotations

from collections.abc import Sequence

from traveller.rules.checks.cure import CureParams
from traveller.rules.checks.degrees import as_celsius
from traveller.rules.checks.limits import Limits
from traveller.rules.checks.soak import SoakParams
from traveller.rules.logs.doubt import Band

__all__ = ["heat_asked"]

# Wide enough for an oven that missed its mark: what is merely too hot or too cool is judged, not asked about.
# The same number of degrees lies so much farther off in the other unit that the two are not confused.
_BELOW_C, _ABOVE_C = 25.0, 45.0


def heat_asked(params: Sequence[object]) -> list[Band]:
    """The band of each check that looks at temperatures: around its limits, or around its reference."""
    found = []
    for one in params:
        if isinstance(one, SoakParams):
            found.append(_band(one.temperature))
        elif isinstance(one, CureParams):
            found.append(_band(one.reference))
    return found


def _band(limits: Limits) -> Band:
    least, most = limits.least, limits.most
    low = as_celsius(least, limits.unit) if least is not None else 0.0
    high = as_celsius(most, limits.unit) if most is not None else low
    return low - _BELOW_C, max(high, low) + _ABOVE_C
