"""The demo's logs: the same bytes each time, and what they were drawn with is found in them again."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from traveller.management.demo.ovens import air_log, core_log
from traveller.rules.logs import Answers, Log, read_log
from traveller.rules.slab import Body
from traveller.rules.transfer import Transfer, transfer_of

START = datetime(2026, 1, 15, 18, 35, tzinfo=UTC)
ZONE = "America/Chihuahua"


@dataclass
class Loaded:
    """What a log is drawn from: when it went in and out, and where."""

    started_at: datetime
    ended_at: datetime
    step: Any = field(default_factory=lambda: SimpleNamespace(site=SimpleNamespace(zone=ZoneInfo(ZONE))))


LOADS: list[Any] = [Loaded(START + timedelta(minutes=40 * n), START + timedelta(minutes=40 * n + 36)) for n in range(3)]


def read(content: bytes) -> Log:
    found = read_log(content, Answers(zone=ZONE))
    assert isinstance(found, Log)
    return found


def test_the_same_loads_give_the_same_bytes() -> None:
    assert air_log(LOADS) == air_log(LOADS) and core_log(LOADS[0], LOADS) == core_log(LOADS[0], LOADS)


def test_they_are_read_without_a_question_or_a_fault() -> None:
    for content in (air_log(LOADS), core_log(LOADS[0], LOADS)):
        log = read(content)
        assert not log.faults and log.said.unit == "C" and log.said.decimal_sign == ","
    air = read(air_log(LOADS))
    assert air.started_at == START - timedelta(minutes=10) and air.ended_at == LOADS[-1].ended_at + timedelta(
        minutes=10
    )
    assert 50 < float(air.celsius.min()) < 60 and float(air.celsius.max()) < 80


def test_how_well_the_oven_heats_is_found_in_them_again() -> None:
    air, core = read(air_log(LOADS)), read(core_log(LOADS[0], LOADS))
    around = np.interp(core.times, air.times, air.celsius)
    found = transfer_of(Body(4.0, 0.1), 0.25, core.times, around, core.celsius)
    assert isinstance(found, Transfer) and found.h == pytest.approx(22.0, rel=0.03)
    assert found.least < 22.0 < found.most
