"""Stop a batch: the founder holds it, a shop reports a problem, or a part of it is set apart and held."""

from __future__ import annotations

from traveller.batches.splitting.divide import divide
from traveller.batches.splitting.places import part_locked, told_part, waits_for
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.fetch import batch_locked, lot_of
from traveller.journal.deed import deed
from traveller.journal.record import earlier, record
from traveller.journal.refusal import refuse_without
from traveller.journal.stamp import Stamp
from traveller.ledger import holds
from traveller.ledger.models import Lot
from traveller.ledger.post import Place


@deed
def hold_lot(*, stamp: Stamp, lot_id: int, reason: str, problem: bool = False) -> Answer:
    """Hold a lot and all made from it. `problem`: a shop's news, which holds at once."""
    kind = "problem reported" if problem else "held"
    told = {"lot": lot_id, "reason": reason}
    if before := earlier(stamp, kind, told):
        return Answer(before, repeated=True)
    refuse_without(reason)
    lot = Lot.objects.select_related("subject").get(pk=lot_id)
    event = record(stamp=stamp, kind=kind, subjects=[lot.subject], told=told, site_id=stamp.actor.site_id)
    code = "problem_reported" if problem else "held_by_founder"
    holds.open_hold(event, lot, cause=f"{kind}:{event.pk}", code=code, figures={"reason": reason})
    return Answer(event)


@deed
def report_problem(*, stamp: Stamp, batch_id: int, site_id: int, reason: str) -> Answer:
    """A shop's problem with a batch, even one that has no lot yet."""
    told = {"batch": batch_id, "reason": reason}
    if before := earlier(stamp, "problem reported", told):
        return Answer(before, repeated=True)
    refuse_without(reason)
    batch = batch_locked(batch_id)
    event = record(stamp=stamp, kind="problem reported", subjects=[batch.subject], told=told, site_id=site_id)
    holds.open_hold(
        event,
        lot_of(batch, event),
        cause=f"problem:{event.pk}",
        code="problem_reported",
        figures={"reason": reason},
    )
    return Answer(event)


@deed
def hold_part(*, stamp: Stamp, batch_id: int, place: Place, quantity: int, reason: str) -> Answer:
    """Hold only some of a lot's pieces: they become a child batch with its own code and traveller."""
    told = told_part(batch_id, place, quantity, reason)
    if before := earlier(stamp, "part held", told):
        return Answer(before, repeated=True)
    refuse_without(reason)
    batch, _ = part_locked(batch_id, place, quantity)
    first_step = waits_for(place)
    event = record(
        stamp=stamp,
        kind="part held",
        subjects=[batch.subject],
        told=told,
        site_id=place.site_id,
        first_step=first_step,
    )
    child = divide(event, batch, place, quantity, first_step=first_step)
    holds.open_hold(
        event, lot_of(child, event), cause=f"held:{event.pk}", code="held_by_founder", figures={"reason": reason}
    )
    return Answer(event)
