from __future__ import annotations

from traveller.journal.models.event import Event, EventSubject, Parked, Subject
from traveller.journal.models.format import Format

__all__ = ["Event", "EventSubject", "Format", "Parked", "Subject"]
