"""Packing and opening again: complete kits only, checked under lock, told once."""

from __future__ import annotations

import pytest

from tests import factory
from tests.factory import CheckRow
from tests.shipping.packing import Bench, make_bench
from traveller.journal.models import Event
from traveller.journal.refusal import Refusal
from traveller.ledger import holds
from traveller.ledger.models import Condition, Posting
from traveller.orders import reserved
from traveller.orders.actions.release import release
from traveller.orders.models import Order, OrderLine, Reservation
from traveller.shipping.actions.open_carton import open_carton
from traveller.shipping.actions.pack import pack
from traveller.shipping.models import Carton, CartonLot

pytestmark = pytest.mark.django_db


def stock(bench: Bench) -> tuple[int, int]:
    return factory.balance(bench.lot, bench.lamps.bench), factory.balance(bench.leaflets, bench.lamps.bench)


def packed(bench: Bench) -> tuple[int, int]:
    site = bench.lamps.bench
    return (
        factory.balance(bench.lot, site, Condition.PACKED),
        factory.balance(bench.leaflets, site, Condition.PACKED),
    )


def test_a_kit_goes_into_a_carton_with_a_code_and_its_lots() -> None:
    bench = make_bench()
    carton = bench.carton(1, 12)
    assert (carton.quantity, carton.packer, carton.line) == (12, "Tomas", bench.line)
    assert carton.code == carton.subject.code
    contents = sorted(CartonLot.objects.values_list("lot_id", "quantity"))
    assert contents == sorted([(bench.lot.pk, 12), (bench.leaflets.pk, 12)])
    assert (stock(bench), packed(bench)) == ((48, 68), (12, 12))
    bench.line.refresh_from_db()
    assert bench.line.packed == 12
    assert factory.sums_to_zero()
    about = set(carton.packed_event.about.values_list("subject__kind", flat=True))
    assert {"carton", "order", "lot", "batch"} <= about


def test_a_pack_sent_twice_is_one_carton() -> None:
    bench = make_bench()
    assert bench.carton(1) == bench.carton(1)
    assert Carton.objects.count() == 1 and packed(bench) == (10, 10)


def test_the_same_id_with_other_figures_is_a_conflict() -> None:
    bench = make_bench()
    bench.carton(1, 10)
    answer = bench.pack(1, 11)
    assert isinstance(answer, Refusal) and answer.code == "told_otherwise"
    assert packed(bench) == (10, 10)


def test_a_kit_that_is_short_is_refused_with_what_is_missing_and_nothing_moves() -> None:
    bench = make_bench()
    events, postings = Event.objects.count(), Posting.objects.count()
    assert bench.pack(1, 10, leaflets=7) == Refusal("kit_short", {"missing": {"Leaflet": "3"}})
    assert bench.pack(2, 10, leaflets=0) == Refusal("kit_short", {"missing": {"Leaflet": "10"}})
    assert bench.pack(3, 10, leaflets=11) == Refusal("kit_over", {"surplus": {"Leaflet": "1"}})
    assert (Event.objects.count(), Posting.objects.count()) == (events, postings)
    assert not Carton.objects.exists()
    bench.line.refresh_from_db()
    assert bench.line.packed == 0


def test_a_held_lot_can_not_be_packed_and_a_free_one_can() -> None:
    bench = make_bench()
    event = factory.make_event("h", kind="held")
    hold = holds.open_hold(event, bench.leaflets, cause="founder", code="misprint")
    answer = bench.pack(1)
    assert isinstance(answer, Refusal) and (answer.code, answer.figures["why_code"]) == ("held", "misprint")
    holds.close_hold(event, hold, disposition="release", reason="reprinted")
    assert isinstance(bench.pack(2), Carton)


def test_a_lot_without_its_proof_can_not_be_packed() -> None:
    approval = CheckRow("first", "approval", {}, "step", "packing")
    bench = make_bench(checks=(approval,))
    answer = bench.pack(1)
    assert isinstance(answer, Refusal) and answer.code == "not_proved"
    assert packed(bench) == (0, 0)


def test_nothing_beyond_what_lies_here_or_is_ordered_is_packed() -> None:
    bench = make_bench(ordered=50, finished=30)
    answer = bench.pack(1, 31)
    assert isinstance(answer, Refusal) and answer.code == "not_enough_here"
    bench = make_bench_again(bench)
    answer = bench.pack(2, 26)
    assert isinstance(answer, Refusal) and answer.code == "more_than_ordered"
    assert isinstance(bench.pack(3, 25), Carton)


