"""News that was set aside is told again: by itself when its cause has come, or because the founder takes it.

Set aside, it is journalled under an id derived from the form's, whose own id stays free: what the phone tells next of
it names it by that. Told again, it goes through its page like any other news.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from typing import Any, cast
from urllib.parse import parse_qs, urlsplit
from uuid import UUID, uuid5

from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import OperationalError
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone

from sites.access import narrow
from sites.actor import Actor, ActorKind
from sites.models import Site
from traveller.batches.actions.take_news import take_news
from traveller.batches.history.for_review import KIND, waiting
from traveller.batches.models import Batch, EvidenceFile, Load, Step
from traveller.dispatches.models import Consignment
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event, Parked
from traveller.journal.refusal import Refusal, Refused
from traveller.journal.rows import run_sql
from traveller.web.door import Queued
from traveller.web.parts import inside
from traveller.web.parts.figures import MEANT
from traveller.web.who import Who
from traveller.web.words import say

# Each of these can be cured by other news: what is missing is told later, or by another phone.
_UNTOLD = frozenset(("unknown_load", "unknown_news"))
WAITS = _UNTOLD | {"short", "held", "not_proved", "component_not_proved", "unreported", "nothing_there"}
# A tap must not wait for more than this; the others are tried after the next news.
TRIED_AT_ONCE = 5
_ASIDE = (
    "SELECT p.id FROM journal_parked p JOIN journal_event e ON e.id = p.event_id "
    "WHERE e.kind = %s AND p.settled_by_id IS NULL AND e.site_id = %s LIMIT 1"
)


def cause_missing(site_id: int, path: str, fields: Iterable[Sequence[str]]) -> str:
    """What the form names by an id that nobody has told yet at this site; empty where it names nothing unknown."""
    named = [value for name, value in fields if name == "load"]
    named += parse_qs(urlsplit(path).query).get("load", [])
    for text in named:
        uid = _uuid(text)
        if uid and not Load.objects.filter(uid=uid, step__site=site_id).exists():
            return "unknown_load"
    about = inside.matched_view(path).kwargs.get("uid")
    if isinstance(about, UUID) and not Event.objects.filter(uid=about, site=site_id).exists():
        return "unknown_news"
    return ""


def why_for_review(reason: str, figures: Mapping[str, Any]) -> str:
    """Why it could not be booked, in words for who reads it away from the page."""
    return say("unknown_news") if reason in _UNTOLD else say(reason, figures)


def subject_of(site_id: int, path: str) -> int | None:
    """What a form is about, by its address: a batch of this site, or a consignment from or to it."""
    places = inside.matched_view(path).kwargs
    if "step_id" in places:
        steps = Step.objects.filter(pk=places["step_id"], site=site_id)
        return steps.values_list("batch__subject_id", flat=True).first()
    if "load_id" in places:
        loads = Load.objects.filter(pk=places["load_id"], step__site=site_id)
        return loads.values_list("step__batch__subject_id", flat=True).first()
    if "code" in places:
        actor = Actor(kind="operator", person="", site_id=site_id)
        batches = narrow(Batch.objects.filter(code=places["code"]), actor, "steps__site", "destination")
        goods = narrow(Consignment.objects.filter(code=places["code"]), actor, "origin", "destination")
        found = batches.values_list("subject_id", flat=True).first()
        return found or goods.values_list("subject_id", flat=True).first()
    return None


def _form_of(for_review: Event, meant: Iterable[str]) -> inside.Form:
    """The form as it was taken down, with its files, and what is meant by figures that could be two things."""
    reported = for_review.data["told"]
    kept = EvidenceFile.objects.in_bulk([digest for _field, _name, digest in reported["files"]])
    files = [
        (field, SimpleUploadedFile(name, bytes(kept[digest].content), kept[digest].content_type))
        for field, name, digest in reported["files"]
    ]
    fields = [(name, value) for name, value in reported["fields"]] + [(MEANT, one) for one in meant]
    return inside.Form(reported["path"], [*fields, ("news_id", reported["news"])], for_review.person, files)


@action
def retell(
    *, request: HttpRequest, for_review: Event, event_context: EventContext, taken: bool, meant: Sequence[str] = ()
) -> Event:
    """Tell it by its own page, and no longer set it aside: both or neither.

    Told by whoever told it first, when they told it; `event_context` is that of taking it.
    """
    site = cast(Site, for_review.site)
    actor = Actor(
        kind=cast(ActorKind, for_review.actor_kind),
        person=for_review.person,
        site_id=site.pk,
        pass_id=for_review.site_pass_id,
        on_behalf=for_review.on_behalf,
        phone=for_review.phone,
    )
    queued = Queued(for_review.happened_at, for_review.device_offset_ms or 0, taken=taken)
    try:
        answer = inside.tell(request, _form_of(for_review, meant), queued, Who(shop=actor, site=site))
    except Http404:
        raise Refused("no_such_task") from None
    if not is_reported(answer):
        said = inside.unsaid(answer)
        raise Refused(said["code"], **said["figures"])
    done = take_news(event_context=event_context, for_review_id=for_review.pk, came=not taken)
    if isinstance(done, Refusal):
        raise Refused(done.code, **done.figures)
    return done


def is_reported(answer: HttpResponse) -> bool:
    """A page that leads on has recorded what was sent to it."""
    return answer.status_code == 302


def tell_waiting(request: HttpRequest, site: Site) -> int:
    """After other news of the site: what waited for just that posts itself. How many did."""
    if not anything_for_review(site.pk):
        return 0
    rows = list(waiting(site.pk))
    done = _reported_meanwhile(rows)
    left = [row for row in rows if row.reason in WAITS]
    tries = TRIED_AT_ONCE
    while left and tries > 0:
        ripe = [row for row in left if not _still_missing(site.pk, row.event)]
        reported = 0
        for row in ripe[:tries]:
            tries -= 1
            left.remove(row)
            with suppress(OperationalError):
                answer = retell(request=request, for_review=row.event, event_context=_came(row.event), taken=False)
                reported += not isinstance(answer, Refusal)
        done += reported
        if not reported:
            break
    return done


def anything_for_review(site_id: int) -> bool:
    return bool(run_sql(_ASIDE, [KIND, site_id]))


def _still_missing(site_id: int, for_review: Event) -> bool:
    reported = for_review.data["told"]
    return bool(cause_missing(site_id, reported["path"], reported["fields"]))


def _reported_meanwhile(rows: Iterable[Parked]) -> int:
    """The same form sent twice at one moment may be set aside by one sending and recorded by the other."""
    by_uid = {UUID(row.event.data["told"]["news"]): row for row in rows}
    reported = Event.objects.filter(uid__in=list(by_uid)).values_list("uid", flat=True)
    for uid in reported:
        take_news(event_context=_came(by_uid[uid].event), for_review_id=by_uid[uid].event_id, came=True)
    return len(reported)


def _came(for_review: Event) -> EventContext:
    now = timezone.now()
    return EventContext(
        uid=uuid5(for_review.uid, "came"), at=now, recorded_at=now, actor=Actor(kind="system", person="")
    )


def _uuid(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
