"""A shop takes back what it has just told: it did not occur, and everything is as if it had not been told.

Postings, links and counts go by their opposites, the step's columns by telling the batch's journal again without it
(`history.replaying`). Ten minutes count from recording to the tap. What the struck news alone had opened (a hold, an
inherited hold) goes with it; a load that failed and was set apart is no longer taken back.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from traveller.batches.history.built_on import UNDONE_NEWS, built_on, judged_holds, was_undone
from traveller.batches.history.replaying import replay_of
from traveller.batches.models import Attachment, Count, Load, Reading, Step, Verdict
from traveller.batches.proof.judge import Judging
from traveller.batches.proof.tester import concerned
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.closing import review
from traveller.batches.steps.fetch import step_locked
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.journal.rows import insert
from traveller.ledger import holds
from traveller.ledger.post import Balances, post
from traveller.ledger.reverse import moves_back, touched, unlink
from traveller.rules.checks.master import MASTER

KIND = UNDONE_NEWS
# Without a manager; afterwards a correction with a reason.
WITHIN = timedelta(minutes=10)
UNDOABLE = ("counted", "measured", "step started", "step done", "load started", "load ended", "cavities changed")
_TOTALS = ("good", "scrap", "rework", "samples", "again_good", "again_scrap", "shots")
_STATE = ("state", "started_at", "done_at", "open_cavities", *_TOTALS)


def may_undo(event: Event, at: Any) -> bool:
    """Is there a button for it? What was built on it is looked at when it is pressed."""
    return event.kind in UNDOABLE and at - event.recorded_at <= WITHIN and was_undone(event) is None


@action
def undo(*, event_context: EventContext, event_id: int) -> Answer:
    """Strike an event of one's own site within ten minutes of its recording, unless somebody built on it.

    The time is that of the tap, so that an undoing which waited on a phone without a signal is not late.
    """
    wrong = Event.objects.get(pk=event_id)
    reported = {"event": str(wrong.uid)}
    if before := earlier(event_context, KIND, reported) or was_undone(wrong):
        return Answer(before, repeated=True)
    _refuse(wrong, event_context)
    load = _load_of(wrong)
    step = step_locked(_step_of(wrong, load))
    if Event.objects.filter(corrects=wrong).exists() or built_on(wrong, step, load):
        raise Refused("built_upon")
    closes = list(judged_holds(wrong))
    count = Count.objects.filter(event=wrong).first()
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[step.batch.subject_id],
        reported=reported,
        site_id=wrong.site_id,
        corrects=wrong,
        number=step.number,
        step_id=step.pk,
        what=wrong.kind,
        load=load.pk if load and wrong.kind in ("load started", "load ended") else None,
        closes=[hold.pk for hold in closes],
        again=bool(count and count.again),
        delta=_delta(count),
        shots=wrong.data["told"].get("shots", 0) if wrong.kind == "cavities changed" else 0,
    )
    lots = _take_back(event, wrong, step, count)
    tries = list(Reading.objects.filter(event=wrong, name=MASTER, struck_by=None).values_list("taken_at", flat=True))
    elsewhere = _strike(event, wrong, load)
    if tries:
        # Pieces of other batches that were tested where this was the test master.
        elsewhere += concerned(step, min(tries))
    _as_before(step, load)
    for hold in closes:
        holds.close_hold(event, hold, disposition=holds.UNDONE, reason="")
    Judging(event_context).and_after(step, elsewhere)
    review({*lots, step.batch.lot_id or 0}, event_context.at)
    return Answer(event)


def _refuse(wrong: Event, event_context: EventContext) -> None:
    if wrong.kind not in UNDOABLE or wrong.site_id is None or wrong.site_id != event_context.actor.site_id:
        raise Refused("nothing_to_undo")
    if event_context.at - wrong.recorded_at > WITHIN:
        raise Refused("too_late_to_undo", minutes=int(WITHIN.total_seconds() // 60))


def _load_of(wrong: Event) -> Load | None:
    if wrong.kind == "load started":
        return Load.objects.filter(uid=wrong.uid).first()
    if wrong.kind == "load ended":
        return Load.objects.filter(pk=wrong.data["told"]["load"]).first()
    return None


def _step_of(wrong: Event, load: Load | None) -> int:
    step_id = load.step_id if load else wrong.data.get("step_id")
    if not isinstance(step_id, int):
        raise Refused("nothing_to_undo")
    return step_id


def _delta(count: Count | None) -> dict[str, int] | None:
    names = ("good", "scrap", "rework", "samples", "shots")
    return {name: -getattr(count, name) for name in names} if count else None


def _take_back(event: Event, wrong: Event, step: Step, count: Count | None) -> list[int]:
    """Postings, count row and genealogy, each by its opposite; returns the lots that it had touched."""
    lots = touched(wrong)
    balances = Balances(lots)
    try:
        post(event, moves_back(wrong, balances))
    except Refused as short:
        raise Refused("built_upon") from short
    if count:
        insert(
            Count(
                step=step,
                event=event,
                load=count.load,
                again=count.again,
                good=-count.good,
                scrap=-count.scrap,
                rework=-count.rework,
                samples=-count.samples,
                by_reason={reason: -pieces for reason, pieces in count.by_reason.items()},
                shots=-count.shots,
                open_cavities=count.open_cavities,
            )
        )
    holds.let_go(event, unlink(event, wrong))
    return lots


def _strike(event: Event, wrong: Event, load: Load | None) -> list[Step]:
    """What it wrote down is struck; returns other steps whose readings these were."""
    own = Reading.objects.filter(event=wrong, struck_by=None)
    steps = list(own.values_list("step_id", flat=True).distinct())
    own.update(struck_by=event)
    if wrong.kind == "load started" and load:
        Load.objects.filter(pk=load.pk).update(struck_by=event)
        Attachment.objects.filter(load=load, struck_by=None).update(struck_by=event)
        Verdict.objects.filter(load=load, latest=True).update(latest=False)
    return [step_locked(step_id) for step_id in steps if step_id != wrong.data.get("step_id")]


def _as_before(step: Step, load: Load | None) -> None:
    """The journal told again without what was struck says how the step and its load stood."""
    replayed = replay_of(step.batch)
    own = replayed.steps[step.pk]
    for name in _STATE:
        setattr(step, name, getattr(own, name))
    step.save(update_fields=_STATE)
    if load:
        known = replayed.loads[load.pk]
        load.started_at, load.ended_at, load.late_reason = known.started_at, known.ended_at, known.late_reason
        load.save(update_fields=["started_at", "ended_at", "late_reason"])
