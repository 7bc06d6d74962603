"""Parting a load that failed from its lot, so that the rest stays free."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Sum

from traveller.batches.models import Attachment, Count, Load, Reading, Step, StepState, Verdict
from traveller.batches.splitting.divide import divide
from traveller.batches.steps.flows import landing
from traveller.journal.models import Event
from traveller.ledger.models import Account, Condition
from traveller.ledger.post import Place
from traveller.products.models import OperationKind

LYING = (
    Condition.IN_PROCESS,
    Condition.REWORK,
    Condition.STOCK,
    Condition.PACKED,
    Condition.ON_THE_ROAD,
)


@dataclass(frozen=True, slots=True)
class Parting:
    """A failed load that can be split off: its pieces, where they lie, whether they were counted."""

    load: Load
    place: Place
    pieces: int
    counted: bool


def parting(step: Step, number: int) -> Parting | None:
    """None when the load is all there is of its lot, or its pieces are not to be found."""
    lot_id = step.batch.lot_id
    if lot_id is None or step.operation.kind == OperationKind.PREPARE:
        return None
    load = Load.objects.filter(step=step, number=number, struck_by=None).first()
    if load is None:
        return None
    reported = Count.objects.filter(load=load).aggregate(
        *(Sum(name) for name in ("good", "scrap", "rework", "samples"))
    )
    good = reported["good__sum"]
    # One that was taken back says nothing.
    if not any(reported.values()):
        place = Place(lot_id, step.site_id, Condition.IN_PROCESS, step.number)
        pieces = load.quantity
    else:
        place, pieces = landing(step, lot_id), good
    lies = {
        Place(row.lot_id, row.site_id, row.condition, row.step): row.balance
        for row in Account.objects.filter(lot_id=lot_id, condition__in=LYING, balance__gt=0)
    }
    if not 0 < pieces <= lies.get(place, 0) or pieces >= sum(lies.values()):
        return None
    return Parting(load, place, pieces, good is not None)


def part(event: Event, step: Step, found: Parting) -> Step:
    """Split the load off into a child batch, its evidence with it; returns the child's own step."""
    child = divide(event, step.batch, found.place, found.pieces, first_step=step.number)
    own = Step.objects.select_related("batch__part", "batch__lot", "batch__subject", "operation").get(
        batch=child, number=step.number
    )
    if found.counted:
        own.state, own.done_at = StepState.DONE, event.happened_at
        own.save(update_fields=["state", "done_at"])
    Verdict.objects.filter(step=step, load=found.load).update(latest=False)
    Reading.objects.filter(load=found.load).update(step=own)
    Attachment.objects.filter(load=found.load).update(step=own)
    Load.objects.filter(pk=found.load.pk).update(step=own)
    return own
