"""A shop tells what it counted at a step: good, scrap by reason, rework, samples, readings, lots used."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

from traveller.batches.models import Count, Load, Step
from traveller.batches.proof.judge import Judging
from traveller.batches.proof.readings import ReadingTold, write_readings
from traveller.batches.steps import consume
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.closing import Closing, review_batch
from traveller.batches.steps.consume import Take, Used
from traveller.batches.steps.fetch import lot_of, step_locked
from traveller.batches.steps.flows import Figures, count_moves
from traveller.batches.steps.news import record_at
from traveller.batches.steps.short_of_plan import said_of_plan
from traveller.batches.steps.states import begin, finish
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import earlier
from traveller.journal.refusal import Refused
from traveller.journal.rows import insert, update
from traveller.ledger.models import Lot
from traveller.ledger.post import Balances, post

KIND = "counted"
# What a report changes of its step.
_TOTALS = ("good", "scrap", "rework", "samples", "again_good", "again_scrap", "shots")
_MOVED = ("state", "started_at", "done_at", "open_cavities", *_TOTALS)


@action
def report(
    *,
    event_context: EventContext,
    step_id: int,
    good: int = 0,
    scrap: Mapping[str, int] | None = None,
    rework: int = 0,
    samples: int = 0,
    again: bool = False,
    load: UUID | None = None,
    shots: int = 0,
    open_cavities: int | None = None,
    readings: Sequence[ReadingTold] = (),
    used: Sequence[Used] = (),
    done: bool = False,
    note: str = "",
    is_all: bool = False,
) -> Answer:
    """Take a count as news. Pieces beyond what had arrived come out of `unreported`, which must return to zero.

    `again`: these pieces come out of rework. `used` without a quantity takes the bill's; components nobody
    scanned are inferred from the bill. `done` also says that the step is finished; `is_all` as in `finish_step`.
    """
    reasons = dict(scrap or {})
    whole_number(good, rework, samples, shots, *reasons.values())
    reported: dict[str, Any] = {
        "step": step_id,
        "good": good,
        "scrap": reasons,
        "rework": rework,
        "samples": samples,
        "again": again,
        "load": str(load) if load else None,
        "shots": shots,
        "open_cavities": open_cavities,
        "readings": [reading.reported() for reading in readings],
        "used": [[use.lot_id, use.quantity] for use in used],
        "done": done,
        "note": note,
    }
    if before := earlier(event_context, KIND, reported):
        return Answer(before, repeated=True)
    step = step_locked(_step_of(step_id, load))
    figures = Figures(good, sum(reasons.values()), rework, samples)
    found = said_of_plan(step, is_all, good=good, through=0 if again else figures.total) if done else {}
    event = record_at(step, event_context=event_context, kind=KIND, reported=reported, **found)
    begin(step, event_context.at)
    if open_cavities is not None:
        step.open_cavities = open_cavities
    closing = _count(event, step, figures, reasons, again=again, load=load, shots=shots, used=used)
    elsewhere = write_readings(event, step, readings) if readings else []
    if done:
        finish(step, event_context.at)
    update(step, *_MOVED)
    Judging(event_context).and_after(step, elsewhere)
    if closing:
        closing.settle(event_context.at)
    elif done:
        review_batch(step.batch, event_context.at)
    return Answer(event)


def _step_of(step_id: int, load: UUID | None) -> int:
    """The step told, or that of its load: a load which failed may have been split off since the phone knew it."""
    if load is None:
        return step_id
    found = Load.objects.filter(uid=load).values_list("step_id", flat=True).first()
    if found is None:
        raise Refused("unknown_load")
    return found


def _count(
    event: Event,
    step: Step,
    figures: Figures,
    reasons: dict[str, int],
    *,
    again: bool,
    load: UUID | None,
    shots: int,
    used: Sequence[Used],
) -> Closing | None:
    """Count row, postings, genealogy and the step's own totals."""
    if figures.total == 0 and shots == 0 and not used:
        return None
    lot = lot_of(step.batch, event)
    insert(
        Count(
            step=step,
            event=event,
            load=Load.objects.get(uid=load) if load else None,
            again=again,
            good=figures.good,
            scrap=figures.scrap,
            rework=figures.rework,
            samples=figures.samples,
            by_reason=reasons,
            shots=shots,
            open_cavities=step.open_cavities,
        )
    )
    before = counted(step)
    add(step, figures, again=again, shots=shots)
    return post_count(event, step, lot, figures, consume.takes(step, before, counted(step), used), again=again)


def post_count(event: Event, step: Step, lot: Lot, figures: Figures, takes: Sequence[Take], *, again: bool) -> Closing:
    """Post the pieces of a count, or of what a correction makes of it, and what was taken for them; the closing of
    all lots concerned is still to be settled."""
    lots = [lot.pk, *[take.lot.pk for take in takes]]
    balances = Balances(lots)
    closing = Closing(balances, lots)
    moves = count_moves(balances, step, lot.pk, figures, again=again)
    moves += consume.consume(event, step, lot, takes, balances)
    post(event, moves)
    return closing


def counted(step: Step) -> int:
    """Pieces told of at this step so far, first entries only."""
    return step.good + step.scrap + step.rework + step.samples


def add(step: Step, figures: Figures, *, again: bool, shots: int = 0) -> None:
    """Keep the step's totals; what comes out of rework is told apart."""
    if again:
        step.again_good += figures.good
        step.again_scrap += figures.scrap
    else:
        step.good += figures.good
        step.scrap += figures.scrap
        step.rework += figures.rework
        step.samples += figures.samples
    step.shots += shots


def whole_number(*quantities: int) -> None:
    """News may be surprising, but not impossible: nobody counts fewer than none."""
    for quantity in quantities:
        if quantity < 0 or quantity > 2_000_000_000:
            raise Refused("not_a_quantity", found=quantity)
