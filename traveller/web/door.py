"""The door: where a request becomes a stamp. The only place of the pages that reads the clock for a telling."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, TypeVar
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from django.db import OperationalError
from django.http import HttpRequest
from django.utils import timezone

from sites.actor import Actor
from traveller.journal.refusal import Refusal
from traveller.journal.stamp import Stamp

T = TypeVar("T")
# A phone's clock may be a little ahead; more than this is asked about before it becomes news.
AHEAD_MAX = timedelta(minutes=5)


@dataclass(frozen=True, slots=True)
class Asked:
    """A question before something becomes news: "1,400 of 1,132: really?" Its code is sent back as the answer."""

    code: str
    figures: dict[str, object]


def new_uid() -> UUID:
    """For a form rendered by the server: the page that is sent twice carries the same id twice."""
    return uuid4()


def stamp_from(request: HttpRequest, actor: Actor, zone: ZoneInfo) -> Stamp | Refusal:
    """The stamp of a posted form: `news_id` (made by the client), and `at` when the time was typed in site time."""
    now = timezone.now()
    try:
        uid = UUID(request.POST.get("news_id", ""))
    except ValueError:
        return Refusal("form_without_id")
    typed = request.POST.get("at", "").strip()
    if not typed:
        return Stamp(uid=uid, at=now, recorded_at=now, actor=actor)
    at = read_time(typed, zone)
    if at is None:
        return Refusal("time_unreadable", {"found": typed})
    if at > now + AHEAD_MAX:
        return Refusal("time_in_the_future", {"found": typed})
    return Stamp(uid=uid, at=at, recorded_at=now, actor=actor)


def attempt(action: Callable[..., T | Refusal], **told: Any) -> T | Refusal:
    """Do a deed; a database that is busy or full becomes words, so that the page can keep what was typed."""
    try:
        return action(**told)
    except OperationalError as error:
        if "no such" in str(error):
            # A table or column that is missing is a fault of the program, not of the hour.
            raise
        return Refusal("disk_full" if "full" in str(error) else "database_busy")


def read_time(text: str, zone: ZoneInfo) -> datetime | None:
    """A local date and time as browsers send it, in the site's zone unless it carries its own offset."""
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        return None
    return found if found.tzinfo else found.replace(tzinfo=zone)
