"""The server's clock was set while it ran: a line on the first page, and a page that says what to do."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from sites.actor import Actor
from tests import cast
from traveller.journal.clock import jumped
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event

pytestmark = pytest.mark.django_db


def jump(seconds: int, ago: timedelta = timedelta(hours=1)) -> Event:
    at = timezone.now() - ago
    event_context = EventContext(uid=uuid4(), at=at, recorded_at=at, actor=Actor("system", "server process 7"))
    event = jumped(event_context=event_context, seconds=seconds, machine="box-in-the-office")
    assert isinstance(event, Event)
    return event


def page(address: str) -> str:
    answer = cast.founder_client().get(address)
    assert answer.status_code == 200
    return answer.content.decode()


def test_the_first_page_says_when_and_by_how_much_and_leads_on() -> None:
    jump(-7200)
    text = page("/")
    assert "The server&#x27;s clock was set back by 2 hours, " in text
    assert 'href="/founder/clock"' in text


def test_several_jumps_are_one_line() -> None:
    jump(-7200, timedelta(hours=3))
    jump(600)
    text = page("/")
    assert "set ahead by 10 minutes" in text and "One more time before that." in text
    assert text.count('href="/founder/clock"') == 1


def test_a_clock_that_nobody_set_is_not_mentioned() -> None:
    assert "/founder/clock" not in page("/")
    assert "Nothing is known against" in page("/founder/clock")


def test_the_page_says_what_to_do_and_warns_of_the_next_start_only_of_a_clock_behind() -> None:
    jump(600)
    text = page("/founder/clock")
    assert "box-in-the-office" in text and "ahead by 10 minutes" in text and "set by the network" in text
    assert "--clock-was-wrong" not in text
    jump(-600, ago=timedelta(minutes=-5))
    assert "--clock-was-wrong" in page("/founder/clock")


def test_seen_takes_it_off_the_first_page_and_a_later_one_comes_back() -> None:
    shown = jump(600)
    client = cast.founder_client()
    meanwhile = jump(1200)
    form = {"news_id": str(uuid4()), "up_to": str(shown.pk)}
    answer = client.post("/founder/clock", form, follow=True)
    text = answer.content.decode()
    assert "Seen. The journal keeps it." in text and "set ahead by 20 minutes" in text
    assert client.post("/founder/clock", {**form, "news_id": str(uuid4()), "up_to": meanwhile.pk}).status_code == 302
    assert "/founder/clock" not in page("/")
    assert Event.objects.filter(kind="clock jumps seen").count() == 2


def test_a_form_without_its_figures_is_refused_in_words() -> None:
    jump(600)
    answer = cast.founder_client().post("/founder/clock", {"news_id": str(uuid4())})
    assert answer.status_code == 422
    assert 'role="alert"' in answer.content.decode()
    assert not Event.objects.filter(kind="clock jumps seen").exists()
