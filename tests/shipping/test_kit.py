"""Scanning a kit: what is right, and why something is not."""

from __future__ import annotations

from datetime import timedelta

import pytest

from sites.models import Site
from tests import factory
from tests.factory import CheckRow
from tests.globe import ok
from tests.shipping.packing import Bench, make_bench
from traveller.batches.actions.decide import decide
from traveller.batches.actions.decide_first_piece import decide_first_piece
from traveller.batches.actions.report import report
from traveller.batches.steps.consume import Used
from traveller.journal.models import Event
from traveller.ledger import holds
from traveller.ledger.models import Lot
from traveller.orders.actions.release import release
from traveller.orders.models import OrderLine
from traveller.shipping.actions.open_carton import open_carton
from traveller.shipping.actions.ship import ship
from traveller.shipping.kit import Look, kit_of, look_at
from traveller.shipping.models import Carton

pytestmark = pytest.mark.django_db

ON = factory.MONDAY.date()


def look(bench: Bench, lot: Lot | str, quantity: int | None = None, *, site: Site | None = None) -> Look:
    scanned = lot.code if isinstance(lot, Lot) else lot
    return look_at(bench.line, scanned, site or bench.lamps.bench, on=ON, quantity=quantity)


def test_a_kit_is_the_finished_part_and_what_is_added_at_packing() -> None:
    bench = make_bench()
    kit = [(row.part.number, row.quantity, row.finished) for row in kit_of(bench.line, 12)]
    assert kit == [("LAMP", 12, True), ("LEAFLET", 12, False)]


def test_what_is_shared_by_several_pieces_is_rounded_once_over_the_line() -> None:
    bench = make_bench()
    box = factory.make_part("BOX", "bought")
    factory.make_bill(bench.lamps.lamp, box, per_thousand=250)
    # Four lamps a box: the first ten take three boxes, the next ten two.
    assert [row.quantity for row in kit_of(bench.line, 10) if row.part == box] == [3]
    OrderLine.objects.update(packed=10)
    bench.line.refresh_from_db()
    assert [row.quantity for row in kit_of(bench.line, 10) if row.part == box] == [2]


def test_the_right_lot_is_right_however_it_is_scanned_and_nothing_is_told() -> None:
    bench = make_bench()
    before = Event.objects.count()
    code = bench.lot.code
    for scanned in (code, code.lower(), f"{code[:3]}-{code[3:]}", f"https://trace.example/t/{code}"):
        found = look(bench, scanned, 10)
        assert (found.ok, found.code, found.lot, found.here, found.warnings) == (True, "right", bench.lot, 60, ())
    assert look(bench, bench.leaflets, 10).ok
    assert Event.objects.count() == before


def test_an_unknown_code_names_the_nearest_lots_that_lie_here() -> None:
    bench = make_bench()
    found = look(bench, "0000000")
    assert (found.ok, found.code) == (False, "damaged_code")
    last = bench.lot.code[-1]
    damaged = bench.lot.code[:-1] + ("A" if last != "A" else "B")
    found = look(bench, damaged)
    assert found.code == "damaged_code"
    assert bench.lot.code in found.figures["near"]  # type: ignore[operator]


def test_a_sound_code_of_nothing_is_unknown() -> None:
    from traveller.journal.subjects import code_for

    found = look(make_bench(), code_for(factory.uid("nobody")))
    assert (found.ok, found.code) == (False, "unknown_code")


def test_the_code_of_a_carton_or_of_a_batch_without_pieces_is_no_lot() -> None:
    bench = make_bench()
    carton = bench.carton(1)
    found = look(bench, carton.code)
    assert (found.code, found.figures["kind"]) == ("not_a_lot", "carton")
    empty = factory.make_batch(bench.lamps.lamp, name="empty")
    assert look(bench, empty.code).code == "nothing_made_yet"


def test_the_wrong_part_is_told_with_what_is_wanted() -> None:
    bench = make_bench()
    pucks = Lot.objects.get(part=bench.lamps.puck)
    found = look(bench, pucks)
    assert (found.ok, found.code) == (False, "wrong_part")
    assert found.figures["wanted"] == [bench.lamps.lamp.title, bench.lamps.leaflet.title]


def test_the_wrong_colour_is_told_as_such() -> None:
    bench = make_bench()
    red = factory.make_part("LAMP-RD", name=bench.lamps.lamp.name, variant="red")
    found = look(bench, factory.make_stock(red, bench.lamps.bench, 5))
    assert (found.code, found.figures["found"], found.figures["wanted"]) == ("wrong_variant", "red", "")


def test_a_held_lot_is_refused_with_the_reason_and_free_again_once_decided() -> None:
    bench = make_bench()
    hold = holds.open_hold(
        factory.make_event("h", kind="held"), bench.lot, cause="founder", code="scratched", figures={"pieces": 3}
    )
    found = look(bench, bench.lot, 10)
    assert (found.ok, found.code, found.figures["why_code"]) == (False, "held", "scratched")
    assert found.figures["why"] == {"pieces": "3"}
    decide(event_context=factory.event_context(1), hold_id=hold.pk, disposition="release", reason="polished")
    assert look(bench, bench.lot, 10).ok