def make_bench_again(bench: Bench) -> Bench:
    """The same line, ordered down to 25."""
    OrderLine.objects.update(quantity=25)
    bench.line.refresh_from_db()
    return bench


def test_two_lots_that_fit_one_by_one_may_be_too_many_together() -> None:
    bench = make_bench(ordered=20)
    second = factory.make_stock(bench.lamps.lamp, bench.lamps.bench, 30)
    answer = pack(
        event_context=factory.event_context(1),
        line_id=bench.line.pk,
        site_id=bench.lamps.bench.pk,
        quantity=24,
        lots=[(bench.lot.pk, 12), (second.pk, 12), (bench.leaflets.pk, 24)],
        packer="Tomas",
    )
    assert isinstance(answer, Refusal) and answer.code == "more_than_ordered"


def test_a_wrong_lot_a_wrong_site_or_a_closed_order_is_refused() -> None:
    bench = make_bench()
    common = {"event_context": factory.event_context(1), "line_id": bench.line.pk, "quantity": 5, "packer": "Tomas"}
    pucks = factory.make_stock(bench.lamps.puck, bench.lamps.bench, 9, name="more")
    wrong = pack(site_id=bench.lamps.bench.pk, lots=[(pucks.pk, 5)], **common)  # type: ignore[arg-type]
    assert isinstance(wrong, Refusal) and wrong.code == "wrong_part"
    away = pack(site_id=bench.lamps.moulder.pk, lots=[(bench.lot.pk, 5)], **common)  # type: ignore[arg-type]
    assert isinstance(away, Refusal) and away.code == "not_here"
    none = pack(site_id=bench.lamps.bench.pk, lots=[(bench.lot.pk, -5)], **common)  # type: ignore[arg-type]
    assert none == Refusal("not_a_quantity", {"found": -5})
    Order.objects.update(closed_at=factory.MONDAY)
    closed = bench.pack(2)
    assert isinstance(closed, Refusal) and closed.code == "order_closed"


def test_packing_uses_up_what_was_kept_for_the_line_and_opening_keeps_it_again() -> None:
    bench = make_bench(ordered=50)
    release(event_context=factory.event_context(1), line_ids=[bench.line.pk])
    kept = Reservation.objects.get(lot=bench.lot)
    assert kept.left == 50
    carton = bench.carton(2, 20)
    assert [keep.left for keep in reserved.kept(lot_ids=[bench.lot.pk])] == [30]
    open_carton(event_context=factory.event_context(3), carton_id=carton.pk, reason="wrong colour")
    assert [keep.left for keep in reserved.kept(lot_ids=[bench.lot.pk])] == [50]


def test_a_carton_opened_again_gives_everything_back() -> None:
    bench = make_bench()
    carton = bench.carton(1)
    reported = {"event_context": factory.event_context(2), "carton_id": carton.pk, "reason": "wrong colour"}
    opened = open_carton(**reported)  # type: ignore[arg-type]
    assert opened == open_carton(**reported)  # type: ignore[arg-type]
    assert (stock(bench), packed(bench)) == ((60, 80), (0, 0))
    bench.line.refresh_from_db()
    assert bench.line.packed == 0
    assert factory.sums_to_zero()
    again = open_carton(event_context=factory.event_context(3), carton_id=carton.pk, reason="once more")
    assert isinstance(again, Refusal) and again.code == "carton_opened"


def test_a_carton_is_not_opened_without_a_reason() -> None:
    bench = make_bench()
    carton = bench.carton(1)
    assert open_carton(event_context=factory.event_context(2), carton_id=carton.pk, reason="  ") == Refusal(
        "reason_needed"
    )
    assert packed(bench) == (10, 10)


def test_a_carton_with_a_held_lot_can_still_be_opened() -> None:
    bench = make_bench()
    carton = bench.carton(1)
    holds.open_hold(factory.make_event("h", kind="held"), bench.lot, cause="founder", code="x")
    assert isinstance(open_carton(event_context=factory.event_context(2), carton_id=carton.pk, reason="held"), Carton)
    assert stock(bench) == (60, 80)
