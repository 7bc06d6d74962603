"""Taken back at the page that said it was recorded: for ten minutes, by anybody of the site, until built upon."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests import cast
from tests.web.operator.floor import Floor, events, html_of, moved, text_of
from tests.web.queueing import Phone
from traveller.batches.models import Load
from traveller.journal.models import Event
from traveller.web.operator.pace import PACE

pytestmark = pytest.mark.django_db


def _undo_path(reported: str) -> str:
    return reported.split("?")[0] + "/undo"


def test_a_count_is_taken_back_where_it_was_confirmed(floor: Floor) -> None:
    floor.moulded(240)
    reported = moved(floor.count(30, 20))
    page = floor.phone.get(reported)
    assert "Take it back" in text_of(page)
    assert _undo_path(reported) in html_of(page)
    shown = floor.phone.get(moved(floor.post(_undo_path(reported))))
    assert "taken back: it did not occur" in text_of(shown)
    assert floor.step(30).good == 0
    assert floor.at(floor.moulder, "in_process", 30) == 240
    assert "Take it back" not in text_of(floor.phone.get(reported))


def test_another_person_of_the_site_may_and_another_site_may_not(floor: Floor) -> None:
    floor.moulded(240)
    reported = moved(floor.count(30, 20))
    rival = cast.pass_client(floor.bench, person="Bruno")
    assert floor.post(_undo_path(reported), client=rival).status_code == 404
    colleague = cast.pass_client(floor.moulder, person="Odile")
    moved(floor.post(_undo_path(reported), client=colleague))
    assert Event.objects.get(kind="undone").person == "Odile"


def test_after_ten_minutes_the_same_place_offers_the_correction(floor: Floor) -> None:
    floor.moulded(240)
    reported = moved(floor.count(30, 20))
    floor.clock.go(minutes=11)
    page = floor.phone.get(reported)
    assert "Take it back" not in text_of(page) and "change it" in text_of(page)
    late = floor.post(_undo_path(reported))
    assert late.status_code == 409
    assert "More than 10 minutes have passed" in text_of(late)
    assert "/correct" in html_of(late)
    assert floor.step(30).good == 20


def test_no_time_can_be_typed_to_be_in_time(floor: Floor) -> None:
    floor.moulded(240)
    reported = moved(floor.count(30, 20))
    typed = floor.clock.now.strftime("%Y-%m-%dT%H:%M")
    floor.clock.go(minutes=11)
    assert floor.post(_undo_path(reported), at=typed, late_reason="forgot").status_code == 409
    assert floor.step(30).good == 20


def test_what_was_built_upon_says_so_and_offers_the_correction(floor: Floor) -> None:
    floor.moulded(240)
    reported = moved(floor.count(30, 20))
    moved(floor.count(40, 5))
    answer = floor.post(_undo_path(reported))
    assert answer.status_code == 409
    assert "Somebody has gone on from it" in text_of(answer)


def test_a_load_put_in_by_mistake_is_taken_back_on_the_step_page(floor: Floor) -> None:
    floor.moulded(240)
    there = moved(floor.post(floor.path(30, "load"), quantity=24))
    page = floor.phone.get(there)
    assert "Take it back" in text_of(page)
    uid = there.split("told=")[1]
    moved(floor.post(f"/here/told/{uid}/undo"))
    assert Load.objects.latest("id").struck_by is not None


def test_the_same_taking_back_sent_twice_is_one(floor: Floor) -> None:
    floor.moulded(240)
    reported = moved(floor.count(30, 20))
    first = moved(floor.post(_undo_path(reported), news_id="11111111-1111-4111-8111-111111111111"))
    again = moved(floor.post(_undo_path(reported), news_id="11111111-1111-4111-8111-111111111111"))
    assert first == again
    assert events("undone") == 1


def test_a_count_and_its_taking_back_wait_on_one_phone_and_are_told_in_order(floor: Floor) -> None:
    floor.moulded(240)
    phone = Phone(floor.phone, floor.moulder)
    PACE.forget()
    entry = phone.tap(floor.path(30, "count"), floor.clock.now, stage="rest", good=20)
    phone.tap(f"/here/told/{entry['id']}/undo", floor.clock.now + timedelta(minutes=4))
    floor.clock.go(hours=5)
    answers = phone.send(floor.clock.now)
    assert [one["state"] for one in answers] == ["stored", "stored"]
    assert (events("undone"), floor.step(30).good) == (1, 0)


def test_taking_back_is_in_time_by_the_tap_however_late_it_is_sent(floor: Floor) -> None:
    floor.moulded(240)
    reported = moved(floor.count(30, 20))
    phone = Phone(floor.phone, floor.moulder)
    PACE.forget()
    phone.tap(_undo_path(reported), floor.clock.now + timedelta(minutes=9))
    floor.clock.go(hours=5)
    assert [one["state"] for one in phone.send(floor.clock.now)] == ["stored"]
    late = moved(floor.count(30, 30))
    phone.tap(_undo_path(late), floor.clock.now + timedelta(minutes=12))
    floor.clock.go(hours=5)
    answer = phone.send(floor.clock.now)[0]
    assert (answer["state"], answer["code"]) == ("refused", "too_late_to_undo")
    assert floor.step(30).good == 30
