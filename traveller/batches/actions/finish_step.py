"""A shop says that a step is done. What is still there then must be explained; missing evidence holds the lot."""

from __future__ import annotations

from traveller.batches.proof.judge import Judging
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.closing import review_batch
from traveller.batches.steps.fetch import lot_of, step_locked
from traveller.batches.steps.flows import source
from traveller.batches.steps.states import finish
from traveller.journal.deed import deed
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.journal.stamp import Stamp
from traveller.ledger.models import Condition
from traveller.ledger.post import Balances, post
from traveller.products.models import OperationKind

KIND = "step done"


@deed
def finish_step(*, stamp: Stamp, step_id: int, lost: int = 0, note: str = "") -> Answer:
    """`lost`: pieces that arrived and cannot be found; they stand as unexplained until settled."""
    told = {"step": step_id, "lost": lost, "note": note}
    if before := earlier(stamp, KIND, told):
        return Answer(before, repeated=True)
    if lost < 0:
        raise Refused("not_a_quantity", found=lost)
    step = step_locked(step_id)
    event = record(
        stamp=stamp,
        kind=KIND,
        subjects=[step.batch.subject],
        told=told,
        site_id=step.site_id,
        number=step.number,
        step_id=step.pk,
    )
    finish(step, stamp.at)
    step.save()
    if lost and step.operation.kind == OperationKind.WORK:
        lot = lot_of(step.batch, event)
        place = source(step, lot.pk, again=False)
        # More than arrived is news too: then an earlier step has not been told yet.
        gone = place.become(Condition.UNEXPLAINED)
        post(event, Balances([lot.pk]).transfer(place, gone, lost, beyond=Condition.UNREPORTED))
    Judging(stamp).and_after(step)
    if lost or step.operation.kind == OperationKind.MAKE or step.batch.lot_id is None:
        review_batch(step.batch, stamp.at)
    return Answer(event)
