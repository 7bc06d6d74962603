"""The founder sends goods: free issue with its note, what waits for another step, a return; refusals in words."""

from __future__ import annotations

import pytest

from sites.models import Site
from tests import factory
from tests.cast import founder_client
from tests.factory import Op
from tests.web.founder.signed_in import assert_costs_the_same, assert_for_the_founder_alone, news_id, text_of
from tests.web.meanings import meanings_of
from traveller.batches.actions.hold import hold_lot
from traveller.batches.actions.report import report
from traveller.dispatches.models import Consignment
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Account, Condition, Lot

pytestmark = pytest.mark.django_db

WAY = "/consignments/new?origin=bench&to=moulder&purpose=free+issue"


def resin(quantity: int = 60_000) -> tuple[Site, Site, Lot]:
    """Resin at the own bench, to be moulded elsewhere."""
    bench, moulder = factory.make_bench(name="Own bench"), factory.make_site(name="Moulder")
    part = factory.make_part("RESIN", "material", unit="GRM", name="Resin")
    return bench, moulder, factory.make_stock(part, bench, quantity)


def field_of(lot: Lot, condition: str = Condition.STOCK) -> str:
    return f"a{Account.objects.get(lot=lot, condition=condition, balance__gt=0).pk}"


def test_only_the_founder_sends_here() -> None:
    _bench, moulder, _lot = resin()
    assert_for_the_founder_alone("/consignments/new", moulder)
    assert_for_the_founder_alone(WAY, moulder, "post")


def test_the_way_is_asked_first() -> None:
    resin()
    client = founder_client()
    assert "Where do the goods go, and what for?" in text_of(client.get("/consignments/new"))
    same = client.get("/consignments/new?origin=bench&to=bench&purpose=stock")
    assert "Sender and receiver are the same site." in text_of(same)


def test_free_issue_goes_on_the_road_and_belongs_to_the_maker() -> None:
    bench, moulder, lot = resin()
    client = founder_client()
    assert "60 kg" in text_of(client.get(WAY))
    form = {"news_id": news_id(), field_of(lot): "25 kg", "method": "weight", "sample": "", "carrier": "Own van"}
    answer = client.post(WAY, form)
    consignment = Consignment.objects.get()
    assert answer.status_code == 302 and f"/consignments/{consignment.code}?told=" in answer["Location"]
    assert (consignment.purpose, consignment.owner, consignment.carrier) == ("free issue", "Own bench", "Own van")
    assert factory.balance(lot, bench) == 35_000
    assert factory.balance(lot, bench, Condition.ON_THE_ROAD) == 25_000
    assert client.post(WAY, form).status_code == 302
    assert Consignment.objects.count() == 1
    assert moulder.pk == consignment.destination_id


def test_pounds_are_sent_in_grams_and_stay_as_they_were_typed() -> None:
    bench, _moulder, lot = resin()
    client = founder_client()
    assert client.post(WAY, {"news_id": news_id(), field_of(lot): "55 lb", "method": "hand"}).status_code == 302
    assert factory.balance(lot, bench, Condition.ON_THE_ROAD) == 24_948  # 55 times 453.59237 g is 24,947.58 g
    assert "55 lb = 24.948 kg sent to Moulder" in text_of(client.get(f"/lots/{lot.code}"))
    assert "55 lb = 24.948 kg" in text_of(client.get(f"/consignments/{Consignment.objects.get().code}"))


def test_a_weight_without_its_unit_is_asked_about() -> None:
    bench, _moulder, lot = resin()
    field, client = field_of(lot), founder_client()
    form = {"news_id": news_id(), field: "25", "method": "hand"}
    asked = client.post(WAY, form)
    assert asked.status_code == 422 and 'value="25"' in asked.content.decode()
    assert meanings_of(asked) == {f"{field}=25 kg": "25 kg", f"{field}=25 g": "25 g"}
    assert client.post(WAY, {**form, "meant": f"{field}=25 kg"}).status_code == 302
    assert factory.balance(lot, bench, Condition.ON_THE_ROAD) == 25_000


