"""The logs of the demo's box oven, drawn by rule: the same story gives the same bytes.

The air swings a little about its mark and falls when the door is opened for a load; in the first, full load a second
logger sat inside a band, and shows what a band of that thickness does in this air.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Final

import numpy as np

from traveller.batches.models import Load
from traveller.rules.slab import Body, heated_through
from traveller.rules.transfer import biot_of

_SET_C, _OPENED_C, _ROOM_C = 72.0, 55.0, 23.0
_BACK_S: Final = 150.0
# How well this oven's fan heats a rack of bands; what the demo's logs are to give again.
_HEAT_W_M2_K, _CONDUCTIVITY = 22.0, 0.25
_THICK_MM, _DIFFUSIVITY = 4.0, 0.1


def air_log(loads: Sequence[Load]) -> bytes:
    """A reading a minute from ten minutes before the first load to ten after the last, on the shop's own clock."""
    first, last = loads[0].started_at, loads[-1].ended_at or loads[-1].started_at
    ten = timedelta(minutes=10)
    return _file("Horno de caja (°C)", [(at, _air(at, loads)) for at in _minutes(first - ten, last + ten)], loads[0])


def core_log(load: Load, loads: Sequence[Load]) -> bytes:
    """From inside a band of that load: what its middle comes to in the air of the same oven."""
    moments = _minutes(load.started_at, load.ended_at or load.started_at)
    seconds = np.array([at.timestamp() for at in moments])
    body = Body(_THICK_MM, _DIFFUSIVITY, biot_of(_HEAT_W_M2_K, _CONDUCTIVITY, _THICK_MM))
    _, middle, _ = heated_through(
        body, seconds, np.array([_air(at, loads) for at in moments]), start_c=_ROOM_C, fine=False
    )
    return _file("Banda, centro (°C)", list(zip(moments, middle.tolist(), strict=True)), load)


def _minutes(first: datetime, last: datetime) -> list[datetime]:
    return [first + timedelta(minutes=n) for n in range(int((last - first).total_seconds() // 60) + 1)]


def _air(at: datetime, loads: Sequence[Load]) -> float:
    """Round its mark, and back to it after the door was opened."""
    swing = 1.2 * math.sin(at.timestamp() / 420)
    since = [(at - load.started_at).total_seconds() for load in loads if load.started_at <= at]
    opened = (_SET_C - _OPENED_C) * math.exp(-min(since) / _BACK_S) if since else 0.0
    return _SET_C + swing - opened


def _file(channel: str, readings: Sequence[tuple[datetime, float]], load: Load) -> bytes:
    """Semicolons and decimal commas, day first, without a zone: as loggers there are set."""
    zone = load.step.site.zone
    rows = [(f"{at.astimezone(zone):%d.%m.%Y %H:%M:%S}", f"{celsius:.1f}") for at, celsius in readings]
    return "\r\n".join(
        [f"Fecha;{channel}", *(f"{at};{celsius.replace('.', ',')}" for at, celsius in rows), ""]
    ).encode()
