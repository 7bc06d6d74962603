"""A shop says that a step is done. What is still there then must be explained; missing evidence holds the lot."""

from __future__ import annotations

from traveller.batches.proof.judge import Judging
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.closing import review_batch
from traveller.batches.steps.fetch import lot_of, step_locked
from traveller.batches.steps.flows import source
from traveller.batches.steps.short_of_plan import said_of_plan
from traveller.batches.steps.states import finish
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.ledger.models import Condition
from traveller.ledger.post import Balances, post
from traveller.products.models import OperationKind

KIND = "step done"


@action
def finish_step(
    *, event_context: EventContext, step_id: int, lost: int = 0, note: str = "", is_all: bool = False
) -> Answer:
    """`lost`: pieces that arrived and cannot be found; they stand as unexplained until settled.

    `is_all`: asked whether so few pieces are all, the shop said that they are. Far below plan and not asked, it is
    taken all the same, and the event says so.
    """
    reported = {"step": step_id, "lost": lost, "note": note}
    if before := earlier(event_context, KIND, reported):
        return Answer(before, repeated=True)
    if lost < 0:
        raise Refused("not_a_quantity", found=lost)
    step = step_locked(step_id)
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[step.batch.subject],
        reported=reported,
        site_id=step.site_id,
        number=step.number,
        step_id=step.pk,
        **said_of_plan(step, is_all, lost=lost),
    )
    finish(step, event_context.at)
    step.save()
    if lost and step.operation.kind == OperationKind.WORK:
        lot = lot_of(step.batch, event)
        place = source(step, lot.pk, again=False)
        # More than arrived is news too: then an earlier step has not been told yet.
        gone = place.become(Condition.UNEXPLAINED)
        post(event, Balances([lot.pk]).transfer(place, gone, lost, beyond=Condition.UNREPORTED))
    Judging(event_context).and_after(step)
    if lost or step.operation.kind == OperationKind.MAKE or step.batch.lot_id is None:
        review_batch(step.batch, event_context.at)
    return Answer(event)