def test_more_than_lies_there_is_refused_and_stays_typed() -> None:
    _bench, _moulder, lot = resin()
    form = {"news_id": news_id(), field_of(lot): "61 kg", "method": "hand", "carrier": "Van 3"}
    answer = founder_client().post(WAY, form)
    assert answer.status_code == 409
    html = answer.content.decode()
    assert "Only 60 kg of Resin" in text_of(answer) and "61 kg were asked for" in text_of(answer)
    assert 'value="61 kg"' in html and 'value="Van 3"' in html and form["news_id"] in html


@pytest.mark.parametrize("typed", ["-1", "much", "3 pieces", "1e9999", "0.0001"])
def test_an_odd_quantity_is_said_in_words(typed: str) -> None:
    _bench, _moulder, lot = resin()
    answer = founder_client().post(WAY, {"news_id": news_id(), field_of(lot): typed, "method": "hand"})
    assert answer.status_code == 422 and 'class="errors"' in answer.content.decode()
    assert not Consignment.objects.exists()


def test_nothing_chosen_is_refused() -> None:
    resin()
    answer = founder_client().post(WAY, {"news_id": news_id(), "method": "hand"})
    assert answer.status_code == 409 and "Nothing was chosen to be sent." in text_of(answer)


def test_a_held_lot_is_refused_with_its_reason() -> None:
    _bench, _moulder, lot = resin()
    assert not isinstance(hold_lot(event_context=factory.event_context(2), lot_id=lot.pk, reason="wet bag"), Refusal)
    client = founder_client()
    assert "HELD: do not use" in text_of(client.get(WAY))
    answer = client.post(WAY, {"news_id": news_id(), field_of(lot): "1 kg", "method": "hand"})
    assert answer.status_code == 409 and "wet bag" in text_of(answer)


def test_a_time_in_the_future_is_refused() -> None:
    _bench, _moulder, lot = resin()
    form = {"news_id": news_id(), field_of(lot): "1 kg", "method": "hand", "at": "2999-01-01T10:00"}
    answer = founder_client().post(WAY, form)
    assert answer.status_code == 422 and "has not come yet" in text_of(answer)


def test_a_return_names_the_step_to_do_again() -> None:
    bench, moulder = factory.make_bench(name="Own bench"), factory.make_site(name="Moulder")
    globe = factory.make_part(name="Globe")
    factory.make_routing(globe, [Op(10, bench, "mould", "make"), Op(20, bench, "check"), Op(30, moulder, "trim")])
    batch = factory.make_batch(globe, destination=bench)
    assert not isinstance(
        report(event_context=factory.event_context(1), step_id=batch.steps.get(number=10).pk, good=50), Refusal
    )
    batch.refresh_from_db()
    lot = batch.lot
    assert lot is not None
    way = "/consignments/new?origin=bench&to=moulder&purpose=return"
    client = founder_client()
    assert "30 trim" in text_of(client.get(way))
    key = field_of(lot, Condition.IN_PROCESS)
    refused = client.post(way, {"news_id": news_id(), key: "5", f"{key}-step": "0", "method": "hand"})
    assert refused.status_code == 409
    bare = client.post(way, {"news_id": news_id(), key: "5", f"{key}-step": "30", "method": "hand"})
    assert bare.status_code == 409 and "Say why it goes back" in text_of(bare)
    reported = {"news_id": news_id(), key: "5", f"{key}-step": "30", "method": "hand", "note": "flash left"}
    sent = client.post(way, reported)
    assert sent.status_code == 302
    assert Consignment.objects.get().lines.get().to_step == 30


def test_it_costs_the_same_with_many_lots() -> None:
    bench, _moulder, _lot = resin()

    def fill(name: str, n: int) -> None:
        for i in range(n):
            factory.make_stock(factory.make_part(f"{name}{i}"), bench, 5)

    fill("A", 2)
    assert_costs_the_same(founder_client(), WAY, lambda: fill("B", 27))
