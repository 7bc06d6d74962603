"""Has a batch begun? What was only released lies nowhere: it starts at a shop, and is not at it. And is it late?"""

from __future__ import annotations

from django.db.models import Exists, OuterRef, Q, QuerySet

from traveller.batches.models import Batch, Step, StepState
from traveller.batches.reads.queries import Lie, Whereabouts
from traveller.batches.reads.stays import lies_at_work
from traveller.ledger.models import Account, Condition


def begun() -> Q:
    """Batches of which a piece was counted or taken over, or whose first step was started."""
    return Q(lot__isnull=False) | Q(Exists(_steps().exclude(state=StepState.WAITING)))


def starts_at(site_id: int) -> QuerySet[Batch]:
    """Batches that have not begun and whose first step is done there."""
    first = _steps().order_by("number").values("site")[:1]
    return Batch.objects.filter(~begun(), closed_at=None).alias(first_site=first).filter(first_site=site_id)


def unfinished() -> Q:
    """Batches with something still to be done: not begun, begun and nothing counted, on a visit or on the road.

    What is used up, closed or in stock where it is wanted is none: its day can pass without anything being late.
    """
    lying = Account.objects.filter(
        lies_at_work() | Q(condition=Condition.ON_THE_ROAD), lot=OuterRef("lot"), balance__gt=0
    )
    return Q(closed_at=None) & (Q(lot=None) | Q(Exists(lying)))


def has_begun(row: Whereabouts) -> bool:
    """The same of what was read already; no query."""
    return row.batch.lot_id is not None or any(step.state != StepState.WAITING for step in row.steps)


def is_unfinished(row: Whereabouts) -> bool:
    """`unfinished` of what was read already; no query."""
    if row.batch.closed_at is not None:
        return False
    if row.batch.lot_id is None:
        return True
    return any(lie.condition == Condition.ON_THE_ROAD or on_visit(row, lie) for lie in row.lies)


def on_visit(row: Whereabouts, lie: Lie) -> bool:
    """`lies_at_work` of what was read already: is there something to be done or sent on where these pieces lie?"""
    if lie.condition == Condition.STOCK:
        return lie.step > 0 or lie.site_id != row.batch.destination_id
    return lie.condition in (Condition.IN_PROCESS, Condition.REWORK)


def _steps() -> QuerySet[Step]:
    return Step.objects.filter(batch=OuterRef("pk"))
