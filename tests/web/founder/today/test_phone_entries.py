"""What phones told and could not be booked: the founder sees both versions, takes the one or leaves it."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest
from django.core.management import call_command
from django.test import Client

from tests import cast
from tests.web.operator.floor import Floor, make_floor, text_of
from tests.web.queueing import Phone
from traveller.batches.models import Count
from traveller.journal.heard import last_heard
from traveller.journal.models import Event, Parked
from traveller.web.founder.desk.entry_words import PAGES
from traveller.web.operator.urls import urlpatterns
from traveller.web.parts import inside

pytestmark = pytest.mark.django_db


@pytest.fixture
def floor(db: None, monkeypatch: pytest.MonkeyPatch) -> Floor:
    made = make_floor()
    monkeypatch.setattr("django.utils.timezone.now", made.clock)
    return made


def clash(floor: Floor, **more: Any) -> Event:
    """Ines counted ten at the press; Bela's phone, without a signal, says ten too."""
    floor.count(20, 10, shots=5)
    phone = Phone(floor.phone, floor.moulder, person="Bela", **more)
    floor.clock.go(minutes=20)
    phone.tap(floor.path(20, "count"), floor.clock.now, stage="rest", good=10, shots=5, scrap__other=1)
    floor.clock.go(minutes=20)
    assert phone.send(floor.clock.now)[0]["state"] == "parked"
    return Event.objects.get(kind="set aside")


def decide(client: Client, for_review: Event, deed: str, **more: str) -> Any:
    return client.post(f"/phone-entries/{for_review.pk}", {"news_id": str(uuid4()), "deed": deed, **more}, follow=True)


def verified() -> None:
    """Exits with 1 when a difference is found."""
    call_command("verify", verbosity=0)


def test_the_first_page_says_that_a_phone_entry_needs_her(floor: Floor) -> None:
    founder = cast.founder_client()
    assert "Phone entries" not in text_of(founder.get("/"))
    clash(floor)
    first = founder.get("/")
    assert "Phone entries" in text_of(first) and "/phone-entries" in first.content.decode()
    assert "Waits for its cause" not in text_of(first)
    assert "1 phone entry needs you." in text_of(founder.get("/phone-entries"))


def test_both_versions_stand_side_by_side_with_who_and_when(floor: Floor) -> None:
    clash(floor)
    said = text_of(cast.founder_client().get("/phone-entries"))
    for words in (
        "10 good already recorded at 12:00 by Ines. More pieces, or the same?",
        "Tue 24 Nov, 12:20",
        "Bela: 20, mould: counted",
        "good 10",
        "scrap, other 1",
        "10 good",
        "Ines, Moulder",
        "10 more pieces: book them",
        "The same 10 pieces: leave them",
    ):
        assert words in said, words


def test_taken_it_is_booked_as_the_phone_told_it_at_its_time_by_its_person(floor: Floor) -> None:
    for_review = clash(floor)
    said = text_of(decide(cast.founder_client(), for_review, "take"))
    assert "It is booked." in said and "No entry of a phone waits" in said
    assert floor.step(20).good == 20
    news = Event.objects.get(uid=for_review.data["told"]["news"])
    assert (news.kind, news.person, news.happened_at) == ("counted", "Bela", for_review.happened_at)
    assert news.site_pass_id == for_review.site_pass_id and news.recorded_at == floor.clock.now
    taken = Event.objects.get(kind="set aside taken")
    assert taken.person == cast.FOUNDER and Parked.objects.get().settled_by == taken
    verified()


def test_the_shop_was_heard_when_its_phone_told_it_and_not_when_she_takes_it(floor: Floor) -> None:
    for_review = clash(floor)
    heard = last_heard()[floor.moulder.pk]
    assert heard == for_review.recorded_at
    floor.clock.go(minutes=3000)
    decide(cast.founder_client(), for_review, "take")
    assert Event.objects.filter(kind="counted", recorded_at=floor.clock.now).exists()
    assert last_heard()[floor.moulder.pk] == heard


