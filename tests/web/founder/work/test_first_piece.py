"""The founder's pages of first pieces: what waits, what is known, approve or refuse with a reason."""

from __future__ import annotations

import pytest
from django.test import Client

from tests import factory
from tests.batches.proof.test_first_piece import Mould, make_mould
from tests.cast import founder_client
from tests.globe import ok
from tests.web.founder.signed_in import assert_costs_the_same, assert_for_the_founder_alone, news_id, text_of
from traveller.batches.models import Batch, FirstPiece
from traveller.products.models import Part

pytestmark = pytest.mark.django_db


def page(batch: Batch) -> str:
    return f"/first-offs/{batch.steps.get().pk}"


def decide(client: Client, batch: Batch, approved: str = "yes", reason: str = "both rims in tolerance") -> object:
    return client.post(page(batch), {"news_id": news_id(), "approved": approved, "reason": reason})


def waiting() -> tuple[Mould, Batch, Client]:
    mould = make_mould(every_cavity="yes")
    batch = mould.batch()
    mould.count(batch, 12)
    return mould, batch, founder_client()


def test_a_first_off_that_waits_is_on_the_first_page_in_the_list_and_on_its_batch() -> None:
    _mould, batch, client = waiting()
    for address in ("/", "/first-offs", f"/batches/{batch.code}"):
        answer = client.get(address)
        assert f'href="{page(batch)}"' in answer.content.decode(), address
    assert "The first-off waits for approval." in text_of(client.get("/first-offs"))


def test_the_page_shows_what_was_measured_what_it_is_run_with_and_how_many_more_may_be_made() -> None:
    mould, batch, client = waiting()
    mould.measure(batch, 1, 2)
    words = text_of(client.get(page(batch)))
    assert "at most 20 pieces before the first-off is approved" in words
    assert "8 more may be made before the decision" in words
    assert "rim 79.4 mm 1" in words and "Mould M-7" in words and "Cavities open 1, 2" in words
    assert "Material PC-1 A" in words and "Place moulder" in words


def test_it_is_not_approved_before_every_cavity_was_measured_and_what_was_typed_stays() -> None:
    mould, batch, client = waiting()
    mould.measure(batch, 1)
    answer = decide(client, batch)
    words = text_of(answer)
    assert answer.status_code == 409 and "Nothing was measured from cavity 2 yet." in words  # type: ignore[attr-defined]
    assert "both rims in tolerance" in answer.content.decode()  # type: ignore[attr-defined]
    assert not FirstPiece.objects.exists()


def test_an_approval_frees_the_batch_and_stands_with_name_and_reason() -> None:
    mould, batch, client = waiting()
    mould.measure(batch, 1, 2)
    assert decide(client, batch).status_code == 302  # type: ignore[attr-defined]
    assert mould.says(batch) == ("passed", "passed")
    words = text_of(client.get(page(batch)))
    assert "approved both rims in tolerance mara" in words and "may be made before the decision" not in words
    assert "Nothing waits." in text_of(client.get("/first-offs"))
    reported = text_of(client.get(f"/batches/{batch.code}"))
    assert "First-off approved: both rims in tolerance" in reported


def test_a_refusal_holds_the_lot_and_a_reason_is_needed() -> None:
    mould, batch, client = waiting()
    assert decide(client, batch, "no", "").status_code == 422  # type: ignore[attr-defined]
    assert decide(client, batch, "no", "flash at the rim").status_code == 302  # type: ignore[attr-defined]
    assert mould.says(batch) == ("failed", "refused")
    assert "The first-off was refused" in text_of(client.get("/holds"))


def test_what_changed_since_the_approval_is_marked() -> None:
    mould, batch, client = waiting()
    mould.measure(batch, 1, 2)
    ok(mould.decide(batch))
    mould.count(batch, 5, open_cavities=1)
    words = text_of(client.get(page(batch)))
    assert "Cavities open 1 1, 2 changed" in words and "Mould M-7 M-7 the same" in words
    assert "for something else: the open cavities changed since." in words


def test_a_refused_request_names_what_changed_in_words() -> None:
    from traveller.batches.usable import usable
    from traveller.web.words import say

    mould, batch, _client = waiting()
    mould.measure(batch, 1, 2)
    ok(mould.decide(batch))
    Part.objects.filter(pk=mould.part.pk).update(revision="B")
    later = mould.batch()
    mould.count(later, 5)
    later.refresh_from_db()
    stop = usable([later.lot_id or 0], "send", factory.MONDAY.date())[later.lot_id or 0]
    assert stop and "for something else: the design changed since." in say(stop.code, stop.figures)


def test_where_no_first_off_is_asked_the_page_says_so_and_asks_nothing() -> None:
    part = factory.make_part("PLAIN")
    shop = factory.make_site()
    factory.make_routing(part, [factory.Op(10, shop, "turn", "make")])
    batch = factory.make_batch(part)
    client = founder_client()
    answer = client.get(page(batch))
    assert "no first-off is asked here" in text_of(answer) and 'name="approved"' not in answer.content.decode()
    assert decide(client, batch).status_code == 409  # type: ignore[attr-defined]
    assert client.get("/first-offs/999999").status_code == 404
    assert_for_the_founder_alone("/first-offs", shop)


def test_the_list_costs_the_same_for_many() -> None:
    mould, batch, client = waiting()

    def more() -> None:
        for _ in range(10):
            mould.count(mould.batch(), 5)

    assert_costs_the_same(client, "/first-offs", more)
    assert_costs_the_same(client, page(batch), lambda: mould.count(mould.batch(), 5))
