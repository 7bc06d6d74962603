"""Counts that come too late: after the batch closed, after the goods were used, after they were taken back."""

from __future__ import annotations

import pytest

from tests import cast
from tests.web.operator.floor import Floor, events, field_of, moved, text_of
from tests.web.queueing import Phone
from traveller.batches.models import Batch
from traveller.journal.models import Event, Parked
from traveller.ledger.models import Account

pytestmark = pytest.mark.django_db


def closed(floor: Floor) -> None:
    """All of it was scrapped, so nothing of it lies anywhere."""
    floor.moulded(48)
    moved(floor.post(floor.path(20, "done")))
    moved(floor.count(30, 0, scrap__dirty=48))
    assert Batch.objects.get().closed_at is not None


def balances() -> dict[tuple[str, int], int]:
    rows = Account.objects.exclude(balance=0).values_list("condition", "step", "balance")
    return {(condition, step): balance for condition, step, balance in rows}


def test_a_count_after_the_batch_closed_is_asked_about_and_opens_it_again(floor: Floor) -> None:
    closed(floor)
    before = events()
    answer = floor.count(20, 5, {"note": "behind the press"}, shots=3)
    assert "Nothing of this batch was left anywhere, so it is closed." in text_of(answer)
    assert "Add this count" in text_of(answer) and field_of(answer, "note") == "behind the press"
    assert events() == before
    moved(floor.count(20, 5, {"sure:batch_was_closed": "yes"}, shots=3))
    assert Batch.objects.get().closed_at is None and floor.step(20).good == 53


def test_without_a_signal_it_is_for_review_whole_and_booked_when_the_founder_takes_it(floor: Floor) -> None:
    closed(floor)
    phone = Phone(floor.phone, floor.moulder)
    entry = phone.tap(floor.path(20, "count"), floor.clock.now, stage="rest", good=5, shots=3, note="behind the press")
    answer = phone.send(floor.clock.now)[0]
    assert (answer["state"], answer["code"]) == ("parked", "batch_was_closed") and "not booked yet" in answer["words"]
    parked = Parked.objects.get()
    assert parked.event.data["told"]["fields"] == entry["fields"], "nothing of it is lost"
    assert floor.step(20).good == 48
    form = {"news_id": "5d0f5b7e-6e1b-4c62-9d5c-0a6f0e1b7c11", "deed": "take"}
    assert cast.founder_client().post(f"/phone-entries/{parked.event_id}", form).status_code == 302
    assert floor.step(20).good == 53 and Batch.objects.get().closed_at is None


def test_a_correction_after_the_goods_were_used_posts_the_net_and_says_what_was_gone(floor: Floor) -> None:
    floor.moulded(88)
    moved(floor.count(30, 85))
    told = Event.objects.get(kind="counted", data__number=20)
    to = moved(floor.post(f"/here/told/{told.uid}/correct", good=80, reason="counted twice"))
    said = text_of(floor.phone.get(to))
    assert "80 good" in said and "instead of 88 good" in said
    assert "5 of them were used or sent on already: they stand as unexplained until it is settled." in said
    assert floor.at(floor.moulder, "in_process", 30) == 0 and floor.step(20).good == 80
    # Of the eight that never were, three still lay there; five were cooled and went on.
    assert balances()["unexplained", 30] == -5
    page = text_of(cast.founder_client().get(f"/batches/{floor.batch.code}"))
    assert "5 pieces were used or sent on before: they stand as unexplained." in page


def test_a_correction_upwards_posts_only_the_difference(floor: Floor) -> None:
    floor.moulded(80)
    told = Event.objects.get(kind="counted")
    to = moved(floor.post(f"/here/told/{told.uid}/correct", good=88, reason="a tote was left out"))
    assert "88 good" in text_of(floor.phone.get(to)) and "instead of 80 good" in text_of(floor.phone.get(to))
    assert floor.at(floor.moulder, "in_process", 30) == 88 and ("unexplained", 30) not in balances()


def test_the_page_of_a_count_that_was_taken_back_says_so_and_offers_no_change(floor: Floor) -> None:
    reported = moved(floor.count(20, 80, shots=40))
    moved(floor.post(f"{reported.split('?')[0]}/undo"))
    said = text_of(floor.phone.get(reported))
    assert "Taken back since: it did not occur." in said and "change it" not in said
