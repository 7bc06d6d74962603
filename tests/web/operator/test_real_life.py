"""What happens in a shop besides the usual: told late, papers late, midnight, a clock change, no good piece."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client

from tests import cast, factory
from tests.web.operator.floor import Floor, moved, text_of
from traveller.batches.models import Batch, Load, Verdict
from traveller.journal.models import Event
from traveller.ledger.models import Account, Condition
from traveller.orders.models import BatchShare

pytestmark = pytest.mark.django_db


@pytest.fixture
def founder(floor: Floor) -> Client:
    return cast.founder_client()


def _cooled(floor: Floor) -> str:
    """What the check of the cooling says of the step's loads."""
    return Verdict.objects.filter(step__number=30, load__isnull=False, latest=True).latest("id").outcome


def test_a_count_told_late_needs_its_reason_and_its_history_says_both(floor: Floor, founder: Client) -> None:
    floor.moulded(240)
    yesterday = (floor.clock.now - timedelta(hours=20)).strftime("%Y-%m-%dT%H:%M")
    asked = floor.count(30, 24, at=yesterday)
    assert asked.status_code == 422 and "Say why the time is told late" in text_of(asked)
    moved(floor.count(30, 24, at=yesterday, late_reason="the phone was flat"))
    event = Event.objects.get(kind="counted", data__number=30)
    assert event.happened_at.isoformat()[:16] == yesterday
    page = text_of(founder.get(f"/batches/{floor.batch.code}"))
    assert "told 20 hours later" in page and "the phone was flat" in page


def test_a_step_told_before_the_one_before_it_is_taken_and_marked_until_that_is_told(
    floor: Floor, founder: Client
) -> None:
    floor.moulded(48)
    # The paper of the fitting lies somewhere; the water test is told already.
    moved(floor.count(50, 40, {"sure:more_than_there": "yes"}))
    assert floor.step(50).good == 40
    assert floor.at(floor.moulder, Condition.UNREPORTED, 50) == -40
    page = text_of(founder.get(f"/batches/{floor.batch.code}"))
    assert "40 were counted before anybody told that they came." in page
    debt = Account.objects.get(condition=Condition.UNREPORTED, balance__lt=0)
    assert debt.since == floor.clock.now, "its age counts from when it was told"
    # Work goes on; only shipping waits (tests/shipping holds that).
    moved(floor.count(30, 48))
    moved(floor.count(40, 48, {"sure:same_again": "yes"}))
    assert floor.at(floor.moulder, Condition.UNREPORTED, 50) == 0
    assert "before anybody told" not in text_of(founder.get(f"/batches/{floor.batch.code}"))


def test_a_load_over_midnight_is_as_long_as_it_was(floor: Floor) -> None:
    floor.clock.now = datetime(2026, 11, 24, 18, 0, tzinfo=UTC)
    floor.moulded(48)
    floor.clock.now = datetime(2026, 11, 24, 23, 50, tzinfo=UTC)
    load = floor.load(24, 15)
    assert load.ended_at is not None and load.ended_at.day == 25
    moved(floor.count(30, 24, load=load.uid))
    assert _cooled(floor) == "passed"


def test_a_night_of_drying_is_told_on_two_days(floor: Floor) -> None:
    floor.clock.now = datetime(2026, 11, 24, 22, 30, tzinfo=UTC)
    floor.moulded(48)
    load = Load.objects.get(step=floor.step(10))
    assert load.started_at.day != (load.ended_at or load.started_at).day
    assert Verdict.objects.filter(step=floor.step(10), load=None, latest=True).get().outcome == "passed"


# Europe/Berlin: 25 October 2026, 03:00 becomes 02:00; 29 March 2026, 02:00 becomes 03:00 (EU directive 2000/84/EC).
@pytest.mark.parametrize(
    ("start", "minutes", "outcome", "shown"),
    [
        (datetime(2026, 10, 25, 0, 55, tzinfo=UTC), 15, "passed", "02:10"),
        (datetime(2026, 10, 25, 0, 55, tzinfo=UTC), 10, "failed", "02:05"),
        (datetime(2026, 3, 29, 0, 55, tzinfo=UTC), 15, "passed", "03:10"),
        (datetime(2026, 3, 29, 0, 55, tzinfo=UTC), 10, "failed", "03:05"),
    ],
)
def test_a_load_over_a_clock_change_is_as_long_as_it_was(
    floor: Floor, start: datetime, minutes: int, outcome: str, shown: str
) -> None:
    floor.moulder.timezone = "Europe/Berlin"
    floor.moulder.save()
    floor.clock.now = start - timedelta(hours=6)
    floor.moulded(48)
    floor.clock.now = start
    load = floor.load(24, minutes)
    assert _cooled(floor) == outcome
    child = Batch.objects.filter(parent=floor.batch).first() or floor.batch
    assert load.ended_at is not None
    assert load.ended_at.astimezone(floor.moulder.zone).strftime("%H:%M") == shown
    assert child is not None


def test_a_batch_with_no_good_piece_closes_and_its_order_says_what_is_missing(floor: Floor, founder: Client) -> None:
    order = factory.make_order("2042")
    line = factory.make_line(order, floor.part, 100)
    BatchShare.objects.create(batch=floor.batch, line=line, quantity=100)
    line.released = 100
    line.save()
    floor.moulded(240)
    moved(floor.count(30, 0, scrap__dirty=240, done="yes"))
    moved(floor.post(floor.path(20, "done")))
    assert Batch.objects.get(pk=floor.batch.pk).closed_at is not None
    page = text_of(founder.get("/orders/2042"))
    said = "100 Globe, amber for order 2042."
    assert said in page and "yields 0 of the 100 it was released for." in page
    assert "before step 40" not in page, "nothing of it waits anywhere"
    assert said in text_of(founder.get("/founder/plan"))
    again = floor.post(f"/missing/{floor.part.pk}", {"missing": "100"}, client=founder)
    fresh = Batch.objects.latest("id")
    assert moved(again).startswith(f"/batches/{fresh.code}")
    assert (fresh.wanted, list(fresh.shares.values_list("line", "quantity"))) == (100, [(line.pk, 100)])
    assert said not in text_of(founder.get("/orders/2042"))
    assert floor.post(f"/missing/{floor.part.pk}", {"missing": "100"}, client=founder).status_code == 409
