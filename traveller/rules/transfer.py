"""How well does this oven's air heat this part? The heat-transfer figure from one log inside a part of a full charge.

One figure is sought, with which the middle computed from the air comes nearest to the middle that was measured. How
sure it is follows from how much the middle would change with it: a probe that may be off by as much as the curves
differ, and at least by a degree, leaves a range. Where the range is wide, the log cannot tell, and nothing is taken
from it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final, Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from traveller.rules.slab import Body, heated_through

__all__ = ["Transfer", "Untold", "biot_of", "transfer_of"]

Floats: TypeAlias = NDArray[np.float64]
# Still air carries a few W/m2K, strong circulation some tens (from memory); beyond these the fit has run away.
LEAST_H, MOST_H = 1.0, 500.0
# Two probes of one kind may differ by a degree: common practice, no source. It bounds how sure a fit can be.
_PROBE_C: Final = 1.0
# Further apart than this the curves are not those of one body in this air: another part, another place, another figure.
_APART_C: Final = 5.0
# The range is wider than from two thirds to one and a half times the figure.
_WIDEST: Final = math.log(1.5)
_SCANNED, _NARROWED = 40, 60
_LEAST_READINGS: Final = 5

Untold = Literal["too_few", "does_not_fit", "cannot_tell"]


@dataclass(frozen=True)
class Transfer:
    """Heat transfer in W/m2K: the figure, the least and the most that it may be, and how far the curves lie apart."""

    h: float
    least: float
    most: float
    apart_c: float = 0.0


def biot_of(h_w_m2_k: float, conductivity_w_m_k: float, thickness_mm: float) -> float:
    """h L / k with L half the thickness in metres."""
    return h_w_m2_k * (thickness_mm / 2000) / conductivity_w_m_k


def transfer_of(
    body: Body, conductivity_w_m_k: float, seconds: Floats, air_c: Floats, core_c: Floats
) -> Transfer | Untold:
    """The heat transfer by the air and the middle of a part at the same seconds, oldest first; or why not.

    The body is at the first temperature of its middle throughout when the readings begin; its own Biot number is not
    looked at.
    """
    if seconds.size < _LEAST_READINGS:
        return "too_few"

    def middle(log_h: float) -> Floats:
        biot = biot_of(math.exp(log_h), conductivity_w_m_k, body.thickness_mm)
        _, centre, _ = heated_through(replace(body, biot=biot), seconds, air_c, start_c=float(core_c[0]), fine=False)
        return centre

    def apart(log_h: float) -> float:
        return float(np.sqrt(np.mean((middle(log_h) - core_c) ** 2)))

    found = _least(apart)
    off = max(apart(found), _PROBE_C)
    # What a probe that is off by so much everywhere would move the figure by.
    slope = np.abs(middle(found + 0.01) - middle(found - 0.01)) / 0.02
    if not (slope > 0).any():
        return "cannot_tell"
    wide = off * float(slope.sum() / (slope**2).sum())
    if apart(found) > _APART_C:
        return "does_not_fit"
    if wide > _WIDEST or not LEAST_H * 1.01 < math.exp(found) < MOST_H / 1.01:
        return "cannot_tell"
    return Transfer(math.exp(found), math.exp(found - wide), math.exp(found + wide), apart(found))


def _least(apart: Callable[[float], float]) -> float:
    """Where the curves lie nearest: a look over the whole range, then golden sections around the best of it."""
    places = np.linspace(math.log(LEAST_H), math.log(MOST_H), _SCANNED)
    best = int(np.argmin([apart(float(place)) for place in places]))
    low, high = float(places[max(best - 1, 0)]), float(places[min(best + 1, _SCANNED - 1)])
    part = (math.sqrt(5) - 1) / 2
    left, right = high - part * (high - low), low + part * (high - low)
    at_left, at_right = apart(left), apart(right)
    for _ in range(_NARROWED):
        if high - low < 1e-6:
            break
        if at_left < at_right:
            high, right, at_right = right, left, at_left
            left = high - part * (high - low)
            at_left = apart(left)
        else:
            low, left, at_left = left, right, at_right
            right = low + part * (high - low)
            at_right = apart(right)
    return (low + high) / 2
