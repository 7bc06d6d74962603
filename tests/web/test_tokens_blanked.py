"""No line of a log holds a pass, a sign-in link or a session key, whatever led to it; what else it says stays."""

from __future__ import annotations

import io
import logging
import logging.config
import sys
from collections.abc import Iterator
from typing import Any
from urllib.parse import quote

import pytest
from django.conf import settings
from django.test import Client, RequestFactory

from sites import passes
from sites.passes import TRIES_MAX
from tests import cast, factory
from traveller.web.door_views import new_token, sign_in_link
from traveller.web.tokens_blanked import SERVER_LOGGERS, TokensBlanked, blank

PASS = "7GQ2X04NHBV5RKTA"
SIGNED = "WzEsIjIwMjYtMTEtMjkiXQ:1vPabC:u3V9x-Qe7_LmZr0TtYw2kD5fHsJ8nB1cGiPoAqXv4E"


@pytest.fixture
def log() -> Iterator[io.StringIO]:
    """What the console shows, with the logging of the settings."""
    written = io.StringIO()
    root = logging.getLogger()
    before, level = root.handlers[:], root.level
    logging.config.dictConfig(settings.LOGGING)
    (console,) = [handler for handler in root.handlers if handler not in before]
    assert isinstance(console, logging.StreamHandler)
    console.setStream(written)
    yield written
    root.handlers[:] = before
    root.setLevel(level)


@pytest.mark.parametrize(
    ("line", "reported"),
    [
        (f"Not Found: /pass/{PASS}", "Not Found: /pass/…"),
        (f"Not Found: /pass/{PASS.lower()}/", "Not Found: /pass/…"),
        ("Not Found: /pass/7GQ2-X04N-HBV5-RKTA", "Not Found: /pass/…"),
        ("Not Found: /pass/7GQ2 X04N HBV5 RKTA", "Not Found: /pass/…"),
        (f"Gone: /sign-in/{SIGNED}", "Gone: /sign-in/…"),
        (f"next=%2Fpass%2F{PASS}", "next=%2Fpass%2F…"),
        (f'"POST /pass/{PASS} HTTP/1.1" 403 12', '"POST /pass/… HTTP/1.1" 403 12'),
        (f'"GET /pass/{PASS} HTTP/1.1" 200\n"GET / HTTP/1.1" 200', '"GET /pass/… HTTP/1.1" 200\n"GET / HTTP/1.1" 200'),
        (f"Referer: https://trace.example/pass/{PASS}", "Referer: https://trace.example/pass/…"),
        (f"Cookie: site_pass={PASS}; units=metric", "Cookie: site_pass=…; units=metric"),
        (f"{{'site_pass': '{PASS}', 'units': 'metric'}}", "{'site_pass': '…', 'units': 'metric'}"),
        ("sessionid=0w8dq2m9; csrftoken=Ab3", "sessionid=…; csrftoken=…"),
        (f"no pass {PASS!r} at Kolm", "no pass '…' at Kolm"),
        ("typed 7GQ2-X04N-HBV5-RKTA twice", "typed … twice"),
        (f"Signature of {SIGNED} does not match", "Signature of … does not match"),
    ],
)
def test_keys_are_blanked_in_every_spelling(line: str, reported: str) -> None:
    assert blank(line) == reported


@pytest.mark.parametrize(
    "line",
    [
        "Too Many Requests: /pass",
        "Forbidden (CSRF cookie not set.): /sign-in",
        "Not Found: /batches/7K3QX2B",
        "Method Not Allowed (GET): /pass-off",
        "event 0b2b1f0e-5f5e-4a3c-9d1e-2c9a7d4e1f00 of 2026-11-29 12:00:01.250000+00:00",
        "digest 9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08",
        "The record is away: ten words here that are none",
    ],
)
def test_everything_else_stays_as_it_is(line: str) -> None:
    assert blank(line) == line


@pytest.mark.django_db
def test_a_refused_form_a_wrong_pass_and_a_closed_door_leave_no_key_in_the_log(log: io.StringIO) -> None:
    site = factory.make_site("moulder")
    token = cast.make_pass(site)[1]
    link = sign_in_link(cast.make_founder())
    refusing = Client(enforce_csrf_checks=True)
    assert refusing.post(f"/pass/{token}", {"open": "1"}).status_code == 403
    assert refusing.post(link).status_code == 403
    wrong = new_token()
    for _ in range(TRIES_MAX):
        assert Client().get(f"/pass/{wrong}").status_code == 404
    assert Client().get(f"/pass/{token}").status_code == 429
    said = log.getvalue()
    assert said.count("Forbidden (CSRF cookie not set.): /pass/…") == 1
    assert "Not Found: /pass/…" in said and "Too Many Requests: /pass/…" in said and "/sign-in/…" in said
    assert_no_key(said, token, wrong, link)


@pytest.mark.django_db
def test_a_fault_at_the_door_is_told_with_its_traceback_and_without_the_key(
    log: io.StringIO, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(token: str, now: object) -> None:
        raise RuntimeError(f"cannot look for {token}")

    monkeypatch.setattr(passes, "find_pass", broken)
    token = new_token()
    assert Client(raise_request_exception=False).get(f"/pass/{token}").status_code == 500
    said = log.getvalue()
    assert "Internal Server Error: /pass/…" in said
    assert "RuntimeError: cannot look for …" in said and "door_views.py" in said
    assert_no_key(said, token)


def assert_no_key(said: str, *keys: str) -> None:
    for key in keys:
        tail = key.rsplit("/", 1)[-1]
        assert tail not in said and quote(tail) not in said


def record(message: object, *args: object, **extra: Any) -> logging.LogRecord:
    found = logging.LogRecord("any", logging.WARNING, __file__, 1, message, args, None)
    found.__dict__.update(extra)
    assert TokensBlanked().filter(found)
    return found


def test_a_record_keeps_no_key_in_its_figures_its_request_or_its_stack() -> None:
    request = RequestFactory().get(f"/pass/{PASS}")
    found = record("%s: %s", "Not Found", request.path, request=request, stack_info=f"Stack:\n  open({PASS!r})")
    assert found.getMessage() == "Not Found: /pass/…"
    assert PASS not in repr(found.__dict__)


def test_a_record_whose_words_and_figures_do_not_fit_is_still_told_and_blanked() -> None:
    assert record("only %s and %s", f"/pass/{PASS}").getMessage() == "only %s and %s ('/pass/…"


def test_the_text_of_an_exception_is_blanked_for_every_handler() -> None:
    try:
        raise ValueError(f"/pass/{PASS}")
    except ValueError:
        found = record("failed", exc_info=sys.exc_info())
    assert "ValueError: /pass/…" in logging.Formatter().format(found)
    assert PASS not in logging.Formatter().format(found)


def test_the_production_server_writes_its_own_lines_through_the_same_filter() -> None:
    import traveller.wsgi  # noqa: F401  (the filter is set where the server takes the application)

    for name in SERVER_LOGGERS:
        logger = logging.getLogger(name)
        assert any(isinstance(one, TokensBlanked) for one in logger.filters), name
    found = logging.LogRecord("granian.access", logging.INFO, "", 1, '"%(method)s %(path)s" %(status)d', (), None)
    found.args = {"method": "GET", "path": f"/pass/{PASS}", "status": 200}
    assert logging.getLogger("granian.access").filter(found)
    assert PASS not in found.getMessage() and found.getMessage().startswith('"GET /pass/…')
