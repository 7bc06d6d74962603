"""Who told it, when it happened and when it was heard: made at the door, handed to every action."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from uuid import UUID, uuid5

from sites.actor import Actor


@dataclass(frozen=True, slots=True)
class EventContext:
    """`uid` is made by the client, so that a retry is the same event; both times are aware."""

    uid: UUID
    at: datetime
    recorded_at: datetime
    actor: Actor
    device_offset_ms: int | None = None

    def __post_init__(self) -> None:
        if self.at.tzinfo is None or self.recorded_at.tzinfo is None:
            raise ValueError("an event context's times carry their zone")

    def derived(self, name: str) -> EventContext:
        """An event context for a further event that follows from this telling: the same retry gives the same id."""
        return replace(self, uid=uuid5(self.uid, name))
