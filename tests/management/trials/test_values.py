"""The trial `values` draws what it promises, reads pages as they are and misses no fault; a thousand requests of it."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.http import HttpRequest, HttpResponse
from django.test import override_settings
from django.urls import path
from django.views.decorators.csrf import csrf_exempt

from tests.web.route_world import make_world
from traveller.management.trials import values
from traveller.management.trials.values.draw import Draw, Sent
from traveller.management.trials.values.filled import filled, request_of, spoiled
from traveller.management.trials.values.ground import SETTINGS, readers_of
from traveller.management.trials.values.pages import read_page
from traveller.management.trials.values.places import Places
from traveller.management.trials.values.storm import Storm
from traveller.management.trials.values.wire import Jar, Overheard, Request, ask_server
from traveller.web.operator import scan
from traveller.web.operator.pace import PACE

SEED = 20261129
PAGE = """
<a href="/batches/7K3QX2B?page=2">one</a> <a href="https://elsewhere.example/x">other</a> <img src="/picture/ab">
<form method="post" action="/here/step/3/count" enctype="multipart/form-data">
<input type="hidden" name="csrfmiddlewaretoken" value="t"><input type="hidden" name="news_id" value="n">
<input name="good" inputmode="numeric" value=""><textarea name="note">as &lt;typed&gt;</textarea>
<input type="radio" name="rest" value="stays"><input type="radio" name="rest" value="lost">
<select name="reason"><option value="">-</option><option value="flash" selected>flash</option></select>
<input type="checkbox" name="sure" value="yes"><input type="file" name="log" accept=".csv">
<button name="mark" value="7">7</button><button name="mark" value="8">8</button><button>Count</button>
</form>
<form action="/find"><input name="code"></form>
"""


@pytest.fixture
def storm(db: None) -> Iterator[Storm]:
    """Readers in a world with one of everything."""
    world = make_world()
    people = world.people
    with override_settings(**SETTINGS):
        PACE.forget()
        yield Storm(SEED, readers_of(people.moulder, people.printer, people.bench))
        PACE.forget()


def test_a_page_is_read_with_its_forms_and_its_own_addresses() -> None:
    page = read_page(PAGE, "/here/step/3")
    assert page.addresses == ["/batches/7K3QX2B?page=2", "/picture/ab", "/here/step/3/count", "/find"]
    count, find = page.forms
    assert (count.method, count.action, count.multipart) == ("POST", "/here/step/3/count", True)
    reported = {each.name: (each.kind, each.value, each.options) for each in count.fields}
    assert reported["note"] == ("textarea", "as <typed>", [])
    assert reported["rest"][2] == ["stays", "lost"] and reported["mark"][2] == ["7", "8"]
    assert reported["reason"] == ("select", "flash", ["", "flash"])
    assert (find.method, find.fields[0].name) == ("GET", "code")


def test_a_form_is_filled_in_as_its_page_would_have_it() -> None:
    form = read_page(PAGE, "/here/step/3").forms[0]
    for seed in range(40):
        pairs = filled(form, Draw(seed), ["7K3QX2B"])
        reported = dict(pairs)
        assert [name for name, _ in pairs].count("mark") == 1 and reported["mark"] in ("7", "8")
        assert isinstance(reported["good"], str) and reported["good"].isdigit()
        assert (
            reported["rest"] in ("stays", "lost")
            and reported["reason"] in ("", "flash")
            and isinstance(reported["log"], Sent)
        )


def test_what_is_drawn_is_drawn_again_from_the_same_seed() -> None:
    form = read_page(PAGE, "/here/step/3").forms[0]

    def made(seed: int) -> list[Request]:
        draw = Draw(seed)
        return [
            request_of(form, spoiled(form, filled(form, draw, []), draw, {"at": "moment"}), draw, draw.headers())
            for _ in range(30)
        ]

    assert made(1) == made(1)
    assert made(1) != made(2)


def test_among_the_drawn_are_the_kinds_that_are_promised() -> None:
    draw = Draw(SEED)
    drawn = [draw.value("12") for _ in range(4000)]
    longest = max(drawn, key=len)
    assert len(longest) == 10**6
    for sign in ("\0", "\u202e", "NaN", "9223372036854775808", "0001-01-01T00:00+23:59", "1" + "0" * 400):
        assert any(sign in each for each in drawn), sign
    assert any(0xD800 <= ord(letter) < 0xE000 for each in drawn[:500] for letter in each[:50])
    bodies = [draw.json() for _ in range(100)]
    assert any(body.startswith(b"[" * 10_000) for body in bodies)


def test_an_address_is_made_of_what_pages_named() -> None:
    places = Places()
    assert places.note("/batches/7K3QX2B?page=2") == "batches/<str:code>"
    assert places.note("/no/such/page") is None
    assert places.address("lots/<str:code>", Draw(1), odd=0) == "/lots/7K3QX2B"
    assert places.address(r"^workbook/export\.(?P<kind>zip|xlsx)$", Draw(1), odd=0) in (
        "/workbook/export.zip",
        "/workbook/export.xlsx",
    )


def test_a_fault_of_a_page_is_heard_and_told_with_the_request_that_led_to_it(
    storm: Storm, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> HttpResponse:
        raise ZeroDivisionError("of the test")

    monkeypatch.setattr(scan, "page", broken)
    with storm.heard.listening():
        storm.freshen()
        shop = next(reader for reader in storm.readers if reader.name == "shop")
        answer = storm.asked(shop, Request("GET", "/here/scan", "code=%00"))
    assert answer.status == 500 and "ZeroDivisionError" in answer.faults[0].where
    [met] = storm.met.values()
    assert "test_values.py" in met.fault.where and met.times == 1
    assert "ZeroDivisionError: of the test" in met.reported() and "'GET' '/here/scan' ?'code=%00'" in met.reported()
    lines: list[str] = []
    monkeypatch.setattr(storm, "blow", lambda *_: None)
    assert values.tried(storm, storm.drawn, lines.append) == 1
    assert lines[-1] == "5xx and exceptions put aside: 1   (goal: 0)"


def test_a_fault_that_the_queue_put_aside_counts_too(storm: Storm, monkeypatch: pytest.MonkeyPatch) -> None:
    from traveller.web.operator import queue

    def broken(*_: Any, **__: Any) -> None:
        raise ZeroDivisionError("of the test")

    monkeypatch.setattr(queue, "cause_missing", broken)
    with storm.heard.listening():
        storm.freshen()
        shop = next(reader for reader in storm.readers if reader.name == "shop")
        for _ in range(60):
            storm.some_queue(shop)
    assert [met.fault.text for met in storm.met.values()] == ["ZeroDivisionError: of the test"]


def test_what_the_server_would_have_to_catch_is_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    from traveller import wsgi

    def broken(environ: object, start: object) -> None:
        raise ZeroDivisionError("before any handler")

    monkeypatch.setattr(wsgi, "application", broken)
    answer = ask_server(Request("GET", "/"), Jar(), Overheard())
    assert answer.status == 500 and answer.faults[0].text == "ZeroDivisionError: before any handler"


def test_a_request_arrives_as_it_was_drawn(db: None) -> None:
    seen: list[tuple[Any, ...]] = []

    def looking(request: HttpRequest) -> HttpResponse:
        seen.append((request.method, request.headers["X-Kept"], request.body, request.COOKIES["x"], request.GET["q"]))
        answer = HttpResponse("seen", status=418)
        answer.set_cookie("kept", "é", httponly=True)
        return answer

    jar = Jar(kept={"x": "y"})
    request = Request("PROPFIND", "/look%20ing", "q=%ff", {"X-Kept": "ﬃ"}, b"\xff", "text/plain")
    with override_settings(ROOT_URLCONF=(path("look ing", csrf_exempt(looking)),)):
        answer = ask_server(request, jar, Overheard())
    assert (answer.status, answer.body, answer.faults) == (418, b"seen", ())
    assert seen == [("PROPFIND", "ﬃ".encode().decode("latin-1"), b"\xff", "y", "\ufffd")]
    jar.take(answer)
    assert list(jar.kept) == ["x", "kept"]


@pytest.mark.long
@pytest.mark.no_cover
def test_a_thousand_requests_with_drawn_values_meet_no_fault(storm: Storm, tmp_path: Path) -> None:
    lines = [f"seed {SEED} (another, drawn now: --seed {random.SystemRandom().randrange(values.SEEDS)})"]
    code = values.tried(storm, values.REQUESTS_SHORT, lines.append)
    assert code == 0, "\n".join(lines)
    assert storm.drawn >= values.REQUESTS_SHORT
    assert storm.tried == set(storm.routes)
    # Deep enough: much of it was taken, much was refused in words.
    assert storm.statuses[302] > 60 and storm.statuses[422] > 60, dict(storm.statuses)
