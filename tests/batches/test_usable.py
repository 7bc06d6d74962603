"""May these goods be used? One answer for the scan, the shelf, the kits, the plan, the start and the shipment."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests import factory
from tests.factory import CheckRow, Op
from tests.globe import BORE, COOLING, make_globe, ok, refused
from tests.shipping.packing import Bench, make_bench
from traveller.batches.actions.decide_first_piece import decide_first_piece
from traveller.batches.actions.hold import hold_lot
from traveller.batches.actions.report import report
from traveller.batches.models import Batch
from traveller.batches.status import statuses_of
from traveller.batches.steps.consume import Used
from traveller.batches.usable import after_step, purposes_at_rest, usable, usable_goods, usable_to_start
from traveller.ledger.models import Account, Lot
from traveller.orders import kits, stock
from traveller.shipping.actions.ship import ship
from traveller.shipping.kit import look_at
from traveller.shipping.queries import lines_to_pack, shelves

pytestmark = pytest.mark.django_db

ON = factory.MONDAY.date()


def _with_unproved_globes() -> tuple[Bench, Batch]:
    """Lamps of which five hold a globe whose first piece nobody has approved."""
    bench = make_bench()
    check = CheckRow("first", "approval", {}, "step", "packing")
    globe = bench.lamps.globe
    factory.make_routing(globe, [Op(10, bench.lamps.bench, "mould", "make", checks=(check,))], revision=9)
    made = factory.make_batch(globe, wanted=5, name="unproved")
    ok(report(event_context=factory.event_context(1), step_id=made.steps.get().pk, good=5))
    made.refresh_from_db()
    used = [Used(made.lot_id or 0, 5)]
    ok(report(event_context=factory.event_context(2), step_id=bench.batch.steps.get().pk, good=5, used=used))
    return bench, made


def test_the_shelf_says_what_the_scan_says_of_an_unproved_component() -> None:
    bench, made = _with_unproved_globes()
    site = bench.lamps.bench
    assert look_at(bench.line, bench.lot.code, site, on=ON).code == "component_not_proved"
    assert {shelf.why for shelf in shelves([bench.lamps.lamp.pk], site, on=ON)} == {"component_not_proved"}
    assert [row.now for row in lines_to_pack(site, on=ON)] == [0]
    ok(
        decide_first_piece(
            event_context=factory.event_context(3), step_id=made.steps.get().pk, approved=True, reason="measured"
        )
    )
    assert {shelf.why for shelf in shelves([bench.lamps.lamp.pk], site, on=ON)} == {""}
    assert [row.now for row in lines_to_pack(site, on=ON)] == [50]


def test_kits_do_not_count_unproved_components_as_ready() -> None:
    bench = make_bench()
    site, globe = bench.lamps.bench, bench.lamps.globe
    before = kits.free_here([globe.pk], site.pk, on=ON, purpose="consume")[globe.pk]
    check = CheckRow("first", "approval", {}, "step", "consuming")
    factory.make_routing(globe, [Op(10, site, "mould", "make", checks=(check,))], revision=9)
    made = factory.make_batch(globe, wanted=500, name="unproved")
    ok(report(event_context=factory.event_context(1), step_id=made.steps.get().pk, good=500))
    assert kits.free_here([globe.pk], site.pk, on=ON, purpose="consume")[globe.pk] == before
    (row,) = kits.kits_now(on=ON)
    pieces = next(component.pieces for component in row.components if component.part == globe)
    assert pieces == {"here": before, "held": 500}
    shelf = next(shelf for shelf in stock.look(ON).shelves if shelf.balance == 500)
    assert (shelf.unproved, shelf.free) == (500, 0)


def test_a_plan_takes_finished_pieces_that_wait_for_proof_for_pieces_to_come() -> None:
    bench = make_bench()
    site, globe = bench.lamps.bench, bench.lamps.globe
    check = CheckRow("first", "approval", {}, "step", "consuming")
    factory.make_routing(globe, [Op(10, site, "mould", "make", checks=(check,))], revision=9)
    made = factory.make_batch(globe, wanted=80, name="unproved")
    ok(report(event_context=factory.event_context(1), step_id=made.steps.get().pk, good=80))
    assert [(row.batch_id, row.quantity) for row in stock.look(ON).spare if row.part_id == globe.pk] == [(made.pk, 80)]


def test_on_its_last_day_a_lot_may_be_used_and_on_the_next_it_may_not() -> None:
    bench = make_bench()
    Lot.objects.filter(pk=bench.leaflets.pk).update(expires_on=ON)
    for purpose in ("send", "consume", "pack"):
        assert usable([bench.leaflets.pk], purpose, ON) == {bench.leaflets.pk: None}
        stop = usable([bench.leaflets.pk], purpose, ON + timedelta(days=1))[bench.leaflets.pk]
        assert stop and (stop.code, stop.figures["expires_on"]) == ("expired", str(ON))


def test_the_gravest_reason_is_told_first() -> None:
    bench, _ = _with_unproved_globes()
    Lot.objects.filter(pk=bench.lot.pk).update(expires_on=ON - timedelta(days=1))
    hold_lot(event_context=factory.event_context("h"), lot_id=bench.lot.pk, reason="scratched")
    stop = usable([bench.lot.pk], "pack", ON)[bench.lot.pk]
    assert stop and stop.code == "held" and stop.figures["why"] == {"reason": "scratched"}


def test_what_lies_elsewhere_or_is_not_finished_is_not_here() -> None:
    bench = make_bench()
    stop = usable([bench.lot.pk], "pack", ON, site_id=bench.lamps.moulder.pk)[bench.lot.pk]
    assert stop and (stop.code, stop.figures["lies"]) == ("not_here", {"Bench, stock": "60"})
    assert usable([bench.lot.pk], "ship", ON, site_id=bench.lamps.bench.pk)[bench.lot.pk]


def test_pieces_that_are_through_a_step_are_asked_for_the_checks_up_to_there_only() -> None:
    globe = make_globe(checks={30: (COOLING,), 50: (BORE,)})
    globe.report(20, 24)
    globe.cooled((24, 15))
    lot = globe.lot().pk
    goods = [after_step(lot, 30), after_step(lot, 0)]
    found = usable_goods(goods, "pack", ON)
    assert found[goods[0]] is None
    stop = found[goods[1]]
    assert stop and (stop.code, stop.figures["step"]) == ("not_proved", 50)


def test_a_held_batch_may_be_worked_at_and_not_be_sent() -> None:
    globe = make_globe()
    globe.report(20, 24)
    hold_lot(event_context=globe.event_context(), lot_id=globe.lot().pk, reason="looks wet")
    step = globe.step(30)
    assert usable_to_start([step], ON) == {step.pk: None}
    globe.report(30, 24)
    assert refused(globe.send(24)).code == "held"


def test_a_part_that_is_packed_as_well_as_used_waits_for_the_stricter() -> None:
    bench = make_bench()
    lamps = bench.lamps
    assert purposes_at_rest([lamps.globe.pk, lamps.leaflet.pk, lamps.lamp.pk]) == {
        lamps.globe.pk: "consume",
        lamps.leaflet.pk: "pack",
        lamps.lamp.pk: "pack",
    }
    factory.make_bill(lamps.lamp, lamps.globe, step=0)
    assert purposes_at_rest([lamps.globe.pk]) == {lamps.globe.pk: "pack"}


def test_a_lot_that_is_held_between_the_page_and_the_scan_is_refused() -> None:
    bench = make_bench()
    assert [row.now for row in lines_to_pack(bench.lamps.bench, on=ON)] == [50]
    hold_lot(event_context=factory.event_context("h"), lot_id=bench.lot.pk, reason="scratched")
    assert refused(bench.pack(1)).code == "held"


def test_a_lot_that_expires_in_its_carton_does_not_leave() -> None:
    bench = make_bench()
    carton = bench.carton(1, 10)
    Lot.objects.filter(pk=bench.leaflets.pk).update(expires_on=ON - timedelta(days=1))
    answer = ship(
        event_context=factory.event_context("s"),
        order_id=bench.line.order_id,
        site_id=bench.lamps.bench.pk,
        carton_ids=[carton.pk],
    )
    assert refused(answer).code == "expired"


def test_as_many_queries_for_many_lots_as_for_one() -> None:
    bench, _ = _with_unproved_globes()
    site = bench.lamps.bench

    def queries() -> int:
        with CaptureQueriesContext(
            connection,
        ) as caught:
            usable(Lot.objects.values_list("pk", flat=True), "pack", ON, site_id=site.pk)
            shelves([bench.lamps.lamp.pk, bench.lamps.leaflet.pk], site, on=ON)
            lines_to_pack(site, on=ON)
            kits.kits_now(on=ON)
            statuses_of(Account.objects.filter(balance__gt=0).select_related("lot", "site"), ON)
        return len(caught)

    queries()
    few = queries()
    for n in range(30):
        batch = factory.make_batch(bench.lamps.lamp, wanted=3, name=f"more {n}")
        ok(report(event_context=factory.event_context(f"more {n}"), step_id=batch.steps.get().pk, good=3))
    assert queries() <= few
