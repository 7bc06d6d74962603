"""The whole way of a batch at the moulder, told on the phone's pages, then sent and counted in at the bench."""

from __future__ import annotations

import pytest

from tests import cast
from tests.web.operator.floor import Floor, moved, text_of
from traveller.batches.models import Load
from traveller.dispatches.models import Consignment
from traveller.ledger.models import Link

pytestmark = pytest.mark.django_db


def test_a_batch_goes_all_the_way_through_the_moulder(floor: Floor) -> None:
    page = floor.phone.get(f"/here/t/{floor.batch.code}")
    assert "Is this it?" in text_of(page) and "Globe, amber" in text_of(page)

    # Drying: a load without pieces, four hours.
    moved(floor.post(floor.path(10, "start")))
    moved(floor.post(floor.path(10, "load"), place="dryer 2"))
    floor.clock.go(hours=4)
    load = Load.objects.get()
    assert load.place == "dryer 2"
    assert moved(floor.post(f"/here/load/{load.pk}/out")).startswith(f"/here/step/{floor.step(10).pk}?told=")
    reported = moved(floor.post(floor.path(10, "done")))
    assert "Next: 20 · mould" in text_of(floor.phone.get(reported))

    # Moulding: 26 shots in two cavities, resin by the supplier's number.
    moved(floor.post(floor.path(20, "start")))
    first = floor.post(floor.path(20, "count"), stage="good", good=48)
    assert first.status_code == 200 and "Cavities open, of 2" in text_of(first)
    resin = f"lot:{floor.resin.pk}:0"
    reported = moved(floor.count(20, 48, {resin: "pc-77120"}, shots=26, open_cavities=2, scrap__short=4, done="yes"))
    assert "48 good, 4 scrap" in text_of(floor.phone.get(reported))
    assert (floor.step(20).shots, floor.step(20).state) == (26, "done")
    link = Link.objects.get(parent=floor.resin_lot)
    assert not link.inferred and link.quantity == -(-58_200 * 52 // 1000)

    # Cooling, load by load; all good of each.
    for _ in range(2):
        load = floor.load(24, 15)
        moved(floor.post(floor.path(30, "count"), stage="good", good=24, load=load.uid))
    assert floor.at(floor.moulder, "in_process", 40) == 48
    assert floor.step(30).state == "done", "nothing is left and nothing can come"

    # Inserts, by the code on their label; one piece to rework and one cracked.
    insert = f"lot:{floor.insert.pk}:0"
    reported = moved(floor.count(40, 46, {insert: floor.insert_lot.code}, rework=1, scrap__dirty=1))
    assert "1 for rework" in text_of(floor.phone.get(reported))
    again = floor.post(floor.path(40, "count"), stage="good", good=1, again="1")
    assert "out of rework, counted apart" in text_of(floor.phone.get(moved(again)))
    assert (floor.step(40).good, floor.step(40).again_good, floor.step(40).state) == (46, 1, "done")

    # The bore is to be measured; until it is, the batch is held and says so.
    assert "bore: 0 of 1 pieces measured" in text_of(floor.phone.get(floor.path(40, "")[:-1]))
    reported = moved(floor.post(floor.path(40, "measure"), r__bore__bore__0__0="50,85"))
    assert "all inside 50.673 to 50.927 mm" in text_of(floor.phone.get(reported))

    # Water test: every piece.
    moved(floor.count(50, 44, scrap__short=2))
    moved(floor.count(50, 1, again="1"))
    assert floor.step(50).state == "done"
    assert floor.at(floor.moulder, "stock", 50) == 45

    # Sent, and counted in at the bench.
    sent = moved(floor.send_all())
    consignment = Consignment.objects.get()
    assert consignment.code in sent and consignment.destination == floor.bench
    bench = cast.pass_client(floor.bench, person="Tomas")
    assert "Is this it?" in text_of(bench.get(f"/here/t/{floor.batch.code}"))
    line = consignment.lines.get()
    moved(floor.post(f"/here/arrival/{consignment.code}", {f"line:{line.pk}": "45"}, client=bench))
    assert floor.at(floor.bench, "in_process", 60) + floor.at(floor.bench, "rework", 60) == 45
