"""All holds by age, and the founder's ways out of one: concession, rework, regrade, scrap, return."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client

from tests import factory as f
from tests.cast import founder_client
from tests.web.founder.signed_in import assert_costs_the_same, assert_for_the_founder_alone, news_id, text_of
from tests.web.oven import Oven, log, make_oven
from traveller.ledger import holds
from traveller.ledger.models import Hold, Lot

pytestmark = pytest.mark.django_db


def held_by_log() -> tuple[Oven, Hold]:
    """All 60 bands were baked too cold."""
    oven = make_oven()
    load = oven.bake()
    oven.send(log([70.0] * 41), load)
    return oven, Hold.objects.get(root=None, closed_at=None)


def hold_of(lot: Lot, n: int) -> Hold:
    event = f.make_event(f"held {n}", at=f.MONDAY + timedelta(hours=n))
    return holds.open_hold(event, lot, cause=f"held:{n}", code="held_by_founder", figures={"reason": f"reason {n}"})


def decide(client: Client, hold: Hold, disposition: str, **reported: object) -> object:
    form = {"news_id": news_id(), "disposition": disposition, "reason": "looked at it", **reported}
    return client.post(f"/holds/{hold.pk}", form)


def test_every_hold_stands_with_its_age_its_pieces_its_place_and_its_figures() -> None:
    _oven, hold = held_by_log()
    client = founder_client()
    answer = client.get("/holds")
    words = text_of(answer)
    assert "1 hold waits for a decision" in words
    assert "Band Baker 60" in words and "at or above 80 °C, 30 min needed" in words
    assert f'href="/holds/{hold.pk}">Decide' in answer.content.decode()
    assert 'href="/holds">All holds, by age' in client.get("/").content.decode()


def test_the_oldest_stands_first_and_what_is_to_be_returned_last() -> None:
    bench = f.make_bench()
    made = [hold_of(f.make_stock(f.make_part(f"P{n}", "bought"), bench, 5), n) for n in (3, 1, 2)]
    client = founder_client()
    decide(client, made[1], "return")
    words = text_of(client.get("/holds"))
    assert words.index("reason 2") < words.index("reason 3") < words.index("reason 1")
    assert "to be returned; held until it is gone: looked at it" in words
    assert "2 holds wait for a decision" in words
    assert "reason 1" not in text_of(client.get("/")), "what is decided asks for nothing on the first page"


def test_what_was_made_of_a_held_lot_is_counted_with_it_and_not_listed_by_itself() -> None:
    bench = f.make_bench()
    lot, child = (f.make_stock(f.make_part(n, "bought"), bench, 5) for n in ("RESIN", "BAND"))
    hold_of(lot, 1)
    holds.inherit(f.make_event("child"), child, [lot.pk])
    assert "1 lot made of it" in text_of(founder_client().get("/holds"))
    assert Hold.objects.filter(closed_at=None).count() == 2


def test_a_regrade_needs_the_part_and_makes_a_lot_of_it() -> None:
    oven, hold = held_by_log()
    second = f.make_part("BAND-SECOND")
    client = founder_client()
    missing = decide(client, hold, "regrade")
    assert missing.status_code == 422 and "Choose the part that it becomes." in text_of(missing)  # type: ignore[attr-defined]
    assert decide(client, hold, "regrade", to_part=second.pk).status_code == 302  # type: ignore[attr-defined]
    lot = Lot.objects.get(part=second)
    assert f.balance(lot, oven.site, "stock") == 60
    words = text_of(client.get(f"/lots/{lot.code}"))
    assert "regraded from another part" in words
    assert "regrade: it becomes another part: looked at it" in text_of(client.get("/holds?state=decided"))


def test_a_concession_stands_on_the_batch_page_with_name_reason_and_figures() -> None:
    oven, hold = held_by_log()
    client = founder_client()
    assert decide(client, hold, "concession", reason="  ").status_code == 422  # type: ignore[attr-defined]
    decide(client, hold, "concession", reason="bands for display only")
    words = text_of(client.get(f"/batches/{oven.batch.code}"))
    part = words[words.index("Concessions") :]
    assert "20, bake: bake" in part and "bands for display only" in part and "mara" in part.casefold()
    assert "0 min unbroken at or above 80 °C, 30 min needed" in part


def test_what_was_made_is_never_offered_for_return_and_what_was_bought_never_for_rework() -> None:
    _oven, hold = held_by_log()
    bought = hold_of(f.make_stock(f.make_part("PUCK", "bought"), f.make_bench("b2"), 5), 1)
    client = founder_client()
    made_page, bought_page = (client.get(f"/holds/{one.pk}").content.decode() for one in (hold, bought))
    assert 'value="return"' not in made_page and 'value="rework"' in made_page
    assert 'value="return"' in bought_page and 'value="rework"' not in bought_page


def test_a_lot_to_be_returned_is_offered_to_be_sent_as_a_return() -> None:
    bench, supplier = f.make_bench(), f.make_site("supplier", "supplier")
    lot = f.make_stock(f.make_part("PUCK", "bought"), bench, 5)
    client = founder_client()
    decide(client, hold_of(lot, 1), "return")
    page = text_of(client.get(f"/consignments/new?origin={bench.code}&to={supplier.code}&purpose=return"))
    assert "Puck" in page


def test_the_list_is_the_founders_alone() -> None:
    assert_for_the_founder_alone("/holds", f.make_site("moulder"))


def test_three_holds_and_thirty_cost_the_same() -> None:
    bench = f.make_bench()

    def hold(numbers: range) -> None:
        for n in numbers:
            hold_of(f.make_stock(f.make_part(f"PUCK {n}", "bought"), bench, 5), n)

    def more() -> None:
        hold(range(3, 30))

    hold(range(3))
    assert_costs_the_same(founder_client(), "/holds", more)
