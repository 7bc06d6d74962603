"""A step of a batch is done at another site than its routing says; the routing itself stays frozen."""

from __future__ import annotations

from sites.models import Site
from traveller.batches.models import Batch, Load, Step, StepState
from traveller.batches.proof.judge import Judging
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.fetch import step_locked
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused, refuse_without
from traveller.ledger.models import OWED, Condition
from traveller.ledger.post import Balances, Move, Place, post
from traveller.products.frozen import operations_of
from traveller.products.models import OperationKind

KIND = "step rerouted"


@action
def reroute(*, event_context: EventContext, step_id: int, site_id: int, reason: str) -> Answer:
    """Only a step of which nothing is counted yet: of one that is begun, the rest is split off first.

    What waits for it at the old site lies on the shelf there now, to be sent on as after the step before; what lies on
    the shelf of the new site waits for it there.
    """
    reported = {"step": step_id, "site": site_id, "reason": reason}
    if before := earlier(event_context, KIND, reported):
        return Answer(before, repeated=True)
    refuse_without(reason)
    step = step_locked(step_id)
    site = Site.objects.get(pk=site_id)
    _refuse(step, site)
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[step.batch.subject_id],
        reported=reported,
        site_id=None,
        number=step.number,
        step_id=step.pk,
        old_site=step.site_id,
    )
    moves = _moves(step, site) if step.batch.lot_id else []
    post(event, moves)
    Step.objects.filter(pk=step.pk).update(site=site)
    Batch.objects.filter(pk=step.batch_id).update(rerouted=True)
    judged = step_locked(step.pk)
    if judged.state != StepState.WAITING:
        Judging(event_context).step(judged)
    return Answer(event)


def _refuse(step: Step, site: Site) -> None:
    if site.pk == step.site_id:
        raise Refused("same_site")
    if site.closed_on is not None:
        raise Refused("site_closed", site=site.name)
    if _is_begun(step):
        raise Refused("step_begun", step=step.number, verb=step.operation.verb)
    if step.batch.lot_id is None:
        return
    for place, balance in Balances([step.batch.lot_id]).places().items():
        if place.step != step.number:
            continue
        if place.condition == Condition.ON_THE_ROAD:
            raise Refused("still_on_the_road", lot=step.batch.code, quantity=balance, unit=step.batch.part.unit)
        if place.condition in OWED or place.condition == Condition.REWORK:
            raise Refused("step_begun", step=step.number, verb=step.operation.verb)


def _is_begun(step: Step) -> bool:
    """Said to be done, or something of it was counted, or a load of it stands in the record."""
    counts = (step.good, step.scrap, step.rework, step.samples, step.again_good, step.again_scrap)
    if step.state == StepState.DONE or any(counts):
        return True
    return Load.objects.filter(step=step, struck_by=None).exists()


def _moves(step: Step, site: Site) -> list[Move]:
    """The pieces that wait for the step, from the old way to the new one."""
    lot_id = step.batch.lot_id or 0
    earlier_ones = [
        operation.number
        for operation in operations_of(step.batch.routing_id)
        if operation.number < step.number and operation.kind != OperationKind.PREPARE
    ]
    if not earlier_ones:
        return []
    done = earlier_ones[-1]
    moves = []
    for place, balance in Balances([lot_id]).places().items():
        waits = place.condition == Condition.IN_PROCESS and place.step == step.number
        shelved = place.condition == Condition.STOCK and place.step == done and place.site_id == site.pk
        if waits and place.site_id != site.pk:
            moves.append(Move(place, Place(lot_id, place.site_id, Condition.STOCK, done), balance))
        elif shelved:
            moves.append(Move(place, Place(lot_id, site.pk, Condition.IN_PROCESS, step.number), balance))
    return moves
