"""What every telling of a shop looks up first, with queries that are put together once (see journal.rows).

A phone sends a whole shift in a minute: what a page reads before its action must not cost more than the action does.
"""

from __future__ import annotations

from datetime import datetime

from sites.access import narrow
from sites.actor import Actor
from traveller.batches.models import Count, Step
from traveller.journal.models import Event
from traveller.journal.rows import Read
from traveller.ledger.models import Account, Condition

# The same figure, told so many times at one step, is looked at for who told it.
ALIKE_MOST = 40
_STEP = Read(
    lambda step, site: narrow(
        Step.objects.filter(pk=step).select_related(
            "batch__part", "batch__lot", "batch__destination", "operation", "site"
        ),
        Actor(kind="operator", person="", site_id=site),
        "site",
    ).defer("batch__part__picture")
)
_WAITING = Read(
    lambda lot, site, step: Account.objects.filter(
        lot=lot, site=site, step=step, condition__in=[Condition.IN_PROCESS, Condition.REWORK]
    ).values_list("condition", "balance")
)
_ALIKE = Read(
    lambda step, good: (
        Count.objects.filter(step=step, good=good, event__corrects=None)
        .order_by("-id")
        .values_list("event_id", "event__person")[:ALIKE_MOST]
    )
)


def step_at(step_id: int, site_id: int) -> Step | None:
    """A step of this site with its batch, part, operation; None for one of another site or none at all."""
    return _STEP.first(step_id, site_id)


def pieces_waiting(lot_id: int, site_id: int, number: int) -> tuple[int, int]:
    """Pieces before a step: first entries and rework."""
    found = dict(_WAITING(lot_id, site_id, number))
    return found.get(Condition.IN_PROCESS, 0), found.get(Condition.REWORK, 0)


def told_alike(step_id: int, good: int, heard_since: datetime) -> Event | None:
    """The last count of as many good pieces here, if it was heard of since then."""
    last = _ALIKE(step_id, good)[:1]
    return Event.objects.filter(pk=last[0][0], recorded_at__gte=heard_since).first() if last else None


def told_alike_by_others(step_id: int, good: int, person: str, since: datetime, until: datetime) -> Event | None:
    """The last count of as many good pieces that somebody else told of that time."""
    theirs = [event_id for event_id, name in _ALIKE(step_id, good) if name != person]
    if not theirs:
        return None
    return Event.objects.filter(pk__in=theirs, happened_at__gte=since, happened_at__lte=until).order_by("-id").first()
