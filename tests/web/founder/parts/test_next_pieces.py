"""Where the next pieces are: what lies elsewhere, and what a batch that is still being made has not brought yet."""

from __future__ import annotations

import pytest

from tests import factory
from tests.globe import make_globe
from traveller.ledger.models import Condition
from traveller.ledger.post import Move, Place, post
from traveller.web.founder.parts.next_pieces import next_pieces

pytestmark = pytest.mark.django_db
ON = factory.MONDAY.date()


def test_what_a_batch_has_brought_and_was_used_is_not_said_to_be_still_made() -> None:
    globe = make_globe(start=60)
    globe.report(20, 40)
    lot = globe.lot()
    waits = Place(lot.pk, globe.moulder.pk, Condition.IN_PROCESS, 30)
    used = Place(lot.pk, globe.bench.pk, Condition.MADE_INTO, 0)
    post(factory.make_event(), [Move(waits, used, 25)])
    rows = next_pieces([globe.part.pk], globe.bench.pk, ON)[globe.part.pk]
    assert [(row.quantity, row.ahead) for row in rows] == [(15, 3), (20, 5)]
    assert "still to be made in step 20, mould" in rows[1].where


def test_of_a_batch_whose_making_is_reported_done_nothing_is_still_to_be_made() -> None:
    globe = make_globe(start=60)
    globe.report(20, 40, done=True)
    rows = next_pieces([globe.part.pk], globe.bench.pk, ON)[globe.part.pk]
    assert [row.quantity for row in rows] == [40]
