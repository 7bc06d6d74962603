"""A site closes with goods inside: passes end, steps get another site, goods are fetched or written off."""

from __future__ import annotations

from datetime import date

import pytest

from sites.models import Site, SitePass
from tests import cast, factory
from tests.globe import COOLING, Globe, everything_agrees, make_globe, ok, refused
from traveller.batches.actions.close_site import close_site, open_site_again
from traveller.batches.actions.reroute import reroute
from traveller.batches.actions.send import send
from traveller.batches.actions.split import split
from traveller.batches.actions.write_off import write_off
from traveller.batches.models import Batch
from traveller.dispatches.actions.dispatch import SendLine
from traveller.dispatches.models import Consignment
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Condition
from traveller.ledger.post import Place

pytestmark = pytest.mark.django_db
DAY = date(2026, 3, 2)


def _send(globe: Globe, origin: Site, to: Site, quantity: int, from_step: int) -> Consignment | Refusal:
    line = SendLine(globe.lot().pk, quantity, from_step=from_step)
    return send(event_context=globe.event_context(), origin_id=origin.pk, destination_id=to.pk, lines=[line])


def test_a_site_that_closes_ends_its_passes_and_keeps_its_goods() -> None:
    globe = make_globe()
    globe.report(20, 40)
    row, _ = cast.make_pass(globe.moulder)
    reported = {"site_id": globe.moulder.pk, "on": DAY, "reason": "the owner retires"}
    event = ok(close_site(event_context=factory.event_context("close"), **reported))  # type: ignore[arg-type]
    assert ok(close_site(event_context=factory.event_context("close"), **reported)) == event  # type: ignore[arg-type]
    globe.moulder.refresh_from_db()
    assert (globe.moulder.closed_on, globe.moulder.closed_why) == (DAY, "the owner retires")
    assert SitePass.objects.get(pk=row.pk).revoked_at is not None
    assert globe.at(globe.moulder, Condition.IN_PROCESS, 30) == 40
    assert everything_agrees()


def test_it_can_be_opened_again_and_its_old_passes_stay_ended() -> None:
    globe = make_globe()
    row, _ = cast.make_pass(globe.moulder)
    ok(close_site(event_context=globe.event_context(), site_id=globe.moulder.pk, on=DAY, reason="fire"))
    again = close_site(event_context=globe.event_context(), site_id=globe.moulder.pk, on=DAY, reason="fire")
    assert refused(again).code == "site_closed"
    ok(open_site_again(event_context=globe.event_context(), site_id=globe.moulder.pk, reason="it was only smoke"))
    assert Site.objects.get(pk=globe.moulder.pk).closed_on is None
    assert SitePass.objects.get(pk=row.pk).revoked_at is not None
    assert everything_agrees()


def test_the_own_bench_does_not_close_and_no_site_without_a_reason() -> None:
    globe = make_globe()
    bench = close_site(event_context=globe.event_context(), site_id=globe.bench.pk, on=DAY, reason="x")
    assert refused(bench).code == "own_bench_stays"
    silent = close_site(event_context=globe.event_context(), site_id=globe.moulder.pk, on=DAY, reason="")
    assert refused(silent).code == "reason_needed"


def test_a_step_gets_another_site_and_its_pieces_are_sent_there() -> None:
    globe = make_globe(checks={30: (COOLING,)})
    other = factory.make_site("cooler")
    globe.report(20, 40)
    answer = ok(
        reroute(
            event_context=globe.event_context(), step_id=globe.step(30).pk, site_id=other.pk, reason="moulder closes"
        )
    )
    assert answer.event.kind == "step rerouted"
    assert globe.step(30).site == other
    assert globe.lies() == {("moulder", "made_from", 20): -40, ("moulder", "stock", 20): 40}
    assert refused(_send(globe, globe.moulder, globe.bench, 40, 20)).code == "wrong_destination"
    consignment = ok(_send(globe, globe.moulder, other, 40, 20))
    globe.receive(consignment, 40)
    assert globe.at(other, Condition.IN_PROCESS, 30) == 40
    load = globe.cool(24, 15)
    globe.report(30, 24, load=load.uid)
    assert globe.at(other, Condition.STOCK, 30) == 24
    assert everything_agrees()


