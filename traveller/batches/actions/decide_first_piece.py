"""The founder approves or refuses the first pieces of a set-up; every open batch that waits for it is judged again."""

from __future__ import annotations

from traveller.batches.models import FirstPiece, Step, StepState
from traveller.batches.proof import evidence
from traveller.batches.proof.first_piece import as_data, asked_of
from traveller.batches.proof.judge import Judging
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.fetch import lock_batches_of_part, step_locked
from traveller.batches.steps.news import record_at
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier
from traveller.journal.refusal import Refused, refuse_without
from traveller.rules.checks.first_piece import unmeasured

KIND = "first-off decided"


@action
def decide_first_piece(*, event_context: EventContext, step_id: int, approved: bool, reason: str) -> Answer:
    """A request of the founder's: refused where a check asks for every cavity and one was not measured."""
    reported = {"step": step_id, "approved": approved, "reason": reason}
    if before := earlier(event_context, KIND, reported):
        return Answer(before, repeated=True)
    refuse_without(reason)
    part_id = Step.objects.values_list("batch__part_id", flat=True).get(pk=step_id)
    lock_batches_of_part(part_id)
    step = step_locked(step_id)
    asked = [plan.terms for plan in asked_of(step.operation_id)]
    if not asked:
        raise Refused("no_first_off_asked", step=step.number, verb=step.operation.verb)
    known = evidence.of_step(step, hangs_on_before=False, first_pieces=asked)
    if approved and any(terms.every_cavity for terms in asked):
        left = unmeasured(known, event_context.at)
        if left or not known.open_cavities:
            raise Refused("first_off_not_measured", cavities=[str(cavity) for cavity in left] or ["?"])
    made_with = as_data(known.made_with)
    event = record_at(step, event_context=event_context, kind=KIND, reported=reported, made_with=made_with)
    FirstPiece.objects.create(
        event=event,
        step=step,
        part_id=part_id,
        number=step.number,
        approved=approved,
        decided_at=event_context.at,
        made_with=made_with,
    )
    judging = Judging(event_context)
    judging.step(step)
    for other in _others(step, part_id):
        judging.step(other)
    return Answer(event)


def _others(step: Step, part_id: int) -> list[Step]:
    """The same operation in the part's other open batches, as far as it was begun."""
    rows = Step.objects.filter(batch__part=part_id, number=step.number, batch__closed_at=None)
    rows = rows.exclude(pk=step.pk).exclude(state=StepState.WAITING)
    return list(rows.select_related("batch__lot", "batch__subject", "operation").order_by("batch_id"))
