"""A shift that waited on a phone is sent in any pieces, some of it twice, in any order: the balances are the same."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any
from unittest.mock import patch

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.globe import everything_agrees
from tests.laws.acts import fresh
from tests.web.operator.floor import Floor, make_floor
from tests.web.queueing import Phone
from traveller.batches.models import Load
from traveller.journal.models import Event, Parked
from traveller.ledger.models import Account
from traveller.web.operator.pace import PACE

pytestmark = pytest.mark.django_db

EVENING = datetime(2026, 11, 24, 18, 0, tzinfo=UTC)
_few = st.integers(0, 3)
# What one person does in a shift: dry, mould and count, load the fixture and count what came out of it, measure.
DEEDS = st.lists(
    st.one_of(
        st.tuples(st.just("dry")),
        st.tuples(st.just("mould"), st.integers(1, 40), _few),
        st.tuples(st.just("cool"), st.integers(1, 24), _few),
        st.tuples(st.just("fit"), st.integers(1, 20), _few),
        st.tuples(st.just("bore"), st.sampled_from(["50.8", "50.75", "50.9"])),
        st.tuples(st.just("test"), st.integers(1, 20), _few),
    ),
    min_size=2,
    max_size=7,
)


def _shift(floor: Floor, phone: Phone, deeds: list[tuple[Any, ...]], since: datetime) -> None:
    """The forms as they were tapped; a load and the count of its pieces are two of them."""
    for number, (deed, *reported) in enumerate(deeds):
        at = since + timedelta(minutes=20 * number)
        if deed == "dry":
            phone.tap(floor.path(10, "load"), at)
        elif deed == "bore":
            phone.tap(floor.path(40, "measure"), at, r__bore__bore__0__0=reported[0])
        elif deed == "cool":
            begun = phone.tap(floor.path(30, "load"), at, quantity=reported[0])
            counted = {
                "stage": "rest",
                "good": reported[0] - min(reported),
                "load": begun["id"],
                "scrap:short": min(reported),
            }
            phone.tap(floor.path(30, "count"), at + timedelta(minutes=16), counted)
        else:
            number_of = {"mould": 20, "fit": 40, "test": 50}[deed]
            typed = {"stage": "rest", "good": reported[0], "scrap:short": reported[1]}
            phone.tap(floor.path(number_of, "count"), at, typed)


def _outcome(deeds: list[tuple[Any, ...]], sendings: list[list[int]] | None) -> tuple[Any, ...]:
    """What lies where, the totals of the steps and when each event happened, after these sendings of the entries."""
    with fresh(), patch("django.utils.timezone.now", lambda: EVENING):
        PACE.forget()
        floor = make_floor()
        phone = Phone(floor.phone, floor.moulder)
        since = EVENING - timedelta(hours=8)
        _shift(floor, phone, deeds, since)
        entries = list(phone.kept)
        for sending in sendings or [list(range(len(entries)))]:
            answers = phone.send(EVENING, [entries[n % len(entries)] for n in sending])
            assert {one["state"] for one in answers} <= {"stored", "parked"}, answers
        phone.send(EVENING, entries)
        assert not Parked.objects.filter(settled_by=None).exists()
        assert everything_agrees()
        rows = Account.objects.exclude(balance=0).values_list(
            "lot__part__number", "site__code", "condition", "step", "balance"
        )
        steps = floor.batch.steps.order_by("number").values_list("number", "good", "scrap", "state")
        reported = Event.objects.filter(uid__in=[entry["id"] for entry in entries]).order_by("happened_at", "uid")
        assert reported.count() == len(entries)
        times = [(str(event.uid), event.kind, event.happened_at - since) for event in reported]
        loads = Load.objects.order_by("started_at", "uid").values_list("uid", "quantity")
        return sorted(rows), list(steps), times, list(loads)


@settings(max_examples=15, suppress_health_check=list(HealthCheck))
@given(deeds=DEEDS, data=st.data())
def test_how_a_shift_is_sent_changes_nothing(deeds: list[tuple[Any, ...]], data: st.DataObject) -> None:
    most = sum(2 if deed[0] == "cool" else 1 for deed in deeds)
    numbers = st.lists(st.integers(0, most - 1), min_size=1, max_size=most)
    sendings = data.draw(st.lists(numbers, max_size=5))
    assert _outcome(deeds, sendings) == _outcome(deeds, None)