def test_other_batches_of_the_same_routing_go_the_old_way() -> None:
    globe = make_globe()
    other = factory.make_site("cooler")
    after = factory.make_batch(globe.part, name="next")
    ok(
        reroute(
            event_context=globe.event_context(), step_id=globe.step(30).pk, site_id=other.pk, reason="moulder is full"
        )
    )
    globe.report(20, 10)
    globe.report(20, 10, batch=after)
    assert globe.lies()["moulder", "stock", 20] == 10
    assert globe.lies(after)["moulder", "in_process", 30] == 10
    assert globe.step(30).operation.site == globe.moulder, "the frozen routing stays"


def test_pieces_already_at_the_new_site_wait_there() -> None:
    globe = make_globe()
    globe.report(20, 40)
    globe.report(30, 40)
    ok(
        reroute(
            event_context=globe.event_context(),
            step_id=globe.step(40).pk,
            site_id=globe.moulder.pk,
            reason="tested there now",
        )
    )
    assert globe.at(globe.moulder, Condition.IN_PROCESS, 40) == 40
    globe.report(40, 40)
    assert globe.at(globe.moulder, Condition.STOCK, 40) == 40
    assert everything_agrees()


def test_a_step_that_is_begun_is_split_first() -> None:
    globe = make_globe()
    other = factory.make_site("cooler")
    globe.report(20, 40)
    globe.report(30, 10)
    begun = reroute(event_context=globe.event_context(), step_id=globe.step(30).pk, site_id=other.pk, reason="closes")
    assert refused(begun).code == "step_begun"
    place = Place(globe.lot().pk, globe.moulder.pk, Condition.IN_PROCESS, 30)
    ok(split(event_context=globe.event_context(), batch_id=globe.batch.pk, place=place, quantity=29, reason="closes"))
    (child,) = globe.children()
    ok(
        reroute(
            event_context=globe.event_context(), step_id=globe.step(30, child).pk, site_id=other.pk, reason="closes"
        )
    )
    assert globe.lies(child)["moulder", "stock", 20] == 29
    assert everything_agrees()


def test_a_batch_split_off_goes_the_new_way_too() -> None:
    globe = make_globe()
    other = factory.make_site("cooler")
    ok(
        reroute(
            event_context=globe.event_context(), step_id=globe.step(40).pk, site_id=other.pk, reason="bench is full"
        )
    )
    globe.report(20, 40)
    place = Place(globe.lot().pk, globe.moulder.pk, Condition.IN_PROCESS, 30)
    ok(split(event_context=globe.event_context(), batch_id=globe.batch.pk, place=place, quantity=10, reason="x"))
    (child,) = globe.children()
    assert Batch.objects.get(pk=child.pk).rerouted
    assert globe.step(40, child).site == other
    assert everything_agrees()


def test_no_step_goes_to_a_closed_site_nor_while_its_pieces_are_on_the_road() -> None:
    globe = make_globe()
    other = factory.make_site("cooler", closed_on=DAY)
    step = globe.step(40).pk
    closed = reroute(event_context=globe.event_context(), step_id=step, site_id=other.pk, reason="x")
    assert refused(closed).code == "site_closed"
    globe.report(20, 40)
    globe.report(30, 40)
    ok(globe.send(40))
    on_the_road = reroute(event_context=globe.event_context(), step_id=step, site_id=globe.moulder.pk, reason="x")
    assert refused(on_the_road).code == "still_on_the_road"


def test_what_nobody_gets_back_is_written_off_where_it_lay() -> None:
    globe = make_globe()
    globe.report(20, 40, done=True)
    place = Place(globe.lot().pk, globe.moulder.pk, Condition.IN_PROCESS, 30)
    over = write_off(event_context=globe.event_context(), place=place, quantity=41, reason="sealed by the court")
    assert refused(over).code == "short"
    ok(write_off(event_context=globe.event_context(), place=place, quantity=40, reason="sealed by the court"))
    assert globe.at(globe.moulder, Condition.SCRAP, 30) == 40
    assert Batch.objects.get(pk=globe.batch.pk).closed_at is not None
    assert everything_agrees()


def test_material_given_free_of_charge_is_written_off_too() -> None:
    globe = make_globe()
    resin = factory.make_stock(factory.make_part("RESIN", "material"), globe.moulder, 25_000)
    place = Place(resin.pk, globe.moulder.pk, Condition.STOCK, 0)
    ok(write_off(event_context=globe.event_context(), place=place, quantity=25_000, reason="the shop is empty"))
    assert factory.balance(resin, globe.moulder, Condition.SCRAP) == 25_000
    assert everything_agrees()
