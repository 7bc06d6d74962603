"""News that was set aside: what waits, what became of it, and whether that follows from the journal."""

from __future__ import annotations

from collections.abc import Iterator

from django.db.models import QuerySet

from traveller.journal.models import Event, EventSubject, Parked
from traveller.journal.refusal import Refused
from traveller.journal.verify import Difference, name_of, readable, reading, safely

KIND, TAKEN, LEFT = "set aside", "set aside taken", "set aside left"
ROOM = "batches"


def waiting(site_id: int | None = None) -> QuerySet[Parked]:
    """What a phone told and is not booked, the oldest first: everywhere, or at one site."""
    rows = Parked.objects.filter(event__kind=KIND, settled_by=None).select_related("event__site").order_by("id")
    return rows if site_id is None else rows.filter(event__site=site_id)


def for_review_locked(for_review_id: int) -> tuple[Parked, list[int]]:
    """What was set aside, and the things it is about; refused where somebody has decided it before."""
    parked = (
        Parked.objects.select_for_update(of=("self",))
        .select_related("event")
        .filter(event=for_review_id, event__kind=KIND)
        .first()
    )
    if parked is None:
        raise Refused("nothing_set_aside")
    if parked.settled_by_id is not None:
        raise Refused("aside_decided")
    about = EventSubject.objects.filter(event=for_review_id).order_by("id").values_list("subject_id", flat=True)
    return parked, list(about)


def differences() -> Iterator[Difference]:
    """Each form set aside waits for the reason it was given, until the first event that took or left it."""
    settled: dict[int, int] = {}
    faults: list[Difference] = []
    for event in readable(Event.objects.filter(kind__in=(TAKEN, LEFT))):
        with reading(event, ROOM, faults):
            settled.setdefault(event.data["told"]["aside"], event.pk)
    yield from faults
    rows = {row.event_id: row for row in Parked.objects.filter(event__kind=KIND)}
    for event in readable(Event.objects.filter(kind=KIND)):
        yield from safely(ROOM, name_of(event), _waits(event, rows.get(event.pk), settled.get(event.pk)))


def _waits(event: Event, row: Parked | None, settled: int | None) -> Iterator[Difference]:
    thing = f"set aside {event.uid}"
    if row is None:
        yield Difference(ROOM, thing, "waiting", "gone", str(event.data["reason"]))
        return
    stored = (row.reason, row.figures, row.settled_by_id)
    rebuilt = (event.data["reason"], event.data["figures"], settled)
    for name, found, wanted in zip(("reason", "figures", "settled by"), stored, rebuilt, strict=True):
        if found != wanted:
            yield Difference(ROOM, thing, name, str(found), str(wanted))
