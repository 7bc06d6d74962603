"""One batch all the way: two shops, loads, sending, receiving, the final stock."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests import factory
from tests.globe import ROUTE, everything_agrees, make_globe, ok
from traveller.batches.actions.loads import end_load, start_load
from traveller.batches.actions.start_step import start_step
from traveller.batches.models import Load
from traveller.batches.proof import gates
from traveller.batches.proof.readings import ReadingTold
from traveller.ledger.models import Condition, Hold

pytestmark = pytest.mark.django_db


def test_a_batch_goes_all_the_way_from_the_dryer_to_the_shelf() -> None:
    globe = make_globe(checks=ROUTE, start=48, insert=True)
    inserts = factory.make_stock(globe.insert, globe.bench, 100)
    dryer = ok(start_load(event_context=globe.event_context(), step_id=globe.step(10).pk, place="dryer 1"))
    load = Load.objects.get(uid=dryer.event.uid)
    ok(end_load(event_context=globe.event_context(load.started_at + timedelta(hours=4)), load_id=load.pk))
    globe.finish(10)
    ok(start_step(event_context=globe.event_context(), step_id=globe.step(20).pk))
    globe.report(20, 30, shots=16)
    globe.report(20, 18, scrap={"short": 2}, shots=10, done=True)
    assert globe.lies() == {
        ("moulder", Condition.IN_PROCESS, 30): 48,
        ("moulder", Condition.SCRAP, 20): 2,
        ("moulder", Condition.MADE_FROM, 20): -50,
    }
    globe.cooled((24, 15), (24, 16))
    globe.finish(30)
    consignment = ok(globe.send(48))
    assert globe.at(globe.moulder, Condition.ON_THE_ROAD, 40) == 48
    globe.receive(consignment, 48)
    globe.report(40, 45, scrap={"leak": 3}, done=True)
    reading = ReadingTold("bore", "bore", "2.004", "in")
    globe.report(50, 45, readings=[reading], done=True)
    assert globe.at(globe.bench, Condition.STOCK) == 45
    assert factory.balance(inserts, globe.bench) == 55
    assert gates.closed(globe.batch, "pack") == []
    assert not Hold.objects.exists()
    assert factory.sums_to_zero()
    assert everything_agrees()
    step = globe.step(20)
    assert (step.good, step.scrap, step.shots, step.state) == (48, 2, 26, "done")
