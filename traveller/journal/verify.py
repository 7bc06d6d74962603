"""Does the journal still say what it said? Digests, triggers, and that what it names is there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.db import connection

from traveller.journal import guards, kinds
from traveller.journal.models import Event, Parked
from traveller.journal.record import digest

ROOM = "journal"


@dataclass(frozen=True, slots=True)
class Difference:
    """`stored` is what a column says, `rebuilt` what follows from journal and postings."""

    room: str
    thing: str
    field: str
    stored: str
    rebuilt: str


def differences() -> Iterator[Difference]:
    """Every event against its digest; every parked piece of news against the journal."""
    for name in guards.missing(connection):
        yield Difference(ROOM, name, "trigger", "missing", "in place")
    known = {kind.name for kind in kinds.all_kinds()}
    for event in Event.objects.order_by("id").iterator(chunk_size=2000):
        thing = f"event {event.uid}"
        rebuilt = digest(event)
        if rebuilt != event.digest:
            yield Difference(ROOM, thing, "digest", event.digest[:12], rebuilt[:12])
        if event.kind not in known:
            yield Difference(ROOM, thing, "kind", event.kind, "a declared kind")
    for parked in Parked.objects.select_related("event", "settled_by").order_by("id"):
        if parked.settled_by and parked.settled_by.pk <= parked.event.pk:
            yield Difference(ROOM, f"parked {parked.event.uid}", "settled_by", "an earlier event", "a later one")
