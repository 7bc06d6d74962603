"""A site closes with goods inside: its page says what is left, and everything left has its way out."""

from __future__ import annotations

import pytest
from django.test import Client

from sites.models import Site, SitePass
from tests import cast, factory
from tests.globe import Globe, everything_agrees, make_globe
from tests.web.founder import signed_in as desk
from traveller.ledger.models import Account, Condition

pytestmark = pytest.mark.django_db


@pytest.fixture
def globe(db: None) -> Globe:
    made = make_globe()
    made.report(20, 60, done=True)
    return made


@pytest.fixture
def client(globe: Globe) -> Client:
    return cast.founder_client()


def _close(client: Client, site: Site, **typed: object) -> int:
    reported = {"news_id": desk.news_id(), "on": "2026-03-31", "reason": "the owner retires", **typed}
    return client.post(f"/sites/{site.code}/close", reported).status_code


def test_closing_a_site_ends_its_passes_and_lists_what_is_inside(client: Client, globe: Globe) -> None:
    phone = cast.pass_client(globe.moulder)
    assert phone.get("/here/").status_code == 200
    factory.make_stock(factory.make_part("RESIN", "material"), globe.moulder, 5_000)
    assert _close(client, globe.moulder) == 302
    assert phone.get("/here/").status_code == 404
    page = desk.text_of(client.get(f"/sites/{globe.moulder.code}"))
    assert "Closed from 31 Mar 2026: the owner retires" in page
    assert "Still inside" in page and "Resin, lot" in page and "60 in process" in page
    assert "Steps that need another site" in page and "step 30, cool" in page
    assert "Make a pass" not in page
    assert SitePass.objects.filter(revoked_at=None).count() == 0
    assert everything_agrees()


def test_what_is_inside_is_fetched_for_another_site_step_by_step(client: Client, globe: Globe) -> None:
    _close(client, globe.moulder)
    other = factory.make_site("cooler")
    fields = {"reroute-open_step": globe.step(30).pk, "reroute-site": other.pk, "reroute-reason": "moulder closed"}
    answer = client.post(f"/batches/{globe.batch.code}/move/reroute", {"news_id": desk.news_id(), **fields})
    assert answer.status_code == 302
    page = desk.text_of(client.get(answer["Location"]))
    assert "to be done at Cooler instead of Moulder: moulder closed" in page
    assert globe.at(globe.moulder, Condition.STOCK, 20) == 60
    reported = {"origin": globe.moulder.code, "to": other.code, "purpose": "processing"}
    shown = client.get("/consignments/new", reported)
    assert globe.batch.code in shown.content.decode().replace("-", "")


def test_what_nobody_gets_back_is_written_off(client: Client, globe: Globe) -> None:
    _close(client, globe.moulder)
    account = Account.objects.get(lot=globe.lot(), condition=Condition.IN_PROCESS)
    reported = {"news_id": desk.news_id(), "place": account.pk, "quantity": 61, "reason": "sealed"}
    refused = client.post(f"/sites/{globe.moulder.code}/write-off", reported)
    assert refused.status_code == 409 and "sealed" in refused.content.decode()
    done = client.post(
        f"/sites/{globe.moulder.code}/write-off", {**reported, "news_id": desk.news_id(), "quantity": 60}
    )
    assert done.status_code == 302
    page = desk.text_of(client.get(f"/sites/{globe.moulder.code}"))
    assert "Nothing of yours is inside any more" in page
    assert "60 at Moulder written off: sealed" in desk.text_of(client.get(f"/batches/{globe.batch.code}"))
    assert everything_agrees()


def test_a_site_closed_by_mistake_opens_again(client: Client, globe: Globe) -> None:
    _close(client, globe.moulder)
    assert _close(client, globe.moulder, reason="only a rumour") == 302
    assert Site.objects.get(pk=globe.moulder.pk).closed_on is None
    assert "Close this site" in desk.text_of(client.get(f"/sites/{globe.moulder.code}"))


def test_a_closing_needs_its_day_and_its_reason_and_the_own_bench_stays(client: Client, globe: Globe) -> None:
    assert _close(client, globe.moulder, reason="") == 422
    assert _close(client, globe.moulder, on="yesterday") == 422
    assert _close(client, globe.bench) == 409
    assert "When it closes for good" not in desk.text_of(client.get(f"/sites/{globe.bench.code}"))


def test_no_pass_is_made_for_a_closed_site(client: Client, globe: Globe) -> None:
    _close(client, globe.moulder)
    reported = {"news_id": desk.news_id(), "kind": "operator", "label": "x"}
    assert client.post(f"/sites/{globe.moulder.code}/passes", reported).status_code == 404


def test_closing_is_the_founders_alone(globe: Globe) -> None:
    for tail in ("close", "write-off"):
        desk.assert_for_the_founder_alone(f"/sites/{globe.moulder.code}/{tail}", globe.moulder, "post")
