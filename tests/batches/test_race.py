"""Many writers at one lot. SQLite lets one in after another; PostgreSQL must be told whom to wait for."""

from __future__ import annotations

import pytest

from tests.bench.racing import WRITERS, race, sums
from tests.globe import TESTING, make_globe
from traveller.batches.history.verify import differences
from traveller.ledger.verify import differences as ledger_differences


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_sixteen_writers_on_one_lot_lose_no_count() -> None:
    reported = WRITERS * 5
    globe = make_globe(checks={40: (TESTING,)}, start=reported)
    globe.report(20, reported, done=True)
    globe.report(30, reported, done=True)
    globe.moved(reported)
    race(globe, 40, 5)
    assert sums(globe, 40) == (reported, reported, reported)
    assert list(differences()) == [] and list(ledger_differences()) == []
