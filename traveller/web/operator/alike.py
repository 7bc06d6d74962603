"""Two phones, one truth: may what is typed be the very pieces that another phone or person recorded?

Another phone, pass or name is enough to ask, since two people may tap one name and one person may hold two phones.
Compared is what stands: a count that was taken back is gone, a corrected one counts as corrected.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db.models import Q, Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from sites.actor import Actor
from traveller.batches.models import Count, Load, Step
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.refusal import Refusal
from traveller.journal.rows import run_sql
from traveller.rules.moments import later, on_clocks
from traveller.web.door import Asked, event_context_from, queued_of
from traveller.web.operator.counted import Typed
from traveller.web.operator.reporting import already_recorded, ask, event_here
from traveller.web.operator.shop import actor_of, site_of

# A shift: what somebody else recorded of it may be what is typed now.
SHIFT = timedelta(hours=12)
# One phone keeps its own taps apart by their ids; that its person taps the same once more is asked only so soon after.
OWN_LATELY = timedelta(hours=2)
# So many of a step's latest counts are looked at.
_LATEST = 200
_ALIKE = (
    "SELECT root, MAX(load_id) FROM ("
    "SELECT c.id, c.again, c.load_id, c.good, c.scrap, c.rework, c.samples, c.shots, "
    "COALESCE(e.corrects_id, e.id) AS root, e.id AS own "
    "FROM batches_count c JOIN journal_event e ON e.id = c.event_id "
    f"WHERE c.step_id = %s ORDER BY c.id DESC LIMIT {_LATEST}) latest "
    "WHERE again = %s GROUP BY root HAVING MIN(own) = root AND SUM(good) = %s "
    "AND (%s > 0 OR (SUM(scrap) = %s AND SUM(rework) = %s AND SUM(samples) = %s AND (%s > 0 OR SUM(shots) = %s)))"
)


@dataclass(frozen=True, slots=True)
class Alike:
    """What is recorded already and may be the same, and the question about it."""

    event: Event
    asked: Asked
    # Why it may be the same where the name alone does not say so.
    why: str = ""


def count_alike(request: HttpRequest, step: Step, typed: Typed, load: Load | None, *, again: bool) -> Alike | None:
    """The latest standing count here of as many good pieces; or, where none is good, of as many of each other kind."""
    if typed.total == 0 and typed.shots == 0:
        return None
    bad = sum(typed.scrap.values())
    rows = run_sql(
        _ALIKE,
        [step.pk, again, typed.good, typed.good, bad, typed.rework, typed.samples, typed.total, typed.shots],
    )
    # Two loads are alike by nature: pieces of one are never those of the other.
    ids = [root for root, of_load in rows if load is None or of_load is None or of_load == load.pk]
    event = _recorded_alike(request, ids, own=load is None)
    if event is None:
        return None
    said = {"at": f"{on_clocks(event.happened_at, site_of(request).zone):%H:%M}", "person": event.person}
    why = _why(request, event)
    if typed.good:
        return Alike(event, Asked("same_again", {"good": typed.good, **said}), why)
    if typed.total:
        return Alike(event, Asked("same_bad_again", {"bad": typed.total, **said}), why)
    return Alike(event, Asked("same_shots_again", {"shots": typed.shots, **said}), why)


def load_alike(request: HttpRequest, step: Step, quantity: int, place: str) -> Alike | None:
    """A load of as many pieces in the same place that is still in, recorded by another phone or person."""
    if not quantity:
        return None
    inside = Load.objects.filter(step=step, ended_at=None, struck_by=None, quantity=quantity)
    loads = {load.uid: load for load in inside if load.place.casefold() == place.casefold()}
    ids = Event.objects.filter(uid__in=list(loads), kind="load started").values_list("pk", flat=True)
    event = _recorded_alike(request, ids, own=False) if loads else None
    if event is None:
        return None
    load = loads[event.uid]
    at = f"{on_clocks(load.started_at, site_of(request).zone):%H:%M}"
    figures = {"load": load.number, "counted": quantity, "at": at, "person": event.person}
    return Alike(event, Asked("same_load", figures), _why(request, event))


def asked_of(request: HttpRequest, asked: Asked, context: dict[str, Any], alike: Alike | None) -> HttpResponse:
    """The page of a question, with "the same" as a further answer where it is about what is alike."""
    if alike is None or asked is not alike.asked:
        return ask(request, asked, context)
    return ask(request, asked, context, alike.why, alike.event.uid)


def the_same(request: HttpRequest, *codes: str) -> HttpResponse | Refusal | None:
    """It was answered that it is what is recorded already: nothing new is, and the page of the first says so.

    A refusal where that was taken back meanwhile; None where nothing of the kind was answered, or the form is news.
    """
    uid = next((found for code in codes if (found := same_as(request, code))), None)
    if uid is None or already_recorded(request):
        return None
    if still_stands(request, uid) is None:
        return Refusal("same_taken_back")
    return redirect(f"{reverse('here_told', args=[uid])}?same=1")


def same_as(request: HttpRequest, code: str) -> UUID | None:
    """The answer "the same" names what it is the same as; None where something else was answered, or nothing."""
    try:
        return UUID(request.POST.get(f"sure:{code}", ""))
    except ValueError:
        return None


def still_stands(request: HttpRequest, uid: UUID) -> Event | None:
    """What was recorded here under this id, unless it was taken back or corrected to nothing."""
    event = event_here(request, str(uid))
    if event is None or Load.objects.filter(uid=uid, struck_by=None).exists():
        return event
    rows = Count.objects.filter(Q(event=event) | Q(event__corrects=event))
    sums = rows.aggregate(*[Sum(name) for name in ("good", "scrap", "rework", "samples", "shots")])
    return event if any(sums.values()) else None


def _recorded_alike(request: HttpRequest, ids: Iterable[int], *, own: bool) -> Event | None:
    """The latest of these events that this form may repeat; `own`: also what this very phone has just recorded."""
    found = list(ids)
    if not found:
        return None
    at = _when(request)
    wanted = _others(actor_of(request)) & Q(happened_at__gte=at - SHIFT, happened_at__lte=later(at, SHIFT))
    if own and queued_of(request) is None:
        wanted |= Q(recorded_at__gte=timezone.now() - OWN_LATELY)
    return Event.objects.filter(wanted, pk__in=found).order_by("-id").first()


def _others(actor: Actor) -> Q:
    """Another phone, another pass or another name."""
    another_pass = Q(site_pass__isnull=False) if actor.pass_id is None else ~Q(site_pass=actor.pass_id)
    return ~Q(phone=actor.phone) | ~Q(person=actor.person) | another_pass


def _when(request: HttpRequest) -> datetime:
    """When it happened by what the form says; a time that cannot be read is refused later, in words."""
    context = event_context_from(request, actor_of(request), site_of(request).zone)
    return context.at if isinstance(context, EventContext) else timezone.now()


def _why(request: HttpRequest, event: Event) -> str:
    actor = actor_of(request)
    if event.person != actor.person or event.phone == actor.phone:
        return ""
    return _("It was recorded on another phone.")
