"""Tote labels on the founder's page: for what lies there and no more, each with what it is."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from tests import cast, factory
from tests.globe import COOLING, make_globe
from tests.paper.reading import texts
from tests.web.founder import scene
from tests.web.founder.reading import text_of
from traveller.batches.splitting.places import SEPARABLE
from traveller.ledger.models import Account

pytestmark = pytest.mark.django_db


@pytest.fixture
def played() -> scene.Scene:
    return scene.play(timezone.now() - timedelta(days=12))


def test_tote_labels_are_drawn_for_the_quantities_typed(client: Client, played: scene.Scene) -> None:
    address = f"/batches/{played.batches['globe'].code}/labels"
    lot = played.batches["globe"].lot_id
    account = Account.objects.filter(lot=lot, condition__in=SEPARABLE, balance__gt=0).order_by("-balance")[0]
    there, field = account.balance, f"tote-{account.pk}"
    answer = client.get(address, {field: f"{there - 100} 100"})
    assert answer.content.startswith(b"%PDF")
    assert "Write whole numbers with a blank between them" in _text(client.get(address, {field: "many"}), 422)
    more = client.get(address, {field: f"{there} 1"})
    assert f"Labels for {there + 1} were asked for, and {there} lie there" in _text(more, 409)
    assert "was named" in _text(client.get(address), 409)


