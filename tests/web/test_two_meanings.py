"""A figure that can mean two things is asked about at every door, with a button for each; what was typed stays."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from tests import factory
from tests.cast import founder_client
from tests.web.founder.signed_in import news_id, text_of
from tests.web.meanings import meanings_of
from tests.web.operator.floor import Floor, events, field_of, make_floor, moved
from tests.web.queueing import Phone
from traveller.batches.actions.send import send
from traveller.dispatches.actions.dispatch import SendLine
from traveller.journal.models import Event, Parked
from traveller.journal.refusal import Refusal
from traveller.orders.models import Purchase
from traveller.products.models import Part

pytestmark = pytest.mark.django_db


def buys(client: Client, **typed: str) -> Any:
    if not Part.objects.exists():
        factory.make_bench(name="Own bench")
        supplier = factory.make_site("resins", "supplier", name="Maumee")
        factory.make_part("GUM", "material", unit="GRM", name="Gum", supplier=supplier)
    form = {"news_id": news_id(), "part": "GUM", "supplier": "resins", "deliver_to": "bench"}
    return client.post("/purchases/new", {**form, **typed})


@pytest.fixture
def floor(db: None, monkeypatch: pytest.MonkeyPatch) -> Floor:
    made = make_floor()
    monkeypatch.setattr("django.utils.timezone.now", made.clock)
    return made


@pytest.fixture
def resin(floor: Floor) -> Any:
    """25 kg of resin on the road to the moulder."""
    lot = factory.make_stock(floor.resin, floor.bench, 2_600_000, name="free issue")
    context = factory.event_context("resin", at=floor.clock.now, actor=factory.founder())
    answer = send(
        event_context=context, origin_id=floor.bench.pk, destination_id=floor.moulder.pk,
        lines=[SendLine(lot.pk, 2_500_000)], purpose="free issue",
    )  # fmt: skip
    assert not isinstance(answer, Refusal)
    return answer


class TestThePurchase:
    @pytest.mark.parametrize(
        ("typed", "grams"), [("0,125 kg", 125), ("2.500 kg", 2500), ("1'500 kg", 1_500_000), ("1,060 g", 1060)]
    )
    def test_takes_what_can_only_be_one_thing(self, typed: str, grams: int) -> None:
        assert buys(founder_client(), quantity=typed).status_code == 302
        assert Purchase.objects.get().quantity == grams

    def test_asks_whether_two_and_a_half_or_two_thousand_five_hundred(self) -> None:
        client = founder_client()
        asked = buys(client, quantity="2,500 kg")
        assert asked.status_code == 422 and not Purchase.objects.exists()
        assert "“2,500 kg” can mean two things. Which is it?" in text_of(asked)
        assert field_of(asked, "quantity") == "2,500 kg"
        assert meanings_of(asked) == {"quantity=2.5 kg": "2.5 kg", "quantity=2500 kg": "2,500 kg"}
        for sent, grams in (("quantity=2.5 kg", 2500), ("quantity=2500 kg", 2_500_000)):
            assert buys(client, quantity="2,500 kg", meant=sent).status_code == 302
            assert Purchase.objects.latest("pk").quantity == grams

    @pytest.mark.parametrize(
        ("typed", "words"),
        [
            ("+-5 kg", "“+-5 kg” has two signs. Type one in front, or none."),
            ("-5 kg", "is below zero"),
            ("5- kg", "has its sign behind it"),
            ("½ kg", "has a fraction or a raised figure in it"),
            ("1e3 kg", "is not a quantity"),
            ("2,500. kg", "ends with a mark"),
            ("1 5 kg", "its marks do not part groups of three figures"),
            ("5 parsec", "“parsec” is not a unit that is known here. Use g."),
            ("0.4 g", "is not a whole number of g"),
        ],
    )
    def test_says_what_is_wrong_and_keeps_what_was_typed(self, typed: str, words: str) -> None:
        answer = buys(founder_client(), quantity=typed, due_on="2099-01-01")
        assert answer.status_code == 422 and words in text_of(answer), text_of(answer)
        assert (field_of(answer, "quantity"), field_of(answer, "due_on")) == (typed, "2099-01-01")
        assert not Purchase.objects.exists()


class TestTheShop:
    def test_asks_about_a_weight_on_arrival_in_its_own_marks(self, floor: Floor, resin: Any) -> None:
        line, path = resin.lines.get(), f"/here/arrival/{resin.code}"
        name = f"line:{line.pk}"
        for language, typed, few, many in (("en", "2,500", "2.5", "2,500"), ("es", "2.500", "2,5", "2\u00a0500")):
            floor.phone.defaults["HTTP_ACCEPT_LANGUAGE"] = language
            asked = floor.post(path, {name: typed})
            assert asked.status_code == 422 and field_of(asked, name) == typed
            assert meanings_of(asked) == {f"{name}={few} kg": f"{few} kg", f"{name}=2500 kg": f"{many} kg"}
        moved(floor.post(path, {name: "2.500", "meant": f"{name}=2500 kg"}))
        line.refresh_from_db()
        assert line.received == 2_500_000

    def test_asks_about_one_tote_of_several_and_keeps_the_others(self, floor: Floor, resin: Any) -> None:
        name = f"line:{resin.lines.get().pk}"
        asked = floor.post(f"/here/arrival/{resin.code}", {name: "12.5 + 2,500 + 3"})
        assert sorted(meanings_of(asked)) == [f"{name}=12.5 + 2.5 kg + 3", f"{name}=12.5 + 2500 kg + 3"]

    def test_asks_about_a_count_only_where_both_are_whole(self, floor: Floor) -> None:
        floor.moulded(48)
        asked = floor.post(floor.path(30, "count"), stage="rest", good="2.000")
        assert asked.status_code == 422
        assert meanings_of(asked) == {"good=2": "2", "good=2000": "2,000"}
        moved(floor.post(floor.path(30, "count"), stage="rest", good="2.000", meant="good=2"))
        assert floor.step(30).good == 2

    def test_without_a_signal_it_waits_for_the_founder_who_is_asked(self, floor: Floor, resin: Any) -> None:
        phone, name = Phone(floor.phone, floor.moulder), f"line:{resin.lines.get().pk}"
        phone.tap(f"/here/arrival/{resin.code}", floor.clock.now, None, **{name: "2,500"})
        (answer,) = phone.send(floor.clock.now)
        assert answer["state"] == "parked" and "“2,500” can mean two things" in answer["words"]
        assert Parked.objects.get().reason == "two_meanings" and phone.kept == []
        client = founder_client()
        page = client.get("/phone-entries")
        assert "“2,500” can mean two things, and the phone could not be asked which." in text_of(page)
        assert meanings_of(page) == {f"{name}=2.5 kg": "Record 2.5 kg", f"{name}=2500 kg": "Record 2,500 kg"}
        deed = f"/phone-entries/{Event.objects.get(parked=Parked.objects.get()).pk}"
        plain = client.post(deed, {"news_id": news_id(), "deed": "take"})
        assert plain.status_code == 409 and "can mean two things" in text_of(plain)
        before = events("received")
        taken = client.post(deed, {"news_id": news_id(), "deed": "take", "as": f"{name}=2500 kg"})
        assert taken.status_code == 302 and events("received") == before + 1
        assert resin.lines.get().received == 2_500_000
