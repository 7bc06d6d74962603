"""A shop's own lot number stands on label and record, and finds the lot."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from tests import factory
from tests.batches.reads.test_record_paper import HEADING, flat
from tests.globe import everything_agrees, make_globe, ok, refused
from tests.paper.reading import texts
from traveller.batches.actions.tell_number import tell_number
from traveller.batches.actions.undo import undo
from traveller.batches.reads.labels import Totes, tote_labels
from traveller.batches.reads.own_numbers import by_number, numbers_of
from traveller.ledger.models import Account

pytestmark = pytest.mark.django_db


def test_each_shops_own_number_finds_the_lot() -> None:
    globe = make_globe()
    moulder, bench = globe.moulder.pk, globe.bench.pk
    ok(
        tell_number(
            event_context=globe.event_context(), batch_id=globe.batch.pk, site_id=moulder, number=" WK  2211/7 "
        )
    )
    ok(tell_number(event_context=globe.event_context(), batch_id=globe.batch.pk, site_id=bench, number="B-9"))
    assert numbers_of(globe.lot().pk) == ["WK 2211/7", "B-9"]
    assert by_number("wk 2211/7") == by_number("B-9", bench) == globe.batch
    assert by_number("B-9", moulder) is None
    assert everything_agrees()


def test_it_stands_on_the_label_and_in_the_record() -> None:
    globe = make_globe(start=48)
    globe.report(20, 48)
    ok(
        tell_number(
            event_context=globe.event_context(), batch_id=globe.batch.pk, site_id=globe.moulder.pk, number="WK2211"
        )
    )
    globe.batch.refresh_from_db()
    (account,) = Account.objects.filter(lot=globe.batch.lot, condition="in_process", balance__gt=0)
    pdf = tote_labels(globe.batch, [Totes(account, (48,))], heading=HEADING, on=date(2026, 3, 2))
    assert isinstance(pdf, bytes) and "WK2211" in " ".join(texts(pdf))
    assert "WK2211 (Moulder)" in flat(globe.batch)


def test_the_same_number_again_is_no_news_and_none_at_all_is_refused() -> None:
    globe = make_globe()
    reported = {"batch_id": globe.batch.pk, "site_id": globe.moulder.pk}
    first = ok(tell_number(event_context=globe.event_context(), **reported, number="7"))
    assert ok(tell_number(event_context=globe.event_context(), **reported, number="7")).event == first.event
    assert refused(tell_number(event_context=globe.event_context(), **reported, number=" ")).code == "number_needed"


def test_the_record_says_what_was_taken_back() -> None:
    globe = make_globe(start=48)
    wrong = globe.report(20, 48)
    event_context = replace(
        globe.event_context(wrong.event.recorded_at + timedelta(minutes=1)), actor=factory.operator(globe.moulder)
    )
    ok(undo(event_context=event_context, event_id=wrong.event.pk))
    assert "taken back: it did not occur" in flat(globe.batch)
