"""Release: what was shown is what is done, once."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests import factory
from tests.orders.lamps import make_lamps
from traveller.batches.actions.report import report
from traveller.batches.models import Batch, Step
from traveller.journal.models import Event
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Lot
from traveller.orders import reserved
from traveller.orders.actions.enter_order import LineTold, enter_order
from traveller.orders.actions.release import release
from traveller.orders.models import BatchShare, Need, OrderLine, Release, Reservation
from traveller.orders.plan import make_plan

pytestmark = pytest.mark.django_db

ON = factory.MONDAY.date()


def released(n: int, *lines: OrderLine) -> Release:
    answer = release(event_context=factory.event_context(n), line_ids=[line.pk for line in lines])
    assert isinstance(answer, Release), answer
    return answer


def test_release_opens_the_batches_of_the_plan_with_their_shares() -> None:
    lamps = make_lamps()
    line = lamps.line()
    shown = make_plan([line.pk], on=ON)
    answer = release(event_context=factory.event_context(1), line_ids=[line.pk], plan_digest=shown.digest)
    assert isinstance(answer, Release)
    batches = {batch.part.number: batch for batch in Batch.objects.filter(released_event=answer.event)}
    assert {part: (batch.wanted, batch.start) for part, batch in batches.items()} == {
        "LAMP": (95, 100),
        "GLOBE": (100, 125),
    }
    assert batches["GLOBE"].destination == lamps.bench
    shares = BatchShare.objects.values_list("batch__part__number", "line_id", "quantity")
    assert sorted(shares) == [("GLOBE", line.pk, 100), ("LAMP", line.pk, 95)]
    line.refresh_from_db()
    assert (line.released, line.released_event) == (95, answer.event)
    assert answer.plan == shown.as_json()


def test_the_same_release_told_twice_opens_one_set_of_batches() -> None:
    line = make_lamps().line()
    first, second = released(1, line), released(1, line)
    assert first == second
    assert Batch.objects.count() == 2
    assert Event.objects.filter(kind="released").count() == 1


def test_a_plan_that_changed_since_it_was_shown_is_refused_and_nothing_is_done() -> None:
    lamps = make_lamps()
    line = lamps.line()
    shown = make_plan([line.pk], on=ON).digest
    factory.make_stock(lamps.globe, lamps.bench, 5)
    answer = release(event_context=factory.event_context(1), line_ids=[line.pk], plan_digest=shown)
    assert answer == Refusal("plan_changed")
    assert not Batch.objects.exists() and not Release.objects.exists()
    again = make_plan([line.pk], on=ON).digest
    assert isinstance(release(event_context=factory.event_context(2), line_ids=[line.pk], plan_digest=again), Release)


def test_a_line_is_not_released_twice() -> None:
    line = make_lamps().line()
    released(1, line)
    answer = release(event_context=factory.event_context(2), line_ids=[line.pk])
    assert isinstance(answer, Refusal) and answer.code == "released_before"
    assert Batch.objects.count() == 2


def test_a_plan_with_a_problem_is_refused_with_its_code() -> None:
    factory.make_bench()
    line = factory.make_line(factory.make_order(), factory.make_part("LAMP"), 10)
    answer = release(event_context=factory.event_context(1), line_ids=[line.pk])
    assert answer == Refusal("no_routing", {"part": "LAMP"})


def test_released_stock_is_kept_and_no_other_release_counts_on_it() -> None:
    lamps = make_lamps()
    lot = factory.make_stock(lamps.globe, lamps.bench, 130)
    order = factory.make_order()
    first, second = lamps.line(order=order), lamps.line(order=order, number=2)
    released(1, first)
    assert [(row.lot_id, row.line_id, row.left) for row in Reservation.objects.all()] == [(lot.pk, first.pk, 100)]
    plan = make_plan([second.pk], on=ON)
    assert [(row.part, row.quantity) for row in plan.reservations] == [("GLOBE", 30)]
    assert {row.part: row.wanted for row in plan.batches}["GLOBE"] == 70


def test_pieces_that_a_batch_was_released_for_are_no_free_stock() -> None:
    lamps = make_lamps()
    order = factory.make_order()
    first, second = lamps.line(order=order), lamps.line(order=order, number=2)
    released(1, first)
    report(
        event_context=factory.event_context(2), step_id=Step.objects.get(batch__part=lamps.globe, number=20).pk, good=60
    )
    plan = make_plan([second.pk], on=ON)
    assert plan.reservations == () and plan.under_way == ()
    assert {row.part: row.wanted for row in plan.batches}["GLOBE"] == 100
    report(
        event_context=factory.event_context(3), step_id=Step.objects.get(batch__part=lamps.globe, number=20).pk, good=52
    )
    # 112 of 100 promised: a dozen is free.
    assert [row.quantity for row in make_plan([second.pk], on=ON).reservations] == [12]


def test_what_is_on_order_is_promised_once() -> None:
    lamps = make_lamps()
    order = factory.make_order()
    first, second = lamps.line(order=order), lamps.line(order=order, number=2)
    from traveller.orders.actions.purchase import purchase

    purchase(
        event_context=factory.event_context(1),
        supplier_id=lamps.supplier.pk,
        deliver_to_id=lamps.bench.pk,
        part_id=lamps.puck.pk,
        quantity=150,
    )
    released(2, first)
    assert Need.objects.get(part=lamps.puck).left == 100
    pucks = {row.part: row for row in make_plan([second.pk], on=ON).shortages}["PUCK"]
    assert (pucks.needed, pucks.waiting, pucks.short) == (100, 50, 50)


def test_consuming_for_the_line_uses_up_what_was_kept_for_it() -> None:
    lamps = make_lamps()
    lot = factory.make_stock(lamps.globe, lamps.bench, 130)
    factory.make_stock(lamps.puck, lamps.bench, 200)
    line = lamps.line()
    released(1, line)
    step = Step.objects.get(batch__part=lamps.lamp)
    report(event_context=factory.event_context(2), step_id=step.pk, good=40)
    (keep,) = reserved.kept(lot_ids=[lot.pk])
    assert (keep.quantity, keep.left) == (100, 60)
    # 90 lie there, 60 of them kept: 30 are free, as before.
    plan = make_plan([lamps.line(order=line.order, number=2).pk], on=ON)
    assert [row.quantity for row in plan.reservations if row.part == "GLOBE"] == [30]


def test_consuming_for_another_line_leaves_what_was_kept() -> None:
    lamps = make_lamps()
    lot = factory.make_stock(lamps.globe, lamps.bench, 130)
    released(1, lamps.line())
    other = factory.make_batch(lamps.lamp, wanted=10)
    report(event_context=factory.event_context(2), step_id=other.steps.get().pk, good=10)
    assert [keep.left for keep in reserved.kept(lot_ids=[lot.pk])] == [100]


def test_an_open_batch_beyond_its_promises_is_promised_at_release() -> None:
    lamps = make_lamps()
    under_way = factory.make_batch(lamps.globe, wanted=70)
    order = factory.make_order()
    first, second = lamps.line(order=order), lamps.line(order=order, number=2)
    released(1, first)
    assert BatchShare.objects.get(batch=under_way).quantity == 70
    assert make_plan([second.pk], on=ON).under_way == ()


def test_a_raised_line_is_released_again_for_the_rest_only() -> None:
    lamps = make_lamps()
    line = lamps.line()
    released(1, line)
    reported = LineTold(number=1, part_id=lamps.lamp.pk, quantity=190, due_on=line.due_on)
    enter_order(
        event_context=factory.event_context(2),
        number=line.order.number,
        customer="Pine",
        placed_on=ON,
        lines=[reported],
    )
    assert not isinstance(released(3, line), Refusal)
    assert sorted(Batch.objects.filter(part=lamps.lamp).values_list("wanted", flat=True)) == [95, 95]
    line.refresh_from_db()
    assert line.released == 190


def test_the_ledger_is_untouched_by_a_release() -> None:
    lamps = make_lamps()
    lot: Lot = factory.make_stock(lamps.globe, lamps.bench, 130, expires_on=ON + timedelta(days=30))
    released(1, lamps.line())
    assert factory.balance(lot, lamps.bench) == 130
    assert factory.sums_to_zero()
