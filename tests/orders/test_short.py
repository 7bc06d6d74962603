"""A shortage is seen when it arises, in figures, for the lines that lack pieces; and made good by a new batch."""

from __future__ import annotations

import pytest

from tests import factory
from tests.globe import Globe, everything_agrees, make_globe, ok, refused
from tests.orders.lamps import Lamps, make_lamps
from traveller.batches.actions.hold import hold_part
from traveller.batches.models import Batch
from traveller.ledger.models import Condition
from traveller.ledger.post import Place
from traveller.orders import verify as orders_verify
from traveller.orders.actions.make_again import make_again
from traveller.orders.models import BatchShare, OrderLine
from traveller.orders.reserved import reserve
from traveller.orders.short import Outlook, look_out
from traveller.products import frozen
from traveller.products.models import Operation

pytestmark = pytest.mark.django_db
ON = factory.MONDAY.date()


def _shared(globe: Globe, quantity: int = 50) -> OrderLine:
    line = factory.make_line(factory.make_order(), globe.part, quantity, released=quantity)
    BatchShare.objects.create(batch=globe.batch, line=line, quantity=quantity)
    return line


def _missing() -> dict[str, list[tuple[str, int]]]:
    """By part: which order lacks how many."""
    return {row.part.number: [(line.order.number, n) for line, n in row.lines] for row in look_out(ON).short}


def _of(line: OrderLine) -> Outlook:
    return look_out(ON).lines[line.pk]


def _again(globe: Globe, missing: int) -> Batch:
    return ok(make_again(event_context=globe.event_context(), part_id=globe.part.pk, missing=missing))


def test_nothing_is_missing_while_a_batch_can_still_make_it() -> None:
    globe = make_globe(start=60)
    line = _shared(globe)
    globe.report(20, 5)
    assert _missing() == {}
    assert (_of(line).of("work"), _of(line).of("unborn")) == (5, 45)
    answer = make_again(event_context=globe.event_context(), part_id=globe.part.pk, missing=5)
    assert refused(answer).code == "nothing_missing"


def test_a_step_done_below_what_its_shares_need_is_a_shortage_at_once_though_the_batch_is_open() -> None:
    globe = make_globe(start=60)
    line = _shared(globe)
    globe.report(20, 37)
    assert _missing() == {}
    globe.finish(20)
    assert _missing() == {"GLOBE": [("1001", 13)]}
    (short,) = look_out(ON).short
    assert [(row.batch_id, row.promised, row.brings) for row in short.batches] == [(globe.batch.pk, 50, 37)]
    assert (_of(line).of("work"), _of(line).short) == (37, 13)


def test_scrap_at_a_later_step_makes_it_grow_and_rework_does_not() -> None:
    globe = make_globe(start=60)
    line = _shared(globe)
    globe.report(20, 52, done=True)
    assert _missing() == {}
    globe.report(30, 40, scrap={"warped": 6}, done=False)
    assert _missing() == {"GLOBE": [("1001", 4)]}
    globe.report(30, 4, rework=2, done=True)
    assert _missing() == {"GLOBE": [("1001", 4)]}
    assert _of(line).short == 4


def test_free_stock_covers_a_shortage_and_so_does_another_batch() -> None:
    globe = make_globe(start=60)
    _shared(globe)
    globe.report(20, 0, scrap={"short": 60}, done=True)
    assert _missing() == {"GLOBE": [("1001", 50)]}
    factory.make_stock(globe.part, globe.bench, 30)
    assert _missing() == {"GLOBE": [("1001", 20)]}
    other = factory.make_batch(globe.part, wanted=15, start=15, name="other")
    assert _missing() == {"GLOBE": [("1001", 5)]}
    factory.make_stock(globe.part, globe.moulder, 5, name="far")
    assert _missing() == {}
    assert other.lot is None


def test_stock_that_is_kept_for_another_line_covers_nobody_else() -> None:
    globe = make_globe(start=60)
    _shared(globe)
    globe.report(20, 0, scrap={"short": 60}, done=True)
    lot = factory.make_stock(globe.part, globe.bench, 30)
    later = factory.make_line(factory.make_order("1002"), globe.part, 30, released=30)
    reserve(factory.make_event(), line_id=later.pk, lot_id=lot.pk, site_id=globe.bench.pk, quantity=30)
    assert _missing() == {"GLOBE": [("1001", 50)]}
    later.packed = 10
    later.save()
    assert _missing() == {"GLOBE": [("1001", 40)]}, "what that line has had from elsewhere sets its stock free"


def test_what_expired_covers_nothing_and_what_is_held_may_still() -> None:
    globe = make_globe(start=60)
    line = _shared(globe)
    globe.report(20, 0, scrap={"short": 60}, done=True)
    lot = factory.make_stock(globe.part, globe.bench, 50)
    lot.expires_on = ON
    lot.save()
    assert _missing() == {}
    assert _of(line).of("ready") == 50
    lot.expires_on = ON.replace(year=2020)
    lot.save()
    assert _missing() == {"GLOBE": [("1001", 50)]}


def test_what_is_not_released_is_not_missing() -> None:
    globe = make_globe(start=60)
    line = factory.make_line(factory.make_order(), globe.part, 80, released=50)
    BatchShare.objects.create(batch=globe.batch, line=line, quantity=50)
    assert (_of(line).unreleased, _of(line).of("unborn"), _of(line).short) == (30, 50, 0)


