"""Readings as they are told, and as they are kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from traveller.batches.models import Load, Reading, Step
from traveller.batches.proof.tester import concerned
from traveller.journal.models import Event
from traveller.journal.refusal import Refused
from traveller.rules.checks.master import MASTER


@dataclass(frozen=True, slots=True)
class ReadingTold:
    """A value exactly as typed (a decimal with a point, or a word), for one check of a step."""

    check_key: str
    name: str
    value: str
    unit: str = ""
    load: UUID | None = None
    cavity: int | None = None
    piece: int | None = None
    taken_at: datetime | None = None

    def reported(self) -> list[Any]:
        taken = self.taken_at.isoformat() if self.taken_at else None
        load = str(self.load) if self.load else None
        return [self.check_key, self.name, self.value, self.unit, load, self.cavity, self.piece, taken]


def write_readings(event: Event, step: Step, readings: Sequence[ReadingTold]) -> list[Step]:
    """Keep readings; returns other steps to be judged: those that some belong to, since their load was split off to
    a child batch, and those whose pieces were tested where the test master was tried."""
    loads = _loads_of(readings)
    Reading.objects.bulk_create(
        [
            Reading(
                step=loads[reading.load].step if reading.load else step,
                event=event,
                load=loads[reading.load] if reading.load else None,
                check_key=reading.check_key,
                name=reading.name,
                value=reading.value,
                unit=reading.unit,
                cavity=reading.cavity,
                piece=reading.piece,
                taken_at=reading.taken_at or event.happened_at,
            )
            for reading in readings
        ]
    )
    elsewhere = {load.step_id: load.step for load in loads.values() if load.step_id != step.pk}
    tries = [reading.taken_at or event.happened_at for reading in readings if reading.name == MASTER]
    if tries:
        elsewhere |= {one.pk: one for one in concerned(step, min(tries))}
    return list(elsewhere.values())


def _loads_of(readings: Sequence[ReadingTold]) -> dict[UUID, Load]:
    """By their ids, the loads that readings name; one that nobody knows is refused."""
    uids = {reading.load for reading in readings if reading.load}
    if not uids:
        return {}
    found = Load.objects.filter(uid__in=uids).select_related(
        "step__batch__part", "step__batch__lot", "step__batch__subject", "step__operation"
    )
    loads = {load.uid: load for load in found}
    if len(loads) < len(uids):
        raise Refused("unknown_load")
    return loads
