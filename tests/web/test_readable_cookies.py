"""A cookie that the production server cannot read: the pass beside it goes on working."""

from __future__ import annotations

import http.client
from http.cookies import SimpleCookie
from typing import Any
from urllib.parse import urlencode

import pytest
from django.test import Client

from tests import cast, factory
from tests.bench.server import CSRF, HOST, cookies_of, running
from tests.stories.test_cut_connections import database_url
from tests.web.operator.floor import make_floor, text_of
from traveller.web.person_cookie import PERSON_COOKIE
from traveller.web.readable_cookies import MADE_READABLE, marked

UNREADABLE: dict[str, Any] = {MADE_READABLE: True}


def ask(port: int, path: str, cookies: dict[str, str], form: dict[str, str] | None = None) -> Any:
    """Status and headers; cookies go as the bytes that a browser sends."""
    line = http.client.HTTPConnection(HOST, port, timeout=60)
    body = urlencode({**form, "csrfmiddlewaretoken": CSRF}).encode() if form is not None else b""
    line.putrequest("GET" if form is None else "POST", path)
    line.putheader("Cookie", "; ".join(f"{name}={value}" for name, value in cookies.items()).encode())
    line.putheader("Content-Type", "application/x-www-form-urlencoded")
    line.putheader("Content-Length", str(len(body)))
    line.endheaders(body)
    answer = line.getresponse()
    answer.read()
    line.close()
    return answer


@pytest.mark.django_db(transaction=True)
def test_on_the_real_server_a_phone_that_an_earlier_release_gave_such_a_name_finds_its_pass_again() -> None:
    floor = make_floor()
    bare = cookies_of(floor.moulder)
    del bare[PERSON_COOKIE]
    with running("--workers", "1", database_url=database_url()) as server:
        tapped = ask(server.port, "/person", bare, {"new_name": "张伟"})
        given = SimpleCookie(tapped.headers["Set-Cookie"])[PERSON_COOKIE].value
        assert tapped.status == 302 and given.isascii()
        assert ask(server.port, "/here/", {**bare, PERSON_COOKIE: given}).status == 200
        hidden = {**bare, PERSON_COOKIE: "张伟:1w:x"}
        first = ask(server.port, "/here/?page=1", hidden)
        assert first.status == 302 and first.headers["Location"] == "/here/?page=1&cookies=again"
        left = str(first.headers["Set-Cookie"])
        assert left.startswith(f"{PERSON_COOKIE}=") and "Max-Age=0" in left and "site_pass" not in left
        then = ask(server.port, first.headers["Location"], bare)
        assert then.status == 302 and then.headers["Location"].startswith("/person?next=")
        # Another program's: in words, and never as if the phone were a stranger's.
        foreign = {**bare, PERSON_COOKIE: given, "theme": "noël"}
        assert ask(server.port, "/here/?cookies=again", foreign).status == 503
        assert ask(server.port, "/here/queue", foreign, {}).status == 503


def reported(**how: Any) -> Any:
    return Client().get("/here/?cookies=again", **{**UNREADABLE, **how})


def test_the_page_says_what_to_do_and_brings_the_script_that_clears_what_it_can_see() -> None:
    answer = reported()
    assert answer.status_code == 503 and answer["Retry-After"] == "5" and answer["Cache-Control"] == "no-store"
    assert "a cookie for this address that cannot be read here" in text_of(answer)
    assert "delete the cookies of this address" in text_of(answer)
    assert "web/cookies" in answer.content.decode()


def test_it_is_said_in_the_language_of_the_phone_and_to_a_program_as_data() -> None:
    answer = reported(HTTP_ACCEPT_LANGUAGE="ar")
    assert 'lang="ar"' in answer.content.decode() and "cannot be read here" not in text_of(answer)
    data = Client().post("/here/queue", headers={"accept": "application/json"}, **UNREADABLE)
    assert data.status_code == 503 and data.json() == {"error": "cookies_unreadable"}


def test_a_form_is_not_led_on_and_not_taken_for_a_strangers() -> None:
    answer = Client().post("/here/problem/7K3M9QA", {"reason": "cracked"}, **UNREADABLE)
    assert answer.status_code == 503 and "what you typed is still there" in text_of(answer)


@pytest.mark.django_db
def test_whoever_brings_readable_cookies_or_none_meets_nothing_of_it() -> None:
    client = cast.pass_client(factory.make_site())
    assert client.get("/here/").status_code == 200
    assert Client().get("/here/").status_code == 404
    marks: list[bool] = []

    def application(environ: dict[str, Any], _start: Any) -> list[bytes]:
        marks.append(MADE_READABLE in environ)
        return []

    for environ in ({"HTTP_COOKIE": ""}, {"HTTP_COOKIE": "a=b"}, {}):
        marked(application)(dict(environ), None)
    assert marks == [True, False, False]
