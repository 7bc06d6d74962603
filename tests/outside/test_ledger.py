"""Worked sums of a small stock ledger: receipt, issue, scrap, a reversal and its replacement.

Source: the worked example of the team's own reference set (case led-ex-01, "made here"; its properties restate
what published lessons on double-entry ledgers teach: every entry sums to zero, so does the whole ledger, and a
correction is a reversing entry plus a new one). Postings and balances are copied figure by figure.
"""

from __future__ import annotations

import pytest

from tests import factory
from traveller.journal.models import Event
from traveller.ledger import lots
from traveller.ledger.models import Account, Condition, Posting
from traveller.ledger.post import Move, Place, post
from traveller.ledger.verify import differences

pytestmark = pytest.mark.django_db

POSTINGS = [
    ("receipt R1", "supplier", -500),
    ("receipt R1", "moulder stock", 500),
    ("issue I1", "moulder stock", -300),
    ("issue I1", "printer stock", 300),
    ("scrap S1", "printer stock", -12),
    ("scrap S1", "scrap", 12),
    ("reverse S1", "scrap", -12),
    ("reverse S1", "printer stock", 12),
    ("scrap S2", "printer stock", -10),
    ("scrap S2", "scrap", 10),
]
BALANCES = {"supplier": -500, "moulder stock": 200, "printer stock": 290, "scrap": 10}
ENTRIES = 5


def test_the_worked_sums_come_out_as_published() -> None:
    moulder, printer = factory.make_site("moulder"), factory.make_site("printer")
    lot = lots.create(
        factory.make_event("born"), factory.make_part("BAND", "bought"), origin="purchase", uid=factory.uid("band")
    )
    places = {
        "supplier": Place(lot.pk, moulder.pk, Condition.BOUGHT_FROM),
        "moulder stock": Place(lot.pk, moulder.pk, Condition.STOCK),
        "printer stock": Place(lot.pk, printer.pk, Condition.STOCK),
        "scrap": Place(lot.pk, printer.pk, Condition.SCRAP),
    }
    for name in dict.fromkeys(entry for entry, _, _ in POSTINGS):
        (_, source, out), (_, target, into) = (row for row in POSTINGS if row[0] == name)
        assert out == -into
        post(factory.make_event(name), [Move(places[source], places[target], into)])
    stored = {
        name: Account.objects.get(lot=lot, site_id=place.site_id, condition=place.condition).balance
        for name, place in places.items()
    }
    assert stored == BALANCES
    assert sum(stored.values()) == 0
    assert Event.objects.filter(postings__isnull=False).distinct().count() == ENTRIES
    posted = [
        (row.event.uid, row.quantity)
        for row in Posting.objects.select_related("event").order_by("event_id", "quantity")
    ]
    assert posted == [
        (Event.objects.get(uid=factory.event_context(f"made {entry}").uid).uid, quantity)
        for entry, _, quantity in sorted(POSTINGS, key=lambda row: (_place(row[0]), row[2]))
    ]
    assert list(differences()) == []


def _place(entry: str) -> int:
    return [row[0] for row in POSTINGS].index(entry)
