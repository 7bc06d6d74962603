"""How long must it cool? Plates from melt to ejection, small things in air; hopper and fixture capacity.

Advice for a recipe, never a processing instruction; effective diffusivities while cooling differ from those
at room temperature.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

__all__ = [
    "DIFFUSIVITY_MM2_S",
    "fixture_positions",
    "hopper_kg",
    "hopper_litres",
    "lumped_rate_per_s",
    "plate_cooling_s",
    "seconds_to_share",
]

# At room temperature: Crawford, Plastics Engineering, 3rd ed. (1998), table 1.8; while cooling they differ.
DIFFUSIVITY_MM2_S: Final[Mapping[str, float]] = {
    "ABS": 0.17,
    "acetal homopolymer": 0.07,
    "acetal copolymer": 0.072,
    "acrylic": 0.109,
    "cellulose acetate": 0.104,
    "polycarbonate": 0.147,
    "polypropylene": 0.065,
    "polystyrene": 0.06,
    "LDPE": 0.117,
    "HDPE": 0.157,
    "PTFE": 0.07,
    "PVC flexible": 0.07,
    "SAN": 0.081,
}


def plate_cooling_s(
    thickness_mm: float, diffusivity_mm2_s: float, melt_c: float, wall_c: float, eject_c: float
) -> float:
    """Seconds until the middle of a moulded plate is down to the temperature at which it may leave the mould.

    s^2 / (pi^2 a) ln(4/pi (melt - wall) / (eject - wall)), the first term of the series, s the whole
    thickness. Some pages print pi/4 for 4/pi: that is too short.
    """
    if not wall_c < eject_c < melt_c or thickness_mm <= 0 or diffusivity_mm2_s <= 0:
        raise ValueError("wall < eject < melt, and a thickness and a diffusivity above zero")
    share = 4 / math.pi * (melt_c - wall_c) / (eject_c - wall_c)
    return thickness_mm**2 / (math.pi**2 * diffusivity_mm2_s) * math.log(share)


def lumped_rate_per_s(
    h_w_m2_k: float, volume_m3: float, area_m2: float, density_kg_m3: float, heat_j_kg_k: float
) -> float:
    """How fast a small thing follows the air round it (Newton): h A / (density volume heat), per second."""
    return h_w_m2_k * area_m2 / (density_kg_m3 * volume_m3 * heat_j_kg_k)


def seconds_to_share(rate_per_s: float, left: float) -> float:
    """Seconds until only this share of the first difference is left: 0.01 for 99 % of the way."""
    if not 0 < left <= 1 or rate_per_s <= 0:
        raise ValueError("a share above 0 and up to 1, a rate above 0")
    return -math.log(left) / rate_per_s


def hopper_kg(kg_per_h: float, hours: float) -> float:
    """What a drying hopper must hold so that each kilogram stays so many hours."""
    return kg_per_h * hours


def hopper_litres(held_kg: float, bulk_kg_m3: float) -> float:
    """How large the hopper must be for that, by what a cubic metre of the pellets weighs."""
    if bulk_kg_m3 <= 0:
        raise ValueError("a bulk density is above zero")
    return held_kg / bulk_kg_m3 * 1000


def fixture_positions(cooling_s: float, cycle_s: float, cavities: int) -> int:
    """Positions that a cooling fixture needs to keep up with the mould: parts that cool at one time."""
    if cooling_s < 0 or cycle_s <= 0 or cavities < 1:
        raise ValueError("a cooling time of 0 or more, a cycle above 0, a cavity")
    return math.ceil(round(cooling_s / cycle_s * cavities, 9))
