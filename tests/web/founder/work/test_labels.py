"""Tote labels on the founder's page: for what lies there and no more, each with what it is and what comes next."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.utils.html import strip_tags

from tests import cast
from tests.globe import COOLING, Globe, make_globe
from tests.paper.reading import texts
from traveller.batches.splitting.places import SEPARABLE
from traveller.ledger.models import Account

pytestmark = pytest.mark.django_db


@pytest.fixture
def client() -> Client:
    return cast.founder_client()


@pytest.fixture
def globe() -> Globe:
    """48 moulded: 24 of them cooled long enough and counted, 24 still to be cooled."""
    found = make_globe(checks={30: (COOLING,)}, start=48)
    found.report(20, 48)
    found.cooled((24, 15))
    return found


def _text(answer: Any, status: int = 200) -> str:
    assert answer.status_code == status, answer.content.decode()[:2000]
    return " ".join(strip_tags(answer.content.decode()).split())


def _fields(globe: Globe) -> dict[str, Account]:
    rows = Account.objects.filter(lot=globe.lot(), condition__in=SEPARABLE, balance__gt=0)
    return {f"tote-{row.pk}": row for row in rows.order_by("step", "condition")}


def test_each_tote_says_what_its_own_pieces_are_and_what_comes_next(client: Client, globe: Globe) -> None:
    globe.batch.refresh_from_db()
    fields = _fields(globe)
    assert [(row.condition, row.step, row.balance) for row in fields.values()] == [
        ("in_process", 30, 24),
        ("stock", 30, 24),
    ]
    address = f"/batches/{globe.batch.code}/labels"
    pages = " ".join(texts(client.get(address, dict.fromkeys(fields, "24")).content))
    assert pages.count("In process") == 1 and pages.count("Free to send") == 1
    assert "Free to use" not in pages and "Free to pack" not in pages
    assert "cool" in pages and "test" in pages and "tote 2 of 2" in pages


def test_more_than_lies_there_gets_no_label(client: Client, globe: Globe) -> None:
    address = f"/batches/{globe.batch.code}/labels"
    name = next(iter(_fields(globe)))
    assert client.get(address, {name: "20 4"}).content.startswith(b"%PDF")
    assert "Labels for 25 were asked for, and 24 lie there" in _text(client.get(address, {name: "20 5"}), 409)
    assert "Write whole numbers with a blank between them" in _text(client.get(address, {name: "many"}), 422)
    assert "was named" in _text(client.get(address), 409)


def test_a_batch_of_which_nothing_was_made_yet_offers_no_label(client: Client) -> None:
    globe = make_globe()
    page = _text(client.get(f"/batches/{globe.batch.code}"))
    assert "nothing of it lies in a tote yet" in page and "Print tote labels" not in page


def test_the_page_says_of_each_place_what_its_pieces_are(client: Client, globe: Globe) -> None:
    page = _text(client.get(f"/batches/{globe.batch.code}"))
    assert "In process" in page and "Free to send" in page
