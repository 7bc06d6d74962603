"""The door: where a request becomes an event context. The only place of the pages that reads the clock for news."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, TypeVar, cast
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from django.db import Error
from django.http import HttpRequest
from django.utils import timezone

from sites.actor import Actor
from traveller.journal.event_context import EventContext
from traveller.journal.refusal import Refusal
from traveller.journal.unable import code_of
from traveller.rules.moments import EARLIEST, plausible
from traveller.web import outage

T = TypeVar("T")
# A phone's clock may be a little ahead; more than this is asked about before it becomes news.
AHEAD_MAX = timedelta(minutes=5)


@dataclass(frozen=True, slots=True)
class Asked:
    """A question before something becomes news: "1,400 of 1,132: really?" Its code is sent back as the answer."""

    code: str
    figures: dict[str, object]


@dataclass(frozen=True, slots=True)
class Queued:
    """News that waited on a phone: `at` by our clock, `ahead_ms` how far the phone's clock was ahead of ours.

    `taken`: the founder saw what it conflicts with and took it; then nothing is asked any more.
    """

    at: datetime
    ahead_ms: int
    taken: bool = False


def queued_of(request: HttpRequest) -> Queued | None:
    """What a phone told while it had no signal says so; None for a form that comes straight from a page."""
    return cast("Queued | None", getattr(request, "queued", None))


def new_uid() -> UUID:
    """For a form rendered by the server: the page that is sent twice carries the same id twice."""
    return uuid4()


def event_context_from(request: HttpRequest, actor: Actor, zone: ZoneInfo) -> EventContext | Refusal:
    """The event context of a posted form: `news_id` (the client's), and `at` when the time was typed in site time."""
    now = timezone.now()
    try:
        uid = UUID(request.POST.get("news_id", ""))
    except ValueError:
        return Refusal("form_without_id")
    queued = queued_of(request)
    offset = queued.ahead_ms if queued else None
    typed = request.POST.get("at", "").strip()
    if not typed:
        # Whatever a phone's clock says, what is told has happened.
        at = min(queued.at, now) if queued else now
        return EventContext(uid=uid, at=at, recorded_at=now, actor=actor, device_offset_ms=offset)
    reported_at = read_time(typed, zone)
    if isinstance(reported_at, Refusal):
        return reported_at
    if reported_at > now + AHEAD_MAX:
        return Refusal("time_in_the_future", {"found": typed})
    return EventContext(uid=uid, at=reported_at, recorded_at=now, actor=actor, device_offset_ms=offset)


def attempt(action: Callable[..., T | Refusal], **reported: Any) -> T | Refusal:
    """Do an action; a database that is away, busy or full becomes words, so that the page can keep what was typed.

    A NUL in a text is dropped: nobody types one, and PostgreSQL takes it for a fault.
    """
    said = {name: value.replace("\0", "") if isinstance(value, str) else value for name, value in reported.items()}
    try:
        return action(**said)
    except Error as error:
        code = code_of(error)
        if not code:
            raise
        outage.notice(code)
        return Refusal(code)


def read_time(text: str, zone: ZoneInfo) -> datetime | Refusal:
    """A local date and time as browsers send it, in the site's zone unless it carries its own offset.

    A refusal for what is none, and for what lies beyond the time of this trade: it is asked again, in words.
    """
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        return Refusal("time_unreadable", {"found": text})
    reported = found if found.tzinfo else found.replace(tzinfo=zone)
    if plausible(reported):
        return reported
    return Refusal("time_long_past" if found.year <= EARLIEST.year else "time_in_the_future", {"found": text})
