"""Free stock: each piece belongs to one heading, and goods on the road are not lost."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from tests import factory
from tests.orders.lamps import make_lamps
from traveller.batches.actions.correct_count import correct_count
from traveller.batches.actions.receive import receive
from traveller.batches.actions.report import report
from traveller.batches.actions.send import send
from traveller.batches.models import Step
from traveller.batches.splitting.divide import divide
from traveller.batches.steps.answer import Answer
from traveller.dispatches.actions.dispatch import SendLine
from traveller.dispatches.models import Consignment
from traveller.ledger import holds
from traveller.ledger.models import Condition
from traveller.ledger.post import Place
from traveller.orders import reserved, stock
from traveller.orders.actions.release import release
from traveller.orders.models import BatchShare, Reservation
from traveller.orders.plan import make_plan

ON = factory.MONDAY.date()


@pytest.mark.django_db
def test_what_is_on_the_road_to_stock_is_free_at_its_destination() -> None:
    lamps = make_lamps()
    lot = factory.make_stock(lamps.resin, lamps.bench, 5000)
    sent = send(
        event_context=factory.event_context(1),
        origin_id=lamps.bench.pk,
        destination_id=lamps.moulder.pk,
        lines=[SendLine(lot.pk, 3000)],
        purpose="free issue",
    )
    assert isinstance(sent, Consignment)
    rows = [(row.site_id, row.free, row.coming) for row in stock.look(ON).shelves]
    assert sorted(rows) == sorted([(lamps.bench.pk, 2000, False), (lamps.moulder.pk, 3000, True)])
    receive(event_context=factory.event_context(2), line_id=sent.lines.get().pk, quantity=3000)
    rows = [(row.site_id, row.free, row.coming) for row in stock.look(ON).shelves]
    assert sorted(rows) == sorted([(lamps.bench.pk, 2000, False), (lamps.moulder.pk, 3000, False)])


@pytest.mark.django_db
def test_what_is_kept_stays_kept_when_it_is_sent_elsewhere() -> None:
    lamps = make_lamps()
    lot = factory.make_stock(lamps.resin, lamps.bench, 5000)
    release(event_context=factory.event_context(1), line_ids=[lamps.line().pk])
    sent = send(
        event_context=factory.event_context(2),
        origin_id=lamps.bench.pk,
        destination_id=lamps.moulder.pk,
        lines=[SendLine(lot.pk, 4000)],
        purpose="free issue",
    )
    assert isinstance(sent, Consignment)
    assert stock.look(ON).free_of(lamps.resin.pk) == 1250
    receive(event_context=factory.event_context(3), line_id=sent.lines.get().pk, quantity=4000)
    assert stock.look(ON).free_of(lamps.resin.pk) == 1250


@pytest.mark.django_db
def test_a_correction_of_what_was_consumed_keeps_it_again() -> None:
    lamps = make_lamps()
    lot = factory.make_stock(lamps.globe, lamps.bench, 130)
    factory.make_stock(lamps.puck, lamps.bench, 130)
    release(event_context=factory.event_context(1), line_ids=[lamps.line().pk])
    step = Step.objects.get(batch__part=lamps.lamp)
    answer = report(event_context=factory.event_context(2), step_id=step.pk, good=40)
    assert [keep.left for keep in reserved.kept(lot_ids=[lot.pk])] == [60]
    assert isinstance(answer, Answer)
    correct_count(event_context=factory.event_context(3), event_id=answer.event.pk, good=30, reason="typed wrong")
    assert [keep.left for keep in reserved.kept(lot_ids=[lot.pk])] == [70]


@pytest.mark.django_db
def test_a_split_moves_no_promise() -> None:
    lamps = make_lamps()
    batch = factory.make_batch(lamps.globe, wanted=100)
    BatchShare.objects.create(batch=batch, line=lamps.line(), quantity=80)
    report(event_context=factory.event_context(1), step_id=batch.steps.get(number=20).pk, good=100, done=True)
    batch.refresh_from_db()
    assert batch.lot is not None
    assert stock.look(ON).free_of(lamps.globe.pk) == 20
    shelf = Place(batch.lot.pk, lamps.moulder.pk, Condition.STOCK, 0)
    child = divide(factory.make_event("split", kind="held"), batch, shelf, 30, first_step=20)
    assert stock.look(ON).free_of(lamps.globe.pk) == 20
    assert child.lot is not None
    holds.open_hold(factory.make_event("h", kind="held"), child.lot, cause="founder", code="x")
    # 70 are left for a promise of 80.
    assert stock.look(ON).free_of(lamps.globe.pk) == 0


@pytest.mark.django_db
def test_a_batch_that_came_short_brings_no_more_than_lies_there() -> None:
    lamps = make_lamps()
    batch = factory.make_batch(lamps.globe, wanted=100)
    assert [spare.quantity for spare in stock.look(ON).spare] == [100]
    report(event_context=factory.event_context(1), step_id=batch.steps.get(number=20).pk, good=60, done=True)
    found = stock.look(ON)
    assert found.spare == () and found.free_of(lamps.globe.pk) == 60


class EachPieceOnce(TestCase):
    """Whatever lies where: headings sum to the balance, and no plan keeps more than is free."""

    @settings(max_examples=10, suppress_health_check=[HealthCheck.too_slow])
    @given(
        lots=st.lists(st.tuples(st.integers(1, 150), st.integers(-3, 40), st.booleans()), min_size=1, max_size=5),
        wants=st.lists(st.integers(1, 120), min_size=1, max_size=3),
    )
    def test_no_piece_is_promised_twice(self, lots: list[tuple[int, int, bool]], wants: list[int]) -> None:
        lamps = make_lamps()
        usable = 0
        for n, (quantity, days, held) in enumerate(lots):
            lot = factory.make_stock(
                lamps.puck, lamps.bench, quantity, name=str(n), expires_on=ON + timedelta(days=days)
            )
            if held:
                holds.open_hold(factory.make_event(f"h{n}", kind="held"), lot, cause="founder", code="x")
            elif days >= 0:
                usable += quantity
        order = factory.make_order()
        needed = 0
        for n, quantity in enumerate(wants):
            line = lamps.line(quantity, order=order, number=n)
            plan = make_plan([line.pk], on=ON)
            needed += sum(row.quantity for row in plan.reservations if row.part == "PUCK")
            pucks = {row.part: row for row in plan.shortages}.get("PUCK")
            assert needed <= usable
            # Nothing is short while anything is free.
            assert pucks is None or pucks.short == 0 or needed == usable
            release(event_context=factory.event_context(n), line_ids=[line.pk])
        kept = sum(row.left for row in Reservation.objects.filter(lot__part=lamps.puck))
        assert kept == needed
        for shelf in stock.look(ON).shelves:
            assert shelf.free >= 0
            parts = shelf.held + shelf.expired + shelf.reserved + shelf.promised + shelf.free
            assert parts == shelf.balance
