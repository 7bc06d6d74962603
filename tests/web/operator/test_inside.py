"""Pages of a shop called from inside: what is kept on a phone, and what it told while it had no signal."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import Any, cast
from uuid import uuid4

import pytest
from django.contrib.sessions.backends.db import SessionStore
from django.http import Http404, HttpRequest, HttpResponse
from django.test import RequestFactory

from sites.actor import Actor
from sites.models import Site, SitePass
from tests.web.operator.floor import Floor, field_of, text_of
from traveller.journal.models import Event
from traveller.web.door import Queued
from traveller.web.parts import inside
from traveller.web.who import Who

pytestmark = pytest.mark.django_db


def asking(site: Site, person: str = "") -> HttpRequest:
    """A request that a pass of this site makes, as the middleware leaves it."""
    request: Any = RequestFactory().get("/here/keep")
    site_pass = SitePass.objects.filter(site=site).first()
    actor = Actor("operator", person, site_id=site.pk, pass_id=site_pass.pk if site_pass else None)
    request.who = Who(shop=actor, site=site, site_pass=site_pass)
    request.user, request.session = None, SessionStore()
    return cast(HttpRequest, request)


def reported(floor: Floor, path: str, person: str = "Ines", **fields: object) -> HttpResponse:
    typed = [("news_id", str(uuid4())), *((name, str(value)) for name, value in fields.items())]
    queued = Queued(floor.clock.now - timedelta(hours=1), 90_000)
    return inside.tell(asking(floor.moulder), inside.Form(path, typed, person), queued)


def test_a_page_to_be_kept_has_no_number_of_its_own_for_the_news_it_tells(floor: Floor) -> None:
    answer = inside.get(asking(floor.moulder, "Ines"), floor.path(20, "count"))
    assert answer.status_code == 200 and field_of(answer, "news_id") == ""
    assert field_of(floor.phone.get(floor.path(20, "count")), "news_id") != ""


def test_the_token_of_a_kept_form_fits_the_cookie_of_the_answer_that_brings_it(floor: Floor) -> None:
    request = asking(floor.moulder, "Ines")
    inside.get(request, floor.path(20, "count"))
    assert request.META["CSRF_COOKIE"] and request.META["CSRF_COOKIE_NEEDS_UPDATE"]


def test_news_that_waited_is_told_by_whoever_tapped_it_at_the_time_of_the_tap(floor: Floor) -> None:
    answer = reported(floor, floor.path(10, "start"), "Bela")
    event = Event.objects.get(kind="step started")
    assert answer.status_code == 302
    assert (event.person, event.happened_at) == ("Bela", floor.clock.now - timedelta(hours=1))
    assert (event.recorded_at, event.device_offset_ms) == (floor.clock.now, 90_000)


def test_a_time_that_was_typed_wins_over_the_clock_of_the_phone(floor: Floor) -> None:
    reported(floor, floor.path(10, "start"), at="2026-11-24T09:30", late_reason="no signal in the cellar")
    event = Event.objects.get(kind="step started")
    assert event.happened_at.isoformat() == "2026-11-24T09:30:00+00:00" and event.device_offset_ms == 90_000


def test_a_clock_that_was_set_back_before_sending_does_not_tell_of_the_future(floor: Floor) -> None:
    form = inside.Form(floor.path(10, "start"), [("news_id", str(uuid4()))], "Ines")
    inside.tell(asking(floor.moulder), form, Queued(floor.clock.now + timedelta(days=400), 0))
    assert Event.objects.get(kind="step started").happened_at == floor.clock.now


def test_what_is_wrong_with_a_form_comes_back_as_words_and_fields(floor: Floor) -> None:
    answer = reported(floor, floor.path(20, "count"), good="12.5")
    said = json.loads(answer.content)
    assert answer.status_code == 422 and said["code"] == "wrong_fields" and "good" in said["wrong"]
    assert not Event.objects.filter(kind="counted").exists()


@pytest.mark.parametrize("path", ["/", "/stock", "/here/queue", "/here/keep", "/here/scan", "/pack/", "/here", "here/"])
def test_no_other_address_can_be_told_from_inside(floor: Floor, path: str) -> None:
    with pytest.raises(Http404):
        reported(floor, path)


def test_another_sites_step_does_not_exist_from_inside_either(floor: Floor) -> None:
    form = inside.Form(floor.path(60, "start"), [("news_id", str(uuid4()))], "Ines")
    with pytest.raises(Http404):
        inside.tell(asking(floor.moulder), form, Queued(floor.clock.now, 0))
    with pytest.raises(Http404):
        inside.get(asking(floor.moulder, "Ines"), floor.path(60, "count"))
    assert "frost" in text_of(inside.get(asking(floor.bench, "Tomas"), floor.path(60, "count")))
