"""How a lot comes to be."""

from __future__ import annotations

from datetime import date, timedelta
from uuid import UUID

from traveller.journal.models import Event, Subject
from traveller.journal.subjects import register
from traveller.ledger.models import Lot
from traveller.products.models import Part


def create(
    event: Event,
    part: Part,
    *,
    origin: str,
    subject: Subject | None = None,
    uid: UUID | None = None,
    outside_number: str = "",
    expires_on: date | None = None,
) -> Lot:
    """Give birth to a lot; a batch's lot shares the batch's subject and code."""
    if subject is None:
        if uid is None:
            raise ValueError("a lot needs its batch's subject or an id of its own")
        subject = register(uid, "lot")
    if expires_on is None and part.shelf_life_days is not None:
        expires_on = event.happened_at.date() + timedelta(days=part.shelf_life_days)
    return Lot.objects.create(
        subject=subject,
        code=subject.code or "",
        part=part,
        origin=origin,
        outside_number=outside_number,
        born_event=event,
        born_at=event.happened_at,
        expires_on=expires_on,
    )
