"""Whose file is read next: shops take turns, and so do the phones of a shop, however much one of them sends."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta

from django.db.models import F, Max, Q, QuerySet

from traveller.batches.models import FileReading
from traveller.decode.limits import LIMITS
from traveller.journal.action import action

# Who took a file and has not answered by twice the time that it can take is gone.
LAPSE = 2 * timedelta(seconds=max(limit.wall_s + limit.slot_wait_s for limit in LIMITS.values()))
READ_TRIES_MAX = 3
# More than wait at once anywhere; a bound, so that a flood costs one look no more than this.
_LOOKED_AT = 5_000
_LONG_AGO = datetime(2000, 1, 1, tzinfo=UTC)


def waiting() -> QuerySet[FileReading]:
    """Files that nobody has read yet. One whose reader was ended three times is not tried again (see `spent`)."""
    return FileReading.objects.filter(state=FileReading.State.WAITING, tries__lt=READ_TRIES_MAX)


def spent(now: datetime) -> list[int]:
    """Files whose readers were ended three times, and that nobody is reading now."""
    rows = FileReading.objects.filter(state=FileReading.State.WAITING, tries__gte=READ_TRIES_MAX)
    return list(rows.exclude(taken_at__gt=now - LAPSE).order_by("id").values_list("pk", flat=True)[:_LOOKED_AT])


@action
def _take(now: datetime, worker: str) -> FileReading | None:
    pk = next_turn(now)
    if pk is None:
        return None
    reading = FileReading.objects.select_for_update().select_related("file").get(pk=pk)
    if reading.state != FileReading.State.WAITING or (reading.taken_at and reading.taken_at > now - LAPSE):
        return None
    reading.taken_at, reading.taken_by, reading.tries = now, worker, reading.tries + 1
    reading.save(update_fields=["taken_at", "taken_by", "tries"])
    return reading


def take_next(*, now: datetime, worker: str) -> FileReading | None:
    """Take the file whose turn it is, for this worker; None where nothing waits that may be taken."""
    found = _take(now, worker)
    return found if isinstance(found, FileReading) else None


def next_turn(now: datetime) -> int | None:
    """The shop that was served longest ago, in it the phone that was, of it the oldest file.

    A phone whose file is just being read waits: one upload a phone at a time.
    """
    taken = Q(taken_at__gt=now - LAPSE)
    rows = list(waiting().order_by("id").values_list("pk", "site_id", "phone", "taken_at")[:_LOOKED_AT])
    busy = set(waiting().filter(taken).values_list("site_id", "phone"))
    free = [(pk, site, phone) for pk, site, phone, at in rows if (site, phone) not in busy]
    if not free:
        return None
    served = dict(_served(site for _, site, _ in free))
    shops: dict[int | None, datetime] = {}
    for (site, _), at in served.items():
        shops[site] = max(shops.get(site, at), at)
    return min(free, key=lambda one: (shops.get(one[1], _LONG_AGO), served.get(one[1:], _LONG_AGO), one[0]))[0]


def _served(sites: Iterable[int | None]) -> Iterable[tuple[tuple[int | None, str], datetime]]:
    """When each phone of these shops last had its turn."""
    rows = FileReading.objects.filter(site__in={site for site in sites if site}, taken_at__isnull=False)
    last = rows.order_by().values_list("site_id", "phone").annotate(last=Max("taken_at"))
    return (((site, phone), at) for site, phone, at in last)


def give_back(reading: FileReading) -> None:
    """Not read after all, by no fault of the file: it is the next again."""
    FileReading.objects.filter(pk=reading.pk).update(taken_at=None, taken_by="", tries=F("tries") - 1)


def free(reading: FileReading) -> None:
    """Its reader was ended from outside: it is the next again, and the try counts."""
    FileReading.objects.filter(pk=reading.pk).update(taken_at=None, taken_by="")


def let_turn_go(is_gone: Callable[[str], bool]) -> int:
    """Files that a worker had taken which is gone, as `is_gone` tells by its name, are free again; how many."""
    taken = FileReading.objects.filter(state=FileReading.State.WAITING, taken_at__isnull=False)
    gone = [pk for pk, worker in taken.values_list("pk", "taken_by") if is_gone(worker)]
    return FileReading.objects.filter(pk__in=gone, state=FileReading.State.WAITING).update(taken_at=None, taken_by="")


def silent_since(now: datetime, patience: timedelta) -> datetime | None:
    """Since when nothing has read files though one has waited longer than `patience`; None while all is well."""
    oldest = waiting().order_by("asked_at").values_list("asked_at", flat=True).first()
    if oldest is None or now - oldest < patience:
        return None
    last = FileReading.objects.aggregate(read=Max("read_at"), taken=Max("taken_at"))
    latest = max([oldest, *(moment for moment in last.values() if moment is not None)])
    return None if now - latest < patience else latest
