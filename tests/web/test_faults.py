"""A request that cannot be read is refused in words, and the pages of refusals never fail themselves."""

from __future__ import annotations

from typing import Any

import pytest
from django.conf import settings
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.test import Client, RequestFactory
from django.urls import get_resolver
from django.utils import translation

from traveller.management.trials.values.wire import Jar, Overheard, Request, ask_server
from traveller.web import faults
from traveller.web.only_utf8 import charset_of

pytestmark = pytest.mark.django_db

# Some name another alphabet, some no text at all, some nothing.
ODD = ("utf-7", "utf-32", "utf-16", "latin-1", "hex", "undefined", "rot13", "idna", "unicode_escape", "nonsense", "")
KINDS = ("application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "text/plain", "application/json")
FORMS = ("/sign-in", "/pass", "/pass/0000000000000000", "/person", "/language", "/here/queue")


def at_the_door(method: str, path: str, body: bytes, content_type: str) -> tuple[int, str]:
    """The production server's own door, with a request that Django's test client could not even make."""
    answer = ask_server(Request(method, path, "x=%E4", {}, body, content_type), Jar(), Overheard())
    return answer.status, answer.body.decode()


@pytest.mark.parametrize("charset", ODD)
@pytest.mark.parametrize("method", ["GET", "POST", "PUT"])
def test_a_charset_that_is_not_ours_is_refused_in_words_by_every_form(charset: str, method: str) -> None:
    for path in FORMS:
        for kind in KINDS:
            status, page = at_the_door(method, path, b"a=b", f"{kind}; charset={charset}")
            assert status == 415, (path, kind)
            assert "The message could not be read." in page


def test_a_content_type_that_cannot_be_taken_apart_is_refused_too() -> None:
    assert at_the_door("POST", "/pass", b"code=1", "a/b; charset*=undefined''%ff")[0] == 415


@pytest.mark.parametrize("charset", ["utf-8", "UTF-8", '"utf-8"'])
def test_our_own_charset_in_any_spelling_is_read(charset: str) -> None:
    kind = f"application/x-www-form-urlencoded; charset={charset}"
    answer = Client().generic("POST", "/pass", "code=żółw".encode(), content_type=kind)
    assert answer.status_code == 404 and "not known here" in answer.content.decode()


@pytest.mark.parametrize(
    ("content_type", "charset"),
    [
        ("", None),
        ("text/plain", None),
        ("text/plain; charset=UTF-8", "utf-8"),
        ("a/b; charset*=utf-8''utf-8", "utf-8"),
        ("a/b; charset", ""),
        ("a/b; charset*=broken", "broken"),
        ("a/b; charset*=undefined''%ff", ""),
    ],
)
def test_the_charset_of_any_content_type_is_read_or_called_unreadable(content_type: str, charset: str | None) -> None:
    assert charset_of(content_type) == charset


def test_it_is_refused_in_the_readers_language() -> None:
    answer = Client(headers={"accept-language": "es"}).generic("POST", "/pass", b"a", "text/plain; charset=utf-7")
    assert answer.status_code == 415 and 'lang="es"' in answer.content.decode()


def handlers() -> list[tuple[int, Any]]:
    return [
        (400, lambda request: faults.bad_request(request, ValueError())),
        (415, lambda request: faults.unreadable(request, status=415)),
        (403, lambda request: faults.not_allowed(request, PermissionDenied())),
        (403, lambda request: faults.page_too_old(request, reason="no cookie")),
        (404, lambda request: faults.not_there(request, Http404())),
        (500, faults.fault),
    ]


def test_each_says_in_words_what_is_wrong_without_session_or_user() -> None:
    translation.activate("en")
    for status, handler in handlers():
        answer = handler(RequestFactory().get("/"))
        assert answer.status_code == status
        assert "Back to the beginning" in answer.content.decode()


def test_none_fails_when_its_page_cannot_be_made(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*args: object, **kwargs: object) -> str:
        raise OSError("no such file")

    monkeypatch.setattr(faults, "render_to_string", broken)
    for status, handler in handlers():
        answer = handler(RequestFactory().get("/"))
        assert answer.status_code == status
        page = answer.content.decode()
        assert "<h1>" in page and "Back to the beginning" in page and "OSError" not in page


def test_none_fails_when_the_reader_cannot_be_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    class Gone:
        @property
        def is_authenticated(self) -> bool:
            raise RuntimeError("no database")

    for status, handler in handlers():
        request = RequestFactory().get("/")
        request.user = Gone()  # type: ignore[assignment]
        assert handler(request).status_code == status


def test_they_are_the_ones_in_use(monkeypatch: pytest.MonkeyPatch) -> None:
    """400 and 500 by way of outages: where no database is the reason, they say what these say."""

    def reported(request: HttpRequest | None, template: str, said: int, status: int | None = None) -> HttpResponse:
        return HttpResponse(template, status=status or said)

    monkeypatch.setattr(faults, "_page", reported)
    resolver = get_resolver()
    for code, template in ((400, "400.html"), (403, "403.html"), (404, "404.html"), (500, "500.html")):
        more = {} if code == 500 else {"exception": ValueError()}
        answer = resolver.resolve_error_handler(code)(RequestFactory().get("/"), **more)
        assert (answer.status_code, answer.content.decode()) == (code, template)
    assert settings.CSRF_FAILURE_VIEW == "traveller.web.faults.page_too_old"