def test_each_piece_that_is_to_follow_stands_in_one_place() -> None:
    globe = make_globe(start=60)
    line = _shared(globe)
    globe.report(20, 58, done=True)
    globe.report(30, 55, scrap={"warped": 3}, done=True)
    globe.send(30)
    line.packed, line.shipped = 8, 3
    line.save()
    outlook = _of(line)
    assert outlook.packed == 5
    assert sum(outlook.by_state.values()) + outlook.packed + outlook.short + outlook.unreleased == 50 - 3


def test_the_components_of_what_is_not_made_yet_are_missed_before_it_is_begun() -> None:
    lamps = make_lamps()
    line = _lamps_on_order(lamps)
    assert _missing() == {"GLOBE": [("1001", 95)]}
    factory.make_stock(lamps.globe, lamps.moulder, 80)
    assert _missing() == {"GLOBE": [("1001", 15)]}
    assert _of(line).expected == 80, "fifteen lamps cannot be assembled"
    assert _of(line).of("unborn") == 95


def test_what_must_be_made_anew_misses_its_components_anew() -> None:
    lamps = make_lamps()
    line = factory.make_line(factory.make_order(), lamps.lamp, 20, released=20)
    factory.make_stock(lamps.globe, lamps.bench, 12)
    assert _missing() == {"LAMP": [("1001", 20)], "GLOBE": [("1001", 8)]}
    line.packed = line.shipped = 20
    line.save()
    assert _missing() == {}


def test_the_planned_yields_ahead_say_what_is_to_be_expected() -> None:
    globe = make_globe(start=60)
    line = _shared(globe)
    for number, share in ((40, 900_000), (50, 500_000)):
        Operation.objects.filter(number=number).update(yield_ppm=share)
    frozen.forget()
    globe.report(20, 50, done=True)
    globe.report(30, 50, done=True)
    assert (_of(line).short, _of(line).expected) == (0, 22)


def test_a_batch_with_no_good_piece_owes_its_whole_share_and_a_new_one_takes_it_over() -> None:
    globe = make_globe(start=60)
    line = _shared(globe)
    globe.report(20, 0, scrap={"short": 60}, done=True)
    fresh = _again(globe, 50)
    assert (fresh.wanted, fresh.start, fresh.destination) == (50, 50, globe.batch.destination)
    assert BatchShare.objects.get().batch == fresh
    line.refresh_from_db()
    assert line.released == 50
    assert [row for row in orders_verify.differences() if row.field != "released"] == [], "released by hand above"
    assert _missing() == {}
    assert everything_agrees()


def test_the_batch_that_fell_short_keeps_what_it_brings() -> None:
    globe = make_globe(start=60)
    _shared(globe)
    globe.report(20, 30, scrap={"short": 30}, done=True)
    fresh = _again(globe, 20)
    assert sorted(BatchShare.objects.values_list("batch", "quantity")) == [(globe.batch.pk, 30), (fresh.pk, 20)]
    assert _missing() == {}


def test_what_was_split_off_counts_while_it_lies_somewhere() -> None:
    globe = make_globe(start=60)
    _shared(globe)
    globe.report(20, 60, done=True)
    place = Place(globe.lot().pk, globe.moulder.pk, Condition.IN_PROCESS, 30)
    ok(hold_part(event_context=globe.event_context(), batch_id=globe.batch.pk, place=place, quantity=20, reason="wet"))
    globe.report(30, 0, scrap={"warped": 40}, done=True)
    assert _missing() == {"GLOBE": [("1001", 30)]}
    (child,) = globe.children()
    globe.report(30, 0, scrap={"warped": 20}, batch=child, done=True)
    assert _missing() == {"GLOBE": [("1001", 50)]}


def test_making_again_told_twice_makes_one_batch() -> None:
    globe = make_globe(start=60)
    _shared(globe)
    globe.report(20, 0, scrap={"short": 60}, done=True)
    asked = {"part_id": globe.part.pk, "missing": 50}
    first = ok(make_again(event_context=factory.event_context("again"), **asked))
    assert ok(make_again(event_context=factory.event_context("again"), **asked)) == first


def test_a_figure_that_has_changed_since_it_was_shown_is_refused() -> None:
    globe = make_globe(start=60)
    _shared(globe)
    globe.report(20, 0, scrap={"short": 60}, done=True)
    answer = make_again(event_context=globe.event_context(), part_id=globe.part.pk, missing=49)
    assert refused(answer).code == "missing_changed"
    assert refused(answer).figures["missing"] == 50
    assert Batch.objects.count() == 1


def test_the_new_batch_is_due_on_a_day_that_can_be_met() -> None:
    globe = make_globe(start=60)
    _shared(globe)
    globe.batch.due_on = ON.replace(year=2020)
    globe.batch.save()
    globe.report(20, 0, scrap={"short": 60}, done=True)
    fresh = _again(globe, 50)
    began = globe.event_context().at.date()
    assert fresh.due_on is not None
    # Two visits, each of the shop's agreed working days, and a day on the road.
    days = globe.moulder.turnaround_days + globe.bench.turnaround_days + 1
    assert (fresh.due_on - began).days >= days


def _lamps_on_order(lamps: Lamps) -> OrderLine:
    """Ninety-five lamps, released: one batch at the bench, of which nothing is made."""
    line = lamps.line()
    line.released = 95
    line.save()
    batch = factory.make_batch(lamps.lamp, wanted=95, start=100)
    BatchShare.objects.create(batch=batch, line=line, quantity=95)
    return line
