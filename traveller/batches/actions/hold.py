"""Stop a batch: the founder holds it, a shop reports a problem, or a part of it is set apart and held."""

from __future__ import annotations

from traveller.batches.splitting.divide import divide
from traveller.batches.splitting.places import part_locked, reported_part, waits_for
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.fetch import batch_locked, lot_of
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier, record
from traveller.journal.refusal import refuse_without
from traveller.ledger import holds
from traveller.ledger.models import Lot
from traveller.ledger.post import Place


@action
def hold_lot(*, event_context: EventContext, lot_id: int, reason: str, problem: bool = False) -> Answer:
    """Hold a lot and all made from it. `problem`: a shop's news, which holds at once."""
    kind = "problem reported" if problem else "held"
    reported = {"lot": lot_id, "reason": reason}
    if before := earlier(event_context, kind, reported):
        return Answer(before, repeated=True)
    refuse_without(reason)
    lot = Lot.objects.select_related("subject").get(pk=lot_id)
    event = record(
        event_context=event_context,
        kind=kind,
        subjects=[lot.subject],
        reported=reported,
        site_id=event_context.actor.site_id,
    )
    code = "problem_reported" if problem else "held_by_founder"
    holds.open_hold(event, lot, cause=f"{kind}:{event.pk}", code=code, figures={"reason": reason})
    return Answer(event)


@action
def report_problem(*, event_context: EventContext, batch_id: int, site_id: int, reason: str) -> Answer:
    """A shop's problem with a batch, even one that has no lot yet."""
    reported = {"batch": batch_id, "reason": reason}
    if before := earlier(event_context, "problem reported", reported):
        return Answer(before, repeated=True)
    refuse_without(reason)
    batch = batch_locked(batch_id)
    event = record(
        event_context=event_context,
        kind="problem reported",
        subjects=[batch.subject],
        reported=reported,
        site_id=site_id,
    )
    holds.open_hold(
        event,
        lot_of(batch, event),
        cause=f"problem:{event.pk}",
        code="problem_reported",
        figures={"reason": reason},
    )
    return Answer(event)


@action
def hold_part(*, event_context: EventContext, batch_id: int, place: Place, quantity: int, reason: str) -> Answer:
    """Hold only some of a lot's pieces: they become a child batch with its own code and traveller."""
    reported = reported_part(batch_id, place, quantity, reason)
    if before := earlier(event_context, "part held", reported):
        return Answer(before, repeated=True)
    refuse_without(reason)
    batch, _ = part_locked(batch_id, place, quantity)
    first_step = waits_for(place)
    event = record(
        event_context=event_context,
        kind="part held",
        subjects=[batch.subject],
        reported=reported,
        site_id=place.site_id,
        first_step=first_step,
    )
    child = divide(event, batch, place, quantity, first_step=first_step)
    holds.open_hold(
        event, lot_of(child, event), cause=f"held:{event.pk}", code="held_by_founder", figures={"reason": reason}
    )
    return Answer(event)
