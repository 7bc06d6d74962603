"""Does the journal still say what it said? Digests, triggers, and that what it names is there.

Here stands, too, what keeps every room's check going: a row that cannot be read is named, and the rest is checked.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from django.core.exceptions import ObjectDoesNotExist
from django.db import connection
from django.db.models import QuerySet

from traveller.journal import guards, kinds
from traveller.journal.models import Event, Parked
from traveller.journal.record import digest

ROOM = "journal"
CHUNK = 500
# What code meets in a row that is not as this program would have written it.
MALFORMED = (LookupError, TypeError, ValueError, AttributeError, ArithmeticError, ObjectDoesNotExist)


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
    for name in guards.missing_triggers(connection):
        yield Difference(ROOM, name, "trigger", "missing", "in place")
    yield from safely(ROOM, "rows that name others", _references())
    known = {kind.name for kind in kinds.all_kinds()}
    for event in _each(Event.objects.all()):
        if isinstance(event, Difference):
            yield event
        else:
            yield from safely(ROOM, name_of(event), _event(event, known))
    yield from safely(ROOM, "parked news", _parked())


def _event(event: Event, known: set[str]) -> Iterator[Difference]:
    thing = f"event {event.uid}"
    rebuilt = digest(event)
    if rebuilt != event.digest:
        yield Difference(ROOM, thing, "digest", event.digest[:12], rebuilt[:12])
    if event.kind not in known:
        yield Difference(ROOM, thing, "kind", event.kind, "a declared kind")
    if not _well_formed(event):
        found = type(event.data).__name__ if not isinstance(event.data, dict) else "without what was told"
        yield Difference(ROOM, name_of(event), "data", found, "what was told, by name")


def _parked() -> Iterator[Difference]:
    for parked in Parked.objects.select_related("event", "settled_by").order_by("id"):
        if parked.settled_by and parked.settled_by.pk <= parked.event.pk:
            yield Difference(ROOM, f"parked {parked.event.uid}", "settled_by", "an earlier event", "a later one")


def _references() -> Iterator[Difference]:
    """PostgreSQL lets no row name another that is not there; SQLite asks each connection to look after that."""
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA foreign_key_check")
        broken = cursor.fetchall()
    for table, row, parent, _ in broken:
        yield Difference(ROOM, f"{table}, row {row}", f"row of {parent}", "not there", "there")


# --- What cannot be read -----------------------------------------------------------------------------------


def safely(room: str, thing: str, found: Iterable[Difference]) -> Iterator[Difference]:
    """What a check finds, and where it cannot read on, that: the check after it goes on."""
    try:
        yield from found
    except MALFORMED as error:
        yield _unreadable(room, thing, error)


@contextmanager
def reading(event: Event, room: str, faults: list[Difference]) -> Iterator[None]:
    """Around the telling of one event: what it lacks goes to the faults, and the next one is told."""
    try:
        yield
    except MALFORMED as error:
        faults.append(_unreadable(room, name_of(event), error))


def readable(events: QuerySet[Event]) -> Iterator[Event]:
    """Those that can be read, in their order; the check of the journal itself names the others."""
    for event in _each(events):
        if isinstance(event, Event) and _well_formed(event):
            yield event


def name_of(event: Event) -> str:
    """By its number, since its own id may be what is wrong with it."""
    return f"event {event.pk} ({event.kind})"


def _unreadable(room: str, thing: str, error: BaseException) -> Difference:
    """A row that is not as this program writes it, with what was wrong."""
    what = f"{error} is missing" if isinstance(error, KeyError) else " ".join(str(error).split())
    return Difference(room, thing, "data", f"unreadable ({what})", "as this program writes it")


def _well_formed(event: Event) -> bool:
    return isinstance(event.data, dict) and isinstance(event.data.get("told"), dict)


def _each(events: QuerySet[Event]) -> Iterator[Event | Difference]:
    """One after another, a few hundred at a time; a row that the database hands over and we cannot take is named."""
    pks = list(events.order_by("id").values_list("pk", flat=True))
    for start in range(0, len(pks), CHUNK):
        chunk = pks[start : start + CHUNK]
        try:
            yield from list(Event.objects.filter(pk__in=chunk).order_by("id"))
        except MALFORMED:
            yield from (_one(pk) for pk in chunk)


def _one(pk: int) -> Event | Difference:
    try:
        return Event.objects.get(pk=pk)
    except MALFORMED as error:
        return _unreadable(ROOM, f"event {pk}", error)
