"""The journal told again: all of it for `verify`, or one batch and its family for an undoing."""

from __future__ import annotations

from django.db.models import Q, QuerySet

from traveller.batches.history.replay import REPLAYED, Replay
from traveller.batches.models import Attachment, Batch, Load, Step
from traveller.journal.models import Event
from traveller.journal.verify import Difference, readable, reading
from traveller.ledger.models import Hold, Lot


def replay(faults: list[Difference]) -> Replay:
    """The whole journal told again; what cannot be told of it goes to the faults."""
    found = Replay()
    _prepare(found, Batch.objects.order_by("id"))
    for event in readable(Event.objects.filter(kind__in=REPLAYED)):
        with reading(event, "batches", faults):
            found.tell(event)
    return found


def replay_of(batch: Batch) -> Replay:
    """What the journal says of one batch and all that it was ever split from or into."""
    family = Batch.objects.filter(pk__in=_family(batch))
    found = Replay()
    _prepare(found, family.order_by("id"))
    about = Q(about__subject__in=family.values("subject")) | Q(pk__in=family.values("released_event"))
    events = Event.objects.filter(about, kind__in=REPLAYED).distinct()
    for event in events.order_by("id"):
        found.tell(event)
    return found


def _family(batch: Batch) -> set[int]:
    root = batch
    while root.parent is not None:
        root = root.parent
    known, new = {root.pk}, {root.pk}
    while new:
        new = set(Batch.objects.filter(parent__in=new).values_list("pk", flat=True)) - known
        known |= new
    return known


def _prepare(found: Replay, batches: QuerySet[Batch]) -> None:
    """Every step as it was released, and what the events name by number."""
    for batch in batches:
        if batch.parent_id:
            found._children[batch.released_event_id].append(batch)
        else:
            found._opened_by[batch.released_event_id] = batch.pk
        if batch.lot_id:
            found._batch_of_lot[batch.lot_id] = batch.pk
            found._lot_of_batch[batch.pk] = batch.lot_id
    own = batches.order_by().values("pk")
    for row in Step.objects.filter(batch__in=own).select_related("operation").order_by("id"):
        found.steps[row.pk] = Step(
            pk=row.pk,
            batch_id=row.batch_id,
            number=row.number,
            open_cavities=row.operation.cavities,
            site_id=row.operation.site_id,
        )
        found._by_number[row.batch_id, row.number] = row.pk
        found._cavities[row.pk] = row.operation.cavities
    for pk, uid in Load.objects.filter(step__batch__in=own).values_list("pk", "uid"):
        found._load_by_uid[str(uid)] = pk
    found._lot_by_code.update(Lot.objects.filter(origin="provisional").values_list("code", "pk"))
    found._sent_by.update(Attachment.objects.filter(step__batch__in=own).values_list("pk", "event_id"))
    holds = Hold.objects.filter(lot__batch__in=own)
    found._lot_of_hold.update(holds.values_list("pk", "lot_id"))
    found._root_holds.update(holds.filter(root=None).values_list("pk", flat=True))
