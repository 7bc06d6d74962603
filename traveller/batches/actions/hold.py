"""Stop a batch: the founder holds it, a shop reports a problem, or a part of it is set apart and held."""

from __future__ import annotations

from traveller.batches.splitting.divide import divide
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.fetch import batch_locked, lot_of
from traveller.journal.deed import deed
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.journal.stamp import Stamp
from traveller.ledger import holds
from traveller.ledger.models import Condition, Lot
from traveller.ledger.post import Balances, Place

_WAITING = (Condition.IN_PROCESS, Condition.REWORK)
_BEYOND = 1_000_000


@deed
def hold_lot(*, stamp: Stamp, lot_id: int, reason: str, problem: bool = False) -> Answer:
    """Hold a lot and all made from it. `problem`: a shop's news, which holds at once."""
    kind = "problem reported" if problem else "held"
    told = {"lot": lot_id, "reason": reason}
    before = earlier(stamp, kind, told)
    if before:
        return Answer(before, repeated=True)
    if not reason.strip():
        raise Refused("reason_needed")
    lot = Lot.objects.select_related("subject").get(pk=lot_id)
    event = record(stamp=stamp, kind=kind, subjects=[lot.subject], told=told, site_id=stamp.actor.site_id)
    code = "problem_reported" if problem else "held_by_founder"
    holds.open_hold(event, lot, cause=f"{kind}:{event.pk}", code=code, figures={"reason": reason})
    return Answer(event)


@deed
def report_problem(*, stamp: Stamp, batch_id: int, site_id: int, reason: str) -> Answer:
    """A shop's problem with a batch, even one that has no lot yet."""
    told = {"batch": batch_id, "reason": reason}
    before = earlier(stamp, "problem reported", told)
    if before:
        return Answer(before, repeated=True)
    if not reason.strip():
        raise Refused("reason_needed")
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
    told = {
        "batch": batch_id,
        "site": place.site_id,
        "condition": place.condition,
        "step": place.step,
        "quantity": quantity,
        "reason": reason,
    }
    before = earlier(stamp, "part held", told)
    if before:
        return Answer(before, repeated=True)
    if not reason.strip():
        raise Refused("reason_needed")
    batch = batch_locked(batch_id)
    if batch.lot_id is None or place.lot_id != batch.lot_id:
        raise Refused("nothing_there")
    if place.condition not in (*_WAITING, Condition.STOCK):
        raise Refused("not_on_a_shelf", condition=place.condition)
    there = Balances([batch.lot_id]).at(place)
    if not 0 < quantity < there:
        raise Refused("not_a_part", there=there, wanted=quantity)
    first_step = _waits_for(place)
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


def _waits_for(place: Place) -> int:
    """The number from which on steps are still to be done; beyond every step when all are."""
    if place.condition in _WAITING:
        return place.step
    return place.step + 1 if place.step else _BEYOND
