"""A count was wrong: the difference is posted under the old event's name, the old one stays in the journal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import Q

from traveller.batches.actions.report import add, counted, post_count, whole_number
from traveller.batches.history.built_on import was_undone
from traveller.batches.models import Count, Step
from traveller.batches.proof.judge import Judging
from traveller.batches.steps import consume
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.consume import Used
from traveller.batches.steps.fetch import step_locked
from traveller.batches.steps.flows import Figures
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused, refuse_without
from traveller.ledger.models import Link

KIND = "count corrected"


@action
def correct_count(
    *,
    event_context: EventContext,
    event_id: int,
    reason: str,
    good: int = 0,
    scrap: Mapping[str, int] | None = None,
    rework: int = 0,
    samples: int = 0,
) -> Answer:
    """Say what the count should have been; all zero: it did not occur.

    What was used or sent on since stands: a shortfall goes to `unexplained`, where the founder settles it.
    """
    reasons = dict(scrap or {})
    reported: dict[str, Any] = {
        "event": event_id,
        "reason": reason,
        "good": good,
        "scrap": reasons,
        "rework": rework,
        "samples": samples,
    }
    if before := earlier(event_context, KIND, reported):
        return Answer(before, repeated=True)
    refuse_without(reason)
    whole_number(good, rework, samples, *reasons.values())
    wrong = Event.objects.get(pk=event_id)
    # A correction of a correction says again what the first count should have been.
    wrong = wrong.corrects or wrong
    if was_undone(wrong):
        raise Refused("was_undone")
    step, rows = _counted_in(wrong)
    delta = Figures(good, sum(reasons.values()), rework, samples).minus(_stood(rows))
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[step.batch.subject],
        reported=reported,
        site_id=step.site_id,
        corrects=wrong,
        number=step.number,
        step_id=step.pk,
        again=rows[0].again,
        delta={
            "good": delta.good,
            "scrap": delta.scrap,
            "rework": delta.rework,
            "samples": delta.samples,
        },
    )
    _write_row(event, step, rows, delta, reasons)
    judging = Judging(event_context)
    for one in _post(event, wrong, step, rows[0], delta):
        judging.step(one)
    return Answer(event)


def _counted_in(wrong: Event) -> tuple[Step, list[Count]]:
    """The step, locked, and the rows that the event and its corrections wrote there."""
    first = Count.objects.filter(event=wrong).first()
    if first is None:
        raise Refused("nothing_to_correct")
    step = step_locked(first.step_id)
    rows = Count.objects.filter(Q(event=wrong) | Q(event__corrects=wrong)).select_related("load__step__batch__lot")
    return step, list(rows.order_by("id"))


def _stood(rows: list[Count]) -> Figures:
    """What the count says with the corrections that it has had."""
    return Figures(
        sum(row.good for row in rows),
        sum(row.scrap for row in rows),
        sum(row.rework for row in rows),
        sum(row.samples for row in rows),
    )


def _write_row(event: Event, step: Step, rows: list[Count], delta: Figures, reasons: Mapping[str, int]) -> None:
    Count.objects.create(
        step=step,
        event=event,
        load=rows[0].load,
        again=rows[0].again,
        good=delta.good,
        scrap=delta.scrap,
        rework=delta.rework,
        samples=delta.samples,
        by_reason=_reason_delta(reasons, rows),
        open_cavities=rows[0].open_cavities,
    )


def _post(event: Event, wrong: Event, step: Step, row: Count, delta: Figures) -> list[Step]:
    """Post the difference; returns the steps to be judged anew."""
    pieces_before = counted(step)
    add(step, delta, again=row.again)
    step.save()
    # The pieces of a load that was split off since lie in the child's lot.
    own = row.load.step if row.load else step
    lot = own.batch.lot
    if lot is None:
        raise Refused("nothing_to_correct")
    used = [Used(link.parent_id) for link in Link.objects.filter(event=wrong, inferred=False, child=step.batch.lot)]
    takes = consume.takes(step, pieces_before, counted(step), used)
    if counted(step) < pieces_before and not used:
        takes = consume.give_back(step, wrong, pieces_before, counted(step))
    post_count(event, step, lot, delta, takes, again=row.again).settle(event.happened_at)
    return [step] if own.pk == step.pk else [step, step_locked(own.pk)]


def _reason_delta(now: Mapping[str, int], rows: list[Count]) -> dict[str, int]:
    delta = dict(now)
    for row in rows:
        for reason, pieces in row.by_reason.items():
            delta[reason] = delta.get(reason, 0) - pieces
    return {reason: pieces for reason, pieces in delta.items() if pieces}
