"""Has somebody built on this piece of news? Then it is put right by a correction, not undone."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID, uuid5

from django.db.models import Exists, OuterRef, Q, QuerySet

from traveller.batches.models import Batch, Load, Step
from traveller.batches.steps.answer import MOST_JUDGED, judged_name
from traveller.journal.models import Event
from traveller.ledger.models import OWED, PHYSICAL, Hold, Posting

UNDONE_NEWS = "undone"
# Told of the same step or an earlier one, these take nothing from what was told before them.
_BESIDE = (
    "judged",
    "counted",
    "measured",
    "step started",
    "step done",
    "load started",
    "load ended",
    "evidence sent",
    "log understood",
    "evidence read",
    "evidence unreadable",
    "cavities changed",
    "problem reported",
    "problem taken back",
    "held",
    "sent",
    "received",
    "counted again",
    "dispatch taken back",
    "arrived unannounced",
    "traveller printed",
    "label printed",
    "own number told",
)


def built_on(wrong: Event, step: Step, load: Load | None) -> bool:
    """Later news used its pieces, went on from its step, or decided what it had caused."""
    own = derived(wrong)
    later = still_standing(Event.objects.filter(pk__gt=wrong.pk).exclude(uid__in=own))
    about = later.filter(about__subject=step.batch.subject_id)
    if about.exclude(kind__in=_BESIDE).exists():
        return True
    if _parted(Event.objects.filter(uid__in=own)) or _parted(about.filter(kind="judged")):
        return True
    if about.exclude(kind__in=("judged", "held", "problem reported")).filter(data__number__gt=step.number).exists():
        return True
    if about.filter(kind="step done", data__step_id=step.pk).exists():
        return True
    if load is not None and _names(about, load):
        return True
    if Hold.objects.filter(opened_event__uid__in=own, closed_event__kind="decided").exists():
        return True
    return _took_pieces(wrong, later)


def derived(wrong: Event) -> list[UUID]:
    """The judgements that an event caused."""
    return [uuid5(wrong.uid, judged_name(number)) for number in range(MOST_JUDGED)]


def still_standing(events: QuerySet[Event]) -> QuerySet[Event]:
    """Events that were not undone, and no undoing either."""
    struck = Event.objects.filter(corrects=OuterRef("pk"), kind=UNDONE_NEWS)
    return events.exclude(kind=UNDONE_NEWS).exclude(Exists(struck))


def was_undone(event: Event) -> Event | None:
    return Event.objects.filter(corrects=event, kind=UNDONE_NEWS).first()


def _parted(judged: QuerySet[Event]) -> bool:
    return Batch.objects.filter(released_event__in=judged).exists()


def _names(later: QuerySet[Event], load: Load) -> bool:
    """Told of the load since: that it came out, what was counted or measured of it."""
    uid = str(load.uid)
    about = Q(kind="load ended", data__told__load=load.pk) | Q(
        kind__in=("counted", "evidence sent"), data__told__load=uid
    )
    if later.filter(about).exists():
        return True
    return load.readings.filter(event__in=later.values("pk")).exists()


def _took_pieces(wrong: Event, later: QuerySet[Event]) -> bool:
    """Something was taken since from where it put pieces, or it drew pieces that have been told of since."""
    rows = list(Posting.objects.filter(event=wrong).select_related("account"))
    given = [row.account_id for row in rows if row.quantity > 0 and row.account.condition in PHYSICAL]
    owed = [row.account_id for row in rows if row.quantity < 0 and row.account.condition in OWED]
    taken = Q(account__in=given, quantity__lt=0) | Q(account__in=owed, quantity__gt=0)
    return Posting.objects.filter(taken, event__in=later.values("pk")).exists()


def judged_holds(wrong: Event) -> Iterable[Hold]:
    """Holds that its own judgements opened and that are still open."""
    return Hold.objects.filter(opened_event__uid__in=derived(wrong), root=None, closed_at=None).order_by("id")
