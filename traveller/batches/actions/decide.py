"""The founder decides what happens to a held lot: use as is, rework, regrade, scrap or return; always with a reason."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Literal

from django.db.models import Q, QuerySet

from traveller.batches.models import Attachment, Batch, Load, Reading, Step, StepState, Verdict
from traveller.batches.splitting.regrade import other_part, regrade
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.closing import Closing, review_batch
from traveller.batches.steps.fetch import batch_locked
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused, refuse_without
from traveller.ledger import holds
from traveller.ledger.models import Condition, Hold
from traveller.ledger.post import Balances, Move, Place, post

KIND = "decided"
Disposition = Literal["concession", "rework", "regrade", "scrap", "return", "release"]
_LYING = (Condition.IN_PROCESS, Condition.REWORK, Condition.STOCK)


@action
def decide(
    *,
    event_context: EventContext,
    hold_id: int,
    disposition: Disposition,
    reason: str,
    to_step: int | None = None,
    to_part: int | None = None,
) -> Answer:
    """Close a hold. concession: use as is although the check failed. rework: back to `to_step`, its tests again.
    regrade: its pieces become a lot of `to_part`. scrap: all of the lot that lies anywhere. release: no check fails
    behind it, or it has passed since. return marks a bought lot to be sent back: it stays held until then."""
    reported: dict[str, Any] = {"hold": hold_id, "disposition": disposition, "reason": reason, "to_step": to_step}
    if to_part is not None:
        reported["to_part"] = to_part
    if before := earlier(event_context, KIND, reported):
        return Answer(before, repeated=True)
    refuse_without(reason)
    batch = Batch.objects.filter(lot__holds=hold_id).first()
    if batch:
        batch = batch_locked(batch.pk)
    hold = (
        Hold.objects.select_for_update(of=("self",))
        .select_related("lot__subject", "lot__part", "root__lot")
        .get(pk=hold_id)
    )
    _refuse(hold, batch, disposition)
    part = other_part(hold, to_part) if disposition == "regrade" else None
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[hold.lot.subject],
        reported=reported,
        site_id=None,
        cause=hold.cause,
        code=hold.code,
    )
    if disposition == "concession":
        _concede(event, batch, hold)
    elif disposition == "scrap":
        _scrap(event, hold)
    elif disposition == "rework":
        _rework(event, batch, hold, to_step)
    if disposition == "return":
        holds.mark_hold(hold, disposition=disposition, reason=reason)
        return Answer(event)
    holds.close_hold(event, hold, disposition=disposition, reason=reason)
    if part is not None:
        regrade(event, hold, part)
    return Answer(event)


def _refuse(hold: Hold, batch: Batch | None, disposition: Disposition) -> None:
    if hold.closed_at:
        raise Refused("already_decided", disposition=hold.disposition)
    # Where the root was scrapped or reworked, what had been made of it is decided by itself.
    if hold.root and hold.root.closed_at is None:
        raise Refused("inherited_hold", lot=hold.root.lot.code)
    if disposition == "return" and batch is not None:
        raise Refused("return_is_for_bought", lot=hold.lot.code)
    if disposition == "release" and hold.root is None:
        outcomes = {row.outcome for row in _verdicts(batch, hold).filter(load=None)}
        if outcomes - {"passed"}:
            raise Refused("release_needs_concession")


def _verdicts(batch: Batch | None, hold: Hold) -> QuerySet[Verdict]:
    """What the check that opened a hold says now; none for a hold that no check opened."""
    if batch is None or not hold.cause.startswith("check:"):
        return Verdict.objects.none()
    _, number, key = hold.cause.split(":", 2)
    return Verdict.objects.filter(step__batch=batch, step__number=int(number), check_key=key, latest=True)


def _concede(event: Event, batch: Batch | None, hold: Hold) -> None:
    """The check that opened the hold, and each of its loads, counts as conceded; its outcome stays as it was."""
    if hold.root is None:
        _verdicts(batch, hold).update(conceded_event=event)


def _scrap(event: Event, hold: Hold) -> None:
    balances = Balances([hold.lot_id])
    moves = [Move(place, place.become(Condition.SCRAP), balance) for place, balance in _lying(hold, balances)]
    closing = Closing(balances, [hold.lot_id])
    balances.note(moves)
    post(event, moves)
    closing.settle(event.happened_at)


def _lying(hold: Hold, balances: Balances) -> Iterator[tuple[Place, int]]:
    """Where the lot lies at sites; nothing is decided while some of it is on the road."""
    for place, balance in balances.places().items():
        if place.condition == Condition.ON_THE_ROAD:
            raise Refused("still_on_the_road", lot=hold.lot.code, quantity=balance, unit=hold.lot.part.unit)
        if place.condition in _LYING:
            yield place, balance


def _rework(event: Event, batch: Batch | None, hold: Hold, to_step: int | None) -> None:
    """All pieces of the lot that lie at one site go back before `to_step`; evidence from there on is struck."""
    if batch is None:
        raise Refused("rework_needs_a_batch", lot=hold.lot.code)
    steps = list(Step.objects.filter(batch=batch, number__gte=to_step or 0).order_by("number"))
    if to_step is None or not steps or steps[0].number != to_step:
        raise Refused("no_such_step", step=to_step)
    post(event, _moves_back(hold, steps[0]))
    reopened = [step.pk for step in steps if step.state != StepState.WAITING]
    Step.objects.filter(pk__in=reopened).update(state=StepState.RUNNING, done_at=None)
    own = Q(step__in=[step.pk for step in steps])
    Load.objects.filter(own, struck_by=None).update(struck_by=event)
    Reading.objects.filter(own, struck_by=None).update(struck_by=event)
    Attachment.objects.filter(own, struck_by=None).update(struck_by=event)
    Verdict.objects.filter(own, latest=True).update(latest=False)
    # Its making step may be done again.
    review_batch(batch, event.happened_at)


def _moves_back(hold: Hold, back: Step) -> list[Move]:
    """All that is past the step, or waits for it, to its rework; what lies at another site has to be sent first."""
    target = Place(hold.lot_id, back.site_id, Condition.REWORK, back.number)
    moves = []
    for place, balance in _lying(hold, Balances([hold.lot_id])):
        if balance <= 0 or not _is_past(place, back.number):
            continue
        if place.site_id != back.site_id:
            raise Refused("send_back_first", lot=hold.lot.code, step=back.number, site=back.site.name)
        if place != target:
            moves.append(Move(place, target, balance))
    return moves


def _is_past(place: Place, to_step: int) -> bool:
    """Through, or standing before, the step that is done again."""
    return place.step == 0 or place.step >= to_step
