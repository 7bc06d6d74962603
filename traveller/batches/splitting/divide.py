"""Splitting pieces off into a child batch with its own lot, code and traveller."""

from __future__ import annotations

from uuid import uuid5

from traveller.batches.models import Batch, Step, StepState
from traveller.batches.steps.fetch import lot_of
from traveller.journal.models import Event
from traveller.journal.subjects import register
from traveller.ledger import genealogy, holds, lots
from traveller.ledger.models import Condition
from traveller.ledger.post import Balances, Move, Place, post


def divide(event: Event, batch: Batch, place: Place, quantity: int, *, first_step: int) -> Batch:
    """Move `quantity` from a place of the batch's lot into a new child batch, which starts at `first_step`."""
    lot = lot_of(batch, event)
    siblings = Batch.objects.filter(parent=batch).count()
    subject = register(uuid5(event.uid, f"child-{batch.pk}-{siblings}"), "batch")
    child_lot = lots.create(event, batch.part, origin="split", subject=subject, expires_on=lot.expires_on)
    child = Batch.objects.create(
        subject=subject,
        code=child_lot.code,
        part=batch.part,
        routing_id=batch.routing_id,
        lot=child_lot,
        wanted=quantity,
        start=quantity,
        destination_id=batch.destination_id,
        due_on=batch.due_on,
        released_event=event,
        released_at=event.happened_at,
        parent=batch,
        rerouted=batch.rerouted,
    )
    copy_steps(batch, child, first_step)
    there = Place(child_lot.pk, place.site_id, place.condition, place.step)
    moves = Balances([lot.pk]).transfer(place, place.become(Condition.MADE_INTO), quantity)
    moves.append(Move(there.become(Condition.MADE_FROM), there, quantity))
    post(event, moves)
    genealogy.link(event, child_lot, [genealogy.Use(lot, quantity)])
    holds.inherit(event, child_lot, [lot.pk])
    return child


def copy_steps(batch: Batch, child: Batch, first_step: int) -> None:
    """The steps that a child batch has still to go through."""
    for step in batch.steps.filter(number__gte=first_step).order_by("number"):
        first = step.number == first_step
        Step.objects.create(
            batch=child,
            operation_id=step.operation_id,
            site_id=step.site_id,
            number=step.number,
            state=StepState.RUNNING if first and step.started_at else StepState.WAITING,
            started_at=step.started_at if first else None,
            open_cavities=step.open_cavities,
        )
