"""What people may do to a batch of globes, as data that hypothesis can draw; a refusal is an answer like any other."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from typing import Any

from django.db import transaction
from hypothesis import strategies as st

from tests import factory
from tests.globe import Globe
from traveller.batches.actions.correct_count import correct_count
from traveller.batches.actions.decide import decide
from traveller.batches.actions.finish_step import finish_step
from traveller.batches.actions.found_good import found_good
from traveller.batches.actions.hold import hold_lot, hold_part
from traveller.batches.actions.move_rest import move_rest
from traveller.batches.actions.receive import arrived_unannounced, receive
from traveller.batches.actions.recombine import recombine
from traveller.batches.actions.reenter import reenter
from traveller.batches.actions.report import report
from traveller.batches.actions.reroute import reroute
from traveller.batches.actions.send import send
from traveller.batches.actions.set_cavities import set_cavities
from traveller.batches.actions.settle_difference import settle_difference
from traveller.batches.actions.split import split
from traveller.batches.actions.undo import UNDOABLE, undo
from traveller.batches.actions.write_off import write_off
from traveller.batches.models import Batch, Load
from traveller.batches.splitting.places import SEPARABLE
from traveller.dispatches.actions.dispatch import SendLine
from traveller.dispatches.models import ConsignmentLine
from traveller.journal.models import Event
from traveller.ledger.models import Account, Condition, Hold
from traveller.ledger.post import Place
from traveller.products import frozen

Act = tuple[Any, ...]

_pieces = st.integers(0, 30)
_few = st.integers(0, 3)
_pick = st.integers(0, 9)
_steps = st.sampled_from([20, 30, 40, 50])

ACTS: st.SearchStrategy[Act] = st.one_of(
    st.tuples(st.just("report"), _pick, _steps, _pieces, _few, _few, _few, st.booleans(), st.booleans()),
    st.tuples(st.just("cool"), _pick, st.integers(1, 24), st.integers(12, 17), st.booleans()),
    st.tuples(st.just("finish"), _pick, _steps, _few),
    st.tuples(st.just("correct"), _pick, _pieces, _few, _few),
    st.tuples(st.just("send"), _pick, st.integers(1, 20)),
    st.tuples(st.just("receive"), _pick, st.integers(-3, 3), st.booleans()),
    st.tuples(st.just("unannounced"), _pick, st.integers(1, 20)),
    st.tuples(st.just("settle"), _pick, st.sampled_from(["lost", "at_sender", "never_counted"])),
    st.tuples(st.just("set apart"), _pick, st.integers(1, 8)),
    st.tuples(st.just("hold"), _pick),
    st.tuples(
        st.just("decide"),
        _pick,
        st.sampled_from(["concession", "rework", "scrap", "release"]),
        st.sampled_from([20, 30, 40, 50]),
    ),
    st.tuples(st.just("reenter"), _pick, _steps, _steps, st.integers(1, 5)),
    st.tuples(st.just("undo"), _pick),
    st.tuples(st.just("undo"), st.just(-1)),
    st.tuples(st.just("split"), _pick, st.integers(1, 8)),
    st.tuples(st.just("recombine"), _pick, _pick),
    st.tuples(st.just("rest"), _pick, _pick, st.booleans()),
    st.tuples(st.just("found"), _pick, _steps, _few),
    st.tuples(st.just("cavities"), _pick, st.integers(1, 2), _few),
    st.tuples(st.just("reroute"), _pick, _steps, st.booleans()),
    st.tuples(st.just("write off"), _pick, st.integers(1, 4)),
    st.tuples(st.just("next batch"), _pick),
)


@contextmanager
def fresh() -> Iterator[None]:
    """Each example in a database of its own, as far as it can see."""
    frozen.forget()
    with transaction.atomic():
        yield
        transaction.set_rollback(True)
    frozen.forget()


def perform(globe: Globe, act: Act) -> None:
    """Do one act, if there is anything to do it to."""
    kind, pick, *rest = act
    _DEEDS[kind](globe, pick, *rest)


def _one(rows: Any, pick: int) -> Any:
    found = list(rows.order_by("id"))
    return found[pick % len(found)] if found else None


def _step(pick: int, number: int) -> int | None:
    batch = _one(Batch.objects.filter(steps__number=number), pick)
    return batch.steps.get(number=number).pk if batch else None


def _report(
    globe: Globe, pick: int, number: int, good: int, scrap: int, rework: int, samples: int, again: bool, done: bool
) -> None:
    step = _step(pick, number)
    if step:
        report(
            event_context=globe.event_context(),
            step_id=step,
            good=good,
            scrap={"short": scrap},
            rework=rework,
            samples=samples,
            again=again,
            done=done,
        )


def _cool(globe: Globe, pick: int, quantity: int, minutes: int, counted_first: bool) -> None:
    batch = _one(Batch.objects.filter(steps__number=30), pick)
    load = globe.put_in(quantity, batch=batch)
    again = Account.objects.filter(lot=batch.lot_id or 0, condition=Condition.REWORK, step=30, balance__gt=0).exists()
    if counted_first:
        globe.report(30, quantity, load=load.uid, again=again, batch=batch)
    globe.take_out(Load.objects.get(pk=load.pk), load.started_at + timedelta(minutes=minutes))
    if not counted_first:
        globe.report(30, quantity, load=load.uid, again=again, batch=batch)


def _finish(globe: Globe, pick: int, number: int, lost: int) -> None:
    step = _step(pick, number)
    if step:
        finish_step(event_context=globe.event_context(), step_id=step, lost=lost)


def _correct(globe: Globe, pick: int, good: int, scrap: int, rework: int) -> None:
    event = _one(Event.objects.filter(kind__in=["counted", "count corrected"]), pick)
    if event:
        correct_count(
            event_context=globe.event_context(),
            event_id=event.pk,
            reason="recounted",
            good=good,
            scrap={"short": scrap},
            rework=rework,
        )


def _send(globe: Globe, pick: int, quantity: int) -> None:
    shelf = _one(Account.objects.filter(condition=Condition.STOCK, site=globe.moulder, balance__gt=0, step=30), pick)
    if shelf:
        line = SendLine(shelf.lot_id, quantity, from_step=shelf.step)
        send(
            event_context=globe.event_context(), origin_id=globe.moulder.pk, destination_id=globe.bench.pk, lines=[line]
        )


def _receive(globe: Globe, pick: int, off: int, more: bool) -> None:
    line = _one(ConsignmentLine.objects.filter(closed=False), pick)
    if line:
        quantity = max(0, line.sent - line.received + off)
        receive(event_context=globe.event_context(), line_id=line.pk, quantity=quantity, more_to_come=more)


def _unannounced(globe: Globe, pick: int, quantity: int) -> None:
    batch = _one(Batch.objects.exclude(lot=None), pick)
    if batch:
        arrived_unannounced(
            event_context=globe.event_context(), site_id=globe.bench.pk, lot_id=batch.lot_id, quantity=quantity
        )


def _settle(globe: Globe, pick: int, finding: Any) -> None:
    line = _one(ConsignmentLine.objects.exclude(difference=0), pick)
    if line:
        settle_difference(event_context=globe.event_context(), line_id=line.pk, finding=finding, reason="asked")


def _set_apart(globe: Globe, pick: int, quantity: int) -> None:
    shelves = Account.objects.filter(condition__in=["stock", "in_process", "rework"], lot__batch__isnull=False)
    row = _one(shelves.filter(balance__gt=quantity).select_related("lot__batch"), pick)
    if row:
        place = Place(row.lot_id, row.site_id, row.condition, row.step)
        hold_part(
            event_context=globe.event_context(), batch_id=row.lot.batch.pk, place=place, quantity=quantity, reason="wet"
        )


def _hold(globe: Globe, pick: int) -> None:
    batch = _one(Batch.objects.exclude(lot=None), pick)
    if batch:
        hold_lot(event_context=globe.event_context(), lot_id=batch.lot_id, reason="odd")


def _decide(globe: Globe, pick: int, disposition: Any, to_step: int) -> None:
    hold = _one(Hold.objects.filter(closed_at=None), pick)
    if hold:
        decide(
            event_context=globe.event_context(),
            hold_id=hold.pk,
            disposition=disposition,
            reason="seen",
            to_step=to_step,
        )


def _reenter(globe: Globe, pick: int, number: int, to_step: int, quantity: int) -> None:
    step = _step(pick, number)
    if step:
        reenter(event_context=globe.event_context(), step_id=step, to_step=to_step, quantity=quantity)


def _undo(globe: Globe, pick: int) -> None:
    """Right after, by the site that told it: the newest with pick -1."""
    rows = Event.objects.filter(kind__in=UNDOABLE).order_by("id")
    event = rows.last() if pick < 0 else _one(rows, pick)
    if event is None or event.site is None:
        return
    event_context = globe.event_context(event.recorded_at + timedelta(minutes=1))
    undo(event_context=replace(event_context, actor=factory.operator(event.site)), event_id=event.pk)


def _lying(pick: int, more_than: int) -> Account | None:
    rows = Account.objects.filter(condition__in=SEPARABLE, lot__batch__isnull=False, balance__gt=more_than)
    found: Account | None = _one(rows.select_related("lot__batch"), pick)
    return found


def _split(globe: Globe, pick: int, quantity: int) -> None:
    row = _lying(pick, quantity)
    if row:
        place = Place(row.lot_id, row.site_id, row.condition, row.step)
        split(
            event_context=globe.event_context(),
            batch_id=row.lot.batch.pk,
            place=place,
            quantity=quantity,
            reason="sorted",
        )


def _recombine(globe: Globe, pick: int, other: int) -> None:
    row = _lying(pick, 0)
    if row is None:
        return
    beside = Account.objects.filter(site=row.site_id, condition=row.condition, step=row.step, balance__gt=0)
    second = _one(beside.exclude(lot=row.lot_id), other)
    if second:
        lots, place = [row.lot_id, second.lot_id], {"condition": row.condition, "step": row.step}
        recombine(event_context=globe.event_context(), lot_ids=lots, site_id=row.site_id, reason="one again", **place)  # type: ignore[arg-type]


def _rest(globe: Globe, pick: int, other: int, carried: bool) -> None:
    row = _lying(pick, 0)
    if row is None:
        return
    place = Place(row.lot_id, row.site_id, row.condition, row.step)
    target = {"to_site": globe.bench.pk} if carried else {"to_batch": _one(Batch.objects.all(), other).pk}
    move_rest(event_context=globe.event_context(), batch_id=row.lot.batch.pk, place=place, reason="few", **target)


def _found(globe: Globe, pick: int, number: int, quantity: int) -> None:
    step = _step(pick, number)
    if step:
        found_good(event_context=globe.event_context(), step_id=step, quantity=quantity, reason="wiped")


def _cavities(globe: Globe, pick: int, number: int, shots: int) -> None:
    step = _step(pick, 20)
    if step:
        set_cavities(event_context=globe.event_context(), step_id=step, open_cavities=number, shots=shots)


def _reroute(globe: Globe, pick: int, number: int, to_bench: bool) -> None:
    step = _step(pick, number)
    if step:
        site = globe.bench if to_bench else globe.moulder
        reroute(event_context=globe.event_context(), step_id=step, site_id=site.pk, reason="full")


def _write_off(globe: Globe, pick: int, quantity: int) -> None:
    row = _lying(pick, 0)
    if row:
        place = Place(row.lot_id, row.site_id, row.condition, row.step)
        write_off(event_context=globe.event_context(), place=place, quantity=quantity, reason="gone")


def _next_batch(globe: Globe, pick: int) -> None:
    name = f"next {pick}"
    if not Batch.objects.filter(subject__uid=factory.uid(f"batch GLOBE {name}")).exists():
        factory.make_batch(globe.part, name=name)


_DEEDS: dict[str, Any] = {
    "undo": _undo,
    "split": _split,
    "recombine": _recombine,
    "rest": _rest,
    "found": _found,
    "cavities": _cavities,
    "reroute": _reroute,
    "write off": _write_off,
    "next batch": _next_batch,
    "report": _report,
    "cool": _cool,
    "finish": _finish,
    "correct": _correct,
    "send": _send,
    "receive": _receive,
    "unannounced": _unannounced,
    "settle": _settle,
    "set apart": _set_apart,
    "hold": _hold,
    "decide": _decide,
    "reenter": _reenter,
}
