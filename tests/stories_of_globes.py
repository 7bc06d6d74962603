"""A story with a bit of everything, for tests that ask whether the books agree."""

from __future__ import annotations

from datetime import timedelta

from tests import factory
from tests.globe import ROUTE, Globe, make_globe, ok
from traveller.batches.actions.correct_count import correct_count
from traveller.batches.actions.decide import decide
from traveller.batches.actions.hold import hold_lot, hold_part
from traveller.batches.actions.receive import arrived_unannounced
from traveller.batches.actions.settle_difference import settle_difference
from traveller.batches.actions.start_step import start_step
from traveller.batches.proof.readings import ReadingTold
from traveller.batches.steps.consume import Used
from traveller.ledger.models import Condition
from traveller.ledger.post import Place


def eventful() -> Globe:
    """Drying, two failed loads (one reworked, one scrapped), a difference, a parked arrival, holds, corrections."""
    globe = make_globe(checks=ROUTE, insert=True)
    inserts = factory.make_stock(globe.insert, globe.bench, 300)
    load = globe.put_in(0, step=10)
    globe.take_out(load, load.started_at + timedelta(hours=4))
    globe.finish(10)
    ok(start_step(event_context=globe.event_context(), step_id=globe.step(20).pk, open_cavities=1))
    globe.report(20, 120, scrap={"short": 4}, shots=124)
    globe.cooled((24, 15), (24, 9), (24, 16))
    load = globe.put_in(24)
    wrong = globe.report(30, 24, load=load.uid)
    globe.take_out(load, load.started_at + timedelta(minutes=8), late_reason="phone was flat")
    first, second = globe.children()
    (hold,) = globe.open_holds(first)
    ok(
        decide(
            event_context=globe.event_context(), hold_id=hold.pk, disposition="rework", reason="cool again", to_step=30
        )
    )
    again = globe.cool(24, 15, batch=first)
    globe.report(30, 20, scrap={"warped": 4}, again=True, load=again.uid, batch=first, done=True)
    (hold,) = globe.open_holds(second)
    ok(decide(event_context=globe.event_context(), hold_id=hold.pk, disposition="scrap", reason="oval"))
    ok(correct_count(event_context=globe.event_context(), event_id=wrong.event.pk, reason="recounted", good=23))
    _at_the_bench(globe, inserts.pk)
    return globe


def _at_the_bench(globe: Globe, inserts: int) -> None:
    consignment = ok(globe.send(30))
    line = globe.receive(consignment, 28).line
    ok(
        settle_difference(
            event_context=globe.event_context(), line_id=line.pk, finding="lost", reason="fell off the van"
        )
    )
    lot = globe.lot().pk
    ok(arrived_unannounced(event_context=globe.event_context(), site_id=globe.bench.pk, lot_id=lot, quantity=18))
    ok(globe.send(18))
    globe.report(40, 40, scrap={"leak": 2}, rework=3)
    globe.report(40, 2, scrap={"leak": 1}, again=True, done=True)
    bore = [ReadingTold("bore", "bore", "2.001", "in")]
    globe.report(50, 30, readings=bore, used=[Used(inserts)])
    place = Place(globe.lot().pk, globe.bench.pk, Condition.STOCK, 0)
    ok(
        hold_part(
            event_context=globe.event_context(), batch_id=globe.batch.pk, place=place, quantity=5, reason="scratched"
        )
    )
    answer = ok(hold_lot(event_context=globe.event_context(), lot_id=inserts, reason="a complaint"))
    (hold,) = answer.holds
    globe.report(50, 4, again=True)
    ok(decide(event_context=globe.event_context(), hold_id=hold.pk, disposition="release", reason="unfounded"))
