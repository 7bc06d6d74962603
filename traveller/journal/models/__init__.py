from __future__ import annotations

from traveller.journal.models.event import Event, EventSubject, Parked, Subject

__all__ = ["Event", "EventSubject", "Parked", "Subject"]
