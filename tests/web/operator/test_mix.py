"""A shop tells when it mixed the ink and how warm the room was; what was printed with it is judged by both."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from tests import cast
from tests import factory as f
from tests.batches.proof.test_materials import MIXED, code_of, printing, step_of
from tests.globe import ok
from tests.web.operator.floor import text_of
from traveller.batches.actions.report import report
from traveller.batches.models import Batch, Reading
from traveller.batches.steps.consume import Used

pytestmark = pytest.mark.django_db

AT = "r:ink:mixed_at:0:0"
ROOM = "r:ink:room:0:0"


@pytest.fixture
def printed() -> tuple[Batch, Client]:
    """Twenty bands printed eight hours after Monday's start, and the printer's phone."""
    batch, lot = printing(MIXED)
    at = f.MONDAY + timedelta(hours=8)
    ok(report(event_context=f.event_context("c", at=at), step_id=step_of(batch).pk, good=20, used=[Used(lot.pk)]))
    return batch, cast.pass_client(step_of(batch).site)


def tell(batch: Batch, phone: Client, name: str, **typed: str) -> Any:
    reported = {"news_id": str(f.uid(name)), **{{"at": AT, "room": ROOM}[key]: value for key, value in typed.items()}}
    return phone.post(f"/here/step/{step_of(batch).pk}/measure", reported)


def mixed_at_local(batch: Batch, hours: float = 0) -> str:
    return f"{(f.MONDAY + timedelta(hours=hours)).astimezone(step_of(batch).site.zone):%Y-%m-%dT%H:%M}"


def test_the_page_asks_when_it_was_mixed_and_how_warm_it_stood(printed: tuple[Batch, Client]) -> None:
    batch, phone = printed
    page = text_of(phone.get(f"/here/step/{step_of(batch).pk}/measure"))
    assert "When was it mixed?" in page


def test_the_time_of_mixing_is_read_on_the_shops_own_clock(printed: tuple[Batch, Client]) -> None:
    batch, phone = printed
    assert code_of(batch) == "age.no_mixing"
    tell(batch, phone, "m", at=mixed_at_local(batch), room="25")
    reported = {row.name: row for row in Reading.objects.all()}
    assert reported["mixed_at"].value == f.MONDAY.astimezone(step_of(batch).site.zone).isoformat()
    assert (reported["room"].value, reported["room"].unit) == ("25", "C")
    assert code_of(batch) == "age.passed"


def test_a_warmer_room_shortens_the_pot_life_below_what_had_passed(printed: tuple[Batch, Client]) -> None:
    batch, phone = printed
    # Ten degrees warmer halves the eight hours; they were all used up.
    tell(batch, phone, "m", at=mixed_at_local(batch), room="35")
    assert code_of(batch) == "age.past_pot_life"


def test_a_time_that_is_none_and_a_comma_for_a_point(printed: tuple[Batch, Client]) -> None:
    batch, phone = printed
    wrong = tell(batch, phone, "w", at="after lunch", room="25")
    assert wrong.status_code == 422
    assert "“after lunch” is not a date and time." in text_of(wrong) and not Reading.objects.exists()
    tell(batch, phone, "c", at=mixed_at_local(batch, 2), room="24,5")
    assert Reading.objects.get(name="room").value == "24.5" and code_of(batch) == "age.passed"
