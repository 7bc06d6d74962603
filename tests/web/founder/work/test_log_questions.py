"""What a log's reader cannot know the founder answers on her own page, as the shop does on its phone."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from tests import cast
from tests.cast import founder_client
from tests.web.founder.signed_in import news_id, text_of
from tests.web.oven import IN_AT, Oven, log, make_oven
from traveller.batches.models import Attachment
from traveller.journal.models import Event

pytestmark = pytest.mark.django_db

HOT = [85.0] * 41


@pytest.fixture
def oven() -> Oven:
    return make_oven()


def page_of(oven: Oven, content: bytes, **when: Any) -> str:
    oven.send(content, oven.bake(**when))
    return f"/evidence/{Attachment.objects.latest('id').pk}"


def tap(path: str, client: Client | None = None, **reported: str) -> Any:
    return (client or founder_client()).post(path, {"news_id": news_id(), **reported}, follow=True)


def test_day_or_month_first_is_answered_by_the_founder_in_her_own_name(oven: Oven) -> None:
    start = IN_AT + timedelta(days=1)
    path = page_of(oven, log(HOT, style="day", start=start), start=start)
    client = founder_client()
    asked = client.get(path)
    assert "Is 04/03/2026 written with the day first or the month first?" in text_of(asked)
    assert '<button name="date_order" value="month">Month first</button>' in asked.content.decode()
    answered = tap(path, client, date_order="day")
    assert "Read as: day first, Celsius, 1 reading / 1 min, 4 Mar 2026, 14:02 to 14:42" in text_of(answered)
    assert oven.verdict() == ("passed", "soak.passed")
    event = Event.objects.get(kind="log understood")
    assert (event.person, event.site_id) == ("mara", oven.site.pk) and not event.on_behalf


def test_the_channel_and_then_the_unit_are_asked_one_after_the_other(oven: Oven) -> None:
    rows = log([185.0] * 41, head="time;left;right").replace(b";185.0", b";140.0;185.0")
    path = page_of(oven, rows)
    words = text_of(tap(path, channel="right"))
    assert "Are the temperatures (such as 185.0) in Celsius, in Fahrenheit or in kelvin?" in words
    words = text_of(tap(path, unit="F"))
    assert "Read as: year first, Fahrenheit, channel 2 of 2 (right)" in words
    assert oven.verdict() == ("passed", "soak.passed")


def test_the_start_is_typed_on_the_clocks_of_the_site_whatever_the_founders_bench_shows(oven: Oven) -> None:
    path = page_of(oven, log(HOT, head="minutes;oven (C)", style="minutes"))
    client = founder_client()
    assert "first reading, on the clocks of America/Chicago" in text_of(client.get(path))
    wrong = tap(path, client, start="noon")
    assert wrong.status_code == 422 and "“noon” is not a date and time" in text_of(wrong)
    assert 'value="noon"' in wrong.content.decode()
    assert "14:02 to 14:42 site time" in text_of(tap(path, client, start="2026-03-03T14:02"))
    assert oven.verdict() == ("passed", "soak.passed")


def test_an_answer_that_was_not_offered_changes_nothing(oven: Oven) -> None:
    path = page_of(oven, log([185.0] * 41, head="time;oven"))
    wrong = tap(path, unit="R")
    assert wrong.status_code == 422 and "Choose one of the answers." in text_of(wrong)
    assert not Event.objects.filter(kind="log understood").exists()


def test_an_answer_sent_twice_or_after_the_shops_is_one_answer(oven: Oven) -> None:
    path, client = page_of(oven, log([185.0] * 41, head="time;oven")), founder_client()
    reported = {"news_id": news_id(), "unit": "F"}
    for _ in range(2):
        answer = client.post(path, reported, follow=True)
        assert answer.status_code == 200 and "Fahrenheit" in text_of(answer)
    assert Event.objects.filter(kind="log understood").count() == 1


def test_a_log_that_another_has_replaced_is_shown_without_asking(oven: Oven) -> None:
    load = oven.bake()
    oven.send(log([185.0] * 41, head="time;oven"), load)
    old = Attachment.objects.get()
    oven.send(log(HOT), load)
    client = founder_client()
    page = client.get(f"/evidence/{old.pk}").content.decode()
    assert "Are the temperatures" in page and 'name="unit"' not in page
    answer = client.post(f"/evidence/{old.pk}", {"news_id": news_id(), "unit": "F"}, follow=True)
    assert answer.status_code == 409 and "Another log has taken the place of this one" in text_of(answer)


def test_neither_a_stranger_nor_a_shop_answers_on_the_founders_page(oven: Oven) -> None:
    path = page_of(oven, log([185.0] * 41, head="time;oven"))
    stranger = Client().post(path, {"news_id": news_id(), "unit": "F"})
    assert stranger.status_code == 302 and stranger["Location"].startswith("/sign-in")
    assert cast.pass_client(oven.site).post(path, {"news_id": news_id(), "unit": "F"}).status_code == 404
    assert not Event.objects.filter(kind="log understood").exists()


# ------------------------------------------------------------------ a unit mixed up by a factor
def test_a_log_whose_file_says_celsius_and_means_fahrenheit_is_asked_about_before_it_fails_anything(
    oven: Oven,
) -> None:
    asked = oven.send(log([185.0] * 41), oven.bake())
    words = "185 °C is outside what is done at this step; as Fahrenheit it would be 85 °C. Did you mean Fahrenheit?"
    assert words in text_of(asked)
    assert oven.verdict()[0] == "missing" and not oven.batch.lot.holds.exists()  # type: ignore[union-attr]
    path = f"/evidence/{Attachment.objects.get().pk}"
    assert words in text_of(founder_client().get(path))
    assert "Read as: year first, Fahrenheit" in text_of(tap(path, unit_sure="F"))
    assert oven.verdict() == ("passed", "soak.passed")
    history = text_of(founder_client().get(f"/batches/{oven.batch.code}"))
    assert "20, bake: how the log is to be read: unit F." in history


def test_who_says_that_it_was_celsius_after_all_has_it_judged_as_such(oven: Oven) -> None:
    path = page_of(oven, log([185.0] * 41))
    assert "Celsius" in text_of(tap(path, unit_sure="C"))
    row = oven.step.verdicts.get(check_key="bake", load__number=1, latest=True)
    assert (row.outcome, row.code) == ("failed", "soak.too_hot")


def test_an_answer_that_was_a_slip_is_doubted_once(oven: Oven) -> None:
    path = page_of(oven, log([185.0] * 41, head="time;oven"))
    assert "Did you mean Fahrenheit?" in text_of(tap(path, unit="C"))
    tap(path, unit_sure="F")
    assert oven.verdict() == ("passed", "soak.passed")


def test_an_oven_that_was_only_too_hot_is_not_asked_about(oven: Oven) -> None:
    oven.send(log([99.0] * 41), oven.bake())
    row = oven.step.verdicts.get(check_key="bake", load__number=1, latest=True)
    assert (row.outcome, row.code) == ("failed", "soak.too_hot")
