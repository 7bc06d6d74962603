"""A count was wrong: the difference is posted under the old event's name, the old one stays in the journal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from traveller.batches import consume
from traveller.batches.actions.report import add, counted
from traveller.batches.answer import Answer
from traveller.batches.consume import Used
from traveller.batches.fetch import step_locked
from traveller.batches.flows import Figures, count_moves
from traveller.batches.judge import Judging
from traveller.batches.models import Count
from traveller.journal.deed import deed
from traveller.journal.models import Event
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.journal.stamp import Stamp
from traveller.ledger.models import Link
from traveller.ledger.post import Balances, post

KIND = "count corrected"


@deed
def correct_count(
    *,
    stamp: Stamp,
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
    told: dict[str, Any] = {
        "event": event_id,
        "reason": reason,
        "good": good,
        "scrap": reasons,
        "rework": rework,
        "samples": samples,
    }
    before = earlier(stamp, KIND, told)
    if before:
        return Answer(before, repeated=True)
    if not reason.strip():
        raise Refused("reason_needed")
    wrong = Event.objects.get(pk=event_id)
    rows = list(Count.objects.filter(event=wrong) | Count.objects.filter(event__corrects=wrong))
    if not rows:
        raise Refused("nothing_to_correct")
    first = rows[0]
    step = step_locked(first.step_id)
    stood = Figures(
        sum(r.good for r in rows),
        sum(r.scrap for r in rows),
        sum(r.rework for r in rows),
        sum(r.samples for r in rows),
    )
    delta = Figures(good, sum(reasons.values()), rework, samples).minus(stood)
    event = record(
        stamp=stamp,
        kind=KIND,
        subjects=[step.batch.subject],
        told=told,
        site_id=step.site_id,
        corrects=wrong,
        number=step.number,
    )
    Count.objects.create(
        step=step,
        event=event,
        load=first.load,
        again=first.again,
        good=delta.good,
        scrap=delta.scrap,
        rework=delta.rework,
        samples=delta.samples,
        by_reason=_reason_delta(reasons, rows),
    )
    earlier_pieces = counted(step)
    add(step, delta, again=first.again)
    step.save()
    lot = step.batch.lot
    if lot is None:
        raise Refused("nothing_to_correct")
    used = [Used(row.parent_id) for row in Link.objects.filter(event=wrong, inferred=False)]
    takes = consume.takes(step, earlier_pieces, counted(step), used)
    if counted(step) < earlier_pieces and not used:
        takes = consume.give_back(step, wrong, earlier_pieces, counted(step))
    balances = Balances([lot.pk, *[take.lot.pk for take in takes]])
    moves = count_moves(balances, step, lot.pk, delta, again=first.again)
    moves += consume.consume(event, step, lot, takes, balances)
    post(event, moves)
    Judging(stamp).step(step)
    return Answer(event)


def _reason_delta(now: Mapping[str, int], rows: list[Count]) -> dict[str, int]:
    delta = dict(now)
    for row in rows:
        for reason, pieces in row.by_reason.items():
            delta[reason] = delta.get(reason, 0) - pieces
    return {reason: pieces for reason, pieces in delta.items() if pieces}