def test_a_lot_that_is_not_proved_is_refused_until_it_is() -> None:
    bench = make_bench(checks=(CheckRow("first", "approval", {}, "step", "packing"),))
    found = look(bench, bench.lot, 10)
    assert (found.ok, found.code, found.figures["check"]) == (False, "not_proved", "first")
    assert found.figures["why_code"] == "approval.waiting"
    step = bench.batch.steps.get().pk
    decide_first_piece(event_context=factory.event_context(1), step_id=step, approved=True, reason="measured")
    assert look(bench, bench.lot, 10).ok


def test_a_check_that_is_only_advice_blocks_nothing() -> None:
    bench = make_bench(checks=(CheckRow("first", "approval", {}, "step", "nothing"),))
    assert look(bench, bench.lot, 10).ok


def test_an_expired_lot_is_refused_and_one_on_its_last_day_is_not() -> None:
    bench = make_bench()
    Lot.objects.filter(pk=bench.leaflets.pk).update(expires_on=ON)
    assert look(bench, bench.leaflets, 10).ok
    Lot.objects.filter(pk=bench.leaflets.pk).update(expires_on=ON - timedelta(days=1))
    found = look(bench, bench.leaflets, 10)
    assert (found.code, found.figures["expires_on"]) == ("expired", "2026-03-01")


def test_a_lot_that_lies_elsewhere_is_told_where() -> None:
    bench = make_bench()
    there = factory.make_stock(bench.lamps.leaflet, bench.lamps.moulder, 7, name="there")
    found = look(bench, there, 5)
    assert (found.code, found.figures["lies"]) == ("not_here", {"Moulder, stock": "7"})
    few = look(bench, bench.leaflets, 81)
    assert (few.code, few.figures["there"], few.figures["wanted"]) == ("not_enough_here", 80, 81)
    assert look(bench, bench.leaflets, 80).ok


def test_more_than_ordered_is_refused_beyond_the_tolerance_only() -> None:
    bench = make_bench(ordered=50)
    assert look(bench, bench.lot, 50).ok
    found = look(bench, bench.lot, 51)
    assert (found.code, found.figures["most"]) == ("more_than_ordered", 50)
    OrderLine.objects.update(over_ppm=50_000)
    bench.line.refresh_from_db()
    assert look(bench, bench.lot, 52).ok
    assert look(bench, bench.lot, 53).code == "more_than_ordered"


def test_a_lot_kept_for_another_line_is_a_warning_not_a_refusal() -> None:
    bench = make_bench(ordered=30)
    other = bench.lamps.line(45, order=factory.make_order("1002"))
    release(event_context=factory.event_context(1), line_ids=[other.pk])
    assert look(bench, bench.lot, 15).warnings == ()
    found = look(bench, bench.lot, 16)
    assert found.ok
    (notice,) = found.warnings
    assert (notice.code, notice.figures["order"], notice.figures["quantity"]) == ("reserved_for_another", "1002", 45)


def test_a_product_of_an_unproved_component_is_refused_until_the_component_is_proved() -> None:
    # News of assembly is never refused, so an unproved globe may be inside; the carton is where it stops.
    bench = make_bench()
    check = CheckRow("first", "approval", {}, "step", "packing")
    globe = bench.lamps.globe
    factory.make_routing(globe, [factory.Op(10, bench.lamps.bench, "mould", "make", checks=(check,))], revision=9)
    made = factory.make_batch(globe, wanted=5, name="unproved")
    report(event_context=factory.event_context(1), step_id=made.steps.get().pk, good=5)
    made.refresh_from_db()
    assert made.lot_id
    used = [Used(made.lot_id, 5)]
    report(event_context=factory.event_context(2), step_id=bench.batch.steps.get().pk, good=5, used=used)
    found = look(bench, bench.lot, 10)
    assert (found.ok, found.code, found.figures["batch"]) == (False, "component_not_proved", made.code)
    decide_first_piece(
        event_context=factory.event_context(3), step_id=made.steps.get().pk, approved=True, reason="measured"
    )
    assert look(bench, bench.lot, 10).ok


def test_of_a_lot_that_was_packed_here_the_carton_is_named() -> None:
    bench = make_bench(finished=20)
    carton = bench.carton(1, 20)
    found = look(bench, bench.lot, 1)
    assert (found.ok, found.code) == (False, "in_carton")
    assert (found.figures["carton"], found.figures["quantity"], found.figures["order"]) == (carton.code, 20, "1001")
    assert found.figures["packed_at"] == carton.packed_at.isoformat()


def test_of_a_lot_in_several_cartons_the_last_is_named_and_of_one_that_has_left_that_it_has() -> None:
    bench = make_bench(finished=20)
    bench.carton(1, 5)
    last = bench.carton(2, 15)
    found = look(bench, bench.lot, 1)
    assert (found.code, found.figures["cartons"], found.figures["carton"]) == ("in_several_cartons", 2, last.code)
    ok(open_carton(event_context=factory.event_context("open"), carton_id=last.pk, reason="torn"))
    assert look(bench, bench.lot, 1).ok, "what was in an opened carton lies in stock"
    again = bench.carton(3, 15)
    ok(
        ship(
            event_context=factory.event_context("ship"),
            order_id=bench.line.order_id,
            site_id=bench.lamps.bench.pk,
            carton_ids=list(Carton.objects.filter(opened_event=None).values_list("pk", flat=True)),
            carrier="van",
        )
    )
    found = look(bench, bench.lot, 1)
    assert (found.code, found.figures["carton"], found.figures["quantity"]) == ("left_in_carton", again.code, 20)