def test_left_it_is_not_booked_and_the_reason_stays_in_the_record(floor: Floor) -> None:
    for_review, founder = clash(floor), cast.founder_client()
    assert decide(founder, for_review, "leave", reason="").status_code == 422
    assert "It is left" in text_of(decide(founder, for_review, "leave", reason="the same ten pieces"))
    assert floor.step(20).good == 10 and Count.objects.count() == 1
    history = text_of(founder.get(f"/batches/{floor.batch.code}"))
    assert "Told by a phone and set aside" in history
    assert "What a phone had told was left out: the same ten pieces" in history
    verified()


def test_decided_once_it_is_decided(floor: Floor) -> None:
    for_review, founder = clash(floor), cast.founder_client()
    decide(founder, for_review, "leave", reason="the same")
    again = decide(founder, for_review, "take")
    assert again.status_code == 409 and "decided before" in text_of(again)
    assert floor.step(20).good == 10
    verified()


def test_the_phone_that_sends_it_again_after_it_was_taken_changes_nothing(floor: Floor) -> None:
    for_review = clash(floor)
    decide(cast.founder_client(), for_review, "take")
    phone = Phone(floor.phone, floor.moulder, person="Bela")
    entry = phone.tap(floor.path(20, "count"), for_review.happened_at, stage="rest", good=10, shots=5, scrap__other=1)
    assert entry["id"] == for_review.data["told"]["news"]
    assert phone.send(floor.clock.now)[0]["state"] == "stored" and floor.step(20).good == 20


def test_what_cannot_be_booked_even_by_her_says_why_and_still_waits(floor: Floor) -> None:
    """The load that it names was never told: nothing that she decides can make it known."""
    phone = Phone(floor.phone, floor.moulder)
    phone.tap(floor.path(20, "count"), floor.clock.now, stage="rest", good=10, load=uuid4())
    phone.tap(f"/here/told/{uuid4()}/correct", floor.clock.now, good=4)
    assert [one["code"] for one in phone.send(floor.clock.now)] == ["unknown_load", "unknown_news"]
    founder = cast.founder_client()
    shown = text_of(founder.get("/phone-entries"))
    assert "2 phone entries need you." in shown and "one that nobody has told" in shown
    for_review = Event.objects.filter(kind="set aside").order_by("id").last()
    assert for_review is not None
    assert decide(founder, for_review, "take").status_code == 409
    assert Parked.objects.filter(settled_by=None).count() == 2
    verified()


def test_a_clock_that_was_off_is_named_in_the_history_and_on_the_entry(floor: Floor) -> None:
    from datetime import timedelta

    for_review = clash(floor, ahead=timedelta(hours=3, minutes=2))
    words = "phone’s clock was 3 h 2 min ahead; corrected"
    founder = cast.founder_client()
    assert words in text_of(founder.get("/phone-entries"))
    decide(founder, for_review, "take")
    assert words in text_of(founder.get(f"/batches/{floor.batch.code}"))


@pytest.mark.parametrize(
    ("offset_ms", "words"),
    [
        (None, ""),
        (119_000, ""),
        (-120_000, ""),
        (150_000, "phone’s clock was 2 min ahead; corrected"),
        (-3_600_000, "phone’s clock was 1 h 0 min behind; corrected"),
        (5 * 86_400_000, "phone’s clock was 5 days ahead; corrected"),
    ],
)
def test_two_minutes_are_nothing_more_is_said_in_words(offset_ms: int | None, words: str) -> None:
    from traveller.web.founder.work.news import clock_words

    assert clock_words(offset_ms) == words


def test_nobody_but_the_founder_decides(floor: Floor) -> None:
    for_review = clash(floor)
    for client in (floor.phone, Client()):
        assert client.post(f"/phone-entries/{for_review.pk}", {"deed": "take"}).status_code in (302, 404)
    assert floor.step(20).good == 10
    assert cast.founder_client().post("/phone-entries/999999", {"deed": "take"}).status_code == 404


def test_every_form_that_a_phone_may_keep_has_words_for_her() -> None:
    names = {pattern.name for pattern in urlpatterns} - inside.NOT_NEWS
    assert names == set(PAGES), (
        "new forms: say in entry_words.py what they tell, or in inside.py that they tell nothing"
    )
