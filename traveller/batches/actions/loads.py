"""A load goes in, a load comes out: its own start, end, quantity and place."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db.models import Max, Q

from traveller.batches.models import Load, Step
from traveller.batches.proof.judge import Judging
from traveller.batches.proof.readings import ReadingTold, write_readings
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.fetch import step_locked
from traveller.batches.steps.states import begin
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused

STARTED = "load started"
ENDED = "load ended"


@action
def start_load(
    *, event_context: EventContext, step_id: int, quantity: int = 0, place: str = "", note: str = ""
) -> Answer:
    """The load's id is the event's id, so that the phone knows it before the server does."""
    reported = {"step": step_id, "quantity": quantity, "place": place, "note": note}
    if before := earlier(event_context, STARTED, reported):
        return Answer(before, repeated=True)
    if quantity < 0:
        raise Refused("not_a_quantity", found=quantity)
    step = step_locked(step_id)
    number = _next_number(step)
    event = record(
        event_context=event_context,
        kind=STARTED,
        subjects=[step.batch.subject],
        reported=reported,
        site_id=step.site_id,
        number=step.number,
        load=number,
        step_id=step.pk,
    )
    Load.objects.create(
        step=step, uid=event_context.uid, number=number, quantity=quantity, place=place, started_at=event_context.at
    )
    begin(step, event_context.at)
    step.save()
    Judging(event_context).step(step)
    return Answer(event)


def _next_number(step: Step) -> int:
    """Loads that were split off to a child batch keep their number, so it is not given again."""
    family = Q(step__batch=step.batch_id) | Q(step__batch__parent=step.batch_id)
    loads = Load.objects.filter(family, step__number=step.number)
    return (loads.aggregate(last=Max("number"))["last"] or 0) + 1


@action
def end_load(
    *,
    event_context: EventContext,
    load_id: int,
    started_at: datetime | None = None,
    late_reason: str = "",
    readings: Sequence[ReadingTold] = (),
) -> Answer:
    """The load came out at the event context's time. `started_at` corrects its start, with the reason why so late."""
    reported = {
        "load": load_id,
        "started_at": started_at.isoformat() if started_at else None,
        "late_reason": late_reason,
        "readings": [reading.reported() for reading in readings],
    }
    if before := earlier(event_context, ENDED, reported):
        return Answer(before, repeated=True)
    step = step_locked(Load.objects.values_list("step_id", flat=True).get(pk=load_id))
    load = Load.objects.get(pk=load_id)
    event = record(
        event_context=event_context,
        kind=ENDED,
        subjects=[step.batch.subject],
        reported=reported,
        site_id=step.site_id,
        number=step.number,
        load_number=load.number,
    )
    load.ended_at = event_context.at
    if started_at is not None:
        load.started_at = started_at
    load.late_reason = late_reason
    load.save(update_fields=["ended_at", "started_at", "late_reason"])
    elsewhere = write_readings(event, step, readings) if readings else []
    Judging(event_context).and_after(step, elsewhere)
    return Answer(event)
