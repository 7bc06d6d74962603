"""Two phones, one truth: the same pieces recorded by another phone or person are asked about, and counted once."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from tests import cast, factory
from tests.web.operator.floor import Floor, events, field_of, html_of, moved, text_of
from tests.web.queueing import Phone
from traveller.batches.models import Count, Load
from traveller.journal.models import Event, Parked
from traveller.web.who import BEHALF_KEY

pytestmark = [pytest.mark.django_db, pytest.mark.both]


@pytest.fixture
def second(floor: Floor) -> Client:
    """Another phone of the same shop on which the same name was tapped."""
    floor.phone.get("/here/")
    client = cast.pass_client(floor.moulder)
    client.get("/here/")
    return client


def asked(answer: Any) -> bool:
    return answer.status_code == 200 and "More pieces, or the same?" in text_of(answer)


def value_of(answer: Any, words: str) -> str:
    """What the button with these words answers."""
    found = [button for button in html_of(answer).split("<button") if words in button]
    assert len(found) == 1, text_of(answer)
    return found[0].split('value="')[1].split('"')[0]


def test_another_phone_with_the_same_name_is_asked_with_one_button_a_meaning(floor: Floor, second: Client) -> None:
    moved(floor.count(20, 7, shots=4))
    floor.clock.go(hours=11)
    answer = floor.count(20, 7, client=second, shots=4)
    assert asked(answer) and "7 good already recorded at 12:00 by Ines." in text_of(answer)
    assert "It was recorded on another phone." in text_of(answer)
    assert value_of(answer, "7 more pieces") == "yes" and value_of(answer, "Change it") == "no"
    assert value_of(answer, "The same 7 pieces") == str(Event.objects.get(kind="counted").uid)
    assert floor.step(20).good == 7
    moved(floor.count(20, 7, {"sure:same_again": "yes"}, client=second, shots=4))
    assert floor.step(20).good == 14


def test_the_same_pieces_record_nothing_and_the_page_says_what_they_were_taken_as(floor: Floor, second: Client) -> None:
    moved(floor.count(20, 7, shots=4))
    first, before = Event.objects.get(kind="counted"), events()
    uid = factory.uid("the same")
    form = {"sure:same_again": str(first.uid), "note": "two totes"}
    asking = floor.count(20, 7, {"note": "two totes"}, client=second, shots=4, news_id=uid)
    assert field_of(asking, "note") == "two totes", "what was typed is kept till then"
    for _ in range(2):
        to = moved(floor.count(20, 7, form, client=second, shots=4, news_id=uid))
        assert to.startswith(f"/here/told/{first.uid}?same=1")
        page = second.get(to)
        assert "Nothing new was recorded: taken as the same." in text_of(page) and "7 good" in text_of(page)
        assert f'data-confirmed="{uid}"' in html_of(page), "the phone lets go of what was typed"
    assert events() == before and floor.step(20).good == 7


def test_what_it_is_the_same_as_was_taken_back_meanwhile_and_the_form_comes_back(floor: Floor, second: Client) -> None:
    moved(floor.count(20, 7, shots=4))
    first = Event.objects.get(kind="counted")
    moved(floor.post(f"/here/told/{first.uid}/undo"))
    answer = floor.count(20, 7, {"sure:same_again": str(first.uid)}, client=second, shots=4)
    assert answer.status_code == 409 and "was taken back meanwhile" in text_of(answer)
    assert field_of(answer, "good") == "7" and field_of(answer, "sure:same_again") is None
    moved(floor.count(20, 7, client=second, shots=4))


def test_never_after_the_first_was_taken_back_or_corrected_away(floor: Floor, second: Client) -> None:
    moved(floor.count(20, 80, shots=40))
    moved(floor.post(f"/here/told/{Event.objects.get(kind='counted').uid}/undo"))
    moved(floor.count(20, 80, shots=40))
    floor.clock.go(minutes=1)
    path = f"/here/told/{Event.objects.filter(kind='counted').latest('id').uid}/correct"
    moved(floor.post(path, good=70, reason="miscounted"))
    moved(floor.count(20, 80, client=second, shots=40))
    assert floor.step(20).good == 150


def test_a_corrected_count_counts_with_its_corrected_figure(floor: Floor, second: Client) -> None:
    moved(floor.count(20, 80, shots=40))
    path = f"/here/told/{Event.objects.get(kind='counted').uid}/correct"
    moved(floor.post(path, good=70, reason="miscounted"))
    assert asked(floor.count(20, 70, client=second, shots=35))


@pytest.mark.parametrize("what", [{"scrap:short": 8}, {"rework": 3}])
def test_equal_counts_of_scrap_or_rework_alone_are_asked_about_too(
    floor: Floor, second: Client, what: dict[str, int]
) -> None:
    floor.moulded(48)
    moved(floor.count(30, 0, what))
    answer = floor.count(30, 0, what, client=second)
    n = next(iter(what.values()))
    assert asked(answer) and f"{n} that are not good already recorded" in text_of(answer)
    assert value_of(answer, f"{n} more pieces") == "yes"
    moved(floor.count(30, 0, {**what, "scrap:short": 5}, client=second))


def test_shots_alone_that_were_told_twice_are_asked_about(floor: Floor, second: Client) -> None:
    moved(floor.count(20, 0, shots=12))
    answer = floor.count(20, 0, client=second, shots=12)
    assert "12 shots already recorded" in text_of(answer) and value_of(answer, "The same 12 shots")


def test_after_twelve_hours_another_figure_or_rework_nobody_is_asked(floor: Floor, second: Client) -> None:
    floor.moulded(48)
    moved(floor.count(30, 5, rework=2))
    moved(floor.count(30, 6, client=second))
    moved(floor.count(30, 2, client=second, again="1"))
    floor.clock.go(hours=12, minutes=1)
    moved(floor.count(30, 5, client=second))


def test_a_load_is_counted_once_and_two_loads_are_alike_by_nature(floor: Floor, second: Client) -> None:
    floor.moulded(72)
    one, two = floor.load(24, 16), floor.load(24, 16)
    moved(floor.count(30, 24, load=one.uid))
    moved(floor.count(30, 24, load=two.uid, client=second))
    assert asked(floor.count(30, 24, load=one.uid, client=second))


def test_a_load_that_another_phone_put_in_is_asked_about_while_it_is_in(floor: Floor, second: Client) -> None:
    floor.moulded(72)
    moved(floor.post(floor.path(30, "load"), quantity=24, place="B"))
    form = {"quantity": 24, "place": "b"}
    answer = floor.post(floor.path(30, "load"), form, client=second)
    assert "Load 1, 24 pieces, is in since 16:00, recorded by Ines. Another load, or the same?" in text_of(answer)
    first = Load.objects.get(step__number=30)
    assert value_of(answer, "The same load") == str(first.uid)
    to = moved(floor.post(floor.path(30, "load"), {**form, "sure:same_load": str(first.uid)}, client=second))
    assert to.startswith(f"/here/told/{first.uid}") and Load.objects.count() == 2, "the drying and this"
    assert "Nothing new was recorded" in text_of(second.get(to))
    moved(floor.post(floor.path(30, "load"), {**form, "place": "C"}, client=second))
    moved(floor.post(floor.path(30, "load"), {**form, "sure:same_load": "yes"}, client=second))


def test_one_phone_offline_and_the_same_name_is_for_review(floor: Floor, second: Client) -> None:
    """The book said 17 where 7 + 3 were true: nobody was asked, since the name was the same."""
    moved(floor.count(20, 3, shots=2))
    offline = Phone(second, floor.moulder)
    offline.tap(floor.path(20, "count"), floor.clock.now, stage="rest", good=7, shots=4)
    floor.clock.go(minutes=5)
    moved(floor.count(20, 7, shots=4))
    answer = offline.send(floor.clock.now)[0]
    assert (answer["state"], answer["code"]) == ("parked", "same_again")
    assert "not booked yet" in answer["words"] and floor.step(20).good == 10
    assert Parked.objects.get().event.phone not in ("", Event.objects.filter(kind="counted").latest("id").phone)


def test_the_same_answered_without_a_signal_is_taken_as_answered(floor: Floor, second: Client) -> None:
    moved(floor.count(20, 7, shots=4))
    first = Event.objects.get(kind="counted")
    offline = Phone(second, floor.moulder)
    typed = {"stage": "rest", "good": 7, "shots": 4, "sure:same_again": str(first.uid)}
    offline.tap(floor.path(20, "count"), floor.clock.now, typed)
    answer = offline.send(floor.clock.now)[0]
    assert answer["state"] == "stored" and answer["href"].startswith(f"/here/told/{first.uid}")
    assert Count.objects.count() == 1
    moved(floor.post(f"/here/told/{first.uid}/undo"))
    offline.tap(floor.path(20, "count"), floor.clock.now, typed)
    assert offline.send(floor.clock.now)[0]["code"] == "same_taken_back" and Parked.objects.count() == 1


def test_what_a_shop_said_on_the_telephone_is_another_voice(floor: Floor) -> None:
    moved(floor.count(20, 7, shots=4))
    founder = cast.founder_client()
    session = founder.session
    session[BEHALF_KEY] = floor.moulder.pk
    session.save()
    floor.clock.go(hours=3)
    assert asked(floor.count(20, 7, client=founder, shots=4))
    moved(floor.count(20, 7, shots=4))
    assert asked(floor.count(20, 7, shots=4)), "its own taps a phone keeps apart, but those of the last two hours"
